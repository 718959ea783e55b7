"""Several walls on a sheet: each once, in order, within the paper, and no word over another."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.paper.test_elevation import JOBS, answered, demo, demo_walls, one, overlapping, texts
from tests.paper.test_hard_wall import hard
from tests.walls import STANDING, walls
from warmside.job.resolve import HouseWall
from warmside.paper.bay_numbers import SMALLEST, usual_width
from warmside.paper.elevation import ALONE, beside, small_drawn
from warmside.paper.svg import lost_texts
from warmside.paper.typeset import SHEETS
from warmside.paper.wall_sheets import GAP, SCALES, WallSheet, wall_sheets
from warmside.say import Voice


def sheets(job: str) -> tuple[WallSheet, ...]:
    return wall_sheets(demo(job), JOBS[job], SHEETS[JOBS[job].system])


@pytest.mark.parametrize("job", list(JOBS))
def test_every_wall_is_on_a_sheet_and_the_sheets_are_fewer_than_the_walls(job: str) -> None:
    pictures = [picture for sheet in sheets(job) for row in sheet.rows for picture in row]
    assert len(pictures) == len(demo(job))
    assert len(sheets(job)) <= -(-len(demo(job)) // 2)


@pytest.mark.parametrize("job", list(JOBS))
def test_rows_and_key_fit_on_the_sheet(job: str) -> None:
    width, height = SHEETS[JOBS[job].system].area
    for sheet in sheets(job):
        assert sheet.key is not None
        high = [max(picture.height for picture in row) for row in sheet.rows]
        assert sum(high) + GAP * len(high) + sheet.key.height <= height
        for row in sheet.rows:
            assert sum(picture.width for picture in row) + 8.0 * (len(row) - 1) <= width


@pytest.mark.parametrize("scale", [min(SCALES), max(SCALES)])
@pytest.mark.parametrize(("job", "n"), demo_walls())
def test_no_text_of_a_small_demo_wall_overlaps_or_is_too_small(job: str, n: int, scale: int) -> None:
    each, voice = demo(job)[n], JOBS[job]
    drawn = small_drawn(each, voice, beside(demo(job), each), scale)
    assert overlapping(drawn.drawing, scale) == []
    assert lost_texts(drawn.drawing, scale, [drawn.window]) == ()
    assert min(text.size for text in texts(drawn.drawing, scale)) >= SMALLEST


@settings(max_examples=25)
@given(walls(), st.sampled_from(["ft-in", "mm"]), st.sampled_from(SCALES))
def test_no_text_of_a_small_random_wall_overlaps(wall: HouseWall, system: Any, scale: int) -> None:
    drawn = small_drawn(answered(wall), Voice(system), ALONE, scale)
    assert overlapping(drawn.drawing, scale) == []
    assert lost_texts(drawn.drawing, scale, [drawn.window]) == ()


@pytest.mark.parametrize("scale", SCALES)
def test_no_text_of_the_small_hard_wall_overlaps(scale: int) -> None:
    # Twelve things in six bays.
    drawn = small_drawn(answered(hard()), Voice(), ALONE, scale)
    assert overlapping(drawn.drawing, scale) == []
    assert lost_texts(drawn.drawing, scale, [drawn.window]) == ()


def test_the_hard_wall_has_a_sheet_with_every_thing_named() -> None:
    (sheet,) = wall_sheets([answered(hard())], Voice(), SHEETS["ft-in"])
    ((picture,),) = sheet.rows
    assert picture.width <= SHEETS["ft-in"].area[0]
    for word in ("service panel", "soil stack", "beam pocket", "gas line", "cleanout"):
        assert word in picture.told


@pytest.mark.parametrize(("job", "n"), demo_walls())
def test_each_bay_of_another_width_than_most_says_its_own(job: str, n: int) -> None:
    # In Birch Lane studs at 16 in leave 14-1/2 in; the first bay of a wall has 13-3/4.
    each, voice = demo(job)[n], JOBS[job]
    usual = usual_width(each, voice)
    wanted = [voice.line("drawing.one", width=fill.bay.width) for fill in each.fills]
    drawn = small_drawn(each, voice, beside(demo(job), each), 45.0)
    said = [text.text for text in texts(drawn.drawing, 45.0) if text.layer == "widths"]
    assert sorted(said) == sorted(width for width in wanted if width != usual)


def test_a_wall_with_all_bays_alike_says_so_once() -> None:
    # 16 in of frame is one bay between two studs of 1-1/2 in: 13 in.
    drawn = small_drawn(one(length="16 in", frame=STANDING), Voice(), ALONE, 45.0)
    told = " ".join(text.text for text in texts(drawn.drawing, 45.0)).replace("\n", " ")
    assert 'All bays 13" wide.' in told
    assert "unless marked" not in told
