"""Partitions and ceilings cut by hand: bays, pieces, and each kind of batt from its own bags."""

from __future__ import annotations

from typing import Any

import pytest

from tests import walls as w
from tests.walls import inch
from warmside.answers import answer
from warmside.catalog.goods import shelf
from warmside.cutting.inside import InsideFill, fill_inside
from warmside.job.resolve import resolve
from warmside.units import INCH


def filled(**fields: Any) -> InsideFill:
    part = {
        "name": "P",
        "kind": "partition",
        "length": "8 ft",
        "height": "8 ft",
        "spacing": "16 in",
        **fields,
    }
    (fill,) = fill_inside(resolve(w.survey(w.wall(), inside=[part])).inside)
    return fill


def cut(fill: InsideFill) -> list[list[tuple[float, float]]]:
    return [[(p.cut_width / INCH, p.cut_height / INCH) for p in bay.pieces] for bay in fill.bays]


def test_a_partition_of_eight_feet() -> None:
    """96 in of partition, studs of 1.5 in at 16: bays of 13.75, four of 14.5 and a last one of 13.75 in.

    13.75 takes 14.25, 14.5 a whole width. 96 - 2 x 1.5 = 93 in high: 47, and 46 with 1/2 in over.
    """
    fill = filled(use="sound")
    assert [piece.batt.use for piece in fill.pieces] == ["sound"] * 12
    assert cut(fill) == [
        [(14.25, 47), (14.25, 46.5)],
        *[[(15, 47), (15, 46.5)]] * 4,
        [(14.25, 47), (14.25, 46.5)],
    ]
    assert [p.id for p in fill.bays[1].pieces] == ["P2.1", "P2.2"]


DOOR = {"from_left": "16.75 in", "width": "30.5 in", "height": "82 in"}


def test_a_door_is_taken_off_its_partition() -> None:
    """The same partition, its second and third bay over a door of 82 in: jambs stand where studs stood.

    A stick of 1.5 in over the head ends at 83.5 from the floor; 94.5 - 83.5 = 11 in, and 1/2 in over.
    """
    fill = filled(use="sound", doors=[DOOR])
    assert cut(fill) == [
        [(14.25, 47), (14.25, 46.5)],
        [(15, 11.5)],
        [(15, 11.5)],
        *[[(15, 47), (15, 46.5)]] * 2,
        [(14.25, 47), (14.25, 46.5)],
    ]


def test_a_door_off_the_layout_makes_studs_of_its_own() -> None:
    """A door from 20 to 52 in: jambs at 18.5 and 52, the stud at 15.25 stays, those within stand on its head.

    Clear at the floor: 1.5 to 15.25, 16.75 to 18.5 (too narrow), 53.5 to 63.25 and so on; over the door
    20 to 31.25, 32.75 to 47.25, 48.75 to 52.
    """
    fill = filled(use="sound", doors=[{"from_left": "20 in", "width": "32 in", "height": "82 in"}])
    found = [(b.left / INCH, b.bottom / INCH, b.right / INCH) for b in (p.box for p in fill.pieces)]
    assert sorted(set(found)) == [
        (1.5, 0, 15.25),
        (1.5, 47, 15.25),
        (20, 82, 31.25),
        (32.75, 82, 47.25),
        (48.75, 82, 52),
        (53.5, 0, 63.25),
        (53.5, 47, 63.25),
        (64.75, 0, 79.25),
        (64.75, 47, 79.25),
        (80.75, 0, 94.5),
        (80.75, 47, 94.5),
    ]


@pytest.mark.parametrize("field", list(DOOR))
def test_a_door_of_which_not_all_is_known_is_told_and_not_taken_off(field: str) -> None:
    door = {key: value for key, value in DOOR.items() if key != field}
    assert cut(filled(doors=[door])) == cut(filled())
    part = {"name": "P", "kind": "partition", "length": "8 ft", "height": "8 ft", "doors": [door, DOOR]}
    found = answer(w.survey(w.wall(), inside=[part]))
    (note,) = [n for n in found.warnings if n.code == "warning.inside_door"]
    assert note.args == {"name": "P", "count": 1}


