"""The blank survey form for a pencil: a sheet for the first walk, the house, each wall, and what is inside.

The questions of the walk are those that `warmside new` asks, in the same order. The boxes of the other sheets
stand in `data/survey_form.toml`, row by row in walking order, each with the fields of the job file that it is
typed into; `docs/job.md` has the same list for people.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, get_args

from warmside.catalog.goods import Batt, Board, Good, Lumber, Membrane, Sealant, Tape, Wrap, shelf
from warmside.catalog.hazards import hazards
from warmside.catalog.kinds import kinds
from warmside.job.survey import WrapState
from warmside.job.walk_through import Question, questions, signs
from warmside.paper.front import Head
from warmside.paper.typeset import SHEETS, Foot, typeset
from warmside.say import Voice, messages

FORM_NAME = "survey-form.pdf"
THINGS = 8
"""Rows for what is in the way; more go on a second sheet."""
ODD_BAYS = 8
INSIDE = 10
"""Rows for partitions and ceilings."""


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
    """One hazard: its question, and the unit where an instrument may have read it."""

    text: str
    reading: str


@dataclass(frozen=True)
class SurveyForm:
    """All that the template lays out."""

    head: Head
    foot: Foot
    house_head: Head
    wall_head: Head
    inside_head: Head
    names_title: str
    names: tuple[tuple[str, str], ...]
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
    inside: tuple[str, ...]
    inside_rows: int
    inside_sketch: str


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
        inside_head=_head(voice, "inside"),
        names_title=voice.line("form.names_title"),
        names=tuple(_names(voice)),
        questions=tuple(_asked(voice, number, each) for number, each in enumerate(questions(), 1)),
        house_rows=_rows(voice, "house"),
        looked_at_title=voice.line("form.looked_at"),
        looked_at=tuple(
            LookedAtShown(voice.line(f"{hazard.code}.ask"), hazard.over.unit if hazard.over else "")
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
        inside=tuple(voice.line(f"form.inside_column.{key}") for key in form_table()["inside"]),
        inside_rows=INSIDE,
        inside_sketch=voice.line("form.inside_column.note"),
    )


def _head(voice: Voice, sheet: str) -> Head:
    """The top of a sheet; who measured and when is written by hand."""
    first = ("job", "wall") if sheet == "wall" else ("job",)
    fields = [*first, "by", "date"]
    labels: Mapping[str, str] = {"wall": "form.box.wall"}
    unit = voice.line(f"form.unit.{voice.system}")
    return Head(
        paper=voice.line("form.name"),
        title=voice.line(f"form.{sheet}"),
        lines=(voice.line(f"form.{sheet}_lines"), *([unit] if sheet != "walk" else [])),
        fields=tuple((voice.line(labels.get(key, f"form.field.{key}")), "") for key in fields),
    )


def _names(voice: Voice) -> Iterator[tuple[str, str]]:
    """What the boxes are filled with: names of goods, of things in the way, states of a box."""
    goods = shelf().goods.values()
    yield _named(voice, "batt", dict.fromkeys(good.family for good in goods if isinstance(good, Batt)))
    for box, kind, role in _BOXES:
        fitting = [good.id for good in goods if isinstance(good, kind)]
        yield _named(voice, box, [name for name in fitting if role in ("", _role(name))])
    yield voice.line("form.names.things"), ", ".join(kinds())
    yield voice.line("form.names.wrap"), ", ".join(get_args(WrapState))


def _named(voice: Voice, box: str, names: Iterable[str]) -> tuple[str, str]:
    return voice.line(f"form.box.{box}"), ", ".join(names)


def _role(name: str) -> str:
    return getattr(shelf().goods[name], "role", "")


_BOXES: tuple[tuple[str, type[Good], str], ...] = (
    ("vapour", Membrane, "vapour control"),
    ("moisture", Membrane, "moisture barrier"),
    ("sheet", Board, "sheet"),
    ("foam", Board, "foam board"),
    ("sealant", Sealant, ""),
    ("tape", Tape, ""),
    ("hat", Wrap, ""),
    ("studs", Lumber, ""),
)


def _rows(voice: Voice, sheet: str) -> tuple[tuple[BoxShown, ...], ...]:
    return tuple(tuple(_box(voice, key) for key in row) for row in form_table()["rows"][sheet])


def _asked(voice: Voice, number: int, question: Question) -> AskedShown:
    yes_no = (voice.line("form.yes"), voice.line("form.no"))
    ticks = {"yes_no": yes_no, "signs": (*signs(), voice.line("form.none"))}
    return AskedShown(
        number=number,
        text=question_words(voice, question),
        help=voice.line(f"walk.help.{question.key}"),
        room=question.room,
        ticks=ticks.get(question.form, question.words),
    )


def question_words(voice: Voice, question: Question) -> str:
    """What is asked, with an example in the units of the voice."""
    code = f"walk.example.{voice.system}.{question.key}"
    example = voice.line(code) if code in messages(voice.language) else ""
    return voice.line(f"walk.ask.{question.key}", example=example)


def _box(voice: Voice, key: str) -> BoxShown:
    ticks = voice.line(f"form.choice.{key}").split(", ") if key in form_table()["ticks"] else []
    return BoxShown(voice.line(f"form.box.{key}"), tuple(ticks))
