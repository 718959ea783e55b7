"""What the rules look at: a built wall, what is found on it, and the facts of a house that choose limits.

Found values are in the units of `catalog.codes.unit_of`. What nobody surveyed is None and says what to look
at. Not valid for walls that other rules govern, such as party walls.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Literal

from warmside.catalog.climates import ClimateError
from warmside.catalog.design_values import DegreeDays, ZoneError, climate_zone, design
from warmside.cutting.pieces import BayFill
from warmside.job import survey as asked
from warmside.job.listed_place import listed_place
from warmside.job.resolve import House, HouseWall
from warmside.say import Note
from warmside.study.r_value import WallWorth
from warmside.units import Length, to_m
from warmside.wall.frame import WallFrame

OTHER_RULES = frozenset({"party wall", "second suite"})
"""Walls that stand under other parts of the code; nothing here judges them."""

Bound = Literal["or_more", "or_less", "over"]
"""What is known of a value that was looked at without being read off."""


@dataclass(frozen=True)
class Built:
    """A wall, its frame, its bays and what they are worth: what the rules look at."""

    wall: HouseWall
    frame: WallFrame
    fills: Sequence[BayFill]
    worth: WallWorth


@dataclass(frozen=True)
class Found:
    """What one wall or thing has. `value` None means not known, and `needs` says what to look at.

    `absent` means that there is nothing of the kind, `sure` that the value is confirmed; `continuous` is the
    label resistance of a board that goes with a cavity value [m2.K/W].

    permeance : of the layer that the rule is about, None where not known [kg/(m2.s.Pa)]
    labelled : whether that permeance is the label's
    resistance : of that layer [m2.K/W]
    beside_unheated : whether enclosed space that is not heated lies behind the wall
    bound : where the value is only an end of what it may be
    """

    value: float | None
    wall: str | None = None
    thing: str | None = None
    kind: str | None = None
    needs: tuple[Note, ...] = ()
    absent: bool = False
    sure: bool = True
    continuous: float = 0.0
    permeance: float | None = None
    labelled: bool = False
    resistance: float | None = None
    beside_unheated: bool = False
    bound: Bound | None = None


# Facts


@dataclass(frozen=True)
class Facts:
    """What chooses among the limits of a rule.

    degree_days : heating degree-days of the place under 18 C, None where not known [K.d]
    method_read : whether the way in which the set wants resistance worked out was read
    """

    degree_days: DegreeDays | None
    zones: str | None
    heat_recovery: bool | None
    method_read: bool = True

    @cached_property
    def zone(self) -> str | None:
        """The climate zone of the rule set, where it can be told."""
        if self.degree_days is None or self.zones is None:
            return None
        try:
            return climate_zone(self.zones, self.degree_days.value)
        except ZoneError:
            return None


def facts(house: House) -> Facts:
    """The facts of a house under its own rule set."""
    ventilated = house.heating.heat_recovery
    known = None if ventilated is None else ventilated == "yes"
    return Facts(degree_days(house.place), house.rules.zones, known)


def degree_days(place: asked.Place) -> DegreeDays | None:
    """Heating degree-days of the place that a job names; None where no table has them."""
    try:
        return design(listed_place(place)).degree_days
    except ClimateError:
        return None


# What is known of a wall


def exposure_known(house: House, wall: HouseWall) -> bool:
    """Whether somebody said what lies behind the wall."""
    return all(assumed.field != f"wall {wall.name}.exposure" for assumed in house.assumptions)


def showing_known(house: House, wall: HouseWall) -> bool:
    """Whether somebody measured how much concrete shows outside."""
    return all(assumed.field != f"wall {wall.name}.concrete_showing" for assumed in house.assumptions)


def gap_known(house: House, wall: HouseWall) -> bool:
    """Whether somebody measured the gap behind the studs."""
    return all(assumed.field != f"wall {wall.name}.gap" for assumed in house.assumptions)


def mean_showing(wall: HouseWall) -> float:
    """Mean height of the top of the concrete above the ground [m]."""
    showing, total = wall.showing, 0.0
    stops = sorted({0, int(wall.length), *(p.at for p in showing.points if p.at is not None)})
    inside = [x for x in stops if 0 <= x <= wall.length]
    for left, right in pairwise(inside):
        total += (right - left) * (showing.at(left, wall.length) + showing.at(right, wall.length)) / 2
    return to_m(Length(round(total / wall.length)))


def kept(wall: HouseWall, *kinds: str) -> bool:
    """Whether an old layer of one of these kinds stays on the wall."""
    return any(layer.then == "keep" and layer.kind in kinds for layer in wall.old)


def has_foam(wall: HouseWall) -> bool:
    """Whether foam stands against the concrete, new or old."""
    return wall.assembly.foam_board is not None or bool(wall.old_foam)


def needs(name: str) -> tuple[Note, ...]:
    """What is to be looked at or measured, as a note."""
    return (Note(f"rules.needs.{name}"),)
