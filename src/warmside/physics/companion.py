"""How far each figure of a march may be off for being computed on cells: the same march on a doubled grid.

Every cell is cut in two and the walls are marched again; the error of the base is its gap to that grid,
scaled by the order p as 2^p / (2^p - 1) (Richardson, Phil. Trans. R. Soc. A 210 (1911) 307). Finite volumes
are of second order where fields are smooth. Where liquid fronts move or free water and frost come and go, the
gap was seen to fall by two or three with each doubling, not by four (docs/moisture.md): first order is taken
unless something else is asked for. Counts of hours converge worst.

An estimate, not a bound. It tells nothing of the steps in time, of the physics or of the data; two grids that
are both too coarse may agree by chance: so they do where water stands on cells of which half resists vapour
as much as the air before them, and `moist_wall.cut` makes none of those.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from warmside.physics.damage import MouldSurface, mould_index, wood_moisture
from warmside.physics.forcing import Forcing
from warmside.physics.marching import USUAL, Accuracy, Fault, Histories, march_walls
from warmside.physics.moist_wall import FREE_LOG, Face, Wall
from warmside.runs import Watch

Array = npt.NDArray[np.float64]

SMOOTH = 2
"""Order in the cells where fields are smooth."""
FRONTS = 1
"""Order with fronts, wet faces and free water, and for counts of hours: the safe end."""
FIRST_DAY = 24
"""Hours that say more of the assumed start than of the wall."""
_WOOD_FROM, _WOOD_TO = -30.0, 70.0
"""Ends of the sorption equation, beyond which it is taken at its end [C]."""


class Figure(NamedTuple):
    """A figure that is drawn from a march.

    of : one number for each wall, from histories on either grid
    order : in the cells
    """

    of: Callable[[Histories], Array]
    order: int = FRONTS


class Estimate(NamedTuple):
    """A figure of every wall.

    value : on the base grid, shape (walls,) [unit of the figure]
    error : of the value for its cells; NaN for a wall with a fault on either grid [unit of the figure]
    """

    value: Array
    error: Array


class FaceErrors(NamedTuple):
    """Errors of the hourly values at faces for their cells, after the first day, shape (walls, faces).

    rms_temperature : root of the mean square [K]
    max_temperature : greatest [K]
    rms_humidity : root of the mean square, 0.01 is one point [-]
    max_humidity : greatest [-]
    """

    rms_temperature: Array
    max_temperature: Array
    rms_humidity: Array
    max_humidity: Array


@dataclass(frozen=True, eq=False)
class Companion:
    """A march with its companion.

    base : on the walls as they were given
    doubled : on twice the cells
    faces : errors of the base at the faces asked for
    figures : the figures asked for, by their names
    faults : of the base, then of the doubled grid; such a wall has no errors
    """

    base: Histories
    doubled: Histories
    faces: FaceErrors
    figures: dict[str, Estimate]
    faults: tuple[Fault, ...]


def march_with_companion(
    walls: Sequence[Wall],
    forcings: Sequence[Forcing],
    state: Array,
    faces: Sequence[Face],
    figures: Mapping[str, Figure],
    order: int = FRONTS,
    accuracy: Accuracy = USUAL,
    threads: int = 1,
    watch: Watch | None = None,
) -> Companion:
    """March walls of one layout on their cells and on twice as many.

    walls : as marching.march_walls takes them
    forcings : one for each wall
    state : start, shape (walls, cells, 2) [-]
    faces : whose histories are wanted, cells counted on the base grid
    figures : what to draw from the histories, by name, each with its own order
    order : of the hourly values at faces
    accuracy : of both marches
    threads : worker threads [-]
    watch : told and asked twice, once in each march

    Raises KernelInput, KernelMissing, and Stopped by the watch.
    """
    run = partial(march_walls, accuracy=accuracy, threads=threads, watch=watch)
    base = run(walls, forcings, state, faces)
    finer = [doubled(wall) for wall in walls]
    start = np.stack([doubled_state(wall, row) for wall, row in zip(walls, state, strict=True)])
    fine = run(finer, forcings, start, [doubled_face(face) for face in faces])
    at_faces, drawn = face_errors(base, fine, order), _drawn(figures, base, fine)
    return Companion(base, fine, at_faces, drawn, base.faults + fine.faults)


# One wall on twice the cells


def doubled(wall: Wall) -> Wall:
    """The same wall with every cell cut in two so that cells still grow evenly.

    wall : on the base grid

    Air and wetting that reach the cell at a face of a layer reach the half at that face; what enters other
    cells, and heat, is shared by width.
    """
    parts = [_halves(row) for row in wall.widths]
    share = np.concatenate([outer / row for (outer, _), row in zip(parts, wall.widths, strict=True)])
    at_face = _to_outer_half(wall, share)
    return replace(
        wall,
        widths=tuple(np.stack(pair, axis=1).ravel() for pair in parts),
        room_air=_laid(wall.room_air, at_face),
        outdoor_air=_laid(wall.outdoor_air, at_face),
        wetting=_laid(wall.wetting, at_face),
        wetting_suction=np.repeat(wall.wetting_suction, 2),
        film_limit=_limits(wall.film_limit, at_face),
        heat=_laid(wall.heat, share),
        beside=_laid(wall.beside, share),
    )


def doubled_face(face: Face) -> Face:
    """The same face of the doubled wall.

    face : of the base grid
    """
    return Face(2 * face.cell + face.inward, face.inward)


def doubled_state(wall: Wall, state: Array) -> Array:
    """Temperature and potential of the cells of the doubled wall, shape (2 cells, 2) [-].

    wall : on the base grid
    state : of its cells, shape (cells, 2) [-]

    Within a cell along the slope between its neighbours, which keeps its mean; free water stays in the half
    at its face.
    """
    fine = doubled(wall)
    away = fine.centres - np.repeat(wall.centres, 2)
    pores = np.stack([state[:, 0], np.maximum(state[:, 1], FREE_LOG)], axis=1)
    slopes = [
        np.gradient(pores[first:end], wall.centres[first:end], axis=0) for first, end in pairwise(wall.starts)
    ]
    found = np.repeat(pores, 2, axis=0) + away[:, None] * np.repeat(np.concatenate(slopes), 2, axis=0)
    stands = _to_outer_half(wall, np.ones(wall.cells))
    free = _laid(np.maximum(FREE_LOG - state[:, 1], 0.0), stands)
    found[:, 1] = np.where(free > 0.0, FREE_LOG - free, np.maximum(found[:, 1], FREE_LOG))
    return np.asarray(found)


def _halves(widths: Array) -> tuple[Array, Array]:
    """Outer and inner part of each cell of a layer."""
    logs = np.log(widths)
    growth = np.gradient(logs) if len(widths) > 2 else np.full(2, logs[1] - logs[0])
    outer = widths / (1.0 + np.exp(0.5 * growth))
    return outer, widths - outer


def _to_outer_half(wall: Wall, rest: Array) -> Array:
    """Share that goes to the outer half: all at the outer face of a layer, none at its inner one."""
    share = rest.copy()
    for first, end in pairwise(wall.starts):
        share[first], share[end - 1] = 1.0, 0.0
    return share


def _laid(row: Array, share: Array) -> Array:
    """What a cell gets, given to its halves."""
    return np.stack([row * share, row * (1.0 - share)], axis=1).ravel()


def _limits(limits: Array, share: Array) -> Array:
    """Film limits of the halves; the half behind a face lies inside the layer, where water may stand."""
    parts = np.stack([share, 1.0 - share], axis=1)
    given = limits[:, None] * np.where(parts > 0.0, parts, 1.0)
    return np.where(parts > 0.0, given, np.inf).ravel()


# Errors


def face_errors(base: Histories, doubled: Histories, order: int = FRONTS) -> FaceErrors:
    """Errors of the base at faces, from hourly gaps to the doubled grid.

    base : histories on the base grid
    doubled : the same on twice the cells
    order : of the gaps
    """
    scale = _scale(order)
    t = scale * np.abs(doubled.temperature - base.temperature)[:, FIRST_DAY:]
    h = scale * np.abs(doubled.humidity - base.humidity)[:, FIRST_DAY:]
    rms = [np.sqrt((row**2).mean(axis=1)) for row in (t, h)]
    return FaceErrors(rms[0], t.max(axis=1), rms[1], h.max(axis=1))


def _scale(order: int) -> float:
    """Error of the base over its gap to the doubled grid."""
    return float(2**order / (2**order - 1))


def _drawn(figures: Mapping[str, Figure], base: Histories, fine: Histories) -> dict[str, Estimate]:
    """Every figure with its error, on walls that were marched to the end on both grids."""
    lost = [fault.wall for fault in base.faults + fine.faults]
    sound = np.setdiff1d(np.arange(len(base.temperature)), lost)
    pair = [_only(out, sound) for out in (base, fine)]
    found = {}
    for name, figure in figures.items():
        value, error = np.full((2, len(base.temperature)), np.nan)
        if len(sound):
            coarse, dense = (figure.of(out) for out in pair)
            value[sound], error[sound] = coarse, _scale(figure.order) * np.abs(dense - coarse)
        found[name] = Estimate(value, error)
    return found


def _only(out: Histories, walls: npt.NDArray[np.int64]) -> Histories:
    """Histories of some of the walls."""
    names = [part.name for part in fields(Histories) if part.name != "faults"]
    return replace(out, **{name: getattr(out, name)[walls] for name in names}, faults=())


# Figures


def peak_free(layer: int) -> Figure:
    """Most free water in a layer after the first day [kg/m2].

    layer : counted from the outside, 0 first
    """
    return Figure(lambda out: np.asarray(out.free[:, FIRST_DAY:, layer].max(axis=1)))


def last_water(layer: int) -> Figure:
    """Water in a layer at the end, free water included [kg/m2].

    layer : counted from the outside, 0 first
    """
    return Figure(lambda out: out.water[:, -1, layer])


def peak_wood_moisture(face: int) -> Figure:
    """Wettest hour of wood at a face, by the air there, after the first day [-].

    face : its place among those that were asked for
    """

    def of(out: Histories) -> Array:
        t, h = _after(out, face)
        return np.asarray(wood_moisture(np.clip(t, _WOOD_FROM, _WOOD_TO), h).max(axis=0))

    return Figure(of)


def last_mould(face: int, surface: MouldSurface) -> Figure:
    """Mould index at a face at the end, from none at the start [-].

    face : its place among those that were asked for
    surface : on which mould may grow
    """

    def of(out: Histories) -> Array:
        return np.asarray(mould_index(*_after(out, face), surface).index[-1])

    return Figure(of)


def hours_above(face: int, humidity: float) -> Figure:
    """Hours at a face above a humidity after the first day, the least converged figure.

    face : its place among those that were asked for
    humidity : over liquid water [-]
    """
    return Figure(lambda out: np.asarray((_after(out, face)[1] > humidity).sum(axis=0), np.float64))


def _after(out: Histories, face: int) -> tuple[Array, Array]:
    """Temperature and humidity at a face after the first day, hours first; none over saturation."""
    return out.temperature[:, FIRST_DAY:, face].T, np.minimum(out.humidity[:, FIRST_DAY:, face].T, 1.0)
