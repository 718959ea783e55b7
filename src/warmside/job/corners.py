"""Where a frame starts and ends at the corners, and the concrete behind it, from where the tape was hooked.

At a square corner the wall that comes first runs through and the next one butts against it (common practice).
At other angles both end square where their lines cross. Not valid where two neighbours that meet at such an
angle stand off their concrete by different distances: each is then ended by its own.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from warmside.job.survey import Against, Wall

SQUARE = 90.0
ROUND = 360.0


@dataclass(frozen=True)
class Offset:
    """How far a wall's frame stands off its concrete: mean gap, depth of the studs, 0 where none stand."""

    gap: int = 0
    depth: int = 0

    @property
    def face(self) -> int:
        """Concrete to room face of the studs."""
        return self.gap + self.depth


@dataclass(frozen=True)
class Span:
    """The frame's two ends and the concrete behind it, from where the tape was hooked."""

    start: int
    end: int
    concrete_start: int
    concrete: int


@dataclass(frozen=True)
class Corners:
    """The walls in the order of the round, and how far the frame of each stands off, by its name."""

    walls: Sequence[Wall]
    offsets: Mapping[str, Offset]

    @property
    def closed(self) -> bool:
        """True where the turns go once round, so that the last wall meets the first."""
        turns = [wall.turn for wall in self.walls if wall.turn is not None]
        return len(turns) == len(self.walls) and math.isclose(sum(turns), ROUND)

    def before(self, wall: Wall) -> Wall | None:
        """The wall at the left end, if the round gives one."""
        at = self.walls.index(wall)
        return self.walls[at - 1] if at or self.closed else None

    def after(self, wall: Wall) -> Wall | None:
        """The wall at the right end, if the round gives one."""
        at = self.walls.index(wall)
        return self.walls[(at + 1) % len(self.walls)] if at + 1 < len(self.walls) or self.closed else None

    def start(self, wall: Wall) -> int:
        """Where the frame starts, from the concrete corner at the left."""
        before = self.before(wall)
        if before is None or not before.turn:
            return 0
        if abs(before.turn) != SQUARE:
            return self._mitred(wall, before.turn)
        off = self.offsets[before.name]
        return off.face if before.turn > 0 else -off.gap

    def end(self, wall: Wall) -> int:
        """How far the frame stops short of the concrete corner at the right; negative runs past it."""
        after = self.after(wall)
        if after is None or not wall.turn:
            return 0
        if abs(wall.turn) != SQUARE:
            return self._mitred(wall, wall.turn)
        off = self.offsets[after.name]
        return off.gap if wall.turn > 0 else -off.face

    def behind_next(self, wall: Wall) -> int:
        """How much of its frame's right end the studs of the next wall stand before, at a square corner."""
        after = self.after(wall)
        return self.offsets[after.name].depth if after is not None and wall.turn == SQUARE else 0

    def _mitred(self, wall: Wall, turn: float) -> int:
        """Square ends meet at the room face where the corner closes in, at the back where it opens out."""
        off = self.offsets[wall.name]
        return _to_crossing(turn, off.face if turn > 0 else off.gap)

    def span(self, wall: Wall, length: int, against: Against) -> Span:
        """Frame and concrete of a wall of the length that was taped, by what the tape was held against."""
        start, short = self.start(wall), self.end(wall)
        if against == "plate":
            return Span(0, length, -start, length + start + short)
        if against == "concrete":
            return Span(start, length - short, 0, length)
        left, right = self._taped(wall, self.before(wall), wall), self._taped(wall, wall, self.after(wall))
        return Span(start - left, length + right - short, -left, length + left + right)

    def _taped(self, wall: Wall, one: Wall | None, other: Wall | None) -> int:
        """From the concrete corner of two walls to the stud face of the neighbour, where the tape ends."""
        if one is None or other is None or not one.turn:
            return 0
        if abs(one.turn) != SQUARE:
            return _to_crossing(one.turn, self.offsets[wall.name].face)
        face = self.offsets[(other if one is wall else one).name].face
        return face if one.turn > 0 else -face


def _to_crossing(turn: float, off: int) -> int:
    """From the concrete corner to where lines `off` before both walls cross; negative past the corner."""
    return round(off * math.tan(math.radians(turn) / 2.0))
