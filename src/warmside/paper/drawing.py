"""The display list of a drawing: plain shapes and text in millimetres on the object, and how each is drawn.

Coordinates are floats in millimetres at real size, x to the right, y up, from the bottom left corner of the
wall. Sizes of text, weights of lines and gaps are millimetres on paper; `scale` (20 for 1:20) turns one into
the other. Source: our own choice of weights and dashes, in the steps of ISO 128-2; weight and dash carry the
meaning, so that a black-and-white print says as much as a coloured one. Holds for flat drawings with text at
0 or 90 degrees.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, Self, assert_never

from warmside.paper.lettering import LINE_STEP, Reach, line_reach, text_rows, text_width

Point = tuple[float, float]
Axis = Literal["across", "up"]
Across = Literal["left", "middle", "right"]
Up = Literal["base", "middle", "top", "bottom"]
Turn = Literal[0, 90]

TEXT_SIZE = 2.5
"""Usual cap height [mm on paper]."""
TEXT_GAP = 0.9
"""Between a line and the text that belongs to it [mm on paper]."""
TICK = 1.0
"""Half the reach of the slanting tick that ends a dimension [mm on paper]."""

_BEFORE: dict[Across, float] = {"left": 0.0, "middle": 0.5, "right": 1.0}


class StyleError(ValueError):
    """A drawing asks for a style that the table of styles does not have."""


@dataclass(frozen=True, slots=True)
class Style:
    """How a shape is drawn.

    weight : line weight, 0 for no line [mm on paper]
    dash : lengths of dashes and gaps in turn, empty for a whole line [mm on paper]
    ink : colour of line or text, RRGGBB
    fill : colour of the inside, RRGGBB, or None
    """

    weight: float = 0.25
    dash: tuple[float, ...] = ()
    ink: str = "1c1c1c"
    fill: str | None = None


_INK, _SOFT, _WARM, _COOL = "1c1c1c", "5c5c5c", "a03c00", "0a4f7d"

STYLES: MappingProxyType[str, Style] = MappingProxyType(
    {
        "outline": Style(0.5),
        "frame": Style(0.25, fill="e4dfd5"),
        "opening": Style(0.35, fill="ffffff"),
        "thing": Style(0.35, fill="ffffff"),
        "behind": Style(0.18, (1.6, 0.9), _SOFT),
        "keep clear": Style(0.25, (0.3, 0.8), _WARM),
        "ground": Style(0.7, (5.0, 1.2, 1.0, 1.2), _INK),
        "in the ground": Style(0.0, fill="f3f3f3"),
        "odd": Style(0.6, fill="fdf1dc"),
        "plain": Style(0.18, ink=_SOFT),
        "piece": Style(0.25, fill="ffffff"),
        "void": Style(0.25, (0.8, 0.8)),
        "seam": Style(0.35, (3.0, 0.8, 0.4, 0.8), _COOL),
        "hold": Style(0.5, (2.4, 1.0), _COOL),
        "dimension": Style(0.18),
        "leader": Style(0.18, ink=_SOFT),
        "line of warmth": Style(0.18),
        "line of cold": Style(0.25, (1.0, 0.7)),
        "line at zero": Style(0.9),
        "column": Style(0.25, fill="c9c2b4"),
        "page cut": Style(0.25, (6.0, 1.5), _SOFT),
        "solid": Style(0.0, fill=_INK),
        "white": Style(0.0, fill="ffffff"),
        "text": Style(0.0),
        "soft text": Style(0.0, ink=_SOFT),
    }
)


@dataclass(frozen=True, slots=True)
class Window:
    """An upright rectangle [mm]."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        """Right less left [mm]."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Top less bottom [mm]."""
        return self.top - self.bottom

    @property
    def centre(self) -> Point:
        """The middle [mm]."""
        return (self.left + self.right) / 2, (self.bottom + self.top) / 2

    @property
    def corners(self) -> tuple[Point, Point, Point, Point]:
        """The four corners from the lower left, anticlockwise [mm]."""
        return (
            (self.left, self.bottom),
            (self.right, self.bottom),
            (self.right, self.top),
            (self.left, self.top),
        )

    def grown(self, by: float) -> Self:
        """The same, larger on every side.

        by : growth of each side [mm]
        """
        return type(self)(self.left - by, self.bottom - by, self.right + by, self.top + by)

    def overlaps(self, other: "Window") -> bool:
        """Whether both share some area; touching edges do not count."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.bottom < other.top
            and other.bottom < self.top
        )

    def holds(self, other: "Window") -> bool:
        """Whether the other lies wholly inside, edges included."""
        return (
            self.left <= other.left
            and other.right <= self.right
            and self.bottom <= other.bottom
            and other.top <= self.top
        )

    def joined(self, other: "Window") -> Self:
        """The smallest rectangle round both."""
        return type(self)(
            min(self.left, other.left),
            min(self.bottom, other.bottom),
            max(self.right, other.right),
            max(self.top, other.top),
        )

    def shared(self, other: "Window") -> Self | None:
        """What both have in common, perhaps without width or height; None if they lie apart."""
        left, right = max(self.left, other.left), min(self.right, other.right)
        bottom, top = max(self.bottom, other.bottom), min(self.top, other.top)
        return type(self)(left, bottom, right, top) if left <= right and bottom <= top else None

    @classmethod
    def round_points(cls, points: Iterable[Point]) -> Self:
        """The smallest rectangle round some points [mm]."""
        xs, ys = zip(*points, strict=True)
        return cls(min(xs), min(ys), max(xs), max(ys))


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line from a to b [mm]."""

    a: Point
    b: Point
    layer: str
    style: str


