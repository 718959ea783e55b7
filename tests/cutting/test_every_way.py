"""Ways to cut a batt: none that could matter is missing, each can be cut, and what that proves."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import combinations_with_replacement, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.cutting.test_nesting import NOWHERE, R12, check
from tests.test_demo_jobs import survey
from warmside.cutting import every_way as ways
from warmside.cutting.columns import fewest
from warmside.cutting.every_way import every_way
from warmside.cutting.nesting import nest
from warmside.cutting.patterns import Pattern, Size, fits
from warmside.cutting.pieces import Piece
from warmside.job.resolve import resolve
from warmside.units import MM, Length
from warmside.worked import work_through

WIDTH, LENGTH = 6, 8
WANTED = 2


def by_trying(sizes: Sequence[Size]) -> Iterator[Counter[int]]:
    """All that comes out of a batt of 6 by 8 in two rounds, by trying every set of up to four pieces."""
    for count in range(1, 5):
        for chosen in combinations_with_replacement(range(len(sizes)), count):
            if max(Counter(chosen).values()) <= WANTED and any(cut_somehow(chosen, sizes)):
                yield Counter(chosen)


def cut_somehow(chosen: Sequence[int], sizes: Sequence[Size]) -> Iterator[bool]:
    """Whether each way to share the pieces among strips can be cut."""
    for first, homes in product(("across", "ripped"), product(range(len(chosen)), repeat=len(chosen))):
        strips = [tuple(c for c, home in zip(chosen, homes, strict=True) if home == n) for n in set(homes)]
        yield fits(Pattern("across" if first == "across" else "ripped", tuple(strips)), WIDTH, LENGTH, sizes)


SIZES = st.lists(
    st.tuples(st.integers(2, WIDTH), st.integers(3, LENGTH)), min_size=1, max_size=3, unique=True
)


@given(SIZES, st.lists(st.integers(0, 4), min_size=3, max_size=3), st.integers(0, 6))
@settings(max_examples=60)
def test_no_way_that_is_worth_it_is_missing(
    shapes: list[tuple[int, int]], worth: list[int], at_least: int
) -> None:
    sizes = [Size(*shape, WANTED) for shape in shapes]
    prices = np.array(worth[: len(sizes)], dtype=float)
    found = every_way(WIDTH, LENGTH, sizes, prices, at_least)
    assert found is not None
    for pattern in found:
        assert fits(pattern, WIDTH, LENGTH, sizes)
        assert sum(prices[n] * count for n, count in pattern.counts.items()) >= at_least
    listed = [pattern.counts for pattern in found]
    for counts in by_trying(sizes):
        if sum(prices[n] * count for n, count in counts.items()) >= at_least:
            assert any(counts <= other for other in listed)


@pytest.mark.parametrize("limit", ["MOST_STEPS", "MOST_WAYS", "MOST_SIZES"])
def test_too_many_ways_are_none(limit: str, monkeypatch: pytest.MonkeyPatch) -> None:
    sizes = [Size(2, 3, 2), Size(3, 4, 2)]
    assert every_way(WIDTH, LENGTH, sizes, np.ones(2), 0.0)
    monkeypatch.setattr(ways, limit, 1)
    assert every_way(WIDTH, LENGTH, sizes, np.ones(2), 0.0) is None


def test_a_size_that_goes_in_hundreds_of_times_is_left_to_prices() -> None:
    assert every_way(WIDTH * 1000, LENGTH * 1000, [Size(1, 1, 3)], np.ones(1), 0.0) is None


# What it proves

GAP = (30, {15: 3, 10: 5, 6: 9})
"""After Fieldhouse, D. (1990), The duality gap in trim problems (from memory, but plain to see): 3/2 + 5/3 +
9/5 = 4.967 rolls by the linear program, 149 of 150 by length. Five rolls could lose 1 at most. Cut with
a loss of 0 or 1 are 15 15, 10 10 10 or 6 6 6 6 6 alone, and three of 15 do not pair: six rolls."""


def lengths(room: int, wanted: dict[int, int]) -> list[Piece]:
    batt = R12.model_copy(update={"length": R12.length.model_copy(update={"value": Length(room * MM)})})
    every = [height for height, count in wanted.items() for _ in range(count)]
    return [
        Piece(f"A1.{n}", "batt", batt, NOWHERE, batt.width.value, Length(h * MM))
        for n, h in enumerate(every, 1)
    ]


def test_what_prices_can_not_prove_a_search_does() -> None:
    pieces = lengths(*GAP)
    (found,) = nest(pieces)
    assert (found.count, found.least, found.proof) == (6, 6, "search")
    check([found], pieces)


def test_where_there_are_too_many_ways_the_bound_of_the_prices_stands(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(ways, "MOST_STEPS", 1)
    fewest.cache_clear()
    (found,) = nest(lengths(*GAP))
    fewest.cache_clear()
    assert (found.count, found.least) == (6, 5)
    assert found.proof in ("area", "prices")


@pytest.mark.parametrize("times", [1, 2])
def test_the_gap_stays_with_some_batts_that_are_filled_by_one_piece(times: int) -> None:
    pieces = lengths(30, {30: 7 * times, **GAP[1]})
    (found,) = nest(pieces)
    assert (found.count, found.least) == (6 + 7 * times, 6 + 7 * times)


def test_of_the_cellar_seventy_one_batts_are_the_least() -> None:
    # The linear program gives 70.0 sharp, so that 70 batts could have no bad pattern; none of 70 is
    # found in every way that is left. (A listing apart, written without this module, gave 71 too.)
    (found,) = work_through(resolve(survey("kadaka-cellar"))).nests
    assert (found.count, found.least, found.proof) == (71, 71, "search")
