"""Pieces and voids: bays worked by hand, and that they tile every bay whatever is in the way.

The hand-worked bay is the second of 96 in of frame at 16 in: clear from 16-3/4 to 31-1/4 in (14-1/2) and from
1-1/2 to 93 in up (91-1/2). Batts are 15 or 23 by 47 in and are cut 1/2 in over the clear size; sizes are
those of the goods table, and how batts are cut is common practice.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import combinations, permutations
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests import walls as w
from tests.walls import inch
from warmside.catalog.goods import Allowed, shelf
from warmside.catalog.kinds import kinds
from warmside.cutting.pieces import SLIVER, BayFill, Notch, Piece, cut_width, fill_bay, fill_rim, narrowest
from warmside.job.resolve import HouseWall
from warmside.units import INCH, MM, Length
from warmside.wall.frame import frame_wall, rim_bays
from warmside.wall.in_the_way import Box, bay_box, in_stud_space, minus, outline


def fills(wall: HouseWall) -> list[BayFill]:
    return [fill_bay(wall, bay) for bay in frame_wall(wall).bays]


def second(*things: dict[str, Any], studs: str = "2x4", batt: str = "R12 glass", **frame: Any) -> BayFill:
    """The second bay of 96 in of frame with these things in it."""
    frame = {**w.STANDING, "studs": studs, **frame}
    made = w.wall(length="96 in", frame=frame, in_the_way=list(things))
    return fills(w.house(made, assembly={"batt": batt}).walls[0])[1]


def thing(kind: str, left: float, up: float | None = None, **sizes: float) -> dict[str, Any]:
    """A thing with its left edge and lower edge in inches."""
    placed = {"from_left": left} | ({"up": up} if up is not None else {}) | sizes
    return {"kind": kind, **{key: f"{value} in" for key, value in placed.items()}}


def sizes(pieces: tuple[Piece, ...], role: str = "batt") -> list[tuple[float, float]]:
    """Cut width and height of the pieces of a role [in]."""
    return [(p.cut_width / INCH, p.cut_height / INCH) for p in pieces if p.role == role]


def places(boxes: list[Box]) -> list[tuple[float, ...]]:
    """Left, bottom, right and top [in]."""
    return [tuple(edge / INCH for edge in (b.left, b.bottom, b.right, b.top)) for b in boxes]


# Without anything in the way


def test_a_plain_bay_takes_a_whole_batt_and_a_cut_one() -> None:
    # 91.5 - 47 = 44.5, and 1/2 in over.
    fill = second()
    assert sizes(fill.pieces) == [(15, 47), (15, 45)]
    assert [p.id for p in fill.pieces] == ["A2.1", "A2.2"]
    assert [p.whole for p in fill.pieces] == [True, False]
    assert (fill.voids, fill.odd) == ((), False)


@pytest.mark.parametrize(
    ("clear", "cut"),
    [
        (91.5, [47, 45]),
        (94, [47, 47]),
        (95, [47, 41, 7.5]),
        (46.75, [47]),
        (47, [47]),
        (48, [41, 7.5]),
        (100, [47, 47, 6.5]),
        (99, [47, 41, 11.5]),
    ],
)
def test_stacks_waste_no_stub(clear: float, cut: list[float]) -> None:
    # A joint that would leave less than 6 in at the top is moved down by 6 in.
    fill = second(height=f"{clear + 3} in")
    assert [height for _, height in sizes(fill.pieces)] == cut


def test_a_full_height_batt_goes_in_whole_behind_a_precut_stud() -> None:
    # A 93 in batt is made for a stud of 92-5/8 in.
    fill = second(batt="R13 glass", height=f"{92.625 + 3} in")
    assert sizes(fill.pieces) == [(15, 93)]
    assert fill.pieces[0].whole


@pytest.mark.parametrize(
    ("family", "clear", "batt", "cut"),
    [
        ("R12 glass", 14.5, 15, 15),
        ("R12 glass", 14.75, 15, 15),
        ("R12 glass", 14.875, 23, 15.375),
        ("R12 glass", 14.25, 15, 15),
        ("R12 glass", 14, 15, 14.5),
        ("R12 glass", 13.75, 15, 14.25),
        ("R12 glass", 22.5, 23, 23),
        ("R12 glass", 9.25, 15, 9.75),
        ("R14 stone", 14.5, 15.25, 15.25),
        ("R14 stone", 13.75, 15.25, 14.25),
    ],
)
def test_a_batt_is_ripped_only_where_it_is_more_than_its_allowance_over(
    family: str, clear: float, batt: float, cut: float
) -> None:
    # Friction 1/2 in; up to 10 mm (0.39 in) more is pushed in, and half of it still holds.
    found = narrowest(shelf().batts(family), inch(clear))
    assert found.width.value == inch(batt)
    assert cut_width(found, inch(clear)) == inch(cut)


@pytest.mark.parametrize(
    ("clear", "widths"), [(30, [23, 7.5]), (24, [12.5, 12.5]), (46, [23, 12, 12]), (47, [23, 12.5, 12.5])]
)
def test_a_bay_wider_than_any_batt_gets_columns_and_no_sliver(clear: float, widths: list[float]) -> None:
    # 24 - 23 would leave 1 in, less than the 2 in that can be cut: two halves of 12 instead, 12.5 each.
    wall = w.framed(clear + 3, bays=[f"{clear} in"])
    (fill,) = fills(wall)
    found = {(p.box.left, p.cut_width / INCH) for p in fill.pieces}
    assert [width for _, width in sorted(found)] == widths
    assert fill.odd


def test_a_bay_narrower_than_two_inches_stays_empty() -> None:
    wall = w.framed(30.5, bays=["1.5 in", "24.5 in"])
    fill = fills(wall)[0]
    assert fill.pieces == ()
    assert [(void.why, void.depth) for void in fill.voids] == [("sliver", inch(3.5))]


def test_under_a_slope_a_batt_is_as_long_as_the_higher_side() -> None:
    """Frame 96 in long, 88 in high at its left end and 96 at its right: a rise of 1 in 12.

    Bay 2 lies from 16.75 to 31.25 in; its top is 88 + 31.25/12 - 1.5 = 89.104 in at its higher side, and it
    stands on the bottom plate at 1.5: 87.604 clear, 47 and 40.604 with 1/2 in over.
    """
    fill = second(height=["88 in", "96 in"])
    assert fill.pieces[0].box.bottom == inch(1.5)
    assert fill.pieces[-1].box.top == fill.bay.top
    assert sizes(fill.pieces)[0] == (15, 47)
    assert sizes(fill.pieces)[1] == pytest.approx((15, 41.104), abs=0.01)


def test_the_allowance_is_that_of_the_class_and_never_more_than_the_batt() -> None:
    # Glass takes 1/2 in in height, stone 1/4; a batt as large as the bay needs no more takes none.
    assert [sizes(second(batt=family).pieces)[-1][1] for family in ("R12 glass", "R14 stone")] == [45, 44.75]
    assert sizes(second(batt="R14 stone").pieces)[0] == (15.25, 47)


# Things in the way


def test_a_box_in_a_2x4_leaves_too_little_behind_it() -> None:
    # 3.5 - 2.875 = 0.625 in behind it, less than 25 mm: notch and void. The box is 2-1/4 by 3-3/4 in.
    fill = second(thing("electrical box", 18, 12))
    low, high = fill.pieces
    assert [(n.left, n.bottom, n.width, n.height, n.depth) for n in low.notches] == [
        (inch(1.25), inch(10.5), inch(2.25), inch(3.75), None)
    ]
    assert high.notches == ()
    assert [(v.why, places([v.box])) for v in fill.voids] == [("too thin", [(18, 12, 20.25, 15.75)])]
    assert fill.odd


def test_behind_a_box_in_a_2x6_goes_what_was_cut_out() -> None:
    # 5.5 - 2.875 = 2.625 in behind it: a plug as large as the notch, peeled to 2.625, takes no stock.
    fill = second(thing("electrical box", 18, 12), studs="2x6", batt="R22 glass")
    plug = fill.pieces[-1]
    assert (plug.role, plug.plug, plug.thickness) == ("behind", True, inch(2.625))
    assert sizes(fill.pieces, "behind") == [(2.25, 3.75)]
    assert [(v.why, v.depth) for v in fill.voids] == [("in front", inch(2.875))]


def test_a_water_pipe_is_let_into_the_room_face() -> None:
    # 7/8 in in the middle of 3-1/2: 1.3125 behind it, so the trough is 2.1875 deep; nothing stands before it.
    fill = second(thing("water pipe", 20))
    for piece, height in zip(fill.pieces, (47, 44.5), strict=True):
        (trough,) = piece.notches
        assert (trough.left, trough.width, trough.height) == (inch(3.25), inch(0.875), inch(height))
        assert trough.depth == inch(2.1875)
    assert {(v.why, v.depth) for v in fill.voids} == {("in front", inch(2.1875))}


def test_a_stack_that_fills_the_studs_parts_the_batts() -> None:
    # 3-1/2 in at 20 in: 3.25 in at its left, 31.25 - 23.5 = 7.75 at its right; nothing behind it.
    fill = second(thing("soil stack", 20))
    assert Counter(sizes(fill.pieces)) == Counter([(3.75, 47), (3.75, 45), (8.25, 47), (8.25, 45)])
    assert [(v.why, v.box.width) for v in fill.voids] == [("too thin", inch(3.5))]


def test_a_stack_close_to_a_stud_leaves_a_sliver() -> None:
    fill = second(thing("soil stack", 17.75))
    slivers = [v for v in fill.voids if v.why == "sliver"]
    assert places([v.box for v in slivers]) == [(16.75, 1.5, 17.75, 93)]
    assert Counter(sizes(fill.pieces)) == Counter([(10.5, 47), (10.5, 45)])


def test_behind_a_stack_in_a_2x6_goes_a_peeled_strip() -> None:
    # 5.5 - 3.5 = 2 in behind it; a strip 3.5 in wide is ripped to 4 and is no plug: no notch was cut for it.
    fill = second(thing("soil stack", 20), studs="2x6", batt="R22 glass")
    behind = [p for p in fill.pieces if p.role == "behind"]
    assert sizes(fill.pieces, "behind") == [(4, 47), (4, 45)]
    assert {(p.plug, p.thickness) for p in behind} == {(False, inch(2))}


def test_a_duct_wider_than_a_bay_is_cut_by_the_studs_only() -> None:
    # 20 in from 14 in: it takes all of bay 2, which then has no piece.
    fill = second(thing("duct", 14, width=20))
    assert fill.pieces == ()
    assert [(v.why, places([v.box])) for v in fill.voids] == [("too thin", [(16.75, 1.5, 31.25, 93)])]


def test_nothing_goes_behind_or_beside_a_panel_that_fills_its_bay() -> None:
    # 40 to 70 in up, 25 mm clear: 1.5 to 39.016 below it, 70.984 to 93 above it.
    clear = 25 * MM / INCH
    fill = second(thing("service panel", 16.75, 40))
    below, above = sizes(fill.pieces)
    assert below == pytest.approx((15, 38.5 - clear + 0.5), abs=1e-3)
    assert above == pytest.approx((15, 23 - clear + 0.5), abs=1e-3)
    assert [v.why for v in fill.voids] == ["keep out"]
    assert not any(p.notches for p in fill.pieces)


def test_a_window_between_jambs_leaves_a_piece_below_and_one_above() -> None:
    """Window 40 to 72 in, 50 to 70 in up, planned: sill from 48.5, head to 71.5.

    The bay between jamb (40) and cripple (47.25): 47 in below, a whole batt; 93 - 71.5 = 21.5 above, cut 22.
    """
    wall = w.framed(96, state="planned", in_the_way=[thing("window", 40, 50, width=32, height=20)])
    fill = next(f for f in fills(wall) if f.bay.left == inch(40))
    assert sizes(fill.pieces) == [(7.75, 47), (7.75, 22)]
    assert fill.voids == ()
    assert Counter(places(list(fill.framing))) == Counter([(40, 48.5, 47.25, 50), (40, 70, 47.25, 71.5)])


def test_a_cable_splits_the_batts_it_crosses() -> None:
    # 10 mm in the middle of 3-1/2 in, 20 in up: one slit, in the lower piece, 18.5 in from its end.
    fill = second({"kind": "cable", "up": "20 in"})
    (slit,) = fill.pieces[0].slits
    assert (slit.at, slit.upright, slit.depth) == (inch(18.5), False, (inch(3.5) - 10 * MM) // 2)
    assert fill.pieces[1].slits == ()
    assert fill.voids == ()


def test_an_old_cable_locks_every_bay_that_it_touches() -> None:
    # It lies 40 in up; the whole of the clear bay stays as it is, also above and below the cable.
    fill = second({"kind": "old cable", "up": "40 in"})
    assert fill.pieces == ()
    assert [(v.why, places([v.box])) for v in fill.voids] == [("keep out", [(16.75, 1.5, 31.25, 93)])]


def test_beside_a_stack_a_cleanout_may_part_what_is_left() -> None:
    # The stack from 20 to 23.5 in parts the bay. At its right 7.75 in are left; the cleanout (6 in and 25 mm
    # all round) reaches across but for 0.77 in, so that a piece stands below it and others above it.
    clear = 25 * MM / INCH
    fill = second(thing("soil stack", 20), thing("cleanout", 24.5, 30))
    right = [p for p in fill.pieces if p.box.left > inch(20)]
    below, above = min(right, key=lambda p: p.box.bottom), max(right, key=lambda p: p.box.bottom)
    assert below.box.top / INCH == pytest.approx(30 - clear)
    assert above.box.top / INCH == 93
    assert not any(p.notches for p in right)


@pytest.mark.parametrize("kind", ["partition", "conduit"])
def test_what_stands_outside_the_stud_space_cuts_nothing(kind: str) -> None:
    fill = second(thing(kind, 20, 30))
    assert sizes(fill.pieces) == [(15, 47), (15, 45)]
    assert not fill.odd


def test_a_window_wins_over_a_pipe_that_is_drawn_through_it() -> None:
    wall = w.framed(
        96, state="planned", in_the_way=[thing("window", 40, 50, width=32, height=20), thing("flue", 50)]
    )
    for fill in fills(wall):
        opening = Box(inch(40), inch(50), inch(72), inch(70))
        assert not any(void.box.overlaps(opening) for void in fill.voids)


def test_behind_pieces_of_one_bay_come_last_and_all_count_on() -> None:
    boxes = [thing("electrical box", 18, up) for up in (12, 60)]
    fill = second(*boxes, studs="2x6", batt="R22 glass")
    assert [p.id for p in fill.pieces] == ["A2.1", "A2.2", "A2.3", "A2.4"]
    assert [p.role for p in fill.pieces] == ["batt", "batt", "behind", "behind"]


# What a product does not allow, and what nobody reaches


def no_joint(family: str = "R12 glass") -> dict[str, Any]:
    """The goods of a family as a job's own, not to be joined in a bay."""
    own = []
    for batt in shelf().batts(family):
        good = batt.model_dump(mode="json")
        for name in ("thickness", "width", "length", "add_width", "add_height"):
            good[name]["value"] = w.written(good[name]["value"])
        good["joint"] = {"value": "no", "source": "label", "status": "label"}
        own.append(good)
    return {"batt": own}


