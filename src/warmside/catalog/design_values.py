"""The cold that a place's code names, and its degree-days and climate zone.

Design temperatures of different definitions are kept apart: January 2.5 % (Canada), 99 % and 99.6 % of the
year (United States and others), national winter temperatures (Nordic countries). What stands in the job goes
before all; an estimate from normals comes last and is 3 K off either way. Nothing is taken from a table's
place more than 40 km away. A value that was read goes before one from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from warmside.catalog.climate_tables import (
    ClimateSource,
    DesignRow,
    climate_sources,
    design_rows,
    fold,
    region_codes,
    zone_rows,
)
from warmside.catalog.climates import ClimateError, Place, distance
from warmside.physics.synthesis import Cold

REACH = 40.0
"""Furthest that a design temperature is taken from [km]."""


class NoDesignError(ClimateError):
    """No design temperature of the wanted definition is known here."""


class ZoneError(ClimateError):
    """No zone of that system, or none for so many degree-days."""


class Definition(StrEnum):
    """What a design temperature means; values of different definitions are never mixed."""

    LOCAL = "given by the user"
    JANUARY_2_5 = "colder in 2.5 % of the hours of January"
    JANUARY_1 = "colder in 1 % of the hours of January"
    YEAR_99 = "colder in 1 % of the hours of the year"
    YEAR_99_6 = "colder in 0.4 % of the hours of the year"
    NATIONAL = "national winter design temperature"
    ESTIMATE = "January 2.5 %, estimated from normals"


_COLUMNS = {
    "jan_2_5": Definition.JANUARY_2_5,
    "jan_1": Definition.JANUARY_1,
    "year_99_6": Definition.YEAR_99_6,
    "year_99": Definition.YEAR_99,
    "national": Definition.NATIONAL,
}
JANUARY, ALL_YEAR = (0,), tuple(range(12))
_USUAL = {"CA": Definition.JANUARY_2_5, "US": Definition.YEAR_99}


@dataclass(frozen=True)
class DesignValue:
    """A design temperature with what it means and where it comes from.

    temperature : of the outdoor air [C]
    place : that the table names
    distance : from what was asked for to that place; 0 where unknown, found by name [km]
    """

    temperature: float
    definition: Definition
    status: str
    source: ClimateSource
    place: str
    distance: float = 0.0


@dataclass(frozen=True)
class DegreeDays:
    """Heating degree-days of a table.

    value : of the year [K.d]
    base : below which days count [C]
    """

    value: float
    base: float
    status: str
    source: ClimateSource
    place: str


@dataclass(frozen=True)
class Design:
    """All design temperatures known for a place, by definition, the one that counts first."""

    values: tuple[DesignValue, ...]
    degree_days: DegreeDays | None

    @property
    def governing(self) -> DesignValue:
        """The one to use: the user's, the country's usual one, a national one, else the estimate."""
        return self.values[0]

    def value(self, definition: Definition) -> DesignValue:
        """The value of one definition. Raises NoDesignError, which says what there is."""
        for one in self.values:
            if one.definition is definition:
                return one
        known = "; ".join(one.definition for one in self.values)
        raise NoDesignError(f"no design temperature {definition.value!r} here; there is: {known}")


def design(place: Place, local: float | None = None) -> Design:
    """Design temperatures of a place: the user's before the tables, the estimate from normals last.

    place : from `find_place` or `nearest_place`
    local : temperature that the local code names, where the user gave it [C]
    """
    rows = _design_rows(place)
    values = [value for row, far in rows for value in _values(row, far)]
    estimate = DesignValue(
        place.station.january_estimate,
        Definition.ESTIMATE,
        "computed",
        climate_sources()["estimate"],
        place.station.name,
    )
    usual = _USUAL.get(place.station.country, Definition.NATIONAL)
    values.sort(key=lambda value: (value.definition is not usual, value.status != "read"))
    return Design((*_given(place, local), *values, estimate), _degree_days(rows))


def _given(place: Place, local: float | None) -> tuple[DesignValue, ...]:
    if local is None:
        return ()
    return (DesignValue(local, Definition.LOCAL, "read", climate_sources()["local"], place.asked),)


def _values(row: DesignRow, far: float) -> list[DesignValue]:
    source = climate_sources()[row.source]
    return [
        DesignValue(temperature, _COLUMNS[name], row.status, source, row.place, far)
        for name, temperature in row.values.items()
    ]


def _degree_days(rows: Sequence[tuple[DesignRow, float]]) -> DegreeDays | None:
    for row, _ in rows:
        if row.degree_days is not None and row.base is not None:
            source = climate_sources()[row.source if row.values else "degree-days"]
            return DegreeDays(row.degree_days, row.base, row.degree_days_status, source, row.place)
    return None


def _design_rows(place: Place) -> list[tuple[DesignRow, float]]:
    """The nearest row of each table within reach, one with the very name first."""
    home = [row for row in design_rows() if row.country == place.station.country]
    ordered = sorted(
        ((not _namesake(row, place), _how_far(row, place), row.place, row) for row in home),
        key=lambda entry: entry[:3],
    )
    found: dict[str, tuple[DesignRow, float]] = {}
    for unlike, far, _, row in ordered:
        if row.source not in found and (far <= REACH or not unlike):
            found[row.source] = (row, far if row.latitude is not None else 0.0)
    return list(found.values())


def _namesake(row: DesignRow, place: Place) -> bool:
    """Whether a row bears the very name of what was asked for, and doesn't lie elsewhere."""
    region = region_codes().get((row.country, fold(place.asked_region)), "")
    same = fold(row.place.partition("(")[0]) == fold(place.asked) and row.region in ("", region)
    return same and (row.latitude is None or _how_far(row, place) <= REACH)


def _how_far(row: DesignRow, place: Place) -> float:
    if row.latitude is None or row.longitude is None:
        return 1e9
    return distance(place.asked_latitude, place.asked_longitude, row.latitude, row.longitude)


_SHARES = {
    Definition.JANUARY_2_5: (0.975, JANUARY),
    Definition.JANUARY_1: (0.99, JANUARY),
    Definition.YEAR_99: (0.99, ALL_YEAR),
    Definition.YEAR_99_6: (0.996, ALL_YEAR),
}


def cold_of(value: DesignValue, country: str) -> Cold | None:
    """What a generated year has to meet to be as cold as a design value; None where no share is known.

    value : from `design`
    country : whose usual definition the user's own value is taken for
    """
    meant = (
        _USUAL.get(country, Definition.NATIONAL) if value.definition is Definition.LOCAL else value.definition
    )
    if meant not in _SHARES:
        return None
    share, months = _SHARES[meant]
    return Cold(value.temperature, share, months)


def climate_zone(system: str, degree_days: float) -> str:
    """Climate zone for so many heating degree-days, such as "7A" of the NBC.

    system : "NBC", "IECC", "Ontario SB-12" or "Quebec part 11"
    degree_days : of the year [K.d]

    Raises ZoneError.
    """
    bands = [row for row in zone_rows() if row["system"] == system]
    if not bands:
        known = ", ".join(dict.fromkeys(row["system"] for row in zone_rows()))
        raise ZoneError(f"no climate zones of {system!r}; there are: {known}")
    for band in bands:
        if float(band["from"]) <= degree_days < float(band["below"] or "inf"):
            return band["zone"]
    raise ZoneError(
        f"{system} has no zone for {degree_days:g} degree-days here; it begins at {bands[0]['from']}"
    )
