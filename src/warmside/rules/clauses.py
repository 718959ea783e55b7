"""Clause by clause: the code wants, you have, over or short; passes, fails, can't tell, or ask the authority.

Limits are those of `catalog.codes` with a job's amendments. Where a fact that chooses among limits is not
known, every limit that may hold is tried: one verdict for all of them is the verdict, else it can't be told.
What rests on memory never passes for sure, nor does an effective R where nobody has read how it is to be
worked out; only a label exempts. A limit that nobody has read is asked about. The authority decides.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from warmside.catalog.codes import NOT_READ, UNITS, Exemption, Limit, Measure, Rule, rules_with, unit_of
from warmside.job.resolve import House
from warmside.rules.facts import Bound, Facts, Found, facts, needs
from warmside.rules.facts import Built as Built
from warmside.rules.found import found
from warmside.say import Note

CONFIRMED = frozenset({"read", "computed", "label"})
EFFECTIVE = frozenset({Measure.FOUNDATION_R, Measure.ABOVE_GROUND_R, Measure.RIM_R})
"""Measures that hang on the method by which resistance is worked out."""


class Verdict(StrEnum):
    """What is said of one clause; `decides` only chooses which other rule counts."""

    FAILS = "fails"
    LIKELY_FAILS = "likely fails"
    CANT_TELL = "can't tell"
    ASK = "ask the authority"
    LIKELY_PASSES = "likely passes"
    PASSES = "passes"
    DECIDES = "decides"


GOOD = frozenset({Verdict.PASSES, Verdict.LIKELY_PASSES, Verdict.DECIDES})
WORST_FIRST = tuple(Verdict)
"""The order in which a reader wants to see them."""


@dataclass(frozen=True)
class ClauseResult:
    """One rule against one wall or thing; the whole house where `wall` is None.

    required, found, margin : in the unit of the measure; a margin over 0 is over, under 0 short
    continuous : label resistance of the board beside a cavity value [m2.K/W]
    choices : the limits that were tried, the strictest first
    missed : whether it falls short; None where that can't be told
    said : what stands beside it in place of the rule's own words
    bound : where the found value is only an end of what it may be
    """

    rule: Rule
    wall: str | None
    thing: str | None
    required: float | None
    found: float | None
    margin: float | None
    verdict: Verdict
    needs: tuple[Note, ...] = ()
    absent: bool = False
    continuous: float = 0.0
    choices: tuple[Limit, ...] = ()
    missed: bool | None = None
    said: str | None = None
    bound: Bound | None = None

    @property
    def target(self) -> bool:
        """Whether the limit is written for new houses and only a target in this one."""
        return self.rule.target

    @property
    def unit(self) -> str:
        """The unit of its figures."""
        return unit_of(self.rule.measure)


def judge(house: House, walls: Sequence[Built]) -> tuple[ClauseResult, ...]:
    """Every rule of the house's set, amendments put in, against every wall that it applies to."""
    every = rules_with(house.rules.id, house.amendments)
    by_method = any(rule.measure is Measure.METHOD and rule.status in CONFIRMED for rule in every)
    known = replace(facts(house), method_read=by_method)
    results: list[ClauseResult] = []
    for rule in sorted(every, key=lambda rule: rule.after is not None):
        results += _of_rule(rule, house, walls, known, results)
    order = {rule.id: place for place, rule in enumerate(every)}
    served = (_served(result, results) for result in results)
    return tuple(sorted(served, key=lambda result: order[result.rule.id]))


def _of_rule(
    rule: Rule, house: House, walls: Sequence[Built], known: Facts, before: Sequence[ClauseResult]
) -> Iterator[ClauseResult]:
    for one in found(rule.measure, house, walls):
        if rule.comparison == NOT_READ:
            yield _asked(rule, one)
            continue
        share = rule.measure is Measure.BEHIND
        result = _share_judged(rule, one, known, before) if share else against(rule, one, known)
        if result is not None and rule.after is None:
            yield result
        elif result is not None:
            yield from _after(result, [b for b in before if b.rule.measure is rule.after])


