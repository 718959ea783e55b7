"""Chains of dimensions along and up a wall whose texts never overlap.

Source: own method. Along the wall a text too wide for its span is led out in rows away from the wall (module
leaders). Up the wall the texts lie flat beside the line and are spread just far enough, in their order.
"""

from collections.abc import Sequence
from itertools import pairwise

from warmside.paper.drawing import TEXT_GAP, TEXT_SIZE, TICK, Dimension, Item, Line, Polyline, Text
from warmside.paper.leaders import Label, Strip, lead_out
from warmside.paper.lettering import text_width

_SIDES = 0.5
_LINE_HEIGHT = 1.6
_SLANT = 2.5


def dimension_row(
    stops: Sequence[float],
    texts: Sequence[str],
    at: float,
    start: float,
    scale: float,
    layer: str = "dimensions",
    size: float = TEXT_SIZE,
) -> tuple[Item, ...]:
    """A chain along the wall.

    stops : x of the ends, from the left [mm]
    texts : what each span says, one fewer than stops
    at : y of the dimension line [mm]
    start : y where the extension lines begin [mm]
    scale : object over paper [-]
    size : cap height [mm on paper]
    result : what to draw; where it ends, and so where the next chain may begin, tell the extents of a Drawing
    """
    items: list[Item] = []
    wide: list[Label] = []
    for (a, b), text in zip(pairwise(stops), texts, strict=True):
        fits = (text_width(text, size) + 2 * _SIDES) * scale <= b - a
        items.append(Dimension((a, start), (b, start), at, text if fits else "", layer=layer, size=size))
        if not fits:
            wide.append(Label(text, (), ((a + b) / 2, at), layer, size))
    outward = 1 if at >= start else -1
    # Texts that fit stand on the upper side of the line, so rows going up begin beyond them.
    depth = (TEXT_GAP + _LINE_HEIGHT * size if outward > 0 else TICK) * scale
    strip = Strip(stops[0], max(stops[-1], stops[0] + 40 * scale), at + outward * depth, outward)
    for flag in lead_out(wide, strip, scale):
        items += [Polyline(flag.leader, layer, "leader"), flag.text]
    return tuple(items)


def dimension_column(
    stops: Sequence[float],
    texts: Sequence[str],
    at: float,
    start: float,
    scale: float,
    layer: str = "dimensions",
    size: float = TEXT_SIZE,
) -> tuple[Item, ...]:
    """A chain up the wall, its texts flat beside the line on the side away from the wall.

    stops : y of the ends, from the bottom [mm]
    texts : what each span says, one fewer than stops
    at : x of the dimension line [mm]
    start : x where the extension lines begin [mm]
    scale : object over paper [-]
    size : cap height [mm on paper]
    """
    side = 1 if at >= start else -1
    middles = [(a + b) / 2 for a, b in pairwise(stops)]
    heights = spread(middles, _LINE_HEIGHT * size * scale)
    items: list[Item] = []
    for (a, b), text, middle, height in zip(pairwise(stops), texts, middles, heights, strict=True):
        items.append(Dimension((start, a), (start, b), at, "", "up", layer, size=size))
        near = at + side * (TICK + _SIDES) * scale
        if height != middle:
            near = at + side * (_SLANT + _SIDES) * scale
            items.append(Line((at, middle), (at + side * _SLANT * scale, height), layer, "leader"))
        items.append(Text((near, height), text, layer, size, "left" if side > 0 else "right", "middle"))
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
