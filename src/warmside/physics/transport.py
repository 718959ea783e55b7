"""Heat, air and moisture through a wall: the version to read.

EN 15026:2007 extended by ice and exchanged air, as conservative finite volumes in the temperature T and the
logarithm of the suction p_c of the total water, by a general-purpose stiff integrator:

    dE/dt = sum of q + g_v (Lv + c_v t) + g_l c_l t + sources,   E = dx H + free water's enthalpy
    dW/dt = sum of g_v + g_l + sources,                          W = dx w(p_c) + free water
    H = (rho c + c_l w_l + c_i w_i) t - L_f w_i,   w_l = w(p_l),   w_i = w(p_c) - w_l

q = -lambda grad T; g_v = -delta grad p_v with p_v = p_sat exp(-p_l / (rho Rv T)); g_l = K grad p_l. Liquid
sits at p_l = max(p_c, p_f), rounded (`water`). The second unknown is ln(p_c) while a cell holds no free
water and counts free water while it does: one of the two is always at rest. Vapour in the pores is not
stored. `marching` marches the same equations fast; the two are held against each other in the tests.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from scipy import sparse
from scipy.integrate import solve_ivp

from warmside.physics.air import R_AIR, SEA_LEVEL
from warmside.physics.forcing import SERIES, Forcing
from warmside.physics.materials import Material
from warmside.physics.moist_wall import FREE_LOG, FREE_PER_UNIT, FREE_SUCTION, Face, Wall
from warmside.physics.water import WATER, Water

Array = npt.NDArray[np.float64]

RUN_OFF_TIME = 60.0
"""Time in which water beyond the film limit runs down [s]."""


class MarchError(RuntimeError):
    """The integrator gave up."""


@dataclass(frozen=True, eq=False)
class States:
    """What the material functions say of every cell.

    temperature : of the cell [C]
    log_liquid : ln of the suction of the liquid, suction in Pa [-]
    humidity : over liquid water [-]
    vapour : pressure [Pa]
    content : total water [kg/m3]
    liquid : liquid water [kg/m3]
    heat_path : resistance from middle to face [m2.K/W]
    vapour_path : resistance from middle to face [m2.s.Pa/kg]
    mobility : K p_l, liquid flow per gradient of ln(p_l) [kg/(m.s)]
    """

    temperature: Array
    log_liquid: Array
    humidity: Array
    vapour: Array
    content: Array
    liquid: Array
    heat_path: Array
    vapour_path: Array
    mobility: Array


@dataclass(frozen=True, eq=False)
class Flows:
    """Flows across faces, towards the room; the first and last are the ends.

    heat : conducted [W/m2]
    vapour : by diffusion [kg/(m2.s)]
    liquid : by suction [kg/(m2.s)]
    energy : all that is carried [W/m2]
    """

    heat: Array
    vapour: Array
    liquid: Array
    energy: Array


@dataclass(frozen=True, eq=False)
class March:
    """What came out, at the hours asked for.

    hours : of the output [h]
    temperature : of cells, shape (hours, cells) [C]
    potential : of cells: ln of the suction in Pa, or free water counted below it (Equations.parted) [-]
    face_temperature : of the faces asked for, shape (hours, faces) [C]
    face_humidity : over liquid water [-]
    """

    hours: Array
    temperature: Array
    potential: Array
    face_temperature: Array
    face_humidity: Array


class Equations:
    """The equations of one wall, as functions of its unknowns."""

    free_log = FREE_LOG
    """ln of the suction at which water stands free above freezing [-]."""

    def __init__(self, wall: Wall, forcing: Forcing, water: Water = WATER) -> None:
        self.wall, self.forcing, self.water = wall, forcing, water

    @cached_property
    def wets(self) -> npt.NDArray[np.bool_]:
        """Cells whose pores conduct liquid."""
        return wets(self.wall)

    def edge(self, temperature: Array) -> tuple[Array, Array]:
        """How far ice raises ln of the suction at which water stands free [-], and the slope [1/K]."""
        return raised_edge(self.wall, temperature, self.water)

    def parted(self, temperature: Array, potential: Array) -> tuple[Array, Array]:
        """ln of the suction in the pores [-] and free water on them [kg/m2].

        The unknown is both: it counts ln(p_c) from the free edge up, and free water below that of warm pores.
        """
        raised = self.edge(temperature)[0]
        below = np.maximum(self.free_log - potential, 0.0)
        return np.maximum(potential, self.free_log) + raised, FREE_PER_UNIT * below

    def liquid_suction(self, temperature: Array, suction: Array) -> tuple[Array, Array, Array]:
        """Suction of the liquid [Pa] and its slopes to temperature [Pa/K] and total suction [-]."""
        liquid, by_temperature, by_suction = self.water.liquid_suction(temperature, suction)
        return (
            np.where(self.wets, liquid, suction),
            np.where(self.wets, by_temperature, 0.0),
            np.where(self.wets, by_suction, 1.0),
        )

    def by_layer(self, pick: Callable[[Material], Callable[..., Array]], *arguments: Array) -> Array:
        """A function of each layer's material, on the cells of that layer [unit of the function]."""
        parts = zip(self.wall.layers, pairwise(self.wall.starts), strict=True)
        rows = [pick(layer.material)(*(row[first:end] for row in arguments)) for layer, (first, end) in parts]
        return np.concatenate(rows)

    def content(self, log_suction: Array) -> Array:
        """Water per volume by the isotherm [kg/m3]."""
        return self.by_layer(lambda material: material.isotherm.content, log_suction)

    def states(self, temperature: Array, log_suction: Array) -> States:
        """All that follows from the unknowns.

        temperature : of each cell [C]
        log_suction : ln of the suction of the total water, suction in Pa [-]
        """
        suction = self.liquid_suction(temperature, np.exp(log_suction))[0]
        log_liquid = np.log(suction)
        log_saturation = self.water.log_saturation(temperature)[0]
        humidity = np.exp(-suction / self.water.kelvin(temperature))
        content = self.content(log_suction)
        share = np.exp(self.by_layer(lambda material: material.isotherm.log_share, log_liquid))
        relative = self.by_layer(lambda material: material.vapour.relative, humidity, share)
        conductivity = self.by_layer(lambda material: material.conductivity.at, temperature, content)
        log_mobility = self.by_layer(lambda material: material.log_conductivity, log_liquid) + log_liquid
        half = 0.5 * self.wall.width
        return States(
            temperature=temperature,
            log_liquid=log_liquid,
            humidity=humidity,
            vapour=np.exp(log_saturation) * humidity,
            content=content,
            liquid=self.content(log_liquid),
            heat_path=half / conductivity,
            vapour_path=half / (self.water.air_permeability(temperature) * relative),
            mobility=np.exp(log_mobility),
        )

    def flows(self, hour: float, s: States) -> Flows:
        """Flows across all faces at an hour [unit of each]."""
        wall, at = self.wall, self.at(hour)
        heat, vapour, liquid = np.zeros((3, wall.cells + 1))
        extra_heat, extra_vapour = self.between(s)
        heat[1:-1] = -np.diff(s.temperature) / (s.heat_path[:-1] + s.heat_path[1:] + extra_heat)
        outward, inward = self.face_paths(s)
        vapour[1:-1] = -np.diff(s.vapour) / (inward[:-1] + outward[1:] + extra_vapour)
        liquid[1:-1] = self.liquid_conductance(s) * np.diff(s.log_liquid)
        heat[0] = (at["outer"] - s.temperature[0]) / (wall.outer.heat + s.heat_path[0])
        heat[-1] = (s.temperature[-1] - at["room"]) / (wall.inner.heat + s.heat_path[-1])
        vapour[0] = (at["outdoor_vapour"] - s.vapour[0]) / (wall.outer.vapour + outward[0])
        vapour[-1] = (s.vapour[-1] - at["room_vapour"]) / (wall.inner.vapour + inward[-1])
        beyond = np.concatenate([[at["outer"]], s.temperature, [at["room"]]])
        mean = 0.5 * (beyond[:-1] + beyond[1:])
        energy = heat + vapour * self.vapour_enthalpy(mean) + liquid * self.water.liquid_heat * mean
        return Flows(heat, vapour, liquid, energy)

    @cached_property
    def shut(self) -> tuple[Array, Array]:
        """Share of each cell's outer and inner face that stops the liquid in its pores [-]."""
        outer, inner = np.zeros((2, self.wall.cells))
        wets = self.wets.astype(float)
        outer[0], inner[-1] = wets[0], wets[-1]
        for number, layer in enumerate(self.wall.layers[:-1]):
            last, first = self.wall.last(number), self.wall.first(number + 1)
            leaks = 1.0 if layer.inward is None else layer.inward.leaks
            inner[last] = wets[last] * (1.0 - wets[first] * leaks)
            outer[first] = wets[first] * (1.0 - wets[last] * leaks)
        return outer, inner

    def face_paths(self, s: States) -> tuple[Array, Array]:
        """Resistance to vapour from the middle of each cell to its outer and inner face [m2.s.Pa/kg].

        At a face that stops liquid, what the pores bring there evaporates: liquid helps the vapour along, as
        K rho Rv T / p_v beside the permeability (both flows of EN 15026 in series, with Kelvin's equation).
        """
        pull = self.water.kelvin(s.temperature) / (np.maximum(s.vapour, 1e-200) * np.exp(s.log_liquid))
        helps = s.vapour_path * 2.0 * s.mobility / self.wall.width * pull
        outer, inner = (s.vapour_path / (1.0 + shut * helps) for shut in self.shut)
        return outer, inner

    def between(self, s: States) -> tuple[Array, Array]:
        """Contact resistance [m2.K/W] and membrane resistance [m2.s.Pa/kg] between neighbouring cells."""
        contact, membrane = np.zeros((2, self.wall.cells - 1))
        for number, layer in enumerate(self.wall.layers[:-1]):
            face = self.wall.last(number)
            contact[face] = layer.contact
            if layer.inward is not None:
                mean = 0.5 * (s.humidity[face] + s.humidity[face + 1])
                membrane[face] = 1.0 / float(layer.inward.permeance(mean))
        return contact, membrane

    def liquid_conductance(self, s: States) -> Array:
        """Liquid flow between neighbouring cells per difference of ln(p_l) [kg/(m2.s)].

        Within a layer by the logarithmic mean of both mobilities, exact where K is a power of the suction;
        between layers by both halves in series.
        """
        k, width = s.mobility, self.wall.width
        apart = np.diff(np.log(k))
        near = np.abs(apart) < 1e-3
        mean = np.where(near, 0.5 * (k[:-1] + k[1:]), np.diff(k) / np.where(near, 1.0, apart))
        within = 2.0 * mean / (width[:-1] + width[1:])
        across = 2.0 / (width[:-1] / k[:-1] + width[1:] / k[1:])
        for number, layer in enumerate(self.wall.layers[:-1]):
            face = self.wall.last(number)
            within[face] = across[face] * (1.0 if layer.inward is None else layer.inward.leaks)
        return np.asarray(within)

    def sources(self, hour: float, s: States, log_suction: Array) -> tuple[Array, Array]:
        """Water [kg/(m2.s)] and energy [W/m2] that reach cells other than through faces."""
        wall, at, water = self.wall, self.at(hour), self.water
        reached = np.maximum(wall.wetting_suction, self.free_log)
        wetted = wall.wetting * at["wet_share"] * (log_suction - reached)
        gained: Array = wetted
        warmth: Array = wetted * water.liquid_heat * s.temperature
        ratio = humidity_ratio(s.vapour)
        for flow, place in ((wall.room_air, "room"), (wall.outdoor_air, "outdoor")):
            rate, brought = flow * at[f"{place}_share"], humidity_ratio(at[f"{place}_vapour"])
            gained = gained + rate * (brought - ratio)
            carried = self.enthalpy(np.asarray(at[place]), brought) - self.enthalpy(s.temperature, ratio)
            warmth = warmth + rate * carried
        return gained, warmth + wall.heat + wall.beside * (at["beside"] - s.temperature)

    def vapour_enthalpy(self, temperature: Array) -> Array:
        """Enthalpy of vapour, zero for liquid at 0 C [J/kg]."""
        return self.water.vaporisation + self.water.vapour_heat * temperature

    def enthalpy(self, temperature: Array, ratio: Array) -> Array:
        """Enthalpy of moist air per dry air [J/kg]."""
        return 1006.0 * temperature + ratio * self.vapour_enthalpy(temperature)

    def film_enthalpy(self, temperature: Array) -> tuple[Array, Array]:
        """Enthalpy of free water [J/kg], frozen as pore water at no suction is, and its slope [J/(kg.K)]."""
        water = self.water
        liquid_share = water.liquid_suction(temperature, np.zeros_like(temperature))[2]
        frozen, less = 1.0 - liquid_share, (water.liquid_heat - water.ice_heat)
        released = less * temperature + water.fusion
        # The frozen share is q^2 (3 - q) / 4; its slope follows from that of q.
        above = water.freezing_potential(temperature)
        q = np.clip(above[0] / water.rounding, -1.0, 1.0) + 1.0
        share_slope = q * (6.0 - 3.0 * q) / 4.0 * above[1] / water.rounding
        value = water.liquid_heat * temperature - frozen * released
        return value, water.liquid_heat - frozen * less - share_slope * released

    def stored(self, temperature: Array, potential: Array) -> tuple[Array, Array]:
        """Water [kg/m2] and energy [J/m2] in each cell, free water included."""
        log_suction, free = self.parted(temperature, potential)
        s = self.states(temperature, log_suction)
        heat = self.heat_capacity(s) * temperature - self.water.fusion * (s.content - s.liquid)
        film = self.film_enthalpy(temperature)[0]
        return self.wall.width * s.content + free, self.wall.width * heat + free * film

    def heat_capacity(self, s: States) -> Array:
        """Heat capacity per volume with what water and ice there is [J/(m3.K)]."""
        dry = np.array([layer.material.capacity for layer in self.wall.layers])[self.wall.layer_of]
        return np.asarray(
            dry + self.water.liquid_heat * s.liquid + self.water.ice_heat * (s.content - s.liquid)
        )

    def capacities(self, s: States, potential: Array) -> tuple[Array, Array, Array, Array]:
        """Slopes of stored water to T [kg/(m2.K)] and the potential [kg/m2], then those of energy [J/m2]."""
        water, width = self.water, self.wall.width
        log_suction, free = self.parted(s.temperature, potential)
        suction = np.exp(log_suction)
        liquid, by_temperature, by_suction = self.liquid_suction(s.temperature, suction)
        slope = width * self.by_layer(lambda material: material.isotherm.slope, log_suction)
        liquid_slope = width * self.by_layer(lambda material: material.isotherm.slope, s.log_liquid) / liquid
        melting = (water.liquid_heat - water.ice_heat) * s.temperature + water.fusion
        ice = water.ice_heat * s.temperature - water.fusion
        film, film_slope = self.film_enthalpy(s.temperature)
        heat = width * self.heat_capacity(s) + free * film_slope
        dry, moved = potential > self.free_log, self.edge(s.temperature)[1]
        shift = by_temperature + by_suction * suction * moved
        in_pores = ice * slope + melting * liquid_slope * by_suction * suction
        return (
            slope * moved,
            np.where(dry, slope, -FREE_PER_UNIT),
            heat + melting * liquid_slope * shift + ice * slope * moved,
            np.where(dry, in_pores, -FREE_PER_UNIT * film),
        )

    def at(self, hour: float) -> dict[str, float]:
        """The forcing at an hour, straight between full hours [unit of each series]."""
        first = min(int(hour), self.forcing.hours - 1)
        part = hour - first
        rows = ((name, getattr(self.forcing, name)) for name in SERIES)
        return {name: float(row[first] + part * (row[first + 1] - row[first])) for name, row in rows}

    def rates(self, hour: float, unknowns: Array) -> Array:
        """Change of T [K/h] and of the potential [1/h], interleaved cell by cell."""
        temperature, potential = unknowns.reshape(-1, 2).T
        log_suction, free = self.parted(temperature, potential)
        s = self.states(temperature, log_suction)
        flows = self.flows(hour, s)
        run_off = np.maximum(free - self.wall.film_limit, 0.0) / RUN_OFF_TIME
        water, energy = self.sources(hour, s, log_suction)
        water = water - np.diff(flows.vapour + flows.liquid) - run_off
        energy = energy - np.diff(flows.energy) - run_off * self.film_enthalpy(temperature)[0]
        water_t, water_x, energy_t, energy_x = self.capacities(s, potential)
        determinant = energy_t * water_x - energy_x * water_t
        warming = (energy * water_x - energy_x * water) / determinant
        wetting = (energy_t * water - energy * water_t) / determinant
        return np.asarray(3600.0 * np.stack([warming, wetting], 1).ravel())

    def at_faces(self, hour: float, unknowns: Array, faces: Sequence[Face]) -> tuple[Array, Array]:
        """Temperature [C] and humidity [-] at faces of cells, rebuilt from the flows across them.

        No face is more humid than water or ice that stands free there.
        """
        s = self.states(unknowns[:, 0], self.parted(*unknowns.T)[0])
        flows = self.flows(hour, s)
        cells = np.array([face.cell for face in faces], int)
        sign = np.array([-1.0 if face.inward else 1.0 for face in faces])
        across = cells + (sign < 0.0)
        temperature = s.temperature[cells] + sign * flows.heat[across] * s.heat_path[cells]
        outward, inward = self.face_paths(s)
        path = np.where(sign < 0.0, inward[cells], outward[cells])
        vapour = s.vapour[cells] + sign * flows.vapour[across] * path
        wet = self.water.liquid_suction(temperature, np.full_like(temperature, FREE_SUCTION))[0]
        most = self.water.vapour_pressure(temperature, wet)
        return temperature, np.minimum(vapour, most) / np.exp(self.water.log_saturation(temperature)[0])


