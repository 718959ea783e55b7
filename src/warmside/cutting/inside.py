"""Partitions and ceilings inside the house that get batts of their own: sound, fire or heat, each kind apart.

Bays by spacing from one end, the last one takes the rest (common practice). Between a bottom plate and one
top plate in a partition; between the joists in a ceiling, run by run, from rim to bulkhead. Doors and lights
are not taken off: not valid as a measured list.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from warmside.cutting.pieces import Piece, fill_box
from warmside.job.inside import HouseInside
from warmside.units import Length
from warmside.wall.in_the_way import Box


@dataclass(frozen=True)
class InsideBay:
    """One bay of a partition, or one run between two joists: its mark and its pieces."""

    mark: str
    pieces: tuple[Piece, ...]


@dataclass(frozen=True)
class InsideFill:
    """A partition or a ceiling and all that is cut for it."""

    part: HouseInside
    bays: tuple[InsideBay, ...]

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """All pieces, bay after bay."""
        return tuple(piece for bay in self.bays for piece in bay.pieces)


def fill_inside(parts: Sequence[HouseInside]) -> tuple[InsideFill, ...]:
    """The pieces of every partition and ceiling."""
    return tuple(InsideFill(part, tuple(_bays(part))) for part in parts)


def _bays(part: HouseInside) -> Iterator[InsideBay]:
    boxes = [Box(left, Length(0), right, length) for left, right in _clear(part) for length in part.lengths]
    for number, box in enumerate(boxes, 1):
        dash = "-" if part.name[-1:].isdigit() else ""
        mark = f"{part.name}{dash}{number}"
        yield InsideBay(mark, fill_box(mark, box, part.batts, must_join=part.kind == "ceiling"))


def _clear(part: HouseInside) -> Iterator[tuple[Length, Length]]:
    """Left and right edge of each bay; the second stud is centred at one spacing from the end."""
    left, end = part.face, part.length - part.face
    following = part.spacing - part.face // 2
    while left < end:
        right = min(following, end)
        if right > left:
            yield Length(left), Length(right)
        left, following = Length(following + part.face), following + part.spacing
