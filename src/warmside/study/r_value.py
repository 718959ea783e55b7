"""Effective resistance by bay, by wall and at the rim, by the method that the rule set's limits mean.

Sections are the zones of `layers` by area; the totals are those of ISO 6946 and of NBC 2020 Note
A-9.36.2.4.(1). Openings are left out. Not valid for steel studs.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from warmside.cutting.pieces import BayFill
from warmside.job.openings import MOST_OPEN
from warmside.job.resolve import House, HouseFrame, HouseWall
from warmside.physics.resistance import (
    CombinedMethodError,
    Method,
    Section,
    isothermal_planes,
    total_resistance,
)
from warmside.study.layers import Zone, bay_zones, framing_area, framing_zone, rim_zones
from warmside.units import area_m2
from warmside.wall.frame import WallFrame


@dataclass(frozen=True)
class Worth:
    """The effective resistance of a part [m2.K/W], its area [m2], the method, and its zones by name.

    `shares` maps the name of a zone to its share of the area.
    """

    mark: str
    resistance: float
    area: float
    method: Method
    shares: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class WallWorth:
    """A wall, its bays one by one, its rim; None and an empty rim where there is no frame to insulate."""

    name: str
    whole: Worth | None
    bays: tuple[Worth, ...]
    rim: Worth


def wall_worth(house: House, wall: HouseWall, built: WallFrame, fills: Sequence[BayFill]) -> WallWorth:
    """Effective resistance of a wall, bay by bay, and of its rim."""
    rim = worth(f"{wall.name} rim", rim_zones(house, wall, built), house)
    if wall.frame is None:
        return WallWorth(wall.name, None, (), rim)
    frame = wall.frame
    zones = [zone for fill in fills for zone in bay_zones(house, wall, frame, fill)]
    kept, sticks = _round_counted(wall, frame, zones)
    framing = framing_zone(house, wall, frame, framing_area(wall, built) + sticks)
    bays = tuple(_bay_worth(house, wall, frame, fill) for fill in fills)
    return WallWorth(wall.name, worth(wall.name, [*kept, framing], house), bays, rim)


def _round_counted(wall: HouseWall, frame: HouseFrame, zones: Sequence[Zone]) -> tuple[list[Zone], int]:
    """Zones of the bays without the openings that were only counted, and the sticks round these.

    An opening is no part of the wall; a stud stands at each side of it, a sill below, a head above. Both take
    of all that is in the bays alike, because nobody knows where they are [square length units].
    """
    whole = sum(zone.area for zone in zones)
    gone = min(sum(opening.area for opening in wall.openings), round(MOST_OPEN * whole))
    sticks = min(sum(opening.edge for opening in wall.openings) * frame.face, (whole - gone) // 2)
    left = whole - gone - sticks
    return [replace(zone, area=zone.area * left // max(1, whole)) for zone in zones], sticks


def _bay_worth(house: House, wall: HouseWall, frame: HouseFrame, fill: BayFill) -> Worth:
    """A bay with half a stud on either side and the plates above and below it."""
    bay = fill.bay
    plates = (bay.width + frame.face) * frame.face * (1 + frame.top_plates)
    sticks = bay.area * frame.face // bay.width + plates
    zones = bay_zones(house, wall, frame, fill)
    return worth(bay.mark, [*zones, framing_zone(house, wall, frame, sticks)], house)


def worth(mark: str, zones: Iterable[Zone], house: House) -> Worth:
    """The total of zones side by side; the lower bound where the bounds lie too far apart to be averaged."""
    used = [zone for zone in zones if zone.area > 0]
    whole = sum(zone.area for zone in used)
    sections = [Section(z.area / whole, tuple(layer.resistance for layer in z.layers)) for z in used]
    method = house.rules.method
    try:
        resistance = total_resistance(sections, method)
    except CombinedMethodError:
        method, resistance = Method.ISOTHERMAL_PLANES, isothermal_planes(sections)
    shares: defaultdict[str, int] = defaultdict(int)
    for zone in used:
        shares[zone.name] += zone.area
    parts = tuple((name, area / whole) for name, area in sorted(shares.items()))
    return Worth(mark, resistance, area_m2(whole), method, parts)


def together(worths: Sequence[Worth]) -> float:
    """Resistance of parts side by side, by area [m2.K/W]; None of them may be empty."""
    area = math.fsum(w.area for w in worths)
    return area / math.fsum(w.area / w.resistance for w in worths)
