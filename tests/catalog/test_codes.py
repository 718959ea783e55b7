"""Rule sets: the method, films and gap that each set's limits are meant for."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from warmside.catalog.climate_tables import zone_rows
from warmside.catalog.codes import (
    UNITS,
    Amendment,
    Limit,
    Measure,
    Rule,
    RuleSet,
    read_rules,
    rule_sets,
    rules,
    rules_with,
    seen_on_site,
    suggest,
    unit_of,
)
from warmside.catalog.data_fault import DataFileError
from warmside.catalog.goods import shelf
from warmside.catalog.kinds import kinds
from warmside.physics.resistance import Method
from warmside.say import Voice
from warmside.units import MM

SETS = list(rule_sets().values())


def test_each_set_has_its_method() -> None:
    # The worked example of the national code adds whole layers and counts framing inside its layer, so
    # isothermal planes. ISO 6946 takes the mean of both limits. The residential code lists labels only.
    assert {s.id: s.method for s in SETS} == {
        "nbc-2020": Method.ISOTHERMAL_PLANES,
        "irc-2021": Method.PARALLEL_PATH,
        "iso-6946": Method.COMBINED,
        "ontario-2012": Method.ISOTHERMAL_PLANES,
        "quebec-11": Method.ISOTHERMAL_PLANES,
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


# Rules as data


@pytest.mark.parametrize("name", list(rule_sets()))
def test_every_set_has_rules_with_clause_and_source(name: str) -> None:
    found = rules(name)
    assert found
    assert len({rule.id for rule in found}) == len(found)
    assert all(rule.clause and rule.source and rule.limits for rule in found)
    after = {rule.after for rule in found} - {None}
    assert after <= {rule.measure for rule in found}


def test_sets_are_never_merged() -> None:
    # Canada asks for a vapour barrier; the residential code of the US asks for none on basement walls.
    asks = {name: {rule.measure for rule in rules(name)} for name in rule_sets()}
    assert Measure.VAPOUR_PERMEANCE in asks["nbc-2020"]
    assert Measure.VAPOUR_PERMEANCE not in asks["irc-2021"]
    assert Measure.AIR_BARRIER_PERMEANCE in asks["irc-2021"]
    assert Measure.AIR_BARRIER_PERMEANCE not in asks["nbc-2020"]


def test_bands_of_degree_days_leave_no_hole_and_never_overlap() -> None:
    for name in ("nbc-2020", "ontario-2012"):
        (rule,) = [rule for rule in rules(name) if rule.measure is Measure.RATIO]
        ends = [(limit.degree_days_from or 0.0, limit.degree_days_below) for limit in rule.limits]
        assert [low for low, _ in ends[1:]] == [high for _, high in ends[:-1]]


def test_what_is_seen_on_site_has_a_sentence_and_stands_in_the_manual() -> None:
    manual = (Path(__file__).parents[2] / "docs" / "rules.md").read_text("utf-8")
    found = [seen for name in rule_sets() for seen in seen_on_site(name)]
    assert len(found) > 15
    for seen in found:
        told = Voice().line(seen.words)
        assert f"| {seen.clause} | {seen.point.replace('_', '-')} | {told} | {seen.status} |" in manual


def test_rules_name_kinds_and_zones_that_there_are() -> None:
    for name in rule_sets():
        limits = [limit for rule in rules(name) for limit in rule.limits]
        assert {kind for limit in limits for kind in limit.kinds} <= set(kinds())
        zones = {row["zone"] for row in zone_rows() if row["system"] == rule_sets()[name].zones}
        assert {zone for limit in limits for zone in limit.zones} <= zones


def test_every_measure_has_one_unit_that_rules_can_be_written_in() -> None:
    for measure in Measure:
        assert unit_of(measure) in {base for base, _ in UNITS.values()}


PLAIN: dict[str, Any] = {"id": "a", "clause": "1", "comparison": "at least", "status": "read", "source": "s"}


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"measure": "foundation wal R", "unit": "m2.K/W"}, "foundation wall R"),
        ({"measure": "foundation wall R", "unit": "mm"}, "m2.K/W or h.ft2.F/Btu, not in 'mm'"),
        ({"measure": "foundation wall R", "unit": "m2.K/W", "limit": 3.0}, "Extra inputs"),
        ({"measure": "foundation wall R", "unit": "m2.K/W", "comparison": "over"}, "at least"),
    ],
)
def test_a_typo_in_a_rule_is_told(fields: dict[str, Any], told: str) -> None:
    with pytest.raises(ValidationError, match=told):
        Rule.model_validate({**PLAIN, **fields})


GOOD = """[[rule]]
id = "rim-r"
clause = "1"
measure = "rim R"
comparison = "at least"
unit = "m2.K/W"
limits = [{ value = 3 }]
source = "s"
status = "read"

