"""House -> sections through wall and soil, and how the whole basement answers the year.

Every wall is cut into four stretches by what of its concrete shows; stretches are grouped into at most three
sections of like height of ground, each of width 2A/P, and each stretch keeps its own layers. The answer is
linear: heat through each part = gains . (basement, outdoors, ground surface), wave by wave of the year.
Corners are not in it (2-D against 3-D about 4 % low). Walls beside unheated space see half of the cold.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from scipy.interpolate import CubicSpline

from warmside.job.closing import closing, corners
from warmside.job.resolve import RIM_BOARD, House, HouseWall
from warmside.physics.conduction import Numbers
from warmside.physics.grid import Array
from warmside.physics.ground import GROUND, INDOOR, OUTDOOR, Section, Zone
from warmside.physics.ground_rules import Soil
from warmside.physics.ground_surface import MONTH_DAYS
from warmside.physics.response import ANNUAL, Assembly, Condensed
from warmside.study.as_found import End, left_alone, old_resistance
from warmside.study.layers import around_studs, wood
from warmside.study.r_value import WallWorth
from warmside.units import Length, to_m

PARTS = ("above", "below", "floor", "rim")
"""Parts of the basement's skin: concrete above and below the ground line, floor, rim."""
HARMONICS = 12
"""Waves of the year that are kept: what is shorter leaves the means of the months as good as alone."""
NODES = (1.0, 2.0, 3.0, 5.0, 8.0, 12.0)
"""Waves of the year at which the ground is solved; the others lie on a spline."""
CUTS = 4
"""Stretches of a wall."""
SECTIONS = 3
"""Most different heights of ground in one house."""
ALIKE = 0.1
"""Heights of ground closer than this share a section [m]."""
NARROWEST = 1.0
"""Least width of a section: a shorter row of walls is a part of a house [m]."""


@dataclass(frozen=True)
class FloorPlan:
    """The floor inside the walls.

    area : [m2]
    perimeter : [m]
    measured : false where the round is open and a rectangle of three to two was taken
    """

    area: float
    perimeter: float
    measured: bool

    @property
    def width(self) -> float:
        """Characteristic width 2A/P [m]."""
        return 2.0 * self.area / self.perimeter


def floor_plan(house: House) -> FloorPlan | None:
    """Area and perimeter of the floor; None without a measured wall."""
    perimeter = sum(to_m(wall.concrete_length) for wall in house.walls)
    if perimeter <= 0:
        return None
    points = [(to_m(Length(round(x))), to_m(Length(round(y)))) for x, y in corners(house.walls)]
    area = abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairwise(points))) / 2.0
    if closing(house) is None or area <= 0:
        return FloorPlan(0.06 * perimeter**2, perimeter, False)
    return FloorPlan(area, perimeter, True)


@dataclass(frozen=True)
class Skin:
    """What lies on the inside of concrete and rim board, without films.

    wall : resistance on the wall [m2.K/W]
    rim : resistance in the rim [m2.K/W]
    floor : resistance on or under the slab [m2.K/W]
    sill : thickness of the wood on top of the concrete [m]
    """

    wall: float = 0.0
    rim: float = 0.0
    floor: float = 0.0
    sill: float = 0.0

    @property
    def bare(self) -> Skin:
        """The same with nothing on wall and rim."""
        return replace(self, wall=0.0, rim=0.0)


@dataclass(frozen=True)
class Stretch:
    """A part of one wall with one height of ground.

    length : [m]
    section : which of the house's sections it has
    bearing : where it faces, clockwise from north; None where not known [deg]
    outdoors : false beside a garage, a cold room or unheated space
    found : what is on it before the work
    """

    wall: str
    length: float
    section: int
    bearing: float | None
    outdoors: bool
    skin: Skin
    found: Skin


@dataclass(frozen=True)
class GroundJob:
    """A house as its ground sees it: the floor, the sections without layers, the stretches of wall."""

    floor: FloorPlan
    sections: tuple[Section, ...]
    stretches: tuple[Stretch, ...]


def ground_job(
    house: House, worths: Mapping[str, WallWorth], soil: Soil, end: End = End.LIKELY
) -> GroundJob | None:
    """The sections of a house in one soil; None without a measured wall.

    end : of what nobody knows of the old layers on its walls
    """
    floor = floor_plan(house)
    if floor is None:
        return None
    cuts = [(wall, *_cut(wall, part)) for wall in house.walls for part in range(CUTS)]
    groups = _groups([showing for _, _, showing in cuts])
    facing = bearings(house)
    skins = {wall.name: _skins(house, wall, worths[wall.name], end) for wall in house.walls}
    sections = [
        _section(house, floor, soil, [cut for cut, g in zip(cuts, groups, strict=True) if g == group])
        for group in range(max(groups) + 1)
    ]
    stretches = [
        Stretch(
            wall.name,
            to_m(wall.concrete_length) / CUTS,
            group,
            facing.get(wall.name),
            wall.exposure in ("soil", "outside air"),
            *skins[wall.name],
        )
        for (wall, _, _), group in zip(cuts, groups, strict=True)
    ]
    return GroundJob(floor, tuple(sections), tuple(stretches))


