"""Batts and what is cut from them: every nest is put together again from its rows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests import walls as w
from tests.walls import inch
from warmside.catalog.goods import Batt, shelf
from warmside.cutting.nesting import Nest, bags, first_fit
from warmside.cutting.pieces import Piece, fill_bay, fill_rim
from warmside.job.resolve import HouseWall
from warmside.units import Length
from warmside.wall.in_the_way import Box

R12 = shelf().find(Batt, "R12 glass 15 in")
"""15 by 47 in, 20 in a bag."""
NOWHERE = Box(Length(0), Length(0), Length(0), Length(0))


def piece(number: int, width: float, height: float) -> Piece:
    """A piece of an R12 batt by its cut size [in]."""
    return Piece(f"A1.{number}", "batt", R12, NOWHERE, inch(width), inch(height))


def nest(*sizes: tuple[float, float]) -> Nest:
    """The one nest of pieces of these sizes [in]."""
    (found,) = first_fit(piece(number, *size) for number, size in enumerate(sizes, 1))
    return found


def check(nests: Sequence[Nest], pieces: Sequence[Piece]) -> None:
    """Rows lie one above the other in a batt, pieces side by side in a row; each piece is there once."""
    by_id = {p.id: p for p in pieces}
    wanted = Counter({p.id: p.layers for p in pieces if not p.plug})
    assert Counter(name for n in nests for batt in n.batts for row in batt.rows for name in row) == wanted
    for found in nests:
        assert [batt.number for batt in found.batts] == list(range(1, found.count + 1))
        assert found.count >= found.least
        for batt in found.batts:
            rows = [[by_id[name] for name in row] for row in batt.rows]
            assert all(p.batt == found.batt for row in rows for p in row)
            assert all(sum(p.cut_width for p in row) <= found.batt.width.value for row in rows)
            used = sum(max(p.cut_height for p in row) for row in rows)
            assert used + batt.left_over == found.batt.length.value


# Small ones whose best count is plain


@pytest.mark.parametrize(
    ("sizes", "count", "least"),
    [
        ([(15, 47)], 1, 1),
        ([(15, 23.5)] * 4, 2, 2),
        ([(7.5, 47)] * 5, 3, 3),
        ([(5, 47)] * 3, 1, 1),
        ([(15, 30), (15, 17), (15, 30), (15, 17)], 2, 2),
        ([(15, 24)] * 3, 3, 2),
        ([(8, 47)] * 2, 2, 2),
        ([(15, 45), (15, 2)], 1, 1),
        ([(9, 40), (6, 40), (15, 7)], 1, 1),
    ],
)
def test_small_nests_need_what_they_must(sizes: list[tuple[float, float]], count: int, least: int) -> None:
    # A batt is 15 by 47; `least` is the area over 705 in2, rounded up: 3 x 15 x 24 = 1080 in2 make 2.
    found = nest(*sizes)
    assert (found.count, found.least) == (count, least)


def test_a_piece_beside_another_is_cut_from_the_row_of_its_own_length() -> None:
    # Rows of 40 (9 wide) and 7 (9 wide) are open; a piece of 6 by 7 goes beside the short one.
    found = nest((9, 40), (9, 7), (6, 7))
    assert [batt.rows for batt in found.batts] == [(("A1.1",), ("A1.2", "A1.3"))]


def test_plugs_take_no_batt_and_layers_take_several() -> None:
    pieces = [replace(piece(1, 15, 47), layers=3), replace(piece(2, 2, 4), plug=True)]
    (found,) = first_fit(pieces)
    assert found.count == 3
    check([found], pieces)


def test_each_good_has_its_own_nest_in_the_order_of_their_names() -> None:
    wide = shelf().find(Batt, "R12 glass 23 in")
    found = first_fit([replace(piece(1, 20, 47), batt=wide), piece(2, 15, 47)])
    assert [each.batt.id for each in found] == ["R12 glass 15 in", "R12 glass 23 in"]


@pytest.mark.parametrize(("batts", "expected"), [(1, 1), (20, 1), (21, 2)])
def test_bags_are_whole(batts: int, expected: int) -> None:
    assert bags([nest(*[(15, 47)] * batts)]) == {"R12 glass 15 in": expected}


def test_nothing_to_cut_is_no_nest() -> None:
    assert first_fit([]) == ()


# Any pieces

SIZES = st.tuples(st.integers(1, R12.width.value), st.integers(1, R12.length.value))


@given(st.lists(SIZES, max_size=40))
@settings(max_examples=150)
def test_any_pieces_can_be_cut_as_told(sizes: list[tuple[int, int]]) -> None:
    pieces = [
        Piece(f"A1.{n}", "batt", R12, NOWHERE, Length(width), Length(height))
        for n, (width, height) in enumerate(sizes)
    ]
    found = first_fit(pieces)
    check(found, pieces)
    area = Fraction(sum(w * h for w, h in sizes), R12.width.value * R12.length.value)
    assert [each.least for each in found] == ([-(-area.numerator // area.denominator)] if sizes else [])


def fewest(heights: Sequence[int], room: int) -> int:
    """The least number of batts for pieces of full width, by trying every one."""

    def put(left: Sequence[int], free: tuple[int, ...]) -> int:
        if not left:
            return len(free)
        first, rest = left[0], left[1:]
        ways = [put(rest, (*free, room - first))]
        ways += [
            put(rest, (*free[:n], gap - first, *free[n + 1 :])) for n, gap in enumerate(free) if gap >= first
        ]
        return min(ways)

    return put(heights, ())


@given(st.lists(st.integers(1, R12.length.value), min_size=1, max_size=6))
@settings(max_examples=100)
def test_full_width_pieces_stay_within_the_proven_bound(heights: list[int]) -> None:
    # First-fit decreasing in one dimension takes at most 11/9 of the fewest and 6/9 more (Dosa 2007).
    width = R12.width.value
    pieces = [Piece(f"A1.{n}", "batt", R12, NOWHERE, width, Length(h)) for n, h in enumerate(heights)]
    (found,) = first_fit(pieces)
    best = fewest(heights, R12.length.value)
    assert found.least <= best <= found.count <= Fraction(11 * best + 6, 9)


@given(w.walls())
@settings(max_examples=100)
def test_the_pieces_of_a_wall_can_be_cut_as_told(wall: HouseWall) -> None:
    _, built = w.standing(wall)
    pieces = [p for bay in built.bays for p in fill_bay(wall, bay).pieces]
    pieces += [p for bay in built.rim_bays for p in fill_rim(wall, bay)]
    check(first_fit(pieces), pieces)
    assert first_fit(pieces) == first_fit(reversed(pieces))
