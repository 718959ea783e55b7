"""The monthly method of ISO 13788, second half: water that gathers inside a wall over a year, and drying.

ISO 13788:2012, whose clauses are held from memory. Vapour formulas, climates and what the method cannot see
stand in `monthly_surface`. Layers stand from the outside in; months from January, numbered 0 to 11. Not for a
wall in the ground, for metal or foil with holes, nor for layers that store or carry liquid water.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np

from warmside.physics.air import Array
from warmside.physics.ground_surface import MONTH_DAYS
from warmside.physics.monthly_surface import (
    BLIND_SPOTS,
    OPAQUE_FILM,
    BlindSpot,
    Climate,
    MonthlyInputError,
    published,
    saturation,
)
from warmside.physics.resistance import OUTSIDE_SURFACE, Direction, inside_surface

INSIDE_SURFACE = inside_surface(Direction.HORIZONTAL)
"""Room-side film of the condensation method for an upright wall [m2.K/W]."""
_TRACE = 1e-15
"""Condensation below it is rounding [kg/(m2.s)]."""


class Outcome(StrEnum):
    """What a year of the monthly method says."""

    NO_CONDENSATION = "no_condensation"
    DRIES_EACH_YEAR = "dries_each_year"
    STAYS_WET = "stays_wet"


# The wall


@dataclass(frozen=True)
class Layer:
    """One layer of a wall.

    resistance : thermal, 0 or more [m2.K/W]
    diffusion : air layer of equal vapour resistance, above 0 [m]
    """

    name: str
    resistance: float
    diffusion: float

    def __post_init__(self) -> None:
        """Raise MonthlyInputError for a resistance that the method can't take."""
        if not (0.0 <= self.resistance < math.inf and 0.0 < self.diffusion < math.inf):
            raise MonthlyInputError(
                f"{self.name}: {self.resistance:g} m2.K/W and {self.diffusion:g} m of air; "
                "want 0 or more, and above 0 (0.01 m for an air layer)"
            )


def solid_layer(name: str, thickness: float, conductivity: float, factor: float) -> Layer:
    """A layer by its material.

    thickness : [m]
    conductivity : thermal [W/(m.K)]
    factor : vapour resistance against air [-]
    """
    return Layer(name, thickness / conductivity, thickness * factor)


def membrane_layer(name: str, permeance: float) -> Layer:
    """A thin layer by its vapour permeance.

    permeance : [kg/(m2.s.Pa)]
    """
    return Layer(name, 0.0, published("constant")["air_permeability"] / permeance)


@dataclass(frozen=True)
class Plane:
    """Where water can gather: between two layers, or inside one where both names are the same.

    outer : layer on its outdoor side
    inner : layer on its room side
    depth : of air of equal vapour resistance, from outdoors [m]
    warmth : thermal resistance from the outer surface [m2.K/W]
    """

    outer: str
    inner: str
    depth: float
    warmth: float


@dataclass(frozen=True)
class Wall:
    """Layers from the outside in, with the films of the condensation method.

    outside_film : [m2.K/W]
    inside_film : [m2.K/W]
    """

    layers: tuple[Layer, ...]
    outside_film: float = OUTSIDE_SURFACE
    inside_film: float = INSIDE_SURFACE

    def __post_init__(self) -> None:
        """Raise MonthlyInputError without a layer."""
        if not self.layers:
            raise MonthlyInputError("a wall without a layer: want at least one")

    @property
    def resistance(self) -> float:
        """From air to air [m2.K/W]."""
        return math.fsum([self.outside_film, *(layer.resistance for layer in self.layers), self.inside_film])

    def surface_factor(self, film: float = OPAQUE_FILM) -> float:
        """Temperature factor of the plain wall's room-side surface [-]; ISO 13788 clause 5.

        film : room-side film for mould; 0.13 for glazing and frames [m2.K/W]
        """
        without = self.resistance - self.inside_film
        return without / (without + film)

    def planes(self, halved: int | None = None) -> tuple[Plane, ...]:
        """Both surfaces and all planes between parts of at most 0.25 m2.K/W.

        halved : number of a layer that gets a plane in its middle
        """
        names, depths, warmths = ["outside"], [0.0], [0.0]
        for number, layer in enumerate(self.layers):
            parts = _parts(layer.resistance, number == halved)
            names += [layer.name] * parts
            depths += [layer.diffusion / parts] * parts
            warmths += [layer.resistance / parts] * parts
        inner = [*names[1:], "inside"]
        return tuple(map(Plane, names, inner, np.cumsum(depths).tolist(), np.cumsum(warmths).tolist()))