def _cut(wall: HouseWall, part: int) -> tuple[float, float]:
    """Height of the concrete, and what of it shows, in the middle of one of the stretches [m]."""
    x = wall.concrete_start + round(wall.concrete_length * (part + 0.5) / CUTS)
    height, shown = wall.height.at(x, wall.length), wall.showing.at(x, wall.length)
    return to_m(height), to_m(min(height, shown))


def _groups(showing: Sequence[float]) -> list[int]:
    """Which of at most three equal steps from least to greatest each belongs to, empty steps left out."""
    low, high = min(showing), max(showing)
    steps = min(SECTIONS, 1 + int((high - low) / ALIKE))
    step = [min(steps - 1, int(steps * (s - low) / (high - low + 1e-9))) for s in showing]
    order = sorted(set(step))
    return [order.index(s) for s in step]


def _section(
    house: House, floor: FloorPlan, soil: Soil, cuts: Sequence[tuple[HouseWall, float, float]]
) -> Section:
    """The mean section of some stretches, sizes to the millimetre."""
    ground = house.ground
    thickness = to_m(cuts[0][0].thickness)
    height = round(float(np.mean([h for _, h, _ in cuts])), 3)
    return Section(
        half_width=round(max(floor.width, NARROWEST) / 2.0, 3),
        wall_height=height,
        showing=round(min(height, float(np.mean([s for _, _, s in cuts]))), 3),
        soil=soil,
        wall_thickness=thickness,
        slab_thickness=to_m(ground.slab),
        footing_width=max(thickness, to_m(ground.footing_width)),
        footing_height=to_m(ground.footing_height),
        rim_height=round(float(np.mean([to_m(Length(w.rim.height + w.sill)) for w, _, _ in cuts])), 3),
        film_ground=0.0,
    )


def _skins(house: House, wall: HouseWall, worth: WallWorth, end: End) -> tuple[Skin, Skin]:
    """What is on a wall after and before the work; without a frame the job only tears out."""
    after = skin(house, wall, worth)
    found = replace(after.bare, wall=old_resistance(house, wall, end))
    return (after if worth.whole else replace(after, wall=left_alone(house, wall, end))), found


def skin(house: House, wall: HouseWall, worth: WallWorth) -> Skin:
    """What the worth of a wall and its rim leaves without films, concrete and board; bare without a frame."""
    bare = Skin(floor=house.ground.floor_insulation, sill=to_m(wall.sill))
    if worth.whole is None:
        return bare
    around = around_studs(house, wall)
    inside, concrete = around.before[0].resistance, around.behind[-1].resistance
    outside = house.shelf.material(house.rules.outside_film).resistance
    board = wood(house, RIM_BOARD).resistance + (outside.value if outside else 0.0)
    return replace(
        bare,
        wall=max(0.0, worth.whole.resistance - inside - concrete),
        rim=max(0.0, worth.rim.resistance - inside - board),
    )


_FACING = {"N": 0.0, "NE": 45.0, "E": 90.0, "SE": 135.0, "S": 180.0, "SW": 225.0, "W": 270.0, "NW": 315.0}


def bearings(house: House) -> dict[str, float]:
    """Where each wall faces, from one that is known and the turns; without turns only what was said [deg]."""
    walls = house.walls
    said = {wall.name: _FACING[wall.facing] for wall in walls if wall.facing is not None}
    if not said or house.unmeasured:
        return said
    first = next(i for i, wall in enumerate(walls) if wall.facing is not None)
    found = {walls[first].name: said[walls[first].name]}
    for before, wall in pairwise([*walls[first:], *walls[:first]]):
        if before.turn is None:
            break
        found[wall.name] = (found[before.name] + before.turn) % 360.0
    return {**found, **said}