@dataclass(frozen=True, slots=True)
class Polyline:
    """Straight lines through points [mm]; a closed one takes the fill of its style."""

    points: tuple[Point, ...]
    layer: str
    style: str
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Rect:
    """An upright rectangle by its lower left corner [mm]."""

    x: float
    y: float
    width: float
    height: float
    layer: str
    style: str

    @property
    def window(self) -> Window:
        """The area it fills [mm]."""
        return Window(self.x, self.y, self.x + self.width, self.y + self.height)


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle by centre and radius [mm]."""

    centre: Point
    radius: float
    layer: str
    style: str


@dataclass(frozen=True, slots=True)
class Text:
    """Lines of text at a point.

    at : the point that `across` and `up` speak of [mm]
    size : cap height [mm on paper]
    across : which end of the lines stands at the point, along the reading direction
    up : what stands at the point: the first baseline, or middle, top or bottom of the capitals
    rotation : 0, or 90 to read upwards [degrees]
    on_white : whether a white box is drawn behind
    """

    at: Point
    text: str
    layer: str
    size: float = TEXT_SIZE
    across: Across = "left"
    up: Up = "base"
    rotation: Turn = 0
    bold: bool = False
    on_white: bool = False
    style: str = "text"


@dataclass(frozen=True, slots=True)
class Dimension:
    """A dimension line with a text, which is handed in.

    a, b : the measured points [mm]
    at : where the dimension line runs: its y for "across", its x for "up" [mm]
    text : what it says; empty for none
    axis : "across" measures along the wall, "up" measures height
    size : cap height [mm on paper]
    """

    a: Point
    b: Point
    at: float
    text: str
    axis: Axis = "across"
    layer: str = "dimensions"
    style: str = "dimension"
    size: float = TEXT_SIZE


Item = Line | Polyline | Rect | Circle | Text | Dimension
Shape = Line | Polyline | Rect | Circle


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes and text in the order in which they are painted, and a title."""

    items: tuple[Item, ...]
    title: str

    def __post_init__(self) -> None:
        """Refuse unknown styles here, where the caller can still be seen."""
        for item in self.items:
            if item.style not in STYLES:
                raise StyleError(
                    f"style {item.style!r} on layer {item.layer!r}: choose one of {', '.join(STYLES)}"
                )

    @property
    def layers(self) -> tuple[str, ...]:
        """Names of the layers in the order of first use."""
        return tuple(dict.fromkeys(item.layer for item in self.items))

    def extents(self, scale: float | None = None) -> Window:
        """The smallest rectangle round everything; text counts only where a scale is given.

        scale : object over paper [-]
        result : rectangle [mm]
        """
        windows = [w for item in self.items for w in _windows(item, scale)]
        if not windows:
            return Window(0.0, 0.0, 0.0, 0.0)
        first, *others = windows
        for other in others:
            first = first.joined(other)
        return first


def _windows(item: Item, scale: float | None) -> list[Window]:
    if isinstance(item, Text):
        return [] if scale is None else [text_window(item, scale)]
    if isinstance(item, Dimension):
        if scale is None:
            return [Window.round_points([item.a, item.b, *_ends(item)])]
        return [w for part in dimension_parts(item, scale) for w in _windows(part, scale)]
    return [shape_window(item)]


