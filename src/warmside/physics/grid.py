"""Graded rectilinear grids in one, two or three dimensions.

Cell faces fall on every material edge. Between edges the size of a cell grows with its distance from refined
edges, s(x) = min(s_edge + (growth - 1) * distance, largest), and faces stand at equal steps of the integral
of dx / s, so that a denser grid of the same axis is nested in the coarser one (which Richardson
extrapolation needs).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Box = tuple[tuple[float, float], ...]
"""Lowest and highest coordinate along each axis; equal ones make a plane [m]."""


class GridError(ValueError):
    """Edges or sizes from which no grid can be made."""


def graded(
    edges: Sequence[float],
    sizes: Mapping[float, float],
    growth: float = 1.3,
    largest: float = np.inf,
    density: int = 1,
) -> Array:
    """Faces of one axis [m].

    edges : coordinates that must be faces; the first and last bound the axis [m]
    sizes : edge -> size of the cells that touch it; edges not named are faces without refinement [m]
    growth : ratio of neighbouring cells away from refined edges [-]
    largest : upper limit of a cell [m]
    density : whole multiple of cells, for nested grids [-]
    Raises GridError.
    """
    stops = np.unique(np.asarray(edges, float))
    if len(stops) < 2 or not sizes or growth <= 1:
        raise GridError(
            f"edges {list(edges)}, {len(sizes)} sizes, growth {growth}: want 2 edges, 1 size, growth over 1"
        )
    places, finest = np.array(list(sizes)), np.array(list(sizes.values()), float)

    def size(x: Array) -> Array:
        near = finest + (growth - 1) * np.abs(x[:, None] - places)
        return np.asarray(np.minimum(near.min(axis=1), largest))

    pieces = [spaced(a, b, size, density) for a, b in pairwise(stops)]
    return np.concatenate([*[piece[:-1] for piece in pieces], stops[-1:]])


def spaced(low: float, high: float, size: Callable[[Array], Array], density: int = 1) -> Array:
    """Faces between two edges: equal steps of the integral of dx / size, sampled 400 times [m].

    low : lower edge [m]
    high : upper edge [m]
    size : of a cell by its place [m]
    density : whole multiple of cells, for nested grids [-]
    """
    bend = 0.5 * (1 - np.cos(np.linspace(0, np.pi, 400)))
    x = low + (high - low) * bend
    per_metre = 1 / size(x)
    count = np.concatenate([[0.0], np.cumsum(0.5 * (per_metre[1:] + per_metre[:-1]) * np.diff(x))])
    cells = density * max(1, round(float(count[-1])))
    inner = np.interp(np.arange(1, cells) / cells, count / count[-1], x)
    return np.concatenate([[low], inner, [high]])


@dataclass(frozen=True, eq=False)
class Grid:
    """A rectilinear block of cells.

    faces : per axis, increasing coordinates of the cell faces [m]
    """

    faces: tuple[Array, ...]

    def __post_init__(self) -> None:
        """Raise GridError unless every axis increases."""
        for axis, faces in enumerate(self.faces):
            if len(faces) < 2 or not np.all(np.diff(faces) > 0):
                raise GridError(f"axis {axis}: want at least two faces, strictly increasing")

    @property
    def dim(self) -> int:
        """Number of axes [-]."""
        return len(self.faces)

    @cached_property
    def shape(self) -> tuple[int, ...]:
        """Number of cells along each axis [-]."""
        return tuple(len(f) - 1 for f in self.faces)

    def widths(self, axis: int) -> Array:
        """Cell sizes along an axis, shaped to broadcast over the cells [m]."""
        return np.diff(self.faces[axis]).reshape(self._along(axis))

    @cached_property
    def centres(self) -> tuple[Array, ...]:
        """Cell centres along each axis [m]."""
        return tuple(0.5 * (f[1:] + f[:-1]) for f in self.faces)

    def mesh(self) -> tuple[Array, ...]:
        """Coordinates of all cell centres, one array per axis, ready to broadcast [m]."""
        return tuple(np.meshgrid(*self.centres, indexing="ij", sparse=True))

    @cached_property
    def volume(self) -> Array:
        """Cell volumes; per metre of depth in 2-D [m3]."""
        product = np.ones(self.shape)
        for axis in range(self.dim):
            product = product * self.widths(axis)
        return product

    def area(self, axis: int) -> Array:
        """Areas of the cell faces across an axis [m2]."""
        return self.volume / self.widths(axis)

    def inside(self, box: Box) -> npt.NDArray[np.bool_]:
        """Cells whose centre lies in a box [-]."""
        mask = np.ones(self.shape, bool)
        for axis, (low, high) in enumerate(box):
            centre = self.centres[axis].reshape(self._along(axis))
            mask &= (centre > low) & (centre < high)
        return mask

    def _along(self, axis: int) -> tuple[int, ...]:
        return tuple(-1 if a == axis else 1 for a in range(self.dim))
