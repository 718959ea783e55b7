"""Materials and membranes as smooth functions of temperature and moisture.

Moisture content: w(p_c) = ws (1 + (a p_c)^n)^-m, a sorption isotherm and retention curve in one (van
Genuchten 1980 with free m; EN 15026:2007 annex A has this form), strictly falling, with its inverse. Vapour
permeability relative to still air: A + B exp(C phi), the form of IEA Annex 24 (Kumaran 1996), and for the
annex A material that standard's factor. Liquid conductivity: a power of the degree of saturation, scaled so
that the uptake from a wet face (Parlange 1975, about 1 %) is the declared absorption coefficient. Values,
each with source and status, stand in data/materials.toml; what no source gives is absent. One branch of the
isotherm holds for a whole run: no hysteresis. No dependence on salts or age.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from warmside.physics.water import WATER, Water

Array = npt.NDArray[np.float64]

PERM = 57.2135e-12
"""One US perm, inch of mercury at 0 C [kg/(m2.s.Pa)]."""
IMPERVIOUS = -300.0
"""ln of a liquid conductivity that stands for none [-]."""


class MaterialGapError(ValueError):
    """A model needs a property that no source gives for this material."""


class UnknownMaterialError(ValueError):
    """A name or a branch that the library doesn't have."""


class BadMaterialError(ValueError):
    """A property that no material can have."""


@dataclass(frozen=True)
class Isotherm:
    """w(p_c) = ws (1 + (a p_c)^n)^-m, falling in the suction.

    saturated : ws, the content at no suction [kg/m3]
    log_scale : ln a, a in 1/Pa [-]
    exponent : n [-]
    power : m [-]

    Raises BadMaterialError where it would not fall.
    """

    saturated: float
    log_scale: float
    exponent: float
    power: float

    def __post_init__(self) -> None:
        """Refuse what is not a falling isotherm."""
        if not (self.saturated > 0 and self.exponent > 0 and self.power > 0 and np.isfinite(self.log_scale)):
            raise BadMaterialError(
                f"isotherm ws {self.saturated:g}, ln a {self.log_scale:g}, n {self.exponent:g},"
                f" m {self.power:g}: ws, n and m must be over 0, or water would not rise with humidity"
            )

    def content(self, log_suction: Array) -> Array:
        """Water per volume [kg/m3].

        log_suction : ln of the suction in Pa [-]
        """
        return np.asarray(self.saturated * np.exp(self.log_share(log_suction)))

    def log_share(self, log_suction: Array) -> Array:
        """ln of the degree of saturation, w / ws [-].

        log_suction : ln of the suction in Pa [-]
        """
        return -self.power * np.log1p(np.exp(self.exponent * (self.log_scale + log_suction)))

    def slope(self, log_suction: Array) -> Array:
        """Derivative of the content to ln of the suction [kg/m3].

        log_suction : ln of the suction in Pa [-]
        """
        grown = np.exp(self.exponent * (self.log_scale + log_suction))
        return np.asarray(-self.content(log_suction) * self.power * self.exponent * grown / (1.0 + grown))

    def log_suction(self, content: Array) -> Array:
        """Inverse of content(): ln of the suction in Pa [-].

        content : over 0 and under ws [kg/m3]
        """
        grown = np.expm1(-np.log(content / self.saturated) / self.power)
        return np.log(grown) / self.exponent - self.log_scale


@dataclass(frozen=True)
class Conductivity:
    """lambda = dry + per_kelvin (t - 10) + per_water w / (1 + bend w).

    dry : at 10 C without water [W/(m.K)]
    per_kelvin : rise with temperature [W/(m.K2)]
    per_water : first rise with the content [W.m2/(kg.K)]
    bend : by which the rise levels off [m3/kg]
    """

    dry: float
    per_kelvin: float = 0.0
    per_water: float = 0.0
    bend: float = 0.0

    def at(self, temperature: Array, content: Array) -> Array:
        """Thermal conductivity [W/(m.K)].

        temperature : of the material [C]
        content : water per volume [kg/m3]
        """
        wet = self.per_water * content / (1.0 + self.bend * content)
        return self.dry + self.per_kelvin * (temperature - 10.0) + wet


