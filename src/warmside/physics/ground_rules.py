"""Heat loss to the ground by published formulas: ISO 13370, ASHRAE, Latta and Boileau.

These are the quick route and the yardstick beside the detailed section; they know one soil, one wall and no
frost. ISO 13370:2007 (2017 keeps the same core), ASHRAE Fundamentals 2017 ch. 17 eq. 35 to 38, Latta and
Boileau 1969. A converged section differs from ISO 13370 by up to 8 % steady, 20 % in the outdoor and 30 % in
the indoor swing.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
import numpy.typing as npt

from warmside.physics.grid import Array

YEAR = 3.15e7
"""Seconds in a year as ISO 13370 takes it [s]."""


class GroundInputError(ValueError):
    """A dimension or property that the formula cannot take."""


@dataclass(frozen=True)
class Stuff:
    """What conducts and stores.

    conductivity : [W/(m.K)]
    capacity : volumetric heat capacity [J/(m3.K)]
    """

    conductivity: float
    capacity: float


@dataclass(frozen=True)
class Soil(Stuff):
    """Thermal properties of the ground."""

    def __post_init__(self) -> None:
        """Raise GroundInputError unless both are positive."""
        if not (self.conductivity > 0 and self.capacity > 0):
            raise GroundInputError(
                f"soil {self.conductivity} W/(m.K), {self.capacity} J/(m3.K): want both over 0"
            )

    @property
    def diffusivity(self) -> float:
        """Conductivity over capacity [m2/s]."""
        return self.conductivity / self.capacity

    def penetration(self, period: float = YEAR) -> float:
        """Depth at which a surface wave has faded to 1/e [m].

        period : of the wave [s]
        """
        return float(np.sqrt(self.diffusivity * period / np.pi))


@cache
def _table() -> dict[str, dict[str, dict[str, Any]]]:
    return tomllib.loads((files("warmside") / "data" / "ground.toml").read_text("utf-8"))


def entry(kind: str, name: str) -> dict[str, Any]:
    """An entry of data/ground.toml.

    kind : soil, solid, soil_water or damp_proofing
    name : of the entry
    Raises GroundInputError naming the choices.
    """
    choices = _table().get(kind, {})
    if name not in choices:
        raise GroundInputError(f"no {kind} {name!r}: there are {sorted(choices)}")
    return choices[name]


def stuff(kind: str, name: str) -> Stuff:
    """A soil or a solid of data/ground.toml.

    kind : soil or solid
    name : of the entry
    Raises GroundInputError naming the choices.
    """
    read, make = entry(kind, name), Soil if kind == "soil" else Stuff
    return make(read["conductivity"], read["capacity"])


def characteristic_width(area: float, perimeter: float) -> float:
    """B', floor area over half the exposed perimeter [m]; ISO 13370:2007 eq. 2.

    area : of the floor [m2]
    perimeter : exposed [m]
    """
    return area / (0.5 * perimeter)


def equivalent_thickness(wall: float, conductivity: float, resistance: float) -> float:
    """Soil thickness that resists like wall and floor together [m]; ISO 13370:2007 eq. 3 and 10.

    wall : full thickness of the external wall; 0 for the wall's own equivalent thickness [m]
    conductivity : of the soil [W/(m.K)]
    resistance : films and layers in series [m2.K/W]
    """
    return wall + conductivity * resistance


def slab_u(width: float, thickness: float, conductivity: float, depth: float = 0.0) -> float:
    """U of a slab on ground, or of a basement floor at a depth [W/(m2.K)]; ISO 13370:2007 eq. 4, 5, 11, 12.

    width : characteristic B' [m]
    thickness : equivalent dt of the floor [m]
    conductivity : of the soil [W/(m.K)]
    depth : of the floor below grade [m]
    """
    total = thickness + 0.5 * depth
    if total < width:
        return float(2 * conductivity / (np.pi * width + total) * np.log(np.pi * width / total + 1))
    return conductivity / (0.457 * width + total)


def basement_wall_u(depth: float, wall: float, floor: float, conductivity: float) -> float:
    """Mean U of a basement wall below grade [W/(m2.K)]; ISO 13370:2007 eq. 14.

    depth : of the floor below grade [m]
    wall : equivalent thickness dw [m]
    floor : equivalent thickness dt [m]
    conductivity : of the soil [W/(m.K)]
    Raises GroundInputError.
    """
    if depth <= 0:
        raise GroundInputError(f"depth {depth} m: a basement wall lies below grade, give a depth over 0")
    floor = min(floor, wall)
    return float(
        2 * conductivity / (np.pi * depth) * (1 + 0.5 * floor / (depth + floor)) * np.log(depth / wall + 1)
    )


@dataclass(frozen=True)
class Basement:
    """A heated basement as ISO 13370 sees it.

    area : of the floor [m2]
    perimeter : exposed [m]
    depth : of the floor below grade; 0 for a slab on ground [m]
    wall_thickness : full thickness of the external wall [m]
    floor_resistance : films and layers of the floor [m2.K/W]
    wall_resistance : films and layers of the wall [m2.K/W]
    soil : around it
    """

    area: float
    perimeter: float
    depth: float
    wall_thickness: float
    floor_resistance: float
    wall_resistance: float
    soil: Soil

    @property
    def floor(self) -> float:
        """Equivalent thickness dt [m]."""
        return equivalent_thickness(self.wall_thickness, self.soil.conductivity, self.floor_resistance)

    @property
    def wall(self) -> float:
        """Equivalent thickness dw [m]."""
        return equivalent_thickness(0.0, self.soil.conductivity, self.wall_resistance)

    def steady(self) -> float:
        """Steady ground heat transfer coefficient [W/K]; ISO 13370:2007 eq. 15."""
        width = characteristic_width(self.area, self.perimeter)
        below = self.area * slab_u(width, self.floor, self.soil.conductivity, self.depth)
        if self.depth == 0:
            return below
        return below + self.depth * self.perimeter * basement_wall_u(
            self.depth, self.wall, self.floor, self.soil.conductivity
        )

    def indoor_swing(self) -> float:
        """Hpi, heat flow per kelvin of annual indoor swing [W/K]; ISO 13370:2007 annex B."""
        delta, k = self.soil.penetration(), self.soil.conductivity

        def part(d: float) -> float:
            return float(k / d * np.sqrt(2 / ((1 + delta / d) ** 2 + 1)))

        return self.area * part(self.floor) + self.depth * self.perimeter * (
            part(self.wall) if self.depth else 0.0
        )

    def outdoor_swing(self) -> float:
        """Hpe, heat flow per kelvin of annual outdoor swing [W/K]; ISO 13370:2007 annex B."""
        delta = self.soil.penetration()
        reach = np.exp(-self.depth / delta)
        wall = 2 * (1 - reach) * np.log(delta / self.wall + 1) if self.depth else 0.0
        floor = reach * np.log(delta / self.floor + 1)
        return float(0.37 * self.perimeter * self.soil.conductivity * (floor + wall))


def ashrae_wall_u(top: float, bottom: float, resistance: float, conductivity: float = 1.4) -> float:
    """Mean U of a below-grade wall between two depths [W/(m2.K)]; ASHRAE Fundamentals 2017 ch. 17 eq. 37.

    top : depth of the upper end [m]
    bottom : depth of the lower end [m]
    resistance : wall, insulation and film [m2.K/W]
    conductivity : of the soil [W/(m.K)]
    """
    thickness = 2 * conductivity * resistance / np.pi
    span = np.log(bottom + thickness) - np.log(top + thickness)
    return float(2 * conductivity / (np.pi * (bottom - top)) * span)


def ashrae_floor_u(width: float, depth: float, resistance: float, conductivity: float = 1.4) -> float:
    """Mean U of a below-grade floor [W/(m2.K)]; ASHRAE Fundamentals 2017 ch. 17 eq. 38.

    width : least width of the basement [m]
    depth : of the floor below grade [m]
    resistance : floor and film [m2.K/W]
    conductivity : of the soil [W/(m.K)]
    """
    thickness = conductivity * resistance / np.pi
    span = np.log(0.5 * width + 0.5 * depth + thickness) - np.log(0.5 * depth + thickness)
    return float(2 * conductivity / (np.pi * width) * span)


def path_length_u(path: npt.ArrayLike, resistance: npt.ArrayLike, conductivity: float = 1.385) -> Array:
    """U of a wall band whose heat takes a circular path to the surface [W/(m2.K)]; Latta and Boileau 1969.

    path : length of the arc through the soil [m]
    resistance : wall, insulation and films [m2.K/W]
    conductivity : of the soil, 9.6 Btu.in/(h.ft2.F) in the source [W/(m.K)]
    """
    return 1 / (np.asarray(resistance, float) + np.asarray(path, float) / conductivity)


def undisturbed(
    depth: npt.ArrayLike,
    day: npt.ArrayLike,
    mean: float,
    amplitude: float,
    coldest_day: float,
    diffusivity: float,
) -> Array:
    """Ground temperature far from buildings [C]; Kusuda and Achenbach 1965.

    depth : below the surface [m]
    day : of the year [d]
    mean : of the surface over the year [C]
    amplitude : of the surface over the year [K]
    coldest_day : on which the surface is coldest [d]
    diffusivity : of the soil [m2/d]
    """
    z = np.asarray(depth, float)
    damping = z * np.sqrt(np.pi / (365 * diffusivity))
    lag = 0.5 * z * np.sqrt(365 / (np.pi * diffusivity))
    phase = 2 * np.pi / 365 * (np.asarray(day, float) - coldest_day - lag)
    return np.asarray(mean - amplitude * np.exp(-damping) * np.cos(phase))
