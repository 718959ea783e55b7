"""What the moisture march works on: a slice through a wall, from the outside (first) to the room (last).

A layer is cut into cells that grow from fine ones at its two faces, by rules from its material (`cut`);
between two layers there may be a membrane and a thermal contact resistance. Water enters and leaves through
films at both ends, through air that is exchanged with room or outdoors, and where soil or rain wets a cell.
Soil beyond the wall is a short row of layers that store heat and pass no water. One-dimensional: what flows
sideways is a given conductance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from warmside.physics.grid import graded, spaced
from warmside.physics.materials import Conductivity, Isotherm, Material, Membrane, Vapour
from warmside.physics.water import WATER

Array = npt.NDArray[np.float64]

FREE_SUCTION = 1e3
"""Suction at which water stands free, one for all materials: beside pores that suck more it does not [Pa]."""
FREE_LOG = float(np.log(FREE_SUCTION))
FREE_PER_UNIT = 0.01
"""Free water that one unit of the potential counts, a choice of scale only [kg/m2]."""
FILM_LIMIT = 0.2
"""Free water that stays on a face before it runs down, ISO 13788:2012 (from memory) [kg/m2]."""


class BadWallError(ValueError):
    """A slice that can't be marched: what was given, where, and what would be right."""


@dataclass(frozen=True)
class Layer:
    """One layer.

    material : what it is made of
    thickness : in the direction of flow [m]
    inward : membrane on its room side, before the next layer
    contact : thermal resistance on its room side [m2.K/W]
    """

    material: Material
    thickness: float
    inward: Membrane | None = None
    contact: float = 0.0


@dataclass(frozen=True)
class Face:
    """One face of a cell.

    cell : counted from the outside, 0 first
    inward : its face towards the room, else the one towards the outside
    """

    cell: int
    inward: bool


@dataclass(frozen=True)
class End:
    """Film between an end of the wall and the air beyond it.

    heat : resistance of the film, 0 for a face held at the air's temperature [m2.K/W]
    vapour : resistance of film and paint [m2.s.Pa/kg]
    """

    heat: float
    vapour: float


def film(heat_coefficient: float, paint: float = np.inf) -> End:
    """A film whose vapour transfer follows from its heat transfer, and a paint on the face.

    heat_coefficient : convective [W/(m2.K)]
    paint : permeance of the paint [kg/(m2.s.Pa)]

    Lewis relation: beta = h / (rho c Rv T), 20 C, air of 1.2 kg/m3 and 1006 J/(kg.K).
    """
    beta = heat_coefficient / (1.2 * 1006.0 * 461.524 * 293.15)
    return End(1.0 / heat_coefficient, 1.0 / beta + 1.0 / paint)


