"""Hazards that come before the work: what to look at, from which value on it matters, who may deal with it.

Thresholds are those of health authorities, codes and guides, each with its source and how far it was
confirmed; they judge a basement wall before it is closed, not a floor, a roof or a workplace.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from difflib import get_close_matches
from functools import cache
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator

from warmside.catalog.data_files import read_named
from warmside.catalog.goods import Model, Status
from warmside.units import shown

Level = Literal["stop", "wait", "warn", "clue"]
Who = Literal[
    "anyone",
    "engineer",
    "qualified person",
    "electrician",
    "gas fitter",
    "radon professional",
    "foam installer",
    "pest controller",
    "authority",
]


class Threshold(Model):
    """From which reading on a hazard is there."""

    value: float
    unit: str


class OtherLine(Model):
    """Another threshold under one rule set, in the unit of the hazard's own."""

    set: str
    value: float
    source: str
    status: Status


class Hazard(Model):
    """One hazard. A `clue` proves nothing by itself; `front` puts it on the front sheet when it is there.

    `built_before` leaves it out for younger houses; an unknown year counts as old. `foundations` are those of
    which the survey itself tells it; `walls` what has to lie behind a wall for it to be asked at all, and
    then it is there until the answer is no.
    """

    id: str
    level: Level
    who: Who
    over: Threshold | None = None
    lines: tuple[OtherLine, ...] = ()
    built_before: int | None = None
    foundations: tuple[str, ...] = ()
    walls: tuple[str, ...] = ()
    front: bool = False
    source: str
    status: Status

    @property
    def code(self) -> str:
        """The beginning of the codes of its sentences."""
        return f"hazard.{self.id.replace('-', '_')}"

    def line(self, rule_set: str | None) -> Threshold | None:
        """The threshold that counts under a rule set."""
        other = next((line.value for line in self.lines if line.set == rule_set), None)
        return (
            self.over if self.over is None or other is None else Threshold(value=other, unit=self.over.unit)
        )


@cache
def hazards() -> Mapping[str, Hazard]:
    """All hazards by the word that a job file uses, in the order in which one looks at them."""
    return read_named(Hazard, "hazards.toml")


class Seen(Model):
    """What was seen: nothing of the kind, or it is there, or what an instrument read."""

    answer: Literal["no", "yes"] | None = None
    reading: float | None = None
    unit: str | None = None


READ_IN: Mapping[str, tuple[str, float]] = {
    "%": ("%", 1.0),
    "Bq/m3": ("Bq/m3", 1.0),
    "pCi/L": ("Bq/m3", 37.0),
    "months": ("months", 1.0),
}
"""The units a reading may be written in, each with the one it is kept in; 1 pCi is 0.037 Bq."""
_READING = re.compile(r"(\d{1,5}(?:\.\d{1,3})?)\s*(%|[A-Za-z][\w/]{0,9})")


def _seen(value: object) -> object:
    if isinstance(value, Seen):
        return value
    if value in ("no", "yes"):
        return {"answer": value}
    match = _READING.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None or match[2] not in READ_IN:
        given = shown(str(value))
        units = ", ".join(READ_IN)
        raise ValueError(f"{given} is not an answer; write no, yes, unknown, or a reading in {units}")
    unit, factor = READ_IN[match[2]]
    return {"reading": float(match[1]) * factor, "unit": unit}


SeenField = Annotated[Seen, BeforeValidator(_seen)]


def _known(name: str) -> str:
    if name not in hazards():
        near = get_close_matches(name, hazards(), 1)
        hint = f"did you mean {near[0]}?" if near else f"there are: {', '.join(hazards())}"
        raise ValueError(f"{shown(name)} is nothing to look at; {hint}")
    return name


HazardId = Annotated[str, AfterValidator(_known)]
