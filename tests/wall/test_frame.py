"""Frames: layouts worked by hand, and that studs, bays and plates make up the whole frame.

Hand-worked sizes follow from the custom in the module's docstring with a 2x4 (1-1/2 by 3-1/2 in); there is no
published source.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings

from tests import walls as w
from tests.walls import inch
from warmside.job.resolve import HouseWall
from warmside.units import Length
from warmside.wall.frame import Bay, FrameError, WallFrame, frame_area, frame_wall, rim_bays


def clear_widths(built: WallFrame) -> list[float]:
    """Clear widths of the bays [in]."""
    return [bay.width / inch(1) for bay in built.bays]


def fault(wall: HouseWall) -> dict[str, Any]:
    """What is told about a frame that can't stand, under `code` its code and under `wall` its wall."""
    with pytest.raises(FrameError) as raised:
        frame_wall(wall)
    note = raised.value.note
    return {"code": note.code, "wall": note.where.wall, **note.args}


# By spacing: 16 in to the middle of the second stud leaves 16 - 3/4 - 1-1/2 = 13-3/4; further on 16 - 1-1/2.


def test_eight_foot_frame_at_16_in_ends_in_a_bay_like_its_first() -> None:
    # Studs begin at 0, 15.25, 31.25, 47.25, 63.25, 79.25 and 94.5: the last bay is 94.5 - 80.75 = 13.75.
    built = frame_wall(w.framed(96))
    assert [left / inch(1) for left, _ in built.studs] == [0, 15.25, 31.25, 47.25, 63.25, 79.25, 94.5]
    assert clear_widths(built) == [13.75, 14.5, 14.5, 14.5, 14.5, 13.75]


def test_layout_from_the_right_is_the_mirror_image() -> None:
    # 90 in: last stud at 88.5, so the bay that is left over is 88.5 - 80.75 = 7.75.
    assert clear_widths(frame_wall(w.framed(90))) == [13.75, 14.5, 14.5, 14.5, 14.5, 7.75]
    turned = frame_wall(w.framed(90, layout_from="right"))
    assert clear_widths(turned) == [7.75, 14.5, 14.5, 14.5, 14.5, 13.75]


@pytest.mark.parametrize(
    ("length", "last"),
    [(97.5, [15.25]), (97.25, [15.0]), (96.75, [14.5]), (98.25, [14.5]), (98.5, [14.5, 0.25])],
    ids=["half in it", "deeper in it", "is the last one", "touches the last one", "a quarter inch beside it"],
)
def test_a_stud_in_the_place_of_the_last_one_is_left_out(length: float, last: list[float]) -> None:
    # The sixth layout stud would stand from 95.25 to 96.75.
    widths = clear_widths(frame_wall(w.framed(length)))
    assert widths == [13.75, 14.5, 14.5, 14.5, 14.5, *last]


def test_odd_bays_shift_the_studs_behind_them() -> None:
    # Five bays, five studs: 13.75 + 14.5 + 10 + 14.5 + 14.5 + 5 x 1.5 = 74.75, and the sixth stud to 76.25.
    # One more bay of 14.5 ends at 90.75, its stud at 92.25; the last stud begins at 94.5, so 2.25 is left.
    built = frame_wall(w.framed(96, odd_bays={3: "10 in"}))
    assert clear_widths(built) == [13.75, 14.5, 10, 14.5, 14.5, 14.5, 2.25]


def test_odd_bays_are_counted_from_where_the_layout_starts() -> None:
    built = frame_wall(w.framed(96, odd_bays={1: "10 in"}, layout_from="right"))
    assert clear_widths(built)[-1] == 10


def test_a_last_bay_that_disagrees_with_the_tape_is_told_with_both_figures() -> None:
    # Bay 6 of 8 ft is 13-3/4; 13 in is 3/4 in off, more than the half inch of two readings.
    told = fault(w.framed(96, odd_bays={6: "13 in"}))
    assert told == {
        "code": "fault.last_bay",
        "wall": "A",
        "number": 6,
        "wanted": inch(13),
        "left": inch(13.75),
    }
    assert clear_widths(frame_wall(w.framed(96, odd_bays={6: "13-1/2 in"})))[-1] == 13.75


