"""Labels never overlap and none is left out: property tests, and cases worked by hand."""

from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from warmside.paper.chains import Chain, dimension_column, dimension_row, spread
from warmside.paper.drawing import Dimension, Drawing, Item, Line, Point, Polyline, Text, Window, text_window
from warmside.paper.labels import Obstacle, Placement, along, around, inside, place
from warmside.paper.leaders import Label, Placed, Spot, Strip, lead_out

SCALE = 20.0
BOUNDS = Window(0, 0, 3000, 2400)

points = st.tuples(st.floats(0, 3000), st.floats(0, 2400))
words = st.text("abc 1/2-É½gM\n", min_size=1, max_size=24)


def box_at(point: Point, width: float, height: float) -> Window:
    return Window(point[0], point[1], point[0] + width, point[1] + height)


boxes = st.builds(box_at, points, st.floats(5, 900), st.floats(5, 600))


@st.composite
def labels(draw: st.DrawFn) -> Label:
    thing = draw(boxes)
    spots = draw(st.sampled_from([around(thing, 20.0), inside(thing), ()]))
    size = draw(st.sampled_from([2.0, 2.5, 3.5]))
    room = draw(st.sampled_from([None, thing]))
    text = draw(words)
    return Label(text, spots, thing.centre, size=size, room=room, sway=draw(st.sampled_from([0.0, 30.0])))


def crossing(a: tuple[Point, Point], b: tuple[Point, Point]) -> bool:
    """Whether two segments cross at a point inside both."""

    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(*a, b[0]) * side(*a, b[1]) < -1e-6 and side(*b, a[0]) * side(*b, a[1]) < -1e-6


def runs_through(leader: tuple[Point, ...], box: Window) -> bool:
    middles = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in pairwise(leader)]
    samples = [*leader, *middles]
    upright = any(
        box.left < a[0] == b[0] < box.right and min(a[1], b[1]) < box.top and max(a[1], b[1]) > box.bottom
        for a, b in pairwise(leader)
    )
    return upright or any(box.left < x < box.right and box.bottom < y < box.top for x, y in samples)


@given(
    st.lists(labels(), max_size=14),
    st.lists(st.builds(Obstacle, boxes, st.booleans()), max_size=6),
    st.booleans(),
)
@settings(max_examples=200, deadline=None, derandomize=True)
def test_every_label_is_placed_and_none_overlaps(
    wanted: list[Label], obstacles: list[Obstacle], both_sides: bool
) -> None:
    result = place(wanted, obstacles, BOUNDS, SCALE, below=-100.0 if both_sides else None)
    assert [p.label.text for p in result.placed] == [w.text for w in wanted]
    for a, b in combinations(result.placed, 2):
        assert not a.window.overlaps(b.window)
    for placed in result.placed:
        assert placed.window == text_window(placed.text, SCALE)
        assert not any(o.hard and o.window.overlaps(placed.window) for o in obstacles)
        assert placed.text.size >= min(2.0, placed.label.size)
        if not placed.leader:
            assert BOUNDS.holds(placed.window)
            assert placed.label.room is None or placed.label.room.holds(placed.window)
            assert placed.text.text == placed.label.text


@given(st.lists(st.tuples(st.floats(0, 3000), words), min_size=1, max_size=25), st.sampled_from([1, -1]))
@settings(max_examples=200, deadline=None, derandomize=True)
def test_flags_stand_apart_and_no_leader_crosses_a_flag_or_a_leader(
    things: list[tuple[float, str]], outward: int
) -> None:
    wanted = [Label(text, (), (x, 1000.0)) for x, text in things]
    strip = Strip(0, 3000, 2400 if outward > 0 else -100, outward)
    flags = lead_out(wanted, strip, SCALE)
    for a, b in combinations(flags, 2):
        assert not a.window.overlaps(b.window)
        assert not any(crossing(s, t) for s in pairwise(a.leader) for t in pairwise(b.leader))
    for a in flags:
        assert not any(runs_through(a.leader, b.window) for b in flags)
        assert a.window.left >= 0
        assert a.window.right <= 3000
        assert a.leader[0] == a.label.points_to
        edge = a.window.bottom if outward > 0 else -a.window.top
        assert edge > outward * strip.base


def one_spot(text: str, *spots: Spot, points_to: Point = (1500.0, 1200.0)) -> Label:
    return Label(text, spots, points_to)


A, B, C = Spot(500, 500), Spot(1500, 500), Spot(2500, 500)


def seats(result: Placement) -> list[Point | None]:
    return [None if p.leader else p.text.at for p in result.placed]


def test_the_best_spot_is_taken_when_free() -> None:
    assert seats(place([one_spot("one", A, B)], [], BOUNDS, SCALE)) == [(500, 500)]


def test_a_seated_label_moves_on_for_one_that_has_no_other_place() -> None:
    # Taken one after another the third finds both of its spots taken; the first can go on to C.
    wanted = [one_spot("one", A, C), one_spot("two", A, B), one_spot("three", A, B)]
    assert seats(place(wanted, [], BOUNDS, SCALE)) == [(2500, 500), (1500, 500), (500, 500)]


def test_a_label_without_any_place_is_led_out() -> None:
    result = place([one_spot("one", A), one_spot("two", A)], [], BOUNDS, SCALE)
    assert seats(result) == [(500, 500), None]
    (led,) = [p for p in result.placed if p.leader]
    assert led.window.bottom > BOUNDS.top
    assert result.extents is not None
    assert result.extents.top == led.window.top


