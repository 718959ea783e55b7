"""The section through wall and soil in the coldest time: lines of equal temperature, before beside after.

For the office paper alone. Lines are marked in degrees Celsius; the one at 0 C is heavy, those below it are
dashed, so that a print in black says it all. Concrete has a light tone, layers are not drawn. Source: the
fields of the study of heat, bare ground. The rim board is too thin for lines.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, floor

import numpy as np

from warmside.paper.contours import contours
from warmside.paper.drawing import (
    Drawing,
    Item,
    Line,
    Point,
    Polyline,
    Rect,
    Text,
    Window,
    text_window,
)
from warmside.paper.picture import Picture as Drawn
from warmside.paper.svg import svg
from warmside.physics.frost import isotherm
from warmside.physics.grid import Array
from warmside.physics.ground import Section
from warmside.say import Voice
from warmside.study.frost_job import underside
from warmside.study.heat import Picture

SCALES = (20, 25, 30, 40, 50, 60, 75, 100)
STEPS = (1.0, 2.0, 5.0, 10.0)
"""Between two lines [K]."""
MOST_LINES = 11
ROOM_SHOWN, SOIL_SHOWN, BELOW = 0.8, 1.3, 0.7
"""What is seen of the room, at least, of the soil beside the wall, at least, and under the footing [m]."""
MARK, WORD = 1.7, 2.0
"""Cap heights of the marks of lines and of words [mm on paper]."""
PLACES = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9)
"""Where along a line its mark may stand."""
MILLI = 1000.0
"""Millimetres in a metre."""


def ground_pictures(picture: Picture, voice: Voice, width: float, height: float) -> tuple[Drawn, Drawn]:
    """The section before and after, at one scale.

    picture : fields of the section
    width, height : what each may take [mm on paper]
    """
    section = picture.section
    scale, window = _fit(section, width, height)
    levels = _levels((picture.before, picture.after), picture, window)
    drawn = [
        _drawn(picture, field, levels, voice, scale, window) for field in (picture.before, picture.after)
    ]
    return drawn[0], drawn[1]


def _fit(section: Section, width: float, height: float) -> tuple[float, Window]:
    """The largest scale at which the section fits, and what is seen of it, the width filled [mm]."""
    low = (-underside(section) - BELOW) * MILLI
    high = (section.top + 0.12) * MILLI
    least = (ROOM_SHOWN + section.wall_thickness + SOIL_SHOWN) * MILLI
    fitting = (s for s in SCALES if (high - low) <= height * s and least <= width * s)
    scale = float(next(fitting, SCALES[-1]))
    left = (section.half_width - min(ROOM_SHOWN, section.half_width)) * MILLI
    return scale, Window(left, low, left + width * scale, high)


def _levels(fields: Sequence[Array], picture: Picture, window: Window) -> list[float]:
    """Whole degrees at which lines are drawn: the same before and after, not too many."""
    x, y = (centre * MILLI for centre in picture.grid.centres)
    seen = np.outer((x > window.left) & (x < window.right), (y > window.bottom) & (y < window.top))
    values = np.concatenate([_without_rim(picture, field)[seen] for field in fields])
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    step = next((s for s in STEPS if (high - low) / s <= MOST_LINES), STEPS[-1])
    return [step * n for n in range(ceil(low / step), floor(high / step) + 1)]


def _without_rim(picture: Picture, field: Array) -> Array:
    above = picture.grid.centres[1] > picture.section.showing
    return np.where(above[None, :], np.nan, field)


def _drawn(
    picture: Picture, field: Array, levels: Sequence[float], voice: Voice, scale: float, window: Window
) -> Drawn:
    x, y = (centre * MILLI for centre in picture.grid.centres)
    lines = {level: contours(x, y, _without_rim(picture, field), level) for level in levels}
    words = tuple(_words(picture.section, voice, scale, window))
    items = (
        *_bodies(picture.section, window),
        *(item for level, found in lines.items() for item in _lines(found, level)),
        *words,
        *_marks(lines, [text_window(word, scale) for word in words], voice, scale, window),
    )
    title = voice.line("paper.office.picture.title")
    told = _told(picture, field, voice)
    return Drawn(svg(Drawing(items, title), scale, window, told), scale, told)


def _bodies(section: Section, window: Window) -> Iterator[Item]:
    """Concrete, the rim board and the ground line."""
    inner, outer = section.half_width, section.half_width + section.wall_thickness
    toe = 0.5 * (section.footing_width - section.wall_thickness)
    under = section.slab - section.slab_thickness
    yield _rect(window.left / MILLI, under, inner, section.slab)
    yield _rect(inner - toe, under - section.footing_height, outer + toe, under)
    yield _rect(inner, under, outer, section.showing)
    yield _rect(outer - section.rim_thickness, section.showing, outer, section.top, "outline")
    yield Line((outer * MILLI, 0.0), (window.right, 0.0), "ground", "outline")


def _rect(left: float, low: float, right: float, high: float, style: str = "frame") -> Rect:
    """A rectangle from metres."""
    x, y, wide, tall = (size * MILLI for size in (left, low, right - left, high - low))
    return Rect(x, y, wide, tall, "section", style)


def _style(level: float) -> str:
    if level == 0:
        return "line at zero"
    return "line of cold" if level < 0 else "line of warmth"


def _lines(found: Sequence[tuple[Point, ...]], level: float) -> Iterator[Item]:
    for line in found:
        yield Polyline(line, "temperatures", _style(level))


def _marks(
    lines: dict[float, list[tuple[Point, ...]]],
    taken: list[Window],
    voice: Voice,
    scale: float,
    window: Window,
) -> Iterator[Text]:
    """A mark on the longest line of each level, where none of the others stands; 0 C first."""
    for level in sorted(lines, key=abs):
        for line in lines[level][:1]:
            text = voice.line("paper.office.picture.mark", level=level)
            mark = _free_mark(_seen(line, window), text, taken, scale, window)
            if mark is not None:
                taken.append(text_window(mark, scale).grown(0.5 * scale))
                yield mark


def _seen(line: Sequence[Point], window: Window) -> list[Point]:
    return [p for p in line if window.left <= p[0] <= window.right and window.bottom <= p[1] <= window.top]


def _free_mark(
    line: Sequence[Point], text: str, taken: Sequence[Window], scale: float, window: Window
) -> Text | None:
    for part in PLACES if line else ():
        at = line[round(part * (len(line) - 1))]
        bold = text.startswith("0")
        mark = Text(at, text, "marks", MARK, "middle", "middle", bold=bold, on_white=True)
        box = text_window(mark, scale)
        if window.holds(box) and not any(box.overlaps(other) for other in taken):
            return mark
    return None


def _words(section: Section, voice: Voice, scale: float, window: Window) -> Iterator[Text]:
    """What is room, outdoors and soil."""
    inner, outer = section.half_width * MILLI, (section.half_width + section.wall_thickness) * MILLI
    places = {
        "room": ((window.left + inner) / 2, (section.slab + 0.55 * section.wall_height) * MILLI),
        "outdoors": ((outer + window.right) / 2, (section.top * MILLI) / 2 + 2.0 * scale),
    }
    for name, at in places.items():
        word = voice.line(f"paper.office.picture.{name}")
        yield Text(at, word, "words", WORD, "middle", "middle", style="soft text")


def _told(picture: Picture, field: Array, voice: Voice) -> str:
    """The picture in words: how far down the frost goes beside the wall at that time."""
    x, heights = isotherm(picture.grid, field)
    section = picture.section
    beside = heights[x > section.half_width + section.wall_thickness]
    down = max(0.0, -float(np.nan_to_num(beside[:1], nan=0.0)[0]))
    return voice.line("paper.office.picture.told", frost=down, footing=underside(section))
