"""Compute functions of the checks on heat and moisture through walls: materials, and the march of the kernel.

Small walls with known answers are built here; what they should give is data. Walls whose face is held wet
have a first cell thin as a film, wetted at a great rate.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from warmside.checks.registry import Inputs, computes
from warmside.physics import air, materials
from warmside.physics.conduction import Numbers
from warmside.physics.forcing import Forcing, forcing, steady
from warmside.physics.grid import graded
from warmside.physics.ground import Section, Zone, without_layers
from warmside.physics.ground_rules import Soil
from warmside.physics.marching import LEDGER, USUAL, Accuracy, Histories, initial, march_walls
from warmside.physics.materials import (
    EN_15026_MATERIAL,
    Conductivity,
    Isotherm,
    Liquid,
    Material,
    Membrane,
    Vapour,
)
from warmside.physics.moist_wall import FREE_LOG, Array, End, Face, Layer, Wall, cut, film
from warmside.physics.response import NODES, Condensed, slice_impedance
from warmside.physics.soil_impedance import Ladder, Slab, fit_soil, slice_open
from warmside.physics.water import EN_15026, WATER, Water

HELD = End(0.0, 0.0)
"""A face held at the state of the air."""
SEALED = End(0.0, 1e30)
"""A face held at the air's temperature that passes no vapour."""
HEAT_ONLY = Material("stone", 2.0e6, Conductivity(2.0), Isotherm(1e-6, -17.0, 1.0, 1.0), Vapour(1e-9))
MEGAWATT = 1e6
"""A conductance that holds a cell at a temperature [W/(m2.K)]."""


def saturation_pressure(water: Water, temperature: float) -> float:
    """Saturation pressure over liquid water [Pa].

    water : functions of water
    temperature : -45 to 75 [C]
    """
    return float(np.exp(water.log_saturation(np.array(temperature))[0]))


def run_one(
    wall: Wall,
    driven: Forcing,
    start: tuple[float, float],
    faces: Sequence[Face] = (),
    water: Water = WATER,
    accuracy: Accuracy = USUAL,
) -> Histories:
    """One wall from a uniform start.

    wall : what is marched
    driven : what drives it
    start : temperature [C] and humidity [-] of all cells
    faces : whose histories are wanted
    water : functions of water
    accuracy : of the march

    Raises ArithmeticError where it could not be marched.
    """
    out = march_walls([wall], [driven], initial([wall], *start, water), faces, accuracy, water=water)
    for fault in out.faults:
        raise ArithmeticError(f"the march stopped at hour {fault.hour}, cell {fault.cell}")
    return out


def steady_air(
    water: Water, hours: int, outdoor: tuple[float, float], room: tuple[float, float], **others: float
) -> Forcing:
    """Steady forcing whose vapour pressures follow the given functions of water.

    water : functions of water
    hours : of the forcing [h]
    outdoor : temperature [C] and humidity [-]
    room : temperature [C] and humidity [-]
    others : as forcing.steady takes them
    """
    driven = steady(hours, outdoor, room, **others)
    pressures = [humidity * saturation_pressure(water, t) for t, humidity in (outdoor, room)]
    rows = [np.full(hours + 1, pressure) for pressure in pressures]
    return replace(driven, outdoor_vapour=rows[0], room_vapour=rows[1])


def wet_faces(
    material: Material, widths: Array, suctions: Sequence[float | None], ends: tuple[End, End]
) -> Wall:
    """One layer, whose first and last cell are held wet.

    material : of the layer
    widths : of its cells [m]
    suctions : ln of the suction at which each face is held, None where it is not [-]
    ends : films at both ends
    """
    edges = [[] if s is None else [1e-9] for s in suctions]
    row = np.concatenate([edges[0], widths, edges[1]])
    wall = Wall((Layer(material, float(row.sum())),), (row,), *ends)
    wetting, at = np.zeros(wall.cells), np.full(wall.cells, 10.0)
    for cell, suction in zip((0, -1), suctions, strict=True):
        if suction is not None:
            wetting[cell], at[cell] = 1.0, suction
    return replace(wall, wetting=wetting, wetting_suction=at)


