"""What the answers do not cover is told, in words, stops first."""

from __future__ import annotations

from typing import Any

import pytest

from tests import walls as w
from warmside.doubts import FOUNDATIONS, OTHER_RULES, doubts, less_than_upstairs
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


# The same degree of insulation as the storeys above


@pytest.mark.parametrize(
    ("frame", "batt", "foam", "walls"),
    [
        # A 2x6 wall holds R19 at least, a 2x4 wall R12; 50 mm of foam board is about R10 more.
        ("2x6", "R12 glass", "none", "A"),
        ("2x6", "R12 glass", "XPS 50 mm", None),
        ("2x4", "R12 glass", "none", None),
        ("masonry", "R12 glass", "none", None),
        (None, "R12 glass", "none", None),
    ],
)
def test_less_than_upstairs_is_told(frame: str | None, batt: str, foam: str, walls: str | None) -> None:
    place = {} if frame is None else {"upstairs_frame": frame}
    notes = less_than_upstairs(w.house(w.wall(), place=place, assembly={"batt": batt, "foam_board": foam}))
    assert [note.args["walls"] for note in notes] == ([] if walls is None else [walls])
    assert all("2x6 and hold about R19; here it is R12 (A)." in Voice().text(note) for note in notes)


def test_a_wall_without_a_frame_is_not_compared() -> None:
    assert less_than_upstairs(w.house(w.wall(frame={"state": "none"}), place={"upstairs_frame": "2x6"})) == ()


# The place and the price


@pytest.mark.parametrize(
    ("place", "code"),
    [
        ({"latitude": 48.5}, ["doubt.no_longitude"]),
        ({"longitude": -81.3}, ["doubt.no_latitude"]),
        ({"latitude": 48.5, "longitude": -81.3}, []),
    ],
)
def test_half_of_the_coordinates_is_told(place: dict[str, float], code: list[str]) -> None:
    assert told(w.wall(), place=place) == code


def test_a_price_by_a_unit_in_which_the_fuel_is_not_sold() -> None:
    (note,) = doubts(w.survey(w.wall(), heating={"fuel": "electricity", "price": "2 CAD per L"}))
    sentence = Voice().text(note)
    assert "per L, and electricity is not sold that way" in sentence
    assert sentence.endswith("what one of these costs: kWh, MWh, GJ, therm.")
    assert told(w.wall(), heating={"fuel": "propane", "price": "0.9 CAD per L"}) == []
    assert told(w.wall(), heating={"price": "0.9 CAD per L"}) == []
