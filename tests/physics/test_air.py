"""Moist air and leakage: inverses, limits, messages, and flows that balance."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from warmside.physics import air

temperatures = st.floats(-40, 60)
humidities = st.floats(0.05, 1.0)


@given(temperatures)
def test_dew_point_of_saturated_air_is_its_temperature(t: float) -> None:
    assert float(air.dew_point(air.saturation_over_water(t))) == pytest.approx(t, abs=1e-10)


@given(st.floats(-60, 0))
def test_frost_point_of_air_saturated_over_ice_is_its_temperature(t: float) -> None:
    assert float(air.frost_point(air.saturation_over_ice(t))) == pytest.approx(t, abs=1e-10)


@given(temperatures, humidities)
def test_humidity_comes_back(t: float, rh: float) -> None:
    assert float(air.relative_humidity(t, air.vapour_pressure(t, rh))) == pytest.approx(rh, rel=1e-12)


@given(temperatures, humidities)
def test_vapour_pressure_comes_back_from_the_ratio(t: float, rh: float) -> None:
    vapour = float(air.vapour_pressure(t, rh))
    assert float(air.pressure_of_ratio(air.humidity_ratio(vapour))) == pytest.approx(vapour, rel=1e-12)


@given(st.floats(1, 45), humidities)
def test_wet_bulb_lies_between_dew_point_and_temperature(t: float, rh: float) -> None:
    vapour = float(air.vapour_pressure(t, rh))
    wet = float(air.wet_bulb(t, vapour))
    assert wet <= t + 1e-9
    assert wet >= float(air.dew_point(vapour)) - 1e-6 or wet < 0.01


def test_water_and_ice_meet_at_the_triple_point() -> None:
    expected = 611.657  # Pa, IAPWS R14-08; both equations are anchored there
    assert float(air.saturation_over_water(0.01)) == pytest.approx(expected, rel=1e-6)
    assert float(air.saturation_over_ice(0.01)) == pytest.approx(expected, rel=1e-6)


def test_ice_holds_less_vapour_than_supercooled_water() -> None:
    t = np.linspace(-40, -0.1, 50)
    assert np.all(air.saturation_over_ice(t) < air.saturation_over_water(t))


def test_slope_is_the_derivative() -> None:
    t, step = np.array([-25.0, 0.0, 20.0, 45.0]), 1e-4
    central = (air.saturation_over_water(t + step) - air.saturation_over_water(t - step)) / (2 * step)
    assert air.saturation_slope(t) == pytest.approx(central, rel=1e-7)


def test_dry_air_density_by_the_gas_law() -> None:
    expected = 1.2041  # kg/m3 at 20 C and 101325 Pa
    assert float(air.density(20.0)) == pytest.approx(expected, abs=1e-4)


def test_moist_air_is_lighter() -> None:
    assert float(air.density(20.0, 2000.0)) < float(air.density(20.0))


@pytest.mark.parametrize("call", [air.saturation_over_water, air.saturation_over_ice])
def test_temperature_out_of_range_is_named(call: Callable[[float], object]) -> None:
    with pytest.raises(air.OutOfRangeError, match=r"temperature -150 C: the equation holds from"):
        call(-150.0)


def test_wet_bulb_refuses_more_than_saturated_air() -> None:
    with pytest.raises(air.OutOfRangeError, match="vapour pressure 5000 Pa"):
        air.wet_bulb(20.0, 5000.0)


def test_stack_pressure_by_hand() -> None:
    # (1.394 - 1.204) kg/m3 * 9.80665 * 1.25 m, densities from the gas law at -20 and 20 C
    expected = 101325 / 287.042 * (1 / 253.15 - 1 / 293.15) * 9.80665 * 1.25
    assert float(air.stack_pressure(1.25, 0.0, 20.0, -20.0)) == pytest.approx(expected, rel=1e-12)


def test_no_stack_at_the_neutral_height() -> None:
    assert float(air.stack_pressure(1.0, 1.0, 20.0, -20.0)) == 0.0


def test_wind_pressure_by_hand() -> None:
    expected = 0.5 * 101325 / (287.042 * 273.15) * 25 * 0.6
    assert float(air.wind_pressure(5.0, 0.6, 0.0)) == pytest.approx(expected, rel=1e-12)


def test_orifice_flow_by_hand() -> None:
    # 0.6 * A * sqrt(2 rho dp) = 0.6 * 1e-3 * sqrt(2 * 1.3 * 4)
    hole = air.Opening.orifice(0.0, 1e-3)
    assert hole.flow(4.0, 1.3) == pytest.approx(0.6e-3 * (2 * 1.3 * 4.0) ** 0.5, rel=1e-12)
    assert hole.flow(-4.0, 1.3) == -hole.flow(4.0, 1.3)


openings = st.lists(
    st.builds(air.Opening, st.floats(0, 6), st.floats(1e-5, 1e-2), st.floats(0.5, 1.0), st.floats(-5, 5)),
    min_size=1,
    max_size=6,
)


@given(openings, st.floats(15, 25), st.floats(-35, 30), st.floats(-0.01, 0.01))
def test_flows_and_fan_balance(leaks: list[air.Opening], inside: float, outside: float, fan: float) -> None:
    found = air.leakage(leaks, inside, outside, fan)
    gross = sum(abs(f) for f in found.flows) + abs(fan)
    assert abs(sum(found.flows) + fan) <= 1e-6 * gross + 1e-8


def test_winter_air_enters_low_and_leaves_high() -> None:
    found = air.leakage([air.Opening(0.0, 1e-3), air.Opening(5.0, 1e-3)], 20.0, -20.0)
    assert found.flows[0] < 0 < found.flows[1]


def test_summer_turns_the_flow() -> None:
    found = air.leakage([air.Opening(0.0, 1e-3), air.Opening(5.0, 1e-3)], 20.0, 32.0)
    assert found.flows[1] < 0 < found.flows[0]


def test_a_sealed_house_has_no_balance() -> None:
    with pytest.raises(air.NoBalanceError, match="at least one path"):
        air.leakage([air.Opening(1.0, 0.0)], 20.0, 0.0)
