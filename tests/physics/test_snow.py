"""Snow and the ground's surface from monthly values. Published depths stand in data/checks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.physics.a_cold_place import PLACE, RAIN, moved
from warmside.physics import snow
from warmside.physics.ground_rules import Soil
from warmside.physics.ground_surface import MONTH_DAYS, surface_year
from warmside.physics.synthesis import generate
from warmside.physics.weather import WeatherError, monthly_means

COVER = snow.snow_cover(PLACE)
YEAR = generate(PLACE)
SOIL = Soil(1.5, 2.5e6)


def test_snow_lies_in_the_cold_months_only() -> None:
    assert (COVER.days[[0, 1, 11]] > 25).all()
    assert (COVER.days[5:9] == 0).all()
    assert (COVER.depth[5:9] == 0).all()
    assert COVER.water[[1, 2]].max() == COVER.water.max()


def test_never_more_snow_than_fell() -> None:
    # Balance: October to March's precipitation is the most that can lie.
    assert COVER.water.max() < RAIN[[9, 10, 11, 0, 1, 2]].sum()


@settings(max_examples=20)
@given(st.floats(0.0, 3.0))
def test_snow_grows_with_precipitation(times: float) -> None:
    more = snow.snow_cover(replace(PLACE, precipitation=RAIN * times))
    grown = more.water - COVER.water
    assert (grown >= -1e-9).all() if times >= 1 else (grown <= 1e-9).all()


def test_no_frost_no_snow() -> None:
    assert snow.snow_cover(moved(30.0)).water == pytest.approx(0.0, abs=0.5)


def test_deep_frost_keeps_all_of_it() -> None:
    # 40 K colder: nothing melts in winter, so what lies at the end of March is what fell since August.
    lying = snow.snow_cover(moved(-40.0)).water[2]
    fallen = RAIN[[7, 8, 9, 10, 11, 0, 1]].sum() + RAIN[2] / 2
    assert lying == pytest.approx(fallen, rel=0.05)


def test_density_rises_over_the_winter() -> None:
    assert COVER.density[11] < COVER.density[0] < COVER.density[1] < COVER.density[2]
    assert COVER.resistance == pytest.approx(COVER.depth / snow.snow_conductivity(COVER.density), rel=1e-12)


def test_what_cannot_be_estimated_is_refused() -> None:
    with pytest.raises(WeatherError, match="normals of Cold Kettle: no precipitation, so no estimate"):
        snow.snow_cover(replace(PLACE, precipitation=None))
    with pytest.raises(WeatherError, match="the equation holds from 156 to 600 kg/m3"):
        snow.snow_conductivity(100.0)


# ---- the ground's surface ----------------------------------------------------------------------------------


def test_evaporation_is_never_more_than_rain_over_a_year() -> None:
    air, net = np.full(12, 15.0), np.full(12, 150.0)
    dry = snow.evaporation(air, net, np.full(12, 20.0), np.zeros(12))
    water = (dry * 86400 * np.array(MONTH_DAYS) / snow.LATENT).sum()
    assert water == pytest.approx(240.0, rel=0.02)


def test_wet_ground_evaporates_by_priestley_and_taylor() -> None:
    # 1.26 s/(s + 66) of 100 W/m2 at 20 C, s = 144.7 Pa/K: 86.5 W/m2 (evaluated independently).
    wet = snow.evaporation(np.full(12, 20.0), np.full(12, 100.0), np.full(12, 500.0), np.zeros(12))
    assert wet == pytest.approx(86.5, abs=0.2)


def test_no_evaporation_through_snow_or_without_sun() -> None:
    covered = snow.evaporation(np.full(12, 5.0), np.full(12, 100.0), np.full(12, 80.0), np.ones(12))
    dark = snow.evaporation(np.full(12, 5.0), np.full(12, -20.0), np.full(12, 80.0), np.zeros(12))
    assert (covered == 0).all()
    assert (dark == 0).all()


def test_bare_ground_is_colder_in_winter_than_ground_under_snow() -> None:
    bare, covered = (snow.ground_months(YEAR, cover, RAIN) for cover in (None, COVER))
    surface = [surface_year(m.equivalent(YEAR.temperature), m.resistance, SOIL) for m in (bare, covered)]
    winter = [monthly_means(s)[[0, 1]].mean() for s in surface]
    assert winter[1] > winter[0] + 3.0
    # Published soil temperatures of cold places lie 1 to 4 K over the air in the mean of the year.
    assert (
        0.0 < surface[0].mean() - YEAR.temperature.mean() < surface[1].mean() - YEAR.temperature.mean() < 5.0
    )


def test_the_equivalent_temperature_carries_the_monthly_gain() -> None:
    months = snow.ground_months(YEAR, None, RAIN)
    lifted = monthly_means(months.equivalent(YEAR.temperature) - YEAR.temperature)
    assert lifted == pytest.approx(months.film * months.gain, abs=1e-9)
    assert (months.snow == 0).all()
    assert months.sun[6] > months.sun[0]