def test_an_odd_bay_is_never_quietly_made_narrower() -> None:
    # Behind 14 in as bay 6 a stud would begin at 94.75, and the last one begins at 95.5: 14-3/4 are left.
    assert fault(w.framed(97, odd_bays={6: "14 in"}))["code"] == "fault.last_bay"


def test_an_odd_bay_that_is_not_there() -> None:
    told = fault(w.framed(96, odd_bays={9: "10 in"}))
    assert told == {"code": "fault.no_such_bay", "wall": "A", "number": 9, "count": 6}


@pytest.mark.parametrize("last", [10, 10.5, 11])
def test_bays_one_by_one_miss_by_half_an_inch_at_most(last: float) -> None:
    # 14 + 14 + 10.5 + 4 x 1.5 = 44.5: the last bay is what the frame leaves, 10.5.
    built = frame_wall(w.framed(44.5, bays=["14 in", "14 in", f"{last} in"]))
    assert clear_widths(built) == [14, 14, 10.5]


@pytest.mark.parametrize(("last", "code"), [(11.25, "bays_too_long"), (9.75, "bays_too_short")])
def test_bays_that_do_not_add_up(last: float, code: str) -> None:
    told = fault(w.framed(44.5, bays=["14 in", "14 in", f"{last} in"]))
    assert told == {
        "code": f"fault.{code}",
        "wall": "A",
        "bays": inch(34 + last),
        "length": inch(44.5),
        "off": inch(0.75),
    }


def test_a_last_bay_too_narrow_to_take_the_miss_is_told() -> None:
    # 14 + 14 + 1/4 + 4 x 1.5 = 34.25 in 33.875: the last bay would be -1/8.
    assert fault(w.framed(33.875, bays=["14 in", "14 in", "1/4 in"]))["code"] == "fault.bays_too_long"


def test_a_frame_needs_room_for_two_studs() -> None:
    assert fault(w.framed(2.75))["code"] == "fault.frame_too_short"
    assert clear_widths(frame_wall(w.framed(4))) == [1]


# Openings


def window(
    left: float, width: float, up: float = 50, height: float = 20, kind: str = "window"
) -> dict[str, str]:
    sizes = {"from_left": left, "up": up, "width": width, "height": height}
    return {"kind": kind, **{key: f"{value} in" for key, value in sizes.items()}}


def planned(*in_the_way: dict[str, str], length: float = 96, **frame: Any) -> HouseWall:
    return w.framed(length, state="planned", in_the_way=list(in_the_way), **frame)


def test_a_planned_window_gets_jambs_sill_head_and_cripples() -> None:
    """A window from 40 to 72 in, 50 to 70 in up, in 96 in of frame that is 94-1/2 in high.

    Jambs 38.5-40 and 72-73.5. Layout studs at 47.25 and 63.25 stand in the window: cut below its sill (48.5)
    and above its head (71.5), from the bottom plate (1.5) and to the top plate (93).
    """
    built = frame_wall(planned(window(40, 32)))
    lefts = [left / inch(1) for left, _ in built.studs]
    assert lefts == [0, 15.25, 31.25, 38.5, 47.25, 63.25, 72, 79.25, 94.5]
    cripples = [m for m in built.members if m.name == "cripple"]
    spans = [(m.left / inch(1), m.bottom / inch(1), m.top / inch(1)) for m in cripples]
    assert spans == [(47.25, 1.5, 48.5), (47.25, 71.5, 93), (63.25, 1.5, 48.5), (63.25, 71.5, 93)]
    flat = {m.name: (m.left, m.right, m.bottom, m.top) for m in built.members if m.name.startswith("window")}
    assert flat == {
        "window sill": (inch(40), inch(72), inch(48.5), inch(50)),
        "window head": (inch(40), inch(72), inch(70), inch(71.5)),
    }


def test_a_layout_stud_in_the_place_of_a_jamb_makes_way() -> None:
    # A jamb from 30.5 to 32 takes the place of the stud from 31.25 to 32.75.
    lefts = [left / inch(1) for left, _ in frame_wall(planned(window(32, 20))).studs]
    assert 30.5 in lefts
    assert 31.25 not in lefts


