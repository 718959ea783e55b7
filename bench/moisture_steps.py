"""A linearly implicit method beside Newton's method to tolerance: error against work on the three walls.

Two-stage Rosenbrock methods with gamma 1 - 1/sqrt(2), L-stable, of order 2 with any Jacobian (W methods, so
that slopes by differences do; Hairer and Wanner, Solving Ordinary Differential Equations II, section IV.7).
What is advanced is the stored water and energy of each cell: no clipping, no Newton's method over the wall;
temperature and potential follow from what is stored, cell by cell. `stage` says how far the second look
stands: 1 is ROS2 (Verwer, Spee, Blom and Hundsdorfer, SIAM J. Sci. Comput. 20, 1999, 1456), which carries
cells that follow at once 1/gamma = 3.4 times too far in between; gamma carries them just there. The equations
are those of `transport`, the version to read. Steps that leave in a cell what no state stores are halved.

The kernel steps the same equations implicitly. Work is counted in turns of the kernel: one turn builds and
solves the linear system once. A step here takes one turn, one more look at the flows, and looks at what cells
store; their prices in turns stand below.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.linalg import solve_banded

from bench._moist_cases import FINE, WALLS, errors_at, faces, samples, weather
from warmside.physics.forcing import Forcing
from warmside.physics.marching import LEDGER, USUAL, Accuracy, Method, initial, march_walls
from warmside.physics.moist_wall import FREE_PER_UNIT, Wall
from warmside.physics.transport import Equations

Array = npt.NDArray[np.float64]

GAMMA = 1.0 - 0.5**0.5
HOURS = 120
"""Of mid-winter."""
FLOWS_PRICE, STORE_PRICE = 0.7, 0.35
"""Turns that a look at flows and a look at storage cost in the kernel, by a rough look at its times."""
CLOSE, WIDEST = 1e-6, 60.0
"""Last correction of T in an inversion, and how far it is looked for [K]."""
APART = 3.0
"""Difference of temperature from the plain linear step at which a step is halved [K]."""
TURNS, HALVINGS = 60, 18


class TooFar(ArithmeticError):  # noqa: N818
    """No state of a cell stores what a step left in it, however short."""


@dataclass
class Work:
    """What stepping took: steps, looks at flows and at storage, linear solves."""

    steps: int = 0
    flows: int = 0
    stores: int = 0
    solves: int = 0

    def turns(self) -> float:
        """In turns of the kernel: flows with their slopes and the first solve of a step are one."""
        return self.steps + FLOWS_PRICE * (self.flows - self.steps) + STORE_PRICE * self.stores


@dataclass
class Conserved:
    """The equations of one wall in stored energy [J/m2] and water [kg/m2], interleaved cell by cell."""

    equations: Equations
    stage: float = GAMMA
    work: Work = field(default_factory=Work)

    def capacities(self, unknowns: Array) -> Array:
        """Slopes of energy and water to T and the potential, shape (cells, 2, 2)."""
        t, x = unknowns.reshape(-1, 2).T
        states = self.equations.states(t, self.equations.parted(t, x)[0])
        water_t, water_x, energy_t, energy_x = self.equations.capacities(states, x)
        return np.stack([np.stack([energy_t, energy_x], 1), np.stack([water_t, water_x], 1)], 1)

    def stored(self, unknowns: Array) -> Array:
        """Energy and water of every cell."""
        water, energy = self.equations.stored(*unknowns.reshape(-1, 2).T)
        return np.stack([energy, water], 1).ravel()

    def gains(self, hour: float, unknowns: Array, capacities: Array | None = None) -> Array:
        """What reaches every cell [W/m2, kg/(m2.s)]."""
        slopes = self.capacities(unknowns) if capacities is None else capacities
        rates = self.equations.rates(hour, unknowns) / 3600.0
        return _times(slopes, rates)

    def jacobian(self, hour: float, unknowns: Array, plain: Array) -> Array:
        """Slopes of the gains by shifting every sixth unknown, as seven diagonals."""
        count, bands = len(unknowns), np.zeros((7, len(unknowns)))
        size = 1e-7 * np.maximum(np.abs(unknowns), 1.0)
        for colour in range(6):
            mine = np.arange(count) % 6 == colour
            slope = self.gains(hour, unknowns + size * mine) - plain
            for column in np.flatnonzero(mine):
                first = 2 * (int(column) // 2 - 1)
                rows = np.arange(max(first, 0), min(first + 6, count))
                bands[3 + rows - column, column] = slope[rows] / size[column]
        return bands

    def invert(self, held: Array, guess: Array) -> Array:
        """The unknowns whose cells store what is held, by Newton in T kept between bounds; or TooFar.

        At a temperature the potential follows from the water in closed form; energy rises with temperature.
        """
        energy, water = held.reshape(-1, 2).T
        t = guess[::2].copy()
        low, high = t - WIDEST, t + WIDEST
        for _ in range(TURNS if water.min() > 0.0 else 0):
            self.work.stores += 1
            y = np.stack([t, self.potential(t, water)], 1).ravel()
            slopes = self.capacities(y)
            left = energy - self.stored(y)[::2]
            low, high = np.where(left > 0.0, t, low), np.where(left < 0.0, t, high)
            move = left / (slopes[:, 0, 0] - slopes[:, 0, 1] * slopes[:, 1, 0] / slopes[:, 1, 1])
            if (np.minimum(np.abs(move), high - low) < CLOSE).all():
                return y
            t = np.where((t + move > low) & (t + move < high), t + move, 0.5 * (low + high))
        raise TooFar("a cell holds what no state stores")

    def potential(self, temperature: Array, water: Array) -> Array:
        """Where cells of a temperature hold so much water [kg/m2]."""
        equations, width = self.equations, self.equations.wall.width
        raised, plain = equations.edge(temperature)[0], equations.free_log
        most = width * equations.content(plain + raised)
        pores = np.minimum(water, most) / width
        dry = equations.by_layer(lambda material: material.isotherm.log_suction, pores) - raised
        return np.where(water < most, np.maximum(dry, plain), plain - (water - most) / FREE_PER_UNIT)

    def step(self, hour: float, length: float, held: Array, y: Array) -> tuple[Array, Array]:
        """What cells hold and their unknowns one step later.

        hour : of its start
        length : in hours
        """
        span, work = 3600.0 * length, self.work
        work.steps, work.flows, work.solves = work.steps + 1, work.flows + 1, work.solves + 1
        slopes = self.capacities(y)
        start = self.gains(hour, y, slopes)
        matrix = -GAMMA * span * self.jacobian(hour, y, start)
        for row in (0, 1):
            for column in (0, 1):
                matrix[3 + row - column, column::2] += slopes[:, row, column]
        # What changes outside within the step, without which stiff cells would follow with order 1.
        drift = GAMMA * (self.gains(hour + length, y, slopes) - start)
        moved = solve_banded((3, 3), matrix, start + drift)
        first = _times(slopes, moved)
        middle = self.invert(held + self.stage * span * first, y + self.stage * span * moved)
        weight = 0.5 / self.stage
        right = self.gains(hour + self.stage * length, middle) + drift - (first - start) / weight
        second = _times(slopes, solve_banded((3, 3), matrix, right))
        work.flows, work.solves = work.flows + 1, work.solves + 1
        now = held + span * ((1.0 - weight) * first + weight * second)
        y_now = self.invert(now, middle)
        if np.abs(y_now - y - span * moved)[::2].max() > APART:
            raise TooFar("the step and its linear part differ too much")
        return now, y_now


def _times(slopes: Array, rates: Array) -> Array:
    """Two by two blocks times pairs."""
    return np.asarray((slopes @ rates.reshape(-1, 2, 1)).ravel())


class Run(NamedTuple):
    """Temperature [C] and humidity [-] at faces at the end of every hour, and what it took."""

    temperature: Array
    humidity: Array
    work: Work


def rosenbrock(wall: Wall, driven: Forcing, steps: int, stage: float = GAMMA) -> Run:
    """March a wall with so many steps an hour, halved where they go too far."""
    system = Conserved(Equations(wall, driven), stage)
    y = initial([wall], 12.0, 0.75)[0].ravel()
    held, seen = system.stored(y), []
    for hour in range(driven.hours):
        for part in range(steps):
            held, y = stepped(system, hour + part / steps, 1.0 / steps, held, y, HALVINGS)
        seen.append(system.equations.at_faces(hour + 1.0, y.reshape(-1, 2), faces(wall)))
    temperature, humidity = np.array(seen).transpose(1, 0, 2)
    return Run(temperature, humidity, system.work)


def stepped(
    system: Conserved, hour: float, length: float, held: Array, y: Array, halvings: int
) -> tuple[Array, Array]:
    """One step, or the two halves of one that goes too far."""
    try:
        return system.step(hour, length, held, y)
    except TooFar:
        if halvings == 0:
            raise
    half = 0.5 * length
    held, y = stepped(system, hour, half, held, y, halvings - 1)
    return stepped(system, hour + half, half, held, y, halvings - 1)


def line(label: str, turns: float, note: str, found: tuple[Array, Array], exact: tuple[Array, Array]) -> None:
    """Print one row: work in turns an hour, and errors."""
    t_rms, t_max, h_rms, h_max = errors_at(*(row[None] for row in (*found, *exact)))
    print(
        f"| {label:14} | {turns:5.1f} | {t_rms:.4f} | {t_max:.3f} | {h_rms:.4f} | {h_max:.2f} | {note} |",
        flush=True,
    )


def compare(name: str) -> None:
    """Print error against work of both ways on one wall."""
    wall, driven = samples(WALLS[name], 1)[0], weather(WALLS[name], HOURS)
    start, seen = initial([wall], 12.0, 0.75), faces(wall)
    fine = march_walls([wall], [driven], start, seen, FINE)
    exact = fine.temperature[0], fine.humidity[0]
    print(f"\n{name}, {wall.cells} cells, {HOURS} hours\n")
    print(
        "| method, steps an hour | turns an hour | T rms K | T max K | RH rms | RH max | note |\n"
        "|---|---|---|---|---|---|---|"
    )
    for method in (Method.TR_BDF_2, Method.SDIRK_2):
        for steps in (1, 2, 4, 8):
            how = Accuracy(steps=steps, events=steps, method=method)
            out = march_walls([wall], [driven], start, seen, how)
            turns = out.ledger[0, LEDGER.index("solves")] / HOURS
            line(f"{method.name}, {steps}", turns, "", (out.temperature[0], out.humidity[0]), exact)
    out = march_walls([wall], [driven], start, seen, replace(USUAL))
    turns = out.ledger[0, LEDGER.index("solves")] / HOURS
    line("usual", turns, "", (out.temperature[0], out.humidity[0]), exact)
    for steps in (1, 2, 4, 8):
        try:
            run = rosenbrock(wall, driven, steps)
        except TooFar as problem:
            print(f"| Rosenbrock, {steps} | | | | | | gave up: {problem} |", flush=True)
            continue
        w = run.work
        note = f"{w.steps / HOURS:.1f} steps, {w.stores / HOURS:.1f} looks at storage"
        line(f"Rosenbrock, {steps}", w.turns() / HOURS, note, (run.temperature, run.humidity), exact)


def main() -> None:
    """Print all walls."""
    for name in WALLS:
        compare(name)
