"""Compute functions of the checks on moist air, conduction and the ground.

Bodies of ISO 10211 annex C and of the slab cases of IEA Task 34 / Annex 43 are built here; their published
results are data. Each function gets one row's inputs in the units its data file states.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from warmside.checks.registry import Inputs, computes
from warmside.physics import air, ground_rules
from warmside.physics.conduction import Body, Patch, Solution, System
from warmside.physics.frost import FreezingGround
from warmside.physics.grid import Array, Box, Grid, graded
from warmside.physics.ground import (
    GROUND,
    INDOOR,
    OUTDOOR,
    Plan,
    Section,
    Zone,
    plan_body,
    richardson,
    section_body,
)
from warmside.physics.ground_rules import Soil
from warmside.physics.ground_surface import YEAR
from warmside.physics.response import ANNUAL

MM = 1e-3
FAR = 99.0
"""Beyond every model box [m]."""
BTU_R = 0.17611
"""One h.ft2.F/Btu [m2.K/W]."""
BTU_U = 5.67826
"""One Btu/(h.ft2.F) [W/(m2.K)]."""


def _filled(grid: Grid, start: float, parts: list[tuple[Box, float]]) -> Array:
    """Conductivity of each cell, later parts over earlier ones [W/(m.K)]."""
    k = np.full(grid.shape, start)
    for box, conductivity in parts:
        k[grid.inside(box)] = conductivity
    return k


# Moist air


@computes("saturation-water")
def _saturation_water(row: Inputs) -> float:
    return float(air.saturation_over_water(row.number("temperature")))


@computes("saturation-ice")
def _saturation_ice(row: Inputs) -> float:
    return float(air.saturation_over_ice(row.number("temperature")))


@computes("saturation-supercooled")
def _saturation_supercooled(row: Inputs) -> float:
    return float(air.saturation_over_water(row.number("temperature")))


@computes("dew-and-frost-point")
def _dew_point(row: Inputs) -> float:
    vapour = row.number("vapour")
    return float(air.frost_point(vapour) if vapour < 611.0 else air.dew_point(vapour))


@computes("wet-bulb")
def _wet_bulb(row: Inputs) -> float:
    return float(air.wet_bulb(row.number("temperature"), row.number("vapour")))


@computes("humidity-ratio")
def _humidity_ratio(row: Inputs) -> float:
    return float(air.humidity_ratio(row.number("vapour")))


@computes("moist-air-enthalpy")
def _enthalpy(row: Inputs) -> float:
    return float(air.enthalpy(row.number("temperature"), row.number("ratio"))) / 1000


@computes("moist-air-volume")
def _volume(row: Inputs) -> float:
    return float(air.specific_volume(row.number("temperature"), row.number("ratio")))


@computes("vapour-content")
def _vapour_content(row: Inputs) -> float:
    return 1000 * float(air.vapour_content(row.number("temperature"), row.number("vapour")))


@computes("stack-two-openings")
def _stack(row: Inputs) -> float:
    low, high = (
        air.Opening.orifice(0.0, row.number("low")),
        air.Opening.orifice(row.number("rise"), row.number("high")),
    )
    found = air.leakage([low, high], row.number("inside"), row.number("outside"))
    return row.number("rise") * found.differences[0] / (found.differences[0] - found.differences[1])


# ISO 10211


@lru_cache
def half_column(exact: bool) -> Solution:
    """Case 1 on a unit square of half width; with smaller cells for the exact series."""
    cells = 160 if exact else 40
    grid = Grid((np.linspace(0, 0.5, cells // 2 + 1), np.linspace(0, 1, cells + 1)))
    hot = Patch("hot", ((0, 0.5), (1, 1)), 0.0, {"hot": 1.0})
    cold = [Patch("cold", box, 0.0, {"cold": 1.0}) for box in (((0, 0), (0, 1)), ((0, 0.5), (0, 0)))]
    body = Body(grid, np.ones(grid.shape), [hot, *cold])
    return System(body).solve({"hot": 20.0, "cold": 0.0})


def _column_point(row: Inputs, exact: bool) -> float:
    point = (row.number("column") / 8, 1 - row.number("line") / 8)
    return float(np.real(half_column(exact).at([point])[0]))


@computes("iso10211-case1")
def _case1(row: Inputs) -> float:
    return _column_point(row, exact=False)


@computes("square-column-series")
def _case1_exact(row: Inputs) -> float:
    return _column_point(row, exact=True)


@lru_cache
def thin_metal() -> Solution:
    """Case 2: insulation with a metal web."""
    edge = {e * MM: s * MM for e, s in ((6, 0.5), (11, 0.5), (12.5, 0.5), (46, 0.5))}
    x = graded(
        [e * MM for e in (0, 1.5, 15, 500)],
        {0.0: 0.5 * MM, 1.5 * MM: 0.5 * MM, 15 * MM: 0.4 * MM},
        1.3,
        20 * MM,
        2,
    )
    y = graded([0.0, *edge, 47.5 * MM], edge, 1.3, 5 * MM, 2)
    grid = Grid((x, y))
    parts: list[tuple[Box, float]] = [
        (((0, 0.5), (0, 0.006)), 1.15),
        (((0, 0.015), (0.006, 0.011)), 0.12),
        (((0, 0.015), (0.011, 0.0125)), 230.0),
        (((0, 0.0015), (0.0125, 0.046)), 230.0),
        (((0, 0.5), (0.046, 0.0475)), 230.0),
    ]
    outside = Patch("outside", ((0, 0.5), (0, 0)), 0.06, {"outside": 1.0})
    inside = Patch("inside", ((0, 0.5), (0.0475, 0.0475)), 0.11, {"inside": 1.0})
    return System(Body(grid, _filled(grid, 0.029, parts), [outside, inside])).solve(
        {"outside": 0.0, "inside": 20.0}
    )


@computes("iso10211-case2")
def _case2(row: Inputs) -> float:
    return float(np.real(thin_metal().at([(row.number("x") * MM, row.number("y") * MM)])[0]))


@computes("iso10211-case2-flow")
def _case2_flow(row: Inputs) -> float:
    return float(np.real(thin_metal().flows[row.text("face")]))


@lru_cache
def balcony() -> tuple[System, tuple[Solution, ...]]:
    """Case 3: balcony slab at a corner with two rooms; a solution per environment at 1."""
    x = graded([-0.1, 0, 0.05, 0.2, 1.2], {-0.1: 0.02, 0.0: 0.02, 0.05: 0.02, 0.2: 0.01}, 1.35, 0.3, 2)
    y = graded([-0.7, -0.1, 0, 0.05, 0.2, 1.2], {-0.1: 0.01, 0.0: 0.02, 0.05: 0.02, 0.2: 0.01}, 1.35, 0.3, 2)
    z = graded([0, 1, 1.15, 1.2, 2.15], {1.0: 0.01, 1.15: 0.01, 1.2: 0.01}, 1.35, 0.3, 2)
    grid = Grid((x, y, z))
    parts: list[tuple[Box, float]] = [
        (((-0.1, 0), (-0.1, FAR), (0, FAR)), 1.0),
        (((-0.1, FAR), (-0.1, 0), (0, FAR)), 1.0),
        (((0, 0.05), (0, FAR), (0, FAR)), 0.04),
        (((0, FAR), (0, 0.05), (0, FAR)), 0.04),
        (((0.05, 0.2), (0.05, FAR), (0, FAR)), 0.7),
        (((0.05, FAR), (0.05, 0.2), (0, FAR)), 0.7),
        (((0.05, FAR), (-0.7, FAR), (1, 1.15)), 2.5),
        (((0.2, FAR), (0.2, FAR), (1.15, 1.2)), 1.0),
    ]
    cut = 1.2 - 1e-6
    patches = [
        Patch("alpha", ((0.2, cut), (0.2, cut), (0, 1)), 0.20, {"alpha": 1.0}),
        Patch("beta", ((0.2, cut), (0.2, cut), (1.2, 2.15)), 0.20, {"beta": 1.0}),
        Patch("gamma", ((-0.1, -0.1), (-0.1, cut), (0, 2.15)), 0.05, {"gamma": 1.0}),
        Patch("gamma", ((-0.1, cut), (-0.7, -0.1), (0, 2.15)), 0.05, {"gamma": 1.0}),
    ]
    system = System(Body(grid, _filled(grid, np.nan, parts), patches))
    return system, tuple(system.units())


ROOMS = {"alpha": 20.0, "beta": 15.0, "gamma": 0.0}
CORNERS = {"alpha": (0.2, 0.2, 1.0), "beta": (0.2, 0.2, 1.2)}


def _weights(corner: str) -> dict[str, float]:
    system, units = balcony()
    return {
        name: float(np.real(u.at([CORNERS[corner]])[0]))
        for name, u in zip(system.environments, units, strict=True)
    }


def _balcony_coupling(one: str, other: str) -> float:
    system, units = balcony()
    return -float(np.real(units[system.environments.index(other)].flows[one]))


@computes("iso10211-case3-flows")
def _case3_flows(row: Inputs) -> float:
    place = row.text("environment")
    return abs(
        sum(_balcony_coupling(place, name) * (ROOMS[place] - t) for name, t in ROOMS.items() if name != place)
    )


@computes("iso10211-case3-temperatures")
def _case3_temperatures(row: Inputs) -> float:
    return sum(share * ROOMS[name] for name, share in _weights(row.text("corner")).items())


@computes("iso10211-case3-coupling")
def _case3_coupling(row: Inputs) -> float:
    return _balcony_coupling(row.text("one"), row.text("other"))


@computes("iso10211-case3-weights")
def _case3_weights(row: Inputs) -> float:
    return _weights(row.text("corner"))[row.text("environment")]


@lru_cache
def iron_bar() -> Solution:
    """Case 4, a quarter of it: x, y from the bar's axis, z from the outside into the room."""
    x = graded([0, 0.05, 0.5], {0.05: 0.008}, 1.4, 0.1, 2)
    y = graded([0, 0.025, 0.5], {0.025: 0.008}, 1.4, 0.1, 2)
    z = graded([0, 0.2, 0.6], {0.0: 0.01, 0.2: 0.01}, 1.4, 0.05, 2)
    grid = Grid((x, y, z))
    parts: list[tuple[Box, float]] = [
        (((0, FAR), (0, FAR), (0, 0.2)), 0.1),
        (((0, 0.05), (0, 0.025), (0, 0.6)), 50.0),
    ]
    outside = Patch("outside", ((0, 0.5), (0, 0.5), (0, 0)), 0.10, {"outside": 1.0})
    inside = Patch("inside", ((1e-6, 0.5 - 1e-6), (1e-6, 0.5 - 1e-6), (0.2, 0.6)), 0.10, {"inside": 1.0})
    return System(Body(grid, _filled(grid, np.nan, parts), [outside, inside])).solve(
        {"outside": 0.0, "inside": 1.0}
    )


