"""A logger's file of the room: hours as measured, gaps told, wrong files refused with line and remedy."""

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from warmside.physics.air import saturation_over_water
from warmside.physics.forcing import forcing
from warmside.physics.room_log import HOURS, RoomLog, RoomLogError, read_room_log, room_year
from warmside.say import Voice

Array = npt.NDArray[np.float64]
START = datetime(2025, 10, 1)
HEAD = "time,temperature (C),humidity (%)"
Change = Callable[[list[str]], list[str]]


def climate(hour: Array) -> tuple[Array, Array]:
    """A made-up basement: temperature [C] and relative humidity [-]."""
    year = 2.0 * np.pi * hour / HOURS
    return 18.0 + 3.0 * np.cos(year) + 0.5 * np.sin(24.0 * year), 0.5 + 0.1 * np.sin(year)


def lines(days: float = 60.0, minutes: int = 60, start: datetime = START) -> list[str]:
    at = np.arange(0.0, 24.0 * days + 1e-9, minutes / 60.0)
    rows = zip(at, *climate(at), strict=True)
    return [
        f"{start + timedelta(hours=float(h)):%Y-%m-%d %H:%M},{t:.4f},{100 * phi:.4f}" for h, t, phi in rows
    ]


def saved(folder: Path, rows: list[str], head: str = HEAD) -> Path:
    path = folder / "cellar.csv"
    path.write_text("\n".join([head, *rows]) + "\n", "utf-8")
    return path


def read(folder: Path, rows: list[str], head: str = HEAD) -> RoomLog:
    return read_room_log(saved(folder, rows, head))


def refused(folder: Path, rows: list[str], head: str = HEAD) -> str:
    with pytest.raises(RoomLogError) as caught:
        read(folder, rows, head)
    return Voice().located(caught.value.note)


def assert_as_made(log: RoomLog, tolerance: float = 1e-3) -> None:
    """Temperature and vapour pressure at each full hour as the climate has them, relative for the latter."""
    temperature, humidity = climate(np.arange(len(log.temperature), dtype=float))
    assert log.temperature == pytest.approx(temperature, abs=tolerance)
    assert log.vapour == pytest.approx(humidity * saturation_over_water(temperature), rel=tolerance)


# ---- what comes back ---------------------------------------------------------------------------------------


def test_hours_come_back_as_they_were(tmp_path: Path) -> None:
    log = read(tmp_path, lines())
    assert (log.start, len(log.temperature), log.notes) == (START, 60 * 24 + 1, ())
    assert_as_made(log)


@pytest.mark.parametrize(
    ("head", "change"),
    [
        (
            "Time;Temperature [°C];Relative humidity [%]",
            lambda line: line.replace(",", ";").replace(".", ","),
        ),
        ("timestamp\tTemp (C)\tRH (%)", lambda line: line.replace(",", "\t")),
        (
            "humidity (%),note,temperature (C),date",
            lambda line: ",".join([line.split(",")[2], "", *line.split(",")[1::-1]]),
        ),
    ],
)
def test_other_layouts_say_the_same(tmp_path: Path, head: str, change: Callable[[str], str]) -> None:
    assert_as_made(read(tmp_path, [change(line) for line in lines()], head))


def test_fahrenheit_and_shares_are_turned(tmp_path: Path) -> None:
    def other(line: str) -> str:
        time, t, phi = line.split(",")
        return f"{time},{1.8 * float(t) + 32.0:.4f},{0.01 * float(phi):.6f}"

    assert_as_made(read(tmp_path, [*map(other, lines())], "time,temperature (F),humidity (1)"))


def test_finer_samples_are_averaged_about_the_hour(tmp_path: Path) -> None:
    log = read(tmp_path, lines(minutes=15))
    inner = slice(1, -1)
    expected = climate(np.linspace(0.0, len(log.temperature) - 1.0, len(log.temperature)))[0]
    # Samples from 30 minutes before to 15 after, 7.5 early on the mean; the wave moves by 0.14 K an hour.
    assert log.temperature[inner] == pytest.approx(expected[inner], abs=0.02)


def test_times_with_an_offset_stay_in_that_of_the_first(tmp_path: Path) -> None:
    rows = [line.replace(",", "-05:00,", 1) for line in lines()]
    rows[700] = f"{START + timedelta(hours=701):%Y-%m-%d %H:%M}-04:00,{rows[700].split(',', 1)[1]}"
    log = read(tmp_path, rows)
    assert_as_made(log)
    assert log.start == START


def test_gaps_and_missing_values_are_filled_and_told_with_their_line(tmp_path: Path) -> None:
    rows = lines()
    rows[99] = rows[99].rsplit(",", 1)[0] + ",NaN"
    rows[100] = rows[100].split(",")[0] + ",,"
    del rows[200:220]
    log = read(tmp_path, rows)
    told = [Voice().text(note) for note in log.notes]
    assert told == [
        "2 lines without a value, the first on line 101",
        "22 hours filled straight across, the longest gap 20 hours, after line 201",
    ]
    assert log.temperature[99] == pytest.approx(log.temperature[98:102:3].mean(), abs=0.1)
    straight = np.linspace(log.temperature[199], log.temperature[220], 22)
    assert log.temperature[199:221] == pytest.approx(straight, abs=1e-9)


# ---- a year of it ------------------------------------------------------------------------------------------


