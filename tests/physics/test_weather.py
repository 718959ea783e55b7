"""The generated year and what is asked of a year. Published checks stand in data/checks."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.physics.a_cold_place import MEAN, PLACE
from warmside.physics import synthesis
from warmside.physics.air import saturation_over_ice, saturation_over_water
from warmside.physics.synthesis import Cold, generate, ranked
from warmside.physics.weather import (
    HOURS,
    MONTH_OF_HOUR,
    Origin,
    WeatherError,
    cold_week,
    degree_days,
    exceeded,
    longest_below,
    monthly_means,
    running_mean,
    smooth_days,
)

YEAR = generate(PLACE)
UNEVEN = st.lists(st.floats(-30.0, 30.0), min_size=12, max_size=12)


@given(UNEVEN)
def test_the_smooth_curve_keeps_every_monthly_mean(monthly: list[float]) -> None:
    assert monthly_means(np.repeat(smooth_days(monthly), 24)) == pytest.approx(np.array(monthly), abs=1e-9)


def test_the_smooth_curve_of_a_constant_is_the_constant() -> None:
    assert smooth_days(np.full(12, 7.5)) == pytest.approx(7.5, abs=1e-12)


@settings(max_examples=8)
@given(st.integers(0, 10_000))
def test_every_seed_keeps_the_monthly_means(seed: int) -> None:
    year = generate(PLACE, seed)
    assert monthly_means(year.temperature) == pytest.approx(MEAN, abs=1e-9)
    assert monthly_means(year.vapour_pressure) == pytest.approx(PLACE.vapour_pressure, rel=1e-6)
    assert monthly_means(year.ghi) == pytest.approx(PLACE.ghi, rel=1e-9)
    assert monthly_means(year.wind) == pytest.approx(PLACE.wind, rel=1e-9)
    assert year.humidity.max() <= 1.0
    assert (year.vapour_pressure <= saturation_over_water(year.temperature)).all()


def test_the_same_seed_is_the_same_year_and_another_is_not() -> None:
    again, other = generate(PLACE), generate(PLACE, 2)
    for name in ("temperature", "vapour_pressure", "wind", "ghi", "dni", "dhi", "longwave"):
        assert getattr(YEAR, name).tobytes() == getattr(again, name).tobytes()
        assert getattr(YEAR, name).tobytes() != getattr(other, name).tobytes()


def test_generating_is_quick() -> None:
    start = time.perf_counter()
    ranked(PLACE, cold=Cold(-31.0))
    assert time.perf_counter() - start < 2.0  # 0.1 s by itself; the rest is for a busy machine


def test_everything_generated_says_so() -> None:
    assert set(YEAR.origin.values()) == {Origin.GENERATED}
    assert YEAR.rain is None
    assert YEAR.notes[0].startswith("generated from monthly normals, seed 1")


def test_noise_has_unit_variance_and_its_own_persistence() -> None:
    # Closed forms: the variance is 1; the correlation of a second-order process with the winter's two times
    # over 24 h is (50 exp(-24/50) - 0.6 exp(-40)) / 49.4. Mean of 60 years.
    rows = [synthesis.red_noise(np.random.Generator(np.random.PCG64(seed)))[0] for seed in range(60)]
    winter = np.array([row[np.isin(MONTH_OF_HOUR, (0, 1))] for row in rows])
    assert winter.var() == pytest.approx(1.0, abs=0.06)
    day = (winter[:, 24:] * winter[:, :-24]).mean() / winter.var()
    assert day == pytest.approx((50 * np.exp(-0.48)) / 49.4, abs=0.05)
    assert synthesis.correlation(24.0, 50.0) == pytest.approx((50 * np.exp(-0.48)) / 49.4, abs=1e-9)


def test_the_variance_of_a_mean_has_its_two_limits() -> None:
    # One hour: 1. Many hours of an exponential correlation: 2 T / n (closed form).
    assert synthesis.variance_of_mean(1, 50.0) == pytest.approx(1.0, abs=1e-12)
    assert synthesis.variance_of_mean(200_000, 50.0) == pytest.approx(2 * 50.6 / 200_000, rel=0.01)


def test_skewed_noise_has_the_wanted_moments() -> None:
    noise = np.random.Generator(np.random.PCG64(1)).standard_normal(400_000)
    bent = synthesis.skewed(noise, np.full(noise.size, -0.4))
    assert bent.mean() == pytest.approx(0.0, abs=0.01)
    assert bent.var() == pytest.approx(1.0, abs=0.01)
    assert (bent**3).mean() == pytest.approx(-0.4, abs=0.03)


def test_the_mean_day_swings_by_one_and_peaks_in_the_afternoon() -> None:
    course = synthesis.mean_day()
    assert course.max() - course.min() == pytest.approx(1.0, abs=1e-12)
    assert course.mean() == pytest.approx(0.0, abs=1e-12)
    assert 13 <= course.argmax() <= 16
    assert 3 <= course.argmin() <= 7


def test_mean_daily_extremes_are_those_of_the_normals() -> None:
    # Not by construction; 0.6 K is a tenth of the half range.
    days = YEAR.temperature.reshape(365, 24)
    greatest = monthly_means(np.repeat(days.max(axis=1), 24))
    least = monthly_means(np.repeat(days.min(axis=1), 24))
    assert (greatest - least).mean() == pytest.approx((PLACE.tmax - PLACE.tmin).mean(), abs=0.3)
    assert np.abs(greatest - PLACE.tmax).max() < 1.5
    assert np.abs(least - PLACE.tmin).max() < 1.5


def test_cold_winter_days_are_clearer() -> None:
    # Seven typical years have correlations of -0.6 to 0 between daily clearness and temperature in winter.
    years = [generate(PLACE, seed) for seed in range(12)]
    days = np.concatenate([y.temperature[:744].reshape(31, 24).mean(axis=1) for y in years])
    sun = np.concatenate([y.ghi[:744].reshape(31, 24).sum(axis=1) for y in years])
    assert -0.6 < np.corrcoef(days, sun)[0, 1] < -0.15


def test_ranked_years_are_in_their_order() -> None:
    cold = [exceeded(ranked(PLACE, share, draws=5).temperature, 0.996) for share in (0.0, 0.5, 1.0)]
    assert cold == sorted(cold)
    assert cold[0] < cold[2]


@pytest.mark.parametrize("asked", [-27.0, -31.0, -35.0])
def test_a_stretched_winter_meets_the_code_and_keeps_the_means(asked: float) -> None:
    year = ranked(PLACE, cold=Cold(asked))
    assert exceeded(year.temperature, 0.975, (0,)) == pytest.approx(asked, abs=0.05)
    assert monthly_means(year.temperature) == pytest.approx(MEAN, abs=1e-9)
    assert degree_days(year.temperature) == pytest.approx(degree_days(YEAR.temperature), rel=0.01)


def test_the_stretch_has_limits_and_tells() -> None:
    assert ranked(PLACE, cold=Cold(-60.0)).notes[0].endswith("winter spread x 1.60")
    assert ranked(PLACE, cold=Cold(-16.0)).notes[0].endswith("winter spread x 0.50")


def test_air_that_cannot_hold_the_vapour_is_told() -> None:
    damp = replace(PLACE, vapour_pressure=1.5 * saturation_over_water(MEAN))
    notes = generate(damp).notes
    assert "vapour is below its normal in" in notes[-1]
    assert notes[-1].endswith("air can't hold it")


def test_very_cold_places_stay_in_range() -> None:
    arctic = replace(
        PLACE, tmean=MEAN - 25, tmax=MEAN - 21, tmin=MEAN - 29, vapour_pressure=np.full(12, 20.0)
    )
    year = generate(arctic)
    assert year.temperature.min() > -60.0
    assert monthly_means(year.temperature) == pytest.approx(MEAN - 25, abs=1e-9)


def test_polar_night_has_no_sun() -> None:
    dark = replace(PLACE, latitude=75.0, ghi=np.where(PLACE.ghi < 100.0, 0.0, PLACE.ghi))
    year = generate(dark)
    assert year.ghi[:744].max() == 0.0
    assert np.isfinite(year.longwave).all()


# ---- warmer, colder ----------------------------------------------------------------------------------------


def test_warmer_normals_keep_their_relative_humidity() -> None:
    warm = PLACE.warmer(1.0)
    assert warm.tmean - PLACE.tmean == pytest.approx(1.0, abs=1e-12)
    before = PLACE.vapour_pressure / saturation_over_water(PLACE.tmean)
    assert warm.vapour_pressure / saturation_over_water(warm.tmean) == pytest.approx(before, rel=1e-12)


def test_a_warmer_year_is_the_same_year_one_kelvin_up() -> None:
    warm = YEAR.warmer()
    assert warm.temperature - YEAR.temperature == pytest.approx(1.0, abs=1e-9)
    assert warm.humidity == pytest.approx(YEAR.humidity, abs=1e-9)
    assert warm.sky_temperature - YEAR.sky_temperature == pytest.approx(1.0, abs=1e-6)
    fewer = degree_days(YEAR.temperature) - degree_days(warm.temperature)
    assert 250 < fewer <= 365  # one degree-day for each day that needs heat before and after


@pytest.mark.parametrize("design", [-40.0, -33.0, -20.0])
def test_the_cold_week_has_the_code_temperature(design: float) -> None:
    week = cold_week(YEAR, design)
    assert running_mean(week.year.temperature, 24)[week.hours[:145]].min() == pytest.approx(design, abs=1e-9)
    assert week.year.temperature[week.hours] == pytest.approx(
        YEAR.temperature[week.hours] + week.shift, abs=1e-9
    )


def test_the_cold_week_leaves_the_rest_of_the_year_alone() -> None:
    week = cold_week(YEAR, -40.0)
    near = (np.arange(HOURS) - (week.start - 24)) % HOURS < 216
    assert (week.year.temperature[~near] == YEAR.temperature[~near]).all()
    assert (week.year.vapour_pressure[~near] == YEAR.vapour_pressure[~near]).all()
    steps = np.abs(np.diff(week.year.temperature - YEAR.temperature))
    assert steps.max() <= abs(week.shift) / 25 + 1e-9


def test_air_of_the_cold_week_is_not_over_saturated() -> None:
    week = cold_week(YEAR, -40.0)
    cold = week.hours[week.year.temperature[week.hours] < 0]
    ice = saturation_over_ice(week.year.temperature[cold])
    before = YEAR.vapour_pressure[cold] / saturation_over_ice(np.minimum(YEAR.temperature[cold], 0.0))
    assert (week.year.vapour_pressure[cold] <= ice * np.maximum(before, 1.0) * (1 + 1e-9)).all()


def test_the_coldest_week_is_found_over_new_year() -> None:
    hours = np.zeros(HOURS)
    hours[-100:] = hours[:68] = -20.0
    week = cold_week(replace(YEAR, temperature=hours, vapour_pressure=np.full(HOURS, 50.0)), -25.0)
    assert week.start == HOURS - 100
    assert week.shift == pytest.approx(-5.0, abs=1e-9)


# ---- what is asked of a year -------------------------------------------------------------------------------


def test_degree_days_of_a_constant_year() -> None:
    assert degree_days(np.full(HOURS, 10.0)) == pytest.approx(365 * 8.0, abs=1e-9)
    assert degree_days(np.full(HOURS, 18.5)) == 0.0
    assert degree_days(np.full(HOURS, 10.0), base=17.0) == pytest.approx(365 * 7.0, abs=1e-9)


def test_exceeded_counts_hours() -> None:
    ramp = np.arange(HOURS, dtype=float)
    assert exceeded(ramp, 0.99) == pytest.approx(0.01 * (HOURS - 1), abs=1e-9)
    assert exceeded(ramp, 0.975, (0,)) == pytest.approx(0.025 * 743, abs=1e-9)


def test_the_longest_spell_goes_over_new_year() -> None:
    hours = np.zeros(HOURS)
    hours[100:130] = hours[:20] = hours[-15:] = -10.0
    assert longest_below(hours, -5.0) == 35
    assert longest_below(hours, -15.0) == 0
    assert longest_below(hours, 5.0) == HOURS


def test_a_running_mean_goes_round_new_year() -> None:
    row = np.arange(HOURS, dtype=float)
    assert running_mean(row, 3)[0] == pytest.approx(1.0, abs=1e-9)
    assert running_mean(row, 3)[-1] == pytest.approx((HOURS - 1 + 0 + 1) / 3, abs=1e-9)


def test_walls_of_a_year() -> None:
    south, north = YEAR.on_wall("S"), YEAR.on_wall("N")
    assert south.sum() > 1.5 * north.sum()
    assert YEAR.on_wall("N", albedo=0.6).sum() > north.sum()


# ---- what can't be -----------------------------------------------------------------------------------------


def test_a_year_with_a_gap_says_which_hour() -> None:
    hours = YEAR.temperature.copy()
    hours[41] = np.nan
    with pytest.raises(
        WeatherError, match=r"Cold Kettle: temperature is nan at hour 42; it may be -60 to 60 C"
    ):
        replace(YEAR, temperature=hours)


def test_a_year_of_the_wrong_length_is_refused() -> None:
    with pytest.raises(WeatherError, match=r"Cold Kettle: wind has 8784 values; a year has 8760 hours"):
        replace(YEAR, wind=np.zeros(8784))


def test_normals_in_the_wrong_order_are_refused() -> None:
    with pytest.raises(WeatherError, match="normals of Cold Kettle: each month needs tmin <= tmean <= tmax"):
        replace(PLACE, tmax=MEAN - 1)
    with pytest.raises(WeatherError, match="normals of Cold Kettle: wind should be twelve values"):
        replace(PLACE, wind=np.zeros(11))


def test_quantities_can_come_from_another_year() -> None:
    mixed = YEAR.completed(generate(PLACE, 3), ("ghi", "dni", "dhi"))
    assert (mixed.ghi == generate(PLACE, 3).ghi).all()
    assert (mixed.temperature == YEAR.temperature).all()
    assert mixed.origin["ghi"] is Origin.GENERATED
