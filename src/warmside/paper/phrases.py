"""Parts of sentences that several papers share: lists, runs of marks, counted packages, parts of a bag.

Source: the message tables; nothing here holds a word of its own. Numbers are rounded as the papers show them.
"""

import math
from collections.abc import Iterable, Sequence

from warmside.catalog.codes import NOT_READ
from warmside.cutting.nesting import Nest
from warmside.order.order import Line
from warmside.rules.clauses import WORST_FIRST, Verdict
from warmside.rules.told import Row, slug
from warmside.say import Note, Voice, Where, messages
from warmside.units import FOOT, METRE, from_m

QUARTERS = ("nothing", "quarter", "half", "three_quarters", "nearly_all")
SHORTEST_RUN = 3


def listed(voice: Voice, parts: Sequence[str]) -> str:
    """A, B and C."""
    if len(parts) < 2:
        return "".join(parts)
    *before, last = parts
    first = before[0]
    for part in before[1:]:
        first = voice.line("paper.list.more", first=first, rest=part)
    return voice.line("paper.list.two", first=first, last=last)


def verdicts(rows: Sequence[Row], voice: Voice) -> str:
    """How many rules have which verdict, the worst first, and how many nobody has read."""
    words = [row.worst.verdict for row in rows if row.rule.comparison != NOT_READ]
    counts = [(slug(word), words.count(word)) for word in WORST_FIRST if word is not Verdict.DECIDES]
    counts.append(("not_read", len(rows) - len(words)))
    told = [voice.line(f"inspector.count.{word}", count=count) for word, count in counts if count]
    return listed(voice, told)


WIDEST = {"warning.gap": "gap"}
"""Warnings of several walls that differ only in one measure: told once, with the largest."""


def told_once(voice: Voice, notes: Iterable[Note], *, with_lines: bool = False) -> tuple[str, ...]:
    """Each sentence once, led by all its walls; where it stands in the file only when asked for."""
    told: dict[str, list[Note]] = {}
    for note in notes:
        apart = with_lines and note.where.line is not None
        key = voice.located(note) if apart else note.code if note.code in WIDEST else voice.text(note)
        told.setdefault(key, []).append(note)
    return tuple(_led(voice, alike, with_lines) for alike in told.values())


def _led(voice: Voice, notes: Sequence[Note], with_lines: bool) -> str:
    first = max(notes, key=lambda note: note.args.get(WIDEST.get(note.code, ""), 0))
    if with_lines and first.where.line is not None:
        return voice.located(first)
    lead = _places(voice, [note.where for note in notes])
    told = f"{lead}: {voice.text(first)}" if lead else voice.text(first)
    return capital(told)


def capital(text: str) -> str:
    """The same with a capital at its beginning."""
    return text[:1].upper() + text[1:]


def _places(voice: Voice, wheres: Sequence[Where]) -> str:
    """Walls in one list; where things are named, wall by wall."""
    by_wall: dict[str, list[str]] = {}
    for where in wheres:
        by_wall.setdefault(where.wall or "", []).extend([where.item] if where.item else [])
    walls = [wall for wall in by_wall if wall]
    if len(walls) > 1 and not any(by_wall.values()):
        return voice.line("where.walls", walls=listed(voice, walls))
    parts = []
    for wall, items in by_wall.items():
        place = [voice.line("where.wall", wall=wall)] if wall else []
        parts.append(joined(voice, [*place, *([listed(voice, items)] if items else [])]))
    return joined(voice, parts, "paper.assumed.apart")


def joined(voice: Voice, parts: Sequence[str], code: str = "paper.list.more") -> str:
    """All parts with the same words between them."""
    whole = "".join(parts[:1])
    for part in parts[1:]:
        whole = voice.line(code, first=whole, rest=part)
    return whole


def runs(voice: Voice, marks: Iterable[tuple[str, int]], *, short: bool = False) -> str:
    """Marks in order, three and more in a row as A4 to A9.

    marks : what stands before the number, and the number
    short : whether the end of a run is the number alone, as in A rim 4 to 9
    """
    rows: list[list[tuple[str, int]]] = []
    for before, number in marks:
        if rows and rows[-1][-1] == (before, number - 1):
            rows[-1].append((before, number))
        else:
            rows.append([(before, number)])
    return joined(voice, [part for row in rows for part in _run(voice, row, short)])


def _run(voice: Voice, row: Sequence[tuple[str, int]], short: bool) -> list[str]:
    marks = [f"{before}{number}" for before, number in row]
    if len(marks) < SHORTEST_RUN:
        return marks
    last = str(row[-1][1]) if short else marks[-1]
    return [voice.line("paper.list.run", first=marks[0], last=last)]


def counted(voice: Voice, code: str, count: int) -> str:
    """A sentence that has one form for one and another for more, such as 1 bay, 23 bays."""
    return voice.line(f"{code}.{'one' if count == 1 else 'many'}", count=count)


def packages(voice: Voice, count: int, package: str) -> str:
    """So many bags, rolls or tubes; a package that the tables don't know stands as the job writes it."""
    known = f"paper.package.{package}.one" in messages(voice.language)
    if known:
        return counted(voice, f"paper.package.{package}", count)
    return voice.line("paper.package.other", count=count, package=package)


def needed(voice: Voice, line: Line) -> str:
    """The quantity of an order line in the reader's units, rounded up."""
    if line.unit != "m":
        return counted(voice, f"paper.needed.{line.unit}", math.ceil(line.needed))
    unit, code = (FOOT, "feet") if voice.system == "ft-in" else (METRE, "metres")
    return voice.line(f"paper.needed.{code}", count=math.ceil(from_m(line.needed) / unit))


def bags_left(voice: Voice, nest: Nest) -> str:
    """11 bags, about half a bag left."""
    per_bag = nest.batt.per_bag.value
    bags = math.ceil(nest.count / per_bag)
    spare = bags * per_bag - nest.count
    part = QUARTERS[round(4 * spare / per_bag)]
    few = spare > 0 and part == QUARTERS[0]
    batts = counted(voice, "paper.bag.batts", spare)
    shown = voice.line("paper.left.few", batts=batts) if few else voice.line(f"paper.left.{part}")
    taken = packages(voice, bags, nest.batt.package)
    return voice.line("paper.bags", name=nest.batt.name, bags=taken, left=shown)


def money(voice: Voice, cents: int, currency: str | None) -> str:
    """An amount with its currency, where any price has told it."""
    return (
        voice.line("paper.money", cents=cents, currency=currency) if currency else voice.show("money", cents)
    )
