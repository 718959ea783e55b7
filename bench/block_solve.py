"""The kernel's block-tridiagonal solve against scipy's banded one: same systems and run, one thread each."""

from statistics import median
from time import perf_counter

import numpy as np
import numpy.typing as npt
from scipy.linalg import solve_banded
from threadpoolctl import threadpool_limits

from warmside.physics.kernel import solve_block_tridiagonal

WALLS, CELLS, ROUNDS = 256, 60, 15
FloatArray = npt.NDArray[np.float64]


def systems() -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Diagonally dominant systems, the same ones at every run."""
    random = np.random.default_rng(256)
    lower, diag, upper = random.uniform(-1.0, 1.0, (3, WALLS, CELLS, 2, 2))
    return lower, diag + 8.0 * np.eye(2), upper, random.uniform(-1.0, 1.0, (WALLS, CELLS, 2))


def banded(lower: FloatArray, diag: FloatArray, upper: FloatArray) -> FloatArray:
    """The bands that solve_banded takes, shape (walls, 7, 2 cells)."""
    bands = np.zeros((len(diag), 7, 2 * CELLS))
    for row in range(2):
        for column in range(2):
            offset = 3 + row - column
            bands[:, offset, column::2] = diag[:, :, row, column]
            bands[:, offset - 2, 2 + column :: 2] = upper[:, :-1, row, column]
            bands[:, offset + 2, column:-2:2] = lower[:, 1:, row, column]
    return bands


def main() -> None:
    """Prints the median time of each and their ratio."""
    lower, diag, upper, rhs = systems()
    bands, flat = banded(lower, diag, upper), rhs.reshape(WALLS, -1)
    kernel_times, banded_times = [], []
    with threadpool_limits(1):
        for _ in range(ROUNDS):
            start = perf_counter()
            ours = solve_block_tridiagonal(lower, diag, upper, rhs).values
            middle = perf_counter()
            theirs = [
                solve_banded((3, 3), ab, b, check_finite=False) for ab, b in zip(bands, flat, strict=True)
            ]
            kernel_times.append(middle - start)
            banded_times.append(perf_counter() - middle)
    difference = float(np.abs(ours.reshape(WALLS, -1) - np.array(theirs)).max())
    per_cell = 1e9 / (WALLS * CELLS)
    print(f"{WALLS} walls of {CELLS} cells, two unknowns each, one thread, median of {ROUNDS}")
    print(f"kernel with packing and checks  {median(kernel_times) * per_cell:8.1f} ns per cell")
    print(f"scipy.linalg.solve_banded       {median(banded_times) * per_cell:8.1f} ns per cell")
    print(f"ratio {median(banded_times) / median(kernel_times):.1f}, largest difference {difference:.1e}")
