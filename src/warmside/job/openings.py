"""Windows and doors that were only counted: without a place, but not without a size.

A size that nobody measured is taken from the table of kinds: the usual one where the question is what is
likely, the largest where it is what a wall may be worth at worst or what tape and sealant may be needed. For
the larger order no batt is left out for an opening: its off-cuts may serve nowhere else. No place is made up,
so that nothing of this is drawn or cut.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from warmside.catalog.goods import Size
from warmside.catalog.kinds import Kind, kinds
from warmside.job.assume import Filler, Side
from warmside.job.survey import Thing
from warmside.units import Length

OPENING = "opening"
MOST_OPEN = 0.5
"""Openings without a place take at most this share of a wall (common practice) [-]."""


@dataclass(frozen=True)
class CountedOpening:
    """One opening without a place; `spares_batts` where its area is taken off what the batts fill."""

    kind: str
    width: Length
    height: Length
    spares_batts: bool

    @property
    def area(self) -> int:
        """Its area [square length units]."""
        return self.width * self.height

    @property
    def edge(self) -> Length:
        """The way round it."""
        return Length(2 * (self.width + self.height))


def counted_openings(counts: Mapping[str, int], wall: str, filler: Filler) -> tuple[CountedOpening, ...]:
    """The openings among what was counted on a wall, the sizes taken for them told."""
    return tuple(
        opening
        for kind, count in counts.items()
        if kinds()[kind].cut == OPENING
        for opening in (unplaced_opening(Thing(kind=kind), f"{kind} x {count}", wall, filler),) * count
    )


def unplaced_opening(thing: Thing, name: str, wall: str, filler: Filler) -> CountedOpening:
    """An opening without a place on its wall, of its own size where that was measured."""
    kind = kinds()[thing.kind]
    path = f"wall {wall}.{name}"
    width = filler.get(thing, "width", path, _likely(kind, filler.side, "width"), wall)
    height = filler.get(thing, "height", path, _likely(kind, filler.side, "height"), wall)
    return CountedOpening(thing.kind, width, height, filler.side is not Side.LARGER)


def _likely(kind: Kind, side: Side, name: str) -> Length:
    """The usual size of a kind, or the largest."""
    usual: Size | None = getattr(kind, name)
    most: Size | None = getattr(kind, f"most_{name}")
    chosen = usual if side is Side.NOMINAL else most or usual
    return Length(chosen.value if chosen else 0)
