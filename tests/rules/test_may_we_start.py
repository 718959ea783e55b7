"""May we start: what stops, what waits, and that nothing unseen and no floor test ever clears a wall."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest
from pydantic import ValidationError

from tests import walls as w
from warmside.catalog.hazards import Seen, hazards
from warmside.rules.may_we_start import Answer, Start, headline, is_there, lines, may_we_start, raised_note
from warmside.say import Voice

# Other rules are asked about only where a neighbour's wall is.
ALL_NO = {key: "no" for key, one in hazards().items() if not one.walls}


def start(
    looked_at: Mapping[str, str],
    year: int | None = 1962,
    kind: str = "poured concrete",
    rules: str = "nbc-2020",
    **wall: Any,
) -> Start:
    place = {"rule_set": rules, **({} if year is None else {"year_built": year})}
    house = w.house(w.wall(**wall), looked_at=dict(looked_at), place=place, foundation={"kind": kind})
    return may_we_start(house)


def without(*ids: str) -> dict[str, str]:
    return {key: answer for key, answer in ALL_NO.items() if key not in ids}


def test_nothing_looked_at_waits() -> None:
    found = start({})
    assert (found.answer, found.seen, found.of) == (Answer.WAIT, 0, 26)
    assert "WAIT. 0 of 26 looked at." in Voice().text(headline(found))


def test_the_best_answer_says_what_was_looked_at_and_never_go() -> None:
    found = start(
        without(
            "radon", "rh-room", "floor-heave", "plastic-test", "floor-test", "pipes-freeze", "summer-wetting"
        )
    )
    assert found.answer is Answer.NO_STOP
    assert Voice().text(headline(found)) == "No stop found in what was looked at (19 of 26 looked at)."


def test_what_is_no_stop_and_is_there_stands_in_the_answer() -> None:
    found = start({**ALL_NO, "radon": "yes"})
    assert found.answer is Answer.NO_STOP
    assert Voice().text(headline(found)).endswith("To be dealt with all the same: 1.")


@pytest.mark.parametrize("hazard", [key for key in ALL_NO if hazards()[key].level in ("stop", "wait")])
def test_one_that_nobody_looked_at_waits(hazard: str) -> None:
    found = start(without(hazard))
    assert found.answer is Answer.WAIT
    assert [one.id for one in found.open] == [hazard]
    assert len(lines(found)) == 1


@pytest.mark.parametrize("hazard", [key for key, one in hazards().items() if one.level == "stop"])
def test_each_stop_stops_whatever_else_is_fine(hazard: str) -> None:
    found = start({**ALL_NO, hazard: "yes"})
    assert found.answer is Answer.STOP
    assert Voice().text(headline(found)).startswith("STOP. 1 found")


@pytest.mark.parametrize("hazard", [key for key, one in hazards().items() if one.level in ("warn", "clue")])
def test_a_warning_does_not_stop_and_need_not_be_looked_at(hazard: str) -> None:
    assert start({**ALL_NO, hazard: "yes"}).answer is Answer.NO_STOP
    assert start(without(hazard)).answer is Answer.NO_STOP


# Readings: 19 % of 9.3.2.5.(1), 200 Bq/m3 of the Canadian guideline, about a year for new concrete.
@pytest.mark.parametrize(
    ("hazard", "reading", "there"),
    [
        ("wood-mc", "19 %", False),
        ("wood-mc", "19.1 %", True),
        ("radon", "200 Bq/m3", False),
        ("radon", "201 Bq/m3", True),
        ("radon", "5.4 pCi/L", False),
        ("radon", "5.5 pCi/L", True),
        ("rh-room", "60 %", False),
        ("rh-room", "61 %", True),
        ("new-concrete", "11 months", True),
        ("new-concrete", "13 months", False),
    ],
)
def test_readings_either_side_of_the_line(hazard: str, reading: str, there: bool) -> None:
    found = start({**ALL_NO, hazard: reading})
    assert (hazard in [raised.hazard.id for raised in found.found]) is there
    assert hazard not in [one.id for one in found.unseen]


def test_a_reading_in_another_unit_is_no_reading() -> None:
    found = start({**ALL_NO, "wood-mc": "12 months", "bulk-water": "3 %"})
    assert [one.id for one in found.open] == ["bulk-water", "wood-mc"]
    assert not is_there(hazards()["radon"], Seen(reading=900.0, unit="%"))


def test_a_floor_test_clears_no_wall() -> None:
    dry = {"plastic-test": "no", "floor-test": "no"}
    found = start(dry)
    assert "bulk-water" in [one.id for one in found.open]
    assert "hazard.never_clears" in [note.code for note in found.front]
    assert "hazard.never_clears" not in [note.code for note in start(without(*dry)).front]


@pytest.mark.parametrize(("year", "asked"), [(1989, True), (1990, False), (None, True)])
def test_vermiculite_goes_by_the_year_and_is_only_looked_at(year: int | None, asked: bool) -> None:
    found = start({}, year)
    assert ("vermiculite" in [one.id for one in found.unseen]) is asked
    assert ("hazard.look_only" in [note.code for note in found.front]) is asked
    assert found.of == (26 if asked else 23)
    seen = start({**ALL_NO, "vermiculite": "yes"}, 1950)
    (raised,) = seen.found
    assert "Look only" in Voice().text(raised_note(raised))
    assert "qualified person" in Voice().text(raised_note(raised))


def test_an_open_flue_waits_for_air_and_an_alarm() -> None:
    found = start({**ALL_NO, "combustion-air": "yes"})
    assert found.answer is Answer.WAIT
    (line,) = [Voice().text(note) for note in lines(found)]
    assert "CO alarm" in line
    assert "gas fitter" in line


@pytest.mark.parametrize("kind", ["stone", "brick", "concrete block"])
def test_masonry_puts_frost_on_the_front_sheet(kind: str) -> None:
    found = start(without("frost-footing"), kind=kind)
    assert [raised.hazard.id for raised in found.found] == ["frost-footing"]
    assert any("frost" in Voice().text(note) for note in found.front)
    shallow = start({**ALL_NO, "frost-footing": "yes"})
    assert any("frost" in Voice().text(note) for note in shallow.front)
    assert not any("frost" in Voice().text(note) for note in start(ALL_NO).front)


@pytest.mark.parametrize("exposure", ["party wall", "second suite"])
def test_a_wall_of_a_neighbour_is_a_stop_until_somebody_has_asked(exposure: str) -> None:
    found = start(ALL_NO, exposure=exposure)
    assert (found.answer, found.seen, found.of) == (Answer.STOP, 27, 27)
    (line,) = [Voice().text(note) for note in lines(found)]
    assert "Yes: wall A." in line
    assert "the building authority" in line
    assert start({**ALL_NO, "other-rules": "no"}, exposure=exposure).answer is Answer.NO_STOP


def test_a_neighbours_wall_stops_also_while_nobody_measured_it() -> None:
    house = w.house({"name": "B", "exposure": "party wall"}, w.wall(), looked_at=ALL_NO)
    assert [raised.walls for raised in may_we_start(house).found] == [("B",)]


# 200 Bq/m3 in Canada, 4 pCi/L = 148 Bq/m3 in the United States, 100 Bq/m3 of the World Health Organization.
@pytest.mark.parametrize(
    ("rules", "reading", "there"),
    [
        ("nbc-2020", "180 Bq/m3", False),
        ("irc-2021", "4 pCi/L", False),
        ("irc-2021", "4.1 pCi/L", True),
        ("irc-2021", "180 Bq/m3", True),
        ("iso-6946", "100 Bq/m3", False),
        ("iso-6946", "101 Bq/m3", True),
    ],
)
def test_the_radon_line_is_that_of_the_place(rules: str, reading: str, there: bool) -> None:
    found = start({**ALL_NO, "radon": reading}, rules=rules)
    assert ([raised.hazard.id for raised in found.found] == ["radon"]) is there
    limit = {"nbc-2020": "200", "irc-2021": "148", "iso-6946": "100"}[rules]
    told = [Voice().text(note) for note in lines(found)]
    assert len(told) == there
    assert all(f"the line is {limit} Bq/m3" in line for line in told)


def test_pests_the_hole_first() -> None:
    found = start({**ALL_NO, "pests": "yes"})
    assert found.answer is Answer.WAIT
    assert "Close the hole first" in Voice().text(lines(found)[0])


def test_every_hazard_can_be_said() -> None:
    for key in hazards():
        found = start({**ALL_NO, key: "yes"})
        (raised,) = found.found
        assert raised.hazard.id == key
        assert len(Voice().text(raised_note(raised)).split()) > 15


@pytest.mark.parametrize(
    ("looked_at", "told"),
    [
        ({"radom": "no"}, "did you mean radon?"),
        ({"ghosts": "no"}, "there are: bulk-water, "),
        ({"radon": "200 rem"}, "write no, yes, unknown, or a reading in"),
        ({"radon": "maybe"}, "write no, yes, unknown, or a reading in %, Bq/m3, pCi/L, months"),
    ],
)
def test_what_can_not_be_is_told_with_a_remedy(looked_at: dict[str, str], told: str) -> None:
    with pytest.raises(ValidationError, match=told.replace("?", r"\?")):
        w.survey(looked_at=looked_at)
