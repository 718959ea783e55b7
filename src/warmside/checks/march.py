"""Compute functions of the checks on the fast march: steady states, a wave and balances with closed forms.

Small walls of plain materials, some without any effect of water on heat. What they give must be a closed
form; walls with real materials stand in `checks.moisture`.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from warmside.checks.moisture import (
    HEAT_ONLY,
    SEALED,
    dew_point_water,
    diffusing,
    run_one,
    saturation_pressure,
    steady_air,
    wet_faces,
)
from warmside.checks.registry import Inputs, computes
from warmside.physics.forcing import forcing, steady
from warmside.physics.marching import LEDGER, Accuracy, initial, march_walls
from warmside.physics.materials import Conductivity, Isotherm, Material, Vapour
from warmside.physics.moist_wall import Array, End, Face, Layer, Wall, cut
from warmside.physics.water import Water

_CALM = Water(liquid_heat=0.0, ice_heat=0.0, vaporisation=0.0, vapour_heat=0.0)
"""Water that carries no heat."""
_SHUT = End(1e9, 1e30)
"""A face that passes neither heat nor vapour."""
_PLATE = Material("plate", 1e5, Conductivity(100.0), Isotherm(1e-3, -13.07, 1.0, 1.0), Vapour(1e-9))
_DAY = 86400.0


def _daily(wall: Wall, hours: int, column: str, *args: tuple[float, float], water: Water) -> float:
    """One column of the ledger over the last day, per second."""
    start = (0.5 * (args[0][0] + args[1][0]), 0.5)
    rows = [
        run_one(wall, steady_air(water, h, *args), start, water=water).ledger[0] for h in (hours - 24, hours)
    ]
    return float(rows[1][LEDGER.index(column)] - rows[0][LEDGER.index(column)]) / _DAY


@computes("march-steady-heat")
def _steady_heat(row: Inputs) -> float:
    stone, wool = (replace(HEAT_ONLY, capacity=2e4, conductivity=Conductivity(k)) for k in (2.0, 0.04))
    layers = Layer(stone, 0.2, contact=row.number("contact")), Layer(wool, row.number("wool"))
    wall = cut(layers, End(0.04, 1e30), End(row.number("film"), 1e30))
    return _daily(wall, 480, "energy_outer", (20.0, 0.5), (0.0, 0.5), water=_CALM)


@computes("march-steady-vapour")
def _steady_vapour(row: Inputs) -> float:
    board, wool = diffusing("board", 0.13, row.number("mu")), diffusing("wool", 0.036, 1.0)
    layers = Layer(board, 0.011), Layer(wool, row.number("wool"))
    wall = cut(layers, End(0.04, row.number("film")), End(0.13, 0.0))
    water = dew_point_water(latent=False)
    return 1e9 * _daily(wall, 480, "water_outer", (20.0, 0.8), (20.0, 0.3), water=water)


@lru_cache(maxsize=1)
def _daily_wave() -> tuple[Array, Array, Array]:
    """Middles of cells [m], and their temperatures at two hours a quarter of a period apart [C]."""
    wall = cut((Layer(HEAT_ONLY, 1.5),), SEALED, _SHUT, surface=2e-3, growth=1.1, largest=0.01)
    states = []
    for hours in (480, 486):
        swing = 10.0 * np.sin(2 * np.pi * np.arange(hours + 1) / 24.0)
        half = np.full(hours + 1, 0.5)
        driven = forcing(swing, half, np.zeros(hours + 1), half)
        states.append(run_one(wall, driven, (0.0, 0.5), (), _CALM, Accuracy(steps=4)).state[0, :, 0])
    return wall.centres, states[0], states[1]


@computes("march-heat-wave")
def _wave(row: Inputs) -> float:
    middles, zero, quarter = _daily_wave()
    sine, cosine = (float(np.interp(row.number("depth"), middles, state)) for state in (quarter, zero))
    values = {"amplitude": np.hypot(sine, cosine), "lag": np.arctan2(-cosine, sine) * 24.0 / (2 * np.pi)}
    return float(values[row.text("of")])


@computes("march-heated-slab")
def _heated(row: Inputs) -> float:
    wall = cut((Layer(HEAT_ONLY, row.number("thickness")),), SEALED, SEALED, surface=1e-3, largest=4e-3)
    wall = replace(wall, heat=row.number("heat") * wall.width)
    out = run_one(wall, steady(480, (0.0, 0.5), (0.0, 0.5)), (0.0, 0.5), water=_CALM)
    return float(out.state[0, :, 0].max())


@computes("march-fin")
def _fin(row: Inputs) -> float:
    wall = cut((Layer(HEAT_ONLY, row.number("length")),), SEALED, _SHUT, surface=1e-3, largest=4e-3)
    wall = replace(wall, beside=row.number("side") * wall.width)
    out = run_one(wall, steady(480, (10.0, 0.5), (10.0, 0.5), beside=0.0), (0.0, 0.5), water=_CALM)
    return float(out.state[0, -1, 0])


@computes("march-two-streams-mix")
def _mix(row: Inputs) -> float:
    wall = cut((Layer(_PLATE, 0.01),), _SHUT, _SHUT, surface=1e-3)
    flows = [np.full(wall.cells, 0.01 * row.number(name)) for name in ("room_parts", "outdoor_parts")]
    wall = replace(wall, room_air=flows[0], outdoor_air=flows[1])
    driven = steady(24, (0.0, 0.5), (20.0, 0.5), room_share=1.0, outdoor_share=1.0)
    brought = np.full(25, row.number("room_vapour")), np.full(25, row.number("outdoor_vapour"))
    driven = replace(driven, room_vapour=brought[0], outdoor_vapour=brought[1])
    out = march_walls([wall], [driven], initial([wall], 10.0, 0.5), [Face(0, False)], water=_CALM)
    t = float(out.state[0, 0, 0])
    return {"temperature": t, "vapour": float(out.humidity[0, -1, 0]) * saturation_pressure(_CALM, t)}[
        row.text("of")
    ]


@computes("march-suction-humidity")
def _kelvin(row: Inputs) -> float:
    """Humidity at the far face of wool before water held at a suction."""
    suction = float(np.log(1e6 * row.number("suction")))
    wall = wet_faces(diffusing("wool", 0.036, 1.0), np.full(20, 1e-3), (suction, None), (SEALED, _SHUT))
    driven = steady(240, (20.0, 0.5), (20.0, 0.5), wet_share=1.0)
    face = Face(wall.cells - 1, True)
    return 100.0 * float(run_one(wall, driven, (20.0, 0.5), [face]).humidity[0, -1, 0])
