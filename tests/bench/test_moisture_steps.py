"""The linearly implicit method of the measurements: it keeps water and energy, and has its order."""

import math

import numpy as np
import pytest

from bench.moisture_steps import GAMMA, HALVINGS, Array, Conserved, stepped
from warmside.physics.forcing import Forcing, forcing, steady
from warmside.physics.marching import Accuracy, initial, march_walls
from warmside.physics.materials import material
from warmside.physics.moist_wall import End, Layer, Wall, cut, film
from warmside.physics.transport import Equations

SEALED = End(1e30, 1e30)


def wall(outer: End, inner: End) -> Wall:
    layers = (Layer(material("osb"), 0.02), Layer(material("eps"), 0.05))
    return cut(layers, outer, inner, 4e-3, 1.6)


@pytest.mark.parametrize("stage", [GAMMA, 1.0])
def test_a_closed_wall_keeps_what_it_holds(stage: float) -> None:
    # One end warm and damp, the other cold and dry, nothing in or out: sums stay but for rounding, which
    # slopes by differences with shifts of 1e-7 carry to 1e-9 of what moves.
    made = wall(SEALED, SEALED)
    system = Conserved(Equations(made, steady(4, (0.0, 0.5), (20.0, 0.5))), stage)
    temperature = np.linspace(30.0, 5.0, made.cells)
    y = initial([made], temperature[None], np.linspace(0.8, 0.4, made.cells)[None])[0].ravel()
    held = system.stored(y)
    before = held.reshape(-1, 2).sum(axis=0)
    for hour in range(4):
        held, y = stepped(system, hour, 1.0, held, y, HALVINGS)
    np.testing.assert_allclose(held.reshape(-1, 2).sum(axis=0), before, rtol=1e-8)
    # And something did move.
    assert np.ptp(y[::2]) < 10.0


def ramps(hours: int) -> Forcing:
    """Straight, the same for any length."""
    at = np.arange(hours + 1.0) / 8.0
    return forcing(2.0 + 6.0 * at, 0.7 + 0.1 * at, 20.0 - at, 0.5 - 0.1 * at)


def after(steps: int, stage: float) -> Array:
    """Two hours of straight ramps, once the start has been forgotten."""
    made = wall(film(10.0), film(8.0))
    system = Conserved(Equations(made, ramps(8)), stage)
    first = march_walls(
        [made], [ramps(4)], initial([made], 8.0, 0.6), accuracy=Accuracy(1e-8, 1e-8, steps=16)
    )
    y: Array = first.state[0].ravel()
    held = system.stored(y)
    for part in range(2 * steps):
        held, y = system.step(4.0 + part / steps, 1.0 / steps, held, y)
    return np.asarray(y)


@pytest.mark.parametrize("stage", [GAMMA, 1.0])
def test_order_2(stage: float) -> None:
    exact = after(8, stage)
    coarse, fine = (float(np.abs(after(steps, stage) - exact).max()) for steps in (1, 2))
    # With the reference's own error order 2 shows as 2.07, order 1 as 1.2; the longest steps hide some.
    assert math.log2(coarse / fine) > 1.6
