"""The tables of climate data that the package ships: places, towns, regions, design values, measured years.

Files and their origin stand in data/climate/SOURCE.md. Normals are whole numbers of tenths or hundredths; a
value that no source gives is -32768 there and NaN here.
"""

from __future__ import annotations

import csv
import gzip
import io
import tomllib
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable

import numpy as np

from warmside.physics.air import Array, saturation_over_water
from warmside.physics.sun import cloud_of_day, longwave_down, sun_at
from warmside.physics.synthesis import generate
from warmside.physics.weather import HOURS, Normals, Origin, Year, standard_pressure

SCALES = {
    "tmean": 10.0,
    "tmax": 10.0,
    "tmin": 10.0,
    "rh": 1.0,
    "vp": 1.0,
    "wind": 10.0,
    "ghi": 100.0,
    "precip": 1.0,
    "wetdays": 10.0,
    "sun": 1.0,
    "albedo": 100.0,
}
"""Stored whole number over value, by quantity of the normals; sun is stored in kWh/m2 a day."""
MISSING = -32768
_YEAR_SCALES = {
    "temperature": 10.0,
    "humidity": 1000.0,
    "pressure": 0.1,
    "wind": 10.0,
    "cloud": 10.0,
    "rain": 100.0,
}
_SHORT = {"saint": "st", "sainte": "ste", "fort": "ft", "mount": "mt"}
_LETTERS = str.maketrans({"ø": "o", "æ": "ae", "å": "a", "ß": "ss", "ł": "l", "ð": "d", "þ": "th", "œ": "oe"})


@dataclass(frozen=True)
class ClimateSource:
    """Where climate data come from, and on what terms they are passed on."""

    id: str
    title: str
    period: str
    licence: str
    status: str
    derived: tuple[str, ...]


@dataclass(frozen=True)
class Station:
    """A listed place with normals; what is typical comes from its typical year, where it has one.

    latitude, longitude : north and east positive [deg]
    elevation : above the sea [m]
    january_estimate : January 2.5 % temperature worked out from the normals [C]
    typical : 99.6 %, 99 % and January 2.5 % temperature of the typical year, and its degree-days
    half : "fit" or "check": whether the generator's constants were fitted on this cold station or held back
    """

    row: int
    id: str
    name: str
    near: str
    country: str
    region: str
    latitude: float
    longitude: float
    elevation: float
    source: str
    january_estimate: float
    typical: tuple[float, float, float, float] | None
    half: str


@dataclass(frozen=True)
class Town:
    """A town that may be asked for; people tell which of two namesakes is meant more often."""

    name: str
    region: str
    country: str
    latitude: float
    longitude: float
    people: int


@dataclass(frozen=True)
class DesignRow:
    """One place of a table of design temperatures, as the table gives it; None where it gives nothing."""

    place: str
    region: str
    country: str
    latitude: float | None
    longitude: float | None
    values: Mapping[str, float]
    degree_days: float | None
    base: float | None
    status: str
    degree_days_status: str
    source: str


@dataclass(frozen=True)
class MeasuredYear:
    """A measured or typical year of hours in the package, not yet read."""

    id: str
    name: str
    region: str
    country: str
    latitude: float
    longitude: float
    elevation: float
    zone: float
    kind: str
    source: str
    notes: tuple[str, ...]


def folder() -> Traversable:
    """The package's climate data."""
    return files("warmside") / "data" / "climate"


def fold(text: str) -> str:
    """A name in small letters without accents and signs: Saint-Jérôme, St. Jerome and st jerome are one."""
    plain = unicodedata.normalize("NFKD", text.lower().translate(_LETTERS))
    bare = (c for c in plain if not unicodedata.combining(c) and c not in "'’.")
    words = "".join(c if c.isalnum() else " " for c in bare).split()
    return " ".join(_SHORT.get(word, word) for word in words)


def _rows(name: str) -> Iterator[dict[str, str]]:
    data = (folder() / name).read_bytes()
    text = gzip.decompress(data) if name.endswith(".gz") else data
    yield from csv.DictReader(io.StringIO(text.decode("utf-8")))


def _number(text: str) -> float | None:
    return float(text) if text else None


@cache
def climate_sources() -> Mapping[str, ClimateSource]:
    """Every source of climate data by key."""
    table = tomllib.loads((folder() / "sources.toml").read_text("utf-8"))
    return {
        key: ClimateSource(key, **{**row, "derived": tuple(row["derived"])}) for key, row in table.items()
    }


@cache
def regions() -> tuple[tuple[str, str, str], ...]:
    """Country, code and name of every province, state and country; a country's own code is empty."""
    return tuple((row["country"], row["code"], row["name"]) for row in _rows("regions.csv"))


@cache
def region_codes() -> Mapping[tuple[str, str], str]:
    """Code of a province or state by country and folded name or code."""
    told = [(country, word, code) for country, code, name in regions() if code for word in (code, name)]
    return {(country, fold(word)): code for country, word, code in told}


@cache
def stations() -> tuple[Station, ...]:
    """All places with normals, in the order of the table of normals."""
    return tuple(_station(row, cells) for row, cells in enumerate(_rows("places.csv")))


