"""The soil behind a slice of wall, as a short ladder of resistances and capacities that can be marched.

A slice of concrete sees what the 2-D section makes of heat let into it (`response.slice_impedance`). A slab
of that concrete, which also loses heat sideways to its neighbours, with a ladder of two or three capacities
behind it, is fitted to that, relative error least in the mean square. Every conductance and capacity is over
zero, so that it is passive whatever it was fitted to. Beyond the last resistance, and beside the slab, lies a
temperature that gives the slice, when no heat enters it, the face temperature that the section has: what
neighbours and ground surface do is in there, with the rest of the wall as built: a void or a patch may be put
before one fit, another assembly of the whole wall needs its own.

Water: the row next to the concrete is wet soil, held at the suction that the height above a water level
gives; a coating passes vapour by its permeance and liquid by the share of its defects. Linear as the section
is: soil does not freeze. A stretch of 0.3 m spreads heat under its neighbours in a way that a conductance to
one temperature catches within 15 % of the impedance, within 10 % for waves longer than two days.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from warmside.physics.conduction import Numbers
from warmside.physics.grid import Array
from warmside.physics.ground import Section
from warmside.physics.ground_rules import Stuff, entry
from warmside.physics.materials import Conductivity, Isotherm, Liquid, Material, Membrane, Vapour
from warmside.physics.moist_wall import PER_CELL, End, Layer, Wall
from warmside.physics.response import ANNUAL, Condensed

GRAVITY = 9.81
"""Of the earth [m/s2]."""
SIDEWAYS, RESISTANCE, CAPACITY = (1e-3, 1e3), (1e-4, 1e3), (1e2, 1e9)
"""Smallest and largest that a fit may give [W/(m3.K)], [m2.K/W], [J/(m2.K)]."""
FADED = 1e-3
"""Share of a wave that passes slab and ladder, below which it is left out [-]."""


class SoilError(ValueError):
    """An impedance that no soil has, or a wall that no soil can stand behind."""


@dataclass(frozen=True)
class Slab:
    """Concrete between the soil and the face that heat is let into.

    thickness : [m]
    stuff : conductivity and capacity
    """

    thickness: float
    stuff: Stuff

    def chain(self, omega: npt.ArrayLike, sideways: float) -> tuple[Numbers, Numbers, Numbers]:
        """Its chain matrix: A = D [-], B [m2.K/W] and C [W/(m2.K)], Carslaw and Jaeger section 3.7.

        omega : angular frequency, over 0 [rad/s]
        sideways : conductance to the neighbours per volume [W/(m3.K)]
        """
        k = self.stuff.conductivity
        wave = np.sqrt((1j * np.asarray(omega) * self.stuff.capacity + sideways) / k)
        through = wave * self.thickness
        return np.cosh(through), np.sinh(through) / (k * wave), np.sinh(through) * (k * wave)


@dataclass(frozen=True)
class Ladder:
    """Soil as resistances in series and capacities between them, from the concrete outwards.

    resistances : one more than capacities; the last lies before the temperature far away [m2.K/W]
    capacities : at the nodes between [J/(m2.K)]
    sideways : conductance from the concrete to its neighbours per volume [W/(m3.K)]
    error : largest relative distance from the impedance that was fitted [-]
    """

    resistances: tuple[float, ...]
    capacities: tuple[float, ...]
    sideways: float = 0.0
    error: float = 0.0

    def chain(self, omega: npt.ArrayLike) -> tuple[Numbers, Numbers]:
        """Impedance seen from the concrete [m2.K/W], and flow through the far end per flow into this one [-].

        omega : angular frequency [rad/s]
        """
        w = np.asarray(omega, float)
        seen, passed = np.full(w.shape, self.resistances[-1], complex), np.ones(w.shape, complex)
        for resistance, capacity in zip(self.resistances[-2::-1], self.capacities[::-1], strict=True):
            passed = passed / (1 + 1j * w * capacity * seen)
            seen = resistance + seen / (1 + 1j * w * capacity * seen)
        return seen, passed

    def face(self, slab: Slab, omega: npt.ArrayLike) -> Numbers:
        """Rise of the slab's inner face per flux into it [m2.K/W].

        slab : before the ladder
        omega : angular frequency, over 0 [rad/s]
        """
        a, b, c = slab.chain(omega, self.sideways)
        seen = self.chain(omega)[0]
        return np.asarray((a * seen + b) / (c * seen + a))

    def carried(self, slab: Slab, omega: npt.ArrayLike) -> Numbers:
        """Rise of the slab's inner face, insulated, per kelvin far away and beside it [-].

        slab : before the ladder
        omega : angular frequency, over 0 [rad/s]
        """
        a, _, c = slab.chain(omega, self.sideways)
        seen, passed = self.chain(omega)
        # By reciprocity, what passes outwards of a flow is what comes inwards of a temperature.
        beside = self.sideways / (1j * np.asarray(omega) * slab.stuff.capacity + self.sideways)
        return np.asarray(beside + (passed - beside) / (a + c * seen))


def fit_soil(omega: Array, impedance: Numbers, slab: Slab, states: int = 3) -> Ladder:
    """Fit a ladder behind a slab to the impedance of a slice.

    omega : angular frequencies, over 0 [rad/s]
    impedance : complex, at these frequencies, see `response.slice_impedance` [m2.K/W]
    slab : concrete of the slice
    states : number of capacities [-]

    Raises SoilError for an impedance that gives heat out or none at all.
    """
    if not (np.isfinite(impedance).all() and (np.real(impedance) > 0).all()):
        worst = int(np.argmin(np.real(impedance)))
        raise SoilError(
            f"impedance {impedance[worst]:.3g} m2.K/W at {omega[worst]:.3g} rad/s: want a real part"
            " over 0, as a body that gives no heat of its own has"
        )

    def misfit(logs: Array) -> Array:
        apart = (_ladder(logs, states).face(slab, omega) - impedance) / np.abs(impedance)
        return np.concatenate([apart.real, apart.imag])

    steady = float(np.real(impedance[np.argmin(omega)]))
    tries = [_fit(misfit, _guess(steady, slab, states, depth), states) for depth in (0.1, 0.3, 1.0)]
    best = min(tries, key=lambda logs: float(np.sum(misfit(logs) ** 2)))
    found = _ladder(best, states)
    return replace(found, error=float(np.max(np.abs(found.face(slab, omega) / impedance - 1.0))))


def _fit(misfit: Callable[[Array], Array], start: Array, states: int) -> Array:
    low, high = np.log([SIDEWAYS, *[RESISTANCE] * (states + 1), *[CAPACITY] * states]).T
    inside = np.clip(start, low + 0.1, high - 0.1)
    found: Array = least_squares(misfit, inside, bounds=(low, high), xtol=1e-10, ftol=1e-10).x
    return found


def _ladder(logs: Array, states: int) -> Ladder:
    values = np.exp(logs)
    resistances, capacities = values[1 : states + 2], values[states + 2 :]
    return Ladder(tuple(map(float, resistances)), tuple(map(float, capacities)), float(values[0]))


def _guess(steady: float, slab: Slab, states: int, depth: float) -> Array:
    """Rows of soil that grow threefold from a first depth [m], cut off at the steady resistance."""
    rows = depth * 3.0 ** np.arange(states)
    resistances = np.append(rows / slab.stuff.conductivity, steady)
    guessed: Array = np.log(np.concatenate([[10.0], resistances, 2e6 * rows]))
    return guessed


def slice_open(ground: Condensed, section: Section, low: float, high: float, omega: Array) -> Numbers:
    """Face of a stretch without heat through it, per kelvin outside (frequencies, environments) [-].

    ground : condensed section
    section : with the layers that cover the rest
    low, high : heights of the stretch above the slab [m]
    omega : angular frequencies [rad/s]

    Environments are those of `response.Assembly`, the room first.
    """
    mine = ground.stretch(low, high)
    left = ground.conductance(section, mine)
    faces = [ground.ports(float(w)).close(left)[mine] for w in omega]
    return np.array([np.average(row, axis=0, weights=ground.area[mine]) for row in faces])


def far_temperature(face: npt.ArrayLike, ladder: Ladder, slab: Slab) -> Array:
    """Temperature beyond the ladder that gives an insulated slice its face temperature over the year [C].

    face : of the slice without heat through it, equal steps over a year [C]
    ladder : fitted to the slice
    slab : its concrete

    Waves that slab and ladder all but stop are left out: they would be blown up, and are small in the soil.
    """
    series = np.asarray(face, float)
    waves = np.fft.rfft(series)
    carried = ladder.carried(slab, ANNUAL * np.arange(1, len(waves)))
    waves[1:] = np.where(np.abs(carried) > FADED, waves[1:] / carried, 0.0)
    return np.asarray(np.fft.irfft(waves, len(series)))


# The wall that is marched


def soil_suction(height: float) -> float:
    """Suction of soil at a height above a water level [Pa].

    height : above the level at which water stands [m]

    rho g h, kept between the wettest and the driest soil of data/ground.toml: pores hang from the water.
    """
    low, high = (entry("soil_water", name)["suction"] for name in ("wettest", "driest"))
    return float(np.clip(1000.0 * GRAVITY * height, low, high))


def damp_proofing(name: str) -> Membrane:
    """What stands between soil and concrete, by data/ground.toml.

    name : good, unknown or none
    Raises GroundInputError naming the choices.
    """
    read = entry("damp_proofing", name)
    return Membrane(f"damp-proofing: {name}", read["permeance"], leaks=read["leaks"])


def with_soil(wall: Wall, ladder: Ladder, suction: float, coating: Membrane) -> Wall:
    """The wall with rows of soil before its first layer, the far temperature its outer end.

    wall : from the concrete inwards; its outer end is replaced, and what lies beside the concrete
    ladder : fitted to the slice
    suction : of the soil, see `soil_suction` [Pa]
    coating : between soil and concrete, see `damp_proofing`

    The forcing's `outer` and `beside` are then the far temperature, its wet_share 1. Raises SoilError.
    """
    first = wall.layers[0].material
    if first.liquid is None and coating.leaks > 0:
        raise SoilError(
            f"{first.name} in soil, defects {coating.leaks:g}: want a first layer that conducts liquid, or 0"
        )
    added = ROW_CELLS * len(ladder.capacities)
    before = {"film_limit": np.inf, "wetting_suction": float(np.log(suction))}
    rows = {name: np.append(np.full(added, before.get(name, 0.0)), getattr(wall, name)) for name in PER_CELL}
    rows["beside"][added:] = np.where(wall.layer_of == 0, ladder.sideways * wall.width, wall.beside)
    rows["wetting"][added - ROW_CELLS : added] = HOLDS
    return Wall(
        (*_rows(ladder, coating), *wall.layers),
        (*(np.full(ROW_CELLS, ROW / ROW_CELLS) for _ in ladder.capacities), *wall.widths),
        End(ladder.resistances[-1], 1e30),
        wall.inner,
        **rows,
    )


ROW, ROW_CELLS = 0.02, 2
"""Thickness that stands for a row, of no meaning as it conducts without resistance [m], and its cells."""
HOLDS = 1e-2
"""Inflow per unit of ln(suction) that holds the wet row at its suction [kg/(m2.s)]."""


def _rows(ladder: Ladder, coating: Membrane) -> list[Layer]:
    """Nodes of the ladder as layers, the farthest first; the resistance towards the wall is contact."""
    nodes = zip(ladder.resistances, ladder.capacities, strict=False)
    rows = [Layer(_row(capacity, False), ROW, None, resistance) for resistance, capacity in nodes]
    wet = Layer(_row(ladder.capacities[0], True), ROW, coating, ladder.resistances[0])
    return [*rows[:0:-1], wet]


def _row(capacity: float, wet: bool) -> Material:
    """One node: its capacity, hardly any water, and as good as no resistance to heat, vapour and liquid."""
    return Material(
        "soil",
        capacity / ROW,
        Conductivity(1e4),
        Isotherm(0.1, -12.0, 1.0, 1.0),
        Vapour(1.0 if wet else 1e-9),
        Liquid((-11.5,)) if wet else None,
    )