@pytest.mark.parametrize("apart", [0.5, 0.75, 1.0, 2.0, 2.9, 3.0, 4.0])
def test_two_windows_side_by_side_stand_whatever_is_between_them(apart: float) -> None:
    built = frame_wall(planned(window(30, 20), window(50 + apart, 20)))
    between = [s for s in built.studs if inch(50) <= s[0] and s[1] <= inch(50 + apart)]
    assert len(between) == (0 if apart < 1.5 else 1 if apart < 3 else 2)


def test_a_door_has_no_bottom_plate_and_no_sill() -> None:
    built = frame_wall(planned(window(40, 34, 0, 82, kind="door")))
    plates = [(m.left, m.right) for m in built.members if m.name == "bottom plate"]
    assert plates == [(0, inch(40)), (inch(74), inch(96))]
    assert [m.name for m in built.members if "door" in m.name] == ["door head"]


@pytest.mark.parametrize(
    ("up", "height", "sill", "head"), [(2, 20, 0.5, 1.5), (70, 22.5, 1.5, 0.5), (70, 23, 1.5, 0)]
)
def test_sill_and_head_are_as_thick_as_the_plates_leave_room(
    up: float, height: float, sill: float, head: float
) -> None:
    # Clear height from 1.5 to 93 in.
    built = frame_wall(planned(window(40, 32, up, height)))
    found = {m.name: (m.top - m.bottom) / inch(1) for m in built.members if m.name.startswith("window")}
    assert found == {"window sill": sill} | ({"window head": head} if head else {})


@pytest.mark.parametrize(
    ("left", "stands"), [(32.75, True), (32.25, True), (32, False), (31.75, True), (31.25, True)]
)
def test_a_standing_stud_half_in_a_window_was_measured_wrong(left: float, stands: bool) -> None:
    """A standing stud from 31.25 to 32.75 and a window that begins at `left`.

    Half an inch inside, or all but half an inch, is what two readings of a tape may miss.
    """
    wall = w.framed(96, in_the_way=[window(left, 14)])
    if stands:
        frame_wall(wall)
    else:
        told = fault(wall)
        assert told["code"] == "fault.stud_in_opening"
        assert (told["left"], told["right"], told["from"]) == (inch(31.25), inch(32.75), inch(32))


# Sloping tops


def test_top_plates_and_bays_follow_a_ceiling_with_several_points() -> None:
    """96 in of frame, its top at 90, 94 (at 48 in) and 86 in (at 96 in): two plates of 1.5 in each.

    Bay 1 from 1.5 to 15.25: under the plates 87 + 1.5/12 = 87.125 and 87 + 15.25/12 = 88.2708.
    """
    heights = [["0 in", "90 in"], ["48 in", "94 in"], ["96 in", "86 in"]]
    built = frame_wall(w.framed(96, height=heights, top_plates=2))
    plates = [(m.left, m.right, m.bottom, m.rise) for m in built.members if m.name == "top plate"]
    assert plates == [
        (0, inch(48), inch(87), inch(4)),
        (0, inch(48), inch(88.5), inch(4)),
        (inch(48), inch(96), inch(91), inch(-8)),
        (inch(48), inch(96), inch(92.5), inch(-8)),
    ]
    assert (built.bays[0].top_left, built.bays[0].top_right) == (inch(87.125), inch(87 + 15.25 / 12))


def test_the_ceiling_line_ends_where_the_wall_ends_not_where_the_frame_does() -> None:
    # From 90 in at 0 to 98 in at the end of the wall, 96 in: at 84 in, where the frame ends, it is 97 in.
    wall = w.only(length="96 in", height=["88.5 in", "96.5 in"], frame={**w.STANDING, "ends": "84 in"})
    frame = w.frame_of(wall)
    assert frame.top.at(frame.end, frame.end) == inch(97)


# The rim