# Materials


@computes("pore-water-saturation")
def _short_saturation(row: Inputs) -> float:
    return saturation_pressure(WATER, row.number("temperature"))


@computes("pore-water-ice")
def _ice(row: Inputs) -> float:
    t = np.array(row.number("temperature"))
    suction = WATER.liquid_suction(t, np.array(1.0))[0]
    return float(WATER.vapour_pressure(t, suction))


@computes("still-air-permeability")
def _still_air(row: Inputs) -> float:
    return float(WATER.air_permeability(np.array(row.number("temperature"))))


@computes("concrete-sorption")
def _concrete_sorption(row: Inputs) -> float:
    curve = materials.isotherm("concrete", row.text("branch"))
    return float(curve.content(WATER.log_suction(np.array(23.0), np.array(row.number("humidity")))) / 2200.0)


@computes("concrete-permeability")
def _concrete_permeability(row: Inputs) -> float:
    relative = materials.material("concrete").vapour.relative(np.array(row.number("humidity")), np.array(0.0))
    return float(WATER.air_permeability(np.array(23.0)) * relative)


@computes("concrete-conductivity")
def _concrete_conductivity(row: Inputs) -> float:
    return float(
        materials.material("concrete").conductivity.at(
            np.array(10.0), np.array(2200.0 * row.number("moisture"))
        )
    )


@computes("wood-moisture-curve")
def _wood_moisture(row: Inputs) -> float:
    wood = materials.material("softwood")
    log_suction = WATER.log_suction(np.array(20.0), np.array(row.number("humidity")))
    return float(wood.isotherm.content(log_suction)) / 450.0 * 100.0


# EN 15026 annex A and HAMSTAD 2


@lru_cache(maxsize=3)
def _annex_a(days: int) -> tuple[Array, Array, Array]:
    """Depths, contents and temperatures of the half-space, and its uptake last among the contents."""
    log_wet = float(EN_15026.log_suction(np.array(30.0), np.array(0.95)))
    widths = np.diff(graded([0.0, 60.0], {0.0: 1.2e-4 * np.sqrt(days / 7.0)}, 1.07, 3.0))
    wall = wet_faces(EN_15026_MATERIAL, widths, (log_wet, None), (HELD, HELD))
    driven = steady_air(EN_15026, 24 * days, (30.0, 0.95), (20.0, 0.5), wet_share=1.0)
    out = run_one(wall, driven, (20.0, 0.5), water=EN_15026)
    state = out.state[0]
    content = EN_15026_MATERIAL.isotherm.content(state[:, 1])
    before = EN_15026_MATERIAL.isotherm.content(EN_15026.log_suction(np.array(20.0), np.array(0.5)))
    uptake = float((out.water[0, -1, 0] - before * wall.width.sum()) / np.sqrt(days))
    return wall.centres, np.append(content, uptake), state[:, 0]


@computes("en15026-uptake")
def _annex_a_uptake(row: Inputs) -> float:
    return float(_annex_a(int(row.number("days")))[1][-1])


@computes("en15026-moisture")
def _annex_a_moisture(row: Inputs) -> float:
    depth, content, _ = _annex_a(int(row.number("days")))
    return float(np.interp(row.number("depth"), depth, content[:-1]))


@computes("en15026-temperature")
def _annex_a_temperature(row: Inputs) -> float:
    depth, _, temperature = _annex_a(int(row.number("days")))
    return float(np.interp(row.number("depth"), depth, temperature))


def _hamstad_material() -> Material:
    """w = 116 / (1 - ln(phi) / 0.118)^0.869 at 20 C and a constant diffusivity of 6e-10 m2/s."""
    kelvin, power = float(WATER.kelvin(np.array(20.0))), 0.869
    curve = Isotherm(116.0, -float(np.log(0.118 * kelvin)), 1.0, power)
    liquid = Liquid((float(np.log(6e-10 * power * 116.0 / (0.118 * kelvin))),), (power + 1.0) / power)
    return Material("HAMSTAD 2", 2.0e6, Conductivity(1.0), curve, Vapour(1e-9), liquid)


