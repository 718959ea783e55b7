"""The basement and its soil as bodies that conduct: a 2-D section, and the 3-D block of a true plan.

The section has the width of ISO 13370's B' = 2A/P, half of it modelled, from the middle of the floor
outward; the plan is any rectilinear outline with one grade per side (a walk-out). Soil reaches ten building
widths. Layers on the faces resist and store nothing; concrete, soil and rim board do both. The upper floor
is a cut without flow. Three environments are driven apart: "indoor", "outdoor" (exposed concrete and rim),
"ground" (soil surface). The section with 2A/P is about 4 % low on the mean against 3-D for rectangles. Soil
here does not freeze: see `frost`. Where outdoors and ground surface differ in temperature they touch at the
ground line, and what passes between them there grows with the grid: heat of the room is not touched by it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from warmside.physics.conduction import Body, Contact, Patch, Solution, Solver, System
from warmside.physics.grid import Array, Box, Grid, graded
from warmside.physics.ground_rules import GroundInputError, Soil, Stuff, stuff
from warmside.physics.resistance import OUTSIDE_SURFACE, Direction, inside_surface

INDOOR, OUTDOOR, GROUND = "indoor", "outdoor", "ground"


@dataclass(frozen=True)
class Zone:
    """A stretch that carries extra layers.

    start : where it begins; height above the slab for walls, distance from the wall for floors [m]
    end : where it ends [m]
    resistance : of the layers without the surface film [m2.K/W]
    """

    start: float
    end: float
    resistance: float


@dataclass(frozen=True)
class Section:
    """A basement wall with its soil, in the plane across the wall.

    half_width : B'/2 = A/P, from the middle of the floor to the inner face of the wall [m]
    wall_height : slab to top of concrete [m]
    showing : concrete that shows outside above the ground line [m]
    soil : below and around
    wall : layers on the inner face of wall and rim by height above the slab
    floor : layers on the slab by distance from the wall
    outer : layers on the outer face of the concrete by height above the slab
    wall_thickness : of the concrete [m]
    slab_thickness : of the concrete floor [m]
    slab_break : resistance between slab edge and wall [m2.K/W]
    footing_width : across the wall [m]
    footing_height : [m]
    rim_height : sill, rim board and joists above the concrete; 0 leaves the rim out [m]
    rim_thickness : of the wood [m]
    rim_outer : sheathing and siding outside the rim board [m2.K/W]
    film_wall : indoor film on walls, ISO 6946 [m2.K/W]
    film_floor : indoor film on the floor, ISO 6946 [m2.K/W]
    film_out : outdoor film [m2.K/W]
    film_ground : between driven ground temperature and soil; 0 when the surface is driven [m2.K/W]
    concrete : of wall, slab and footing
    board : wood of the rim
    reach : soil beyond the wall and below, in building widths [-]
    """

    half_width: float
    wall_height: float
    showing: float
    soil: Soil
    wall: tuple[Zone, ...] = ()
    floor: tuple[Zone, ...] = ()
    outer: tuple[Zone, ...] = ()
    wall_thickness: float = 0.2
    slab_thickness: float = 0.1
    slab_break: float = 0.0
    footing_width: float = 0.4
    footing_height: float = 0.2
    rim_height: float = 0.28
    rim_thickness: float = 0.038
    rim_outer: float = 0.2
    film_wall: float = inside_surface(Direction.HORIZONTAL)
    film_floor: float = inside_surface(Direction.DOWN)
    film_out: float = OUTSIDE_SURFACE
    film_ground: float = OUTSIDE_SURFACE
    concrete: Stuff = field(default_factory=lambda: stuff("solid", "dense_concrete"))
    board: Stuff = field(default_factory=lambda: stuff("solid", "rim_board"))
    reach: float = 10.0

    def __post_init__(self) -> None:
        """Raise GroundInputError for dimensions that make no section."""
        if not 0 <= self.showing <= self.wall_height:
            raise GroundInputError(
                f"{self.showing} m of concrete shows of {self.wall_height} m: want 0 to the wall height"
            )
        if self.half_width <= 0 or self.footing_width < self.wall_thickness:
            raise GroundInputError(
                f"half width {self.half_width} m, footing {self.footing_width}, wall {self.wall_thickness}: "
                "want a width over 0 and a footing at least as wide as the wall"
            )

    @property
    def slab(self) -> float:
        """Level of the slab's top, the ground line being 0 [m]."""
        return self.showing - self.wall_height

    @property
    def depth(self) -> float:
        """Slab below the ground line [m]."""
        return -self.slab

    @property
    def top(self) -> float:
        """Level where rim, or concrete without rim, ends [m]."""
        return self.showing + self.rim_height

    @property
    def far(self) -> float:
        """How far soil reaches beyond the wall and below the slab [m]."""
        return self.reach * 2 * self.half_width

    def wall_resistance(self, level: Array) -> Array:
        """Film and layers on the inner face by level [m2.K/W].

        level : above the ground line [m]
        """
        return self.film_wall + _layers(self.wall, level - self.slab)

    def floor_resistance(self, distance: Array) -> Array:
        """Film and layers on the floor by distance from the wall [m2.K/W].

        distance : from the inner face of the wall [m]
        """
        return self.film_floor + _layers(self.floor, distance)

    def outer_resistance(self, level: Array) -> Array:
        """Layers on the outer face by level, without a film [m2.K/W].

        level : above the ground line [m]
        """
        return _layers(self.outer, level - self.slab) + np.where(level > self.showing, self.rim_outer, 0.0)


