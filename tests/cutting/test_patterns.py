"""Ways to cut one batt, beside every way there is for a few small pieces."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from warmside.cutting.columns import fewest
from warmside.cutting.patterns import Pattern, Size, fits, price, stocks

WIDTH, LENGTH = 6, 9
Counts = tuple[int, ...]


def strips(sizes: Sequence[tuple[int, int]], left: Counts, along: int) -> Iterator[tuple[int, Counts]]:
    """Every strip of what is left: its thickness and what it takes."""
    for taken in product(*(range(count + 1) for count in left)):
        used = [(size, count) for size, count in zip(sizes, taken, strict=True) if count]
        if used and sum(size[1] * count for size, count in used) <= along:
            yield max(size[0] for size, _ in used), taken


def best_of_all(
    sizes: Sequence[tuple[int, int]], wanted: Counts, prices: Counts, room: int, along: int
) -> int:
    """The worth of the best way to cut a batt into strips, by trying every one."""

    @cache
    def best(left: Counts, free: int) -> int:
        found = 0
        for thick, taken in strips(sizes, left, along):
            if thick <= free:
                rest = tuple(a - b for a, b in zip(left, taken, strict=True))
                worth = sum(p * t for p, t in zip(prices, taken, strict=True))
                found = max(found, worth + best(rest, free - thick))
        return found

    return best(wanted, room)


PIECES = st.lists(
    st.tuples(st.integers(1, WIDTH), st.integers(1, LENGTH), st.integers(1, 2), st.integers(0, 9)),
    min_size=1,
    max_size=3,
    unique_by=lambda piece: piece[:2],
)


@given(PIECES)
@settings(max_examples=150)
def test_no_way_to_cut_is_worth_more_than_the_price_says(pieces: list[tuple[int, int, int, int]]) -> None:
    sizes = [Size(width, height, wanted) for width, height, wanted, _ in pieces]
    prices = tuple(each[3] for each in pieces)
    wanted = tuple(size.wanted for size in sizes)
    for stock in stocks(WIDTH, LENGTH, sizes, 100, up=True):
        found = price(stock, np.array(prices, dtype=float))
        across = stock.first == "across"
        ways = [(s.height, s.width) if across else (s.width, s.height) for s in sizes]
        room, along = (LENGTH, WIDTH) if across else (WIDTH, LENGTH)
        assert found.worth >= best_of_all(ways, wanted, prices, room, along)
        first = found.patterns[0]
        assert sum(prices[n] * count for n, count in first.counts.items()) == found.worth
        assert all(fits(pattern, WIDTH, LENGTH, sizes) for pattern in found.patterns)


@given(PIECES)
@settings(max_examples=60)
def test_the_least_is_never_above_what_is_cut(pieces: list[tuple[int, int, int, int]]) -> None:
    sizes = tuple(Size(width, height, wanted) for width, height, wanted, _ in pieces)
    start = tuple(Pattern("across", ((n,),)) for n, size in enumerate(sizes) for _ in range(size.wanted))
    found = fewest(WIDTH, LENGTH, sizes, start)
    assert found.least <= len(found.batts) <= len(start)
    assert all(fits(batt, WIDTH, LENGTH, sizes) for batt in found.batts)
    given_out = sum((batt.counts for batt in found.batts), Counter())
    assert given_out == Counter({number: size.wanted for number, size in enumerate(sizes)})


@pytest.mark.parametrize(
    ("pattern", "fitting"),
    [
        (Pattern("across", ((0,), (1,))), True),
        (Pattern("across", ((0, 1),)), False),
        (Pattern("ripped", ((0,), (1,))), False),
        (Pattern("ripped", ((0, 1),)), True),
    ],
)
def test_what_fits(pattern: Pattern, fitting: bool) -> None:
    # 4 x 5 and 3 x 4 in 6 x 9: one above the other makes 9 high, side by side would make 7 wide.
    assert fits(pattern, WIDTH, LENGTH, [Size(4, 5, 1), Size(3, 4, 1)]) is fitting


def test_rounded_up_pieces_fit_and_rounded_down_ones_hide_none() -> None:
    # In at most 10 cells of 101 there is room for 9.9. Up: room for 9, and each piece takes all of it. Down:
    # room for 10, and each piece takes 9.
    sizes = [Size(1001, 1001, 1), Size(998, 998, 1)]
    up, _ = stocks(1001, 1001, sizes, 10, up=True)
    down, _ = stocks(1001, 1001, sizes, 10, up=False)
    assert (up.room, up.thick) == (9, (9, 9))
    assert (down.room, down.thick) == (10, (9, 9))
