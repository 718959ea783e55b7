"""Steady resistance across a wall: films, air layers, layers in series, bridged layers, corrections.

Method and values: ISO 6946:2007 (films Table 1 and annex A, air layers Table 2 and annex B, totals clause 6,
corrections annex D) and the plane air space formula of the ASHRAE Handbook Fundamentals. Constants with their
status: data/resistance.toml.

Not valid for metal framing (the two bounds part too far: use 2-D conduction), for air layers thicker than
0.3 m, and for walls whose heat does not flow straight through.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import Enum, StrEnum
from importlib.resources import files

from warmside.physics.air import KELVIN

STEFAN_BOLTZMANN = 5.670374419e-8
"""Radiation constant, CODATA 2018 [W/(m2.K4)]."""
THICKEST_AIR_LAYER = 0.3
"""Largest air layer that ISO 6946 treats [m]."""
LARGEST_RATIO_OF_BOUNDS = 1.5
"""Upper over lower bound beyond which the combined method is refused, ISO 6946:2007 clause 6.2 [-]."""


class ResistanceError(ValueError):
    """A resistance can't be computed from what was given."""


class RangeError(ResistanceError):
    """A value lies outside the range in which the formula holds."""


class SectionError(ResistanceError):
    """The sections don't make up one construction."""


class CombinedMethodError(ResistanceError):
    """Upper and lower bound lie too far apart for their mean to be used."""


class Direction(StrEnum):
    """The way the heat flows."""

    UP = "up"
    HORIZONTAL = "horizontal"
    DOWN = "down"


class VoidLevel(StrEnum):
    """How air voids lie in an insulation layer, levels 0 to 2 of ISO 6946:2007 annex D."""

    NONE = "none"
    BRIDGING = "bridging"
    CIRCULATING = "circulating"


def published(table: str) -> dict[str, float]:
    """The values of one table of data/resistance.toml by name, each in the unit that stands beside it."""
    text = (files("warmside") / "data" / "resistance.toml").read_text("utf-8")
    return {key: float(entry["value"]) for key, entry in tomllib.loads(text)[table].items()}


_INSIDE_SURFACE = published("inside_surface")
_SURFACE_CONVECTION = published("surface_convection")
_AIR_VOID = published("air_void")
OUTSIDE_SURFACE = published("outside_surface")["any"]
"""Resistance of the outside film, ISO 6946:2007 Table 1 [m2.K/W]."""


def within(name: str, value: float, low: float, high: float, unit: str) -> None:
    """Raise RangeError unless low <= value <= high."""
    if not low <= value <= high:
        raise RangeError(f"{name} is {value:g} {unit}; it should be from {low:g} to {high:g} {unit}")


def above_zero(name: str, value: float, unit: str) -> None:
    """Raise RangeError unless the value is finite and more than 0."""
    if not 0.0 < value < math.inf:
        raise RangeError(f"{name} is {value:g} {unit}; it should be more than 0")


# Films and air layers


def inside_surface(direction: Direction) -> float:
    """Resistance of the room-side film, ISO 6946:2007 Table 1 [m2.K/W]."""
    return _INSIDE_SURFACE[direction]


def surface_convection(direction: Direction) -> float:
    """Convective coefficient at an inside surface, ISO 6946:2007 annex A [W/(m2.K)]."""
    return _SURFACE_CONVECTION[direction]


def outside_convection(wind: float) -> float:
    """Convective coefficient at an outside surface, 4 + 4 v, ISO 6946:2007 annex A [W/(m2.K)].

    wind : speed near the surface, 4 for the standard film [m/s]
    """
    return 4.0 + 4.0 * wind


def surface_film(convection: float, emissivity: float = 0.9, temperature: float = 20.0) -> float:
    """Resistance of a film from its convection and radiation, ISO 6946:2007 annex A, Eq. A.1 [m2.K/W].

    convection : convective coefficient [W/(m2.K)]
    emissivity : emissivity of the surface [-]
    temperature : mean of surface and surroundings [C]
    """
    within("emissivity", emissivity, 0.0, 1.0, "-")
    return 1.0 / (convection + emissivity * radiative_coefficient(temperature))


