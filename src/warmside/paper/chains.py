"""Chains of dimensions along and up a wall whose texts never overlap.

Source: own method. Along the wall a text too wide for its span is led out in rows away from the wall (module
leaders). Up the wall the texts lie flat beside the line and are spread just far enough, in their order.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from warmside.paper.drawing import TEXT_GAP, TEXT_SIZE, TICK, Across, Dimension, Item, Line, Polyline, Text
from warmside.paper.leaders import Label, Strip, lead_out
from warmside.paper.lettering import text_width

_SIDES = 0.5
_LINE_HEIGHT = 1.6
_SLANT = 2.5


@dataclass(frozen=True)
class Chain:
    """Spans that follow on each other, and what each says.

    stops : where they end, from the left or from the bottom [mm]
    texts : what each span says, one fewer than stops
    at : where the dimension line runs: its y along the wall, its x up the wall [mm]
    start : where the extension lines begin, likewise [mm]
    scale : object over paper [-]
    size : cap height [mm on paper]
    """

    stops: Sequence[float]
    texts: Sequence[str]
    at: float
    start: float
    scale: float
    layer: str = "dimensions"
    size: float = TEXT_SIZE

    @property
    def spans(self) -> list[tuple[float, float, str]]:
        """Both ends of each span [mm], and what it says."""
        pairs = zip(pairwise(self.stops), self.texts, strict=True)
        return [(a, b, text) for (a, b), text in pairs]


def dimension_row(chain: Chain) -> tuple[Item, ...]:
    """A chain along the wall; where the next may begin tell the extents of a Drawing."""
    at, start, scale, layer, size = chain.at, chain.start, chain.scale, chain.layer, chain.size
    items: list[Item] = []
    wide: list[Label] = []
    for a, b, text in chain.spans:
        fits = (text_width(text, size) + 2 * _SIDES) * scale <= b - a
        items.append(Dimension((a, start), (b, start), at, text if fits else "", layer=layer, size=size))
        if not fits:
            wide.append(Label(text, (), ((a + b) / 2, at), layer, size))
    outward = 1 if at >= start else -1
    # Texts that fit stand on the upper side of the line, so rows going up begin beyond them.
    depth = (TEXT_GAP + _LINE_HEIGHT * size if outward > 0 else TICK) * scale
    left, right = chain.stops[0], max(chain.stops[-1], chain.stops[0] + 40 * scale)
    strip = Strip(left, right, at + outward * depth, outward)
    for flag in lead_out(wide, strip, scale):
        items += [Polyline(flag.leader, layer, "leader"), flag.text]
    return tuple(items)


def dimension_column(chain: Chain) -> tuple[Item, ...]:
    """A chain up the wall, its texts flat beside the line on the side away from the wall."""
    at, scale = chain.at, chain.scale
    side = 1 if at >= chain.start else -1
    middles = [(a + b) / 2 for a, b, _ in chain.spans]
    heights = spread(middles, _LINE_HEIGHT * chain.size * scale)
    items: list[Item] = []
    for (a, b, text), middle, height in zip(chain.spans, middles, heights, strict=True):
        ends = (chain.start, a), (chain.start, b)
        items.append(Dimension(*ends, at, "", "up", chain.layer, size=chain.size))
        near = at + side * (TICK + _SIDES) * scale
        if height != middle:
            near = at + side * (_SLANT + _SIDES) * scale
            items.append(Line((at, middle), (at + side * _SLANT * scale, height), chain.layer, "leader"))
        across: Across = "left" if side > 0 else "right"
        items.append(Text((near, height), text, chain.layer, chain.size, across, "middle"))
    return tuple(items)


def spread(wanted: Sequence[float], apart: float) -> list[float]:
    """Places in the same order, at least so far apart, each group about the mean of what it wanted.

    wanted : rising places [mm]
    apart : least distance [mm]
    """
    groups: list[list[float]] = []
    for place in wanted:
        groups.append([place])
        while len(groups) > 1 and _first(groups[-1], apart) < _last(groups[-2], apart) + apart:
            tail = groups.pop()
            groups[-1] += tail
    return [_first(group, apart) + n * apart for group in groups for n in range(len(group))]


def _first(group: Sequence[float], apart: float) -> float:
    return sum(group) / len(group) - (len(group) - 1) * apart / 2


def _last(group: Sequence[float], apart: float) -> float:
    return sum(group) / len(group) + (len(group) - 1) * apart / 2
