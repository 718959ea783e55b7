"""Places by name, coordinates or file: their monthly normals and their years of hours.

A name may be a town or a weather station, with accents or without, and with a typing error or two. A town
takes the nearest place that has normals; how far that is, is told. Nothing is guessed between namesakes: they
are listed. Nobody is served from more than 150 km away.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from math import asin, cos, radians, sin, sqrt
from pathlib import Path

from warmside.catalog.climate_tables import (
    ClimateSource,
    MeasuredYear,
    Station,
    climate_sources,
    fold,
    measured_years,
    read_year,
    region_codes,
    regions,
    station_normals,
    stations,
    towns,
)
from warmside.physics.synthesis import Cold, ranked
from warmside.physics.weather import Normals, Year
from warmside.physics.weather_files import WeatherFileError, read_weather_file

REACH = 150.0
"""Furthest that normals are taken from [km]."""
SAME = 30.0
"""Two hits nearer than this are one place [km]."""
EARTH = 6371.0
"""Mean radius [km]."""


class ClimateError(LookupError):
    """No climate can be named for what was asked."""


class NoPlaceError(ClimateError):
    """No place has a name like the one asked for."""


class SeveralPlacesError(ClimateError):
    """A name fits several places; `places` lists them."""

    def __init__(self, name: str, places: Sequence[Place]) -> None:
        self.places = tuple(places)
        listed = "; ".join(place.title for place in places[:8])
        more = f"; and {len(places) - 8} more" if len(places) > 8 else ""
        super().__init__(
            f"{name!r} fits {len(places)} places: {listed}{more}. Add the province, state or country"
        )


class TooFarError(ClimateError):
    """The nearest place with normals is too far away to speak for the one asked for."""


@dataclass(frozen=True)
class Place:
    """A place with normals, and what was asked for when it was found.

    asked : the name that was found, with its region; the station's own when that was asked for
    asked_latitude, asked_longitude : of what was asked for [deg]
    distance : from there to the station that gives the normals [km]
    """

    station: Station
    asked: str
    asked_region: str
    asked_country: str
    asked_latitude: float
    asked_longitude: float
    distance: float

    @property
    def latitude(self) -> float:
        """Of the station, north positive."""
        return self.station.latitude

    @property
    def longitude(self) -> float:
        """Of the station, east positive."""
        return self.station.longitude

    @property
    def elevation(self) -> float:
        """Of the station above the sea, in metres."""
        return self.station.elevation

    @property
    def source(self) -> ClimateSource:
        """Where the normals come from: years, terms, how far confirmed, and what is derived."""
        return climate_sources()[self.station.source]

    @cached_property
    def normals(self) -> Normals:
        """Monthly normals of the station."""
        return station_normals(self.station)

    @property
    def title(self) -> str:
        """Name, region, country; the station and its distance where it isn't the thing asked for."""
        place = ", ".join(part for part in (self.asked, self.asked_region, self.asked_country) if part)
        if self.distance < 0.05:
            return place
        return f"{place} (normals of {self.station.name}, {self.distance:.0f} km away)"


def distance(latitude: float, longitude: float, to_latitude: float, to_longitude: float) -> float:
    """Along the great circle, by the haversine formula, in kilometres.

    latitude, longitude, to_latitude, to_longitude : north and east positive [deg]
    """
    north = sin(radians(to_latitude - latitude) / 2) ** 2
    east = sin(radians(to_longitude - longitude) / 2) ** 2
    across = north + cos(radians(latitude)) * cos(radians(to_latitude)) * east
    return 2 * EARTH * asin(sqrt(min(across, 1.0)))


# By coordinates


def nearest_place(
    latitude: float, longitude: float, asked: str = "", region: str = "", country: str = ""
) -> Place:
    """The place with normals nearest to coordinates, with its distance.

    latitude : north positive [deg]
    longitude : east positive, so negative in America [deg]
    asked, region, country : what the coordinates are called, for the title

    Raises TooFarError beyond 150 km, as at sea, and ClimateError for coordinates that can't be.
    """
    if not (-90.0 <= latitude <= 90.0 and -180.0 <= longitude <= 180.0):
        raise ClimateError(
            f"{latitude:g}, {longitude:g}: latitude is -90 to 90, longitude -180 to 180 degrees"
        )
    station, far = _nearest_station(latitude, longitude)
    if far > REACH:
        raise TooFarError(_too_far(latitude, longitude, station, far))
    name = asked or f"{abs(latitude):g} {'NS'[latitude < 0]} {abs(longitude):g} {'EW'[longitude < 0]}"
    return Place(station, name, region, country, latitude, longitude, far)


