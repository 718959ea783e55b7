"""Small hard jobs, each through the whole pipeline: no traceback, and the right thing said.

What is expected follows from the job's own lines: what is not poured concrete is told, a panel over studs
can't be, a wall against a garage has no ground line.
"""

from __future__ import annotations

from functools import cache

import pytest

from warmside.answers import Answers, NotYet, answer, results_json
from warmside.catalog.kinds import kinds
from warmside.job.read import read_bytes
from warmside.job.survey import Survey
from warmside.measure_next import measure_next
from warmside.say import Voice
from warmside.units import INCH

HEAD = 'format = 1\nname = "A small job"\nbare_numbers = "in"\n'
FRAME = 'frame = { state = "planned", studs = "2x4", spacing = 16, top_plates = 1 }\n'
STANDING = (
    'frame = { state = "standing", studs = "2x4", spacing = 16, layout_from = "left", top_plates = 1 }\n'
)
WALL = '[[wall]]\nname = "A"\nlength = "20 ft"\ngap = ["1/2", 1]\n'

JOBS = {
    "stepped wall": HEAD
    + WALL
    + FRAME
    + 'height = [[0, 88], ["10 ft", 88], ["10 ft 0-1/4 in", 48], ["20 ft", 48]]\n',
    "walk-out": HEAD + WALL + FRAME + 'exposure = "soil"\nheight = 88\nconcrete_showing = [8, 88]\n',
    "garage wall": HEAD + WALL + FRAME + 'exposure = "garage"\nheight = 88\n',
    "ledge": HEAD
    + WALL.replace('["1/2", 1]', '["4-1/2", 5]')
    + FRAME
    + 'height = 88\nin_the_way = [{ kind = "concrete ledge", up = 60, height = 4, depth = 4 }]\n',
    "block wall": HEAD + '[foundation]\nkind = "concrete block"\n' + WALL + FRAME + "height = 88\n",
    "curved corner": HEAD
    + "".join(
        f'[[wall]]\nname = "{name}"\nlength = "{length}"\nturn = "{turn}"\ngap = 1\nheight = 88\n{FRAME}'
        for name, length, turn in (
            ("A", "12 ft", "right 30"),
            ("B", "3 ft", "right 30"),
            ("C", "3 ft", "right 30"),
            ("D", "14 ft", "right"),
        )
    ),
    "two windows in one bay": HEAD
    + WALL
    + FRAME.replace("16", "24")
    + "height = 88\nin_the_way = [\n"
    + '  { kind = "window", from_left = 51, up = 60, width = 8, height = 16 },\n'
    + '  { kind = "window", from_left = 62, up = 60, width = 8, height = 16 },\n]\n',
    "panel over three bays": HEAD
    + WALL
    + STANDING
    + 'height = 88\nin_the_way = [{ kind = "service panel", from_left = 40, up = 40, width = 38 }]\n',
    "frame not plumb": HEAD + WALL + STANDING.replace(" }", ', leans_in = "1-1/2" }') + "height = 88\n",
    "everything unknown": HEAD + '[[wall]]\nname = "A"\n[[wall]]\nname = "B"\nlength = "unknown"\n',
    "second suite": HEAD + WALL + FRAME + 'exposure = "second suite"\nheight = 88\n',
    "old layers": HEAD
    + WALL
    + FRAME
    + "height = 88\nexisting = [\n"
    + '  { kind = "vapour barrier" }, { kind = "batt", state = "wet", then = "remove" },\n]\n',
}


@cache
def survey(name: str) -> Survey:
    read = read_bytes(JOBS[name].encode())
    assert [Voice().located(fault) for fault in read.faults] == []
    assert read.survey is not None
    return read.survey


@cache
def answers(name: str) -> Answers:
    return answer(survey(name))


def warned(name: str) -> list[str]:
    return [note.code for note in answers(name).warnings]


@pytest.mark.parametrize("name", JOBS)
def test_a_small_job_is_answered_and_all_of_it_can_be_said(name: str) -> None:
    found = answers(name)
    assert results_json(found.results).endswith(b"}\n")
    for note in (*found.warnings, *measure_next(survey(name))):
        assert Voice().located(note).strip()
        assert Voice("mm").located(note).strip()


def heights(name: str) -> list[int]:
    return [bay.height for bay in answers(name).walls[0].built.bays]