@computes("iso10211-case4-flow")
def _case4_flow(row: Inputs) -> float:
    return 4 * float(np.real(iron_bar().flows[row.text("face")]))


@computes("iso10211-case4-temperature")
def _case4_temperature(row: Inputs) -> float:
    return float(np.real(iron_bar().on_patch(row.text("face"))[1].max()))


# Slabs on the ground


def slab_linear(half: float, wall: float, reach: float, density: int) -> Body:
    """A quarter of a square slab, its surface temperature linear under the wall, mitred at the corner.

    half : half width of the floor [m]
    wall : thickness of the wall [m]
    reach : soil beyond and below [m]
    density : of the grid [-]
    """
    far = half + wall + reach
    x = graded([0, half, half + wall, far], {half: wall / 4, half + wall: wall / 4}, 1.7, far / 3, density)
    z = graded([-reach, 0], {0.0: wall / 4}, 1.7, far / 3, density)
    grid = Grid((x, x, z))

    def indoor(points: Array) -> Array:
        return np.clip(1 - (np.maximum(points[:, 0], points[:, 1]) - half) / wall, 0, 1)

    top = Patch(
        "floor", ((0, half), (0, half), (0, 0)), 0.0, {INDOOR: indoor, OUTDOOR: lambda p: 1 - indoor(p)}
    )
    rest = Patch(
        "ground", ((0, far), (0, far), (0, 0)), 0.0, {INDOOR: indoor, OUTDOOR: lambda p: 1 - indoor(p)}
    )
    return Body(grid, np.full(grid.shape, 1.9), [top, rest])


