"""The table of assumptions: one entry for each key of the survey's schema, readable as a job file is."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import Any

import pytest
from pydantic import TypeAdapter

from warmside.catalog.codes import rule_sets
from warmside.catalog.goods import Batt, Lumber, Model, shelf
from warmside.job import survey
from warmside.say import Voice, messages

TABLE: dict[str, dict[str, Any]] = tomllib.loads(
    (files("warmside") / "data" / "assumptions.toml").read_text("utf-8")
)
SIDES = ("nominal", "stricter", "larger")
MODELS: list[type[Model]] = [
    value for value in vars(survey).values() if isinstance(value, type) and issubclass(value, Model)
]
FIELDS = [
    (model, name, known.key)
    for model in MODELS
    for name in model.model_fields
    if (known := survey.stance_of(model, name)) is not None and known.key is not None
]


def read(model: type[Model], name: str, value: object) -> Any:
    adapter: TypeAdapter[Any] = TypeAdapter(model.model_fields[name].rebuild_annotation())
    return adapter.validate_python(value)


def test_the_table_has_the_keys_of_the_schema_and_no_other() -> None:
    assert set(TABLE) == {key for _, _, key in FIELDS}


@pytest.mark.parametrize(("model", "name", "key"), FIELDS, ids=lambda value: str(value))
def test_values_read_as_in_a_job_file_without_a_bare_unit(model: type[Model], name: str, key: str) -> None:
    entry = TABLE[key]
    if entry.get("derived", False):
        assert not set(SIDES) & set(entry)
    else:
        assert all(read(model, name, entry[side]) is not None for side in SIDES)


def test_names_of_goods_and_rules_are_known() -> None:
    proposed = {key: TABLE[key]["nominal"] for key in TABLE if key.startswith("assembly.")}
    families = [proposed.pop("assembly.batt"), proposed.pop("assembly.rim.batt")]
    assert all(shelf().batts(family) for family in families)
    assert proposed.pop("assembly.foam_board") == "none"
    assert proposed.pop("assembly.rim.pieces") == 1
    assert set(proposed.values()) <= set(shelf().goods)
    assert {TABLE["frame.studs"][side] for side in SIDES} <= {
        good.id for good in shelf().goods.values() if isinstance(good, Lumber)
    }
    assert TABLE["place.rule_set"]["nominal"] in rule_sets()


def test_the_proposed_batt_fits_the_assumed_studs() -> None:
    batts = shelf().batts(TABLE["assembly.batt"]["nominal"])
    studs = shelf().find(Lumber, TABLE["frame.studs"]["nominal"])
    assert all(isinstance(batt, Batt) and batt.thickness.value == studs.depth.value for batt in batts)


def test_the_frame_does_not_move_with_the_side() -> None:
    # The mean gap places the studs; it is the same on every side, so that pieces stay the same.
    gaps = [read(survey.Wall, "gap", TABLE["wall.gap"][side]) for side in SIDES]
    assert len({gap.least + gap.most for gap in gaps}) == 1


def test_the_stricter_side_is_no_better_than_the_larger() -> None:
    gap = {side: read(survey.Wall, "gap", TABLE["wall.gap"][side]) for side in SIDES}
    assert gap["stricter"].least < gap["nominal"].least
    assert gap["stricter"].most > gap["nominal"].most
    showing = {s: read(survey.Wall, "concrete_showing", TABLE["wall.concrete_showing"][s]) for s in SIDES}
    assert showing["larger"].most < showing["nominal"].most < showing["stricter"].least


def test_each_assumption_is_told_in_one_sentence_with_its_value() -> None:
    for entry in TABLE.values():
        sentence = Voice().line(entry["reason"], value="THIS")
        assert sentence.count("THIS") == 1
        assert sentence.endswith(".")


def test_no_sentence_without_an_assumption() -> None:
    told = {code for code in messages("en") if code.startswith("assumed.")}
    assert told == {entry["reason"] for entry in TABLE.values()}