def humidity_ratio(vapour: Array | float) -> Array:
    """Vapour per dry air at sea level [kg/kg].

    vapour : pressure [Pa]
    """
    return np.asarray((R_AIR / 461.524) * vapour / (SEA_LEVEL - vapour))


def wets(wall: Wall) -> npt.NDArray[np.bool_]:
    """Cells whose pores conduct liquid.

    wall : what is marched
    """
    return np.array([layer.material.liquid is not None for layer in wall.layers])[wall.layer_of]


def raised_edge(wall: Wall, temperature: Array, water: Water = WATER) -> tuple[Array, Array]:
    """How far ice raises ln of the suction at which water stands free [-], and the slope [1/K].

    Pores that conduct no liquid hold no ice either: on them frost stands, at the suction where ice does.

    wall : what is marched
    temperature : of its cells [C]
    water : functions of water
    """
    held = wets(wall)
    suction, slope, _ = water.liquid_suction(temperature, np.full_like(temperature, FREE_SUCTION))
    return np.where(held, 0.0, np.log(suction) - FREE_LOG), np.where(held, 0.0, slope / suction)


def start_potential(wall: Wall, temperature: Array, humidity: Array | float, water: Water = WATER) -> Array:
    """Potential of each cell at a humidity; with frost on it where that is more than ice allows [-].

    wall : what is marched
    temperature : of its cells [C]
    humidity : of the cells, over 0 and under 1 [-]
    water : functions of water
    """
    phi = np.broadcast_to(np.asarray(humidity, float), wall.cells)
    raised = raised_edge(wall, temperature, water)[0]
    return np.asarray(water.log_suction(temperature, phi) - raised)


