"""A drawing as a DXF file: millimetres at full size, plain words as layer names, the same bytes every time.

Source: the DXF format (AC1024) as ezdxf writes it. Text heights and dashes are given for one scale.
Dimensions are written as lines and text, for what they say is handed in and must not be computed again. Of
the fills only the solid one is kept: the white and pale ones serve the printed page.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from io import StringIO
from threading import Lock
from typing import Any, assert_never

from warmside.paper.drawing import (
    STYLES,
    Circle,
    Dimension,
    Drawing,
    Item,
    Line,
    Polyline,
    Rect,
    Shape,
    Text,
    dimension_parts,
    text_lines,
)
from warmside.paper.dxf_library import ezdxf

_VERSION = "R2010"
_TEXT_STYLES = {False: ("plain", "NotoSans-Regular.ttf"), True: ("bold", "NotoSans-Bold.ttf")}
_PAPER_BLACK = 7
# Hundredths of a millimetre that the format knows, as far as the table of styles needs them.
_WEIGHTS = (13, 18, 25, 35, 50, 70)
_NOT_IN_NAMES = str.maketrans(dict.fromkeys('<>/\\":;?*|=`,', "-"))

_fixed = Lock()


@contextmanager
def _fixed_metadata() -> Iterator[None]:
    """Make ezdxf leave out clock and random numbers while a file is made."""
    with _fixed:
        before = ezdxf.options.write_fixed_meta_data_for_testing
        ezdxf.options.write_fixed_meta_data_for_testing = True
        try:
            yield
        finally:
            ezdxf.options.write_fixed_meta_data_for_testing = before


def _layer_name(layer: str) -> str:
    return layer.translate(_NOT_IN_NAMES)


def _set_up(doc: Any, drawing: Drawing, scale: float) -> None:
    doc.units = ezdxf.units.MM
    doc.header["$MEASUREMENT"] = 1
    for name, font in _TEXT_STYLES.values():
        doc.styles.add(name, font=font)
    for layer in drawing.layers:
        if _layer_name(layer) not in doc.layers:
            doc.layers.add(_layer_name(layer))
    for name in sorted({item.style for item in drawing.items} | {"outline"}):
        dash = STYLES[name].dash
        if dash:
            pattern = [part * scale * sign for part, sign in zip(dash, (1, -1) * len(dash), strict=False)]
            doc.linetypes.add(name, [sum(dash) * scale, *pattern], description=name)


def _show_all(doc: Any, drawing: Drawing, scale: float) -> None:
    """Let the file open with everything in view, on a screen that is wider than high."""
    extents = drawing.extents(scale)
    height = max(extents.height, extents.width / 1.5, 1.0)
    doc.set_modelspace_vport(height=1.05 * height, center=extents.centre)


def _look(item: Item) -> dict[str, Any]:
    """Layer, weight, dash and colour of an item, as ezdxf takes them."""
    style = STYLES[item.style]
    weight = min(_WEIGHTS, key=lambda known: abs(known - 100 * style.weight))
    look = {
        "layer": _layer_name(item.layer),
        "color": _PAPER_BLACK,
        "lineweight": weight,
        "linetype": item.style if style.dash else "Continuous",
    }
    parts = bytes.fromhex(style.ink)
    # Black and greys stay black on white or white on black; their true colours would vanish on a dark screen.
    if max(parts) - min(parts) < 32:
        return look
    return look | {"true_color": int(style.ink, 16)}


def _add_shape(space: Any, shape: Shape) -> None:
    style = STYLES[shape.style]
    look = _look(shape)
    if style.weight == 0.0:
        if style.fill == style.ink:
            _add_solid(space, shape, look)
        return
    match shape:
        case Line(a, b):
            space.add_line(a, b, look)
        case Polyline(points, closed=closed):
            space.add_lwpolyline(points, close=closed, dxfattribs=look)
        case Rect():
            space.add_lwpolyline(shape.window.corners, close=True, dxfattribs=look)
        case Circle(centre, radius):
            space.add_circle(centre, radius, look)
        case _:
            assert_never(shape)


def _add_solid(space: Any, shape: Shape, look: dict[str, Any]) -> None:
    """The inside of a shape filled; a line has none."""
    plain = {"layer": look["layer"]}
    match shape:
        case Line():
            return
        case Circle((x, y), radius):
            bulged = [(x - radius, y, 1.0), (x + radius, y, 1.0)]
        case Polyline(points):
            bulged = [(px, py, 0.0) for px, py in points]
        case Rect():
            bulged = [(px, py, 0.0) for px, py in shape.window.corners]
        case _:
            assert_never(shape)
    space.add_hatch(color=_PAPER_BLACK, dxfattribs=plain).paths.add_polyline_path(bulged, is_closed=True)


def _add_text(space: Any, text: Text, scale: float) -> None:
    name, _ = _TEXT_STYLES[text.bold]
    look = _look(text) | {"style": name, "rotation": text.rotation}
    for line in text_lines(text, scale):
        if line.text.strip():
            entity = space.add_text(line.text, height=text.size * scale, dxfattribs=look)
            entity.set_placement(line.start, align=ezdxf.enums.TextEntityAlignment.LEFT)


def dxf(drawing: Drawing, scale: float) -> str:
    """The whole drawing as the text of a DXF file, to be written as UTF-8.

    scale : object over paper that text heights and dashes are meant for [-]
    """
    with _fixed_metadata():
        doc = ezdxf.new(_VERSION)
        _set_up(doc, drawing, scale)
        _show_all(doc, drawing, scale)
        space = doc.modelspace()
        for item in drawing.items:
            parts = dimension_parts(item, scale) if isinstance(item, Dimension) else (item,)
            for part in parts:
                if isinstance(part, Text):
                    _add_text(space, part, scale)
                else:
                    _add_shape(space, part)
        # The library would list the classes in the order of a set, which differs from run to run.
        for kind in sorted(doc.entitydb.dxf_types_in_use()):
            doc.classes.add_class(kind)
        stream = StringIO()
        doc.write(stream)
    return stream.getvalue()
