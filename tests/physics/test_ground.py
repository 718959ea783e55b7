"""Section, plan, ground surface, responses and frost: against closed forms, ISO 13370 and themselves."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache, partial

import numpy as np
import pytest
from scipy import sparse

from warmside.physics import ground_rules
from warmside.physics.conduction import Body, Patch, Solver, System, symmetric_lu
from warmside.physics.frost import FUSION, FreezingGround, coldest, isotherm
from warmside.physics.grid import Grid, graded
from warmside.physics.ground import (
    GROUND,
    INDOOR,
    OUTDOOR,
    Grade,
    Plan,
    Section,
    Zone,
    plan_body,
    richardson,
    section_body,
    steady_loss,
    without_layers,
)
from warmside.physics.ground_rules import Basement, GroundInputError, Soil
from warmside.physics.ground_surface import YEAR, by_month, surface_year
from warmside.physics.response import (
    ANNUAL,
    NODES,
    Assembly,
    Condensed,
    ResponseError,
    Spectrum,
    energetic,
    fit_rc,
    hourly,
    slice_impedance,
    slice_network,
    spectrum,
)

SOIL = Soil(1.5, 2e6)
SECTION = Section(4.0, 2.4, 0.3, SOIL, wall=(Zone(0.0, 2.7, 2.5),))
WINTER = {INDOOR: 20.0, OUTDOOR: -10.0, GROUND: 2.0}
RECTANGLE = Plan(((0, 0), (12, 0), (12, 8), (0, 8)))
ANGLE = Plan(((0, 0), (12, 0), (12, 5), (7, 5), (7, 9), (0, 9)))


@cache
def condensed() -> Condensed:
    return Condensed(without_layers(SECTION))


def assembly() -> Assembly:
    return condensed().with_layers(SECTION)


# Section


def test_section_error_by_a_second_grid_holds() -> None:
    found = steady_loss(lambda d: section_body(SECTION, d), WINTER)
    finer = steady_loss(lambda d: section_body(SECTION, d), WINTER, density=6)
    assert found.balance < 1e-8
    assert abs(found.heat.value - finer.heat.value) < 0.003 * finer.heat.value
    assert abs(found.heat.value - finer.heat.value) < found.heat.error


def test_soil_farther_out_changes_little() -> None:
    reaches = [replace(SECTION, reach=reach) for reach in (10.0, 30.0)]
    near, far = (steady_loss(partial(section_body, s), WINTER).heat.value for s in reaches)
    assert near == pytest.approx(far, rel=0.005)


def test_layers_zones_and_breaks_lower_the_loss() -> None:
    def loss(section: Section) -> float:
        return steady_loss(lambda d: section_body(section, d), WINTER).heat.value

    bare, whole = loss(without_layers(SECTION)), loss(SECTION)
    upper = loss(replace(SECTION, wall=(Zone(1.2, 2.7, 2.5),)))
    floor = loss(replace(SECTION, floor=(Zone(0.0, 4.0, 1.0),)))
    outer = loss(replace(without_layers(SECTION), outer=(Zone(0.0, 2.4, 1.8),)))
    broken = loss(replace(SECTION, slab_break=1.0))
    assert floor < whole < upper < bare
    assert outer < bare
    assert broken < whole


def test_strip_basement_near_iso13370() -> None:
    # strip basement 10 m wide, soil 2.0 and 2e6: steady within 8 %, swings within 20 and 30 % of the standard
    soil = Soil(2.0, 2e6)
    section = Section(5.0, 2.0, 0.0, soil, wall=(Zone(0.0, 2.0, 2.0),), rim_height=0.0)
    model = condensed_section(section)
    rules = Basement(5.0, 1.0, 2.0, 0.2, 0.17 + 0.1 / 2.0 + 0.04, 0.13 + 2.0 + 0.2 / 2.0 + 0.04, soil)
    steady = float(np.real(model.loss()[0]))
    swing = model.loss(ANNUAL)
    outdoor, indoor = abs(swing[1] + swing[2]), abs(swing[0])
    assert steady == pytest.approx(rules.steady(), rel=0.08)
    assert outdoor == pytest.approx(rules.outdoor_swing(), rel=0.20)
    assert indoor == pytest.approx(rules.indoor_swing(), rel=0.30)


def condensed_section(section: Section) -> Assembly:
    return Condensed(without_layers(section)).with_layers(section)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Section(4.0, 2.4, 2.5, SOIL), "2.5 m of concrete shows of 2.4 m"),
        (lambda: Section(0.0, 2.4, 0.3, SOIL), "want a width over 0"),
        (lambda: Soil(0.0, 2e6), "want both over 0"),
        (lambda: Plan(((0, 0), (1, 1), (0, 1))), "along x or y"),
        (lambda: Plan(((0, 0), (0, 1), (1, 1), (1, 0))), "counter-clockwise"),
        (lambda: ground_rules.basement_wall_u(0.0, 1.0, 1.0, 1.5), "below grade"),
        (lambda: ground_rules.stuff("soil", "cheese"), "no soil 'cheese': there are"),
        (lambda: by_month([1.0, 2.0]), "want 12 values"),
        (lambda: surface_year([1.0, 2.0], 0.0, SOIL), "resistance over 0"),
    ],
)
def test_messages_say_what_would_be_right(make: Callable[[], object], message: str) -> None:
    with pytest.raises(GroundInputError, match=message):
        make()


# Plan


def test_plan_geometry() -> None:
    assert (ANGLE.area, ANGLE.perimeter) == (88.0, 42.0)
    inner = ANGLE.inset(0.2)
    # each outside corner takes 0.4 off the two edges, the inside corner adds it: 42 - 8 * 0.2
    assert inner.perimeter == pytest.approx(42 - 8 * 0.2)
    assert inner.area == pytest.approx(88 - 42 * 0.2 + 4 * 0.2**2)
    assert sum((b - a) * (d - c) for (a, b), (c, d) in inner.rectangles()) == pytest.approx(inner.area)


def test_section_with_the_characteristic_width_is_near_the_plan() -> None:
    # the section is 3 to 5 % low on the mean against 3-D for rectangles (sizing study: 3.6 %)
    bare = replace(SECTION, rim_height=0.0)
    inner = RECTANGLE.inset(bare.wall_thickness)
    strip = replace(bare, half_width=inner.area / inner.perimeter)
    flat = steady_loss(lambda d: section_body(strip, d), WINTER).heat.value * inner.perimeter
    true = steady_loss(lambda d: plan_body(bare, RECTANGLE, (), d), WINTER)
    assert true.balance < 1e-8
    assert -0.06 < flat / true.heat.value - 1 < -0.01


def test_plan_turned_a_quarter_loses_the_same() -> None:
    turned = Plan(tuple((-y, x) for x, y in ANGLE.corners))
    bare = replace(SECTION, rim_height=0.0)
    one, other = (System(plan_body(bare, plan, (), 1)).solve(WINTER).flows for plan in (ANGLE, turned))
    assert one["floor"] == pytest.approx(other["floor"], rel=1e-6)
    assert one["wall"] == pytest.approx(other["wall"], rel=1e-6)


def test_walk_out_shows_more_concrete_and_loses_more_there() -> None:
    bare = replace(SECTION, rim_height=0.0)
    low = Grade(((12.0, 999.0), (-999.0, 999.0)), -1.8)
    level, sloped = (System(plan_body(bare, RECTANGLE, g, 1)) for g in ((), (low,)))
    names = np.array([p.name for p in sloped.body.patches])
    shown = {
        id(s): s.surface.area[np.array([p.name for p in s.body.patches])[s.surface.patch] == "exposed"].sum()
        for s in (level, sloped)
    }
    assert "exposed" in names
    # 8 m of wall show 1.8 m more
    assert shown[id(sloped)] - shown[id(level)] == pytest.approx(8 * 1.8, rel=1e-9)
    assert sloped.solve(WINTER).flows["wall"].real > level.solve(WINTER).flows["wall"].real


def test_plan_holds_the_concrete_that_it_should() -> None:
    # a wall 0.2 m thick around 12 x 8 m, 2.5 m high, and a slab of 11.6 x 7.6 m, 0.1 m thick
    body = plan_body(replace(SECTION, rim_height=0.0), RECTANGLE, (), 1)
    volume = (12 * 8 - 11.6 * 7.6) * 2.5 + 11.6 * 7.6 * 0.1
    concrete = body.conductivity == SECTION.concrete.conductivity
    assert body.grid.volume[concrete].sum() == pytest.approx(volume, rel=1e-9)
    assert body.capacity is not None
    stored = (body.capacity * body.grid.volume)[concrete].sum()
    assert stored == pytest.approx(volume * SECTION.concrete.capacity, rel=1e-9)


def test_richardson_on_a_known_error() -> None:
    found = richardson(1 + 0.04, 1 + 0.01)
    assert (found.value, found.error) == pytest.approx((1.0, 0.01))


# Condensed ground


def test_condensed_ground_gives_the_full_solution() -> None:
    theta = {INDOOR: 1.0, OUTDOOR: 10.0 - 2j, GROUND: -3.0 + 1j}
    whole = System(section_body(SECTION, 2))
    for omega in (0.0, ANNUAL, 365 * ANNUAL):
        full = whole.solve(theta, omega)
        small = assembly()
        values = np.array([theta[name] for name in small.environments])
        room = sum(full.flows[n] for n in ("wall", "rim", "ledge", "floor"))
        assert small.loss(omega) @ values == pytest.approx(room, rel=1e-9)
        field = small.solution(theta, omega)
        assert np.abs(field.temperature - full.temperature).max() < 1e-9
        assert field.residual < 1e-8


def test_loss_of_a_room_as_warm_as_outdoors_is_zero() -> None:
    assert np.real(assembly().loss()).sum() == pytest.approx(0.0, abs=1e-9)


def test_faces_of_a_uniform_world_are_uniform() -> None:
    assert np.real(assembly().faces()).sum(axis=1) == pytest.approx(np.ones(len(condensed().port)), rel=1e-9)


def test_unknown_patches_and_stretches_are_named() -> None:
    with pytest.raises(ResponseError, match="no indoor patch 'roof'"):
        assembly().heat("roof")
    with pytest.raises(ResponseError, match=r"between 9 and 9\.5 m"):
        condensed().stretch(9.0, 9.5)


# The year


@cache
def face_spectrum() -> Spectrum:
    return spectrum(lambda w: assembly().face(2.2, 2.35, w), assembly().environments)


def test_spline_of_the_response_is_near_exact_solves() -> None:
    assert face_spectrum().error < 5e-4
    assert spectrum(assembly().loss, assembly().environments).error < 5e-5


def test_hourly_sum_of_one_wave_is_that_wave() -> None:
    hours = np.arange(8760)
    outdoor = 5 - 12 * np.cos(2 * np.pi * hours / 8760)
    years = {INDOOR: np.full(8760, 20.0), OUTDOOR: outdoor, GROUND: outdoor}
    found = hourly(face_spectrum(), years, share=0.9999)
    gains = dict(zip(assembly().environments, assembly().face(2.2, 2.35, ANNUAL), strict=True))
    wave = (gains[OUTDOOR] + gains[GROUND]) * -12 * np.exp(2j * np.pi * hours / 8760)
    mean = np.real(assembly().face(2.2, 2.35)) @ [20 if n == INDOOR else 5 for n in assembly().environments]
    assert found.frequencies == 1
    assert found.values == pytest.approx(mean + wave.real, abs=1e-9)


def test_waves_left_out_stay_within_their_bound() -> None:
    noise = np.random.default_rng(5).normal(size=8760).cumsum() / 20
    years = {INDOOR: np.full(8760, 20.0), OUTDOOR: noise, GROUND: 0.5 * noise}
    most, whole = (hourly(face_spectrum(), years, share) for share in (0.999, 1.0))
    gap = most.values - whole.values
    assert most.frequencies < whole.frequencies == 4380
    assert np.abs(gap).max() <= most.bound
    assert gap.std() == pytest.approx(most.left_out, rel=1e-6)
    assert gap.var() <= 0.0011 * whole.values.var()


def test_fewest_waves_for_a_share() -> None:
    assert energetic(np.array([1.0, 3.0, 2.0]), 9 / 14).tolist() == [False, True, False]
    assert energetic(np.array([1.0, 3.0, 2.0]), 0.9).tolist() == [False, True, True]
    assert energetic(np.array([1.0, 3.0, 2.0]), 1.0).all()


def test_years_that_do_not_fit_are_refused() -> None:
    year = np.zeros(8760)
    with pytest.raises(ResponseError, match="the response needs"):
        hourly(face_spectrum(), {INDOOR: year})
    with pytest.raises(ResponseError, match="none finer"):
        hourly(face_spectrum(), dict.fromkeys((INDOOR, OUTDOOR, GROUND), np.zeros(4 * 8760)))


def test_daily_wave_is_what_time_steps_give() -> None:
    # trapezoidal quarter hours over two days from the harmonic state: second order, (w dt)^2 / 12 = 4e-4
    system = System(section_body(SECTION, 1))
    theta, omega, dt = {INDOOR: 0.0, OUTDOOR: 5.0, GROUND: 3.0}, 365 * ANNUAL, 900.0
    wave = system.solve(theta, omega)
    assert system.heat is not None
    heat = sparse.diags(system.heat / dt)
    factors = symmetric_lu((heat + 0.5 * system.matrix).tocsc())
    now, load = wave.temperature.real, system.drive @ system.vector(theta)
    for step in range(192):
        drive = load * 0.5 * (np.cos(omega * dt * step) + np.cos(omega * dt * (step + 1)))
        now = factors.solve((heat - 0.5 * system.matrix) @ now + drive)
    expected = (wave.temperature * np.exp(1j * omega * dt * 192)).real
    assert np.abs(expected).max() > 2.0
    assert now == pytest.approx(expected, abs=0.005)


# RC states


def test_fit_finds_a_chain_that_is_one() -> None:
    made = 0.02 + 0.08 / (1 + 1j * NODES * 4e4) + 0.15 / (1 + 1j * NODES * 2e6)
    found = fit_rc(NODES, made, 2)
    assert (found.direct, *found.resistances) == pytest.approx((0.02, 0.08, 0.15), rel=1e-6)
    assert found.times == pytest.approx((4e4, 2e6), rel=1e-6)
    assert found.error < 1e-6


def test_three_states_follow_the_section_within_a_tenth() -> None:
    z = slice_impedance(condensed(), SECTION, 1.0, 1.3, NODES)
    found = fit_rc(NODES, z, 3)
    assert found.error < 0.10
    assert found.at(NODES) == pytest.approx(z, rel=0.10)
    assert min(found.resistances) > 0


def test_slices_exchange_with_neighbours_and_the_rest() -> None:
    between, rest = slice_network(condensed(), SECTION, [(0.0, 0.3), (1.0, 1.3), (1.8, 2.05), (2.15, 2.35)])
    assert between == pytest.approx(between.T, rel=1e-9)
    assert np.all(between[~np.eye(4, dtype=bool)] > 0)
    assert np.all(rest > 0)


def test_one_slice_alone_is_its_own_steady_impedance() -> None:
    # 0.3 m2 of face per metre of wall, over the rise per unit flux
    between, rest = slice_network(condensed(), SECTION, [(1.0, 1.3)])
    area = condensed().area[condensed().stretch(1.0, 1.3)].sum()
    rise = slice_impedance(condensed(), SECTION, 1.0, 1.3, np.array([0.0]))[0].real
    assert between.tolist() == [[0.0]]
    assert rest == pytest.approx([area / rise], rel=1e-10)


# Ground surface


def test_surface_without_snow_is_the_half_space_answer() -> None:
    # T = Te / (1 + R sqrt(i w k rho c)), Carslaw and Jaeger section 2.6
    n, film = 8760, 0.05
    wave = np.cos(2 * np.pi * np.arange(n) / n)
    gain = 1 / (1 + film * np.sqrt(1j * 2 * np.pi / YEAR * 1.5 * 2e6))
    expected = 6 + (12 * gain * np.exp(2j * np.pi * np.arange(n) / n)).real
    assert surface_year(6 + 12 * wave, film, SOIL) == pytest.approx(expected, abs=1e-7)


def test_snow_keeps_the_ground_warm_in_winter() -> None:
    air = 5 - 14 * np.cos(2 * np.pi * np.arange(8760) / 8760)
    snow = by_month([0.8, 0.8, 0.5, 0, 0, 0, 0, 0, 0, 0, 0.2, 0.6])
    bare, covered = surface_year(air, 0.05, SOIL), surface_year(air, 0.05 + snow, SOIL)
    assert covered.min() > bare.min() + 2
    assert covered.mean() > bare.mean() + 0.5
    # over a year the soil keeps nothing: the mean flux through the film vanishes
    assert np.mean((air - covered) / (0.05 + snow)) == pytest.approx(0.0, abs=1e-6)


def test_months_have_their_days() -> None:
    year = by_month(np.arange(12.0), 365)
    assert [int((year == m).sum()) for m in (0, 1, 11)] == [31, 28, 31]


# Frost


MEAN = {INDOOR: 20.0, OUTDOOR: 4.0, GROUND: 5.0}
SWING = {INDOOR: 0.0, OUTDOOR: -15.0, GROUND: -14.0}


def test_frost_bound_is_deeper_beside_the_insulated_wall_and_the_same_far_away() -> None:
    depth = []
    for section in (without_layers(SECTION), SECTION):
        system = System(section_body(section, 1))
        line = isotherm(system.grid, coldest(system.solve(MEAN), {1: system.solve(SWING, ANNUAL)}))[1]
        depth.append((line[np.searchsorted(system.grid.centres[0], 4.25)], line[-1]))
    (near_before, far_before), (near_after, far_after) = depth
    assert near_after < near_before - 0.1
    assert far_after == pytest.approx(far_before, abs=0.02)


def test_latent_heat_keeps_the_frost_shallower_than_the_bound() -> None:
    body = section_body(SECTION, 1)
    soil = FreezingGround(body, np.where(body.conductivity == SOIL.conductivity, 0.25, 0.0))
    steady, wave = soil.system.solve(MEAN), soil.system.solve(SWING, ANNUAL)
    years = {n: MEAN[n] + SWING[n] * np.cos(2 * np.pi * np.arange(365) / 365) for n in MEAN}
    start = np.real(steady.temperature + wave.temperature * np.exp(2j * np.pi * 270 / 365))
    winter = soil.march(start, years, 270, 200)
    bound = isotherm(body.grid, coldest(steady, {1: wave}))[1]
    assert winter.balance < 1e-8
    assert isotherm(body.grid, winter.coldest)[1][-1] > bound[-1] + 0.5
    assert np.nanmax(winter.frozen) == 1.0
    assert np.nanmin(winter.frozen) == 0.0


def test_thaws_and_freezes_of_a_rough_winter_converge_and_balance() -> None:
    # days scatter by 4 K about the season, so cells cross 0 C both ways; plain Newton steps cycle there
    body = section_body(SECTION, 1)
    soil = FreezingGround(body, np.where(body.conductivity == SOIL.conductivity, 0.25, 0.0))
    steady, wave = soil.system.solve(MEAN), soil.system.solve(SWING, ANNUAL)
    rough = np.random.default_rng(1).normal(0, 4, 365)
    years = {n: MEAN[n] + SWING[n] * np.cos(2 * np.pi * np.arange(365) / 365) for n in MEAN}
    years |= {n: years[n] + rough for n in (OUTDOOR, GROUND)}
    start = np.real(steady.temperature + wave.temperature * np.exp(2j * np.pi * 270 / 365))
    winter = soil.march(start, years, 270, 110)
    assert winter.iterations <= 15
    assert winter.balance < 1e-8


def test_freezing_takes_the_latent_heat() -> None:
    # 0.25 m3/m3 of water: 83.4 MJ/m3, against 20 MJ/m3 for 10 K at 2 MJ/(m3.K)
    grid = Grid((np.array([0.0, 1.0]), np.array([0.0, 1.0])))
    body = Body(
        grid, np.ones(grid.shape), [Patch("t", ((0, 0), (0, 1)), 0.0, {"a": 1.0})], (), np.full((1, 1), 2e6)
    )
    soil = FreezingGround(body, np.full((1, 1), 0.25))
    drop = soil.enthalpy(np.array([0.0])) - soil.enthalpy(np.array([-10.0]))
    assert drop == pytest.approx([0.25 * FUSION + 20e6], rel=1e-12)
    assert pytest.approx(83.4e6, rel=1e-3) == FUSION * 0.25


def test_isotherm_of_a_linear_profile() -> None:
    grid = Grid((np.array([0.0, 1.0]), graded([-4.0, 0.0], {0.0: 0.1}, 1.2)))
    field = (-2.0 - 3.0 * grid.centres[1])[None, :]
    assert isotherm(grid, field)[1] == pytest.approx([-2 / 3], abs=1e-12)
    assert np.isnan(isotherm(grid, field + 50)[1]).all()


def test_direct_and_multigrid_agree_on_a_small_plan() -> None:
    body = plan_body(replace(SECTION, rim_height=0.0), ANGLE, (), 1)
    one, other = (System(body).solve(WINTER, ANNUAL, method=m).flows["floor"] for m in Solver)
    assert one == pytest.approx(other, rel=1e-8)
