"""The order in which batts are cut, so that the knife is set anew as seldom as can be.

Batts that are cut alike come together; from one lot to the next the knife keeps what it can. A tour through
the lots by the nearest neighbour: Rosenkrantz, D. J., Stearns, R. E. & Lewis, P. M. (1977), An analysis of
several heuristics for the traveling salesman problem, SIAM Journal on Computing 6(3), 563-581. Not always the
least number of settings.
"""

from __future__ import annotations

from collections.abc import Sequence

from warmside.cutting.rules import knife_rules

STEP = knife_rules().step.value
"""A batt is cut to this; sizes that round to the same take one setting."""

Settings = tuple[tuple[str, int], ...]
"""How the knife is set for one batt, cut after cut: across or ripped, and where [steps]."""


def setting(way: str, at: int) -> tuple[str, int]:
    """One setting of the knife for a cut at a length."""
    return way, round(at / STEP)


def changes(batts: Sequence[Settings]) -> int:
    """How often the knife is set anew when batts are cut in this order; what one batt uses is kept."""
    before: frozenset[tuple[str, int]] = frozenset()
    count = 0
    for settings in batts:
        needed = frozenset(settings)
        count += len(needed - before)
        before = needed or before
    return count


def knife_order(batts: Sequence[Settings]) -> list[int]:
    """The numbers of the batts in the order in which they are cut; whole ones come first.

    batts : the settings that each needs, in an order that settles ties
    """
    lots: dict[Settings, list[int]] = {}
    for number, settings in enumerate(batts):
        lots.setdefault(settings, []).append(number)
    waiting = sorted(lots, key=lambda lot: (bool(lot), -len(lots[lot]), lots[lot][0]))
    order: list[int] = []
    held: frozenset[tuple[str, int]] = frozenset()
    while waiting:
        lot = min(waiting, key=lambda each: (bool(each), *_effort(frozenset(each), held)))
        waiting.remove(lot)
        order += lots[lot]
        held = frozenset(lot) or held
    return order


def _effort(needed: frozenset[tuple[str, int]], held: frozenset[tuple[str, int]]) -> tuple[int, int]:
    """How many settings are new; of equal ones, the lot that uses most of those held comes first."""
    return len(needed - held), -len(needed & held)
