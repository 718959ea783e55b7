"""The inspector's paper: clause by clause, what is in the wall, and what must be seen before it is covered.

Two pages at most. Limits and verdicts come from the rules, with clause and edition; each row shows the worst
place. What is short, open or to be asked has a row of a table, what is kept a line below it. It says by which
climate the limits were chosen, which of them are from memory, and that the authority decides.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from warmside.answers import Answers
from warmside.catalog.codes import seen_on_site, suggest
from warmside.paper.front import BuildUpShown, Head, build_ups, foot, head
from warmside.paper.phrases import verdicts
from warmside.paper.typeset import SHEETS, Foot, typeset
from warmside.rules.clauses import (
    GOOD,
    ClauseResult,
    Row,
    Verdict,
    grouped,
    has,
    margin,
    remark,
    verdict,
    wants,
)
from warmside.rules.facts import OTHER_RULES, facts
from warmside.rules.may_we_start import headline
from warmside.say import Voice

COLUMNS = ("clause", "wants", "has", "margin", "verdict", "where")
TITLES = ("clauses", "kept", "goes_in", "hold")
HOLD_POINTS = ("hazards", "dry", "rim", "frame", "rough_in", "insulation", "handover")
"""What is seen before the next layer hides it, in the order of the work."""
VENTILATOR = {None: "unknown", True: "yes", False: "no"}
FEW = 4
"""So many places are named one by one; of more only the walls are."""
SIGNS: Mapping[Verdict, str] = {
    Verdict.FAILS: "✗",
    Verdict.LIKELY_FAILS: "✗",
    Verdict.CANT_TELL: "?",
    Verdict.ASK: "?",
    Verdict.LIKELY_PASSES: "✓",
    Verdict.PASSES: "✓",
    Verdict.DECIDES: "·",
}


@dataclass(frozen=True)
class ClauseLine:
    """One row of the table: a sign beside the word of the verdict, and what stands below the rule.

    What is `kept` needs no row; `plain` is a verdict that its sign says whole.
    """

    clause: str
    wants: str
    has: str
    margin: str
    sign: str
    verdict: str
    where: str
    remark: str
    kept: bool
    plain: bool


@dataclass(frozen=True)
class HoldPoint:
    """What is seen before the next layer hides it, and the clauses that want more than it says."""

    point: str
    see: tuple[str, ...]


@dataclass(frozen=True)
class InspectorPaper:
    """All that the template of the inspector's paper lays out."""

    head: Head
    foot: Foot
    titles: Mapping[str, str]
    columns: tuple[str, ...]
    rule_set: str
    note: str
    reading: tuple[str, ...]
    counted: str
    clauses: tuple[ClauseLine, ...]
    build_ups: tuple[BuildUpShown, ...]
    start: str
    hold: tuple[HoldPoint, ...]
    seen: str


def inspector_paper(answers: Answers, voice: Voice, date: str) -> bytes:
    """The inspector's paper as PDF; `date` is printed as it is given."""
    content = inspector_content(answers, voice, date)
    return typeset("inspector", content, SHEETS[voice.system], voice.language)


def inspector_content(answers: Answers, voice: Voice, date: str) -> InspectorPaper:
    """Every sentence and table of the inspector's paper."""
    name, rules = voice.line("inspector.name"), answers.house.rules
    rows = grouped(answers.clauses)
    return InspectorPaper(
        head=head(answers, voice, date, name),
        foot=foot(answers, voice, date, name),
        titles={title: voice.line(f"inspector.title.{title}") for title in TITLES},
        columns=tuple(voice.line(f"inspector.column.{column}") for column in COLUMNS),
        rule_set=voice.line("inspector.rule_set", title=rules.title, edition=rules.edition),
        note=rules.note,
        reading=tuple(_reading(answers, rows, voice)),
        counted=verdicts(rows, voice),
        clauses=tuple(_line(row, voice) for row in rows),
        build_ups=build_ups(answers, voice),
        start=voice.text(headline(answers.start)),
        hold=tuple(_hold(answers, voice)),
        seen=voice.line("inspector.seen"),
    )


def _reading(answers: Answers, rows: Sequence[Row], voice: Voice) -> Iterator[str]:
    """How the table is to be taken."""
    yield voice.line("rules.our_reading")
    suggested, why = suggest(answers.house.place)
    if suggested != answers.house.rules.id:
        yield voice.text(why)
    others = [wall for wall, behind in answers.house.exposures.items() if behind in OTHER_RULES]
    if others:
        yield voice.line("inspector.left_out", walls=", ".join(others))
    yield from _chosen_by(answers, voice)
    if any(row.rule.target for row in rows):
        yield voice.line("rules.target")
    if any(row.rule.status == "from memory" for row in rows):
        yield voice.line("inspector.from_memory")


def _chosen_by(answers: Answers, voice: Voice) -> Iterator[str]:
    """The climate and the ventilator by which limits were chosen, where the set goes by them."""
    known = facts(answers.house)
    if known.zones is None:
        return
    if known.degree_days is None or known.zone is None:
        yield voice.line("inspector.no_zone")
    else:
        days = known.degree_days
        code = "inspector.zone_from_memory" if days.status == "from memory" else "inspector.zone"
        yield voice.line(code, zone=known.zone, days=days.value, place=days.place)
    if any(limit.heat_recovery is not None for r in answers.clauses for limit in r.rule.limits):
        yield voice.line(f"inspector.ventilator.{VENTILATOR[known.heat_recovery]}")


def _hold(answers: Answers, voice: Voice) -> Iterator[HoldPoint]:
    every = seen_on_site(answers.house.rules.id)
    for point in HOLD_POINTS:
        see = [
            voice.line("inspector.see", clause=one.clause, what=voice.line(one.words))
            for one in every
            if one.point == point
        ]
        yield HoldPoint(voice.line(f"inspector.hold.{point}"), tuple(see))


def _line(row: Row, voice: Voice) -> ClauseLine:
    worst, beside = row.worst, remark(row.worst)
    memory = row.rule.status == "from memory"
    return ClauseLine(
        clause=voice.line("inspector.memory", clause=row.rule.clause) if memory else row.rule.clause,
        wants=voice.text(wants(worst)),
        has=voice.text(has(worst)),
        margin=voice.text(margin(worst)),
        sign=SIGNS[worst.verdict],
        verdict=voice.text(verdict(worst)),
        where=_where(row, voice),
        remark=voice.text(beside) if beside else "",
        kept=worst.verdict in GOOD,
        plain=worst.verdict is Verdict.PASSES,
    )


def _where(row: Row, voice: Voice) -> str:
    """The places of the worst verdict: all walls in one word, few by name, of many only the walls."""
    if len(row.results) > 1 and _is_whole(row) and not row.worst.thing:
        return voice.line("inspector.every_wall")
    if len(row.places) <= FEW:
        return "; ".join(row.places)
    walls = dict.fromkeys(result.wall for result in _alike(row) if result.wall)
    return voice.line("inspector.several", count=len(row.places), walls=", ".join(walls))


def _alike(row: Row) -> list[ClauseResult]:
    return [result for result in row.results if result.verdict is row.worst.verdict]


def _is_whole(row: Row) -> bool:
    return len(_alike(row)) == len(row.results)
