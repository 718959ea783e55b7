"""The numbers of the bays with their R, in the row that is free in most of them, and what a bay's width is.

The eye finds the numbers first, so they are seated before any word. Source: own method. A number that has no
room in its bay goes on a flag.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from warmside.answers import WallAnswer
from warmside.cutting.pieces import BayFill
from warmside.job.resolve import HouseWall
from warmside.paper.drawing import Circle, Text, Turn, Window, text_window
from warmside.paper.labels import Placement, along
from warmside.paper.leaders import Label, Spot
from warmside.paper.wall_shapes import (
    Beside,
    corner_windows,
    ends,
    ground_line,
    hidden,
    mm,
    needs_drawing,
    taken_window,
    thing_window,
)
from warmside.say import Voice

NUMBER, WORTH, WORD, SMALLEST = 4.0, 2.6, 2.3, 1.9
"""Cap heights of a bay's number, of its R, of other words, and the least of all [mm on paper]."""
RING = 1.1
"""Between a number and the ring round it [mm on paper]."""
BESIDE = 0.8
"""Between a word and what it stands beside [mm on paper]."""
_ROWS = (0.66, 0.58, 0.74, 0.5, 0.42, 0.82, 0.34, 0.26, 0.18, 0.9, 0.1)
_BLOCKS = ((NUMBER, WORTH), (3.0, 2.2), (2.2, SMALLEST))
_TRIED = 3


@dataclass(frozen=True)
class Stretch:
    """A stretch of the wall, as one page shows it.

    left, right : what it takes care of; the words of a bay are here if its middle is [mm]
    window : what may hold words, from the floor to the top of the rim [mm]
    """

    left: float
    right: float
    window: Window

    def has(self, window: Window) -> bool:
        """Whether the middle of an area lies in the stretch; what lies past an end belongs to that end."""
        return self.left <= window.centre[0] < self.right


def bay_windows(answer: WallAnswer) -> tuple[Window, ...]:
    """The bays as upright rectangles, up to the lower end of a sloping top [mm]."""
    bays = [fill.bay for fill in answer.fills]
    return tuple(
        Window(mm(b.left), mm(b.bottom), mm(b.right), mm(min(b.top_left, b.top_right))) for b in bays
    )


def usual_width(answer: WallAnswer, voice: Voice) -> str | None:
    """The clear width that most bays have, as it is told; None where there are no bays."""
    told = Counter(voice.line("drawing.one", width=fill.bay.width) for fill in answer.fills)
    return max(told, key=lambda width: told[width]) if told else None


def width_labels(answer: WallAnswer, voice: Voice, stretch: Stretch, scale: float) -> Iterator[Label]:
    """At the foot of each bay of another width than most, lying or upright."""
    usual = usual_width(answer, voice)
    for fill, room in zip(answer.fills, bay_windows(answer), strict=True):
        text = voice.line("drawing.one", width=fill.bay.width)
        if text != usual and stretch.has(room):
            (x, _), foot = room.centre, room.bottom + BESIDE * scale
            lying = [Spot(x, foot + up * room.height, up="bottom") for up in (0.0, 0.1, 0.2)]
            upright = [Spot(x, foot + up * room.height, "left", rotation=90) for up in (0.0, 0.1, 0.3, 0.7)]
            yield Label(text, (*lying, *upright), (x, foot), "widths", WORD, SMALLEST, room=room)


def concrete_ends(wall: HouseWall) -> list[Window]:
    """The ends of the concrete, which run through a bay at a corner that sticks out [mm]."""
    return [Window(mm(x), 0.0, mm(x), mm(wall.height.most)).grown(20.0) for x in ends(wall)]


@dataclass(frozen=True)
class BayLabels:
    """What is said in one bay, and how far its ring stands off the number, 0 for none [mm]."""

    labels: tuple[Label, ...]
    ring: float


