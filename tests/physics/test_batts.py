"""Batts in a bay: the compression fit, stacks, slits, the air loop. Published values: the registry."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from warmside.checks import load_checks
from warmside.physics import air, batts
from warmside.physics.batts import Batt, CompressionError, Lie, LooseBatt
from warmside.physics.resistance import RangeError, SectionError, VoidLevel, air_layer, divided_air_layer
from warmside.units import RSI_PER_R

R19 = Batt(19.0 * RSI_PER_R, 0.15875)
CHARTS = ("batt-compression-chart", "batt-compression-second-chart")


Array = npt.NDArray[np.float64]


def chart_rows() -> Array:
    names = ("label", "label_thickness", "space", "resistance")
    checks = [check for check in load_checks() if check.id in CHARTS]
    return np.array([[float(row[name]) for name in names] for check in checks for row in check.rows])


def residuals(share_unchanged: Array | float) -> Array:
    label, thickness, space, printed = chart_rows().T
    return np.asarray(label / (1.0 + share_unchanged * (thickness / space - 1.0)) - printed)


def floor_residuals(floor: float) -> Array:
    label, thickness = chart_rows().T[:2]
    return residuals(floor * label * RSI_PER_R / (thickness * 0.0254))


def test_compression_constant_is_the_least_squares_fit_of_the_charts() -> None:
    fit = minimize_scalar(lambda floor: float((floor_residuals(floor) ** 2).sum()), bounds=(0.01, 0.04))
    assert len(chart_rows()) == 21
    assert fit.x == pytest.approx(batts.CONDUCTION_FLOOR, abs=5e-5)


def test_documented_residuals_of_the_fit() -> None:
    left = floor_residuals(batts.CONDUCTION_FLOOR)
    assert np.sqrt((left**2).mean()) == pytest.approx(0.43, abs=0.005)
    assert abs(left).max() == pytest.approx(0.98, abs=0.01)


def test_one_share_for_all_batts_fits_worse() -> None:
    fit = minimize_scalar(lambda share: float((residuals(share) ** 2).sum()), bounds=(0.1, 0.9))
    left = residuals(float(fit.x))
    assert np.sqrt((left**2).mean()) == pytest.approx(0.72, abs=0.005)
    assert abs(left).max() == pytest.approx(1.37, abs=0.01)


@given(st.floats(0.08, 0.155))
def test_squeezed_batt_loses_resistance_but_gains_per_depth(space: float) -> None:
    squeezed = batts.compressed_batt(R19, space)
    assert squeezed < batts.compressed_batt(R19, space + 0.003)
    assert squeezed / space > R19.resistance / R19.thickness


def test_label_holds_where_nothing_is_squeezed() -> None:
    assert batts.compressed_batt(R19, R19.thickness) == pytest.approx(R19.resistance, rel=1e-15)


@pytest.mark.parametrize("space", [0.079, 0.16])
def test_compression_outside_its_range_is_refused(space: float) -> None:
    told = rf"a batt of 159 mm is to fill {space * 1000:.0f} mm; the formula holds from 79 to 159 mm"
    with pytest.raises(CompressionError, match=told):
        batts.compressed_batt(R19, space)


def test_batt_better_than_still_air_is_refused() -> None:
    with pytest.raises(RangeError, match=r"insulate better than still air \(0\.0252 W/\(m\.K\)\)"):
        Batt(4.0, 0.1)
    with pytest.raises(RangeError, match="the batt's resistance is -1"):
        Batt(-1.0, 0.1)
    with pytest.raises(RangeError, match="the space is 0 m"):
        batts.compressed_batt(R19, 0.0)


def test_stack_squeezes_all_batts_by_one_ratio() -> None:
    thin = Batt(2.1, 0.089)
    squeezed = batts.stack([thin, R19], 0.2)
    ratio = (0.089 + 0.15875) / 0.2
    alone = batts.compressed_batt(thin, 0.089 / ratio) + batts.compressed_batt(R19, 0.15875 / ratio)
    assert squeezed.ratio == pytest.approx(ratio)
    assert squeezed.resistance == pytest.approx(alone)
    assert squeezed.air == 0.0


def test_stack_may_be_squeezed_to_just_half() -> None:
    assert batts.stack([R19, R19], R19.thickness).ratio == 2.0
    with pytest.raises(CompressionError):
        batts.stack([R19, R19], R19.thickness - 1e-6)


def test_thin_stack_leaves_an_air_layer() -> None:
    loose = batts.stack([R19], 0.18, emissivities=(0.05, 0.9))
    left = 0.18 - R19.thickness
    assert loose.air == pytest.approx(left)
    assert loose.resistance == pytest.approx(R19.resistance + air_layer(left, emissivities=(0.05, 0.9)))
    assert loose.ratio == 1.0


def test_void_over_the_whole_area_leaves_only_the_void() -> None:
    assert batts.with_void(2.5, 0.18, 1.0, 0.4) == pytest.approx(0.58)
    assert batts.with_void(2.5, 0.18, 0.0, 0.4) == pytest.approx(2.9)
    with pytest.raises(SectionError):
        batts.with_void(2.5, 0.18, 1.1, 0.4)


def test_slit_costs_more_the_wider_it_is() -> None:
    whole, hair, wide = (batts.with_slit(2.3, 0.089, slit, 0.37, 0.4) for slit in (0.0, 0.003, 0.012))
    assert whole == pytest.approx(2.7)
    assert wide < hair < whole
    void = divided_air_layer(0.089, 0.1)
    quarter = 1.0 / (0.75 / (2.3 + 0.4) + 0.25 / (void + 0.4))
    assert batts.with_slit(2.3, 0.089, 0.1, 0.4, 0.4) == pytest.approx(quarter, rel=1e-12)


def test_moving_air_in_voids_costs_more_than_still_air() -> None:
    none, still, moving = (batts.with_air_voids(2.0, 3.0, level) for level in VoidLevel)
    assert none == pytest.approx(3.0, rel=1e-15)
    assert moving < still < none


def test_convection_limits_rise_with_shelter() -> None:
    assert [batts.convection_limit(lie) for lie in Lie] == [2.5, 15.0, 30.0]
    with pytest.raises(RangeError, match="conductivity"):
        batts.modified_rayleigh(0.1, 1e-9, 20.0, 0.0)


def loose(**changes: float) -> LooseBatt:
    usual = {"height": 2.4, "top": 0.004, "bottom": 0.004, "warm_gap": 0.01, "cold_gap": 0.015}
    return LooseBatt(**{**usual, "batt": 2.1, "warm_side": 0.3, "cold_side": 0.2, **changes})


openings, gaps_wide = st.floats(1e-4, 0.05), st.floats(1e-3, 0.05)


@given(openings, openings, gaps_wide, gaps_wide, st.floats(-30.0, 18.0))
def test_air_loop_balances_heat_and_pressure(
    top: float, bottom: float, warm_gap: float, cold_gap: float, outside: float
) -> None:
    case = loose(top=top, bottom=bottom, warm_gap=warm_gap, cold_gap=cold_gap)
    found = batts.air_loop(case, 20.0, outside)
    mean = 0.5 * (20.0 + outside)
    rho, mu = float(air.density(mean)), batts.air_viscosity(mean)
    heat = (20.0 - outside) / found.resistance
    carried = rho * 1006.0 * found.flow * found.gap_difference / case.height
    assert heat == pytest.approx(found.gap_difference / case.batt + carried, rel=1e-9)
    assert 20.0 - outside == pytest.approx(heat * 0.5 + found.gap_difference, rel=1e-9)
    driving = rho * 9.80665 * case.height * found.gap_difference / (mean + 273.15)
    orifices = sum(0.5 * rho * (found.flow / (0.6 * area)) ** 2 for area in (top, bottom))
    gaps = sum(12.0 * mu * found.flow * case.height / gap**3 for gap in (warm_gap, cold_gap))
    assert orifices + gaps == pytest.approx(driving, rel=1e-9)


def test_air_loop_is_bounded_by_the_sides_and_none_when_closed() -> None:
    wide_open = batts.air_loop(loose(top=10.0, bottom=10.0, warm_gap=1.0, cold_gap=1.0), 20.0, -20.0)
    assert 0.3 + 0.2 < wide_open.resistance < 1.05 * (0.3 + 0.2)
    for name in ("top", "bottom", "warm_gap", "cold_gap"):
        shut = batts.air_loop(loose(**{name: 0.0}), 20.0, -20.0)
        assert (shut.flow, shut.extra) == (0.0, 0.0)
        assert shut.resistance == pytest.approx(2.6)
    assert batts.air_loop(loose(), 20.0, 20.0).flow == 0.0


def test_air_loop_is_the_same_with_the_sides_turned() -> None:
    winter = batts.air_loop(loose(), 20.0, -10.0)
    summer = batts.air_loop(loose(), -10.0, 20.0)
    assert summer == winter


@pytest.mark.parametrize(
    ("name", "value"), [("height", 0.0), ("batt", -1.0), ("top", -0.1), ("cold_gap", math.nan)]
)
def test_loose_batt_refuses_what_cannot_be(name: str, value: float) -> None:
    with pytest.raises(RangeError, match="it should be"):
        loose(**{name: value})
