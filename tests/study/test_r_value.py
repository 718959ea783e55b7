"""Effective resistance against numbers worked by hand, and the bounds that any wall keeps.

The hand-worked wall: 96 in of frame, 85-1/2 in of bays (13-3/4, four of 14-1/2, 13-3/4), 94-1/2 in high and
91-1/2 clear. Frame 9072 in2, bays 7823.25: framing 1248.75, a share of 0.13765. Resistances [m2.K/W]: film
0.12, drywall 0.0775, R12 2.11, wood of 88.9 mm 0.7557, gap of 19.05 mm 0.1810, concrete of 8 in 0.0813.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import assume, given, settings

from tests import walls as w
from tests.walls import inch
from warmside.catalog.codes import rule_sets
from warmside.cutting.pieces import fill_bay
from warmside.job.resolve import House, HouseWall
from warmside.physics.resistance import Method
from warmside.study.layers import Layer, Zone
from warmside.study.r_value import WallWorth, Worth, together, wall_worth, worth
from warmside.units import to_r
from warmside.wall.frame import frame_wall


def valued(house: House, wall: HouseWall | None = None) -> WallWorth:
    """The worth of a wall, by default the first of the house."""
    wall = wall or house.walls[0]
    built = frame_wall(wall)
    return wall_worth(house, wall, built, [fill_bay(wall, bay) for bay in built.bays])


def whole(house: House, wall: HouseWall | None = None) -> Worth:
    found = valued(house, wall).whole
    assert found is not None
    return found


def by_method(house: House, method: Method) -> House:
    return replace(house, rules=house.rules.model_copy(update={"method": method}))


def one(in_the_way: list[dict[str, str]] | None = None, rules: str = "nbc-2020", **fields: Any) -> House:
    made = w.wall(**{"length": "96 in", "in_the_way": in_the_way or [], **fields})
    return w.house(made, foundation={"thickness": "8 in"}, place={"rule_set": rules})


@pytest.mark.parametrize(
    ("rules", "expected"),
    [
        # 0.12 + 0.0775 + 1/(0.86235/2.11 + 0.13765/0.75565) + 0.1810 + 0.0813 = 0.4598 + 1.6925
        ("nbc-2020", 2.1522),
        # 1/(0.86235/2.5698 + 0.13765/1.2154)
        ("irc-2021", 2.2280),
        # With its own film of 0.13: mean of 2.1622 and 1/(0.86235/2.5798 + 0.13765/1.2254) = 2.2391
        ("iso-6946", 2.2007),
    ],
)
def test_the_hand_worked_wall_by_each_rule_set(rules: str, expected: float) -> None:
    # Four decimals by hand, each resistance rounded to four: 2e-4.
    found = whole(one(rules=rules))
    assert found.resistance == pytest.approx(expected, abs=2e-4)
    assert found.method is rule_sets()[rules].method
    assert dict(found.shares) == pytest.approx({"batt": 0.86235, "framing": 0.13765}, abs=5e-6)
    assert found.area == pytest.approx(96 * 94.5 * 0.0254**2)


def test_a_batt_thinner_than_the_studs_by_isothermal_planes() -> None:
    """R12 in a 2x6: three planes, at the back of the batt, of the studs and of the gap.

    1/(0.86235/2.11 + 0.13765/0.75565) = 1.6925; behind it, 50.8 mm of air space beside wood,
    1/(0.86235/0.13314 + 0.13765/0.43180) = 0.14715; the gap, 1/(0.86235/0.04993 + 0.13765/0.18100) = 0.05545.
    With 0.12 + 0.0775 + 0.0813 in all 2.1738.
    """
    found = whole(one(frame={**w.STANDING, "studs": "2x6"}))
    assert found.resistance == pytest.approx(2.1738, abs=2e-4)


def test_a_bay_counts_half_a_stud_on_either_side_and_its_plates() -> None:
    """Bay 2: batt 14.5 x 91.5 = 1326.75 in2; studs 1.5 x 91.5, plates 2 x 16 x 1.5: 185.25 in2, 0.12252.

    0.4598 + 1/(0.87748/2.11 + 0.12252/0.75565) = 0.4598 + 1.7299.
    """
    bay = valued(one()).bays[1]
    assert bay.mark == "A2"
    assert dict(bay.shares)["framing"] == pytest.approx(185.25 / 1512, abs=1e-6)
    assert bay.resistance == pytest.approx(2.1897, abs=2e-4)


def test_a_full_height_void_by_hand() -> None:
    """A stack of 3-1/2 in in bay 2 leaves nothing behind it: one air space of 107.95 mm, 0.1831.

    Cut at the back of the studs: 0.1508 and 0.0323. Shares of the bay (1512 in2): batt 11 x 91.5 = 1006.5,
    void 320.25, framing 185.25. Stud space 1/(0.66567/2.11 + 0.21181/0.15075 + 0.12252/0.75565) = 0.53135;
    gap 1/(0.78819/0.18100 + 0.21181/0.03231) = 0.09166. With 0.2788 in all 0.9018.
    """
    bay = valued(one([{"kind": "soil stack", "from_left": "20 in"}])).bays[1]
    assert bay.resistance == pytest.approx(0.9018, abs=3e-4)
    assert dict(bay.shares)["void, too thin"] == pytest.approx(320.25 / 1512, abs=1e-6)


def test_the_rim_by_hand() -> None:
    """Three R12 in 10-1/2 in beside joists: 96 in with 8.25 in of joists, a share of 0.08594.

    Films and rim board 0.12 + 0.3239 + 0.03 = 0.4739; joists of 266.7 mm 2.2670.
    0.4739 + 1/(0.91406/6.33 + 0.08594/2.2670) = 0.4739 + 1/(0.14440 + 0.03791) = 0.4739 + 5.4852.
    """
    house = w.house(
        w.wall(
            length="96 in",
            against="concrete",
            rim={"depth": "10-1/2 in", "spacing": "16 in", "first_joist": "16 in"},
        ),
        assembly={"rim": {"batt": "R12 glass", "pieces": 3}},
    )
    rim = valued(house).rim
    assert rim.resistance == pytest.approx(5.9591, abs=3e-4)
    assert dict(rim.shares)["framing"] == pytest.approx(0.0859375, abs=1e-6)


def test_a_wall_without_a_frame_has_no_worth_and_a_bare_rim() -> None:
    # 0.12 + 38.1 mm of wood 0.3239 + 0.03: whatever the joists are, their plane is bridged by nothing at all.
    found = valued(one(frame={"state": "none"}))
    assert (found.whole, found.bays) == (None, ())
    assert found.rim.resistance == pytest.approx(0.4739, abs=1e-4)


@pytest.mark.parametrize("method", Method)
def test_a_larger_void_costs_more(method: Method) -> None:
    house = by_method(one(), method)
    worths = []
    for width in (0.0, 2.25, 4.0, 6.0, 8.0, 10.0, 12.0):
        box = {
            "kind": "cleanout",
            "from_left": "16.75 in",
            "up": "20 in",
            "width": f"{width} in",
            "height": "30 in",
        }
        wall = one([box] if width else []).walls[0]
        worths.append(valued(house, wall).bays[1].resistance)
    assert worths == sorted(worths, reverse=True)
    assert len(set(worths)) == len(worths)


def test_where_the_bounds_part_too_far_the_lower_one_is_taken() -> None:
    # R40 beside a fifth of R1: the bounds are 7.7 and 4.6 over the same films, more than half apart.
    sections = [
        Zone(
            "batt", 80, (Layer("film", inch(0), 4.0), Layer("batt", inch(3.5), 7.0), Layer("a", inch(1), 0.1))
        ),
        Zone(
            "framing",
            20,
            (Layer("film", inch(0), 0.1), Layer("wood", inch(3.5), 0.2), Layer("a", inch(1), 4.0)),
        ),
    ]
    house = by_method(one(), Method.COMBINED)
    found = worth("A", sections, house)
    assert found.method is Method.ISOTHERMAL_PLANES
    # 1/(0.8/4 + 0.2/0.1) + 1/(0.8/7 + 0.2/0.2) + 1/(0.8/0.1 + 0.2/4) = 0.4545 + 0.8974 + 0.1242
    assert found.resistance == pytest.approx(1.4762, abs=1e-4)


def test_parts_side_by_side_by_area() -> None:
    # 3 m2 at 2 and 1 m2 at 4: 4/(1.5 + 0.25) = 2.2857.
    parts = [
        Worth(name, r, area, Method.COMBINED, ()) for name, r, area in (("A", 2.0, 3.0), ("B", 4.0, 1.0))
    ]
    assert together(parts) == pytest.approx(2.2857, abs=1e-4)


def test_a_wall_of_r12_batts_is_about_r12() -> None:
    # An order of size: what the studs take, film, sheet, gap and concrete about give back.
    assert 11.5 < to_r(whole(one()).resistance) < 13.0


# Every wall


@given(w.walls())
@settings(max_examples=120)
def test_bounds_shares_and_areas_of_any_wall(wall: HouseWall) -> None:
    house = w.house(w.wall())
    w.standing(wall)
    lower, mean, upper = (
        whole(by_method(house, method), wall)
        for method in (Method.ISOTHERMAL_PLANES, Method.COMBINED, Method.PARALLEL_PATH)
    )
    slack = 1e-12
    assert lower.resistance <= mean.resistance + slack
    assert mean.resistance <= upper.resistance + slack
    for found in (lower, mean, upper):
        assert sum(share for _, share in found.shares) == pytest.approx(1.0, abs=1e-12)
        assert all(share > 0 for _, share in found.shares)


def brings_wood(wall: HouseWall) -> bool:
    return any(thing.kind.cut in ("framing", "opening") for thing in wall.in_the_way)


def has_void(worth: WallWorth) -> bool:
    return any(what.startswith("void") for bay in worth.bays for what, _ in bay.shares)


@given(w.walls(with_openings=False))
@settings(max_examples=80)
def test_what_is_in_the_way_never_makes_a_wall_better(wall: HouseWall) -> None:
    """By parallel path always; by isothermal planes where the batts fill the stud space.

    Where they don't, what is put behind a pipe reaches over two planes and bridges the air behind the others.
    Within a millionth: under a slope, corners of pieces are rounded to whole 1/160 mm, wherever they are cut.
    Only wood that takes the place of a void betters it: 2.5 in of softwood are worth more than the air there.
    """
    house = w.house(w.wall())
    w.standing(wall)
    fills = wall.assembly.batts[0].thickness.value >= w.frame_of(wall).depth
    clean = replace(wall, in_the_way=())
    for method in (Method.PARALLEL_PATH, *([Method.ISOTHERMAL_PLANES] if fills else [])):
        ruled = by_method(house, method)
        with_things, without = valued(ruled, wall), valued(ruled, clean)
        assume(not (brings_wood(wall) and has_void(without)))
        assert with_things.whole is not None
        assert without.whole is not None
        assert with_things.whole.resistance <= without.whole.resistance * (1.0 + 1e-6)
        for bay, plain in zip(with_things.bays, without.bays, strict=True):
            assert bay.resistance <= plain.resistance * (1.0 + 1e-6)


def test_a_window_that_was_only_counted_is_no_part_of_the_wall_and_has_studs_round_it() -> None:
    # Bays 7823.25 in2 less a window of 32 x 16 = 512 and 96 in of stick round it, 144 in2, to framing.
    found = whole(one(counts={"window": 1}))
    assert dict(found.shares)["framing"] == pytest.approx((1248.75 + 144) / (9072 - 512), abs=1e-4)
    assert found.area == pytest.approx((9072 - 512) * 0.0254**2, rel=1e-5)
    assert found.resistance < whole(one()).resistance
