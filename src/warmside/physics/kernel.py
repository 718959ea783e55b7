"""The fast half of the physics: a binding of march.c, which is compiled at set-up.

`march_walls` marches many slices through heat, air and moisture (transport.py has the same equations to read);
`solve_block_tridiagonal` is the solver inside it. Walls are laid into groups of eight lanes, one call of the C code works on one group, and groups go to worker
threads (ctypes lets go of the interpreter lock). A wall's answer has the same bits in any lane, beside any
other wall, for any number of threads, on any CPU. Sources and limits of the formulas stand in march.c.
"""

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from ctypes import CDLL, Structure, byref, c_double, c_int64, c_void_p, sizeof
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

from warmside.physics.air import R_AIR, SEA_LEVEL
from warmside.physics.forcing import SERIES, Forcing
from warmside.physics.materials import IMPERVIOUS, Material, Membrane
from warmside.physics.moist_wall import FREE_PER_UNIT, FREE_SUCTION, PER_CELL, Face, Layer, Wall
from warmside.physics.water import WATER, Water
from warmside.runs import Stopped, Watch

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

LANES = 8
# Walls laid out at a time: few enough to stay in a processor's own cache.
BATCH = 4 * LANES
LIBRARY = Path(__file__).with_name("march.so")


class KernelMissing(Exception):  # noqa: N818
    """The compiled half of the physics is not there, or is not for this machine."""


class KernelInput(ValueError):  # noqa: N818
    """Something that the kernel can't take: its name, what it is, what would be right."""


@dataclass(frozen=True)
class BlockSolution:
    """The unknowns of every cell, and where an elimination broke down.

    values : shape (walls, cells, 2), NaN all through a wall that broke down [-]
    singular_cell : first cell whose pivot block is singular, or -1, shape (walls,) [-]
    """

    values: FloatArray
    singular_cell: IntArray


def solve_block_tridiagonal(
    lower: FloatArray, diag: FloatArray, upper: FloatArray, rhs: FloatArray, threads: int = 1
) -> BlockSolution:
    """Solves lower[i] x[i-1] + diag[i] x[i] + upper[i] x[i+1] = rhs[i], two unknowns per cell, many walls.

    lower : blocks towards the cell before, shape (walls, cells, 2, 2); the first cell's are not used [-]
    diag : blocks of the cells themselves, shape (walls, cells, 2, 2) [-]
    upper : blocks towards the cell after, shape (walls, cells, 2, 2); the last cell's are not used [-]
    rhs : right-hand sides, shape (walls, cells, 2) [-]
    threads : worker threads; they change the time and nothing else [-]

    Raises KernelInput for arrays of another shape or kind, KernelMissing where march.c has not been compiled.
    Golub and Van Loan, Matrix Computations, 4th ed., section 4.5.1; safe for diagonally dominant systems.
    """
    _check(lower, diag, upper, rhs, threads)
    library = _library()
    values, singular = np.empty_like(rhs), np.empty(len(rhs), np.int64)

    def solve(first: int) -> None:
        walls = slice(first, first + BATCH)
        some = _solve_in_lanes(library, lower[walls], diag[walls], upper[walls], rhs[walls])
        values[walls], singular[walls] = some.values, some.singular_cell

    _spread(solve, range(0, len(rhs), BATCH), threads)
    values[singular >= 0] = np.nan
    return BlockSolution(values, singular)


def _solve_in_lanes(
    library: CDLL, lower: FloatArray, diag: FloatArray, upper: FloatArray, rhs: FloatArray
) -> BlockSolution:
    """Lays walls into lane groups and calls the kernel once for each group."""
    low, up, right = _in_lanes(lower), _in_lanes(upper), _in_lanes(rhs)
    mid = _in_lanes(diag, spare=np.eye(2).ravel())
    low[:, 0] = 0.0
    up[:, -1] = 0.0
    values, factor, singular = np.empty_like(right), np.empty_like(mid), np.empty((len(mid), LANES))
    arrays = (low, mid, up, right, values, factor, singular)
    places = [(array.ctypes.data, array.strides[0]) for array in arrays]
    for group in range(len(mid)):
        library.march_solve(_width(), rhs.shape[1], *(at + group * step for at, step in places))
    broken_at = singular.reshape(-1).astype(np.int64)
    return BlockSolution(_out_of_lanes(values)[: len(rhs)], broken_at[: len(rhs)])


