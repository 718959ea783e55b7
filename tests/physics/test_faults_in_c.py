"""Faults put into the C sources on purpose: each must be seen by the checks that guard the march.

A fault is one text that stands once in one file, and what takes its place. It is compiled to a library of its
own and run on a few hours. The guards, with their limits stated before the first run:

- solve: a chain of blocks whose answer is known, 1e-9 of its size (rounding gives 1e-12);
- steady: heat through contact and films, 1e-4 K, as `test_march` holds the installed kernel to;
- frosted: a cold plate gives off vapour at the pressure of ice, 259.87 Pa at -10 C (IAPWS R14-08), 0.1 %;
- no mist: a face to which vapour comes has that pressure at most, 0.1 %;
- drained: no cell keeps more than its film limit of free water, and something ran down;
- lanes: a wall's bytes beside seven others are those it has alone;
- bent: a face an hour after its air has begun to warm, 0.04 K as `test_march` has it;
- balance: residuals of water 1e-9 and energy 1e-8, as the design has them, contents amiss by less than 1e-5;
- newton: from corrections of 1e-3 to 1e-10 in two turns more per stage, three where it starts far off;
- agree: the version to read, within 2e-3 K and 1e-4 of humidity, where pores freeze, where water runs and
  where two stones suck warm water in.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache, partial
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pytest

import build_kernel
from tests.physics.moist_walls import everything, faces, weather, with_sheet
from tests.physics.test_march import content, layered, one_bend, residuals, sampled, smooth
from tests.physics.test_transport import STARTS, WEATHERS, start, walls
from warmside.physics import kernel, transport
from warmside.physics.forcing import Forcing, forcing, steady
from warmside.physics.kernel import solve_block_tridiagonal
from warmside.physics.marching import LEDGER, Accuracy, Histories, initial, march_walls
from warmside.physics.materials import (
    EN_15026_MATERIAL,
    Conductivity,
    Isotherm,
    Liquid,
    Material,
    Vapour,
    material,
)
from warmside.physics.moist_wall import FREE_PER_UNIT, FREE_SUCTION, End, Face, Layer, Wall, cut, film
from warmside.physics.water import WATER

Array = npt.NDArray[np.float64]

FINE = Accuracy(1e-4, 1e-4, halvings=10, steps=64, events=64)
AGREE_T, AGREE_H = 2e-3, 1e-4
SETTINGS = ("-O1", "-DMARCH_NARROW", *(("-mfma",) if kernel.vector_width() > 128 else ()))
"""With the CPU's own fma where it has one: the library's would give the same bits, later."""


class Fault(NamedTuple):
    """One substitution: file, the text, what takes its place."""

    file: str
    text: str
    wrong: str


CELL, NEWTON, STEP, RUN = "march_wall.h", "march_newton.h", "march_step.h", "march_run.h"
LANES, MAIN = "march_lanes.h", "march.c"
FAULTS = {
    "latent heat of vapour reversed": Fault(
        CELL, "fused(w->vapour_heat, mean, w->vaporisation)", "fused(w->vapour_heat, mean, -w->vaporisation)"
    ),
    "latent heat of vapour lost": Fault(
        CELL, "fused(w->vapour_heat, mean, w->vaporisation)", "w->vapour_heat * mean"
    ),
    "liquid carries no heat": Fault(CELL, "both_flows(w->liquid_heat * mean", "both_flows(0.0 * mean"),
    "latent heat of ice reversed": Fault(CELL, "heat, t, -w->fusion * w_i", "heat, t, w->fusion * w_i"),
    "frost gives off no heat": Fault(CELL, "fused(w->liquid_heat, t, -part * melt)", "w->liquid_heat * t"),
    "pores never freeze": Fault(CELL, "if (farthest > -1.0)", "if (farthest > 1e300)"),
    "frost stands at the suction of water": Fault(
        CELL, "moves = (1.0 - AT(m, M_WETS)) / AT(m, M_FREE_SUCTION)", "moves = 0.0"
    ),
    "arithmetic mean of conductances": Fault(
        CELL, "through(one * r_v, t0", "through(0.25 / q0.v + 0.25 / q1.v, t0"
    ),
    "plain mean of mobilities": Fault(CELL, "mean = near > 0.0 ? middle : steep", "mean = middle"),
    "liquid between layers by the mean": Fault(
        CELL, "whole = 2.0 / (w0 + w1)", "whole = 0.5 / w0 + 0.5 / w1"
    ),
    "contact resistance lost": Fault(CELL, "(joint){AT(m0, B_CONTACT)", "(joint){0.0"),
    "membrane lost": Fault(CELL, "AT(m0, B_MEMBRANE) * per", "0.0 * per"),
    "membrane at the humidity of one side": Fault(CELL, "0.5 * (humidity0 + humidity1)", "humidity0"),
    "coating leaks all over": Fault(CELL, "* AT(m0, B_LEAKS)", ""),
    "liquid ends in the middle of the last cell": Fault(CELL, "less = 1.0 / (1.0 + helps)", "less = 1.0"),
    "liquid crosses every face": Fault(CELL, "fused(-AT(other, M_WETS), leaks, 1.0)", "0.0"),
    "film of heat lost": Fault(CELL, "(r_q.v + resistance[lane])", "r_q.v"),
    "film of vapour lost": Fault(CELL, "(r_v.v + resistance[LANES + lane])", "r_v.v"),
    "conductivity of dry stuff": Fault(CELL, "fused(wet, content, AT(m, M_DRY))", "AT(m, M_DRY)"),
    "pores full of water let vapour through": Fault(CELL, "relative[lane] *= less", "relative[lane] *= 1.0"),
    "saturation knows no temperature in its slope": Fault(
        CELL, "vapour * (saturation.t - dryness.t)", "-vapour * dryness.t"
    ),
    "heat capacity without its water in the slope": Fault(
        CELL, "fused(ice, content_t, heat)", "fused(ice, content_t, 0.9 * heat)"
    ),
    "width of another lane": Fault(CELL, "half = 0.5 * width[lane]", "half = 0.5 * width[lane ^ 1]"),
    "forcing in steps": Fault(STEP, "fused(part[lane], a[SERIES * LANES] - a[0], a[0])", "a[0]"),
    "forcing of another lane": Fault(STEP, "fused(part[lane], a[SERIES", "fused(part[0], a[SERIES"),
    "forcing of another lane's stage": Fault(RUN, "fused(m->at[c->stage[lane]]", "fused(m->at[c->stage[0]]"),
    "bends of the forcing left out": Fault(RUN, "bends ? m->bend * c->step[lane] : 0.0", "0.0"),
    "bends of the forcing at every stage": Fault(RUN, "bends = c->stage[lane] == 0 && ", "bends = "),
    "leak brings no vapour": Fault(NEWTON, "fused(from_room, room_ratio - ratio,", "fused(0.0, ratio,"),
    "leak brings no warmth": Fault(NEWTON, "return fused(1006.0, t, ratio", "return fused(0.0, t, ratio"),
    "rain dries": Fault(NEWTON, "rate * (log - reached)", "rate * (reached - log)"),
    "the neighbour heats backwards": Fault(NEWTON, "AT(at, F_BESIDE) - t", "t - AT(at, F_BESIDE)"),
    "wetting kept out of the balance": Fault(NEWTON, "wi.v + air.v + wet.v,", "wi.v + air.v,"),
    "flow at the start forgotten": Fault(STEP, "start = fused(k->early[lane], rate, held)", "start = held"),
    "gains of earlier stages forgotten": Fault(
        STEP, "both = fused(k->from[1][lane], gained", "both = fused(0.0 * k->from[1][lane], gained"
    ),
    "run-off without its warmth": Fault(STEP, "holds.y - run.y", "holds.y"),
    "nothing runs off": Fault(STEP, "excess = done[lane] > 0.0 ? beyond : 0.0", "excess = 0.0 * beyond"),
    "flows booked with another weight": Fault(
        RUN, "->weight[c->stage[lane] + 1]", "->weight[c->stage[lane]]"
    ),
    "told in another lane's hour": Fault(
        RUN, "(v->probes * hour[lane] + probe)", "(v->probes * hour[0] + probe)"
    ),
    "told after the next step": Fault(RUN, "if (any_of(late))", "if (any_of(late) && any_of(c->anew))"),
    "substitution with the cell's own answer": Fault(STEP, "put_pair(below, lane, x);", ""),
    "centre for face": Fault(RUN, "(half_q + r_q[lane]), half_q, t0)", "(half_q + r_q[lane]), 0.0, t0)"),
    "humidity over the cell's own saturation": Fault(
        RUN,
        "log_saturation(w, t_face, 1.0 / (w->pole + t_face))",
        "log_saturation(w, t0, 1.0 / (w->pole + t0))",
    ),
    "faces more humid than ice": Fault(
        RUN, "smaller(humidity, wet_humidity(w, m, lane, t_face))", "humidity"
    ),
    "a term of the exponential": Fault(LANES, "0x1.555555558a317p-3", "0x1.455555558a317p-3"),
    "inverse without its sign": Fault(LANES, "(block){m.d * s, -m.b * s,", "(block){m.d * s, m.b * s,"),
    "pivot without the cell above": Fault(MAIN, "pivot = less_product(dia, low, above)", "pivot = dia"),
    "ice overlooked in the cold": Fault(CELL, "return t < w->melting", "return t < -1e3 + w->melting"),
}


# ---- what guards the march ---------------------------------------------------------------------------------


def solves() -> bool:
    """-p(i-1) + 2 p(i) - p(i+1) = 1: p(i) = i (n + 1 - i) / 2, here p and -4 p, mixed."""
    cells, mix = 20, np.array([[3.0, 1.0], [-2.0, 5.0]])
    i = np.arange(1.0, cells + 1.0)
    exact = np.outer(i * (cells + 1.0 - i) / 2.0, [1.0, -4.0])
    block = np.broadcast_to(mix, (1, cells, 2, 2))
    out = solve_block_tridiagonal(-block, 2.0 * block, -block, np.full((1, cells, 2), mix @ [1.0, -4.0]))
    return bool(np.abs(out.values[0] - exact).max() < 1e-9 * np.abs(exact).max())


def steady_flow() -> bool:
    stone = Material("stone", 1e5, material("xps").conductivity, material("xps").isotherm, Vapour(1e-6))
    wall = cut((Layer(stone, 0.05, contact=0.3), Layer(stone, 0.02)), End(0.05, 1e12), End(0.13, 1e12), 2e-3)
    driven = steady(60, (-5.0, 0.5), (20.0, 0.4))
    out = march_walls([wall], [driven], initial([wall], 5.0, 0.5), [Face(0, False)])
    flow = 25.0 / (0.05 + 0.07 / 0.0289 + 0.3 + 0.13)
    return bool(abs(out.temperature[0, -1, 0] - (-5.0 + 0.05 * flow)) < 1e-4)


def frosted() -> bool:
    """A frosted plate held at -10 C: what goes through a tight film to dry air."""
    plate = Material("plate", 1e6, Conductivity(100.0), Isotherm(1e-3, -13.07, 1.0, 1.0), Vapour(1e3))
    wall = cut((Layer(plate, 0.01),), End(0.0, 1e30), End(1e6, 1e9), surface=1e-3)
    wall = replace(wall, film_limit=np.full(wall.cells, np.inf))
    state, driven = initial([wall], -10.0, 0.5), steady(2, (-10.0, 0.5), (-10.0, 0.1))
    state[:, -1, 1] = np.log(FREE_SUCTION) - 100.0
    out = march_walls([wall], [driven], state)
    pressure = driven.room_vapour[0] - out.ledger[0, LEDGER.index("water_inner")] * 1e9 / 7200.0
    return bool(abs(pressure / 259.87 - 1.0) < 1e-3)


def no_mist() -> bool:
    """Vapour comes to a board at -10 C on coarse cells: its face is as humid as ice, which frost is on."""
    wall = cut((Layer(material("osb"), 0.02),), End(0.0, 8e6), End(0.0, 1e30), surface=4e-3)
    out = march_walls(
        [wall], [steady(6, (-10.0, 1.0), (-10.0, 0.5))], initial([wall], -10.0, 0.9), [Face(0, False)]
    )
    pressure = out.humidity[0, -1, 0] * np.exp(WATER.log_saturation(np.array(-10.0))[0])
    return bool(abs(pressure / 259.87 - 1.0) < 1e-3)


def frozen() -> bool:
    """A plate with a film of water is cooled from 1 to -3 C: what is taken holds the heat of fusion too."""
    plate = Material("plate", 1e6, Conductivity(100.0), Isotherm(1e-3, -13.07, 1.0, 1.0), Vapour(1e-9))
    wall, held, hours = cut((Layer(plate, 0.01),), End(1e9, 1e30), End(1e9, 1e30), surface=1e-3), 0.1, 4
    taken = 4.0 * 1e4 + held * (1.0 * WATER.liquid_heat + WATER.fusion + 3.0 * WATER.ice_heat)
    wall = replace(wall, film_limit=np.full(wall.cells, np.inf), heat=wall.at(0, -taken / (3600.0 * hours)))
    state = initial([wall], 1.0, 0.5)
    state[:, -1, 1] = np.log(FREE_SUCTION) - held / FREE_PER_UNIT
    out = march_walls([wall], [steady(hours, (1.0, 0.5), (1.0, 0.5))], state, [Face(0, True)])
    return bool(abs(out.temperature[0, -1, 0] + 3.0) < 0.05)


def drained() -> bool:
    wall, limit = with_sheet(everything(3e-3)), 1e-4
    wall = replace(wall, room_air=5.0 * wall.room_air, film_limit=np.full(wall.cells, limit))
    out = march_walls([wall], [weather(12, 2.0)], initial([wall], 2.0, 0.97))
    kept = out.free[0, -1].max() <= limit * max(map(len, wall.widths)) + 1e-12
    return bool(kept) and bool(out.run_off.sum() > limit) and balanced(out)


def lanes_apart() -> bool:
    """Eight walls whose widths differ, one of which cuts its hours finer than the first; that one alone."""
    some, driven = (
        tuple(map(with_sheet, sampled(8))),
        [weather(4, mean) for mean in np.linspace(12.0, -9.0, 8)],
    )
    state = initial(some, 0.5, 0.99)
    both = march_walls(some, driven, state, faces(some[0]))
    finest = int(np.argmax(both.ledger[:, LEDGER.index("steps")]))
    here = slice(finest, finest + 1)
    return content(both, finest) == content(
        march_walls(some[here], driven[here], state[here], faces(some[0])), 0
    )


def bent() -> bool:
    found, exact = one_bend()
    return bool(abs(found - exact) < 0.04)


def balanced(out: Histories) -> bool:
    amiss = out.ledger[0, LEDGER.index("water_amiss")] / out.water[0, -1].sum()
    water, energy = (float(np.abs(part).max()) for part in residuals(out))
    return not out.faults and water < 1e-9 and energy < 1e-8 and amiss < 1e-5


def turns(temperature: float) -> float:
    """Turns of Newton's method for each step of a smooth day."""
    wall, accuracy = layered(1), Accuracy(temperature, temperature, halvings=2)
    out = march_walls([wall], [smooth(24)], initial([wall], 8.0, 0.6), accuracy=accuracy)
    return float(out.ledger[0, LEDGER.index("solves")] / out.ledger[0, LEDGER.index("steps")])


