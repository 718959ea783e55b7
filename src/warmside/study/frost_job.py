"""How deep frost goes along the wall, before against after, and whether it reaches the footing.

First without the latent heat of soil water, from the periodic state of the soil that conducts most: an upper
bound. Where that asks for it, one winter is marched with freezing in the same section on a coarser grid. No
ice lenses, no lifting of what the frost clings to, no snow that is cleared, no heat of drains and services:
whether a footing moves is for an engineer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from warmside.physics.conduction import Numbers, Solution
from warmside.physics.frost import FreezingGround, coldest, isotherm
from warmside.physics.grid import Array, Grid
from warmside.physics.ground import GROUND, INDOOR, OUTDOOR, Section, section_body
from warmside.physics.response import ANNUAL, Assembly
from warmside.study.ground_job import Skin, assembly, at_times, with_skin
from warmside.study.heat_data import SoilKind, value

FROST_WAVES = (1, 2, 3)
"""Waves of the year that shape the frost; all of them were solved for the losses."""
STEPS = 73
"""Steps of a year in the march with freezing: five days each."""
BEGIN, COUNT = 54, 46
"""First step, at the end of September, and how many, into May."""


@dataclass(frozen=True, eq=False)
class FrostDrives:
    """What acts on a section.

    indoors, face, ground : waves of basement, outer face and ground's surface [C]
    """

    indoors: Numbers
    face: Numbers
    ground: Numbers

    def at(self, wave: int) -> Mapping[str, complex]:
        """Amplitudes of one wave by environment [C]."""
        return {INDOOR: self.indoors[wave], OUTDOOR: self.face[wave], GROUND: self.ground[wave]}

    def years(self, steps: int) -> Mapping[str, Array]:
        """Values in the middle of the steps of a year [C]."""
        times = (np.arange(steps) + 0.5) / steps
        rows = {INDOOR: self.indoors, OUTDOOR: self.face, GROUND: self.ground}
        return {name: at_times(row, times) for name, row in rows.items()}


@dataclass(frozen=True)
class Line:
    """How deep frost goes.

    beside : along the outer face of the wall [m]
    open : far from the house [m]
    under_footing : coldest soil under the footing [C]
    """

    beside: float
    open: float
    under_footing: float

    def or_deeper(self, other: Line) -> Line:
        """The deeper of two readings: the coarse grid of the march may read some centimetres further down."""
        return Line(
            max(self.beside, other.beside),
            max(self.open, other.open),
            min(self.under_footing, other.under_footing),
        )


@dataclass(frozen=True)
class Frost:
    """The 0 C line under one ground cover.

    cover : bare or snow
    footing : underside of the footing under the ground line [m]
    before, after : without latent heat, an upper bound
    frozen_before, frozen_after : with latent heat; None where it was not asked for
    """

    cover: str
    footing: float
    before: Line
    after: Line
    frozen_before: Line | None = None
    frozen_after: Line | None = None

    @property
    def reaches_footing(self) -> bool:
        """Whether the upper bound comes near the underside of the footing."""
        near = value("frost", "near_footing")
        return self.after.beside > self.footing - near or self.after.under_footing < 0.0

    @property
    def goes_deeper(self) -> bool:
        """Whether insulating brings the frost further down along the wall."""
        return self.after.beside - self.before.beside > value("frost", "deeper")


def underside(section: Section) -> float:
    """Depth of the underside of the footing under the ground line [m]."""
    return section.depth + section.slab_thickness + section.footing_height


def line(section: Section, grid: Grid, low: Array) -> Line:
    """Read the 0 C line from the lowest temperature of each cell.

    section : whose field it is
    grid : of the field
    low : lowest temperatures, nan outside the solid [C]
    """
    x, heights = isotherm(grid, low)
    outer = section.half_width + section.wall_thickness
    toe = 0.5 * (section.footing_width - section.wall_thickness)
    depth = np.maximum(0.0, -np.nan_to_num(heights, nan=0.0))
    under = grid.centres[1] < -underside(section)
    mine = np.abs(x - (outer - section.wall_thickness / 2)) < section.wall_thickness / 2 + toe
    return Line(
        beside=float(depth[x > outer][0]),
        open=float(depth[-1]),
        under_footing=float(low[mine][:, under][:, -1].min()),
    )


def bound(section: Section, chosen: Skin, drives: FrostDrives) -> Line:
    """The 0 C line without latent heat.

    section : without layers
    chosen : what is put on
    drives : what acts on it
    """
    built = assembly(section, chosen)
    mean, moving = field_waves(built, drives)
    return line(section, mean.system.grid, coldest(mean, moving))


def field_waves(built: Assembly, drives: FrostDrives) -> tuple[Solution, dict[int, Solution]]:
    """Mean and waves of the whole temperature field of a section."""
    mean = built.solution({name: v.real for name, v in drives.at(0).items()})
    return mean, {n: built.solution(drives.at(n), n * ANNUAL) for n in FROST_WAVES}


def with_freezing(section: Section, chosen: Skin, drives: FrostDrives, soil: SoilKind) -> Line:
    """The 0 C line of one winter with the latent heat of the soil's water, from the state of September.

    section : without layers
    chosen : what is put on
    drives : what acts on it
    soil : for its water
    """
    built = assembly(section, chosen, density=1)
    mean, moving = field_waves(built, drives)
    start = np.real(mean.temperature) + sum(
        np.real(s.temperature * np.exp(2j * np.pi * n * BEGIN / STEPS)) for n, s in moving.items()
    )
    body = section_body(with_skin(section, chosen), 1)
    earth = (body.conductivity == section.soil.conductivity) & (body.capacity == section.soil.capacity)
    ground = FreezingGround(body, np.where(earth, soil.water, 0.0))
    wet = ground.latent > 0
    start = np.where(wet, np.maximum(start, 0.0), start)
    winter = ground.march(start, drives.years(STEPS), BEGIN, COUNT)
    return line(section, body.grid, winter.coldest)