@cache
def _library() -> CDLL:
    """The compiled kernel, opened once."""
    try:
        library = CDLL(str(LIBRARY))
    except OSError as problem:
        raise KernelMissing(
            f"The compiled part of Warmside, {LIBRARY.name}, is missing or not for this machine:"
            " in a clone, `./run test` compiles it; elsewhere, install Warmside again."
        ) from problem
    library.march_widest.restype = c_int64
    library.march_solve.argtypes = [c_int64, c_int64, *[c_void_p] * 7]
    library.march_solve.restype = None
    library.march_walls.argtypes = [c_int64, c_void_p]
    library.march_walls.restype = c_int64
    library.march_sizes.argtypes = [c_int64]
    library.march_sizes.restype = c_int64
    return library


@cache
def _width() -> int:
    """Widest vector of this CPU [bit]; asked once, as a virtual machine takes 20 microseconds to answer."""
    return int(_library().march_widest())


def _check(lower: FloatArray, diag: FloatArray, upper: FloatArray, rhs: FloatArray, threads: int) -> None:
    """Raises KernelInput at the first thing that the kernel can't take."""
    if rhs.ndim != 3 or rhs.shape[2] != 2 or 0 in rhs.shape:
        raise KernelInput(
            f"rhs: shape {rhs.shape} was given; (walls, cells, 2) is right, one or more of each."
        )
    blocks = {"lower": lower, "diag": diag, "upper": upper}
    for name, array in {**blocks, "rhs": rhs}.items():
        shape = (*rhs.shape, 2) if name in blocks else rhs.shape
        if array.shape != shape:
            raise KernelInput(f"{name}: shape {array.shape} was given; {shape} is right, to go with rhs.")
        if array.dtype != np.float64:
            raise KernelInput(f"{name}: numbers of type {array.dtype} were given; float64 is right.")
        if not np.isfinite(array).all():
            at = tuple(int(i) for i in np.argwhere(~np.isfinite(array))[0])
            raise KernelInput(f"{name}: {array[at]} was given at {at}; every number must be finite.")
    if threads < 1:
        raise KernelInput(f"threads: {threads} was given; 1 or more is right.")