def quadratic() -> bool:
    """Two stages in a step; each may take two turns more for seven digits more."""
    near = turns(1e-10)
    return bool(np.isfinite(near)) and near - turns(1e-3) < 2 * 2.0 + 0.5


class Case(NamedTuple):
    """A wall, what drives it, and its start."""

    wall: Wall
    driven: Forcing
    temperature: Array
    humidity: Array


def case(name: str) -> Case:
    return CASES[name]() if name in CASES else Case(walls(name), WEATHERS[name], *start(name))


def soaked() -> Case:
    """Two stones that suck warm water in from outside, both with pores that fill, on coarse cells."""
    filling = replace(material("concrete"), vapour=Vapour(0.2, filling=1.0))
    assert EN_15026_MATERIAL.liquid is not None
    first, *others = EN_15026_MATERIAL.liquid.coefficients
    thirsty = replace(EN_15026_MATERIAL, liquid=Liquid((first + 4.0, *others)))
    layers = (Layer(thirsty, 0.05), Layer(filling, 0.05))
    wall = cut(layers, film(15.0), film(6.0), 3e-3, 1.6, 0.03)
    wall = replace(wall, wetting=wall.at(0, 1e-3), wetting_suction=np.full(wall.cells, np.log(2e3)))
    at = np.arange(4.0)
    rows = (30.0 + 2.0 * at, 0.9 + 0.0 * at, 5.0 + 0.0 * at, 0.5 + 0.0 * at)
    driven = forcing(*rows, wet_share=np.array([0.0, 1.0, 1.0, 1.0]))
    humidity = np.where(wall.layer_of == 0, 0.97, 0.6)
    return Case(wall, driven, np.linspace(30.0, 6.0, wall.cells), humidity)


