"""Compute functions of the checks on what a job saves: losses of whole basements, leakage areas, interest."""

from __future__ import annotations

from warmside.checks.registry import Inputs, computes
from warmside.physics.ground import Section
from warmside.physics.ground_rules import Soil
from warmside.study.ground_job import Skin, assembly
from warmside.study.money import years_with_interest
from warmside.study.outdoors import crack

FOOT = 0.3048
"""[m]"""


@computes("code-basement-loss")
def _code_basement_loss(row: Inputs) -> float:
    """Steady loss of wall and floor per length of wall [W/(m.K)]."""
    showing, depth = row.number("showing") * FOOT, row.number("depth") * FOOT
    soil = Soil(row.number("soil"), 2.4e6)
    section = Section(row.number("half_width"), showing + depth, showing, soil, rim_height=0.0)
    return float(assembly(section, Skin(row.number("insulation"))).loss(0.0)[0].real)


@computes("leak-at-pressure")
def _leak_at_pressure(row: Inputs) -> float:
    """Flow through a leakage area stated at 4 Pa [L/s]."""
    opening = crack(0.0, row.number("area") * 1e-4)
    return 1000.0 * opening.flow(row.number("pressure"), 1.2) / 1.2


@computes("years-of-annuity")
def _years_of_annuity(row: Inputs) -> float:
    """Years of equal savings of one that are worth so much today [a]."""
    years = years_with_interest(row.number("worth"), 1.0, row.number("rate"))
    return float("nan") if years is None else years
