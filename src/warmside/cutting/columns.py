"""The fewest batts for sizes wanted, and the least number that any cutting in two rounds could need.

Column generation: Gilmore, P. C. & Gomory, R. E. (1961), A linear programming approach to the cutting-stock
problem, Operations Research 9(6), 849-859. Bound from the prices of any round: Farley, A. A. (1990), A note
on bounding a class of linear programming problems, including cutting stock problems, Operations Research
38(5), 922-924. The linear programs are solved by HiGHS in scipy; all stops are on counts, never on a clock.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csc_array

from warmside.cutting.every_way import MOST_SIZES, every_way
from warmside.cutting.patterns import (
    MOST_CELLS,
    MOST_CELLS_OF_BOUND,
    Pattern,
    Priced,
    Size,
    Stock,
    fits,
    price,
    stocks,
)

MOST_ROUNDS = 150
"""After so many rounds of prices the patterns found are taken as they are."""
MOST_WORK = 150_000_000
"""After so many sizes times patterns, summed over the rounds, too; 1,000 odd pieces need half of that."""
APART = 40
"""So many patterns without a size in common are looked for in one round."""
TRUST = 0.3
"""So much of the newest prices goes into those that are tried; the rest is the best ones so far [-]."""
MOST_NODES = 200
"""So many branches are looked at to choose whole numbers of the patterns."""
MOST_CHOICE = 160_000
"""With more sizes times patterns not all are branched on: a first node alone would take too long."""
FEW_SIZES, FEW_PATTERNS = 90, 500
"""Then up to so many sizes are branched on, with so many patterns that cost least; more sizes are not."""
MOST_NODES_OF_PROOF = 2_000
"""So many where every way to cut a batt is at hand, so that what is not found is proved not to be."""
MOST_DIVES = 20
"""So often some batts are settled and the rest is priced anew."""
MOST_TRIES = 3
"""So often what is not settled yet is searched in every way."""
SETTLED_AT_ONCE = 6
"""Patterns wanted whole are settled, and of those in part as many as make one batt in so many."""
SHORT = 0.2
"""A pattern that is worth so much less than a batt is forgotten when some batts are settled [batts]."""
SAME = 1e-7
"""A pattern must be worth so much more than a batt to be taken up [batts]."""
ROUND_OFF = 1e-6
"""What floating point may add to a bound [batts]."""
SOLVED, CANNOT = 0, 2
"""How scipy says that it has the optimum, and that there is none."""

Proof = Literal["area", "prices", "search"]
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


@dataclass(frozen=True)
class _Parts:
    """Patterns, how often each is cut if it can be cut in part, and by how much each is not worth a batt."""

    patterns: list[Pattern]
    often: Floats
    short: Floats

    @property
    def total(self) -> float:
        """Batts, in part."""
        return float(self.often.sum())

    def with_more(self, patterns: Sequence[Pattern], prices: Floats) -> _Parts:
        """The same and some patterns that are not cut yet."""
        short = [1.0 - _worth(pattern, prices) for pattern in patterns]
        often = np.concatenate([self.often, np.zeros(len(patterns))])
        return _Parts([*self.patterns, *patterns], often, np.concatenate([self.short, short]))

    @property
    def kept(self) -> list[Pattern]:
        """Those that may still serve when prices change a little; what is cut in part is among them."""
        return [pattern for pattern, short in zip(self.patterns, self.short, strict=True) if short < SHORT]


@dataclass(frozen=True)
class _Priced:
    """Patterns that may be cut in part, the bound, and the prices that prove it: no pattern is worth more."""

    parts: _Parts
    bound: int
    prices: Floats
    dearest: float


@dataclass(frozen=True)
class _Chosen:
    """Whole batts, at most as many as asked for, or None; `proved` where there are no fewer."""

    batts: list[Pattern] | None
    proved: bool


@lru_cache(maxsize=64)
def fewest(width: int, length: int, sizes: tuple[Size, ...], start: tuple[Pattern, ...]) -> Cutting:
    """A cutting with no more batts than `start`, which must cut all that is wanted.

    width, length : of a batt [length units]
    """
    area = sum(size.width * size.height * size.wanted for size in sizes)
    least = -(-area // (width * length))
    if len(start) <= least:
        return Cutting(start, least, "area")
    desk = _Desk(width, length, sizes)
    priced = desk.generate(list(dict.fromkeys(start)), desk.wanted)
    proof: Proof = "prices" if priced.bound > least else "area"
    least = max(least, priced.bound)
    batts = _whole(desk, priced, start, least)
    if len(batts) <= least:
        return Cutting(batts, least, proof)
    chosen = _of_every_way(desk, priced, desk.wanted, len(batts) - 1)
    best = batts if chosen.batts is None else _as_wanted(chosen.batts, sizes)
    return Cutting(best, len(best), "search") if chosen.proved else Cutting(best, least, proof)


class _Desk:
    """Sizes wanted from a batt, and the finding of patterns for them; what is wanted may shrink."""

    def __init__(self, width: int, length: int, sizes: Sequence[Size]) -> None:
        self.width, self.length, self.sizes = width, length, sizes
        self.wanted = np.array([size.wanted for size in sizes], dtype=float)
        views = [stocks(width, length, sizes, MOST_CELLS, up=up) for up in (True, False)]
        self._rounded = views[0] != views[1]
        self._batt = list(dict.fromkeys(stock for view in views for stock in view))

    def generate(self, patterns: list[Pattern], wanted: Floats) -> _Priced:
        """Patterns worth cutting, found round by round from their prices, and the bound that these prove.

        Prices jump from round to round; between the newest and those with the best bound they settle.

        patterns : some that cut all sizes
        wanted : of each size
        """
        patterns, known = list(patterns), set(patterns)
        batt = [replace(stock, wanted=tuple(map(int, wanted))) for stock in self._batt]
        settled = _Round(np.zeros(len(wanted)), 0.0, [])
        work = 0
        for number in range(MOST_ROUNDS):
            work += len(patterns) * int(np.count_nonzero(wanted))
            parts, newest = _linear(patterns, wanted)
            new: list[Pattern] = []
            for prices in [TRUST * newest + (1 - TRUST) * settled.prices, newest][0 if number else 1 :]:
                tried = _priced(batt, prices, wanted, newest)
                settled = max(settled, tried, key=lambda each: each.bound)
                new = [p for p in dict.fromkeys(tried.patterns) if p not in known and self._fits(p)]
                if new:
                    break
            if not new or _up(settled.bound) >= _up(parts.total) or work > MOST_WORK:
                break
            patterns += new
            known.update(new)
        near = [p for p in _near(batt, newest) if p not in known and self._fits(p)]
        bound = max(_up(settled.bound), self._finer(settled.prices, wanted))
        dearest = float(settled.prices @ wanted) / settled.bound if settled.bound > 0.0 else 0.0
        return _Priced(parts.with_more(near, newest), bound, settled.prices, dearest)

    def _fits(self, pattern: Pattern) -> bool:
        return fits(pattern, self.width, self.length, self.sizes)

    def _finer(self, prices: Floats, wanted: Floats) -> int:
        """The bound of the same prices in finer cells, where sizes are rounded."""
        if not self._rounded:
            return 0
        finer = stocks(self.width, self.length, self.sizes, MOST_CELLS_OF_BOUND, up=False)
        return _up(_bound(prices, wanted, max(price(stock, prices).worth for stock in finer)))


def _up(batts: float) -> int:
    return math.ceil(batts - ROUND_OFF)


def _bound(prices: Floats, wanted: Floats, dearest: float) -> float:
    """No cutting needs fewer batts than prices over the best pattern."""
    return float(prices @ wanted) / dearest if dearest > 0.0 else 0.0


def _priced(batt: Sequence[Stock], prices: Floats, wanted: Floats, newest: Floats) -> _Round:
    """The bound of these prices, and patterns good for them that are worth more than a batt at the newest."""
    dearest, patterns = 0.0, list[Pattern]()
    for stock in batt:
        for number, found in enumerate(_apart(stock, prices)):
            dearest = max(dearest, found.worth)
            if number and not _worth(found.patterns[0], newest) > 1.0 + SAME:
                break
            patterns += found.patterns
    worth_it = [pattern for pattern in patterns if _worth(pattern, newest) > 1.0 + SAME]
    return _Round(prices, _bound(prices, wanted, dearest), worth_it)


def _apart(stock: Stock, prices: Floats) -> Iterator[Priced]:
    """The best patterns, then again and again those without the sizes of the best ones so far.

    Patterns that have no size in common serve a program with many sizes best.
    """
    rest = prices.copy()
    for _ in range(APART):
        found = price(stock, rest)
        yield found
        rest[list(found.patterns[0].counts)] = 0.0
        if not rest.any():
            return


def _near(batt: Sequence[Stock], prices: Floats) -> list[Pattern]:
    """Patterns that are worth nearly a batt; whole numbers want more to choose from than parts do."""
    every = (p for stock in batt for found in _apart(stock, prices) for p in found.patterns)
    return [pattern for pattern in dict.fromkeys(every) if _worth(pattern, prices) > 1.0 - SHORT]


def _worth(pattern: Pattern, prices: Floats) -> float:
    return float(sum(prices[number] * count for number, count in pattern.counts.items()))


def _matrix(patterns: Sequence[Pattern], sizes: int) -> csc_array:
    """How many of each size (rows) come out of each pattern (columns)."""
    cells = [(n, col, c) for col, p in enumerate(patterns) for n, c in sorted(p.counts.items())]
    rows, columns, counts = zip(*cells, strict=True)
    return csc_array((np.array(counts, dtype=float), (rows, columns)), shape=(sizes, len(patterns)))


def _linear(patterns: list[Pattern], wanted: Floats) -> tuple[_Parts, Floats]:
    """Fewest batts if patterns could be cut in part, and the price of each size."""
    solved = linprog(
        np.ones(len(patterns)), A_ub=-_matrix(patterns, len(wanted)), b_ub=-wanted, method="highs-ipm"
    )
    parts = _Parts(list(patterns), np.asarray(solved.x), np.asarray(solved.lower.marginals))
    return parts, np.maximum(0.0, -solved.ineqlin.marginals)


def _whole(desk: _Desk, priced: _Priced, start: tuple[Pattern, ...], least: int) -> tuple[Pattern, ...]:
    """Whole numbers of the patterns: some batts are settled, the rest is branched on, or priced anew.

    Where nothing with fewer batts than the start is found, the start stands.
    """
    best, settled, left, parts = start, list[Pattern](), desk.wanted, priced.parts
    tries = MOST_TRIES
    for dive in range(MOST_DIVES):
        chosen = _branched(parts, left, min(len(best), least + 2) - len(settled), least - len(settled))
        few = dive > 0 and np.count_nonzero(left) <= MOST_SIZES
        if few and tries and (chosen is None or len(settled) + len(chosen) >= len(best)):
            every = _of_every_way(desk, priced, left, len(best) - len(settled) - 1)
            chosen, tries = every.batts, tries - 1
        if chosen is not None:
            whole = _as_wanted([*settled, *chosen], desk.sizes)
            best = whole if len(whole) < len(best) else best
        settled += _settled(parts, left)
        left = np.maximum(0.0, desk.wanted - _cut(settled, len(left)))
        if len(best) <= least or not left.any():
            break
        priced = desk.generate(parts.kept, left)
        parts = priced.parts
        if len(settled) + _up(parts.total) >= len(best):
            break
    return best


def _of_every_way(desk: _Desk, priced: _Priced, wanted: Floats, most: int) -> _Chosen:
    """The fewest batts, at most so many, from every pattern that can be part of them."""
    worth = float(priced.prices @ wanted)
    sizes = [replace(size, wanted=int(count)) for size, count in zip(desk.sizes, wanted, strict=True)]
    at_least = worth - (most - 1) * priced.dearest
    patterns = every_way(desk.width, desk.length, sizes, priced.prices, at_least)
    if patterns is None:
        return _Chosen(None, proved=False)
    if not patterns:
        return _Chosen(None, proved=True)
    each = np.ones(len(patterns))
    chosen = milp(
        each,
        integrality=each,
        bounds=Bounds(0, np.inf),
        constraints=[
            LinearConstraint(_matrix(patterns, len(wanted)), lb=wanted),
            LinearConstraint(each, ub=most),
        ],
        options={"node_limit": MOST_NODES_OF_PROOF, "mip_rel_gap": 0.5 / most},
    )
    batts = None if chosen.x is None else _repeated(patterns, np.rint(chosen.x))
    return _Chosen(batts, proved=chosen.status in (SOLVED, CANNOT))


def _branched(parts: _Parts, wanted: Floats, best: int, least: int) -> list[Pattern] | None:
    """Fewer batts than the best, by branching within a count; None where none are found.

    A pattern that is not worth a batt by more than what is to be won has no place in them.
    """
    use = np.flatnonzero(parts.short <= best - 1 - parts.total + SAME)
    sizes = np.count_nonzero(wanted)
    if len(use) * sizes > MOST_CHOICE:
        cheap = np.argsort(parts.short[use], kind="stable")[:FEW_PATTERNS]
        use = np.sort(use[cheap]) if sizes <= FEW_SIZES else use[:0]
    if not len(use):
        return None
    patterns = [parts.patterns[number] for number in use]
    chosen = milp(
        np.ones(len(patterns)),
        integrality=np.ones(len(patterns)),
        bounds=Bounds(0, np.inf),
        constraints=LinearConstraint(_matrix(patterns, len(wanted)), lb=wanted),
        options={"node_limit": MOST_NODES, "mip_rel_gap": 0.5 / (least + 1)},
    )
    return None if chosen.x is None else _repeated(patterns, np.rint(chosen.x))


def _settled(parts: _Parts, wanted: Floats) -> list[Pattern]:
    """Patterns as often as they are wanted whole; where these are few, some of those wanted most."""
    whole = np.floor(parts.often + ROUND_OFF)
    missing = math.ceil(parts.total / SETTLED_AT_ONCE) - int(whole.sum())
    if missing > 0:
        part = parts.often - whole
        whole[np.argsort(-part, kind="stable")[:missing]] += 1.0
    return _repeated(parts.patterns, whole)


def _repeated(patterns: Sequence[Pattern], often: Floats) -> list[Pattern]:
    return [pattern for pattern, count in zip(patterns, often, strict=True) for _ in range(int(count))]


def _cut(batts: Sequence[Pattern], sizes: int) -> Floats:
    """How many of each size come out of these batts."""
    return np.asarray(_matrix(batts, sizes).sum(axis=1), dtype=float)


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
