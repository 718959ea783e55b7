"""A small map of the round of walls, from above, with three dimensions: to find one's way, not to build from.

Walls are lines along the concrete, drawn from the turns; where a turn was not measured they stand in a row.
Source: plane geometry. Corners that stick out into the room come out right for every turn; the miss of a
survey that does not close stays visible as a gap.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise

from warmside.job.closing import corners
from warmside.job.resolve import HouseWall
from warmside.paper.drawing import (
    Circle,
    Dimension,
    Drawing,
    Item,
    Line,
    Point,
    Polyline,
    Text,
    Window,
    text_window,
)
from warmside.paper.labels import Obstacle, along, place
from warmside.paper.leaders import Label, Spot
from warmside.paper.lettering import wrapped
from warmside.paper.picture import Picture
from warmside.paper.svg import svg
from warmside.paper.wall_shapes import mm
from warmside.say import Voice
from warmside.units import MM, Length

USUAL_SCALE = 150.0
SCALES = (75, 100, 125, 150, 200, 250, 300, 400, 500, 750, 1000, 1500, 2000)
LETTER_SIZE, LEAST, WORD = 3.2, 1.8, 2.2
"""Cap heights of the walls' names, of the least of them, and of other words [mm on paper]."""
_ROUND = 40.0
"""How far outside the walls a name may stand [mm on paper]."""
_ACROSS, _UP = 26.0, 16.0
"""What dimensions, words and the arrow take beside the walls [mm on paper]."""
_BEARINGS = {"N": 0.0, "NE": 45.0, "E": 90.0, "SE": 135.0, "S": 180.0, "SW": 225.0, "W": 270.0, "NW": 315.0}


class NoWallsError(ValueError):
    """There is no measured wall to draw."""


def orientation(walls: Sequence[HouseWall], voice: Voice, scale: float = USUAL_SCALE) -> Drawing:
    """The round of walls from above, each with its name; overall length, width and height.

    scale : object over paper [-]
    Raises NoWallsError.
    """
    if not walls:
        raise NoWallsError("no wall has a length and a height yet, so there is no map to draw")
    points = wall_points(walls)
    area = Window.round_points(points)
    lines = [Polyline(pair, "walls", "outline") for pair in pairwise(points)]
    dots = [Circle(point, 0.55 * scale, "walls", "solid") for point in points]
    names = place(
        [_name(wall, pair, scale) for wall, pair in zip(walls, pairwise(points), strict=True)],
        _lines_in_the_way(points, scale),
        area.grown(_ROUND * scale),
        scale,
    )
    sizes = tuple(_sizes(area, names.extents or area, voice, scale))
    shown = Drawing((*lines, *names.items, *sizes), "").extents(scale)
    items = (
        *lines,
        *dots,
        *names.items,
        *sizes,
        _foot(walls, voice, shown, scale),
        *_north(walls, voice, shown, scale),
    )
    return Drawing(items, voice.line("drawing.map.title"))


def orientation_picture(
    walls: Sequence[HouseWall], voice: Voice, width: float = 85.0, height: float = 65.0
) -> Picture:
    """The map at the largest scale that fits, as long as the walls' names are short.

    width, height : what it may take [mm on paper]
    Raises NoWallsError.
    """
    points = wall_points(walls) if walls else [(0.0, 0.0)]
    area = Window.round_points(points)
    room = width - _ACROSS, height - _UP
    scale = next((s for s in SCALES if area.width <= room[0] * s and area.height <= room[1] * s), SCALES[-1])
    drawing = orientation(walls, voice, scale)
    window = drawing.extents(scale).grown(0.5 * scale)
    told = _told(walls, voice)
    return Picture(svg(drawing, scale, window, told), float(scale), told)


def turns_known(walls: Sequence[HouseWall]) -> bool:
    """True where every corner between two walls was measured."""
    return all(wall.turn is not None for wall in walls[:-1])


def wall_points(walls: Sequence[HouseWall]) -> list[Point]:
    """The corners from the left end of the first wall; in a row where turns are missing [mm]."""
    if turns_known(walls):
        return [(x / MM, y / MM) for x, y in corners(tuple(walls))]
    return [(mm(x), 0.0) for x in accumulate((w.concrete_length for w in walls), initial=0)]


def _towards_room(pair: tuple[Point, Point]) -> Point:
    """The direction from a wall into the room, one long."""
    (x0, y0), (x1, y1) = pair
    length = math.hypot(x1 - x0, y1 - y0) or 1.0
    return (y1 - y0) / length, -(x1 - x0) / length


