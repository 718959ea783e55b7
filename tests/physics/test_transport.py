"""The march to read: against the fast one, and faults put in on purpose that the comparison must see."""

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from tests.physics.moist_walls import everything, faces, weather, with_sheet
from warmside.physics import transport
from warmside.physics.forcing import Forcing
from warmside.physics.marching import LEDGER, Accuracy, initial, march_walls
from warmside.physics.materials import Conductivity
from warmside.physics.moist_wall import FREE_LOG, Wall
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
    wetter = replace(with_sheet(wall), room_air=4.0 * wall.room_air, film_limit=np.full(wall.cells, 5e-4))
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


class LiquidEndsBeforeTheFace(Equations):
    def face_paths(self, s: States) -> tuple[Array, Array]:
        return s.vapour_path, s.vapour_path


class WaterFreeTooEarly(Equations):
    free_log = FREE_LOG + 5.0


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


# ---- the pieces of it by themselves ------------------------------------------------------------------------


@pytest.mark.parametrize("name", STARTS)
def test_what_is_stored_is_what_the_fast_march_keeps(name: str) -> None:
    """Water within 1e-9, energy gained within 1e-8 of what went through, as its balances close."""
    wall, driven, begin = walls(name), WEATHERS[name], initial([walls(name)], *start(name))
    out = march_walls([wall], [driven], begin, accuracy=Accuracy(1e-10, 1e-10))
    equations = Equations(wall, driven)
    before, after = (equations.stored(*state[0].T) for state in (begin, out.state))
    assert after[0].sum() == pytest.approx(out.water[0, -1].sum(), rel=1e-9)
    assert (out.free[0, -1].sum() > 0.0) == (name == WET)
    row = dict(zip(LEDGER, out.ledger[0], strict=True))
    assert (after[0] - before[0]).sum() == pytest.approx(row["water_gained"], abs=1e-9 * after[0].sum())
    assert (after[1] - before[1]).sum() == pytest.approx(row["energy_gained"], abs=1e-8 * row["energy_gross"])


@pytest.mark.parametrize("water", [WATER, replace(WATER, melting=-1.0)], ids=["water", "brine"])
def test_a_start_is_at_the_humidity_asked_for_also_over_frost(water: Water) -> None:
    """Below the humidity over ice, 0.925 at -8 C (IAPWS: 309.97 Pa over ice, 335.07 over liquid)."""
    wall, temperature = walls(COLD), np.full(walls(COLD).cells, -8.0)
    equations = Equations(wall, WEATHERS[COLD], water)
    for humidity in (0.3, 0.85):
        potential = transport.start_potential(wall, temperature, humidity, water)
        found = equations.states(temperature, equations.parted(temperature, potential)[0]).humidity
        assert found == pytest.approx(np.full(wall.cells, humidity), rel=1e-9)
    raised = transport.raised_edge(wall, temperature, water)[0]
    assert (raised[~transport.wets(wall)] > 3.0).all()
    assert (raised[transport.wets(wall)] == 0.0).all()


RUNAWAYS = {
    "no number from the start": lambda self, hour, unknowns: np.nan * unknowns,
    "no number after an hour": lambda self, hour, unknowns: unknowns * (np.nan if hour > 1.0 else 0.01),
    "an overflow": lambda self, hour, unknowns: np.exp(200.0 + 200.0 * hour + 0.0 * unknowns),
    "overflow of a difference": lambda self, hour, unknowns: 1e308 * np.sign(hour - 1.0 + 0.0 * unknowns),
}


@pytest.mark.parametrize("name", RUNAWAYS)
def test_numbers_that_run_away_end_the_march_in_words(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Equations, "rates", RUNAWAYS[name])
    with pytest.raises(transport.MarchError, match=r"^stopped"):
        transport.march(walls(WET), WEATHERS[WET], *start(WET))


def test_hours_may_be_asked_for_and_faults_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    wall, driven = walls(WET), WEATHERS[WET]
    whole = transport.march(wall, driven, *start(WET), faces(wall), tolerance=1e-4)
    assert whole.hours.tolist() == [0.0, 1.0, 2.0, 3.0]
    assert whole.temperature[0] == pytest.approx(start(WET)[0], abs=1e-12)
    assert whole.potential[0] == pytest.approx(transport.start_potential(wall, *start(WET)), abs=1e-12)
    # A coarse tolerance of the integrator, 1e-4 of some 10 K and of ln(suction), adds up over three hours.
    assert whole.face_temperature[1:] == pytest.approx(fast(WET)[0], abs=2e-2)
    assert whole.face_humidity[1:] == pytest.approx(fast(WET)[1], abs=2e-3)
    some = transport.march(wall, driven, *start(WET), hours=np.array([0.0, 2.0]), tolerance=1e-4)
    assert some.temperature == pytest.approx(whole.temperature[[0, 2]], abs=2e-2)
    assert some.potential == pytest.approx(whole.potential[[0, 2]], abs=2e-2)
    assert some.face_humidity.shape == (2, 0)
    # y' = 1 + y^2 has no answer beyond a quarter turn or so.
    monkeypatch.setattr(Equations, "rates", lambda self, hour, unknowns: 1.0 + unknowns**2)
    with pytest.raises(transport.MarchError, match=r"^stopped at hour \d\.\d{3}: Required step size"):
        transport.march(wall, driven, *start(WET))
