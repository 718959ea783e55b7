"""Resolving a survey: corners worked by hand, what is taken for an unknown, what leaves a wall at level 1."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests import walls as w
from tests.walls import inch
from warmside.catalog.goods import Model
from warmside.job import survey as asked
from warmside.job.closing import Closing, closing, corners
from warmside.job.resolve import House, HouseWall, Side, resolve
from warmside.say import Note, Voice
from warmside.units import INCH, Length

# Corners. All frames 2x4 (3-1/2 in deep), gap 1/2 to 1 in: concrete to back is 3/4 and to face 4-1/4 in, but
# for one wall of the L-shaped room.


def spans(walls: tuple[HouseWall, ...]) -> list[tuple[float, ...]]:
    """Frame start and end, concrete start and length [in] of each wall."""
    return [
        (frame.start / INCH, frame.end / INCH, wall.concrete_start / INCH, wall.concrete_length / INCH)
        for wall in walls
        for frame in [w.frame_of(wall)]
    ]


def room(
    lengths: list[float],
    turns: list[str],
    against: str = "concrete",
    more: Mapping[str, Mapping[str, Any]] = MappingProxyType({}),
) -> House:
    """A round of walls A, B, C ... with these lengths in inches, some with more fields."""
    made = [
        w.wall(name=name, length=f"{length} in", turn=turn, against=against, **more.get(name, {}))
        for name, length, turn in zip("ABCDEF", lengths, turns, strict=False)
    ]
    return w.house(*made)


def test_a_square_room_taped_on_the_concrete() -> None:
    r"""Room of 240 by 120 in; the earlier wall runs through, the next one butts against its face.

        corner D|A                                    corner A|B
           +--------------------- A: 240 -----------------+
           |  . frame A from 4.25 to 240 - 0.75 = 239.25 .|
           |4.25                                          |0.75

    A begins behind frame D: 4.25. It ends a gap before wall B: 0.75. All four corners alike.
    """
    house = room([240, 120, 240, 120], ["right"] * 4)
    assert spans(house.walls) == [(4.25, length - 0.75, 0, length) for length in (240, 120, 240, 120)]


def test_the_same_room_taped_between_stud_faces() -> None:
    # Stud face to stud face is 240 - 2 x 4.25 = 231.5. The tape is hooked at frame D, where A begins: 0.
    # Frame A goes 4.25 - 0.75 = 3.5 further than the tape, to 235; the concrete begins 4.25 before the hook.
    house = room([231.5, 111.5, 231.5, 111.5], ["right"] * 4, "stud face")
    assert spans(house.walls) == [(0, length + 3.5, -4.25, length + 8.5) for length in (231.5, 111.5) * 2]


def test_the_same_room_taped_along_the_plates() -> None:
    # The plate is 240 - 4.25 - 0.75 = 235.
    house = room([235, 115, 235, 115], ["right"] * 4, "plate")
    assert spans(house.walls) == [(0, length, -4.25, length + 5) for length in (235, 115) * 2]


L_ROOM = [240.0, 120.0, 96.0, 60.0, 144.0, 180.0]
L_TURNS = ["right", "right", "left", "right", "right", "right"]
L_GAPS = {"D": {"gap": ["1 in", "1-1/2 in"]}}


def test_a_room_with_a_corner_that_opens_out() -> None:
    r"""An L-shaped room. C and D meet at a corner that stands out into the room (a left turn).

             +----------- A 240 ------------+
             |                              |
             |                              | B 120
           F 180          (room)            |
             |         +------- C 96 -------+     C: from right to left, then D down
             |         |
             |         | D 60
             |         |
             +- E 144 -+

    D stands 1 to 1-1/2 in off: 1.25 to its back, 4.75 to its face. C, the earlier wall, runs past the corner
    to the face of D: 96 + 4.75. D butts against the back of C: it begins 0.75 before the corner. E begins at
    the face of D, 4.75, and D ends a gap before E, 60 - 0.75.
    """
    house = room(L_ROOM, L_TURNS, more=L_GAPS)
    assert spans(house.walls) == [
        (4.25, 239.25, 0, 240),
        (4.25, 119.25, 0, 120),
        (4.25, 100.75, 0, 96),
        (-0.75, 59.25, 0, 60),
        (4.75, 143.25, 0, 144),
        (4.25, 179.25, 0, 180),
    ]


@pytest.mark.parametrize(
    ("against", "lengths"),
    [
        # Less 4.25 at a corner that closes in (4.75 at D), more 4.75 or 4.25 at the one that opens out.
        ("stud face", [231.5, 111.5, 96 - 4.25 + 4.75, 60 + 4.25 - 4.25, 144 - 4.75 - 4.25, 171.5]),
        ("plate", [235.0, 115.0, 96.5, 60.0, 138.5, 175.0]),
    ],
)
def test_however_a_room_is_taped_its_concrete_is_the_same(against: str, lengths: list[float]) -> None:
    taped = room(lengths, L_TURNS, against, L_GAPS).walls
    concrete = room(L_ROOM, L_TURNS, more=L_GAPS).walls
    assert [wall.concrete_length for wall in taped] == [wall.concrete_length for wall in concrete]
    widths = [[w.frame_of(x).end - w.frame_of(x).start for x in walls] for walls in (taped, concrete)]
    assert widths[0] == widths[1]
    offsets = [[w.frame_of(x).start - x.concrete_start for x in walls] for walls in (taped, concrete)]
    assert offsets[0] == offsets[1]


@pytest.mark.parametrize(
    ("turn", "end"), [("right 45", 4.25 * math.tan(math.pi / 8)), ("left 45", -0.75 * math.tan(math.pi / 8))]
)
def test_at_other_angles_square_ends_meet(turn: str, end: float) -> None:
    # Two frames on lines 4.25 and 0.75 before their concrete. Closing in, the room faces meet first, at
    # 4.25 tan 22.5 = 1.76 before the corner; opening out, the backs, at 0.75 tan 22.5 = 0.31 past it.
    one, other = room([240, 240], [turn, "straight"]).walls
    assert w.frame_of(one).end == pytest.approx(inch(240 - end), abs=1)
    assert w.frame_of(other).start == pytest.approx(inch(end), abs=1)


def test_a_tape_between_stud_faces_ends_where_they_cross() -> None:
    off = 4.25 * math.tan(math.pi / 8)
    one, _ = room([240 - off, 240], ["right 45", "straight"], "stud face").walls
    assert one.concrete_length == pytest.approx(inch(240), abs=1)


@pytest.mark.parametrize("turn", ["straight", None])
def test_where_no_corner_is_known_the_frame_reaches_as_far_as_the_concrete(turn: str | None) -> None:
    made = [w.wall(name=name, turn=turn, against="concrete") for name in "AB"]
    assert spans(w.house(*made).walls) == [(0, 240, 0, 240)] * 2


def test_a_neighbour_without_a_frame_takes_no_room() -> None:
    made = [w.wall(name=name, turn="right", against="concrete") for name in "ABCD"]
    made[3]["frame"] = {"state": "none"}
    first = w.house(*made).walls[0]
    assert w.frame_of(first).start == 0


def test_what_was_measured_of_the_frame_counts() -> None:
    frame = {**w.STANDING, "starts": "3 in", "ends": "200 in"}
    wall = w.only(frame=frame, against="concrete")
    assert (w.frame_of(wall).start, w.frame_of(wall).end) == (inch(3), inch(200))


# Closing


def test_a_round_that_closes_misses_by_nothing() -> None:
    assert closing(room(L_ROOM, L_TURNS)) == Closing(Length(0), ())


@pytest.mark.parametrize(
    ("wall", "off", "named"),
    [(0, 3.0, ("A", "C", "E")), (2, -2.5, ("A", "C", "E")), (5, 1.0, ("B", "D", "F"))],
)
def test_a_miss_is_told_with_the_walls_that_lie_along_it(
    wall: int, off: float, named: tuple[str, ...]
) -> None:
    lengths = [*L_ROOM]
    lengths[wall] += off
    assert closing(room(lengths, L_TURNS)) == Closing(inch(abs(off)), named)


def test_a_miss_across_both_directions_names_the_walls_nearest_to_it() -> None:
    # 3 in along A, C, E and 4 in along B, D, F: 5 in in all, nearer to the second.
    lengths = [*L_ROOM]
    lengths[0], lengths[1] = lengths[0] + 3, lengths[1] + 4
    assert closing(room(lengths, L_TURNS)) == Closing(inch(5), ("B", "D", "F"))


def test_corners_of_a_triangle() -> None:
    # A 3-4-5 triangle: 300, 400, 500 in; outer angles 90, 126.87 and 143.13 degrees.
    turns = [
        "right 90",
        f"right {180 - math.degrees(math.atan2(3, 4))}",
        f"right {90 + math.degrees(math.atan2(3, 4))}",
    ]
    found = list(corners(room([300, 400, 500], turns).walls))
    expected = [(0, 0), (300, 0), (300, -400), (0, 0)]
    assert [(x / INCH, y / INCH) for x, y in found] == [pytest.approx(p, abs=1e-6) for p in expected]


@pytest.mark.parametrize("missing", ["length", "turn"])
def test_no_closing_while_something_is_missing(missing: str) -> None:
    made = [w.wall(name=name, turn="right") for name in "ABCD"]
    del made[2][missing]
    assert closing(w.house(*made)) is None


# Unknowns


@pytest.mark.parametrize(
    ("side", "studs", "plates", "thickness", "gap", "rim"),
    [
        (Side.NOMINAL, "2x4", 1, 8, (0.5, 1), 9.25),
        (Side.STRICTER, "2x3", 2, 6, (0, 1.5), 11.25),
        (Side.LARGER, "2x4", 1, 10, (0.5, 1), 11.25),
    ],
)
def test_each_side_takes_its_own_values(
    side: Side, studs: str, plates: int, thickness: float, gap: tuple[float, float], rim: float
) -> None:
    # As the table of assumptions has them.
    bare = {"name": "A", "length": "20 ft", "height": "93 in", "frame": {"state": "planned"}}
    wall = resolve(w.survey(bare), side).walls[0]
    frame = w.frame_of(wall)
    assert (frame.lumber.id, frame.top_plates, wall.thickness) == (studs, plates, inch(thickness))
    assert (wall.gap.least, wall.gap.most, wall.rim.height) == (*map(inch, gap), inch(rim))


def keys_with_a_stance() -> set[str]:
    """Every field, as `Model.name`, for which something is assumed when it is unknown."""
    models = [m for m in vars(asked).values() if isinstance(m, type) and issubclass(m, Model)]
    models = [m for m in models if m not in (asked.CommonFrame, asked.CommonRim)]
    return {
        f"{model.__name__.lower()}.{name}"
        for model in models
        for name in model.model_fields
        if (known := asked.stance_of(model, name)) is not None and known.key is not None
    }


def test_every_unknown_is_counted_once_and_has_a_reason() -> None:
    """Two bare walls, a box and a pipe with nothing but their places: each field of the schema is told."""
    things = [
        {"kind": "electrical box", "from_left": "20 in", "up": "12 in"},
        {"kind": "water pipe", "from_left": "40 in"},
    ]
    bare = {"length": "20 ft", "height": "93 in", "frame": {"state": "standing"}}
    old = [{"kind": "batt", "then": "keep"}]
    inside = [{"name": "P", "kind": "partition", "length": "10 ft", "height": "8 ft"}]
    a = {"name": "A", **bare, "in_the_way": things, "existing": old}
    house = w.house(a, {"name": "B", **bare}, inside=inside)
    fields = [a.field for a in house.assumptions]
    assert max(Counter(fields).values()) == 1
    as_fields = {
        "wall A.electrical box 1": "thing",
        "wall A.water pipe 2": "thing",
        "wall A.existing batt": "existinglayer",
        "inside P": "inside",
        "assembly.rim.": "rimfill.",
    }
    as_fields |= {"wall A.frame": "frame", "wall A.rim": "rim", "wall A": "wall"}
    found = set()
    for field in (f for f in fields if "wall B" not in f):
        for written, short in as_fields.items():
            field = field.replace(written, short)
        found.add(field)
    # What is on wall A was said, on wall B not.
    assert found | {"wall.existing"} == keys_with_a_stance()
    assert "wall B.existing" in fields
    assert "wall A.existing" not in fields
    assert all(Voice().text(a.note).strip() for a in house.assumptions)


def told(house: House) -> set[str]:
    return {a.field for a in house.assumptions}


def test_what_nothing_rests_on_is_not_told() -> None:
    # Bays one by one need no spacing; joists alongside have none; a window goes through the whole wall.
    frame = {"state": "standing", "bays": ["14 in", "14 in"]}
    window = {"kind": "window", "from_left": "2 in", "up": "50 in", "width": "10 in", "height": "10 in"}
    house = w.house(
        w.wall(length="32.5 in", frame=frame, rim={"joists": "run alongside"}, in_the_way=[window])
    )
    names = told(house)
    for silent in ("frame.spacing", "frame.layout_from", "rim.spacing", "rim.first_joist", "window 1.depth"):
        assert f"wall A.{silent}" not in names
    assert "wall A.rim.height" in names


@pytest.mark.parametrize(
    ("field", "sentence"),
    [
        ("wall A.frame.starts", '-3/4" from where the tape was hooked'),
        ("wall A.frame.ends", '240" from where the tape was hooked'),
        ("wall A.frame.height", 'sill plate: 94-1/2"'),
        ("wall A.frame.top_plates", "Taken: 1."),
        ("wall A.gap", 'Taken: 1/2" to 1"'),
    ],
)
def test_assumed_values_are_spoken_in_their_units(field: str, sentence: str) -> None:
    # Wall Z, on the left, turns away; its frame, 3/4 in off, is what A butts against.
    bare = w.wall(against="concrete", frame={"state": "standing"})
    del bare["gap"]
    house = w.house(w.wall(name="Z", turn="left"), bare)
    (note,) = [a.note for a in house.assumptions if a.field == field]
    assert sentence in Voice().text(note)


def test_known_values_are_never_told_as_assumed() -> None:
    gap_known = told(w.house(w.wall()))
    assert "wall A.gap" not in gap_known
    assert "wall A.frame.studs" not in gap_known


@pytest.mark.parametrize(
    ("exposure", "showing"), [("soil", 8), (None, 8), ("outside air", 93), ("garage", 93), ("cold room", 93)]
)
def test_where_no_soil_is_all_the_concrete_shows(exposure: str | None, showing: float) -> None:
    # An unmeasured ground line is taken 8 in below the top only where there is ground.
    assert w.only(exposure=exposure).showing.least == inch(showing)
    assert w.only(exposure=exposure, concrete_showing="30 in").showing.least == inch(30)


# Assembly


def test_a_wall_can_have_its_own_assembly_field_by_field() -> None:
    whole = {"batt": "R14 glass", "sheet": "none", "rim": {"batt": "R12 glass", "pieces": 3}}
    own = {"batt": "R14 stone", "rim": {"batt": "R20 glass"}}
    first, second = w.house(w.wall(), w.wall(name="B", assembly=own), assembly=whole).walls
    assert {b.family for b in first.assembly.batts} == {"R14 glass"}
    assert {b.family for b in second.assembly.batts} == {"R14 stone"}
    assert (first.assembly.sheet, second.assembly.sheet) == (None, None)
    assert (first.assembly.rim_batts[0].family, first.assembly.rim_pieces) == ("R12 glass", 3)
    assert (second.assembly.rim_batts[0].family, second.assembly.rim_pieces) == ("R20 glass", 3)


def test_only_the_number_of_pieces_at_the_rim_can_differ() -> None:
    own = {"rim": {"pieces": 2}}
    (wall,) = w.house(w.wall(assembly=own), assembly={"rim": {"batt": "R12 glass", "pieces": 3}}).walls
    assert (wall.assembly.rim_batts[0].family, wall.assembly.rim_pieces) == ("R12 glass", 2)


def test_none_leaves_a_layer_out() -> None:
    layers = ("vapour_control", "moisture_barrier", "sheet", "foam_board", "box_wrap")
    wall = w.house(w.wall(), assembly=dict.fromkeys(layers, "none")).walls[0]
    assert [getattr(wall.assembly, layer) for layer in layers] == [None] * 5
    assert not {f"assembly.{layer}" for layer in layers} & told(
        w.house(w.wall(), assembly=dict.fromkeys(layers, "none"))
    )


def size(value: float, unit: str = "in") -> dict[str, str]:
    return {"value": f"{value} {unit}", "source": "practice", "status": "label"}


def number(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit, "source": "practice", "status": "label"}


OWN_STUD = {"id": "rough 2x4", "name": "Rough", "package": "stick", "face": size(2), "depth": size(4)}
OWN_BATT = {
    "id": "hemp 14 in",
    "name": "Hemp",
    "package": "bag",
    "family": "hemp",
    "fibre": "glass",
    "r_label": number(2.0, "m2.K/W"),
    "thickness": size(4),
    "width": size(14),
    "length": size(47),
    "per_bag": {"value": 9, "source": "practice", "status": "label"},
    "add_width": size(0.5),
    "add_height": size(0.5),
}


def test_a_job_brings_its_own_goods_lumber_too() -> None:
    house = w.house(
        w.wall(frame={**w.STANDING, "studs": "rough 2x4"}),
        goods={"lumber": [OWN_STUD], "batt": [OWN_BATT]},
        assembly={"batt": "hemp"},
    )
    wall = house.walls[0]
    assert (w.frame_of(wall).face, w.frame_of(wall).depth) == (inch(2), inch(4))
    assert [b.id for b in wall.assembly.batts] == ["hemp 14 in"]
    assert "hemp 14 in" in house.shelf.goods


# Things in the way


@pytest.mark.parametrize(
    ("thing", "box"),
    [
        ({"kind": "electrical box", "from_left": "20 in", "up": "12 in"}, (20, 12, 22.25, 15.75)),
        (
            {"kind": "electrical box", "from_left_to_middle": "20 in", "up_to_middle": "12 in"},
            (18.875, 10.125, 21.125, 13.875),
        ),
        ({"kind": "water pipe", "from_left": "20 in"}, (20, 0, 20.875, 94.5)),
        ({"kind": "water pipe", "runs": "along", "up": "60 in"}, (0, 60, 240, 60.875)),
        # With a place and a width it covers that stretch, whatever its kind; with one of them the wall.
        (
            {
                "kind": "duct",
                "runs": "along",
                "from_left": "120 in",
                "width": "14 in",
                "up": "72 in",
                "height": "8 in",
            },
            (120, 72, 134, 80),
        ),
        (
            {
                "kind": "cable",
                "from_left_to_middle": "100 in",
                "width": "40 in",
                "up": "30 in",
                "height": "1/2 in",
            },
            (80, 30, 120, 30.5),
        ),
        (
            {"kind": "duct", "runs": "along", "from_left": "120 in", "up": "72 in", "height": "8 in"},
            (0, 72, 240, 80),
        ),
        ({"kind": "window", "from_left": "20 in", "up": "50 in", "width": "30 in"}, (20, 50, 50, 66)),
    ],
)
def test_where_things_lie_on_the_wall(thing: dict[str, str], box: tuple[float, ...]) -> None:
    # A box is 2-1/4 by 3-3/4 in, a pipe 7/8, a window 16 in high; the frame is 240 by 94.5 in.
    (found,) = w.only(in_the_way=[thing]).in_the_way
    assert (found.left, found.bottom, found.right, found.top) == tuple(map(inch, box))


@pytest.mark.parametrize(
    ("kind", "more", "near", "far"),
    [
        ("electrical box", {}, 0.625, 3.5),
        ("water pipe", {}, 1.3125, 2.1875),
        ("hose bib", {}, 0, 3.5),
        ("conduit", {}, -0.75, 0.25),
        ("partition", {}, 3.5, 3.5),
        ("water pipe", {"back": "1 in"}, 1, 1.875),
        ("electrical box", {"depth": "2 in"}, 1.5, 3.5),
    ],
)
def test_where_things_lie_in_the_stud_space(kind: str, more: dict[str, str], near: float, far: float) -> None:
    # Of 3-1/2 in: a box 2-7/8 deep at the room face, a pipe of 7/8 in the middle, a conduit of 1 in on the
    # concrete, 3/4 in behind the studs.
    (found,) = w.only(in_the_way=[{"kind": kind, "from_left": "20 in", "up": "20 in", **more}]).in_the_way
    assert (found.near, found.far) == (inch(near), inch(far))


@pytest.mark.parametrize(
    ("thing", "places"),
    [
        ({"kind": "electrical box", "up": "12 in"}, False),
        ({"kind": "electrical box", "from_left": "12 in"}, False),
        ({"kind": "water pipe"}, False),
        ({"kind": "water pipe", "runs": "along"}, False),
        ({"kind": "water pipe", "from_left": "12 in"}, True),
        ({"kind": "chimney", "runs": "along", "up": "12 in"}, False),
        ({"kind": "chimney", "runs": "along", "up": "12 in", "height": "20 in"}, True),
    ],
)
def test_a_thing_without_its_place_takes_the_wall_to_level_1(thing: dict[str, str], places: bool) -> None:
    house = w.house(w.wall(in_the_way=[thing]))
    wall = house.walls[0]
    name = f"{thing['kind']} 1"
    assert (wall.unplaced, wall.level, house.level) == (((), 2, 2) if places else ((name,), 1, 1))
    sizes = {f"wall A.{name}.{field}" for field in ("width", "height", "depth", "back")}
    assert places or not sizes & told(house)


def test_a_box_without_a_place_still_counts_for_its_hat() -> None:
    boxes = [{"kind": "electrical box", "wrap": wrap} for wrap in ("none", "wrapped")]
    wall = w.only(in_the_way=[*boxes, {"kind": "electrical box"}, {"kind": "water pipe"}])
    assert wall.unplaced_bare == ("electrical box 1", "electrical box 3")


def test_things_on_a_wall_that_is_not_measured_are_not_forgotten() -> None:
    house = w.house(w.wall(), {"name": "B", "in_the_way": [{"kind": "flue"}]})
    assert (house.unmeasured, house.level) == (("B",), 1)
    assert house.kinds_present == {"flue"}


@pytest.mark.parametrize(
    ("frame", "level"),
    [
        ({"state": "standing", "spacing": "16 in"}, 2),
        ({"state": "standing", "bays": ["14 in"] * 3}, 2),
        ({"state": "standing"}, 1),
        ({"state": "none"}, 1),
        ({}, 1),
    ],
)
def test_levels(frame: dict[str, Any], level: int) -> None:
    assert w.house(w.wall(frame=frame)).level == level


def test_nothing_known_is_no_wall_and_no_crash() -> None:
    house = w.house({"name": "A"}, {"name": "B", "frame": {"state": "planned"}})
    assert (house.walls, house.unmeasured, house.level) == ((), ("A", "B"), 1)
    assert w.house().walls == ()


@given(
    st.lists(st.sampled_from(["right", "left", "straight", "right 45", None]), min_size=1, max_size=6),
    st.data(),
)
@settings(max_examples=100)
def test_any_round_has_frames_before_its_concrete(turns: list[str | None], data: st.DataObject) -> None:
    """However it was taped: length of concrete less the frame is what its two ends stand back."""
    walls = []
    for number, turn in enumerate(turns):
        against = data.draw(st.sampled_from(["concrete", "stud face", "plate"]))
        length = w.written(data.draw(st.integers(6 * 12 * INCH, 30 * 12 * INCH)))
        walls.append(w.wall(name=f"W{number}", length=length, turn=turn, against=against))
    for wall in w.house(*walls).walls:
        frame = w.frame_of(wall)
        back = wall.concrete_length - (frame.end - frame.start)
        # At most a face and a gap at each end, at least a frame that runs past both.
        assert -2 * inch(4.25) <= back <= 2 * inch(4.25)
        assert -inch(0.75) <= frame.start - wall.concrete_start <= inch(4.25)


def test_a_note_holds_the_wall_it_is_about() -> None:
    notes: list[Note] = [a.note for a in w.house(w.wall(name="North")).assumptions]
    assert {note.where.wall for note in notes} == {None, "North"}


def test_of_a_planned_frame_no_end_is_told_as_not_measured() -> None:
    # Where it begins and ends is drawn, not measured; of a standing one it could have been.
    told = {state: w.house(w.wall(frame={"state": state})).assumptions for state in ("planned", "standing")}
    ends = {"wall A.frame.starts", "wall A.frame.ends", "wall A.frame.layout_from"}
    assert not ends & {a.field for a in told["planned"]}
    assert ends <= {a.field for a in told["standing"]}


@pytest.mark.parametrize(
    ("wall", "common", "told"),
    [
        ({}, {}, True),
        ({"existing": []}, {}, False),
        ({}, {"existing": []}, False),
        ({}, {"gap": "1 in"}, True),
    ],
)
def test_walls_of_which_nobody_said_what_is_on_them_are_told(
    wall: dict[str, Any], common: dict[str, Any], told: bool
) -> None:
    house = w.house({**w.wall(), **wall}, every_wall=common)
    assert ("wall A.existing" in [a.field for a in house.assumptions]) is told
