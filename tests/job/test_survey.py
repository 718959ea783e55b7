"""The survey's own forms: profiles, gaps, turns, temperatures and prices, as a job file writes them."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from warmside.job.survey import (
    FORMAT,
    Assembly,
    Foundation,
    Frame,
    IfUnknown,
    People,
    Place,
    Point,
    Profile,
    Rim,
    RimFill,
    Stance,
    Survey,
    Thing,
    Wall,
    stance_of,
)
from warmside.units import FOOT, INCH, Length


def wall(**fields: Any) -> Wall:
    return Wall.model_validate({"name": "A", **fields}, context={"bare_numbers": "in"})


def refusal(**fields: Any) -> str:
    with pytest.raises(ValidationError) as refused:
        wall(**fields)
    (error,) = refused.value.errors()
    return str(error["ctx"]["error"])


def points(profile: Profile | None) -> list[tuple[int | None, int]]:
    assert profile is not None
    return [(p.at, p.value) for p in profile.points]


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("7 ft", [(0, 84)]),
        (84, [(0, 84)]),
        (["7 ft", 86], [(0, 84), (None, 86)]),
        ([[0, 84], ["10 ft", 86], [240, "7 ft"]], [(0, 84), (120, 86), (240, 84)]),
    ],
)
def test_a_height_is_one_number_two_ends_or_a_list(written: Any, read: list[tuple[int | None, int]]) -> None:
    expected = [(None if at is None else at * INCH, value * INCH) for at, value in read]
    assert points(wall(height=written).height) == expected


@pytest.mark.parametrize(
    ("written", "sentence"),
    [
        ([], "an empty list; write one number, [left, right], or [[from left, value], ...]"),
        ([84], "two ends are [left, right]; for more points write [[from left, value], ...]"),
        ([84, 85, 86], "two ends are [left, right]; for more points write [[from left, value], ...]"),
        ([[0, 84], [1]], "each point of the list is [from left, value]"),
        (
            [[0, 84], [12, 85], [12, 86]],
            "the points must go from left to right, each further than the one before",
        ),
    ],
)
def test_a_height_in_another_form_is_refused(written: Any, sentence: str) -> None:
    assert refusal(height=written) == sentence


def test_a_profile_runs_straight_between_its_points_and_level_beyond_them() -> None:
    profile = wall(height=[[12, 80], [36, 92]]).height
    assert profile is not None
    end = 60 * INCH
    values = [(0, 80), (12, 80), (18, 83), (24, 86), (36, 92), (60, 92)]
    assert [profile.at(x * INCH, end) for x, _ in values] == [value * INCH for _, value in values]
    assert (profile.least, profile.most) == (80 * INCH, 92 * INCH)


def test_two_ends_reach_to_the_end_of_the_wall() -> None:
    profile = wall(height=[80, 90]).height
    assert profile is not None
    assert [profile.at(x * FOOT, 10 * FOOT) for x in (0, 5, 10)] == [80 * INCH, 85 * INCH, 90 * INCH]


@given(
    st.lists(
        st.tuples(st.integers(0, 10**6), st.integers(0, 10**6)),
        min_size=1,
        max_size=6,
        unique_by=lambda p: p[0],
    ),
    st.integers(0, 10**6),
    st.integers(-1000, 1000),
)
def test_a_profile_stays_between_its_least_and_most_and_rises_whole(
    pairs: list[tuple[int, int]], x: int, by: int
) -> None:
    profile = Profile(points=tuple(Point(at=Length(at), value=Length(value)) for at, value in sorted(pairs)))
    assert profile.least <= profile.at(x, 10**6) <= profile.most
    assert profile.raised(by).at(x, 10**6) == pytest.approx(profile.at(x, 10**6) + by, abs=1)


def test_a_gap_is_one_number_or_smallest_and_largest() -> None:
    one, two = wall(gap=0.5).gap, wall(gap=[0.5, "1-1/4 in"]).gap
    assert one is not None
    assert two is not None
    assert (one.least, one.most) == (INCH // 2, INCH // 2)
    assert (two.least, two.most) == (INCH // 2, INCH * 5 // 4)
    assert refusal(gap=[2, 1]) == "the smallest is larger than the largest; write [smallest, largest]"
    assert refusal(gap=[1, 2, 3]) == "this is one number or [smallest, largest]"


@pytest.mark.parametrize(
    ("written", "degrees"),
    [
        ("right", 90.0),
        ("left", -90.0),
        ("straight", 0.0),
        ("right 45", 45.0),
        ("left 22.5", -22.5),
        ("right 45°", 45.0),
        ("left 30 degrees", -30.0),
    ],
)
def test_a_turn_is_degrees_to_the_right(written: str, degrees: float) -> None:
    assert wall(turn=written).turn == degrees


def test_another_turn_is_refused() -> None:
    assert refusal(turn="back") == "'back' is not a turn; write left, right, straight, or right 45"
    assert refusal(turn="right 180") == "a turn is between 0 and 180 degrees, not 180"
    assert refusal(turn=90) == "'90' is not a turn; write left, right, straight, or right 45"


@pytest.mark.parametrize(
    ("written", "celsius"),
    [("-30 C", -30.0), ("−30°C", -30.0), ("-22 F", -30.0), ("32 °F", 0.0), ("7.5 C", 7.5)],
)
def test_a_temperature_names_its_scale(written: str, celsius: float) -> None:
    place = Place.model_validate({"design_temperature": written})
    assert place.design_temperature == pytest.approx(celsius, abs=1e-12)


@pytest.mark.parametrize("written", ["-30", "-30 K", -30, "cold"])
def test_a_temperature_without_scale_is_refused(written: Any) -> None:
    with pytest.raises(ValidationError, match="is not a temperature; write it like -30 C or -22 F"):
        Place.model_validate({"design_temperature": written})


@pytest.mark.parametrize(
    ("written", "price"),
    [
        ("61.50 CAD per bag", (6150, "CAD", "bag")),
        ("61.5 CAD/bag", (6150, "CAD", "bag")),
        ("18 EUR per sheet", (1800, "EUR", "sheet")),
        ("0.05 CAD per piece", (5, "CAD", "piece")),
    ],
)
def test_a_price_is_whole_cents_of_a_currency_for_a_package(
    written: str, price: tuple[int, str, str]
) -> None:
    read = Survey.model_validate({"format": FORMAT, "name": "x", "prices": {"a": written}}).prices["a"]
    assert (read.cents, read.currency, read.per) == price


@pytest.mark.parametrize(
    "written", ["61.50", "61.50 CAD", "CAD 61.50 per bag", "61,50 CAD per bag", 61.5, "61.505 CAD/bag"]
)
def test_a_price_without_currency_or_package_is_refused(written: Any) -> None:
    with pytest.raises(ValidationError, match=r"is not a price; write it like 61\.50 CAD per bag"):
        Survey.model_validate({"format": FORMAT, "name": "x", "prices": {"a": written}})


def test_a_survey_can_not_change_and_takes_no_unknown_key() -> None:
    survey = Survey(format=FORMAT, name="x")
    with pytest.raises(ValidationError, match="frozen"):
        setattr(survey, "name", "y")  # noqa: B010
    with pytest.raises(ValidationError, match="Extra inputs are not permitted"):
        Survey.model_validate({"format": FORMAT, "name": "x", "walls": []})


def test_every_field_that_may_be_unknown_says_what_is_done_then() -> None:
    told = {"id", "note", "assembly"}
    for model in (Place, People, Foundation, Assembly, RimFill, Frame, Rim, Thing, Wall):
        for name, field in model.model_fields.items():
            if field.default is None and name not in told:
                assert isinstance(stance_of(model, name), IfUnknown), f"{model.__name__}.{name}"
    assert stance_of(Wall, "length") == IfUnknown(Stance.ASK)
    assert stance_of(Thing, "kind") is None