def _layers(zones: Sequence[Zone], place: Array) -> Array:
    """Resistance of the zones that cover a place [m2.K/W]."""
    return sum(
        (np.where((place > z.start) & (place < z.end), z.resistance, 0.0) for z in zones),
        np.zeros_like(place),
    )


def section_grid(section: Section, density: int = 2) -> Grid:
    """Cells of a section, refined at the wall's faces, the ground line and the slab.

    section : what to cut into cells
    density : 1 coarse, 2 for use, more to judge the error [-]
    """
    s = section
    inner, outer = s.half_width, s.half_width + s.wall_thickness
    toe = 0.5 * (s.footing_width - s.wall_thickness)
    heights = [
        s.slab + e for zone in s.wall + s.outer for e in (zone.start, zone.end) if s.slab < s.slab + e < s.top
    ]
    across = [
        0.0,
        *(inner - e for z in s.floor for e in (z.start, z.end) if 0 < e < inner),
        inner - toe,
        inner,
        outer,
    ]
    across += [outer - s.rim_thickness, outer + toe, outer + s.far]
    levels = [
        s.slab - s.far,
        s.slab - s.slab_thickness - s.footing_height,
        s.slab - s.slab_thickness,
        s.slab,
        0.0,
    ]
    levels += [s.showing, s.top, *heights]
    fine = {0.0: 0.08, s.slab: 0.08, s.showing: 0.08, s.top: 0.1, s.slab - s.slab_thickness: 0.08}
    x = graded(_apart(across), {inner: 0.06, outer: 0.06}, 1.6, s.far / 6, density)
    return Grid((x, graded(_apart(levels), fine, 1.6, s.far / 6, density)))


def _apart(edges: Sequence[float]) -> list[float]:
    """Edges sorted, those closer than 0.1 mm merged."""
    ordered = sorted(edges)
    return [e for i, e in enumerate(ordered) if i == 0 or e - ordered[i - 1] > 1e-4]


def section_body(section: Section, density: int = 2) -> Body:
    """The section as a body with the patches wall, rim, ledge, floor, exposed and surface.

    section : what to model
    density : of the grid, see `section_grid` [-]
    """
    s, grid = section, section_grid(section, density)
    inner, outer = s.half_width, s.half_width + s.wall_thickness
    toe, below = 0.5 * (s.footing_width - s.wall_thickness), s.slab - s.slab_thickness
    board = outer - s.rim_thickness
    wall, rim = ((inner, outer), (below, s.showing)), ((board, outer), (s.showing, s.top))
    void, infinity = Stuff(np.nan, 1.0), 1e9
    parts: list[tuple[Box, Stuff]] = [
        (((-infinity, infinity), (0.0, infinity)), void),
        (((-infinity, inner), (s.slab, infinity)), void),
        (((-infinity, inner), (below, s.slab)), s.concrete),
        (((inner - toe, outer + toe), (below - s.footing_height, below)), s.concrete),
        (wall, s.concrete),
        (rim, s.board),
    ]
    k, rc = np.full(grid.shape, s.soil.conductivity), np.full(grid.shape, s.soil.capacity)
    for box, filling in parts:
        where = grid.inside(box)
        k[where], rc[where] = filling.conductivity, filling.capacity
    return Body(grid, k, section_patches(s), _section_contacts(s), rc)