@lru_cache(maxsize=1)
def _hamstad() -> tuple[Wall, Histories, dict[int, Array]]:
    logs = [float(WATER.log_suction(np.array(20.0), np.array(phi))) for phi in (0.45, 0.65)]
    half = np.diff(graded([0.0, 0.1], {0.0: 2e-4}, 1.05, 3e-3))
    material = _hamstad_material()
    wall = wet_faces(material, np.concatenate([half, half[::-1]]), logs, (SEALED, SEALED))
    profiles, state = {}, initial([wall], 20.0, 0.95)
    reached = 0
    for hours in (100, 300, 1000):
        driven = steady(hours - reached, (20.0, 0.45), (20.0, 0.65), wet_share=1.0)
        out = march_walls([wall], [driven], state)
        state, reached = out.state, hours
        profiles[hours] = material.isotherm.content(state[0, :, 1])
    return wall, out, profiles


@computes("hamstad2-profile")
def _hamstad_profile(row: Inputs) -> float:
    wall, _, profiles = _hamstad()
    return float(np.interp(row.number("depth"), wall.centres, profiles[int(row.number("hours"))]))


@computes("hamstad2-total")
def _hamstad_total(row: Inputs) -> float:
    wall, _, profiles = _hamstad()
    return float((profiles[int(row.number("hours"))] * wall.width).sum())


# Vapour and latent heat


def dew_point_water(latent: bool) -> Water:
    """Functions of the dew-point method: ISO 13788 saturation, constant permeability of air.

    latent : whether water carries heat
    """
    plain = replace(
        EN_15026, diffusion=(2e-10, 0.0, 0.0, 0.0), vapour_heat=WATER.vapour_heat, vaporisation=2.501e6
    )
    return (
        plain if latent else replace(plain, vapour_heat=0.0, vaporisation=0.0, liquid_heat=0.0, ice_heat=0.0)
    )


def diffusing(name: str, conductivity: float, mu: float) -> Material:
    """A material that stores little and passes vapour by a constant resistance.

    name : for messages
    conductivity : of heat [W/(m.K)]
    mu : resistance to vapour over that of still air [-]
    """
    return Material(name, 2e4, Conductivity(conductivity), Isotherm(0.5, -13.07, 1.0, 1.0), Vapour(1.0 / mu))


@computes("dew-point-condensation")
def _condensation(row: Inputs) -> float:
    water = dew_point_water(latent=False)
    board, wool, sheet = (
        diffusing("board", 0.13, 50.0),
        diffusing("wool", 0.036, 1.0),
        diffusing("sheet", 0.25, 10.0),
    )
    wall = cut((Layer(board, 0.011), Layer(wool, 0.14), Layer(sheet, 0.0125)), HELD, HELD, growth=1.3)
    wall = replace(wall, film_limit=np.full(wall.cells, np.inf))
    outdoor = (row.number("outdoor"), row.number("outdoor_humidity"))
    room = (row.number("room"), row.number("room_humidity"))
    out = run_one(wall, steady_air(water, 24 * 40, outdoor, room), (outdoor[0], outdoor[1]), water=water)
    day = out.free[0, -1].sum() - out.free[0, -25].sum()
    return float(1000.0 * day)


@lru_cache(maxsize=1)
def _between_wet_faces() -> tuple[float, float]:
    """Vapour [kg/(m2.s)] and all heat [W/m2] through 89 mm between faces at 25 and 21 C, 99 % RH."""
    water, hours = dew_point_water(latent=True), 24 * 10
    wall = cut((Layer(diffusing("wool", 0.036, 1.0), 0.089),), HELD, HELD, growth=1.3)
    driven = steady_air(water, hours, (25.0, 0.99), (21.0, 0.99))
    ledgers = [
        run_one(wall, steady_air(water, h, (25.0, 0.99), (21.0, 0.99)), (23.0, 0.9), water=water).ledger[0]
        for h in (hours - 24, driven.hours)
    ]
    vapour, energy = [
        float(ledgers[1][row] - ledgers[0][row]) / 86400.0
        for row in (LEDGER.index("water_outer"), LEDGER.index("energy_outer"))
    ]
    return vapour, energy


