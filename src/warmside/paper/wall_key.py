"""What is told beside drawings of walls: what their marks mean, and a bar to check the print with.

Source: own arrangement. Only marks that a wall has are told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from warmside.answers import WallAnswer
from warmside.paper.drawing import Drawing, Item, Rect, Text
from warmside.paper.lettering import text_width, wrapped
from warmside.paper.picture import Picture
from warmside.paper.svg import svg
from warmside.paper.wall_shapes import ALONE, ground_line, mm, needs_drawing, shapes
from warmside.say import Voice
from warmside.units import FOOT, METRE, Length

LINE, FINE = 2.3, 2.0
"""Cap heights of the scale, and of the marks' meaning [mm on paper]."""
_GROUND, _HEIGHTS = "drawing.marks.ground", "drawing.marks.heights"
"""What the heavy line and the heights mean; the first says both."""
_BAR_ROOM = 100.0
"""What the bar takes where all its words stand in one line [mm on paper]."""


def key(answers: Sequence[WallAnswer], voice: Voice, scale: float, width: float) -> Picture:
    """What the marks of several walls mean, and a bar to check the print with.

    scale : object over paper [-]
    width : of the picture [mm on paper]
    """
    codes = dict.fromkeys(code for each in answers for code in meanings(each))
    if _GROUND in codes:
        codes.pop(_HEIGHTS, None)
    found = [voice.line(code) for code in codes]
    text = wrapped(" ".join(found), FINE, width - _BAR_ROOM)
    told = Text((0.0, 0.0), text, "title", FINE, "left", "bottom", style="soft text")
    lines = tuple(bar(voice, width * scale, 0.0, scale, flat=True))
    drawing = Drawing((told, *lines), " ".join(found))
    window = drawing.extents(scale).grown(0.3 * scale)
    return Picture(svg(drawing, scale, window, drawing.title), scale, drawing.title)


def bar(voice: Voice, right: float, bottom: float, scale: float, *, flat: bool = False) -> Iterator[Item]:
    """A bar of a known length and what a ruler reads on it, so that a print can be checked.

    flat : whether all words stand in one line below the bar
    """
    feet = voice.system == "ft-in"
    step, count = (FOOT, 3) if feet else (METRE // 5, 5)
    length = Length(step * count)
    paper = Length(round(length / scale))
    text = voice.line("drawing.about.bar", length=length, paper=paper)
    scale_text = voice.line("drawing.about.printed", scale=f"{scale:g}")
    text = f"{scale_text} {text}" if flat else text
    widest = max(text_width(text, FINE), text_width(scale_text, LINE, bold=True))
    left = right - max(mm(length), widest * scale)
    yield Text((left, bottom), text, "title", FINE, "left", "bottom")
    y = bottom + 4.2 * scale
    for n in range(count):
        style = "solid" if n % 2 == 0 else "outline"
        yield Rect(left + n * mm(step), y, mm(step), 1.3 * scale, "title", style)
    if not flat:
        yield Text((left, y + 2.6 * scale), scale_text, "title", LINE, "left", "bottom", bold=True)


def meanings(answer: WallAnswer) -> Iterator[str]:
    """The codes of what the marks mean, as far as the wall has them."""
    wall = answer.wall
    grounded = any(y > 0.0 for _, y in ground_line(wall))
    yield _GROUND if grounded else _HEIGHTS
    if any(needs_drawing(fill) for fill in answer.fills):
        yield "drawing.marks.ring"
    if any(thing.kind.clear.value for thing in wall.in_the_way):
        yield "drawing.marks.dotted"
    if any(item.style == "void" for item in shapes(answer, ALONE)):
        yield "drawing.marks.dashed"
