"""The blank survey form: one sheet for the first walk, one for each wall, with boxes that a pencil fits.

The questions are those that `warmside new` asks, in the same order, so that what stands on paper can be typed
in from top to bottom. The sheet of a wall asks for the keys of a wall in the job file, in walking order.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from warmside.job.walk_through import Question, questions
from warmside.paper.front import Head
from warmside.paper.typeset import SHEETS, Foot, typeset
from warmside.say import Voice

FORM_NAME = "survey-form.pdf"
THINGS = 9
"""Rows for what is in the way; more go on a second sheet."""
ODD_BAYS = 8

ROWS: tuple[tuple[str, ...], ...] = (
    ("length", "against"),
    ("turn",),
    ("exposure",),
    ("facing",),
    ("height_left", "height_right", "showing_left", "showing_right"),
    ("frame", "studs", "spacing", "from"),
    ("gap_least", "gap_most", "plates"),
    ("odd",),
    ("joists", "rim", "joist_spacing", "first_joist"),
    ("existing",),
)
"""The boxes of a wall, row by row, in the order in which one measures."""
CHOICES = frozenset({"against", "turn", "exposure", "facing", "frame", "from", "joists"})
COLUMNS = ("kind", "from_left", "to", "up", "width", "height", "depth", "wrap", "note")


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
    """One box of a wall: its label, and what there is to tick."""

    label: str
    ticks: tuple[str, ...]


@dataclass(frozen=True)
class SurveyForm:
    """All that the template lays out."""

    head: Head
    foot: Foot
    wall_head: Head
    questions: tuple[AskedShown, ...]
    rows: tuple[tuple[BoxShown, ...], ...]
    odd_label: str
    odd_bays: int
    things_title: str
    things: tuple[str, ...]
    thing_rows: int
    sketch: str


def survey_form(voice: Voice) -> bytes:
    """Both sheets as PDF."""
    return typeset("survey", form_content(voice), SHEETS[voice.system], voice.language)


def form_content(voice: Voice) -> SurveyForm:
    """Every word of the form."""
    return SurveyForm(
        head=_head(voice, "walk"),
        foot=Foot(voice.line("form.foot"), voice.line("paper.page"), voice.line("paper.of")),
        wall_head=_head(voice, "wall"),
        questions=tuple(_asked(voice, number, each) for number, each in enumerate(questions(), 1)),
        rows=tuple(tuple(_box(voice, key) for key in row) for row in ROWS),
        odd_label=voice.line("form.box.odd"),
        odd_bays=ODD_BAYS,
        things_title=voice.line("form.thing.title"),
        things=tuple(voice.line(f"form.thing.{key}") for key in COLUMNS),
        thing_rows=THINGS,
        sketch=voice.line("form.box.sketch"),
    )


def _head(voice: Voice, sheet: str) -> Head:
    """The top of a sheet; who measured and when is written by hand."""
    first = ("job",) if sheet == "walk" else ("job", "wall")
    fields = [*first, "by", "date"]
    labels: Mapping[str, str] = {"wall": "form.box.wall"}
    return Head(
        paper=voice.line("form.name"),
        title=voice.line(f"form.{sheet}"),
        lines=(voice.line(f"form.{sheet}_lines"),),
        fields=tuple((voice.line(labels.get(key, f"form.field.{key}")), "") for key in fields),
    )


def _asked(voice: Voice, number: int, question: Question) -> AskedShown:
    yes_no = (voice.line("form.yes"), voice.line("form.no"))
    return AskedShown(
        number=number,
        text=voice.line(f"walk.ask.{question.key}"),
        help=voice.line(f"walk.help.{question.key}"),
        room=question.room,
        ticks=yes_no if question.form == "yes_no" else question.words,
    )


def _box(voice: Voice, key: str) -> BoxShown:
    ticks = voice.line(f"form.choice.{key}").split(", ") if key in CHOICES else []
    return BoxShown(voice.line(f"form.box.{key}"), tuple(ticks))
