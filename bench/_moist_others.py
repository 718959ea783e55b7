"""The same walls by general integrators of scipy: the first days of one wall, as ratios to the march.

LSODA with a banded Jacobian and BDF with a sparse one, each with the readable right-hand side (numpy) and
with the kernel's, Jacobian included (compiled). BDF with numpy is the readable march, `transport.march`. A
tolerance is taken from a row of them: the loosest at which the largest error of temperature is no more than
the march's own; it is looked for with the compiled right-hand side. One wall fills one lane of eight in the
compiled rates: its seven neighbours are idle, except for the Jacobian.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from time import perf_counter
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import sparse
from scipy.integrate import solve_ivp

from bench._moist_cases import FINE, YEAR, Four, errors_at, faces, samples, timed, weather
from warmside.physics.forcing import Forcing
from warmside.physics.march_rates import BAND, Rates
from warmside.physics.marching import USUAL, initial
from warmside.physics.moist_wall import Wall
from warmside.physics.transport import Equations

FloatArray = npt.NDArray[np.float64]
TOLERANCES = (1e-3, 1e-4, 1e-5)


MOST = 30_000
"""Looks at the right-hand side at which an integrator is given up."""


class GaveUp(ArithmeticError):  # noqa: N818
    """An integrator looked too often."""


@dataclass
class Counted:
    """A right-hand side that gives up."""

    rates: Callable[[float, FloatArray], FloatArray]
    looks: int = 0

    def __call__(self, hour: float, unknowns: FloatArray) -> FloatArray:
        """Change per hour of the unknowns; raises GaveUp after too many looks."""
        self.looks += 1
        if self.looks > MOST:
            raise GaveUp
        return self.rates(hour, unknowns)


class Answer(NamedTuple):
    """What came out at faces at full hours, and the seconds it took."""

    temperature: FloatArray
    humidity: FloatArray
    seconds: float


def solved(made: Wall, driven: Forcing, method: str, tolerance: float, compiled: bool) -> Answer | None:
    """One wall by one integrator; None where it gave up or went astray."""
    equations, fast = Equations(made, driven), Rates(made, driven)
    wanted = np.arange(driven.hours + 1.0)
    before = perf_counter()
    # Beyond what a wall can be, where integrators try their luck, rates overflow.
    with np.errstate(all="ignore"), suppress(GaveUp):
        found = solve_ivp(
            Counted(fast if compiled else equations.rates),
            (0.0, wanted[-1]),
            initial([made], 12.0, 0.75)[0].ravel(),
            method,
            wanted,
            rtol=tolerance,
            atol=10.0 * tolerance,
            max_step=1.0,
            **_jacobian(method, made, fast if compiled else None),
        )
        if found.success and np.isfinite(found.y).all():
            seconds, states = perf_counter() - before, found.y.T.reshape(-1, made.cells, 2)
            at = [equations.at_faces(h, row, faces(made)) for h, row in zip(wanted, states, strict=True)]
            seen = np.array(at)[1:]
            return Answer(seen[:, 0], seen[:, 1], seconds)
    return None


def _jacobian(method: str, made: Wall, fast: Rates | None) -> dict[str, Any]:
    """How an integrator is told of the Jacobian: its shape, and with compiled rates its values."""
    if method == "LSODA":
        given: dict[str, Any] = {} if fast is None else {"jac": fast.banded}
        return {"lband": BAND, "uband": BAND, **given}
    if fast is None:
        near = sparse.diags([1.0, 1.0, 1.0], [-1, 0, 1], shape=(made.cells, made.cells), dtype=None)
        return {"jac_sparsity": sparse.kron(near, np.ones((2, 2))).tocsc()}
    size, bands = 2 * made.cells, BAND - np.arange(2 * BAND + 1)
    return {"jac": lambda hour, y: sparse.dia_matrix((fast.banded(hour, y), bands), (size, size)).tocsc()}


def others(told: dict[str, Any], days: int, say: Callable[[str], None]) -> None:
    """Print one row for each integrator and right-hand side."""
    made, driven = samples(told, 1)[0], weather(told, 24 * days)
    _, fine = timed([made], driven, FINE)
    exact = fine.temperature, fine.humidity
    alone, ours = timed([made], driven, USUAL)
    crowd, _ = timed(samples(told, 256), driven, USUAL)
    mine = errors_at(ours.temperature, ours.humidity, *exact)
    say(_row("march, usual, one wall", None, mine, alone, crowd))
    say(_row("march, usual, 256 walls", None, mine, crowd, crowd))
    for method in ("BDF", "LSODA"):
        for tolerance in TOLERANCES:
            fast = solved(made, driven, method, tolerance, True)
            if fast is not None and _errors(fast, exact)[1] <= mine[1]:
                break
        for label, out in (("compiled", fast), ("numpy", solved(made, driven, method, tolerance, False))):
            if out is None:
                say(f"| {method}, {label} | {tolerance:g} | | | | | went astray, or past {MOST} looks | |")
            else:
                speed = 24.0 * days / YEAR / out.seconds
                say(_row(f"{method}, {label}", tolerance, _errors(out, exact), speed, crowd))


def _errors(found: Answer, exact: tuple[FloatArray, FloatArray]) -> Four:
    return errors_at(found.temperature[None], found.humidity[None], *exact)


def _row(label: str, tolerance: float | None, errors: Four, speed: float, crowd: float) -> str:
    rms_t, max_t, rms_h, max_h = errors
    told = "" if tolerance is None else f"{tolerance:g}"
    return (
        f"| {label} | {told} | {rms_t:.4f} | {max_t:.3f} | {rms_h:.3f} | {max_h:.2f}"
        f" | {speed:.4g} | {crowd / speed:.0f} |"
    )
