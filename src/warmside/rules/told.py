"""How results are told: one row for each rule, what the code wants, what the wall has, how far over or short.

Margins are those of the figures that stand beside them: R in whole numbers, or with one decimal in the whole
row where whole numbers would contradict each other, RSI to two, and millimetres alone where the limit is in
whole millimetres. No word stands here, only notes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from warmside.catalog.codes import NOT_READ, OWN_WORDS, UNITS, Measure, Rule
from warmside.rules.clauses import GOOD, WORST_FIRST, ClauseResult, Verdict
from warmside.rules.facts import needs
from warmside.say import Note
from warmside.units import INCH, MM, from_m, to_r


@dataclass(frozen=True)
class Row:
    """One rule over the whole house: its worst result, all results, the places that share the worst.

    others : further verdicts that a reader has to know, the worst first, with their places
    """

    rule: Rule
    worst: ClauseResult
    results: tuple[ClauseResult, ...]
    places: tuple[str, ...]
    others: tuple[tuple[ClauseResult, tuple[str, ...]], ...] = ()


def grouped(results: Sequence[ClauseResult]) -> tuple[Row, ...]:
    """One row for each rule in the order of the set."""
    by_rule: dict[str, list[ClauseResult]] = {}
    for result in results:
        by_rule.setdefault(result.rule.id, []).append(result)
    return tuple(_row(of_rule) for of_rule in by_rule.values())


def _row(of_rule: Sequence[ClauseResult]) -> Row:
    worst = min(of_rule, key=_badness)
    bad = [word for word in WORST_FIRST if word is not worst.verdict and word not in GOOD]
    alike = ([result for result in of_rule if result.verdict is word] for word in bad)
    others = tuple((min(group, key=_badness), _places(group)) for group in alike if group)
    same = [result for result in of_rule if result.verdict is worst.verdict]
    return Row(worst.rule, worst, tuple(of_rule), _places(same), others)


def _badness(result: ClauseResult) -> tuple[int, float]:
    return WORST_FIRST.index(result.verdict), result.margin if result.margin is not None else 0.0


def _places(results: Sequence[ClauseResult]) -> tuple[str, ...]:
    places = dict.fromkeys(", ".join(p for p in (r.wall, r.thing) if p) for r in results)
    return tuple(place for place in places if place)


def wants(result: ClauseResult) -> Note:
    """What the code wants, as a note."""
    rule = result.rule
    what = Note(f"rules.measure.{slug(rule.measure)}")
    if rule.comparison == NOT_READ:
        return what
    if rule.comparison == "any of":
        return Note("rules.wants.any_of", {"what": what, "options": _options(result)})
    limit = result.required if result.required is not None else rule.si(rule.limits[0].value)
    shown = _value(result, limit)
    return Note(f"rules.wants.{slug(rule.comparison)}", {"what": what, "limit": shown})


def _options(result: ClauseResult) -> Note:
    """The options of a table, each as batts, as board, or as both."""
    told = [_option(limit.value, limit.continuous or 0.0) for limit in result.choices]
    whole = told[0]
    for option in told[1:]:
        whole = Note("rules.option.or", {"first": whole, "rest": option})
    return whole


def _option(cavity: float, board: float) -> Note:
    kind = "both" if cavity and board else "board" if board else "batts"
    return Note(f"rules.option.{kind}", {"cavity": cavity, "board": board})


def has(result: ClauseResult) -> Note:
    """What the wall has, as a note."""
    measure = result.rule.measure
    if result.absent:
        return Note("rules.has.nothing")
    if result.found is None:
        return Note("rules.has.unknown")
    if measure in LABELS:
        cavity, board = (_value(result, value) for value in (result.found, result.continuous))
        code = "label" if result.continuous else "rim_label" if measure in RIMS else "label_alone"
        return Note(f"rules.has.{code}", {"cavity": cavity, "board": board})
    return Note(f"rules.has.{result.bound or 'value'}", {"value": _value(result, result.found)})


def margin(result: ClauseResult) -> Note:
    """How far over or short, as a note; nothing where that is no number."""
    by_number = result.margin is not None and result.unit != "yes" and result.bound is None
    if not by_number or result.margin is None or result.verdict is Verdict.DECIDES:
        return Note("rules.margin.none")
    within_slack = result.margin < 0.0 and result.missed is False and result.said is None
    if result.margin == 0.0 or within_slack:
        return Note("rules.margin.even")
    upward = result.rule.comparison in ("at least", "more than", "any of")
    side = ("over", "short") if upward else ("to_spare", "too_much")
    word = side[0] if result.margin > 0.0 else side[1]
    return Note(f"rules.margin.{word}", {"by": _apart(result, abs(result.margin))})


def verdict(result: ClauseResult) -> Note:
    """The verdict, as a note; what to measure or ask stands in it."""
    code = slug(result.verdict)
    if result.verdict is Verdict.CANT_TELL:
        return Note(f"rules.verdict.{code}", {"need": (result.needs or needs("authority"))[0]})
    if result.verdict is Verdict.DECIDES:
        chosen = slug(result.rule.chooses or "wall value")
        return Note(f"rules.chooses.{chosen}.{'missed' if result.missed else 'held'}")
    return Note(f"rules.verdict.{code}")


def remark(result: ClauseResult) -> Note | None:
    """What stands beside a rule: its own words, or the user's."""
    words = result.said or result.rule.words
    if words is None:
        return None
    return Note(words) if words.startswith(OWN_WORDS) else Note("rules.own_words", {"words": words})


