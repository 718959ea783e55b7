"""Marches many walls at once through heat, air and moisture: a binding of march_run.h.

The same equations as `transport`, which is the version to read, on the same cells; how they are stepped
stands in march_step.h. All walls of a call share one layout of cells; materials, sizes and weather are each
wall's own. A wall that can't be marched is told of, and the others go on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from ctypes import Structure, byref, c_double, c_int64, c_void_p
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np
import numpy.typing as npt

from warmside.physics.air import R_AIR, SEA_LEVEL
from warmside.physics.forcing import SERIES, Forcing
from warmside.physics.kernel import LANES, KernelInput, _library, _spread, vector_width
from warmside.physics.materials import IMPERVIOUS, Material, Membrane
from warmside.physics.moist_wall import FREE_LOG, FREE_PER_UNIT, FREE_SUCTION, PER_CELL, Face, Layer, Wall
from warmside.physics.transport import start_potential
from warmside.physics.water import WATER, Water
from warmside.runs import Stopped, Watch

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

LEDGER = (
    "water_outer",
    "water_inner",
    "water_air",
    "water_wetting",
    "water_run_off",
    "energy_outer",
    "energy_inner",
    "energy_sources",
    "energy_run_off",
    "water_gross",
    "energy_gross",
    "solves",
    "steps",
    "water_gained",
    "energy_gained",
    "water_amiss",
    "energy_amiss",
)
"""Rows of the ledger: what came in [kg/m2, J/m2], gross flows through the wall's surface, work done, what
the cells gained, and how far the contents at the end stand from the material functions, summed over cells."""

_SIZES = ("cells", "layers", "hours", "probes")
_INPUTS = ("layer_of", "kind", "special_at", "probe_cell", "probe_inward")
_TABLES = ("material", "width", "ends", "special", "series")
_OUTPUTS = ("state", "faces", "layer_water", "layer_free", "run_off", "ledger", "fault", "work")
_POINTERS = (*_INPUTS, *_TABLES, *_OUTPUTS, "stop")
_PLAIN = ("gas", "density", "vaporisation", "vapour_heat", "liquid_heat", "ice_heat", "fusion")


class _Water(Structure):
    """`water` of march_wall.h."""

    _fields_ = [
        ("pole", c_double),
        ("saturation", c_double * 6),
        ("melting", c_double),
        ("freezing", c_double * 3),
        ("rounding", c_double),
        ("diffusion", c_double * 4),
        ("diffusion_at", c_double),
        *((name, c_double) for name in _PLAIN),
        ("free_per_unit", c_double),
        ("dry_air", c_double),
        ("pressure", c_double),
    ]


class _Walls(Structure):
    """`walls` of march_newton.h."""

    _fields_ = [
        *((name, c_int64) for name in _SIZES),
        *((name, c_void_p) for name in _POINTERS),
        ("per_tolerance_t", c_double),
        ("per_tolerance_x", c_double),
        ("longest", c_double),
        ("shortest", c_double),
        ("iterations", c_int64),
        ("halvings", c_int64),
        ("method", c_int64),
        ("water", _Water),
    ]


class Method(Enum):
    """Runge-Kutta methods of march_newton.h by family and order."""

    SDIRK_2 = 0
    SDIRK_3 = 1
    TR_BDF_2 = 2
    ESDIRK_3 = 3


@dataclass(frozen=True)
class Accuracy:
    """How far Newton's method is driven: the last correction, and how finely an hour may be cut.

    temperature : largest last correction [K]
    potential : largest last correction of ln(suction) [-]
    iterations : at most, before a step is halved [-]
    halvings : of an hour at most, before a wall is given up [-]
    steps : in each hour at least, a power of two [-]
    events : steps in an hour where free water comes, goes, freezes or thaws, a power of two [-]
    method : of stepping
    """

    temperature: float = 1.0
    potential: float = 0.1
    iterations: int = 12
    halvings: int = 14
    steps: int = 1
    events: int = 8
    method: Method = Method.TR_BDF_2


USUAL = Accuracy()
"""What walls are marched with unless something else is asked for."""
PATIENT = Accuracy(0.05, 0.01, iterations=30, steps=16, method=Method.SDIRK_2)
"""A second try at a wall that could not be marched: ice forming in a thin cell can stop the usual steps."""


@dataclass(frozen=True)
class Fault:
    """Where a wall could not be marched on.

    wall : which of them
    hour : in which its last step began
    layer : the worst cell's
    cell : the worst
    temperature : there, before the step [C]
    potential : there, before the step [-]
    """

    wall: int
    hour: int
    layer: int
    cell: int
    temperature: float
    potential: float


@dataclass(frozen=True, eq=False)
class Histories:
    """What came out, at the end of every hour; NaN from the hour of its fault on for a wall that has one.

    temperature : of the faces asked for, shape (walls, hours, faces) [C]
    humidity : there, over liquid water [-]
    water : in each layer, free water included, shape (walls, hours, layers) [kg/m2]
    free : free water in each layer, shape (walls, hours, layers) [kg/m2]
    run_off : water that ran down from each layer in the hour, shape (walls, hours, layers) [kg/m2]
    ledger : sums over the run by the names in LEDGER, shape (walls, rows) [-]
    state : temperature and potential of each cell at the end, shape (walls, cells, 2) [-]
    faults : of walls that could not be marched to the end
    """

    temperature: FloatArray
    humidity: FloatArray
    water: FloatArray
    free: FloatArray
    run_off: FloatArray
    ledger: FloatArray
    state: FloatArray
    faults: tuple[Fault, ...]


def march_walls(
    walls: Sequence[Wall],
    forcings: Sequence[Forcing],
    state: FloatArray,
    faces: Sequence[Face] = (),
    accuracy: Accuracy = USUAL,
    threads: int = 1,
    watch: Watch | None = None,
    water: Water = WATER,
) -> Histories:
    """March walls of one layout, each with its own materials, sizes and weather.

    A wall that can't be marched to the end is tried once more, patiently, before it becomes a fault.

    walls : all with the same numbers of cells in each layer
    forcings : one for each wall
    state : start: temperature and potential of each cell, shape (walls, cells, 2) [-]
    faces : whose histories are wanted
    accuracy : of Newton's method
    threads : worker threads; they change the time and nothing else [-]
    watch : told after each group of eight walls, asked to stop at every turn
    water : functions of water

    Raises KernelInput, KernelMissing, and Stopped by the watch.
    """
    _check(walls, forcings, state, faces, threads)

    def run(which: Sequence[int], how: Accuracy) -> tuple[dict[str, FloatArray], tuple[Fault, ...]]:
        chosen = [walls[wall] for wall in which], [forcings[wall] for wall in which]
        job = _Job(*chosen, faces, how, water, np.zeros(1, np.int64))
        return _run(job, state[np.asarray(which, np.int64)], threads, watch)

    out, faults = run(range(len(walls)), accuracy)
    if faults:
        again = [fault.wall for fault in faults]
        second, left = run(again, PATIENT)
        for name, rows in second.items():
            out[name][again] = rows
        faults = tuple(replace(fault, wall=again[fault.wall]) for fault in left)
    return Histories(**out, faults=faults)


def _run(
    job: _Job, state: FloatArray, threads: int, watch: Watch | None
) -> tuple[dict[str, FloatArray], tuple[Fault, ...]]:
    """All groups of one job, and the walls that could not be marched to the end."""
    out = job.blank(state)
    groups = range(0, len(job.walls), LANES)
    _watched(lambda first: job.march(first, out), groups, threads, watch, job.flag)
    layer_of = job.walls[0].layer_of
    faults = tuple(
        Fault(wall, int(row[0]), int(layer_of[int(row[1])]), int(row[1]), float(row[2]), float(row[3]))
        for wall, row in enumerate(out.pop("fault"))
        if row[0] >= 0
    )
    for fault in faults:
        for series in (out[name] for name in ("temperature", "humidity", "water", "free", "run_off")):
            series[fault.wall, fault.hour :] = np.nan
        out["state"][fault.wall] = np.nan
    return out, faults


def initial(
    walls: Sequence[Wall], temperature: FloatArray | float, humidity: FloatArray | float, water: Water = WATER
) -> FloatArray:
    """Start of every wall without free water, shape (walls, cells, 2) [-].

    walls : of one layout
    temperature : of cells, or of all of them [C]
    humidity : of cells, over 0 and under 1 [-]
    water : functions of water
    """
    rows = []
    for wall, t, phi in zip(
        walls, *(_spread_out(row, walls) for row in (temperature, humidity)), strict=True
    ):
        rows.append(np.stack([t, start_potential(wall, t, phi, water)], axis=1))
    return np.stack(rows)


def _spread_out(row: FloatArray | float, walls: Sequence[Wall]) -> FloatArray:
    return np.broadcast_to(np.asarray(row, float), (len(walls), walls[0].cells))


@dataclass(frozen=True, eq=False)
class _Job:
    """One call of march_walls; groups of it may run in any order and thread."""

    walls: Sequence[Wall]
    forcings: Sequence[Forcing]
    faces: Sequence[Face]
    accuracy: Accuracy
    water: Water
    flag: IntArray

    def blank(self, state: FloatArray) -> dict[str, FloatArray]:
        """Room for what comes out."""
        count, hours, layers = len(self.walls), self.forcings[0].hours, len(self.walls[0].layers)
        seen, wet = (count, hours, len(self.faces)), (count, hours, layers)
        shapes = {"temperature": seen, "humidity": seen, "water": wet, "free": wet, "run_off": wet}
        rows = {"ledger": (count, len(LEDGER)), "fault": (count, 4)}
        return {name: np.empty(shape) for name, shape in (shapes | rows).items()} | {"state": state.copy()}

    def march(self, first: int, out: dict[str, FloatArray]) -> None:
        """Lays up to eight walls into lanes, marches them, and takes out their histories."""
        some = slice(first, min(first + LANES, len(self.walls)))
        lanes = [min(first + lane, some.stop - 1) for lane in range(LANES)]
        walls, forcings = [self.walls[lane] for lane in lanes], [self.forcings[lane] for lane in lanes]
        inputs, tables = _inputs(walls, self.faces), _tables(walls, forcings)
        arrays = self._outputs(out["state"][lanes])
        told = self._told({**inputs, **tables, **arrays, "stop": self.flag})
        _library().march_walls(vector_width(), byref(told))
        take = slice(0, some.stop - first)
        for name, target in (("layer_water", "water"), ("layer_free", "free"), ("run_off", "run_off")):
            out[target][some] = np.moveaxis(arrays[name], 2, 0)[take]
        seen = np.moveaxis(arrays["faces"], 3, 0)[take]
        out["temperature"][some], out["humidity"][some] = seen[..., 0], seen[..., 1]
        out["state"][some] = np.moveaxis(arrays["state"], 2, 0)[take]
        out["ledger"][some], out["fault"][some] = arrays["ledger"].T[take], arrays["fault"].T[take]

    def _outputs(self, state: FloatArray) -> dict[str, FloatArray]:
        hours, layers, cells = self.forcings[0].hours, len(self.walls[0].layers), self.walls[0].cells
        return {
            "state": _lanes(state),
            "faces": _aligned((hours, len(self.faces), 2, LANES)),
            "layer_water": _aligned((hours, layers, LANES)),
            "layer_free": _aligned((hours, layers, LANES)),
            "run_off": _aligned((hours, layers, LANES)),
            "ledger": np.zeros((len(LEDGER), LANES)),
            "fault": np.zeros((4, LANES)),
            "work": _aligned((_library().march_sizes(0) * cells, LANES)),
        }

    def _told(self, arrays: Mapping[str, npt.NDArray[np.generic]]) -> _Walls:
        wall, accuracy = self.walls[0], self.accuracy
        return _Walls(
            *(wall.cells, len(wall.layers), self.forcings[0].hours, len(self.faces)),
            *(arrays[name].ctypes.data for name in _POINTERS),
            *(1.0 / accuracy.temperature, 1.0 / accuracy.potential),
            *(1.0 / accuracy.steps, 1.0 / accuracy.events),
            *(accuracy.iterations, accuracy.halvings, accuracy.method.value),
            _water(self.water),
        )


def _inputs(walls: Sequence[Wall], faces: Sequence[Face]) -> dict[str, IntArray]:
    """What the lanes share, and what some lane of them needs."""
    kinds = [[_kind(layer.material) for layer in wall.layers] for wall in walls]
    return {
        "layer_of": walls[0].layer_of.astype(np.int64),
        "kind": np.asarray(np.bitwise_or.reduce(kinds), np.int64),
        "special_at": _special_at(walls),
        "probe_cell": np.array([face.cell for face in faces], np.int64),
        "probe_inward": np.array([face.inward for face in faces], np.int64),
    }


def _tables(walls: Sequence[Wall], forcings: Sequence[Forcing]) -> dict[str, FloatArray]:
    """Each lane's own numbers."""
    return {
        "material": _lanes([[_layer_row(layer) for layer in wall.layers] for wall in walls]),
        "width": _lanes([wall.width for wall in walls]),
        "ends": _lanes([(w.outer.heat, w.outer.vapour, w.inner.heat, w.inner.vapour) for w in walls]),
        "special": _lanes([np.stack([getattr(wall, name) for name in PER_CELL], axis=1) for wall in walls]),
        "series": _series(forcings),
    }


