"""What a wall resists as it was found: with the old insulation and sheets that are on it before the work.

Old foam lies against the concrete. Between studs that stand are old batts, or the air that an old sheet shuts
in; the studs bridge them, by the method of the rule set. Without a standing frame old batts hang on the
concrete as a blanket. State and worth that nobody knows are run from one end to the other
(`data/as_found.toml`, common practice). Not valid for layers that cover a wall in part, nor at the rim, which
counts as bare.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache

from warmside.catalog.data_files import read_whole
from warmside.catalog.goods import Model, Quantity, Status
from warmside.job.existing import FOAMS, OldLayer
from warmside.job.resolve import House, HouseFrame, HouseWall
from warmside.study.heat_data import Range
from warmside.study.layers import AIR, WOOD, Layer, Zone, air, around_studs, framing_area, wood
from warmside.study.r_value import worth
from warmside.units import Length, to_m
from warmside.wall.frame import frame_wall


class End(Enum):
    """Which end of what nobody knows of the old layers is taken."""

    LIKELY = "likely"
    LEAST = "low"
    MOST = "high"


class Share(Model):
    """A part of the worth that is left, from least to most [-]."""

    low: float
    likely: float
    high: float
    source: str
    status: Status


class _Table(Model):
    share: Mapping[str, Share]
    most: Mapping[str, Quantity]
    sheet: Mapping[str, Quantity]


@cache
def _table() -> _Table:
    return read_whole(_Table, "as_found.toml")


def worth_today(layer: OldLayer, end: End) -> float:
    """What an old layer resists before the work [m2.K/W].

    One that stays counts as after the work, at most as the best of its kind where its worth is not known.
    """
    most = layer.resistance
    if not layer.worth_known and layer.kind in _table().most:
        most = max(most, _table().most[layer.kind].value * to_m(layer.thickness))
    if layer.insulates:
        return most if end is End.MOST else layer.resistance
    share: float = getattr(_table().share[layer.state or "unknown"], end.value)
    return share * {End.LEAST: layer.resistance, End.MOST: most}.get(end, (layer.resistance + most) / 2.0)


@dataclass(frozen=True)
class WallBefore:
    """A wall as it was found: resistance with film and concrete, and what lies between them [m2.K/W]."""

    wall: str
    whole: Range
    layers: Range


def walls_before(house: House) -> tuple[WallBefore, ...]:
    """The walls on which something old counts, one by one; bare ones are left out."""
    return tuple(found for wall in house.walls if (found := _before(house, wall)).layers.high > 0.0)


def _before(house: House, wall: HouseWall) -> WallBefore:
    likely, low, high = (old_resistance(house, wall, end) for end in End)
    between = Range.over(likely, (low, high))
    rest = sum(_around(house, wall))
    return WallBefore(wall.name, between.map(lambda r: r + rest), between)


def old_resistance(house: House, wall: HouseWall, end: End = End.LIKELY) -> float:
    """What is on a wall as it was found resists between film and concrete [m2.K/W]."""
    return _resistance(house, wall, wall.old, end)


def left_alone(house: House, wall: HouseWall, end: End = End.LIKELY) -> float:
    """The same of a wall that gets no frame, once what goes is torn out [m2.K/W]."""
    return _resistance(house, wall, [layer for layer in wall.old if layer.then != "remove"], end)


def _around(house: House, wall: HouseWall) -> tuple[float, float]:
    """Inside film and concrete [m2.K/W]."""
    around = around_studs(house, wall)
    return around.before[0].resistance, around.behind[-1].resistance


def _resistance(house: House, wall: HouseWall, old: Sequence[OldLayer], end: End) -> float:
    foam = sum(worth_today(layer, end) for layer in old if layer.kind in FOAMS)
    batts = [layer for layer in old if layer.kind == "batt"]
    sheets = [layer for layer in old if layer.kind in _table().sheet]
    sheet = sum(_table().sheet[layer.kind].value * to_m(layer.thickness) for layer in sheets)
    blanket = sum(worth_today(layer, end) for layer in batts)
    if wall.frame is None or wall.frame.state != "standing" or not (sheets or blanket > 0.0):
        return foam + blanket + sheet
    thick = Length(sum(layer.thickness for layer in batts) if blanket > 0.0 else 0)
    space = Length(max(0, wall.mean_gap - sum(layer.thickness for layer in old if layer.kind in FOAMS)))
    return _between_studs(house, wall, wall.frame, Layer("old", thick, blanket), space, (sheet, foam))


def _between_studs(
    house: House, wall: HouseWall, frame: HouseFrame, batt: Layer, gap: Length, boards: tuple[float, float]
) -> float:
    """Old batts, or air, between the studs, with a sheet before them and foam behind the gap [m2.K/W]."""
    film, concrete = _around(house, wall)
    fill = batt.resistance + air(max(0, frame.depth - batt.thickness)).resistance
    behind = air(gap)
    if batt.resistance <= 0.0:
        fill, behind = 0.0, air(frame.depth + gap)

    def zone(name: str, area: int, between: float, rest: Layer) -> Zone:
        layers = (film, boards[0], between, rest.resistance, boards[1], concrete)
        return Zone(name, area, tuple(Layer(AIR, Length(0), each) for each in layers))

    built = frame_wall(wall)
    zones = [
        zone("between", sum(bay.area for bay in built.bays), fill, behind),
        zone(WOOD, framing_area(wall, built), wood(house, frame.depth).resistance, air(gap)),
    ]
    return worth(wall.name, zones, house).resistance - film - concrete