def test_a_batt_that_may_not_be_joined_leaves_the_rest_of_its_bay_empty() -> None:
    # 91.5 in clear and 47 in of batt: from 48.5 up to 93 nothing stands.
    made = w.wall(length="96 in", frame={**w.STANDING})
    wall = w.house(made, assembly={"batt": "R12 glass"}, goods=no_joint()).walls[0]
    fill = fills(wall)[1]
    assert sizes(fill.pieces) == [(15, 47)]
    assert [(v.why, places([v.box])) for v in fill.voids] == [("too short", [(16.75, 48.5, 31.25, 93)])]


def test_behind_a_stack_too_a_batt_that_may_not_be_joined_ends() -> None:
    # A stack of 3-1/2 in in a 2x6 has a strip behind it: 47 in of it, then nothing.
    made = w.wall(length="96 in", frame={**w.STANDING, "studs": "2x6"}, in_the_way=[thing("soil stack", 20)])
    wall = w.house(made, assembly={"batt": "R22 glass"}, goods=no_joint("R22 glass")).walls[0]
    fill = fills(wall)[1]
    assert sizes(fill.pieces, "behind") == [(4, 47)]
    found = [places([v.box]) for v in fill.voids if v.thing and v.why == "too short"]
    assert found == [[(20, 48.5, 23.5, 93)]]


