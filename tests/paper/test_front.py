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


def test_without_a_frame_there_is_nothing_to_buy_yet_and_no_sum() -> None:
    assert front(w.survey({"name": "A"})).buy.last[1] == "nothing yet: no wall has a frame"


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
