"""Water in pores and in the air between them: the short forms that both marches share.

Saturation over liquid water, ln p = P(t) / (b + t): the shape of ISO 13788 with a longer numerator, fitted
to the equation of `air` within 1e-5 from -45 to 75 C. Ice: p_f(T) = -rho Rv T ln(psat_ice / psat_water), a
cubic within 0.1 % and 500 Pa of `air` (0.0004 K) from -45 to 0 C. Liquid sits at p_l = max(p_c, p_f),
rounded over 0.1 K by a quartic that equals the two straight lines outside. Still air: Schirmer's formula,
(T/T0)^0.81 by its cubic, within 3e-5 from -40 to 60 C. EN 15026:2007 gives the balances, its annex A the
second set.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from warmside.physics.air import KELVIN, R_VAPOUR

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Water:
    """What water, ice and vapour do, apart from any material.

    pole : b of the saturation curve [C]
    saturation : six coefficients of P(t), powers of t [-]
    melting : where ice and water have the same vapour pressure [C]
    freezing : three coefficients of p_f, powers of (t - melting) [Pa]
    rounding : half width of the transition between liquid and ice [Pa]
    diffusion : permeability of still air and its relative powers of (T - T0) / T0 [kg/(m.s.Pa)]
    diffusion_at : T0 of these powers [K]
    gas : constant of water vapour [J/(kg.K)]
    density : of liquid water [kg/m3]
    vaporisation : latent heat at 0 C [J/kg]
    vapour_heat : heat capacity of vapour [J/(kg.K)]
    liquid_heat : heat capacity of liquid [J/(kg.K)]
    ice_heat : heat capacity of ice [J/(kg.K)]
    fusion : latent heat of ice at 0 C [J/kg]
    """

    pole: float = 237.3
    saturation: tuple[float, ...] = (
        1522.386013,
        23.65684885,
        0.001791207269,
        -3.041303249e-05,
        1.724039737e-07,
        -4.955954329e-10,
    )
    melting: float = 0.01
    freezing: tuple[float, ...] = (-1223334.77, -3761.76876, 7.90081764)
    rounding: float = 61.2e3
    diffusion: tuple[float, ...] = (2.306e-5 / (R_VAPOUR * KELVIN), 0.81, -0.07695, 0.0305235)
    diffusion_at: float = KELVIN
    gas: float = R_VAPOUR
    density: float = 1000.0
    vaporisation: float = 2.501e6
    vapour_heat: float = 1860.0
    liquid_heat: float = 4186.0
    ice_heat: float = 2100.0
    fusion: float = 333.6e3

    def log_saturation(self, temperature: Array) -> tuple[Array, Array]:
        """ln of the saturation pressure over liquid water [Pa] and its slope [1/K].

        temperature : -45 to 75 [C]
        """
        value, slope = _polynomial(self.saturation, temperature)
        logarithm = value / (self.pole + temperature)
        return logarithm, (slope - logarithm) / (self.pole + temperature)

    def freezing_potential(self, temperature: Array) -> tuple[Array, Array]:
        """Suction at which pore water freezes, negative above melting [Pa], and its slope [Pa/K].

        temperature : -45 to 75 [C]
        """
        return _polynomial((0.0, *self.freezing), temperature - self.melting)

    def liquid_suction(self, temperature: Array, suction: Array) -> tuple[Array, Array, Array]:
        """Suction of what stays liquid [Pa], and its slopes to temperature [Pa/K] and total suction [-].

        temperature : of the pores [C]
        suction : of the total water [Pa]
        """
        freezing, freezing_slope = self.freezing_potential(temperature)
        above = (freezing - suction) / self.rounding
        q = np.clip(above, -1.0, 1.0) + 1.0
        share = q**2 * (3.0 - q) / 4.0
        liquid = suction + self.rounding * (q**3 * (4.0 - q) / 16.0 + np.maximum(above - 1.0, 0.0))
        return liquid, share * freezing_slope, 1.0 - share

    def air_permeability(self, temperature: Array) -> Array:
        """Vapour permeability of still air [kg/(m.s.Pa)].

        temperature : -40 to 60 [C]
        """
        scale, *powers = self.diffusion
        x = (temperature + KELVIN) / self.diffusion_at - 1.0
        return scale * _polynomial((1.0, *powers), x)[0]

    def kelvin(self, temperature: Array) -> Array:
        """rho Rv T: suction that lowers the humidity by a factor e [Pa].

        temperature : of the pores [C]
        """
        return self.density * self.gas * (temperature + KELVIN)

    def log_suction(self, temperature: Array, humidity: Array) -> Array:
        """ln of the suction in balance with a humidity, above freezing [-].

        temperature : of the pores [C]
        humidity : relative humidity over liquid water, over 0 and under 1 [-]
        """
        return np.asarray(np.log(-self.kelvin(temperature) * np.log(humidity)))

    def vapour_pressure(self, temperature: Array, suction: Array) -> Array:
        """Vapour pressure over pores whose liquid sits at a suction [Pa].

        temperature : of the pores [C]
        suction : of the liquid water [Pa]
        """
        return np.asarray(np.exp(self.log_saturation(temperature)[0] - suction / self.kelvin(temperature)))


def _polynomial(coefficients: tuple[float, ...], x: Array) -> tuple[Array, Array]:
    """Value and slope of a polynomial, lowest power first, by Horner's rule."""
    value, slope = np.zeros_like(x), np.zeros_like(x)
    for coefficient in reversed(coefficients):
        slope = slope * x + value
        value = value * x + coefficient
    return value, slope


WATER = Water()
"""What every wall is computed with."""

_ISO_SATURATION = (math.log(610.5) * 237.3, math.log(610.5) + 17.269, 0.0, 0.0, 0.0, 0.0)
_EN_GAS = 8.314 / 0.018

EN_15026 = Water(
    saturation=_ISO_SATURATION,
    melting=-200.0,
    diffusion=(26.1e-6 / (_EN_GAS * 298.15), -1.0, 1.0, -1.0),
    diffusion_at=298.15,
    gas=_EN_GAS,
    vaporisation=2.5e6,
    vapour_heat=0.0,
    liquid_heat=4180.0,
    ice_heat=4180.0,
    fusion=0.0,
)
"""Functions of EN 15026:2007 annex A (from memory): ISO 13788 saturation over water, no ice."""
