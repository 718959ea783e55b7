"""Survey plus a stance -> House: every field known, and the list of what was assumed and why.

A `House` admits no unknown. What is unknown in the survey is either taken from the table of assumptions on
the side that the question needs, derived from the geometry, or, where only asking helps, the wall is left to
`unmeasured` and the thing to `unplaced`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from warmside.catalog.codes import Amendment, RuleSet, rule_sets, suggest
from warmside.catalog.goods import (
    Batt,
    Board,
    Lumber,
    Membrane,
    Model,
    Sealant,
    Shelf,
    Tape,
    Wrap,
    shelf,
)
from warmside.catalog.hazards import Seen
from warmside.catalog.kinds import Kind, kinds
from warmside.job import survey as asked
from warmside.job.assume import Assumption as Assumption
from warmside.job.assume import Filler
from warmside.job.assume import Side as Side
from warmside.job.assume import assumed_values as assumed_values
from warmside.job.corners import Corners, Offset, Span
from warmside.job.every_wall import (
    house_counts,
    kinds_present,
    shared_out,
    spread,
    unplaced_counts,
    unsaid_layers,
)
from warmside.job.existing import OldLayer, kept_batts, kept_foam, old_layers, with_old
from warmside.job.inside import HouseInside, inside_parts, unmeasured_parts
from warmside.job.openings import OPENING, CountedOpening, counted_openings, unplaced_opening
from warmside.say import Note
from warmside.units import INCH, Length

NONE = "none"
RIM_BOARD = Length(INCH + INCH // 2)
_SHOWING = {Side.NOMINAL: "mean", Side.STRICTER: "most", Side.LARGER: "least"}
"""More concrete outside is worse for rules and heat; less of it takes more moisture barrier."""


@dataclass(frozen=True)
class HouseThing:
    """One thing in the way: its rectangle on the wall, and from where to where in the stud space.

    `near` and `far` are distances from the back of the studs; negative is in the gap.
    """

    id: str
    kind: Kind
    left: Length
    bottom: Length
    width: Length
    height: Length
    near: Length
    far: Length
    runs: Literal["spot", "up", "along"]
    wrap: asked.WrapState

    @property
    def right(self) -> Length:
        """Right edge from the left end of the wall."""
        return Length(self.left + self.width)

    @property
    def top(self) -> Length:
        """Upper edge from the floor."""
        return Length(self.bottom + self.height)


@dataclass(frozen=True)
class HouseFrame:
    """How the studs stand: from `start` to `end` of the wall, up to `top` (the top of the top plate)."""

    state: Literal["planned", "standing"]
    lumber: Lumber
    spacing: Length
    layout_from: Literal["left", "right"]
    odd_bays: Mapping[int, Length]
    bays: tuple[Length, ...]
    start: Length
    end: Length
    top: asked.Profile
    top_plates: int

    @property
    def face(self) -> Length:
        """Width of a stud as the bay sees it."""
        return self.lumber.face.value

    @property
    def depth(self) -> Length:
        """Depth of the stud space."""
        return self.lumber.depth.value


@dataclass(frozen=True)
class HouseRim:
    """The rim above a wall; `depth` is from the rim board to the room face of the wall below."""

    joists: asked.Joists
    height: Length
    spacing: Length
    first_joist: Length
    depth: Length


@dataclass(frozen=True)
class HouseAssembly:
    """What the wall is built of; None is a layer left out."""

    batts: tuple[Batt, ...]
    vapour_control: Membrane | None
    moisture_barrier: Membrane | None
    sheet: Board | None
    foam_board: Board | None
    sealant: Sealant
    tape: Tape
    box_wrap: Wrap | None
    rim_batts: tuple[Batt, ...]
    rim_pieces: int


@dataclass(frozen=True)
class HouseWall:
    """One measured wall; x runs from where the tape was hooked, y up from the floor.

    `unplaced` are things without a place on it, `unplaced_bare` those of them that still need a vapour hat,
    with its share of those that were only counted for the house. `openings` are windows and doors without a
    place, that share among them.
    The studs of the next wall stand before `behind_next` of its right end; `old` is what is there already.
    """

    name: str
    length: Length
    concrete_start: Length
    concrete_length: Length
    turn: float | None
    facing: str | None
    exposure: asked.Exposure
    height: asked.Profile
    showing: asked.Profile
    gap: asked.Gap
    thickness: Length
    sill: Length
    frame: HouseFrame | None
    rim: HouseRim
    assembly: HouseAssembly
    in_the_way: tuple[HouseThing, ...]
    unplaced: tuple[str, ...]
    level: Literal[1, 2]
    unplaced_bare: tuple[str, ...] = ()
    openings: tuple[CountedOpening, ...] = ()
    behind_next: Length = Length(0)
    old: tuple[OldLayer, ...] = ()

    @property
    def keeps_batts(self) -> bool:
        """True where the old batts stay between studs that stand, so that none are cut."""
        return (
            self.frame is not None
            and self.frame.state == "standing"
            and bool(kept_batts(self.old, self.name))
        )

    @property
    def old_foam(self) -> tuple[OldLayer, ...]:
        """Old foam that stays against the concrete."""
        return tuple(kept_foam(self.old))

    @property
    def mean_gap(self) -> Length:
        """Mean distance from the concrete to the back of the studs."""
        return Length((self.gap.least + self.gap.most) // 2)

    @property
    def foam(self) -> Length:
        """Thickness of the foam that stands in the gap, old and new."""
        board = self.assembly.foam_board
        new = board.thickness.value if board else 0
        return Length(new + sum(layer.thickness for layer in self.old_foam))

    @property
    def mean_air_gap(self) -> Length:
        """Mean air space behind the studs, what the foam board takes taken off."""
        return Length(max(0, self.mean_gap - self.foam))

    @property
    def largest_air_gap(self) -> Length:
        """Largest air space behind the studs, what the foam board takes taken off."""
        return Length(max(0, self.gap.most - self.foam))

    def ground(self, x: int) -> Length:
        """Height of the ground line above the floor at `x`; never under the floor."""
        return Length(max(0, self.height.at(x, self.length) - self.showing.at(x, self.length)))


@dataclass(frozen=True)
class HouseGround:
    """What stands below the walls, and the soil; "any" soil is run from one end to the other.

    `floor_insulation` is the resistance of insulation on or under the slab [m2.K/W].
    """

    soil: asked.Soil
    slab: Length
    floor_insulation: float
    footing_width: Length
    footing_height: Length


@dataclass(frozen=True)
class HouseHeating:
    """How the house is heated; None is computed, run at both ends, or left out of the answer."""

    fuel: asked.Fuel | None
    efficiency: float | None
    price: asked.EnergyPrice | None
    upstairs: float
    basement_before: float | None
    basement_after: float
    storeys: int
    heat_recovery: Literal["no", "yes"] | None = None


@dataclass(frozen=True)
class House:
    """The whole job with nothing unknown in it.

    `kinds_present` is of all things, placed or not; `unplaced_kinds` of those of which one has no place.
    `exposures` are those of all walls that say one, measured or not; `inside_open` names the partitions and
    ceilings whose sizes are not known.
    """

    name: str
    place: asked.Place
    people: asked.People
    rules: RuleSet
    shelf: Shelf
    walls: tuple[HouseWall, ...]
    unmeasured: tuple[str, ...]
    prices: Mapping[str, asked.Price]
    at_hand: Mapping[str, int]
    ground: HouseGround
    heating: HouseHeating
    assumptions: tuple[Assumption, ...] = ()
    level: Literal[1, 2] = 1
    kinds_present: frozenset[str] = frozenset()
    unplaced_kinds: frozenset[str] = frozenset()
    exposures: Mapping[str, asked.Exposure] = field(default_factory=dict)
    foundation: asked.FoundationKind = "poured concrete"
    looked_at: Mapping[str, Seen] = field(default_factory=dict)
    amendments: tuple[Amendment, ...] = ()
    inside: tuple[HouseInside, ...] = ()
    inside_open: tuple[str, ...] = ()


def resolve(survey: asked.Survey, side: Side = Side.NOMINAL) -> House:
    """The house of a survey, unknowns assumed on `side`.

    Raises GoodsError where a name of the assembly is not on the shelf (reading tells that first).
    """
    filler = Filler(side, metric=survey.show == "mm")
    own_frames = {wall.name: wall.frame for wall in survey.wall}
    unsaid = unsaid_layers(survey)
    survey = spread(survey, _SHOWING[side])
    known = shelf().in_millimetres() if survey.show == "mm" else shelf()
    goods = known.with_own(survey.goods.every())
    rules = rule_sets()[filler.get(survey.place, "rule_set", "place", suggest(survey.place)[0])]
    foundation = filler.get(survey.foundation, "kind", "foundation")
    measured = [w for w in survey.wall if w.length is not None and w.height is not None]
    for name in (wall.name for wall in measured if wall.name in unsaid):
        filler.tell(f"wall {name}.existing", "wall.existing", Note("value.bare"), name)
    corners = _corners(survey, side, goods)
    shares = shared_out(survey)
    walls = tuple(
        _counted(
            _wall(survey, wall, corners, filler, goods),
            own_frames.get(wall.name, asked.Frame()),
            unplaced_counts(wall),
            shares[wall.name],
            filler,
        )
        for wall in measured
    )
    inside = inside_parts(survey, filler, goods)
    return House(
        name=survey.name,
        place=survey.place,
        people=survey.people,
        rules=rules,
        shelf=with_old(goods, {wall.name: wall.old for wall in walls}),
        walls=walls,
        unmeasured=tuple(w.name for w in survey.wall if w not in measured),
        prices=survey.prices,
        at_hand=survey.at_hand,
        ground=_ground(survey.foundation, filler),
        heating=_heating(survey.heating, filler),
        assumptions=tuple(filler.taken.values()),
        level=2 if walls and len(walls) == len(survey.wall) and all(w.level == 2 for w in walls) else 1,
        kinds_present=frozenset(kinds_present(survey)),
        unplaced_kinds=frozenset(_unplaced_kinds(survey, walls)),
        exposures={wall.name: wall.exposure for wall in survey.wall if wall.exposure},
        foundation=foundation,
        looked_at=survey.looked_at,
        amendments=survey.amendment,
        inside=inside,
        inside_open=tuple(unmeasured_parts(survey)),
    )


def _unplaced_kinds(survey: asked.Survey, walls: Sequence[HouseWall]) -> Iterator[str]:
    """Kinds of which more are described or counted than have a place."""
    yield from house_counts(survey)
    placed = {wall.name: [thing.kind.name for thing in wall.in_the_way] for wall in walls}
    for wall in survey.wall:
        known = placed.get(wall.name, [])
        described = [thing.kind for thing in wall.in_the_way]
        yield from (kind for kind in described if described.count(kind) > known.count(kind))
        yield from unplaced_counts(wall)


def _counted(
    wall: HouseWall,
    own: asked.Frame,
    counts: Mapping[str, int],
    share: Mapping[str, int],
    filler: Filler,
) -> HouseWall:
    """The wall with what was only counted on it, and its share of what was counted for the house.

    Bays that hold for every wall are no measured bays of this one, so it stays at level 1.
    """
    listed = [(f"{kind} x {count}", kind, count) for kind, count in counts.items()]
    every = [*listed, *((f"{kind} x {count}", kind, count) for kind, count in share.items())]
    boxes = [(name, kind, count) for name, kind, count in every if kinds()[kind].wrapped]
    bare = [f"{name} no. {n + 1}" for name, _, count in boxes for n in range(count)]
    for name, kind, _ in boxes:
        filler.get(asked.Thing(kind=kind), "wrap", f"wall {wall.name}.{name}", None, wall.name)
    both = {kind: counts.get(kind, 0) + share.get(kind, 0) for kind in (*counts, *share)}
    return replace(
        wall,
        openings=(*wall.openings, *counted_openings(both, wall.name, filler)),
        unplaced=(*wall.unplaced, *(name for name, _, _ in listed)),
        unplaced_bare=(*wall.unplaced_bare, *bare),
        level=wall.level if _bays_known(own) and not every else 1,
    )


def _ground(foundation: asked.Foundation, filler: Filler) -> HouseGround:
    names = ("soil", "slab", "floor_insulation", "footing_width", "footing_height")
    return HouseGround(**{name: filler.get(foundation, name, "foundation") for name in names})


def _heating(heating: asked.Heating, filler: Filler) -> HouseHeating:
    return HouseHeating(**{name: filler.get(heating, name, "heating") for name in asked.Heating.model_fields})


def _corners(survey: asked.Survey, side: Side, goods: Shelf) -> Corners:
    """The corners of the round; what is assumed here is told where the walls themselves are resolved."""
    quiet = Filler(side, metric=survey.show == "mm")
    return Corners(survey.wall, {wall.name: _offset(wall, quiet, goods) for wall in survey.wall})


def _offset(wall: asked.Wall, quiet: Filler, goods: Shelf) -> Offset:
    if wall.frame.state not in ("planned", "standing"):
        return Offset()
    gap: asked.Gap = quiet.get(wall, "gap", "")
    lumber = goods.find(Lumber, quiet.get(wall.frame, "studs", ""))
    return Offset((gap.least + gap.most) // 2, lumber.depth.value)


def _wall(
    survey: asked.Survey, wall: asked.Wall, corners: Corners, filler: Filler, goods: Shelf
) -> HouseWall:
    if wall.length is None or wall.height is None:
        raise ValueError(f"wall {wall.name} has no length or no height")
    path = f"wall {wall.name}"

    def get(model: Model, name: str, derived: Any = None) -> Any:
        part = "" if model is wall else f".{type(model).__name__.lower()}"
        return filler.get(model, name, path + part, derived, wall.name)

    thickness = filler.get(survey.foundation, "thickness", "foundation")
    sill = filler.get(survey.foundation, "sill", "foundation")
    span = corners.span(wall, wall.length, get(wall, "against"))
    gap: asked.Gap = get(wall, "gap")
    frame = _frame(wall, span, sill, goods, get)
    face = corners.offsets[wall.name].face
    things = [_thing(wall, number, frame, span, filler) for number in range(len(wall.in_the_way))]
    unplaced = [thing for thing in things if isinstance(thing, _Unplaced)]
    old = old_layers(wall, filler)
    made = HouseWall(
        name=wall.name,
        length=wall.length,
        concrete_start=Length(span.concrete_start),
        concrete_length=Length(span.concrete),
        turn=wall.turn,
        facing=wall.facing,
        exposure=get(wall, "exposure"),
        height=wall.height,
        showing=wall.concrete_showing or _showing(wall) or get(wall, "concrete_showing"),
        gap=_leaning(gap, wall.frame.leans_in or 0),
        thickness=thickness,
        sill=sill,
        frame=frame,
        rim=_rim(wall, Length(thickness - RIM_BOARD + face), get),
        assembly=_assembly(survey.assembly, wall.assembly, goods, filler),
        in_the_way=tuple(thing for thing in things if isinstance(thing, HouseThing)),
        unplaced=tuple(thing.id for thing in unplaced),
        level=2 if frame is not None and not unplaced and _bays_known(wall.frame) else 1,
        unplaced_bare=tuple(thing.id for thing in unplaced if thing.wrap == "none"),
        openings=tuple(_openings(wall, things, filler)),
        behind_next=Length(corners.behind_next(wall)),
        old=old,
    )
    if not made.keeps_batts:
        return made
    return replace(made, assembly=replace(made.assembly, batts=kept_batts(old, wall.name)))


def _openings(
    wall: asked.Wall, things: Sequence[HouseThing | _Unplaced], filler: Filler
) -> Iterator[CountedOpening]:
    """Windows and doors of a wall that were described without a place."""
    for thing, found in zip(wall.in_the_way, things, strict=True):
        if isinstance(found, _Unplaced) and kinds()[thing.kind].cut == OPENING:
            yield unplaced_opening(thing, found.id, wall.name, filler)


def _leaning(gap: asked.Gap, by: int) -> asked.Gap:
    """The gap behind a frame whose top stands further from the concrete."""
    return asked.Gap.model_construct(least=gap.least, most=Length(gap.most + by))


def _showing(wall: asked.Wall) -> asked.Profile | None:
    """Where no soil lies against a wall, all of its concrete shows; else only the table can say."""
    return None if wall.exposure in (None, "soil") else wall.height


def _bays_known(frame: asked.Frame) -> bool:
    return bool(frame.bays) or frame.spacing is not None


def _frame(wall: asked.Wall, span: Span, sill: int, goods: Shelf, get: Any) -> HouseFrame | None:
    frame = wall.frame
    if frame.state not in ("planned", "standing") or wall.height is None or wall.length is None:
        return None
    # Bays that are known one by one need no spacing, so none is told as assumed.
    laid_out = _quiet if frame.bays else get
    # Where a planned frame begins, ends and is laid out from is chosen, not measured.
    placed = get if frame.state == "standing" else _quiet
    return HouseFrame(
        state=frame.state,
        lumber=goods.find(Lumber, get(frame, "studs")),
        spacing=laid_out(frame, "spacing"),
        layout_from=(_quiet if frame.bays else placed)(frame, "layout_from", "left"),
        odd_bays=frame.odd_bays,
        bays=frame.bays,
        start=placed(frame, "starts", Length(span.start)),
        end=placed(frame, "ends", Length(span.end)),
        top=_pinned(get(frame, "height", wall.height.raised(sill)), wall.length),
        top_plates=get(frame, "top_plates"),
    )


def _pinned(profile: asked.Profile, length: Length) -> asked.Profile:
    """The profile with its right end at the end of the wall, which is not the end of the frame."""
    return asked.Profile(
        points=tuple(asked.Point(at=length if p.at is None else p.at, value=p.value) for p in profile.points)
    )


def _quiet(model: Model, name: str, derived: Any = None) -> Any:
    """A value that nothing rests on, taken without a word."""
    return Filler(Side.NOMINAL).get(model, name, "", derived)


def _rim(wall: asked.Wall, depth: Length, get: Any) -> HouseRim:
    rim = wall.rim
    joists: asked.Joists = get(rim, "joists")
    by_joist = get if joists == "land here" else _quiet
    spacing = by_joist(rim, "spacing")
    return HouseRim(
        joists=joists,
        height=get(rim, "height"),
        spacing=spacing,
        first_joist=by_joist(rim, "first_joist", spacing),
        depth=get(rim, "depth", depth),
    )


def _assembly(
    whole: asked.Assembly, own: asked.Assembly | None, goods: Shelf, filler: Filler
) -> HouseAssembly:
    own = own or asked.Assembly()
    chosen = whole.model_copy(update={k: v for k, v in own if v is not None and k != "rim"})
    rim = whole.rim.model_copy(update={k: v for k, v in own.rim if v is not None})

    def layer(kind: type[Any], name: str) -> Any:
        good = filler.get(chosen, name, "assembly")
        return None if good == NONE else goods.find(kind, good)

    return HouseAssembly(
        batts=goods.batts(filler.get(chosen, "batt", "assembly")),
        vapour_control=layer(Membrane, "vapour_control"),
        moisture_barrier=layer(Membrane, "moisture_barrier"),
        sheet=layer(Board, "sheet"),
        foam_board=layer(Board, "foam_board"),
        sealant=layer(Sealant, "sealant"),
        tape=layer(Tape, "tape"),
        box_wrap=layer(Wrap, "box_wrap"),
        rim_batts=goods.batts(filler.get(rim, "batt", "assembly.rim")),
        rim_pieces=filler.get(rim, "pieces", "assembly.rim"),
    )


@dataclass(frozen=True)
class _Unplaced:
    """A thing whose place on the wall is not known, and whether it has a vapour hat."""

    id: str
    wrap: asked.WrapState


def _thing(
    wall: asked.Wall, number: int, frame: HouseFrame | None, span: Span, filler: Filler
) -> HouseThing | _Unplaced:
    thing = wall.in_the_way[number]
    kind = kinds()[thing.kind]
    name = thing.id or f"{thing.kind} {number + 1}"

    def get(field_name: str, derived: Any = None, *, told: bool = True) -> Any:
        asker = filler if told else Filler(filler.side)
        return asker.get(thing, field_name, f"wall {wall.name}.{name}", derived, wall.name)

    def size(field_name: str, whole: int) -> Length:
        usual = getattr(kind, field_name)
        known = usual is not None or kind.sits != "whole"
        return Length(get(field_name, usual.value if usual else whole, told=known))

    wrap: asked.WrapState = get("wrap") if kind.wrapped else "wrapped"
    runs = get("runs", kind.runs, told=kind.runs != "spot")
    if not _is_placed(thing, kind, runs):
        return _Unplaced(name, wrap)
    stud_depth = frame.depth if frame else Length(0)
    start, end = (frame.start, frame.end) if frame else (span.start, span.end)
    top = frame.top.most if frame else (wall.height.most if wall.height else Length(0))
    whole = runs == "along" and not thing.has_stretch
    width = Length(end - start) if whole else size("width", 0)
    height = top if runs == "up" else size("height", 0)
    depth = size("depth", stud_depth)
    left = start if whole else _edge(thing.from_left, thing.from_left_to_middle, width)
    bottom = 0 if runs == "up" else _edge(thing.up, thing.up_to_middle, height)
    near = get("back", _near(kind, depth, stud_depth, wall, filler), told=kind.behind == "fill")
    place = (Length(left), Length(bottom), width, height, near, Length(near + depth))
    return HouseThing(name, kind, *place, runs, wrap)


def _is_placed(thing: asked.Thing, kind: Kind, runs: str) -> bool:
    """True where its place is known as far as it has one, and a size for it."""
    across = thing.from_left is not None or thing.from_left_to_middle is not None
    upright = thing.up is not None or thing.up_to_middle is not None
    wide, high = (getattr(thing, side) or getattr(kind, side) for side in ("width", "height"))
    return (runs == "along" or (across and bool(wide))) and (runs == "up" or (upright and bool(high)))


def _edge(edge: Length | None, middle: Length | None, size: Length) -> int:
    """The lower or left edge, from itself or from the middle."""
    return middle - size // 2 if middle is not None else edge or 0


def _near(kind: Kind, depth: int, stud_depth: int, wall: asked.Wall, filler: Filler) -> Length:
    """Distance from the back of the studs to the thing's back, by the side that its kind sits on."""
    gap: asked.Gap = Filler(filler.side).get(wall, "gap", "")
    back = {
        "room face": stud_depth - depth,
        "concrete": -((gap.least + gap.most) // 2),
        "middle": (stud_depth - depth) // 2,
        "whole": 0,
    }
    return Length(back[kind.sits])
