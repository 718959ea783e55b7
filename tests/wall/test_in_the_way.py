"""What touches which bay, and rectangles taken out of rectangles."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests import walls as w
from tests.walls import inch
from warmside.job.resolve import HouseWall
from warmside.units import INCH, MM, Length
from warmside.wall.frame import frame_wall
from warmside.wall.in_the_way import (
    Box,
    access_opening,
    bay_box,
    in_stud_space,
    is_closed_off,
    minus,
    outline,
    reach,
    touches,
)

EDGES = st.integers(-20, 20)


@st.composite
def boxes(draw: st.DrawFn) -> Box:
    """A small box, so that many of them meet; some are empty."""
    (left, right), (bottom, top) = sorted([draw(EDGES), draw(EDGES)]), sorted([draw(EDGES), draw(EDGES)])
    return Box(Length(left), Length(bottom), Length(right), Length(top))


def cells(box: Box) -> set[tuple[int, int]]:
    """The unit squares of a box."""
    return {(x, y) for x in range(box.left, box.right) for y in range(box.bottom, box.top)}


@given(boxes(), st.lists(boxes(), max_size=4))
def test_minus_leaves_exactly_what_lies_outside(whole: Box, others: list[Box]) -> None:
    left = minus(whole, others)
    assert set().union(*map(cells, left)) == cells(whole).difference(*map(cells, others))
    assert not any(one.overlaps(other) for one, other in combinations(left, 2))


def on_frame(*things: dict[str, str], studs: str = "2x4") -> HouseWall:
    """96 in of frame: bays 1.5-15.25, 16.75-31.25, 32.75-47.25, 48.75-63.25, ..."""
    return w.framed(96, in_the_way=things, studs=studs)


def touched(wall: HouseWall) -> list[tuple[int, float, float]]:
    """For each touch the bay, and its left and right edge [in]."""
    return [
        (bay.number, t.box.left / inch(1), t.box.right / inch(1))
        for bay in frame_wall(wall).bays
        for t in touches(wall, bay)
    ]


def test_a_thing_across_a_stud_takes_its_part_of_either_bay() -> None:
    # A duct of 20 in from 25 to 45 in: bay 2 to 31.25, bay 3 from 32.75.
    wall = on_frame({"kind": "duct", "from_left": "25 in", "width": "20 in"})
    assert touched(wall) == [(2, 25, 31.25), (3, 32.75, 45)]


def test_what_is_kept_clear_reaches_into_the_next_bay() -> None:
    # A flue of 6 in from 18 to 24 in, 150 mm = 5.9 in clear on both sides: 12.09 to 29.91.
    wall = on_frame({"kind": "flue", "from_left": "18 in"})
    clear = 150 * MM / INCH
    assert touched(wall) == [(1, 18 - clear, 15.25), (2, 16.75, 24 + clear)]


def test_a_window_takes_its_sill_and_head_from_the_bay() -> None:
    # Window 36-44 in, 50-60 in up; sill and head of 1.5 in: 48.5 to 61.5.
    window = {"kind": "window", "from_left": "36 in", "up": "50 in", "width": "8 in", "height": "10 in"}
    wall = on_frame(window)
    (touch,) = touches(wall, frame_wall(wall).bays[2])
    assert touch.box == Box(inch(36), inch(48.5), inch(44), inch(61.5))
    assert outline(touch.thing) == Box(inch(36), inch(50), inch(44), inch(60))


def test_touches_come_from_the_bottom() -> None:
    boxes = [{"kind": "electrical box", "from_left": "20 in", "up": f"{up} in"} for up in (48, 12, 30)]
    wall = on_frame(*boxes)
    assert [t.box.bottom for t in touches(wall, frame_wall(wall).bays[1])] == [inch(12), inch(30), inch(48)]


@pytest.mark.parametrize(
    ("kind", "back", "inside"),
    [
        ("water pipe", "1 in", True),
        ("water pipe", "3-1/2 in", False),
        ("partition", None, False),
        ("flue", "3-1/2 in", True),
        ("flue", "10 in", False),
        ("service panel", "4 in", True),
    ],
    ids=[
        "pipe between the studs",
        "pipe before the studs",
        "partition before the studs",
        "flue just before the studs, 150 mm to be kept clear",
        "flue far before the studs",
        "panel 1/2 in before the studs, 25 mm to be kept clear",
    ],
)
def test_what_counts_as_in_the_stud_space(kind: str, back: str | None, inside: bool) -> None:
    # 2x4: 3-1/2 in of stud space. What must be kept clear is kept clear in depth too.
    thing = {"kind": kind, "from_left": "20 in", "up": "20 in"} | ({"back": back} if back else {})
    wall = on_frame(thing)
    assert in_stud_space(wall.in_the_way[0], w.frame_of(wall).depth) is inside


@given(w.walls())
@settings(max_examples=100)
def test_touches_stay_in_their_bay_and_miss_nothing(wall: HouseWall) -> None:
    _, built = w.standing(wall)
    face = w.frame_of(wall).face
    for bay in built.bays:
        found = touches(wall, bay)
        assert all(t.box == t.box.clipped(bay_box(bay)) and t.box.area > 0 for t in found)
        meant = [t.id for t in wall.in_the_way if reach(t, face).overlaps(bay_box(bay))]
        assert sorted(t.thing.id for t in found) == sorted(meant)


@pytest.mark.parametrize(
    ("kind", "left", "width", "closed"),
    [
        ("partition", 14, 20, [2]),
        ("partition", 20, 4.5, []),
        ("partition", 14, 36, [2, 3]),
        ("steel post", 14, 20, []),
    ],
)
def test_only_what_is_built_over_all_of_a_bay_closes_it(
    kind: str, left: float, width: float, closed: list[int]
) -> None:
    # Bays 2 and 3 are clear from 16.75 to 31.25 and from 32.75 to 47.25 in; a post lets a hand behind it.
    wall = on_frame({"kind": kind, "from_left": f"{left} in", "width": f"{width} in"})
    assert [bay.number for bay in frame_wall(wall).bays if is_closed_off(wall, bay)] == closed


@pytest.mark.parametrize(("turn", "depth"), [("right", 3.5), ("left", 0), ("straight", 0), (None, 0)])
def test_the_next_wall_stands_before_the_right_end_at_an_inside_corner_only(
    turn: str | None, depth: float
) -> None:
    first = w.wall(length="96 in", **({"turn": turn} if turn else {}))
    wall = w.house(first, w.wall(name="B")).walls[0]
    assert wall.behind_next == inch(depth)


@pytest.mark.parametrize(("kind", "size"), [("hose bib", (6, 6)), ("junction box", (4, 4))])
def test_an_access_opening_lets_a_hand_in(kind: str, size: tuple[float, float]) -> None:
    # A hose bib is 1 in; its valve takes a hand, 6 in. The cover of a box is as large as the box.
    wall = on_frame({"kind": kind, "from_left": "20 in", "up": "20 in"})
    assert access_opening(wall.in_the_way[0]) == tuple(inch(side) for side in size)
