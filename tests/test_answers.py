"""The whole pipeline: results.json against its schema, same bytes twice, faults told instead of raised."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from pydantic import BaseModel

from tests import walls as w
from tests.walls import inch
from warmside.answers import (
    SCHEMA,
    Answers,
    JobError,
    NotYet,
    WhatCut,
    WhatWorth,
    answer,
    build_up,
    input_id,
    results_json,
    results_schema,
)
from warmside.job.read import read_job
from warmside.job.resolve import Side, resolve
from warmside.job.survey import Survey
from warmside.say import Note, Voice
from warmside.units import INCH

ROOT = Path(__file__).parent.parent
COMMITTED = ROOT / "docs" / "results.schema.json"
DEMO = ROOT / "demo" / "birch-lane"
QUESTIONS = [
    "may_we_start",
    "what_goes_in",
    "meets_rules",
    "what_worth",
    "stays_dry",
    "what_saves",
    "what_buy",
    "what_cut",
    "who_when",
    "hand_over",
]
THINGS = [
    {"kind": "electrical box", "from_left": "21 in", "up": "12 in"},
    {"kind": "water pipe", "from_left": "40 in"},
    {"kind": "soil stack", "from_left": "72 in"},
    {"kind": "flue", "from_left": "150 in"},
    {"kind": "cable", "up": "40 in"},
]


def job(**top: Any) -> Survey:
    """A square house of four framed walls, one with things in the way and one with a window."""
    walls = [
        w.wall(name=name, length=length, turn="right", against="concrete", frame=w.PLANNED)
        for name, length in zip("ABCD", ["24 ft", "16 ft", "24 ft", "16 ft"], strict=True)
    ]
    walls[0]["in_the_way"] = THINGS
    walls[1]["in_the_way"] = [
        {"kind": "window", "from_left": "60 in", "up": "60 in", "width": "32 in", "height": "20 in"}
    ]
    return w.survey(*walls, **top)


def written(answers: Answers) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(results_json(answers.results))
    return found


def numbers(value: Any) -> Iterator[float]:
    if isinstance(value, dict):
        for inner in value.values():
            yield from numbers(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from numbers(inner)
    elif isinstance(value, float):
        yield value


def faults(*walls: dict[str, Any], **top: Any) -> list[Note]:
    """What is told about a job that can't be answered."""
    with pytest.raises(JobError) as raised:
        answer(w.survey(*walls, **top))
    return list(raised.value.faults)


# results.json

JOBS = {
    "measured": job(),
    "walked": w.survey(w.wall(frame={"state": "standing"}, in_the_way=[{"kind": "electrical box"}] * 3)),
    "no frame": w.survey(w.wall(frame={"state": "none"})),
    "nothing known": w.survey({"name": "A"}, {"name": "B"}),
    "no walls": w.survey(),
}


@pytest.mark.parametrize("name", JOBS)
def test_results_keep_to_their_schema(name: str) -> None:
    found = written(answer(JOBS[name]))
    Draft202012Validator.check_schema(results_schema())
    Draft202012Validator(results_schema()).validate(found)
    assert found["schema"] == SCHEMA == "warmside.results/0.6"
    assert set(found["answers"]) == set(QUESTIONS)


def test_the_schema_can_tell() -> None:
    found = written(answer(job()))
    found["answers"]["what_buy"]["complete"] = "yes"
    assert list(Draft202012Validator(results_schema()).iter_errors(found))


def test_the_committed_schema_is_the_one_in_use() -> None:
    # After a change: a new optional key raises MINOR in SCHEMA, all else MAJOR; then write the file anew.
    assert json.loads(COMMITTED.read_text("utf-8")) == results_schema()


@pytest.mark.parametrize("name", JOBS)
def test_the_same_input_gives_the_same_bytes(name: str) -> None:
    first = results_json(answer(JOBS[name]).results)
    again = results_json(answer(JOBS[name].model_copy(deep=True)).results)
    assert first == again
    assert first.endswith(b"}\n")


def test_another_process_gives_the_same_bytes() -> None:
    # Sets and dictionaries come in another order there.
    source = "; ".join(
        [
            "import pathlib, sys, warmside.answers as a",
            "from warmside.job.read import read_job",
            "sys.stdout.buffer.write(a.results_json(a.answer(read_job(pathlib.Path(sys.argv[1])).survey).results))",
        ]
    )
    survey = read_job(DEMO).survey
    assert survey is not None
    other = subprocess.run(
        [sys.executable, "-c", source, str(DEMO)],
        env={**os.environ, "PYTHONHASHSEED": "4711"},
        capture_output=True,
        check=True,
    )
    assert other.stdout == results_json(answer(survey).results)


