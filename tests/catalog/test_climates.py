"""Places by name, coordinates and file; design temperatures; the tables of climate data as a whole."""

from __future__ import annotations

import math
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from tests.physics.test_weather_files import CELLS, epw
from warmside.catalog import climate_tables as tables
from warmside.catalog import climates
from warmside.catalog.climates import (
    ClimateError,
    NoPlaceError,
    SeveralPlacesError,
    TooFarError,
    find_place,
    find_places,
    nearest_place,
)
from warmside.catalog.design_values import (
    Definition,
    NoDesignError,
    ZoneError,
    climate_zone,
    cold_of,
    design,
)
from warmside.physics.synthesis import Cold
from warmside.physics.weather import Origin, exceeded, monthly_means

WORDS = {"read", "computed", "from memory", "common practice"}


# ---- the tables --------------------------------------------------------------------------------------------


def test_all_places_are_there_with_whole_normals() -> None:
    # 3,724 places, 751 of them Canadian and 1,020 in the United States (counted in the source table).
    counted = Counter(station.country for station in tables.stations())
    assert (counted.total(), counted["CA"], counted["US"], counted["FI"]) == (3724, 751, 1020, 141)
    assert len({station.id for station in tables.stations()}) == 3724
    assert sum(tables.station_normals(s).precipitation is None for s in tables.stations()) == 64


def test_normals_are_within_what_nature_does() -> None:
    table = tables._normal_table()
    assert -50 < table["tmean"].min() < table["tmean"].max() < 40
    assert ((table["tmin"] <= table["tmean"]) & (table["tmean"] <= table["tmax"])).all()
    assert (table["rh"] >= 0).all()
    assert (table["rh"] <= 100).all()
    assert (table["ghi"] >= 0).all()
    assert (table["ghi"] < 9.5).all()


def test_rows_of_places_and_normals_belong_together() -> None:
    with np.load(str(tables.folder() / "normals.npz")) as stored:
        assert [name.decode() for name in stored["ids"]] == [station.id for station in tables.stations()]


def test_every_source_is_known_and_says_its_terms() -> None:
    sources = tables.climate_sources()
    named = {s.source for s in tables.stations()} | {r.source for r in tables.design_rows()}
    named |= {y.source for y in tables.measured_years()} | {row["source"] for row in tables.zone_rows()}
    assert set(sources) - named == {"geonames", "estimate", "local"}
    assert named <= set(sources)
    assert {source.status for source in sources.values()} <= WORDS
    assert all(source.licence and source.period for source in sources.values())


def test_no_design_value_claims_more_than_it_may() -> None:
    for row in tables.design_rows():
        assert {row.status, row.degree_days_status} <= WORDS | {""}
        assert (row.status != "") == bool(row.values)
        if tables.climate_sources()[row.source].status == "from memory":
            assert "read" not in (row.status, row.degree_days_status)
    read = [row for row in tables.design_rows() if row.region == "BC"]
    assert len(read) == 113
    assert {row.status for row in read} == {"read"}


def test_the_data_stay_small() -> None:
    # The wheel carries them: under 5 MB in all.
    files = [*Path(str(tables.folder())).rglob("*")]
    assert sum(path.stat().st_size for path in files if path.is_file()) < 5e6


@pytest.mark.parametrize("entry", tables.measured_years(), ids=lambda entry: entry.id)
def test_every_measured_year_can_be_read(entry: tables.MeasuredYear) -> None:
    year = climates.measured_year(entry.id)
    assert year.origin["temperature"] is Origin.MEASURED
    assert year.origin["longwave"] is Origin.DERIVED
    assert year.origin["ghi"] is (Origin.GENERATED if entry.country == "CA" else Origin.MEASURED)
    assert (year.rain is not None) is (entry.country == "FI")
    # Horizontal sun closes with beam and diffuse over the year, and noon is at noon.
    closed = year.dni * np.maximum(year.sun.height, 0) + year.dhi
    assert closed.sum() == pytest.approx(year.ghi.sum(), rel=0.03)
    middle = (year.ghi * year.sun.hour_angle).sum() / year.ghi.sum()
    assert middle == pytest.approx(0.0, abs=0.12)  # an hour off would be 0.26 rad


def test_typical_years_have_the_cold_of_their_rows() -> None:
    # places.csv holds statistics of the same files, to a tenth.
    for id, name in (("duluth-mn", "Duluth International Arpt"), ("fargo-nd", "Fargo Hector International")):
        (station,) = (s for s in tables.stations() if s.name.startswith(name))
        assert station.typical is not None
        hours = climates.measured_year(id).temperature
        assert exceeded(hours, 0.996) == pytest.approx(station.typical[0], abs=0.11)
        assert monthly_means(hours) == pytest.approx(tables.station_normals(station).tmean, abs=0.06)


def test_an_unknown_year_lists_the_known_ones() -> None:
    with pytest.raises(NoPlaceError, match=r"no measured year 'moon'; there are: minneapolis-mn, duluth-mn"):
        climates.measured_year("moon")


