"""What a house has of each measure that a rule limits, by wall or thing, and the facts that choose limits.

Found values are in the units of `catalog.codes.unit_of`. What is planned is taken as it will be built: a
moisture barrier that stops at the ground line, batts over the full height. What nobody surveyed is None and
says what to look at. Not valid for walls that other rules govern, such as party walls.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from warmside.catalog.climates import ClimateError
from warmside.catalog.codes import Measure
from warmside.catalog.design_values import DegreeDays, ZoneError, climate_zone, design
from warmside.cutting.pieces import BayFill
from warmside.job import survey as asked
from warmside.job.resolve import House, HouseThing, HouseWall, listed_place
from warmside.say import Note
from warmside.study.layers import air, around_studs, batt_layers
from warmside.study.r_value import WallWorth
from warmside.units import Length, to_m
from warmside.wall.frame import WallFrame

OTHER_RULES = frozenset({"party wall", "second suite"})
"""Walls that stand under other parts of the code; nothing here judges them."""
HOT = frozenset({"chimney", "gas vent", "flue"})
DUCTS = frozenset({"duct"})


@dataclass(frozen=True)
class Built:
    """A wall, its frame, its bays and what they are worth: what the rules look at."""

    wall: HouseWall
    frame: WallFrame
    fills: Sequence[BayFill]
    worth: WallWorth


@dataclass(frozen=True)
class Found:
    """What one wall or thing has. `value` None means not known, and `needs` says what to look at.

    `absent` means that there is nothing of the kind, `sure` that the value is confirmed; `continuous` is the
    label resistance of a board that goes with a cavity value [m2.K/W].
    """

    value: float | None
    wall: str | None = None
    thing: str | None = None
    kind: str | None = None
    needs: tuple[Note, ...] = ()
    absent: bool = False
    sure: bool = True
    continuous: float = 0.0


# Facts


@dataclass(frozen=True)
class Facts:
    """What chooses among the limits of a rule.

    degree_days : heating degree-days of the place under 18 C, None where not known [K.d]
    """

    degree_days: DegreeDays | None
    zones: str | None
    heat_recovery: bool | None

    @cached_property
    def zone(self) -> str | None:
        """The climate zone of the rule set, where it can be told."""
        if self.degree_days is None or self.zones is None:
            return None
        try:
            return climate_zone(self.zones, self.degree_days.value)
        except ZoneError:
            return None


def facts(house: House) -> Facts:
    """The facts of a house under its own rule set."""
    ventilated = house.heating.heat_recovery
    known = None if ventilated is None else ventilated == "yes"
    return Facts(degree_days(house.place), house.rules.zones, known)


def degree_days(place: asked.Place) -> DegreeDays | None:
    """Heating degree-days of the place that a job names; None where no table has them."""
    try:
        return design(listed_place(place)).degree_days
    except ClimateError:
        return None


# What is found


def found(measure: Measure, house: House, walls: Sequence[Built]) -> Iterator[Found]:
    """Everything in a house that a measure applies to."""
    if measure in _OF_HOUSE:
        yield from _OF_HOUSE[measure](house, walls)
        return
    for each in walls:
        if each.wall.exposure not in OTHER_RULES:
            yield from _OF_WALL[measure](house, each)


def mean_showing(wall: HouseWall) -> float:
    """Mean height of the top of the concrete above the ground [m]."""
    showing, total = wall.showing, 0.0
    stops = sorted({0, int(wall.length), *(p.at for p in showing.points if p.at is not None)})
    inside = [x for x in stops if 0 <= x <= wall.length]
    for left, right in pairwise(inside):
        total += (right - left) * (showing.at(left, wall.length) + showing.at(right, wall.length)) / 2
    return to_m(Length(round(total / wall.length)))


def behind(house: House, built: Built, thing: HouseThing) -> float | None:
    """Resistance that is left of the wall where a thing stands [m2.K/W]; None where it takes nothing away."""
    frame = built.wall.frame
    voids = [void for fill in built.fills for void in fill.voids if void.thing == thing.id]
    if frame is None or not voids:
        return None
    batt = built.wall.assembly.batts[0]
    layers = around_studs(house, built.wall)
    rooms = [frame.depth - void.depth if void.why == "in front" else 0 for void in voids]
    room = min(min(rooms), batt.thickness.value)
    kept = to_m(Length(max(0, room))) / batt.conductivity
    rest = (*layers.before, air(layers.gap), *layers.behind)
    return kept + math.fsum(layer.resistance for layer in rest)


def needs(name: str) -> tuple[Note, ...]:
    """What is to be looked at or measured, as a note."""
    return (Note(f"rules.needs.{name}"),)


def _method(house: House, walls: Sequence[Built]) -> Iterator[Found]:
    wholes = [each.worth.whole for each in walls if each.worth.whole is not None]
    if wholes:
        yield Found(float(all(whole.method is house.rules.method for whole in wholes)))


def _wood_moisture(house: House, _walls: Sequence[Built]) -> Iterator[Found]:
    seen = house.looked_at.get("wood-mc")
    if seen is not None and seen.reading is not None:
        yield Found(seen.reading / 100.0)
    elif seen is not None and seen.answer == "yes":
        yield Found(1.0)
    else:
        yield Found(None, needs=needs("wood_moisture"))


def _showing_known(house: House, wall: HouseWall) -> bool:
    return all(assumed.field != f"wall {wall.name}.concrete_showing" for assumed in house.assumptions)


def _gap_known(house: House, wall: HouseWall) -> bool:
    return all(assumed.field != f"wall {wall.name}.gap" for assumed in house.assumptions)


def _foundation_r(_house: House, each: Built) -> Iterator[Found]:
    if each.worth.whole is not None:
        yield Found(each.worth.whole.resistance, each.wall.name)


def _above_ground_r(_house: House, each: Built) -> Iterator[Found]:
    if each.worth.whole is not None and each.wall.showing.most > 0:
        yield Found(each.worth.whole.resistance, each.wall.name)


def _rim_r(_house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None:
        yield Found(each.worth.rim.resistance, each.wall.name)


def _label_r(_house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None:
        board = each.wall.assembly.foam_board
        label = each.wall.assembly.batts[0].r_label.value
        yield Found(label, each.wall.name, continuous=board.resistance if board else 0.0)


def _mean_showing(house: House, each: Built) -> Iterator[Found]:
    known = _showing_known(house, each.wall)
    value = mean_showing(each.wall) if known else None
    yield Found(value, each.wall.name, needs=() if known else needs("concrete_showing"))


def _share_showing(house: House, each: Built) -> Iterator[Found]:
    known = _showing_known(house, each.wall)
    mean_height = to_m(Length((each.wall.height.least + each.wall.height.most) // 2))
    value = mean_showing(each.wall) / mean_height if known else None
    yield Found(value, each.wall.name, needs=() if known else needs("concrete_showing"))


def _behind(house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        left = behind(house, each, thing)
        if left is not None:
            yield Found(left, each.wall.name, thing.id, thing.kind.name)


def _unfilled(_house: House, each: Built) -> Iterator[Found]:
    if each.worth.whole is not None:
        empty = [share for name, share in each.worth.whole.shares if name.startswith("void")]
        yield Found(math.fsum(empty), each.wall.name)


def _outside_share(_house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None:
        yield Found(0.0, each.wall.name)


def _from_floor(_house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None:
        yield Found(0.0, each.wall.name)


def _vapour_permeance(_house: House, each: Built) -> Iterator[Found]:
    sheet = each.wall.assembly.vapour_control
    if each.wall.frame is None:
        return
    if sheet is None:
        yield Found(None, each.wall.name, absent=True)
    else:
        sure = sheet.permeance.status != "from memory"
        yield Found(sheet.permeance.value, each.wall.name, sure=sure)


def _vapour_warm_side(_house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None:
        yield Found(float(each.wall.assembly.vapour_control is not None), each.wall.name)


def _air_barrier_permeance(_house: House, each: Built) -> Iterator[Found]:
    sheet = each.wall.assembly.vapour_control
    if each.wall.frame is not None and sheet is not None and each.wall.exposure == "soil":
        sure = sheet.permeance.status != "from memory"
        yield Found(sheet.permeance.value, each.wall.name, sure=sure)


def ratio(house: House, each: Built) -> float | None:
    """Resistance outside the inner face of the foam board over that inside of it; None without a board."""
    wall = each.wall
    if wall.frame is None or wall.assembly.foam_board is None:
        return None
    layers = around_studs(house, wall)
    within = (*layers.before, *batt_layers(wall.assembly.batts[0], layers.depth, layers.gap))
    outside = math.fsum(layer.resistance for layer in layers.behind)
    return outside / math.fsum(layer.resistance for layer in within)


def _ratio(house: House, each: Built) -> Iterator[Found]:
    value = ratio(house, each)
    if value is not None:
        yield Found(value, each.wall.name)


def _in_soil(wall: HouseWall) -> bool:
    return wall.exposure == "soil" and wall.frame is not None


def _moisture_protection(_house: House, each: Built) -> Iterator[Found]:
    if _in_soil(each.wall):
        built_of = each.wall.assembly
        kept_dry = built_of.moisture_barrier is not None or built_of.foam_board is not None
        yield Found(float(kept_dry), each.wall.name)


def _moisture_top(house: House, each: Built) -> Iterator[Found]:
    if _in_soil(each.wall) and each.wall.assembly.moisture_barrier is not None:
        known = _showing_known(house, each.wall)
        yield Found(0.0 if known else None, each.wall.name, needs=() if known else needs("concrete_showing"))


def _lap(_house: House, each: Built) -> Iterator[Found]:
    sheet = each.wall.assembly.vapour_control
    if each.wall.frame is not None and sheet is not None:
        yield Found(to_m(sheet.lap.value), each.wall.name)


def _gap(house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None:
        known = _gap_known(house, each.wall)
        value = to_m(each.wall.largest_air_gap) if known else None
        yield Found(value, each.wall.name, needs=() if known else needs("gap"))


def _fire_blocks(_house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None:
        yield Found(None, each.wall.name, needs=needs("fire_blocks"))


def _foam_cover(_house: House, each: Built) -> Iterator[Found]:
    if each.wall.assembly.foam_board is not None:
        sheet = each.wall.assembly.sheet
        value = to_m(sheet.thickness.value) if sheet else None
        yield Found(value, each.wall.name, absent=sheet is None)


def _wood_break(house: House, each: Built) -> Iterator[Found]:
    frame = each.wall.frame
    if frame is None:
        return
    bare = each.wall.assembly.foam_board is None and _gap_known(house, each.wall)
    if frame.state == "standing" and each.wall.gap.least <= 0 and bare:
        yield Found(0.0, each.wall.name)
    else:
        yield Found(None, each.wall.name, needs=needs("plate_break"))


def _duct_inside(_house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name in DUCTS:
            yield Found(float(thing.near > 0), each.wall.name, thing.id, thing.kind.name)


def _clearance(_house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name in HOT and each.wall.frame is not None:
            gaps = [max(left - thing.right, thing.left - right) for left, right in each.frame.studs]
            nearest = max(0, min(gaps)) if gaps else 0
            yield Found(to_m(Length(nearest)), each.wall.name, thing.id, thing.kind.name)


def _panel_space(_house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name == "service panel":
            yield Found(None, each.wall.name, thing.id, thing.kind.name, needs("panel_space"))


def _beam_air(_house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name == "beam pocket":
            yield Found(to_m(thing.kind.clear.value), each.wall.name, thing.id, thing.kind.name)


def _windows(each: Built, value: Callable[[HouseThing], float]) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name == "window":
            yield Found(value(thing), each.wall.name, thing.id, thing.kind.name)


def _opening_area(_house: House, each: Built) -> Iterator[Found]:
    yield from _windows(each, lambda thing: to_m(thing.width) * to_m(thing.height))


def _opening_side(_house: House, each: Built) -> Iterator[Found]:
    yield from _windows(each, lambda thing: to_m(min(thing.width, thing.height)))


def _sheet_spacing(_house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None and each.wall.assembly.sheet is not None and each.frame.bays:
        widest = max(bay.width for bay in each.frame.bays)
        yield Found(to_m(Length(widest + each.wall.frame.face)), each.wall.name)


_OF_HOUSE: Mapping[Measure, Callable[[House, Sequence[Built]], Iterator[Found]]] = {
    Measure.METHOD: _method,
    Measure.WOOD_MOISTURE: _wood_moisture,
}
_OF_WALL: Mapping[Measure, Callable[[House, Built], Iterator[Found]]] = {
    Measure.FOUNDATION_R: _foundation_r,
    Measure.ABOVE_GROUND_R: _above_ground_r,
    Measure.RIM_R: _rim_r,
    Measure.LABEL_R: _label_r,
    Measure.MEAN_SHOWING: _mean_showing,
    Measure.SHARE_SHOWING: _share_showing,
    Measure.BEHIND: _behind,
    Measure.UNFILLED: _unfilled,
    Measure.OUTSIDE_SHARE: _outside_share,
    Measure.FROM_FLOOR: _from_floor,
    Measure.VAPOUR_PERMEANCE: _vapour_permeance,
    Measure.VAPOUR_WARM_SIDE: _vapour_warm_side,
    Measure.AIR_BARRIER_PERMEANCE: _air_barrier_permeance,
    Measure.RATIO: _ratio,
    Measure.MOISTURE_PROTECTION: _moisture_protection,
    Measure.MOISTURE_TOP: _moisture_top,
    Measure.LAP: _lap,
    Measure.GAP: _gap,
    Measure.FIRE_BLOCKS: _fire_blocks,
    Measure.FOAM_COVER: _foam_cover,
    Measure.WOOD_BREAK: _wood_break,
    Measure.DUCT_INSIDE: _duct_inside,
    Measure.CLEARANCE: _clearance,
    Measure.PANEL_SPACE: _panel_space,
    Measure.BEAM_AIR: _beam_air,
    Measure.OPENING_AREA: _opening_area,
    Measure.OPENING_SIDE: _opening_side,
    Measure.SHEET_SPACING: _sheet_spacing,
}
