"""What the checks of a survey have in common: a finding, its place, and the walk over walls and things.

A finding is a code, a path of keys and what fills the blanks of the sentence; reading adds the line.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from warmside.job.faults import brief, nearest
from warmside.job.lines import KeyPath
from warmside.job.survey import Inside, Survey, Thing, Wall
from warmside.units import shown

MOST_LISTED = 16


@dataclass(frozen=True)
class Found:
    """Something that can't be right at `path`: the code of its sentence and what fills the blanks."""

    code: str
    path: KeyPath
    args: Mapping[str, Any]


def found(code: str, path: KeyPath, **args: Any) -> Found:
    """A finding with the blanks of its sentence by name."""
    return Found(code, path, args)


def walls_of(survey: Survey) -> Iterator[tuple[KeyPath, Wall]]:
    """Every wall with its path."""
    for i, wall in enumerate(survey.wall):
        yield ("wall", i), wall


def parts_of(survey: Survey) -> Iterator[tuple[KeyPath, Inside]]:
    """Every partition and ceiling with its path."""
    for i, part in enumerate(survey.inside):
        yield ("inside", i), part


def things_of(survey: Survey) -> Iterator[tuple[KeyPath, Wall, Thing]]:
    """Every thing in the way with its path and its wall."""
    for path, wall in walls_of(survey):
        for i, thing in enumerate(wall.in_the_way):
            yield (*path, "in_the_way", i), wall, thing


def unlisted(code: str, path: KeyPath, value: str, known: list[str], meant: str | None = None) -> Found:
    """A word that is none of the known ones, with the one that is meant or nearest, else with some."""
    near = meant or nearest(value, known)
    if near is not None:
        return found(f"{code}_near", path, value=shown(value), nearest=brief(near))
    return found(code, path, value=shown(value), known=few_of(known, value))


def few_of(known: list[str], like: str = "") -> str:
    """Some of the known words for a sentence, those with a word of `like` in them first."""
    words = set(like.lower().split())
    ordered = sorted(known, key=lambda one: (not words & set(one.lower().split()), one))
    more = ["..."] if len(known) > MOST_LISTED else []
    return ", ".join([*map(brief, ordered[:MOST_LISTED]), *more])
