"""A basement by its sections beside ISO 13370: sums of the formulas worked by hand, and where both agree."""

from __future__ import annotations

from dataclasses import replace

import pytest

from warmside.physics.ground import Section
from warmside.physics.ground_rules import Soil
from warmside.study.ground_job import FloorPlan, GroundJob, Skin, Stretch
from warmside.study.standard import as_the_standard, beside_standard

CLAY = Soil(1.5, 3e6)


def job(half_width: float, skin: Skin, *lengths: float) -> GroundJob:
    """Walls of 2 m in the ground, none of it showing, concrete like soil; the floor as long as its walls."""
    section = Section(half_width, 2.0, 0.0, CLAY, rim_height=0.0, concrete=CLAY, film_ground=0.04)
    round_ = sum(lengths)
    walls = [Stretch("A", length, 0, None, True, skin, Skin()) for length in lengths]
    return GroundJob(FloorPlan(half_width * round_, round_, True), (section,), tuple(walls))


def test_the_formulas_are_summed_over_all_stretches() -> None:
    # 10 x 10 m: dt = 0.2 + 1.5 (0.17 + 0.04) = 0.515 m, B' = 5 m, dt + z/2 = 1.515 m, floor
    # 3 / (5 pi + 1.515) ln(5 pi / 1.515 + 1) = 0.4234; dw = 1.5 (0.13 + 2 + 0.2/1.5 + 0.04) = 3.455 m, wall
    # 3 / (2 pi) (1 + 0.2575 / 2.515) ln(2 / 3.455 + 1) = 0.2404; 100 x 0.4234 + 80 x 0.2404 = 61.57 W/K.
    # Four digits by hand leave 0.02.
    found = {(each.when, each.what): each for each in beside_standard(job(2.5, Skin(2.0), 25.0, 15.0))}
    assert found["after", "steady"].standard == pytest.approx(61.57, abs=0.02)
    assert found["before", "steady"].standard > found["after", "steady"].standard


def test_a_wide_floor_in_soil_alone_agrees() -> None:
    # 8 % steady, 20 % of the swing outdoors, 30 % of the swing indoors: what converged solutions differ by.
    wide = job(5.0, Skin(2.0), 10.0)
    for each in beside_standard(
        replace(wide, stretches=(replace(wide.stretches[0], found=Skin(4.0, floor=2.0)),))
    ):
        within = {"steady": 0.08, "outdoors": 0.20, "indoors": 0.30}[each.what]
        assert each.section == pytest.approx(each.standard, rel=within)


def test_a_stretch_at_grade_is_a_slab() -> None:
    """A walk-out: its depth is none, and its share of the floor goes with its length."""
    whole = job(2.5, Skin(2.0), 30.0, 10.0)
    out = replace(whole, sections=(replace(whole.sections[0], showing=2.0),))
    slab = as_the_standard(out, out.stretches[1], Skin(2.0))
    assert (slab.area, slab.perimeter, slab.depth) == (25.0, 10.0, 0.0)
    # 25 m2 of 3 / (5 pi + 0.515) ln(5 pi / 0.515 + 1) = 0.6380 W/(m2.K); four digits by hand leave 0.01.
    assert slab.steady() == pytest.approx(15.95, abs=0.01)
