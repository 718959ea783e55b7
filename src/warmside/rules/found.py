"""What a house has of each measure that a rule limits, by wall or thing.

Found values are in the units of `catalog.codes.unit_of`. What is planned is taken as it will be built, such
as batts over the full height. What nobody surveyed is None and says what to look at. Not valid for walls that
other rules govern, such as party walls.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from warmside.catalog.codes import Measure
from warmside.catalog.hazards import hazards
from warmside.job.resolve import House
from warmside.rules.facts import (
    OTHER_RULES,
    Built,
    Found,
    gap_known,
    has_foam,
    kept,
    mean_showing,
    needs,
    showing_known,
)
from warmside.rules.things import OF_THINGS, without_a_place
from warmside.rules.vapour import OF_VAPOUR, through
from warmside.units import Length, to_m

UNHEATED = frozenset({"unheated space", "garage", "cold room"})
"""Enclosed space on the other side that is not heated."""
COVERS = ("drywall", "panelling")
"""Old layers that cover what lies behind them."""


def found(measure: Measure, house: House, walls: Sequence[Built]) -> Iterator[Found]:
    """Everything in a house that a measure applies to."""
    if measure in _OF_HOUSE:
        yield from _OF_HOUSE[measure](house, walls)
        return
    for each in walls:
        if each.wall.exposure not in OTHER_RULES:
            yield from _OF_WALL[measure](house, each)
    yield from without_a_place(measure, house)


def _method(house: House, walls: Sequence[Built]) -> Iterator[Found]:
    wholes = [each.worth.whole for each in walls if each.worth.whole is not None]
    if wholes:
        yield Found(float(all(whole.method is house.rules.method for whole in wholes)))


def _wood_moisture(house: House, _walls: Sequence[Built]) -> Iterator[Found]:
    """A reading, or an answer to whether it is over the line of the hazard."""
    seen, line = house.looked_at.get("wood-mc"), hazards()["wood-mc"].over
    if seen is not None and seen.reading is not None:
        yield Found(seen.reading / 100.0)
    elif seen is not None and seen.answer is not None and line is not None:
        over = seen.answer == "yes"
        # What is over the line misses it by something, and nobody knows by how much.
        value = line.value / 100.0 * (1.0 + 1e-6 * over)
        yield Found(value, needs=needs("wood_moisture"), bound="over" if over else "or_less")
    else:
        yield Found(None, needs=needs("wood_moisture"))


def _foundation_r(_house: House, each: Built) -> Iterator[Found]:
    if each.worth.whole is not None:
        yield _beside(each, Found(each.worth.whole.resistance, each.wall.name))


def _beside(each: Built, one: Found) -> Found:
    return replace(one, beside_unheated=each.wall.exposure in UNHEATED)


def _above_ground_r(_house: House, each: Built) -> Iterator[Found]:
    if each.worth.whole is not None and each.wall.showing.most > 0:
        yield _beside(each, Found(each.worth.whole.resistance, each.wall.name))


def _total_r(house: House, each: Built) -> Iterator[Found]:
    """Through the insulated part of the wall: film, sheet, batt, gap, foam and concrete, no studs."""
    if each.wall.frame is not None:
        yield _beside(each, Found(math.fsum(through(house, each.wall)), each.wall.name))


def _above_ground_total_r(house: House, each: Built) -> Iterator[Found]:
    if each.wall.showing.most > 0:
        yield from _total_r(house, each)


def _rim_r(_house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None:
        yield _beside(each, Found(each.worth.rim.resistance, each.wall.name))


def _rim_label_r(_house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None:
        built_of = each.wall.assembly
        yield Found(built_of.rim_batts[0].r_label.value * built_of.rim_pieces, each.wall.name)


def _label_r(_house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None:
        board = each.wall.assembly.foam_board
        label = each.wall.assembly.batts[0].r_label.value
        yield Found(label, each.wall.name, continuous=board.resistance if board else 0.0)


def _above_ground_label_r(house: House, each: Built) -> Iterator[Found]:
    if each.wall.showing.most > 0:
        yield from _label_r(house, each)


def _mean_showing(house: House, each: Built) -> Iterator[Found]:
    known = showing_known(house, each.wall)
    value = mean_showing(each.wall) if known else None
    yield Found(value, each.wall.name, needs=() if known else needs("concrete_showing"))


def _share_showing(house: House, each: Built) -> Iterator[Found]:
    known = showing_known(house, each.wall)
    mean_height = to_m(Length((each.wall.height.least + each.wall.height.most) // 2))
    value = mean_showing(each.wall) / mean_height if known else None
    yield Found(value, each.wall.name, needs=() if known else needs("concrete_showing"))


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


def _contact(_house: House, each: Built) -> Iterator[Found]:
    """Batts against the sheet, or against foam in a stud space without a gap; a thin batt may stand off."""
    wall = each.wall
    if wall.frame is None:
        return
    front = wall.assembly.vapour_control is not None or wall.assembly.sheet is not None
    back = has_foam(wall) and wall.largest_air_gap == 0
    full = wall.assembly.batts[0].thickness.value >= wall.frame.depth
    yield Found(float(front or (back and full)), wall.name, sure=full)


def _cover(_house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None:
        covered = each.wall.assembly.sheet is not None or kept(each.wall, *COVERS)
        yield Found(float(covered), each.wall.name)


def _gap(house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None:
        known = gap_known(house, each.wall)
        value = to_m(each.wall.largest_air_gap) if known else None
        yield Found(value, each.wall.name, needs=() if known else needs("gap"))


def _fire_blocks(_house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None:
        yield Found(None, each.wall.name, needs=needs("fire_blocks"))


def _foam_cover(_house: House, each: Built) -> Iterator[Found]:
    """The new sheet; of an old cover that stays, what it is has to be looked at."""
    sheet = each.wall.assembly.sheet
    if not has_foam(each.wall):
        return
    if sheet is None and kept(each.wall, *COVERS):
        yield Found(None, each.wall.name, needs=needs("old_cover"))
    else:
        value = to_m(sheet.thickness.value) if sheet else None
        yield Found(value, each.wall.name, absent=sheet is None)


def _wood_break(house: House, each: Built) -> Iterator[Found]:
    frame = each.wall.frame
    if frame is None:
        return
    bare = not has_foam(each.wall) and gap_known(house, each.wall)
    if frame.state == "standing" and each.wall.gap.least <= 0 and bare:
        yield Found(0.0, each.wall.name)
    else:
        yield Found(None, each.wall.name, needs=needs("plate_break"))


def _sheet_spacing(_house: House, each: Built) -> Iterator[Found]:
    if each.wall.frame is not None and each.wall.assembly.sheet is not None and each.frame.bays:
        widest = max(bay.width for bay in each.frame.bays)
        yield Found(to_m(Length(widest + each.wall.frame.face)), each.wall.name)


_OF_HOUSE: Mapping[Measure, Callable[[House, Sequence[Built]], Iterator[Found]]] = {
    Measure.METHOD: _method,
    Measure.WOOD_MOISTURE: _wood_moisture,
}
_OF_WALL: Mapping[Measure, Callable[[House, Built], Iterator[Found]]] = {
    **OF_THINGS,
    **OF_VAPOUR,
    Measure.FOUNDATION_R: _foundation_r,
    Measure.ABOVE_GROUND_R: _above_ground_r,
    Measure.TOTAL_R: _total_r,
    Measure.ABOVE_GROUND_TOTAL_R: _above_ground_total_r,
    Measure.RIM_R: _rim_r,
    Measure.LABEL_R: _label_r,
    Measure.ABOVE_GROUND_LABEL_R: _above_ground_label_r,
    Measure.RIM_LABEL_R: _rim_label_r,
    Measure.CONTACT: _contact,
    Measure.COVER: _cover,
    Measure.MEAN_SHOWING: _mean_showing,
    Measure.SHARE_SHOWING: _share_showing,
    Measure.UNFILLED: _unfilled,
    Measure.OUTSIDE_SHARE: _outside_share,
    Measure.FROM_FLOOR: _from_floor,
    Measure.GAP: _gap,
    Measure.FIRE_BLOCKS: _fire_blocks,
    Measure.FOAM_COVER: _foam_cover,
    Measure.WOOD_BREAK: _wood_break,
    Measure.SHEET_SPACING: _sheet_spacing,
}
