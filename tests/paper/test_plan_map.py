"""The map of the walls: corners, three dimensions and north from plane geometry worked by hand."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from itertools import combinations
from pathlib import Path

import pytest

from tests.walls import house, wall
from warmside.job.read import read_job
from warmside.job.resolve import HouseWall, resolve
from warmside.paper.drawing import Dimension, Drawing, Polyline, Text, dimension_parts, text_window
from warmside.paper.plan_map import NoWallsError, orientation, orientation_picture, wall_points
from warmside.say import Voice

DEMO = Path(__file__).parent.parent.parent / "demo"
FT = 304.8
SCALE = 150.0


def walls_of(*legs: tuple[str, str, str | None], facing: str | None = None) -> tuple[HouseWall, ...]:
    """Walls of these names, lengths and turns; the first one's facing."""
    made = [
        wall(name=name, length=length, turn=turn, facing=facing if number == 0 else None)
        for number, (name, length, turn) in enumerate(legs)
    ]
    return house(*made).walls


# An L: 20 ft, in 8, along 10 (the corner between B and C sticks out into the room), down 12, back 30, up 20.
L = (
    ("A", "20 ft", "right"),
    ("B", "8 ft", "left"),
    ("C", "10 ft", "right"),
    ("D", "12 ft", "right"),
    ("E", "30 ft", "right"),
    ("F", "20 ft", "right"),
)


def texts(drawing: Drawing, scale: float) -> list[Text]:
    parts = [
        part
        for item in drawing.items
        for part in (dimension_parts(item, scale) if isinstance(item, Dimension) else (item,))
    ]
    return [part for part in parts if isinstance(part, Text) and part.text]


def demo(job: str) -> tuple[HouseWall, ...]:
    read = read_job(DEMO / job)
    assert read.survey is not None
    return resolve(read.survey).walls


def test_a_corner_that_sticks_out_comes_out_right() -> None:
    corners = [(0, 0), (20, 0), (20, -8), (30, -8), (30, -20), (0, -20), (0, 0)]
    found = [(round(x / FT, 6), round(y / FT, 6)) for x, y in wall_points(walls_of(*L))]
    assert found == corners


def test_three_dimensions_are_told() -> None:
    drawing = orientation(walls_of(*L), Voice(), SCALE)
    said = [text.text.replace("\n", " ") for text in texts(drawing, SCALE)]
    assert "30' 0\"" in said
    assert "20' 0\"" in said
    assert "7' 9\" from floor to top of concrete." in said


def test_every_name_stands_on_the_room_side() -> None:
    drawing = orientation(walls_of(*L), Voice(), SCALE)
    places = {
        text.text: text_window(text, SCALE).centre for text in texts(drawing, SCALE) if len(text.text) == 1
    }
    assert set("ABCDEF") <= set(places)
    inside = {name: (x / FT, y / FT) for name, (x, y) in places.items()}
    assert inside["A"][1] < 0
    assert inside["B"][0] < 20
    assert inside["C"][1] < -8
    assert inside["D"][0] < 30
    assert inside["E"][1] > -20
    assert inside["F"][0] > 0


@pytest.mark.parametrize(("facing", "way"), [("N", (0, 1)), ("E", (-1, 0)), ("S", (0, -1)), ("W", (1, 0))])
def test_north_is_where_the_facing_says(facing: str, way: tuple[int, int]) -> None:
    # The first wall runs to the right and faces up the sheet.
    drawing = orientation(walls_of(*L, facing=facing), Voice(), SCALE)
    head = next(item for item in drawing.items if isinstance(item, Polyline) and item.layer == "north")
    (x, y), *sides = head.points
    middle = (sum(p[0] for p in sides) / 2, sum(p[1] for p in sides) / 2)
    reach = 1.8 * SCALE + 0.5
    found = ((x - middle[0]) / reach, (y - middle[1]) / reach)
    assert (round(found[0]), round(found[1])) == way


def test_without_turns_the_walls_stand_in_a_row_and_it_is_said() -> None:
    row = walls_of(("A", "20 ft", None), ("B", "10 ft", None))
    assert [x / FT for x, _ in wall_points(row)] == pytest.approx([0, 20, 30])
    assert any("in a row" in text.text for text in texts(orientation(row, Voice(), SCALE), SCALE))


@pytest.mark.parametrize(("job", "voice"), [("birch-lane", Voice()), ("kadaka-cellar", Voice("mm"))])
def test_the_demo_maps_fit_and_no_text_overlaps(job: str, voice: Voice) -> None:
    walls = demo(job)
    picture = orientation_picture(walls, voice, 85.0, 65.0)
    root = ElementTree.fromstring(picture.svg)
    assert float(root.get("width", "").removesuffix("mm")) <= 85.0
    assert float(root.get("height", "").removesuffix("mm")) <= 65.0
    drawing = orientation(walls, voice, picture.scale)
    boxes = [text_window(text, picture.scale) for text in texts(drawing, picture.scale)]
    assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))
    assert {wall.name for wall in walls} <= {text.text for text in texts(drawing, picture.scale)}
    assert picture == orientation_picture(walls, voice, 85.0, 65.0)


def test_long_names_do_not_overlap() -> None:
    walls = walls_of(*((f"Wall in room {name}", length, turn) for name, length, turn in L))
    drawing = orientation(walls, Voice(), 250.0)
    boxes = [text_window(text, 250.0) for text in texts(drawing, 250.0)]
    assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))


def test_no_walls_are_refused() -> None:
    with pytest.raises(NoWallsError, match="no wall has a length"):
        orientation((), Voice())
