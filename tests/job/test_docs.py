"""The page about the job file names every key, every kind and what it does; and nothing that is not there."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from warmside.catalog.goods import (
    Batt,
    Board,
    Good,
    Lumber,
    Membrane,
    Model,
    Sealant,
    Tape,
    Wrap,
    shelf,
)
from warmside.catalog.kinds import kinds
from warmside.job import survey

PAGE = (Path(__file__).parent.parent.parent / "docs" / "job.md").read_text("utf-8")
RECORDS = [
    survey.Place,
    survey.People,
    survey.Foundation,
    survey.Heating,
    survey.Assembly,
    survey.EveryWall,
    survey.Wall,
    survey.Frame,
    survey.Rim,
    survey.Thing,
    survey.ExistingLayer,
    survey.MeasuredAgain,
    survey.Inside,
    survey.InsideDoor,
    survey.Survey,
]


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.__name__)
def test_every_key_stands_on_the_page(record: type[Model]) -> None:
    named = set(re.findall(r"\w+", " ".join(re.findall(r"`([^`]*)`", PAGE))))
    assert sorted(set(record.model_fields) - named) == []


def test_the_table_of_kinds_is_the_table_in_use() -> None:
    rows = [line.strip("| ").split(" | ") for line in PAGE.splitlines() if line.startswith("| ")]
    table = rows[[row[0] for row in rows].index("kind") + 1 :]
    assert table == [
        [kind.name, kind.runs, kind.cut, kind.behind, kind.in_front, kind.access, kind.trade]
        for kind in kinds().values()
    ]


@pytest.mark.parametrize("exposure", ["soil", "garage", "cold room", "party wall", "second suite"])
def test_exposures_stand_on_the_page(exposure: str) -> None:
    assert f"`{exposure}`" in PAGE


ROLES: dict[str, Callable[[Good], bool]] = {
    "batt": lambda good: isinstance(good, Batt),
    "studs": lambda good: isinstance(good, Lumber),
    "vapour_control": lambda good: isinstance(good, Membrane) and good.role == "vapour control",
    "moisture_barrier": lambda good: isinstance(good, Membrane) and good.role == "moisture barrier",
    "sheet": lambda good: isinstance(good, Board) and good.role == "sheet",
    "foam_board": lambda good: isinstance(good, Board) and good.role == "foam board",
    "sealant": lambda good: isinstance(good, Sealant),
    "tape": lambda good: isinstance(good, Tape),
    "box_wrap": lambda good: isinstance(good, Wrap),
}


@pytest.mark.parametrize("role", ROLES)
def test_every_name_of_the_goods_stands_on_the_page(role: str) -> None:
    (row,) = [line for line in PAGE.splitlines() if line.startswith(f"| `{role}`") and line.count("`") > 3]
    named = set(re.findall(r"`([^`]*)`", row.split(" | ")[1])) - {"none"}
    known = [good for good in shelf().goods.values() if ROLES[role](good)]
    assert named == {good.family if isinstance(good, Batt) else good.id for good in known}