def slab_films(indoor: float, outdoor: float, beyond: float, deep: float, density: int) -> Body:
    """A quarter of the 12 m slab with an adiabatic wall base of 0.24 m, films, and fixed deep ground.

    indoor, outdoor : surface coefficients; infinite for a surface held at temperature [W/(m2.K)]
    beyond : soil beside the wall [m]
    deep : depth of the ground at outdoor temperature [m]
    density : of the grid [-]
    """
    far = 6.24 + beyond
    x = graded([0, 6, 6.24, far], {6.0: 0.06, 6.24: 0.06}, 1.8, far / 3, density)
    grid = Grid((x, x, graded([-deep, 0], {0.0: 0.04}, 1.8, far / 3, density)))
    patches = [
        Patch("floor", ((0, 6), (0, 6), (0, 0)), 1 / indoor, {INDOOR: 1.0}),
        Patch("base", ((0, 6.24), (0, 6.24), (0, 0)), np.inf, {INDOOR: 1.0}),
        Patch("ground", ((0, far), (0, far), (0, 0)), 1 / outdoor, {OUTDOOR: 1.0}),
        Patch("deep", ((0, far), (0, far), (-deep, -deep)), 0.0, {OUTDOOR: 1.0}),
    ]
    return Body(grid, np.full(grid.shape, 1.9), patches)


