"""Reading the user's own hourly year: files with the 35 columns of `.epw`, and TMY3 files with named columns.

Column order, units and codes for missing values are the public ones: `.epw` has eight head lines, then year,
month, day, hour 1-24, minute, flags and 29 quantities; TMY3 (Wilcox and Marion 2008, NREL/TP-581-43156) has
one line about the station, a line of names, and dates as month/day/year. Gaps of up to six hours are filled
straight across and told; longer ones, wrong counts and units that can't be are refused with the line. 29
February is left out. Time stays local standard time.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt

from warmside.physics import sun
from warmside.physics.air import Array, saturation_over_water
from warmside.physics.weather import BOUNDS, HOURS, Bounds, Origin, WeatherError, Year, standard_pressure

LONGEST_GAP = 6
"""Missing hours in a row that are filled [h]."""
HEAD_LINES = 8
_EPW_COLUMNS = 35
_EPW_LEAST = 32
"""Older files end after the snow columns."""


class WeatherFileError(WeatherError):
    """A weather file can't be used; the sentence gives file, line, what stands there and what should."""

    def __init__(self, file: str, line: int | None, what: str) -> None:
        self.file, self.line = file, line
        place = f"{file}, line {line}" if line else file
        super().__init__(f"{place}: {what}")


Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Column:
    """One quantity of a file.

    at : index in `.epw`
    name : heading in TMY3
    missing : value of `.epw` from which on it is missing [unit of the values]
    epw_factor, tmy3_factor : to SI, or to a share [-]
    """

    at: int
    name: str
    missing: float
    epw_factor: float = 1.0
    tmy3_factor: float = 1.0


COLUMNS: Mapping[str, Column] = {
    "temperature": Column(6, "Dry-bulb (C)", 99.9),
    "dew_point": Column(7, "Dew-point (C)", 99.9),
    "humidity": Column(8, "RHum (%)", 999.0, 0.01, 0.01),
    "pressure": Column(9, "Pressure (mbar)", 999999.0, 1.0, 100.0),
    "longwave": Column(12, "", 9999.0),
    "ghi": Column(13, "GHI (W/m^2)", 9999.0),
    "dni": Column(14, "DNI (W/m^2)", 9999.0),
    "dhi": Column(15, "DHI (W/m^2)", 9999.0),
    "wind_from": Column(20, "Wdir (degrees)", 999.0),
    "wind": Column(21, "Wspd (m/s)", 999.0),
    "cloud": Column(22, "TotCld (tenths)", 99.0, 0.1, 0.1),
    "rain": Column(33, "Lprecip depth (mm)", 999.0),
}
NEEDED = ("temperature", "wind")
"""Without these no year; humidity or dew point, and some sun, must be there too."""
EXTRA = ("pressure", "longwave", "wind_from", "cloud", "rain")
"""Derived or done without where they have gaps."""
SHARES = {
    "humidity": Bounds(0.0, 1.1, "of 1"),
    "cloud": Bounds(0.0, 1.0, "of 1"),
    "dew_point": Bounds(-90, 50, "C"),
}
_TMY3_MISSING = -99.0


@dataclass(frozen=True)
class _Site:
    """Where a file says it stands."""

    name: str
    latitude: float
    longitude: float
    zone: float
    elevation: float


@dataclass(frozen=True)
class _Row:
    """One hour of a file: its line, when, and the cells."""

    line: int
    month: int
    day: int
    hour: int
    cells: Sequence[str]


@dataclass(frozen=True)
class _Table:
    """A file taken apart, before anything is judged; `cell` picks a quantity's text from a row."""

    file: str
    site: _Site
    rows: list[_Row]
    has: Callable[[str], bool]
    cell: Callable[[_Row, str], str]
    missing: Callable[[str, Array], Mask]
    factor: Callable[[str], float]


def read_weather_file(path: str | Path) -> Year:
    """A year from the user's file, `.epw` or TMY3 `.csv`. Raises WeatherFileError."""
    place = Path(path)
    reader = _READERS.get(place.suffix.lower())
    if reader is None:
        kinds = " and ".join(sorted(_READERS))
        raise WeatherFileError(place.name, None, f"a weather file ends in {kinds}, not in {place.suffix!r}")
    try:
        text = place.read_text("utf-8", errors="replace")
    except OSError as fault:
        raise WeatherFileError(place.name, None, f"can't be read: {fault.strerror}") from fault
    return _year(reader(place.name, text))


