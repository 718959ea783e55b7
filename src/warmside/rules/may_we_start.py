"""May we start: what was looked at, what must be dealt with first, and what nobody has looked at yet.

A hazard of level stop that is there means stop; one that is not looked at means wait. Nothing here ever says
"go": the best answer counts what was looked at. Floor moisture tests clear no wall, vermiculite is looked at
and never touched, and a licensed person decides on flues, wiring and walls that move.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from warmside.catalog.hazards import Hazard, Seen, Threshold, hazards
from warmside.job.resolve import House
from warmside.say import Note

VERMICULITE = "vermiculite"


class Answer(StrEnum):
    """The three answers; there is no fourth that says go."""

    STOP = "stop"
    WAIT = "wait"
    NO_STOP = "no stop found"


@dataclass(frozen=True)
class Raised:
    """A hazard that is there, and the reading or the walls that say so where there are any.

    line : the threshold that the reading is over
    """

    hazard: Hazard
    reading: float | None = None
    line: Threshold | None = None
    walls: tuple[str, ...] = ()


@dataclass(frozen=True)
class Start:
    """The answer: how many hazards were looked at, of how many, which are there, which were not looked at.

    clear : those that were looked at and are not there
    """

    answer: Answer
    seen: int
    of: int
    found: tuple[Raised, ...]
    unseen: tuple[Hazard, ...]
    front: tuple[Note, ...]
    clear: tuple[Hazard, ...]

    @property
    def open(self) -> tuple[Hazard, ...]:
        """What keeps the work waiting because nobody has looked."""
        return tuple(hazard for hazard in self.unseen if _blocks(hazard))


def may_we_start(house: House) -> Start:
    """What is known of the hazards of a house, and what follows."""
    looked = house.looked_at
    asked = [h for h in hazards().values() if applies(h, house.place.year_built) and _concerns(h, house)]
    unseen = tuple(h for h in asked if not _is_seen(h, looked.get(h.id)) and not _told(h, house))
    found = tuple(
        Raised(h, _reading(looked.get(h.id)), h.line(house.rules.id), _behind(h, house))
        for h in asked
        if _told(h, house) or (h.id in looked and is_there(h, looked[h.id], house.rules.id))
    )
    return Start(
        answer=_answer(found, unseen),
        seen=len(asked) - len(unseen),
        of=len(asked),
        found=found,
        unseen=unseen,
        front=_front(found, asked, looked),
        clear=tuple(h for h in asked if h not in (*unseen, *(raised.hazard for raised in found))),
    )


def applies(hazard: Hazard, year_built: int | None) -> bool:
    """Whether a house of that year has to be looked at for it; an unknown year counts as old."""
    return hazard.built_before is None or year_built is None or year_built < hazard.built_before


def is_there(hazard: Hazard, seen: Seen, rule_set: str | None = None) -> bool:
    """Whether what was seen means that the hazard is there; a reading on the line is not over it."""
    line = hazard.line(rule_set)
    if line is not None and seen.reading is not None and seen.unit == line.unit:
        over = seen.reading > line.value
        # A young wall is the trouble, so there the reading is an age and counts the other way round.
        return not over if line.unit == "months" else over
    return seen.answer == "yes"


def _reading(seen: Seen | None) -> float | None:
    return None if seen is None else seen.reading


def _is_seen(hazard: Hazard, seen: Seen | None) -> bool:
    """A reading counts only in the unit of the hazard's threshold."""
    if seen is None:
        return False
    fits = hazard.over is not None and seen.unit == hazard.over.unit
    return seen.answer is not None or fits


def _concerns(hazard: Hazard, house: House) -> bool:
    """Whether it is a question in this house: some are only where a neighbour's wall is."""
    return not hazard.walls or hazard.id in house.looked_at or bool(_behind(hazard, house))


def _behind(hazard: Hazard, house: House) -> tuple[str, ...]:
    """Walls behind which lies what the hazard is about, those not measured yet among them."""
    return tuple(wall for wall, exposure in house.exposures.items() if exposure in hazard.walls)