@computes("vapour-between-wet-faces")
def _vapour_between(row: Inputs) -> float:
    grams = _between_wet_faces()[0] * 86.4e6
    return float(grams / row.number("humidity"))


@computes("heat-between-wet-faces")
def _heat_between(row: Inputs) -> float:
    vapour, energy = _between_wet_faces()
    water = dew_point_water(latent=True)
    latent = vapour * (water.vaporisation + (water.vapour_heat - water.liquid_heat) * 23.0)
    liquid = vapour * water.liquid_heat * 23.0
    parts = {"latent": latent / 0.99, "conducted": energy - latent - liquid}
    return parts[row.text("part")]


@computes("membrane-in-series")
def _membrane(row: Inputs) -> float:
    """Permeance of wool and membrane together, from a steady march."""
    base, rise, steepness = (
        row.number(name) * scale for name, scale in (("base", 1e-12), ("rise", 1e-12), ("steepness", 1.0))
    )
    wool = materials.material("glass_fibre_batt")
    sheet = Membrane("membrane", base, rise, steepness)
    wall = cut((Layer(wool, 0.05, inward=sheet), Layer(wool, 0.05)), HELD, HELD, growth=1.5)
    ledger = [
        run_one(wall, steady_air(WATER, h, (20.0, 0.3), (20.0, 0.7)), (20.0, 0.5)).ledger[0][0]
        for h in (480, 504)
    ]
    drop = 0.4 * saturation_pressure(WATER, 20.0)
    return float(-(ledger[1] - ledger[0]) / 86400.0 / drop * 1e12)


# Air, wet bulb, frost


@computes("leak-condensation")
def _leak(row: Inputs) -> float:
    """Air led past a cold plate gives up what it can't hold."""
    plate = Material("plate", 1e6, Conductivity(100.0), Isotherm(1e-3, -13.07, 1.0, 1.0), Vapour(1e-9))
    wall = cut((Layer(plate, 0.01),), SEALED, SEALED, surface=1e-3)
    flow = 1.2e-3 * row.number("flow")
    cold = row.number("plate")
    wall = replace(
        wall,
        room_air=wall.at(wall.cells - 1, flow),
        beside=np.full(wall.cells, MEGAWATT),
        film_limit=np.full(wall.cells, np.inf),
    )
    room = (row.number("room"), row.number("humidity"))
    driven = steady(48, (cold, 0.5), (cold, 0.5), beside=cold, room_share=1.0)
    brought = np.full(49, air.vapour_pressure(*room))
    driven = replace(driven, room=np.full(49, room[0]), room_vapour=brought)
    wall = replace(wall, inner=End(1e6, 1e30))
    free = run_one(wall, driven, (cold, 0.9)).free[0]
    return float(1000.0 * (free[-1].sum() - free[-25].sum()))


@computes("wet-face-wet-bulb")
def _wet_face(row: Inputs) -> float:
    """A wet plate in a stream of air and nothing else."""
    plate = Material("plate", 1e5, Conductivity(100.0), Isotherm(1e-3, -13.07, 1.0, 1.0), Vapour(1e-9))
    wall = cut((Layer(plate, 0.01),), End(1e9, 1e30), End(1e9, 1e30), surface=1e-3)
    wall = replace(wall, room_air=np.full(wall.cells, 0.01), film_limit=np.full(wall.cells, np.inf))
    t, humidity = row.number("temperature"), row.number("humidity")
    driven = steady(6, (t, humidity), (t, humidity), room_share=1.0)
    state = initial([wall], t, humidity)
    state[:, :, 1] = FREE_LOG - 500.0
    out = march_walls([wall], [driven], state)
    return float(out.state[0, -1, 0])