def radiative_coefficient(mean_temperature: float) -> float:
    """Radiation between black surfaces, 4 sigma T^3, ISO 6946:2007 Eq. A.3 [W/(m2.K)].

    mean_temperature : mean temperature of the two surfaces [C]
    """
    return 4.0 * STEFAN_BOLTZMANN * (mean_temperature + KELVIN) ** 3


def effective_emittance(one: float, other: float) -> float:
    """Emittance between two parallel faces, ISO 6946:2007 annex B [-].

    one, other : emissivities of the faces, over 0 and at most 1 [-]
    """
    for emissivity in (one, other):
        above_zero("emissivity", emissivity, "-")
        within("emissivity", emissivity, 0.0, 1.0, "-")
    return 1.0 / (1.0 / one + 1.0 / other - 1.0)


_CONVECTION_SMALL: dict[Direction, Callable[[float], float]] = {
    Direction.UP: lambda thickness: 1.95,
    Direction.HORIZONTAL: lambda thickness: 1.25,
    Direction.DOWN: lambda thickness: 0.12 * thickness**-0.44,
}
_CONVECTION_LARGE: dict[Direction, Callable[[float, float], float]] = {
    Direction.UP: lambda thickness, difference: 1.14 * difference ** (1.0 / 3.0),
    Direction.HORIZONTAL: lambda thickness, difference: 0.73 * difference ** (1.0 / 3.0),
    Direction.DOWN: lambda thickness, difference: 0.09 * difference**0.187 * thickness**-0.44,
}


def air_layer_convection(thickness: float, direction: Direction, difference: float = 5.0) -> float:
    """Conduction or convection across an unventilated air layer, ISO 6946:2007 annex B [W/(m2.K)].

    thickness : of the layer along the heat flow, over 0 and up to 0.3 [m]
    difference : between the two faces; one formula holds up to 5 K, another above [K]

    The formulas are held from memory; they reproduce all 24 values of Table 2 and meet at 5 K within 2 %.
    Raises RangeError.
    """
    above_zero("the air layer", thickness, "m")
    within("the air layer", thickness, 0.0, THICKEST_AIR_LAYER, "m")
    still = 0.025 / thickness
    if difference > 5.0:
        return max(_CONVECTION_LARGE[direction](thickness, difference), still)
    return max(_CONVECTION_SMALL[direction](thickness), still)


def plane_air_space(convection: float, emittance: float, mean_temperature: float) -> float:
    """Resistance of a plane air space, 1/(hc + E hr), ASHRAE Fundamentals and ISO 6946 annex B [m2.K/W].

    convection : coefficient of conduction and convection together [W/(m2.K)]
    emittance : effective emittance of the two faces [-]
    mean_temperature : of the space [C]
    """
    return 1.0 / (convection + emittance * radiative_coefficient(mean_temperature))


def air_layer(
    thickness: float,
    direction: Direction = Direction.HORIZONTAL,
    emissivities: tuple[float, float] = (0.9, 0.9),
    mean_temperature: float = 10.0,
    difference: float = 5.0,
) -> float:
    """Resistance of an unventilated air layer, ISO 6946:2007 annex B; none where faces touch [m2.K/W].

    thickness : of the layer along the heat flow, 0 to 0.3 [m]
    emissivities : of the two faces [-]
    mean_temperature : of the layer [C]
    difference : between the two faces [K]

    Length and width should be over ten times the thickness; for a slit use `divided_air_layer`.
    Raises RangeError.
    """
    if thickness == 0.0:
        return 0.0
    convection = air_layer_convection(thickness, direction, difference)
    return plane_air_space(convection, effective_emittance(*emissivities), mean_temperature)


def divided_air_layer(
    thickness: float,
    width: float,
    direction: Direction = Direction.HORIZONTAL,
    emissivities: tuple[float, float] = (0.9, 0.9),
    mean_temperature: float = 10.0,
) -> float:
    """Resistance of a slit or other narrow air space, ISO 6946:2007 annex B, Eq. B.4 [m2.K/W].

    thickness : of the space along the heat flow, over 0 and up to 0.3 [m]
    width : of the space across the heat flow [m]
    emissivities : of the warm and the cold face [-]
    mean_temperature : of the space [C]

    Formula held from memory; for a wide space it becomes `air_layer`. Raises RangeError.
    """
    above_zero("the slit", width, "m")
    slim = thickness / width
    view = 0.5 * (1.0 + math.sqrt(1.0 + slim**2) - slim)
    convection = air_layer_convection(thickness, direction)
    return plane_air_space(convection, view * effective_emittance(*emissivities), mean_temperature)


