"""How a basement answers the year: ground condensed to the indoor faces, hourly responses, RC fits.

Without its inner layers the section is one linear body. At each frequency it is reduced to its ports, the
indoor faces: face temperature = open . outdoors + Z . heat (Schur complement of everything behind them).
Putting layers on is then a dense solve of as many unknowns as there are faces, so another assembly costs
milliseconds and the soil is factorised once. Responses are smooth in the logarithm of the frequency: a few
exact solves are splined, and the error of the spline is measured half way between them. Linear bodies only:
no freezing, no changing films.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt
from scipy.interpolate import CubicSpline
from scipy.optimize import least_squares, nnls

from warmside.physics.conduction import DirectSolver, Numbers, Patch, Solution, System
from warmside.physics.grid import Array
from warmside.physics.ground import INDOOR, Section, section_body, section_patches
from warmside.physics.ground_surface import YEAR

ANNUAL = 2 * np.pi / YEAR
"""Angular frequency of the year [rad/s]."""


class ResponseError(ValueError):
    """An unknown patch, a stretch without faces, or years that do not fit the response."""


@dataclass(frozen=True, eq=False)
class Ports:
    """A body at one frequency, seen from its indoor faces.

    open : face temperature per kelvin outdoors with the room side insulated (faces, environments) [-]
    impedance : face temperature per heat into another face (faces, faces) [K/W]
    through : heat into the body from outdoors, room side insulated (environments, environments) [W/K]
    """

    open: Numbers
    impedance: Numbers
    through: Numbers

    def close(self, conductance: Array) -> Numbers:
        """Face temperatures per kelvin of (indoor, outdoors...), layers on (faces, 1 + environments) [-].

        conductance : from each face to the room [W/K]
        """
        loaded = self.impedance * conductance
        drive = np.concatenate([loaded.sum(axis=1, keepdims=True), self.open], axis=1)
        return np.linalg.solve(np.eye(len(loaded)) + loaded, drive)

    def heat(self, faces: Numbers, conductance: Array) -> Numbers:
        """Heat into each face per kelvin of (indoor, outdoors...) [W/K].

        faces : from `close` [-]
        conductance : from each face to the room [W/K]
        """
        inward = -conductance[:, None] * faces
        inward[:, 0] += conductance
        return inward


class Condensed:
    """A section whose inner layers may change; everything else is factorised once per frequency.

    section : whose soil, concrete, rim and outer layers are kept
    system : the body with its room side insulated
    environments : those that stay, after the room: exposed concrete and ground surface
    """

    def __init__(self, section: Section, density: int = 2) -> None:
        """Assemble the body with insulated indoor faces."""
        self.section = section
        self.body = section_body(section, density)
        self.system = System(replace(self.body, patches=[_sealed(p) for p in self.body.patches]))
        surface = self.system.surface
        self.room = self.system.environments.index(INDOOR)
        self.kept = [i for i in range(len(self.system.environments)) if i != self.room]
        self.environments = tuple(self.system.environments[i] for i in self.kept)
        self.port = np.flatnonzero((surface.mix[:, self.room] > 0) & np.isinf(surface.film))
        self.area, self.centre = surface.area[self.port], surface.centre[self.port]
        self.patch = np.array([p.name for p in self.body.patches])[surface.patch[self.port]]
        self._known: dict[float, tuple[DirectSolver, Ports]] = {}

    def ports(self, omega: float = 0.0) -> Ports:
        """The body at one frequency; kept for the next assembly.

        omega : angular frequency [rad/s]
        """
        return self._table(omega)[1]

    def _table(self, omega: float) -> tuple[DirectSolver, Ports]:
        if omega not in self._known:
            solver = DirectSolver(self.system, omega)
            self._known[omega] = solver, self._reduce(solver)
        return self._known[omega]

    def _reduce(self, solver: DirectSolver) -> Ports:
        surface, system = self.system.surface, self.system
        cells, m = surface.cell[self.port], len(self.port)
        inject = np.zeros((system.size, m))
        inject[cells, np.arange(m)] = 1.0
        answer = solver(np.concatenate([system.drive[:, self.kept], inject], axis=1))
        outdoors, heated = answer[:, : len(self.kept)], answer[:, len(self.kept) :]
        mix = surface.mix[:, self.kept]
        faced = surface.conductance[:, None] * (mix - outdoors[surface.cell])
        impedance = heated[cells] + np.diag(surface.half[self.port] / self.area)
        return Ports(outdoors[cells], impedance, mix.T @ faced)

    def conductance(self, section: Section, off: npt.NDArray[np.bool_] | None = None) -> Array:
        """From each indoor face through layers and film to the room [W/K].

        section : whose layers to put on; all else as this one's
        off : faces to leave insulated
        """
        layers = {patch.name: patch.resistance for patch in section_patches(section)}
        film = np.empty(len(self.port))
        for name in np.unique(self.patch):
            mine, share = self.patch == name, layers[str(name)]
            film[mine] = share(self.centre[mine]) if callable(share) else share
        value = self.area / film
        return value if off is None else np.where(off, 0.0, value)

    def stretch(self, low: float, high: float) -> npt.NDArray[np.bool_]:
        """Faces of wall and rim between two heights above the slab.

        low : lower end [m]
        high : upper end [m]
        Raises ResponseError when no face lies there.
        """
        height = self.centre[:, 1] - self.section.slab
        chosen = np.isin(self.patch, ("wall", "rim")) & (height > low) & (height < high)
        if not chosen.any():
            raise ResponseError(f"no face of the wall between {low:g} and {high:g} m above the slab")
        return chosen

    def with_layers(self, section: Section) -> Assembly:
        """The section with other inner layers.

        section : whose wall and floor layers and films to put on
        """
        return Assembly(self, section, self.conductance(section))


def _sealed(patch: Patch) -> Patch:
    """The patch without heat flow, if it sees the room."""
    return replace(patch, resistance=np.inf) if INDOOR in patch.drive else patch


@dataclass(frozen=True, eq=False)
class Assembly:
    """One build-up in front of a condensed section.

    ground : the condensed section
    section : with the layers of this assembly
    conductance : from each indoor face to the room [W/K]
    """

    ground: Condensed
    section: Section
    conductance: Array

    @property
    def environments(self) -> tuple[str, ...]:
        """Order of the columns of every gain."""
        return (INDOOR, *self.ground.environments)

    def faces(self, omega: float = 0.0) -> Numbers:
        """Temperature of each indoor concrete face per kelvin of each environment (faces, environments) [-].

        omega : angular frequency [rad/s]
        """
        return self.ground.ports(omega).close(self.conductance)

    def heat(self, patch: str, omega: float = 0.0) -> Numbers:
        """Heat into a patch per kelvin of each environment, per metre of wall [W/(m.K)].

        patch : wall, rim, ledge or floor
        omega : angular frequency [rad/s]
        Raises ResponseError.
        """
        ground = self.ground
        mine = ground.patch == patch
        if not mine.any():
            raise ResponseError(f"no indoor patch {patch!r}: there are {sorted(set(ground.patch.tolist()))}")
        ports = ground.ports(omega)
        into = ports.heat(ports.close(self.conductance), self.conductance)
        return np.asarray(into[mine].sum(axis=0))

    def loss(self, omega: float = 0.0) -> Numbers:
        """Heat out of the room per kelvin of each environment, per metre of wall [W/(m.K)].

        omega : angular frequency [rad/s]
        """
        return np.asarray(np.sum([self.heat(str(n), omega) for n in np.unique(self.ground.patch)], axis=0))

    def face(self, low: float, high: float, omega: float = 0.0) -> Numbers:
        """Mean temperature of the concrete's inner face on a stretch, per kelvin of each environment [-].

        low, high : heights above the slab [m]
        omega : angular frequency [rad/s]
        """
        mine = self.ground.stretch(low, high)
        return np.asarray(np.average(self.faces(omega)[mine], axis=0, weights=self.ground.area[mine]))

    def solution(self, theta: Mapping[str, complex], omega: float = 0.0) -> Solution:
        """The whole temperature field.

        theta : environment -> temperature or amplitude [C]
        omega : angular frequency [rad/s]
        """
        ground, system = self.ground, self.ground.system
        solver, ports = ground._table(omega)
        values = np.array([theta[name] for name in self.environments])
        into = ports.heat(ports.close(self.conductance), self.conductance) @ values
        sources = np.zeros(system.size, into.dtype)
        np.add.at(sources, system.surface.cell[ground.port], into)
        whole = system.vector(theta)
        return Solution(system, whole, solver(system.drive @ whole + sources), omega, sources)


@dataclass(frozen=True, eq=False)
class Spectrum:
    """A response known at all frequencies of a year.

    environments : what the response is per kelvin of, in order
    omega : nodes where it was solved, increasing [rad/s]
    steady : at frequency 0, one value per environment [unit of the response]
    nodes : at the nodes (nodes, environments) [unit of the response]
    error : largest distance from exact solves half way between nodes, relative to the largest response [-]
    """

    environments: tuple[str, ...]
    omega: Array
    steady: Array
    nodes: Numbers
    error: float

    @cached_property
    def _spline(self) -> CubicSpline:
        return CubicSpline(np.log(self.omega), self.nodes)

    def at(self, omega: Array) -> Numbers:
        """Response at frequencies from the first to the last node (frequencies, environments).

        omega : angular frequencies [rad/s]
        """
        return np.asarray(self._spline(np.log(omega)))


NODES = ANNUAL * np.geomspace(1, 4380, 22)
"""Frequencies of the table, from once a year to once in two hours [rad/s]."""


def spectrum(
    response: Callable[[float], Numbers], environments: Sequence[str], omega: Array = NODES
) -> Spectrum:
    """Solve a response on nodes, and measure the error of the spline between some of them.

    response : omega -> values per environment, e.g. `Assembly.loss`
    environments : in the order of those values
    omega : nodes [rad/s]
    """
    nodes = np.array([response(float(w)) for w in omega])
    found = Spectrum(tuple(environments), omega, np.real(response(0.0)), nodes, 0.0)
    between = np.sqrt(omega[3:-1:5] * omega[4::5])
    exact = np.array([response(float(w)) for w in between])
    scale = max(float(np.abs(found.nodes).max()), float(np.abs(found.steady).max()))
    return replace(found, error=float(np.abs(found.at(between) - exact).max()) / scale)


@dataclass(frozen=True, eq=False)
class Hourly:
    """A response over the year.

    values : one for each step of the year [unit of the values]
    frequencies : how many were summed, without the mean [-]
    left_out : standard deviation of what the others would add [unit of the values]
    bound : largest value that the others could add [unit of the values]
    """

    values: Array
    frequencies: int
    left_out: float
    bound: float


def hourly(response: Spectrum, years: Mapping[str, npt.ArrayLike], share: float = 1.0) -> Hourly:
    """Sum the waves of a year, all of them or as many as carry a share of the variance of the response.

    The annual wave holds nearly all the variance: a share of 0.9999 still leaves out 0.1 K of a face.

    response : from `spectrum`
    years : one series per environment of the response, equal steps over a year, at most hourly [C]
    share : of the variance to keep; 1 keeps all [-]
    Raises ResponseError.
    """
    if set(years) != set(response.environments):
        raise ResponseError(f"years for {sorted(years)}: the response needs {sorted(response.environments)}")
    series = [np.asarray(years[name], float) for name in response.environments]
    n = len(series[0])
    omega = np.arange(1, n // 2 + 1) * ANNUAL
    if any(len(s) != n for s in series) or omega[-1] > response.omega[-1] * (1 + 1e-9):
        raise ResponseError(
            f"years of {[len(s) for s in series]} steps: want equal lengths, none finer than the response"
        )
    spectra = np.array([np.fft.rfft(s) for s in series])
    waves = np.einsum("fe,ef->f", response.at(np.minimum(omega, response.omega[-1])), spectra[:, 1:])
    amplitude = 2 * np.abs(waves) / n
    kept = energetic(amplitude, share)
    whole = np.concatenate([[response.steady @ spectra[:, 0].real], np.where(kept, waves, 0)])
    left = float(np.sqrt(0.5 * np.sum(amplitude[~kept] ** 2)))
    return Hourly(np.fft.irfft(whole, n), int(kept.sum()), left, float(amplitude[~kept].sum()))


def energetic(amplitude: Array, share: float) -> npt.NDArray[np.bool_]:
    """The fewest waves that carry a share of the variance.

    amplitude : of each wave [unit of the values]
    share : of the variance, 0 to 1 [-]
    """
    order = np.argsort(-amplitude, kind="stable")
    power = np.cumsum(amplitude[order] ** 2)
    count = len(power) if share >= 1 else int(np.searchsorted(power, share * power[-1])) + 1
    kept = np.zeros(len(amplitude), bool)
    kept[order[:count]] = True
    return kept


@dataclass(frozen=True)
class RcChain:
    """An impedance as a resistance and pairs of resistance and time, Z = r0 + sum r / (1 + i omega tau).

    direct : r0 [m2.K/W]
    resistances : r [m2.K/W]
    times : tau [s]
    error : largest relative distance from the impedance that was fitted [-]
    """

    direct: float
    resistances: tuple[float, ...]
    times: tuple[float, ...]
    error: float

    def at(self, omega: npt.ArrayLike) -> Numbers:
        """Impedance [m2.K/W].

        omega : angular frequency [rad/s]
        """
        w = np.asarray(omega, float)[..., None]
        return np.asarray(
            self.direct + (np.array(self.resistances) / (1 + 1j * w * np.array(self.times))).sum(axis=-1)
        )


def fit_rc(omega: Array, impedance: Numbers, states: int = 3) -> RcChain:
    """Fit resistances of one sign and times to an impedance, relative error least in the mean square.

    omega : angular frequencies [rad/s]
    impedance : complex, at these frequencies [m2.K/W]
    states : number of RC pairs [-]
    """
    weight = 1 / np.abs(impedance)

    def basis(log_times: Array) -> Numbers:
        pairs = 1 / (1 + 1j * omega[:, None] * np.exp(log_times))
        return np.concatenate([np.ones((len(omega), 1)), pairs], axis=1) * weight[:, None]

    target = _stacked(impedance * weight)

    def misfit(log_times: Array) -> Array:
        matrix = _stacked(basis(log_times))
        return np.asarray(matrix @ nnls(matrix, target)[0] - target)

    span = np.log(1 / omega[[-1, 0]])
    start = np.linspace(span[0], span[1], states + 2)[1:-1]
    best = np.sort(least_squares(misfit, start, xtol=1e-12, ftol=1e-12).x)
    found = nnls(_stacked(basis(best)), target)[0]
    chain = RcChain(float(found[0]), tuple(map(float, found[1:])), tuple(map(float, np.exp(best))), 0.0)
    return replace(chain, error=float(np.max(np.abs(chain.at(omega) - impedance) * weight)))


def _stacked(values: Numbers) -> Array:
    return np.concatenate([values.real, values.imag])


def slice_impedance(ground: Condensed, section: Section, low: float, high: float, omega: Array) -> Numbers:
    """Rise of a stretch of the concrete's inner face per flux into it, the rest as built [m2.K/W].

    ground : condensed section
    section : with the layers that cover the rest
    low, high : heights of the stretch above the slab [m]
    omega : angular frequencies [rad/s]
    """
    mine = ground.stretch(low, high)
    return np.array([_between(ground, section, [mine], float(w))[0, 0] for w in omega])


def slice_network(
    ground: Condensed, section: Section, stretches: Sequence[tuple[float, float]]
) -> tuple[Array, Array]:
    """Steady conductances between stretches of the inner face, and from each to what lies behind [W/(m.K)].

    ground : condensed section
    section : with the layers that cover the rest
    stretches : (low, high) heights above the slab [m]
    Returns the symmetric matrix between stretches and the vector to the rest.
    """
    masks = [ground.stretch(low, high) for low, high in stretches]
    area = np.array([ground.area[m].sum() for m in masks])
    admittance = np.linalg.inv(np.real(_between(ground, section, masks, 0.0)) / area)
    between = -(admittance - np.diag(np.diag(admittance)))
    return between, admittance.sum(axis=1)


def _between(
    ground: Condensed, section: Section, masks: Sequence[npt.NDArray[np.bool_]], omega: float
) -> Numbers:
    """Mean rise of each stretch per unit heat flux into each other one [m2.K/W]."""
    off = np.any(masks, axis=0)
    g = ground.conductance(section, off)
    z = ground.ports(omega).impedance
    shares = np.array([np.where(m, ground.area, 0.0) for m in masks])
    rise = np.linalg.solve(np.eye(len(z)) + z * g, z @ shares.T)
    return np.asarray(shares / shares.sum(axis=1, keepdims=True) @ rise)
