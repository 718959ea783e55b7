"""Every piece and every void of a bay, from its true size and what is in the way.

A batt is cut to a friction fit: the clear size plus the allowance of its class, never where the batt is
already that much oversize. It holds by its width; a batt as long as the bay needs nothing added in height.
The rules of the knife are a table of common practice; the allowances stand in the goods table. Under a
sloping top a piece is a rectangle up to the higher side; what stands over is trimmed in place.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from warmside.catalog.goods import Batt
from warmside.cutting.rules import Laid, knife_rules
from warmside.job.resolve import HouseThing, HouseWall
from warmside.units import Length
from warmside.wall.frame import Bay, RimBay
from warmside.wall.in_the_way import (
    Box,
    Touch,
    bay_box,
    in_stud_space,
    is_closed_off,
    minus,
    outline,
    touches,
)

SLIVER = knife_rules().sliver.value
"""Narrower than this no batt is cut."""
STRIP = knife_rules().strip.value
"""A thinner strip beside a notch is cut off."""
LEAST_BEHIND = knife_rules().least_behind.value
"""Thinner than this nothing is put behind a thing."""
TROUGH = knife_rules().trough.value
"""A pipe thinner than this is let into the room face of the batt."""
LEAST_JOINT = knife_rules().least_joint.value
"""A stack of batts in a bay does not end in a piece shorter than this."""
NO_RIP = knife_rules().no_rip.value
"""So much over its allowance a batt is pushed in, not ripped."""

Role = Literal["batt", "behind", "rim"]
Why = Literal["thing", "too thin", "sliver", "keep out", "in front", "too short", "pocket", "out of reach"]


@dataclass(frozen=True)
class Notch:
    """A cut-out, from the left edge and the bottom end of the piece as it stands in the bay.

    `depth` is from the room face for a trough that leaves the back of the batt whole; None goes through.
    """

    left: Length
    bottom: Length
    width: Length
    height: Length
    depth: Length | None = None


@dataclass(frozen=True)
class Slit:
    """A cut across the piece (or up it) for something that runs through it, at a depth from the back.

    `at` is from the bottom end, for an upright slit from the left edge.
    """

    at: Length
    depth: Length
    upright: bool = False


@dataclass(frozen=True)
class Piece:
    """One piece of batt: where it stands (`box`), what it is cut to, its notches and slits.

    `thickness` is the whole batt's where None; `plug` pieces come out of a notch and need no stock.
    """

    id: str
    role: Role
    batt: Batt
    box: Box
    cut_width: Length
    cut_height: Length
    notches: tuple[Notch, ...] = ()
    slits: tuple[Slit, ...] = ()
    thickness: Length | None = None
    plug: bool = False
    layers: int = 1

    def notch_box(self, notch: Notch) -> Box:
        """Where a notch of this piece lies on the wall."""
        left, bottom = self.box.left + notch.left, self.box.bottom + notch.bottom
        return Box(Length(left), Length(bottom), Length(left + notch.width), Length(bottom + notch.height))

    @property
    def cut_notches(self) -> tuple[Notch, ...]:
        """The notches as the knife makes them: one that ends at its stud or plate runs out of the piece.

        A piece is cut larger than its place; a notch as large as its thing would leave a strip beside it.
        So would one that ends just beside the edge.
        """
        return tuple(self._run_out(notch) for notch in self.notches)

    def _run_out(self, notch: Notch) -> Notch:
        left = 0 if notch.left < STRIP else notch.left
        bottom = 0 if notch.bottom < STRIP else notch.bottom
        right, top = notch.left + notch.width, notch.bottom + notch.height
        right = self.cut_width if right > self.box.width - STRIP else right
        top = self.cut_height if top > self.box.height - STRIP else top
        return replace(
            notch,
            left=Length(left),
            bottom=Length(bottom),
            width=Length(right - left),
            height=Length(top - bottom),
        )

    @property
    def ripped(self) -> bool:
        """True where the batt is cut narrower."""
        return self.cut_width < self.batt.width.value

    @property
    def whole(self) -> bool:
        """True where a batt goes in as it comes from the bag."""
        return not (self.ripped or self.cut_height < self.batt.length.value or self.notches or self.slits)


@dataclass(frozen=True)
class Void:
    """A part of the bay without insulation for `depth` of the stud space, and why.

    `laid` is what is laid into it although nothing is counted for it; None leaves it empty.
    """

    box: Box
    depth: Length
    why: Why
    thing: str | None = None
    laid: Laid | None = None


@dataclass(frozen=True)
class BayFill:
    """All that is in one bay: pieces from the bottom up, voids, what touches it, sills and heads of openings.

    Batts less their notches, what is behind a thing, voids that are not in front of anything, openings and
    `framing` tile the bay. A bay that is filled `first` can't be reached once the frame stands.
    """

    bay: Bay
    pieces: tuple[Piece, ...]
    voids: tuple[Void, ...]
    touches: tuple[Touch, ...]
    framing: tuple[Box, ...] = ()
    first: bool = False

    @property
    def odd(self) -> bool:
        """True where a piece has to be drawn: a notch, a slit, a void, or more than one column."""
        cut = any(p.notches or p.slits or p.role == "behind" for p in self.pieces)
        return cut or bool(self.voids) or len({p.box.left for p in self.pieces}) > 1


@dataclass(frozen=True)
class _Found:
    """What touches a bay, by what it does to the batts.

    taken : takes a rectangle out of the bay, and what comes first takes it first
    let_in : lies in a trough in the room face
    split : the batt is split at its depth
    """

    taken: tuple[Touch, ...]
    let_in: tuple[Touch, ...]
    split: tuple[Touch, ...]

    @property
    def boxes(self) -> list[Box]:
        """All that is taken."""
        return [touch.box for touch in self.taken]


_TAKES_FIRST = {"opening": 0, "keep out": 1, "framing": 2, "notch": 3}
_OF_THE_FRAME = ("opening", "framing")
"""What is found in a bay at any depth."""


def _sort_out(touching: Sequence[Touch], depth: int) -> _Found:
    found = [t for t in touching if t.thing.kind.cut in _OF_THE_FRAME or in_stud_space(t.thing, depth)]
    let_in = tuple(t for t in found if _is_let_in(t))
    taken = [t for t in found if t.thing.kind.cut in _TAKES_FIRST and t not in let_in]
    taken.sort(key=lambda t: (_TAKES_FIRST[t.thing.kind.cut], t.box.bottom, t.thing.id))
    return _Found(tuple(taken), let_in, tuple(t for t in found if t.thing.kind.cut == "slit"))


def fill_bay(wall: HouseWall, bay: Bay) -> BayFill:
    """Pieces and voids of a bay; together with what is in the way they tile it.

    A bay that nobody reaches once the frame stands is filled before; where it stands already, it is void.
    """
    if wall.frame is None:
        raise ValueError(f"wall {wall.name} has no frame, so it has no bays to fill")
    planned = wall.frame.state == "planned"
    fill = _filled(bay, wall.frame.depth, wall.assembly.batts, _locked(touches(wall, bay), bay), planned)
    if not is_closed_off(wall, bay):
        return fill
    return replace(fill, first=True) if planned else _out_of_reach(fill, wall.frame.depth)


def _filled(
    bay: Bay, depth: Length, batts: Sequence[Batt], touching: tuple[Touch, ...], planned: bool
) -> BayFill:
    found = _sort_out(touching, depth)
    pieces, voids = _batts(bay_box(bay), batts, found, depth)
    voids += [void for piece in pieces for void in _troughs(piece, found, depth)]
    cut_out = [piece.box for piece in pieces]
    framing: list[Box] = []
    for number, touch in enumerate(found.taken):
        for box in minus(touch.box, found.boxes[:number]):
            if touch.thing.kind.cut in _OF_THE_FRAME:
                hollow = _hollow(touch.thing)
                framing += minus(box, [hollow])
                voids += _pockets(touch, box.clipped(hollow), depth, found if planned else None)
                continue
            behind, empty = _at(touch, box, depth, batts, cut_out)
            pieces += behind
            voids += empty
    return BayFill(bay, _numbered(bay.mark, pieces), tuple(voids), touching, tuple(framing))


def _out_of_reach(fill: BayFill, depth: Length) -> BayFill:
    """The bay with nothing put in: all that would be batt is void."""
    batts = [p for p in fill.pieces if p.role == "batt"]
    cut = {p.id: [p.notch_box(n) for n in p.notches if n.depth is None] for p in batts}
    empty = [box for p in batts for box in minus(p.box, cut[p.id])]
    empty += [p.box for p in fill.pieces if p.role == "behind"]
    empty += [void.box for void in fill.voids if void.why == "sliver"]
    rest = [replace(void, laid=None) for void in fill.voids if void.why not in ("in front", "sliver")]
    return replace(fill, pieces=(), voids=(*rest, *(Void(box, depth, "out of reach") for box in empty)))


def _hollow(thing: HouseThing) -> Box:
    """The window or door itself, or the hollow in the middle of a post of studs."""
    if thing.kind.hollow is None:
        return outline(thing)
    side = max(0, thing.width - thing.kind.hollow.value) // 2
    return replace(outline(thing), left=Length(thing.left + side), right=Length(thing.right - side))


def _pockets(touch: Touch, box: Box, depth: Length, found: _Found | None) -> list[Void]:
    """The hollow of a post: before the frame stands a strip is laid in, later nobody can (no `found`)."""
    if touch.thing.kind.hollow is None or box.width <= 0 or box.height <= 0:
        return []
    laid = None if found is None else _laid(box, found)
    return [Void(box, depth, "pocket", touch.thing.id, laid)]


def _locked(touching: Sequence[Touch], bay: Bay) -> tuple[Touch, ...]:
    """What locks a bay takes all of it."""
    return tuple(replace(t, box=bay_box(bay)) if t.thing.kind.locks else t for t in touching)


def _batts(bay: Box, batts: Sequence[Batt], found: _Found, depth: Length) -> tuple[list[Piece], list[Void]]:
    """The batts of a bay with their cuts; the strips too narrow for any, and what no batt reaches up to."""
    parts = list(_parts(bay, found.boxes))
    slivers = minus(bay, [*found.boxes, *parts])
    short: list[Box] = []
    pieces: list[Piece] = []
    for part in parts:
        if _is_sliver(part):
            slivers += minus(part, found.boxes)
            continue
        stacked = list(_columns(part, batts))
        short += minus(part, [*found.boxes, *(piece.box for piece in stacked)])
        for piece in stacked:
            rest = minus(piece.box, found.boxes)
            if all(_is_sliver(box) for box in rest):
                slivers += rest
            else:
                pieces.append(_with_cuts(piece, found, depth))
    voids = [Void(box, depth, "sliver", laid=_laid(box, found)) for box in slivers]
    return pieces, [*voids, *(Void(box, depth, "too short") for box in short)]


def _laid(box: Box, found: _Found) -> Laid:
    """What goes into a sliver by the rules of the knife; never foam against what must not have it."""
    near = replace(
        box,
        left=Length(box.left - SLIVER),
        bottom=Length(box.bottom - SLIVER),
        right=Length(box.right + SLIVER),
        top=Length(box.top + SLIVER),
    )
    bare = any(t.thing.kind.no_foam and t.box.overlaps(near) for t in (*found.taken, *found.let_in))
    return "torn strip" if bare else knife_rules().sliver_fill.value


def _is_sliver(box: Box) -> bool:
    return min(box.width, box.height) < SLIVER


def _parts(box: Box, taken: Sequence[Box]) -> Iterator[Box]:
    """A rectangle cut up by what reaches across its whole width, then by what reaches over its whole height.

    What is beside something upright is looked at again: across that part more may reach.
    """
    inside = [each.clipped(box) for each in taken if each.overlaps(box)]
    across = sorted(
        (b.bottom, b.top) for b in inside if b.left <= box.left + SLIVER and b.right >= box.right - SLIVER
    )
    bands = [
        replace(box, bottom=Length(low), top=Length(high))
        for low, high in _between(box.bottom, box.top, across)
    ]
    if bands != [box]:
        for band in bands:
            yield from _parts(band, inside)
        return
    upright = sorted(
        (b.left, b.right) for b in inside if b.bottom <= box.bottom + SLIVER and b.top >= box.top - SLIVER
    )
    columns = [
        replace(box, left=Length(left), right=Length(right))
        for left, right in _between(box.left, box.right, upright)
    ]
    if columns == [box]:
        yield box
        return
    for column in columns:
        yield from _parts(column, inside)


def _between(low: int, high: int, taken: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """What is left of low..high outside the taken stretches, which come in order."""
    for start, end in taken:
        if start > low:
            yield low, min(start, high)
        low = max(low, end)
    if low < high:
        yield low, high


def _columns(part: Box, batts: Sequence[Batt], *, must_join: bool = False) -> Iterator[Piece]:
    """Side by side as many of the widest batt as it takes, then one that is ripped to the rest."""
    for left, right in pairwise(_upright_joints(part.width, batts)):
        column = replace(part, left=Length(part.left + left), right=Length(part.left + right))
        yield from _stack(column, narrowest(batts, column.width), must_join=must_join)


def _upright_joints(width: int, batts: Sequence[Batt]) -> list[int]:
    """Where batts meet side by side in a clear width, from its left, both ends put in."""
    joints = [0]
    while joints[-1] < width:
        joints.append(joints[-1] + _column_width(width - joints[-1], batts[-1]))
    return joints


def fill_box(mark: str, box: Box, batts: Sequence[Batt], *, must_join: bool) -> tuple[Piece, ...]:
    """The pieces of a plain space inside the house, such as between two joists.

    must_join : batts lie end to end, whatever their product allows for one standing on another
    """
    if _is_sliver(box):
        return ()
    return _numbered(mark, list(_columns(box, batts, must_join=must_join)))


def _column_width(rest: int, widest: Batt) -> int:
    """The rest where the widest batt holds in it; else a whole one, or half where that left a sliver."""
    if rest <= _widest_bay(widest):
        return rest
    whole = widest.width.value
    return whole if rest >= whole + SLIVER else rest // 2


def _widest_bay(batt: Batt) -> int:
    """The clear width in which a batt still holds, with half of its allowance left (common practice)."""
    return batt.width.value - batt.add_width.value // 2


def narrowest(batts: Sequence[Batt], width: int) -> Batt:
    """The narrowest batt that holds in a clear width; the widest there is where none does."""
    return next((batt for batt in batts if _widest_bay(batt) >= width), batts[-1])


def _stack(column: Box, batt: Batt, *, must_join: bool) -> Iterator[Piece]:
    """Pieces one above the other; only the last one carries the allowance in height.

    Where batts of the product may not stand on each other there is one, as long as it is.
    """
    alone = [0, min(column.height, batt.length.value)]
    stops = _stops(column.height, batt) if batt.may_join or must_join else alone
    for low, high in pairwise(stops):
        box = replace(column, bottom=Length(column.bottom + low), top=Length(column.bottom + high))
        height = _cut_height(batt, high - low, last=high == stops[-1])
        yield Piece("", "batt", batt, box, cut_width(batt, column.width), height)


def _cut_height(batt: Batt, clear: int, *, last: bool) -> Length:
    allowance = batt.add_height.value if last else 0
    return Length(min(batt.length.value, clear + allowance))


def _stops(height: int, batt: Batt) -> list[int]:
    """Joints of a stack from the bottom: whole batts first, and no stub at the top."""
    length = batt.length.value
    joints = list(range(0, height, length))
    if len(joints) > 1 and height - joints[-1] < LEAST_JOINT:
        joints[-1] -= LEAST_JOINT
    return [*joints, height]


def cut_width(batt: Batt, clear: int) -> Length:
    """Width to rip a batt to for a clear width; the whole batt where it is hardly over its allowance."""
    wanted = clear + batt.add_width.value
    return batt.width.value if batt.width.value <= wanted + NO_RIP else Length(wanted)


def _is_let_in(touch: Touch) -> bool:
    """A thin run with room for insulation behind it: the batt is troughed, not cut in two."""
    thin = touch.box.width if touch.thing.runs == "up" else touch.box.height
    can_fill = touch.thing.kind.behind == "fill" and touch.thing.near >= LEAST_BEHIND
    return touch.thing.runs != "spot" and touch.thing.kind.cut == "notch" and can_fill and thin < TROUGH


def _troughs(piece: Piece, found: _Found, depth: Length) -> Iterator[Void]:
    """The empty space in front of what is let into a batt."""
    before = found.boxes
    for touch in found.let_in:
        if touch.box.overlaps(piece.box):
            for box in minus(touch.box.clipped(piece.box), before):
                yield Void(box, Length(depth - touch.thing.near), "in front", touch.thing.id)
            before = [*before, touch.box]


def _with_cuts(piece: Piece, found: _Found, depth: Length) -> Piece:
    """The piece with a notch or a trough for each thing in it, and a slit for each one it is split at."""
    through = [_notch(t, piece, None) for t in found.taken if t.box.overlaps(piece.box)]
    let_in = [t for t in found.let_in if t.box.overlaps(piece.box)]
    troughs = [_notch(t, piece, Length(depth - t.thing.near)) for t in let_in]
    slits = tuple(_slit(t, piece) for t in found.split if t.box.overlaps(piece.box))
    return replace(piece, notches=(*through, *troughs), slits=slits)


def _notch(touch: Touch, piece: Piece, depth: Length | None) -> Notch:
    box = touch.box.clipped(piece.box)
    left, bottom = Length(box.left - piece.box.left), Length(box.bottom - piece.box.bottom)
    return Notch(left, bottom, box.width, box.height, depth)


def _slit(touch: Touch, piece: Piece) -> Slit:
    upright = touch.thing.runs == "up"
    at = touch.box.left - piece.box.left if upright else touch.box.bottom - piece.box.bottom
    return Slit(Length(max(0, at)), touch.thing.near, upright)


def _at(
    touch: Touch, box: Box, depth: Length, batts: Sequence[Batt], cut_out: Sequence[Box]
) -> tuple[list[Piece], list[Void]]:
    """What goes behind a thing in this part of its box, and what stays empty there."""
    thing = touch.thing
    near = Length(min(thing.near, depth))
    if why := _why_empty(thing, near, box):
        return [], [Void(box, depth, why, thing.id)]
    from_notch = thing.runs == "spot" and any(box.overlaps(other) for other in cut_out)
    pieces = [_plug(box, batts)] if from_notch else list(_columns(box, batts))
    behind = [replace(p, role="behind", thickness=min(near, p.batt.thickness.value)) for p in pieces]
    short = minus(box, [piece.box for piece in behind])
    front = [Void(piece.box, Length(depth - near), "in front", thing.id) for piece in behind]
    return behind, [*front, *(Void(each, depth, "too short", thing.id) for each in short)]


def _why_empty(thing: HouseThing, near: int, box: Box) -> Why | None:
    """Why nothing goes behind a thing; None where a piece does."""
    if thing.kind.cut == "keep out":
        return "keep out"
    if thing.kind.behind == "empty":
        return "thing"
    return "too thin" if near < LEAST_BEHIND or _is_sliver(box) else None


def _plug(box: Box, batts: Sequence[Batt]) -> Piece:
    """What was cut out for a thing, put back behind it: just as large as the notch."""
    return Piece("", "behind", narrowest(batts, box.width), box, box.width, box.height, plug=True)


def _numbered(mark: str, pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """Pieces from the bottom, then from the left, with ids such as C7.2."""
    order = sorted(pieces, key=lambda p: (p.role == "behind", p.box.bottom, p.box.left))
    return tuple(replace(piece, id=f"{mark}.{number}") for number, piece in enumerate(order, 1))


def fill_rim(wall: HouseWall, bay: RimBay) -> tuple[Piece, ...]:
    """The pieces of one rim bay, `layers` deep, laid so that they come flush with the wall below.

    Where joists land the batts stand upright between them; alongside, and where none is wide enough to stand,
    they lie on edge.
    """
    if is_rim_sliver(bay):
        return ()
    batts = wall.assembly.rim_batts
    upright = wall.rim.joists == "land here" and not _lies_better(bay, batts)
    wide, long = (bay.width, bay.height) if upright else (bay.height, bay.width)
    pieces = []
    for low, high in pairwise(_upright_joints(wide, batts)):
        batt = narrowest(batts, high - low)
        stops = _stops(long, batt)
        for start, end in pairwise(stops):
            across, along = ((low, high), (start, end)) if upright else ((start, end), (low, high))
            height = _cut_height(batt, end - start, last=end == stops[-1])
            pieces.append(
                Piece(
                    id="",
                    role="rim",
                    batt=batt,
                    box=_inside(bay, across, along),
                    cut_width=cut_width(batt, high - low),
                    cut_height=height,
                    layers=wall.assembly.rim_pieces,
                )
            )
    return _numbered(bay.mark, pieces)


def _lies_better(bay: RimBay, batts: Sequence[Batt]) -> bool:
    """True where it takes several batts side by side to stand, and one batt lies."""
    return len(_upright_joints(bay.width, batts)) > 2 and len(_upright_joints(bay.height, batts)) == 2


def is_rim_sliver(bay: RimBay) -> bool:
    """True for a rim bay too narrow for any batt."""
    return min(bay.width, bay.height) < SLIVER


def _inside(bay: RimBay, across: tuple[int, int], along: tuple[int, int]) -> Box:
    """A part of a rim bay; its bottom is the top of the sill."""
    left, right = (Length(bay.left + x) for x in across)
    return Box(left, Length(along[0]), right, Length(along[1]))
