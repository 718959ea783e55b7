"""Rates of change of a wall by the kernel: the march's equations for integrators with their own steps.

A binding of march_rates.h. The kernel works on eight lanes, so that eight states of one wall are looked at
in one call: one for its rates, the state and six shifted ones for a banded Jacobian. `transport.Equations`
has the same rates to read; the two are held against each other in the tests, cell by cell.
"""

from __future__ import annotations

from ctypes import byref

import numpy as np
import numpy.typing as npt

from warmside.physics.forcing import Forcing
from warmside.physics.kernel import LANES, _library, vector_width
from warmside.physics.marching import USUAL, _inputs, _Job, _tables, initial
from warmside.physics.moist_wall import Wall
from warmside.physics.transport import RUN_OFF_TIME
from warmside.physics.water import WATER, Water

Array = npt.NDArray[np.float64]

BAND = 3
"""Diagonals of the Jacobian on either side: two unknowns of the neighbour and the other one of the cell."""
_COLOURS = 2 * 3
"""Unknowns that can be shifted together: two of every third cell."""
_SHIFT = 1e-7
"""Share of an unknown by which it is shifted for a slope, at least that much of 1 [-]."""


class Rates:
    """Rates of one wall, as functions of time and of its unknowns.

    wall : what changes
    forcing : what drives it
    water : functions of water

    Raises KernelMissing where march.c has not been compiled.
    """

    def __init__(self, wall: Wall, forcing: Forcing, water: Water = WATER) -> None:
        self.cells = wall.cells
        lanes = [wall] * LANES
        job = _Job(lanes, [forcing] * LANES, (), USUAL, water, np.zeros(1, np.int64))
        # What the kernel points at has to stay.
        self._arrays = {
            **_inputs(lanes, ()),
            **_tables(lanes, job.forcings),
            **job._outputs(initial(lanes, 10.0, 0.5, water)),
            "stop": job.flag,
        }
        self._told = job._told(self._arrays)
        self._state, self._out = np.empty((2, wall.cells, 2, LANES))

    def __call__(self, hour: float, unknowns: Array) -> Array:
        """Change of T [K/h] and of the potential [1/h], interleaved cell by cell [-].

        hour : within the forcing [h]
        unknowns : T and potential, cell by cell [-]
        """
        self._state[...] = unknowns.reshape(-1, 2, 1)
        return self._called(hour)[:, 0].copy()

    def banded(self, hour: float, unknowns: Array) -> Array:
        """The Jacobian's seven diagonals, row 3 + i - j of column j, shape (7, 2 cells) [-].

        hour : within the forcing [h]
        unknowns : T and potential, cell by cell [-]

        Slopes by shifting two unknowns of every third cell at a time.
        """
        size, count = _SHIFT * np.maximum(np.abs(unknowns), 1.0), len(unknowns)
        colour = np.arange(count) % _COLOURS
        self._state[...] = unknowns.reshape(-1, 2, 1)
        flat = self._state.reshape(count, LANES)
        flat[np.arange(count), 1 + colour] += size
        found = self._called(hour)
        slopes = found[:, 1 : 1 + _COLOURS] - found[:, :1]
        bands = np.zeros((2 * BAND + 1, count))
        for off in range(-BAND, BAND + 1):
            columns = np.arange(max(0, -off), min(count, count - off))
            # Three away is the neighbour's other unknown from one of the two, a cell beyond from the other.
            columns = columns[columns % 2 == (off < 0)] if abs(off) == BAND else columns
            bands[BAND + off, columns] = slopes[columns + off, colour[columns]] / size[columns]
        return bands

    def _called(self, hour: float) -> Array:
        """Rates of all lanes, shape (2 cells, lanes) [1/h]."""
        _library().march_rates(
            vector_width(),
            byref(self._told),
            hour,
            self._state.ctypes.data,
            1.0 / RUN_OFF_TIME,
            self._out.ctypes.data,
        )
        return 3600.0 * self._out.reshape(2 * self.cells, LANES)