def test_a_whole_year_is_repeated_and_its_join_is_told(tmp_path: Path) -> None:
    log = read(tmp_path, lines(days=380.0))
    year = room_year(log)
    assert year.measured == 1.0
    # January 1 is the 92nd day after October 1.
    first = 92 * 24
    assert year.temperature[:2000] == pytest.approx(log.temperature[first : first + 2000], abs=1e-12)
    # October 10 was measured twice; the later one counts.
    tenth = 282 * 24
    assert year.temperature[tenth] == pytest.approx(log.temperature[(365 + 9) * 24])
    (note,) = year.notes
    told = Voice().text(note)
    assert told.startswith(
        "the last 365 days are taken, from 2025-10-16 to 2026-10-16, and repeated each year"
    )
    driven = forcing(np.full(HOURS, 5.0), np.full(HOURS, 0.8), year.temperature, year.humidity)
    assert driven.hours == HOURS - 1


def test_a_leap_day_is_left_out(tmp_path: Path) -> None:
    log = read(tmp_path, lines(days=366.0, start=datetime(2027, 9, 1)))
    year = room_year(log)
    assert [note.code for note in year.notes] == ["room_log.leap", "room_log.whole"]
    march = (31 + 28) * 24
    assert year.temperature[march] == pytest.approx(
        log.temperature[(datetime(2028, 3, 1) - log.start).days * 24]
    )


def test_part_of_a_year_passes_into_what_is_assumed(tmp_path: Path) -> None:
    log = read(tmp_path, lines(days=60.0))
    base = np.full(HOURS, 10.0), np.full(HOURS, 800.0)
    year = room_year(log, base)
    first = 273 * 24
    assert year.measured == pytest.approx(1441 / HOURS)
    assert year.temperature[first] == 10.0
    assert year.temperature[first + 12] == pytest.approx(0.5 * (10.0 + log.temperature[12]))
    inside = slice(first + 24, first + 1440 - 24)
    assert year.temperature[inside] == pytest.approx(log.temperature[24 : 1440 - 24])
    assert np.abs(np.diff(year.temperature)).max() < 1.0
    assert "16 % of the year" in Voice().text(year.notes[-1])
    assert (year.humidity <= 1.0).all()


def test_part_of_a_year_alone_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RoomLogError) as caught:
        room_year(read(tmp_path, lines()))
    assert Voice().located(caught.value.note) == (
        "cellar.csv: 60 days of measurements are less than a year; the rest of the year has to come from a"
        " room climate"
    )


# ---- what is refused ---------------------------------------------------------------------------------------


def at(line: int, text: str) -> Change:
    """Another text on a line of the file."""
    return lambda rows: [*rows[: line - 2], text, *rows[line - 1 :]]


def five(text: str) -> Change:
    """Other values at five o'clock, on line 7."""
    return at(7, f"2025-10-01 05:00,{text}")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (at(5, "31/01/2025 18:30,20,50"), "line 5: 31/01/2025 18:30 where a time should stand; write it as"),
        (
            at(5, "2025-10-01 01:00,20,50"),
            "line 5: 2025-10-01 01:00 is not after the time before it, 2025-10",
        ),
        (at(5, "2025-10-01 03:00Z,20,50"), "line 5: 2025-10-01 03:00Z where a time should stand"),
        (five("warm,50"), "line 7: warm where the temperature should stand"),
        (five("1_0,50"), "line 7: 1_0 where the temperature should stand"),
        (five("20,inf"), "line 7: inf where the humidity should stand"),
        (five("20"), "line 7: 2 columns under 3 names"),
        (five("70,50"), "line 7: temperature 70.0 C; in a room it may be -20 to 50 C"),
        (five("20,130"), "line 7: humidity 130.0 %; in a room it may be 1 to 102 %"),
        (lambda rows: [*rows[:100], *rows[130:]], "line 101: nothing for 31 hours after this; up to 24 are"),
        (lambda rows: rows[:240], "cellar.csv: 10 days of measurements; 28 at least are needed"),
        (lambda rows: [], "cellar.csv: 0 days of measurements"),
        (
            lambda rows: [f"{row.split(',')[0]},68,50" for row in rows],
            "line 1: the temperatures, 68 on the mean, look like degrees Fahrenheit",
        ),
        (
            lambda rows: [f"{row.split(',')[0]},20,0.5" for row in rows],
            "line 1: the humidities, 0.50 at most, look like shares of 1",
        ),
    ],
)
def test_a_wrong_line_is_told(tmp_path: Path, change: Change, told: str) -> None:
    assert refused(tmp_path, change(lines())).removeprefix("cellar.csv ").startswith(told)


@pytest.mark.parametrize(
    ("head", "told"),
    [
        ("", "no line of column names"),
        (
            "when,temperature (C),humidity (%)",
            "no column for the time among when, temperature (C), humidity (%)",
        ),
        ("time,temperature (C),wind", "no column for the humidity among"),
        ("time,temperature,humidity (%)", "the temperature column is called temperature, without a unit"),
        (
            "time,temperature (K),humidity (%)",
            "the temperature column is called temperature (K), without a unit",
        ),
        ("time,temp (C),temp 2 (C)", "both temp (C) and temp 2 (C) could be the temperature"),
    ],
)
def test_a_wrong_header_is_told(tmp_path: Path, head: str, told: str) -> None:
    assert refused(tmp_path, lines(), head).startswith(f"cellar.csv line 1: {told}")


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(RoomLogError) as caught:
        read_room_log(tmp_path / "cellar.csv")
    assert (
        Voice().located(caught.value.note).startswith("cellar.csv: the logger's file can't be read: No such")
    )
