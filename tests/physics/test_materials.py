"""Material functions: fitted curves against their points, inverses, slopes, gaps that are said to be gaps."""

import tomllib
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from warmside.physics import air, materials
from warmside.physics.materials import (
    EN_15026_MATERIAL,
    BadMaterialError,
    Conductivity,
    Isotherm,
    Liquid,
    Material,
    MaterialGapError,
    Membrane,
    UnknownMaterialError,
    Vapour,
    absorption_coefficient,
    exponent_for_range,
    liquid_from_absorption,
    material,
    membrane,
    membrane_from_pairs,
)
from warmside.physics.water import EN_15026, WATER

TABLE = tomllib.loads((files("warmside") / "data" / "materials.toml").read_text("utf-8"))
CURVES = [(name, branch) for name in materials.material_names() for branch in materials.branches(name)]
each_curve = pytest.mark.parametrize(("name", "branch"), CURVES)


@each_curve
def test_fitted_curves_stay_as_near_their_points_as_the_file_says(name: str, branch: str) -> None:
    told = TABLE["material"][name]["isotherm"][branch]
    curve = materials.isotherm(name, branch)
    points = np.array(told.get("points", [[50.0, float(curve.content(WATER.log_suction(*room(0.5))))]]))
    found = curve.content(WATER.log_suction(np.full(len(points), 20.0), points[:, 0] / 100.0))
    assert np.abs(found - points[:, 1]).max() <= told.get("within", 1e-12)


def room(humidity: float) -> tuple[np.ndarray, np.ndarray]:
    return np.array(20.0), np.array(humidity)


@each_curve
def test_isotherms_fall_and_are_undone_by_their_inverse(name: str, branch: str) -> None:
    curve = materials.isotherm(name, branch)
    log_suction = np.linspace(10.0, 20.5, 60)
    content = curve.content(log_suction)
    assert (np.diff(content) < 0).all()
    np.testing.assert_allclose(curve.log_suction(content), log_suction, atol=1e-6)
    step = 1e-5
    slope = (curve.content(log_suction + step) - curve.content(log_suction - step)) / (2 * step)
    np.testing.assert_allclose(curve.slope(log_suction), slope, rtol=1e-6, atol=1e-9 * curve.saturated)


@each_curve
def test_every_material_is_whole(name: str, branch: str) -> None:
    made = material(name, branch)
    humidity = np.linspace(0.05, 1.0, 20)
    permeability = made.vapour.relative(humidity, np.zeros(20))
    assert (np.diff(permeability) >= 0).all()
    assert permeability[0] > 0
    assert made.conductivity.at(np.array(-20.0), np.array(0.0)) > 0


def test_every_figure_has_a_source_and_a_status() -> None:
    figures = [
        *(value for name in materials.material_names() for value in materials.values("material", name)),
        *(value for name in materials.membrane_names() for value in materials.values("membrane", name)),
    ]
    assert len(figures) > 60
    for figure in figures:
        assert len(figure.source) > 3
        assert figure.status in ("read", "computed", "from memory", "common practice")
    for name in materials.material_names():
        for branch in TABLE["material"][name]["isotherm"].values():
            assert branch["status"] in ("computed", "from memory")
            assert branch["source"]


def test_annex_a_end_points() -> None:
    # EN 15026 annex A, from memory: w(20 C, 50 %) = 42.9222 and w(30 C, 95 %) = 128.2799 kg/m3.
    for t, humidity, content in ((20.0, 0.5, 42.9222), (30.0, 0.95, 128.2799)):
        log_suction = EN_15026.log_suction(np.array(t), np.array(humidity))
        assert EN_15026_MATERIAL.isotherm.content(log_suction) == pytest.approx(content, abs=1e-4)
    # K = exp(-39.2619 + 0.0704 z ...) at z = w - 73 = 0.
    log_suction = EN_15026_MATERIAL.isotherm.log_suction(np.array([73.0]))
    assert EN_15026_MATERIAL.log_conductivity(log_suction)[0] == pytest.approx(-39.2619, abs=1e-9)
    # delta_p at s = 1/2, 20 C: Mw/(R T) 26.1e-6/200 * 0.5 / (0.503 * 0.25 + 0.497).
    expected = 0.018 / (8.314 * 293.15) * 26.1e-6 / 200.0 * 0.5 / (0.503 * 0.25 + 0.497)
    relative = EN_15026_MATERIAL.vapour.relative(np.array(0.5), np.array(0.5))
    assert EN_15026.air_permeability(np.array(20.0)) * relative == pytest.approx(expected, rel=1e-6)


@given(st.floats(1e-3, 0.1), st.floats(3.0, 10.0))
def test_declared_absorption_comes_back(coefficient: float, exponent: float) -> None:
    curve = materials.isotherm("concrete")
    liquid = liquid_from_absorption(curve, coefficient, exponent)
    assert absorption_coefficient(curve, liquid) == pytest.approx(coefficient, rel=1e-9)