CASES = {"warm water sucked in": soaked}


@cache
def readable(name: str) -> Array:
    """Faces by the version to read, shape (2, hours, faces)."""
    c = case(name)
    out = transport.march(*c, faces(c.wall), tolerance=3e-6)
    return np.stack([out.face_temperature[1:], out.face_humidity[1:]])


def agrees(name: str) -> bool:
    """Faces as the version to read has them, and nothing lost on the way."""
    c = case(name)
    out = march_walls([c.wall], [c.driven], initial([c.wall], *c[2:]), faces(c.wall), FINE)
    near_t = np.abs(out.temperature[0] - readable(name)[0]).max() < AGREE_T
    near_h = np.abs(out.humidity[0] - readable(name)[1]).max() < AGREE_H
    return bool(near_t and near_h) and balanced(out)


GUARDS: tuple[Callable[[], bool], ...] = (
    solves,
    steady_flow,
    frosted,
    no_mist,
    frozen,
    quadratic,
    *(partial(agrees, name) for name in (*CASES, *STARTS)),
    lanes_apart,
    bent,
    drained,
)


# ---- faults ------------------------------------------------------------------------------------------------


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[Fault | None], None]]:
    """Compiles the sources with a fault, or none, and lets the binding call what comes out."""

    def install(fault: Fault | None) -> None:
        for part in build_kernel.PARTS:
            text = part.read_text()
            if fault is not None and part.name == fault.file:
                assert text.count(fault.text) == 1, f"{fault.text!r} must stand once in {fault.file}"
                text = text.replace(fault.text, fault.wrong)
            (tmp_path / part.name).write_text(text)
        command = next(iter(build_kernel.compilers().values()))
        target = tmp_path / "march.so"
        arguments = (*build_kernel.CALCULATION, *SETTINGS, *build_kernel.SHARED, "-w", "-o", str(target))
        source = str(tmp_path / build_kernel.SOURCE.name)
        assert build_kernel.succeeds(*command, *arguments, source, *build_kernel.LIBRARIES)
        monkeypatch.setattr(kernel, "LIBRARY", target)
        kernel._library.cache_clear()

    yield install
    kernel._library.cache_clear()


def test_the_list_of_faults_is_long() -> None:
    assert len(FAULTS) >= 15
    assert {fault.file for fault in FAULTS.values()} == {CELL, NEWTON, STEP, RUN, LANES, MAIN}


def test_sound_sources_pass_every_guard(installed: Callable[[Fault | None], None]) -> None:
    installed(None)
    assert [guard() for guard in GUARDS] == [True] * len(GUARDS)


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_in_c_is_seen(name: str, installed: Callable[[Fault | None], None]) -> None:
    installed(FAULTS[name])
    assert not all(guard() for guard in GUARDS)
