"""The questions of the first walk: what people may answer, what is refused in words, and the job written."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.walls import inch
from warmside.catalog.kinds import kinds
from warmside.job.read import read_bytes
from warmside.job.survey import Survey
from warmside.job.walk_through import AnswerError, Question, Walk, Walls, job_text, questions
from warmside.say import UnitSystem, Voice, messages

BY_KEY = {question.key: question for question in questions()}
ANSWERS = {
    "place": "Cold Kettle, Ontario, Canada",
    "year": "1962",
    "foundation": "poured",
    "walls": "24 ft, 16 ft garage; 24' outside air, 16 ft 3-1/2 in cold room",
    "height": "88-1/2",
    "showing": "6 to 20 in",
    "frame": "planned",
    "studs": "2x4 at 16",
    "gap": "1/2 in to 1 in",
    "rim": "9-1/4",
    "joists": "A and C",
    "counts": "9 boxes, 3 windows, 1 door, 4 pipes, 2 switches",
    "existing": "batt, vapour barrier",
    "water": "no",
    "flame": "y",
}


def walk(show: UnitSystem = "ft-in", /, **answers: str) -> Walk:
    made = Walk("A house", show)
    for key in BY_KEY:
        if key in answers:
            made.give(BY_KEY[key], answers[key])
    return made


def survey(made: Walk) -> Survey:
    read = read_bytes(job_text(made).encode())
    assert [Voice().located(note) for note in (*read.faults, *read.warnings)] == []
    assert read.survey is not None
    return read.survey


def refused(**answers: str) -> str:
    with pytest.raises(AnswerError) as error:
        walk(**answers)
    return Voice().text(error.value.note)


def test_there_are_at_most_fifteen_questions_and_each_explains_itself_in_one_sentence() -> None:
    assert 10 <= len(questions()) <= 15
    assert len(BY_KEY) == len(questions())
    for key in BY_KEY:
        assert Voice().line(f"walk.ask.{key}")
        explained = Voice().line(f"walk.help.{key}")
        assert explained.endswith(".")
        assert explained.count(". ") == 0
    spoken = {code.split(".")[2] for code in messages("en") if code.startswith(("walk.ask.", "walk.help."))}
    assert spoken == set(BY_KEY)


def test_what_was_answered_stands_in_the_job() -> None:
    job = survey(walk(**ANSWERS))
    assert (job.place.town, job.place.region, job.place.country) == ("Cold Kettle", "Ontario", "Canada")
    assert (job.place.year_built, job.foundation.kind) == (1962, "poured concrete")
    assert [(wall.name, wall.exposure) for wall in job.wall] == [
        ("A", None),
        ("B", "garage"),
        ("C", "outside air"),
        ("D", "cold room"),
    ]
    assert [wall.length for wall in job.wall] == [inch(288), inch(192), inch(288), inch(195.5)]
    assert [wall.rim.joists for wall in job.wall] == ["land here", "run alongside"] * 2
    common = job.every_wall
    assert (common.height, common.rim.height) == (inch(88.5), inch(9.25))
    assert common.concrete_showing is not None
    assert common.gap is not None
    assert (common.concrete_showing.least, common.concrete_showing.most) == (inch(6), inch(20))
    assert (common.gap.least, common.gap.most) == (inch(0.5), inch(1))
    assert (common.frame.state, common.frame.studs, common.frame.spacing) == ("planned", "2x4", inch(16))
    assert common.counts == {"electrical box": 11, "window": 3, "door": 1, "water pipe": 4}
    assert [layer.kind for layer in common.existing] == ["batt", "vapour barrier"]
    assert {key: seen.answer for key, seen in job.looked_at.items()} == {
        "bulk-water": "no",
        "combustion-air": "yes",
    }


def test_nothing_answered_is_a_job_in_which_everything_is_unknown() -> None:
    job = survey(walk())
    assert job == Survey(format=1, name="A house", bare_numbers="in")
    assert "unknown" in job_text(walk())


@pytest.mark.parametrize("key", BY_KEY)
@pytest.mark.parametrize("text", ["", "   ", "unknown", "Unknown"])
def test_enter_and_unknown_are_unknown(key: str, text: str) -> None:
    assert walk(**{key: text}).answers == {}


def test_a_total_length() -> None:
    job = survey(walk(walls="80 ft total", joists="all"))
    assert (job.every_wall.total_length, job.wall) == (inch(960), ())
    assert job.every_wall.rim.joists == "land here"
    assert survey(walk(walls="80 ft outside air in all")).every_wall.exposure == "outside air"


def test_a_metric_walk() -> None:
    job = survey(walk("mm", walls="7.32 m, 4880", height="2240", showing="150 to 500", rim="235"))
    assert (job.show, job.bare_numbers) == ("mm", "mm")
    assert [wall.length for wall in job.wall] == [7320 * 160, 4880 * 160]
    assert job.every_wall.height == 2240 * 160


def test_names_go_on_behind_z() -> None:
    made: Walls = walk(walls=", ".join(["3 ft"] * 28)).answers["walls"]
    assert made.names[0] == "A"
    assert made.names[25:] == ["Z", "A2", "B2"]


@pytest.mark.parametrize("kind", kinds())
def test_every_kind_can_be_counted_by_its_own_name(kind: str) -> None:
    if "," not in kind:
        assert walk(counts=f"2 {kind}").answers["counts"] == {kind: 2}


@pytest.mark.parametrize(
    ("key", "text", "said"),
    [
        ("year", "62", "'62' is no year; write it like 1962."),
        ("foundation", "mud", "'mud' is none of: poured concrete, concrete block, stone, brick, wood."),
        ("walls", "24", "'24' has no unit; write it like 14-1/2\" or 368 mm"),
        ("walls", "80 ft total, 4 ft", "A total stands alone: 80 ft total."),
        ("height", "tall", "'tall' is not a length; write it like 12' 4-3/8\", 88.5 in, 3770 mm or 3.77 m"),
        ("showing", "20 to 6 in", "Write the least and the most: 6 in to 20 in."),
        ("studs", "5x9", "'5x9' are no studs that are known; there are: 2x3, 2x4, 2x6."),
        ("joists", "A", "With one total length no wall has a name; answer all or none, or leave it unknown."),
        ("counts", "many boxes", "'many boxes' is no count; write it like 9 boxes, 3 windows."),
        ("counts", "201 boxes", "'201 boxes' is no count; write it like 9 boxes, 3 windows."),
        ("water", "maybe", "'maybe' is neither yes nor no."),
    ],
)
def test_what_can_not_be_read_is_refused_in_words(key: str, text: str, said: str) -> None:
    assert refused(**{key: text}) == said


def test_a_wall_that_was_not_given_and_a_thing_that_is_none() -> None:
    assert refused(walls="10 ft, 12 ft", joists="C") == "'C' is none of the walls A, B."
    assert refused(counts="2 dragons").startswith("'dragons' is nothing that is known to be in the way")


@pytest.mark.parametrize("name", ['x "y"', "$name", "back\\slash", "a # b", "Ünïté"])
def test_any_name_of_one_line_survives(name: str) -> None:
    assert survey(Walk(name)).name == name


def test_the_job_explains_its_keys() -> None:
    text = job_text(walk(**ANSWERS))
    assert tomllib.loads(text)["format"] == 1
    keys = [line for line in text.splitlines() if line.startswith(("gap", "height", "total_length", "state"))]
    assert all(" # " in line for line in keys)
    assert max(map(len, text.splitlines())) <= 120


TEXTS = st.one_of(
    st.text(max_size=30), st.sampled_from(list(ANSWERS.values())), st.from_regex(r"\d{1,4} [a-z]+")
)


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(questions()), TEXTS)
def test_any_answer_is_read_or_refused_in_words(question: Question, text: str) -> None:
    made = Walk("A house")
    try:
        made.give(question, text)
    except AnswerError as error:
        said = Voice().text(error.note)
    else:
        said = "read"
    assert said
    found: dict[str, Any] = tomllib.loads(job_text(made))
    assert found["name"] == "A house"
