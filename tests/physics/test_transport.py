"""The march to read: against the fast one, and faults put in on purpose that the comparison must see."""

from dataclasses import replace
from functools import cache, cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from tests.physics.moist_walls import everything, faces, weather
from warmside.physics import transport
from warmside.physics.forcing import Forcing
from warmside.physics.marching import Accuracy, initial, march_walls
from warmside.physics.materials import Conductivity
from warmside.physics.moist_wall import Wall
from warmside.physics.transport import Equations, Flows, States
from warmside.physics.water import WATER, Water

Array = npt.NDArray[np.float64]

HOURS = 3
AGREE_T, AGREE_H = 2e-3, 1e-4
"""How near the two marches must be: integrator at 3e-6, fast one at minute steps [K, -]."""
COLD, WET = "pores that freeze", "free water that runs down"
STARTS = {COLD: ((-6.0, 18.0), 0.98, 0.4), WET: ((1.0, 1.0), 0.97, 0.97)}
"""Temperature at both ends [C], humidity of the concrete and of all else."""
WEATHERS = {COLD: weather(HOURS, -14.0), WET: weather(HOURS)}


@cache
def walls(name: str) -> Wall:
    """The wall with everything; one with so much leaking air that water runs down in it."""
    wall = everything(surface=3e-3)
    wetter = replace(wall, room_air=4.0 * wall.room_air, film_limit=np.full(wall.cells, 5e-4))
    # Without frost, on which a general integrator spends most of its steps.
    drier = replace(wall, room_air=0.05 * wall.room_air)
    return wetter if name == WET else drier


def start(name: str) -> tuple[Array, Array]:
    (outside, inside), concrete, others = STARTS[name]
    wall = walls(name)
    profile = np.interp(wall.centres, [0.0, wall.centres[-1]], [outside, inside])
    return profile, np.where(transport.wets(wall), concrete, others)


@cache
def fast(name: str) -> Array:
    """Temperatures and humidities of the faces by the kernel, shape (2, hours, faces)."""
    wall, accuracy = walls(name), Accuracy(1e-4, 1e-4, steps=64, events=64)
    out = march_walls([wall], [WEATHERS[name]], initial([wall], *start(name)), faces(wall), accuracy)
    return np.stack([out.temperature[0], out.humidity[0]])


def read(name: str, equations: type[Equations] = Equations, water: Water = WATER) -> Array:
    """The same by the version to read."""
    wall = walls(name)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(transport, "Equations", equations)
        out = transport.march(wall, WEATHERS[name], *start(name), faces(wall), tolerance=3e-6, water=water)
    return np.stack([out.face_temperature[1:], out.face_humidity[1:]])


def apart(name: str, found: Array) -> float:
    """Largest difference from the fast march, in units of what is allowed."""
    difference = np.abs(found - fast(name)).max(axis=(1, 2))
    return float(max(difference[0] / AGREE_T, difference[1] / AGREE_H))


@pytest.mark.parametrize("name", STARTS)
def test_both_marches_agree_with_all_the_physics_on(name: str) -> None:
    assert apart(name, read(name)) < 1.0


# ---- faults put in on purpose ------------------------------------------------------------------------------


class LatentTakenFromTheWrongSide(Equations):
    def vapour_enthalpy(self, temperature: Array) -> Array:
        return -super().vapour_enthalpy(temperature)


class NoLatentHeat(Equations):
    def vapour_enthalpy(self, temperature: Array) -> Array:
        return 0.0 * temperature


class MeanOfConductances(Equations):
    def flows(self, hour: float, s: States) -> Flows:
        flows, wall = super().flows(hour, s), self.wall
        middle = 0.5 * wall.width
        mean = 0.5 * (middle[:-1] / s.heat_path[:-1] + middle[1:] / s.heat_path[1:])
        heat = flows.heat.copy()
        heat[1:-1] = -np.diff(s.temperature) * mean / (middle[:-1] + middle[1:])
        return replace(flows, heat=heat, energy=flows.energy + heat - flows.heat)


class VapourAtMeanConductance(Equations):
    def flows(self, hour: float, s: States) -> Flows:
        return super().flows(hour, replace(s, vapour_path=np.sqrt(s.vapour_path * s.vapour_path[::-1])))


class LiquidByTheWetterCell(Equations):
    def liquid_conductance(self, s: States) -> Array:
        k, width = s.mobility, self.wall.width
        return 2.0 * np.maximum(k[:-1], k[1:]) / (width[:-1] + width[1:])


