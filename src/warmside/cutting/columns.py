"""The fewest batts for sizes wanted, and the least number that any cutting in two rounds could need.

Column generation: Gilmore, P. C. & Gomory, R. E. (1961), A linear programming approach to the cutting-stock
problem, Operations Research 9(6), 849-859. Bound from the prices of any round: Farley, A. A. (1990), A note
on bounding a class of linear programming problems, including cutting stock problems, Operations Research
38(5), 922-924. The linear programs are solved by HiGHS in scipy; all stops are on counts, never on a clock.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csc_array

from warmside.cutting.patterns import (
    MOST_CELLS,
    MOST_CELLS_OF_BOUND,
    Pattern,
    Size,
    Stock,
    fits,
    price,
    stocks,
)

MOST_ROUNDS = 150
"""After so many rounds of prices the patterns found are taken as they are."""
MOST_WORK = 60_000_000
"""After so many sizes times patterns, summed over the rounds, too; 1,000 odd pieces get that far."""
MOST_NODES = 200
"""So many branches are looked at to choose whole numbers of the patterns."""
MOST_CHOICE = 400_000
"""With more sizes times patterns no branching is tried: a first node alone would take too long."""
SAME = 1e-7
"""A pattern must be worth so much more than a batt to be taken up [batts]."""
ROUND_OFF = 1e-6
"""What floating point may add to a bound [batts]."""

Proof = Literal["area", "prices"]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Cutting:
    """A way to cut all sizes: a pattern for every batt, and the least number with how it was proved."""

    batts: tuple[Pattern, ...]
    least: int
    proof: Proof


@dataclass(frozen=True)
class _Round:
    """Prices of the sizes, the bound that they prove [batts], and the patterns that are good for them."""

    prices: Floats
    bound: float
    patterns: list[Pattern]


@lru_cache(maxsize=64)
def fewest(width: int, length: int, sizes: tuple[Size, ...], start: tuple[Pattern, ...]) -> Cutting:
    """A cutting with no more batts than `start`, which must cut all that is wanted.

    width, length : of a batt [length units]
    """
    area = sum(size.width * size.height * size.wanted for size in sizes)
    least = -(-area // (width * length))
    if len(start) <= least:
        return Cutting(start, least, "area")
    patterns, bound = _generate(width, length, sizes, start)
    proof: Proof = "prices" if bound > least else "area"
    least = max(least, bound)
    return Cutting(_whole(patterns, sizes, start, least), least, proof)


def _generate(
    width: int, length: int, sizes: Sequence[Size], start: Sequence[Pattern]
) -> tuple[list[Pattern], int]:
    """Patterns worth cutting, found round by round from their prices, and the bound that the prices prove.

    Prices jump from round to round; half way between the newest and those with the best bound they settle.
    """
    views = [stocks(width, length, sizes, MOST_CELLS, up=up) for up in (True, False)]
    batt = list(dict.fromkeys(stock for view in views for stock in view))
    wanted = np.array([size.wanted for size in sizes], dtype=float)
    patterns, known = list(dict.fromkeys(start)), set(start)
    settled = _Round(np.zeros(len(sizes)), 0.0, [])
    work = 0
    for number in range(MOST_ROUNDS):
        work += len(patterns) * len(sizes)
        newest, total = _linear(patterns, wanted)
        new: list[Pattern] = []
        for prices in [0.5 * (newest + settled.prices), newest][0 if number else 1 :]:
            tried = _priced(batt, prices, wanted)
            settled = max(settled, tried, key=lambda each: each.bound)
            worth_it = [p for p in tried.patterns if p not in known and _worth(p, newest) > 1.0 + SAME]
            new = [p for p in dict.fromkeys(worth_it) if fits(p, width, length, sizes)]
            if new:
                break
        if not new or _up(settled.bound) >= _up(total) or work > MOST_WORK:
            break
        patterns += new
        known.update(new)
    if views[0] != views[1]:
        finer = stocks(width, length, sizes, MOST_CELLS_OF_BOUND, up=False)
        settled = max(settled, _priced(finer, settled.prices, wanted), key=lambda each: each.bound)
    return patterns, _up(settled.bound)


def _up(batts: float) -> int:
    return math.ceil(batts - ROUND_OFF)


def _priced(batt: Sequence[Stock], prices: Floats, wanted: Floats) -> _Round:
    """Good patterns for these prices; no cutting needs fewer batts than prices over the best pattern."""
    found = [price(stock, prices) for stock in batt]
    dearest = max(each.worth for each in found)
    bound = float(prices @ wanted) / dearest if dearest > 0.0 else 0.0
    return _Round(prices, bound, [pattern for each in found for pattern in each.patterns])


def _worth(pattern: Pattern, prices: Floats) -> float:
    return float(sum(prices[number] * count for number, count in pattern.counts.items()))


def _matrix(patterns: Sequence[Pattern], sizes: int) -> csc_array:
    """How many of each size (rows) come out of each pattern (columns)."""
    cells = [(n, col, c) for col, p in enumerate(patterns) for n, c in sorted(p.counts.items())]
    rows, columns, counts = zip(*cells, strict=True)
    return csc_array((np.array(counts, dtype=float), (rows, columns)), shape=(sizes, len(patterns)))


def _linear(patterns: Sequence[Pattern], wanted: Floats) -> tuple[Floats, float]:
    """Price of each size, and fewest batts, if patterns could be cut in part."""
    solved = linprog(
        np.ones(len(patterns)), A_ub=-_matrix(patterns, len(wanted)), b_ub=-wanted, method="highs-ds"
    )
    return np.maximum(0.0, -solved.ineqlin.marginals), float(solved.fun)


def _whole(
    patterns: Sequence[Pattern], sizes: Sequence[Size], start: tuple[Pattern, ...], least: int
) -> tuple[Pattern, ...]:
    """Whole numbers of the patterns, by branching within a count; the start where that finds no fewer."""
    wanted = np.array([size.wanted for size in sizes], dtype=float)
    if len(patterns) * len(sizes) > MOST_CHOICE:
        return start
    chosen = milp(
        np.ones(len(patterns)),
        integrality=np.ones(len(patterns)),
        bounds=Bounds(0, np.inf),
        constraints=LinearConstraint(_matrix(patterns, len(sizes)), lb=wanted),
        options={"node_limit": MOST_NODES, "mip_rel_gap": 0.5 / (least + 1)},
    )
    if chosen.x is None:
        return start
    often = np.rint(chosen.x).astype(int)
    batts = _as_wanted((p for p, n in zip(patterns, often, strict=True) for _ in range(n)), sizes)
    return batts if len(batts) < len(start) else start


def _as_wanted(batts: Iterable[Pattern], sizes: Sequence[Size]) -> tuple[Pattern, ...]:
    """The batts without what they give beyond what is wanted; empty ones are left away."""
    left = Counter({number: size.wanted for number, size in enumerate(sizes)})

    def kept(strip: Sequence[int]) -> tuple[int, ...]:
        found = []
        for number in strip:
            if left[number]:
                left[number] -= 1
                found.append(number)
        return tuple(found)

    trimmed = [Pattern(p.first, tuple(s for s in map(kept, p.strips) if s)) for p in batts]
    return tuple(pattern for pattern in trimmed if pattern.strips)