def _in_lanes(per_wall: FloatArray, spare: FloatArray | float = 0.0) -> FloatArray:
    """From (walls, cells, ...) to (groups, cells, entries, lanes); lanes left over hold `spare`."""
    walls, cells = per_wall.shape[:2]
    rows = per_wall.reshape(walls, cells, -1)
    if walls % LANES:
        rows = np.concatenate([rows, np.broadcast_to(spare, (-walls % LANES, *rows.shape[1:]))])
    # As three axes, not four: numpy copies the long one in one go.
    lanes_last = np.ascontiguousarray(rows.reshape(len(rows) // LANES, LANES, -1).transpose(0, 2, 1))
    return lanes_last.reshape(len(lanes_last), cells, -1, LANES)


def _out_of_lanes(lanes: FloatArray) -> FloatArray:
    """From (groups, cells, entries, lanes) to (walls, cells, entries), left-over lanes included."""
    groups, cells, entries = lanes.shape[:3]
    lanes_first = lanes.reshape(groups, -1, LANES).transpose(0, 2, 1)
    return np.ascontiguousarray(lanes_first).reshape(-1, cells, entries)


def _spread(work: Callable[[int], None], parts: range, threads: int) -> None:
    """Does `work` on every part; each writes to its own place, so the order does not matter."""
    if threads == 1 or len(parts) == 1:
        for part in parts:
            work(part)
        return
    with ThreadPoolExecutor(min(threads, len(parts))) as pool:
        for _ in pool.map(work, parts):
            pass


# ---- the march ---------------------------------------------------------------------------------------------

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
)
"""Rows of the ledger: what came in [kg/m2, J/m2], gross flows through the surface of the wall, and work done."""

_POINTERS = (
    "layer_of special_at probe_cell probe_inward material width ends special series"
    " state faces layer_water layer_free run_off ledger fault work stop"
)


class _Water(Structure):
    """`water` of march_wall.h."""

    _fields_ = [
        ("pole", c_double),
        ("saturation", c_double * 6),
        ("melting", c_double),
        ("freezing", c_double * 3),
        ("rounding", c_double),
        ("diffusion", c_double * 4),
        *((name, c_double) for name in "diffusion_at gas density vaporisation vapour_heat".split()),
        *((name, c_double) for name in "liquid_heat ice_heat fusion free_per_unit dry_air pressure".split()),
    ]


class _Walls(Structure):
    """`walls` of march_step.h."""

    _fields_ = [
        *((name, c_int64) for name in "cells layers hours probes".split()),
        *((name, c_void_p) for name in _POINTERS.split()),
        ("per_tolerance_t", c_double),
        ("per_tolerance_x", c_double),
        ("longest", c_double),
        ("iterations", c_int64),
        ("halvings", c_int64),
        ("water", _Water),
    ]


@dataclass(frozen=True)
class Accuracy:
    """How far Newton's method is driven: the last correction, and how finely an hour may be cut.

    temperature : largest last correction [K]
    potential : largest last correction of ln(suction) [-]
    iterations : at most, before a step is halved [-]
    halvings : of an hour at most, before a wall is given up [-]
    steps : in each hour at least, a power of two [-]
    """

    temperature: float = 0.05
    potential: float = 0.02
    iterations: int = 8
    halvings: int = 10
    steps: int = 1


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
    accuracy: Accuracy = Accuracy(),
    threads: int = 1,
    watch: Watch | None = None,
    water: Water = WATER,
) -> Histories:
    """March walls of one layout, each with its own materials, sizes and weather.

    walls : all with the same numbers of cells in each layer
    forcings : one for each wall
    state : start: temperature and potential of each cell, shape (walls, cells, 2) [-]
    faces : whose histories are wanted
    accuracy : of Newton's method
    threads : worker threads; they change the time and nothing else [-]
    watch : told after each group of eight walls, asked to stop once in a simulated day
    water : functions of water

    Raises KernelInput, KernelMissing, and Stopped by the watch.
    """
    _check_march(walls, forcings, state, faces, threads)
    library, hours = _library(), forcings[0].hours
    out = _blank(len(walls), walls[0], hours, len(faces))
    flag = np.zeros(1, np.int64)

    def group(first: int) -> None:
        some = slice(first, first + LANES)
        _march_group(library, walls[some], forcings[some], out, first, faces, accuracy, water, flag)

    out.state[:] = state
    _watched(group, range(0, len(walls), LANES), threads, watch, flag)
    faults = tuple(
        _fault(walls[0], wall, row) for wall, row in enumerate(out.ledger[:, len(LEDGER) :]) if row[0] >= 0
    )
    for fault in faults:
        for series in (out.temperature, out.humidity, out.water, out.free, out.run_off):
            series[fault.wall, fault.hour :] = np.nan
        out.state[fault.wall] = np.nan
    return Histories(
        out.temperature,
        out.humidity,
        out.water,
        out.free,
        out.run_off,
        out.ledger[:, : len(LEDGER)],
        out.state,
        faults,
    )


def initial(
    walls: Sequence[Wall], temperature: FloatArray | float, humidity: FloatArray | float, water: Water = WATER
) -> FloatArray:
    """Start of every wall without free water, shape (walls, cells, 2) [-].

    walls : of one layout
    temperature : of cells, or of all of them [C]
    humidity : of cells, over 0 and under 1 [-]
    water : functions of water
    """
    shape = (len(walls), walls[0].cells)
    t = np.broadcast_to(np.asarray(temperature, float), shape)
    return np.stack([t, water.log_suction(t, np.broadcast_to(np.asarray(humidity, float), shape))], axis=2)


def _blank(count: int, wall: Wall, hours: int, faces: int) -> Histories:
    """Room for what comes out; the fault rows stand behind the ledger."""
    seen, layers = (
        np.full((2, count, hours, faces), np.nan),
        np.full((3, count, hours, len(wall.layers)), np.nan),
    )
    ledger = np.zeros((count, len(LEDGER) + 4))
    return Histories(*seen, *layers, ledger, np.empty((count, wall.cells, 2)), ())


def _fault(wall: Wall, number: int, row: FloatArray) -> Fault:
    cell = int(row[1])
    return Fault(number, int(row[0]), int(wall.layer_of[cell]), cell, float(row[2]), float(row[3]))


