"""The inspector's paper: clause by clause, what is in the wall, and what must be seen before it is covered.

Two pages at most. Limits and verdicts come from the rules, with clause and edition; each row shows the worst
place and names the others. What is short, open or to be asked has a row of a table, what is kept a line below
it, and a limit that nobody has read is named with what the house has. It says by which climate the limits
were chosen, which of them are from memory, what was looked at, and that the authority decides.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from warmside.answers import Answers
from warmside.catalog.codes import NOT_READ, Rule, ToSee, seen_on_site, suggest
from warmside.catalog.hazards import Hazard
from warmside.paper.front import BuildUpShown, Head, build_ups, foot, head
from warmside.paper.phrases import joined, verdicts
from warmside.paper.typeset import SHEETS, Foot, typeset
from warmside.rules.clauses import GOOD, ClauseResult, Verdict
from warmside.rules.facts import OTHER_RULES, facts
from warmside.rules.may_we_start import Start, finding, headline, ranked, who
from warmside.rules.told import Row, grouped, has, margin, remark, slug, verdict, wants
from warmside.say import Voice, messages

COLUMNS = ("clause", "wants", "has", "margin", "verdict", "where")
START_COLUMNS = ("level", "seen", "do", "who")
TITLES = ("clauses", "kept", "not_read", "goes_in", "start", "hold")
HOLD_POINTS = ("hazards", "dry", "rim", "frame", "rough_in", "insulation", "handover")
"""What is seen before the next layer hides it, in the order of the work."""
VENTILATOR = {None: "unknown", True: "yes", False: "no"}
MOST_FOUND = 14
"""So many findings have a row of their own, the worst first; the others are named."""
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
class NotReadShown:
    """What a set may limit in a text that nobody has read, and what the house has of it."""

    why: str
    has: tuple[str, ...]


@dataclass(frozen=True)
class StartShown:
    """What was looked at before the work: each finding in a row, the rest in lists by their names."""

    answer: str
    columns: tuple[str, ...]
    found: tuple[tuple[str, ...], ...]
    lists: tuple[str, ...]


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
    not_read: tuple[NotReadShown, ...]
    build_ups: tuple[BuildUpShown, ...]
    start: StartShown
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
    walls = frozenset(result.wall for result in answers.clauses if result.wall)
    return InspectorPaper(
        head=head(answers, voice, date, name),
        foot=foot(answers, voice, date, name),
        titles={title: voice.line(f"inspector.title.{title}") for title in TITLES},
        columns=tuple(voice.line(f"inspector.column.{column}") for column in COLUMNS),
        rule_set=voice.line("inspector.rule_set", title=rules.title, edition=rules.edition),
        note=rules.note,
        reading=tuple(_reading(answers, rows, voice)),
        counted=verdicts(rows, voice),
        clauses=tuple(_line(row, walls, voice) for row in rows if row.rule.comparison != NOT_READ),
        not_read=tuple(_not_read(rows, voice)),
        build_ups=build_ups(answers, voice),
        start=_start(answers.start, voice),
        hold=tuple(_hold(answers, voice)),
        seen=voice.line("inspector.seen"),
    )


def _reading(answers: Answers, rows: Sequence[Row], voice: Voice) -> Iterator[str]:
    """How the table is to be taken."""
    yield voice.line("rules.our_reading")
    suggested, why = suggest(answers.house.place)
    if suggested != answers.house.rules.id:
        yield voice.text(why)
    unmeasured = answers.house.unmeasured
    if unmeasured:
        yield voice.line("inspector.unmeasured", walls=", ".join(unmeasured))
    if not answers.walls:
        yield voice.line("inspector.no_wall")
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
    set_id = answers.house.rules.id
    every = seen_on_site(set_id)
    for point in HOLD_POINTS:
        see = [
            voice.line("inspector.see", clause=_clause(one, voice), what=voice.line(one.words))
            for one in every
            if one.point == point
        ]
        own = f"inspector.hold_in.{set_id}.{point}"
        code = own if own in messages(voice.language) else f"inspector.hold.{point}"
        yield HoldPoint(voice.line(code), tuple(see))


def _line(row: Row, walls: frozenset[str], voice: Voice) -> ClauseLine:
    worst, beside = row.worst, remark(row.worst)
    return ClauseLine(
        clause=_clause(row.rule, voice),
        wants=voice.text(wants(worst)),
        has=voice.text(has(worst)),
        margin=voice.text(margin(worst)),
        sign=SIGNS[worst.verdict],
        verdict=voice.text(verdict(worst)),
        where=_where(row, walls, voice),
        remark=voice.text(beside) if beside else "",
        kept=worst.verdict in GOOD,
        plain=worst.verdict is Verdict.PASSES,
    )


def _clause(of: Rule | ToSee, voice: Voice) -> str:
    """A clause, marked where what it says is from memory."""
    memory = of.status == "from memory"
    return voice.line("inspector.memory", clause=of.clause) if memory else of.clause


def _where(row: Row, walls: frozenset[str], voice: Voice) -> str:
    """The places of the worst verdict, then those of others that a reader has to know."""
    same = [result for result in row.results if result.verdict is row.worst.verdict]
    told = _told(same, row.places, walls, voice)
    for other, places in row.others:
        alike = [result for result in row.results if result.verdict is other.verdict]
        word = voice.line(f"inspector.also.{slug(other.verdict)}")
        where = _told(alike, places, walls, voice)
        told = voice.line("inspector.also.with", first=told, verdict=word, where=where)
    return told


def _told(results: Sequence[ClauseResult], places: Sequence[str], walls: frozenset[str], voice: Voice) -> str:
    """All walls of the house in one word, few places by name, of many only the walls."""
    things = any(result.thing for result in results)
    if len(walls) > 1 and not things and {result.wall for result in results} == walls:
        return voice.line("inspector.every_wall")
    if len(places) <= FEW:
        return "; ".join(places)
    named = ", ".join(dict.fromkeys(result.wall for result in results if result.wall))
    return voice.line("inspector.several", count=len(places), walls=named) if things else named


# Limits that nobody has read


def _not_read(rows: Sequence[Row], voice: Voice) -> Iterator[NotReadShown]:
    """By the text that they would stand in, each with what the house has."""
    texts: dict[tuple[str, str], list[str]] = {}
    for row in rows:
        if row.rule.comparison == NOT_READ and row.rule.words:
            texts.setdefault((row.rule.clause, row.rule.words), []).append(_what_is_there(row, voice))
    for (where, words), told in texts.items():
        yield NotReadShown(voice.line("inspector.not_read", where=where, why=voice.line(words)), tuple(told))


def _what_is_there(row: Row, voice: Voice) -> str:
    """The measure, and its least and most in the house where they are known."""
    known = sorted((r for r in row.results if r.found is not None), key=lambda r: r.found or 0.0)
    ends = dict.fromkeys(voice.text(has(result)) for result in (*known[:1], *known[-1:]))
    what = voice.text(wants(row.worst))
    if not ends:
        open_ = any(result.needs for result in row.results)
        return voice.line("inspector.unread.unknown", what=what) if open_ else what
    least, *_ = ends
    *_, most = ends
    return voice.line(f"inspector.unread.{len(ends)}", what=what, least=least, most=most)


# May we start


def _start(start: Start, voice: Voice) -> StartShown:
    no_stop = tuple(hazard for hazard in start.unseen if hazard not in start.open)
    every = ranked(start)
    also = tuple(raised.hazard for raised in every[MOST_FOUND:])
    lists = (("also", also), ("waits", start.open), ("no_stop", no_stop), ("clear", start.clear))
    return StartShown(
        answer=voice.text(headline(start)),
        columns=tuple(voice.line(f"inspector.start.{column}") for column in START_COLUMNS),
        found=tuple(
            (
                voice.line(f"hazard.level.{raised.hazard.level}"),
                voice.text(finding(raised)),
                voice.line(f"{raised.hazard.code}.do"),
                voice.line(f"hazard.licensed.{who(raised.hazard)}"),
            )
            for raised in every[:MOST_FOUND]
        ),
        lists=tuple(
            voice.line(f"inspector.start.{name}", names=_names(several, name, voice))
            for name, several in lists
            if several
        ),
    )


def _names(several: Sequence[Hazard], name: str, voice: Voice) -> str:
    """The names of hazards; who is licensed beside those that are there or keep the work waiting."""
    return joined(voice, [_name(hazard, voice, with_who=name in ("also", "waits")) for hazard in several])


def _name(hazard: Hazard, voice: Voice, *, with_who: bool) -> str:
    name = voice.line(f"{hazard.code}.name")
    if not with_who or hazard.who == "anyone":
        return name
    return voice.line("inspector.start.with", name=name, who=voice.line(f"hazard.licensed.{who(hazard)}"))