@pytest.mark.parametrize("name", JOBS)
def test_no_number_is_missing_or_endless_and_none_has_more_than_six_digits(name: str) -> None:
    for number in numbers(written(answer(JOBS[name]))):
        assert math.isfinite(number)
        assert number == float(f"{number:.6g}")


def test_questions_without_an_answer_say_so() -> None:
    answers = answer(job()).results.answers
    silent = [key for key in QUESTIONS if isinstance(getattr(answers, key), NotYet)]
    assert silent == ["stays_dry", "what_saves", "who_when", "hand_over"]
    assert all(not getattr(answers, key).answered for key in silent)


def test_a_walked_through_job_has_no_cut_list() -> None:
    answers = answer(JOBS["walked"]).results
    assert answers.level == 1
    assert answers.answers.what_cut == NotYet(code="answer.not_measured")
    assert isinstance(answers.answers.what_worth, WhatWorth)
    assert answers.answers.what_buy.lines


def test_without_a_frame_there_is_no_worth_and_nothing_to_buy() -> None:
    answers = answer(JOBS["no frame"]).results.answers
    assert answers.what_worth == NotYet(code="answer.no_frame")
    assert answers.what_buy.lines == ()


@pytest.mark.parametrize("name", JOBS)
def test_every_sentence_of_an_answer_can_be_spoken(name: str) -> None:
    answers, voice = answer(JOBS[name]), Voice()
    notes = [
        *answers.warnings,
        *(a.note for a in answers.house.assumptions),
        *(x.basis for x in answers.order.lines),
    ]
    assert all(voice.located(note) for note in notes)
    told = answers.results.answers
    assert all(voice.line(each.code) for key in QUESTIONS if isinstance(each := getattr(told, key), NotYet))


def test_the_cut_list_is_of_the_measured_walls_only() -> None:
    measured = w.wall(against="concrete")
    walked = w.wall(name="B", frame={"state": "standing"})
    told = answer(w.survey(measured, walked)).results.answers.what_cut
    assert isinstance(told, WhatCut)
    assert {piece.id[0] for piece in told.pieces} == {"A"}
    alone = answer(w.survey(measured)).results.answers.what_cut
    assert told == alone


# The id of an input


def changed(value: Any) -> Iterator[Any]:
    """The value with one of the values in it changed, for each of them in turn; unknown ones are left out."""
    if isinstance(value, BaseModel):
        for name in type(value).model_fields:
            for other in changed(getattr(value, name)):
                yield value.model_copy(update={name: other})
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from ({**value, key: other} for other in changed(inner))
    elif isinstance(value, tuple):
        for n, inner in enumerate(value):
            yield from ((*value[:n], other, *value[n + 1 :]) for other in changed(inner))
    elif value is not None:
        yield f"{value}x" if isinstance(value, str) else value + 1


@pytest.mark.filterwarnings("ignore:Pydantic serializer warnings")
def test_the_id_changes_with_every_single_value_of_a_job() -> None:
    survey = read_job(DEMO).survey
    assert survey is not None
    others = [input_id(other) for other in changed(survey)]
    assert len(others) > 300
    assert len({input_id(survey), *others}) == len(others) + 1
    assert all(len(found) == 64 and int(found, 16) >= 0 for found in others)


def test_a_field_left_out_and_an_unknown_one_are_the_same() -> None:
    assert input_id(w.survey(w.wall(facing=None))) == input_id(w.survey(w.wall()))


# Figures


def test_the_worth_of_the_house_lies_between_those_of_its_walls() -> None:
    told = answer(job()).results.answers.what_worth
    assert isinstance(told, WhatWorth)
    walls = [each.whole.effective.value for each in told.walls if each.whole is not None]
    assert None not in walls
    assert told.walls_together.value is not None
    values = [value for value in walls if value is not None]
    assert min(values) < told.walls_together.value < max(values)
    assert told.nominal.value == 2.11
    assert all(abs(sum(bay.shares.values()) - 1.0) < 1e-9 for each in told.walls for bay in each.bays)


