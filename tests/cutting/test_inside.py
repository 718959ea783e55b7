"""Partitions and ceilings cut by hand: bays, pieces, and each kind of batt from its own bags."""

from __future__ import annotations

from typing import Any

import pytest

from tests import walls as w
from tests.walls import inch
from warmside.answers import answer
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
