"""The questions "may we start" and "does it meet the rules": their types in results.json.

Sentences stand in the message tables; here are codes, verdict words and figures in SI.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from warmside.catalog.codes import suggest
from warmside.catalog.goods import Model
from warmside.job.resolve import House
from warmside.rules.clauses import ClauseResult
from warmside.rules.may_we_start import Raised, Start
from warmside.say import Figure

VerdictWord = Literal[
    "passes", "likely passes", "fails", "likely fails", "can't tell", "ask the authority", "decides"
]


class HazardShown(Model):
    """A hazard that is there: its level, who may deal with it, and the reading that says so."""

    hazard: str
    level: Literal["stop", "wait", "warn", "clue"]
    who: str
    reading: Figure | None
    source: str
    status: str


class MayWeStart(Model):
    """What was looked at, of how much; `waiting` are those not looked at that keep the work waiting."""

    answered: Literal[True] = True
    answer: Literal["stop", "wait", "no stop found"]
    looked_at: int
    of: int
    found: tuple[HazardShown, ...]
    not_looked_at: tuple[str, ...]
    waiting: tuple[str, ...]


class ClauseShown(Model):
    """One rule against one wall or thing; a margin over 0 is over, under 0 short.

    `target` marks a limit for new houses, `needs` are codes of what would tell the verdict.
    """

    rule: str
    clause: str
    measure: str
    wall: str | None
    thing: str | None
    comparison: str
    required: Figure | None
    found: Figure | None
    margin: Figure | None
    verdict: VerdictWord
    needs: tuple[str, ...]
    target: bool
    source: str
    status: str


class MeetsRules(Model):
    """Clause by clause under one rule set; `suggested` is the one that the place suggests.

    Our reading: the authority decides.
    """

    answered: Literal[True] = True
    rule_set: str
    edition: str
    suggested: str
    code: str = "rules.our_reading"
    counts: dict[VerdictWord, int]
    clauses: tuple[ClauseShown, ...]


def start_shown(house: House, start: Start) -> MayWeStart:
    """The types of results.json for the hazards of a house."""
    return MayWeStart(
        answer=start.answer.value,
        looked_at=start.seen,
        of=start.of,
        found=tuple(_raised(house, raised) for raised in start.found),
        not_looked_at=tuple(hazard.id for hazard in start.unseen),
        waiting=tuple(hazard.id for hazard in start.open),
    )


def _raised(house: House, raised: Raised) -> HazardShown:
    hazard, over = raised.hazard, raised.hazard.over
    reading = None
    if raised.reading is not None and over is not None:
        reading = Figure(value=raised.reading, unit=over.unit, method="read on site", level=house.level)
    return HazardShown(
        hazard=hazard.id,
        level=hazard.level,
        who=hazard.who,
        reading=reading,
        source=hazard.source,
        status=hazard.status,
    )


def rules_shown(house: House, results: Sequence[ClauseResult]) -> MeetsRules:
    """The types of results.json for the clauses of a house."""
    words = [result.verdict.value for result in results]
    return MeetsRules(
        rule_set=house.rules.id,
        edition=house.rules.edition,
        suggested=suggest(house.place)[0],
        counts={word: words.count(word) for word in sorted(set(words))},
        clauses=tuple(_clause(house, result) for result in results),
    )


_BOUND = {
    None: "survey and layers",
    "or_more": "looked at: this or more",
    "or_less": "looked at: this or less",
    "over": "looked at: over this",
}


def _clause(house: House, result: ClauseResult) -> ClauseShown:
    rule = result.rule

    def figure(value: float | None, method: str) -> Figure | None:
        if value is None or result.unit == "yes":
            return None
        return Figure(value=value, unit=result.unit, method=method, level=house.level)

    return ClauseShown(
        rule=rule.id,
        clause=rule.clause,
        measure=rule.measure.value,
        wall=result.wall,
        thing=result.thing,
        comparison=rule.comparison,
        required=figure(result.required, "rule"),
        found=figure(result.found, _BOUND[result.bound]),
        margin=figure(result.margin, "found less required"),
        verdict=result.verdict.value,
        needs=tuple(note.code for note in result.needs),
        target=result.target,
        source=rule.source,
        status=rule.status,
    )