@pytest.mark.parametrize(("state", "laid"), [("planned", "torn strip"), ("standing", None)])
def test_the_hollow_of_a_corner_post_is_filled_before_the_frame_stands_or_void(
    state: str, laid: str | None
) -> None:
    # A post of 4-1/2 in from 20 in: a hollow of 1-1/2 in in its middle, 21-1/2 to 23 in; the rest is wood.
    fill = second(thing("corner post", 20), state=state)
    (pocket,) = [v for v in fill.voids if v.why == "pocket"]
    assert places([pocket.box]) == [(21.5, 1.5, 23, 93)]
    assert pocket.laid == laid
    assert Counter(places(list(fill.framing))) == Counter([(20, 1.5, 21.5, 93), (23, 1.5, 24.5, 93)])


@pytest.mark.parametrize(("state", "first", "count"), [("planned", True, 2), ("standing", False, 0)])
def test_a_bay_behind_a_partition_is_filled_first_or_void(state: str, first: bool, count: int) -> None:
    # A partition of 20 in from 14 in covers the second bay, 16-3/4 to 31-1/4 in.
    fill = second(thing("partition", 14, width=20), state=state)
    assert (fill.first, len(fill.pieces)) == (first, count)
    assert [v.why for v in fill.voids] == ([] if count else ["out of reach"] * 2)
    assert sum(v.box.area for v in fill.voids) == (0 if count else bay_box(fill.bay).area)


