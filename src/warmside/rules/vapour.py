"""What a house has of vapour and moisture control: sheets, foam in place of one, barriers behind the studs.

What is planned is taken as it will be built: a moisture barrier stops at the ground line, batts go to the
floor. A figure of our own tables confirms no board and no membrane: only the label in hand does, and of an
old layer that stays nobody knows more than that it is there.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

from warmside.catalog.codes import Measure
from warmside.catalog.goods import Membrane, Quantity
from warmside.job.resolve import House, HouseWall
from warmside.rules.facts import Built, Found, exposure_known, has_foam, kept, needs, showing_known
from warmside.study.layers import around_studs, batt_layers
from warmside.units import Length, to_m


def _sheet(each: Built) -> Membrane | None:
    """The vapour control of a wall that has a frame to put it on."""
    return each.wall.assembly.vapour_control if each.wall.frame is not None else None


def _by(value: Quantity | None, wall: str, need: str) -> Found:
    """A permeance of a good; confirmed only by the label in hand."""
    if value is None:
        return Found(None, wall, needs=needs(need))
    return Found(value.value, wall, sure=value.status == "label")


def _vapour_permeance(_house: House, each: Built) -> Iterator[Found]:
    """Of the sheet; without one the foam board has to do its work."""
    wall = each.wall
    board = wall.assembly.foam_board
    if wall.frame is None:
        return
    if wall.assembly.vapour_control is not None:
        yield _by(wall.assembly.vapour_control.permeance, wall.name, "authority")
    elif kept(wall, "vapour barrier"):
        yield Found(None, wall.name, needs=needs("old_sheet"))
    elif board is not None:
        yield _by(board.permeance, wall.name, "board_permeance")
    else:
        yield Found(None, wall.name, absent=True)


def _vapour_wet(_house: House, each: Built) -> Iterator[Found]:
    sheet = _sheet(each)
    if sheet is not None and sheet.permeance_wet is not None:
        yield _by(sheet.permeance_wet, each.wall.name, "authority")


def _vapour_class(_house: House, each: Built) -> Iterator[Found]:
    sheet = _sheet(each)
    if sheet is not None:
        wet = sheet.permeance_wet
        one = _by(sheet.permeance, each.wall.name, "authority")
        known = wet.value if wet else sheet.permeance.value
        yield replace(one, permeance=known, labelled=wet is not None and wet.status == "label")


def _foam_permeance(_house: House, each: Built) -> Iterator[Found]:
    board = each.wall.assembly.foam_board
    if each.wall.frame is not None and board is not None and each.wall.assembly.vapour_control is None:
        yield _by(board.permeance, each.wall.name, "board_permeance")


def _vapour_warm_side(_house: House, each: Built) -> Iterator[Found]:
    """A sheet stands at the room face; whether foam is warm enough is a matter of its thickness."""
    wall = each.wall
    if wall.frame is None:
        return
    if wall.assembly.vapour_control is None and kept(wall, "vapour barrier"):
        yield Found(None, wall.name, needs=needs("old_sheet"))
    elif wall.assembly.vapour_control is None and has_foam(wall):
        yield Found(None, wall.name, needs=needs("condensation"))
    else:
        yield Found(float(wall.assembly.vapour_control is not None), wall.name)


def _lap(_house: House, each: Built) -> Iterator[Found]:
    sheet = each.wall.assembly.vapour_control
    if each.wall.frame is not None and sheet is not None:
        yield Found(to_m(sheet.lap.value), each.wall.name)


def through(house: House, wall: HouseWall) -> tuple[float, float]:
    """Resistance between studs inside of the inner face of foam or concrete, and from there on [m2.K/W]."""
    layers = around_studs(house, wall)
    within = (*layers.before, *batt_layers(wall.assembly.batts[0], layers.depth, layers.gap))
    inside, outside = (math.fsum(layer.resistance for layer in part) for part in (within, layers.behind))
    return inside, outside


def ratio(house: House, each: Built) -> float | None:
    """Resistance outside the inner face of the foam over that inside of it; None without foam, new or old."""
    if each.wall.frame is None or not has_foam(each.wall):
        return None
    within, outside = through(house, each.wall)
    return outside / within


def _ratio(house: House, each: Built) -> Iterator[Found]:
    """The board that lets through least decides whether the rule holds; of old foam that is not known."""
    value, board = ratio(house, each), each.wall.assembly.foam_board
    if value is None:
        return
    permeance = board.permeance if board and not each.wall.old_foam else None
    yield Found(
        value,
        each.wall.name,
        permeance=permeance.value if permeance else None,
        labelled=permeance is not None and permeance.status == "label",
        resistance=board.resistance if board else sum(old.resistance for old in each.wall.old_foam),
    )


# Behind the studs


Tell = Callable[[House, Built], Iterator[Found]]


def _in_soil(tell: Tell) -> Tell:
    """Only of framed walls against soil."""

    def told(house: House, each: Built) -> Iterator[Found]:
        if each.wall.frame is not None and each.wall.exposure == "soil":
            yield from tell(house, each)

    return told


def _or_asked(tell: Tell) -> Tell:
    """Where nobody said what lies behind a wall, that has to be looked at first."""

    def told(house: House, each: Built) -> Iterator[Found]:
        if each.wall.frame is None or exposure_known(house, each.wall):
            yield from tell(house, each)
        else:
            yield Found(None, each.wall.name, needs=needs("exposure"))

    return told


@_or_asked
@_in_soil
def _moisture_protection(_house: House, each: Built) -> Iterator[Found]:
    wall = each.wall
    barrier = wall.assembly.moisture_barrier is not None or kept(wall, "moisture barrier")
    yield Found(float(barrier or has_foam(wall)), wall.name)


@_in_soil
def _moisture_top(house: House, each: Built) -> Iterator[Found]:
    """A new barrier ends at the ground line; how high an old one goes has to be looked at."""
    wall = each.wall
    if kept(wall, "moisture barrier"):
        yield Found(None, wall.name, needs=needs("old_barrier"))
    elif wall.assembly.moisture_barrier is not None:
        known = showing_known(house, wall)
        yield Found(0.0 if known else None, wall.name, needs=() if known else needs("concrete_showing"))


@_in_soil
def _moisture_permeance(_house: House, each: Built) -> Iterator[Found]:
    sheet = each.wall.assembly.moisture_barrier
    if sheet is not None:
        yield _by(sheet.permeance, each.wall.name, "authority")


@_or_asked
@_in_soil
def _below_ground(house: House, each: Built) -> Iterator[Found]:
    """How far down the insulation goes where the ground is lowest; batts go to the floor."""
    wall = each.wall
    stops = (0, wall.length, *(p.at for p in wall.showing.points if p.at is not None))
    known = showing_known(house, wall)
    value = to_m(Length(min(wall.ground(x) for x in stops))) if known else None
    yield Found(value, wall.name, needs=() if known else needs("concrete_showing"))


@_or_asked
@_in_soil
def _air_barrier_permeance(_house: House, each: Built) -> Iterator[Found]:
    sheet = _sheet(each)
    if sheet is not None:
        yield _by(sheet.permeance, each.wall.name, "authority")


OF_VAPOUR: Mapping[Measure, Tell] = {
    Measure.VAPOUR_PERMEANCE: _vapour_permeance,
    Measure.VAPOUR_WET: _vapour_wet,
    Measure.VAPOUR_CLASS: _vapour_class,
    Measure.FOAM_PERMEANCE: _foam_permeance,
    Measure.VAPOUR_WARM_SIDE: _vapour_warm_side,
    Measure.AIR_BARRIER_PERMEANCE: _air_barrier_permeance,
    Measure.LAP: _lap,
    Measure.RATIO: _ratio,
    Measure.MOISTURE_PROTECTION: _moisture_protection,
    Measure.MOISTURE_TOP: _moisture_top,
    Measure.MOISTURE_PERMEANCE: _moisture_permeance,
    Measure.BELOW_GROUND: _below_ground,
}