# The two layouts


def _epw(file: str, text: str) -> _Table:
    lines = text.splitlines()
    head = lines[0].split(",") if lines else []
    if not head or head[0].strip().upper() != "LOCATION" or len(head) < 10:
        found = lines[0][:40] if lines else ""
        raise WeatherFileError(file, 1, f"{found!r} where LOCATION with city, ..., elevation should stand")
    rows = [
        _epw_row(file, number, line.split(","))
        for number, line in enumerate(lines[HEAD_LINES:], HEAD_LINES + 1)
        if line.strip()
    ]
    site = _Site(head[1].strip(), *(_number(file, 1, head[k]) for k in (6, 7, 8, 9)))
    width = min((len(row.cells) for row in rows), default=0)
    return _Table(
        file,
        site,
        rows,
        has=lambda name: COLUMNS[name].at < width,
        cell=lambda row, name: row.cells[COLUMNS[name].at],
        missing=lambda name, value: value >= COLUMNS[name].missing,
        factor=lambda name: COLUMNS[name].epw_factor,
    )


def _epw_row(file: str, line: int, cells: list[str]) -> _Row:
    if not _EPW_LEAST <= len(cells) <= _EPW_COLUMNS:
        wanted = f"an hour has {_EPW_COLUMNS} columns (older files {_EPW_LEAST})"
        raise WeatherFileError(file, line, f"{len(cells)} columns; {wanted}")
    month, day, hour = (int(_number(file, line, cells[k])) for k in (1, 2, 3))
    return _Row(line, month, day, hour, cells)


def _tmy3(file: str, text: str) -> _Table:
    lines = list(csv.reader(text.splitlines()))
    if len(lines) < 3 or len(lines[0]) < 7:
        wanted = "station, name, state, zone, latitude, longitude, elevation, and a line of column names"
        raise WeatherFileError(file, 1, f"not a TMY3 file; it should begin with a line of {wanted}")
    names = {name.strip(): k for k, name in enumerate(lines[1])}
    needed = ("Date (MM/DD/YYYY)", "Time (HH:MM)", *(COLUMNS[n].name for n in NEEDED))
    lacking = [name for name in needed if name not in names]
    if lacking:
        raise WeatherFileError(file, 2, f"no column {', '.join(lacking)}")
    rows = [_tmy3_row(file, k, cells, names) for k, cells in enumerate(lines[2:], 3) if cells]
    zone, latitude, longitude, elevation = (_number(file, 1, lines[0][k]) for k in (3, 4, 5, 6))
    return _Table(
        file,
        _Site(lines[0][1].strip(), latitude, longitude, zone, elevation),
        rows,
        has=lambda name: COLUMNS[name].name in names,
        cell=lambda row, name: row.cells[names[COLUMNS[name].name]],
        missing=lambda _, value: value <= _TMY3_MISSING,
        factor=lambda name: COLUMNS[name].tmy3_factor,
    )


def _tmy3_row(file: str, line: int, cells: list[str], names: Mapping[str, int]) -> _Row:
    if len(cells) != len(names):
        raise WeatherFileError(file, line, f"{len(cells)} columns under {len(names)} names")
    day, time = cells[names["Date (MM/DD/YYYY)"]], cells[names["Time (HH:MM)"]]
    parts = day.split("/")
    if len(parts) != 3:
        raise WeatherFileError(file, line, f"the date {day!r} should be month/day/year")
    month, of_month, hour = (int(_number(file, line, part)) for part in (*parts[:2], time.split(":")[0]))
    return _Row(line, month, of_month, hour, cells)


_READERS: Mapping[str, Callable[[str, str], _Table]] = {".epw": _epw, ".csv": _tmy3}


def _number(file: str, line: int, text: str) -> float:
    try:
        value = float(text)
    except ValueError as fault:
        raise WeatherFileError(file, line, f"{text.strip()!r} where a number should stand") from fault
    if not np.isfinite(value):
        raise WeatherFileError(file, line, f"{text.strip()!r} where a number should stand")
    return value


# Hours in their order


