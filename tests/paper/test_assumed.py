"""How assumptions are told on papers: whole sentences, what matters most first, like things together."""

from __future__ import annotations

import io
import tomllib
from importlib.resources import files
from typing import Any

import pytest
from pypdf import PdfReader

from tests import walls as w
from tests.paper.test_bag_card import answers as demo_answers
from warmside.answers import answer
from warmside.catalog.codes import rule_sets
from warmside.job.assume import assumed_values
from warmside.job.resolve import resolve
from warmside.job.survey import Survey
from warmside.paper.assumed import assumed, each_once, lines
from warmside.paper.front import front_content, front_sheet
from warmside.say import Voice, messages

VOICE = Voice()
DEMOS = ("alder-row", "birch-lane", "kadaka-cellar")
WALK: dict[str, Any] = {
    "place": {"town": "Timmins", "region": "Ontario", "country": "Canada"},
    "every_wall": {"height": "88 in", "frame": {"state": "planned"}, "counts": {"electrical box": 4}},
}


def walk(**more: Any) -> Survey:
    return w.survey(*({"name": name, "length": "20 ft"} for name in "AB"), **{**WALK, **more})


def told(survey: Survey, voice: Voice = VOICE) -> list[str]:
    return [
        f"{one.places}: {one.text}" if one.places else one.text for one in assumed(resolve(survey), voice)
    ]


def test_each_assumption_of_the_table_stands_in_one_line() -> None:
    codes = [code for line in lines() for code in line.codes]
    assert len(codes) == len(set(codes))
    assert set(codes) == {entry["reason"] for entry in assumed_values().values()}


def test_a_line_that_brings_several_together_has_words_for_each() -> None:
    known = messages("en")
    for line in lines():
        for code in line.codes if line.lead else ():
            assert f"paper.assumed.brief.{code.removeprefix('assumed.').replace('.', '_')}" in known
        assert line.lead is None or line.lead in known


@pytest.mark.parametrize("demo", DEMOS)
def test_every_value_taken_is_told_and_each_line_is_a_sentence(demo: str) -> None:
    answers = demo_answers(demo)
    shown = assumed(answers.house, Voice(answers.survey.show))
    whole = " ".join(f"{one.places} {one.text}" for one in shown)
    for one in shown:
        assert one.text[0].isupper()
        assert one.text.endswith(".")
        assert not one.places or one.places[0].isupper()
    assert [name for name in rule_sets() if name in whole] == []
    alone = {code for line in lines() if line.lead is None for code in line.codes}
    voice = Voice(answers.survey.show)
    values = [voice.text(a.note.args["value"]) for a in each_once(answers.house) if a.note.code in alone]
    assert [value for value in values if value not in whole] == []


def test_what_turns_a_verdict_stands_before_what_follows_from_the_rest() -> None:
    sentences = told(walk())
    found = [next(i for i, text in enumerate(sentences) if part in text) for part in (
        "No rules are named. Taken: Ontario Building Code",
        "Every wall: The gap behind the studs was not measured",
        "Electrical box x 2 on A and B: Nobody looked behind",
        "Not chosen, so the usual goods are proposed: batt R12 glass; ",
        "Not measured, so the usual of the trade is taken: concrete 8\", which a window shows; ",
        "Not said, so the usual is taken for the heat: soil of any kind",
        "Not measured, but it follows from what was: frame as high as concrete and sill plate, 89-1/2\"; ",
    )]  # fmt: skip
    assert found == sorted(found)


def test_one_of_a_group_alone_has_its_own_sentence() -> None:
    chosen = tomllib.loads((files("warmside") / "data" / "assumptions.toml").read_text("utf-8"))
    names = ("batt", "vapour_control", "moisture_barrier", "sheet", "foam_board", "sealant", "box_wrap")
    assembly = {name: chosen[f"assembly.{name}"]["nominal"] for name in names}
    rim = {"batt": "R20 glass", "pieces": 1}
    sentences = told(walk(assembly={**assembly, "rim": rim}))
    assert "No tape is chosen. Proposed: sheathing tape 60 mm." in sentences


def test_walls_that_differ_are_told_apart() -> None:
    survey = w.survey(
        {"name": "A", "length": "20 ft", "height": "88 in", "frame": {"state": "planned"}},
        {"name": "B", "length": "20 ft", "height": "90 in", "frame": {"state": "planned"}},
    )
    (text,) = [one for one in told(survey) if "frame as high as" in one]
    assert 'frame as high as concrete and sill plate, 89-1/2" (A), 91-1/2" (B)' in text


@pytest.mark.parametrize("demo", DEMOS)
def test_a_front_sheet_takes_two_pages_at_most(demo: str) -> None:
    answers = demo_answers(demo)
    paper = front_sheet(answers, Voice(answers.survey.show), "2026-11-25")
    assert len(PdfReader(io.BytesIO(paper)).pages) <= 2


def test_a_spacing_that_nobody_measured_is_told_both_ways_in_the_wall() -> None:
    # 16 and 24 in are the spacings of the assumption; the batt may be of either width.
    (built,) = front_content(answer(walk()), VOICE, "2026-11-25").build_ups
    (batt,) = [step for step in built.layers if "batt" in step.name]
    assert batt.name == "R12 glass batt, as wide as the bays"
    assert 'between studs at 16" or at 24": nobody measured which' in batt.told
    known = walk(every_wall={**WALK["every_wall"], "frame": {"state": "planned", "spacing": "16 in"}})
    (built,) = front_content(answer(known), VOICE, "2026-11-25").build_ups
    assert 'between studs at 16" (2x4 stud)' in " ".join(step.told for step in built.layers)
