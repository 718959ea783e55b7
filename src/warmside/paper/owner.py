"""The owner's paper: what goes in the walls, its worth, what it saves, where it stays cold, what is assumed.

Plain words for who lives there, two pages at most. Figures come from the answers; nothing is computed here.
It says that the computation is verified and not validated, and that figures are of the settled state.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from warmside.answers import Answers, NotYet, WhatWorth
from warmside.paper.assumed import AssumedShown, assumed_for_owner, each_once
from warmside.paper.front import BuildUpShown, Head, Table, build_ups, foot, head, of_start
from warmside.paper.phrases import capital, verdicts
from warmside.paper.saves import (
    SavesShown,
    count,
    frost_line,
    place,
    reach,
    saves_shown,
    warned,
)
from warmside.paper.typeset import SHEETS, Foot, typeset
from warmside.plan import owner_cautions
from warmside.rules.clauses import Verdict
from warmside.rules.may_we_start import headline
from warmside.rules.told import Row, grouped, has, remark, wants
from warmside.say import Voice
from warmside.study.heat import HeatStudy

SKIRT = 0.6
"""Least width of foam board in the ground that keeps frost up (common practice) [m]."""
SHORT = {Verdict.FAILS: "paper.owner.short", Verdict.LIKELY_FAILS: "paper.owner.likely_short"}
TITLES = ("goes_in", "worth", "rules", "saves", "cold", "frost", "trust", "care")


@dataclass(frozen=True)
class OwnerPaper:
    """All that the template of the owner's paper lays out."""

    head: Head
    foot: Foot
    titles: Mapping[str, str]
    build_ups: tuple[BuildUpShown, ...]
    worth: tuple[str, ...]
    rules: tuple[str, ...]
    short: tuple[str, ...]
    saves: SavesShown
    months: str
    cold: Table | None
    cold_lines: tuple[str, ...]
    frost: tuple[str, ...]
    trust: tuple[str, ...]
    start: str
    found: tuple[str, ...]
    care: tuple[str, ...]
    assumed: tuple[AssumedShown, ...]
    deferred: str


def owner_paper(answers: Answers, voice: Voice, date: str) -> bytes:
    """The owner's paper as PDF; `date` is printed as it is given."""
    content = owner_content(answers, voice, date)
    return typeset("owner", content, SHEETS[voice.system], voice.language)


def owner_content(answers: Answers, voice: Voice, date: str) -> OwnerPaper:
    """Every sentence and table of the owner's paper."""
    name, house, study = voice.line("paper.owner.name"), answers.house, answers.heat
    rows = grouped(answers.clauses)
    titles = {title: voice.line(f"paper.owner.title.{title}") for title in TITLES}
    titles["assumed"] = voice.line("paper.front.assumed", count=len(each_once(house)))
    return OwnerPaper(
        head=head(answers, voice, date, name),
        foot=foot(answers, voice, date, name),
        titles=titles,
        build_ups=build_ups(answers, voice),
        worth=tuple(_worth(answers, voice)),
        rules=tuple(_rules(answers, rows, voice)),
        short=tuple(_short(rows, voice)),
        saves=saves_shown(answers, voice),
        months=_months(study, voice) if study else "",
        cold=_cold(study, voice) if study and study.design else None,
        cold_lines=tuple(_cold_lines(study, voice)) if study else (),
        frost=tuple(_frost(study, voice)) if study else (),
        trust=tuple(_trust(answers, voice)),
        start=voice.text(headline(answers.start)),
        found=tuple(voice.text(note) for note in of_start(answers.start)),
        care=tuple(voice.text(note) for note in owner_cautions(house)),
        assumed=assumed_for_owner(house, voice),
        deferred=voice.line("paper.deferred"),
    )


