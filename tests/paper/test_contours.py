"""Lines of equal value: exact for linear fields, closed round a hill, never crossing in a saddle."""

from __future__ import annotations

import math

import numpy as np
import pytest

from warmside.paper.contours import contours, length
from warmside.physics.grid import Array

X = np.linspace(0.0, 4.0, 9)
Y = np.linspace(-1.0, 2.0, 7)


def field(along: float, up: float) -> Array:
    return np.asarray(along * X[:, None] + up * Y[None, :])


def test_a_linear_field_has_one_straight_line() -> None:
    # x + 2 y = 1.7 from (0, 0.85) to (3.7, -1): linear interpolation is exact; length by Pythagoras.
    [line] = contours(X, Y, field(1.0, 2.0), 1.7)
    assert all(x + 2 * y == pytest.approx(1.7) for x, y in line)
    assert length(line) == pytest.approx(math.hypot(3.7, 1.85))


def test_a_level_that_is_not_met_has_no_line() -> None:
    assert contours(X, Y, field(1.0, 0.0), 5.0) == []


def test_a_hill_has_one_closed_line_of_its_circumference() -> None:
    # r = 1.5: the circumference is 2 pi 1.5; chords of 81 values across 4 miss it by less than 0.2 %.
    side = np.linspace(-2.0, 2.0, 81)
    [line] = contours(side, side, np.hypot(side[:, None], side[None, :]), 1.5)
    assert line[0] == pytest.approx(line[-1])
    assert length(line) == pytest.approx(3.0 * math.pi, rel=2e-3)


def test_no_line_goes_where_the_body_is_not() -> None:
    # The field x without its middle columns: the level lies in the hole, or beside it.
    holed = field(1.0, 0.0)
    holed[3:6, :4] = np.nan
    [line] = contours(X, Y, holed, 1.6)
    assert {round(y, 9) for _, y in line} == {1.0, 1.5, 2.0}
    assert [x for x, _ in line] == pytest.approx([1.6] * 3)


@pytest.mark.parametrize(("middle", "corner"), [(-0.5, (0.0, 0.0)), (0.5, (1.0, 0.0))])
def test_the_mean_decides_in_a_saddle(middle: float, corner: tuple[float, float]) -> None:
    # Corners high, low, high, low. A low mean cuts off each high corner, a high mean each low one.
    high, low = (2.0, -1.0) if middle > 0 else (1.0, -2.0)
    assert (high + low) / 2 == middle
    lines = contours(np.array([0.0, 1.0]), np.array([0.0, 1.0]), np.array([[high, low], [low, high]]), 0.0)
    assert len(lines) == 2
    assert any(all(math.dist(point, corner) < 1.0 for point in line) for line in lines)
