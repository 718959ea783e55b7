"""Whether a complete round of walls closes, from its turns and the lengths of its concrete.

A miss beyond `far` in `data/closing.toml` is no matter of the tape. Then the wall whose length alone is wrong
is sought: the only one that closes the round, or the only one that does so in another unit. Not valid where
two walls are wrong, or a corner; then the walls that lie most along the miss are told.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise, permutations

from warmside.catalog.data_files import read_whole
from warmside.catalog.goods import Model, Quantity, Size
from warmside.job.resolve import House, HouseWall
from warmside.job.sizes import bounds
from warmside.say import Note, Where
from warmside.units import FOOT, INCH, METRE, Length

CENTIMETRE = METRE / 100


class ClosingRules(Model):
    """What is made of a miss; what each value means stands in the table."""

    told: Size
    far: Size
    closes: Size
    unit_slip: Quantity


@dataclass(frozen=True)
class Putting:
    """A wall that closes the round if it were `length` long and not `was` [length units]."""

    wall: str
    was: Length
    length: Length


@dataclass(frozen=True)
class Closing:
    """By how much the walls miss closing [length units], and the walls that lie most along the miss.

    `alone` is the one wall that would close it by itself, told only where the miss is far.
    """

    miss: Length
    walls: tuple[str, ...]
    alone: Putting | None = None

    @property
    def is_far(self) -> bool:
        """True where no tape errs by so much, so that nothing may be cut or bought."""
        return self.miss > closing_rules().far.value


@cache
def closing_rules() -> ClosingRules:
    """The rules that come with the package."""
    return read_whole(ClosingRules, "closing.toml")


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
    along = [((b[0] - a[0]) * x + (b[1] - a[1]) * y) for a, b in pairwise(points)]
    share = [abs(reach) / max(w.concrete_length, 1) for reach, w in zip(along, walls, strict=True)]
    near = [w.name for w, s in zip(walls, share, strict=True) if s > 0.9 * max(share)]
    found = Closing(miss, tuple(near) if miss else ())
    if not found.is_far:
        return found
    over = [reach / max(w.concrete_length, 1) for reach, w in zip(along, walls, strict=True)]
    return Closing(miss, found.walls, _alone(miss, walls, over))


def _alone(miss: Length, walls: Sequence[HouseWall], over: Sequence[float]) -> Putting | None:
    """The one wall that closes the round; of several the one whose unit was another, if it is one.

    over : by how much each wall is too long, if it is the one [length units]
    """
    within, least = closing_rules().closes.value, bounds()["wall.length"].least
    fitting = [
        Putting(wall.name, wall.length, Length(wall.length - round(much)))
        for wall, much in zip(walls, over, strict=True)
        if math.sqrt(max(0.0, miss**2 - much**2)) <= within and wall.length - much >= least
    ]
    slipped = [one for one in fitting if _is_slip(one)]
    return next((few[0] for few in (fitting, slipped) if len(few) == 1), None)


def _is_slip(one: Putting) -> bool:
    """True where the length is right in another unit."""
    factors = (meant / was for was, meant in permutations((METRE, FOOT, INCH, CENTIMETRE), 2))
    near = closing_rules().unit_slip.value
    return any(abs(one.was * factor / one.length - 1.0) <= near for factor in factors)


def closing_note(found: Closing | None) -> Note | None:
    """What is to be said of the round; None where it closes, or where nobody can tell."""
    if found is None or found.miss <= closing_rules().told.value:
        return None
    if found.alone is not None:
        args = {"miss": found.miss, "was": found.alone.was, "length": found.alone.length}
        return Note("warning.closing_alone", args, Where(wall=found.alone.wall))
    code = "warning.closing_far" if found.is_far else "warning.closing"
    return Note(code, {"miss": found.miss, "walls": ", ".join(found.walls)})