def shape_window(shape: Shape) -> Window:
    """The area that a shape reaches, without the weight of its line [mm]."""
    match shape:
        case Line(a, b):
            return Window.round_points([a, b])
        case Polyline(points):
            return Window.round_points(points)
        case Rect():
            return shape.window
        case Circle(centre, radius):
            return Window(*centre, *centre).grown(radius)
        case _:
            assert_never(shape)


@dataclass(frozen=True, slots=True)
class TextLine:
    """One line of a Text, ready to be written.

    start : left end of the baseline, in the reading direction [mm]
    reach : width, rise and drop round it [mm on paper]
    """

    start: Point
    text: str
    reach: Reach


def _turned(at: Point, along: float, over: float, rotation: Turn) -> Point:
    """The point so far along and over the reading direction from a point."""
    steps: dict[Turn, Point] = {0: (along, over), 90: (-over, along)}
    dx, dy = steps[rotation]
    return at[0] + dx, at[1] + dy


def text_lines(text: Text, scale: float) -> tuple[TextLine, ...]:
    """The lines of a text with the place of each baseline.

    scale : object over paper [-]
    """
    lines = text_rows(text.text)
    step = LINE_STEP * text.size
    last = (len(lines) - 1) * step
    first: dict[Up, float] = {
        "base": 0.0,
        "top": -text.size,
        "bottom": last,
        "middle": (last - text.size) / 2,
    }
    result = []
    for number, line in enumerate(lines):
        reach = line_reach(line, text.size, text.bold)
        along = -_BEFORE[text.across] * reach.width * scale
        over = (first[text.up] - number * step) * scale
        result.append(TextLine(_turned(text.at, along, over, text.rotation), line, reach))
    return tuple(result)


def text_window(text: Text, scale: float) -> Window:
    """The box that a text fills, from the fonts' own measures.

    scale : object over paper [-]
    result : rectangle [mm]
    """
    corners = []
    for line in text_lines(text, scale):
        width, rise, drop = line.reach.width * scale, line.reach.rise * scale, line.reach.drop * scale
        corners += [
            _turned(line.start, 0.0, -drop, text.rotation),
            _turned(line.start, width, rise, text.rotation),
        ]
    return Window.round_points(corners)


def _ends(dimension: Dimension) -> tuple[Point, Point]:
    """Both ends of the dimension line, the lower coordinate first."""
    if dimension.axis == "across":
        low, high = sorted((dimension.a[0], dimension.b[0]))
        return (low, dimension.at), (high, dimension.at)
    low, high = sorted((dimension.a[1], dimension.b[1]))
    return (dimension.at, low), (dimension.at, high)


def _extension(point: Point, dimension: Dimension, scale: float) -> Line:
    """The thin line from near a measured point to just past the dimension line."""
    along = 1 if dimension.axis == "across" else 0
    away = dimension.at - point[along]
    sign = 1.0 if away >= 0.0 else -1.0
    begin = point[along] + sign * min(1.0 * scale, abs(away))
    end = dimension.at + sign * TICK * scale
    if dimension.axis == "across":
        return Line((point[0], begin), (point[0], end), dimension.layer, dimension.style)
    return Line((begin, point[1]), (end, point[1]), dimension.layer, dimension.style)


def dimension_parts(
    dimension: Dimension, scale: float, window: Window | None = None
) -> tuple[Line | Text, ...]:
    """The lines and the text of a dimension.

    On a page that shows a part of it, the text stands in the middle of that part, if it is long enough there.

    scale : object over paper [-]
    window : the part of the drawing that the page shows, None for all of it [mm]
    """
    low, high = _ends(dimension)
    half = TICK * scale * 0.7
    lines = [
        _extension(dimension.a, dimension, scale),
        _extension(dimension.b, dimension, scale),
        Line(low, high, dimension.layer, dimension.style),
        *(
            Line((x - half, y - half), (x + half, y + half), dimension.layer, "outline")
            for x, y in (low, high)
        ),
    ]
    return *lines, *_dimension_text(dimension, scale, window)


def _dimension_text(dimension: Dimension, scale: float, window: Window | None) -> tuple[Text, ...]:
    if not dimension.text:
        return ()
    whole = Window.round_points(_ends(dimension))
    shown = whole.shared(window) if window else whole
    if shown is None:
        return ()
    length = max(shown.width, shown.height)
    if shown != whole and length < text_width(dimension.text, dimension.size) * scale:
        return ()
    turn: Turn = 0 if dimension.axis == "across" else 90
    at = _turned(shown.centre, 0.0, TEXT_GAP * scale, turn)
    return (Text(at, dimension.text, dimension.layer, dimension.size, "middle", "base", turn),)