def section_patches(s: Section) -> list[Patch]:
    """Where a section meets room, outdoors and ground surface, with the layers on its faces.

    s : the section
    """
    inner, outer = s.half_width, s.half_width + s.wall_thickness
    board, room = outer - s.rim_thickness, {INDOOR: 1.0}

    def layers(points: Array) -> Array:
        return s.wall_resistance(points[:, 1])

    def ledge(points: Array) -> Array:
        return s.wall_resistance(points[:, 1] + 1e-6)

    def below(points: Array) -> Array:
        return s.floor_resistance(inner - points[:, 0])

    def exposed(points: Array) -> Array:
        return s.film_out + s.outer_resistance(points[:, 1])

    return [
        Patch("wall", ((inner, inner), (s.slab, s.showing)), layers, room),
        Patch("ledge", ((inner, board), (s.showing, s.showing)), ledge if s.rim_height else np.inf, room),
        Patch("rim", ((board, board), (s.showing, s.top)), layers, room),
        Patch("floor", ((0.0, inner), (s.slab, s.slab)), below, room),
        Patch("exposed", ((outer, outer), (0.0, s.top)), exposed, {OUTDOOR: 1.0}),
        Patch("surface", ((outer, outer + s.far), (0.0, 0.0)), s.film_ground, {GROUND: 1.0}),
    ]


def _section_contacts(s: Section) -> list[Contact]:
    inner, outer = s.half_width, s.half_width + s.wall_thickness
    below = s.slab - s.slab_thickness

    def layers(points: Array) -> Array:
        return s.outer_resistance(points[:, 1])

    contacts = [Contact(((inner, inner), (below, s.slab)), 0, s.slab_break)] if s.slab_break else []
    return [*contacts, Contact(((outer, outer), (below, 0.0)), 0, layers)] if s.outer else contacts


@dataclass(frozen=True)
class Estimate:
    """A figure with its error from a second grid.

    value : on the fine grid, extrapolated [unit of the figure]
    error : distance from the extrapolated value to the fine grid's [unit of the figure]
    fine : on the fine grid [unit of the figure]
    """

    value: float
    error: float
    fine: float


def richardson(coarse: float, fine: float, order: float = 2.0, ratio: float = 2.0) -> Estimate:
    """Extrapolate a figure from two nested grids.

    coarse : figure on the coarse grid [unit of the figure]
    fine : figure on the fine grid [unit of the figure]
    order : of convergence [-]
    ratio : of cell sizes [-]
    """
    gain = (fine - coarse) / (ratio**order - 1)
    return Estimate(fine + gain, abs(gain), fine)