@cache
def _nearest_station(latitude: float, longitude: float) -> tuple[Station, float]:
    apart = [(distance(latitude, longitude, s.latitude, s.longitude), s.row) for s in stations()]
    far, row = min(apart)
    return stations()[row], far


def _too_far(latitude: float, longitude: float, station: Station, far: float) -> str:
    told = ", ".join((station.name, *filter(None, _names(station.region, station.country))))
    sentence = f"{latitude:g}, {longitude:g} lies {far:.0f} km from the nearest place with normals ({told})"
    other, nearer = _nearest_station(latitude, -longitude)
    if nearer < REACH:
        sentence += f"; with longitude {-longitude:g} it would be {other.name}, {nearer:.0f} km away"
    return f"{sentence}. Give a place within {REACH:.0f} km, or a weather file"


@cache
def _names(region: str, country: str) -> tuple[str, str]:
    """Names of a region and its country from their codes, or the codes."""
    names = {(c, code): name for c, code, name in regions()}
    return names.get((country, region), region) if region else "", names.get((country, ""), country)


# By name


@dataclass(frozen=True)
class _Named:
    """Something that has a name: a town, or a station by its row."""

    key: str
    name: str
    region: str
    country: str
    latitude: float
    longitude: float
    people: int
    station: Station | None

    def place(self) -> Place | None:
        """The place that speaks for it, None where the nearest is too far."""
        region, country = _names(self.region, self.country)
        if self.station:
            return Place(self.station, self.name, region, country, self.latitude, self.longitude, 0.0)
        try:
            return nearest_place(self.latitude, self.longitude, self.name, region, country)
        except TooFarError:
            return None


@cache
def _named() -> tuple[_Named, ...]:
    own = [
        _Named(fold(s.name), s.name, s.region, s.country, s.latitude, s.longitude, 0, s) for s in stations()
    ]
    far = [
        _Named(fold(t.name), t.name, t.region, t.country, t.latitude, t.longitude, t.people, None)
        for t in towns()
    ]
    return (*own, *far)


@dataclass(frozen=True)
class _Within:
    """Which countries and region a search is limited to; None where it isn't."""

    countries: frozenset[str] | None
    region: str | None

    def admits(self, named: _Named) -> bool:
        """Whether something lies there."""
        at_home = self.countries is None or named.country in self.countries
        return at_home and self.region in (None, named.region)


def _within(name: str, region: str | None, country: str | None) -> tuple[str, _Within]:
    """The name less its "..., Ontario", and where to search. Raises NoPlaceError for an unknown region."""
    head, _, tail = name.partition(",")
    countries = _countries(country) if country else None
    wanted = region or (tail.strip() or None)
    if wanted is None:
        return head, _Within(countries, None)
    codes = {c: code for (c, word), code in region_codes().items() if word == fold(wanted)}
    codes = {c: code for c, code in codes.items() if countries is None or c in countries}
    if not codes and fold(wanted) in _country_words():
        return head, _Within(_countries(wanted), None)
    if not codes:
        raise NoPlaceError(_no_region(wanted))
    return head, _Within(frozenset(codes), next(iter(codes.values())))


def _country_words() -> Mapping[str, str]:
    words = {fold(name): country for country, code, name in regions() if not code}
    usual = {"usa": "US", "united states of america": "US", "uk": "GB", "great britain": "GB"}
    return {**words, **usual, **{country.lower(): country for country in words.values()}}


def country_of(region: str) -> str | None:
    """The country of a province or state; None for an unknown one, and where several have one of it."""
    found = sorted({country for country, word in region_codes() if word == fold(region)})
    return _names("", found[0])[1] if len(found) == 1 else None


def _countries(country: str) -> frozenset[str]:
    code = _country_words().get(fold(country))
    if code is None:
        known = ", ".join(sorted(name for _, code, name in regions() if not code))
        raise NoPlaceError(f"no climate of {country!r}; there is: {known}")
    return frozenset([code])


def _no_region(wanted: str) -> str:
    names = sorted(name for _, code, name in regions() if code)
    near = [name for name in names if _apart(fold(name), fold(wanted)) <= 2]
    guess = f"; is it {' or '.join(near)}?" if near else ", as province, state or country"
    return f"no region {wanted!r}{guess}"


