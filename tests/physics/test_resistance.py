"""Resistance of layers: bounds, limits and refusals. Published values stand in the registry of checks."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from warmside.physics import resistance
from warmside.physics.resistance import (
    CombinedMethodError,
    Direction,
    Fasteners,
    Method,
    RangeError,
    Section,
    SectionError,
    VoidLevel,
)

layers = st.floats(0.01, 10.0)
paths = st.integers(1, 4).flatmap(
    lambda planes: st.lists(
        st.tuples(st.integers(1, 20), st.lists(layers, min_size=planes, max_size=planes)),
        min_size=1,
        max_size=4,
    )
)


def sections(drawn: list[tuple[int, list[float]]]) -> list[Section]:
    whole = sum(parts for parts, _ in drawn)
    return [Section(parts / whole, tuple(resistances)) for parts, resistances in drawn]


@given(paths)
def test_lower_bound_never_exceeds_upper_bound(drawn: list[tuple[int, list[float]]]) -> None:
    wall = sections(drawn)
    assert resistance.isothermal_planes(wall) <= resistance.parallel_path(wall) * (1 + 1e-12)


@given(paths)
def test_bounds_lie_between_poorest_and_best_path(drawn: list[tuple[int, list[float]]]) -> None:
    wall = sections(drawn)
    totals = [math.fsum(section.resistances) for section in wall]
    assert min(totals) * (1 - 1e-12) <= resistance.parallel_path(wall) <= max(totals) * (1 + 1e-12)
    assert resistance.isothermal_planes(wall) <= max(totals) * (1 + 1e-12)


@given(paths)
def test_order_of_sections_is_of_no_account(drawn: list[tuple[int, list[float]]]) -> None:
    wall = sections(drawn)
    turned = list(reversed(wall))
    for method in (Method.PARALLEL_PATH, Method.ISOTHERMAL_PLANES):
        straight = resistance.total_resistance(wall, method)
        assert resistance.total_resistance(turned, method) == pytest.approx(straight, rel=1e-12)


@given(layers, layers, st.floats(0.0, 1.0))
def test_more_framing_never_insulates_better(stud: float, cavity: float, share: float) -> None:
    poor, good = sorted((stud, cavity))
    more = min(1.0, share + 0.1)
    few = [Section(share, (0.17, poor)), Section(1.0 - share, (0.17, good))]
    many = [Section(more, (0.17, poor)), Section(1.0 - more, (0.17, good))]
    assert resistance.parallel_path(many) <= resistance.parallel_path(few) * (1 + 1e-12)


def test_combined_is_refused_where_bounds_part_by_more_than_half() -> None:
    steel = [Section(0.01, (1.0, 0.001)), Section(0.99, (1.0, 4.0))]
    with pytest.raises(CombinedMethodError, match=r"4\.\d+ and 1\.\d+ m2\.K/W.*at most 1\.5.*two dimensions"):
        resistance.combined(steel)


def test_sections_must_make_up_one_wall() -> None:
    with pytest.raises(SectionError, match=r"have \[1, 2\] planes; all should have the same"):
        resistance.parallel_path([Section(0.5, (1.0,)), Section(0.5, (1.0, 2.0))])
    with pytest.raises(SectionError, match=r"take 0\.900000 of the area together; it should be 1"):
        resistance.isothermal_planes([Section(0.5, (1.0,)), Section(0.4, (2.0,))])
    with pytest.raises(SectionError, match=r"takes 1\.2 of the area; it should be from 0 to 1"):
        Section(1.2, (1.0,))
    with pytest.raises(SectionError, match=r"\(1\.0, -0\.1\); each should be 0 or more"):
        Section(1.0, (1.0, -0.1))
    with pytest.raises(SectionError, match=r"the layers \(\)"):
        Section(1.0, ())


def test_air_layer_where_faces_touch_is_none() -> None:
    assert resistance.air_layer(0.0) == 0.0


@given(st.floats(0.001, 0.29), st.sampled_from(list(Direction)))
def test_thicker_air_layer_never_insulates_less(thickness: float, direction: Direction) -> None:
    thin, thick = (resistance.air_layer(t, direction) for t in (thickness, thickness + 0.01))
    assert thick >= thin


def test_heat_rises_easier_than_it_sinks() -> None:
    up, flat, down = (resistance.air_layer(0.1, direction) for direction in Direction)
    assert up < flat < down


def test_foil_and_cold_make_an_air_layer_better_and_a_large_difference_worse() -> None:
    plain = resistance.air_layer(0.02)
    assert resistance.air_layer(0.02, emissivities=(0.05, 0.9)) > 2.0 * plain
    assert resistance.air_layer(0.02, mean_temperature=-10.0) > plain
    assert resistance.air_layer(0.02, difference=20.0) < plain


@pytest.mark.parametrize("thickness", [-0.01, 0.31, math.nan, math.inf])
def test_air_layer_outside_its_range_is_refused(thickness: float) -> None:
    with pytest.raises(RangeError, match=r"the air layer is .* m; it should be"):
        resistance.air_layer(thickness)


@pytest.mark.parametrize("emissivity", [0.0, 1.01, -0.2])
def test_emissivity_outside_its_range_is_refused(emissivity: float) -> None:
    with pytest.raises(RangeError, match="emissivity is"):
        resistance.effective_emittance(emissivity, 0.9)


def test_black_faces_see_each_other_in_full() -> None:
    assert resistance.effective_emittance(1.0, 1.0) == 1.0
    assert resistance.effective_emittance(1.0, 0.3) == pytest.approx(0.3)


def test_slit_insulates_better_than_a_wide_layer_of_its_depth() -> None:
    assert resistance.divided_air_layer(0.089, 0.005) > resistance.divided_air_layer(0.089, 0.1)
    with pytest.raises(RangeError, match="the slit is 0 m"):
        resistance.divided_air_layer(0.089, 0.0)


def test_well_ventilated_layer_leaves_two_sheltered_films() -> None:
    assert resistance.well_ventilated([1.0, 2.0]) == pytest.approx(0.13 + 3.0 + 0.13)
    assert resistance.well_ventilated([1.0], Direction.UP) == pytest.approx(0.10 + 1.0 + 0.10)


def test_slab_without_conductivity_is_refused() -> None:
    with pytest.raises(RangeError, match=r"the conductivity is 0 W/\(m\.K\)"):
        resistance.slab(0.1, 0.0)


def test_void_correction_is_full_where_the_layer_is_the_whole_wall() -> None:
    assert resistance.void_correction(VoidLevel.CIRCULATING, 3.0, 3.0) == pytest.approx(0.04)
    assert resistance.void_correction(VoidLevel.BRIDGING, 1.5, 3.0) == pytest.approx(0.0025)
    assert resistance.void_correction(VoidLevel.NONE, 3.0, 3.0) == 0.0


def screws(conductivity: float, length: float) -> float:
    steel = Fasteners(conductivity, area=1.25e-5, density=5.0, length=length)
    return resistance.fastener_correction(steel, thickness=0.1, layer=2.8571, total=3.3271)


def test_recessed_fastener_counts_by_its_length_and_plastic_not_at_all() -> None:
    assert screws(17.0, 0.05) == pytest.approx(0.5 * screws(17.0, 0.1))
    assert screws(0.9, 0.1) == 0.0
    with pytest.raises(RangeError, match=r"inside the layer is 0\.12 m; it should be from 0 to 0\.1 m"):
        screws(17.0, 0.12)


def test_corrections_under_three_percent_are_left_out() -> None:
    assert resistance.corrected_transmittance(2.0, [0.0149]) == 0.5
    assert resistance.corrected_transmittance(2.0, [0.01, 0.0051]) == pytest.approx(0.5151)
