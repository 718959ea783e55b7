"""What `check` says of a job that can be used: warnings, hazards, what was assumed, what to measure next.

As lines for people, with the lines and the names of the job file in them, and as a table for programs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from warmside.answers import Answers, as_json
from warmside.paper.assumed import AssumedShown, assumed, each_once
from warmside.paper.first_results import climate_lines, measure_lines
from warmside.paper.phrases import listed, told_once
from warmside.rules.may_we_start import headline, lines
from warmside.say import Note, Voice


def checked(answers: Answers, onward: Sequence[Note], voice: Voice) -> Iterator[str]:
    """The lines.

    onward : what to measure next
    """
    house = answers.house
    yield from told_once(voice, answers.warnings, with_lines=True)
    yield voice.line("cli.checked", name=house.name, walls=len(house.walls), level=house.level)
    if rough := [each.wall.name for each in answers.walls if each.wall.level == 1]:
        walls = voice.line(
            "where.wall" if len(rough) == 1 else "where.walls", wall=rough[0], walls=listed(voice, rough)
        )
        yield voice.line("cli.level", walls=walls)
    yield from _start(answers, voice)
    yield from () if answers.walls else [voice.line("walk.first.nothing")]
    yield from climate_lines(answers, voice)
    if answers.closing is not None:
        yield voice.line("cli.closes", miss=answers.closing.miss)
    if told := assumed(house, voice):
        yield voice.line("cli.assumed", count=len(each_once(house)))
        yield from (f"  {_placed(each, voice)}" for each in told)
    yield from measure_lines(onward, voice)


def _start(answers: Answers, voice: Voice) -> Iterator[str]:
    """Hazards that are there, then those that nobody has looked at, by their names in the file."""
    yield voice.text(headline(answers.start))
    told, unseen = lines(answers.start), answers.start.open
    found = told[: len(told) - len(unseen)]
    yield from (f"  {voice.text(note)}" for note in found)
    for note, hazard in zip(told[len(found) :], unseen, strict=True):
        yield f"  {voice.line('cli.unseen', text=voice.text(note), key=hazard.id)}"
    yield from [f"  {voice.line('cli.look')}"] if unseen else []


def _placed(each: AssumedShown, voice: Voice) -> str:
    return voice.line("cli.assumed_at", places=each.places, text=each.text) if each.places else each.text


def checked_table(answers: Answers, onward: Sequence[Note], voice: Voice) -> dict[str, Any]:
    """The same for programs; the hazards as they stand in results.json.

    onward : what to measure next
    """
    return {
        "level": answers.house.level,
        "may_we_start": as_json(answers.results.answers.may_we_start),
        "warnings": [{"code": n.code, "text": voice.located(n)} for n in answers.warnings],
        "assumed": [{"field": a.field, "text": voice.text(a.note)} for a in each_once(answers.house)],
        "measure_next": [{"code": n.code, "text": voice.text(n)} for n in onward],
    }