@dataclass(frozen=True)
class Plan:
    """A rectilinear outline of a foundation.

    corners : outer face of the wall, counter-clockwise, each edge along x or y [m]
    """

    corners: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        """Raise GroundInputError unless every edge runs along an axis, counter-clockwise."""
        points = np.array(self.corners)
        edges = np.roll(points, -1, axis=0) - points
        if len(points) < 4 or np.any(np.count_nonzero(edges, axis=1) != 1):
            raise GroundInputError(f"plan {list(self.corners)}: every edge must run along x or y")
        if self.area <= 0:
            raise GroundInputError(f"plan {list(self.corners)}: name the corners counter-clockwise")

    @property
    def area(self) -> float:
        """Inside the outline [m2]."""
        x, y = np.array(self.corners).T
        return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))

    @property
    def perimeter(self) -> float:
        """Length of the outline [m]."""
        points = np.array(self.corners)
        return float(np.abs(np.roll(points, -1, axis=0) - points).sum())

    @property
    def bounds(self) -> tuple[Array, Array]:
        """Lowest and highest coordinates [m]."""
        points = np.array(self.corners)
        return points.min(axis=0), points.max(axis=0)

    def inset(self, distance: float) -> Plan:
        """The outline moved inward, mitred; a negative distance moves it outward.

        distance : [m]
        """
        points = np.array(self.corners)
        along = np.roll(points, -1, axis=0) - points
        normal = np.stack([-along[:, 1], along[:, 0]], axis=1) / np.abs(along).sum(axis=1)[:, None]
        moved = points + distance * (normal + np.roll(normal, 1, axis=0))
        return Plan(tuple((float(x), float(y)) for x, y in moved))

    def rectangles(self) -> list[tuple[tuple[float, float], tuple[float, float]]]:
        """The inside as strips between successive x of the corners: ((x0, x1), (y0, y1)) [m]."""
        points = np.array(self.corners)
        ends = np.stack([points, np.roll(points, -1, axis=0)], axis=1)
        flat = ends[ends[:, 0, 1] == ends[:, 1, 1]]
        xs = np.unique(points[:, 0])
        strips = []
        for a, b in pairwise(xs):
            over = flat[(flat[:, :, 0].min(axis=1) <= a) & (flat[:, :, 0].max(axis=1) >= b)]
            ys = np.sort(over[:, 0, 1])
            strips += [
                ((float(a), float(b)), (float(c), float(d))) for c, d in zip(ys[::2], ys[1::2], strict=True)
            ]
        return strips

    def covers(self, grid: Grid) -> npt.NDArray[np.bool_]:
        """Cells of a 3-D grid whose centre lies over the inside [-].

        grid : with x and y as its first two axes
        """
        parts = [grid.inside((xs, ys)) for xs, ys in self.rectangles()]
        return np.asarray(np.any(parts, axis=0))


@dataclass(frozen=True)
class Grade:
    """Ground that lies lower (a walk-out) over a rectangle of the plan.

    box : ((x0, x1), (y0, y1)) [m]
    level : below the ground line of the section, negative [m]
    """

    box: tuple[tuple[float, float], tuple[float, float]]
    level: float


def plan_grid(section: Section, plan: Plan, grades: Sequence[Grade] = (), density: int = 2) -> Grid:
    """Cells of the block around a plan.

    section : heights and thicknesses
    plan : outline of the walls
    grades : lower ground
    density : 1 coarse, 2 for use [-]
    """
    s, (low, high) = section, plan.bounds
    far, below = s.reach * float((high - low).min()), s.slab - s.slab_thickness
    inner = np.array(plan.inset(s.wall_thickness).corners)
    axes = []
    for axis in (0, 1):
        faces = np.unique(np.concatenate([np.array(plan.corners)[:, axis], inner[:, axis]]))
        bounds = [low[axis] - far, high[axis] + far]
        cuts = [e for g in grades for e in g.box[axis] if bounds[0] < e < bounds[1]]
        edges = _apart([*bounds, *faces, *cuts])
        axes.append(graded(edges, {float(f): 0.2 for f in faces}, 2.0, far / 3, density))
    levels = _apart([below - far, below, s.slab, 0.0, s.showing, *(g.level for g in grades)])
    sizes = {s.slab: 0.15, 0.0: 0.15, **{g.level: 0.15 for g in grades}}
    return Grid((*axes, graded(levels, sizes, 2.0, far / 3, density)))


def plan_body(section: Section, plan: Plan, grades: Sequence[Grade] = (), density: int = 2) -> Body:
    """The block of a true plan, without rim and footing, with the patches wall, floor, exposed and surface.

    section : heights, layers, soil; its half width is not used
    plan : outline of the walls
    grades : lower ground; their box must reach the wall
    density : of the grid [-]
    """
    s, grid = section, plan_grid(section, plan, grades, density)
    x, y, z = grid.mesh()
    within, room = plan.covers(grid), plan.inset(s.wall_thickness).covers(grid)
    ground = np.zeros(grid.shape[:2])
    for g in grades:
        (x0, x1), (y0, y1) = g.box
        ground[((x > x0) & (x < x1) & (y > y0) & (y < y1))[:, :, 0]] = g.level
    wall = within & ~room & (z > s.slab - s.slab_thickness) & (z < s.showing)
    slab = room & (z > s.slab - s.slab_thickness) & (z < s.slab)
    void = (room & (z > s.slab)) | (~within & (z > ground[:, :, None])) | (z > s.showing)
    k = np.where(wall | slab, s.concrete.conductivity, np.where(void, np.nan, s.soil.conductivity))
    rc = np.where(wall | slab, s.concrete.capacity, s.soil.capacity)
    return Body(grid, k, _plan_patches(s, plan, grid, grades), (), rc)


