"""The wall as one stands before it: true to scale, every bay told once, no text over another."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections import Counter
from functools import cache
from io import StringIO
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from hypothesis import given, settings

from tests.walls import house, standing, wall, walls
from warmside.answers import WallAnswer, answer
from warmside.catalog.kinds import kinds
from warmside.cutting.pieces import fill_bay, fill_rim
from warmside.job.read import read_job
from warmside.job.resolve import HouseWall
from warmside.paper.drawing import (
    Circle,
    Dimension,
    Drawing,
    Line,
    Rect,
    Text,
    Window,
    dimension_parts,
    shape_window,
    text_window,
)
from warmside.paper.dxf import dxf
from warmside.paper.elevation import ALONE, Beside, beside, drawn_pages, elevation, pages, whole
from warmside.paper.pages import A4, LETTER
from warmside.paper.svg import lost_texts
from warmside.paper.wall_shapes import (
    corner_windows,
    empty_places,
    ground_line,
    needs_drawing,
    taken_window,
    wall_window,
)
from warmside.say import Voice
from warmside.study.r_value import wall_worth
from warmside.units import INCH, MM
from warmside.wall.in_the_way import Box

DEMO = Path(__file__).parent.parent.parent / "demo"
JOBS = {"birch-lane": Voice("ft-in"), "kadaka-cellar": Voice("mm")}
IN = 25.4


@cache
def demo(job: str) -> tuple[WallAnswer, ...]:
    read = read_job(DEMO / job)
    assert read.survey is not None
    return answer(read.survey).walls


def answered(wall: HouseWall) -> WallAnswer:
    """Everything that is drawn of a wall."""
    wall, built = standing(wall)
    fills = tuple(fill_bay(wall, bay) for bay in built.bays)
    rim = tuple(piece for bay in built.rim_bays for piece in fill_rim(wall, bay))
    return WallAnswer(wall, built, fills, rim, wall_worth(USUAL, wall, built, fills))


USUAL = house(wall())


def one(**fields: Any) -> WallAnswer:
    """A wall by itself, its frame from end to end."""
    return answered(house(wall(**fields)).walls[0])


def demo_walls() -> list[Any]:
    return [
        pytest.param(job, n, id=f"{job} {each.wall.name}") for job in JOBS for n, each in enumerate(demo(job))
    ]


def texts(drawing: Drawing, scale: float, window: Window | None = None) -> list[Text]:
    """All texts, those of dimensions too."""
    parts = [
        part
        for item in drawing.items
        for part in (dimension_parts(item, scale, window) if isinstance(item, Dimension) else (item,))
    ]
    return [part for part in parts if isinstance(part, Text) and part.text]


def overlapping(drawing: Drawing, scale: float, window: Window | None = None) -> list[tuple[str, str]]:
    boxes = [(text.text, text_window(text, scale)) for text in texts(drawing, scale, window)]
    return [(a, b) for (a, one), (b, other) in combinations(boxes, 2) if one.overlaps(other)]


def rects(drawing: Drawing, layer: str) -> list[Rect]:
    return [item for item in drawing.items if isinstance(item, Rect) and item.layer == layer]


# ---- true to scale -----------------------------------------------------------------------------------------


def test_studs_stand_where_the_tape_says() -> None:
    # Trade custom: first stud at the end, the second centred at 16 in, so its edge is at 15-1/4; 1-1/2 wide.
    wall = one(length="8 ft", frame={"state": "standing", "studs": "2x4", "spacing": "16 in"})
    found = [stud.x for stud in sorted(rects(elevation(wall, Voice()), "stud"), key=lambda r: r.x)]
    assert found == pytest.approx([x * IN for x in (0.0, 15.25, 31.25, 47.25, 63.25, 79.25, 94.5)], abs=1e-9)


@pytest.mark.parametrize(("job", "n"), demo_walls())
def test_every_stick_is_drawn_at_its_length_over_160(job: str, n: int) -> None:
    each = demo(job)[n]
    drawing = elevation(each, JOBS[job])
    level = [m for m in each.built.members if not m.rise]
    wanted = sorted((m.left, m.bottom, m.right - m.left, m.top - m.bottom) for m in level)
    found = [r for name in sorted({m.name for m in level}) for r in rects(drawing, name)]
    drawn = sorted(tuple(round(mm * 160, 6) for mm in (r.x, r.y, r.width, r.height)) for r in found)
    assert drawn == wanted


def test_a_page_is_one_twentieth() -> None:
    # Studs at 16 in on centre are 16 x 25.4 / 20 = 20.32 mm apart on paper, and as wide as 38.1 / 20.
    page = pages(one(length="8 ft"), Voice())[0]
    root = ElementTree.fromstring(page.svg)
    space = "{http://www.w3.org/2000/svg}"
    group = next(g for g in root.iter(f"{space}g") if g.get("data-layer") == "stud")
    studs = sorted((float(r.get("x", "")), float(r.get("width", ""))) for r in group.iter(f"{space}rect"))
    assert page.scale == 20
    assert [b[0] - a[0] for a, b in pairwise(studs[1:-1])] == pytest.approx([20.32] * 4, abs=2e-3)
    assert {width for _, width in studs} == {1.905}


def test_a_sloping_plate_is_drawn_sloping() -> None:
    each = one(height=["93 in", "81 in"])
    plate = next(m for m in each.built.members if m.name == "top plate")
    shape = next(i for i in elevation(each, Voice()).items if i.layer == "top plate")
    assert plate.rise == -12 * INCH
    assert shape.points[1][1] - shape.points[0][1] == pytest.approx(-12 * IN)  # type: ignore[union-attr]


@pytest.mark.parametrize(("job", "n"), demo_walls())
def test_ground_line_passes_through_the_survey_points(job: str, n: int) -> None:
    wall = demo(job)[n].wall
    line = ground_line(wall)
    for profile in (wall.height, wall.showing):
        for point in profile.points:
            at = wall.length if point.at is None else point.at
            ground = max(0, wall.height.at(at, wall.length) - wall.showing.at(at, wall.length))
            if line[0][0] <= at / MM <= line[-1][0]:
                assert _height_at(line, at / MM) == pytest.approx(ground / MM, abs=0.02)


def _height_at(line: tuple[tuple[float, float], ...], x: float) -> float:
    (x0, y0), (x1, y1) = next(pair for pair in pairwise(line) if pair[0][0] <= x <= pair[1][0])
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)


def test_ground_that_falls_below_the_floor_meets_it_at_the_right_place() -> None:
    # 90 in of concrete, showing 60 at the left and 120 at the right: the ground is at the floor half way.
    line = ground_line(one(length="20 ft", height="90 in", concrete_showing=["60 in", "120 in"]).wall)
    assert line == ((0.0, 30 * IN), (120 * IN, 0.0), (240 * IN, 0.0))


# ---- every answer once -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("job", "n"), demo_walls())
def test_every_bay_is_told_once(job: str, n: int) -> None:
    each, voice = demo(job)[n], JOBS[job]
    drawing = elevation(each, voice)
    assert _told(drawing) == Counter(_expected(each, voice))
    _, drawn = drawn_pages(each, voice)
    assert sum((_told(page.drawing) for page in drawn), Counter()) == Counter(_expected(each, voice))


def _told(drawing: Drawing) -> Counter[str]:
    """Words of numbers and R in the bays, those of flags taken apart."""
    found: list[str] = []
    for text in texts(drawing, 20.0):
        if text.layer in ("bay numbers", "R"):
            said = " ".join(text.text.split()).partition(",")[0]
            found += said.replace("RSI ", "RSI_").split()
    return Counter(word.replace("RSI_", "RSI ") for word in found)


def _expected(each: WallAnswer, voice: Voice) -> list[str]:
    numbers = [str(fill.bay.number) for fill in each.fills]
    return numbers + [voice.show("R", worth.resistance) for worth in each.worth.bays]


def test_number_and_r_stand_in_their_own_bay() -> None:
    each = demo("birch-lane")[0]
    drawing = elevation(each, Voice())
    for text in texts(drawing, 20.0):
        if text.layer == "bay numbers" and text.text.isdigit():
            bay = each.built.bays[int(text.text) - 1]
            box = text_window(text, 20.0)
            assert bay.left / MM <= box.left
            assert box.right <= bay.right / MM


@pytest.mark.parametrize("kind", sorted(kinds()))
def test_every_kind_of_thing_has_a_word_and_is_drawn_true(kind: str) -> None:
    thing = {"kind": kind, "from_left": "70 in", "up": "20 in", "width": "9 in", "height": "16 in"}
    each = one(in_the_way=[thing], frame={"state": "planned", "studs": "2x4", "spacing": "16 in"})
    drawing = elevation(each, Voice())
    word = Voice().line(f"drawing.thing.{kind}").split(",")[0]
    said = [text for text in texts(drawing, 20.0) if text.layer == kind]
    assert len(said) == 1
    assert word.split()[0] in said[0].text
    placed = each.wall.in_the_way[0]
    shown = [i for i in drawing.items if i.layer == kind and isinstance(i, Rect | Line)]
    assert len(shown) == 1
    box = shape_window(shown[0])
    middle = (placed.bottom + placed.top) / 2 / MM
    is_line = isinstance(shown[0], Line)
    low, high = (middle, middle) if is_line else (placed.bottom / MM, placed.top / MM)
    true = (placed.left / MM, low, placed.right / MM, high)
    assert (box.left, box.bottom, box.right, box.top) == pytest.approx(true, abs=1e-6)


def test_a_box_without_a_wrap_has_a_mark_and_words() -> None:
    box = {"kind": "electrical box", "from_left": "20 in", "up": "12 in"}
    bare, wrapped = (one(in_the_way=[{**box, "wrap": wrap}]) for wrap in ("none", "wrapped"))
    marked, plain = (elevation(each, Voice()) for each in (bare, wrapped))
    assert any(item.style == "solid" and item.layer == "electrical box" for item in marked.items)
    assert any("no wrap" in text.text for text in texts(marked, 20.0))
    assert not any(item.style == "solid" and item.layer == "electrical box" for item in plain.items)
    assert not any("no wrap" in text.text for text in texts(plain, 20.0))


def test_the_same_width_is_said_once() -> None:
    # 240 in of frame, studs at 16: 15-1/4 - 1-1/2, 13 times 16 - 1-1/2, and 238-1/2 - 224-3/4 are left.
    chain = [t.text for t in texts(elevation(one(), Voice()), 20.0) if t.layer == "dimensions"]
    assert chain == ["20' 0\" of frame", '13-3/4"', '13 bays at 14-1/2"', '13-3/4"']


def test_a_bay_whose_pieces_are_drawn_has_a_ring_or_says_so() -> None:
    for each in demo("birch-lane"):
        drawing = elevation(each, Voice())
        rings = [
            item.centre for item in drawing.items if isinstance(item, Circle) and item.style == "outline"
        ]
        flags = [t.text for t in texts(drawing, 20.0) if "own drawing" in t.text]
        for fill in each.fills:
            left, right = fill.bay.left / MM, fill.bay.right / MM
            ringed = any(left < x < right for x, _ in rings)
            flagged = any(flag.split()[0] == str(fill.bay.number) for flag in flags)
            assert (ringed or flagged) == needs_drawing(fill)


def test_where_a_frame_is_in_front_it_says_whose() -> None:
    answers = demo("birch-lane")
    first = beside(answers, answers[0])
    assert first.left is not None
    assert (first.left.name, first.right and first.right.name) == ("H", "B")
    # B ends in a corner that sticks out, so nothing stands in front of it there.
    assert beside(answers, answers[1]).right is None
    said = [t.text for t in texts(elevation(answers[0], Voice(), first), 20.0)]
    assert "frame of wall H" in said
    assert "frame of wall B in front" in said


def test_a_neighbour_in_front_covers_the_depth_of_its_studs() -> None:
    answers = demo("birch-lane")
    _, right = corner_windows(answers[0].wall, beside(answers, answers[0]))
    assert right is not None
    assert right.width == pytest.approx(3.5 * IN)


@pytest.mark.parametrize("job", sorted(JOBS))
def test_empty_places_are_marked_or_lie_in_what_a_thing_takes(job: str) -> None:
    for each in demo(job):
        marked = [window_of(box) for box in empty_places(each)]
        taken = [taken_window(each.wall, thing).grown(1.0) for thing in each.wall.in_the_way]
        for void in (v for fill in each.fills for v in fill.voids if v.why != "in front"):
            x, y = window_of(void.box).centre
            assert any(area.holds(Window(x, y, x, y)) for area in [*marked, *taken])


def window_of(box: Box) -> Window:
    return Window(box.left / MM, box.bottom / MM, box.right / MM, box.top / MM)


def test_a_strip_too_narrow_for_a_batt_is_marked_empty() -> None:
    # The panel is 13 in wide and sits at the left of a bay of 14-1/2: with 25 mm kept clear, 1/2 in is left.
    panel = {"kind": "service panel", "from_left": "16-3/4 in", "up": "40 in", "width": "13 in"}
    each = one(in_the_way=[panel])
    drawing = elevation(each, Voice())
    strips = rects(drawing, "stays empty")
    assert len(strips) == 1
    assert (strips[0].x, strips[0].width) == pytest.approx(((29.75 * IN) + 25, 0.015625 * IN), abs=1.5 * IN)


# ---- texts never overlap -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("job", "n"), demo_walls())
def test_no_text_of_a_demo_wall_overlaps(job: str, n: int) -> None:
    each, voice, next_to = demo(job)[n], JOBS[job], beside(demo(job), demo(job)[n])
    assert overlapping(elevation(each, voice, next_to), 20.0) == []
    layout, drawn = drawn_pages(each, voice, LETTER, next_to)
    for page in drawn:
        assert overlapping(page.drawing, layout.scale, page.window) == []
        assert lost_texts(page.drawing, layout.scale, [page.window]) == ()


@pytest.mark.parametrize("system", ["ft-in", "mm"])
@settings(max_examples=50)
@given(wall=walls())
def test_no_text_of_a_random_wall_overlaps(system: Any, wall: HouseWall) -> None:
    each = answered(wall)
    assert overlapping(elevation(each, Voice(system)), 20.0) == []


@settings(max_examples=15)
@given(walls())
def test_pages_of_a_random_wall_lose_nothing(wall: HouseWall) -> None:
    each = answered(wall)
    layout, drawn = drawn_pages(each, Voice())
    bays: Counter[str] = Counter()
    for page in drawn:
        assert page.window.width / layout.scale <= LETTER.area[0] + 1e-6
        assert lost_texts(page.drawing, layout.scale, [page.window]) == ()
        bays += _told(page.drawing)
    assert bays == Counter(_expected(each, Voice()))


# ---- pages, SVG, DXF ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("job", "n"), demo_walls())
def test_svg_is_well_formed_and_the_same_every_time(job: str, n: int) -> None:
    each, voice = demo(job)[n], JOBS[job]
    first, second = (pages(each, voice, A4) for _ in range(2))
    assert first == second
    for picture in first:
        root = ElementTree.fromstring(picture.svg)
        assert float(root.get("width", "").removesuffix("mm")) <= A4.area[0] + 1e-6
        assert float(root.get("height", "").removesuffix("mm")) <= A4.area[1] + 1e-6
        assert f"1:{picture.scale:g} when printed at 100 %" in picture.svg
        assert picture.told in {d.text for d in root.iter("{http://www.w3.org/2000/svg}desc")}


def test_each_page_says_its_bays() -> None:
    first, second = pages(demo("birch-lane")[0], Voice())
    assert "Part 1 of 2: bays 1 to 10." in first.told
    assert "Part 2 of 2: bays 11 to 20." in second.told
    assert "Bay 1," in first.told
    assert "Bay 1," not in second.told


def test_the_bar_is_as_long_as_it_says() -> None:
    # 3 ft at 1:20 is 45.72 mm, 1-13/16 in on paper; 1 m at 1:25 is 40 mm.
    feet = whole(one(length="8 ft"), Voice())
    metre = whole(one(length="8 ft"), Voice("mm"), scale=25.0)
    assert "3&#x27; 0&quot; on the wall = 1-13/16&quot; on paper" in feet.svg
    assert "1000 mm on the wall = 40 mm on paper" in metre.svg
    steps = rects(drawn_pages(one(length="8 ft"), Voice())[1][0].drawing, "title")
    assert sum(r.width for r in steps) == pytest.approx(3 * 12 * IN)


@pytest.mark.parametrize("job", sorted(JOBS))
def test_dxf_audits_clean(job: str) -> None:
    each = demo(job)[0]
    written = dxf(elevation(each, JOBS[job], beside(demo(job), each)), 20.0)
    audit = ezdxf.read(StringIO(written)).audit()  # type: ignore[attr-defined]
    assert [error.message for error in audit.errors] == []


def test_a_wall_without_a_frame_is_drawn_too() -> None:
    bare = one(frame={"state": "none"}, in_the_way=[{"kind": "cable", "up": "20 in"}])
    said = [text.text for text in texts(elevation(bare, Voice()), 20.0)]
    assert "no frame" in said
    assert overlapping(elevation(bare, Voice()), 20.0) == []
    assert wall_window(bare.wall).width == pytest.approx(240 * IN)


def test_walls_alone_have_no_neighbours() -> None:
    assert Beside(None, None) == ALONE
    alone = demo("birch-lane")[:1]
    assert beside(alone, alone[0]) == ALONE


@pytest.mark.parametrize(("job", "n"), demo_walls())
def test_the_word_for_the_neighbours_frame_hides_no_stud(job: str, n: int) -> None:
    each, voice, next_to = demo(job)[n], JOBS[job], beside(demo(job), demo(job)[n])
    layout, drawn = drawn_pages(each, voice, LETTER, next_to)
    for page in drawn:
        studs = [rect.window for rect in rects(page.drawing, "stud")]
        said = [t for t in texts(page.drawing, layout.scale, page.window) if t.layer == "neighbouring frame"]
        boxes = [text_window(text, layout.scale) for text in said]
        assert not any(box.overlaps(stud) for box in boxes for stud in studs)