def _asked(rule: Rule, one: Found) -> ClauseResult:
    """What a wall has beside a limit that nobody has read."""
    # Behind a thing the found value is a resistance, and without the limit it is no share of anything.
    value = None if rule.measure is Measure.BEHIND else one.value
    return ClauseResult(
        rule, one.wall, one.thing, None, value, None, Verdict.ASK, one.needs, one.absent, one.continuous
    )


def against(rule: Rule, one: Found, known: Facts) -> ClauseResult | None:
    """One found value against a rule; None where no limit of the rule holds for it."""
    limits, missing = choices(rule, one, known)
    if not limits:
        return None
    result = _judged(rule, one, limits, missing, _sure(rule, one, known))
    if one.bound is not None and result.missed is not (one.bound == "over"):
        return replace(result, verdict=Verdict.CANT_TELL, missed=None)
    if result.verdict in GOOD or one.value is None:
        return result
    return _exempted(_reduced(result, one, limits, missing), one, known)


def _share_judged(
    rule: Rule, one: Found, known: Facts, before: Sequence[ClauseResult]
) -> ClauseResult | None:
    """What stands behind a thing as a share of what its wall has to have, at both ends of that."""
    wanted = next((b.rule for b in before if b.rule.measure is Measure.FOUNDATION_R), None)
    if one.value is None:
        return against(rule, one, known)
    if wanted is None:
        return against(rule, replace(one, value=None, needs=needs("degree_days")), known)
    values, missing = choices(wanted, one, known)
    sure = one.sure and _sure(wanted, replace(one, value=None), known)
    ends = [
        replace(one, value=one.value / wanted.si(end.value), sure=sure) for end in (values[0], values[-1])
    ]
    strict, lenient = (against(rule, end, known) for end in ends)
    if strict is None or lenient is None or strict.missed is lenient.missed:
        return strict
    return replace(strict, verdict=Verdict.CANT_TELL, needs=missing, missed=None)


def _served(result: ClauseResult, every: Sequence[ClauseResult]) -> ClauseResult:
    """A result that is short, where the same wall keeps to a rule that serves instead."""
    made_up = result.missed and any(
        other.rule.instead
        and other.rule.after is result.rule.measure
        and (other.wall, other.missed) == (result.wall, False)
        for other in every
    )
    if not made_up:
        return result
    return replace(result, verdict=Verdict.LIKELY_PASSES, missed=False, said="rules.words.served_instead")


def _after(result: ClauseResult, first: Sequence[ClauseResult]) -> Iterator[ClauseResult]:
    """A rule that counts only where another one is missed on the same wall."""
    same = [other for other in first if other.wall in (None, result.wall)]
    if any(other.missed for other in same):
        yield result
    elif any(other.missed is None for other in same):
        asked = tuple(note for other in same for note in other.needs)
        unknown = replace(result, verdict=Verdict.CANT_TELL, needs=asked, missed=None)
        yield unknown if result.missed is not False else result


# Which limits hold


def choices(rule: Rule, one: Found, known: Facts) -> tuple[tuple[Limit, ...], tuple[Note, ...]]:
    """The limits that hold or may hold, the strictest first, and what would tell them apart."""
    held = [(limit, _open(limit, one, known)) for limit in rule.limits]
    may = [(limit, open_) for limit, open_ in held if open_ is not None]
    asked = dict.fromkeys(need for _, open_ in may for need in open_ or ())
    strict = sorted((limit for limit, _ in may), key=lambda limit: limit.value)
    upward = rule.comparison in ("at least", "more than")
    missing = tuple(note for need in asked for note in needs(need))
    return tuple(reversed(strict) if upward else strict), missing


