"""The form on paper and the job file say the same: every box has a field, every field a box.

What is expected comes from the schema on one side and the table of the form on the other.
"""

from __future__ import annotations

import re
from itertools import chain
from pathlib import Path
from typing import get_args

import pytest

from warmside.catalog.goods import Model
from warmside.catalog.hazards import hazards
from warmside.job import survey
from warmside.job.walk_through import questions
from warmside.paper.survey_form import form_content, form_table
from warmside.say import Voice, messages

PAGE = (Path(__file__).parent.parent.parent / "docs" / "job.md").read_text("utf-8")
TABLE = form_table()
RECORDS: tuple[type[Model], ...] = (
    survey.Survey,
    survey.Place,
    survey.People,
    survey.Foundation,
    survey.Heating,
    survey.Assembly,
    survey.RimFill,
    survey.EveryWall,
    survey.CommonFrame,
    survey.CommonRim,
    survey.Wall,
    survey.Frame,
    survey.Rim,
    survey.ExistingLayer,
    survey.Inside,
    survey.InsideDoor,
    survey.MeasuredAgain,
    survey.Thing,
)
FIELDS = {f"{record.__name__.lower()}.{name}" for record in RECORDS for name in record.model_fields}
BOXED = {
    field
    for part in ("fields", "things", "inside", "questions")
    for fields in TABLE[part].values()
    for field in fields
}
DRAWN = set(chain.from_iterable(chain(*TABLE["rows"].values())))


def test_every_box_has_fields_that_the_schema_has() -> None:
    assert set() == BOXED - FIELDS
    assert set(TABLE["no_box"]["fields"]) - FIELDS == set()


def test_every_field_has_a_box_or_a_reason_not_to() -> None:
    assert set(TABLE["no_box"]["fields"]) == FIELDS - BOXED


def test_the_boxes_drawn_are_those_of_the_table() -> None:
    heads = {"job", "wall", "by", "date"}
    assert set(TABLE["fields"]) - heads == DRAWN
    assert set(TABLE["ticks"]) <= DRAWN
    assert list(TABLE["questions"]) == [question.key for question in questions()]


def test_every_box_has_its_words_and_no_words_are_without_a_box() -> None:
    labelled = {code.removeprefix("form.box.") for code in messages("en") if code.startswith("form.box.")}
    assert labelled == DRAWN | {"wall", "sketch"}
    columns = {code.removeprefix("form.thing.") for code in messages("en") if code.startswith("form.thing.")}
    assert columns == {*TABLE["things"], "title"}
    inside = {code.removeprefix("form.inside_column.") for code in messages("en") if "inside_column." in code}
    assert inside == {*TABLE["inside"], "note"}


LITERAL = {
    "against": survey.Against,
    "again_against": survey.Against,
    "exposure": survey.Exposure,
    "facing": survey.Facing,
    "frame": survey.FrameState,
    "joists": survey.Joists,
    "fuel": survey.Fuel,
}


@pytest.mark.parametrize("key", LITERAL)
def test_the_words_to_tick_are_those_of_the_job_file(key: str) -> None:
    assert tuple(Voice().line(f"form.choice.{key}").split(", ")) == get_args(LITERAL[key])


def test_the_soil_to_tick_is_every_one_but_any() -> None:
    assert {*Voice().line("form.choice.soil").split(", "), "any"} == set(get_args(survey.Soil))


@pytest.mark.parametrize("key", sorted(DRAWN))
def test_every_box_stands_on_the_page_about_the_job_file(key: str) -> None:
    label = Voice().line(f"form.box.{key}")
    fields = [field.partition(".")[2] for field in TABLE["fields"][key]]
    rows = [row.split(" | ") for row in PAGE.splitlines() if row.startswith(("| house |", "| wall |"))]
    typed = [row[3] for row in rows if set(re.findall(r"\w+", row[3])) >= set(fields)]
    assert typed, f"{label}: {fields}"
    assert label in {row[1] for row in rows} or key.endswith(("_right", "_most"))


@pytest.mark.parametrize("key", TABLE["inside"])
def test_every_column_of_what_is_inside_stands_on_the_page_about_the_job_file(key: str) -> None:
    rows = [row.split(" | ") for row in PAGE.splitlines() if row.startswith("| inside, table |")]
    (row,) = [row for row in rows if row[1] == Voice().line(f"form.inside_column.{key}")]
    fields = {field.partition(".")[2] for field in TABLE["inside"][key]}
    assert fields <= set(re.findall(r"\w+", row[3]))


def test_everything_to_look_at_has_its_line_in_the_order_of_the_page() -> None:
    form = form_content(Voice())
    assert [each.text for each in form.looked_at] == [
        Voice().line(f"{h.code}.ask") for h in hazards().values()
    ]
    assert ", ".join(f"`{word}`" for word in hazards()) in PAGE
