"""How results are told: figures of one row never contradict each other, and every wall of note is named."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests import walls as w
from tests.rules.test_clauses import KELOWNA, SOIL, job, one, results
from warmside.catalog.codes import UNITS, Limit, Measure, Rule, rules, units_for
from warmside.rules.clauses import ClauseResult, Verdict, against
from warmside.rules.facts import Facts, Found
from warmside.rules.told import grouped, has, margin, wants
from warmside.say import UnitSystem, Voice

FACTS = Facts(None, None, None)


def rule(measure: Measure, unit: str, limit: float, comparison: str = "at least", **more: Any) -> Rule:
    fields = {"id": "a", "clause": "1", "source": "s", "status": "read", **more}
    return Rule.model_validate(
        {**fields, "measure": measure, "unit": unit, "comparison": comparison, "limits": [Limit(value=limit)]}
    )


def judged(of: Rule, value: float, **more: Any) -> ClauseResult:
    result = against(of, Found(value, "A", **more), FACTS)
    assert result is not None
    return result


def told(result: ClauseResult, system: UnitSystem = "ft-in") -> tuple[str, str, str]:
    voice = Voice(system)
    wanted = voice.text(wants(result)).rpartition(" at ")[2].partition(" ")[2]
    return wanted, voice.text(has(result)), voice.text(margin(result))


# Margins


def test_the_row_that_was_wrong() -> None:
    # 5.08 and 3.08 m2.K/W are R28.8 and R17.5: as whole numbers 29 and 17 lie 12 apart, 2.00 m2.K/W is R11.
    result = judged(rule(Measure.RIM_R, "m2.K/W", 3.08), 5.08)
    assert told(result) == ("R17.5 (RSI 3.08)", "R28.8 (RSI 5.08)", "over by R11.3 (RSI 2.00)")


def test_a_little_short_is_never_short_by_nothing() -> None:
    # 2.98 is R16.9 and 2.95 is R16.8: both R17 as whole numbers.
    result = judged(rule(Measure.RIM_R, "m2.K/W", 2.98), 2.95)
    assert told(result) == ("R16.9 (RSI 2.98)", "R16.8 (RSI 2.95)", "short by R0.1 (RSI 0.03)")


def test_whole_numbers_stay_where_they_agree() -> None:
    result = judged(rule(Measure.RIM_R, "m2.K/W", 2.98), 2.13)
    assert told(result) == ("R17 (RSI 2.98)", "R12 (RSI 2.13)", "short by R5 (RSI 0.85)")


R_OF = re.compile(r"R(\d+(?:\.\d)?) \(RSI (\d+\.\d\d)\)")


@given(st.floats(0.5, 12.0), st.floats(0.5, 12.0))
def test_resistances_of_a_row_add_up(wanted: float, found: float) -> None:
    result = judged(rule(Measure.RIM_R, "m2.K/W", wanted), found)
    figures = [R_OF.search(text) for text in told(result)]
    if figures[2] is None:
        assert told(result)[2] == "just met"
        return
    want, have, apart = ([float(part) for part in figure.groups()] for figure in figures if figure)
    for limit, value, by in zip(want, have, apart, strict=True):
        assert by == pytest.approx(abs(value - limit), abs=1e-6)


@given(st.floats(0.05, 1.0), st.floats(0.0, 1.5))
def test_shares_of_a_row_add_up(wanted: float, found: float) -> None:
    result = judged(rule(Measure.BEHIND, "-", wanted), found)
    figures = [re.search(r"(under )?(\d+(?:\.\d)?) %", text) for text in told(result)]
    if figures[2] is None or any(figure and figure[1] for figure in figures):
        return
    limit, value, by = (float(figure[2]) for figure in figures if figure)
    assert by == pytest.approx(abs(value - limit), abs=1e-6)


@pytest.mark.parametrize(
    ("unit", "limit", "measure", "value", "comparison", "expected"),
    [
        # 25 mm as a code says it, and 1-3/8 in = 34.9 mm: in millimetres, since 1 in is no inch there.
        ("mm", 25, Measure.GAP, 0.034925, "at most", "10 mm too much"),
        # 20 in is 508 mm to the hair and stays in inches.
        ("in", 20, Measure.OPENING_SIDE, 14 * 0.0254, "at least", 'short by 6"'),
        # 0.1 and 0.06 perm, 5.72 and 3.43 ng/(Pa.s.m2)
        ("perm", 0.1, Measure.AIR_BARRIER_PERMEANCE, 3.43e-12, "more than", "short by 0.04 perm"),
        ("%", 19, Measure.WOOD_MOISTURE, 0.145, "at most", "4.5 % to spare"),
        # 5.0 sq ft and 2.5 sq ft; 0.46 and 0.23 m2
        ("ft2", 5, Measure.OPENING_AREA, 0.2323, "at least", "short by 2.5 sq ft (0.23 m²)"),
        # A share that is not nothing is never told as nothing.
        ("%", 0, Measure.UNFILLED, 0.003, "at most", "0.3 % too much"),
        ("%", 0, Measure.UNFILLED, 0.0002, "at most", "under 0.1 % too much"),
    ],
)
def test_each_margin_in_the_unit_of_its_limit(
    unit: str, limit: float, measure: Measure, value: float, comparison: str, expected: str
) -> None:
    assert told(judged(rule(measure, unit, limit, comparison), value))[2] == expected


def test_within_the_slack_of_a_tape_it_is_just_met() -> None:
    gap = next(each for each in rules("nbc-2020") if each.id == "gap")
    assert Voice().text(margin(judged(gap, 0.0254))) == "just met"
    assert Voice().text(margin(judged(gap, 0.0255))) == "0.5 mm too much"


def test_a_thin_sheet_keeps_its_tenths() -> None:
    # 12.5 mm of plasterboard before 12.7 mm: in whole millimetres 13 and 13.
    result = judged(rule(Measure.FOAM_COVER, "mm", 12.7), 0.0125)
    assert told(result, "mm") == ("12.7 mm", "12.5 mm", "short by 0.2 mm")


def test_labels_of_several_batts_stay_whole() -> None:
    # Two batts of R14 at 2.47 m2.K/W each come to R28.05.
    options = next(each for each in rules("irc-2021") if each.id == "rim-label-r")
    result = against(options, Found(4.94, "A"), FACTS)
    assert result is not None
    assert Voice().text(has(result)) == "batts R28 (RSI 4.94)"
    assert Voice().text(margin(result)) == "short by R2 (RSI 0.34)"


# What was only looked at


def test_what_is_known_by_one_end_has_no_margin() -> None:
    panel = rule(Measure.PANEL_SPACE, "m", 1.0)
    result = judged(panel, 1.0, bound="or_more")
    assert told(result)[1:] == ('1000 mm (39") or more, as looked at', "–")
    assert result.verdict is Verdict.PASSES
    stricter = judged(rule(Measure.PANEL_SPACE, "m", 1.2), 1.0, bound="or_more")
    assert stricter.verdict is Verdict.CANT_TELL


# Rows


def walls_with(*gaps: str) -> Any:
    return w.house(
        *(w.wall(name=name, **SOIL, gap=["10 mm", gap]) for name, gap in zip("ABCD", gaps, strict=False)),
        {key: value for key, value in w.wall(name="U", **SOIL).items() if key != "gap"},
        place=KELOWNA,
    )


def test_a_row_names_the_walls_of_every_verdict_that_matters() -> None:
    (row,) = [row for row in grouped(results(walls_with("40 mm", "20 mm"))) if row.rule.id == "gap"]
    assert (row.worst.verdict, row.places) == (Verdict.FAILS, ("A",))
    assert [(other.verdict, places) for other, places in row.others] == [(Verdict.CANT_TELL, ("U",))]


# Limits that nobody has read


@pytest.mark.parametrize("name", ["ontario-2012", "quebec-11", "irc-2021", "iso-6946"])
def test_what_nobody_has_read_is_asked_about_with_what_the_house_has(name: str) -> None:
    house = job({**KELOWNA, "rule_set": name})
    unread = [result for result in results(house) if result.rule.comparison == "not read"]
    assert unread
    assert {result.verdict for result in unread} == {Verdict.ASK}
    assert {(result.required, result.margin) for result in unread} == {(None, None)}
    assert all(result.missed is None for result in unread)


def test_no_foundation_value_was_read_for_the_north() -> None:
    result = one(job({"rule_set": "iso-6946"}), Measure.FOUNDATION_R)
    assert result.found is not None
    assert Voice("mm").text(wants(result)) == "effective R of the foundation wall"
    assert Voice("mm").text(has(result)).startswith("RSI 2.")


def test_a_local_amendment_takes_the_place_of_what_nobody_has_read() -> None:
    own = {"clause": "decree 7", "measure": "foundation wall R", "at_least": 4.0, "unit": "m2.K/W"}
    result = one(job({"rule_set": "iso-6946"}, {"amendment": [own]}), Measure.FOUNDATION_R)
    assert (result.rule.clause, result.verdict) == ("decree 7", Verdict.FAILS)


def test_behind_a_thing_an_unread_limit_makes_no_share() -> None:
    box = {"kind": "electrical box", "from_left": "20 in", "up": "12 in"}
    result = one(job({"rule_set": "iso-6946"}, in_the_way=[box]), Measure.BEHIND)
    assert (result.verdict, result.found) == (Verdict.ASK, None)


@pytest.mark.parametrize("measure", list(Measure))
def test_every_measure_is_told_in_every_unit_that_it_takes(measure: Measure) -> None:
    for unit in units_for(measure):
        result = judged(rule(measure, unit, 2.0), UNITS[unit][1])
        assert all(told(result))
        assert told(replace(result, found=None))[1] == "not known"
