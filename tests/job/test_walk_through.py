"""The questions of the first walk: what people may answer, what is refused in words, and the job written."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.walls import inch
from warmside.catalog.hazards import hazards
from warmside.catalog.kinds import kinds
from warmside.job.read import read_bytes
from warmside.job.survey import Survey
from warmside.job.walk_text import job_text
from warmside.job.walk_through import (
    AnswerError,
    Question,
    Walk,
    Walls,
    flags,
    questions,
    signs,
)
from warmside.paper.survey_form import question_words
from warmside.say import UnitSystem, Voice, messages

BY_KEY = {question.key: question for question in flags()}
ASKED = {question.key for question in questions()}
ANSWERS = {
    "place": "Cold Kettle, Ontario, Canada",
    "year": "1962",
    "upstairs": "2x6",
    "foundation": "poured",
    "walls": "24 ft, 16 ft garage; 24' outside air, 16 ft 3-1/2 in cold room",
    "height": "88-1/2",
    "showing": "6 to 20 in",
    "frame": "planned 2x4 at 16",
    "gap": "1/2 in to 1 in",
    "rim": "9-1/4",
    "joists": "A and C",
    "counts": "9 boxes, 3 windows, 1 door, 4 pipes, 2 switches",
    "existing": "batt, vapour barrier",
    "signs": "no water, old wrap",
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
    assert len(ASKED) == len(questions())
    assert set(BY_KEY) - ASKED == {"studs", "water"}
    for key in ASKED:
        assert question_words(Voice(), BY_KEY[key]).endswith((".", "?"))
        explained = Voice().line(f"walk.help.{key}")
        assert explained.endswith(".")
        assert explained.count(". ") == 0
    spoken = {code.split(".")[2] for code in messages("en") if code.startswith(("walk.ask.", "walk.help."))}
    assert spoken == ASKED


def test_what_was_answered_stands_in_the_job() -> None:
    job = survey(walk(**ANSWERS))
    assert (job.place.town, job.place.region, job.place.country) == ("Cold Kettle", "Ontario", "Canada")
    assert (job.place.year_built, job.foundation.kind) == (1962, "poured concrete")
    assert job.place.upstairs_frame == "2x6"
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
        "asbestos": "yes",
        "combustion-air": "yes",
    }


def test_nothing_answered_is_a_job_in_which_everything_is_unknown() -> None:
    job = survey(walk())
    assert job == Survey(format=1, name="A house", bare_numbers="in")
    assert "unknown" in job_text(walk())


@pytest.mark.parametrize("key", BY_KEY)
@pytest.mark.parametrize("text", ["", "   ", "unknown", "Unknown", "dunno", "Don't know.", "no idea"])
def test_enter_and_unknown_are_unknown(key: str, text: str) -> None:
    assert walk(**{key: text}).answers == {}


@pytest.mark.parametrize(
    ("text", "state", "studs", "spacing"),
    [
        ("planned", "planned", None, None),
        ("standing, 2x6", "standing", "2x6", None),
        ("stand 2x4 @ 24 in", "standing", "2x4", 24),
        ("2x4 at 16", None, "2x4", 16),
        ("planned 16", "planned", None, 16),
        ("none", "none", None, None),
        ("2x4 16 oc standing", "standing", "2x4", 16),
        ("planned 2 by 6 24 in on center", "planned", "2x6", 24),
    ],
)
def test_a_frame_with_its_studs_in_one_answer(
    text: str, state: str | None, studs: str | None, spacing: float | None
) -> None:
    frame = survey(walk(frame=text)).every_wall.frame
    assert (frame.state, frame.studs) == (state, studs)
    assert frame.spacing == (None if spacing is None else inch(spacing))


def test_a_script_may_give_the_studs_and_the_water_apart() -> None:
    job = survey(walk(frame="standing 2x4", studs="2x6 at 24", signs="none", water="yes"))
    assert (job.every_wall.frame.studs, job.every_wall.frame.spacing) == ("2x6", inch(24))
    assert job.looked_at["bulk-water"].answer == "yes"


@pytest.mark.parametrize(
    ("text", "counts"),
    [
        ("9 outlets, one door and 2 lights", {"electrical box": 9, "door": 1, "recessed light": 2}),
        ("a gas meter; two columns", {"meter": 1, "steel post": 2}),
    ],
)
def test_things_are_counted_by_the_words_of_people(text: str, counts: dict[str, int]) -> None:
    assert survey(walk(counts=text)).every_wall.counts == counts


def test_old_layers_by_the_words_of_people() -> None:
    layers = survey(walk(existing="fiberglass and poly, spray foam, pink batts")).every_wall.existing
    assert [layer.kind for layer in layers] == ["batt", "vapour barrier", "sprayed foam"]
    assert refused(existing="straw").startswith("'straw' is none of: batt")


# The round of what stops the work


def seen(text: str) -> dict[str, str | None]:
    return {key: found.answer for key, found in survey(walk(signs=text)).looked_at.items()}


def test_the_round_has_every_hazard_that_stops_the_work() -> None:
    stops = {hazard.id for hazard in hazards().values() if hazard.level == "stop"}
    # Who lives behind a wall is asked where the walls are.
    assert {sign.hazard for sign in signs().values()} == stops - {"other-rules"}
    asked = question_words(Voice(), BY_KEY["signs"])
    assert [word for word in signs() if word not in asked] == []


def test_none_clears_what_eyes_can_tell_and_nothing_else() -> None:
    found = seen("none")
    assert set(found.values()) == {"no"}
    assert {"wood-mc", "vermiculite", "live-wires"}.isdisjoint(found)
    assert len(found) == 8


def test_what_is_named_is_there_and_the_others_stay_open() -> None:
    assert seen("water, mould") == {"bulk-water": "yes", "mould": "yes"}
    assert seen("puddles and mold") == {"bulk-water": "yes", "mould": "yes"}
    assert seen("knob and tube") == {"live-wires": "yes"}
    assert seen("pebbles, no cracks") == {"vermiculite": "yes", "structure": "no"}
    assert seen("flue, no others")["flue"] == "yes"
    assert seen("flue, no others")["mould"] == "no"


def test_a_look_does_not_clear_what_is_hidden() -> None:
    assert refused(signs="no pebbles") == (
        "A look does not clear 'pebbles'; leave it out until somebody has looked closely."
    )
    assert refused(signs="ghosts").startswith("'ghosts' is none of: water, white salts, mould")


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


@pytest.mark.parametrize(
    ("key", "text", "inches"),
    [("height", "about 7'6", 90), ("height", "~ 90 in", 90), ("rim", "roughly 9", 9)],
)
def test_about_says_nothing(key: str, text: str, inches: float) -> None:
    assert walk(**{key: text}).answers[key] == inch(inches)


def test_a_range_may_have_a_dash_behind_its_unit() -> None:
    assert walk(showing="about 6 in - 20 in").answers["showing"] == (inch(6), inch(20))
    assert walk(gap='1/2" - 1"').answers["gap"] == (inch(0.5), inch(1))


@pytest.mark.parametrize(
    ("text", "year"),
    [
        ("1960s", 1960),
        ("the 60's", 1960),
        ("about 1965", 1965),
        ("~1965", 1965),
        ("1865?", 1865),
        ("2010s", 2010),
    ],
)
def test_a_year_may_be_a_decade_and_counts_from_its_beginning(text: str, year: int) -> None:
    assert walk(year=text).answers["year"] == year


@pytest.mark.parametrize(
    ("key", "text", "ends"),
    [
        ("showing", "6-20 in", (6, 20)),
        ("gap", "1/2-1 in", (0.5, 1)),
        ("gap", "half inch", (0.5, 0.5)),
        ("gap", "1-1/2 in", (1.5, 1.5)),
        ("showing", "a foot or so", (12, 12)),
        ("showing", "about 6 in to 20 in", (6, 20)),
    ],
)
def test_a_range_as_people_say_it(key: str, text: str, ends: tuple[float, float]) -> None:
    assert walk(**{key: text}).answers[key] == (inch(ends[0]), inch(ends[1]))


def test_feet_and_inches_by_a_dash_are_asked_about() -> None:
    assert refused(height="7-6") == (
        "'7-6' can be read in several ways; write 7' 6\" for feet and inches, or give the unit."
    )


@pytest.mark.parametrize(
    ("text", "counts"),
    [
        ("9 boxes 3 windows one door", {"electrical box": 9, "window": 3, "door": 1}),
        ("sump pump, outlet 6", {"sump": 1, "electrical box": 6}),
        ("two windows and a gas meter", {"window": 2, "meter": 1}),
    ],
)
def test_counts_without_commas_or_numbers(text: str, counts: dict[str, int]) -> None:
    assert walk(counts=text).answers["counts"] == counts


@pytest.mark.parametrize(
    "text", ["standing 2x4 at 16 centers", 'standing 2x4 at 16" oc', "standing 2x4 16 on centre"]
)
def test_centres_are_the_spacing(text: str) -> None:
    frame = survey(walk(frame=text)).every_wall.frame
    assert (frame.state, frame.studs, frame.spacing) == ("standing", "2x4", inch(16))


def test_what_walls_are_made_of_by_the_words_of_people() -> None:
    assert walk(foundation="cinder block").answers["foundation"] == "concrete block"


def test_exposures_by_the_words_of_people() -> None:
    walls: Walls = walk(walls="24 ft walk-out, 16 ft,3 ft dirt; 9 ft crawl space").answers["walls"]
    assert [w.exposure for w in walls.walls] == ["outside air", None, "soil", "unheated space"]


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
        ("walls", "24, 16", "24 what? Write feet or metres with it: 24 ft."),
        ("walls", "80 ft total, 4 ft", "A total stands alone: 80 ft total."),
        (
            "walls",
            "30 ft, 12 ft cellar",
            "'cellar' is none of: soil, outside air, unheated space, garage, cold room, party wall, "
            "second suite.",
        ),
        ("height", "tall", "'tall' is not a length; write it like 12' 4-3/8\", 88.5 in, 3770 mm or 3.77 m."),
        ("showing", "20 to 6 in", "Write the least and the most: 6 in to 20 in."),
        (
            "studs",
            "5x9",
            "There are no '5x9' studs here; there are: 2x3, 2x4, 2x6. Leave other studs out, and add them in "
            "the file.",
        ),
        (
            "foundation",
            "concrete",
            "'concrete' may be one of these: poured concrete, concrete block. Write more of it.",
        ),
        (
            "walls",
            "2 ft; 7,2 m",
            "'7,2 m': a comma in a number can be read two ways; write 3.77 m or 3770 mm.",
        ),
        (
            "walls",
            "2 in, 7 ft",
            '2" can\'t be right: it is 3-15/16" at least and 328\' 1" at most. Look at the unit.',
        ),
        ("rim", "90", "7' 6\" can't be right: it is 3\" at least and 2' 6\" at most. Look at the unit."),
        (
            "gap",
            "1/2 to 20 in",
            "1' 8\" can't be right: it is 0\" at least and 1' 0\" at most. Look at the unit.",
        ),
        ("joists", "A", "No wall has a name yet: give the walls one by one, or answer all or none."),
        (
            "counts",
            "many boxes",
            "'many boxes' is no count; write a number before each thing, "
            "with commas between: 9 boxes, 3 windows.",
        ),
        (
            "counts",
            "201 boxes",
            "'201 boxes' is no count; write a number before each thing, "
            "with commas between: 9 boxes, 3 windows.",
        ),
        (
            "water",
            "perhaps",
            "'perhaps' is neither yes nor no.",
        ),
    ],
)
def test_what_can_not_be_read_is_refused_in_words(key: str, text: str, said: str) -> None:
    assert refused(**{key: text}) == said


def test_a_wall_that_was_not_given_and_a_thing_that_is_none() -> None:
    assert refused(walls="10 ft, 12 ft", joists="C") == "'C' is none of the walls A, B."
    assert refused(counts="2 dragons").startswith("'dragons' is not known under that name; near to it")
    assert "meter" in refused(counts="1 steam meter")


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
@given(st.sampled_from(flags()), TEXTS)
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
