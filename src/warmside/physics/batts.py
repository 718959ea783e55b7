"""Batts as they really lie in a bay: squeezed, stacked, slit, with voids, or loose in moving air.

Compression follows two makers' charts of glass fibre batts, still voids are parallel paths, moving air in
voids is ISO 6946:2007 annex D, convection inside a batt ISO 10456. The air loop is an estimate of our own.
Constants with their status: data/resistance.toml.

Not valid for batts squeezed below half their label thickness; no chart of stone wool was found.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from scipy.optimize import brentq

from warmside.physics.air import GRAVITY, KELVIN, density
from warmside.physics.resistance import (
    RangeError,
    ResistanceError,
    Section,
    VoidLevel,
    above_zero,
    air_layer,
    divided_air_layer,
    parallel_path,
    published,
    series,
    void_correction,
)

CONDUCTION_FLOOR = published("batt")["conduction_floor"]
"""Part of a batt's conductivity that packing doesn't change: still air and fibre [W/(m.K)]."""
STRONGEST_COMPRESSION = 2.0
"""Largest ratio of label thickness to thickness in the compression formula; the charts end at 1.86 [-]."""
DISCHARGE = published("opening")["discharge"]
"""Discharge coefficient of a sharp-edged opening [-]."""
AIR_HEAT_CAPACITY = 1006.0
"""Specific heat of dry air, ASHRAE Fundamentals 2017 ch. 1 [J/(kg.K)]."""
_CONVECTION_LIMIT = published("convection_limit")


class CompressionError(ResistanceError):
    """A batt is asked for at a thickness that the compression formula doesn't cover."""


class Lie(StrEnum):
    """How a permeable layer lies, for the onset of convection inside it (ISO 10456)."""

    VERTICAL = "vertical"
    OPEN_TOP = "open_top"
    PROTECTED_TOP = "protected_top"


@dataclass(frozen=True)
class Batt:
    """A batt as its label says.

    resistance : at the label thickness [m2.K/W]
    thickness : on the label [m]
    """

    resistance: float
    thickness: float

    def __post_init__(self) -> None:
        above_zero("the batt's resistance", self.resistance, "m2.K/W")
        above_zero("the batt's thickness", self.thickness, "m")
        if self.conductivity <= CONDUCTION_FLOOR:
            raise RangeError(
                f"a batt of {self.resistance:g} m2.K/W in {self.thickness * 1000:g} mm would insulate better "
                f"than still air ({CONDUCTION_FLOOR:g} W/(m.K)); check both figures"
            )

    @property
    def conductivity(self) -> float:
        """Apparent conductivity at the label thickness [W/(m.K)]."""
        return self.thickness / self.resistance


def compressed_conductivity(batt: Batt, ratio: float) -> float:
    """Apparent conductivity of a squeezed batt, k = A + C/s [W/(m.K)].

    ratio : s, label thickness over actual thickness, 1 to 2 [-]

    A is conduction by still air and fibre, the same for every batt; C is radiation, which falls as the fibres
    come closer, and is taken so that the label holds at s = 1. A was fitted to two makers' charts of glass
    fibre batts (21 rows, s 1.07 to 1.86): residual 0.43 h.ft2.F/Btu in the root mean square, 0.98 at most,
    where the charts round to whole R. A ratio A/k common to all batts fits worse (0.72 and 1.37). No chart
    of stone wool stands behind it. Raises CompressionError.
    """
    if not 1.0 <= ratio <= STRONGEST_COMPRESSION:
        label, space, least = (1000 * batt.thickness / s for s in (1.0, ratio, STRONGEST_COMPRESSION))
        raise CompressionError(
            f"a batt of {label:.0f} mm is to fill {space:.0f} mm; "
            f"the formula holds from {least:.0f} to {label:.0f} mm"
        )
    return CONDUCTION_FLOOR + (batt.conductivity - CONDUCTION_FLOOR) / ratio


