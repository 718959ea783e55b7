"""The blank survey form: a sheet for the first walk, one for the house, one for each wall, for a pencil.

The questions of the walk are those that `warmside new` asks, in the same order. The boxes of the other sheets
stand in `data/survey_form.toml`, row by row in walking order, each with the fields of the job file that it is
typed into; `docs/job.md` has the same list for people.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from warmside.catalog.hazards import hazards
from warmside.job.walk_through import Question, questions, signs
from warmside.paper.front import Head
from warmside.paper.typeset import SHEETS, Foot, typeset
from warmside.say import Voice

FORM_NAME = "survey-form.pdf"
THINGS = 8
"""Rows for what is in the way; more go on a second sheet."""
ODD_BAYS = 8


@dataclass(frozen=True)
class AskedShown:
    """One question, its explanation, and what there is to tick or how much room to write."""

    number: int
    text: str
    help: str
    room: str
    ticks: tuple[str, ...]


@dataclass(frozen=True)
class BoxShown:
    """One box: its label, and what there is to tick."""

    label: str
    ticks: tuple[str, ...]


@dataclass(frozen=True)
class LookedAtShown:
    """One hazard: its question, and whether an instrument may have read it."""

    text: str
    reading: bool


@dataclass(frozen=True)
class SurveyForm:
    """All that the template lays out."""

    head: Head
    foot: Foot
    house_head: Head
    wall_head: Head
    questions: tuple[AskedShown, ...]
    house_rows: tuple[tuple[BoxShown, ...], ...]
    looked_at_title: str
    looked_at: tuple[LookedAtShown, ...]
    looked_at_ticks: tuple[str, ...]
    rows: tuple[tuple[BoxShown, ...], ...]
    odd_label: str
    odd_bays: int
    things_title: str
    things: tuple[str, ...]
    thing_rows: int
    sketch: str


@cache
def form_table() -> Mapping[str, Any]:
    """Rows, boxes and fields of the form, as the table has them."""
    return tomllib.loads((files("warmside") / "data" / "survey_form.toml").read_text("utf-8"))


def survey_form(voice: Voice) -> bytes:
    """All sheets as PDF."""
    return typeset("survey", form_content(voice), SHEETS[voice.system], voice.language)


def form_content(voice: Voice) -> SurveyForm:
    """Every word of the form."""
    return SurveyForm(
        head=_head(voice, "walk"),
        foot=Foot(voice.line("form.foot"), voice.line("paper.page"), voice.line("paper.of")),
        house_head=_head(voice, "house"),
        wall_head=_head(voice, "wall"),
        questions=tuple(_asked(voice, number, each) for number, each in enumerate(questions(), 1)),
        house_rows=_rows(voice, "house"),
        looked_at_title=voice.line("form.looked_at"),
        looked_at=tuple(
            LookedAtShown(voice.line(f"{hazard.code}.ask"), hazard.over is not None)
            for hazard in hazards().values()
        ),
        looked_at_ticks=(voice.line("form.yes"), voice.line("form.no")),
        rows=_rows(voice, "wall"),
        odd_label=voice.line("form.box.odd"),
        odd_bays=ODD_BAYS,
        things_title=voice.line("form.thing.title"),
        things=tuple(voice.line(f"form.thing.{key}") for key in form_table()["things"]),
        thing_rows=THINGS,
        sketch=voice.line("form.box.sketch"),
    )


def _head(voice: Voice, sheet: str) -> Head:
    """The top of a sheet; who measured and when is written by hand."""
    first = ("job", "wall") if sheet == "wall" else ("job",)
    fields = [*first, "by", "date"]
    labels: Mapping[str, str] = {"wall": "form.box.wall"}
    return Head(
        paper=voice.line("form.name"),
        title=voice.line(f"form.{sheet}"),
        lines=(voice.line(f"form.{sheet}_lines"),),
        fields=tuple((voice.line(labels.get(key, f"form.field.{key}")), "") for key in fields),
    )


def _rows(voice: Voice, sheet: str) -> tuple[tuple[BoxShown, ...], ...]:
    return tuple(tuple(_box(voice, key) for key in row) for row in form_table()["rows"][sheet])


def _asked(voice: Voice, number: int, question: Question) -> AskedShown:
    yes_no = (voice.line("form.yes"), voice.line("form.no"))
    ticks = {"yes_no": yes_no, "signs": (*signs(), voice.line("form.none"))}
    return AskedShown(
        number=number,
        text=voice.line(f"walk.ask.{question.key}"),
        help=voice.line(f"walk.help.{question.key}"),
        room=question.room,
        ticks=ticks.get(question.form, question.words),
    )


def _box(voice: Voice, key: str) -> BoxShown:
    ticks = voice.line(f"form.choice.{key}").split(", ") if key in form_table()["ticks"] else []
    return BoxShown(voice.line(f"form.box.{key}"), tuple(ticks))