def test_rim_bays_between_joists_that_land() -> None:
    """236 in of concrete, joists of 1.5 in at 16 in, the first centred at 16 in: 14 of them, the last at 224.

    First bay 16 - 3/4 = 15.25, the others 14.5, the last 236 - 224.75 = 11.25.
    """
    bays = rim_bays(
        w.only(length="236 in", against="concrete", rim={"spacing": "16 in", "first_joist": "16 in"})
    )
    assert [bay.width / inch(1) for bay in bays] == [15.25, *[14.5] * 13, 11.25]
    assert [bay.number for bay in bays] == list(range(1, 16))


def test_one_rim_bay_where_joists_run_alongside() -> None:
    (bay,) = rim_bays(w.only(length="236 in", against="concrete", rim={"joists": "run alongside"}))
    assert (bay.left, bay.right) == (0, inch(236))


@pytest.mark.parametrize(
    ("first", "bays"), [(0, [14.5, 14.5]), (0.75, [14.5, 14.5]), (1, [0.25, 14.5, 14.5]), (16, [15.25, 14.5])]
)
def test_a_joist_at_the_corner_takes_its_place(first: float, bays: list[float]) -> None:
    # 32.75 in: joists centred at `first`, 16 in on and so on; what stands out past the corner is not there.
    # First at 1: 0.25 to 1.75, then 16.25 to 17.75, then 32.25 to 32.75: bays 0.25, 14.5 and 14.5.
    rim = {"spacing": "16 in", "first_joist": f"{first} in"}
    built = rim_bays(w.only(length="32.75 in", against="concrete", frame={"state": "none"}, rim=rim))
    assert [bay.width / inch(1) for bay in built] == bays


def test_a_plate_that_leaves_no_concrete_is_told() -> None:
    # A jog between two corners that open out: of 3 in of plate 3/4 and 4-1/4 in stand past the concrete.
    turns = ["left", "left", "right"]
    jog = [w.wall(name=name, turn=turn) for name, turn in zip("ABC", turns, strict=True)]
    jog[1] = {**jog[1], "length": "3 in", "against": "plate"}
    told = fault(w.house(*jog).walls[1])
    assert told == {"code": "fault.no_concrete", "wall": "B", "short": inch(2)}


# Marks


@pytest.mark.parametrize(("name", "mark"), [("C", "C7"), ("North", "North7"), ("2", "2-7"), ("A1", "A1-7")])
def test_a_mark_tells_wall_and_bay_apart(name: str, mark: str) -> None:
    nothing = Length(0)
    assert Bay(name, 7, nothing, nothing, nothing, nothing, nothing).mark == mark


# Every wall


@given(w.walls())
@settings(max_examples=400)
def test_studs_and_bays_tile_the_frame(wall: HouseWall) -> None:
    _, built = w.standing(wall)
    frame = w.frame_of(wall)
    strips = sorted([*built.studs, *((bay.left, bay.right) for bay in built.bays)])
    assert strips[0][0] == frame.start
    assert strips[-1][1] == frame.end
    assert all(one[1] == other[0] for one, other in pairwise(strips))
    assert all(right > left for left, right in strips)
    assert [bay.number for bay in built.bays] == list(range(1, len(built.bays) + 1))


@given(w.walls(ceiling="straight", with_openings=False))
@settings(max_examples=150)
def test_sticks_and_bays_make_up_the_frame(wall: HouseWall) -> None:
    # Under a level ceiling exactly; under a slope each edge is rounded, and a stud ends at its middle.
    _, built = w.standing(wall)
    frame = w.frame_of(wall)
    sticks = sum((m.right - m.left) * (m.top - m.bottom) for m in built.members)
    missing = frame_area(frame) - sticks - sum(bay.area for bay in built.bays)
    slope = len({p.value for p in frame.top.points}) > 1
    assert abs(missing) <= (2 * (frame.end - frame.start) if slope else 0)


@given(w.walls(ceiling="level"))
@settings(max_examples=150)
def test_a_mirrored_wall_has_the_mirrored_bays(wall: HouseWall) -> None:
    frame = w.frame_of(wall)
    _, built = w.standing(wall)
    both = frame.start + frame.end
    turned = frame_wall(w.mirrored(wall))
    assert [(b.left, b.right) for b in turned.bays] == [
        (both - b.right, both - b.left) for b in built.bays[::-1]
    ]
