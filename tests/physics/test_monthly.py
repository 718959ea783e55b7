"""The monthly method: closed forms, an envelope found by brute force, balances, mirror images, refusals.

The wall and the year of a separate calculation, and the temperature factors, stand in the registry of checks.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from warmside.physics import air, monthly
from warmside.physics import monthly_surface as surface
from warmside.physics.air import Array
from warmside.physics.ground_surface import MONTH_DAYS
from warmside.physics.monthly import (
    CondensationYear,
    Diffusion,
    Layer,
    Outcome,
    Wall,
    condensation_year,
    drying_time,
    solid_layer,
)
from warmside.physics.monthly_surface import (
    BlindSpot,
    Climate,
    HumidityClass,
    MonthlyInputError,
    climate_by_class,
    climate_by_humidity,
)

DAY = 86400.0
STILL_AIR = 2e-10
"""Vapour permeability of still air, ISO 13788 [kg/(m.s.Pa)]."""
AT_20 = 2336.95
"""Saturation at 20 C by ISO 13788, published [Pa]."""
OPEN = Wall(
    (
        solid_layer("board", 0.011, 0.13, 50.0),
        solid_layer("wool", 0.140, 0.036, 1.0),
        solid_layer("gypsum", 0.0125, 0.25, 10.0),
    )
)
EVEN = climate_by_humidity(np.full(12, 20.0), 0.5, 20.0, 0.5)
"""20 C and 50 % on both sides all year."""
COLD = climate_by_humidity(np.full(12, -5.0), 0.85, 20.0, 0.50)


# Vapour


def test_saturation_lies_where_the_published_comparison_has_it() -> None:
    # computed against IAPWS: -0.07 to -0.19 % from 0 to 50 C, -0.5 % at -20 C, -1.8 % at -40 C
    t = np.linspace(0.1, 50, 100)
    off = 100 * (surface.saturation(t) / air.saturation_over_water(t) - 1)
    assert off.min() == pytest.approx(-0.19, abs=0.01)
    assert off.max() == pytest.approx(-0.07, abs=0.01)
    ice = 100 * (surface.saturation([-20.0, -40.0]) / air.saturation_over_ice([-20.0, -40.0]) - 1)
    assert ice == pytest.approx([-0.5, -1.8], abs=0.05)


def test_both_formulas_meet_at_freezing() -> None:
    assert surface.saturation([-1e-9, 0.0]) == pytest.approx([610.5, 610.5], abs=1e-6)
    assert surface.dew_point([610.5, 610.5 - 1e-7]) == pytest.approx([0.0, 0.0], abs=1e-8)


def test_the_ends_of_the_range_count_to_it() -> None:
    assert surface.dew_point(surface.saturation([-60.0, 100.0])) == pytest.approx([-60.0, 100.0], abs=1e-9)
    assert surface.dew_point(0.5) < -60


@given(st.floats(-60, 100))
def test_dew_point_undoes_saturation(t: float) -> None:
    assert surface.dew_point(surface.saturation(t)) == pytest.approx(t, abs=1e-9)


def test_classes_fall_to_nothing_at_20() -> None:
    # 270, 540, 810, 1080 Pa at 0 C and colder; half of it at 10 C; nothing from 20 C on
    for kind, most in zip(HumidityClass, (270.0, 540.0, 810.0, 1080.0), strict=True):
        excess = surface.class_excess(kind, [-20.0, 0.0, 10.0, 15.0, 20.0, 30.0])
        assert excess == pytest.approx([most, most, most / 2, most / 4, 0.0, 0.0], abs=1e-9)


def test_ventilation_excess_by_hand() -> None:
    # 0.3 kg/h into 0.5 air changes of 250 m3 at 20 C: 0.0024 kg/m3 * 462 * 293.15
    excess = pytest.approx(0.0024 * 462 * 293.15, rel=1e-12)
    assert surface.ventilation_excess(0.3, 250.0, 0.5, 20.0) == excess
    assert surface.ventilation_excess(0.3, 0.5, 250.0, 20.0) == excess


def test_climates() -> None:
    outside = np.arange(12.0)
    by_class = climate_by_class(outside, 0.8, 20.0, HumidityClass.DWELLING)
    assert by_class.outside_vapour == pytest.approx(0.8 * surface.saturation(outside))
    assert by_class.inside_vapour - by_class.outside_vapour == pytest.approx(1.1 * 540 * (1 - outside / 20))
    by_humidity = climate_by_humidity(outside, np.linspace(0.5, 1.0, 12), np.full(12, 20.0), 0.4, margin=0.05)
    assert by_humidity.inside_vapour == pytest.approx(np.full(12, 0.45 * AT_20), abs=0.01)
    assert by_humidity.inside.tolist() == [20.0] * 12


# The room-side surface


def test_glazing_may_be_wetter_than_a_wall() -> None:
    # 50 % against saturation asks what 40 % against 80 % does: published 0.64230 at -10 C, 0.57076 at -5 C
    cold = np.full(12, -10.0)
    cold[3] = -5.0
    cold[5] = 20.0
    cold[6] = 25.0
    factor = surface.required_factor(climate_by_humidity(cold, 0.8, 20.0, 0.5), humidity=1.0)
    assert factor[[0, 3]] == pytest.approx([0.64230, 0.57076], abs=1e-5)
    assert factor[[5, 6]].tolist() == [0.0, 0.0]
    # against mould, the default: published 0.75415 at -10 C; at 19.5 C half a degree is all there is
    warm = climate_by_humidity(np.where(cold > 19, 19.5, cold), 0.8, 20.0, 0.5)
    mould = surface.required_factor(warm)
    least = float(surface.dew_point(0.5 * AT_20 / 0.8))
    assert mould[[0, 5]] == pytest.approx([0.75415, (least - 19.5) / 0.5], abs=1e-4)


def test_least_surface_temperature() -> None:
    # published: 676.192 Pa inside wants 4.5565 C for 80 %
    assert surface.least_surface_temperature(676.192) == pytest.approx(4.5565, abs=1e-4)
    assert surface.least_surface_temperature(0.5 * AT_20, 1.0) == pytest.approx(9.269, abs=1e-3)


def test_the_worst_month_judges() -> None:
    # published: 0.75415 at -10 C for 20 C and 50 %
    outside = np.linspace(0, 15, 12)
    outside[10] = -10.0
    climate = climate_by_humidity(outside, 0.8, 20.0, 0.5)
    answer = surface.judge_surface(0.754, climate)
    assert (answer.month, answer.passes) == (10, False)
    assert answer.required == pytest.approx(0.75415, abs=1e-5)
    assert answer.factor == 0.754
    assert surface.judge_surface(0.755, climate).passes
    assert surface.judge_surface(answer.required, climate).passes
    assert surface.judge_surface(0.65, climate, humidity=1.0).passes


def test_factor_of_a_plain_wall() -> None:
    # R without room-side film 4.063504 (published total 4.193504), film 0.25 for mould, 0.13 for glazing
    assert OPEN.surface_factor() == pytest.approx(4.063504 / 4.313504, abs=1e-7)
    assert OPEN.surface_factor(surface.GLAZING_FILM) == pytest.approx(4.063504 / 4.193504, abs=1e-7)
    assert surface.temperature_factor(15.0, -5.0, 20.0) == pytest.approx(0.8)


# The wall


def test_layers_are_cut_so_that_no_part_resists_more_than_a_quarter() -> None:
    def parts(resistance: float, halved: int | None = None) -> int:
        return len(Wall((Layer("a", resistance, 1.0),)).planes(halved)) - 1

    assert [parts(r) for r in (0.0, 0.25, 0.2501, 0.5, 0.51, 3.89)] == [1, 1, 2, 2, 3, 16]
    assert [parts(r, 0) for r in (0.0, 0.25, 0.2501, 0.5, 0.51, 3.89)] == [2, 2, 2, 2, 4, 16]


def test_planes_have_names_and_places() -> None:
    planes = Wall((Layer("a", 0.1, 2.0), Layer("b", 0.4, 1.0))).planes()
    assert [(plane.outer, plane.inner) for plane in planes] == [
        ("outside", "a"),
        ("a", "b"),
        ("b", "b"),
        ("b", "inside"),
    ]
    assert [plane.depth for plane in planes] == pytest.approx([0.0, 2.0, 2.5, 3.0])
    assert [plane.warmth for plane in planes] == pytest.approx([0.0, 0.1, 0.3, 0.5])


def test_layers_by_material_and_by_permeance() -> None:
    layer = solid_layer("wool", 0.140, 0.035, 1.2)
    assert layer.name == "wool"
    assert layer.resistance == pytest.approx(4.0)
    assert layer.diffusion == pytest.approx(0.168)
    # 60 ng/(Pa.s.m2) against 2e-10 kg/(m.s.Pa)
    sheet = monthly.membrane_layer("sheet", 60e-12)
    assert (sheet.name, sheet.resistance) == ("sheet", 0.0)
    assert sheet.diffusion == pytest.approx(10 / 3)


def test_what_was_published_is_sourced() -> None:
    text = (files("warmside") / "data" / "monthly.toml").read_text("utf-8")
    entries = [entry for table in tomllib.loads(text).values() for entry in table.values()]
    assert len(entries) == 11
    assert all(entry["source"] and entry["status"] in {"read", "from memory"} for entry in entries)


# Vapour through the wall

layer_values = st.tuples(st.floats(0, 1.2), st.floats(0.01, 30))
walls = st.lists(layer_values, min_size=1, max_size=5).map(
    lambda values: Wall(tuple(Layer(f"layer {n}", r, d) for n, (r, d) in enumerate(values)))
)
climates = st.tuples(st.floats(-25, 30), st.floats(0.3, 1.0), st.floats(5, 25), st.floats(0.2, 0.95)).map(
    lambda s: climate_by_humidity(np.full(12, s[0]), s[1], s[2], s[3])
)


def envelope(depth: Array, top: Array) -> Array:
    """The highest convex line under the points, by trying every chord."""
    count = range(len(depth))
    return np.array(
        [
            min(
                float(np.interp(depth[k], depth[[i, j]], top[[i, j]])) if i < j else float(top[k])
                for i in count[: k + 1]
                for j in count[k:]
            )
            for k in count
        ]
    )


@given(walls, climates)
def test_vapour_is_the_highest_convex_line_under_saturation(wall: Wall, climate: Climate) -> None:
    planes, vapour = monthly.steady_vapour(wall, climate, 0)
    depth = np.array([plane.depth for plane in planes])
    saturated = surface.saturation(vapour.temperature)
    top = saturated.copy()
    top[0] = min(top[0], climate.outside_vapour[0])
    top[-1] = min(top[-1], climate.inside_vapour[0])
    assert vapour.pressure == pytest.approx(envelope(depth, top), rel=1e-9)
    assert np.all(vapour.pressure <= saturated * (1 + 1e-12))
    assert np.all(vapour.rate >= 0)
    # what comes in less what goes out stays
    flow = STILL_AIR * np.diff(vapour.pressure) / np.diff(depth)
    assert vapour.rate.sum() == pytest.approx(flow[-1] - flow[0], rel=1e-6, abs=1e-14)
    wet = np.isclose(vapour.pressure, saturated, rtol=1e-9)
    assert np.all(wet[vapour.rate > 0])


@given(walls, climates)
def test_a_wall_turned_round_in_a_climate_turned_round_is_the_same(wall: Wall, climate: Climate) -> None:
    turned = Wall(wall.layers[::-1], wall.inside_film, wall.outside_film)
    back = Climate(climate.inside, climate.inside_vapour, climate.outside, climate.outside_vapour)
    _, here = monthly.steady_vapour(wall, climate, 4)
    _, there = monthly.steady_vapour(turned, back, 4)
    assert there.temperature[::-1] == pytest.approx(here.temperature, abs=1e-9)
    assert there.rate[::-1] == pytest.approx(here.rate, rel=1e-4, abs=1e-14)


def test_a_dripping_surface_lets_no_more_than_saturation_in() -> None:
    # 95 % inside behind R 0.1 at -20 C: the face is wet, and the wall knows only saturation at it
    wall = Wall((Layer("glass", 0.1, 1.0),))
    climate = climate_by_humidity(np.full(12, -20.0), 0.8, 20.0, 0.95)
    _, vapour = monthly.steady_vapour(wall, climate, 0)
    face = -20 + 40 * 0.14 / 0.27
    assert vapour.temperature[-1] == pytest.approx(face)
    assert vapour.pressure[-1] == pytest.approx(float(surface.saturation(face)))
    damp = condensation_year(wall, climate).surface_humidity
    assert damp == pytest.approx(np.full(12, 0.95 * AT_20 / float(surface.saturation(face))), rel=1e-4)
    assert damp.min() > 1


def test_months_are_read_from_their_own_place() -> None:
    outside = np.full(12, 20.0)
    outside[7] = -5.0
    _, warm = monthly.steady_vapour(OPEN, climate_by_humidity(outside, 0.85, 20.0, 0.5), 0)
    _, cold = monthly.steady_vapour(OPEN, climate_by_humidity(outside, 0.85, 20.0, 0.5), 7)
    assert warm.rate.sum() == 0.0
    # published: 45.605 g/(m2.d)
    assert cold.rate.sum() * DAY == pytest.approx(0.045605, abs=1e-6)


# Water


def one_layer(diffusion: float = 1.0) -> Wall:
    return Wall((Layer("damp", 0.2, diffusion),))


def test_water_in_the_middle_dries_both_ways() -> None:
    # 20 C, 50 % both sides, 0.5 m of air to either side: 2 * 2e-10 * 1168.475 / 0.5 kg/(m2.s)
    rate = 2 * STILL_AIR * 0.5 * AT_20 / 0.5
    found = drying_time(one_layer(), EVEN, layer=0, start=0, amount=5.0)
    # 5 kg/m2 take 61.9 days: all of January and February and part of March
    assert found.months == 3
    assert found.water[:2, 1] == pytest.approx([5 - rate * 31 * DAY, 5 - rate * 59 * DAY], rel=1e-5)
    assert found.water[2].tolist() == [0.0, 0.0, 0.0]
    assert found.elsewhere == 0.0
    assert [(plane.outer, plane.inner) for plane in found.planes][1] == ("damp", "damp")


def test_drying_starts_in_the_month_given_and_takes_1_kg() -> None:
    # at 0.0808 kg/(m2.d), 1 kg/m2 is gone in 12.4 days
    assert drying_time(one_layer(), EVEN, layer=0, start=11).months == 1
    # ten times tighter: 123.8 days, more than January to April (120) and July to October (123)
    assert drying_time(one_layer(10.0), EVEN, layer=0, start=0).months == 5
    assert drying_time(one_layer(10.0), EVEN, layer=0, start=6).months == 5
    # 4.9 times tighter: 60.6 days, less than July and August (62), more than January and February (59)
    assert drying_time(one_layer(4.9), EVEN, layer=0, start=6).months == 2
    assert drying_time(one_layer(4.9), EVEN, layer=0, start=0).months == 3
    assert drying_time(one_layer(), EVEN, layer=0, start=0).water[0].max() == 0.0


def test_the_wet_plane_is_the_middle_of_its_layer() -> None:
    wall = Wall((Layer("a", 0.6, 1.0), Layer("b", 0.8, 2.0), Layer("c", 0.1, 1.0)))
    for layer, middle in enumerate((0.5, 2.0, 3.5)):
        found = drying_time(wall, EVEN, layer, start=0, amount=50.0, years=1)
        (wet,) = np.flatnonzero(found.water[0])
        assert found.planes[wet].depth == pytest.approx(middle)
        assert found.planes[wet].outer == found.planes[wet].inner == wall.layers[layer].name


def test_water_between_tight_sheets_does_not_dry_in_ten_years() -> None:
    wall = Wall((Layer("sheet", 0.0, 1000.0), Layer("wool", 1.0, 0.1), Layer("sheet", 0.0, 1000.0)))
    found = drying_time(wall, EVEN, layer=1, start=0)
    assert found.months is None
    assert found.water.shape == (120, 7)
    assert drying_time(wall, EVEN, layer=1, start=0, years=2).water.shape == (24, 7)


def test_drying_water_may_condense_elsewhere() -> None:
    # wool between a board and a sheet in the cold: what leaves its middle gathers at the board
    wall = Wall((OPEN.layers[0], OPEN.layers[1], Layer("sheet", 0.0, 50.0)))
    found = drying_time(wall, COLD, layer=1, start=0)
    assert found.months == 1
    assert found.elsewhere == found.water[:, 1].max()
    assert 0.1 < found.elsewhere < 1.0


def test_a_month_is_split_where_a_plane_dries_up() -> None:
    # 20 C, 50 % both sides; water at 0.2 and 0.6 of 1.0 m of air. While both are wet nothing flows between
    # them; once the outer one is dry, the inner one dries outward through 0.6 m too.
    wall = Wall((Layer("a", 0.1, 0.2), Layer("b", 0.1, 0.4), Layer("c", 0.1, 0.4)))
    pull = STILL_AIR * 0.5 * AT_20
    after = Diffusion(wall, EVEN).after(0, np.array([0.0, 1.0, 9.0, 0.0]))
    first = 1.0 / (pull / 0.2)
    assert first < 31 * DAY
    left = 9.0 - first * pull / 0.4 - (31 * DAY - first) * (pull / 0.4 + pull / 0.6)
    assert after == pytest.approx([0.0, 0.0, left, 0.0], rel=1e-5)
    assert after[1] == 0.0


def test_two_planes_dry_up_in_one_month() -> None:
    wall = Wall((Layer("a", 0.1, 0.2), Layer("b", 0.1, 0.4), Layer("c", 0.1, 0.4)))
    assert Diffusion(wall, EVEN).after(0, np.array([0.0, 1.0, 2.0, 0.0])).tolist() == [0.0] * 4


@given(st.floats(0, 3), st.floats(0, 5))
def test_water_is_never_negative_and_what_left_is_gone(outer: float, inner: float) -> None:
    # the outer plane dries outward at 2e-10 * 1168.475 / 0.2 kg/(m2.s) or more, 3.13 kg/m2 in January
    wall = Wall((Layer("a", 0.1, 0.2), Layer("b", 0.1, 0.4), Layer("c", 0.1, 0.4)))
    before = np.array([0.0, outer, inner, 0.0])
    after = Diffusion(wall, EVEN).after(0, before)
    assert np.all((after >= 0.0) & (after <= before))
    assert np.all((after == 0.0) | (after > 1e-9))
    assert after[1] == 0.0


def test_condensation_all_year_adds_up() -> None:
    # published: 45.605463 g/(m2.d), here on 365 days
    year = condensation_year(OPEN, COLD)
    assert year.outcome is Outcome.STAYS_WET
    assert year.months == tuple(range(12))
    assert year.water.sum(axis=1) == pytest.approx(0.045605463 * np.cumsum(MONTH_DAYS), rel=1e-7)
    assert year.left == year.most == pytest.approx(0.045605463 * 365, rel=1e-7)


def wave(mean: float, swing: float) -> Array:
    return mean - swing * np.cos(2 * np.pi * np.arange(12) / 12)


def test_a_dry_wall_says_so() -> None:
    year = condensation_year(OPEN, EVEN)
    assert year.outcome is Outcome.NO_CONDENSATION
    assert year.months == tuple(range(12))
    assert year.planes == OPEN.planes()
    assert year.water.shape == (12, len(OPEN.planes()))
    assert (year.water.max(), year.left, year.most) == (0.0, 0.0, 0.0)


def test_the_year_starts_where_water_first_gathers() -> None:
    # the published year starts in October; the same climate half a year later starts in April
    for shift, first in ((0, 9), (2, 11), (3, 0), (6, 3)):
        climate = climate_by_humidity(np.roll(wave(6.5, 15.5), shift), 0.75, 20.0, 0.5)
        year = condensation_year(OPEN, climate)
        assert year.months[0] == first
        assert sorted(year.months) == list(range(12))
        assert year.outcome is Outcome.DRIES_EACH_YEAR
        assert year.left == 0.0
        assert year.planes == OPEN.planes()
        damp = climate.inside_vapour / surface.saturation(
            20 - 0.13 / OPEN.resistance * (20 - climate.outside)
        )
        assert year.surface_humidity == pytest.approx(damp, rel=1e-9)


def comes_again(year: CondensationYear, wall: Wall, climate: Climate) -> bool:
    """Whether the year that follows the one returned is the same."""
    again = Diffusion(wall, climate).run(year.months, year.water[-1])
    return np.allclose(again, year.water, rtol=1e-9, atol=1e-12)


def test_two_seasons_that_overlap() -> None:
    # water gathers on one side of a foil in winter and on the other in summer; each plane dries once a year,
    # the wall as a whole never does
    wall = Wall((Layer("a", 0.2, 0.2), Layer("foil", 0.0, 3.3), Layer("c", 0.2, 0.2)))
    climate = climate_by_humidity(wave(12.0, 16.0), 0.9, 17.0, 0.9)
    year = condensation_year(wall, climate)
    assert year.outcome is Outcome.DRIES_EACH_YEAR
    assert comes_again(year, wall, climate)
    assert (year.water.max(axis=0) > 0).tolist() == [False, True, True, False]
    assert np.all(year.water.min(axis=0) == 0.0)
    assert year.left == pytest.approx(float(year.water.sum(axis=1).min()))
    assert year.left > 0.5


def test_a_year_begins_after_its_driest_month() -> None:
    # water still stands in January, the first month in which some gathers; it is gone later in the year
    wall = Wall((Layer("a", 0.2, 2.8), Layer("b", 1.9, 0.3), Layer("c", 0.0, 3.7)))
    climate = climate_by_humidity(wave(14.0, 15.0), 0.8, 14.0, 0.6)
    year = condensation_year(wall, climate)
    assert year.outcome is Outcome.DRIES_EACH_YEAR
    assert comes_again(year, wall, climate)
    assert sorted(year.months) == list(range(12))
    assert year.months[0] != 0
    assert (year.left, year.most > 0.1) == (0.0, True)
    assert year.water[0].max() > 0.0


def test_water_that_wanders_between_planes_and_grows_does_not_dry() -> None:
    # each plane is dry once a year, because its water moves to the other one; all of it grows by 0.17 kg/m2
    wall = Wall((Layer("a", 0.5, 0.3), Layer("b", 0.0, 6.0), Layer("c", 1.5, 0.1), Layer("d", 0.2, 6.0)))
    climate = climate_by_humidity(wave(14.0, 14.0), 0.9, 15.0, 0.8)
    year = condensation_year(wall, climate)
    assert year.outcome is Outcome.STAYS_WET
    later = Diffusion(wall, climate).run(year.months, year.water[-1])
    assert np.all((later == 0.0).any(axis=0))
    assert later[-1].sum() > 1.5 * year.left > 0.1


def test_a_year_that_ends_wetter_than_it_began() -> None:
    # R 4 of wool between a tight outer sheet and an open room: more gathers in winter than leaves in summer
    wall = Wall((Layer("sheet", 0.0, 100.0), OPEN.layers[1], OPEN.layers[2]))
    year = condensation_year(wall, climate_by_humidity(wave(4.0, 12.0), 0.8, 20.0, 0.6))
    assert year.outcome is Outcome.STAYS_WET
    assert year.left == pytest.approx(float(year.water[-1].sum()))
    assert year.water[0].max() < year.left <= year.most
    assert year.planes == wall.planes()


@pytest.mark.parametrize("shift", range(12))
def test_a_wet_year_starts_in_the_first_month_of_its_season(shift: int) -> None:
    # the season of the wall that ends wetter, wherever it falls in the year
    wall = Wall((Layer("sheet", 0.0, 100.0), OPEN.layers[1], OPEN.layers[2]))
    climate = climate_by_humidity(np.roll(wave(4.0, 12.0), shift), 0.8, 20.0, 0.6)
    gathers = [bool(monthly.steady_vapour(wall, climate, month)[1].rate.any()) for month in range(12)]
    assert 0 < sum(gathers) < 11
    first = condensation_year(wall, climate).months[0]
    assert gathers[first]
    assert not gathers[first - 1]


def test_what_the_method_cannot_see_stands_with_each_answer() -> None:
    # ISO 13788:2012 names these four in its scope
    scope = {
        BlindSpot.AIR_MOVEMENT,
        BlindSpot.STORAGE,
        BlindSpot.CAPILLARY_FLOW,
        BlindSpot.MOISTURE_DEPENDENT_PROPERTIES,
    }
    answers = (
        condensation_year(OPEN, EVEN),
        drying_time(one_layer(), EVEN, 0, 0),
        surface.judge_surface(0.8, EVEN),
    )
    for answer in answers:
        assert scope < set(answer.blind_spots)
        assert set(answer.blind_spots) == set(BlindSpot)


# Refusals


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: surface.saturation(-60.1), "^a temperature is not from -60 to 100 C$"),
        (lambda: surface.saturation([20.0, 100.1]), "not from -60 to 100 C"),
        (lambda: surface.saturation(math.nan), "not from -60 to 100 C"),
        (lambda: surface.dew_point([5.0, 0.0]), "^a vapour pressure is not above 0 Pa$"),
        (lambda: surface.ventilation_excess(0.3, 0.0, 0.5, 20.0), "0 m3 and 0.5 air changes per hour"),
        (lambda: surface.ventilation_excess(0.3, 10.0, 0.0, 20.0), "10 m3 and 0 air changes per hour"),
        (lambda: climate_by_humidity(np.full(12, 5.0), 80.0, 20.0, 0.5), "give shares, not %"),
        (
            lambda: climate_by_humidity(np.full(12, 5.0), 0.8, 20.0, 0.0),
            "^a relative humidity is not above 0",
        ),
        (lambda: climate_by_humidity(np.full(12, 5.0), 0.8, 20.0, 1.1), "at most 1; give shares, not %$"),
        (
            lambda: climate_by_humidity(np.full(11, 5.0), 0.8, 20.0, 0.5),
            "outside: shape .11,.; want 12 finite",
        ),
        (lambda: Climate(*[np.full(12, math.inf)] * 4), "outside: .* want 12 finite values, January first"),
        (lambda: surface.temperature_factor(15.0, 20.0, 20.0), "20 C on both sides: no temperature factor"),
        (
            lambda: Layer("gap", 0.18, 0.0),
            "gap: 0.18 m2.K/W and 0 m of air; want 0 or more, and above 0 .0.01 m for an air layer.$",
        ),
        (lambda: Layer("gap", -0.1, 0.1), "gap: -0.1 m2.K/W"),
        (lambda: Layer("gap", math.inf, 0.1), "gap: inf m2.K/W"),
        (lambda: Layer("foil", 0.0, math.inf), "foil: 0 m2.K/W and inf m of air"),
        (lambda: Wall(()), "^a wall without a layer: want at least one$"),
        (lambda: drying_time(OPEN, EVEN, 3, 0), "layer 3, 1 kg/m2: want a layer from 0 to 2 and some water"),
        (lambda: drying_time(OPEN, EVEN, -1, 0), "layer -1"),
        (lambda: drying_time(OPEN, EVEN, 0, 0, amount=0.0), "layer 0, 0 kg/m2"),
    ],
)
def test_messages_say_what_would_be_right(call: Callable[[], object], message: str) -> None:
    with pytest.raises(MonthlyInputError, match=message):
        call()