def test_a_stepped_wall_has_high_and_low_bays() -> None:
    # 88 in and 48 in of concrete and the sill, less two plates of 1-1/2 in: 86-1/2 and 46-1/2 in clear.
    clear = heights("stepped wall")
    assert clear[0] == 86.5 * INCH
    assert clear[-1] == 46.5 * INCH


def test_the_ground_of_a_walk_out_falls_to_the_floor() -> None:
    wall = answers("walk-out").walls[0].wall
    assert wall.ground(0) == 80 * INCH
    assert wall.ground(wall.length) == 0


def test_a_garage_wall_needs_no_moisture_barrier() -> None:
    found = answers("garage wall")
    assert found.walls[0].wall.ground(0) == 0
    assert "breather paper" not in {line.good.id for line in found.order.lines}


def test_a_ledge_in_the_gap_takes_nothing_from_the_batts() -> None:
    found = answers("ledge").walls[0]
    assert found.wall.in_the_way[0].far <= 0
    assert all(piece.cut_notches == () for piece in found.pieces)


def test_a_block_wall_is_told_and_computed_as_concrete() -> None:
    assert warned("block wall").count("doubt.concrete_block") == 1
    assert not isinstance(answers("block wall").results.answers.what_worth, NotYet)


def test_a_curved_corner_is_walls_that_turn_a_little() -> None:
    found = answers("curved corner")
    assert [each.wall.turn for each in found.walls] == [30.0, 30.0, 30.0, 90.0]
    # Behind a frame 1 in off and 3-1/2 in deep each side loses 4-1/2 in times tan 15 degrees: 1.2058 in.
    short = found.walls[1].wall
    assert short.frame is not None
    assert short.frame.end - short.frame.start == pytest.approx((36 - 2 * 1.2058) * INCH, abs=10)


def test_two_windows_in_one_bay_have_their_jambs() -> None:
    built = answers("two windows in one bay").walls[0].built
    names = [member.name for member in built.members]
    assert names.count("window sill") == names.count("window head") == 2
    for left, right in ((51, 59), (62, 70)):
        assert not any(a < right * INCH and left * INCH < b for a, b in built.studs)


def test_a_panel_over_three_bays_is_measured_wrong_or_the_studs_are() -> None:
    assert warned("panel over three bays").count("warning.stud_in_thing") == 2


def test_a_frame_out_of_plumb_widens_the_gap_and_is_told() -> None:
    # 1 in at most and 1-1/2 in of lean: 2-1/2 in, over the 25 mm of the rules.
    assert answers("frame not plumb").walls[0].wall.gap.most == 2.5 * INCH
    assert {"doubt.out_of_plumb", "warning.gap"} <= set(warned("frame not plumb"))


def test_where_everything_is_unknown_the_first_measures_are_asked_for() -> None:
    found = answers("everything unknown")
    assert found.house.unmeasured == ("A", "B")
    assert found.order.lines == ()
    asked = [note.code for note in measure_next(survey("everything unknown"))]
    assert asked == ["measure.length", "measure.height", "measure.frame_state"]


@pytest.mark.parametrize("exposure", ["second suite", "party wall"])
def test_a_neighbour_behind_the_wall_stops_first_of_all(exposure: str) -> None:
    text = JOBS["second suite"].replace("second suite", exposure)
    found = read_bytes(text.encode()).survey
    assert found is not None
    first = answer(found).warnings[0]
    assert Voice().text(first).startswith("STOP.")
    assert "Other rules apply" in Voice().text(first)
    assert "Ask the authority" in Voice().text(first)


def test_old_layers_are_asked_about_and_two_barriers_told() -> None:
    told = [code for code in warned("old layers") if code.startswith("doubt.")]
    assert told == ["doubt.existing_asked", "doubt.existing_wet", "doubt.two_barriers"]


@pytest.mark.parametrize("kind", kinds())
def test_a_thing_of_every_kind_goes_through(kind: str) -> None:
    text = f'in_the_way = [{{ kind = "{kind}", from_left = 60, up = 2 }}]\n'
    found = read_bytes((HEAD + WALL + FRAME + "height = 88\n" + text).encode()).survey
    assert found is not None
    placed = answer(found).walls[0].wall.in_the_way
    assert [thing.kind.name for thing in placed] == [kind]