def _station(row: int, cells: Mapping[str, str]) -> Station:
    typical = [_number(cells[f"typical_{name}"]) for name in ("99_6", "99", "jan_2_5", "hdd18")]
    known = [value for value in typical if value is not None]
    return Station(
        row=row,
        id=cells["id"],
        name=cells["station"],
        near=cells["near"],
        country=cells["country"],
        region=region_codes().get((cells["country"], fold(cells["region"])), cells["region"]),
        latitude=float(cells["latitude"]),
        longitude=float(cells["longitude"]),
        elevation=float(cells["elevation"]),
        source=cells["source"],
        january_estimate=float(cells["jan_2_5_estimate"]),
        typical=(known[0], known[1], known[2], known[3]) if len(known) == 4 else None,
        half=cells["half"],
    )


@cache
def towns() -> tuple[Town, ...]:
    """All towns that may be asked for."""
    return tuple(
        Town(
            row["name"],
            row["region"],
            row["country"],
            float(row["latitude"]),
            float(row["longitude"]),
            int(row["people"]),
        )
        for row in _rows("towns.csv.gz")
    )


@cache
def design_rows() -> tuple[DesignRow, ...]:
    """All rows of design temperatures; one for each place and table."""
    names = ("jan_2_5", "jan_1", "year_99_6", "year_99", "national")
    return tuple(
        DesignRow(
            place=row["place"],
            region=row["region"],
            country=row["country"],
            latitude=_number(row["latitude"]),
            longitude=_number(row["longitude"]),
            values={name: float(row[name]) for name in names if row[name]},
            degree_days=_number(row["degree_days"]),
            base=_number(row["base"]),
            status=row["status"],
            degree_days_status=row["degree_days_status"],
            source=row["source"],
        )
        for row in _rows("design.csv")
    )


@cache
def zone_rows() -> tuple[dict[str, str], ...]:
    """Bands of degree-days of each system of climate zones."""
    return tuple(_rows("zones.csv"))


@cache
def _normal_table() -> Mapping[str, Array]:
    with (folder() / "normals.npz").open("rb") as file, np.load(file) as table:
        whole = {name: table[name] for name in SCALES}
    return {name: np.where(rows == MISSING, np.nan, rows / SCALES[name]) for name, rows in whole.items()}


def station_normals(station: Station) -> Normals:
    """Monthly normals of a station."""
    row = {name: table[station.row] for name, table in _normal_table().items()}
    wet = not np.isnan(row["precip"]).any()
    return Normals(
        name=station.name,
        latitude=station.latitude,
        longitude=station.longitude,
        elevation=station.elevation,
        tmean=row["tmean"],
        tmax=row["tmax"],
        tmin=row["tmin"],
        vapour_pressure=row["vp"],
        wind=row["wind"],
        ghi=row["ghi"] / 0.024,
        precipitation=row["precip"] if wet else None,
        wet_days=row["wetdays"] if wet else None,
        source=station.source,
    )


@cache
def measured_years() -> tuple[MeasuredYear, ...]:
    """The measured and typical years of hours in the package."""
    return tuple(
        MeasuredYear(
            id=row["id"],
            name=row["name"],
            region=row["region"],
            country=row["country"],
            latitude=float(row["latitude"]),
            longitude=float(row["longitude"]),
            elevation=float(row["elevation"]),
            zone=float(row["zone"]),
            kind=row["kind"],
            source=row["source"],
            notes=tuple(row["notes"].split("; ")) if row["notes"] else (),
        )
        for row in _rows("hourly.csv")
    )


def read_year(entry: MeasuredYear, normals: Normals) -> Year:
    """A year of the package; sun that it lacks is generated from the normals.

    entry : from `measured_years`
    normals : of the nearest place
    """
    with (folder() / "hourly" / f"{entry.id}.npz").open("rb") as file, np.load(file) as table:
        read = {name: table[name] / _YEAR_SCALES.get(name, 1.0) for name in table.files}
    origin = dict.fromkeys(read, Origin.MEASURED)
    read["vapour_pressure"] = np.clip(read["humidity"], 0.01, 1.0) * saturation_over_water(
        read["temperature"]
    )
    read.setdefault("pressure", np.full(HOURS, standard_pressure(entry.elevation)))
    if "ghi" not in read:
        made = generate(normals)
        read.update({name: getattr(made, name) for name in ("ghi", "dni", "dhi")})
        origin.update(dict.fromkeys(("ghi", "dni", "dhi"), Origin.GENERATED))
    cloud = read["cloud"] if "cloud" in read else _cloud(entry, read["ghi"])
    hour = np.arange(HOURS) % 24 + 0.5
    read["longwave"] = longwave_down(
        read["temperature"], read["vapour_pressure"], cloud, hour, read["pressure"]
    )
    names = [name for name in Year.__dataclass_fields__ if name in read]
    return Year(
        name=entry.name,
        latitude=entry.latitude,
        longitude=entry.longitude,
        elevation=entry.elevation,
        zone=entry.zone,
        origin={name: origin.get(name, Origin.DERIVED) for name in names},
        source=entry.source,
        notes=entry.notes,
        **{name: read[name] for name in names},
    )


def _cloud(entry: MeasuredYear, ghi: Array) -> Array:
    return cloud_of_day(ghi, sun_at(entry.latitude, entry.longitude, entry.zone))
