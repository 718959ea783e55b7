"""The fast half of the physics: a binding of march.c, which is compiled at set-up.

Walls are laid into groups of eight lanes, one call of the C code works on one group, and groups go to worker
threads (ctypes lets go of the interpreter lock). A wall's answer has the same bits in any lane, beside any
other wall, for any number of threads, on any CPU. Sources and limits of the formulas stand in march.c. Here
is the solver of block-tridiagonal systems; `marching` has the march through heat, air and moisture.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from ctypes import CDLL, c_double, c_int64, c_void_p
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

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
        library.march_solve(vector_width(), rhs.shape[1], *(at + group * step for at, step in places))
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
    library.march_rates.argtypes = [c_int64, c_void_p, c_double, c_void_p, c_double, c_void_p]
    library.march_rates.restype = None
    return library


@cache
def vector_width() -> int:
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