def test_the_lowest_label_is_the_nominal_one() -> None:
    own = w.wall(name="B", assembly={"batt": "R14 glass"})
    told = answer(w.survey(own, w.wall())).results.answers.what_worth
    assert isinstance(told, WhatWorth)
    assert told.nominal.value == 2.11


def test_unknowns_only_widen_the_range() -> None:
    known = answer(
        w.survey(w.wall(against="concrete"), foundation={"thickness": "8 in"})
    ).results.answers.what_worth
    bare = w.wall(against="concrete", frame={"state": "standing", "spacing": "16 in"})
    unknown = answer(w.survey(bare)).results.answers.what_worth
    assert isinstance(known, WhatWorth)
    assert isinstance(unknown, WhatWorth)
    assert known.walls_together.error is not None
    assert unknown.walls_together.error is not None
    assert known.walls_together.error.value == 0.0
    assert unknown.walls_together.error.value > 0.05


def test_the_order_is_never_smaller_than_the_likely_one() -> None:
    found = answer(JOBS["walked"])
    likely = {line.good.id: line.needed for line in found.likely_order.lines}
    assert all(line.needed >= likely.get(line.good.id, 0.0) for line in found.order.lines)
    assert set(likely) <= {line.good.id for line in found.order.lines}


def test_an_unknown_sill_makes_the_upright_seams_longer_and_the_likely_number_stays_known() -> None:
    # A sill nobody measured is 1-1/2 in if likely and 3 in if larger (assumptions.toml), and the frame goes
    # to its top: 4 walls with one upright seam of tape each take 4 x 1-1/2 in = 0.1524 m more.
    found = answer(w.survey(*(w.wall(name=name) for name in "ABCD")))
    firm, likely = (
        {line.good.id: line.needed for line in order.lines} for order in (found.order, found.likely_order)
    )
    assert firm["sheathing tape 60 mm"] - likely["sheathing tape 60 mm"] == pytest.approx(0.1524)
    told = found.results.answers.what_buy.lines
    assert [line.packages for line in told] == [line.packages for line in found.order.lines]
    assert [line.likely for line in told] == [line.packages for line in found.likely_order.lines]


def test_warnings_of_reading_come_first() -> None:
    note = Note("warning.closing", {"miss": inch(2), "walls": "A"})
    assert answer(job(), warnings=[note]).warnings == (note,)


@pytest.mark.parametrize(
    ("batt", "spacing", "shown"), [("R12 glass", "16 in", "15 in"), ("R12 glass", "24 in", "23 in")]
)
def test_the_build_up_shows_the_batt_that_fills_most_of_the_wall(batt: str, spacing: str, shown: str) -> None:
    made = w.wall(frame={**w.STANDING, "spacing": spacing})
    found = answer(w.survey(made, assembly={"batt": batt}))
    (each,) = found.walls
    assert f"{batt} {shown}" in [layer.name for layer in build_up(found.house, each)]


def test_a_wall_that_is_all_in_the_way_still_has_its_build_up() -> None:
    # A chimney wider than the frame: no piece goes in anywhere.
    chimney = {"kind": "chimney", "from_left": "0 in", "width": "240 in"}
    found = answer(w.survey(w.wall(in_the_way=[chimney])))
    (each,) = found.walls
    assert not [p for fill in each.fills for p in fill.pieces]
    assert "R12 glass 15 in" in [layer.name for layer in build_up(found.house, each)]


def test_rims_count_where_they_are_filled() -> None:
    framed, bare = w.wall(), w.wall(name="B", frame={"state": "none"})
    both, alone = (
        answer(w.survey(*walls)).results.answers.what_worth for walls in ([framed, bare], [framed])
    )
    assert isinstance(both, WhatWorth)
    assert isinstance(alone, WhatWorth)
    assert both.rims_together.value == alone.rims_together.value


# Warnings


def warned(*walls: dict[str, Any], **top: Any) -> list[tuple[str, str | None, str | None]]:
    found = answer(w.survey(*walls, **top)).warnings
    return [(note.code, note.where.wall, note.where.item) for note in found]


def test_a_good_survey_has_no_warning() -> None:
    assert answer(job()).warnings == ()


@pytest.mark.parametrize(
    ("gap", "told"), [("1 in", False), ("25.4 mm", False), ("26 mm", True), ("1-1/2 in", True)]
)
def test_an_inch_on_the_tape_is_the_25_mm_of_the_rules(gap: str, told: bool) -> None:
    assert (("warning.gap", "A", None) in warned(w.wall(gap=["1/2 in", gap]))) is told