@computes("frosted-face-vapour")
def _frosted(row: Inputs) -> float:
    """A plate with frost on its face, held cold: what goes through a tight film to dry air."""
    plate = Material("plate", 1e6, Conductivity(100.0), Isotherm(1e-3, -13.07, 1.0, 1.0), Vapour(1e3))
    tight, t, hours = 1e9, row.number("temperature"), 2
    wall = cut((Layer(plate, 0.01),), SEALED, End(1e6, tight), surface=1e-3)
    wall = replace(wall, film_limit=np.full(wall.cells, np.inf))
    state, driven = initial([wall], t, 0.5), steady(hours, (t, 0.5), (t, 0.5))
    state[:, -1, 1] = FREE_LOG - 100.0
    lost = -march_walls([wall], [driven], state).ledger[0, LEDGER.index("water_inner")]
    return float(driven.room_vapour[0] + lost * tight / (3600.0 * hours))


@computes("pore-freezing-front")
def _front(row: Inputs) -> float:
    """Depth of frost in a wet body at its melting point whose face is held below, by its ice."""
    porous = Material(
        "wet body",
        1.5e6,
        Conductivity(2.0),
        Isotherm(253.90625, -float(np.log(3e4)), 6.0, 1.0),
        Vapour(1e-9),
        Liquid((-200.0,)),
    )
    wall = Wall(
        (Layer(porous, 1.0),), (np.diff(graded([0.0, 1.0], {0.0: 1e-3}, 1.05, 8e-3)),), SEALED, SEALED
    )
    hours, cold = int(row.number("hours")), row.number("surface")
    driven = steady(hours, (cold, 0.5), (0.15, 0.5))
    state = initial([wall], 0.15, 0.5)
    state[:, :, 1] = np.log(1.5e4)
    calm = Water(liquid_heat=0.0, ice_heat=0.0, vaporisation=0.0, vapour_heat=0.0)
    out = march_walls([wall], [driven], state, water=calm)
    liquid = calm.liquid_suction(out.state[0, :, 0], np.exp(out.state[0, :, 1]))[0]
    frozen = 1.0 - porous.isotherm.content(np.log(liquid)) / porous.isotherm.content(out.state[0, :, 1])
    return float((frozen * wall.width).sum())


# Heat alone, uptake, balances, orders


@computes("slab-step-conduction")
def _step(row: Inputs) -> float:
    """Middle of a slab whose faces jump by one, 1 - 4/pi sum (-1)^k / (2k+1) exp(-(2k+1)^2 pi^2 Fo)."""
    wall = cut((Layer(HEAT_ONLY, 0.2),), SEALED, SEALED, surface=1e-3, growth=1.2)
    hours = int(row.number("hours"))
    out = run_one(wall, steady(hours, (1.0, 0.5), (1.0, 0.5)), (0.0, 0.5), accuracy=Accuracy(steps=4))
    middle = wall.cells // 2
    return float(0.5 * (out.state[0, middle - 1, 0] + out.state[0, middle, 0]))


@computes("declared-absorption")
def _absorption(row: Inputs) -> float:
    """Uptake of dry concrete from a wet face over the root of time."""
    concrete = materials.material("concrete", absorption=row.number("declared"))
    widths = np.diff(graded([0.0, 1.5], {0.0: 1e-4}, 1.05, 0.02))
    wet = FREE_LOG
    wall = wet_faces(concrete, widths, (wet, None), (SEALED, SEALED))
    hours, state = 48, initial([wall], 20.0, 0.5)
    state[:, 0, 1] = wet
    out = march_walls([wall], [steady(hours, (20.0, 0.5), (20.0, 0.5), wet_share=1.0)], state)
    return float(out.ledger[0, LEDGER.index("water_wetting")] / np.sqrt(3600.0 * hours))