def test_a_text_shrinks_before_it_is_led_out_and_no_further_than_allowed() -> None:
    width = text_window(Text((0, 0), "depends", "a", 2.1), SCALE).width
    room = Window(0, 0, width, 500)
    seated = place([Label("depends", (Spot(*room.centre),), (0, 0), room=room)], [], BOUNDS, SCALE).placed[0]
    assert (seated.text.size, seated.leader) == (2.0, ())
    large = Label("depends", (Spot(*room.centre),), (0, 0), smallest=2.2, room=room)
    assert place([large], [], BOUNDS, SCALE).placed[0].leader


def test_a_hard_obstacle_is_kept_clear_and_a_soft_one_avoided() -> None:
    blocked = Obstacle(Window(400, 400, 600, 600))
    assert seats(place([one_spot("one", A, B)], [blocked], BOUNDS, SCALE)) == [(1500, 500)]
    soft = Obstacle(Window(400, 400, 600, 600), hard=False)
    assert seats(place([one_spot("one", A, B)], [soft], BOUNDS, SCALE)) == [(1500, 500)]
    on_line = place([one_spot("one", A)], [soft], BOUNDS, SCALE).placed[0]
    assert on_line.text.on_white
    assert not on_line.leader


def test_the_leader_goes_the_way_that_crosses_least() -> None:
    above = Obstacle(Window(1400, 2000, 1600, 2100))
    result = place([one_spot("one")], [above], BOUNDS, SCALE, below=0.0)
    assert result.placed[0].window.top < BOUNDS.bottom
    swaying = Label("one", (), (1500.0, 1200.0), sway=150.0)
    assert place([swaying], [above], BOUNDS, SCALE).placed[0].leader[0] == (1350, 1200)


def test_a_label_under_a_leader_stands_on_white() -> None:
    wall = [one_spot("seated here", Spot(1500, 2000)), Label("led", (), (1500.0, 100.0))]
    result = place(wall, [], BOUNDS, SCALE)
    assert result.placed[0].text.on_white
    kinds = [type(item).__name__ for item in result.items]
    assert kinds == ["Polyline", "Circle", "Text", "Text"]


def test_same_input_same_places() -> None:
    wanted = [one_spot(f"label {n}", A, B, C) for n in range(6)]
    assert place(wanted, [], BOUNDS, SCALE) == place(wanted, [], BOUNDS, SCALE)


def test_obstacles_along_a_line_cover_it() -> None:
    boxes_ = along([(0, 1000), (1000, 500), (1000, 300)], half=10, step=300)
    # 1000 mm across in steps of 300 are four boxes, 200 mm down is one.
    assert len(boxes_) == 5
    assert boxes_[0].window == Window(-10, 865, 260, 1010)
    assert not any(o.hard for o in boxes_)


def said(items: tuple[Item, ...]) -> list[Window]:
    parts = [text_window(i, SCALE) for i in items if isinstance(i, Text)]
    spans = [i for i in items if isinstance(i, Dimension) and i.text]
    return parts + [Drawing((d,), "").extents(SCALE) for d in spans]


@given(st.lists(st.integers(10, 500), min_size=1, max_size=12), st.sampled_from([-1.0, 1.0]))
@settings(max_examples=100, deadline=None, derandomize=True)
def test_texts_of_a_chain_never_overlap(spans: list[int], side: float) -> None:
    stops = [float(sum(spans[:n])) for n in range(len(spans) + 1)]
    words_ = [f"{span}-1/2" for span in spans]
    row = dimension_row(Chain(stops, words_, side * 200.0, 0.0, SCALE))
    flags = [text_window(i, SCALE) for i in row if isinstance(i, Text)]
    dims = [i for i in row if isinstance(i, Dimension)]
    level = [Window(d.a[0], 0, d.b[0], 1) for d in dims if d.text]
    assert sorted(i.text for i in row if isinstance(i, Text | Dimension) and i.text) == sorted(words_)
    assert not any(a.overlaps(b) for a, b in combinations(flags + level, 2))
    column = dimension_column(Chain(stops, words_, side * 200.0, 0.0, SCALE))
    texts = [text_window(i, SCALE) for i in column if isinstance(i, Text)]
    assert len(texts) == len(words_)
    assert not any(a.overlaps(b) for a, b in combinations(texts, 2))


def test_a_wide_text_leaves_its_span_away_from_the_wall() -> None:
    row = dimension_row(Chain([0, 30, 800], ["1-3/16", "30-5/16"], -200, 0, SCALE))
    first, second = (i for i in row if isinstance(i, Dimension))
    assert (first.text, second.text) == ("", "30-5/16")
    (led,) = (i for i in row if isinstance(i, Text))
    assert text_window(led, SCALE).top < -200
    assert any(isinstance(i, Polyline) and i.points[0] == (15, -200) for i in row)


def test_a_column_stands_straight_where_it_has_room() -> None:
    column = dimension_column(Chain([0, 400, 1000], ["15-3/4", "23-5/8"], -200, 0, SCALE))
    assert [i.at[1] for i in column if isinstance(i, Text)] == [200, 700]
    assert not any(isinstance(i, Line) for i in column)


@pytest.mark.parametrize(
    ("wanted", "expected"),
    [
        ([0.0, 100.0], [0.0, 100.0]),
        ([0.0, 4.0], [-3.0, 7.0]),
        # The pair would stand at -3 and 7, which pushes the third: the three stand about their mean 4.
        ([0.0, 4.0, 8.0], [-6.0, 4.0, 14.0]),
    ],
)
def test_spread_by_hand(wanted: list[float], expected: list[float]) -> None:
    assert spread(wanted, 10.0) == pytest.approx(expected)


def test_placed_keeps_its_label() -> None:
    label = one_spot("one", A)
    assert isinstance(place([label], [], BOUNDS, SCALE).placed[0], Placed)
    assert place([label], [], BOUNDS, SCALE).placed[0].label == label
