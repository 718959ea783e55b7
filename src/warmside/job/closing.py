"""Whether a complete round of walls closes, from its turns and the lengths of its concrete."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from warmside.job.resolve import House, HouseWall
from warmside.units import Length


@dataclass(frozen=True)
class Closing:
    """By how much the walls miss closing [length units], and the walls that lie most along the miss."""

    miss: Length
    walls: tuple[str, ...]


def corners(walls: tuple[HouseWall, ...]) -> Iterator[tuple[float, float]]:
    """The concrete corners of the round, starting at the left end of the first wall [length units].

    x goes along the first wall, y is negative on the room side; there is one corner more than walls.
    """
    x = y = heading = 0.0
    yield x, y
    for wall in walls:
        x += wall.concrete_length * math.cos(math.radians(heading))
        y -= wall.concrete_length * math.sin(math.radians(heading))
        heading += wall.turn or 0.0
        yield x, y


def closing(house: House) -> Closing | None:
    """The closing error of a complete round; None while a turn or a wall is missing."""
    walls = house.walls
    turns = [w.turn for w in walls if w.turn is not None]
    if house.unmeasured or len(turns) < len(walls) or not math.isclose(sum(turns), 360.0):
        return None
    points = list(corners(walls))
    x, y = points[-1]
    miss = Length(round(math.hypot(x, y)))
    along = [abs((b[0] - a[0]) * x + (b[1] - a[1]) * y) for a, b in pairwise(points)]
    share = [reach / max(w.concrete_length, 1) for reach, w in zip(along, walls, strict=True)]
    near = [w.name for w, s in zip(walls, share, strict=True) if s > 0.9 * max(share)]
    return Closing(miss, tuple(near) if miss else ())