# ---- by name -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "region", "found"),
    [
        ("Thunder Bay", "Ontario", "Thunder Bay, Ontario, Canada"),
        ("Thunder Bay, ON", None, "Thunder Bay, Ontario, Canada"),
        ("thundr bay", "ON", "Thunder Bay, Ontario, Canada"),
        ("winipeg", "Manitoba", "Winnipeg, Manitoba, Canada"),
        ("Montreal", None, "Montréal, Quebec, Canada"),
        ("Saint-Jerome", "QC", "Saint-Jérôme, Quebec, Canada"),
        ("st jerome", "Québec", "Saint-Jérôme, Quebec, Canada"),
        ("St. John's", "NL", "St. John's, Newfoundland and Labrador, Canada"),
        ("Tromso", "Norway", "Tromsø, Norway"),
        ("Duluth", "Minnesota", "Duluth, Minnesota, United States"),
        ("Edmonotn", "AB", "Edmonton, Alberta, Canada"),
    ],
)
def test_a_name_finds_its_place(name: str, region: str | None, found: str) -> None:
    assert find_place(name, region).title.startswith(found)


def test_a_station_is_found_by_the_beginning_of_its_name() -> None:
    place = find_place("Ottawa Macdonald", "Ontario")
    assert place.station.id == "GSOD-716280"
    assert place.distance == 0.0
    assert place.title == "Ottawa Macdonald Cartier Intl, Ontario, Canada"


def test_the_station_and_its_distance_are_told() -> None:
    place = find_place("Saint-Jérôme", "QC")
    assert place.title.endswith("(normals of Montreal Intl Mirabel, 11 km away)")


def test_namesakes_are_listed_the_larger_first() -> None:
    with pytest.raises(SeveralPlacesError) as caught:
        find_place("Windsor")
    said = str(caught.value)
    assert said.startswith(
        "'Windsor' fits 14 places: Windsor, Ontario, Canada (normals of Windsor, 6 km away)"
    )
    assert "; and 6 more. Add the province, state or country" in said
    assert len(caught.value.places) == 14
    assert find_place("Windsor", "Ontario").asked_region == "Ontario"
    assert {place.asked_country for place in find_places("Windsor", country="Canada")} == {"Canada"}


def test_mistypings_that_fit_two_names_are_both_told() -> None:
    # "Kingstan" is one letter from Kingston, which Ontario has; "Barri" and "Barrie" likewise.
    assert find_place("Kingstan", "ON").asked == "Kingston"
    assert find_place("Barri", "ON").asked == "Barrie"
    found = find_places("Londan", country="CA")
    assert found[0].asked == "London"


@pytest.mark.parametrize(
    ("name", "region", "country", "said"),
    [
        ("Cold Kettle", "Ontario", None, "no place like 'Cold Kettle' in Ontario; give a larger town nearby"),
        ("Barrie", "Ontari", None, "no region 'Ontari'; is it Ontario?"),
        ("Barrie", "Atlantis", None, "no region 'Atlantis', as province, state or country"),
        ("Barrie", None, "Peru", "no climate of 'Peru'; there is: Austria, Belgium, Canada"),
        ("...", None, None, "'...' is no name"),
    ],
)
def test_what_is_not_found_says_what_would_help(
    name: str, region: str | None, country: str | None, said: str
) -> None:
    with pytest.raises(NoPlaceError) as caught:
        find_place(name, region, country)
    assert str(caught.value).startswith(said)


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [("oslo", "oslo", 0), ("oslo", "olso", 1), ("barrie", "bare", 2), ("", "ab", 2), ("regina", "regna", 1)],
)
def test_letters_apart(one: str, other: str, apart: int) -> None:
    assert climates._apart(one, other) == climates._apart(other, one) == apart


# ---- by coordinates ----------------------------------------------------------------------------------------


def test_distance_on_a_sphere() -> None:
    # A degree of the great circle of a sphere of 6371 km is 111.195 km; pole to equator 10,007.5 km.
    assert climates.distance(0, 0, 0, 1) == pytest.approx(6371 * math.pi / 180, abs=1e-6)
    assert climates.distance(90, 0, 0, 77) == pytest.approx(6371 * math.pi / 2, abs=1e-6)


def test_the_nearest_place_with_its_distance() -> None:
    place = nearest_place(48.37, -89.32)
    assert place.station.name == "Thunder Bay"
    assert place.distance < 1.0
    assert place.title == "48.37 N 89.32 W (normals of Thunder Bay, 0 km away)"
    assert nearest_place(48.367, -89.317).title == "48.367 N 89.317 W"


def test_the_sea_is_refused() -> None:
    with pytest.raises(TooFarError) as caught:
        nearest_place(45.0, -40.0)
    lies = "45, -40 lies 1020 km from the nearest place with normals"
    there = "(St Johns Intl, Newfoundland and Labrador, Canada)"
    assert str(caught.value) == f"{lies} {there}. Give a place within 150 km, or a weather file"


def test_a_longitude_without_its_minus_is_guessed_at() -> None:
    with pytest.raises(TooFarError, match=r"; with longitude -89\.3 it would be Thunder Bay, 1 km away"):
        nearest_place(48.37, 89.3)