def _worth(answers: Answers, voice: Voice) -> Iterator[str]:
    told = answers.results.answers.what_worth
    if isinstance(told, NotYet):
        yield voice.line(told.code)
        return
    yield voice.line("paper.owner.worth", **_resistances(told))
    value, error = told.walls_together.value or 0.0, told.walls_together.error
    low = value - error.value if error is not None else value
    if voice.show("R_both", low) != voice.show("R_both", value):
        yield voice.line("paper.owner.worth_low", low=low)


def _rules(answers: Answers, rows: Sequence[Row], voice: Voice) -> Iterator[str]:
    """How many rules the plan keeps, by which set, and who decides."""
    if not answers.walls:
        yield voice.line("paper.owner.no_rules")
        return
    yield voice.line("paper.owner.rules", rules=answers.house.rules.title, outcome=verdicts(rows, voice))
    if any(row.rule.target for row in rows):
        yield voice.line("rules.target")


def _short(rows: Sequence[Row], voice: Voice) -> Iterator[str]:
    """Each rule that the plan fails, or likely fails: what is wanted, what is planned."""
    for row in rows:
        if row.worst.verdict in SHORT:
            told = {"wants": voice.text(wants(row.worst)), "has": voice.text(has(row.worst))}
            line, said = voice.line(SHORT[row.worst.verdict], **told), remark(row.worst)
            yield capital(f"{line} {voice.text(said)}" if said else line)


def _resistances(told: WhatWorth) -> dict[str, float | None]:
    return {
        "nominal": told.nominal.value,
        "walls": told.walls_together.value,
        "rim": told.rims_together.value,
    }


def _months(study: HeatStudy, voice: Voice) -> str:
    """What the walls of the basement lose in a year, before and after."""
    lost = {"before": count(study.before.total), "after": count(study.after.total)}
    return voice.line("paper.owner.lost", **lost)


def _cold(study: HeatStudy, voice: Voice) -> Table:
    columns = ("place", "wall", "now", "then")
    spots = sorted(study.spots, key=lambda spot: spot.after)
    return Table(
        head=tuple(voice.line(f"paper.owner.column.{name}") for name in columns),
        rows=tuple(
            (
                place(spot, voice),
                spot.wall or voice.line("paper.none"),
                voice.show("temperature", spot.before),
                voice.show("temperature", spot.after),
            )
            for spot in spots
        ),
    )


def _cold_lines(study: HeatStudy, voice: Voice) -> Iterator[str]:
    """On which day, what is felt, and what to do."""
    edge = study.draught
    if study.design is None:
        yield voice.line("heat.no_design")
        return
    yield voice.line("paper.owner.cold_day", outside=study.design.temperature)
    if edge is not None and edge.floor[1] < edge.floor_limit:
        yield voice.line("paper.owner.cold_floor", floor=edge.floor[1], limit=edge.floor_limit)
    if edge is not None and edge.speed[1] > edge.speed_limit:
        yield voice.line("paper.owner.draught")
    yield voice.line("paper.owner.cold_air")


def _frost(study: HeatStudy, voice: Voice) -> Iterator[str]:
    """The warning, else that frost stays clear; under snow; what to do."""
    depths = reach(study)
    yield frost_line(study, voice) or voice.line("paper.owner.frost_far", **depths)
    if len(study.frost) > 1:
        yield voice.line("paper.owner.frost_snow", after=study.frost[-1].after.beside)
    if warned(study.notes):
        yield voice.line("paper.owner.frost_footing", **depths)
        yield voice.line("paper.owner.frost_skirt", wide=SKIRT)


def _trust(answers: Answers, voice: Voice) -> Iterator[str]:
    """How far the figures can be trusted, and what is not answered."""
    heating, study = answers.house.heating, answers.heat
    if study is not None:
        yield voice.line("paper.owner.ends")
        yield voice.line("paper.owner.settled")
        yield voice.line("paper.owner.kept", basement=heating.basement_after, upstairs=heating.upstairs)
    yield voice.line("paper.verified")
    if isinstance(answers.results.answers.stays_dry, NotYet):
        yield voice.line("paper.owner.not_yet.stays_dry")