def march(
    wall: Wall,
    forcing: Forcing,
    temperature: Array | float,
    humidity: Array | float,
    faces: Sequence[Face] = (),
    hours: Array | None = None,
    tolerance: float = 1e-6,
    water: Water = WATER,
) -> March:
    """March a wall from a start that holds no free water.

    wall : what is marched
    forcing : what drives it
    temperature : of the cells at the start [C]
    humidity : of the cells at the start, over 0 and under 1 [-]
    faces : whose temperature and humidity are wanted
    hours : of the output, every full hour when None [h]
    tolerance : relative, of the integrator [-]
    water : functions of water

    Raises MarchError.
    """
    equations = Equations(wall, forcing, water)
    start = np.zeros((wall.cells, 2))
    start[:, 0] = temperature
    start[:, 1] = start_potential(wall, start[:, 0], humidity, water)
    wanted = np.arange(forcing.hours + 1.0) if hours is None else hours
    unknowns = _integrated(equations, start, wanted, tolerance)
    at_faces = [equations.at_faces(hour, row, faces) for hour, row in zip(wanted, unknowns, strict=True)]
    seen = np.array(at_faces).reshape(len(wanted), 2, len(faces))
    return March(wanted, unknowns[:, :, 0], unknowns[:, :, 1], seen[:, 0], seen[:, 1])


