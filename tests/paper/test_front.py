"""The front sheet of jobs that know little: what is said of a wall, of an order and of who measured."""

from __future__ import annotations

from typing import Any

import pytest

from tests import walls as w
from warmside.answers import answer
from warmside.job.survey import FoundationKind, Survey
from warmside.paper.front import FrontSheet, front_content
from warmside.say import Voice

VOICE = Voice()


def front(survey: Survey) -> FrontSheet:
    return front_content(answer(survey), VOICE, "2026-11-25")


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        ("poured concrete", "Concrete"),
        ("stone", "Stone, computed as poured concrete"),
        ("concrete block", "Concrete block, computed as poured concrete"),
    ],
)
def test_the_wall_is_called_what_it_is(kind: FoundationKind, name: str) -> None:
    (built,) = front(w.survey(w.wall(), foundation={"kind": kind})).build_ups
    assert built.layers[-1].name == name


def test_a_moisture_barrier_is_told_where_there_is_ground_alone() -> None:
    # Chosen for the whole house; the order leaves it out at a garage, where nothing damp lies outside.
    job = w.survey(w.wall(), w.wall(name="B", exposure="garage"))
    soil, garage = (" ".join(step.told for step in built.layers) for built in front(job).build_ups)
    assert "only up to the ground line" in soil
    assert "ground line" not in garage


@pytest.mark.parametrize(
    ("wall", "lacks", "unanswered"),
    [
        ({"name": "A"}, "nothing yet: no wall has a length and a height", "not yet: no wall is measured"),
        (
            {"name": "A", "length": "9 ft", "height": "8 ft"},
            "nothing yet: no wall has a frame",
            "not yet: no wall has a frame",
        ),
    ],
)
def test_what_is_empty_is_told_as_not_answered(wall: dict[str, Any], lacks: str, unanswered: str) -> None:
    sheet = front(w.survey(wall))
    assert sheet.buy.last[1] == lacks
    asked = {question.text: question for question in sheet.questions}
    for text in ("What goes in the wall?", "What is it really worth?", "What do we buy?"):
        assert (asked[text].answered, asked[text].state) == (False, unanswered)
    assert asked["May we start?"].answered


def test_rules_that_nobody_can_tell_are_not_answered() -> None:
    asked = {question.text: question for question in front(w.survey({"name": "A"})).questions}
    assert not asked["Does it meet the rules?"].answered


@pytest.mark.parametrize(
    ("people", "told"),
    [
        ({"measured_by": "Ann", "measured_on": "2 May"}, "Measured by Ann, 2 May"),
        ({"measured_by": "Ann"}, "Measured by Ann"),
        ({"measured_on": "2 May"}, ""),
    ],
)
def test_who_measured_stands_at_the_top(people: dict[str, Any], told: str) -> None:
    assert front(w.survey(w.wall(), people=people)).head.lines[1] == told


def test_a_level_one_job_has_all_that_is_promised_for_it() -> None:
    # Stops, build-up, R on the label and in the wall, bags, what was assumed, what to measure next.
    walk = w.survey(
        {"name": "A", "length": "30 ft"},
        every_wall={"height": "88 in", "frame": {"state": "planned"}, "counts": {"window": 3, "door": 1}},
        looked_at={"mould": "yes"},
    )
    sheet = front(walk)
    assert sheet.start.startswith("STOP.")
    assert sheet.found[0].startswith("Is there mould")
    assert len(sheet.build_ups[0].layers) >= 5
    assert sheet.worth is not None
    assert sheet.worth.under.startswith("R12 on the bag, about R")
    assert any("bag" in row[1] for row in sheet.buy.rows)
    assert any("Not looked at yet" in line for line in sheet.found)
    assert sheet.left_out.startswith("Not counted here: studs")
    assert any("Measure before you buy" in line for line in sheet.warnings)
    assert any("window: width 32" in one.text for one in sheet.assumed)
    assert 1 <= len(sheet.measure) <= 3


def test_a_frame_that_runs_past_a_corner_is_told() -> None:
    # At a left turn the frame of the first wall runs on to the face of the next one: gap and stud, 4-1/4 in.
    gap = {"gap": ["3/4 in", "3/4 in"]}
    out, square = (
        front(w.survey(w.wall(turn=turn, **gap), w.wall(name="B", **gap))) for turn in ("left", "right")
    )
    assert out.worth is not None
    assert square.worth is not None
    assert out.worth.lines[-1].startswith("Wall A: round the corner that sticks out, concrete is counted")
    assert not any("round the corner" in line for line in square.worth.lines)
