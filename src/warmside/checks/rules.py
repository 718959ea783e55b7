"""Compute functions of the checks on rule sets, climate zones and hazards: limits as the program picks them.

A limit is picked by the same conditions that judge a house, from degree-days, ventilator and kind.
"""

from __future__ import annotations

from warmside.catalog.climate_tables import climate_sources
from warmside.catalog.climates import find_place
from warmside.catalog.codes import Limit, Rule, rule_sets, rules
from warmside.catalog.design_values import DegreeDays, climate_zone, design
from warmside.catalog.hazards import Seen, hazards
from warmside.checks.registry import Inputs, computes
from warmside.rules.clauses import against, choices
from warmside.rules.facts import Facts, Found
from warmside.rules.may_we_start import is_there

ZONES = {"4": 4.0, "5": 5.0, "6": 6.0, "7A": 7.0, "7B": 7.5, "8": 8.0}


def _rule(set_id: str, rule_id: str) -> Rule:
    return next(rule for rule in rules(set_id) if rule.id == rule_id)


def _facts(set_id: str, degree_days: float, heat_recovery: bool | None = None) -> Facts:
    days = DegreeDays(degree_days, 18.0, "read", climate_sources()["local"], "")
    return Facts(days, rule_sets()[set_id].zones, heat_recovery)


def _only(limits: tuple[Limit, ...]) -> float:
    (limit,) = limits
    return limit.value


@computes("rules-resistance-by-zone")
def _by_zone(row: Inputs) -> float:
    rule = next(rule for rule in rules("nbc-2020") if rule.measure == row.text("measure"))
    facts = _facts("nbc-2020", row.number("degree_days"), row.text("heat_recovery") == "yes")
    return rule.si(_only(choices(rule, Found(1.0), facts)[0]))


def _ratio(row: Inputs) -> float:
    rule = _rule(row.text("set"), "ratio")
    return _only(choices(rule, Found(1.0), _facts(row.text("set"), row.number("degree_days")))[0])


computes("rules-low-permeance-ratio")(_ratio)
computes("rules-low-permeance-ratio-ontario")(_ratio)


def _limit(row: Inputs) -> float:
    return _rule(row.text("set"), row.text("rule")).limits[0].value


for _id in ("nbc", "ontario", "quebec", "us", "electrical", "of-vents", "from-memory"):
    computes(f"rules-limits-{_id}")(_limit)


def _keeps(set_id: str, rule: Rule, one: Found, degree_days: float = 4500.0) -> float:
    """1 where a value keeps to a rule, 0 where it misses it."""
    result = against(rule, one, _facts(set_id, degree_days))
    if result is None:
        raise LookupError(f"no limit of {rule.id} holds for {one.kind!r}")
    return float(not result.missed)


@computes("rules-either-side")
def _either_side(row: Inputs) -> float:
    rule = _rule("nbc-2020", row.text("rule"))
    return _keeps("nbc-2020", rule, Found(rule.si(row.number("value")), kind=row.text("kind") or None))


@computes("rules-either-side-sets")
def _either_side_of_sets(row: Inputs) -> float:
    rule = _rule(row.text("set"), row.text("rule"))
    return _keeps(row.text("set"), rule, Found(rule.si(row.number("value")), kind=row.text("kind") or None))


def _exempt(row: Inputs) -> float:
    """Of a board whose ratio is short of every table."""
    board = Found(
        0.1, permeance=row.number("permeance") * 1e-12, labelled=True, resistance=row.number("resistance")
    )
    return _keeps(row.text("set"), _rule(row.text("set"), "ratio"), board, row.number("degree_days"))


computes("rules-low-permeance-exempt")(_exempt)
computes("rules-low-permeance-exempt-national")(_exempt)


@computes("rules-beside-unheated")
def _beside_unheated(row: Inputs) -> float:
    one = Found(row.number("value"), beside_unheated=row.text("beside") == "yes")
    return _keeps("nbc-2020", _rule("nbc-2020", "foundation-r"), one)


@computes("rules-above-ground-quebec")
def _above_ground(row: Inputs) -> float:
    rule = _rule("quebec-11", "above-ground-r")
    return _only(choices(rule, Found(1.0), _facts("quebec-11", row.number("degree_days")))[0])


@computes("rules-u-table-us")
def _transmittance(row: Inputs) -> float:
    rule = _rule("irc-2021", "foundation-r")
    return 1.0 / _only(choices(rule, Found(1.0), _facts("irc-2021", row.number("degree_days")))[0])


@computes("rules-rim-label-us")
def _rim_label(row: Inputs) -> float:
    options = _rule("irc-2021", "rim-label-r").limits
    (beside,) = [option.continuous for option in options if option.value == row.number("cavity")]
    return beside or 0.0


@computes("rules-label-r-us")
def _label(row: Inputs) -> float:
    rule = _rule("irc-2021", "label-r")
    options, _ = choices(rule, Found(1.0), _facts("irc-2021", row.number("degree_days")))
    (beside,) = [option.continuous for option in options if option.value == row.number("cavity")]
    return beside or 0.0


@computes("rules-zone-of-places")
def _zone(row: Inputs) -> float:
    days = design(find_place(row.text("town"), "British Columbia", "Canada")).degree_days
    if days is None:
        raise LookupError(f"no degree-days for {row.text('town')}")
    return ZONES[climate_zone("NBC", days.value)]


@computes("rules-hazard-thresholds")
def _threshold(row: Inputs) -> float:
    seen = Seen(reading=row.number("reading"), unit=row.text("unit"))
    return float(is_there(hazards()[row.text("hazard")], seen))


@computes("rules-radon-lines")
def _radon(row: Inputs) -> float:
    seen = Seen(reading=row.number("reading"), unit=row.text("unit"))
    return float(is_there(hazards()["radon"], seen, row.text("set")))