def _lanes(rows: Iterable[object]) -> FloatArray:
    """Numbers of eight walls with the lanes last."""
    first = np.asarray(list(rows), float)
    laid = _aligned((*first.shape[1:], len(first)))
    laid[...] = np.moveaxis(first, 0, -1)
    return laid


def _aligned(shape: tuple[int, ...]) -> FloatArray:
    """Room for numbers whose eight lanes lie in one line of the cache, which is read faster than two."""
    size = int(np.prod(shape))
    room = np.empty(size + LANES)
    first = -room.ctypes.data % (LANES * room.itemsize) // room.itemsize
    return room[first : first + size].reshape(shape)


def _series(forcings: Sequence[Forcing]) -> FloatArray:
    """Boundary values, shape (hours + 1, series, lanes)."""
    laid = _aligned((forcings[0].hours + 1, len(SERIES), LANES))
    for lane, forcing in enumerate(forcings):
        for row, name in enumerate(SERIES):
            laid[:, row, lane] = getattr(forcing, name)
    return laid


def _special_at(walls: Sequence[Wall]) -> IntArray:
    """1 for cells that take or give anything other than through their faces."""
    names = [name for name in PER_CELL if name not in ("wetting_suction", "film_limit")]
    used = np.array([[getattr(wall, name) != 0.0 for name in names] for wall in walls])
    return np.asarray(used.any(axis=(0, 1)), np.int64)