def _march_group(
    library: CDLL,
    walls: Sequence[Wall],
    forcings: Sequence[Forcing],
    out: Histories,
    first: int,
    faces: Sequence[Face],
    accuracy: Accuracy,
    water: Water,
    flag: IntArray,
) -> None:
    """Lays up to eight walls into lanes, marches them, and takes out their histories."""
    full = [walls[min(lane, len(walls) - 1)] for lane in range(LANES)]
    some = slice(first, first + len(walls))
    hours, cells, layers = forcings[0].hours, full[0].cells, len(full[0].layers)
    start = out.state[[min(first + lane, some.stop - 1) for lane in range(LANES)]]
    arrays = {
        "layer_of": full[0].layer_of.astype(np.int64),
        "special_at": _special_at(full),
        "probe_cell": np.array([face.cell for face in faces], np.int64),
        "probe_inward": np.array([face.inward for face in faces], np.int64),
        "material": _lanes([[_layer_row(layer) for layer in wall.layers] for wall in full]),
        "width": _lanes([wall.width for wall in full]),
        "ends": _lanes([(w.outer.heat, w.outer.vapour, w.inner.heat, w.inner.vapour) for w in full]),
        "special": _lanes([np.stack([getattr(wall, name) for name in PER_CELL], axis=1) for wall in full]),
        "series": _series([forcings[min(lane, len(forcings) - 1)] for lane in range(LANES)]),
        "state": _lanes(start),
        "faces": np.empty((hours, len(faces), 2, LANES)),
        "layer_water": np.empty((hours, layers, LANES)),
        "layer_free": np.empty((hours, layers, LANES)),
        "run_off": np.empty((hours, layers, LANES)),
        "ledger": np.zeros((len(LEDGER), LANES)),
        "fault": np.zeros((4, LANES)),
        "work": np.empty((library.march_sizes(0) * cells, LANES)),
        "stop": flag,
    }
    told = _Walls(
        cells,
        layers,
        hours,
        len(faces),
        *(arrays[name].ctypes.data for name in _POINTERS.split()),
        1.0 / accuracy.temperature,
        1.0 / accuracy.potential,
        1.0 / accuracy.steps,
        accuracy.iterations,
        accuracy.halvings,
        _water(water),
    )
    library.march_walls(_width(), byref(told))
    lanes = slice(0, len(walls))
    for name, target in (("layer_water", out.water), ("layer_free", out.free), ("run_off", out.run_off)):
        target[some] = np.moveaxis(arrays[name], 2, 0)[lanes]
    seen = np.moveaxis(arrays["faces"], 3, 0)[lanes]
    out.temperature[some], out.humidity[some] = seen[..., 0], seen[..., 1]
    out.state[some] = np.moveaxis(arrays["state"], 2, 0)[lanes]
    out.ledger[some] = np.concatenate([arrays["ledger"], arrays["fault"]]).T[lanes]


def _lanes(rows: Iterable[object]) -> FloatArray:
    """Numbers of eight walls with the lanes last."""
    return np.ascontiguousarray(np.moveaxis(np.asarray(list(rows), float), 0, -1))


def _series(forcings: Sequence[Forcing]) -> FloatArray:
    """Boundary values, shape (hours + 1, series, lanes)."""
    laid = np.empty((forcings[0].hours + 1, len(SERIES), LANES))
    for lane, forcing in enumerate(forcings):
        for row, name in enumerate(SERIES):
            laid[:, row, lane] = getattr(forcing, name)
    return laid


def _special_at(walls: Sequence[Wall]) -> IntArray:
    """1 for cells that take or give anything other than through their faces."""
    names = [name for name in PER_CELL if name not in ("wetting_suction", "film_limit")]
    return np.any([[getattr(wall, name) != 0.0 for name in names] for wall in walls], axis=(0, 1)).astype(
        np.int64
    )


def _layer_row(layer: Layer) -> list[float]:
    """Numbers of one layer in the order of `material` in march_wall.h."""
    return [*_material_row(layer.material), layer.contact, *_membrane_row(layer.inward)]


def _material_row(m: Material) -> list[float]:
    c, w, v = m.conductivity, m.isotherm, m.vapour
    coefficients = (IMPERVIOUS,) if m.liquid is None else m.liquid.coefficients
    liquid = [*coefficients, *[0.0] * (6 - len(coefficients)), 0.0 if m.liquid is None else m.liquid.exponent]
    heat = [m.capacity, c.dry, c.per_kelvin, c.per_water, c.bend]
    water = [w.saturated, w.log_scale, w.exponent, w.power, v.base, v.rise, v.steepness, v.filling]
    return [*heat, *water, *liquid, float(np.log(FREE_SUCTION[m.liquid is not None]))]


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


def _check_march(
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
                f"walls: wall {number} has its layers cut at {wall.starts}, the first at {walls[0].starts}; one layout is right."
            )
        if forcing.hours != forcings[0].hours:
            raise KernelInput(
                f"forcings: wall {number} has {forcing.hours} hours, the first {forcings[0].hours}; as many is right."
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
    """Does `work` on every part in worker threads; a watch that says stop raises the flag that the kernel asks."""
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