def _name(wall: HouseWall, pair: tuple[Point, Point], scale: float) -> Label:
    """The wall's name on its room side, in its middle or somewhere else along it; outside if need be."""
    (x0, y0), (x1, y1) = pair
    inwards = _towards_room(pair)
    text = Text((0.0, 0.0), wall.name, "names", LETTER_SIZE, "middle", "middle", bold=True)
    box = text_window(text, scale)
    beside = (abs(inwards[0]) * box.width + abs(inwards[1]) * box.height) / 2
    spots = []
    for side, off in ((1.0, 1.8), (-1.0, 1.8), (-1.0, 6.0), (-1.0, 11.0)):
        for part in (0.5, 0.35, 0.65, 0.2, 0.8):
            away = side * (beside + off * scale)
            x, y = x0 + part * (x1 - x0), y0 + part * (y1 - y0)
            spots.append(Spot(x + away * inwards[0], y + away * inwards[1]))
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    return Label(wall.name, tuple(spots), middle, "names", LETTER_SIZE, LEAST, bold=True)


def _lines_in_the_way(points: Sequence[Point], scale: float) -> list[Obstacle]:
    """The walls themselves, as boxes small enough to follow a slanting one."""
    return [Obstacle(each.window) for each in along(points, 0.5 * scale, 2.0 * scale)]


def _sizes(area: Window, names: Window, voice: Voice, scale: float) -> Iterator[Item]:
    """Overall length below; overall width at the right; both clear of the names."""
    low, right = min(area.bottom, names.bottom) - 5.5 * scale, max(area.right, names.right) + 5.5 * scale
    text = voice.show("length", _length(area.width))
    yield Dimension((area.left, area.bottom), (area.right, area.bottom), low, text, size=WORD)
    if area.height > 0.0:
        text = voice.show("length", _length(area.height))
        yield Dimension((area.right, area.bottom), (area.right, area.top), right, text, "up", size=WORD)


def _length(millimetres: float) -> Length:
    return Length(round(millimetres * MM))


def _high(walls: Sequence[HouseWall], voice: Voice) -> str:
    least = min(wall.height.least for wall in walls)
    most = max(wall.height.most for wall in walls)
    same = voice.show("length", least) == voice.show("length", most)
    code = "drawing.map.high" if same else "drawing.map.high_between"
    return voice.line(code, height=least, least=least, most=most)


def _foot(walls: Sequence[HouseWall], voice: Voice, shown: Window, scale: float) -> Text:
    """The third dimension, and a word where the shape is not known."""
    lines = [_high(walls, voice)]
    lines += [] if turns_known(walls) else [voice.line("drawing.map.not_to_shape")]
    width = max(shown.width / scale, 45.0)
    text = "\n".join(wrapped(line, WORD, width) for line in lines)
    return Text((shown.left, shown.bottom - 1.5 * scale), text, "words", WORD, "left", "top")


def _north(walls: Sequence[HouseWall], voice: Voice, shown: Window, scale: float) -> Iterator[Item]:
    """An arrow to the north beside the map, if one wall's facing is known."""
    facing = next((n for n, wall in enumerate(walls) if wall.facing is not None), None)
    if facing is None or not turns_known(walls):
        return
    points = wall_points(walls)
    inwards = _towards_room((points[facing], points[facing + 1]))
    outwards = math.atan2(-inwards[1], -inwards[0])
    north = outwards + math.radians(_BEARINGS[str(walls[facing].facing)])
    reach = 4.0 * scale
    x, y = shown.right + 2.0 * reach, shown.top - 1.6 * reach

    def at(length: float, turned: float = 0.0) -> Point:
        return x + length * math.cos(north + turned), y + length * math.sin(north + turned)

    yield Line(at(-reach), at(reach), "north", "dimension")
    yield Polyline(
        (at(reach), at(0.55 * reach, 0.35), at(0.55 * reach, -0.35)), "north", "solid", closed=True
    )
    yield Text(at(1.5 * reach), voice.line("drawing.map.north"), "north", WORD, "middle", "middle", bold=True)


def _told(walls: Sequence[HouseWall], voice: Voice) -> str:
    area = Window.round_points(wall_points(walls))
    return voice.line(
        "drawing.map.told",
        names=", ".join(wall.name for wall in walls),
        length=_length(area.width),
        width=_length(area.height),
        high=_high(walls, voice),
    )