def _integrated(equations: Equations, start: Array, hours: Array, tolerance: float) -> Array:
    """Unknowns of every cell at the hours, shape (hours, cells, 2)."""

    def rates(hour: float, unknowns: Array) -> Array:
        # The integrator takes an error that is no number for a small one, and would go on for ever.
        if not np.isfinite(unknowns).all():
            raise FloatingPointError(f"the numbers ran away at hour {hour:.3f}")
        return equations.rates(hour, unknowns)

    cells = len(start)
    band = sparse.kron(
        sparse.diags([1.0, 1.0, 1.0], [-1, 0, 1], shape=(cells, cells), dtype=None), np.ones((2, 2))
    )
    try:
        # A trial step may overflow, and is halved; BDF's first difference is of memory that nobody has set.
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            done = solve_ivp(
                rates,
                (0.0, float(hours[-1])),
                start.ravel(),
                method="BDF",
                t_eval=hours,
                rtol=tolerance,
                atol=10.0 * tolerance,
                jac_sparsity=band.tocsc(),
                max_step=1.0,
            )
    except (FloatingPointError, RuntimeError) as broken:
        raise MarchError(f"stopped: {broken}") from broken
    if not done.success:
        raise MarchError(f"stopped at hour {done.t[-1]:.3f}: {done.message}")
    return np.asarray(done.y.T.reshape(len(hours), cells, 2))