def slug(word: str) -> str:
    """A word as the last part of a code."""
    return word.casefold().replace("'", "").replace(" ", "_").replace("-", "_")


# Figures


LABELS = frozenset({Measure.LABEL_R, Measure.ABOVE_GROUND_LABEL_R, Measure.RIM_LABEL_R})
RIMS = frozenset({Measure.RIM_LABEL_R})
"""Where no board is looked for."""
NANOGRAMS = UNITS["ng/(Pa.s.m2)"][1]
PERM = UNITS["perm"][1]
SQUARE_FOOT = UNITS["ft2"][1]


def _value(result: ClauseResult, value: float) -> Note:
    """A value in the unit of its measure, as a note."""
    measure, unit = result.rule.measure, result.unit
    if unit == "yes":
        return Note("rules.value.yes" if value >= 1.0 else "rules.value.no")
    if measure in _OWN_VALUES:
        return Note(_OWN_VALUES[measure], {"value": value})
    if measure is Measure.WOOD_MOISTURE:
        return Note("rules.value.reading", {"value": round(100.0 * value, 1)})
    if unit == "m2.K/W":
        return _resistance(value, _decimals(result))
    if unit == "-":
        return _share(value, _decimals(result))
    if unit == "m2":
        return _area(value / SQUARE_FOOT, value)
    if result.rule.unit == "perm":
        return Note("rules.value.perm", {"value": round(value / PERM, 2)})
    shown: Mapping[str, tuple[str, object]] = {
        "m": ("rules.value.length", from_m(value)),
        "kg/(m2.s.Pa)": ("rules.value.permeance", value / NANOGRAMS),
    }
    code, spoken = shown[unit]
    return Note(code, {"value": spoken})


_OWN_VALUES = {Measure.RATIO: "rules.value.ratio", Measure.CROSSING: "rules.value.times"}


def _apart(result: ClauseResult, margin: float) -> Note:
    """A margin as the difference of the figures that stand beside it."""
    found, required = result.found, result.required
    if found is None or required is None or result.rule.comparison == "any of":
        return _value(result, margin)
    if result.unit == "m2.K/W":
        parts = _decimals(result)
        whole = abs(round(to_r(found), parts) - round(to_r(required), parts))
        fine = abs(round(found, 2) - round(required, 2))
        return Note("rules.value.resistance", {"value": (round(whole, parts), fine)})
    if result.unit == "m2":
        feet, metres = (_steps(found, required, step) for step in (SQUARE_FOOT / 10, 0.01))
        return _area(feet / 10, metres / 100)
    if result.unit == "m" and not from_m(required) % MM and from_m(required) * 16 % INCH:
        exact = 1000.0 * margin
        return Note("rules.value.millimetres", {"value": round(exact) or max(0.1, round(exact, 1))})
    if result.rule.measure is Measure.RATIO:
        return _value(result, _steps(found, required, 0.01) / 100)
    if result.unit == "-" and result.rule.measure is not Measure.WOOD_MOISTURE:
        return _share(_steps(found, required, step := 10.0 ** -(2 + _decimals(result))) * step or margin, 1)
    if result.rule.unit == "perm":
        return _value(result, _steps(found / PERM, required / PERM, 0.01) / 100 * PERM)
    return _value(result, margin)


def _steps(one: float, other: float, step: float) -> int:
    """How many steps two values lie apart, each rounded to a whole number of them."""
    return abs(round(one / step) - round(other / step))


def _resistance(value: float, decimals: int) -> Note:
    return Note("rules.value.resistance", {"value": (round(to_r(value), decimals), value)})


def _area(feet: float, metres: float) -> Note:
    return Note("rules.value.area", {"value": (feet, metres)})


def _share(value: float, decimals: int) -> Note:
    percent = round(100.0 * value, decimals)
    if value > 0.0 and not percent:
        return Note("rules.value.little", {"value": 0.1**decimals})
    return Note("rules.value.share", {"value": percent})


def _decimals(result: ClauseResult) -> int:
    """One decimal of R or of per cent where whole numbers would contradict each other, else none."""
    found, required, margin = result.found, result.required, result.margin
    if found is None:
        return 0
    if result.rule.measure in LABELS:
        parts = (to_r(part) for part in (found, result.continuous))
        return int(any(abs(part - round(part)) > _LABEL_ROUNDED for part in parts))
    if required is None or margin is None:
        return 0
    per = 100.0 if result.unit == "-" else to_r(1.0)
    shown, apart = round(found * per) - round(required * per), round(margin * per)
    return int(abs(shown) != abs(apart) or (shown == 0 and margin != 0.0))


_LABEL_ROUNDED = 0.15
"""Labels of whole R, a few batts deep, come back so near to it from RSI with two decimals [h.ft2.F/Btu]."""
