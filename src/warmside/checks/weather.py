"""Compute functions of the checks on places, sun, sky, snow and generated years.

Each gets one row's inputs in the units its data file states and returns the value in the unit of the check.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from warmside.catalog.climate_tables import Station, station_normals, stations
from warmside.catalog.climates import Place, measured_year, nearest_place
from warmside.checks.registry import Inputs, computes
from warmside.physics import snow, sun
from warmside.physics.air import Array
from warmside.physics.synthesis import Cold, ranked, temperatures
from warmside.physics.weather import (
    Year,
    degree_days,
    exceeded,
    monthly_means,
    running_mean,
    standard_pressure,
)

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
ALL_YEAR = tuple(range(12))
QUANTILES = {
    "99.6 % of the year": Cold(0.0, 0.996, ALL_YEAR),
    "99 % of the year": Cold(0.0, 0.99, ALL_YEAR),
    "97.5 % of January": Cold(0.0, 0.975, (0,)),
}


@cache
def _place(latitude: float, longitude: float) -> Place:
    return nearest_place(latitude, longitude)


@cache
def _year(latitude: float, longitude: float) -> Year:
    return ranked(_place(latitude, longitude).normals)


def _where(row: Inputs) -> tuple[float, float]:
    return row.number("latitude"), row.number("longitude")


# Places


@computes("normals-published-temperature")
def _temperature(row: Inputs) -> float:
    normals = _place(*_where(row)).normals
    return float(getattr(normals, row.text("quantity"))[MONTHS.index(row.text("month"))])


@computes("normals-published-precipitation")
def _precipitation(row: Inputs) -> float:
    fallen = _place(*_where(row)).normals.precipitation
    return float(fallen[MONTHS.index(row.text("month"))]) if fallen is not None else float("nan")


@computes("snow-published-depth")
def _snow_depth(row: Inputs) -> float:
    depth = snow.snow_cover(_place(*_where(row)).normals).depth
    return 100.0 * float(depth[MONTHS.index(row.text("month"))])


# Generated years


@computes("generated-monthly-means")
def _means(row: Inputs) -> float:
    hours: Array = getattr(_year(*_where(row)), row.text("quantity"))
    return float(monthly_means(hours)[MONTHS.index(row.text("month"))]) * row.number("factor")


@computes("generated-degree-days")
def _degree_days(row: Inputs) -> float:
    return degree_days(_year(*_where(row)).temperature)


@computes("generated-degree-days-measured")
def _degree_days_measured(row: Inputs) -> float:
    return degree_days(_year(*_where(row)).temperature)


@cache
def _checked() -> tuple[tuple[Station, Array], ...]:
    """Every second station of the half that nothing was fitted on, each generated with a seed of its own."""
    held = [station for station in stations() if station.half == "check"][::2]
    return tuple((s, temperatures(station_normals(s), seed=int(s.id[5:]))) for s in held)


@computes("generated-cold-tail")
def _cold_tail(row: Inputs) -> float:
    statistic = QUANTILES[row.text("statistic")]
    return float(np.mean([statistic.of(hours) for _, hours in _checked()]))


@computes("coldest-day-and-january")
def _coldest_day(row: Inputs) -> float:
    return float(running_mean(measured_year(row.text("year")).temperature, 24).min())


@computes("stretched-to-the-code")
def _stretched(row: Inputs) -> float:
    year = ranked(_place(*_where(row)).normals, cold=Cold(row.number("asked")))
    return exceeded(year.temperature, 0.975, (0,))


# Sun and sky


def _moment(row: Inputs) -> sun.Sun:
    return sun.sun_at(*_where(row), row.number("zone"), [24.0 * (row.number("day") - 1) + row.number("hour")])


@computes("sun-position")
def _sun_position(row: Inputs) -> float:
    where = _moment(row)
    angles = {"altitude": np.arcsin(where.height[0]), "azimuth": where.azimuth[0]}
    return float(np.degrees(angles[row.text("angle")]))


@computes("sun-at-noon")
def _sun_at_noon(row: Inputs) -> float:
    hours = 24.0 * (row.number("day") - 1) + np.arange(1440) / 60.0
    return float(np.degrees(np.arcsin(sun.sun_at(row.number("latitude"), 0.0, 0.0, hours).height.max())))


@computes("sun-of-a-day")
def _sun_of_a_day(row: Inputs) -> float:
    hours = 24.0 * (row.number("day") - 1) + (np.arange(1440) + 0.5) / 60.0
    return float(sun.sun_at(row.number("latitude"), 0.0, 0.0, hours).horizontal.sum() * 60.0 / 1e6)


@computes("sun-diffuse-share")
def _diffuse_share(row: Inputs) -> float:
    return float(sun.diffuse_share(row.number("clearness")))


@computes("sun-on-a-face")
def _on_a_face(row: Inputs) -> float:
    altitude, azimuth = np.radians(row.number("altitude")), np.radians(row.number("azimuth"))
    one = np.ones(1)
    where = sun.Sun(one * np.sin(altitude), one * azimuth, 0.0 * one, 1367.0 * one)
    beam, diffuse = row.number("beam"), row.number("diffuse")
    level = beam * np.sin(altitude) + diffuse
    found = sun.on_face(
        beam, diffuse, level, where, row.number("facing"), row.number("tilt"), row.number("albedo")
    )
    return float(found[0])


@computes("sky-emissivity")
def _sky(row: Inputs) -> float:
    vapour, black = row.number("vapour"), sun.STEFAN_BOLTZMANN * 273.15**4
    pressure = row.number("pressure")
    return float(sun.longwave_down(0.0, vapour, row.number("cloud"), row.number("hour"), pressure)) / black


@computes("snow-conductivity")
def _snow_conductivity(row: Inputs) -> float:
    return float(snow.snow_conductivity(row.number("density")))


@computes("standard-pressure")
def _pressure(row: Inputs) -> float:
    return standard_pressure(row.number("elevation"))
