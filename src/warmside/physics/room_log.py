"""The room's climate as a logger measured it: from times, temperatures and humidities to hours of a year.

The first line names the columns with their units, in any order and beside others: a time (year first, ISO
8601), a temperature in C or F, a relative humidity in % or as a share of 1 (over water, as loggers give it).
Columns are parted by comma, semicolon or tab; beside the latter two a decimal comma is read. What lies within
half an hour of a full hour is averaged, vapour as its pressure; where nothing does, hours are filled straight
across up to LONGEST_GAP. A whole year is repeated as it is, its last 365 days; a part of one replaces those
hours of a room climate that is assumed, joined over SEAM. Valid for air that was mixed where the logger hung:
it knows nothing of a colder corner. Faults are notes; sentences stand in data/messages.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt

from warmside.physics.air import saturation_over_water
from warmside.say import Note, Where

Array = npt.NDArray[np.float64]

HOURS = 8760
LONGEST_GAP = 24
"""Time without a measurement that is filled straight across [h]."""
LEAST_DAYS = 28
"""Shortest log that says anything of a room's year [d]."""
SEAM = 24
"""Over which a measured part of a year passes into what is assumed [h]."""
MISSING = ("", "nan", "na", "n/a", "null", "-", "--")


class RoomLogError(ValueError):
    """A logger's file can't be used; `note` has the sentence, the file and the line."""

    def __init__(self, note: Note) -> None:
        self.note = note
        super().__init__(f"{note.where.file}, line {note.where.line}: {note.code} {dict(note.args)}")


@dataclass(frozen=True)
class Quantity:
    """What a column may hold.

    name : the word that a column's name begins with
    example : of a name with its unit
    units : to C or to a share of 1, by the unit as written
    low, high : in a room [C or -]
    shown : factor to the unit that a fault is told in [-]
    unit : that unit
    """

    name: str
    example: str
    units: Mapping[str, Callable[[float], float]]
    low: float
    high: float
    shown: float
    unit: str


def _same(value: float) -> float:
    return value


def _of_fahrenheit(value: float) -> float:
    return (value - 32.0) / 1.8


def _of_percent(value: float) -> float:
    return 0.01 * value


TEMPERATURE = Quantity(
    "temperature", "temperature (C)", {"c": _same, "f": _of_fahrenheit}, -20.0, 50.0, 1.0, "C"
)
HUMIDITY = Quantity("humidity", "humidity (%)", {"%": _of_percent, "1": _same}, 0.01, 1.02, 100.0, "%")
"""Up to 2 points beyond saturation, which sensors show in wet air; taken as saturated."""
NAMES = {
    "time": ("time", "date", "timestamp"),
    "temperature": ("temp", "t "),
    "humidity": ("humid", "relative humid", "rh"),
}


@dataclass(frozen=True, eq=False)
class RoomLog:
    """What a logger measured, at full hours without gaps.

    file : it came from
    start : the first hour
    temperature : at full hours [C]
    vapour : pressure at full hours [Pa]
    notes : what was filled or left out
    """

    file: str
    start: datetime
    temperature: Array
    vapour: Array
    notes: tuple[Note, ...]


@dataclass(frozen=True, eq=False)
class RoomYear:
    """Room arrays of a forcing from January 1, hour 0, to repeat each year.

    temperature : at the start of each hour [C]
    humidity : over water [-]
    measured : share of the year that was measured [-]
    notes : what was filled, how the year was made and joined
    """

    temperature: Array
    humidity: Array
    measured: float
    notes: tuple[Note, ...]


def read_room_log(path: str | Path) -> RoomLog:
    """Full hours of a logger's file.

    path : of the file

    Raises RoomLogError.
    """
    file = Path(path).name
    try:
        lines = Path(path).read_text("utf-8-sig", errors="replace").splitlines()
    except OSError as fault:
        raise RoomLogError(Note("room_log.unreadable", {"why": fault.strerror}, Where(file))) from fault
    delimiter = next((mark for mark in ("\t", ";") if lines and mark in lines[0]), ",")
    sheet = _Sheet(file, list(csv.reader(lines, delimiter=delimiter)), decimal_comma=delimiter != ",")
    return _hourly(sheet, _samples(sheet))


# The file taken apart


