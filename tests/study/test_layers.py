"""Build-ups layer by layer, and that the zones of a wall make up its frame.

Values by hand come from the goods table: film 0.12, drywall 12.7 mm at 6.1, wood at 8.5 and concrete at
0.4 m.K/W, R12 batts 2.11 m2.K/W in 3-1/2 in. Air layers by ISO 6946:2007 annex B: 0.025/d or 1.25, the larger
of the two, and radiation between faces of 0.9 at 10 C, 4.2127 W/(m2.K).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings

from tests import walls as w
from tests.walls import inch
from warmside.cutting.pieces import fill_bay
from warmside.job.resolve import House, HouseWall
from warmside.study.layers import (
    Layer,
    Zone,
    around_studs,
    bay_zones,
    framing_area,
    misfits,
    plain_layers,
    rim_zones,
)
from warmside.wall.frame import frame_area, frame_wall
from warmside.wall.in_the_way import Box, minus, outline

RADIATION = 4.2127
"""4 x 5.67e-8 x 283.15^3 / (2/0.9 - 1) [W/(m2.K)]."""


def zones(house: House, wall: HouseWall) -> list[Zone]:
    """The zones of all bays of a wall."""
    frame = w.frame_of(wall)
    built = frame_wall(wall)
    return [zone for bay in built.bays for zone in bay_zones(house, wall, frame, fill_bay(wall, bay))]


def named(found: list[Zone], name: str) -> Zone:
    return next(zone for zone in found if zone.name == name)


def resistances(layers: tuple[Layer, ...]) -> list[float]:
    return [layer.resistance for layer in layers]


def one(
    in_the_way: list[dict[str, str]] | None = None, assembly: dict[str, Any] | None = None, **fields: Any
) -> House:
    """A house of one wall with 96 in of frame, 3/4 in off the concrete of 8 in."""
    made = w.wall(length="96 in", in_the_way=in_the_way or [], **fields)
    return w.house(made, assembly=assembly or {}, foundation={"thickness": "8 in"})


# Build-ups


def test_a_plain_wall_from_the_room_outwards() -> None:
    # Gap 19.05 mm: 1/(0.025/0.01905 + 4.2127) = 0.1810. Concrete 0.2032 x 0.4 = 0.0813. Drywall 0.0127 x 6.1.
    house = one()
    wall = house.walls[0]
    layers = plain_layers(house, wall, wall.assembly.batts[0])
    assert [layer.name for layer in layers] == [
        "inside film",
        "drywall 12.7 mm",
        "R12 glass 15 in",
        "air",
        "concrete",
    ]
    assert resistances(layers) == pytest.approx([0.12, 0.0775, 2.11, 0.1810, 0.0813], abs=5e-5)
    assert [layer.thickness for layer in layers] == [0, inch(0.5), inch(3.5), inch(0.75), inch(8)]


def test_foam_board_takes_its_part_of_the_gap() -> None:
    # 25 mm in a gap of 1-1/2 to 2 in, 44.45 mm in the mean: 19.45 mm of air left, 0.025 x 34.6 = 0.865.
    house = one(assembly={"foam_board": "XPS 25 mm"}, gap=["1-1/2 in", "2 in"])
    wall = house.walls[0]
    layers = plain_layers(house, wall, wall.assembly.batts[0])
    assert [layer.name for layer in layers][3:] == ["air", "XPS 25 mm", "concrete"]
    assert resistances(layers)[3:5] == pytest.approx([1 / (0.025 / 0.01945 + RADIATION), 0.865], abs=5e-5)


def test_a_wall_without_a_frame_shows_what_is_there() -> None:
    house = one(frame={"state": "none"})
    wall = house.walls[0]
    names = [layer.name for layer in plain_layers(house, wall, wall.assembly.batts[0])]
    assert names == ["inside film", "drywall 12.7 mm", "concrete"]
    assert framing_area(wall, frame_wall(wall)) == 0


def test_no_air_is_shown_where_there_is_none() -> None:
    house = one(gap="0 in")
    wall = house.walls[0]
    assert "air" not in [layer.name for layer in plain_layers(house, wall, wall.assembly.batts[0])]


@pytest.mark.parametrize(
    ("batt", "studs", "worth"),
    [
        ("R12 glass", "2x4", 2.11),
        ("R20 glass", "2x6", 3.34),
        ("R20 glass", "2x4", 2.486),
        ("R19 glass", "2x6", 3.13),
    ],
)
def test_a_batt_thicker_than_the_studs_counts_as_squeezed(batt: str, studs: str, worth: float) -> None:
    # The code's note gives R20 (RSI 3.52, 152 mm) 3.34 in 140 mm; a maker's chart has R18 (3.17) for R19
    # there and rounds to whole R. 152.4 mm in 88.9: k = 0.0252 + (0.04330 - 0.0252)/1.714 = 0.03576, 2.486.
    house = one(assembly={"batt": batt}, frame={**w.STANDING, "studs": studs})
    layer = named(zones(house, house.walls[0]), "batt").layers[2]
    assert layer.resistance == pytest.approx(worth, abs=0.005 if batt != "R19 glass" else 0.09)


def test_a_batt_thinner_than_the_studs_has_one_air_space_behind_it() -> None:
    """R12 in a 2x6: 50.8 mm of the stud space and 19.05 of the gap are one air space, 1/(1.25 + 4.2127).

    That is 0.1831; cut at the back of the studs by thickness 0.1331 and 0.0499. A void is one air space too.
    """
    house = one(frame={**w.STANDING, "studs": "2x6"})
    wall = house.walls[0]
    found = zones(house, wall)
    assert resistances(named(found, "batt").layers[2:5]) == pytest.approx([2.11, 0.1331, 0.0499], abs=5e-5)
    box = [{"kind": "electrical box", "from_left": "20 in", "up": "12 in", "back": "1/2 in"}]
    house = one(box, frame={**w.STANDING, "studs": "2x6"})
    empty = named(zones(house, house.walls[0]), "void, too thin")
    whole = 1 / (1.25 + RADIATION)
    shares = [whole * part / (3.5 + 2 + 0.75) for part in (3.5, 2, 0.75)]
    assert resistances(empty.layers[2:5]) == pytest.approx(shares, abs=5e-5)


def test_behind_a_pipe_is_as_much_batt_as_there_is_room() -> None:
    # 1.3125 of 3.5 in of R12: 2.11 x 0.375 = 0.79125.
    house = one([{"kind": "water pipe", "from_left": "20 in"}])
    behind = [zone for zone in zones(house, house.walls[0]) if zone.name == "behind"]
    assert resistances(behind[0].layers[2:]) == pytest.approx([0.79125, 0, 0.1810, 0.0813], abs=5e-5)
    assert sum(zone.area for zone in behind) == inch(0.875) * inch(91.5)


def test_never_more_batt_behind_a_pipe_than_a_batt_is_thick() -> None:
    house = one(
        [{"kind": "water pipe", "from_left": "20 in", "back": "4-1/2 in"}],
        frame={**w.STANDING, "studs": "2x6"},
    )
    behind = named(zones(house, house.walls[0]), "behind")
    assert sum(resistances(behind.layers[2:4])) == pytest.approx(2.11, abs=1e-9)


def test_where_two_pipes_cross_the_deeper_trough_counts() -> None:
    # Pipes of 7/8 in, 1 in and 2 in before the back of the studs: where they cross only 1 in is left.
    pipes = [
        {"kind": "water pipe", "from_left": "20 in", "back": "2 in"},
        {"kind": "water pipe", "runs": "along", "up": "20 in", "back": "1 in"},
    ]
    house = one(pipes)
    wall = house.walls[0]
    frame, bay = w.frame_of(wall), frame_wall(wall).bays[1]
    behind = [zone for zone in bay_zones(house, wall, frame, fill_bay(wall, bay)) if zone.name == "behind"]
    areas = {round(zone.layers[2].resistance / 2.11 * 3.5, 3): 0 for zone in behind}
    for zone in behind:
        areas[round(zone.layers[2].resistance / 2.11 * 3.5, 3)] += zone.area
    assert areas == {1.0: inch(0.875) * inch(14.5), 2.0: inch(0.875) * inch(91.5 - 0.875)}


def test_sill_and_head_of_a_window_are_framing_of_their_bay() -> None:
    # Window 36 to 44 in in bay 3 (32.75 to 47.25): two sticks of 8 by 1.5 in.
    window = {"kind": "window", "from_left": "36 in", "up": "50 in", "width": "8 in", "height": "10 in"}
    house = one([window])
    wall = house.walls[0]
    found = bay_zones(house, wall, w.frame_of(wall), fill_bay(wall, frame_wall(wall).bays[2]))
    assert named(list(found), "framing").area == 2 * inch(8) * inch(1.5)


# The rim


def rim(batt: str, pieces: int, **more: str) -> tuple[Zone, ...]:
    house = w.house(
        w.wall(length="96 in", against="concrete", rim={"height": "9-1/4 in", **more}),
        assembly={"rim": {"batt": batt, "pieces": pieces}},
    )
    wall = house.walls[0]
    return rim_zones(house, wall, frame_wall(wall))


def test_three_r12_batts_at_the_rim_are_r36() -> None:
    # 3 x 2.11 = 6.33, R36 by label (35.9); film 0.12, rim board 38.1 mm x 8.5 = 0.3239, outside film 0.03.
    batt = named(list(rim("R12 glass", 3, depth="10-1/2 in")), "batt")
    assert resistances(batt.layers) == pytest.approx([0.12, 6.33, 0.3239, 0.03], abs=5e-5)


def test_space_left_over_at_the_rim_is_one_air_layer() -> None:
    # 1/4 in = 6.35 mm: 1/(0.025/0.00635 + 4.2127) = 0.1227.
    batt = named(list(rim("R12 glass", 3, depth="10-3/4 in")), "batt")
    assert batt.layers[1].resistance == pytest.approx(6.33 + 0.1227, abs=5e-5)


def test_a_deep_rim_has_no_more_air_than_the_method_treats() -> None:
    # 36 - 3.5 in = 826 mm of air; ISO 6946 ends at 300 mm, whose resistance is 0.1831.
    batt = named(list(rim("R12 glass", 1, depth="36 in")), "batt")
    assert batt.layers[1].resistance == pytest.approx(2.11 + 0.1831, abs=5e-5)


def test_the_joists_take_what_the_rim_bays_leave() -> None:
    # 96 in, joists of 1.5 in at 16, 32, 48, 64, 80 and half of one at 96: 8.25 in of wood 9-1/4 in high.
    found = rim("R20 glass", 1, spacing="16 in", first_joist="16 in")
    framing = sum(zone.area for zone in found if zone.name == "framing")
    assert framing == inch(8.25) * inch(9.25)
    assert sum(zone.area for zone in found) == inch(96) * inch(9.25)


def test_alongside_there_is_no_joist_in_the_rim() -> None:
    assert {zone.name for zone in rim("R20 glass", 1, joists="run alongside")} == {"batt"}


def test_nothing_is_put_in_above_a_wall_without_a_frame() -> None:
    house = one(frame={"state": "none"})
    wall = house.walls[0]
    found = rim_zones(house, wall, frame_wall(wall))
    empty = named(list(found), "void, no frame")
    assert resistances(empty.layers) == pytest.approx([0.12, 0, 0.3239, 0.03], abs=5e-5)


def test_a_rim_sliver_is_empty() -> None:
    # Joists centred at 1 in and 17 in: 0.25 in before the first.
    found = rim("R20 glass", 1, spacing="16 in", first_joist="1 in")
    assert named(list(found), "void, sliver").area == inch(0.25) * inch(9.25)


# What does not fit


def misfit_codes(assembly: dict[str, Any], **fields: Any) -> list[str]:
    return [note.code for note in misfits(one(assembly=assembly, **fields).walls[0])]


def test_batts_squeezed_to_half_are_told() -> None:
    """R20 is 6 in thick: it goes into 3.5 in, not into 2.5; a rim 4 in deep takes one of them, not two."""
    thin = {**w.STANDING, "studs": "2x3"}
    rim = {"rim": {"batt": "R12 glass", "pieces": 1}}
    assert misfit_codes({"batt": "R20 glass", **rim}) == []
    assert misfit_codes({"batt": "R20 glass", **rim}, frame=thin) == ["fault.batt_too_thick"]
    assert misfit_codes({"rim": {"batt": "R20 glass", "pieces": 1}}, rim={"depth": "4 in"}) == []
    assert misfit_codes({"rim": {"batt": "R20 glass", "pieces": 2}}, rim={"depth": "4 in"}) == [
        "fault.rim_too_full"
    ]
    assert misfit_codes({"batt": "R20 glass"}, frame={"state": "none"}) == []


def test_what_is_told_of_a_batt_too_thick() -> None:
    frame = {**w.STANDING, "studs": "2x3"}
    (note,) = misfits(one(assembly={"batt": "R20 glass", "rim": {"batt": "R12 glass"}}, frame=frame).walls[0])
    assert note.where.wall == "A"
    assert (note.args["thickness"], note.args["space"]) == (inch(6), inch(2.5))


# Every wall


@given(w.walls())
@settings(max_examples=250)
def test_zones_and_openings_make_up_the_frame(wall: HouseWall) -> None:
    """Exactly under a level ceiling; under a sloping one each zone and bay is rounded to a square unit."""
    house = w.house(w.wall())
    wall, built = w.standing(wall)
    frame = w.frame_of(wall)
    found = zones(house, wall)
    whole = Box(frame.start, inch(0), frame.end, frame.top.most)
    openings = [outline(t).clipped(whole) for t in wall.in_the_way if t.kind.cut == "opening"]
    cut = [part for n, box in enumerate(openings) for part in minus(box, openings[:n]) if box.area]
    area = sum(z.area for z in found) + framing_area(wall, built) + sum(box.area for box in cut)
    level = all(bay.top_left == bay.top_right for bay in built.bays)
    assert abs(area - frame_area(frame)) <= (0 if level else len(found) + len(built.bays))


@given(w.walls(with_openings=False))
@settings(max_examples=60)
def test_all_zones_of_a_wall_have_the_same_planes(wall: HouseWall) -> None:
    house = w.house(w.wall())
    wall, _ = w.standing(wall)
    layers = around_studs(house, wall)
    count = len(layers.before) + 3 + len(layers.behind)
    assert {len(zone.layers) for zone in zones(house, wall)} <= {count}
    assert all(layer.resistance >= 0 for zone in zones(house, wall) for layer in zone.layers)


def test_framing_area_of_a_plain_frame() -> None:
    # 96 by 94.5 in with bays of 85.5 in in all, 91.5 in high: 9072 - 7823.25 = 1248.75 in2.
    wall = w.framed(96)
    assert framing_area(wall, frame_wall(wall)) == inch(1) ** 2 * 4995 // 4


def test_a_window_leaves_the_framing_what_its_sticks_are() -> None:
    """The wall of the frame tests: a planned window from 40 to 72 in, 50 to 70 up, in 96 by 94.5 in.

    Plates 2 x 96 x 1.5 = 288. Full studs 0, 15.25, 31.25, 38.5, 72, 79.25, 94.5: 7 x 91.5 x 1.5 = 960.75.
    Cripples twice 47 + 21.5, 1.5 wide: 205.5. Sill and head count here where the two cripples stand under and
    over them, 4 x 1.5 x 1.5 = 9; the rest of them counts with the bays.
    """
    window = {"kind": "window", "from_left": "40 in", "up": "50 in", "width": "32 in", "height": "20 in"}
    wall = w.framed(96, [window], state="planned")
    assert framing_area(wall, frame_wall(wall)) == inch(1) ** 2 * (288 + 960.75 + 205.5 + 9)


def test_a_sloping_top_takes_its_triangle_off() -> None:
    # 90 to 98 in over 96 in of frame: the mean bay is as high as under 94 in, and its batts cover that area.
    house = one()
    level = replace(house.walls[0], in_the_way=())
    frame = w.frame_of(level)
    sloping = w.only(length="96 in", frame={**w.STANDING, "height": ["90 in", "98 in"]})
    flat = w.only(length="96 in", frame={**w.STANDING, "height": "94 in"})
    areas = [sum(zone.area for zone in zones(house, wall)) for wall in (sloping, flat)]
    assert areas[0] == pytest.approx(areas[1], rel=1e-6)
    assert frame.top_plates == 1
