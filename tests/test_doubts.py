"""What the answers do not cover is told, in words, stops first."""

from __future__ import annotations

from typing import Any

import pytest

from tests import walls as w
from warmside.doubts import FOUNDATIONS, OTHER_RULES, doubts
from warmside.say import Voice


def told(*walls: dict[str, Any], **top: Any) -> list[str]:
    return [note.code for note in doubts(w.survey(*walls, **top))]


@pytest.mark.parametrize(("kind", "code"), FOUNDATIONS.items())
def test_a_foundation_that_is_not_poured_concrete(kind: str, code: str) -> None:
    assert told(w.wall(), foundation={"kind": kind}) == [code]


def test_poured_concrete_and_an_unknown_foundation_say_nothing() -> None:
    assert told(w.wall(), foundation={"kind": "poured concrete"}) == told(w.wall()) == []


@pytest.mark.parametrize(
    ("kind", "words"), [("stone", "engineer"), ("brick", "engineer"), ("wood", "engineer")]
)
def test_what_freezes_or_was_engineered_needs_an_engineer(kind: str, words: str) -> None:
    (note,) = doubts(w.survey(w.wall(), foundation={"kind": kind}))
    assert words in Voice().text(note)


@pytest.mark.parametrize("exposure", OTHER_RULES)
def test_other_rules_stop_before_anything_else(exposure: str) -> None:
    found = told(w.wall(exposure=exposure), foundation={"kind": "stone"})
    assert found == [OTHER_RULES[exposure], "doubt.stone"]
    assert told(w.wall(), every_wall={"exposure": exposure}) == [OTHER_RULES[exposure]]


def layer(**fields: str) -> list[str]:
    return told(w.wall(existing=[{"kind": "batt", **fields}]))


def test_an_old_layer_is_asked_about_until_it_is_said() -> None:
    assert layer() == ["doubt.existing_asked"]
    assert layer(then="keep") == layer(then="remove") == []


def test_what_is_wet_or_mouldy_is_told_also_when_it_goes() -> None:
    assert layer(state="wet", then="remove") == ["doubt.existing_wet"]
    assert layer(state="mouldy", then="keep") == ["doubt.existing_mouldy"]
    assert layer(state="torn", then="remove") == []
    assert layer(state="torn", then="keep") == ["doubt.existing_torn"]


@pytest.mark.parametrize(("chosen", "count"), [("none", 0), ("polyethylene 0.15 mm", 1), (None, 1)])
def test_two_vapour_barriers(chosen: str | None, count: int) -> None:
    existing = [{"kind": "vapour barrier", "then": "keep"}]
    assembly = {} if chosen is None else {"vapour_control": chosen}
    assert told(w.wall(existing=existing), assembly=assembly).count("doubt.two_barriers") == count


def test_what_is_on_every_wall_is_told_once() -> None:
    common = {"existing": [{"kind": "batt"}]}
    assert told(w.wall(name="A"), w.wall(name="B"), every_wall=common) == ["doubt.existing_asked"]
