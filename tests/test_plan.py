"""Cautions: which stand at which step, and that none is lost because a thing was not measured."""

from __future__ import annotations

from typing import Any

import pytest

from tests import walls as w
from warmside.job.resolve import House
from warmside.plan import Caution, all_cautions, cautions


def codes(house: House) -> set[str]:
    return {note.code for step in cautions(house) for note in step.notes}


PLACED = {"kind": "flue", "from_left": "20 in"}


@pytest.mark.parametrize(
    "walls",
    [
        [w.wall(in_the_way=[PLACED])],
        [w.wall(in_the_way=[{"kind": "flue"}])],
        [w.wall(), {"name": "B", "in_the_way": [{"kind": "flue"}]}],
        [w.wall(frame={"state": "none"}, in_the_way=[PLACED])],
    ],
    ids=["placed", "without a place", "on a wall that is not measured", "on a wall without a frame"],
)
def test_a_flue_is_warned_of_wherever_it_is(walls: list[dict[str, Any]]) -> None:
    assert "caution.flue" in codes(w.house(*walls))


def test_what_is_not_there_is_not_warned_of() -> None:
    assert not {"caution.flue", "caution.gas_line", "caution.egress"} & codes(w.house(w.wall()))


@pytest.mark.parametrize(("year", "old"), [(1989, True), (1990, False), (2005, False), (None, True)])
def test_an_unknown_year_counts_as_old(year: int | None, old: bool) -> None:
    # The table has asbestos for houses from before 1990.
    house = w.house(w.wall(), place={"year_built": year} if year else {})
    assert ("caution.asbestos" in codes(house)) is old


def test_an_empty_house_still_has_what_always_applies() -> None:
    always = {c.code for c in all_cautions() if not c.kinds and c.built_before is None}
    assert always <= codes(w.house())


def test_steps_come_once_and_in_the_order_of_the_table() -> None:
    everything = [{"kind": kind} for c in all_cautions() for kind in c.kinds]
    found = cautions(w.house(w.wall(in_the_way=everything)))
    assert [step.step for step in found] == [
        "survey",
        "rim",
        "frame",
        "pipes",
        "electrical",
        "batts",
        "sheet",
    ]
    told = [(step.step, note.code) for step in found for note in step.notes]
    assert told == [(c.step, c.code) for step in found for c in all_cautions() if c.step == step.step]


def test_each_kind_with_a_caution_of_its_own_has_it_in_the_plan() -> None:
    # What the table of kinds says of a thing stands at some step, or the crew never reads it.
    planned: dict[str, set[str]] = {}
    for caution in all_cautions():
        for kind in caution.kinds:
            planned.setdefault(kind, set()).add(caution.code)
    house = w.house(w.wall(in_the_way=[{"kind": kind} for kind in planned]))
    for kind, wanted in planned.items():
        assert wanted <= codes(house), kind


def test_a_caution_names_its_source() -> None:
    assert all(isinstance(c, Caution) and c.source and c.status for c in all_cautions())