def _open(limit: Limit, one: Found, known: Facts) -> tuple[str, ...] | None:
    """What must be known to say that a limit holds, nothing where it does; None where it does not hold."""
    asked: tuple[str, ...] = ()
    for holds, need in _conditions(limit, one, known):
        if holds is False:
            return None
        asked = (*asked, need) if holds is None else asked
    return asked


def _conditions(limit: Limit, one: Found, known: Facts) -> Iterator[tuple[bool | None, str]]:
    if limit.kinds:
        yield one.kind in limit.kinds, "kind"
    if limit.zones:
        yield None if known.zone is None else known.zone in limit.zones, "degree_days"
    if limit.heat_recovery is not None:
        unknown = known.heat_recovery is None
        yield None if unknown else known.heat_recovery == limit.heat_recovery, "heat_recovery"
    if limit.degree_days_from is not None or limit.degree_days_below is not None:
        low, high = limit.degree_days_from or 0.0, limit.degree_days_below or float("inf")
        days = known.degree_days
        yield None if days is None else low <= days.value < high, "degree_days"


def _sure(rule: Rule, one: Found, known: Facts) -> bool:
    """Whether value, limit and climate are confirmed, or the climate does not matter."""
    by_place = any(limit.zones or limit.degree_days_from or limit.degree_days_below for limit in rule.limits)
    place = known.degree_days is None or known.degree_days.status in CONFIRMED
    settled = place or not by_place or _same_anywhere(rule, one, known)
    method = known.method_read or rule.measure not in EFFECTIVE
    return one.sure and rule.status in CONFIRMED and settled and method


def _same_anywhere(rule: Rule, one: Found, known: Facts) -> bool:
    """Whether a value keeps to the limits of all climates, or misses them all."""
    if one.value is None or rule.comparison == "any of":
        return False
    limits, _ = choices(rule, one, replace(known, degree_days=None))
    return len({_holds(rule, _margin(rule, one.value, limit)) for limit in limits}) == 1


# Where a rule asks for less, or for nothing


def _reduced(
    result: ClauseResult, one: Found, limits: tuple[Limit, ...], open_: tuple[Note, ...]
) -> ClauseResult:
    """The result beside space that is not heated, where the lower limit makes one that is good."""
    rule, less = result.rule, result.rule.beside_unheated
    if less is None or one.value is None or not one.beside_unheated:
        return result
    by, sure = rule.si(less.by), one.sure and less.status in CONFIRMED
    eased = _judged(rule, replace(one, value=one.value + by), limits, open_, sure)
    if eased.verdict not in GOOD or eased.required is None:
        return result
    return replace(eased, found=one.value, required=eased.required - by, said=less.words)


def _exempted(result: ClauseResult, one: Found, known: Facts) -> ClauseResult:
    """The result where a rule may not hold at all: exempt by a label, or not to be told without one."""
    for exemption in result.rule.exempt if result.verdict not in GOOD else ():
        holds, asked = _exempt(exemption, one, known)
        if holds is None:
            return replace(result, verdict=Verdict.CANT_TELL, needs=asked, missed=None)
        if holds:
            sure = exemption.status in CONFIRMED and _climate_sure(exemption, known)
            good = Verdict.PASSES if sure else Verdict.LIKELY_PASSES
            return replace(result, verdict=good, missed=False, said=exemption.words)
    return result


def _exempt(exemption: Exemption, one: Found, known: Facts) -> tuple[bool | None, tuple[Note, ...]]:
    """Whether all conditions are met, and what would tell; a permeance counts only by the label."""
    least, thick, cold = exemption.permeance_from, exemption.resistance_from, exemption.degree_days_below
    days = known.degree_days.value if known.degree_days else None
    met: dict[str, bool | None] = {}
    if cold is not None:
        met["degree_days"] = None if days is None else days < cold
    if thick is not None:
        met["board"] = None if one.resistance is None else one.resistance >= thick
    if least is not None:
        enough = one.permeance is not None and one.permeance >= least * UNITS["ng/(Pa.s.m2)"][1]
        met["board_permeance"] = enough if one.labelled or (one.permeance and not enough) else None
    if False in met.values():
        return False, ()
    asked = tuple(note for need, holds in met.items() if holds is None for note in needs(need))
    return (None if asked else True), asked