def _layer_row(layer: Layer) -> list[float]:
    """Numbers of one layer in the order of `material` in march_wall.h."""
    return [*_material_row(layer.material), layer.contact, *_membrane_row(layer.inward)]


def _material_row(m: Material) -> list[float]:
    c, w, v = m.conductivity, m.isotherm, m.vapour
    coefficients = (IMPERVIOUS,) if m.liquid is None else m.liquid.coefficients
    wets = float(m.liquid is not None)
    liquid = [
        wets,
        *coefficients,
        *[0.0] * (6 - len(coefficients)),
        0.0 if m.liquid is None else m.liquid.exponent,
    ]
    heat = [m.capacity, c.dry, c.per_kelvin, c.per_water, c.bend]
    water = [w.saturated, w.log_scale, w.exponent, w.power, v.base, v.rise, v.steepness, v.filling]
    return [*heat, *water, *liquid, FREE_LOG, FREE_SUCTION]


def _kind(m: Material) -> np.int64:
    """Bits of `kind` in march_wall.h: what this material needs."""
    wets = m.liquid is not None
    needs = (wets, m.vapour.filling != 0.0, m.conductivity.bend != 0.0, m.vapour.rise != 0.0, not wets)
    return np.int64(sum(bit << place for place, bit in enumerate(needs)))


