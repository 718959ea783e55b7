"""Odd cases of the pieces, each by hand: every one of them fails where its rule is taken away."""

from __future__ import annotations

import pytest

from tests.cutting.test_pieces import rim, second, thing
from warmside.catalog.goods import shelf
from warmside.cutting.pieces import Notch, Piece
from warmside.units import INCH, Length
from warmside.wall.in_the_way import Box


def test_a_clean_out_is_left_bare_behind_too() -> None:
    # 3 in clear behind it in a 2x6 would take a piece; whoever opens it must not find one.
    fill = second(thing("cleanout", 22, 20, back=3), studs="2x6")
    assert [p.role for p in fill.pieces if p.role == "behind"] == []
    assert {void.why for void in fill.voids} == {"thing"}


def test_nothing_as_narrow_as_a_sliver_is_put_behind_a_thing() -> None:
    # 1-1/2 in wide with 3 in clear behind: a piece that narrow holds nowhere.
    fill = second(thing("electrical box", 22, 40, back=3, width=1.5, height=4), studs="2x6")
    assert [p.role for p in fill.pieces if p.role == "behind"] == []
    assert [void.why for void in fill.voids] == ["too thin"]


@pytest.mark.parametrize(("back", "let_in"), [(0.75, False), (1.25, True)])
def test_a_pipe_is_let_in_only_where_an_inch_is_left_behind_it(back: float, let_in: bool) -> None:
    # 25 mm is the least that may stand behind a thing: 3/4 in is less, 1-1/4 in is more.
    fill = second(thing("water pipe", 22, back=back))
    troughs = [n.depth is not None for p in fill.pieces for n in p.notches]
    assert any(troughs) is let_in
    assert ("too thin" in {void.why for void in fill.voids}) is not let_in


def test_a_low_box_is_cut_out_and_not_let_in() -> None:
    # 4 by 2 in is thinner than a pipe that is let in; a box goes through to the stud and keeps its own plug.
    fill = second(thing("electrical box", 22, 40, back=2.5, width=4, height=2), studs="2x6")
    assert [n.depth for p in fill.pieces for n in p.notches] == [None]
    assert [p.plug for p in fill.pieces if p.role == "behind"] == [True]


def test_a_short_run_beside_a_joist_lies_on_edge_too() -> None:
    # A wall of 14 in with joists alongside: 9-1/4 in high, ripped to 9-3/4, and 14 in long with 1/2 in over.
    assert rim(14, joists="run alongside") == [(9.75, 14.5, 2)]


def test_a_notch_next_to_an_edge_takes_the_strip_beside_it() -> None:
    """1/4 in beside a stud or under a joint is less than the 1/2 in that is worth leaving."""
    batt = shelf().batts("R12 glass")[0]
    box = Box(Length(0), Length(0), Length(29 * INCH // 2), Length(40 * INCH))
    quarter = Length(INCH // 4)
    low = Notch(quarter, quarter, Length(2 * INCH), Length(3 * INCH))
    high = Notch(Length(5 * INCH), Length(37 * INCH), Length(2 * INCH), Length(3 * INCH - quarter))
    piece = Piece("A1.1", "batt", batt, box, Length(15 * INCH), Length(81 * INCH // 2), (low, high))
    first, second_ = piece.cut_notches
    assert (first.left, first.bottom) == (0, 0)
    assert (first.width, first.height) == (9 * quarter, 13 * quarter)
    assert second_.bottom + second_.height == piece.cut_height
