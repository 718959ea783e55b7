"""Weather of a place: its monthly normals, a year of hours, and what is asked of the year.

A year has 8760 hours in local standard time; value i belongs to the hour that ends i + 1 hours after New
Year's midnight. Sun is the mean of the hour; measured air readings are those at its end. Relative humidity is
over liquid water, also below 0 C. Each quantity says whether it was measured, derived or generated.

The cold week: in 14 measured typical years the coldest running 24 hours lie 0.2 K below the January 2.5 %
temperature of the same year on average (from 2.9 below to 1.7 above), so the coldest week of a year is moved
as a whole until its coldest 24 hours have the code temperature.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cached_property
from types import MappingProxyType

import numpy as np
import numpy.typing as npt
from scipy.interpolate import CubicSpline

from warmside.physics import sun
from warmside.physics.air import (
    KELVIN,
    SEA_LEVEL,
    Array,
    relative_humidity,
    saturation_over_ice,
    saturation_over_water,
)
from warmside.physics.ground_surface import MONTH_DAYS, by_month

HOURS = 8760
WEEK = 168
MONTH_OF_HOUR = by_month(np.arange(12)).astype(int)
"""Month, 0 for January, of each hour of the year [-]."""


class WeatherError(ValueError):
    """Weather that can't be: a value out of bounds, a wrong count, or a gap."""


class Origin(StrEnum):
    """How a quantity of a year came about."""

    MEASURED = "measured"
    DERIVED = "derived"
    GENERATED = "generated"


@dataclass(frozen=True)
class Bounds:
    """What a quantity may be.

    low, high : limits that no place passes [unit of the values]
    unit : for messages
    """

    low: float
    high: float
    unit: str


BOUNDS: Mapping[str, Bounds] = MappingProxyType(
    {
        "temperature": Bounds(-60.0, 60.0, "C"),
        "vapour_pressure": Bounds(0.5, 6000.0, "Pa"),
        "wind": Bounds(0.0, 80.0, "m/s"),
        "pressure": Bounds(50e3, 110e3, "Pa"),
        "ghi": Bounds(0.0, 1500.0, "W/m2"),
        "dni": Bounds(0.0, 1500.0, "W/m2"),
        "dhi": Bounds(0.0, 1500.0, "W/m2"),
        "longwave": Bounds(30.0, 700.0, "W/m2"),
        "wind_from": Bounds(0.0, 360.0, "deg"),
        "rain": Bounds(0.0, 300.0, "mm"),
    }
)
"""Limits of the quantities of a year."""


def standard_pressure(elevation: float) -> float:
    """Pressure of the standard atmosphere, ICAO Doc 7488 [Pa].

    elevation : above the sea [m]
    """
    return float(SEA_LEVEL * (1.0 - 2.25577e-5 * elevation) ** 5.25588)


def monthly_means(hourly: npt.ArrayLike) -> Array:
    """Mean of each month of a year of hours [unit of the values].

    hourly : 8760 values [unit of the values]
    """
    sums = np.bincount(MONTH_OF_HOUR, np.asarray(hourly, float), 12)
    return np.asarray(sums / (24.0 * np.array(MONTH_DAYS)))


def smooth_days(monthly: npt.ArrayLike) -> Array:
    """A curve of 365 days whose monthly means are the twelve values exactly [unit of the values].

    monthly : January to December [unit of the values]

    The derivative of the periodic cubic spline through the sums at the ends of the months: the area-matching
    spline of de Boor, A Practical Guide to Splines (1978), ch. VIII.
    """
    values, days = np.asarray(monthly, float), np.array(MONTH_DAYS)
    edges = np.concatenate([[0], np.cumsum(days)])
    mean = float(values @ days) / 365.0
    sums = np.concatenate([[0.0], np.cumsum((values - mean) * days)])
    sums[-1] = 0.0
    return np.asarray(mean + np.diff(CubicSpline(edges, sums, bc_type="periodic")(np.arange(366))))


