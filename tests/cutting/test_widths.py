"""Which widths a house is cut from: no bag is opened for one odd bay where another width serves it."""

from __future__ import annotations

from typing import Any

from tests import walls as w
from warmside.answers import answer
from warmside.units import INCH
from warmside.worked import Worked, work_through

RIM = {"joists": "land here", "height": "9-1/4 in", "spacing": "16 in", "first_joist": "16 in"}


def worked(*, frame: dict[str, Any] | None = None, rim: dict[str, Any] = RIM, **top: Any) -> Worked:
    fields: dict[str, Any] = {"length": "24 ft", "against": "concrete", "rim": rim}
    return work_through(w.house(w.wall(**fields, frame={**w.STANDING, **(frame or {})}), **top))


def taken(found: Worked) -> dict[str, int]:
    return {nest.batt.id: nest.bags for nest in found.nests}


def test_one_wide_rim_bay_opens_no_bag_of_its_own() -> None:
    """The first rim bay is 15-1/4 in clear, too wide for a batt of 15 in: one of 9-3/4 x 15-3/4 lies on edge.

    15 in batts give 4 pieces of 9-3/4 in, 23 in ones too: a bag of the narrow ones has less area.
    """
    found = worked(assembly={"batt": "R12 glass", "rim": {"batt": "R20 glass"}})
    assert not any("23 in" in good for good in taken(found))
    first = found.walls[0].rim_pieces[0]
    assert (first.cut_width / INCH, first.cut_height / INCH) == (9.75, 15.75)


def test_bags_at_hand_are_used() -> None:
    # What lies in the truck costs nothing: the wide bag is cut from.
    assembly = {"batt": "R12 glass", "rim": {"batt": "R20 glass"}}
    found = worked(assembly=assembly, at_hand={"R20 glass 23 in": 1})
    assert taken(found)["R20 glass 23 in"] == 1


def test_one_narrow_bay_among_wide_ones_is_ripped_from_a_wide_batt() -> None:
    """Bays at 24 in take 23 in batts; an odd one of 10 in takes a ripped one, no bag of 15 in."""
    frame = {"spacing": "24 in", "odd_bays": {"3": "10 in"}}
    found = worked(frame=frame, assembly={"batt": "R12 glass", "rim": {"batt": "R20 glass"}})
    assert [good for good in taken(found) if good.startswith("R12")] == ["R12 glass 23 in"]


def test_many_bays_of_either_width_keep_both() -> None:
    """40 ft at 24 in and 40 ft at 16 in: neither is worth ripping from the other."""
    wide = w.wall(name="A", length="40 ft", frame={**w.STANDING, "spacing": "24 in"})
    narrow = w.wall(name="B", length="40 ft")
    found = work_through(w.house(wide, narrow, assembly={"batt": "R12 glass"}))
    assert {"R12 glass 15 in", "R12 glass 23 in"} <= set(taken(found))


def test_another_reading_of_the_survey_is_cut_from_the_same_widths() -> None:
    """Nobody has said how the joists run: the larger order adds no width that the likely one spares."""
    assembly = {"batt": "R12 glass", "rim": {"batt": "R20 glass"}}
    made = w.survey(w.wall(length="24 ft", against="concrete", rim={"height": "9-1/4 in"}), assembly=assembly)
    found = answer(made)
    likely = {line.good.id for line in found.likely_order.lines if line.unit == "batts"}
    larger = {line.good.id for line in found.order.lines if line.unit == "batts"}
    assert larger == likely