def test_a_bay_behind_the_studs_of_the_next_wall_is_out_of_reach() -> None:
    """The last bay of 2 in lies between the end stud of A and the 2x4 of B that butts against it.

    A frame of 96 in: studs of 1.5, bays of 14.5 x 5, one of 9.5 and the last of 2 in, from 92.5 to 94.5.
    """
    bays = [*["14.5 in"] * 5, "9.5 in", "2 in"]
    first = w.wall(length="96 in", against="plate", turn="right", frame={**w.STANDING, "bays": bays})
    wall = w.house(first, w.wall(name="B")).walls[0]
    assert wall.behind_next == inch(3.5)
    last = fills(wall)[-1]
    assert [v.why for v in last.voids] == ["out of reach"] * 2
    assert all(not f.first and f.pieces for f in fills(wall)[:-1])


def test_a_strip_beside_a_stack_is_torn_off_a_rest() -> None:
    fill = second(thing("soil stack", 17.75))
    assert [v.laid for v in fill.voids if v.why == "sliver"] == ["torn strip"]


@pytest.mark.parametrize(("kind", "laid"), [("soil stack", "foam"), ("gas vent", "torn strip")])
def test_foam_never_comes_to_a_flue(kind: str, laid: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the rule of the knife is foam, a strip of 1 in beside a vent and its 25 mm is torn."""
    w.rule_says_foam(monkeypatch)
    clear = kinds()[kind].clear.value / INCH
    fill = second(thing(kind, 17.75 + clear))
    assert {v.laid for v in fill.voids if v.why == "sliver"} == {laid}


@pytest.mark.parametrize(("near", "laid"), [(None, "foam"), ("gas vent", "torn strip")])
def test_the_hollow_of_a_post_beside_a_flue_gets_no_foam(
    near: str | None, laid: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Post from 20 to 24-1/2 in, hollow 21-1/2 to 23; a vent 1 in beside the post is kept clear."""
    w.rule_says_foam(monkeypatch)
    others = [thing(near, 25.5)] if near else []
    post = {"kind": "corner post", "from_left": "20 in"}
    fill = second(post, *others, state="planned")
    assert {v.laid for v in fill.voids if v.why == "pocket"} == {laid}


def test_a_box_larger_than_its_bay_takes_all_of_its_width() -> None:
    # 20 in wide from 14 in: nothing beside it, a piece below, one above.
    fill = second(thing("electrical box", 14, 40, width=20, height=4))
    # Below 40 - 1.5 = 38.5 and 1/2 in; above 93 - 44 = 49: 43, and 6 that end the stack, and 1/2 in.
    assert sizes(fill.pieces) == [(15, 39), (15, 41), (15, 8.5)]
    assert [v.why for v in fill.voids] == ["too thin"]
    assert places([fill.voids[0].box]) == [(16.75, 40, 31.25, 44)]


# The rim


def rim(width: float, **rim: Any) -> list[tuple[float, float, int]]:
    """Cut width, cut height [in] and number deep of every piece of the rim of a wall."""
    made = w.wall(
        length=f"{width} in", against="concrete", rim={"height": "9-1/4 in", "spacing": "16 in", **rim}
    )
    wall = w.house(made, assembly={"rim": {"batt": "R20 glass", "pieces": 2}}).walls[0]
    pieces = [piece for bay in rim_bays(wall) for piece in fill_rim(wall, bay)]
    return [(p.cut_width / INCH, p.cut_height / INCH, p.layers) for p in pieces]


def test_between_joists_a_batt_stands_upright() -> None:
    # First bay 15.25, too wide for 15 in batts: 23 in ripped to 15.75. Then 14.5. Height 9.25 and 1/2 in.
    assert rim(32.75, first_joist="16 in") == [(15.75, 9.75, 2), (15, 9.75, 2)]


def test_alongside_the_joists_batts_lie_on_edge_end_to_end() -> None:
    # 236 = 5 x 47 + 1: the last joint is moved down by 6 in, to 41 and 7 and 1/2 in over.
    found = rim(236, joists="run alongside")
    assert found == [(9.75, height, 2) for height in (47, 47, 47, 47, 41, 7.5)]


def test_in_a_rim_bay_wider_than_any_batt_one_lies_on_edge() -> None:
    # Joists 48 in apart leave 46.5: three batts side by side, or one of 47 in on edge, 9.25 and 1/2 in high.
    found = rim(95.25, first_joist="0 in", spacing="48 in")
    assert found == [(9.75, 47, 2), (9.75, 47, 2)]


def test_a_rim_sliver_gets_no_piece() -> None:
    assert rim(17.5, first_joist="16 in") == [(15.75, 9.75, 2)]


# Every wall


def regions(fill: BayFill) -> list[Box]:
    """What is said to be in the parts of a bay."""
    batts = [p for p in fill.pieces if p.role == "batt"]
    through = {p.id: [p.notch_box(n) for n in p.notches if n.depth is None] for p in batts}
    openings: list[Box] = []
    for touch in fill.touches:
        if touch.thing.kind.cut == "opening":
            openings += minus(outline(touch.thing).clipped(bay_box(fill.bay)), openings)
    return [
        *(box for p in batts for box in minus(p.box, through[p.id])),
        *(p.box for p in fill.pieces if p.role == "behind"),
        *(v.box for v in fill.voids if v.why != "in front"),
        *(box for box in openings if box.area),
        *fill.framing,
    ]


STATES = pytest.mark.parametrize("state", ["planned", "standing"])
"""Random walls by halves, so that none of the tests takes long."""


@STATES
@pytest.mark.parametrize("studs", ["2x3", "2x4", "2x6"])
@given(st.data())
@settings(max_examples=135)
def test_pieces_voids_and_openings_tile_every_bay(studs: str, state: str, data: st.DataObject) -> None:
    wall, built = w.standing(data.draw(w.walls(states=[state], studs=[studs])))
    for bay in built.bays:
        found = regions(fill_bay(wall, bay))
        assert sum(box.area for box in found) == bay_box(bay).area
        assert all(box == box.clipped(bay_box(bay)) for box in found)
        assert not any(one.overlaps(other) for one, other in combinations(found, 2))


@given(w.walls(), st.sampled_from(["R12 glass", "R22 glass"]))
@settings(max_examples=100)
def test_batts_that_may_not_be_joined_tile_their_bays_too(wall: HouseWall, family: str) -> None:
    _, built = w.standing(wall)
    forbidden = Allowed(value="no", source="label", status="label")
    own = tuple(batt.model_copy(update={"joint": forbidden}) for batt in shelf().batts(family))
    wall = replace(wall, assembly=replace(wall.assembly, batts=own))
    for bay in built.bays:
        fill = fill_bay(wall, bay)
        found = regions(fill)
        assert sum(box.area for box in found) == bay_box(bay).area
        assert not any(one.overlaps(other) for one, other in combinations(found, 2))
        batts = [p for p in fill.pieces if p.role == "batt"]
        ends = [(a, b) for a, b in permutations(batts, 2) if a.box.top == b.box.bottom]
        assert not any(a.box.left == b.box.left and a.box.right == b.box.right for a, b in ends)


@STATES
@given(st.data())
@settings(max_examples=200)
def test_pieces_can_be_cut_and_put_in(state: str, data: st.DataObject) -> None:
    """Every piece comes out of its batt, fills its place or is as large as the batt, and is no sliver."""
    wall, built = w.standing(data.draw(w.walls(states=[state])))
    for bay in built.bays:
        fill = fill_bay(wall, bay)
        ids = [p.id for p in fill.pieces]
        assert ids == [f"{bay.mark}.{n}" for n in range(1, len(ids) + 1)]
        batts = [p for p in fill.pieces if p.role == "batt"]
        assert [p.box.bottom for p in batts] == sorted(p.box.bottom for p in batts)
        for piece in fill.pieces:
            stock = piece.batt
            assert piece.cut_width <= stock.width.value
            assert piece.cut_height <= stock.length.value
            assert piece.cut_width >= min(piece.box.width, stock.width.value)
            assert piece.cut_height >= min(piece.box.height, stock.length.value)
            assert piece.box.height <= stock.length.value
            assert piece.thickness is None or 25 * MM <= piece.thickness <= stock.thickness.value
            assert piece.box.width >= SLIVER or piece.role == "behind"


@STATES
@given(st.data())
@settings(max_examples=200)
def test_what_must_stay_free_is_free(state: str, data: st.DataObject) -> None:
    """No batt in a keep-out zone, in an opening or where a thing is; never batt before a water pipe."""
    wall, built = w.standing(data.draw(w.walls(states=[state])))
    depth = w.frame_of(wall).depth
    for bay in built.bays:
        fill = fill_bay(wall, bay)
        batts = [p for p in fill.pieces if p.role == "batt"]
        notches = [(p.notch_box(n), n.depth is None) for p in batts for n in p.notches]
        through = [box for box, is_through in notches if is_through]
        whole = [box for p in batts for box in minus(p.box, [box for box, _ in notches])]
        thin = [part for box, is_through in notches if not is_through for part in minus(box, through)]
        thin += [p.box for p in fill.pieces if p.role == "behind"]
        for touch in fill.touches:
            kind = touch.thing.kind
            cuts = kind.cut in ("notch", "keep out") and in_stud_space(touch.thing, depth)
            if cuts or kind.cut in ("opening", "framing"):
                assert not any(box.overlaps(touch.box) for box in whole)
            if kind.cut in ("opening", "framing") or (cuts and kind.cut == "keep out"):
                assert not any(box.overlaps(touch.box) for box in thin)


@given(w.walls(ceiling="level"))
@settings(max_examples=120)
def test_a_mirrored_wall_has_mirrored_pieces(wall: HouseWall) -> None:
    """Place, notches and slits of every piece, seen in a mirror: what is cut from the back is the same batt.

    Of batts side by side in one bay the rest stands at the right, so that bays with several are left out.
    """
    _, built = w.standing(wall)
    frame = w.frame_of(wall)
    both = frame.start + frame.end
    for bay, other in zip(built.bays, reversed(frame_wall(w.mirrored(wall)).bays), strict=True):
        one, two = fill_bay(wall, bay), fill_bay(w.mirrored(wall), other)
        if any(a.box.right == b.box.left for a, b in permutations(one.pieces, 2)):
            continue
        assert Counter(_seen(p) for p in two.pieces) == Counter(_in_mirror(p, both) for p in one.pieces)


def _seen(piece: Piece) -> tuple[Any, ...]:
    cuts = frozenset((piece.notch_box(n), n.depth) for n in piece.notches)
    slits = frozenset((s.at, s.depth) for s in piece.slits if not s.upright)
    return (piece.box, piece.cut_width, piece.cut_height, cuts, slits)


def _in_mirror(piece: Piece, both: int) -> tuple[Any, ...]:
    def turned(box: Box) -> Box:
        return Box(Length(both - box.right), box.bottom, Length(both - box.left), box.top)

    box, wide, high, cuts, slits = _seen(piece)
    return (turned(box), wide, high, frozenset((turned(b), d) for b, d in cuts), slits)


@STATES
@given(st.data())
@settings(max_examples=150)
def test_a_mirrored_wall_is_cut_into_the_same_pieces(state: str, data: st.DataObject) -> None:
    # Halves of an odd number of units differ by one, and a mirror takes the other half: those are left out.
    def cut(wall: HouseWall) -> Counter[tuple[Any, ...]]:
        pieces = [p for bay in frame_wall(wall).bays for p in fill_bay(wall, bay).pieces]
        beside = [(a.box, b.box) for a, b in permutations(pieces, 2) if a.box.right == b.box.left]
        assume(all(abs(one.width - other.width) != 1 for one, other in beside))
        return Counter((p.role, p.batt.id, p.cut_width, p.cut_height, p.thickness, p.plug) for p in pieces)

    wall, _ = w.standing(data.draw(w.walls(ceiling="level", states=[state])))
    assert cut(w.mirrored(wall)) == cut(wall)


def test_a_notch_at_the_stud_runs_out_of_the_piece() -> None:
    """A batt of 15 in in a bay of 14-1/2 in: a notch of 2 in at the right stud is cut 2-1/2 in wide."""
    batt = shelf().batts("R12 glass")[0]
    box = Box(Length(0), Length(0), Length(29 * INCH // 2), Length(40 * INCH))
    left = Notch(Length(0), Length(INCH), Length(2 * INCH), Length(3 * INCH))
    right = Notch(Length(25 * INCH // 2), Length(INCH), Length(2 * INCH), Length(3 * INCH))
    piece = Piece("A1.1", "batt", batt, box, Length(15 * INCH), Length(81 * INCH // 2), (left, right))
    assert [n.width / INCH for n in piece.cut_notches] == [2.0, 2.5]
    assert [n.height / INCH for n in piece.cut_notches] == [3.0, 3.0]


def test_nothing_goes_behind_a_tap_however_deep_it_is_clear() -> None:
    # 3 in clear behind a box would take a piece; the pipe of a tap goes out through them.
    fill = second(thing("hose bib", 24, 30, back=3, width=4, height=4), studs="2x6")
    assert [(void.why, void.box.width, void.box.height) for void in fill.voids] == [
        ("thing", 4 * INCH, 4 * INCH)
    ]
    assert {piece.role for piece in fill.pieces} == {"batt"}
