"""Moist air and leakage: states of the air in a wall, and what flows through its openings.

Saturation over water is the Wagner-Pruss equation of IAPWS SR1-86 (1992), over ice the sublimation equation
of IAPWS R14-08 (2011). Relative humidity is over liquid water everywhere, below 0 C too; there the water
equation is continued below its triple point, where no IAPWS formulation exists (0.02 % from Sonntag 1990 at
-20 C, 0.07 % at -40 C). Air and vapour are ideal gases, without the enhancement factor (0.5 % of the vapour
at sea level). Enthalpy and wet bulb follow ASHRAE Fundamentals 2017, chapter 1.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

Array = npt.NDArray[np.float64]
Like = npt.ArrayLike

KELVIN = 273.15
R_AIR = 287.042
"""Gas constant of dry air, ASHRAE Fundamentals 2017 ch. 1 eq. 1 [J/(kg.K)]."""
R_VAPOUR = 461.524
"""Gas constant of water vapour, ASHRAE Fundamentals 2017 ch. 1 eq. 2 [J/(kg.K)]."""
SEA_LEVEL = 101325.0
"""Standard pressure at sea level [Pa]."""
GRAVITY = 9.80665
"""Standard gravity [m/s2]."""

_TC, _PC = 647.096, 22.064e6
_WATER_A = np.array([-7.85951783, 1.84408259, -11.7866497, 22.6807411, -15.9618719, 1.80122502])
_WATER_B = np.array([1.0, 1.5, 3.0, 3.5, 4.0, 7.5])
_TT, _PT = 273.16, 611.657
_ICE_A = np.array([-21.2144006, 27.3203819, -6.10598130])
_ICE_B = np.array([0.00333333333, 1.20666667, 1.70333333])

WATER_RANGE = (-60.0, 200.0)
"""Temperatures that the equation over water accepts [C]."""
ICE_RANGE = (-100.0, 0.01)
"""Temperatures that the equation over ice accepts [C]."""


class OutOfRangeError(ValueError):
    """A state lies outside the range of the equation that was asked for."""


class NoBalanceError(ValueError):
    """The openings given cannot balance: no flow path between inside and outside."""


def _within(value: Like, span: tuple[float, float], what: str, unit: str) -> Array:
    """Return the value as an array, or raise OutOfRangeError naming the range."""
    array = np.asarray(value, float)
    bad = ~((array >= span[0]) & (array <= span[1]))
    if bad.any():
        raise OutOfRangeError(
            f"{what} {array[bad].flat[0]:g} {unit}: the equation holds from {span[0]:g} to {span[1]:g} {unit}"
        )
    return array


def _log_water(kelvin: Array) -> tuple[Array, Array]:
    """ln(p) over water and its derivative to temperature, SR1-86 eq. 1."""
    tau = np.maximum(1 - kelvin / _TC, 0.0)[..., None]
    reduced = _TC / kelvin * (tau**_WATER_B @ _WATER_A)
    slope = -(reduced + tau ** (_WATER_B - 1) @ (_WATER_A * _WATER_B)) / kelvin
    return reduced + np.log(_PC), slope


def _log_ice(kelvin: Array) -> tuple[Array, Array]:
    """ln(p) over ice and its derivative to temperature, R14-08 eq. 6."""
    theta = (kelvin / _TT)[..., None]
    logarithm = theta ** (_ICE_B - 1) @ _ICE_A
    slope = theta ** (_ICE_B - 2) @ (_ICE_A * (_ICE_B - 1)) / _TT
    return logarithm + np.log(_PT), slope


def saturation_over_water(temperature: Like) -> Array:
    """Saturation vapour pressure over liquid water [Pa], IAPWS SR1-86 (1992).

    temperature : -60 to 200; supercooled water below 0 [C]
    Raises OutOfRangeError.
    """
    return np.exp(_log_water(_within(temperature, WATER_RANGE, "temperature", "C") + KELVIN)[0])


def saturation_over_ice(temperature: Like) -> Array:
    """Saturation vapour pressure over ice [Pa], IAPWS R14-08 (2011) eq. 6.

    temperature : -100 to 0.01 [C]
    Raises OutOfRangeError.
    """
    return np.exp(_log_ice(_within(temperature, ICE_RANGE, "temperature", "C") + KELVIN)[0])


def saturation_slope(temperature: Like) -> Array:
    """Derivative of the saturation pressure over water [Pa/K].

    temperature : -60 to 200 [C]
    """
    logarithm, slope = _log_water(_within(temperature, WATER_RANGE, "temperature", "C") + KELVIN)
    return np.exp(logarithm) * slope


def _inverse(log_pressure: Callable[[Array], tuple[Array, Array]], target: Array) -> Array:
    """Temperature at which ln(p) meets the target, by six Newton steps in 1/T, almost straight [C]."""
    kelvin = 1 / (1 / _TT - (target - np.log(_PT)) / 5423.0)
    for _ in range(6):
        value, slope = log_pressure(kelvin)
        kelvin = 1 / (1 / kelvin + (value - target) / (slope * kelvin**2))
    return np.asarray(kelvin - KELVIN)


def dew_point(vapour_pressure: Like) -> Array:
    """Temperature at which this vapour saturates over liquid water [C].

    vapour_pressure : 1 to 1.5e6 [Pa]
    Raises OutOfRangeError.
    """
    return _inverse(_log_water, np.log(_within(vapour_pressure, (1.0, 1.5e6), "vapour pressure", "Pa")))


def frost_point(vapour_pressure: Like) -> Array:
    """Temperature at which this vapour saturates over ice [C].

    vapour_pressure : 0.002 to 611.657 [Pa]
    Raises OutOfRangeError.
    """
    return _inverse(_log_ice, np.log(_within(vapour_pressure, (0.002, _PT), "vapour pressure", "Pa")))


def vapour_pressure(temperature: Like, humidity: Like) -> Array:
    """Partial pressure of the vapour [Pa].

    temperature : of the air [C]
    humidity : relative humidity over liquid water, 0 to 1 [-]
    """
    return np.asarray(humidity, float) * saturation_over_water(temperature)


def relative_humidity(temperature: Like, vapour_pressure: Like) -> Array:
    """Relative humidity over liquid water [-].

    temperature : of the air [C]
    vapour_pressure : partial pressure of the vapour [Pa]
    """
    return np.asarray(vapour_pressure, float) / saturation_over_water(temperature)


def humidity_ratio(vapour_pressure: Like, pressure: Like = SEA_LEVEL) -> Array:
    """Vapour per dry air [kg/kg].

    vapour_pressure : partial pressure of the vapour [Pa]
    pressure : of the moist air [Pa]
    """
    vapour = np.asarray(vapour_pressure, float)
    return np.asarray(R_AIR / R_VAPOUR * vapour / (np.asarray(pressure, float) - vapour))


def pressure_of_ratio(ratio: Like, pressure: Like = SEA_LEVEL) -> Array:
    """Partial pressure of the vapour for a humidity ratio [Pa].

    ratio : vapour per dry air [kg/kg]
    pressure : of the moist air [Pa]
    """
    w = np.asarray(ratio, float)
    return np.asarray(np.asarray(pressure, float) * w / (R_AIR / R_VAPOUR + w))


def enthalpy(temperature: Like, ratio: Like) -> Array:
    """Enthalpy per dry air, zero for dry air and liquid water at 0 C [J/kg]; ASHRAE 2017 ch. 1 eq. 30.

    temperature : of the air [C]
    ratio : vapour per dry air [kg/kg]
    """
    t = np.asarray(temperature, float)
    return 1006.0 * t + np.asarray(ratio, float) * (2.501e6 + 1860.0 * t)


def density(temperature: Like, vapour_pressure: Like = 0.0, pressure: Like = SEA_LEVEL) -> Array:
    """Mass of moist air per volume [kg/m3].

    temperature : of the air [C]
    vapour_pressure : partial pressure of the vapour [Pa]
    pressure : of the moist air [Pa]
    """
    kelvin = np.asarray(temperature, float) + KELVIN
    vapour = np.asarray(vapour_pressure, float)
    dry = np.asarray(pressure, float) - vapour
    return np.asarray(dry / (R_AIR * kelvin) + vapour / (R_VAPOUR * kelvin))


def specific_volume(temperature: Like, ratio: Like, pressure: Like = SEA_LEVEL) -> Array:
    """Volume of moist air per dry air [m3/kg]; ASHRAE 2017 ch. 1 eq. 26.

    temperature : of the air [C]
    ratio : vapour per dry air [kg/kg]
    pressure : of the moist air [Pa]
    """
    kelvin = np.asarray(temperature, float) + KELVIN
    return np.asarray((R_AIR + R_VAPOUR * np.asarray(ratio, float)) * kelvin / np.asarray(pressure, float))


def vapour_content(temperature: Like, vapour_pressure: Like) -> Array:
    """Mass of vapour per volume of air [kg/m3].

    temperature : of the air [C]
    vapour_pressure : partial pressure of the vapour [Pa]
    """
    return np.asarray(vapour_pressure, float) / (R_VAPOUR * (np.asarray(temperature, float) + KELVIN))


def _ratio_at_wet_bulb(temperature: Array, wet: Array, pressure: Array) -> Array:
    """Humidity ratio of air at `temperature` whose wet bulb is `wet`, ASHRAE 2017 ch. 1 eq. 33 and 35."""
    frozen = wet < 0
    p_sat = np.where(
        frozen, saturation_over_ice(np.minimum(wet, 0)), saturation_over_water(np.maximum(wet, 0))
    )
    saturated = humidity_ratio(p_sat, pressure)
    latent = np.where(frozen, 2.830e6 - 240.0 * wet, 2.501e6 - 2326.0 * wet)
    below = np.where(frozen, 2.830e6 - 2100.0 * wet, 2.501e6 - 4186.0 * wet) + 1860.0 * temperature
    return (latent * saturated - 1006.0 * (temperature - wet)) / below


def wet_bulb(temperature: Like, vapour_pressure: Like, pressure: Like = SEA_LEVEL) -> Array:
    """Thermodynamic wet bulb temperature, over ice below 0 C [C]; ASHRAE 2017 ch. 1 eq. 33 and 35.

    temperature : of the air, -60 to 90 [C]
    vapour_pressure : partial pressure of the vapour, at most saturated over water [Pa]
    pressure : of the moist air [Pa]
    Raises OutOfRangeError.
    """
    t = _within(temperature, (-60.0, 90.0), "temperature", "C")
    t, vapour, p = np.broadcast_arrays(t, np.asarray(vapour_pressure, float), np.asarray(pressure, float))
    target = humidity_ratio(
        _within(vapour, (0.0, float(np.max(saturation_over_water(t))) * (1 + 1e-9)), "vapour pressure", "Pa"),
        p,
    )
    low, high = np.maximum(t - 60.0, ICE_RANGE[0]), t.copy()
    for _ in range(48):
        middle = 0.5 * (low + high)
        wetter = _ratio_at_wet_bulb(t, middle, p) > target
        low, high = np.where(wetter, low, middle), np.where(wetter, middle, high)
    return 0.5 * (low + high)


def stack_pressure(
    height: Like, neutral_height: Like, inside: Like, outside: Like, pressure: Like = SEA_LEVEL
) -> Array:
    """Pressure inside minus outside by the difference of densities; positive pushes outward [Pa].

    height : of the opening [m]
    neutral_height : where inside and outside pressure are equal [m]
    inside : temperature of the indoor air [C]
    outside : temperature of the outdoor air [C]
    pressure : barometric [Pa]
    """
    lighter = density(outside, 0.0, pressure) - density(inside, 0.0, pressure)
    return np.asarray(lighter * GRAVITY * (np.asarray(height, float) - np.asarray(neutral_height, float)))


def wind_pressure(speed: Like, coefficient: Like, outside: Like, pressure: Like = SEA_LEVEL) -> Array:
    """Pressure that wind adds on the outside of a face [Pa].

    speed : of the undisturbed wind at the reference height of the coefficient [m/s]
    coefficient : pressure coefficient of the face [-]
    outside : temperature of the outdoor air [C]
    pressure : barometric [Pa]
    """
    dynamic = 0.5 * density(outside, 0.0, pressure) * np.asarray(speed, float) ** 2
    return np.asarray(np.asarray(coefficient, float) * dynamic)


@dataclass(frozen=True)
class Opening:
    """One opening between inside and outside: volume flow = coefficient * |dp|**exponent at air of 1.2 kg/m3.

    height : above any common level [m]
    coefficient : flow at 1 Pa [m3/(s.Pa^n)]
    exponent : 0.5 for an orifice, 0.65 for cracks, 1 for seepage [-]
    wind : pressure that wind adds outside it [Pa]
    """

    height: float
    coefficient: float
    exponent: float = 0.65
    wind: float = 0.0

    @staticmethod
    def orifice(height: float, area: float, discharge: float = 0.6, wind: float = 0.0) -> Opening:
        """A sharp hole, flow = discharge * area * sqrt(2 dp / rho).

        height : above any common level [m]
        area : of the hole [m2]
        discharge : coefficient of contraction and loss [-]
        wind : pressure that wind adds outside it [Pa]
        """
        return Opening(height, discharge * area * (2 / 1.2) ** 0.5, 0.5, wind)

    def flow(self, difference: float, rho: float) -> float:
        """Mass flow outward [kg/s].

        difference : pressure inside minus outside at this opening [Pa]
        rho : density of the air that flows [kg/m3]
        """
        volume = self.coefficient * abs(difference) ** self.exponent * (1.2 / rho) ** (1 - self.exponent)
        return float(np.copysign(volume * rho, difference))


@dataclass(frozen=True)
class Leakage:
    """Air flow through a set of openings in balance.

    pressure : inside minus outside at height 0, without wind [Pa]
    differences : inside minus outside at each opening [Pa]
    flows : outward through each opening [kg/s]
    """

    pressure: float
    differences: tuple[float, ...]
    flows: tuple[float, ...]


def leakage(openings: Sequence[Opening], inside: float, outside: float, exhaust: float = 0.0) -> Leakage:
    """Find the indoor pressure at which the flows of all openings and the fan balance.

    openings : at least one, with a positive coefficient
    inside : temperature of the indoor air [C]
    outside : temperature of the outdoor air [C]
    exhaust : mass that fans and flues take out, net [kg/s]
    Raises NoBalanceError.
    """
    if not any(opening.coefficient > 0 for opening in openings):
        raise NoBalanceError("no opening with a positive coefficient: give at least one path to the outside")
    rho_in, rho_out = float(density(inside)), float(density(outside))
    stack = [(rho_out - rho_in) * GRAVITY * o.height - o.wind for o in openings]

    def flows(pressure: float) -> list[float]:
        return [
            o.flow(pressure + s, rho_in if pressure + s > 0 else rho_out)
            for o, s in zip(openings, stack, strict=True)
        ]

    def excess(pressure: float) -> float:
        return sum(flows(pressure)) + exhaust

    span = 1.0 + max(abs(s) for s in stack)
    while excess(-span) > 0 or excess(span) < 0:
        span *= 4
    at_zero = float(brentq(excess, -span, span, xtol=1e-13, rtol=1e-14))
    return Leakage(at_zero, tuple(at_zero + s for s in stack), tuple(flows(at_zero)))