def test_doors_as_they_may_not_stand_make_no_piece_in_a_door() -> None:
    """Two doors that overlap, one against the end, one as high as the partition: no batt in any of them."""
    doors = [
        {"from_left": "0 in", "width": "20 in", "height": "96 in"},
        {"from_left": "40 in", "width": "30 in", "height": "82 in"},
        {"from_left": "60 in", "width": "36 in", "height": "90 in"},
    ]
    fill = filled(doors=doors)
    for piece in fill.pieces:
        assert 0 <= piece.box.left < piece.box.right <= 96 * INCH
        for door in fill.part.doors:
            beside = piece.box.right <= door.left or piece.box.left >= door.left + door.width
            assert beside or piece.box.bottom >= door.height


def test_a_ceiling_goes_run_by_run_from_rim_to_bulkhead() -> None:
    """31 in across, joists of 1.5 at 16: 13.75 and 12.75 in clear; runs of 60 and 20 in.

    60 = 47 and 13 with 1/4 in over; 20 with 1/4 in over. Stone: widths with 1/2 in over.
    """
    fill = filled(name="Den", kind="ceiling", use="fire", length="31 in", runs=["60 in", "20 in"])
    assert cut(fill) == [
        [(14.25, 47), (14.25, 13.25)],
        [(14.25, 20.25)],
        [(13.25, 47), (13.25, 13.25)],
        [(13.25, 20.25)],
    ]


@pytest.mark.parametrize("missing", ["length", "height"])
def test_what_is_not_measured_is_told_and_not_cut(missing: str) -> None:
    part = {"name": "P", "kind": "partition", "length": "8 ft", "height": "8 ft"}
    part.pop(missing)
    found = answer(w.survey(w.wall(), inside=[part]))
    assert found.inside == ()
    assert [n.args["name"] for n in found.warnings if n.code == "warning.inside_unmeasured"] == ["P"]


def test_each_kind_is_cut_from_its_own_bags() -> None:
    inside = [
        {"name": "P", "kind": "partition", "use": "sound", "length": "8 ft", "height": "8 ft"},
        {"name": "Q", "kind": "partition", "use": "fire", "length": "8 ft", "height": "8 ft"},
    ]
    found = answer(w.survey(w.wall(), assembly={"batt": "R14 stone"}, inside=inside))
    taken = {nest.batt.id for nest in found.nests}
    assert {"R12 sound 15 in", "R14 fire 15-1/4 in", "R14 stone 15-1/4 in"} <= taken
    for nest in found.nests:
        assert {p.batt.use for batt in nest.batts for p in batt.pieces} == {nest.batt.use}


@pytest.mark.parametrize(("batt", "told"), [("R12 sound", True), ("R14 fire", False)])
def test_a_batt_that_is_not_made_for_it_is_a_warning(batt: str, told: bool) -> None:
    part = {"name": "P", "kind": "partition", "use": "fire", "batt": batt, "length": "8 ft", "height": "8 ft"}
    codes = [n.code for n in answer(w.survey(w.wall(), inside=[part])).warnings]
    assert ("warning.kinds_mixed" in codes) is told


def test_sound_batts_in_an_outside_wall_are_a_warning() -> None:
    codes = [n.code for n in answer(w.survey(w.wall(), assembly={"batt": "R12 sound"})).warnings]
    assert "warning.not_for_heat" in codes


def test_a_part_lower_than_its_plates_has_no_bay() -> None:
    assert filled(height="3 in").bays == ()
    assert inch(3) == 2 * inch(1.5)


def test_in_a_ceiling_batts_lie_end_to_end_whatever_may_stand_on_each_other() -> None:
    # A run of 60 in, stock of 47 in that may not be joined in a wall: a ceiling carries it, so 13 in follow.
    own = []
    for batt in shelf().batts("R12 glass"):
        good = batt.model_dump(mode="json")
        for name in ("thickness", "width", "length", "add_width", "add_height"):
            good[name]["value"] = w.written(good[name]["value"])
        own.append(good | {"joint": {"value": "no", "source": "label", "status": "label"}})
    part = {"name": "Den", "length": "31 in", "spacing": "16 in", "batt": "R12 glass"}
    kinds: dict[str, dict[str, Any]] = {"ceiling": {"runs": ["60 in"]}, "partition": {"height": "63 in"}}
    counts = {}
    for kind, sizes in kinds.items():
        survey = w.survey(w.wall(), goods={"batt": own}, inside=[{**part, "kind": kind, **sizes}])
        (fill,) = fill_inside(resolve(survey).inside)
        counts[kind] = [len(bay.pieces) for bay in fill.bays]
    assert counts == {"ceiling": [2, 2], "partition": [1, 1]}