def test_foam_board_takes_its_part_of_the_gap_or_does_not_fit() -> None:
    foam = {"foam_board": "XPS 25 mm"}
    assert warned(w.wall(gap=["1 in", "1-3/4 in"]), assembly=foam) == []
    assert warned(w.wall(gap=["3/4 in", "1-3/4 in"]), assembly=foam) == [("warning.foam_over_gap", "A", None)]


@pytest.mark.parametrize(
    ("left", "told"), [(29, False), (29.25, False), (30, True), (31.5, True), (32.25, False)]
)
def test_nothing_stands_where_a_stud_does(left: float, told: bool) -> None:
    # A stud from 31-1/4 to 32-3/4 in and a box of 2-1/4; half an inch is two readings of a tape.
    box = {"kind": "electrical box", "from_left": f"{left} in", "up": "12 in"}
    found = warned(w.wall(frame={**w.STANDING, "starts": "0 in"}, in_the_way=[box]))
    assert found == ([("warning.stud_in_thing", "A", "electrical box 1")] if told else [])


@pytest.mark.parametrize("kind", ["partition", "conduit", "cable"])
def test_what_passes_a_stud_is_no_warning(kind: str) -> None:
    thing = {"kind": kind, "from_left": "31 in", "up": "20 in"}
    assert warned(w.wall(in_the_way=[thing])) == []


def test_what_has_no_place_or_no_size_is_told() -> None:
    found = warned(w.wall(in_the_way=[{"kind": "flue"}]), {"name": "B"})
    assert found == [("warning.unmeasured", "B", None), ("warning.unplaced", "A", "flue 1")]


@pytest.mark.parametrize(("off", "told"), [(1.0, False), (1.25, True)])
def test_a_round_that_misses_by_more_than_an_inch_is_told(off: float, told: bool) -> None:
    lengths = [240 + off, 120, 240, 120]
    walls = [
        w.wall(name=name, length=f"{length} in", turn="right", against="concrete")
        for name, length in zip("ABCD", lengths, strict=True)
    ]
    notes = [note for note in answer(w.survey(*walls)).warnings if note.code == "warning.closing"]
    assert [dict(note.args) for note in notes] == ([{"miss": inch(off), "walls": "A, C"}] if told else [])


# Faults


def test_faults_of_all_walls_are_told_at_once_with_their_walls() -> None:
    odd = w.wall(name="North", frame={**w.STANDING, "odd_bays": {99: "10 in"}})
    short = w.wall(name="South", length="20 in", frame={**w.STANDING, "bays": ["14 in", "14 in"]})
    thick = w.wall(name="East", frame={**w.STANDING, "studs": "2x3"}, assembly={"batt": "R20 glass"})
    found = faults(odd, w.wall(), short, thick)
    assert [(note.code, note.where.wall) for note in found] == [
        ("fault.no_such_bay", "North"),
        ("fault.bays_too_long", "South"),
        ("fault.batt_too_thick", "East"),
    ]
    assert all(Voice().located(note).startswith("wall ") for note in found)


def test_a_batt_that_does_not_go_in_if_the_studs_are_thin_is_a_warning() -> None:
    # Studs not measured: 2x4 is likely, 2x3 the stricter reading, and R20 is over twice as thick as those.
    bare = w.wall(frame={"state": "standing", "spacing": "16 in"})
    found = answer(w.survey(bare, assembly={"batt": "R20 glass"}))
    (note,) = found.warnings
    assert (note.code, note.where.wall) == ("warning.unknown_matters", "A")
    assert note.args["why"].code == "fault.batt_too_thick"
    assert '2-1/2" of stud space' in Voice().located(note)


def test_bays_that_fit_one_reading_of_the_tape_are_a_warning() -> None:
    # Bays that add up on the concrete, 240 in: against stud faces the frame would be 3.5 in longer.
    walls = [w.wall(name=name, turn="right") for name in "ABCD"]
    frame = {**w.STANDING, "bays": [f"{(235 - 1.5 * 17) / 16} in"] * 16}
    walls[0] |= {"frame": frame}
    found = answer(w.survey(*walls))
    assert [(note.code, note.args["why"].code) for note in found.warnings] == [
        ("warning.unknown_matters", "fault.bays_too_short")
    ]


