"""Where the labels of a drawing stand: never over one another or over a hard obstacle, and none left out.

Source: own method. Each label takes the best of its spots that is free; where none is, labels already seated
may move to another of their spots, over a bounded number of steps and with no chance in it. A text shrinks to
its least size before it crosses out of its room; what still has no place goes to the rows of flags (module
leaders). Soft obstacles (lines) are avoided where another spot is free, else the text stands on white.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil

from warmside.paper.drawing import Circle, Item, Point, Polyline, Text, Window, text_window
from warmside.paper.leaders import Label, Placed, Spot, Strip, lead_out

CLEAR = 0.4
"""Least distance between two labels, and of a label from a hard obstacle [mm on paper]."""
SIZE_STEP = 0.25
DOT = 0.45
"""Radius of the dot at the start of a leader [mm on paper]."""
_DEPTH = 3
_STEPS = 1500


@dataclass(frozen=True, slots=True)
class Obstacle:
    """An area that labels keep off.

    hard : whether a label may never touch it; else it only likes not to
    """

    window: Window
    hard: bool = True


@dataclass(frozen=True, slots=True)
class Placement:
    """All labels with their places, in the order in which they were given.

    scale : object over paper [-]
    """

    placed: tuple[Placed, ...]
    scale: float

    @property
    def items(self) -> tuple[Item, ...]:
        """What to draw, the leaders before the texts."""
        led = [p for p in self.placed if p.leader]
        return (
            *(Polyline(p.leader, p.label.layer, "leader") for p in led),
            *(Circle(p.leader[0], DOT * self.scale, p.label.layer, "solid") for p in led),
            *(p.text for p in self.placed),
        )

    @property
    def extents(self) -> Window | None:
        """The smallest rectangle round all texts, None if there is none [mm]."""
        corners = [corner for p in self.placed for corner in p.window.corners]
        return Window.round_points(corners) if corners else None


def inside(room: Window) -> tuple[Spot, ...]:
    """Spots within a room: the middle, the upper and lower parts, then the same read upwards.

    room : for instance a bay [mm]
    """
    x, y = room.centre
    heights = (y, y + room.height / 4, y - room.height / 4, y + room.height * 3 / 8, y - room.height * 3 / 8)
    level = tuple(Spot(x, height) for height in heights)
    return level + tuple(replace(spot, rotation=90) for spot in level)


def around(thing: Window, gap: float) -> tuple[Spot, ...]:
    """Spots beside a thing: right, left, above, below.

    thing : what is labelled [mm]
    gap : distance of the text from it [mm]
    """
    x, y = thing.centre
    return (
        Spot(thing.right + gap, y, "left"),
        Spot(thing.left - gap, y, "right"),
        Spot(x, thing.top + gap, up="bottom"),
        Spot(x, thing.bottom - gap, up="top"),
    )


def along(points: Sequence[Point], half: float, step: float) -> tuple[Obstacle, ...]:
    """Soft obstacles that follow a line, for instance the sloping ground line.

    points : of the line [mm]
    half : what is kept free on either side [mm]
    step : length of line that one obstacle covers [mm]
    """
    boxes = []
    for (x1, y1), (x2, y2) in pairwise(points):
        count = max(1, ceil(max(abs(x2 - x1), abs(y2 - y1)) / step))
        parts = [(x1 + (x2 - x1) * n / count, y1 + (y2 - y1) * n / count) for n in range(count + 1)]
        boxes += [Window.round_points(pair).grown(half) for pair in pairwise(parts)]
    return tuple(Obstacle(box, hard=False) for box in boxes)


@dataclass(frozen=True, slots=True)
class _Option:
    """One way of seating a label; `kept` is its box with the distance that others keep."""

    text: Text
    window: Window
    kept: Window
    crosses: int


def _sizes(label: Label) -> list[float]:
    count = int((label.size - label.smallest) / SIZE_STEP + 1e-9)
    steps = [label.size - n * SIZE_STEP for n in range(count + 1)]
    return steps if steps[-1] <= label.smallest else [*steps, label.smallest]


def _texts(label: Label) -> Iterable[Text]:
    for size in _sizes(label):
        for spot in label.spots:
            at = (spot.x, spot.y)
            yield Text(at, label.text, label.layer, size, spot.across, spot.up, spot.rotation, label.bold)


def _options(label: Label, obstacles: Sequence[Obstacle], bounds: Window, scale: float) -> list[_Option]:
    """The ways of seating a label by itself, the best first: fewest soft obstacles, then size, then spot."""
    room = label.room or bounds
    boxes = [(text, text_window(text, scale)) for text in _texts(label)]
    fitting = [(text, box) for text, box in boxes if bounds.holds(box) and room.holds(box)]
    if not fitting:
        return []
    reach = Window.round_points(corner for _, box in fitting for corner in box.corners).grown(CLEAR * scale)
    near = [o for o in obstacles if o.window.overlaps(reach)]
    options = []
    for text, box in fitting:
        kept = box.grown(CLEAR * scale / 2)
        touched = [o.hard for o in near if o.window.overlaps(box.grown(CLEAR * scale) if o.hard else box)]
        if not any(touched):
            crosses = len(touched)
            options.append(_Option(replace(text, on_white=crosses > 0), box, kept, crosses))
    return sorted(options, key=lambda option: option.crosses)


class _Seating:
    """Labels seated so far; a label without a free seat may push one other to another of its seats."""

    def __init__(self, options: Sequence[Sequence[_Option]]) -> None:
        self._options = options
        self.seats: dict[int, _Option] = {}
        self._steps = 0

    def fill(self) -> None:
        """Seat as many as can be, those with the fewest options first."""
        for label in sorted(range(len(self._options)), key=lambda n: (len(self._options[n]), n)):
            self._steps = _STEPS
            self._seat(label, frozenset(), _DEPTH)

    def _rivals(self, option: _Option) -> list[int]:
        return [other for other, seat in self.seats.items() if seat.kept.overlaps(option.kept)]

    def _seat(self, label: int, fixed: frozenset[int], depth: int) -> bool:
        contested = []
        for option in self._options[label]:
            self._steps -= 1
            rivals = self._rivals(option)
            if not rivals:
                self.seats[label] = option
                return True
            if len(rivals) == 1 and rivals[0] not in fixed:
                contested.append((option, rivals[0]))
        return depth > 0 and any(self._push(label, *pair, fixed, depth) for pair in contested)

    def _push(self, label: int, option: _Option, rival: int, fixed: frozenset[int], depth: int) -> bool:
        """Take a seat from one rival if it finds another; else leave all as it was."""
        if self._steps <= 0:
            return False
        before = self.seats.pop(rival)
        self.seats[label] = option
        if self._seat(rival, fixed | {label}, depth - 1):
            return True
        del self.seats[label]
        self.seats[rival] = before
        return False


def place(
    labels: Sequence[Label],
    obstacles: Sequence[Obstacle],
    bounds: Window,
    scale: float,
    above: float | None = None,
    below: float | None = None,
) -> Placement:
    """A place for every label.

    obstacles : what labels keep off
    bounds : what seated labels stay inside [mm]
    scale : object over paper [-]
    above : where rows of flags begin, going up; the top of the bounds if None [mm]
    below : where rows of flags begin, going down; no such rows if None [mm]
    """
    seating = _Seating([_options(label, obstacles, bounds, scale) for label in labels])
    seating.fill()
    seats = seating.seats
    strips = _strips(obstacles, bounds, above, below)
    walls = [
        *(o.window for o in obstacles if o.hard),
        *(seats[n].window.grown(CLEAR * scale) for n in sorted(seats)),
    ]
    led = _led(labels, [n for n in range(len(labels)) if n not in seats], strips, walls, scale)
    seated = {n: Placed(labels[n], seat.text, seat.window) for n, seat in seats.items()}
    leaders = [placed.leader for placed in led.values()]
    both = {n: _whitened(placed, leaders) for n, placed in seated.items()} | led
    return Placement(tuple(both[n] for n in range(len(labels))), scale)


def _strips(
    obstacles: Sequence[Obstacle], bounds: Window, above: float | None, below: float | None
) -> list[Strip]:
    """The strips for flags, beyond the bounds and every hard obstacle."""
    hard = [o.window for o in obstacles if o.hard]
    up = bounds.top if above is None else above
    strips = [Strip(bounds.left, bounds.right, max([up, bounds.top, *(w.top for w in hard)]), 1)]
    if below is not None:
        base = min([below, bounds.bottom, *(w.bottom for w in hard)])
        strips.append(Strip(bounds.left, bounds.right, base, -1))
    return strips


def _led(
    labels: Sequence[Label],
    homeless: Sequence[int],
    strips: Sequence[Strip],
    walls: Sequence[Window],
    scale: float,
) -> dict[int, Placed]:
    """Flags for the labels without a seat, each on the side where its leader crosses least."""
    members: list[list[tuple[int, Label]]] = [[] for _ in strips]
    for n in homeless:
        side, x = _way_out(labels[n], strips, walls)
        # A text that was broken to fit its bay has room on a flag.
        text = labels[n].text.replace("\n", " ")
        members[side].append((n, replace(labels[n], text=text, points_to=(x, labels[n].points_to[1]))))
    led: dict[int, Placed] = {}
    for strip, group in zip(strips, members, strict=True):
        flags = lead_out([label for _, label in group], strip, scale)
        for (n, sent), flag in zip(group, flags, strict=True):
            led[n] = replace(flag, label=replace(labels[n], points_to=sent.points_to))
    return led


def _way_out(label: Label, strips: Sequence[Strip], walls: Sequence[Window]) -> tuple[int, float]:
    """The strip and the x of the leader that cross the fewest boxes; among these the nearest strip."""
    x, y = label.points_to
    own = Window(x, y, x, y)
    others = [w for w in walls if not w.holds(own)]
    ways = []
    for side, strip in enumerate(strips):
        for order, part in enumerate((0.0, -0.5, 0.5, -1.0, 1.0)):
            way = x + part * label.sway
            crossed = sum(_crosses(((way, y), (way, strip.base)), w) for w in others)
            ways.append((crossed, abs(strip.base - y), order, side, way))
    *_, side, way = min(ways)
    return side, way


def _crosses(leader: Sequence[Point], box: Window) -> bool:
    """Whether the upright first part of a leader runs through a box."""
    first = Window.round_points(leader[:2])
    return box.left < first.left < box.right and first.bottom < box.top and box.bottom < first.top


def _whitened(placed: Placed, leaders: Sequence[Sequence[Point]]) -> Placed:
    if not any(_crosses(leader, placed.window) for leader in leaders):
        return placed
    return replace(placed, text=replace(placed.text, on_white=True))