def ventilated_total(unventilated: float, well_ventilated: float, opening: float) -> float:
    """Total resistance of a wall with a ventilated air layer, ISO 6946:2007 clause 5.3 [m2.K/W].

    unventilated : total with the layer taken as unventilated [m2.K/W]
    well_ventilated : total with the layer and all outside it left out, see `well_ventilated` [m2.K/W]
    opening : openings to outside per metre of length of a vertical layer [m2/m]

    Up to 500 mm2/m the layer counts in full, from 1500 mm2/m not at all, linear between.
    """
    share = min(max((opening - 0.0005) / 0.001, 0.0), 1.0)
    return (1.0 - share) * unventilated + share * well_ventilated


def well_ventilated(inner_layers: Iterable[float], direction: Direction = Direction.HORIZONTAL) -> float:
    """Total resistance inside of a well ventilated layer, with sheltered films, ISO 6946 5.3 [m2.K/W].

    inner_layers : layers between the room and the ventilated layer, without films [m2.K/W]
    """
    return 2.0 * inside_surface(direction) + series(inner_layers)


# Layers and bridged layers


def slab(thickness: float, conductivity: float) -> float:
    """Resistance of a homogeneous layer, ISO 6946:2007 Eq. 1 [m2.K/W].

    thickness : of the layer [m]
    conductivity : of the material [W/(m.K)]
    """
    above_zero("the conductivity", conductivity, "W/(m.K)")
    return thickness / conductivity


def series(resistances: Iterable[float]) -> float:
    """Resistance of layers one behind the other, ISO 6946:2007 Eq. 4 [m2.K/W].

    resistances : of the layers, films too where wanted [m2.K/W]
    """
    return math.fsum(resistances)


@dataclass(frozen=True)
class Section:
    """One straight path through a construction.

    fraction : share of the area [-]
    resistances : one per plane, from inside to outside, films included [m2.K/W]
    """

    fraction: float
    resistances: tuple[float, ...]

    def __post_init__(self) -> None:
        if not 0.0 <= self.fraction <= 1.0:
            raise SectionError(f"a section takes {self.fraction:g} of the area; it should be from 0 to 1")
        if not self.resistances or not all(0.0 <= r < math.inf for r in self.resistances):
            raise SectionError(f"a section has the layers {self.resistances}; each should be 0 or more")


class Method(Enum):
    """How the total of a bridged construction is taken."""

    PARALLEL_PATH = "parallel path"
    ISOTHERMAL_PLANES = "isothermal planes"
    COMBINED = "combined"


def _checked(sections: Sequence[Section]) -> None:
    planes = {len(section.resistances) for section in sections}
    if len(planes) != 1:
        raise SectionError(f"the sections have {sorted(planes)} planes; all should have the same number")
    whole = math.fsum(section.fraction for section in sections)
    if abs(whole - 1.0) > 1e-6:
        raise SectionError(f"the sections take {whole:.6f} of the area together; it should be 1")


def _side_by_side(paths: Iterable[tuple[float, float]]) -> float:
    """Resistance of (fraction, resistance) pairs lying side by side."""
    used = [(fraction, resistance) for fraction, resistance in paths if fraction > 0.0]
    if any(resistance == 0.0 for _, resistance in used):
        return 0.0
    return 1.0 / math.fsum(fraction / resistance for fraction, resistance in used)


def parallel_path(sections: Sequence[Section]) -> float:
    """Upper bound: each section from air to air on its own, ISO 6946:2007 Eq. 5 [m2.K/W].

    Raises SectionError.
    """
    _checked(sections)
    return _side_by_side((s.fraction, series(s.resistances)) for s in sections)


