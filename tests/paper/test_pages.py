"""Scale and page cuts: worked cases by hand, and cuts against an exhaustive search."""

from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from warmside.paper.drawing import Line, Window
from warmside.paper.pages import A4, LETTER, DoesNotFitError, Room, cut_lines, lay_out


def test_drawing_areas_of_the_two_sheets() -> None:
    # ISO 216 A4 is 210 x 297 mm, letter 8-1/2 x 11 in = 215.9 x 279.4 mm; margins of 12 mm.
    assert A4.area == (273.0, 186.0)
    assert LETTER.area == pytest.approx((255.4, 191.9))


@pytest.mark.parametrize(
    ("width", "height", "scale", "pages"),
    [
        (4000, 2400, 20, 1),  # 200 x 120 mm
        (5250, 2400, 25, 1),  # 262.5 mm wide at 1:20, 210 at 1:25
        (9000, 2400, 20, 2),  # two pages at either scale, so the larger picture
        (4000, 4500, 25, 1),  # 225 mm high at 1:20, 180 at 1:25
        (4000, 5400, 30, 1),  # 216 at 1:25, 180 at 1:30
        (4000, 9000, 50, 1),  # 225 at 1:40, 180 at 1:50
    ],
)
def test_scale_by_hand(width: float, height: float, scale: int, pages: int) -> None:
    layout = lay_out(Window(0, 0, width, height), LETTER.area, [n * 400.0 for n in range(1, 30)])
    assert (layout.scale, len(layout.pages)) == (scale, pages)


def test_a_wall_too_high_for_every_scale_is_refused() -> None:
    with pytest.raises(
        DoesNotFitError, match=r"9600 mm high, with 12 mm of paper .* too little even at 1:50"
    ):
        lay_out(Window(0, 0, 4000, 9600), LETTER.area, room=Room(above=12))


def test_room_is_kept_round_the_wall() -> None:
    room = Room(above=30, below=20, left=15, right=10)
    (page,) = lay_out(Window(0, 0, 4000, 2400), LETTER.area, room=room).pages
    assert page.window == Window(-300, -400, 4200, 3000)
    assert (page.left_cut, page.right_cut) == (None, None)


def test_pages_overlap_at_a_cut_and_mark_it() -> None:
    wall = Window(0, 0, 8000, 2400)
    layout = lay_out(wall, LETTER.area, [1000, 4000, 5000], Room(overlap=8))
    first, second = layout.pages
    assert (first.right_cut, second.left_cut) == (4000, 4000)
    assert (first.window.right, second.window.left) == (4160, 3840)
    # Marks stand out 4 mm of paper = 80 mm above and below.
    assert cut_lines(second, wall, 20) == (Line((4000, -80), (4000, 2480), "page cut", "page cut"),)


def test_cuts_farther_apart_than_a_page_is_wide() -> None:
    layout = lay_out(Window(0, 0, 12000, 2400), LETTER.area, [], Room(overlap=8))
    assert len(layout.pages) == 3
    assert all(page.window.width <= 255.4 * layout.scale + 1e-6 for page in layout.pages)


def fewest_pages(width: float, cuts: list[float], reach: float) -> tuple[int, float] | None:
    """Page count and widest page over all choices of cuts."""
    for count in range(len(cuts) + 1):
        widest = [
            max(b - a for a, b in pairwise([0.0, *chosen, width])) for chosen in combinations(cuts, count)
        ]
        if min(widest) <= reach:
            return count + 1, min(widest)
    return None


@given(
    st.lists(st.integers(1, 199), min_size=4, max_size=9, unique=True),
    st.integers(60, 200),
)
@settings(max_examples=100, deadline=None, derandomize=True)
def test_cuts_against_exhaustive_search(cuts: list[int], width: int) -> None:
    """At one scale, as few pages as can be, and the widest of them as narrow as can be."""
    wall = Window(0, 0, width * 100.0, 4500)  # 4500 mm fits at 1:25 only
    places = sorted(c * 100.0 for c in cuts if c < width)
    reach = (LETTER.area[0] - 16) * 25
    expected = fewest_pages(wall.width, places, reach)
    if wall.width <= LETTER.area[0] * 25:
        expected = (1, wall.width)
    layout = lay_out(wall, LETTER.area, places, Room(overlap=8))
    inner = [p.right_cut for p in layout.pages if p.right_cut is not None]
    assert layout.scale == 25
    if expected is not None:
        widest = max(b - a for a, b in pairwise([0.0, *inner, wall.width]))
        assert len(layout.pages) == expected[0]
        assert widest == pytest.approx(expected[1])
        assert set(inner) <= set(places)
    assert [p.number for p in layout.pages] == list(range(1, len(layout.pages) + 1))
