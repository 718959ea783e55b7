"""Twelve months of heat, before against after, as a small chart that black alone can print.

A tone fills a column up to what is lost after; a heavy stroke says what was lost before. Source: own. For
sums of a month that are over zero; what is below is drawn as nothing.
"""

from collections.abc import Iterator, Sequence
from math import floor, log10

from warmside.paper.drawing import Drawing, Item, Line, Rect, Text, Window, text_window
from warmside.paper.picture import Picture
from warmside.paper.svg import svg
from warmside.say import Voice

HEIGHT, COLUMN = 30.0, 0.62
"""Height of the highest column, and the width of each in that of a month [mm on paper; share]."""
MARK, WORD = 1.6, 1.9
"""Cap heights of figures and words [mm on paper]."""
TICKS = 4
"""At most so many lines across."""


def month_chart(before: Sequence[float], after: Sequence[float], voice: Voice, width: float) -> Picture:
    """The chart of one year; the drawing is in millimetres on paper.

    before, after : heat of each month [kWh]
    width : of the chart [mm on paper]
    """
    top = max([*before, *after, 1.0])
    items = tuple(_items(before, after, voice, width, HEIGHT / top, _step(top)))
    title = voice.line("paper.office.chart.title")
    window = Drawing(items, title).extents(1.0).grown(0.4)
    told = voice.line("paper.office.chart.told", before=f"{sum(before):,.0f}", after=f"{sum(after):,.0f}")
    return Picture(svg(Drawing(items, title), 1.0, window, told), 1.0, told)


def _step(top: float) -> float:
    """Between two lines across: 1, 2 or 5 times a power of ten [kWh]."""
    ten = 10.0 ** floor(log10(top / TICKS))
    return next(ten * part for part in (1, 2, 5, 10) if ten * part * TICKS >= top)


def _items(
    before: Sequence[float], after: Sequence[float], voice: Voice, width: float, per: float, step: float
) -> Iterator[Item]:
    month, column = width / 12, width / 12 * COLUMN
    for number in range(1, int(max([*before, *after]) / step) + 1):
        level = number * step
        yield Line((0.0, level * per), (width, level * per), "scale", "plain")
        text = voice.line("paper.office.chart.level", level=level)
        yield Text((-1.2, level * per), text, "scale", MARK, "right", "middle", style="soft text")
    for number, (was, now) in enumerate(zip(before, after, strict=True)):
        left = number * month + (month - column) / 2
        yield Rect(left, 0.0, column, max(0.0, now) * per, "after", "column")
        high = max(0.0, was) * per
        yield Line((left - 0.6, high), (left + column + 0.6, high), "before", "line at zero")
        name = voice.line(f"paper.month.{number + 1}")
        yield Text((left + column / 2, -1.4), name, "months", WORD, "middle", "top")
    yield Line((0.0, 0.0), (width, 0.0), "scale", "outline")
    yield from _legend(voice, width)


def _legend(voice: Voice, width: float) -> Iterator[Item]:
    """What stroke and tone say, at the right end under the months."""
    y, right = -7.0, width
    for name in ("after", "before"):
        word = Text((right, y), voice.line(f"paper.office.chart.{name}"), "legend", WORD, "right", "middle")
        box: Window = text_window(word, 1.0)
        yield word
        if name == "after":
            yield Rect(box.left - 5.0, y - 1.2, 4.0, 2.4, "legend", "column")
        else:
            yield Line((box.left - 5.4, y), (box.left - 0.8, y), "legend", "line at zero")
        right = box.left - 9.0
