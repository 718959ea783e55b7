"""A job folder from a walk-through: asks, reads, writes, and says what can be said already.

Thin over `job.walk_through`: what talks to the person is handed in, so that a script, a terminal and a test
ask alike. A folder that holds a job is never touched.
"""

from __future__ import annotations

import os
import shlex
from collections.abc import Callable, Iterator, Mapping, Sequence
from errno import EACCES
from pathlib import Path
from typing import Any

from warmside.answers import JobError, answer
from warmside.catalog.climates import ClimateError, SeveralPlacesError, find_place
from warmside.job.read import JOB_FILE, read_bytes
from warmside.job.walk_text import job_text, located
from warmside.job.walk_through import AnswerError, Question, Walk, flags, questions
from warmside.measure_next import measure_next
from warmside.paper.first_results import first_results
from warmside.paper.survey_form import FORM_NAME, question_words, survey_form
from warmside.runs import write_atomic
from warmside.say import Note, Voice

KEYS = frozenset(question.key for question in flags())
HELP = "?"
LONGEST_NAME = 80

Ask = Callable[[Sequence[str]], str]
"""Shows some lines and returns what was typed."""


class NewJobError(Exception):
    """The job can't be written; `note` says why, and nothing was changed."""

    def __init__(self, note: Note) -> None:
        super().__init__(note.code)
        self.note = note


def refuse_if_taken(folder: Path) -> None:
    """Raises NewJobError, before anything is asked, where no job could be written in the end.

    The folder is a file, holds a job, has a name that no folder can have, or can't be written into.
    """
    try:
        taken = (folder / JOB_FILE).exists()
        ground = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    except OSError as error:
        raise _cant_write(folder, error) from error
    if not ground.is_dir():
        raise NewJobError(Note("walk.first.not_a_folder", {"folder": str(ground)}))
    if taken:
        raise NewJobError(Note("walk.first.exists", {"folder": str(folder)}))
    if not os.access(ground, os.W_OK | os.X_OK):
        raise _cant_write(folder, PermissionError(EACCES, os.strerror(EACCES)))


def walked(name: str, voice: Voice, given: Mapping[str, str], ask: Ask | None) -> Walk:
    """The walk: answers by the keys of their questions, the others asked where somebody can be asked.

    Raises NewJobError for a name that no job can have, before anything is asked, and for a given answer that
    can't be read; one that was asked for is asked again.
    """
    if not 0 < len(name) <= LONGEST_NAME or not name.isprintable():
        raise NewJobError(Note("walk.first.name", {"most": LONGEST_NAME}))
    walk = Walk(name, voice.system)
    said = [voice.line("walk.begin", count=len(questions()))]
    for number, question in enumerate(flags(), 1):
        if question.key in given:
            _give(walk, question, given[question.key])
        elif question.asked and ask is not None:
            _ask_for(walk, question, number, voice, ask, said)
            said = [voice.text(note) for note in _heard(walk, question)]
    return walk


def _heard(walk: Walk, question: Question) -> Iterator[Note]:
    """What was made of an answer, where it is not what was written or lacks something."""
    answer = walk.answers.get(question.key)
    if answer is not None and question.key in _HEARD:
        yield from _HEARD[question.key](answer)


def _place_heard(answer: Sequence[str]) -> Iterator[Note]:
    """The listed place that is meant, or that there is none."""
    town, region, country = located(answer)
    try:
        yield Note("walk.heard.place", {"title": find_place(town or "", region, country).title})
    except SeveralPlacesError as error:
        yield Note("walk.heard.several", {"count": len(error.places)})
    except ClimateError as error:
        yield Note("walk.heard.no_place", {"why": str(error)})


def _frame_heard(answer: Mapping[str, Any]) -> Iterator[Note]:
    if answer["state"] is None:
        yield Note("walk.heard.no_state")


_HEARD: Mapping[str, Callable[[Any], Iterator[Note]]] = {"place": _place_heard, "frame": _frame_heard}


def _give(walk: Walk, question: Question, text: str) -> None:
    try:
        walk.give(question, text)
    except AnswerError as error:
        raise NewJobError(Note("walk.flag", {"key": question.key, "why": error.note})) from error


def _ask_for(
    walk: Walk, question: Question, number: int, voice: Voice, ask: Ask, said: Sequence[str]
) -> None:
    """Ask until the answer can be read; a question mark explains, nothing means unknown."""
    words = question_words(voice, question)
    lines = [*said, voice.line("walk.question", number=number, count=len(questions()), ask=words)]
    while True:
        text = ask(lines).strip()
        if text == HELP:
            lines = [voice.line(f"walk.help.{question.key}")]
            continue
        try:
            walk.give(question, text)
        except AnswerError as error:
            lines = [voice.line("walk.again", why=error.note)]
            continue
        return


def write_job(folder: Path, walk: Walk, voice: Voice) -> tuple[str, ...]:
    """Write the job of a walk, and return the lines that tell its first results.

    Raises NewJobError; nothing is then written.
    """
    content = job_text(walk, voice.language).encode("utf-8", "replace")
    read = read_bytes(content)
    if read.survey is None:
        raise NewJobError(Note("walk.first.faults", {"first": read.faults[0]}))
    _write(folder, JOB_FILE, content)
    told = voice.line("walk.first.written", path=folder / JOB_FILE)
    onward = voice.line("walk.first.next", folder=shlex.quote(str(folder)))
    try:
        answers = answer(read.survey, folder, read.warnings)
    except JobError as error:
        return (told, *(voice.located(fault) for fault in error.faults), onward)
    return (told, *first_results(answers, measure_next(read.survey), voice), onward)


def print_form(folder: Path, voice: Voice) -> tuple[str, ...]:
    """Write the blank survey form into a folder. Raises NewJobError."""
    _write(folder, FORM_NAME, survey_form(voice))
    return (voice.line("walk.first.paper", path=folder / FORM_NAME),)


def _write(folder: Path, name: str, content: bytes) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_atomic(folder / name, content)
    except OSError as error:
        raise _cant_write(folder, error) from error


def _cant_write(folder: Path, error: OSError) -> NewJobError:
    why = error.strerror or str(error)
    return NewJobError(Note("walk.first.cant_write", {"folder": str(folder), "why": why}))
