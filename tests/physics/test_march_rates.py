"""The kernel's rates beside those of the version to read, at any state; its Jacobian beside plain slopes."""

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.physics.moist_walls import everything, weather
from warmside.physics import march_rates
from warmside.physics.kernel import vector_width
from warmside.physics.march_rates import BAND, Rates
from warmside.physics.moist_wall import FREE_LOG
from warmside.physics.transport import Equations

Array = npt.NDArray[np.float64]

WALL, DRIVEN = everything(), weather(24)
OURS, READABLE = Rates(WALL, DRIVEN), Equations(WALL, DRIVEN)


def state(seed: int) -> Array:
    """Frost and heat, dust dry to soaked, free water on some cells: beyond what a march meets."""
    draw = np.random.default_rng(seed)
    temperature = draw.uniform(-25.0, 45.0, WALL.cells)
    potential = FREE_LOG + draw.uniform(-1.0, 12.0, WALL.cells)
    return np.stack([temperature, potential], axis=1).ravel()


@settings(max_examples=60)
@given(st.integers(0, 10**6), st.floats(0.0, 24.0))
def test_rates_are_those_of_the_version_to_read(seed: int, hour: float) -> None:
    # exp and ln of the kernel are within 5e-13; ln K has them times powers up to 100 or so, and flows are
    # differences: 1e-8 of each rate, and 1e-11 of the greatest where large ones cancel.
    expected, found = READABLE.rates(hour, state(seed)), OURS(hour, state(seed))
    for unknown in (0, 1):
        greatest = np.abs(expected[unknown::2]).max()
        np.testing.assert_allclose(found[unknown::2], expected[unknown::2], rtol=1e-8, atol=1e-11 * greatest)


def test_the_width_changes_no_bit(monkeypatch: pytest.MonkeyPatch) -> None:
    widest, expected = vector_width(), OURS(5.5, state(1)).tobytes()
    for width in (128, 256, 512):
        if width <= widest:
            monkeypatch.setattr(march_rates, "vector_width", lambda width=width: width)
            assert OURS(5.5, state(1)).tobytes() == expected


def test_the_banded_jacobian_has_the_slopes_of_single_shifts() -> None:
    # The same one-sided slope by the readable rates: each shift loses half of the digits or so: 1e-3.
    at = np.stack([np.linspace(-5.0, 20.0, WALL.cells), np.full(WALL.cells, 16.0)], axis=1).ravel()
    bands, plain = OURS.banded(3.0, at), READABLE.rates(3.0, at)
    for column in (0, 1, 20, 37, len(at) - 2, len(at) - 1):
        shift = 1e-5 * max(1.0, abs(at[column]))
        moved = at.copy()
        moved[column] += shift
        slope = (READABLE.rates(3.0, moved) - plain) / shift
        rows = np.arange(max(0, column - BAND), min(len(at), column + BAND + 1))
        found = np.zeros(len(at))
        found[rows] = bands[BAND + rows - column, column]
        np.testing.assert_allclose(found, slope, rtol=1e-3, atol=1e-4 * np.abs(slope).max())