@dataclass(frozen=True, eq=False)
class Normals:
    """Monthly means of a place, January to December, each row of twelve.

    latitude, longitude : north and east positive [deg]
    elevation : above the sea [m]
    tmean, tmax, tmin : mean, mean daily greatest and least temperature [C]
    vapour_pressure : mean [Pa]
    wind : mean at 10 m [m/s]
    ghi : mean horizontal sun, nights included [W/m2]
    precipitation : of the month, None where not known [mm]
    wet_days : with precipitation in the month, None where not known [d]
    """

    name: str
    latitude: float
    longitude: float
    elevation: float
    tmean: Array
    tmax: Array
    tmin: Array
    vapour_pressure: Array
    wind: Array
    ghi: Array
    precipitation: Array | None = None
    wet_days: Array | None = None
    source: str = ""

    def __post_init__(self) -> None:
        """Raise WeatherError where a row isn't twelve finite values in order."""
        for name in ("tmean", "tmax", "tmin", "vapour_pressure", "wind", "ghi"):
            row = getattr(self, name)
            if np.shape(row) != (12,) or not np.isfinite(row).all():
                raise WeatherError(f"normals of {self.name}: {name} should be twelve values, one a month")
        if (self.tmin > self.tmean).any() or (self.tmean > self.tmax).any():
            raise WeatherError(f"normals of {self.name}: each month needs tmin <= tmean <= tmax")

    def warmer(self, kelvin: float = 1.0) -> Normals:
        """The same climate warmer at the same relative humidity: 1 K brings 1961-1990 to recent years.

        kelvin : added to all temperatures [K]
        """
        ratio = saturation_over_water(self.tmean + kelvin) / saturation_over_water(self.tmean)
        temperatures = {name: getattr(self, name) + kelvin for name in ("tmean", "tmax", "tmin")}
        return replace(self, vapour_pressure=self.vapour_pressure * ratio, **temperatures)


@dataclass(frozen=True, eq=False)
class Year:
    """A year of hours at a place.

    latitude, longitude : north and east positive [deg]
    elevation : above the sea [m]
    zone : standard time less universal time; longitude / 15 for mean solar time [h]
    temperature : of the air [C]
    vapour_pressure : of the air [Pa]
    wind : speed at 10 m [m/s]
    pressure : barometric [Pa]
    ghi : horizontal sun [W/m2]
    dni : beam across its rays [W/m2]
    dhi : diffuse on the level [W/m2]
    longwave : of the sky on a level face [W/m2]
    wind_from : direction the wind blows from, None where not known [deg]
    rain : of the hour, None where not known [mm]
    origin : of each quantity
    notes : what was filled or dropped on reading
    """

    name: str
    latitude: float
    longitude: float
    elevation: float
    zone: float
    temperature: Array
    vapour_pressure: Array
    wind: Array
    pressure: Array
    ghi: Array
    dni: Array
    dhi: Array
    longwave: Array
    wind_from: Array | None = None
    rain: Array | None = None
    origin: Mapping[str, Origin] = field(default_factory=dict)
    source: str = ""
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Raise WeatherError where a quantity has a wrong count, a gap, or a value that can't be."""
        for name, bounds in BOUNDS.items():
            values = getattr(self, name)
            if values is not None:
                _within_bounds(self.name, name, values, bounds)

    @cached_property
    def humidity(self) -> Array:
        """Relative humidity over liquid water, 0 to 1 [-]."""
        return np.minimum(relative_humidity(self.temperature, self.vapour_pressure), 1.0)

    @cached_property
    def sun(self) -> sun.Sun:
        """Position of the sun at the middle of the hours."""
        return sun.sun_at(self.latitude, self.longitude, self.zone)

    @cached_property
    def sky_temperature(self) -> Array:
        """Temperature of a black sky that radiates as much [C]."""
        return sun.sky_temperature(self.longwave)

    def on_wall(self, facing: str, albedo: npt.ArrayLike = 0.2) -> Array:
        """Sun on a vertical face, by its facing such as "NE" [W/m2].

        albedo : share that the ground throws back [-]

        Raises sun.FacingError.
        """
        return sun.on_face(self.dni, self.dhi, self.ghi, self.sun, sun.bearing(facing), 90.0, albedo)

    def warmer(self, kelvin: float = 1.0) -> Year:
        """The same year warmer, at the same relative humidity and with the sky as much warmer.

        kelvin : added to all hours [K]
        """
        temperature = self.temperature + kelvin
        sky = (self.sky_temperature + kelvin + KELVIN) ** 4 * sun.STEFAN_BOLTZMANN
        vapour = self.humidity * saturation_over_water(temperature)
        return replace(self, temperature=temperature, vapour_pressure=vapour, longwave=sky)

    def completed(self, other: Year, names: tuple[str, ...]) -> Year:
        """This year with some quantities taken from another, as a year without sun needs.

        other : gives the quantities
        names : of the quantities, such as ("ghi", "dni", "dhi")
        """
        taken = {name: getattr(other, name) for name in names}
        origin = {**self.origin, **dict.fromkeys(names, Origin.GENERATED)}
        return replace(self, **taken, origin=origin)