def test_coordinates_that_cannot_be() -> None:
    with pytest.raises(ClimateError, match="95, 3: latitude is -90 to 90, longitude -180 to 180 degrees"):
        nearest_place(95.0, 3.0)


# ---- design temperatures -----------------------------------------------------------------------------------


def test_values_that_were_read_go_first() -> None:
    # Table C-2 as read: Kelowna -17 and -20 C, 3400 degree-days.
    found = design(find_place("Kelowna", "BC"))
    assert (found.governing.temperature, found.governing.definition) == (-17.0, Definition.JANUARY_2_5)
    assert found.governing.status == "read"
    assert found.value(Definition.JANUARY_1).temperature == -20.0
    assert found.degree_days is not None
    assert (found.degree_days.value, found.degree_days.base) == (3400.0, 18.0)


def test_what_is_from_memory_says_so() -> None:
    found = design(find_place("Thunder Bay", "ON")).governing
    assert (found.temperature, found.status) == (-31.0, "from memory")
    assert "check it against the edition in force" in found.source.title


def test_definitions_are_never_mixed() -> None:
    # Calgary has both: January 2.5 % -30 (from memory), 99.6 % -30.0 and 99 % -27.1 (read).
    found = design(find_place("Calgary", "AB"))
    assert found.governing.definition is Definition.JANUARY_2_5
    assert found.value(Definition.YEAR_99).temperature == -27.1
    assert found.value(Definition.YEAR_99_6).temperature == -30.0
    duluth = design(find_place("Duluth", "MN"))
    assert duluth.governing.definition is Definition.YEAR_99
    said = "no design temperature 'colder in 2.5 % of the hours of January' here; there is: colder in 1 %"
    with pytest.raises(NoDesignError) as caught:
        duluth.value(Definition.JANUARY_2_5)
    assert str(caught.value).startswith(said)


def test_the_users_own_value_goes_before_all() -> None:
    found = design(find_place("Thunder Bay", "ON"), local=-33.0)
    assert (found.governing.temperature, found.governing.definition) == (-33.0, Definition.LOCAL)
    assert found.value(Definition.JANUARY_2_5).temperature == -31.0


def test_far_from_every_table_only_the_estimate_is_left() -> None:
    found = design(nearest_place(52.97, -66.0))
    assert [value.definition for value in found.values] == [Definition.ESTIMATE]
    assert found.governing.status == "computed"
    assert "3 K" in found.governing.source.title


def test_a_design_value_becomes_a_cold_to_meet() -> None:
    found = design(find_place("Duluth", "MN"))
    assert cold_of(found.governing, "US") == Cold(-26.6, 0.99, tuple(range(12)))
    local = design(find_place("Thunder Bay", "ON"), local=-33.0).governing
    assert cold_of(local, "CA") == Cold(-33.0, 0.975, (0,))
    assert cold_of(design(find_place("Oslo", "Norway")).governing, "NO") is None


@pytest.mark.parametrize(
    ("system", "days", "zone"),
    [
        ("NBC", 2999, "4"),
        ("NBC", 5000, "7A"),
        ("NBC", 6000, "7B"),
        ("NBC", 9000, "8"),
        ("Quebec part 11", 6000, "north"),
    ],
)
def test_climate_zones(system: str, days: float, zone: str) -> None:
    assert climate_zone(system, days) == zone


def test_zones_that_are_none() -> None:
    with pytest.raises(ZoneError, match="no climate zones of 'NEC'; there are: NBC, IECC, Ontario SB-12"):
        climate_zone("NEC", 5000)
    with pytest.raises(ZoneError, match="IECC has no zone for 1500 degree-days here; it begins at 2000"):
        climate_zone("IECC", 1500)


# ---- years -------------------------------------------------------------------------------------------------


def test_a_typical_year_meets_the_code_and_may_be_warmer() -> None:
    place = find_place("Thunder Bay", "ON")
    year = climates.typical_year(place, Cold(-31.0))
    assert exceeded(year.temperature, 0.975, (0,)) == pytest.approx(-31.0, abs=0.05)
    warm = climates.typical_year(place, Cold(-31.0), warmer=1.0)
    assert warm.temperature - year.temperature == pytest.approx(1.0, abs=1e-9)


def test_measured_years_by_distance() -> None:
    place = find_place("Thunder Bay", "ON")
    (nearest, far), *_ = climates.nearest_measured(place.latitude, place.longitude)
    assert nearest.id == "duluth-mn"
    assert far == pytest.approx(278, abs=10)


def test_a_year_from_a_file_finds_its_place(tmp_path: Path) -> None:
    year, place = climates.file_year(epw(tmp_path, CELLS))
    assert year.name == "Cold Kettle"
    assert place is not None
    assert place.station.name == "Thunder Bay"
    at_sea = epw(tmp_path, CELLS, "LOCATION,Sea,,,,,45,-40,-3,0" + "\nx" * 7)
    assert climates.file_year(at_sea)[1] is None