def _climate_sure(exemption: Exemption, known: Facts) -> bool:
    by_place = exemption.degree_days_below is not None
    return not by_place or (known.degree_days is not None and known.degree_days.status in CONFIRMED)


# The verdict


def _judged(
    rule: Rule, one: Found, limits: tuple[Limit, ...], open_: tuple[Note, ...], sure: bool
) -> ClauseResult:
    empty = ClauseResult(
        rule, one.wall, one.thing, None, one.value, None, Verdict.CANT_TELL, one.needs, one.absent,
        one.continuous, limits, bound=one.bound,
    )  # fmt: skip
    if one.absent:
        strictest = rule.si(limits[0].value)
        return replace(empty, required=strictest, verdict=_verdict(rule, False, sure), missed=True)
    if one.value is None:
        return replace(empty, required=rule.si(limits[0].value))
    if rule.comparison == "any of":
        return _best_option(empty, one, limits, open_, sure)
    return _against_all(empty, one.value, limits, open_, sure)


def _against_all(
    empty: ClauseResult, value: float, limits: Sequence[Limit], open_: tuple[Note, ...], sure: bool
) -> ClauseResult:
    """One verdict where all limits that may hold agree; else it depends on what is not known."""
    rule = empty.rule
    margins = [_margin(rule, value, limit) for limit in limits]
    good = [_holds(rule, margin) for margin in margins]
    if any(good) and not all(good):
        return replace(empty, required=rule.si(limits[0].value), margin=margins[0], needs=open_)
    shown = margins.index(min(margins) if all(good) else max(margins))
    return replace(
        empty,
        required=rule.si(limits[shown].value),
        margin=margins[shown],
        verdict=_verdict(rule, all(good), sure),
        missed=not all(good),
    )


def _best_option(
    empty: ClauseResult, one: Found, limits: Sequence[Limit], open_: tuple[Note, ...], sure: bool
) -> ClauseResult:
    """The option of a table that the wall comes nearest to; which table counts must be known."""
    if open_:
        return replace(empty, needs=open_)
    rule, cavity = empty.rule, one.value or 0.0
    margins = [
        min(
            cavity - rule.si(limit.value) if limit.value else float("inf"),
            one.continuous - rule.si(limit.continuous) if limit.continuous else float("inf"),
        )
        for limit in limits
    ]
    best = max(margins)
    nearest = limits[margins.index(best)]
    ok = best >= -_HAIR
    return replace(
        empty,
        required=rule.si(nearest.value or nearest.continuous or 0.0),
        margin=best,
        verdict=_verdict(rule, ok, sure),
        missed=not ok,
    )


_HAIR = 0.005
"""Labels in SI are rounded to two decimals, so R15 may read 2.64 for 2.642 [m2.K/W]."""


def _margin(rule: Rule, value: float, limit: Limit) -> float:
    wanted = rule.si(limit.value)
    return value - wanted if rule.comparison in ("at least", "more than", "required") else wanted - value


def _holds(rule: Rule, margin: float) -> bool:
    slack = rule.si(rule.slack) + 1e-9 * rule.si(1.0)
    return margin > slack if rule.comparison in ("more than", "below") else margin >= -slack


def _verdict(rule: Rule, good: bool, sure: bool) -> Verdict:
    if rule.short_means == "decides":
        return Verdict.DECIDES
    if good:
        return Verdict.PASSES if sure else Verdict.LIKELY_PASSES
    if rule.short_means == "ask":
        return Verdict.ASK
    return Verdict.FAILS if sure else Verdict.LIKELY_FAILS