@dataclass(frozen=True, eq=False)
class Wall:
    """A slice cut into cells. Values per cell have one number for each cell, outside first.

    layers : outside first
    widths : cell widths of each layer [m]
    outer : end towards the outside
    inner : end towards the room
    room_air : room air led through each cell and back, times the forcing's share [kg/(m2.s)]
    outdoor_air : the same with outdoor air [kg/(m2.s)]
    beside : heat conductance to what lies beside the slice [W/(m2.K)]
    heat : heat let into each cell [W/m2]
    wetting : inflow from standing water or soil per unit of ln(suction), times its share [kg/(m2.s)]
    wetting_suction : ln of the suction of that water, suction in Pa [-]
    film_limit : free water that stays in each cell before it runs down [kg/m2]
    """

    layers: tuple[Layer, ...]
    widths: tuple[Array, ...]
    outer: End
    inner: End
    room_air: Array = field(default_factory=lambda: np.zeros(0))
    outdoor_air: Array = field(default_factory=lambda: np.zeros(0))
    beside: Array = field(default_factory=lambda: np.zeros(0))
    heat: Array = field(default_factory=lambda: np.zeros(0))
    wetting: Array = field(default_factory=lambda: np.zeros(0))
    wetting_suction: Array = field(default_factory=lambda: np.zeros(0))
    film_limit: Array = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        """Fill in what was not given; raise BadWallError for what can't be marched."""
        if not self.layers or len(self.layers) != len(self.widths):
            raise BadWallError(
                f"{len(self.layers)} layers and {len(self.widths)} rows of cells: want as many"
            )
        for number, (layer, widths) in enumerate(zip(self.layers, self.widths, strict=True), 1):
            if len(widths) < 2 or not np.all(widths > 0):
                raise BadWallError(f"layer {number}, {layer.material.name}: want at least two cells over 0 m")
        defaults = {"film_limit": self._film_limits(), "wetting_suction": np.full(self.cells, np.log(10.0))}
        for name in PER_CELL:
            given = getattr(self, name)
            full = given if len(given) else defaults.get(name, np.zeros(self.cells))
            if full.shape != (self.cells,) or not np.all(
                full >= 0 if name in NEVER_NEGATIVE else full == full
            ):
                raise BadWallError(f"{name}: want {self.cells} numbers, none below 0")
            object.__setattr__(self, name, np.asarray(full, float))
        if min(self.outer.heat, self.outer.vapour, self.inner.heat, self.inner.vapour) < 0:
            raise BadWallError("a film's resistance is below 0: want 0 or more")

    def _film_limits(self) -> Array:
        """Free water may stand inside a layer without limit, on its faces up to FILM_LIMIT."""
        limits = np.full(self.cells, np.inf)
        for first, end in pairwise(self.starts):
            limits[[first, end - 1]] = FILM_LIMIT
        return limits

    @cached_property
    def starts(self) -> tuple[int, ...]:
        """First cell of each layer, and the number of cells."""
        return tuple(int(n) for n in np.cumsum([0, *map(len, self.widths)]))

    @cached_property
    def cells(self) -> int:
        """Number of cells."""
        return sum(map(len, self.widths))

    @cached_property
    def layer_of(self) -> npt.NDArray[np.int64]:
        """Layer that each cell belongs to."""
        return np.repeat(np.arange(len(self.layers)), [len(widths) for widths in self.widths])

    @cached_property
    def width(self) -> Array:
        """Width of every cell [m]."""
        return np.concatenate(self.widths)

    @cached_property
    def centres(self) -> Array:
        """Middle of every cell, from the outer end [m]."""
        return np.cumsum(self.width) - 0.5 * self.width

    def first(self, layer: int) -> int:
        """Cell at the outer face of a layer."""
        return self.starts[layer]

    def last(self, layer: int) -> int:
        """Cell at the inner face of a layer."""
        return self.starts[layer + 1] - 1

    def at(self, cell: int, value: float, rest: float = 0.0) -> Array:
        """A row of one number per cell [unit of the value].

        cell : which of them differs
        value : its number [unit of the value]
        rest : number of the others [unit of the value]
        """
        row = np.full(self.cells, rest)
        row[cell] = value
        return row


PER_CELL = ("room_air", "outdoor_air", "beside", "heat", "wetting", "wetting_suction", "film_limit")
NEVER_NEGATIVE = ("room_air", "outdoor_air", "beside", "wetting", "film_limit")


FACE_CELL = 1e-4
"""Size at a face of a material that conducts liquid, which brings water to the face by itself [m]."""
FACE_SHARE = 0.05
"""Resistance of half a cell of the size at a face to vapour, over that of a film of air in the wind [-]."""
LEAST_CELL = 1e-6
"""Size at a face below which nothing is gained [m]."""
_SKIN_GROWTH = 2.4
"""Of cells that are thinner than a share of the hourly depth; each is 4 times the one before [-]."""
_DEPTH_SHARE = 1.0 / 3.0
"""Of the hourly depth, over which cells grow slowly [-]."""
_TEMPERATURE, _DRY, _DAMP = 10.0, 0.5, 0.8
"""At which the material functions are asked [C, -, -]."""


def face_cell(material: Material) -> float:
    """Size from which cells grow at a face of a material, by rule [m].

    material : of the layer

    Free water and frost stand on the outermost cell, and dry through half of it and the film beyond. That
    half must be small beside the film: 2 x FACE_SHARE x permeability at 50 % RH x resistance of a film in the
    wind. The first cell comes out at 2.2 times the size, so that water on it dries up to 11 % too slowly. In
    pores that conduct liquid water comes to the face by itself (transport.Equations.face_paths).
    """
    if material.liquid is not None:
        return FACE_CELL
    return max(2.0 * FACE_SHARE * _permeability(material, _DRY) * film(20.0).vapour, LEAST_CELL)