def _membrane_row(membrane: Membrane | None) -> list[float]:
    if membrane is None:
        return [0.0, 1.0, 0.0, 0.0, 1.0]
    return [1.0, membrane.base, membrane.rise, membrane.steepness, membrane.leaks]


def _water(water: Water) -> _Water:
    rows = {name: getattr(water, name, 0.0) for name, *_ in _Water._fields_}
    made = _Water()
    for name, value in (
        rows | {"free_per_unit": FREE_PER_UNIT, "dry_air": R_AIR, "pressure": SEA_LEVEL}
    ).items():
        setattr(made, name, value)
    return made


def _check(
    walls: Sequence[Wall], forcings: Sequence[Forcing], state: FloatArray, faces: Sequence[Face], threads: int
) -> None:
    """Raises KernelInput at the first thing that the march can't take."""
    if not walls or len(forcings) != len(walls):
        raise KernelInput(
            f"walls: {len(walls)} and {len(forcings)} forcings were given; one for each is right."
        )
    for number, (wall, forcing) in enumerate(zip(walls, forcings, strict=True)):
        if wall.starts != walls[0].starts:
            raise KernelInput(
                f"walls: wall {number} has its layers cut at {wall.starts}, the first at {walls[0].starts};"
                " one layout is right."
            )
        if forcing.hours != forcings[0].hours:
            raise KernelInput(
                f"forcings: wall {number} has {forcing.hours} hours, the first {forcings[0].hours};"
                " as many is right."
            )
    shape = (len(walls), walls[0].cells, 2)
    if state.shape != shape or state.dtype != np.float64:
        raise KernelInput(
            f"state: {state.dtype} of shape {state.shape} was given; float64 of {shape} is right."
        )
    if not np.isfinite(state).all():
        at = tuple(int(i) for i in np.argwhere(~np.isfinite(state))[0])
        raise KernelInput(f"state: {state[at]} was given at {at}; every number must be finite.")
    for face in faces:
        if not 0 <= face.cell < walls[0].cells:
            raise KernelInput(f"faces: cell {face.cell} was given; 0 to {walls[0].cells - 1} is right.")
    if threads < 1:
        raise KernelInput(f"threads: {threads} was given; 1 or more is right.")


def _watched(
    work: Callable[[int], None], parts: range, threads: int, watch: Watch | None, flag: IntArray
) -> None:
    """Does `work` on every part in worker threads; a watch that says stop raises the flag the kernel asks."""
    if watch is None:
        _spread(work, parts, threads)
        return
    with ThreadPoolExecutor(min(threads, len(parts))) as pool:
        left = {pool.submit(work, part) for part in parts}
        while left:
            done, left = wait(left, timeout=0.05, return_when=FIRST_COMPLETED)
            for finished in done:
                finished.result()
            watch.step(len(parts) - len(left), len(parts), "runs.walls")
            if watch.stop():
                flag[0] = 1
                for waiting in left:
                    waiting.cancel()
                raise Stopped("the march was stopped")