[[see]]
clause = "2"
point = "rim"
words = "rules.see.four_joints"
source = "s"
status = "read"
"""


def test_a_rule_file_that_can_be_read() -> None:
    found = read_rules(GOOD, "mine.toml")
    assert [rule.id for rule in found.rule] == ["rim-r"]
    assert [seen.clause for seen in found.see] == ["2"]


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('measure = "rim R"', 'measure = "rimm R"', "mine.toml, line 1, [[rule]]: measure: "),
        ('measure = "rim R"', 'measure = "rimm R"', "not 'rimm R'; did you mean 'rim R'?"),
        ('unit = "m2.K/W"', 'unit = "furlong"', "rim R is in m2.K/W or h.ft2.F/Btu, not in 'furlong'"),
        ('comparison = "at least"', 'comparison = "over"', "'at least', 'at most', 'more than'"),
        ('clause = "1"\n', "", "line 1, [[rule]]: the key clause is missing"),
        ('clause = "1"', 'claus = "1"', "there is no key claus; did you mean 'clause'?"),
        ("limits = ", "limit = ", "there is no key limit; did you mean 'limits'?"),
        (
            "{ value = 3 }",
            "{ value = 3, zone = ['4'] }",
            "there is no key limits.0.zone; did you mean 'zones'?",
        ),
        ("{ value = 3 }", "{ value = 'three' }", "limits.0.value: Input should be a valid number"),
        (
            "[[rule]]",
            "[[rul]]",
            "mine.toml: [[rul]] is no table of a rule file; there are: [[rule]], [[see]], [[not_read]]",
        ),
        ('point = "rim"', 'point = "roof"', "mine.toml, line 11, [[see]]: point: "),
        ('point = "rim"', 'point = "roof"', "not 'roof'"),
        ("limits = [", "limits = ", "mine.toml: "),
        ("limits = [", "limits = ", "line 7"),
        (
            'source = "s"\nstatus = "read"\n\n',
            'source = "s"\nstatus = "read"\nshort_means = "decides"\n\n',
            'a rule that decides says what it chooses: chooses = "wall value"',
        ),
    ],
)
def test_a_rule_file_that_can_not_be_read_tells_line_and_remedy(old: str, new: str, told: str) -> None:
    with pytest.raises(DataFileError) as caught:
        read_rules(GOOD.replace(old, new, 1), "mine.toml")
    assert told in str(caught.value)


# Amendments: five lines of a job file


def test_an_amendment_takes_the_place_of_its_measure_only() -> None:
    own = Amendment(clause="by-law 3", measure=Measure.GAP, at_most=1.5, unit="in")
    amended = rules_with("nbc-2020", (own,))
    assert [rule.clause for rule in amended if rule.measure is Measure.GAP] == ["by-law 3"]
    assert len(amended) == len(rules("nbc-2020"))
    (rule,) = [rule for rule in amended if rule.measure is Measure.GAP]
    assert rule.limits == (Limit(value=1.5),)
    assert rule.si(1.5) == pytest.approx(0.0381)
    assert not rule.target


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"measure": "rim R", "at_least": 3.0, "unit": "m2.K/W"}, "clause"),
        ({"clause": "", "measure": "rim R", "at_least": 3.0, "unit": "m2.K/W"}, "at least 1 character"),
        ({"clause": "1", "measure": "rim R", "unit": "m2.K/W"}, "write at_least or at_most"),
        ({"clause": "1", "measure": "rim R", "at_least": 3.0, "at_most": 4.0, "unit": "m2.K/W"}, "one limit"),
        ({"clause": "1", "measure": "rim R", "at_least": 3.0, "unit": "in"}, "not in 'in'"),
        ({"clause": "1", "measure": "rimm R", "at_least": 3.0, "unit": "m2.K/W"}, "rim R"),
    ],
)
def test_an_amendment_that_can_not_be_is_told(fields: dict[str, Any], told: str) -> None:
    with pytest.raises(ValidationError, match=told):
        Amendment.model_validate(fields)


def test_an_amendment_may_demand_what_is_so_or_not() -> None:
    own = Amendment(clause="by-law 3", measure=Measure.MOISTURE_PROTECTION)
    assert own.as_rule(1).comparison == "required"


# The set of a place


@dataclass(frozen=True)
class Town:
    country: str | None = None
    region: str | None = None


@pytest.mark.parametrize(
    ("town", "chosen", "why"),
    [
        (Town("Canada", "Ontario"), "ontario-2012", "rules.suggest.region"),
        (Town("canada", "QC"), "quebec-11", "rules.suggest.region"),
        (Town("Canada", "Alberta"), "nbc-2020", "rules.suggest.country"),
        (Town("Canada"), "nbc-2020", "rules.suggest.country"),
        (Town("USA", "Ontario"), "irc-2021", "rules.suggest.country"),
        (Town("United States", "Minnesota"), "irc-2021", "rules.suggest.country"),
        (Town("Norway"), "iso-6946", "rules.suggest.country"),
        (Town("Atlantis"), "nbc-2020", "rules.suggest.unlisted"),
        (Town(), "nbc-2020", "rules.suggest.no_country"),
    ],
)
def test_the_place_suggests_a_set_and_says_why(town: Town, chosen: str, why: str) -> None:
    found, note = suggest(town)
    assert (found, note.code) == (chosen, why)
    assert rule_sets()[chosen].title in Voice().text(note)