def _parts(resistance: float, halved: bool) -> int:
    """How many equal parts a layer is cut into; an even number puts a plane in its middle."""
    parts = max(1, math.ceil(resistance / published("constant")["thickest_part"] - 1e-9))
    return parts + parts % 2 if halved else parts


# Water inside the wall


@dataclass(frozen=True)
class Vapour:
    """Vapour through a wall in one steady month.

    temperature : at each plane [C]
    pressure : of the vapour at each plane [Pa]
    rate : at which water gathers at each plane, negative where it evaporates [kg/(m2.s)]
    """

    temperature: Array
    pressure: Array
    rate: Array


class Diffusion:
    """Steady diffusion through a wall, month by month: where water gathers and where it leaves.

    planes : both surfaces and all planes between parts, from the outside
    """

    def __init__(self, wall: Wall, climate: Climate, halved: int | None = None) -> None:
        """Lay the months of a climate on a wall.

        halved : number of a layer that gets a plane in its middle
        """
        self.planes = wall.planes(halved)
        self._depth = np.array([plane.depth for plane in self.planes])
        share = np.array([wall.outside_film + plane.warmth for plane in self.planes]) / wall.resistance
        fall = climate.inside - climate.outside
        self._temperature = climate.outside[:, None] + fall[:, None] * share
        self._saturated = saturation(self._temperature)
        self._ends = np.stack([climate.outside_vapour, climate.inside_vapour], axis=1)

    @property
    def surface_humidity(self) -> Array:
        """At the room-side surface, above 1 where it drips, shape (12,) [-]."""
        return np.asarray(self._ends[:, 1] / self._saturated[:, -1])

    def month(self, month: int, water: Array) -> Vapour:
        """Vapour of a month while there is water at some planes; ISO 13788 clause 6.

        month : 0 January to 11 December
        water : at each plane [kg/m2]
        """
        wet = water > 0.0
        top = self._saturated[month].copy()
        top[[0, -1]] = np.minimum(top[[0, -1]], self._ends[month])
        fixed = [0, *(np.flatnonzero(wet[1:-1]) + 1).tolist(), len(top) - 1]
        touched = [0]
        for first, last in pairwise(fixed):
            touched += taut_string(self._depth, top, first, last)[1:]
        line = np.interp(self._depth, self._depth[touched], top[touched])
        flow = published("constant")["air_permeability"] * np.diff(line) / np.diff(self._depth)
        rate = np.zeros(len(top))
        rate[touched[1:-1]] = np.diff(flow)[np.array(touched[1:-1], int) - 1]
        rate[~wet & (rate < _TRACE)] = 0.0
        return Vapour(self._temperature[month], line, rate)

    def after(self, month: int, water: Array) -> Array:
        """Water at each plane at the end of a month, split where a plane dries up within it [kg/m2].

        month : 0 January to 11 December
        water : at each plane at its start [kg/m2]
        """
        left = MONTH_DAYS[month] * 86400.0
        while left > 0.0:
            rate = self.month(month, water).rate
            drying = rate < 0.0
            ends = np.full(len(rate), np.inf)
            ends[drying] = water[drying] / -rate[drying]
            span = min(left, float(ends.min()))
            water = np.where(ends <= span, 0.0, water + rate * span)
            left -= span
        return water

    def run(self, months: Sequence[int], water: Array) -> Array:
        """Water at each plane at the end of each month, shape (months, planes) [kg/m2].

        months : numbers in the order in which they pass
        water : at each plane at the start [kg/m2]
        """
        rows = []
        for month in months:
            water = self.after(month, water)
            rows.append(water)
        return np.array(rows)


def taut_string(depth: Array, top: Array, first: int, last: int) -> list[int]:
    """Planes that the shortest line under the saturation touches between two planes, both of them included.

    depth : of the planes, rising [m]
    top : most vapour pressure at each plane [Pa]
    """
    touched: list[int] = []
    for plane in range(first, last + 1):
        while len(touched) > 1 and _above(depth, top, touched[-2], touched[-1], plane):
            touched.pop()
        touched.append(plane)
    return touched


def _above(depth: Array, top: Array, before: int, plane: int, after: int) -> bool:
    """Whether a plane lies on or above the line from one before it to one after it."""
    left = (top[plane] - top[before]) * (depth[after] - depth[before])
    return bool(left >= (top[after] - top[before]) * (depth[plane] - depth[before]))


def steady_vapour(wall: Wall, climate: Climate, month: int) -> tuple[tuple[Plane, ...], Vapour]:
    """Temperature, vapour pressure and condensation in a month that starts dry; ISO 13788 clause 6.

    month : 0 January to 11 December
    """
    diffusion = Diffusion(wall, climate)
    return diffusion.planes, diffusion.month(month, np.zeros(len(diffusion.planes)))