def with_skin(section: Section, chosen: Skin) -> Section:
    """A section with layers on wall, rim and floor; the sill lies on the concrete, under what fills the rim.

    section : without layers
    chosen : what is put on
    """
    height, top = section.wall_height, section.wall_height + section.rim_height
    on_sill = min(height + chosen.sill, top)
    wood_on_top = chosen.sill / section.board.conductivity + chosen.rim
    wall = (
        Zone(0.0, height, chosen.wall),
        Zone(height, on_sill, wood_on_top),
        Zone(on_sill, top, chosen.rim),
    )
    return replace(section, wall=wall, floor=(Zone(0.0, section.half_width, chosen.floor),))


@lru_cache(maxsize=64)
def condensed(section: Section, sill: float, density: int = 2) -> Condensed:
    """A section reduced to its indoor faces; kept, so that other layers cost milliseconds.

    section : without layers
    sill : thickness, at which the grid has a face [m]
    density : of the grid [-]
    """
    return Condensed(with_skin(section, Skin(sill=sill)), density)


def assembly(section: Section, chosen: Skin, density: int = 2) -> Assembly:
    """A section with its layers on the kept ground."""
    return condensed(section, chosen.sill, density).with_layers(with_skin(section, chosen))


def part_faces(ground: Condensed) -> dict[str, npt.NDArray[np.bool_]]:
    """Which indoor faces belong to each part; the top of the concrete counts as rim."""
    wall = ground.patch == "wall"
    above = ground.centre[:, 1] > 0.0
    return {
        "above": wall & above,
        "below": wall & ~above,
        "floor": ground.patch == "floor",
        "rim": (ground.patch == "rim") | (ground.patch == "ledge"),
    }


def _gains_at(built: Assembly, wave: float) -> Numbers:
    """Heat into each part per kelvin of indoors, outdoors and ground, per metre (parts, 3) [W/(m.K)]."""
    ports = built.ground.ports(wave * ANNUAL)
    into = ports.heat(ports.close(built.conductance), built.conductance)
    columns = [built.environments.index(name) for name in (INDOOR, OUTDOOR, GROUND)]
    return np.array([into[mine].sum(axis=0)[columns] for mine in part_faces(built.ground).values()])


def splined(exact: Mapping[float, Numbers]) -> Numbers:
    """All waves of the year from those solved, the steady one as it is [unit of the values]."""
    nodes = [wave for wave in exact if wave > 0]
    between = CubicSpline(np.log(nodes), np.array([exact[wave] for wave in nodes]))
    return np.concatenate([exact[0.0][None].astype(complex), between(np.log(np.arange(1, HARMONICS + 1)))])


@lru_cache(maxsize=256)
def _gains(section: Section, chosen: Skin) -> Numbers:
    built = assembly(section, chosen)
    return splined({wave: _gains_at(built, wave) for wave in (0.0, *NODES)})


def gains(section: Section, chosen: Skin) -> Numbers:
    """Heat into each part per kelvin of (indoors, outdoors, ground), by wave (waves, parts, 3) [W/(m.K)].

    section : without layers
    chosen : layers on wall, rim and floor
    """
    return _gains(section, chosen)


# Waves of the year


def waves(series: npt.ArrayLike) -> Numbers:
    """Mean and first waves of a year, each value in the middle of its step [unit of the values].

    series : one year [unit of the values]
    """
    values = np.asarray(series, float)
    n, order = len(values), np.arange(HARMONICS + 1)
    found = 2.0 * np.fft.rfft(values)[: HARMONICS + 1] / n * np.exp(-1j * np.pi * order / n)
    found[0] /= 2.0
    return np.asarray(found)


def steady(level: float) -> Numbers:
    """The waves of what does not change [unit of the value]."""
    return np.concatenate([[complex(level)], np.zeros(HARMONICS, complex)])


def at_times(found: Numbers, times: npt.ArrayLike) -> Array:
    """Values of some waves at times of the year, 0 to 1; waves along the first axis [unit of the waves]."""
    phase = np.exp(2j * np.pi * np.outer(np.asarray(times, float), np.arange(len(found))))
    return np.asarray(np.real(np.tensordot(phase, found, axes=1)))


def _month_operator() -> Numbers:
    """Mean of each wave over each month (months, waves)."""
    edges = np.concatenate([[0.0], np.cumsum(MONTH_DAYS)]) / 365.0
    turn = 2j * np.pi * np.arange(1, HARMONICS + 1)
    means = np.diff(np.exp(np.outer(edges, turn)), axis=0) / (np.diff(edges)[:, None] * turn)
    return np.concatenate([np.ones((12, 1)), means], axis=1)


MONTH_MEANS = _month_operator()


def by_months(found: Numbers) -> Array:
    """Mean of each month of some waves along the first axis (12, ...) [unit of the waves]."""
    return np.asarray(np.real(np.tensordot(MONTH_MEANS, found, axes=1)))
