"""A drawing as SVG text: real millimetres on paper, the shipped fonts by name, the same bytes every time.

Source: W3C, Scalable Vector Graphics 1.1 (second edition). Coordinates are rounded to 0.001 mm. Shapes
outside the page window are left out, those across its edge are cut by the edge of the picture. A text across
the edge is left out whole, since "88-3/4" cut to "88" would be read wrongly: `lost_texts` tells which texts
no page shows. Each text carries its width from the font files, so that every viewer fills the same box.
"""

from collections.abc import Iterable, Iterator, Sequence
from html import escape
from itertools import groupby
from typing import assert_never

from warmside.paper.drawing import (
    STYLES,
    Circle,
    Dimension,
    Drawing,
    Item,
    Line,
    Point,
    Polyline,
    Rect,
    Shape,
    Style,
    Text,
    Window,
    dimension_parts,
    shape_window,
    text_lines,
    text_window,
)
from warmside.paper.lettering import FAMILY, MARKS, em, text_rows

_WHITE_ROUND_TEXT = 0.3


def _number(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _words(text: str) -> str:
    return escape(" ".join(text_rows(text)))


class _Sheet:
    """Turns millimetres on the object into millimetres on this page."""

    def __init__(self, scale: float, window: Window) -> None:
        self.scale = scale
        self.window = window

    def long(self, length: float) -> str:
        return _number(length / self.scale)

    def x(self, x: float) -> str:
        return _number((x - self.window.left) / self.scale)

    def y(self, y: float) -> str:
        return _number((self.window.top - y) / self.scale)

    def points(self, points: Iterable[Point]) -> str:
        return " ".join(f"{self.x(x)},{self.y(y)}" for x, y in points)


def _paint(style: Style, fillable: bool) -> str:
    fill = f"#{style.fill}" if style.fill and fillable else "none"
    if style.weight == 0.0:
        return f'fill="{fill}"'
    dash = f' stroke-dasharray="{" ".join(_number(d) for d in style.dash)}"' if style.dash else ""
    return f'fill="{fill}" stroke="#{style.ink}" stroke-width="{_number(style.weight)}"{dash}'


def _shape(shape: Shape, sheet: _Sheet) -> str:
    style = STYLES[shape.style]
    match shape:
        case Line((x1, y1), (x2, y2)):
            place = f'x1="{sheet.x(x1)}" y1="{sheet.y(y1)}" x2="{sheet.x(x2)}" y2="{sheet.y(y2)}"'
            return f"<line {place} {_paint(style, False)}/>"
        case Polyline(points, closed=True):
            return f'<polygon points="{sheet.points(points)}" {_paint(style, True)}/>'
        case Polyline(points):
            return f'<polyline points="{sheet.points(points)}" {_paint(style, False)}/>'
        case Rect(x, y, width, height):
            place = f'x="{sheet.x(x)}" y="{sheet.y(y + height)}"'
            size = f'width="{sheet.long(width)}" height="{sheet.long(height)}"'
            return f"<rect {place} {size} {_paint(style, True)}/>"
        case Circle((x, y), radius):
            place = f'cx="{sheet.x(x)}" cy="{sheet.y(y)}" r="{sheet.long(radius)}"'
            return f"<circle {place} {_paint(style, True)}/>"
        case _:
            assert_never(shape)


def _text(text: Text, sheet: _Sheet) -> Iterator[str]:
    if text.on_white:
        box = text_window(text, sheet.scale).grown(_WHITE_ROUND_TEXT * sheet.scale)
        yield _shape(Rect(box.left, box.bottom, box.width, box.height, text.layer, "white"), sheet)
    size = f'font-size="{_number(em(text.size, text.bold))}"'
    weight = ' font-weight="bold"' if text.bold else ""
    ink = f'fill="#{STYLES[text.style].ink}"'
    for line in text_lines(text, sheet.scale):
        if not line.text.strip():
            continue
        x, y = sheet.x(line.start[0]), sheet.y(line.start[1])
        turn = f' transform="rotate(-90 {x} {y})"' if text.rotation else ""
        width = f'textLength="{_number(line.reach.width)}"'
        yield f'<text x="{x}" y="{y}" {size}{weight} {ink} {width}{turn}>{escape(line.text)}</text>'


def _flat(items: Iterable[Item], scale: float, window: Window) -> Iterator[Shape | Text]:
    """The items that the window shows, dimensions taken apart."""
    # Half a millimetre on paper covers the weight of any line, also of one without width or height.
    roomy = window.grown(0.5 * scale)
    for item in items:
        parts = dimension_parts(item, scale, window) if isinstance(item, Dimension) else (item,)
        for part in parts:
            if isinstance(part, Text):
                if roomy.holds(text_window(part, scale)):
                    yield part
            elif roomy.shared(shape_window(part)):
                yield part


def lost_texts(drawing: Drawing, scale: float, windows: Sequence[Window]) -> tuple[str, ...]:
    """What texts and dimensions say that no page shows whole; a good set of pages has none.

    scale : object over paper [-]
    windows : what the pages show [mm]
    """
    spoken = [item for item in drawing.items if isinstance(item, Text | Dimension) and item.text]
    return tuple(
        item.text
        for item in spoken
        if not any(isinstance(part, Text) for w in windows for part in _flat([item], scale, w))
    )


def _body(drawing: Drawing, sheet: _Sheet) -> Iterator[str]:
    shown = _flat(drawing.items, sheet.scale, sheet.window)
    for layer, items in groupby(shown, key=lambda item: item.layer):
        yield f'<g data-layer="{_words(layer)}">'
        for item in items:
            if isinstance(item, Text):
                yield from _text(item, sheet)
            else:
                yield _shape(item, sheet)
        yield "</g>"


def svg(drawing: Drawing, scale: float, window: Window, told: str = "") -> str:
    """The part of a drawing that a page shows, as SVG text.

    scale : object over paper, 20 for 1:20 [-]
    window : the part that the page shows [mm]
    told : the drawing in words, for those who don't see it
    """
    wide, high = _number(window.width / scale), _number(window.height / scale)
    sheet = _Sheet(scale, window)
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" '
        f'viewBox="0 0 {wide} {high}" role="img" font-family="{FAMILY}, {MARKS}" font-kerning="none">',
        f"<title>{_words(drawing.title)}</title>",
        *([f"<desc>{_words(told)}</desc>"] if told else []),
        *_body(drawing, sheet),
        "</svg>",
    ]
    return "\n".join(lines) + "\n"