def test_exponent_gives_the_ratio_asked_for() -> None:
    curve = materials.isotherm("concrete")
    liquid = Liquid((0.0,), exponent_for_range(curve, 0.8, 1e-4))
    log_share = curve.log_share(WATER.log_suction(*room(0.8)))
    assert np.exp(liquid.log_conductivity(log_share)) == pytest.approx(1e-4, rel=1e-9)


def test_membrane_from_two_points_of_a_label() -> None:
    made = membrane_from_pairs("film", (0.25, 40e-12), (0.75, 1000e-12))
    assert made.permeance(np.array([0.25, 0.75])) == pytest.approx([40e-12, 1000e-12], rel=1e-12)


@pytest.mark.parametrize(
    ("make", "error", "message"),
    [
        (
            lambda: material("straw"),
            UnknownMaterialError,
            "material 'straw': the library has concrete, softwood",
        ),
        (
            lambda: material("concrete", "hysteresis"),
            UnknownMaterialError,
            "the library has adsorption, desorption",
        ),
        (
            lambda: material("osb", absorption=0.01),
            MaterialGapError,
            "osb: an absorption coefficient was given",
        ),
        (lambda: membrane("variable_polyamide"), MaterialGapError, "only two end points are known"),
        (lambda: Isotherm(100.0, -17.0, -1.0, 1.0), BadMaterialError, "ws, n and m must be over 0"),
        (
            lambda: liquid_from_absorption(materials.isotherm("concrete"), 0.0, 6.0),
            BadMaterialError,
            "must be over 0",
        ),
        (
            lambda: membrane_from_pairs("film", (0.5, 2e-12), (0.6, 1e-12)),
            BadMaterialError,
            "film: .* that do not fall",
        ),
        (
            lambda: Material("air", 0.0, Conductivity(1.0), materials.isotherm("osb"), Vapour(1.0)),
            BadMaterialError,
            "air: heat capacity and conductivity must be over 0",
        ),
        (
            lambda: Material("glass", 1e6, Conductivity(1.0), materials.isotherm("osb"), Vapour(0.0)),
            BadMaterialError,
            "glass: vapour permeability must be over 0",
        ),
    ],
)
def test_wrong_materials_are_named(make: object, error: type[Exception], message: str) -> None:
    with pytest.raises(error, match=message):
        make()  # type: ignore[operator]


def test_library_membrane_keeps_its_figure() -> None:
    assert membrane("polyethylene", leaks=0.01) == Membrane("polyethylene", 3.4e-12, leaks=0.01)


# Water


def test_saturation_is_that_of_the_moist_air_module() -> None:
    t = np.linspace(-45.0, 75.0, 200)
    short = np.exp(WATER.log_saturation(t)[0])
    np.testing.assert_allclose(short, air.saturation_over_water(t), rtol=1.2e-5)


def test_slopes_of_the_water_functions() -> None:
    t, step = np.linspace(-30.0, 40.0, 71), 1e-4
    for function in (WATER.log_saturation, WATER.freezing_potential):
        slope = (function(t + step)[0] - function(t - step)[0]) / (2 * step)
        np.testing.assert_allclose(function(t)[1], slope, rtol=1e-6)
    cold, suction = np.linspace(-1.0, 0.2, 61), np.full(61, 2e5)
    by_t = (
        WATER.liquid_suction(cold + 1e-6, suction)[0] - WATER.liquid_suction(cold - 1e-6, suction)[0]
    ) / 2e-6
    np.testing.assert_allclose(WATER.liquid_suction(cold, suction)[1], by_t, atol=20.0)
    by_p = (WATER.liquid_suction(cold, suction + 1.0)[0] - WATER.liquid_suction(cold, suction - 1.0)[0]) / 2.0
    np.testing.assert_allclose(WATER.liquid_suction(cold, suction)[2], by_p, atol=1e-5)


def test_liquid_sits_at_the_greater_suction_away_from_the_rounding() -> None:
    warm = WATER.liquid_suction(np.array(5.0), np.array(1e4))
    assert [float(part) for part in warm] == [1e4, 0.0, 1.0]
    freezing = float(WATER.freezing_potential(np.array(-5.0))[0])
    cold = WATER.liquid_suction(np.array(-5.0), np.array(1e4))
    assert float(cold[0]) == pytest.approx(freezing, rel=1e-12)
    assert float(cold[2]) == 0.0


def test_ice_lowers_the_vapour_pressure_to_that_over_ice() -> None:
    t = np.linspace(-40.0, -1.0, 40)
    over_ice = WATER.vapour_pressure(t, WATER.liquid_suction(t, np.full(40, 1e3))[0])
    np.testing.assert_allclose(over_ice, air.saturation_over_ice(t), rtol=2e-4)


def test_humidity_and_suction_are_one_another() -> None:
    log_suction = WATER.log_suction(np.array(21.0), np.array(0.7))
    pressure = WATER.vapour_pressure(np.array(21.0), np.exp(log_suction))
    assert pressure == pytest.approx(0.7 * air.saturation_over_water(21.0), rel=1.2e-5)