class LiquidRunsUphill(Equations):
    def liquid_conductance(self, s: States) -> Array:
        return -super().liquid_conductance(s)


class CentreForFace(Equations):
    def at_faces(self, hour: float, unknowns: Array, faces: object) -> tuple[Array, Array]:
        cells = [face.cell for face in faces]  # type: ignore[attr-defined]
        s = self.states(unknowns[:, 0], self.parted(*unknowns.T)[0])
        return s.temperature[cells], s.humidity[cells]


class MembraneForgotten(Equations):
    def between(self, s: States) -> tuple[Array, Array]:
        contact, membrane = super().between(s)
        return contact, 0.0 * membrane


class MembraneAtDryPermeance(Equations):
    def between(self, s: States) -> tuple[Array, Array]:
        return super().between(replace(s, humidity=0.0 * s.humidity))


class ContactForgotten(Equations):
    def between(self, s: States) -> tuple[Array, Array]:
        contact, membrane = super().between(s)
        return 0.0 * contact, membrane


class LeakWithoutHeat(Equations):
    def enthalpy(self, temperature: Array, ratio: Array) -> Array:
        return ratio * self.vapour_enthalpy(temperature)


class LeakWithoutVapour(Equations):
    def sources(self, hour: float, s: States, log_suction: Array) -> tuple[Array, Array]:
        water, energy = super().sources(hour, s, log_suction)
        return np.where(self.wall.room_air > 0.0, 0.0, water), energy


class WettingForgotten(Equations):
    def sources(self, hour: float, s: States, log_suction: Array) -> tuple[Array, Array]:
        return super().sources(
            hour, s, np.maximum(log_suction, self.wall.wetting_suction) * 0.0 + np.log(2e4)
        )


class NothingBeside(Equations):
    def sources(self, hour: float, s: States, log_suction: Array) -> tuple[Array, Array]:
        water, energy = super().sources(hour, s, log_suction)
        return water, energy - self.wall.beside * (self.at(hour)["beside"] - s.temperature)


class ForcingInSteps(Equations):
    def at(self, hour: float) -> dict[str, float]:
        return super().at(float(int(hour)))


class SunOnTheAir(Equations):
    def at(self, hour: float) -> dict[str, float]:
        found = super().at(hour)
        return found | {"outer": found["outdoor"]}


class WaterFreeTooEarly(Equations):
    @cached_property
    def free_log(self) -> Array:
        return super().free_log + 1.5


class DryHeatCapacity(Equations):
    def heat_capacity(self, s: States) -> Array:
        return super().heat_capacity(replace(s, content=0.0 * s.content, liquid=0.0 * s.liquid))


class DryConductivity(Equations):
    def states(self, temperature: Array, log_suction: Array) -> States:
        s = super().states(temperature, log_suction)
        dry = [layer.material.conductivity for layer in self.wall.layers]
        at = np.array([Conductivity.at(k, np.array(10.0), np.array(0.0)) for k in dry])[self.wall.layer_of]
        return replace(s, heat_path=0.5 * self.wall.width / at)


class NoFilmForVapour(Equations):
    def __init__(self, wall: Wall, forcing: Forcing, water: Water = WATER) -> None:
        super().__init__(replace(wall, inner=replace(wall.inner, vapour=0.0)), forcing, water)


FAULTS = [
    found for found in list(globals().values()) if isinstance(found, type) and Equations in found.__bases__
]
WATERS = {
    "no ice": replace(WATER, melting=-200.0),
    "ice without latent heat": replace(WATER, fusion=0.0),
    "freezing at -1 C": replace(WATER, melting=-1.0),
    "permeability without temperature": replace(WATER, diffusion=(WATER.diffusion[0], 0.0, 0.0, 0.0)),
    "liquid carries no heat": replace(WATER, liquid_heat=0.0),
}


def test_the_list_of_faults_is_long() -> None:
    assert len(FAULTS) + len(WATERS) >= 25


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
def test_a_fault_is_seen(fault: type[Equations]) -> None:
    assert any(seen(name, equations=fault) for name in STARTS)


@pytest.mark.parametrize("name", WATERS)
def test_a_fault_of_the_water_is_seen(name: str) -> None:
    assert seen(COLD, water=WATERS[name])


def seen(name: str, **fault: Any) -> bool:
    """Whether a run ends otherwise than the fast march, or not at all."""
    try:
        return apart(name, read(name, **fault)) > 2.0
    except transport.MarchError:
        return True