def compressed_batt(batt: Batt, thickness: float) -> float:
    """Resistance of a batt squeezed into a thinner space, R = R(1)/(1 + A/k(1) (s - 1)) [m2.K/W].

    thickness : of the space [m]

    See `compressed_conductivity`. Raises CompressionError, RangeError.
    """
    above_zero("the space", thickness, "m")
    return thickness / compressed_conductivity(batt, batt.thickness / thickness)


@dataclass(frozen=True)
class Stack:
    """What a space holds once batts are in it.

    resistance : of batts and air layer together [m2.K/W]
    ratio : label thickness over actual thickness of the batts, 1 where they are not squeezed [-]
    air : thickness of the air layer left over [m]
    """

    resistance: float
    ratio: float
    air: float


def stack(batts: Sequence[Batt], space: float, emissivities: tuple[float, float] = (0.9, 0.9)) -> Stack:
    """Batts one behind the other in a space, squeezed or with one air layer left over, horizontal flow.

    space : depth that the batts share [m]
    emissivities : of the faces of the air layer, if one is left [-]

    All batts are taken to squeeze by the same ratio, and the air to lie still on one side of them.
    Raises CompressionError, RangeError.
    """
    above_zero("the space", space, "m")
    loose = math.fsum(batt.thickness for batt in batts)
    if loose <= space:
        air = air_layer(space - loose, emissivities=emissivities)
        return Stack(series(batt.resistance for batt in batts) + air, 1.0, space - loose)
    ratio = loose / space
    squeezed = (b.thickness / ratio / compressed_conductivity(b, ratio) for b in batts)
    return Stack(series(squeezed), ratio, 0.0)


def with_void(insulation: float, void: float, fraction: float, rest: float) -> float:
    """Resistance of a bay where part of the area has no insulation, air standing still [m2.K/W].

    insulation : of the layer where it is whole [m2.K/W]
    void : of the empty part over the same depth, such as `air_layer` or `divided_air_layer` [m2.K/W]
    fraction : empty share of the area [-]
    rest : of all other layers and films [m2.K/W]

    Parallel paths: the least that the void costs. Raises SectionError.
    """
    return parallel_path([Section(1.0 - fraction, (insulation, rest)), Section(fraction, (void, rest))])


def with_slit(insulation: float, depth: float, slit: float, bay: float, rest: float) -> float:
    """Resistance of a bay with a slit beside its batt, from face to face, air standing still [m2.K/W].

    insulation : of the batt [m2.K/W]
    depth : of batt and slit along the heat flow [m]
    slit : width of the slit [m]
    bay : width of the bay [m]
    rest : of all other layers and films [m2.K/W]

    Raises RangeError, SectionError.
    """
    if slit == 0.0:
        return insulation + rest
    return with_void(insulation, divided_air_layer(depth, slit), slit / bay, rest)


def with_air_voids(layer: float, total: float, level: VoidLevel) -> float:
    """Total resistance lowered by the void correction of ISO 6946:2007 annex D [m2.K/W].

    layer : resistance of the layer with the voids, bridges counted in [m2.K/W]
    total : total resistance without correction [m2.K/W]
    """
    return 1.0 / (1.0 / total + void_correction(level, layer, total))


# Air that moves


def modified_rayleigh(thickness: float, permeability: float, difference: float, conductivity: float) -> float:
    """Modified Rayleigh number of a permeable layer at about 10 C, ISO 10456 annex [-].

    thickness : of the layer [m]
    permeability : to air [m2]
    difference : of temperature across the layer [K]
    conductivity : of the layer without convection [W/(m.K)]
    """
    above_zero("the conductivity", conductivity, "W/(m.K)")
    return 3e6 * thickness * permeability * difference / conductivity


def convection_limit(lie: Lie) -> float:
    """Modified Rayleigh number up to which air in the layer stands still, ISO 10456, from memory [-]."""
    return _CONVECTION_LIMIT[lie]


def air_viscosity(temperature: float) -> float:
    """Dynamic viscosity of air, Sutherland's formula of the US Standard Atmosphere 1976 [Pa.s].

    temperature : of the air, -100 to 200 [C]
    """
    absolute = temperature + KELVIN
    return 1.458e-6 * absolute * math.sqrt(absolute) / (absolute + 110.4)


