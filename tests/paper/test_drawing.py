"""The display list: styles, extents, boxes of text, the parts of a dimension."""

import pytest

from warmside.paper.drawing import (
    STYLES,
    Across,
    Circle,
    Dimension,
    Drawing,
    Item,
    Line,
    Polyline,
    Rect,
    StyleError,
    Text,
    Up,
    Window,
    dimension_parts,
    text_lines,
    text_window,
)
from warmside.paper.lettering import em, text_width

SCALE = 20.0


def texts(dimension: Dimension, window: Window | None = None) -> list[Text]:
    return [part for part in dimension_parts(dimension, SCALE, window) if isinstance(part, Text)]


def test_an_unknown_style_is_refused_with_the_choices() -> None:
    with pytest.raises(StyleError, match=r"style 'neon' on layer 'studs': choose one of outline, frame, "):
        Drawing((Line((0, 0), (1, 0), "studs", "neon"),), "t")


def test_colour_is_never_the_only_carrier_of_a_meaning() -> None:
    """Every line in colour has a dash that no other style has."""
    coloured = [s for s in STYLES.values() if len({s.ink[0:2], s.ink[2:4], s.ink[4:6]}) > 1]
    assert len(coloured) == 3
    for style in coloured:
        assert style.dash
        assert [s.dash for s in STYLES.values()].count(style.dash) == 1


def test_no_line_is_too_thin_to_print() -> None:
    assert min(s.weight for s in STYLES.values() if s.weight) >= 0.18


@pytest.mark.parametrize(
    ("item", "expected"),
    [
        (Line((5, 1), (2, 9), "a", "plain"), Window(2, 1, 5, 9)),
        (Polyline(((0, 0), (4, -3), (1, 6)), "a", "ground"), Window(0, -3, 4, 6)),
        (Rect(1, 2, 3, 4, "a", "thing"), Window(1, 2, 4, 6)),
        (Circle((10, 20), 2, "a", "thing"), Window(8, 18, 12, 22)),
        (Text((3, 3), "not counted", "a"), Window(0, 0, 0, 0)),
        (Dimension((0, 0), (50, 5), -30, "x"), Window(0, -30, 50, 5)),
        (Dimension((0, 0), (5, 50), -30, "x", "up"), Window(-30, 0, 5, 50)),
    ],
)
def test_extents_without_scale_are_those_of_the_geometry(item: Item, expected: Window) -> None:
    assert Drawing((item,), "t").extents() == expected


def test_extents_with_scale_hold_every_text() -> None:
    text = Text((100, 50), "switch box", "a", across="right", up="top")
    drawing = Drawing((Rect(0, 0, 10, 10, "b", "thing"), text), "t")
    assert drawing.extents(SCALE) == text_window(text, SCALE).joined(Window(0, 0, 10, 10))
    assert drawing.layers == ("b", "a")


def test_box_of_a_text_in_closed_form() -> None:
    # Capitals 2.5 mm high at 1:20 are 50 mm on the object; letters rise 0.77 em and drop 0.24 em by default.
    box = text_window(Text((0, 0), "Hx", "a", 2.5), SCALE)
    assert box.left == 0.0
    assert box.right == pytest.approx(text_width("Hx", 2.5) * SCALE)
    assert box.top == pytest.approx(0.77 * em(2.5) * SCALE)
    assert box.bottom == pytest.approx(-0.24 * em(2.5) * SCALE)


def test_a_turned_text_is_the_level_one_turned() -> None:
    level = text_window(Text((0, 0), "stays dry\nhere", "a"), SCALE)
    turned = text_window(Text((0, 0), "stays dry\nhere", "a", rotation=90), SCALE)
    assert turned.left == pytest.approx(-level.top)
    assert turned.right == pytest.approx(-level.bottom)
    assert (turned.bottom, turned.top) == pytest.approx((level.left, level.right))


@pytest.mark.parametrize(
    ("up", "first"), [("base", 0.0), ("top", -50.0), ("bottom", 87.5), ("middle", 18.75)]
)
def test_two_lines_stand_at_their_point(up: Up, first: float) -> None:
    # Cap height 50 mm on the object, baselines 1.75 cap heights = 87.5 mm apart, by hand.
    lines = text_lines(Text((0, 0), "a\nb", "a", 2.5, up=up), SCALE)
    assert [line.start[1] for line in lines] == pytest.approx([first, first - 87.5])


@pytest.mark.parametrize(("across", "share"), [("left", 0.0), ("middle", 0.5), ("right", 1.0)])
def test_text_stands_left_of_its_point_by_its_share(across: Across, share: float) -> None:
    box = text_window(Text((0, 0), "bay", "a", across=across), SCALE)
    assert box.left == pytest.approx(-share * box.width)


def test_a_dimension_has_extensions_line_ticks_and_text() -> None:
    dimension = Dimension((0, 0), (400, 0), -200, "15-3/4")
    lines = [part for part in dimension_parts(dimension, SCALE) if isinstance(part, Line)]
    assert len(lines) == 5
    assert lines[0] == Line((0, -20), (0, -220), "dimensions", "dimension")
    assert lines[2] == Line((0, -200), (400, -200), "dimensions", "dimension")
    (text,) = texts(dimension)
    assert text.at[0] == 200
    assert text_window(text, SCALE).bottom > -200


def test_a_dimension_up_the_wall_reads_upwards_left_of_its_line() -> None:
    (text,) = texts(Dimension((0, 0), (0, 800), -200, "31-1/2", "up"))
    assert text.rotation == 90
    assert text_window(text, SCALE).right < -200


def test_the_text_of_a_cut_dimension_stands_in_the_part_that_the_page_shows() -> None:
    dimension = Dimension((0, 0), (9000, 0), -200, "29 ft 6-3/8 in")
    (left,), (right,) = (texts(dimension, Window(*w)) for w in ((-400, -500, 5000, 9), (4800, -500, 9400, 9)))
    assert (left.at[0], right.at[0]) == (2500, 6900)


def test_a_cut_dimension_says_nothing_where_its_text_would_not_fit() -> None:
    dimension = Dimension((0, 0), (9000, 0), -200, "29 ft 6-3/8 in")
    assert texts(dimension, Window(8900, -500, 9400, 9)) == []
    assert texts(dimension, Window(9500, -500, 9900, 9)) == []


def test_windows_share_touch_and_hold() -> None:
    a, b, c = Window(0, 0, 4, 4), Window(4, 0, 8, 4), Window(1, 1, 4, 4)
    assert not a.overlaps(b)
    assert a.shared(b) == Window(4, 0, 4, 4)
    assert a.holds(c)
    assert not c.holds(a)
    assert c.shared(Window(5, 5, 6, 6)) is None
