"""Lengths as people write them: every form, every refusal by its sentence, and exact round trips.

Expected lengths are worked out here from the definitions: 1 in = 25.4 mm exactly (international yard and
pound agreement, 1959), and one unit is 1/160 mm, so that 1/32 in = 127 units and 0.1 mm = 16 units.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from warmside.units import (
    FOOT,
    INCH,
    METRE,
    MM,
    LengthError,
    area_m2,
    feet_inches,
    from_m,
    inches,
    millimetres,
    parse_length,
    to_fahrenheit,
    to_m,
    to_r,
)


def of_inches(value: Fraction | float) -> int:
    """Length units of a whole number of 1/32 in, from 1 in = 25.4 mm."""
    units = Fraction(value) * Fraction(254, 10) * 160
    assert units.denominator == 1
    return int(units)


def test_a_unit_is_a_160th_of_a_millimetre_and_both_tapes_are_exact() -> None:
    assert [int(MM), int(METRE)] == [160, 160_000]
    assert INCH == of_inches(1) == 32 * 127
    assert int(FOOT) == of_inches(12)
    assert MM == 10 * 16


WRITTEN = [
    ("12' 4-3/8\"", 148 + Fraction(3, 8)),
    ("12'-4 3/8\"", 148 + Fraction(3, 8)),
    ("12'4-3/8\"", 148 + Fraction(3, 8)),
    ("12' 4 3/8", 148 + Fraction(3, 8)),
    ("12 ft 4-3/8 in", 148 + Fraction(3, 8)),
    ("12 feet, 4-3/8 inches", 148 + Fraction(3, 8)),
    ("12 foot 4 and 3 eighths", 148 + Fraction(3, 8)),
    ("12 foot 4 and three eighths", 148 + Fraction(3, 8)),
    ("12’ 4⅜”", 148 + Fraction(3, 8)),
    ("12′ 4 3⁄8″", 148 + Fraction(3, 8)),
    ("7'", 84),
    ("7 ft.", 84),
    ("7 FT", 84),
    ("6-1/2'", 78),
    ("12 and a half feet", 150),
    ('3/8"', Fraction(3, 8)),
    ('43/8"', Fraction(43, 8)),
    ('4 3/8"', Fraction(35, 8)),
    ('4-3/8"', Fraction(35, 8)),
    ("4 – 3/8 in", Fraction(35, 8)),
    ('88-5/8"', Fraction(709, 8)),
    ("88.5 in", Fraction(177, 2)),
    ("88.5''", Fraction(177, 2)),
    (".5 in", Fraction(1, 2)),
    ("½ in", Fraction(1, 2)),
    ("12½ inches", Fraction(25, 2)),
    ("a half inch", Fraction(1, 2)),
    ("1 and a quarter inches", Fraction(5, 4)),
    ("2 and 3 quarters inches", Fraction(11, 4)),
    ("5 sixteenths inch", Fraction(5, 16)),
    ('7/32"', Fraction(7, 32)),
    ("0 in", 0),
]


@pytest.mark.parametrize(("text", "value"), WRITTEN)
def test_feet_and_inches_are_read_as_people_write_them(text: str, value: Fraction) -> None:
    assert parse_length(text) == of_inches(value)


@pytest.mark.parametrize(
    ("text", "tenths"),
    [
        ("3770 mm", 37700),
        ("3770mm", 37700),
        ("3.77 m", 37700),
        ("3.770 metres", 37700),
        ("3.77 METERS", 37700),
        ("377 cm", 37700),
        ("0.1 mm", 1),
        ("12.7 millimetres", 127),
    ],
)
def test_metric_lengths_are_exact_to_a_tenth(text: str, tenths: int) -> None:
    assert parse_length(text) == tenths * 16


@pytest.mark.parametrize(
    ("text", "unit", "units"),
    [
        ("14.5", "in", of_inches(14.5)),
        ("14-1/2", "in", of_inches(14.5)),
        ("14 1/2", "in", of_inches(14.5)),
        ("3770", "mm", 3770 * 160),
        ("3.77", "m", 3770 * 160),
        ("7", "ft", of_inches(84)),
        ("37.5", "cm", 375 * 160),
        ("88.5 in", "mm", of_inches(88.5)),
    ],
)
def test_a_bare_number_takes_the_unit_that_its_file_states(text: str, unit: str, units: int) -> None:
    assert parse_length(text, unit) == units


REFUSED = [
    ("14.5", "'14.5' has no unit; write it like 14-1/2\" or 368 mm"),
    ("14-1/2", "'14-1/2' has no unit; write it like 14-1/2\" or 368 mm"),
    ("3,77 m", "'3,77 m': a comma in a number can be read two ways; write 3.77 m or 3770 mm"),
    ("3,770 mm", "'3,770 mm': a comma in a number can be read two ways; write 3.77 m or 3770 mm"),
    ("12' 14\"", "12' 14\": the inches behind the feet should be under 12"),
    ("12' 12\"", "12' 12\": the inches behind the feet should be under 12"),
    ('3/7"', "'3/7\"': a tape has halves, quarters, 8ths, 16ths and 32nds, not 3/7"),
    ('3/0"', "'3/0\"': a tape has halves, quarters, 8ths, 16ths and 32nds, not 3/0"),
    ('4 9/8"', "'4 9/8\"': the fraction 9/8 behind a whole number should be under one"),
    ("3.5' 2\"", "3.5' 2\": feet with a part of a foot take no inches; write 3' 6\" or 3.5 ft"),
    ("4 foot and a half", "'4 foot and a half': half a foot or half an inch? write 4' 6\" or 4' 0-1/2\""),
    (
        "about 7 ft",
        "'about 7 ft' is not a length; write it like 12' 4-3/8\", 88.5 in, 3770 mm or 3.77 m",
    ),
    ("-5 mm", "'-5 mm' is not a length; write it like 12' 4-3/8\", 88.5 in, 3770 mm or 3.77 m"),
    ("", "'' is not a length; write it like 12' 4-3/8\", 88.5 in, 3770 mm or 3.77 m"),
    ("nan", "'nan' is not a length; write it like 12' 4-3/8\", 88.5 in, 3770 mm or 3.77 m"),
    ("5 km", "'5 km' is not a length; write it like 12' 4-3/8\", 88.5 in, 3770 mm or 3.77 m"),
    ("7' 3' 2\"", "7' 3' 2\" is not a length; write it like 12' 4-3/8\", 88.5 in, 3770 mm or 3.77 m"),
    ("1" * 90, f"'{'1' * 37}...' is too long for a length; write it like 12' 4-3/8\" or 3770 mm"),
]


@pytest.mark.parametrize(("text", "sentence"), REFUSED)
def test_what_is_no_length_is_refused_with_what_would_be_right(text: str, sentence: str) -> None:
    with pytest.raises(LengthError) as refused:
        parse_length(text)
    assert str(refused.value) == sentence


def test_a_wrong_unit_of_bare_numbers_lists_the_units() -> None:
    with pytest.raises(LengthError) as refused:
        parse_length("7", "yard")
    assert str(refused.value) == "'yard' is not a unit of length; choose one of mm, cm, m, in, ft"


def test_every_32nd_up_to_40_feet_comes_back_exactly() -> None:
    for n in range(40 * 12 * 32 + 1):
        units = n * 127
        assert parse_length(feet_inches(units, 32)) == units
        assert parse_length(inches(units, 32)) == units


def test_every_tenth_of_a_millimetre_up_to_12_metres_comes_back_exactly() -> None:
    for n in range(0, 120_000, 7):
        assert parse_length(f"{n // 10}.{n % 10} mm") == 16 * n
        assert from_m(to_m(16 * n)) == 16 * n


@pytest.mark.parametrize(
    ("value", "nearest", "feet", "only_inches"),
    [
        (148.375, 16, "12' 4-3/8\"", '148-3/8"'),
        (148.375, 4, "12' 4-1/2\"", '148-1/2"'),
        (0.5, 16, '1/2"', '1/2"'),
        (0, 16, '0"', '0"'),
        (12, 16, "1' 0\"", '12"'),
        (11.96875, 16, "1' 0\"", '12"'),
        (-0.375, 8, '-3/8"', '-3/8"'),
        (-148.5, 16, "-12' 4-1/2\"", '-148-1/2"'),
    ],
)
def test_inches_are_shown_to_the_nearest_part_with_halves_away_from_zero(
    value: float, nearest: int, feet: str, only_inches: str
) -> None:
    assert feet_inches(of_inches(value), nearest) == feet
    assert inches(of_inches(value), nearest) == only_inches


def test_millimetres_are_shown_whole() -> None:
    assert millimetres(of_inches(148.375)) == "3769 mm"
    assert millimetres(80) == "1 mm"
    assert millimetres(-80) == "-1 mm"


@given(st.integers(0, 40 * FOOT), st.sampled_from([2, 4, 8, 16, 32]))
def test_a_shown_length_is_within_half_a_part_of_the_true_one(units: int, nearest: int) -> None:
    assert 2 * nearest * abs(parse_length(inches(units, nearest)) - units) <= INCH


@given(st.text(max_size=60), st.sampled_from([None, "in", "mm"]))
def test_any_text_is_a_length_of_at_least_nothing_or_refused(text: str, unit: str | None) -> None:
    try:
        said = inches(parse_length(text, unit))
    except LengthError as refused:
        said = str(refused)
    assert 0 < len(said) < 500
    assert not said.startswith("-")


def test_a_long_text_is_refused_at_once() -> None:
    with pytest.raises(LengthError, match="too long"):
        parse_length("1'" + " " * 1_000_000 + "x")


def test_resistance_and_temperature_at_the_edges() -> None:
    # NIST SP 811 (2008), B.8: 1 degF.h.ft2/Btu(IT) = 1.761102 E-01 K.m2/W; seven figures are printed.
    assert to_r(0.1761102) == pytest.approx(1.0, abs=3e-7)
    assert to_fahrenheit(-40.0) == -40.0
    assert to_fahrenheit(100.0) == 212.0
    assert area_m2(METRE * METRE) == 1.0


def test_nothing_needs_no_unit() -> None:
    """0 is the same length in every unit."""
    assert parse_length("0") == 0
    with pytest.raises(LengthError, match="has no unit"):
        parse_length("1")
