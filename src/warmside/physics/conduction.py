"""Heat conduction in two and three dimensions by finite volumes, steady and harmonic.

Cells hold one conductivity each; two cells exchange heat through their half widths in series and a contact
resistance where one is given; a face on the surface exchanges heat with environments through a surface
resistance. A face that no patch claims is adiabatic. For cell temperatures T, environment temperatures e and
cell sources q

    (K + i omega C) T = B e + q.

Second order in the cell size, also across material edges (they are cell faces). Surface temperatures are
rebuilt from the flux. Not for temperature-dependent conductivity; freezing soil is treated in `ground`.
Superposition and coupling coefficients follow ISO 10211:2017, clause 10 and annex E.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from enum import Enum
from functools import cache, cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
import pyamg
from scipy import sparse
from scipy.sparse import linalg as sparse_linalg
from threadpoolctl import ThreadpoolController

from warmside.physics.grid import Array, Box, Grid

Numbers = npt.NDArray[Any]
"""Real or complex array."""
Share = float | Callable[[Array], Array]
"""A number, or a function of face centres (n, dim) that gives one per face."""

_CLOSE = 1e-9
"""How near a face centre must lie to a box to count as on it [m]."""


class BodyError(ValueError):
    """A body that cannot be solved: shapes that differ, an unknown environment, no environment."""


class NotConvergedError(RuntimeError):
    """The iterative solver stopped before its tolerance."""


@dataclass(frozen=True)
class Patch:
    """A stretch of surface in contact with its surroundings.

    name : under which its flow is reported; patches of one name add up
    box : faces whose centre lies in it belong to the patch; the first patch that claims a face keeps it [m]
    resistance : surface film plus thin layers on the face [m2.K/W]
    drive : environment -> share of it in the temperature that the face sees; shares sum to one [-]
    """

    name: str
    box: Box
    resistance: Share
    drive: Mapping[str, Share]


@dataclass(frozen=True)
class Contact:
    """A thin layer between cells.

    box : a plane; cell faces whose centre lies in it get the resistance [m]
    axis : across which axis the plane lies
    resistance : of the layer [m2.K/W]
    """

    box: Box
    axis: int
    resistance: Share


@dataclass(frozen=True, eq=False)
class Body:
    """What conducts, and what it touches.

    grid : cells
    conductivity : per cell; nan or 0 where there is no solid (rooms, outdoors) [W/(m.K)]
    patches : surfaces in contact with environments
    contacts : thin layers inside
    capacity : volumetric heat capacity per cell, or None for steady use only [J/(m3.K)]
    """

    grid: Grid
    conductivity: Array
    patches: Sequence[Patch]
    contacts: Sequence[Contact] = ()
    capacity: Array | None = None


class Solver(Enum):
    """How the equations are solved."""

    DIRECT = "sparse LU, the factors are kept"
    MULTIGRID = "conjugate gradients with algebraic multigrid"


@dataclass(frozen=True, eq=False)
class Surface:
    """All claimed boundary faces, one entry each.

    cell : number of the solid cell behind the face
    patch : index of the patch
    axis : normal of the face
    side : 0 where the solid cell's low face is the surface, 1 for its high face
    centre : coordinates (n, dim) [m]
    area : [m2]
    half : resistance from the cell centre to the face [m2.K/W]
    film : resistance of the patch [m2.K/W]
    mix : share of each environment in what the face sees (n, environments) [-]
    """

    cell: npt.NDArray[np.intp]
    patch: npt.NDArray[np.intp]
    axis: npt.NDArray[np.intp]
    side: npt.NDArray[np.intp]
    centre: Array
    area: Array
    half: Array
    film: Array
    mix: Array

    @property
    def conductance(self) -> Array:
        """From cell centre to environment [W/K]."""
        return self.area / (self.half + self.film)


def _value(share: Share, points: Array) -> Array:
    """A share at face centres."""
    return np.broadcast_to(np.asarray(share(points) if callable(share) else share, float), len(points)).copy()


def _on(box: Box, points: Array) -> npt.NDArray[np.bool_]:
    """Points that lie in a closed box."""
    low, high = np.asarray(box, float).T
    return np.asarray(np.all((points >= low - _CLOSE) & (points <= high + _CLOSE), axis=1))


def _shifted(axis: int, dim: int) -> tuple[tuple[slice, ...], tuple[slice, ...]]:
    """Slices that pair each cell with its next neighbour along an axis."""
    low = tuple(slice(None, -1) if a == axis else slice(None) for a in range(dim))
    high = tuple(slice(1, None) if a == axis else slice(None) for a in range(dim))
    return low, high


class System:
    """The equations of a body, ready to be solved for any environments.

    body : what was assembled
    environments : their names, in the order of all environment vectors
    matrix : K, conductances with the environments [W/K]
    heat : diagonal of C [J/K]
    drive : B, environments to cells [W/K]
    surface : boundary faces
    """

    def __init__(self, body: Body) -> None:
        """Assemble; raises BodyError."""
        grid = body.grid
        if body.conductivity.shape != grid.shape:
            raise BodyError(
                f"conductivity has shape {body.conductivity.shape}, the grid has {grid.shape} cells"
            )
        self.body, self.grid = body, grid
        self.solid = np.nan_to_num(body.conductivity) > 0
        self.number = np.full(grid.shape, -1)
        self.number[self.solid] = np.arange(np.count_nonzero(self.solid))
        self.size = int(np.count_nonzero(self.solid))
        self.environments = tuple(sorted({name for patch in body.patches for name in patch.drive}))
        self.links = [self._links(axis) for axis in range(grid.dim)]
        self.surface = self._surface()
        if not len(self.surface.cell):
            raise BodyError(
                f"no face of the body lies in any of the patches {[p.name for p in body.patches]}"
            )
        self.matrix, self.drive = self._matrices()
        self.heat = None if body.capacity is None else (body.capacity * grid.volume)[self.solid]

    def _half(self, axis: int) -> Array:
        """Resistance from cell centre to face along an axis [m2.K/W]."""
        with np.errstate(divide="ignore", invalid="ignore"):
            half: Array = 0.5 * self.grid.widths(axis) / np.where(self.solid, self.body.conductivity, np.nan)
        return half

    def _links(self, axis: int) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp], Array]:
        """Pairs of neighbouring solid cells along an axis and the conductance between them [W/K]."""
        low, high = _shifted(axis, self.grid.dim)
        both = self.solid[low] & self.solid[high]
        half = self._half(axis)
        resistance = (half[low] + half[high])[both]
        if any(contact.axis == axis for contact in self.body.contacts):
            resistance = resistance + self._contact(axis, both)
        conductance = self.grid.area(axis)[low][both] / resistance
        return self.number[low][both], self.number[high][both], conductance

    def _contact(self, axis: int, both: npt.NDArray[np.bool_]) -> Array:
        """Contact resistance of each pair along an axis [m2.K/W]."""
        where = np.argwhere(both)
        centre = np.stack([self.grid.centres[a][where[:, a]] for a in range(self.grid.dim)], axis=1)
        centre[:, axis] = self.grid.faces[axis][where[:, axis] + 1]
        total = np.zeros(len(where))
        for contact in self.body.contacts:
            if contact.axis == axis:
                hit = _on(contact.box, centre)
                total[hit] += _value(contact.resistance, centre[hit])
        return total

    def _exposed(self, axis: int, side: int) -> tuple[npt.NDArray[np.intp], Array]:
        """Solid cells without a solid neighbour on one side, and the centres of those faces [m]."""
        low, high = _shifted(axis, self.grid.dim)
        open_face = self.solid.copy()
        here, there = (high, low) if side == 0 else (low, high)
        open_face[here] &= ~self.solid[there]
        where = np.argwhere(open_face)
        centre = np.stack([self.grid.centres[a][where[:, a]] for a in range(self.grid.dim)], axis=1)
        centre[:, axis] = self.grid.faces[axis][where[:, axis] + side]
        return where, centre

    def _surface(self) -> Surface:
        parts = [self._claimed(axis, side) for axis in range(self.grid.dim) for side in (0, 1)]
        names = list(Surface.__dataclass_fields__)
        return Surface(**{name: np.concatenate([part[name] for part in parts]) for name in names})

    def _claimed(self, axis: int, side: int) -> dict[str, Numbers]:
        """Faces across one axis and side that a patch claims, as columns of Surface."""
        where, centre = self._exposed(axis, side)
        owner = np.full(len(where), -1)
        for index, patch in reversed(list(enumerate(self.body.patches))):
            owner[_on(patch.box, centre)] = index
        where, centre, owner = where[owner >= 0], centre[owner >= 0], owner[owner >= 0]
        cells = tuple(where.T)
        film, mix = np.zeros(len(owner)), np.zeros((len(owner), len(self.environments)))
        for index in np.unique(owner):
            patch, mine = self.body.patches[index], owner == index
            film[mine] = _value(patch.resistance, centre[mine])
            for name, share in patch.drive.items():
                mix[mine, self.environments.index(name)] = _value(share, centre[mine])
        return {
            "cell": self.number[cells],
            "patch": owner,
            "axis": np.full(len(owner), axis),
            "side": np.full(len(owner), side),
            "centre": centre,
            "area": self.grid.area(axis)[cells],
            "half": self._half(axis)[cells],
            "film": film,
            "mix": mix,
        }

    def _matrices(self) -> tuple[sparse.csc_matrix, Array]:
        surface, n = self.surface, self.size
        diagonal = np.bincount(surface.cell, surface.conductance, n)
        rows, columns, values = [], [], []
        for low, high, conductance in self.links:
            diagonal += np.bincount(low, conductance, n) + np.bincount(high, conductance, n)
            rows += [low, high]
            columns += [high, low]
            values += [-conductance, -conductance]
        own = np.arange(n)
        entries = (
            np.concatenate([*values, diagonal]),
            (np.concatenate([*rows, own]), np.concatenate([*columns, own])),
        )
        drive = np.zeros((n, len(self.environments)))
        np.add.at(drive, surface.cell, surface.conductance[:, None] * surface.mix)
        return sparse.csc_matrix(entries, shape=(n, n)), drive

    def vector(self, temperatures: Mapping[str, complex]) -> Numbers:
        """Environment temperatures in the system's order [C].

        temperatures : by name, each environment once [C]
        Raises BodyError.
        """
        if set(temperatures) != set(self.environments):
            raise BodyError(
                f"temperatures for {sorted(temperatures)}: the body needs {list(self.environments)}"
            )
        values = np.array([temperatures[name] for name in self.environments])
        return values if np.iscomplexobj(values) else values.astype(float)

    def operator(self, omega: float = 0.0) -> sparse.csc_matrix:
        """K + i omega C [W/K].

        omega : angular frequency [rad/s]
        Raises BodyError when a frequency is asked of a body without capacity.
        """
        if omega == 0:
            return self.matrix
        if self.heat is None:
            raise BodyError("a frequency was asked of a body without heat capacity: give Body.capacity")
        return (self.matrix + sparse.diags(1j * omega * self.heat)).tocsc()

    def magnitude(self, omega: float = 0.0) -> sparse.csc_matrix:
        """K + omega C, real and positive definite, near enough to the operator to precondition it [W/K].

        omega : angular frequency [rad/s]
        """
        return self.matrix if self.heat is None else (self.matrix + sparse.diags(omega * self.heat)).tocsc()

    def solver(self, omega: float = 0.0, method: Solver | None = None) -> LinearSolver:
        """A solver of the equations at one frequency; direct in 2-D, multigrid in 3-D unless told.

        omega : angular frequency [rad/s]
        """
        chosen = method or (Solver.MULTIGRID if self.grid.dim == 3 else Solver.DIRECT)
        return _SOLVERS[chosen](self, omega)

    def solve(
        self,
        temperatures: Mapping[str, complex],
        omega: float = 0.0,
        sources: Numbers | None = None,
        method: Solver | None = None,
    ) -> Solution:
        """Temperatures for given environments, steady or as complex amplitudes.

        temperatures : environment -> temperature or amplitude [C]
        omega : angular frequency, 0 for the steady state [rad/s]
        sources : heat released in each solid cell [W]
        """
        theta = self.vector(temperatures)
        load = self.drive @ theta + (0 if sources is None else sources)
        return Solution(self, theta, self.solver(omega, method)(load), omega, sources)

    def units(self, omega: float = 0.0, method: Solver | None = None) -> list[Solution]:
        """One solution per environment at 1 with all others at 0: weighting factors of every point.

        omega : angular frequency [rad/s]
        """
        solver = self.solver(omega, method)
        one = np.eye(len(self.environments))
        return [Solution(self, one[e], solver(self.drive[:, e]), omega, None) for e in range(len(one))]

    def coupling(self, omega: float = 0.0, method: Solver | None = None) -> Numbers:
        """Flows out of environment i per kelvin of environment j; minus the coupling coefficients [W/K].

        omega : angular frequency [rad/s]
        """
        mix, g = self.surface.mix, self.surface.conductance[:, None]
        columns = [
            mix.T @ (g[:, 0] * (s.faced - s.temperature[self.surface.cell]))
            for s in self.units(omega, method)
        ]
        return np.stack(columns, axis=1)


LinearSolver = Callable[[Numbers], Numbers]
"""From right-hand side to solution."""


@cache
def _threads() -> ThreadpoolController:
    """The libraries that bring threads, looked up once: that takes longer than a small solve."""
    return ThreadpoolController()


def one_thread() -> AbstractContextManager[object]:
    """One BLAS thread as long as it lasts: idle threads slow sparse work a hundredfold."""
    limited: AbstractContextManager[object] = _threads().limit(limits=1)
    return limited


def symmetric_lu(matrix: sparse.csc_matrix) -> Any:
    """Sparse LU without pivoting, ordered for least fill of a symmetric pattern.

    matrix : symmetric with a dominant diagonal
    """
    return sparse_linalg.splu(
        matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
    )


class DirectSolver:
    """Sparse LU of K + i omega C; the factors serve any number of right-hand sides."""

    def __init__(self, system: System, omega: float = 0.0) -> None:
        """Factorise on one BLAS thread (idle threads slow sparse work a hundredfold)."""
        operator = system.operator(omega)
        self.dtype = operator.dtype
        with one_thread():
            self.factors = symmetric_lu(operator)

    def __call__(self, load: Numbers) -> Numbers:
        """Solve for one or several right-hand sides [W] -> [C]."""
        with one_thread():
            if np.iscomplexobj(load) and self.dtype.kind != "c":
                return np.asarray(self.factors.solve(load.real) + 1j * self.factors.solve(load.imag))
            return np.asarray(self.factors.solve(np.asarray(load, self.dtype)))


class MultigridSolver:
    """Conjugate gradients with classical algebraic multigrid (Ruge and Stueben 1987) as preconditioner.

    At a frequency the orthogonality is without conjugation, which fits a complex symmetric matrix (van der
    Vorst and Melissen 1990), and the multigrid is that of the real matrix K + omega C, applied to the real
    and the imaginary part: the preconditioned spectrum lies on a short arc, so the count of steps does not
    grow with the grid.
    """

    TOLERANCE = 1e-11
    STEPS = 200

    def __init__(self, system: System, omega: float = 0.0) -> None:
        """Build the hierarchy of grids."""
        self.operator = system.operator(omega).tocsr()
        with one_thread():
            levels = pyamg.ruge_stuben_solver(
                system.magnitude(omega).tocsr(), strength=("classical", {"theta": 0.1}), max_coarse=200
            )
        self.cycle = levels.aspreconditioner(cycle="V")

    def __call__(self, load: Numbers) -> Numbers:
        """Solve for one right-hand side, or for each column [W] -> [C]; raises NotConvergedError."""
        if load.ndim == 2:
            return np.stack([self(column) for column in load.T], axis=1)
        with one_thread():
            return self._iterate(np.asarray(load, np.result_type(load, self.operator.dtype)))

    def _precondition(self, residual: Numbers) -> Numbers:
        if np.iscomplexobj(residual):
            return np.asarray(self.cycle @ residual.real + 1j * (self.cycle @ residual.imag))
        return np.asarray(self.cycle @ residual)

    def _iterate(self, load: Numbers) -> Numbers:
        x, r = np.zeros_like(load), load.copy()
        d = z = self._precondition(r)
        rho, enough = r @ z, self.TOLERANCE * np.linalg.norm(load)
        for _ in range(self.STEPS):
            if np.linalg.norm(r) <= enough:
                return x
            q = self.operator @ d
            alpha = rho / (d @ q)
            x, r = x + alpha * d, r - alpha * q
            z = self._precondition(r)
            rho, last = r @ z, rho
            d = z + (rho / last) * d
        raise NotConvergedError(
            f"multigrid did not reach {self.TOLERANCE:g} of the load in {self.STEPS} steps"
        )


_SOLVERS: dict[Solver, Callable[[System, float], LinearSolver]] = {
    Solver.DIRECT: DirectSolver,
    Solver.MULTIGRID: MultigridSolver,
}


@dataclass(eq=False)
class Solution:
    """Temperatures of a body, and what follows from them.

    system : equations that were solved
    theta : environment temperatures, in the system's order [C]
    temperature : of the solid cells [C]
    omega : angular frequency, 0 for steady [rad/s]
    sources : heat released in the cells [W]
    """

    system: System
    theta: Numbers
    temperature: Numbers
    omega: float = 0.0
    sources: Numbers | None = None
    _cache: dict[str, Any] = field(default_factory=dict, repr=False)

    @cached_property
    def field(self) -> Numbers:
        """Temperatures on the grid, nan where there is no solid [C]."""
        full = np.full(self.system.grid.shape, np.nan, self.temperature.dtype)
        full[self.system.solid] = self.temperature
        return full

    @property
    def faced(self) -> Numbers:
        """Temperature of the surroundings that each boundary face sees [C]."""
        return self.system.surface.mix @ self.theta

    @cached_property
    def flux(self) -> Numbers:
        """Heat flux into the body at each boundary face [W/m2]."""
        s = self.system.surface
        return (self.faced - self.temperature[s.cell]) / (s.half + s.film)

    @cached_property
    def surface(self) -> Numbers:
        """Temperature at each boundary face, rebuilt from the flux [C]."""
        return self.temperature[self.system.surface.cell] + self.flux * self.system.surface.half

    @cached_property
    def flows(self) -> dict[str, complex]:
        """Heat into the body through each patch; per metre of depth in 2-D [W]."""
        s = self.system.surface
        heat = self.flux * s.area
        total: dict[str, complex] = {}
        for index, patch in enumerate(self.system.body.patches):
            total[patch.name] = total.get(patch.name, 0.0) + heat[s.patch == index].sum().item()
        return total

    @property
    def residual(self) -> float:
        """Heat that the balance misses, relative to the sum of all flows [-]."""
        heat = self.flux * self.system.surface.area
        gain = 0.0 if self.sources is None else self.sources.sum()
        stored = 0.0 if self.system.heat is None else 1j * self.omega * (self.system.heat @ self.temperature)
        return float(abs(heat.sum() + gain - stored) / (np.abs(heat).sum() + abs(gain) + 1e-300))

    def on_patch(self, name: str) -> tuple[Array, Numbers]:
        """Face centres (n, dim) [m] and surface temperatures of one patch [C].

        name : of the patch
        Raises BodyError.
        """
        names = np.array([p.name for p in self.system.body.patches])
        if name not in names:
            raise BodyError(f"no patch {name!r}: the patches are {sorted(set(names.tolist()))}")
        mine = names[self.system.surface.patch] == name
        return self.system.surface.centre[mine], self.surface[mine]

    @cached_property
    def rises(self) -> tuple[tuple[Numbers, Numbers], ...]:
        """Per axis, how much warmer the low and the high face of each solid cell is than its centre [K]."""
        s, system = self.system.surface, self.system
        out = []
        for axis, (low, high, conductance) in enumerate(system.links):
            half = system._half(axis)[system.solid] / system.grid.area(axis)[system.solid]
            heat = conductance * (self.temperature[high] - self.temperature[low])
            pair = [np.zeros_like(self.temperature), np.zeros_like(self.temperature)]
            pair[1][low], pair[0][high] = heat * half[low], -heat * half[high]
            for side in (0, 1):
                mine = (s.axis == axis) & (s.side == side)
                pair[side][s.cell[mine]] = self.flux[mine] * s.half[mine]
            out.append((pair[0], pair[1]))
        return tuple(out)

    def at(self, points: npt.ArrayLike) -> Numbers:
        """Temperature at any point; where cells meet, their mean weighted by conductivity [C].

        points : coordinates (n, dim) [m]
        Raises BodyError when a point touches no solid.
        """
        return np.array([self._at(point) for point in np.atleast_2d(np.asarray(points, float))])

    def _at(self, point: Array) -> complex:
        grid = self.system.grid
        touching = [
            np.flatnonzero((f[:-1] <= x + _CLOSE) & (f[1:] >= x - _CLOSE))
            for f, x in zip(grid.faces, point, strict=True)
        ]
        cells = self.system.number[np.ix_(*touching)].ravel()
        where = np.stack([m.ravel() for m in np.meshgrid(*touching, indexing="ij")], axis=1)[cells >= 0]
        cells = cells[cells >= 0]
        if not len(cells):
            raise BodyError(f"point {point.tolist()} touches no solid cell")
        value = self.temperature[cells]
        for axis, (low, high) in enumerate(self.rises):
            step = (point[axis] - grid.centres[axis][where[:, axis]]) / (
                0.5 * np.diff(grid.faces[axis])[where[:, axis]]
            )
            value = value + np.where(step < 0, -step * low[cells], step * high[cells])
        weight = self.system.body.conductivity[self.system.solid][cells]
        return (
            complex((value @ weight / weight.sum()).item())
            if np.iscomplexobj(value)
            else float(value @ weight / weight.sum())
        )
