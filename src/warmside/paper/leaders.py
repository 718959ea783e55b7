"""Labels that found no room beside their thing: rows of flags above or below the wall, each on a leader.

Source: own method. Flags hang to the right of their leaders. Going from right to left, a flag goes one row
farther out than every leader to its right that it would cover; so no two flags overlap and no leader crosses
a flag. Leaders shifted aside keep their order, so none crosses another. A flag is at most half as wide
as the strip (its text is wrapped), which leaves room for every shift. Holds for any number of labels; the
rows grow outwards as far as they must.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from warmside.paper.drawing import Across, Point, Text, Turn, Up, Window, text_window
from warmside.paper.lettering import wrapped

BESIDE_LEADER = 0.7
"""Between a leader and its flag, and after a flag [mm on paper]."""
BETWEEN_ROWS = 0.7
ELBOW = 3.0
"""Depth of the zone where shifted leaders slant [mm on paper]."""
STRAIGHT = 1.0
"""Depth of that zone where none is shifted [mm on paper]."""
_NEXT_LEADER = 1.2


@dataclass(frozen=True, slots=True)
class Spot:
    """A place where a label may stand.

    x, y : the point [mm]
    across, up, rotation : how the text stands at the point, as in Text
    """

    x: float
    y: float
    across: Across = "middle"
    up: Up = "middle"
    rotation: Turn = 0


@dataclass(frozen=True, slots=True)
class Label:
    """A text that wants to stand near its thing.

    spots : where it may stand, the best first
    points_to : where its leader starts if it must be moved out [mm]
    size, smallest : wanted and least cap height [mm on paper]
    room : what the text must stay inside, None for no limit of its own [mm]
    sway : how far left and right of points_to the leader may start as well [mm]
    """

    text: str
    spots: tuple[Spot, ...]
    points_to: Point
    layer: str = "labels"
    size: float = 2.5
    smallest: float = 2.0
    bold: bool = False
    room: Window | None = None
    sway: float = 0.0


@dataclass(frozen=True, slots=True)
class Placed:
    """A label with its place.

    window : the box of its text [mm]
    leader : points of its leader from the thing outwards, empty if it stands at one of its spots [mm]
    """

    label: Label
    text: Text
    window: Window
    leader: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class Strip:
    """Where flags may stand: from a line outwards, between two ends.

    base : the line where the rows begin [mm]
    outward : 1 for rows going up, -1 for rows going down
    """

    left: float
    right: float
    base: float
    outward: int


@dataclass(frozen=True, slots=True)
class _Flag:
    label: Label
    port: float
    text: str
    size: Window

    def covers(self, port: float) -> bool:
        return self.port <= port < self.port + self.size.width


def lead_out(labels: Sequence[Label], strip: Strip, scale: float) -> tuple[Placed, ...]:
    """Every label as a flag on a leader, in the order given.

    scale : object over paper [-]
    """
    order = sorted(range(len(labels)), key=lambda n: labels[n].points_to[0])
    flags = _ports([labels[n] for n in order], strip, scale)
    rows = _rows(flags)
    starts = _row_starts(flags, rows, strip, scale)
    placed = [_placed(f, starts[row], strip, scale) for f, row in zip(flags, rows, strict=True)]
    return tuple(p for _, p in sorted(zip(order, placed, strict=True), key=lambda pair: pair[0]))


def _ports(labels: Sequence[Label], strip: Strip, scale: float) -> list[_Flag]:
    """Flags from left to right with the place where each leader enters the rows."""
    half = (strip.right - strip.left) / 2
    gap = min(_NEXT_LEADER * scale, half / max(1, len(labels)))
    margins = 2 * BESIDE_LEADER * scale
    limit = strip.right + gap
    flags = []
    for number, label in reversed(list(enumerate(labels))):
        text = wrapped(label.text, label.size, (half - margins) / scale, label.bold)
        box = text_window(_flag_text(label, text, (0.0, 0.0)), scale)
        size = replace(box, left=0.0, right=box.width + margins)
        wanted = min(label.points_to[0], strip.right - size.width, limit - gap)
        # Those farther left need a place each as well.
        limit = max(wanted, strip.left + number * gap)
        flags.append(_Flag(label, limit, text, size))
    return flags[::-1]


def _flag_text(label: Label, text: str, at: Point) -> Text:
    return Text(at, text, label.layer, label.size, "left", "bottom", bold=label.bold, on_white=True)


def _rows(flags: Sequence[_Flag]) -> list[int]:
    """The row of each flag, 0 next to the wall."""
    rows = [0] * len(flags)
    for number in reversed(range(len(flags))):
        covered = [rows[n] for n in range(number + 1, len(flags)) if flags[number].covers(flags[n].port)]
        rows[number] = max(covered, default=-1) + 1
    return rows


def _row_starts(flags: Sequence[_Flag], rows: Sequence[int], strip: Strip, scale: float) -> list[float]:
    """The inner edge of each row [mm]."""
    shifted = any(f.port != f.label.points_to[0] for f in flags)
    start = strip.base + strip.outward * (ELBOW if shifted else STRAIGHT) * scale
    starts = []
    for row in range(max(rows, default=-1) + 1):
        starts.append(start)
        tallest = max(f.size.height for f, r in zip(flags, rows, strict=True) if r == row)
        start += strip.outward * (tallest + BETWEEN_ROWS * scale)
    return starts


def _placed(flag: _Flag, start: float, strip: Strip, scale: float) -> Placed:
    height = flag.size.height
    bottom = start if strip.outward > 0 else start - height
    # The box of a text reaches below its point by the drop of its letters.
    at = (flag.port + BESIDE_LEADER * scale, bottom - flag.size.bottom)
    text = _flag_text(flag.label, flag.text, at)
    x, y = flag.label.points_to
    far = bottom + height if strip.outward > 0 else bottom
    if flag.port == x:
        leader: tuple[Point, ...] = ((x, y), (x, far))
    else:
        elbow = strip.base + strip.outward * ELBOW * scale
        leader = ((x, y), (x, strip.base), (flag.port, elbow), (flag.port, far))
    return Placed(flag.label, text, text_window(text, scale), leader)