def hourly_depth(material: Material) -> float:
    """How deep humidity reaches in an hour, sqrt(D 3600 s) with D = delta p_sat / (dw / dphi) [m].

    material : that conducts no liquid, taken at 10 C and 80 % RH
    """
    t, log_suction = np.array(_TEMPERATURE), WATER.log_suction(np.array(_TEMPERATURE), np.array(_DAMP))
    slope = -material.isotherm.slope(log_suction) * WATER.kelvin(t) / (_DAMP * np.exp(log_suction))
    saturation = np.exp(WATER.log_saturation(t)[0])
    return float(np.sqrt(3600.0 * _permeability(material, _DAMP) * saturation / slope))


def _permeability(material: Material, humidity: float) -> float:
    """For vapour [kg/(m.s.Pa)]."""
    t, phi = np.array(_TEMPERATURE), np.array(humidity)
    share = np.exp(material.isotherm.log_share(WATER.log_suction(t, phi)))
    return float(WATER.air_permeability(t) * material.vapour.relative(phi, share))


def cut(
    layers: Sequence[Layer],
    outer: End,
    inner: End,
    surface: float | None = None,
    growth: float = 1.3,
    largest: float = 0.02,
    density: int = 1,
) -> Wall:
    """A wall cut into cells, fine at the faces of its layers.

    layers : outside first
    outer : end towards the outside
    inner : end towards the room
    surface : size at the faces of layers; by each material's rule when None [m]
    growth : ratio of neighbouring cells [-]
    largest : upper limit of a cell [m]
    density : whole multiple of cells, for nested grids [-]

    By rule, cells grow from face_cell(), fourfold until a third of hourly_depth() and by `growth` from there.
    Raises BadWallError.
    """
    for number, layer in enumerate(layers, 1):
        if not (layer.thickness > 0 and np.isfinite(layer.thickness)):
            raise BadWallError(
                f"layer {number}, {layer.material.name}: thickness {layer.thickness:g} m; it must be over 0"
            )
        if surface is not None and layer.thickness < 2 * surface:
            raise BadWallError(
                f"layer {number}, {layer.material.name}: {layer.thickness:g} m is less than two cells of"
                f" {surface:g} m; make it a membrane"
            )
    rows = [
        _ruled(layer, growth, largest, density)
        if surface is None
        else np.diff(graded([0.0, 0.5 * layer.thickness], {0.0: surface}, growth, largest, density))
        for layer in layers
    ]
    return Wall(tuple(layers), tuple(np.concatenate([half, half[::-1]]) for half in rows), outer, inner)


def _ruled(layer: Layer, growth: float, largest: float, density: int) -> Array:
    """Widths by rule, from the face of a layer to its middle."""
    middle, material = 0.5 * layer.thickness, layer.material
    first = min(face_cell(material), 0.5 * middle)
    depth = first if material.liquid is not None else max(first, _DEPTH_SHARE * hourly_depth(material))

    def size(x: Array) -> Array:
        skin, within = first + (_SKIN_GROWTH - 1.0) * x, depth + (growth - 1.0) * x
        return np.asarray(np.minimum(np.minimum(skin, within), largest))

    return np.diff(spaced(0.0, middle, size, density))


def air_layer(thickness: float, resistance: float) -> Material:
    """Air between two layers as a material that mixes as well as its thermal resistance says.

    thickness : across the layer [m]
    resistance : thermal, of the whole layer [m2.K/W]

    Vapour mixes as heat by convection does: its permeability over that of still air is d / (0.025 R), at
    least 1. It holds what air holds at 20 C (17.3 g/m3 when saturated).
    """
    conductivity = thickness / resistance
    return Material(
        "air layer",
        1.2 * 1006.0,
        Conductivity(conductivity),
        Isotherm(0.0173, -20.516, 1.0, 6.0),
        Vapour(max(1.0, conductivity / 0.025)),
    )