@lru_cache(maxsize=1)
def _balances() -> dict[str, tuple[float, float]]:
    """Residuals of water and energy of a few walls in rough weather, relative as the design page says."""
    concrete, batt = materials.material("concrete"), materials.material("glass_fibre_batt")
    board, osb = materials.material("gypsum_board"), materials.material("osb")
    layers = {
        "above ground": (
            Layer(concrete, 0.2),
            Layer(batt, 0.089, Membrane("sheet", 3.4e-12)),
            Layer(board, 0.0127),
        ),
        "rim": (Layer(osb, 0.028), Layer(batt, 0.14), Layer(board, 0.0127)),
    }
    walls = {name: cut(some, film(20.0), film(8.0)) for name, some in layers.items()}
    rim = walls["rim"]
    walls["rim with leak"] = replace(rim, room_air=rim.at(rim.first(1), 3e-4))
    hours = 24 * 20
    at = np.arange(hours + 1)
    rough = forcing(
        -8.0 + 9.0 * np.sin(at / 3.8) + 7.0 * np.sin(at / 41.0),
        np.full(hours + 1, 0.8),
        np.full(hours + 1, 21.0),
        np.full(hours + 1, 0.55),
        room_share=0.5 + 0.5 * np.sin(at / 9.0),
    )
    return {name: _residuals(wall, rough) for name, wall in walls.items()}


def _residuals(wall: Wall, driven: Forcing) -> tuple[float, float]:
    out = march_walls([wall], [driven], initial([wall], 5.0, 0.8))
    rows = {name: float(value) for name, value in zip(LEDGER, out.ledger[0], strict=True)}
    water = sum(rows[f"water_{name}"] for name in ("outer", "inner", "air", "wetting", "run_off"))
    energy = sum(rows[f"energy_{name}"] for name in ("outer", "inner", "sources", "run_off"))
    stored = float(out.water[0, -1].sum())
    return (
        (rows["water_gained"] - water) / max(rows["water_gross"], 1e-6 * stored),
        (rows["energy_gained"] - energy) / rows["energy_gross"],
    )


@computes("march-balances")
def _balance(row: Inputs) -> float:
    water, energy = _balances()[row.text("wall")]
    return {"water": water, "energy": energy}[row.text("of")]


# The soil behind a slice


@lru_cache(maxsize=1)
def _section() -> tuple[Condensed, Section]:
    """A basement wall with 2.5 m2.K/W all over, and its soil condensed to the inner faces."""
    section = Section(4.0, 2.4, 0.3, Soil(1.5, 2e6), wall=(Zone(0.0, 2.7, 2.5),))
    return Condensed(without_layers(section)), section


@lru_cache(maxsize=4)
def _ladder(low: float, high: float) -> Ladder:
    ground, section = _section()
    impedance = slice_impedance(ground, section, low, high, NODES)
    return fit_soil(NODES, impedance, Slab(section.wall_thickness, section.concrete))


@computes("slice-before-soil")
def _slice(row: Inputs) -> float:
    """Change of a slice's face by other layers on it: distance from the section's, over the section's."""
    ground, section = _section()
    low, high, omega = row.number("low"), row.number("high"), 2 * np.pi / (86400.0 * row.number("period"))
    slab, w = Slab(section.wall_thickness, section.concrete), np.array([omega])
    z, opened = _ladder(low, high).face(slab, w)[0], slice_open(ground, section, low, high, w)[0]

    def fitted(resistance: float) -> Numbers:
        behind, room = resistance + section.film_wall, np.eye(len(opened))[0]
        return np.asarray((opened * behind + z * room) / (behind + z))

    def solved(resistance: float) -> Numbers:
        zones = (Zone(0.0, low, 2.5), Zone(low, high, resistance), Zone(high, 2.7, 2.5))
        layers = tuple(zone for zone in zones if zone.end > zone.start)
        return ground.with_layers(replace(section, wall=layers)).face(low, high, omega)

    found, expected = (face(row.number("resistance")) - face(2.5) for face in (fitted, solved))
    return float(np.abs(found - expected).max() / np.abs(expected).max())
