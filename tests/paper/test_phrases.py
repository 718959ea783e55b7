"""Warnings as people read them: each once, with all its walls, and no word of the job file on a paper."""

from __future__ import annotations

import re

import pytest

from tests import walls as w
from warmside.answers import answer
from warmside.catalog.goods import Model
from warmside.job import survey
from warmside.job.read import read_bytes
from warmside.paper.assumed import assumed
from warmside.paper.office import office_content
from warmside.paper.phrases import told_once
from warmside.say import Note, Voice, Where, messages
from warmside.units import INCH

VOICE = Voice()


def gap(wall: str, inches: int) -> Note:
    return Note("warning.gap", {"gap": inches * INCH, "largest": INCH}, Where(wall=wall))


def test_the_same_warning_of_several_walls_is_told_once_with_the_largest_measure() -> None:
    (told,) = told_once(VOICE, [gap("A", 2), gap("C", 4), gap("B", 3)])
    assert told.startswith('Walls A, C and B: up to 4" of air')


def test_things_without_a_place_are_told_wall_by_wall() -> None:
    notes = [
        Note("warning.unplaced", {}, Where(wall=wall, item=item))
        for wall, item in (("A", "flue 1"), ("A", "duct 2"), ("B", "window 1"))
    ]
    (told,) = told_once(VOICE, notes)
    assert told.startswith("Wall A, flue 1 and duct 2; wall B, window 1: no place on the wall")


def test_different_warnings_stay_apart_and_a_warning_of_the_house_has_no_lead() -> None:
    notes = [Note("doubt.stone"), gap("A", 2), Note("warning.unmeasured", {}, Where(wall="B"))]
    assert len(told_once(VOICE, notes)) == 3
    assert told_once(VOICE, notes)[0] == VOICE.line("doubt.stone")


TWICE = (
    'format = 1\nname = "x"\n[[wall]]\nname = "A"\nlength = "20 ft"\nagainst = "concrete"\nheight = "88 in"\n'
    '[[wall.measured_again]]\nfield = "length"\nvalue = "20 ft 1 in"\nagainst = "concrete"\n'
    'who = "Bo"\nwhen = "2 May"\n'
)


def test_a_second_measure_far_from_the_first_reaches_the_papers_with_who_when_and_face() -> None:
    read = read_bytes(TWICE.encode())
    assert read.survey is not None
    found = answer(read.survey, warnings=read.warnings)
    (told,) = [line for line in told_once(VOICE, found.warnings) if "measured again" in line]
    assert told.startswith(
        "Wall A: the length was measured again by Bo on 2 May, against the concrete: 20' 1\""
    )
    assert "20' 0\"" in told
    (in_file,) = [li for li in told_once(VOICE, found.warnings, with_lines=True) if "measured again" in li]
    assert in_file.startswith("job.toml line 8, wall A: ")


@pytest.mark.parametrize("value", ["20 ft 1 in", "20 ft 0-1/4 in"])
def test_every_second_measure_stands_beside_the_first_on_the_office_paper(value: str) -> None:
    text = TWICE.replace("20 ft 1 in", value).replace(
        'height = "88 in"', 'height = "88 in"\nmeasured_by = "Ann"'
    )
    read = read_bytes(text.encode())
    assert read.survey is not None
    parts = office_content(answer(read.survey), VOICE, "2026-11-25").parts
    (part,) = [part for part in parts if part.title == "What was measured twice"]
    again = VOICE.show("length", read.survey.wall[0].measured_again[0].value)
    first = "A: the length is 20' 0\", by Ann, against the concrete"
    assert part.items == (f"{first}; then {again} by Bo on 2 May, against the concrete.",)


def test_boxes_of_one_kind_that_differ_are_told_apart() -> None:
    boxes = [
        {"kind": "electrical box", "from_left": "20 in", "up": "12 in", "width": "2 in", "height": "3 in"},
        {"kind": "electrical box", "from_left": "60 in", "up": "12 in", "depth": "2 in"},
    ]
    # On 2x4 studs: 3-1/2 in less a usual depth of 2-7/8 in, and less the 2 in that were measured.
    shown = assumed(w.house(w.wall(in_the_way=boxes)), VOICE)
    (told,) = [one.text for one in shown if "space behind" in one.text]
    assert 'space behind 5/8" (A no. 1), 1-1/2" (A no. 2)' in told


# Words of the job file belong to `check`, to the manual and to faults of the file


FOR_THE_FILE = ("fault.", "walk.", "form.", "cli.")
KEYS = {
    f"{record.__name__.lower()}.{name}"
    for record in vars(survey).values()
    if isinstance(record, type) and issubclass(record, Model)
    for name in record.model_fields
}


@pytest.mark.parametrize("pattern", [r"\w+ = [\"']", r"\b[a-z]+_[a-z_]+\b", r"\[[a-z_.]+\]"])
def test_no_sentence_for_people_shows_a_key_of_the_job_file(pattern: str) -> None:
    shown = {
        code: re.sub(r"\{[^}]*\}", "", sentence)
        for code, sentence in messages("en").items()
        if not code.startswith(FOR_THE_FILE)
    }
    assert {code: text for code, text in shown.items() if re.search(pattern, text)} == {}
    assert [code for code, text in shown.items() if any(key in text for key in KEYS)] == []
