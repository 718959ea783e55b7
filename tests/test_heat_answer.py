"""The weather of a job, and the types of results.json for what it saves."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests import walls as w
from warmside.answers import Answers, answer
from warmside.catalog.climates import ClimateError
from warmside.heat_answer import JOULES, NoWeatherError, WhatSaves, weather_inputs
from warmside.job.read import read_job
from warmside.job.survey import Place
from warmside.say import Voice

DEMO = Path(__file__).parent.parent / "demo"


@pytest.fixture(scope="module")
def demo() -> Answers:
    survey = read_job(DEMO / "birch-lane").survey
    assert survey is not None
    return answer(survey)


def test_the_demo_house_is_answered_with_the_study_behind(demo: Answers) -> None:
    told = demo.results.answers.what_saves
    assert isinstance(told, WhatSaves)
    assert demo.heat is not None
    assert told.saved.likely.value == pytest.approx(demo.heat.saved.total.likely * JOULES)
    assert told.saved.low <= (told.saved.likely.value or 0.0) <= told.saved.high
    months = [sum(row) for row in zip(*told.before.parts.values(), told.before.air, strict=True)]
    assert sum(months) == pytest.approx(told.before.total.value)
    assert {spot.place for spot in told.cold_places} >= {"rim", "floor edge", "corner"}
    assert [frost.cover for frost in told.frost] == ["bare", "snow"]


def test_the_demo_house_is_what_an_engineer_expects(demo: Answers) -> None:
    # a bare basement where January's mean is -17 C loses 8 to 15 MWh a year through its skin; insulating at
    # the same temperature saves half or more (common practice)
    assert demo.heat is not None
    assert 8_000 < demo.heat.before.conducted.likely < 15_000
    alike = demo.heat.saved.same_temperature.likely
    assert alike > 0.5 * (alike + demo.heat.after.conducted.likely)


def test_a_price_gives_money_and_an_incomplete_order_no_payback(demo: Answers) -> None:
    told = demo.results.answers.what_saves
    assert isinstance(told, WhatSaves)
    assert told.fuel is not None
    assert told.fuel.cents is not None
    assert told.fuel.currency == "CAD"
    assert (told.payback is not None) == demo.order.complete


def test_a_named_place_its_coordinates_and_a_town_give_the_same_weather() -> None:
    by_name = weather_inputs(Place(climate="Timmins, Ontario"))
    by_town = weather_inputs(Place(town="Timmins", region="Ontario", country="Canada"))
    nearby = weather_inputs(Place(latitude=48.57, longitude=-81.38))
    assert by_name.place == by_town.place
    assert nearby.air_months == pytest.approx(by_name.air_months)
    assert by_name.snow is not None
    assert by_name.warming == 1.0


def test_a_weather_file_is_told_by_name_only(tmp_path: Path) -> None:
    place = Place(weather_file="missing.epw", climate="Timmins")
    with pytest.raises(NoWeatherError) as raised:
        weather_inputs(place, tmp_path)
    assert "missing.epw" in Voice().text(raised.value.note)
    assert str(tmp_path) not in Voice().text(raised.value.note)


def test_an_unknown_place_is_told_with_what_to_do() -> None:
    told = answer(w.survey(w.wall(), place={"climate": "Nowhere at all"}))
    assert told.heat is None
    assert told.results.answers.what_saves.answered is False
    [note] = [note for note in told.warnings if note.code == "warning.no_weather"]
    assert "Nowhere at all" in Voice().text(note)


def test_a_made_up_town_alone_is_no_fault() -> None:
    told = answer(w.survey(w.wall(), place={"town": "Cold Kettle"}))
    assert told.heat is None
    assert not [note for note in told.warnings if note.code == "warning.no_weather"]
    with pytest.raises(NoWeatherError) as raised:
        weather_inputs(Place())
    assert isinstance(raised.value.__cause__, ClimateError)


def test_without_a_measured_wall_nothing_is_computed() -> None:
    told = answer(w.survey({"name": "A"}, place={"climate": "Timmins"}))
    assert told.heat is None