def _ordered(table: _Table) -> tuple[list[_Row], tuple[str, ...]]:
    """The 8760 hours in their order, without 29 February, and a note where it was left out."""
    rows = [row for row in table.rows if (row.month, row.day) != (2, 29)]
    dropped = len(table.rows) - len(rows)
    for position, row in enumerate(rows[:HOURS]):
        _expect(table.file, position, row)
    if len(rows) < HOURS:
        last = rows[-1] if rows else None
        end = f"ends at {_said(last.month, last.day, last.hour)}" if last else "has no hours"
        raise WeatherFileError(
            table.file, last.line if last else None, f"{end}; {len(rows)} hours of {HOURS}: cut short"
        )
    if len(rows) > HOURS:
        found = f"{len(rows)} hours; a year has {HOURS}, one a line"
        raise WeatherFileError(table.file, rows[HOURS].line, found)
    return rows, (f"29 February left out ({dropped} hours)",) if dropped else ()


def _expect(file: str, position: int, row: _Row) -> None:
    day = date(2001, 1, 1) + timedelta(days=position // 24)
    wanted = (day.month, day.day, position % 24 + 1)
    if (row.month, row.day, row.hour) != wanted:
        found = _said(row.month, row.day, row.hour)
        rule = "every hour once, from 01-01 hour 1 to 12-31 hour 24"
        raise WeatherFileError(file, row.line, f"{found} where {_said(*wanted)} should stand; {rule}")


def _said(month: int, day: int, hour: int) -> str:
    return f"{month:02d}-{day:02d} hour {hour}"


# Values and gaps


def _column(table: _Table, rows: list[_Row], name: str) -> Array | None:
    """A quantity in SI with NaN where it is missing; None where the file has none of it."""
    if not table.has(name):
        return None
    raw = _numbers(table, rows, name)
    coded = (raw == COLUMNS[name].missing) | (raw <= _TMY3_MISSING)
    _units(table, name, raw[~coded] * table.factor(name))
    gone = table.missing(name, raw)
    values = np.where(gone, np.nan, raw * table.factor(name))
    _bounded(table, rows, name, values)
    return None if gone.all() else values


def _numbers(table: _Table, rows: list[_Row], name: str) -> Array:
    cells = [table.cell(row, name) for row in rows]
    try:
        values = np.array(cells, dtype=np.float64)
    except ValueError:
        values = np.full(len(cells), np.nan)
    if not np.isfinite(values).all():
        return np.array([_number(table.file, row.line, cell) for row, cell in zip(rows, cells, strict=True)])
    return values


def _units(table: _Table, name: str, values: Array) -> None:
    """Raise WeatherFileError where a column looks like another unit."""
    for looks, unit, right in _MISTAKEN.get(name, ()):
        if values.size and looks(values):
            raise WeatherFileError(table.file, None, f"{name} looks like {unit}; it should be in {right}")


def _bounded(table: _Table, rows: list[_Row], name: str, values: Array) -> None:
    """Raise WeatherFileError at the first value that can't be."""
    bounds = BOUNDS.get(name) or SHARES[name]
    bad = np.flatnonzero((values < bounds.low) | (values > bounds.high))
    if bad.size and name not in EXTRA:
        found = f"{name} {values[bad[0]]:g} {bounds.unit}; it may be {bounds.low:g} to {bounds.high:g}"
        raise WeatherFileError(table.file, rows[bad[0]].line, found)
    values[bad] = np.nan


_Looks = tuple[Callable[[Array], bool], str, str]
_MISTAKEN: Mapping[str, tuple[_Looks, ...]] = {
    "temperature": (
        (lambda v: bool(np.mean(v) > 150.0), "kelvin", "C"),
        (lambda v: bool(np.mean(v) > 33.0 or np.max(v) > 60.0), "degrees Fahrenheit", "C"),
    ),
    "humidity": ((lambda v: bool(np.max(v) <= 0.0101), "a share of 1", "per cent"),),
    "pressure": (
        (lambda v: bool(np.mean(v) < 2000.0), "hectopascal", "Pa"),
        (lambda v: bool(np.mean(v) > 5e6), "pascal", "mbar"),
    ),
    "ghi": ((lambda v: bool(0.0 < np.max(v) < 6.0), "kilowatt-hours or megajoules", "Wh/m2"),),
}
"""Signs of a wrong unit; no place has a yearly mean over 33 C."""


def _filled(table: _Table, rows: list[_Row], name: str, values: Array) -> tuple[Array, tuple[str, ...]]:
    """A quantity without gaps, and a note about what was filled. Raises WeatherFileError."""
    gone = np.isnan(values)
    if not gone.any():
        return values, ()
    start, length = _longest(gone)
    if length > LONGEST_GAP:
        found = f"{name} is missing for {length} hours; up to {LONGEST_GAP} are filled"
        raise WeatherFileError(table.file, rows[start].line, found)
    there = np.flatnonzero(~gone)
    whole = np.asarray(np.interp(np.arange(HOURS), there, values[there], period=HOURS))
    return whole, (f"{name}: {int(gone.sum())} missing hours filled, longest gap {length} h",)


def _longest(gone: Mask) -> tuple[int, int]:
    """Start and length of the longest gap."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], gone.astype(int), [0]])))
    lengths = edges[1::2] - edges[::2]
    return int(edges[::2][lengths.argmax()]), int(lengths.max())


def _year(table: _Table) -> Year:
    rows, notes = _ordered(table)
    values: dict[str, Array] = {}
    for name in COLUMNS:
        column = _column(table, rows, name)
        if column is None:
            continue
        if name in EXTRA and (np.isnan(column).any() or (name == "rain" and column.max() == 0)):
            notes += (f"{name} has gaps or only zeros and is left out",)
            continue
        values[name], more = _filled(table, rows, name, column)
        notes += more
    lacking = [name for name in NEEDED if name not in values]
    if lacking:
        raise WeatherFileError(table.file, None, f"no {' and no '.join(lacking)} in the whole file")
    return _assembled(table, values, notes)


def _assembled(table: _Table, values: dict[str, Array], notes: tuple[str, ...]) -> Year:
    site = table.site
    path = sun.sun_at(site.latitude, site.longitude, site.zone)
    origin = dict.fromkeys(values, Origin.MEASURED)
    made = {**_vapour(table, values), **_sun(table, values, path)}
    pressure = values.get("pressure", np.full(HOURS, standard_pressure(site.elevation)))
    if "longwave" not in values:
        cloud = values.get("cloud", sun.cloud_of_day(made["ghi"], path))
        hour = np.arange(HOURS) % 24 + 0.5
        made["longwave"] = sun.longwave_down(
            values["temperature"], made["vapour_pressure"], cloud, hour, pressure
        )
    whole = {**values, "pressure": pressure, **made}
    fields = {name: whole[name] for name in BOUNDS if name in whole}
    told = {name: origin.get(name, Origin.DERIVED) for name in fields}
    try:
        return Year(
            name=site.name,
            latitude=site.latitude,
            longitude=site.longitude,
            elevation=site.elevation,
            zone=site.zone,
            origin=told,
            source=table.file,
            notes=notes,
            **fields,
        )
    except WeatherError as fault:
        raise WeatherFileError(table.file, None, str(fault)) from fault


def _vapour(table: _Table, values: Mapping[str, Array]) -> dict[str, Array]:
    """Vapour pressure from relative humidity, or else from the dew point [Pa]."""
    if "humidity" in values:
        share = np.clip(values["humidity"], 0.01, 1.0)
        return {"vapour_pressure": share * saturation_over_water(values["temperature"])}
    if "dew_point" in values:
        dew = np.minimum(values["dew_point"], values["temperature"])
        return {"vapour_pressure": saturation_over_water(np.maximum(dew, -60.0))}
    raise WeatherFileError(table.file, None, "neither relative humidity nor dew point in the whole file")


def _sun(table: _Table, values: Mapping[str, Array], path: sun.Sun) -> dict[str, Array]:
    """Beam, diffuse and horizontal sun from whichever two, or the horizontal one, the file has [W/m2]."""
    up = np.maximum(path.height, 0.0)
    if {"ghi", "dni", "dhi"} <= set(values):
        return {name: values[name] for name in ("ghi", "dni", "dhi")}
    if {"dni", "dhi"} <= set(values):
        return {"ghi": values["dni"] * up + values["dhi"], "dni": values["dni"], "dhi": values["dhi"]}
    if "ghi" in values:
        dni, dhi = sun.split(values["ghi"], path)
        return {"ghi": values["ghi"], "dni": dni, "dhi": dhi}
    wanted = "horizontal sun, or beam and diffuse"
    raise WeatherFileError(table.file, None, f"no sun in the whole file; {wanted} should be in it")