@dataclass(frozen=True)
class _Block:
    """A bay's number with its R below it: sizes [mm], and whether both are turned to fit."""

    number: Text
    worth: Text
    turned: bool
    ring: float

    def windows(self, x: float, y: float, scale: float) -> tuple[Window, Window]:
        """Where both stand if the number's middle is at a point."""
        spots = self.spots(x, y, scale)
        pairs = zip((self.number, self.worth), spots, strict=True)
        both = [text_window(replace(t, at=(s.x, s.y), rotation=s.rotation), scale) for t, s in pairs]
        return both[0].grown(self.ring), both[1]

    def spots(self, x: float, y: float, scale: float) -> tuple[Spot, Spot]:
        """The spot of each if the number's middle is at a point."""
        halves = [_half_height(text, self.turned, scale) for text in (self.number, self.worth)]
        below = y - sum(halves) - self.ring - BESIDE * scale
        turn: Turn = 90 if self.turned else 0
        return Spot(x, y, rotation=turn), Spot(x, below, rotation=turn)


def _half_height(text: Text, turned: bool, scale: float) -> float:
    box = text_window(text, scale)
    return (box.width if turned else box.height) / 2


def _blocks(fill: BayFill, worth: str, scale: float) -> Iterator[_Block]:
    """Number and R of a bay, the best first: from the usual size down, then the same turned."""
    told = str(fill.bay.number)
    for turned in (False, True):
        for large, small in _BLOCKS:
            ring = RING * scale * large / NUMBER if needs_drawing(fill) else 0.0
            number = Text((0, 0), told, "bay numbers", large, "middle", "middle", bold=True)
            below = Text((0, 0), worth, "R", small, "middle", "middle")
            yield _Block(number, below, turned, ring)


def bay_labels(
    answer: WallAnswer, voice: Voice, next_to: Beside, stretch: Stretch, scale: float
) -> list[BayLabels]:
    """The labels of each bay, those of most bays in the same row."""
    rooms = bay_windows(answer)
    shown = [n for n, room in enumerate(rooms) if stretch.has(room)]
    worths = [voice.line("drawing.bay_worth", worth=each.resistance) for each in answer.worth.bays]
    ways = _Ways.of(answer.wall, next_to, scale)
    found = {n: _seated(answer.fills[n], worths[n], rooms[n], ways, scale) for n in shown}

    def liking(row: float) -> float:
        free = sum(any(seat.row == row for seat in seats) for _, seats in found.values())
        return free / max(1, len(found)) - 0.5 * abs(row - _ROWS[0])

    usual = max(_ROWS, key=liking)
    return [_of_bay(answer.fills[n], rooms[n], *found[n], usual, voice, scale) for n in shown]


def _of_bay(
    fill: BayFill,
    room: Window,
    block: _Block,
    seats: Sequence[_Seat],
    usual: float,
    voice: Voice,
    scale: float,
) -> BayLabels:
    """Number and R one below the other; as one flag where the bay has no room for them."""
    sway = room.width / 3
    if not seats or too_narrow(room, scale):
        text = voice.line(_narrow(fill), number=fill.bay.number, worth=block.worth.text)
        points_to = (room.centre[0], room.top - room.height / 20)
        return BayLabels((Label(text, (), points_to, "bay numbers", WORTH, SMALLEST, True, sway=sway),), 0.0)
    order = sorted(seats, key=lambda seat: (seat.aside, abs(seat.row - usual)))[:_TRIED]
    pairs = [block.spots(seat.x, room.bottom + room.height * seat.row, scale) for seat in order]
    points_to = (order[0].x, room.top - room.height / 20)
    labels = tuple(
        Label(t.text, tuple(p[i] for p in pairs), points_to, t.layer, t.size, SMALLEST, t.bold, room, sway)
        for i, t in enumerate((block.number, block.worth))
    )
    return BayLabels(labels, block.ring)


def _narrow(fill: BayFill) -> str:
    """The sentence on the flag of a bay that has no room for its number, nor for the ring round it."""
    if not fill.pieces:
        return "drawing.narrow_empty"
    return "drawing.narrow_drawn" if needs_drawing(fill) else "drawing.narrow"