@dataclass(frozen=True)
class Vapour:
    """Vapour permeability relative to still air: base + rise exp(steepness phi), and less as pores fill.

    base : A, 1/mu of the dry cup and more or less [-]
    rise : B [-]
    steepness : C [-]
    filling : 0, or 1 for EN 15026 annex A: times s / (0.503 s^2 + 0.497), s = 1 - w/ws [-]
    """

    base: float
    rise: float = 0.0
    steepness: float = 0.0
    filling: float = 0.0

    def relative(self, humidity: Array, share: Array) -> Array:
        """Permeability over that of still air [-].

        humidity : relative humidity over liquid water, 0 to 1 [-]
        share : degree of saturation, w / ws [-]
        """
        open_ = 1.0 - self.filling * share
        return (self.base + self.rise * np.exp(self.steepness * humidity)) * (
            open_ / (0.503 * open_**2 + 0.497)
        )


@dataclass(frozen=True)
class Liquid:
    """ln K = sum of c_k S^k + exponent ln S, S the degree of saturation, K in s.

    coefficients : c_0 to c_5, fewer are taken as zero [-]
    exponent : of the power of S [-]
    """

    coefficients: tuple[float, ...]
    exponent: float = 0.0

    def log_conductivity(self, log_share: Array) -> Array:
        """ln of the liquid conductivity K in g = K grad(suction), K in s [-].

        log_share : ln of the degree of saturation [-]
        """
        polynomial = np.polynomial.polynomial.polyval(np.exp(log_share), self.coefficients)
        return np.asarray(polynomial + self.exponent * log_share)


@dataclass(frozen=True)
class Material:
    """What a layer is made of.

    name : for messages
    capacity : heat capacity of the dry material per volume [J/(m3.K)]
    conductivity : of heat
    isotherm : of water
    vapour : permeability relative to still air
    liquid : conductivity of liquid water, None where no absorption coefficient is known
    """

    name: str
    capacity: float
    conductivity: Conductivity
    isotherm: Isotherm
    vapour: Vapour
    liquid: Liquid | None = None

    def __post_init__(self) -> None:
        """Refuse a material without heat storage, conduction or permeability."""
        if not (self.capacity > 0 and self.conductivity.dry > 0):
            raise BadMaterialError(f"{self.name}: heat capacity and conductivity must be over 0")
        if not (self.vapour.base >= 0 and self.vapour.base + self.vapour.rise > 0):
            raise BadMaterialError(f"{self.name}: vapour permeability must be over 0")

    def log_conductivity(self, log_suction: Array) -> Array:
        """ln of the liquid conductivity, K in s [-].

        log_suction : ln of the suction in Pa [-]
        """
        if self.liquid is None:
            return np.full_like(log_suction, IMPERVIOUS)
        return self.liquid.log_conductivity(self.isotherm.log_share(log_suction))


@dataclass(frozen=True)
class Membrane:
    """A layer too thin to hold anything: permeance = base + rise exp(steepness phi).

    name : for messages
    base : of the permeance [kg/(m2.s.Pa)]
    rise : of the permeance [kg/(m2.s.Pa)]
    steepness : by the mean humidity of its two sides [-]
    leaks : share of its area where liquid touches through it, 0 to 1 [-]
    """

    name: str
    base: float
    rise: float = 0.0
    steepness: float = 0.0
    leaks: float = 0.0

    def permeance(self, humidity: Array) -> Array:
        """Permeance at a mean humidity [kg/(m2.s.Pa)].

        humidity : mean of both sides, over liquid water, 0 to 1 [-]
        """
        return np.asarray(self.base + self.rise * np.exp(self.steepness * humidity))


