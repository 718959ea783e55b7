"""What a job saves, where it stays cold and what the frost does, in the sentences that several papers share.

Figures come from the study of heat and are only rounded: energy to two digits, money to 10, years whole.
Depths of frost are those with latent heat where that was computed, else the upper bound without it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import floor, log10

from warmside.answers import Answers
from warmside.say import Note, Voice
from warmside.study.cold import Spot
from warmside.study.frost_job import Frost, Line
from warmside.study.heat import HeatStudy
from warmside.study.heat_data import Range
from warmside.study.money import Years


@dataclass(frozen=True)
class SavesShown:
    """The answer: the first line stands out; `small` says on what it rests."""

    lines: tuple[str, ...]
    cold: tuple[str, ...]
    small: tuple[str, ...]
    frost: str


def saves_shown(answers: Answers, voice: Voice) -> SavesShown:
    """What it saves, in a few lines; without weather what is needed for it."""
    study = answers.heat
    if study is None:
        code = getattr(answers.results.answers.what_saves, "code", "answer.not_yet")
        return SavesShown((voice.line(f"paper.saves.need.{code.rpartition('.')[2]}"),), (), (), "")
    lines = (energy_line(study, voice), *money_lines(answers, study, voice))
    cold = tuple(cold_line(study, voice))
    return SavesShown(lines, cold, tuple(rests_on(study, voice)), frost_line(study, voice))


def rests_on(study: HeatStudy, voice: Voice) -> Iterator[str]:
    """Why the range is as wide as it is, and whose weather was taken."""
    if not study.asked_before:
        yield voice.line("paper.saves.wide")
    yield voice.line("heat.place", place=study.place)


def rounded(value: float) -> float:
    """A figure to two digits [unit of the value]."""
    if value == 0:
        return 0.0
    return round(value, 1 - floor(log10(abs(value))))


def count(value: float) -> str:
    """A figure to two digits with thousands set apart; small ones keep a decimal."""
    found = rounded(value)
    return f"{found:,.1f}" if 0 < abs(found) < 10 else f"{found:,.0f}"


def counts(ends: Range) -> dict[str, str]:
    """Low, likely and high as blanks of a sentence."""
    return {"low": count(ends.low), "likely": count(ends.likely), "high": count(ends.high)}


def energy_line(study: HeatStudy, voice: Voice) -> str:
    """How much heat is saved in a year, or that it may be none."""
    saved = study.saved.total
    if saved.low >= 0:
        return voice.line("paper.saves.energy", **counts(saved))
    if saved.likely >= 0:
        more = {**counts(saved), "low": count(-saved.low)}
        return voice.line("paper.saves.energy_or_more", **more)
    return voice.line("paper.saves.no_energy", **{**counts(saved), "likely": count(-saved.likely)})


def money_lines(answers: Answers, study: HeatStudy, voice: Voice) -> Iterator[str]:
    """Money in a year and when the goods are paid, or why that is not told."""
    money = study.money
    if money is None:
        yield voice.line("paper.saves.no_fuel" if study.fuel is None else "paper.saves.no_price")
        return
    yield voice.line(
        "paper.saves.money",
        low=round(money.cents.low),
        likely=round(money.cents.likely),
        high=round(money.cents.high),
        currency=money.currency,
    )
    if money.payback is not None:
        yield _payback(money.payback, voice)
    elif not answers.order.complete:
        yield voice.line("paper.saves.payback_no_price")
    else:
        yield voice.line("paper.saves.payback_currency")


def _payback(years: Years, voice: Voice) -> str:
    """When the goods are paid, told by the ends at which they ever are."""
    ends = {name: f"{max(1.0, end):.0f}" for name, end in vars(years).items() if end is not None}
    code = ("payback_never", "payback_at_best", "payback_or_never", "payback")[len(ends)]
    return voice.line(f"paper.saves.{code}", **ends)


def cold_line(study: HeatStudy, voice: Voice) -> Iterator[str]:
    """All places on the design day in one sentence, the coldest first."""
    if study.design is None:
        yield voice.line("heat.no_design")
        return
    spots = sorted(study.spots, key=lambda spot: spot.after)
    told = [voice.line("paper.saves.place", place=place(spot, voice), after=spot.after) for spot in spots]
    if told:
        yield voice.line("paper.saves.cold", outside=study.design.temperature, places=", ".join(told))


def place(spot: Spot, voice: Voice) -> str:
    """The name of a place inside."""
    return voice.line(f"paper.place.{spot.place.replace(' ', '_')}")


# Frost


def frost_lines(frost: Frost) -> tuple[Line, Line]:
    """The lines before and after: with latent heat where they are known."""
    if frost.frozen_before is not None and frost.frozen_after is not None:
        return frost.frozen_before, frost.frozen_after
    return frost.before, frost.after


def reach(study: HeatStudy) -> dict[str, float]:
    """How far down frost goes beside the wall in bare ground, and the underside of the footing [m]."""
    before, after = frost_lines(study.frost[0])
    return {"before": before.beside, "after": after.beside, "footing": study.frost[0].footing}


def warned(notes: tuple[Note, ...]) -> str | None:
    """Which warning about frost is the gravest, footing or clings; None where there is none."""
    codes = {note.code for note in notes}
    return next((name for name in ("footing", "clings") if f"heat.frost_{name}" in codes), None)


def frost_line(study: HeatStudy, voice: Voice) -> str:
    """The frost warning in one sentence; empty where none is needed."""
    warning = warned(study.notes)
    return voice.line(f"paper.saves.frost_{warning}", **reach(study)) if warning else ""
