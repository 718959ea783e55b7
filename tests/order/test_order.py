"""The order worked by hand: one wall of 24 ft of frame, 94-1/2 in high, with joists that land.

Package sizes are those of the goods table; how seams and beads run is common practice.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests import walls as w
from warmside.catalog.goods import Batt, shelf
from warmside.cutting.nesting import first_fit
from warmside.cutting.pieces import Piece, fill_bay, fill_rim
from warmside.job.resolve import House
from warmside.order.order import (
    Line,
    Order,
    QuantityError,
    bead_length,
    beads,
    ground_height,
    make_order,
    strip_batts,
    unwrapped,
    window_edges,
)
from warmside.units import Length
from warmside.wall.frame import frame_wall
from warmside.wall.in_the_way import Box

IN = 0.0254


def order(house: House) -> Order:
    built = {wall.name: frame_wall(wall) for wall in house.walls}
    framed = [wall for wall in house.walls if wall.frame]
    pieces = [p for wall in framed for bay in built[wall.name].bays for p in fill_bay(wall, bay).pieces]
    pieces += [p for wall in framed for bay in built[wall.name].rim_bays for p in fill_rim(wall, bay)]
    return make_order(house, built, first_fit(pieces))


RIM = {"joists": "land here", "height": "9-1/4 in", "spacing": "16 in", "first_joist": "16 in"}


def one(*, top: dict[str, Any] | None = None, **fields: Any) -> House:
    """A wall of 24 ft, taped on the concrete, 93 in high, 8 in of it over the ground."""
    usual = {
        "length": "24 ft",
        "against": "concrete",
        "concrete_showing": "8 in",
        "rim": RIM,
        "exposure": "soil",
    }
    return w.house(w.wall(**{**usual, **fields}), **{"foundation": {"sill": "1-1/2 in"}, **(top or {})})


def line(found: Order, good: str) -> Line:
    return next(each for each in found.lines if each.good.id == good)


def test_batts_by_the_cutting() -> None:
    """Bays: 13-3/4, sixteen of 14-1/2, 13-3/4: each a whole batt and one of 45 in: 36 batts, 2 bags of 20.

    Rim: joists at 16 to 272 in and half of one at 288: 15-1/4 (a wide batt), then 17 bays of 14-1/2, each
    9-3/4 in of batt, 4 from one of 47 in: 5 batts, 1 bag of 10.
    """
    found = order(one())
    lines = {
        name: (each.needed, each.packages) for each in found.lines if (name := each.good.id).startswith("R")
    }
    assert lines == {"R12 glass 15 in": (36, 2), "R20 glass 15 in": (5, 1), "R20 glass 23 in": (1, 1)}
    assert dict(line(found, "R12 glass 15 in").basis.args) == {"count": 36, "per_bag": 20, "left": 4}


def test_vapour_barrier_by_the_strip() -> None:
    # 94.5 in = 2.40 m is under the 2.59 m of the sheet: one strip of 7.3152 + 0.1 m.
    found = line(order(one()), "polyethylene 0.15 mm")
    assert found.needed == pytest.approx(7.4152)
    assert (found.packages, found.unit) == (1, "m")


def test_a_higher_wall_takes_two_strips_and_a_seam_between_them() -> None:
    """9 ft of concrete and the sill: 109.5 in = 2.7813 m, over 2.59: two strips of 7.4152 m.

    Tape: an upright seam of 2.7813 and a level one of 7.4152.
    """
    found = order(one(height="108 in"))
    assert line(found, "polyethylene 0.15 mm").needed == pytest.approx(14.8304)
    assert line(found, "sheathing tape 60 mm").needed == pytest.approx(10.1965)


def test_moisture_barrier_up_to_the_ground_line() -> None:
    # 93 - 8 = 85 in = 2.159 m; 0.9144 m wide with 0.1 lap: 1 + ceil(1.2446/0.8144) = 3 strips of 7.4152 m.
    found = line(order(one()), "breather paper")
    assert found.needed == pytest.approx(22.2456)
    assert found.packages == 1


def test_no_moisture_barrier_where_no_ground_lies_against_the_wall() -> None:
    found = order(one(exposure="garage", concrete_showing=None))
    assert "breather paper" not in [each.good.id for each in found.lines]


def test_the_ground_is_highest_wherever_a_line_bends() -> None:
    # Concrete 80 in high at both ends and 100 in the middle, 10 in of it showing all along.
    heights = [["0 in", "80 in"], ["144 in", "100 in"], ["288 in", "80 in"]]
    assert ground_height(one(height=heights, concrete_showing="10 in").walls[0]) == pytest.approx(90 * IN)
    assert ground_height(one(concrete_showing="93 in").walls[0]) == 0.0


def test_sealant_by_the_bead() -> None:
    """Plates and ends 2 x (288 + 94.5) = 765 in.

    Rim: 15.25 + 17 x 14.5 = 261.75 in of 18 bays 9.25 high: 2 x (261.75 + 166.5) = 856.5. In all 41.186 m.
    A tube of 825 mL makes 4 x 825e-6/(pi 0.0095^2) = 11.639 m, less 12 %: 10.242; 41.186 take 5.
    """
    house = one()
    wall = house.walls[0]
    assert beads(wall, frame_wall(wall)) == pytest.approx((765 + 856.5) * IN)
    found = line(order(house), "acoustical sealant 825 mL")
    assert found.needed == pytest.approx(41.1861)
    assert found.packages == 5


def test_openings_are_taped_and_sealed_round() -> None:
    # A window of 32 by 16 in: 96 in round; a door of 34 by 82 in has no edge at the floor: 198.
    window = {"kind": "window", "from_left": "40 in", "up": "50 in", "width": "32 in", "height": "16 in"}
    door = {"kind": "door", "from_left": "150 in", "up": "0 in", "width": "34 in", "height": "82 in"}
    house = one(frame=w.PLANNED, in_the_way=[window, door])
    assert window_edges(house.walls[0]) == pytest.approx((96 + 198) * IN)
    plain, cut = order(one(frame=w.PLANNED)), order(house)
    for good in ("sheathing tape 60 mm", "acoustical sealant 825 mL"):
        assert line(cut, good).needed - line(plain, good).needed == pytest.approx(294 * IN)


def test_tape_round_hats_of_boxes_that_lack_one() -> None:
    # An upright seam of 2.4003 m and 0.6 m for each of two hats; a wrapped box and a sealed one need none.
    wraps = ["none", None, "wrapped", "sealed box"]
    boxes = [
        {"kind": "electrical box", "from_left": f"{20 + 16 * n} in", "up": "12 in", "wrap": wrap}
        for n, wrap in enumerate(wraps)
    ]
    found = order(one(in_the_way=boxes))
    hats = line(found, "vapour hat")
    assert (hats.needed, hats.packages, hats.unit) == (2, 2, "boxes")
    assert line(found, "sheathing tape 60 mm").needed == pytest.approx(2.4003 + 1.2)


def test_a_box_without_a_place_needs_its_hat_too() -> None:
    house = one(in_the_way=[{"kind": "electrical box"}] * 3)
    assert unwrapped(house.walls[0]) == [f"electrical box {n}" for n in (1, 2, 3)]
    assert line(order(house), "vapour hat").needed == 3


def test_no_hats_are_ordered_where_none_are_wanted() -> None:
    box = {"kind": "electrical box", "from_left": "20 in", "up": "12 in"}
    found = order(one(top={"assembly": {"box_wrap": "none"}}, in_the_way=[box]))
    assert "vapour hat" not in [each.good.id for each in found.lines]
    assert line(found, "sheathing tape 60 mm").needed == pytest.approx(2.4003)


def test_without_a_barrier_nothing_is_taped() -> None:
    found = order(one(top={"assembly": {"vapour_control": "none"}}))
    assert not {"polyethylene 0.15 mm", "sheathing tape 60 mm"} & {each.good.id for each in found.lines}


@pytest.mark.parametrize(("height", "sheets"), [("93 in", 6), ("94-1/2 in", 6), ("95 in", 7), ("108 in", 7)])
def test_drywall_side_by_side_and_strips_above(height: str, sheets: int) -> None:
    # 288/48 = 6 sheets of 96 in; 108 + 1.5 = 109.5 in: 6 x 109.5/96 = 6.84; 96.5 in: 6 x 96.5/96 = 6.03.
    assert line(order(one(height=height)), "drywall 12.7 mm").packages == sheets


def test_foam_board_covers_the_concrete_not_the_frame() -> None:
    # Concrete 288 in long; a frame of 240 in would take 5 boards, the concrete takes 6.
    frame = {**w.STANDING, "ends": "240 in"}
    found = order(one(top={"assembly": {"foam_board": "XPS 25 mm"}}, frame=frame))
    assert (line(found, "XPS 25 mm").packages, line(found, "drywall 12.7 mm").packages) == (6, 5)


def test_each_wall_takes_its_own_goods() -> None:
    own = {"vapour_control": "polyethylene 0.15 mm 3.05 m", "sealant": "acoustical sealant 295 mL"}
    first = w.wall(length="24 ft", against="concrete", rim=RIM)
    house = w.house(first, {**first, "name": "B", "assembly": own})
    found = order(house)
    assert line(found, "polyethylene 0.15 mm").needed == line(found, "polyethylene 0.15 mm 3.05 m").needed
    # A tube of 295 mL makes 11.639 x 295/825 x 0.88 = 3.662 m: 41.186/3.662 = 11.2, 12 tubes.
    assert line(found, "acoustical sealant 295 mL").packages == 12
    assert line(found, "drywall 12.7 mm").packages == 12


def test_a_wall_without_a_frame_is_not_ordered_for() -> None:
    assert order(one(frame={"state": "none"})).lines == ()


# Prices

PRICES = {"R12 glass 15 in": "61.50 CAD per bag", "drywall 12.7 mm": "14 CAD per sheet"}


def test_what_is_at_hand_comes_first() -> None:
    found = order(one(top={"prices": PRICES, "at_hand": {"R12 glass 15 in": 1, "drywall 12.7 mm": 40}}))
    batts, drywall = line(found, "R12 glass 15 in"), line(found, "drywall 12.7 mm")
    assert (batts.packages, batts.at_hand, batts.to_buy, batts.cents) == (2, 1, 1, 6150)
    assert (drywall.packages, drywall.to_buy, drywall.cents) == (6, 0, 0)


def test_a_total_without_every_price_is_incomplete() -> None:
    # 2 bags at 61.50 and 6 sheets at 14.00 are 207.00; the others have no price.
    found = order(one(top={"prices": PRICES}))
    assert (found.total, found.complete, found.currency) == (20700, False, "CAD")
    assert line(found, "breather paper").cents is None


def test_a_total_with_every_price_is_complete() -> None:
    goods = {each.good.id: each.good.package for each in order(one()).lines}
    prices = {name: f"1 CAD per {package}" for name, package in goods.items()}
    found = order(one(top={"prices": prices}))
    assert found.complete
    assert found.total == 100 * sum(each.packages for each in found.lines)


def test_what_need_not_be_bought_needs_no_price() -> None:
    goods = {each.good.id: 100 for each in order(one()).lines}
    assert order(one(top={"at_hand": goods})).complete


@pytest.mark.parametrize("diameter", [0.0, -0.001, math.nan])
def test_a_bead_has_a_thickness(diameter: float) -> None:
    with pytest.raises(QuantityError, match="it should be more than 0"):
        bead_length(825e-6, diameter)


def test_torn_strips_come_out_of_the_rests_and_then_out_of_another_batt() -> None:
    """One piece of half a batt leaves the other half; strips of a whole batt take one more."""
    batt = shelf().find(Batt, "R12 glass 15 in")
    half = Length(batt.length.value // 2)
    box = Box(Length(0), Length(0), batt.width.value, half)
    nests = first_fit([Piece("A1.1", "batt", batt, box, batt.width.value, half)])
    area = batt.width.value * batt.length.value
    assert [strip_batts(nests, part)[batt.id] for part in (0, area // 2, area)] == [0, 0, 1]
    assert strip_batts((), area) == {}