def isothermal_planes(sections: Sequence[Section]) -> float:
    """Lower bound: every plane at one temperature, ISO 6946:2007 Eq. 6 and 7 [m2.K/W].

    The Canadian code's framed layer in parallel with its continuous layers in series is this method.
    Raises SectionError.
    """
    _checked(sections)
    planes = range(len(sections[0].resistances))
    return series(_side_by_side((s.fraction, s.resistances[plane]) for s in sections) for plane in planes)


def combined(sections: Sequence[Section]) -> float:
    """Mean of upper and lower bound, ISO 6946:2007 Eq. 3 [m2.K/W].

    Raises SectionError, and CombinedMethodError where the bounds differ by more than half.
    """
    upper, lower = parallel_path(sections), isothermal_planes(sections)
    if upper > LARGEST_RATIO_OF_BOUNDS * lower:
        raise CombinedMethodError(
            f"the bounds are {upper:.3f} and {lower:.3f} m2.K/W, their ratio should be at most "
            f"{LARGEST_RATIO_OF_BOUNDS:g}; compute this wall in two dimensions"
        )
    return 0.5 * (upper + lower)


_TOTALS: dict[Method, Callable[[Sequence[Section]], float]] = {
    Method.PARALLEL_PATH: parallel_path,
    Method.ISOTHERMAL_PLANES: isothermal_planes,
    Method.COMBINED: combined,
}


def total_resistance(sections: Sequence[Section], method: Method) -> float:
    """Total resistance of a construction by the method named [m2.K/W].

    Raises SectionError and CombinedMethodError.
    """
    return _TOTALS[method](sections)


def maximum_relative_error(sections: Sequence[Section]) -> float:
    """Half the distance of the bounds over the combined total, ISO 6946:2007 Eq. 8 [-].

    Raises SectionError and CombinedMethodError.
    """
    return (parallel_path(sections) - isothermal_planes(sections)) / (2.0 * combined(sections))


# Corrections


def void_correction(level: VoidLevel, layer: float, total: float) -> float:
    """Extra transmittance for air voids in an insulation layer, ISO 6946:2007 annex D, Eq. D.2 [W/(m2.K)].

    level : bridging = gaps through the layer; circulating = and air moves on the warm side too
    layer : resistance of the layer with the voids, bridges counted in by isothermal planes [m2.K/W]
    total : total resistance of the wall without correction [m2.K/W]

    The levels are held from memory.
    """
    above_zero("the total", total, "m2.K/W")
    return _AIR_VOID[level] * (layer / total) ** 2


@dataclass(frozen=True)
class Fasteners:
    """Mechanical fasteners through an insulation layer.

    conductivity : of the metal [W/(m.K)]
    area : cross-section of one [m2]
    density : number per area of wall [1/m2]
    length : of the part inside the layer [m]
    """

    conductivity: float
    area: float
    density: float
    length: float


def fastener_correction(fasteners: Fasteners, thickness: float, layer: float, total: float) -> float:
    """Extra transmittance for mechanical fasteners, ISO 6946:2007 annex D, Eq. D.3 [W/(m2.K)].

    thickness : of the insulation layer they cross or enter [m]
    layer : resistance of that layer [m2.K/W]
    total : total resistance of the wall without correction [m2.K/W]

    None for fasteners under 1 W/(m.K). The rule is held from memory. Raises RangeError.
    """
    above_zero("the total", total, "m2.K/W")
    above_zero("the insulation layer", thickness, "m")
    within("the length inside the layer", fasteners.length, 0.0, thickness, "m")
    if fasteners.conductivity < 1.0:
        return 0.0
    alpha = 0.8 * fasteners.length / thickness
    through = fasteners.conductivity * fasteners.area * fasteners.density / thickness
    return alpha * through * (layer / total) ** 2


def corrected_transmittance(total: float, corrections: Iterable[float]) -> float:
    """Transmittance with its corrections, left out where together under 3 %, ISO 6946 clause 7 [W/(m2.K)].

    total : total resistance without correction [m2.K/W]
    corrections : such as `void_correction` and `fastener_correction` [W/(m2.K)]
    """
    above_zero("the total", total, "m2.K/W")
    plain, extra = 1.0 / total, math.fsum(corrections)
    return plain + extra if extra >= 0.03 * plain else plain
