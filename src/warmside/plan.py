"""The order of work, as far as it is planned here: which caution stands at which step.

Cautions come from a table with their sources; local codes and licensed trades always decide.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

from warmside.catalog.goods import Model
from warmside.job.resolve import House
from warmside.say import Note

Step = Literal["survey", "rim", "frame", "pipes", "electrical", "batts", "sheet"]


class Caution(Model):
    """One caution: the step it stands at, and for which houses.

    `built_before` and `kinds` narrow it; without them it always applies. An unknown year counts as old.
    `owner` marks those that concern who lives there.
    """

    code: str
    step: Step
    built_before: int | None = None
    kinds: tuple[str, ...] = ()
    owner: bool = False
    source: str
    status: str


@dataclass(frozen=True)
class StepCautions:
    """The cautions of one step, in the order of the table."""

    step: Step
    notes: tuple[Note, ...]


@cache
def all_cautions() -> tuple[Caution, ...]:
    """Every caution of the table."""
    text = (files("warmside") / "data" / "cautions.toml").read_text("utf-8")
    return tuple(Caution.model_validate(entry) for entry in tomllib.loads(text)["caution"])


def cautions(house: House) -> Sequence[StepCautions]:
    """The cautions that apply to a house, step by step; a thing need not be measured for its caution."""
    applying = [c for c in all_cautions() if _applies(c, house.place.year_built, house.kinds_present)]
    steps = dict.fromkeys(c.step for c in applying)
    return [StepCautions(s, tuple(Note(c.code) for c in applying if c.step == s)) for s in steps]


def owner_cautions(house: House) -> tuple[Note, ...]:
    """The cautions of a house that concern who lives there."""
    present, year = house.kinds_present, house.place.year_built
    return tuple(Note(c.code) for c in all_cautions() if c.owner and _applies(c, year, present))


def _applies(caution: Caution, year_built: int | None, present: frozenset[str]) -> bool:
    old_enough = caution.built_before is None or year_built is None or year_built < caution.built_before
    return old_enough and (not caution.kinds or bool(present & set(caution.kinds)))
