"""How deep the 0 C line goes beside a basement, without and with the latent heat of soil water.

Without latent heat the line follows from the periodic state: an upper bound of the frost depth. With it, the
section is marched through one cold season by implicit steps in the enthalpy, H(T) = C T + L f(T), f rising
from 0 to 1 over half a kelvin below 0 C (Voller and Cross 1981 for the method). Conductivity does not change
on freezing, water does not move, no ice lenses: frost heave itself is not computed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import sparse

from warmside.physics.conduction import Body, BodyError, Numbers, Solution, System, one_thread, symmetric_lu
from warmside.physics.grid import Array, Grid
from warmside.physics.ground_surface import YEAR

FUSION = 333.6e6
"""Latent heat of fusion of water per volume of liquid, 333.6 kJ/kg [J/m3]."""
INTERVAL = 0.5
"""Width below 0 C over which soil water freezes [K]."""


class FreezingStepError(RuntimeError):
    """A time step with freezing did not converge."""


def coldest(mean: Solution, waves: Mapping[int, Solution], times: int = 73) -> Array:
    """Lowest temperature that each cell reaches over the year, nan outside the solid [C].

    mean : steady solution
    waves : harmonic of the year -> complex amplitudes
    times : instants looked at [-]
    """
    instants = np.arange(times) / times
    swing = sum((_real_wave(s.field, order, instants) for order, s in waves.items()), np.zeros(times))
    field: Array = np.real(mean.field)
    return np.asarray(field + np.broadcast_to(swing, (*field.shape, times)).min(axis=-1))


def _real_wave(field: Numbers, order: int, instants: Array) -> Array:
    return np.asarray(np.real(field[..., None] * np.exp(2j * np.pi * order * instants)))


def isotherm(grid: Grid, field: Array, level: float = 0.0) -> tuple[Array, Array]:
    """Lowest height at which each column of a 2-D field crosses a temperature [m].

    grid : whose second axis points up
    field : temperatures, nan outside the solid [C]
    level : of the line [C]
    Returns the columns' coordinates and the heights, nan where the column stays on one side.
    """
    z = grid.centres[1]
    below, above = field[:, :-1] - level, field[:, 1:] - level
    with np.errstate(invalid="ignore", divide="ignore"):
        crosses = (below >= 0) & (above < 0)
        part = below / (below - above)
    height = np.where(crosses, z[:-1] + part * np.diff(z), np.inf).min(axis=1)
    return grid.centres[0], np.where(np.isinf(height), np.nan, height)


@dataclass(frozen=True, eq=False)
class Winter:
    """What a march through the cold season found.

    coldest : lowest temperature of each cell, nan outside the solid [C]
    frozen : largest share of its water that was ice in each cell [-]
    balance : heat that the balance misses, relative to what the surfaces exchanged [-]
    iterations : most Newton steps that one time step took
    """

    coldest: Array
    frozen: Array
    balance: float
    iterations: int


class FreezingGround:
    """A body whose pore water freezes.

    system : equations without latent heat
    heat : capacity of each solid cell [J/K]
    latent : heat of freezing all water of each solid cell [J]
    """

    TOLERANCE = 1e-9

    def __init__(self, body: Body, water: Array) -> None:
        """Assemble; raises BodyError.

        body : with capacity
        water : volume of liquid that can freeze per volume, per cell [m3/m3]
        """
        self.system = System(body)
        if self.system.heat is None:
            raise BodyError("freezing was asked of a body without heat capacity: give Body.capacity")
        self.heat: Array = self.system.heat
        self.latent: Array = (FUSION * water * body.grid.volume)[self.system.solid]

    def liquid(self, temperature: Array) -> tuple[Array, Array]:
        """Share of the water that is liquid [-], and its slope [1/K]; a cubic ramp.

        temperature : of each solid cell [C]
        """
        u = np.clip(temperature / INTERVAL + 1, 0.0, 1.0)
        return u * u * (3 - 2 * u), 6 * u * (1 - u) / INTERVAL

    def enthalpy(self, temperature: Array) -> Array:
        """Heat content of each solid cell above ice at 0 C [J]."""
        return self.heat * temperature + self.latent * self.liquid(temperature)[0]

    def step(self, old: Array, drive: Array, dt: float) -> tuple[Array, int]:
        """One implicit step; damped Newton on the enthalpy balance.

        old : temperatures before [C]
        drive : heat per conductance from the environments, B e [W]
        dt : length of the step [s]
        Raises FreezingStepError.
        """
        system, before, new = self.system, self.enthalpy(old), old.copy()
        scale = np.abs(drive).sum() + np.abs(system.matrix @ old).sum() + 1e-9
        for count in range(1, 60):
            miss = (self.enthalpy(new) - before) / dt + system.matrix @ new - drive
            if np.abs(miss).sum() <= self.TOLERANCE * scale:
                return new, count - 1
            slope = (self.heat + self.latent * self.liquid(new)[1]) / dt
            with one_thread():
                factors = symmetric_lu((system.matrix + sparse.diags(slope)).tocsc())
            new = self._damped(new, factors.solve(miss))
        raise FreezingStepError(
            f"a step of {dt:g} s with freezing did not converge in 60 iterations: take shorter steps"
        )

    def _damped(self, now: Array, change: Array) -> Array:
        """The Newton step, entering the freezing interval at its near end and crossing it in quarters."""
        new = now - change
        inside = (now > -INTERVAL) & (now < 0)
        limit = np.where(inside & (self.latent > 0), 0.25 * INTERVAL, np.inf)
        new = now + np.clip(new - now, -limit, limit)
        jumped_down, jumped_up = (now >= 0) & (new < 0), (now <= -INTERVAL) & (new > -INTERVAL)
        new = np.where(jumped_down & (self.latent > 0), np.maximum(new, -0.1 * INTERVAL), new)
        return np.where(jumped_up & (self.latent > 0), np.minimum(new, -0.9 * INTERVAL), new)

    def march(self, start: Array, years: Mapping[str, npt.ArrayLike], first: int, steps: int) -> Winter:
        """March from a warm state through a cold season.

        start : temperatures of the solid cells, above 0 C where there is water [C]
        years : environment -> equal steps over a year [C]
        first : index of the first step in those years
        steps : how many to take
        """
        system = self.system
        series = np.array([np.asarray(years[name], float) for name in system.environments])
        dt = YEAR / series.shape[1]
        now, low, ice, most = start.copy(), start.copy(), np.zeros_like(start), 0
        gained, exchanged = 0.0, 0.0
        for index in range(first, first + steps):
            drive = system.drive @ series[:, index % series.shape[1]]
            now, count = self.step(now, drive, dt)
            low, ice, most = np.minimum(low, now), np.maximum(ice, 1 - self.liquid(now)[0]), max(most, count)
            flow = drive - system.matrix @ now
            gained, exchanged = gained + float(flow.sum()) * dt, exchanged + float(np.abs(flow).sum()) * dt
        stored = float((self.enthalpy(now) - self.enthalpy(start)).sum())
        return Winter(self._full(low), self._full(ice), abs(stored - gained) / (exchanged + 1e-300), most)

    def _full(self, values: Array) -> Array:
        field = np.full(self.system.grid.shape, np.nan)
        field[self.system.solid] = values
        return field