@dataclass(frozen=True)
class CondensationYear:
    """Water inside a wall over twelve months, in the order in which they were run.

    months : numbers from the first in which water gathers, or after the driest, 0 January
    water : at each plane at the end of each month, shape (12, planes) [kg/m2]
    left : at the end of the twelve months, all planes [kg/m2]
    surface_humidity : at the room-side surface, shape (12,), January first [-]
    """

    outcome: Outcome
    planes: tuple[Plane, ...]
    months: tuple[int, ...]
    water: Array
    left: float
    surface_humidity: Array
    blind_spots: tuple[BlindSpot, ...] = BLIND_SPOTS

    @property
    def most(self) -> float:
        """Most water at one plane at the end of a month [kg/m2]."""
        return float(self.water.max())


def condensation_year(wall: Wall, climate: Climate) -> CondensationYear:
    """Run a year from the first month in which water gathers; ISO 13788 clause 6.

    Where water is left after twelve months, up to nine further years decide: *dries each year* wants a year
    that ends with the water it began with, and returns it. *Stays wet* returns the first year, as the
    standard has it. Water that dries from every plane but only wanders, and grows, counts as staying.
    """
    diffusion = Diffusion(wall, climate)
    planes, damp = diffusion.planes, diffusion.surface_humidity
    none = np.zeros(len(planes))
    gathers = [bool((diffusion.month(month, none).rate > 0.0).any()) for month in range(12)]
    first = next((m for m in range(12) if gathers[m] and not gathers[m - 1]), 0)
    months = tuple((first + n) % 12 for n in range(12))
    water = diffusion.run(months, none)
    if not any(gathers):
        return CondensationYear(Outcome.NO_CONDENSATION, planes, months, water, 0.0, damp)
    settled = _settled_year(diffusion, months, water)
    if settled is None:
        return CondensationYear(Outcome.STAYS_WET, planes, months, water, float(water[-1].sum()), damp)
    # Begin after the driest month, the last one where several are.
    turn = 12 - int(np.argmin(settled.sum(axis=1)[::-1]))
    months, settled = months[turn:] + months[:turn], np.roll(settled, -turn, axis=0)
    left = float(settled[-1].sum())
    return CondensationYear(Outcome.DRIES_EACH_YEAR, planes, months, settled, left, damp)


def _settled_year(diffusion: Diffusion, months: Sequence[int], water: Array) -> Array | None:
    """The first of nine further years that ends with the water it began with, or None [kg/m2]."""
    for _ in range(9):
        before, water = water[-1], diffusion.run(months, water[-1])
        if np.allclose(water[-1], before, rtol=1e-12, atol=1e-12):
            return water
    return None


@dataclass(frozen=True)
class DryingTime:
    """How water that was in a layer from the start dries out.

    months : number of months until it is gone, the last one counted; None where it is not within the years
    water : at each plane at the end of each month run, shape (months, planes) [kg/m2]
    elsewhere : most water at one other plane at the end of a month [kg/m2]
    """

    months: int | None
    planes: tuple[Plane, ...]
    water: Array
    elsewhere: float
    blind_spots: tuple[BlindSpot, ...] = BLIND_SPOTS


def drying_time(
    wall: Wall, climate: Climate, layer: int, start: int, amount: float = 1.0, years: int = 10
) -> DryingTime:
    """Dry out water in the middle of a layer; ISO 13788:2012 clause 7, which takes 1 kg/m2 and ten years.

    layer : number of the layer, from the outside
    start : first month, 0 January
    amount : of water [kg/m2]
    years : after which it is given up
    Raises MonthlyInputError.
    """
    if not (0 <= layer < len(wall.layers) and amount > 0.0):
        raise MonthlyInputError(
            f"layer {layer}, {amount:g} kg/m2: want a layer from 0 to {len(wall.layers) - 1} and some water"
        )
    diffusion = Diffusion(wall, climate, layer)
    middle = _middle(wall, layer)
    store = np.zeros(len(diffusion.planes))
    store[middle] = amount
    rows: list[Array] = []
    while len(rows) < 12 * years and store[middle] > 0.0:
        store = diffusion.after((start + len(rows)) % 12, store)
        rows.append(store)
    water = np.array(rows)
    months = None if store[middle] > 0.0 else len(rows)
    return DryingTime(months, diffusion.planes, water, float(np.delete(water, middle, axis=1).max()))


def _middle(wall: Wall, layer: int) -> int:
    """Number of the plane in the middle of a layer."""
    before = sum(_parts(other.resistance, False) for other in wall.layers[:layer])
    return before + _parts(wall.layers[layer].resistance, True) // 2
