"""Partitions and ceilings inside the house that get batts of their own: sound, fire or heat, each kind apart.

Bays by spacing from one end, the last one takes the rest (common practice). Between a bottom plate and one
top plate in a partition; between the joists in a ceiling, run by run, from rim to bulkhead. A door has a stud
at each side and one stick over its head; studs that would stand in it stand on that. Lights in a ceiling are
not taken off: not valid as a measured list there.
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
    boxes = [
        Box(left, _sill(part, left, right), right, length)
        for left, right in _clear(part)
        for length in part.lengths
    ]
    for number, box in enumerate(boxes, 1):
        dash = "-" if part.name[-1:].isdigit() else ""
        mark = f"{part.name}{dash}{number}"
        yield InsideBay(mark, fill_box(mark, box, part.batts, must_join=part.kind == "ceiling"))


def _sill(part: HouseInside, left: int, right: int) -> Length:
    """Where a bay begins above its plate: at the plate, or on the stick over the head of a door."""
    heads = [d.height for d in part.doors if d.left <= left and right <= d.left + d.width]
    return max(heads, default=Length(0))


def _clear(part: HouseInside) -> Iterator[tuple[Length, Length]]:
    """Left and right edge of each bay, between what stands upright."""
    edge = 0
    for left, right in sorted(_uprights(part)):
        if left > edge:
            yield Length(edge), Length(left)
        edge = max(edge, right)


def _uprights(part: HouseInside) -> Iterator[tuple[int, int]]:
    """Both end studs, those by the spacing, and one at each side of a door; a stud in its place makes way.

    The second stud is centred at one spacing from the end.
    """
    end = part.length - part.face
    yield from ((0, int(part.face)), (max(0, end), int(part.length)))
    jambs = [x for door in part.doors for x in (door.left - part.face, int(door.left + door.width))]
    jambs = [max(0, min(end, x)) for x in jambs]
    yield from ((x, x + part.face) for x in jambs)
    for left in range(part.spacing - part.face // 2, end, part.spacing):
        if not any(abs(left - x) < part.face for x in jambs):
            yield left, left + part.face