def membrane_from_pairs(name: str, dry: tuple[float, float], humid: tuple[float, float]) -> Membrane:
    """A membrane through two points of its label, permeance growing exponentially with humidity.

    name : for messages
    dry : mean humidity and permeance there [kg/(m2.s.Pa)]
    humid : the same at the other point [kg/(m2.s.Pa)]

    Raises BadMaterialError for two points that such a curve can't meet.
    """
    (low, permeance), (high, greater) = dry, humid
    if not (0 <= low < high <= 1 and 0 < permeance <= greater):
        raise BadMaterialError(
            f"{name}: permeance {permeance:g} at {low:g} and {greater:g} at {high:g}:"
            " want two rising humidities within 0 to 1, and permeances over 0 that do not fall"
        )
    steepness = float(np.log(greater / permeance)) / (high - low)
    return Membrane(name, 0.0, permeance * float(np.exp(-steepness * low)), steepness)


def absorption_coefficient(
    isotherm: Isotherm, liquid: Liquid, humidity: float = 0.5, water: Water = WATER
) -> float:
    """Uptake from a wet face over the root of time, from Parlange's integral [kg/(m2.s^0.5)].

    isotherm : of the material
    liquid : its conductivity
    humidity : of the material before it is wetted, at 20 C [-]
    water : functions of water

    Parlange, Soil Science 119 (1975) 158: A^2 = integral of (w_wet + w - 2 w_start) D dw, D dw = -K dp.
    """
    dry = float(water.log_suction(np.array(20.0), np.array(humidity)))
    log_p = np.linspace(np.log(1.0), dry, 4001)
    w = isotherm.content(log_p)
    flux = np.exp(liquid.log_conductivity(isotherm.log_share(log_p)) + log_p)
    return float(np.sqrt(np.trapezoid((w[0] + w - 2.0 * w[-1]) * flux, log_p)))


def liquid_from_absorption(isotherm: Isotherm, coefficient: float, exponent: float) -> Liquid:
    """Liquid conductivity K = Ks S^exponent that takes up as much as was declared.

    isotherm : of the material
    coefficient : declared uptake over the root of time, from 50 % RH [kg/(m2.s^0.5)]
    exponent : of S, 3 or more [-]

    Raises BadMaterialError for a coefficient that is not over 0.
    """
    if not coefficient > 0:
        raise BadMaterialError(f"absorption coefficient {coefficient:g}: it must be over 0")
    per_unit = absorption_coefficient(isotherm, Liquid((0.0,), exponent))
    return Liquid((2.0 * float(np.log(coefficient / per_unit)),), exponent)


def exponent_for_range(isotherm: Isotherm, humidity: float, ratio: float) -> float:
    """Exponent of S by which K at a humidity is the given share of K at saturation [-].

    isotherm : of the material
    humidity : at 20 C, under 1 [-]
    ratio : K there over K saturated, under 1 [-]
    """
    share = float(isotherm.log_share(WATER.log_suction(np.array(20.0), np.array(humidity))))
    return float(brentq(lambda exponent: exponent * share - np.log(ratio), 0.1, 1e4))


# The library


@dataclass(frozen=True)
class Value:
    """One figure of the library.

    material : whose it is
    property : what it says
    value : the figure [unit of the property]
    unit : as the file states it
    source : author, year, table
    status : read, computed, from memory or common practice
    """

    material: str
    property: str
    value: float
    unit: str
    source: str
    status: str


@cache
def _tables() -> dict[str, Any]:
    return tomllib.loads((files("warmside") / "data" / "materials.toml").read_text("utf-8"))


def material_names() -> tuple[str, ...]:
    """Names that material() knows."""
    return tuple(_tables()["material"])


def membrane_names() -> tuple[str, ...]:
    """Names that membrane() knows."""
    return tuple(_tables()["membrane"])


