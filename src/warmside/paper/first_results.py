"""What is said as soon as a walk-through is written down: build-up, worth, bags, what was assumed, what next.

Sentences from the message tables, figures from the answers; nothing is computed here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from warmside.answers import Answers, NotYet, WhatWorth
from warmside.catalog.goods import Batt
from warmside.paper.assumed import each_once
from warmside.paper.front import BuildUpShown, build_ups
from warmside.paper.phrases import packages, told_once, verdicts
from warmside.rules.may_we_start import headline, raised_note
from warmside.rules.told import grouped
from warmside.say import Note, Voice


def first_results(answers: Answers, next_ones: Sequence[Note], voice: Voice) -> tuple[str, ...]:
    """One line for each thing that can be said already.

    next_ones : what to measure next
    """
    return (
        voice.text(headline(answers.start)),
        *(f"  {voice.text(raised_note(raised))}" for raised in answers.start.found),
        *([voice.line("walk.first.look")] if answers.start.open else []),
        *told_once(voice, answers.warnings),
        *(_of_walls(answers, voice) if answers.walls else [voice.line("walk.first.nothing")]),
        *climate_lines(answers, voice),
        voice.line("walk.first.assumed", count=len(each_once(answers.house))),
        *measure_lines(next_ones, voice),
    )


def climate_lines(answers: Answers, voice: Voice) -> tuple[str, ...]:
    """What is not told because nobody knows the climate; a town may be made up, so that it is no fault."""
    saves = answers.results.answers.what_saves
    unknown = isinstance(saves, NotYet) and saves.code == "answer.no_weather"
    return (voice.line("walk.first.no_climate"),) if unknown else ()


def measure_lines(next_ones: Sequence[Note], voice: Voice) -> tuple[str, ...]:
    """What to measure next, under its heading; nothing where nothing would change."""
    if not next_ones:
        return ()
    return (voice.line("walk.first.measure"), *(f"  {voice.text(note)}" for note in next_ones))


def _of_walls(answers: Answers, voice: Voice) -> Iterator[str]:
    for built in build_ups(answers, voice):
        yield from _layers(built, voice) if built.layers else ()
    yield from _worth(answers, voice)
    if outcome := verdicts(grouped(answers.clauses), voice):
        yield voice.line("walk.first.rules", outcome=outcome)
    yield from _bags(answers, voice)


def _layers(built: BuildUpShown, voice: Voice) -> Iterator[str]:
    yield voice.line("walk.first.build_up", walls=built.walls)
    for step in built.layers:
        told = voice.line("walk.first.layer", name=step.name, told=step.told) if step.told else step.name
        yield f"  {told}"


def _worth(answers: Answers, voice: Voice) -> Iterator[str]:
    worth = answers.results.answers.what_worth
    if isinstance(worth, WhatWorth) and worth.walls_together.value is not None:
        value, error = worth.walls_together.value, worth.walls_together.error
        args = {"nominal": worth.nominal.value, "effective": value}
        if error is None or voice.show("R", value - error.value) == voice.show("R", value):
            yield voice.line("walk.first.worth", **args)
        else:
            yield voice.line("walk.first.worth_range", low=value - error.value, **args)


def _bags(answers: Answers, voice: Voice) -> Iterator[str]:
    """Of each batt the bags as the unknowns are likely, up to those of the larger reading."""
    lines = [line for line in answers.order.lines if isinstance(line.good, Batt)]
    for line in lines:
        likely = answers.likely_order.packages(line.good)
        most = packages(voice, line.packages, line.good.package)
        code = "walk.first.bags" if likely < line.packages else "walk.first.bags_sure"
        yield voice.line(code, good=line.good.name, least=likely, most=most)
    if not lines:
        yield voice.line("walk.first.no_bags")
