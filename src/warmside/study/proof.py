"""How well the grid of a section resolves its heat: two grids, and what the balance misses.

Steady heat out of a bare section by one kelvin, extrapolated from two nested grids; the error is the distance
of the grid in use from that. It says nothing of the section's own error (2-D for a house, 4 % low on the
mean), of soil, or of weather.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from warmside.physics.conduction import one_thread
from warmside.physics.ground import GROUND, INDOOR, OUTDOOR, Section, section_body, steady_loss

ONE_KELVIN = {INDOOR: 1.0, OUTDOOR: 0.0, GROUND: 0.0}


@dataclass(frozen=True)
class Proof:
    """What two grids say of one section.

    heat : of the room per metre of wall and kelvin, extrapolated [W/(m.K)]
    grid : error of the grid in use, of that heat [-]
    balance : what the balance of energy misses, of all heat [-]
    cells : of the grid in use
    """

    heat: float
    grid: float
    balance: float
    cells: int


def section_proof(section: Section) -> Proof:
    """Solve a section on the grid in use and on one half as fine."""
    with one_thread():
        found = steady_loss(partial(section_body, section), ONE_KELVIN)
    return Proof(found.heat.value, abs(found.heat.error / found.heat.value), found.balance, found.cells)