def _told(hazard: Hazard, house: House) -> bool:
    """Whether the survey itself says so: masonry is frost's, a neighbour's wall has other rules."""
    seen = house.looked_at.get(hazard.id)
    neighbour = bool(_behind(hazard, house)) and (seen is None or seen.answer != "no")
    return neighbour or house.foundation in hazard.foundations


def _blocks(hazard: Hazard) -> bool:
    return hazard.level in ("stop", "wait")


def _answer(found: Sequence[Raised], unseen: Sequence[Hazard]) -> Answer:
    levels = {raised.hazard.level for raised in found}
    if "stop" in levels:
        return Answer.STOP
    waiting = "wait" in levels or any(_blocks(hazard) for hazard in unseen)
    return Answer.WAIT if waiting else Answer.NO_STOP


def _front(found: Sequence[Raised], asked: Sequence[Hazard], looked: Mapping[str, Seen]) -> tuple[Note, ...]:
    """What stands on the front sheet besides the answer."""
    notes = [raised_note(raised) for raised in found if raised.hazard.front and not _blocks(raised.hazard)]
    if any(hazard.level == "clue" and hazard.id in looked for hazard in asked):
        notes.append(Note("hazard.never_clears"))
    if VERMICULITE not in looked and any(hazard.id == VERMICULITE for hazard in asked):
        notes.append(Note("hazard.look_only"))
    return tuple(notes)


# As notes


def headline(start: Start) -> Note:
    """The answer in one sentence."""
    if start.answer is Answer.STOP:
        stops = sum(raised.hazard.level == "stop" for raised in start.found)
        return Note("hazard.verdict.stop", {"count": stops})
    if start.answer is Answer.WAIT:
        told = {"seen": start.seen, "of": start.of, "rest": len(start.unseen), "open": len(start.open)}
        count = sum(raised.hazard.level == "wait" for raised in start.found)
        return Note(f"hazard.verdict.{'wait_found' if count else 'wait'}", {**told, "count": count})
    told = {"seen": start.seen, "of": start.of}
    if start.found:
        return Note("hazard.verdict.no_stop_but", {**told, "count": len(start.found)})
    return Note("hazard.verdict.no_stop_found", told)


def raised_note(raised: Raised) -> Note:
    """One hazard that is there: what it means, what to do, who may do it."""
    hazard = raised.hazard
    args = {
        "seen": finding(raised),
        "means": Note(f"{hazard.code}.means"),
        "do": Note(f"{hazard.code}.do"),
        "who": Note(f"hazard.who.{who(hazard)}"),
    }
    return Note("hazard.raised", args)


def who(hazard: Hazard) -> str:
    """Who may deal with it, as the last part of a code."""
    return hazard.who.replace(" ", "_")


def finding(raised: Raised) -> Note:
    """What was seen of a hazard that is there, in one short sentence."""
    what = Note(f"{raised.hazard.code}.ask")
    if raised.walls:
        return Note("hazard.seen.walls", {"what": what, "walls": ", ".join(raised.walls)})
    if raised.reading is None or raised.line is None:
        return Note("hazard.seen.yes", {"what": what})
    value, limit = (f"{number:g} {raised.line.unit}" for number in (raised.reading, raised.line.value))
    return Note("hazard.seen.reading", {"what": what, "value": value, "limit": limit})


def ranked(start: Start) -> tuple[Raised, ...]:
    """What is there, stops first."""
    order = ("stop", "wait", "warn", "clue")
    return tuple(sorted(start.found, key=lambda raised: order.index(raised.hazard.level)))


def lines(start: Start) -> tuple[Note, ...]:
    """What is there, stops first, then what keeps the work waiting because nobody has looked."""
    unseen = [Note("hazard.unseen", {"what": Note(f"{hazard.code}.ask")}) for hazard in start.open]
    return (*(raised_note(raised) for raised in ranked(start)), *unseen)
