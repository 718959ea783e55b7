"""Lines of equal value through a field on a grid, as polylines.

Source: own; squares between the centres of four neighbouring cells are crossed by straight pieces at the
places that linear interpolation gives, and pieces that meet are joined. In a square with two pieces the mean
of its corners decides which way they run. Lines end half a cell before the edge of a body. No square with a
corner outside the body is crossed.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from warmside.paper.drawing import Point
from warmside.physics.grid import Array

Corner = tuple[int, int]
Edge = tuple[Corner, Corner]
"""Two neighbouring corners between which a line passes."""


def contours(x: Array, y: Array, field: Array, level: float) -> list[tuple[Point, ...]]:
    """All lines at one level, the longest first.

    x, y : coordinates of the values [unit of the drawing]
    field : values, nan outside the body [unit of the level]
    level : of the lines [unit of the field]
    """
    links: dict[Edge, list[Edge]] = {}
    for one, other in _pieces(field, level):
        links.setdefault(one, []).append(other)
        links.setdefault(other, []).append(one)
    lines = [tuple(_at(x, y, field, level, edge) for edge in chain) for chain in _chains(links)]
    return sorted(lines, key=length, reverse=True)


def length(line: Sequence[Point]) -> float:
    """Length of a line [unit of its points]."""
    return sum(float(np.hypot(b[0] - a[0], b[1] - a[1])) for a, b in pairwise(line))


def _pieces(field: Array, level: float) -> Iterator[tuple[Edge, Edge]]:
    """The pieces of all squares, each from one crossed edge to another."""
    above = field > level
    whole = ~np.isnan(field)
    inside = whole[:-1, :-1] & whole[1:, :-1] & whole[1:, 1:] & whole[:-1, 1:]
    mixed = above[:-1, :-1].astype(int) + above[1:, :-1] + above[1:, 1:] + above[:-1, 1:]
    for i, j in np.argwhere(inside & (mixed > 0) & (mixed < 4)).tolist():
        corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)]
        sides = [(corners[n], corners[(n + 1) % 4]) for n in range(4)]
        crossed = [_edge(side) for side in sides if above[side[0]] != above[side[1]]]
        if len(crossed) == 4:
            mean = float(np.mean([field[corner] for corner in corners]))
            shift = 0 if (mean > level) == bool(above[corners[0]]) else 1
            yield crossed[shift], crossed[shift + 1]
            yield crossed[(shift + 2) % 4], crossed[(shift + 3) % 4]
        else:
            yield crossed[0], crossed[1]


def _edge(side: Edge) -> Edge:
    """An edge the same way round from either side."""
    return (min(side), max(side))


def _chains(links: dict[Edge, list[Edge]]) -> Iterator[list[Edge]]:
    """Edges that follow one another, open lines from an end, then the closed ones."""
    left = {edge: list(others) for edge, others in links.items()}
    starts = [edge for edge, others in links.items() if len(others) == 1]
    for start in [*starts, *links]:
        chain = [start]
        while left[chain[-1]]:
            after = left[chain[-1]].pop(0)
            left[after].remove(chain[-1])
            chain.append(after)
        if len(chain) > 1:
            yield chain


def _at(x: Array, y: Array, field: Array, level: float, edge: Edge) -> Point:
    """Where a line crosses an edge."""
    (i, j), (k, m) = edge
    part = (level - field[i, j]) / (field[k, m] - field[i, j])
    return float(x[i] + part * (x[k] - x[i])), float(y[j] + part * (y[m] - y[j]))