def floor_loss(build: Callable[[int], Body], indoor: float = 30.0, outdoor: float = 10.0) -> float:
    """Heat through the patch "floor", extrapolated from two nested grids [W].

    build : density -> body
    indoor, outdoor : temperatures [C]
    """
    theta = {INDOOR: indoor, OUTDOOR: outdoor}
    coarse, fine = (float(np.real(System(build(d)).solve(theta).flows["floor"])) for d in (1, 2))
    return richardson(coarse, fine).value


@computes("slab-linear-edge")
def _slab_linear(row: Inputs) -> float:
    half, wall = row.number("width") / 2, row.number("wall")
    return 4 * floor_loss(lambda d: slab_linear(half, wall, 20 * half, d))


@computes("slab-with-films")
def _slab_films(row: Inputs) -> float:
    h_in, h_out, beyond, deep = (row.number(n) for n in ("indoor", "outdoor", "beyond", "deep"))
    return 4 * floor_loss(lambda d: slab_films(h_in, h_out, beyond, deep, d))


def _strip(half: float, wall: float, density: int) -> Body:
    """Half of an endless slab on soil of conductivity 1, temperature linear under the wall."""
    far = 200 * half
    x = graded([0, half, half + wall, far], {half: wall / 10, half + wall: wall / 10}, 1.3, far / 10, density)
    grid = Grid((x, graded([-far, 0], {0.0: wall / 10}, 1.3, far / 10, density)))

    def indoor(points: Array) -> Array:
        return np.clip(1 - (points[:, 0] - half) / wall, 0, 1)

    drive = {INDOOR: indoor, OUTDOOR: lambda p: 1 - indoor(p)}
    return Body(
        grid,
        np.ones(grid.shape),
        [Patch("floor", ((0, half), (0, 0)), 0.0, drive), Patch("g", ((0, far), (0, 0)), 0.0, drive)],
    )


@computes("slab-strip-closed-form")
def _slab_strip(row: Inputs) -> float:
    return 2 * floor_loss(lambda d: _strip(row.number("width") / 2, row.number("wall"), d), 1.0, 0.0)


# Shape factors


def hollow(half: float, thickness: float, dim: int, density: int) -> Body:
    """A quarter of a square channel, or an eighth of a box, of conductivity 1.

    half : half the inner width [m]
    thickness : of the walls [m]
    dim : 2 for the channel, per metre; 3 for the box
    density : of the grid [-]
    """
    axis = graded(
        [0, half, half + thickness],
        {half: thickness / 16, half + thickness: thickness / 8},
        1.2,
        half / 4,
        density,
    )
    grid = Grid((axis,) * dim)
    k = np.ones(grid.shape)
    k[grid.inside(((0, half),) * dim)] = np.nan
    end = half + thickness
    skin = [
        Patch("out", tuple((end, end) if a == axis else (0, end) for a in range(dim)), 0.0, {"out": 1.0})
        for axis in range(dim)
    ]
    return Body(grid, k, [Patch("in", ((1e-6, half),) * dim, 0.0, {"in": 1.0}), *skin])