@dataclass(frozen=True)
class _Sheet:
    """Rows of cells, the first of them names."""

    file: str
    rows: Sequence[Sequence[str]]
    decimal_comma: bool

    def fault(self, line: int | None, code: str, **args: object) -> RoomLogError:
        return RoomLogError(self.note(line, code, **args))

    def note(self, line: int | None, code: str, **args: object) -> Note:
        return Note(code, args, Where(self.file, line))

    def column(self, what: str, example: str) -> int:
        """Where a quantity stands."""
        names = [name.strip() for name in self.rows[0]]
        found = [k for k, name in enumerate(names) if f"{name.lower()} ".startswith(NAMES[what])]
        if not found:
            listed = ", ".join(filter(None, names))
            raise self.fault(1, "room_log.no_column", what=what, found=listed, example=example)
        if len(found) > 1:
            first, second = (names[k] for k in found[:2])
            raise self.fault(1, "room_log.two_columns", what=what, first=first, second=second)
        return found[0]

    def unit(self, column: int, quantity: Quantity) -> Callable[[float], float]:
        """How a column becomes C or a share of 1."""
        name = self.rows[0][column].strip()
        written = re.findall(r"[(\[]\s*°?\s*([^)\]]*?)\s*[)\]]\s*$", name)
        convert = quantity.units.get(written[0].lower()) if written else None
        if convert is None:
            args = {"what": quantity.name, "found": name, "example": quantity.example}
            raise self.fault(1, "room_log.no_unit", **args)
        return convert

    def number(self, line: int, cell: str, what: str) -> float:
        """A cell's number, NaN where nothing was measured."""
        text = cell.strip()
        if text.lower() in MISSING:
            return math.nan
        plain = text.replace(",", ".") if self.decimal_comma else text
        if not re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", plain, re.IGNORECASE):
            raise self.fault(line, "room_log.not_number", found=text, what=what)
        return float(plain)

    def time(self, line: int, cell: str) -> datetime:
        try:
            return datetime.fromisoformat(cell.strip())
        except ValueError as fault:
            raise self.fault(line, "room_log.not_time", found=cell.strip()) from fault


@dataclass(frozen=True)
class _Sample:
    """One line with a time; NaN where nothing was measured."""

    line: int
    time: datetime
    temperature: float
    humidity: float


def _samples(sheet: _Sheet) -> list[_Sample]:
    """Lines in order, in C and shares of 1; nothing is judged yet but their order."""
    if not sheet.rows or not any(cell.strip() for cell in sheet.rows[0]):
        raise sheet.fault(1, "room_log.no_header")
    at = sheet.column("time", "time")
    columns = [(sheet.column(q.name, q.example), q) for q in (TEMPERATURE, HUMIDITY)]
    convert = [sheet.unit(column, quantity) for column, quantity in columns]
    found: list[_Sample] = []
    for line, cells in enumerate(sheet.rows[1:], 2):
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) != len(sheet.rows[0]):
            raise sheet.fault(line, "room_log.cells", found=len(cells), wanted=len(sheet.rows[0]))
        time = _standard(sheet, line, cells[at], found)
        numbers = [sheet.number(line, cells[column], quantity.name) for column, quantity in columns]
        values = [change(number) for change, number in zip(convert, numbers, strict=True)]
        found.append(_Sample(line, time, *values))
    return found


def _standard(sheet: _Sheet, line: int, cell: str, before: Sequence[_Sample]) -> datetime:
    """The time of a line in the offset of the first one, later than the line before."""
    time = sheet.time(line, cell)
    if before and (time.tzinfo is None) != (before[0].time.tzinfo is None):
        raise sheet.fault(line, "room_log.not_time", found=cell.strip())
    if before and time.tzinfo is not None:
        time = time.astimezone(before[0].time.tzinfo)
    if before and time <= before[-1].time:
        raise sheet.fault(line, "room_log.goes_back", found=cell.strip(), before=str(before[-1].time))
    return time


# Samples to hours


def _hourly(sheet: _Sheet, samples: list[_Sample]) -> RoomLog:
    """Full hours from the first to the last that was measured."""
    there = [s for s in samples if not (math.isnan(s.temperature) or math.isnan(s.humidity))]
    days = (there[-1].time - there[0].time) / timedelta(days=1) if there else 0.0
    _in_range(sheet, there)
    if days < LEAST_DAYS:
        raise sheet.fault(None, "room_log.short", days=days, least=LEAST_DAYS)
    start = there[0].time.replace(minute=0, second=0, microsecond=0)
    hour = np.array([(s.time - start) / timedelta(hours=1) for s in there])
    _gaps(sheet, there, hour)
    missing = [s.line for s in samples if math.isnan(s.temperature) or math.isnan(s.humidity)]
    told = [sheet.note(None, "room_log.missing", count=len(missing), first=missing[0])] if missing else []
    temperature = np.array([s.temperature for s in there])
    vapour = np.minimum([s.humidity for s in there], 1.0) * saturation_over_water(temperature)
    rows, filled = _at_hours(hour, np.stack([temperature, vapour]))
    if filled.any():
        line, longest = _longest(there, hour, filled)
        args = {"count": int(filled.sum()), "longest": longest, "after": line}
        told.append(sheet.note(None, "room_log.filled", **args))
    return RoomLog(sheet.file, start.replace(tzinfo=None), rows[0], rows[1], tuple(told))