def _entry(kind: str, name: str) -> Mapping[str, Any]:
    known = _tables()[kind]
    if name not in known:
        raise UnknownMaterialError(f"{kind} {name!r}: the library has {', '.join(known)}")
    return dict(known[name])


def values(kind: str, name: str) -> Iterator[Value]:
    """Every figure of a material or membrane with its source.

    kind : material or membrane
    name : in the library

    Raises UnknownMaterialError.
    """
    for key, told in _entry(kind, name).items():
        if isinstance(told, dict) and "value" in told:
            yield Value(name, key, float(told["value"]), told["unit"], told["source"], told["status"])


def branches(name: str) -> tuple[str, ...]:
    """Branches of a material's isotherm.

    name : in the library

    Raises UnknownMaterialError.
    """
    return tuple(_entry("material", name)["isotherm"])


def isotherm(name: str, branch: str | None = None) -> Isotherm:
    """One branch of a material's isotherm.

    name : in the library
    branch : adsorption, desorption or mean; the only or first one when None

    Raises UnknownMaterialError.
    """
    known = _entry("material", name)["isotherm"]
    if branch is not None and branch not in known:
        raise UnknownMaterialError(f"{name}, branch {branch!r}: the library has {', '.join(known)}")
    told = known[branch or next(iter(known))]
    return Isotherm(*(float(told[key]) for key in ("saturated", "log_scale", "exponent", "power")))


def material(name: str, branch: str | None = None, absorption: float | None = None) -> Material:
    """A material of the library.

    name : in the library
    branch : of its isotherm, the first when None
    absorption : declared absorption coefficient, the library's own when None [kg/(m2.s^0.5)]

    Raises UnknownMaterialError, and MaterialGapError where liquid uptake is asked for and no source tells how
    the conductivity falls as the material dries.
    """
    figures = {value.property: value.value for value in values("material", name)}
    curve = isotherm(name, branch)
    declared = figures.get("absorption") if absorption is None else absorption
    if absorption is not None and "liquid_exponent" not in figures:
        raise MaterialGapError(
            f"{name}: an absorption coefficient was given, and no source tells how its liquid conductivity"
            " falls with drying; give a Liquid"
        )
    liquid = None
    if declared is not None and declared > 0:
        liquid = liquid_from_absorption(curve, declared, figures["liquid_exponent"])
    return Material(
        name,
        figures["density"] * figures["heat_capacity"],
        Conductivity(
            figures["conductivity"],
            figures.get("conductivity_per_kelvin", 0.0),
            figures.get("conductivity_per_water", 0.0),
            figures.get("conductivity_bend", 0.0),
        ),
        curve,
        Vapour(figures["vapour_base"], figures.get("vapour_rise", 0.0), figures.get("vapour_steepness", 0.0)),
        liquid,
    )


def membrane(name: str, leaks: float = 0.0) -> Membrane:
    """A membrane of the library.

    name : in the library
    leaks : share of its area where liquid touches through it, 0 to 1 [-]

    Raises UnknownMaterialError, and MaterialGapError where only end points are known and no curve.
    """
    entry = _entry("membrane", name)
    figures = {value.property: value.value for value in values("membrane", name)}
    if "permeance" not in figures:
        raise MaterialGapError(f"{name}: {entry['gap']}")
    return replace(Membrane(name, figures["permeance"]), leaks=leaks)


EN_15026_MATERIAL = Material(
    "EN 15026 annex A",
    1.824e6,
    Conductivity(1.5, per_water=15.8e-3),
    Isotherm(146.0, float(np.log(8e-8)), 1.6, 0.375),
    Vapour(1.0 / 200.0, filling=1.0),
    Liquid(
        tuple(
            np.polynomial.Polynomial([-39.2619, 0.0704, -1.7420e-4, -2.7953e-6, -1.1566e-7, 2.5969e-9])(
                np.polynomial.Polynomial([-73.0, 146.0])
            ).coef
        )
    ),
)
"""Functions of EN 15026:2007 annex A (from memory; one public excerpt has the same coefficients)."""
