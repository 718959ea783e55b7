"""How cold the inside gets on the design day, and how a corner and the air that falls along a wall feel it.

Outdoor air is held at the design temperature until concrete and rim are steady; soil stands as in the coldest
time of an ordinary year under bare ground: both on the cold side. The corner is a plan section of two
concrete walls above the ground, with the film of ISO 13788 for corners. Falling air: greatest speed near the
floor within 0.4 m of the wall, 0.055 sqrt(height . difference) (Heiselberg 1994, from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from warmside.physics.conduction import Body, Numbers, Patch, System
from warmside.physics.grid import Array, Grid, graded
from warmside.physics.ground import GROUND, INDOOR, OUTDOOR, Section
from warmside.physics.resistance import OUTSIDE_SURFACE
from warmside.physics.response import ANNUAL, Assembly, Condensed
from warmside.study.ground_job import NODES, GroundJob, Skin, assembly, at_times, splined
from warmside.study.heat_data import value

PLACES = ("rim", "above ground", "below ground", "floor edge", "whole wall")
"""Places of which the surface temperature is told; the last is the mean that drives the falling air."""
EDGE = 0.1
"""How much of the floor counts as its edge [m]."""
ARM = 1.0
"""Length of the walls that make a corner [m]."""
TIMES = np.arange(73) / 73


@dataclass(frozen=True, eq=False)
class Indoors:
    """How warm a basement is on the design day.

    waves : over an ordinary year [C]
    drop : by which it is colder on the design day than in its coldest time [K]
    """

    waves: Numbers
    drop: float = 0.0

    @property
    def on_the_day(self) -> float:
        """Temperature of the basement on the design day [C]."""
        return float(at_times(self.waves, TIMES).min()) - self.drop


@dataclass(frozen=True)
class Spot:
    """A place inside and its surface temperature on the design day, before and after [C]."""

    place: str
    wall: str
    before: float
    after: float


def _places(ground: Condensed) -> dict[str, npt.NDArray[np.bool_]]:
    section, level = ground.section, ground.centre[:, 1]
    wall = ground.patch == "wall"
    return {
        "rim": ground.patch == "rim",
        "above ground": wall & (level > 0),
        "below ground": wall & (np.abs(level + section.depth / 2) < section.depth / 4),
        "floor edge": (ground.patch == "floor") & (section.half_width - ground.centre[:, 0] < EDGE),
        "whole wall": wall,
    }


def _surface_at(built: Assembly, wave: float) -> Numbers:
    """Mean room-side surface of each place per kelvin of indoors, outdoors and ground (places, 3) [-]."""
    ground, section = built.ground, built.section
    columns = [built.environments.index(name) for name in (INDOOR, OUTDOOR, GROUND)]
    faces = ground.ports(wave * ANNUAL).close(built.conductance)[:, columns]
    film = np.where(ground.patch == "floor", section.film_floor, section.film_wall)
    room = np.array([1.0, 0.0, 0.0])
    surface = room - (room - faces) * (film * built.conductance / ground.area)[:, None]
    return np.array([_mean(surface, ground.area, mine) for mine in _places(ground).values()])


def _mean(surface: Numbers, area: Array, mine: npt.NDArray[np.bool_]) -> Numbers:
    if not mine.any():
        return np.full(3, np.nan, surface.dtype)
    return np.asarray(np.average(surface[mine], axis=0, weights=area[mine]))


@lru_cache(maxsize=256)
def _surface(section: Section, chosen: Skin) -> Numbers:
    built = assembly(section, chosen)
    exact = {wave: _surface_at(built, wave) for wave in (0.0, *NODES)}
    found = splined({wave: np.nan_to_num(values) for wave, values in exact.items()})
    found[:, np.isnan(exact[0.0])] = np.nan
    return found


def surfaces(
    section: Section, chosen: Skin, indoors: Indoors, ground: Numbers, design: float
) -> dict[str, float]:
    """Surface temperature of each place on the design day, nan where the section has no such place [C].

    section : without layers
    chosen : what is put on
    indoors : temperature of the basement
    ground : waves of the bare ground's surface [C]
    design : outdoor temperature [C]
    """
    gain = _surface(section, chosen)
    moving = gain[:, :, 0] * indoors.waves[:, None] + gain[:, :, 2] * ground[:, None]
    coldest = at_times(moving, TIMES).min(axis=0)
    steady = np.real(gain[0])
    found = coldest - steady[:, 0] * indoors.drop + steady[:, 1] * design
    return dict(zip(PLACES, found.tolist(), strict=True))


def spots(
    job: GroundJob, before: Indoors, after: Indoors, ground: Numbers, design: float
) -> tuple[tuple[Spot, ...], Mapping[str, Spot]]:
    """The coldest of each place after insulating, and the mean of the wall behind the worst falling air.

    job : sections and stretches
    before, after : temperature of the basement
    ground : waves of the bare ground's surface [C]
    design : outdoor temperature [C]
    """
    found: dict[str, Spot] = {}
    for stretch in {(s.section, s.skin, s.found): s for s in job.stretches if s.outdoors}.values():
        section = job.sections[stretch.section]
        warm = surfaces(section, stretch.skin, after, ground, design)
        bare = surfaces(section, stretch.found, before, ground, design)
        corner = corner_spot(section, (stretch.found, stretch.skin), (before, after), design)
        for spot in (*_told(stretch.wall, bare, warm), *corner):
            one = replace(spot, wall=stretch.wall)
            if one.place not in found or one.after < found[one.place].after:
                found[one.place] = one
    shown = tuple(spot for place, spot in found.items() if place != "whole wall")
    return shown, found


def _told(wall: str, before: Mapping[str, float], after: Mapping[str, float]) -> Iterator[Spot]:
    for place in PLACES:
        if not np.isnan(after[place]):
            yield Spot(place, wall, before[place], after[place])


def corner_spot(
    section: Section, skins: tuple[Skin, Skin], indoors: tuple[Indoors, Indoors], design: float
) -> Sequence[Spot]:
    """The corner of two such walls above the ground; empty where hardly any concrete shows.

    section : without layers
    skins : what is on it before and after
    indoors : temperature of the basement before and after
    design : outdoor temperature [C]
    """
    if section.showing < EDGE:
        return ()
    at = [
        design
        + corner_factor(section.wall_thickness, round(skin.wall, 3), section.concrete.conductivity)
        * (room.on_the_day - design)
        for skin, room in zip(skins, indoors, strict=True)
    ]
    return (Spot("corner", "", at[0], at[1]),)


@lru_cache(maxsize=256)
def corner_factor(thickness: float, layers: float, conductivity: float) -> float:
    """Room-side surface in the corner of two walls, over the difference of room and outdoors [-].

    thickness : of the concrete [m]
    layers : inside it [m2.K/W]
    conductivity : of the concrete [W/(m.K)]
    """
    film = value("comfort", "corner_film")
    faces = graded((-thickness, 0.0, ARM), {-thickness: 0.04, 0.0: 0.01}, 1.5)
    grid = Grid((faces, faces))
    x, y = grid.mesh()
    k = np.where((x < 0) | (y < 0), conductivity, np.nan)
    across, along = ((0.0, 0.0), (0.0, ARM)), ((0.0, ARM), (0.0, 0.0))
    left, low = ((-thickness, -thickness), (-thickness, ARM)), ((-thickness, ARM), (-thickness, -thickness))
    patches = [Patch("room", box, film + layers, {INDOOR: 1.0}) for box in (across, along)]
    patches += [Patch("out", box, OUTSIDE_SURFACE, {OUTDOOR: 1.0}) for box in (left, low)]
    solution = System(Body(grid, k, patches)).solve({INDOOR: 1.0, OUTDOOR: 0.0})
    centre, faced = solution.on_patch("room")
    nearest = float(np.real(faced[np.argmin(np.abs(centre).sum(axis=1))]))
    return 1.0 - (1.0 - nearest) * film / (film + layers)


@dataclass(frozen=True)
class Draught:
    """What one feels at the foot of a wall on the design day.

    floor : surface of the floor within 10 cm of the wall, before and after [C]
    floor_limit : lowest comfortable [C]
    speed : of the air that falls along the wall, near the floor, before and after [m/s]
    speed_limit : highest comfortable [m/s]
    """

    floor: tuple[float, float]
    floor_limit: float
    speed: tuple[float, float]
    speed_limit: float


def draught(job: GroundJob, worst: Mapping[str, Spot], before: Indoors, after: Indoors) -> Draught | None:
    """Cold floor and falling air at the worst wall; None where no wall is outdoors.

    job : for the height of the walls
    worst : coldest spot of each place
    before, after : temperature of the basement
    """
    if "floor edge" not in worst or "whole wall" not in worst:
        return None
    height = max(section.wall_height for section in job.sections)
    wall, floor = worst["whole wall"], worst["floor edge"]
    rooms = (before.on_the_day, after.on_the_day)
    speeds = [falling(height, room - t) for room, t in zip(rooms, (wall.before, wall.after), strict=True)]
    return Draught(
        (floor.before, floor.after),
        value("comfort", "floor"),
        (speeds[0], speeds[1]),
        value("comfort", "speed"),
    )


def falling(height: float, difference: float) -> float:
    """Greatest speed of the air near the floor at the foot of a cold wall [m/s].

    height : of the wall [m]
    difference : room less mean surface of the wall [K]
    """
    return value("comfort", "downdraught") * float(np.sqrt(height * max(difference, 0.0)))