def own_batt(**more: Any) -> dict[str, Any]:
    source = {"source": "practice", "status": "label"}
    sizes = {
        "thickness": "4 in",
        "width": "15 in",
        "length": "47 in",
        "add_width": "0 in",
        "add_height": "0 in",
    }
    return {
        "id": "own",
        "name": "Own batt",
        "package": "bag",
        "family": "own",
        "fibre": "glass",
        "r_label": {"value": 2.0, "unit": "m2.K/W", **source},
        "per_bag": {"value": 9, **source},
        **{name: {"value": size, **source} for name, size in sizes.items()},
        **{
            name: {"value": value, "unit": "m2.K/W", **source}
            if name == "r_label"
            else {"value": value, **source}
            for name, value in more.items()
        },
    }


@pytest.mark.parametrize(
    ("field", "value", "code"),
    [
        ("width", "0 in", "fault.good_value"),
        ("length", "0 in", "fault.good_value"),
        ("thickness", "0 in", "fault.good_value"),
        ("per_bag", 0, "fault.good_value"),
        ("r_label", 0.0, "fault.good_value"),
        ("r_label", -1.0, "fault.good_value"),
        ("r_label", 9.0, "fault.batt_label"),
    ],
)
def test_a_slip_on_an_own_batt_is_told(field: str, value: Any, code: str) -> None:
    # 4 in at 9 m2.K/W would be 0.0113 W/(m.K), better than still air (0.025).
    found = faults(w.wall(), goods={"batt": [own_batt(**{field: value})]}, assembly={"batt": "own"})
    assert code in [note.code for note in found]
    assert all("Own batt" in Voice().text(note) or "own" in Voice().text(note) for note in found)


def test_an_own_batt_without_a_slip_goes_in() -> None:
    found = answer(w.survey(w.wall(), goods={"batt": [own_batt()]}, assembly={"batt": "own"}))
    assert "own" in {nest.batt.id for nest in found.nests}


@pytest.mark.parametrize("name", ["nothing known", "no walls"])
def test_a_job_that_knows_nothing_does_not_crash(name: str) -> None:
    found = answer(JOBS[name])
    assert (found.walls, found.nests, found.order.lines, found.closing) == ((), (), (), None)
    assert found.results.level == 1


@st.composite
def jobs(draw: st.DrawFn) -> Survey:
    """Walls with anything left out, of goods that may not fit."""
    walls = []
    for number in range(draw(st.integers(1, 3))):
        whole = w.wall(name=f"W{number}", length=w.written(draw(st.integers(INCH * 12, INCH * 300))))
        studs = draw(st.sampled_from(["2x3", "2x4", "2x6", None]))
        whole["frame"] = {
            "state": draw(st.sampled_from(["none", "planned", "standing", None])),
            "studs": studs,
        }
        whole["turn"] = draw(st.sampled_from(["right", "left", "straight", None]))
        whole["against"] = draw(st.sampled_from(["concrete", "stud face", "plate", None]))
        whole["in_the_way"] = draw(st.lists(st.sampled_from(THINGS), max_size=3))
        gone = draw(st.sets(st.sampled_from(["length", "height", "gap", "turn"])))
        walls.append({key: value for key, value in whole.items() if key not in gone})
    batt = draw(st.sampled_from(["R12 glass", "R20 glass", "R24 stone", "R13 glass"]))
    rim = {"batt": batt, "pieces": draw(st.integers(1, 4))}
    return w.survey(*walls, assembly={"batt": batt, "rim": rim})


def answered(survey: Survey) -> Answers | JobError:
    try:
        return answer(survey)
    except JobError as error:
        return error


@given(jobs())
@settings(max_examples=60)
def test_any_job_is_answered_or_its_faults_are_told(survey: Survey) -> None:
    """An answer that keeps to the schema, or faults with sentences."""
    found = answered(survey)
    if isinstance(found, JobError):
        assert found.faults
        assert all(Voice().located(note) for note in found.faults)
    else:
        Draft202012Validator(results_schema()).validate(written(found))
        assert all(Voice().located(note) for note in found.warnings)


def test_sides_of_a_survey_differ_only_in_what_is_unknown() -> None:
    survey = job(foundation={"kind": "poured concrete", "thickness": "8 in", "sill": "1-1/2 in"})
    nominal, stricter = (resolve(survey, side) for side in (Side.NOMINAL, Side.STRICTER))
    assert [a.field for a in nominal.assumptions] == [a.field for a in stricter.assumptions]
    assert [wall.frame for wall in nominal.walls] == [wall.frame for wall in stricter.walls]