def _hollow_factor(half: float, thickness: float, dim: int) -> float:
    """Shape factor of the whole channel or box, extrapolated [m]."""
    theta = {"in": 1.0, "out": 0.0}
    flows = [float(np.real(System(hollow(half, thickness, dim, d)).solve(theta).flows["in"])) for d in (1, 2)]
    return richardson(flows[0], flows[1]).value * float(2**dim)


@computes("shape-factor-channel")
def _shape_channel(row: Inputs) -> float:
    inner, outer = row.number("inner"), row.number("outer")
    return _hollow_factor(inner / 2, (outer - inner) / 2, 2)


@computes("shape-factor-box")
def _shape_box(row: Inputs) -> float:
    return _hollow_factor(row.number("inner") / 2, row.number("thickness"), 3)


# Half-space


def _column(conductivity: float, capacity: float, film: float, depth: float, first: float) -> Body:
    x = graded([0, depth], {0.0: first}, 1.03, depth / 20)
    grid = Grid((x, np.array([0.0, 1.0])))
    top = Patch("top", ((0, 0), (0, 1)), film, {"air": 1.0})
    return Body(grid, np.full(grid.shape, conductivity), [top], (), np.full(grid.shape, capacity))


@computes("half-space-step")
def _half_space_step(row: Inputs) -> float:
    alpha, x, time, film = (row.number(n) for n in ("diffusivity", "depth", "time", "film"))
    reach = 8 * np.sqrt(alpha * time)
    body = _column(1.5, 1.5 / alpha, film, reach + x, reach / 400)
    column = FreezingGround(body, np.zeros(body.grid.shape))
    now, drive = np.zeros(column.system.size), column.system.drive[:, 0]
    ends = time * np.linspace(0, 1, 161) ** 2
    for step in np.diff(ends):
        now, _ = column.step(now, drive, float(step))
    return float(np.interp(x, body.grid.centres[0], now))


@computes("half-space-wave")
def _half_space_wave(row: Inputs) -> float:
    alpha, depth = row.number("diffusivity"), row.number("depth")
    body = _column(1.5, 1.5 / alpha, 0.0, 30.0, 0.02)
    wave = System(body).solve({"air": 1.0}, ANNUAL).at([(depth, 0.5)])[0]
    values = {"amplitude": abs(wave), "lag": -np.angle(wave) / (2 * np.pi) * 365}
    return float(values[row.text("quantity")])


@computes("half-space-flux-wave")
def _half_space_flux(row: Inputs) -> float:
    body = _column(
        row.number("conductivity"), row.number("conductivity") / row.number("diffusivity"), 0.0, 3.0, 0.001
    )
    heat = System(body).solve({"air": row.number("amplitude")}, 2 * np.pi / 86400).flows["top"]
    return float(abs(heat))


@computes("penetration-depth")
def _penetration(row: Inputs) -> float:
    periods = {"day": 86400.0, "year": YEAR}
    return Soil(row.number("diffusivity") * 1e6, 1e6).penetration(periods[row.text("period")])


@computes("undisturbed-ground")
def _undisturbed(row: Inputs) -> float:
    return float(ground_rules.undisturbed(row.number("depth"), row.number("day"), 10.0, 12.0, 35.0, 0.05))


@computes("undisturbed-ground-solved")
def _undisturbed_solved(row: Inputs) -> float:
    alpha = 0.05 / 86400
    body = _column(1.5, 1.5 / alpha, 0.0, 40.0, 0.02)
    wave = System(body).solve({"air": -12.0}, ANNUAL).at([(row.number("depth"), 0.5)])[0]
    return float(10 + (wave * np.exp(2j * np.pi * (row.number("day") - 35) / 365)).real)


