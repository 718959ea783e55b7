"""What holds for every wall, and things only counted: own values first, totals kept."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests import walls as w
from tests.walls import inch
from warmside.answers import answer
from warmside.job.every_wall import ALL_WALLS, house_counts, shared_out, spread
from warmside.job.resolve import Side, resolve
from warmside.job.survey import Survey

COMMON: dict[str, Any] = {
    "height": "88 in",
    "concrete_showing": ["6 in", "20 in"],
    "gap": ["1/2 in", "1 in"],
    "exposure": "soil",
    "frame": {"state": "planned", "studs": "2x4", "spacing": "16 in"},
    "rim": {"height": "9-1/4 in", "joists": "land here"},
}


def job(*walls: dict[str, Any], **common: Any) -> Survey:
    return w.survey(*walls, every_wall={**COMMON, **common})


def test_a_wall_takes_what_it_does_not_say_itself() -> None:
    own = {"name": "B", "length": "16 ft", "height": "90 in", "frame": {"spacing": "24 in"}}
    first, second = spread(job({"name": "A", "length": "20 ft"}, own)).wall
    assert first.height is not None
    assert second.height is not None
    assert (first.height.most, second.height.most) == (inch(88), inch(90))
    assert (first.frame.spacing, second.frame.spacing) == (inch(16), inch(24))
    assert (first.frame.state, second.frame.state, second.frame.studs) == ("planned", "planned", "2x4")
    assert first.rim.joists == second.rim.joists == "land here"


@pytest.mark.parametrize(("side", "showing"), [(Side.NOMINAL, 13), (Side.STRICTER, 20), (Side.LARGER, 6)])
def test_of_what_shows_outside_each_side_takes_its_end(side: Side, showing: float) -> None:
    # The mean of 6 and 20 in; more of it is worse for the rules, less of it takes more membrane.
    wall = resolve(job({"name": "A", "length": "20 ft"}), side).walls[0]
    assert (wall.showing.least, wall.showing.most) == (inch(showing), inch(showing))


def test_all_of_a_wall_that_is_not_in_the_soil_shows() -> None:
    wall = resolve(job({"name": "A", "length": "20 ft", "exposure": "garage"})).walls[0]
    assert wall.showing.least == inch(88)


def test_one_total_length_is_one_wall() -> None:
    house = resolve(job(total_length="80 ft"))
    assert [(wall.name, wall.length) for wall in house.walls] == [(ALL_WALLS, inch(960))]
    assert house.level == 1


def test_bays_that_hold_for_every_wall_are_no_measured_bays() -> None:
    walls = resolve(
        job(
            {"name": "A", "length": "20 ft"},
            {"name": "B", "length": "20 ft", "frame": {"spacing": "16 in"}},
        )
    ).walls
    assert [wall.level for wall in walls] == [1, 2]


def test_a_wall_with_things_only_counted_stays_at_level_1() -> None:
    wall = w.only(counts={"window": 1})
    assert (wall.level, wall.unplaced) == (1, ("window x 1",))


def test_counts_of_boxes_order_hats() -> None:
    walls = ({"name": n, "length": "20 ft"} for n in "AB")
    found = answer(job(*walls, counts={"electrical box": 9, "window": 3}))
    assert [line.packages for line in found.order.lines if line.good.id == "vapour hat"] == [9]
    told = [note for note in found.warnings if note.code == "doubt.counted"]
    assert [note.args["things"] for note in told] == ["electrical box x 9, window x 3"]


def test_what_is_placed_or_counted_on_a_wall_is_part_of_the_houses_count() -> None:
    box = {"kind": "electrical box", "from_left": "30 in", "up": "12 in", "wrap": "none"}
    survey = job(
        {"name": "A", "length": "20 ft", "in_the_way": [box, box]},
        {"name": "B", "length": "20 ft", "counts": {"electrical box": 3}},
        counts={"electrical box": 9},
    )
    assert house_counts(survey) == {"electrical box": 4}
    hats = [line.packages for line in answer(survey).order.lines if line.good.id == "vapour hat"]
    assert hats == [9]


def test_a_count_of_the_house_is_shared_by_length() -> None:
    # 26, 22, 26 and 22 ft of 96: of 11 windows 2.98, 2.52, 2.98 and 2.52; larger remainders get one more.
    lengths = zip("ABCD", ("26 ft", "22 ft", "26 ft", "22 ft"), strict=True)
    survey = job(*({"name": n, "length": length} for n, length in lengths), counts={"window": 11})
    assert [shared_out(survey)[name]["window"] for name in "ABCD"] == [3, 3, 3, 2]


@given(st.lists(st.integers(1, 400), min_size=1, max_size=8), st.integers(0, 200))
def test_shares_add_up(feet: list[int], count: int) -> None:
    walls = ({"name": str(n), "length": f"{length} ft"} for n, length in enumerate(feet))
    shares = shared_out(job(*walls, counts={"duct": count}))
    assert sum(share.get("duct", 0) for share in shares.values()) == count


def test_a_frame_that_leans_widens_the_gap_only() -> None:
    leaning = w.only(frame={**w.STANDING, "leans_in": "1 in"})
    straight = w.only()
    assert (leaning.gap.least, leaning.gap.most) == (straight.gap.least, straight.gap.most + inch(1))
    assert leaning.frame == straight.frame


def test_a_job_without_any_of_it_is_left_alone() -> None:
    survey = w.survey(w.wall())
    assert spread(survey) is survey
