"""The manual's tables of clauses are those of the data, row by row, and no set is silent about a topic."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from warmside.catalog.codes import NOT_READ, Measure, Rule, ToSee, rule_sets, rules, seen_on_site
from warmside.say import Voice

MANUAL = (Path(__file__).parents[2] / "docs" / "rules.md").read_text("utf-8")
SHORT = {"decides": "decides", "ask": "ask", "fails": ""}


def _range(rule: Rule) -> str:
    """The limits of a rule without their conditions: one value, or the least and the most."""
    values = [limit.value for limit in rule.limits]
    least, most = min(values), max(values)
    return f"{least:g}" if least == most else f"{least:g} to {most:g}"


def _by(rule: Rule) -> str:
    """What chooses among the limits of a rule."""
    kinds = [kind for limit in rule.limits for kind in limit.kinds]
    if kinds:
        return f" ({'; '.join(kinds)})"
    chosen = [
        word
        for word, by in (
            ("zone", any(limit.zones for limit in rule.limits)),
            ("ventilator", any(limit.heat_recovery is not None for limit in rule.limits)),
            ("degree-days", any(limit.degree_days_below or limit.degree_days_from for limit in rule.limits)),
        )
        if by
    ]
    if len(rule.limits) == 1 and rule.limits[0].zones:
        return f" (zone {', '.join(rule.limits[0].zones)})"
    return f", by {' and '.join(chosen)}" if chosen else ""


def _option(value: float, continuous: float | None, zones: tuple[str, ...]) -> str:
    parts = [f"{value:g}" if value else "", f"{continuous:g}ci" if continuous else ""]
    where = f" (zone {', '.join(zones)})" if zones else ""
    return "+".join(part for part in parts if part) + where


def _limit(rule: Rule) -> str:
    if rule.comparison == "required":
        return "has to be so" + _by(rule)
    if rule.comparison == "any of":
        options = "; ".join(_option(one.value, one.continuous, one.zones) for one in rule.limits)
        return f"one of {options} {rule.unit}"
    unit = "" if rule.unit == "-" else f" {rule.unit}"
    return f"{rule.comparison} {_range(rule)}{unit}{_by(rule)}"


def _note(rule: Rule) -> str:
    exempt = "by the wet cup" if rule.measure is Measure.VAPOUR_CLASS else "by the label of the board"
    less = rule.beside_unheated
    parts = (
        "target" if rule.target else "",
        SHORT[rule.short_means],
        f"after {rule.after.value}" if rule.after else "",
        "serves instead" if rule.instead else "",
        f"exempt {exempt}" if rule.exempt else "",
        f"{less.by:g} less beside unheated space ({less.status})" if less else "",
    )
    return ", ".join(part for part in parts if part)


def _row(rule: Rule) -> str:
    return f"| {rule.clause} | {rule.measure.value} | {_limit(rule)} | {rule.status} | {_note(rule)} |"


def _seen(one: ToSee) -> str:
    told = Voice().line(one.words)
    return f"| {one.clause} | {one.point.replace('_', '-')} | {told} | {one.status} |"


def section(name: str) -> str:
    """What the manual says of one rule set: to be put there whenever the data change."""
    chosen = rule_sets()[name]
    lines = [f"### {chosen.title}: {chosen.edition} (`{name}`)", "", chosen.note, ""]
    lines += ["| clause | measure | limit | status | note |", "|---|---|---|---|---|"]
    lines += [_row(rule) for rule in rules(name) if rule.comparison != NOT_READ]
    if seen_on_site(name):
        lines += ["", "Seen on site, at the points before covering:", ""]
        lines += ["| clause | point | what is seen | status |", "|---|---|---|---|"]
        lines += [_seen(one) for one in seen_on_site(name)]
    return "\n".join([*lines, *_not_read(name)]) + "\n"


def _not_read(name: str) -> Iterator[str]:
    texts: dict[tuple[str, str], list[str]] = {}
    for rule in rules(name):
        if rule.comparison == NOT_READ and rule.words:
            texts.setdefault((rule.clause, rule.words), []).append(rule.measure.value)
    for (where, words), measures in texts.items():
        yield from ("", f"Not read, so the authority is asked. {where}: {Voice().line(words)}", "")
        yield from (f"- {measure}" for measure in measures)


@pytest.mark.parametrize("name", list(rule_sets()))
def test_the_manual_says_of_each_set_what_its_data_say(name: str) -> None:
    start = MANUAL.index(f"(`{name}`)\n")
    start = MANUAL.rindex("\n### ", 0, start) + 1
    ends = [at for at in (MANUAL.find("\n### ", start), MANUAL.find("\n## ", start)) if at > 0]
    assert MANUAL[start : min(ends)].splitlines() == section(name).splitlines()


# What an inspector asks about in any country, and the measures that answer it


TOPICS: dict[str, set[Measure]] = {
    "resistance of the wall": {Measure.FOUNDATION_R, Measure.TOTAL_R, Measure.LABEL_R},
    "foundation value or wall value": {Measure.MEAN_SHOWING, Measure.SHARE_SHOWING},
    "rim": {Measure.RIM_R, Measure.RIM_LABEL_R},
    "behind what is in the way": {Measure.BEHIND},
    "permeance of the vapour control": {Measure.VAPOUR_PERMEANCE, Measure.VAPOUR_CLASS},
    "moisture barrier": {Measure.MOISTURE_PROTECTION},
    "gap or fire blocks": {Measure.GAP, Measure.FIRE_BLOCKS},
    "foam cover": {Measure.FOAM_COVER},
    "wood on concrete": {Measure.WOOD_BREAK},
    "moisture of the wood": {Measure.WOOD_MOISTURE},
    "ducts": {Measure.DUCT_INSIDE},
    "boxes": {Measure.BOX_SEALED},
    "panel": {Measure.PANEL_SPACE},
    "what is hot": {Measure.CLEARANCE, Measure.BY_LABEL},
    "beam ends": {Measure.BEAM_AIR},
    "way out": {Measure.OPENING_AREA},
}
WITH_A_VAPOUR_BARRIER: dict[str, set[Measure]] = {
    "laps": {Measure.LAP},
    "place of the vapour barrier": {Measure.VAPOUR_WARM_SIDE},
}
"""The residential code of the US asks for no vapour retarder on a basement wall, which its note says."""
IN_CANADA: dict[str, set[Measure]] = {
    "low permeance": {Measure.RATIO},
    "variable membrane": {Measure.VAPOUR_WET},
    "moisture barrier above ground": {Measure.MOISTURE_TOP},
}


def _silent(name: str) -> Iterator[str]:
    topics = TOPICS if name == "irc-2021" else {**TOPICS, **WITH_A_VAPOUR_BARRIER}
    topics = topics if name in ("irc-2021", "iso-6946") else {**topics, **IN_CANADA}
    told = {rule.measure for rule in rules(name)}
    yield from (topic for topic, measures in topics.items() if not measures & told)


@pytest.mark.parametrize("name", list(rule_sets()))
def test_no_set_is_silent_about_a_topic(name: str) -> None:
    assert list(_silent(name)) == []


def test_the_us_set_says_that_it_asks_for_no_vapour_retarder() -> None:
    assert "No vapor retarder is asked for on a basement wall" in rule_sets()["irc-2021"].note


@pytest.mark.parametrize("name", list(rule_sets()))
def test_what_is_read_is_never_said_to_be_unread(name: str) -> None:
    read = {rule.measure for rule in rules(name) if rule.comparison != NOT_READ}
    unread = [rule.measure for rule in rules(name) if rule.comparison == NOT_READ]
    assert read & set(unread) == set()
    assert len(unread) == len(set(unread))
