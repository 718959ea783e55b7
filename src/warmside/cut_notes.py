"""What cutting has to tell: what does not fit, what must go in first, what stays, what may not be mixed.

Warnings concern the whole job and stand on its front; notes are for whoever holds the knife. Rules of the
knife and of each kind come from their tables.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from warmside.cutting.inside import InsideFill
from warmside.cutting.pieces import SLIVER, BayFill
from warmside.job.resolve import House, HouseWall
from warmside.say import Note, Where
from warmside.units import Length
from warmside.worked import WallAnswer, Worked

NEARLY = 0.5
"""A rim that lacks more than this share of one batt takes another one (common practice) [-]."""


def cut_warnings(worked: Worked) -> Iterator[Note]:
    """What does not fit, wall by wall, and kinds of batts that are mixed up."""
    for each in worked.walls:
        if each.wall.frame is not None:
            yield from _too_narrow(each)
            yield from _too_short(each)
            yield from _out_of_reach(each)
    yield from _kinds_mixed(worked)
    for part in worked.house.inside:
        if part.open_doors:
            yield Note("warning.inside_door", {"name": part.name, "count": part.open_doors})
    for name in worked.house.inside_open:
        yield Note("warning.inside_unmeasured", {"name": name})


def _marks(fills: Sequence[BayFill]) -> str:
    return ", ".join(fill.bay.mark for fill in fills)


def _too_narrow(each: WallAnswer) -> Iterator[Note]:
    narrow = [fill for fill in each.fills if fill.bay.width < SLIVER]
    for code, fills in (
        ("warning.bay_too_narrow", [fill for fill in narrow if not _foamed(fill)]),
        ("warning.bay_foamed", [fill for fill in narrow if _foamed(fill)]),
    ):
        if fills:
            yield Note(code, {"marks": _marks(fills), "width": SLIVER}, Where(wall=each.wall.name))


def _foamed(fill: BayFill) -> bool:
    return any(void.laid == "foam" for void in fill.voids)


def _too_short(each: WallAnswer) -> Iterator[Note]:
    """Bays that are higher than their batt is long, where it may not be joined."""
    short = [fill for fill in each.fills if any(void.why == "too short" for void in fill.voids)]
    if short:
        batt = each.wall.assembly.batts[0]
        args = {"marks": _marks(short), "batt": batt.name, "length": batt.length.value}
        yield Note("warning.no_joint", args, Where(wall=each.wall.name))


def _out_of_reach(each: WallAnswer) -> Iterator[Note]:
    lost = ("out of reach", "pocket")
    shut = [f for f in each.fills if any(v.why in lost and v.laid is None for v in f.voids)]
    if shut:
        yield Note("warning.out_of_reach", {"marks": _marks(shut)}, Where(wall=each.wall.name))


def _kinds_mixed(worked: Worked) -> Iterator[Note]:
    """Batts in a place that they are not made for."""
    for each in worked.walls:
        used = (each.wall.assembly.batts[0], each.wall.assembly.rim_batts[0])
        for batt in dict.fromkeys(one for one in used if one.use != "heat" and each.wall.frame is not None):
            yield Note("warning.not_for_heat", {"batt": batt.name}, Where(wall=each.wall.name))
    for part in worked.house.inside:
        batt = part.batts[0]
        if part.use is not None and part.use != batt.use:
            args = {"name": part.name, "use": Note(f"use.{part.use}"), "batt": batt.name}
            yield Note("warning.kinds_mixed", args)


# For the crew


def crew_notes(house: House, walls: Sequence[WallAnswer], inside: Sequence[InsideFill]) -> Iterator[Note]:
    """What the cutting pages have to say once, where it is met in this house."""
    fills = [fill for each in walls for fill in each.fills]
    yield from _joined(walls)
    if any(void.laid == "foam" for fill in fills for void in fill.voids):
        yield Note("paper.crew.note.sliver_foam", {"width": SLIVER})
    yield from _before_it_is_built(walls)
    yield from _rim(walls)
    yield from _rim_on_edge(walls)
    for wall in house.walls:
        yield from _what_stays(wall)
    if any(layer.then != "keep" and layer.in_sack > 0 for wall in house.walls for layer in wall.old):
        yield Note("paper.crew.note.tear_out")
    yield from _kept_apart(walls, inside)


def before_the_frame(walls: Sequence[WallAnswer]) -> Iterator[Note]:
    """What nobody reaches once the frame stands, so that it is filled before."""
    fills = [fill for each in walls for fill in each.fills]
    first = [fill for fill in fills if fill.first]
    if first:
        yield Note("paper.crew.note.fill_first", {"marks": _marks(first)})
    posts = [fill for fill in fills if any(v.why == "pocket" and v.laid for v in fill.voids)]
    if posts:
        yield Note("paper.crew.note.post_first", {"marks": _marks(posts)})


def _joined(walls: Sequence[WallAnswer]) -> Iterator[Note]:
    """Batts that are shorter than some bay and stand one on another, by their length."""
    pieces = [piece for each in walls if not each.wall.keeps_batts for piece in each.pieces]
    stacked = [p.batt for p in pieces if p.role == "batt" and p.box.height >= p.batt.length.value]
    for batt in dict.fromkeys(batt for batt in stacked if batt.may_join):
        yield Note("paper.crew.note.joint", {"batt": batt.name, "length": batt.length.value})


def _rim(walls: Sequence[WallAnswer]) -> Iterator[Note]:
    """Rims whose batts leave room for another one before they come flush with the wall; else one line."""
    short: dict[tuple[str, int], dict[str, Length]] = {}
    for each in walls:
        batt, pieces = each.wall.assembly.rim_batts[0], each.wall.assembly.rim_pieces
        lacks = Length(each.wall.rim.depth - pieces * batt.thickness.value)
        if each.rim_pieces and lacks > NEARLY * batt.thickness.value:
            short.setdefault((batt.name, pieces), {})[each.wall.name] = lacks
    if not short and any(each.rim_pieces for each in walls):
        yield Note("paper.crew.note.rim")
    for (name, pieces), lacking in short.items():
        args = {"walls": ", ".join(lacking), "batt": name, "pieces": pieces, "lacks": min(lacking.values())}
        yield Note("paper.crew.note.rim_not_flush", args)


def _rim_on_edge(walls: Sequence[WallAnswer]) -> Iterator[Note]:
    """Bays between joists whose batt lies, because none is wide enough to stand."""
    between = (piece for w in walls if w.wall.rim.joists == "land here" for piece in w.rim_pieces)
    if any(piece.box.width > piece.batt.width.value for piece in between):
        yield Note("paper.crew.note.rim_on_edge")


def _before_it_is_built(walls: Sequence[WallAnswer]) -> Iterator[Note]:
    """What closes a part of a wall for good, kind by kind, and on which walls."""
    on: dict[str, list[str]] = {}
    for each in walls:
        for kind in dict.fromkeys(thing.kind.name for thing in each.wall.in_the_way if thing.kind.closes):
            on.setdefault(kind, []).append(each.wall.name)
    for kind, names in on.items():
        args = {"walls": ", ".join(names), "thing": Note(f"drawing.thing.{kind}")}
        yield Note("paper.crew.note.behind_first", args)


def _what_stays(wall: HouseWall) -> Iterator[Note]:
    if wall.keeps_batts:
        yield Note("paper.crew.note.old_batts", {"wall": wall.name})
    elif any(layer.kind == "batt" and layer.insulates for layer in wall.old):
        yield Note("paper.crew.note.old_behind", {"wall": wall.name})


def _kept_apart(walls: Sequence[WallAnswer], inside: Sequence[InsideFill]) -> Iterator[Note]:
    """More than one kind of batt on the site: what each is for."""
    every = [p.batt for each in walls for p in each.pieces] + [p.batt for each in inside for p in each.pieces]
    uses = dict.fromkeys(batt.use for batt in every)
    for use in uses if len(uses) > 1 else ():
        names = dict.fromkeys(batt.name for batt in every if batt.use == use)
        yield Note("paper.crew.note.kinds_apart", {"batts": "; ".join(names), "use": Note(f"use.{use}")})
