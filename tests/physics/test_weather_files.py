"""Readers of the user's weather files, on files made here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from tests.physics.a_cold_place import PLACE
from warmside.physics.synthesis import generate
from warmside.physics.weather import Origin, Year
from warmside.physics.weather_files import WeatherFileError, read_weather_file

YEAR = replace(generate(PLACE), zone=-6.0)
HEAD = """LOCATION,Cold Kettle,ON,CAN,made up,0,48.4,-89.3,-6.0,199.0
DESIGN CONDITIONS,0
TYPICAL/EXTREME PERIODS,0
GROUND TEMPERATURES,0
HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0
COMMENTS 1,made in a test
COMMENTS 2,
DATA PERIODS,1,1,Data,Sunday,1/1,12/31"""


def hours() -> list[tuple[int, int, int]]:
    """Month, day and hour of every line."""
    days = [date(2001, 1, 1) + timedelta(days=k) for k in range(365)]
    return [(day.month, day.day, hour) for day in days for hour in range(1, 25)]


def epw_cells(year: Year) -> list[list[str]]:
    """The lines of hours of an `.epw`, cell by cell."""
    lines = []
    for k, (month, day, hour) in enumerate(hours()):
        air = [
            f"{year.temperature[k]:.4f}",
            "99.9",
            f"{100 * year.humidity[k]:.4f}",
            f"{year.pressure[k]:.1f}",
        ]
        sky = ["9999", "9999", f"{year.longwave[k]:.3f}"]
        sun = [f"{year.ghi[k]:.3f}", f"{year.dni[k]:.3f}", f"{year.dhi[k]:.3f}"]
        light = ["999900"] * 3 + ["9999"]
        wind = ["180", f"{year.wind[k]:.3f}", "5", "5"]
        rest = ["9999", "99999", "9", "999999999", "0", "0.1", "0", "88", "0.2", "0.5", "1.0"]
        lines.append(
            [str(v) for v in (2001, month, day, hour, 60, "?")] + air + sky + sun + light + wind + rest
        )
    return lines


CELLS = epw_cells(YEAR)


def epw(folder: Path, cells: list[list[str]], head: str = HEAD) -> Path:
    path = folder / "kettle.epw"
    path.write_text("\n".join([head, *(",".join(line) for line in cells)]) + "\n", "utf-8")
    return path


def changed(column: int, change: Callable[[str], str], rows: slice = slice(None)) -> list[list[str]]:
    """The hours with one column changed."""
    cells = [list(line) for line in CELLS]
    for line in cells[rows]:
        line[column] = change(line[column])
    return cells


def refused(path: Path) -> str:
    with pytest.raises(WeatherFileError) as caught:
        read_weather_file(path)
    return str(caught.value)


def test_an_epw_comes_back_as_it_was(tmp_path: Path) -> None:
    year = read_weather_file(epw(tmp_path, CELLS))
    assert (year.name, year.latitude, year.longitude, year.elevation, year.zone) == (
        "Cold Kettle",
        48.4,
        -89.3,
        199.0,
        -6.0,
    )
    for name, off in (("temperature", 1e-4), ("ghi", 1e-3), ("dni", 1e-3), ("dhi", 1e-3), ("wind", 1e-3)):
        assert getattr(year, name) == pytest.approx(getattr(YEAR, name), abs=off)
    assert year.vapour_pressure == pytest.approx(YEAR.vapour_pressure, rel=1e-4)
    assert year.longwave == pytest.approx(YEAR.longwave, abs=1e-2)
    assert year.rain == pytest.approx(0.5, abs=1e-12)
    assert year.wind_from == pytest.approx(180.0, abs=1e-12)
    assert year.notes == ()
    assert year.origin["temperature"] is Origin.MEASURED
    assert year.origin["vapour_pressure"] is Origin.DERIVED


def test_short_gaps_are_filled_and_told(tmp_path: Path) -> None:
    cells = changed(6, lambda _: "99.9", slice(100, 103))
    year = read_weather_file(epw(tmp_path, cells))
    before, after = YEAR.temperature[99], YEAR.temperature[103]
    assert year.temperature[101] == pytest.approx((before + after) / 2, abs=1e-3)
    assert year.notes == ("temperature: 3 missing hours filled, longest gap 3 h",)


def test_long_gaps_are_refused(tmp_path: Path) -> None:
    cells = changed(21, lambda _: "999", slice(200, 207))
    assert (
        refused(epw(tmp_path, cells))
        == "kettle.epw, line 209: wind is missing for 7 hours; up to 6 are filled"
    )


def test_a_whole_column_missing_is_refused_or_derived(tmp_path: Path) -> None:
    said = refused(epw(tmp_path, changed(6, lambda _: "99.9")))
    assert said == "kettle.epw: no temperature in the whole file"
    year = read_weather_file(epw(tmp_path, changed(12, lambda _: "9999")))
    assert year.origin["longwave"] is Origin.DERIVED
    assert np.abs(year.longwave - YEAR.longwave).mean() < 40


def test_dew_point_stands_in_for_humidity(tmp_path: Path) -> None:
    cells = changed(8, lambda _: "999")
    said = refused(epw(tmp_path, cells))
    assert said == "kettle.epw: neither relative humidity nor dew point in the whole file"
    for line in cells:
        line[7] = "-20.0"
    dry = read_weather_file(epw(tmp_path, cells))
    # Over water at -20 C: 125.5 Pa (IAPWS SR1-86).
    assert np.median(dry.vapour_pressure) == pytest.approx(125.5, abs=0.3)


def test_sun_is_split_or_put_together(tmp_path: Path) -> None:
    cells = [list(line) for line in CELLS]
    for line in cells:
        line[14] = line[15] = "9999"
    year = read_weather_file(epw(tmp_path, cells))
    closed = year.dni * np.maximum(year.sun.height, 0) + year.dhi
    assert closed[year.sun.height > 0.02] == pytest.approx(year.ghi[year.sun.height > 0.02], abs=1e-6)
    year = read_weather_file(epw(tmp_path, changed(13, lambda _: "9999")))
    assert year.ghi.sum() == pytest.approx(YEAR.ghi.sum(), rel=0.03)
    for line in cells:
        line[13] = "9999"
    said = refused(epw(tmp_path, cells))
    assert said == "kettle.epw: no sun in the whole file; horizontal sun, or beam and diffuse should be in it"


def test_a_leap_day_is_left_out_and_told(tmp_path: Path) -> None:
    day = [list(line) for line in CELLS[58 * 24 : 59 * 24]]
    for line in day:
        line[2] = "29"
    year = read_weather_file(epw(tmp_path, [*CELLS[: 59 * 24], *day, *CELLS[59 * 24 :]]))
    assert year.temperature == pytest.approx(YEAR.temperature, abs=1e-4)
    assert year.notes == ("29 February left out (24 hours)",)


def test_a_file_cut_short_says_where(tmp_path: Path) -> None:
    said = refused(epw(tmp_path, CELLS[:5000]))
    assert said == "kettle.epw, line 5008: ends at 07-28 hour 8; 5000 hours of 8760: cut short"
    assert refused(epw(tmp_path, [])) == "kettle.epw: has no hours; 0 hours of 8760: cut short"


def test_a_missing_hour_says_which(tmp_path: Path) -> None:
    said = refused(epw(tmp_path, CELLS[:30] + CELLS[31:]))
    rule = "every hour once, from 01-01 hour 1 to 12-31 hour 24"
    assert said == f"kettle.epw, line 39: 01-02 hour 8 where 01-02 hour 7 should stand; {rule}"


def test_half_hours_are_refused(tmp_path: Path) -> None:
    twice = [line for line in CELLS[:100] for _ in (0, 1)]
    assert "line 10: 01-01 hour 1 where 01-01 hour 2 should stand" in refused(epw(tmp_path, twice))


def test_too_many_hours_are_refused(tmp_path: Path) -> None:
    said = refused(epw(tmp_path, [*CELLS, CELLS[-1]]))
    assert said == "kettle.epw, line 8769: 8761 hours; a year has 8760, one a line"


def test_missing_columns_say_how_many(tmp_path: Path) -> None:
    cells = [line[:30] if k == 4 else line for k, line in enumerate(CELLS)]
    said = refused(epw(tmp_path, cells))
    assert said == "kettle.epw, line 13: 30 columns; an hour has 35 columns (older files 32)"


def test_older_files_of_32_columns_are_read(tmp_path: Path) -> None:
    year = read_weather_file(epw(tmp_path, [line[:32] for line in CELLS]))
    assert year.rain is None
    assert year.temperature == pytest.approx(YEAR.temperature, abs=1e-4)


def test_a_word_where_a_number_should_stand(tmp_path: Path) -> None:
    cells = changed(6, lambda _: "cold", slice(7, 8))
    assert refused(epw(tmp_path, cells)) == "kettle.epw, line 16: 'cold' where a number should stand"
    assert "'nan' where a number" in refused(epw(tmp_path, changed(6, lambda _: "nan", slice(7, 8))))


OTHER_UNITS: dict[str, tuple[int, Callable[[float], float]]] = {
    "temperature looks like kelvin; it should be in C": (6, lambda t: t + 273.15),
    "temperature looks like degrees Fahrenheit; it should be in C": (6, lambda t: t * 1.8 + 32.0),
    "humidity looks like a share of 1; it should be in per cent": (8, lambda share: share / 100.0),
    "pressure looks like hectopascal; it should be in Pa": (9, lambda pressure: pressure / 100.0),
    "ghi looks like kilowatt-hours or megajoules; it should be in Wh/m2": (13, lambda sun: sun / 1000.0),
}


@pytest.mark.parametrize("said", OTHER_UNITS)
def test_other_units_are_seen(tmp_path: Path, said: str) -> None:
    column, change = OTHER_UNITS[said]
    cells = changed(column, lambda cell: f"{change(float(cell)):.4f}")
    assert refused(epw(tmp_path, cells)) == f"kettle.epw: {said}"


def test_a_value_that_cannot_be_says_its_line(tmp_path: Path) -> None:
    cells = changed(21, lambda _: "120", slice(3, 4))
    assert refused(epw(tmp_path, cells)) == "kettle.epw, line 12: wind 120 m/s; it may be 0 to 80"


def test_another_kind_of_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "weather.txt"
    path.write_text("x", "utf-8")
    assert refused(path) == "weather.txt: a weather file ends in .csv and .epw, not in '.txt'"
    assert refused(tmp_path / "none.epw") == "none.epw: can't be read: No such file or directory"
    said = refused(epw(tmp_path, CELLS[:1], "some other file"))
    assert (
        said == "kettle.epw, line 1: 'some other file' where LOCATION with city, ..., elevation should stand"
    )


# ---- TMY3 --------------------------------------------------------------------------------------------------

NAMES = (
    "Date (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),DNI (W/m^2),DHI (W/m^2),TotCld (tenths),"
    "Dry-bulb (C),Dew-point (C),RHum (%),Pressure (mbar),Wdir (degrees),Wspd (m/s),Lprecip depth (mm)"
)


def tmy3(folder: Path, names: str = NAMES, rows: int = 8760, rain: str = "-9900") -> Path:
    lines = []
    for k, (month, day, hour) in enumerate(hours()[:rows]):
        year = 1976 + month % 3
        sun = f"{YEAR.ghi[k]:.2f},{YEAR.dni[k]:.2f},{YEAR.dhi[k]:.2f},10"
        air = f"{YEAR.temperature[k]:.3f},-9900,{100 * YEAR.humidity[k]:.3f},{YEAR.pressure[k] / 100:.2f}"
        lines.append(f"{month:02d}/{day:02d}/{year},{hour:02d}:00,{sun},{air},180,{YEAR.wind[k]:.3f},{rain}")
    path = folder / "kettle.csv"
    path.write_text("\n".join(['690150,"COLD KETTLE",ON,-6.0,48.4,-89.3,199', names, *lines]) + "\n", "utf-8")
    return path


def test_a_tmy3_file_comes_back_as_it_was(tmp_path: Path) -> None:
    year = read_weather_file(tmy3(tmp_path))
    assert (year.name, year.zone, year.elevation) == ("COLD KETTLE", -6.0, 199.0)
    assert year.temperature == pytest.approx(YEAR.temperature, abs=1e-3)
    assert year.vapour_pressure == pytest.approx(YEAR.vapour_pressure, rel=1e-3)
    assert year.pressure == pytest.approx(YEAR.pressure, abs=1.0)
    assert year.ghi == pytest.approx(YEAR.ghi, abs=0.01)
    assert year.rain is None
    # Overcast all year: the sky radiates at 0.84 and more of a black body at air temperature.
    assert (year.sky_temperature > year.temperature - 12).all()


def test_tmy3_faults_say_line_and_column(tmp_path: Path) -> None:
    said = refused(tmy3(tmp_path, NAMES.replace("Dry-bulb (C)", "Dry-bulb (F)")))
    assert said == "kettle.csv, line 2: no column Dry-bulb (C)"
    assert "kettle.csv, line 8002: ends at 11-30 hour 8; 8000 hours" in refused(tmy3(tmp_path, rows=8000))
    assert refused(tmy3(tmp_path, NAMES + ",more")) == "kettle.csv, line 3: 13 columns under 14 names"
    path = tmp_path / "other.csv"
    path.write_text("a,b\n1,2\n", "utf-8")
    assert refused(path).startswith(
        "other.csv, line 1: not a TMY3 file; it should begin with a line of station"
    )


def test_reading_never_writes(tmp_path: Path) -> None:
    path = epw(tmp_path, CELLS)
    before = path.read_bytes()
    read_weather_file(path)
    assert [entry.name for entry in tmp_path.iterdir()] == ["kettle.epw"]
    assert path.read_bytes() == before
