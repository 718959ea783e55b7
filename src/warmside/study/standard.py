"""The same basement by the formulas of ISO 13370, beside the sections: floor and wall below the ground.

Stretch by stretch, each with its own depth and layers and its share of the floor, in the likely soil. The
standard has its own films, no footing, no slab (dense concrete is neglected) and a ground as warm as the air.
Valid where the formulas are: one soil, walls of poured concrete. What shows above the ground is in neither
figure. Source: ISO 13370:2007 eq. 2 to 15 and annex B.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from warmside.physics.ground_rules import Basement
from warmside.physics.resistance import OUTSIDE_SURFACE, Direction, inside_surface
from warmside.study.ground_job import PARTS, GroundJob, Skin, Stretch, gains

When = Literal["before", "after"]
What = Literal["steady", "outdoors", "indoors"]
IN_THE_GROUND = [PARTS.index("below"), PARTS.index("floor")]

BY_RULE: dict[What, Callable[[Basement], float]] = {
    "steady": Basement.steady,
    "outdoors": Basement.outdoor_swing,
    "indoors": Basement.indoor_swing,
}
"""Heat per kelvin between indoors and outdoors, per kelvin of the year's swing outdoors, and indoors."""


@dataclass(frozen=True)
class Beside:
    """One figure by both.

    when : which layers are on the wall
    what : heat per kelvin of what
    section, standard : by the sections and by the formulas [W/K]
    """

    when: When
    what: What
    section: float
    standard: float


def beside_standard(job: GroundJob) -> tuple[Beside, ...]:
    """Each figure of a house before and after, by its sections and by the standard."""
    return tuple(_all(job))


def _all(job: GroundJob) -> Iterator[Beside]:
    whens: tuple[When, ...] = ("before", "after")
    for when in whens:
        skins = [(each, each.found if when == "before" else each.skin) for each in job.stretches]
        for what, rule in BY_RULE.items():
            section = sum(_by_section(job, each, skin)[what] for each, skin in skins)
            standard = sum(rule(as_the_standard(job, each, skin)) for each, skin in skins)
            yield Beside(when, what, section, standard)


def _by_section(job: GroundJob, stretch: Stretch, skin: Skin) -> dict[What, float]:
    """Heat into floor and wall below the ground, steady and in the wave of the year [W/K]."""
    found = gains(job.sections[stretch.section], skin)[:2, IN_THE_GROUND].sum(axis=1) * stretch.length
    return {
        "steady": float(found[0, 0].real),
        "outdoors": float(abs(found[1, 1:].sum())),
        "indoors": float(abs(found[1, 0])),
    }


def as_the_standard(job: GroundJob, stretch: Stretch, skin: Skin) -> Basement:
    """A stretch of wall with its share of the floor, as ISO 13370 sees it."""
    section = job.sections[stretch.section]
    concrete = section.wall_thickness / section.concrete.conductivity
    return Basement(
        area=job.floor.area * stretch.length / job.floor.perimeter,
        perimeter=stretch.length,
        depth=section.wall_height - section.showing,
        wall_thickness=section.wall_thickness,
        floor_resistance=inside_surface(Direction.DOWN) + skin.floor + OUTSIDE_SURFACE,
        wall_resistance=inside_surface(Direction.HORIZONTAL) + skin.wall + concrete + OUTSIDE_SURFACE,
        soil=section.soil,
    )