def _plan_patches(s: Section, plan: Plan, grid: Grid, grades: Sequence[Grade]) -> list[Patch]:
    inner = plan.inset(s.wall_thickness)
    (x0, x1), (y0, y1) = [(f[0], f[-1]) for f in grid.faces[:2]]
    room = [(xs, ys) for xs, ys in inner.rectangles()]

    def layers(points: Array) -> Array:
        return s.wall_resistance(points[:, 2])

    def below(points: Array) -> Array:
        return s.floor_resistance(_distance(inner, points))

    def exposed(points: Array) -> Array:
        return s.film_out + s.outer_resistance(points[:, 2])

    floor = [Patch("floor", (*r, (s.slab, s.slab)), below, {INDOOR: 1.0}) for r in room]
    walls = [Patch("wall", (*r, (s.slab, s.showing)), layers, {INDOOR: 1.0}) for r in room]
    outside = [
        Patch("exposed", (*r, (s.slab, s.showing)), exposed, {OUTDOOR: 1.0}) for r in plan.rectangles()
    ]
    top = Patch("top", ((x0, x1), (y0, y1), (s.showing, s.showing)), np.inf, {OUTDOOR: 1.0})
    levels = sorted({0.0, *(g.level for g in grades)})
    surface = [Patch("surface", ((x0, x1), (y0, y1), (z, z)), s.film_ground, {GROUND: 1.0}) for z in levels]
    return [*floor, *([top] if s.showing > 0 else []), *walls, *outside, *surface]


def _distance(plan: Plan, points: Array) -> Array:
    """Distance from the outline, measured square to its edges [m]."""
    best = np.full(len(points), np.inf)
    corners = np.array(plan.corners)
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        low, high = np.minimum(a, b), np.maximum(a, b)
        gap = np.maximum(np.maximum(low - points[:, :2], points[:, :2] - high), 0)
        best = np.minimum(best, np.hypot(gap[:, 0], gap[:, 1]))
    return best


@dataclass(frozen=True)
class Loss:
    """Steady heat out of the room, with error and balance.

    heat : through all indoor faces; per metre of wall in 2-D [W]
    flows : by patch on the fine grid, positive into the body [W]
    balance : relative residual of the energy balance [-]
    cells : of the fine grid
    """

    heat: Estimate
    flows: Mapping[str, float]
    balance: float
    cells: int


def steady_loss(
    build: Callable[[int], Body], temperatures: Mapping[str, float], density: int = 2, order: float = 2.0
) -> Loss:
    """Solve a body on two nested grids and extrapolate the heat that leaves the room.

    build : density -> body
    temperatures : environment -> temperature [C]
    density : of the fine grid; the coarse one has half of it, so even [-]
    order : of convergence assumed [-]
    """
    coarse, fine = (_solved(build(d), temperatures) for d in (density // 2, density))
    heat = richardson(_indoor(coarse), _indoor(fine), order)
    return Loss(heat, {n: float(q.real) for n, q in fine.flows.items()}, fine.residual, fine.system.size)


def _solved(body: Body, temperatures: Mapping[str, float], method: Solver | None = None) -> Solution:
    return System(body).solve(temperatures, method=method)


def _indoor(solution: Solution) -> float:
    """Heat that the faces which see the room take up [W]."""
    s = solution.system.surface
    share = s.mix[:, solution.system.environments.index(INDOOR)]
    return float((solution.flux * s.area * share).sum())


def without_layers(section: Section) -> Section:
    """The same section before it is insulated: bare inner faces.

    section : any
    """
    return replace(section, wall=(), floor=())