def _within_bounds(place: str, name: str, values: Array, bounds: Bounds) -> None:
    if values.shape != (HOURS,):
        raise WeatherError(f"{place}: {name} has {values.size} values; a year has {HOURS} hours")
    bad = np.flatnonzero(~((values >= bounds.low) & (values <= bounds.high)))
    if bad.size:
        limits = f"{bounds.low:g} to {bounds.high:g} {bounds.unit}"
        raise WeatherError(f"{place}: {name} is {values[bad[0]]:g} at hour {bad[0] + 1}; it may be {limits}")


# What is asked of a year


def degree_days(temperature: npt.ArrayLike, base: float = 18.0) -> float:
    """Heating degree-days of a year, from daily means [K.d].

    temperature : 8760 hours [C]
    base : below which a day counts [C]
    """
    days = np.asarray(temperature, float).reshape(365, 24).mean(axis=1)
    return float(np.maximum(base - days, 0.0).sum())


def exceeded(temperature: npt.ArrayLike, share: float, months: tuple[int, ...] = tuple(range(12))) -> float:
    """Temperature that this share of the hours exceeds: 0.996 of the year, or 0.975 of January [C].

    temperature : 8760 hours [C]
    share : of the hours, 0 to 1 [-]
    months : that count, 0 for January
    """
    hours = np.asarray(temperature, float)[np.isin(MONTH_OF_HOUR, months)]
    return float(np.quantile(hours, 1.0 - share))


def longest_below(temperature: npt.ArrayLike, limit: float) -> int:
    """Hours of the longest unbroken spell below a temperature, also over New Year.

    temperature : 8760 hours [C]
    limit : that ends the spell [C]
    """
    below = np.asarray(temperature, float) < limit
    if below.all():
        return HOURS
    breaks = np.flatnonzero(~below)
    return int(np.diff(np.append(breaks, breaks[0] + HOURS)).max()) - 1


@dataclass(frozen=True, eq=False)
class ColdWeek:
    """The coldest week of a year, moved to the code temperature.

    start : hours from New Year to its first hour [h]
    shift : added to the week's temperatures [K]
    design : mean of the coldest 24 hours that was asked for [C]
    year : the whole year with the week in place, the shift faded over 24 h at both ends
    """

    start: int
    shift: float
    design: float
    year: Year

    @property
    def hours(self) -> npt.NDArray[np.int64]:
        """Which hours of the year are the week."""
        return (self.start + np.arange(WEEK)) % HOURS


def running_mean(values: npt.ArrayLike, hours: int) -> Array:
    """Mean over the hours that begin at each hour of the year, round New Year [unit of the values].

    values : 8760 hours [unit of the values]
    hours : in each mean
    """
    row = np.asarray(values, float)
    sums = np.concatenate([[0.0], np.cumsum(np.concatenate([row, row[: hours - 1]]))])
    return np.asarray((sums[hours:] - sums[:-hours]) / hours)


def cold_week(year: Year, design: float) -> ColdWeek:
    """The year's coldest week, moved until its coldest 24 hours have the code temperature.

    year : whose week is taken
    design : code temperature, such as the January 2.5 % value [C]

    Relative humidity is kept, yet air that was not over saturation over ice before is not so after.
    """
    start = int(running_mean(year.temperature, WEEK).argmin())
    coldest = running_mean(year.temperature, 24)[(start + np.arange(WEEK - 23)) % HOURS].min()
    shift = design - float(coldest)
    return ColdWeek(start, shift, design, _shifted_week(year, start, shift))


def _shifted_week(year: Year, start: int, shift: float) -> Year:
    ramp = np.arange(1, 25) / 25.0
    weight = np.zeros(HOURS)
    where = (start - 24 + np.arange(WEEK + 48)) % HOURS
    weight[where] = np.concatenate([ramp, np.ones(WEEK), ramp[::-1]])
    temperature = year.temperature + shift * weight
    kept = year.humidity * saturation_over_water(temperature)
    most = ceiling(temperature) * np.maximum(1.0, year.vapour_pressure / ceiling(year.temperature))
    sky = sun.STEFAN_BOLTZMANN * (year.sky_temperature + shift * weight + KELVIN) ** 4
    return replace(
        year,
        temperature=temperature,
        vapour_pressure=np.where(weight > 0, np.minimum(kept, most), year.vapour_pressure),
        longwave=sky,
        notes=(*year.notes, f"coldest week moved by {shift:.1f} K"),
    )


def ceiling(temperature: npt.ArrayLike, surplus: float = 1.0) -> Array:
    """Most vapour that cold air is taken to hold: water saturation, below 0 C over ice [Pa].

    temperature : of the air [C]
    surplus : over saturation over ice that is still met [-]
    """
    t = np.asarray(temperature, float)
    water = saturation_over_water(t)
    return np.minimum(water, np.where(t < 0, surplus * saturation_over_ice(np.minimum(t, 0.0)), water))
