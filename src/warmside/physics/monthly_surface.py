"""The monthly method of ISO 13788, first half: its vapour formulas, climates, mould at the room-side surface.

ISO 13788:2012, whose clauses are held from memory; its own saturation formulas, which lie 0.1 to 0.2 % under
IAPWS above 0 C and 0.5 % under it at -20 C, are used here and nowhere else. Values: data/monthly.toml.

It knows steady diffusion month by month and no more: `BLIND_SPOTS` names what it cannot see, and every result
carries them. It does not stand for a wall in the ground, whose outside is not the outdoor air. Months stand
from January and are numbered 0 to 11.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files

import numpy as np

from warmside.physics.air import KELVIN, Array, Like

TRIPLE = 610.5
"""Saturation pressure at 0 C in ISO 13788 [Pa]."""


class MonthlyInputError(ValueError):
    """A layer, a month or a state that the monthly method cannot take."""


class HumidityClass(StrEnum):
    """How much vapour the use of a building adds: ISO 13788 annex A, classes 1 to 4; 5 has no upper end."""

    STORAGE = "storage"
    DWELLING = "dwelling"
    UNKNOWN_OCCUPANCY = "unknown_occupancy"
    SPORTS_HALL_OR_KITCHEN = "sports_hall_or_kitchen"


class BlindSpot(StrEnum):
    """What the method leaves out; the first four stand in the scope of ISO 13788:2012."""

    AIR_MOVEMENT = "air_movement"
    STORAGE = "storage"
    CAPILLARY_FLOW = "capillary_flow"
    MOISTURE_DEPENDENT_PROPERTIES = "moisture_dependent_properties"
    LATENT_HEAT = "latent_heat"
    SUN_AND_RAIN = "sun_and_rain"
    HOURS_AND_DAYS = "hours_and_days"
    GROUND = "ground"


BLIND_SPOTS = tuple(BlindSpot)
"""Everything that the method cannot see."""


@cache
def published(table: str) -> dict[str, float]:
    """The values of one table of data/monthly.toml by name, each in the unit that stands beside it."""
    text = (files("warmside") / "data" / "monthly.toml").read_text("utf-8")
    return {name: float(entry["value"]) for name, entry in tomllib.loads(text)[table].items()}


MOULD_HUMIDITY = published("constant")["mould_humidity"]
"""Monthly mean humidity of a surface from which mould is likely [-]."""
OPAQUE_FILM = published("film")["opaque"]
"""Room-side film for mould on opaque parts [m2.K/W]."""
GLAZING_FILM = published("film")["glazing"]
"""Room-side film for glazing and frames, which may reach saturation [m2.K/W]."""


# Vapour


def saturation(temperature: Like) -> Array:
    """Saturation pressure, over ice below 0 C [Pa]; ISO 13788 annex E.

    temperature : -60 to 100 [C]
    Raises MonthlyInputError.
    """
    t = np.asarray(temperature, float)
    if not ((t >= -60.0) & (t <= 100.0)).all():
        raise MonthlyInputError("a temperature is not from -60 to 100 C")
    water = 17.269 * t / (237.3 + t)
    return TRIPLE * np.exp(np.where(t >= 0.0, water, 21.875 * t / (265.5 + t)))


def dew_point(vapour: Like) -> Array:
    """Temperature at which a vapour saturates, over ice below 0 C [C]; ISO 13788 annex E.

    vapour : partial pressure, above 0 [Pa]
    Raises MonthlyInputError.
    """
    p = np.asarray(vapour, float)
    if not (p > 0.0).all():
        raise MonthlyInputError("a vapour pressure is not above 0 Pa")
    log = np.log(p / TRIPLE)
    return np.where(p >= TRIPLE, 237.3 * log / (17.269 - log), 265.5 * log / (21.875 - log))


def class_excess(humidity_class: HumidityClass, outside: Like) -> Array:
    """Most vapour that the use of a building adds to outdoor air [Pa]; ISO 13788 annex A.

    outside : monthly mean of the outdoor temperature [C]
    """
    share = np.clip(1.0 - np.asarray(outside, float) / 20.0, 0.0, 1.0)
    return np.asarray(published("class")[humidity_class] * share)


def ventilation_excess(production: float, volume: float, air_changes: float, inside: float) -> float:
    """Vapour that sources add to outdoor air under steady ventilation [Pa]; ISO 13788 clause 4.

    production : of vapour [kg/h]
    volume : of the room's air [m3]
    air_changes : of outdoor air [1/h]
    inside : temperature [C]
    Raises MonthlyInputError.
    """
    if not (volume > 0.0 and air_changes > 0.0):
        raise MonthlyInputError(
            f"{volume:g} m3 and {air_changes:g} air changes per hour: both should be above 0"
        )
    return production / (air_changes * volume) * published("constant")["vapour_gas"] * (inside + KELVIN)


@dataclass(frozen=True)
class Climate:
    """Twelve months of both sides, January first, each of shape (12,).

    outside : mean temperature [C]
    outside_vapour : mean partial pressure [Pa]
    inside : temperature [C]
    inside_vapour : partial pressure [Pa]
    """

    outside: Array
    outside_vapour: Array
    inside: Array
    inside_vapour: Array

    def __post_init__(self) -> None:
        """Raise MonthlyInputError unless all are finite and of shape (12,)."""
        for name, values in vars(self).items():
            if values.shape != (12,) or not np.isfinite(values).all():
                raise MonthlyInputError(f"{name}: shape {values.shape}; want 12 finite values, January first")


def climate_by_class(
    outside: Like, outside_humidity: Like, inside: Like, humidity_class: HumidityClass
) -> Climate:
    """A climate whose room gets the vapour of a humidity class with the margin of the standard, 1.10.

    outside : monthly mean temperature, shape (12,) [C]
    outside_humidity : monthly mean, one or 12, 0 to 1 [-]
    inside : temperature, one or 12 [C]
    Raises MonthlyInputError.
    """
    t, vapour, room = _twelve(outside, outside_humidity, inside)
    excess = published("constant")["excess_margin"] * class_excess(humidity_class, t)
    return Climate(t, vapour, room, vapour + excess)


def climate_by_humidity(
    outside: Like, outside_humidity: Like, inside: Like, inside_humidity: Like, margin: float = 0.0
) -> Climate:
    """A climate whose room humidity is known or held.

    outside : monthly mean temperature, shape (12,) [C]
    outside_humidity : monthly mean, one or 12, 0 to 1 [-]
    inside : temperature, one or 12 [C]
    inside_humidity : monthly mean, one or 12, 0 to 1 [-]
    margin : added to the indoor humidity; the standard takes 0.05 where a plant holds it, from memory [-]
    Raises MonthlyInputError.
    """
    t, vapour, room = _twelve(outside, outside_humidity, inside)
    humidity = _share(np.asarray(inside_humidity, float) + margin)
    return Climate(t, vapour, room, humidity * saturation(room))


def _twelve(outside: Like, outside_humidity: Like, inside: Like) -> tuple[Array, Array, Array]:
    t, room = np.asarray(outside, float), np.broadcast_to(np.asarray(inside, float), (12,))
    return t, _share(np.asarray(outside_humidity, float)) * saturation(t), room


def _share(humidity: Array) -> Array:
    if not ((humidity > 0.0) & (humidity <= 1.0)).all():
        raise MonthlyInputError("a relative humidity is not above 0 and at most 1; give shares, not %")
    return humidity


# The room-side surface


def least_surface_temperature(inside_vapour: Like, humidity: float = MOULD_HUMIDITY) -> Array:
    """Temperature below which the surface gets damper than it may [C]; ISO 13788 clause 5.

    inside_vapour : partial pressure in the room [Pa]
    humidity : that the surface may have: 0.80 for mould, 1 for glazing and frames [-]
    """
    return dew_point(np.asarray(inside_vapour, float) / humidity)


def required_factor(climate: Climate, humidity: float = MOULD_HUMIDITY) -> Array:
    """Least temperature factor of the room-side surface, month by month, shape (12,) [-]; ISO 13788 clause 5.

    humidity : that the surface may have [-]

    0 in a month that is not colder outside than inside; above 1 no insulation is enough.
    """
    fall = climate.inside - climate.outside
    above = least_surface_temperature(climate.inside_vapour, humidity) - climate.outside
    return np.where(fall > 0.0, above / np.where(fall > 0.0, fall, 1.0), 0.0)


def temperature_factor(surface: float, outside: float, inside: float) -> float:
    """Where a surface lies between outside, 0, and inside, 1 [-]; ISO 13788 clause 3.

    surface : its temperature [C]
    outside : temperature [C]
    inside : temperature [C]
    Raises MonthlyInputError where both sides are equally warm.
    """
    if inside == outside:
        raise MonthlyInputError(f"{inside:g} C on both sides: no temperature factor")
    return (surface - outside) / (inside - outside)


@dataclass(frozen=True)
class SurfaceAnswer:
    """Whether the room-side surface stays dry enough for mould, in the month that asks most.

    month : 0 January to 11 December
    required : least temperature factor [-]
    factor : what the wall has [-]
    """

    month: int
    required: float
    factor: float
    blind_spots: tuple[BlindSpot, ...] = BLIND_SPOTS

    @property
    def passes(self) -> bool:
        """Whether the wall has what is required."""
        return self.factor >= self.required


def judge_surface(factor: float, climate: Climate, humidity: float = MOULD_HUMIDITY) -> SurfaceAnswer:
    """Compare a surface's temperature factor with what the worst month requires; ISO 13788 clause 5.

    factor : of the wall or of a thermal bridge [-]
    humidity : that the surface may have [-]
    """
    required = required_factor(climate, humidity)
    worst = int(np.argmax(required))
    return SurfaceAnswer(worst, float(required[worst]), factor)
