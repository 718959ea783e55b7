"""Temperature of the ground's surface over a year, bare or under snow.

The surface balances air, sun, sky and evaporation against the soil: q = (T_equivalent - T_surface) / R(t),
where R holds the film and the snow of the month. Soil answers as a half-space, flux = sqrt(i omega k rho c)
* T for each harmonic (Carslaw and Jaeger 1959, section 2.6), so one linear periodic problem gives the exact
periodic state. No freezing here, no run-off, no heat from a building: those belong to `frost` and to the
section.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.sparse.linalg import LinearOperator, gmres

from warmside.physics.grid import Array
from warmside.physics.ground_rules import GroundInputError, Soil

MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
"""Days of each month in a year of 365 days [d]."""
YEAR = 365 * 86400.0
"""A year of 8760 hours [s]."""


class SurfaceBalanceError(RuntimeError):
    """The periodic surface balance did not converge."""


def by_month(values: npt.ArrayLike, steps: int = 8760) -> Array:
    """Spread twelve monthly values over the equal steps of a year [unit of the values].

    values : January to December
    steps : in the year, a multiple of 365 [-]
    Raises GroundInputError.
    """
    monthly = np.asarray(values, float)
    if monthly.shape != (12,) or steps % 365:
        raise GroundInputError(
            f"{monthly.shape} values on {steps} steps: want 12 values, steps in multiples of 365"
        )
    return np.repeat(monthly, np.array(MONTH_DAYS) * (steps // 365))


def equivalent_temperature(air: npt.ArrayLike, gain: npt.ArrayLike, film: float) -> Array:
    """Air temperature that alone would load the surface like air, sun and sky together [C].

    air : temperature of the air [C]
    gain : absorbed sun less long-wave loss to the sky less evaporation [W/m2]
    film : combined surface resistance [m2.K/W]
    """
    return np.asarray(air, float) + film * np.asarray(gain, float)


def surface_year(equivalent: npt.ArrayLike, resistance: npt.ArrayLike, soil: Soil) -> Array:
    """Periodic surface temperature of the soil, one value for each step of a year [C].

    equivalent : see `equivalent_temperature`, equal steps over the year [C]
    resistance : film plus snow at each step [m2.K/W]
    soil : below the surface
    Raises GroundInputError, SurfaceBalanceError.
    """
    drive = np.asarray(equivalent, float)
    film = np.broadcast_to(np.asarray(resistance, float), drive.shape)
    if drive.ndim != 1 or film.min() <= 0:
        raise GroundInputError(
            "surface balance: want one temperature for each step, and a resistance over 0 at each"
        )
    n, g = len(drive), 1 / film
    omega = 2 * np.pi * np.arange(n // 2 + 1) / YEAR
    soil_admits = np.sqrt(1j * omega * soil.conductivity * soil.capacity)
    typical = float(np.exp(np.log(g).mean()))

    def balance(surface: Array) -> Array:
        return g * surface + np.fft.irfft(soil_admits * np.fft.rfft(surface), n)

    def roughly(flux: Array) -> Array:
        return np.fft.irfft(np.fft.rfft(flux) / (typical + soil_admits), n)

    shape, mean = (n, n), float(np.average(drive, weights=g))
    operator, about = LinearOperator(shape, balance, dtype=float), LinearOperator(shape, roughly, dtype=float)
    swing, failed = gmres(operator, g * (drive - mean), M=about, rtol=1e-10, atol=0.0, restart=80, maxiter=10)
    if failed:
        raise SurfaceBalanceError(f"surface balance of {n} steps did not reach 1e-10")
    return np.asarray(mean + swing)