@dataclass(frozen=True)
class LooseBatt:
    """A batt that touches neither face, with openings past it at its top and bottom.

    height : of the batt [m]
    top, bottom : openings past its ends, per metre of width [m2/m]
    warm_gap, cold_gap : air gaps before and behind it; infinite = no friction in them [m]
    batt : resistance of the batt [m2.K/W]
    warm_side : from the room air to the air in the warm gap [m2.K/W]
    cold_side : from the air in the cold gap to the outside air [m2.K/W]
    """

    height: float
    top: float
    bottom: float
    warm_gap: float
    cold_gap: float
    batt: float
    warm_side: float
    cold_side: float

    def __post_init__(self) -> None:
        above_zero("the batt's height", self.height, "m")
        above_zero("the batt's resistance", self.batt, "m2.K/W")
        for name in ("top", "bottom", "warm_gap", "cold_gap", "warm_side", "cold_side"):
            if not getattr(self, name) >= 0.0:
                raise RangeError(f"{name} is {getattr(self, name):g}; it should be 0 or more")


@dataclass(frozen=True)
class AirLoop:
    """Air that rises before a loose batt and falls behind it.

    flow : per metre of width [m3/(s.m)]
    gap_difference : between the air in the two gaps [K]
    extra : transmittance added by the loop, on the whole temperature difference [W/(m2.K)]
    resistance : from air to air with the loop [m2.K/W]
    """

    flow: float
    gap_difference: float
    extra: float
    resistance: float


def air_loop(loose: LooseBatt, inside: float, outside: float) -> AirLoop:
    """Estimate of the heat that an air loop round a loose batt carries, by an orifice equation.

    inside, outside : air temperatures on the two sides [C]

    Stack pressure rho g H dT/T of the two air columns drives the flow through both openings in series
    (orifice equation) and along both gaps (laminar flow between plates); the air carries rho c q dT/H per
    area. dT follows from the balance of the three resistances, so that the loop slows as it carries more.
    Assumed: each gap well mixed and at one temperature, bay tight to all else, sharp-edged openings, air
    properties at the mean temperature, steady state. An estimate, no published value stands behind it.
    """
    whole, mean = abs(inside - outside), 0.5 * (inside + outside)
    plain = loose.warm_side + loose.batt + loose.cold_side

    def excess(gap_difference: float) -> float:
        across = 1.0 / loose.batt + _carried(loose, _loop_flow(loose, gap_difference, mean), mean)
        return gap_difference * (1.0 + (loose.warm_side + loose.cold_side) * across) - whole

    gap_difference = float(brentq(excess, 0.0, whole, xtol=1e-12)) if whole > 0.0 else 0.0
    flow = _loop_flow(loose, gap_difference, mean)
    through = 1.0 / (1.0 / loose.batt + _carried(loose, flow, mean))
    resistance = loose.warm_side + through + loose.cold_side
    return AirLoop(flow, gap_difference, 1.0 / resistance - 1.0 / plain, resistance)


def _carried(loose: LooseBatt, flow: float, mean: float) -> float:
    """Heat that the loop carries per area and kelvin between the gaps [W/(m2.K)]."""
    return float(density(mean)) * AIR_HEAT_CAPACITY * flow / loose.height


def _loop_flow(loose: LooseBatt, difference: float, mean: float) -> float:
    """Flow at which orifice and friction losses use up the stack pressure [m3/(s.m)]."""
    if min(loose.top, loose.bottom, loose.warm_gap, loose.cold_gap, difference) <= 0.0:
        return 0.0
    rho = float(density(mean))
    stack_pressure = rho * GRAVITY * loose.height * difference / (mean + KELVIN)
    orifices = 0.5 * rho * (1.0 / loose.top**2 + 1.0 / loose.bottom**2) / DISCHARGE**2
    gaps = 1.0 / loose.warm_gap**3 + 1.0 / loose.cold_gap**3
    friction = 12.0 * air_viscosity(mean) * loose.height * gaps
    return 2.0 * stack_pressure / (friction + math.sqrt(friction**2 + 4.0 * orifices * stack_pressure))
