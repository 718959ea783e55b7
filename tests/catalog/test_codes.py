"""Rule sets: the method, films and gap that each set's limits are meant for."""

from __future__ import annotations

import pytest

from warmside.catalog.codes import RuleSet, rule_sets
from warmside.catalog.goods import shelf
from warmside.physics.resistance import Method
from warmside.units import MM

SETS = list(rule_sets().values())


def test_there_are_three_and_each_has_its_method() -> None:
    # The worked example of the national code adds whole layers and counts framing inside its layer, so
    # isothermal planes. ISO 6946 takes the mean of both limits. The residential code lists labels only.
    assert {s.id: s.method for s in SETS} == {
        "nbc-2020": Method.ISOTHERMAL_PLANES,
        "irc-2021": Method.PARALLEL_PATH,
        "iso-6946": Method.COMBINED,
    }


@pytest.mark.parametrize("rules", SETS, ids=lambda rules: rules.id)
def test_films_are_materials_with_a_resistance(rules: RuleSet) -> None:
    for film in (rules.inside_film, rules.outside_film):
        assert shelf().material(film).resistance is not None


def test_iso_films_as_printed() -> None:
    # ISO 6946:2007, Table 1, horizontal heat flow: 0.13 inside, 0.04 outside [m2.K/W].
    films = (rule_sets()["iso-6946"].inside_film, rule_sets()["iso-6946"].outside_film)
    found = [shelf().material(film).resistance for film in films]
    assert [film.value for film in found if film is not None] == [0.13, 0.04]


def test_the_gap_of_the_national_code() -> None:
    # 9.10.16.2.(2)(a): no fire block where the one concealed air space is at most 25 mm thick.
    gap = rule_sets()["nbc-2020"].largest_gap
    assert (gap.value, gap.status) == (25 * MM, "read")


def test_the_note_says_what_a_label_table_is_meant_for() -> None:
    assert "label resistance" in rule_sets()["irc-2021"].note
    assert "effective" in rule_sets()["nbc-2020"].note