def find_places(name: str, region: str | None = None, country: str | None = None) -> tuple[Place, ...]:
    """All places that a name fits: exactly, else as the beginning of a station's, else with typing errors.

    name : "Thunder Bay", or with the region behind a comma
    region : province or state, by name or code
    country : by name or code

    Of namesakes the larger town stands first. Raises NoPlaceError.
    """
    head, within = _within(name, region, country)
    key = fold(head)
    if not key:
        raise NoPlaceError(f"{name!r} is no name")
    inside = [named for named in _named() if within.admits(named)]
    for fitting in (_exact(inside, key), _begun(inside, key), _mistyped(inside, key)):
        found = _merged(fitting)
        if found:
            return found
    where = f" in {region}" if region else ""
    raise NoPlaceError(f"no place like {head.strip()!r}{where}; give a larger town nearby, or coordinates")


def find_place(name: str, region: str | None = None, country: str | None = None) -> Place:
    """The one place that a name fits. Raises NoPlaceError, and SeveralPlacesError with the list.

    name, region, country : as for `find_places`
    """
    found = find_places(name, region, country)
    if len(found) > 1:
        raise SeveralPlacesError(name, found)
    return found[0]


def _exact(inside: Iterable[_Named], key: str) -> list[_Named]:
    return [named for named in inside if named.key == key]


def _begun(inside: Iterable[_Named], key: str) -> list[_Named]:
    return [named for named in inside if named.station and named.key.startswith(key + " ")]


def _mistyped(inside: Iterable[_Named], key: str) -> list[_Named]:
    most = 1 if len(key) < 6 else 2
    near = [named for named in inside if abs(len(named.key) - len(key)) <= most]
    near = [named for named in near if len(set(named.key) ^ set(key)) <= 2 * most]
    apart = {one: _apart(one, key) for one in {named.key for named in near}}
    least = min(apart.values(), default=most + 1)
    return [named for named in near if least <= most and apart[named.key] == least]


def _apart(one: str, other: str) -> int:
    """Letters added, left out, changed or swapped with their neighbour between two words."""
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, a in enumerate(one, start=1):
        older, before, row = before, row, [i]
        for j, b in enumerate(other, start=1):
            row.append(min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (a != b)))
            if i > 1 and j > 1 and a == other[j - 2] and one[i - 2] == b:
                row[j] = min(row[j], older[j - 2] + 1)
    return row[-1]


def _merged(fitting: Iterable[_Named]) -> tuple[Place, ...]:
    """Places of what fits, larger towns first; a town and its own station count once."""
    ordered = sorted(fitting, key=lambda named: (-named.people, named.country, named.region, named.name))
    places = [place for place in (named.place() for named in ordered) if place]
    kept: list[Place] = []
    for place in places:
        if all(_between(place, other) > SAME for other in kept):
            kept.append(place)
    return tuple(kept)


def _between(one: Place, other: Place) -> float:
    return distance(one.asked_latitude, one.asked_longitude, other.asked_latitude, other.asked_longitude)


# Years of hours


def typical_year(place: Place, cold: Cold | None = None, warmer: float = 0.0, seed: int = 1) -> Year:
    """A generated year of the place, the middle one of nine by its cold.

    place : whose normals are taken
    cold : that it shall meet, such as the code's; see `design_values.cold_of`
    warmer : added to all temperatures after that; 1 brings 1961-1990 to recent years [K]
    seed : of the random draws
    """
    year = ranked(place.normals, cold=cold, seed=seed)
    return year.warmer(warmer) if warmer else year


def nearest_measured(latitude: float, longitude: float) -> tuple[tuple[MeasuredYear, float], ...]:
    """The measured years of the package with their distance, nearest first.

    latitude, longitude : north and east positive [deg]
    """
    apart = [(distance(latitude, longitude, y.latitude, y.longitude), y.id, y) for y in measured_years()]
    return tuple((year, far) for far, _, year in sorted(apart, key=lambda entry: entry[:2]))


def measured_year(id: str) -> Year:
    """A measured or typical year of the package, by its id such as "duluth-mn". Raises NoPlaceError."""
    entries = {entry.id: entry for entry in measured_years()}
    if id not in entries:
        raise NoPlaceError(f"no measured year {id!r}; there are: {', '.join(entries)}")
    entry = entries[id]
    return read_year(entry, nearest_place(entry.latitude, entry.longitude).normals)


def file_year(path: str | Path) -> tuple[Year, Place | None]:
    """The user's own year from a file, and the nearest place with normals, None beyond its reach.

    Raises WeatherFileError.
    """
    year = read_weather_file(path)
    try:
        return year, nearest_place(year.latitude, year.longitude, year.name)
    except TooFarError:
        return year, None
    except ClimateError as fault:
        raise WeatherFileError(Path(path).name, 1, str(fault)) from fault
