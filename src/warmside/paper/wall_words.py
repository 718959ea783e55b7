"""The words on a wall's drawing: bay numbers with their R in one row, and a word at each thing in the way.

Numbers are seated first, in the row that is free in most bays, so that the eye finds them; the words come
second and keep off them. Source: own method. A word too wide for its bay goes to the flags above the wall.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

from warmside.answers import WallAnswer
from warmside.job.resolve import HouseThing, HouseWall
from warmside.paper.bay_numbers import (
    BESIDE,
    NUMBER,
    SMALLEST,
    WORD,
    Stretch,
    bay_labels,
    bay_windows,
    concrete_ends,
    rings_round,
    too_narrow,
    width_labels,
)
from warmside.paper.drawing import Across, Item, Text, Up, Window, shape_window, text_window
from warmside.paper.labels import Obstacle, Placement, along, place
from warmside.paper.leaders import Label, Spot
from warmside.paper.lettering import text_width, wrapped
from warmside.paper.wall_shapes import (
    Beside,
    box_window,
    corner_windows,
    empty_places,
    ground_line,
    hidden,
    lacks_wrap,
    rim_window,
    taken_window,
    thing_window,
    wall_window,
)
from warmside.say import Voice
from warmside.units import Length

_FARTHER = 5.0


@dataclass(frozen=True)
class Words:
    """All words of a stretch.

    items : what to draw
    top, bottom : where they end above and below the wall [mm]
    """

    items: tuple[Item, ...]
    top: float
    bottom: float


def _rooms(answer: WallAnswer, stretch: Stretch) -> list[Window]:
    """The bays of a stretch; where there are none, all of the wall that it shows [mm]."""
    whole = wall_window(answer.wall).shared(stretch.window) or stretch.window
    return [room for room in bay_windows(answer) if stretch.has(room)] or [whole]


def words(
    answer: WallAnswer,
    voice: Voice,
    next_to: Beside,
    stretch: Stretch,
    scale: float,
    above: float,
    *,
    widths: bool = False,
) -> Words:
    """Numbers, R and words of a stretch, none over another.

    scale : object over paper [-]
    above : where flags may begin, going up [mm]
    widths : whether each bay that is not as wide as most says its width
    """
    things = _obstacles(answer.wall, next_to)
    bays = bay_labels(answer, voice, next_to, stretch, scale)
    labels = [label for bay in bays for label in bay.labels]
    labels += _rim_labels(answer, voice, stretch, scale)
    numbers = place(labels, things, stretch.window, scale, above)
    rings = rings_round(bays, numbers, scale)
    taken = [Obstacle(placed.window.grown(0.4 * scale)) for placed in numbers.placed]
    taken += [Obstacle(shape_window(ring)) for ring in rings]
    top, floor = _reach(numbers, above, stretch.window.bottom)
    written, labels = _thing_words(answer, voice, stretch, [*things, *taken], scale)
    labels += _other_labels(answer, voice, next_to, stretch, [*things, *taken], scale)
    labels += width_labels(answer, voice, stretch, scale) if widths else []
    named = place(labels, [*things, *taken], stretch.window, scale, top, floor)
    # Leaders come first: where one must pass a flag, the flag's white ground keeps its words readable.
    items = sorted((*numbers.items, *written, *named.items), key=lambda item: isinstance(item, Text))
    return Words((*rings, *items), *_reach(named, top, floor))


def _reach(placement: Placement, top: float, bottom: float) -> tuple[float, float]:
    """How far up and down the words go, at least from top to bottom [mm]."""
    extents = placement.extents
    return (top, bottom) if extents is None else (max(top, extents.top), min(bottom, extents.bottom))


def _obstacles(wall: HouseWall, next_to: Beside) -> list[Obstacle]:
    """What stands in the wall is hard to write on; the ground line and what is hidden only unpleasant."""
    obstacles = [Obstacle(taken_window(wall, t), hard=not hidden(t)) for t in wall.in_the_way]
    _, right = corner_windows(wall, next_to)
    lines = [*concrete_ends(wall), *([right] if right is not None else [])]
    return [*obstacles, *(Obstacle(w, hard=False) for w in lines), *along(ground_line(wall), 25.0, 120.0)]


def _rim_labels(answer: WallAnswer, voice: Voice, stretch: Stretch, scale: float) -> Iterator[Label]:
    """Small numbers in the rim, and its R once."""
    wall = answer.wall
    worth = voice.line("drawing.rim_worth", worth=answer.worth.rim.resistance)
    rooms = [(bay.number, rim_window(wall, bay.left, bay.right)) for bay in answer.built.rim_bays]
    if wall.rim.joists == "run alongside":
        shared = [room.shared(stretch.window) for _, room in rooms]
        text = f"{voice.line('drawing.alongside')}, {worth}"
        yield from (_rim_label(broken(text, room.width / scale - 2.0), room) for room in shared if room)
        return
    said = False
    for number, room in rooms:
        if stretch.has(room):
            roomy = text_width(worth, WORD) * scale < 0.95 * room.width
            yield _rim_label(f"{number}\n{worth}" if roomy and not said else str(number), room)
            said = said or roomy


def _rim_label(text: str, room: Window) -> Label:
    x, y = room.centre
    spots = tuple(Spot(x + part * room.width, y) for part in (0.0, -0.25, 0.25, -0.4, 0.4))
    return Label(text, spots, (x, y), "rim", WORD, SMALLEST, room=room, sway=room.width / 3)


def _thing_words(
    answer: WallAnswer, voice: Voice, stretch: Stretch, obstacles: Sequence[Obstacle], scale: float
) -> tuple[list[Text], list[Label]]:
    """Words written on things that are large enough, and labels for the others."""
    rooms = _rooms(answer, stretch)
    written: list[Text] = []
    labels: list[Label] = []
    for thing in answer.wall.in_the_way:
        if thing.runs == "along":
            labels += _along_label(answer.wall, thing, voice, rooms, stretch, scale)
        elif stretch.has(thing_window(thing)):
            text = _on_it(thing, answer.wall, voice, scale)
            written += [text] if text is not None else []
            labels += (
                [_thing_label(answer.wall, thing, voice, rooms, obstacles, scale)] if text is None else []
            )
    return written, labels


def spoken(thing: HouseThing, voice: Voice) -> str:
    """The word of a thing, with what a hand has to know about it."""
    word = voice.line(f"drawing.thing.{thing.kind.name}")
    if _is_opening(thing):
        return voice.line("drawing.opening", word=word, width=thing.width, height=thing.height)
    if lacks_wrap(thing):
        return voice.line("drawing.no_wrap", word=word)
    if thing.kind.cut == "keep out":
        return voice.line("drawing.no_batt", word=word)
    if thing.near < 0:
        return voice.line("drawing.in_gap", word=word)
    return voice.line("drawing.in_front", word=word) if thing.kind.cut == "none" else word


def _thing_label(
    wall: HouseWall,
    thing: HouseThing,
    voice: Voice,
    rooms: Sequence[Window],
    obstacles: Sequence[Obstacle],
    scale: float,
) -> Label:
    """The word of a thing in the bay that holds most of it, or in the next one if only there is room."""
    area, text = thing_window(thing), spoken(thing, voice)
    hard = [o.window for o in obstacles if o.hard]
    nearest = sorted(rooms, key=lambda room: _apart(area, room))
    near = [room for room in nearest if _apart(area, room) < 2.0 * scale] or nearest[:1]
    labels = [_label_in(room, wall, thing, text, scale) for room in near]
    flag = replace(labels[0], text=text.replace("\n", " "), spots=())
    return next((label for label in labels if _has_seat(label, hard, scale)), flag)


def _apart(area: Window, room: Window) -> float:
    """How far an area stands off a bay; negative by as much as it reaches in [mm]."""
    return max(area.left, room.left) - min(area.right, room.right)


def _label_in(room: Window, wall: HouseWall, thing: HouseThing, text: str, scale: float) -> Label:
    area = thing_window(thing)
    fitted = broken(text, room.width / scale - BESIDE)
    spots = tuple(_beside(taken_window(wall, thing), room, scale))
    points_to = (area.shared(room) or area).centre
    return Label(fitted, spots, points_to, thing.kind.name, WORD, SMALLEST, room=room)


def _has_seat(label: Label, hard: Sequence[Window], scale: float) -> bool:
    for spot in label.spots:
        text = Text((spot.x, spot.y), label.text, "", WORD, spot.across, spot.up, spot.rotation)
        box = text_window(text, scale)
        if (label.room is None or label.room.holds(box)) and not any(box.overlaps(w) for w in hard):
            return True
    return False


def broken(text: str, width: float, size: float = WORD) -> str:
    """The text in lines of a width, or as wide as its longest word: a word is never broken.

    width : wanted width of a line [mm on paper]
    size : cap height [mm on paper]
    """
    longest = max(text_width(word, size) for word in text.split())
    return wrapped(text, size, max(width, longest))


def _on_it(thing: HouseThing, wall: HouseWall, voice: Voice, scale: float) -> Text | None:
    """The word of a thing written on it; None where it does not fit or where something else covers it."""
    area, margin = thing_window(thing), BESIDE * scale
    over = [t for t in wall.in_the_way if t is not thing and not (_is_opening(thing) and t.runs == "along")]
    if area.width <= 2 * margin or hidden(thing) or any(taken_window(wall, t).overlaps(area) for t in over):
        return None
    x, y = area.centre
    ground = along(ground_line(wall), 25.0, 120.0)
    fitting: list[Text] = []
    heights = (y, y + area.height / 4, y - area.height / 4)
    for size, height in product((WORD, SMALLEST), heights):
        spoken_lines = broken(spoken(thing, voice), (area.width - 2 * margin) / scale, size)
        text = Text((x, height), spoken_lines, thing.kind.name, size, "middle", "middle")
        box = text_window(text, scale).grown(margin / 2)
        if area.holds(box):
            if not any(box.overlaps(line.window) for line in ground):
                return text
            fitting.append(replace(text, on_white=True))
    return fitting[0] if fitting else None


def _is_opening(thing: HouseThing) -> bool:
    return thing.kind.cut == "opening"


def _beside(area: Window, room: Window, scale: float) -> Iterator[Spot]:
    """Spots round a thing within its bay: over and under it, to its sides, then the same turned."""
    gap = BESIDE * scale
    (x, y), middle = area.centre, room.centre[0]
    inner_left, inner_right = room.left + gap / 2, room.right - gap / 2
    heights = [y]
    if area.height > room.height / 3:
        heights = [area.bottom + area.height * part for part in (0.5, 0.35, 0.2, 0.8, 0.9, 0.1)]
    level: list[Spot] = []
    for height in heights:
        level += [Spot(area.right + gap, height, "left"), Spot(area.left - gap, height, "right")]
    above_below: tuple[tuple[float, Up], ...] = ((area.top + gap, "bottom"), (area.bottom - gap, "top"))
    for over, up in above_below:
        far = over + (_FARTHER if up == "bottom" else -_FARTHER) * scale
        spots = (
            Spot(x, over),
            Spot(middle, over),
            Spot(inner_left, over, "left"),
            Spot(inner_right, over, "right"),
            Spot(x, far),
        )
        level += [replace(spot, up=up) for spot in spots]
    yield from level
    for height in heights:
        yield Spot(area.right + gap, height, "middle", "top", 90)
        yield Spot(area.left - gap, height, "middle", "bottom", 90)
    turned: tuple[tuple[float, Across], ...] = ((area.top + gap, "left"), (area.bottom - gap, "right"))
    for over, across in turned:
        yield Spot(x, over, across, "middle", 90)


def _along_label(
    wall: HouseWall, thing: HouseThing, voice: Voice, rooms: Sequence[Window], stretch: Stretch, scale: float
) -> Iterator[Label]:
    """One word on each page for what runs along the wall, in any bay where it fits."""
    text, area = spoken(thing, voice), thing_window(thing)
    if thing.kind.cut == "slit" and wall.frame is not None:
        height = Length(thing.bottom - wall.frame.face)
        text = voice.line("drawing.slit", word=text, height=height)
    seen = area.shared(stretch.window)
    if seen is None:
        return
    gap = BESIDE * scale
    wide = [r for r in rooms if text_width(text, WORD) * scale + gap < r.width]
    spots = [Spot(r.centre[0], area.top + gap, up="bottom") for r in wide]
    spots += [Spot(r.centre[0], area.bottom - gap, up="top") for r in wide]
    points_to = (spots[0].x, area.centre[1]) if spots else seen.centre
    yield Label(text, tuple(spots), points_to, thing.kind.name, WORD, WORD)


def _other_labels(
    answer: WallAnswer,
    voice: Voice,
    next_to: Beside,
    stretch: Stretch,
    obstacles: Sequence[Obstacle],
    scale: float,
) -> Iterator[Label]:
    """Empty places, the frames at the corners, a wall without a frame."""
    rooms = _rooms(answer, stretch)
    yield from _empty_labels(answer, voice, rooms, [o.window for o in obstacles if o.hard], scale)
    yield from _corner_labels(answer.wall, voice, next_to, stretch, rooms, scale)
    if answer.wall.frame is None:
        (x, y), text = rooms[0].centre, voice.line("drawing.no_frame")
        yield Label(text, (Spot(x, y),), (x, y), "frame", NUMBER, SMALLEST)


def _empty_labels(
    answer: WallAnswer, voice: Voice, rooms: Sequence[Window], hard: Sequence[Window], scale: float
) -> Iterator[Label]:
    """A word in each empty place that has room for it; its mark says the same where there is none."""
    for box in empty_places(answer):
        area = box_window(box)
        room = min(rooms, key=lambda room: _apart(area, room))
        text = broken(voice.line("drawing.left_empty"), room.width / scale)
        spots = (Spot(*area.centre, rotation=90), *_beside(area, room, scale))
        label = Label(text, spots, area.centre, "stays empty", WORD, SMALLEST, room=room)
        if _apart(area, room) < 0.0 and not too_narrow(room, scale) and _has_seat(label, hard, scale):
            yield label


def _corner_labels(
    wall: HouseWall,
    voice: Voice,
    next_to: Beside,
    stretch: Stretch,
    rooms: Sequence[Window],
    scale: float,
) -> Iterator[Label]:
    """On the neighbour's frame at the left; beside the one at the right, which hides our last stud."""
    left, right = corner_windows(wall, next_to)
    if left is not None and next_to.left is not None and stretch.has(left):
        text = voice.line("drawing.neighbour", name=next_to.left.name)
        room = replace(left, left=left.left - scale)
        yield replace(_corner_label(text, left, left.right - BESIDE * scale), room=room)
    if right is not None and next_to.right is not None and stretch.has(right):
        text = voice.line("drawing.neighbour_in_front", name=next_to.right.name)
        label = _corner_label(text, right, right.left - BESIDE * scale)
        yield replace(label, room=min(rooms, key=lambda room: _apart(right, room)))


def _corner_label(text: str, area: Window, x: float) -> Label:
    """Upright, with its foot at x."""
    heights = [area.bottom + area.height * part for part in (0.5, 0.35, 0.65, 0.2, 0.8)]
    spots = tuple(Spot(x, height, up="bottom", rotation=90) for height in heights)
    return Label(text, spots, area.centre, "neighbouring frame", WORD, SMALLEST)
