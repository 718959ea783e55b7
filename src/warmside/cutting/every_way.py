"""Every way to cut a batt that could be part of a cutting with few batts; or that there are too many.

Prices of the sizes leave no room for bad patterns: where all that is wanted is worth T, and no pattern more
than W, each of N batts is worth at least T - (N - 1) W (reduced-cost fixing; Nemhauser, G. L. & Wolsey, L. A.
(1988), Integer and Combinatorial Optimization, section II.5.2). What is left is listed by true sizes, without
cells. Patterns that another one holds are left out. All stops are on counts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from warmside.cutting.patterns import First, Pattern, Size

MOST_STEPS = 200_000
"""So many strips and patterns are looked at, also those that come to nothing."""
MOST_WAYS = 6_000
"""With more ways to cut a batt nothing is chosen from them."""
MOST_SIZES = 60
"""Of more sizes there are too many ways."""
MOST_SIDE_BY_SIDE = 120
"""So of a size that goes so often into a batt."""
ROUND_OFF = 1e-6
"""What floating point may take from a worth [batts]."""

Floats = NDArray[np.float64]


class TooManyError(ValueError):
    """There are more ways than are listed."""


@dataclass(frozen=True)
class _Item:
    """One size as a strip has it: its thickness, its length along the strip, how many, its price."""

    number: int
    thick: int
    along: int
    wanted: int
    price: float


@dataclass(frozen=True)
class _Strip:
    """One strip that takes no further piece: its thickness, its pieces, what it is worth."""

    thick: int
    items: tuple[int, ...]
    worth: float


class _Steps:
    """Counts what is looked at. Raises TooManyError."""

    def __init__(self) -> None:
        self.left = MOST_STEPS

    def take(self) -> None:
        self.left -= 1
        if self.left < 0:
            raise TooManyError


class _Best:
    """The most that fits into a room, by thickness and worth; each as often as one likes."""

    def __init__(self, worth: Mapping[int, float], steps: _Steps) -> None:
        self._worth = sorted((size, value) for size, value in worth.items() if value > 0.0)
        self._known: dict[int, float] = {}
        self._steps = steps

    def of(self, room: int) -> float:
        """The most for a room."""
        if room not in self._known:
            self._steps.take()
            fitting = ((size, worth) for size, worth in self._worth if size <= room)
            self._known[room] = max((worth + self.of(room - size) for size, worth in fitting), default=0.0)
        return self._known[room]


@dataclass(frozen=True)
class _Way:
    """One way to begin: the room for strips, the room along each, the sizes."""

    first: First
    room: int
    room_along: int
    items: tuple[_Item, ...]

    def strips(self, at_least: float, steps: _Steps) -> list[_Strip]:
        """Every strip that can be part of a batt worth so much, the thickest first."""
        by_thick = {t: self._strip_worth(t, steps) for t in sorted({item.thick for item in self.items})}
        best = _Best(by_thick, steps)
        found: list[_Strip] = []
        for thick in by_thick:
            wanted = at_least - best.of(self.room - thick)
            found += (strip for strip in self._of(thick, wanted, steps))
        return sorted(found, key=lambda strip: (-strip.thick, strip.items))

    def _strip_worth(self, thick: int, steps: _Steps) -> float:
        """No strip of a thickness is worth more."""
        best: dict[int, float] = {}
        for item in self.items:
            if item.thick <= thick:
                best[item.along] = max(item.price, best.get(item.along, 0.0))
        return _Best(best, steps).of(self.room_along)

    def _of(self, thick: int, at_least: float, steps: _Steps) -> Iterator[_Strip]:
        """Strips as thick as their thickest piece, worth so much, into which no other piece goes."""
        items = sorted((i for i in self.items if i.thick <= thick), key=lambda i: (-i.along, i.number))
        best = list(_from_each_on(items, steps))

        def filled(n: int, room: int, taken: tuple[int, ...], worth: float, spare: int) -> Iterator[_Strip]:
            """spare : the shortest piece that was left out"""
            steps.take()
            if worth + best[n].of(room) < at_least - ROUND_OFF:
                return
            if n == len(items):
                if room < spare and any(self._thick[number] == thick for number in taken):
                    yield _Strip(thick, taken, worth)
                return
            item = items[n]
            most = min(item.wanted, room // item.along)
            for count in range(most, -1, -1):
                short = spare if count == item.wanted else min(spare, item.along)
                rest = room - count * item.along
                yield from filled(
                    n + 1, rest, taken + (item.number,) * count, worth + count * item.price, short
                )

        yield from filled(0, self.room_along, (), 0.0, self.room_along + 1)

    @cached_property
    def _thick(self) -> Mapping[int, int]:
        return {item.number: item.thick for item in self.items}

    def patterns(self, at_least: float, steps: _Steps) -> Iterator[Pattern]:
        """Every pattern worth so much into which no other strip goes."""
        strips = self.strips(at_least, steps)
        best: dict[int, float] = {}
        for strip in strips:
            best[strip.thick] = max(strip.worth, best.get(strip.thick, 0.0))
        rest = _Best(best, steps)

        def filled(start: int, room: int, taken: tuple[int, ...], worth: float) -> Iterator[Pattern]:
            steps.take()
            open_ = False
            for n in range(start, len(strips)):
                strip = strips[n]
                if strip.thick <= room:
                    open_ = True
                    if worth + strip.worth + rest.of(room - strip.thick) >= at_least - ROUND_OFF:
                        yield from filled(n, room - strip.thick, (*taken, n), worth + strip.worth)
            if not open_ and taken and worth >= at_least - ROUND_OFF:
                yield Pattern(self.first, tuple(strips[n].items for n in taken))

        yield from filled(0, self.room, (), 0.0)


def _from_each_on(items: Sequence[_Item], steps: _Steps) -> Iterator[_Best]:
    """The most that each item and those behind it can be worth, and at last nothing."""
    worth: dict[int, float] = {}
    found = [_Best({}, steps)]
    for item in reversed(items):
        worth = {**worth, item.along: max(item.price, worth.get(item.along, 0.0))}
        found.append(_Best(worth, steps))
    return reversed(found)


def every_way(
    width: int, length: int, sizes: Sequence[Size], prices: Floats, at_least: float
) -> list[Pattern] | None:
    """Every pattern of a batt that is worth at least so much, but for those that another one holds.

    None where there are too many. A pattern may hold more of a size than is wanted.

    width, length : of a batt [length units]
    at_least : by the prices [batts]
    """
    steps, found = _Steps(), dict[tuple[tuple[int, int], ...], Pattern]()
    left = [size for size in sizes if size.wanted > 0]
    smallest = min(min(size.width for size in left), min(size.height for size in left))
    if len(left) > MOST_SIZES or max(width, length) > MOST_SIDE_BY_SIDE * smallest:
        return None
    try:
        for way in _ways(width, length, sizes, prices):
            for pattern in way.patterns(at_least, steps):
                held = _held(pattern, sizes)
                found.setdefault(tuple(sorted(held.items())), pattern)
                if len(found) > MOST_WAYS:
                    return None
    except TooManyError:
        return None
    return [pattern for held, pattern in found.items() if not _is_held(dict(held), sizes, found)]


def _ways(width: int, length: int, sizes: Sequence[Size], prices: Floats) -> Iterator[_Way]:
    wanted = [(n, size, float(prices[n])) for n, size in enumerate(sizes) if size.wanted > 0]
    across = tuple(_Item(n, size.height, size.width, size.wanted, p) for n, size, p in wanted)
    ripped = tuple(_Item(n, size.width, size.height, size.wanted, p) for n, size, p in wanted)
    yield _Way("across", length, width, across)
    yield _Way("ripped", width, length, ripped)


def _held(pattern: Pattern, sizes: Sequence[Size]) -> Counter[int]:
    """How many of each size that are of use come out of it."""
    return Counter({n: min(count, sizes[n].wanted) for n, count in pattern.counts.items()})


def _is_held(
    held: dict[int, int], sizes: Sequence[Size], found: Mapping[tuple[tuple[int, int], ...], Pattern]
) -> bool:
    """True where another pattern gives one piece more and all of these."""
    more = ({**held, n: held.get(n, 0) + 1} for n, size in enumerate(sizes) if held.get(n, 0) < size.wanted)
    return any(tuple(sorted(each.items())) in found for each in more)