def too_narrow(room: Window, scale: float) -> bool:
    """True where not even a turned text fits a bay."""
    return room.width < (SMALLEST + 0.6) * scale


@dataclass(frozen=True)
class _Ways:
    """What stands in the way of writing: things, and lines that a text only likes to keep off [mm]."""

    things: tuple[Window, ...]
    lines: tuple[Window, ...]

    @classmethod
    def of(cls, wall: HouseWall, next_to: Beside, scale: float) -> _Ways:
        """Those of a wall, with a little distance."""
        things = [taken_window(wall, t).grown(0.5 * scale) for t in wall.in_the_way if not hidden(t)]
        behind = [thing_window(t) for t in wall.in_the_way if hidden(t)]
        ground = [o.window for o in along(ground_line(wall), 25.0, 120.0)]
        corner = [w for w in corner_windows(wall, next_to)[1:] if w is not None]
        return cls(tuple(things), (*behind, *ground, *corner, *concrete_ends(wall)))


@dataclass(frozen=True)
class _Seat:
    """A place for the number of a bay.

    x : its middle [mm]
    row : its height as a share of the bay's [-]
    aside : whether it stands off the middle of the bay
    """

    x: float
    row: float
    aside: bool


def _seated(fill: BayFill, worth: str, room: Window, ways: _Ways, scale: float) -> tuple[_Block, list[_Seat]]:
    """The largest number and R that have a seat in the bay, and their seats, if any."""
    for block in _blocks(fill, worth, scale):
        seats = _free_seats(ways, room, block, scale)
        if seats:
            break
    return block, seats


def _free_seats(ways: _Ways, room: Window, block: _Block, scale: float) -> list[_Seat]:
    """Where number and R stand clear of all things, and of lines as well if it can be."""
    free, clear = [], []
    inner = room.grown(-0.2 * scale)
    for x in _columns(room, [*ways.things, *ways.lines]):
        for row in (*_ROWS, *_rows_between(ways.things, room, block, scale)):
            windows = block.windows(x, room.bottom + room.height * row, scale)
            if all(inner.holds(w) and not any(w.overlaps(t) for t in ways.things) for w in windows):
                seat = _Seat(x, row, x != room.centre[0])
                free.append(seat)
                if not any(w.overlaps(line) for w in windows for line in ways.lines):
                    clear.append(seat)
    return clear or free


def _columns(room: Window, things: Sequence[Window]) -> list[float]:
    """The middle of the bay, and those of the spaces beside what runs up it, the widest space first."""
    upright = sorted((t.left, t.right) for t in things if t.overlaps(room) and t.height > room.height / 2)
    spaces = _spaces(room.left, room.right, upright)
    return [room.centre[0], *((a + b) / 2 for a, b in spaces if upright)]


def _rows_between(things: Sequence[Window], room: Window, block: _Block, scale: float) -> list[float]:
    """Rows in which number and R stand in the middle of what is left above and below things."""
    across = sorted((t.bottom, t.top) for t in things if t.overlaps(room) and t.width > room.width / 2)
    number, worth = block.windows(0.0, 0.0, scale)
    middle = (number.top + worth.bottom) / 2
    return [
        ((a + b) / 2 - middle - room.bottom) / room.height for a, b in _spaces(room.bottom, room.top, across)
    ]


def _spaces(low: float, high: float, taken: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """What the taken stretches leave, the widest first."""
    edges = [low, *(edge for pair in taken for edge in pair), high]
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return sorted(((a, b) for a, b in pairs if b > a), key=lambda pair: pair[0] - pair[1])


def rings_round(bays: Sequence[BayLabels], numbers: Placement, scale: float) -> list[Circle]:
    """A ring round the number of each bay whose pieces have a drawing of their own."""
    rings = []
    at = 0
    for bay in bays:
        placed = numbers.placed[at]
        at += len(bay.labels)
        if bay.ring and not placed.leader:
            radius = max(placed.window.width, placed.window.height) / 2 + 0.6 * bay.ring
            rings.append(Circle(placed.window.centre, radius, "bay numbers", "outline"))
    return rings
