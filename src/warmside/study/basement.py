"""The heat balance of a basement over the year, before and after, in one soil and under one ground cover.

Heat through the skin is linear in basement, outdoors and ground surface. A basement without heat of its own
floats between the rooms above (floor, stairs), its own gains, the ground, and the air that enters at the rim:
one balance for each wave of the year. The settled state; in the first two winters after insulating the soil
still gives up heat, and less is lost than this says.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from warmside.physics.conduction import Numbers
from warmside.physics.grid import Array
from warmside.physics.ground_rules import Soil
from warmside.physics.ground_surface import MONTH_DAYS
from warmside.study.ground_job import HARMONICS, PARTS, GroundJob, by_months, gains

MONTH_HOURS = 24.0 * np.array(MONTH_DAYS)
"""Hours of each month [h]."""
KWH = 1e-3
"""kWh in a Wh [-]."""


def in_soil(job: GroundJob, soil: Soil) -> GroundJob:
    """The same house in another soil."""
    return replace(job, sections=tuple(replace(section, soil=soil) for section in job.sections))


@dataclass(frozen=True, eq=False)
class Drives:
    """What acts on a basement from outside, as waves of the year.

    faces : by stretch of wall, in order [C]
    ground : the ground's surface [C]
    """

    faces: tuple[Numbers, ...]
    ground: Numbers


@dataclass(frozen=True, eq=False)
class SkinLoss:
    """Heat through the skin of a whole basement: own . basement + given, wave by wave.

    own : per kelvin of the basement (waves, parts) [W/K]
    outdoors : steady share of `own` that goes to outdoor air (parts) [W/K]
    given : from outdoors and ground (waves, parts) [W]
    """

    own: Numbers
    outdoors: Array
    given: Numbers

    def at(self, basement: Numbers) -> Numbers:
        """Heat out of the basement through each part (waves, parts) [W].

        basement : waves of its temperature [C]
        """
        return np.asarray(self.own * basement[:, None] + self.given)


def skin_loss(job: GroundJob, drives: Drives, *, insulated: bool) -> SkinLoss:
    """The skin of a basement after or before the job.

    job : sections and stretches
    drives : outside temperatures
    insulated : False leaves walls and rim as they were found
    """
    own = np.zeros((HARMONICS + 1, len(PARTS)), complex)
    given, outdoors = np.zeros_like(own), np.zeros(len(PARTS))
    for stretch, face in zip(job.stretches, drives.faces, strict=True):
        chosen = stretch.skin if insulated else stretch.found
        gain = stretch.length * gains(job.sections[stretch.section], chosen)
        own += gain[:, :, 0]
        given += gain[:, :, 1] * face[:, None] + gain[:, :, 2] * drives.ground[:, None]
        outdoors -= np.real(gain[0, :, 1])
    return SkinLoss(own, outdoors, given)


@dataclass(frozen=True)
class Tie:
    """How the basement hangs on the house.

    coupling : to the rooms above [W/K]
    gain : heat of hot water, lights and people [W]
    ducts : heat of furnace and ducts, per kelvin that it is warmer above than outdoors [W/K]
    air : outdoor air that enters at the rim [W/K]
    """

    coupling: float
    gain: float
    ducts: float
    air: float


def floating(loss: SkinLoss, tie: Tie, upstairs: float, air: Numbers) -> Numbers:
    """Waves of the temperature of a basement without heat of its own [C].

    loss : of its skin
    tie : to the house
    upstairs : temperature of the rooms above [C]
    air : waves of the outdoor air [C]
    """
    source = (tie.air - tie.ducts) * air - loss.given.sum(axis=1)
    source[0] += (tie.coupling + tie.ducts) * upstairs + tie.gain
    return np.asarray(source / (tie.coupling + tie.air + loss.own.sum(axis=1)))


@dataclass(frozen=True, eq=False)
class Months:
    """Heat lost by month, of all days and of those on which the house is heated.

    parts : through each part of the skin, all days (12, parts) [kWh]
    share : of the days that are heated (12) [-]
    """

    parts: Array
    share: Array

    @cached_property
    def heated(self) -> Array:
        """Through each part on heated days (12, parts) [kWh]."""
        return self.parts * self.share[:, None]

    @property
    def total(self) -> float:
        """Through the skin on heated days, the year [kWh]."""
        return float(self.heated.sum())

    def by_part(self) -> Mapping[str, tuple[float, ...]]:
        """The months of each part on heated days [kWh]."""
        return {part: tuple(self.heated[:, i].tolist()) for i, part in enumerate(PARTS)}


def months(loss: SkinLoss, basement: Numbers, share: Array) -> Months:
    """Heat through the skin, month by month; a month in which the ground warms the basement is not heated.

    loss : of the skin
    basement : waves of its temperature [C]
    share : of the days that are heated [-]
    """
    parts = by_months(loss.at(basement)) * MONTH_HOURS[:, None] * KWH
    return Months(parts, np.where(parts.sum(axis=1) > 0.0, share, 0.0))