def _at_hours(hour: Array, values: Array) -> tuple[Array, npt.NDArray[np.bool_]]:
    """Means about each full hour, straight between where there is none; and which hours are such."""
    count = int(np.floor(hour[-1])) + 1
    near = np.floor(hour + 0.5).astype(int)
    counted = np.bincount(near, minlength=count + 1)[:count]
    sums = np.array([np.bincount(near, row, minlength=count + 1)[:count] for row in values])
    straight = np.array([np.interp(np.arange(count), hour, row) for row in values])
    return np.where(counted > 0, sums / np.maximum(counted, 1), straight), counted == 0


def _longest(there: Sequence[_Sample], hour: Array, filled: npt.NDArray[np.bool_]) -> tuple[int, int]:
    """Line before the longest run of filled hours, and its length [h]."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], filled.astype(int), [0]])))
    lengths = edges[1::2] - edges[::2]
    first = int(edges[::2][lengths.argmax()])
    return there[max(int(np.searchsorted(hour, first)) - 1, 0)].line, int(lengths.max())


def _in_range(sheet: _Sheet, there: Sequence[_Sample]) -> None:
    """Raise RoomLogError for a wrong unit, or the first value that no room has."""
    temperature, humidity = (
        np.array([getattr(s, name) for s in there]) for name in ("temperature", "humidity")
    )
    if len(there) and temperature.mean() > 45.0:
        raise sheet.fault(1, "room_log.fahrenheit", mean=float(temperature.mean()))
    if len(there) and humidity.max() <= 0.0102:
        raise sheet.fault(1, "room_log.share", most=float(100.0 * humidity.max()))
    for quantity, values in ((TEMPERATURE, temperature), (HUMIDITY, humidity)):
        for bad in np.flatnonzero((values < quantity.low) | (values > quantity.high))[:1]:
            scaled = {"value": values[bad], "low": quantity.low, "high": quantity.high}
            args = {name: float(quantity.shown * value) for name, value in scaled.items()}
            what = {"what": quantity.name, "unit": quantity.unit}
            raise sheet.fault(there[bad].line, "room_log.out_of_range", **what, **args)


def _gaps(sheet: _Sheet, there: Sequence[_Sample], hour: Array) -> None:
    """Raise RoomLogError where nothing was measured for too long."""
    for at in np.flatnonzero(np.diff(hour) > LONGEST_GAP + 1)[:1]:
        args = {"hours": float(np.diff(hour)[at]), "most": LONGEST_GAP}
        raise sheet.fault(there[at].line, "room_log.gap", **args)


# Hours to a year


def room_year(log: RoomLog, base: tuple[Array, Array] | None = None) -> RoomYear:
    """The year that a log gives, from January 1 on.

    log : full hours, more than a year of them or less
    base : for what a shorter log leaves open, the hours of a year: temperature [C] and vapour pressure [Pa]

    Raises RoomLogError for less than a year without a base.
    """
    times = [log.start + timedelta(hours=k) for k in range(len(log.temperature))]
    kept = [k for k, time in enumerate(times) if (time.month, time.day) != (2, 29)][-HOURS:]
    place = np.array([_hour_of_year(times[k]) for k in kept])
    measured = np.stack([log.temperature[kept], log.vapour[kept]])
    leap = (Note("room_log.leap"),) if any((t.month, t.day) == (2, 29) for t in times) else ()
    span = {"start": f"{times[kept[0]]:%Y-%m-%d}", "end": f"{times[kept[-1]]:%Y-%m-%d}"}
    share = len(kept) / HOURS
    if share < 1.0 and base is None:
        raise RoomLogError(Note("room_log.needs_base", {"days": len(kept) / 24.0}, Where(log.file)))
    year = np.array(base if share < 1.0 else measured, float)
    year[:, place] = _joined(year[:, place], measured) if share < 1.0 else measured
    humidity = np.minimum(year[1] / saturation_over_water(year[0]), 1.0)
    how = _part(span, share) if share < 1.0 else _whole(span, measured)
    return RoomYear(year[0], humidity, share, (*log.notes, *leap, how))


def _hour_of_year(time: datetime) -> int:
    """Counted from January 1, hour 0, of a year of 365 days."""
    return int((datetime(2001, time.month, time.day, time.hour) - datetime(2001, 1, 1)) / timedelta(hours=1))


def _joined(assumed: Array, measured: Array) -> Array:
    """Measured rows that begin and end as what is assumed."""
    at = np.arange(measured.shape[1])
    weight = np.minimum(1.0, np.minimum(at, at[::-1]) / SEAM)
    return np.asarray(assumed + weight * (measured - assumed))


def _whole(span: Mapping[str, str], measured: Array) -> Note:
    humidity = measured[1] / saturation_over_water(measured[0])
    jumps = {
        "kelvin": abs(measured[0, 0] - measured[0, -1]),
        "points": 100.0 * abs(humidity[0] - humidity[-1]),
    }
    return Note("room_log.whole", {**span, **{name: float(value) for name, value in jumps.items()}})


def _part(span: Mapping[str, str], share: float) -> Note:
    return Note("room_log.part", {**span, "share": share, "hours": SEAM})