@computes("freezing-front")
def _freezing_front(row: Inputs) -> float:
    body = _column(row.number("conductivity"), row.number("capacity"), 0.0, 6.0, 0.01)
    soil = FreezingGround(body, np.full(body.grid.shape, row.number("water")))
    days = round(row.number("days"))
    winter = soil.march(
        np.zeros(soil.system.size), {"air": np.full(2 * 365, row.number("surface"))}, 0, 2 * days
    )
    return float(winter.frozen[:, 0] @ np.diff(body.grid.faces[0]))


# Published formulas


@computes("iso13370-basement-floor")
def _iso13370_floor(row: Inputs) -> float:
    thickness = ground_rules.equivalent_thickness(0.3, 1.5, 0.21)
    return ground_rules.slab_u(2 / row.number("ratio"), thickness, 1.5, row.number("depth"))


@computes("iso13370-basement-wall")
def _iso13370_wall(row: Inputs) -> float:
    wall = ground_rules.equivalent_thickness(0.0, 1.5, row.number("resistance") + 0.17)
    floor = ground_rules.equivalent_thickness(0.3, 1.5, 0.21)
    return ground_rules.basement_wall_u(row.number("depth"), wall, floor, 1.5)


@computes("below-grade-wall")
def _below_grade_wall(row: Inputs) -> float:
    return ground_rules.ashrae_wall_u(0.0, row.number("depth"), 0.26 + row.number("insulation"))


@computes("below-grade-floor")
def _below_grade_floor(row: Inputs) -> float:
    return ground_rules.ashrae_floor_u(row.number("width"), row.number("depth"), 0.2745)


@computes("path-length-wall")
def _path_length(row: Inputs) -> float:
    resistance = (1.62 + 4.17 * row.number("inches")) * BTU_R
    path = row.number("path") * 0.3048
    return float(ground_rules.path_length_u(path, resistance, 0.8 * 0.3048 / BTU_R)) / BTU_U


# Balances and orders


@computes("energy-balance")
def _balance(row: Inputs) -> float:
    section = Section(4.0, 2.4, 0.3, Soil(1.5, 2e6), wall=(Zone(0.0, 2.7, 2.5),))
    plan = Plan(((0, 0), (12, 0), (12, 5), (7, 5), (7, 9), (0, 9)))
    bodies = {"section": lambda: section_body(section), "plan": lambda: plan_body(section, plan, density=1)}
    system = System(bodies[row.text("body")]())
    return system.solve({INDOOR: 20.0, OUTDOOR: -5.0, GROUND: 3.0}, row.number("frequency") * ANNUAL).residual


def two_layers(cells: int) -> float:
    """Largest error on a square of two materials with a known answer.

    k u = (x - 1/2) sin(pi x) sin(pi y), k jumping from 1 to 4 at x = 1/2, where u and its flux are
    continuous; the heat that makes it the answer is released in the cells.

    cells : along each side [-]
    """
    grid = Grid((np.linspace(0, 1, cells + 1), np.linspace(0, 1, cells + 1)))
    k = np.broadcast_to(np.where(grid.centres[0] < 0.5, 1.0, 4.0)[:, None], grid.shape).copy()
    edges: tuple[Box, ...] = (((0, 0), (0, 1)), ((1, 1), (0, 1)), ((0, 1), (0, 0)), ((0, 1), (1, 1)))
    skin = [Patch("skin", box, 0.0, {"air": 1.0}) for box in edges]
    x, y = grid.mesh()
    bump = np.sin(np.pi * x) * np.sin(np.pi * y)
    exact = (x - 0.5) * bump / k
    slope = np.pi * np.cos(np.pi * x) * np.sin(np.pi * y)
    source = -(2 * slope - 2 * np.pi**2 * (x - 0.5) * bump) * grid.volume
    system = System(Body(grid, k, skin))
    found = system.solve({"air": 0.0}, sources=source[system.solid])
    return float(np.abs(found.field - exact).max())


@computes("order-of-convergence")
def _order(row: Inputs) -> float:
    cells = round(row.number("cells"))
    return float(np.log2(two_layers(cells) / two_layers(2 * cells)))
