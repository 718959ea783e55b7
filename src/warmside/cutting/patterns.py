"""Ways to cut one batt in two rounds, the best for given prices: across and then ripped, or the reverse.

Two-stage guillotine patterns and their pricing by dynamic programming: Gilmore, P. C. & Gomory, R. E. (1965),
Multistage cutting stock problems of two and more dimensions, Operations Research 13(1), 94-120. A piece may
be shorter or narrower than its strip; what stands over is trimmed. Pieces are not turned: fibres run up the
wall. Lengths are counted in cells; where sizes have no common cell they are rounded, so that a pattern is
tried against the true sizes before it is used.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

MOST_CELLS = 12_000
"""So fine a batt is divided at most to find patterns; 0.2 mm in a batt of 93 in."""
MOST_CELLS_OF_BOUND = 40_000
"""So fine it is divided for the bound, where rounding weakens the proof."""
SPREAD = 40
"""So many good patterns are made from one set of prices, not only the best one."""

Floats = NDArray[np.float64]
First = Literal["across", "ripped"]


@dataclass(frozen=True)
class Size:
    """Pieces of one size, and how many are wanted [length units]."""

    width: int
    height: int
    wanted: int


@dataclass(frozen=True)
class Pattern:
    """What comes out of one batt: strips in order, each the numbers of its sizes.

    first : "across": strips are lengths of the whole width, ripped next; "ripped": strips of the whole length
    """

    first: First
    strips: tuple[tuple[int, ...], ...]

    @property
    def counts(self) -> Counter[int]:
        """How many of each size come out of it."""
        return Counter(number for strip in self.strips for number in strip)


def fits(pattern: Pattern, width: int, length: int, sizes: Sequence[Size]) -> bool:
    """True where the pattern can be cut from a batt as large as this."""
    strips = [[(sizes[n].height, sizes[n].width) for n in strip] for strip in pattern.strips]
    room, along = length, width
    if pattern.first == "ripped":
        room, along = width, length
        strips = [[(wide, high) for high, wide in strip] for strip in strips]
    thick = sum(max(one for one, _ in strip) for strip in strips)
    return thick <= room and all(sum(other for _, other in strip) <= along for strip in strips)


@dataclass(frozen=True)
class Stock:
    """One batt and the sizes wanted from it, in cells: `thick` of a strip, `along` inside it."""

    first: First
    room: int
    room_along: int
    thick: tuple[int, ...]
    along: tuple[int, ...]
    wanted: tuple[int, ...]

    @cached_property
    def order(self) -> tuple[int, ...]:
        """Sizes from the thinnest strip to the thickest."""
        return tuple(sorted(range(len(self.thick)), key=lambda n: (self.thick[n], self.along[n])))


def stocks(width: int, length: int, sizes: Sequence[Size], most: int, *, up: bool) -> tuple[Stock, Stock]:
    """The batt in `most` cells for both ways to begin; sizes rounded `up` so that they fit, or down."""
    across, wide = _cells(width, [size.width for size in sizes], most, up=up)
    upright, high = _cells(length, [size.height for size in sizes], most, up=up)
    wanted = tuple(size.wanted for size in sizes)
    return (
        Stock("across", upright, across, high, wide, wanted),
        Stock("ripped", across, upright, wide, high, wanted),
    )


def _cells(room: int, sizes: Sequence[int], most: int, *, up: bool) -> tuple[int, tuple[int, ...]]:
    """Room and sizes in the largest cell that measures all sizes, else in the finest one allowed."""
    cell = math.gcd(*sizes)
    if room // cell <= most:
        return room // cell, tuple(size // cell for size in sizes)
    cell = -(-room // most)
    if up:
        # What is as large as the batt fits, however it is counted.
        return room // cell, tuple(min(-(-size // cell), room // cell) for size in sizes)
    return -(-room // cell), tuple(max(1, size // cell) for size in sizes)


class _Filling:
    """Sizes into a room one by one, each as often as it may be; remembers what was taken."""

    def __init__(self, room: int) -> None:
        self.room = room
        self.best: Floats = np.zeros(room + 1)
        self._taken: list[tuple[int, int, NDArray[np.bool_]]] = []

    @property
    def steps(self) -> int:
        """How many copies were tried so far."""
        return len(self._taken)

    def put(self, number: int, size: int, price: float, most: int) -> None:
        """Allow up to `most` of a size; one that is worth nothing is left out."""
        if price <= 0.0:
            return
        for _ in range(min(most, self.room // size)):
            with_it = self.best[: self.room + 1 - size] + price
            better = with_it > self.best[size:]
            if not better.any():
                return
            self._taken.append((number, size, better))
            self.best[size:][better] = with_it[better]

    def picked(self, room: int, step: int | None = None) -> list[int]:
        """What fills a room best, with no more copies than were tried by `step`."""
        found = []
        for number, size, better in reversed(self._taken[:step]):
            if room >= size and better[room - size]:
                found.append(number)
                room -= size
        return found


@dataclass(frozen=True)
class Priced:
    """The worth of the best pattern, and some good ones, the best first."""

    worth: float
    patterns: tuple[Pattern, ...]


def price(stock: Stock, prices: Floats) -> Priced:
    """The best patterns of a batt for these prices of its sizes.

    A strip is as thick as its thickest piece, so there are no more strips of a thickness than pieces that
    thick; within a strip every size comes as often as it is wanted.
    """
    inside, filling = _Filling(stock.room_along), _Filling(stock.room)
    strips: list[_Strip] = []
    for thick, group in _by_thickness(stock):
        for number in group:
            inside.put(number, stock.along[number], float(prices[number]), stock.wanted[number])
        strip = _Strip(thick, float(inside.best[-1]), inside.steps)
        most = sum(stock.wanted[number] for number in group)
        filling.put(len(strips), thick, strip.worth, most)
        strips.append(strip)
    worth = float(filling.best[-1])
    return Priced(worth, tuple(dict.fromkeys(_patterns(stock, inside, filling, strips))))


@dataclass(frozen=True)
class _Strip:
    """The best strip of a thickness: what it is worth, and how many copies had been tried for it."""

    thick: int
    worth: float
    steps: int


def _by_thickness(stock: Stock) -> list[tuple[int, list[int]]]:
    groups: dict[int, list[int]] = {}
    for number in stock.order:
        groups.setdefault(stock.thick[number], []).append(number)
    return list(groups.items())


def _patterns(
    stock: Stock, inside: _Filling, filling: _Filling, strips: Sequence[_Strip]
) -> Iterator[Pattern]:
    """The best pattern, then the best ones with a given strip in them, by what they are worth."""
    made: dict[int, tuple[int, ...]] = {}

    def pattern(which: Sequence[int]) -> Pattern:
        for number in which:
            if number not in made:
                made[number] = tuple(reversed(inside.picked(stock.room_along, strips[number].steps)))
        chosen = [made[number] for number in sorted(which, reverse=True)]
        return Pattern(stock.first, tuple(strip for strip in chosen if strip))

    yield pattern(filling.picked(stock.room))
    with_it = [each.worth + float(filling.best[stock.room - each.thick]) for each in strips]
    for number in sorted(range(len(strips)), key=lambda n: (-with_it[n], n))[:SPREAD]:
        yield pattern([number, *filling.picked(stock.room - strips[number].thick)])
