"""Windows and doors that were only counted, by hand: which size is taken, where it counts, where it does not.

Sizes are those of the table of kinds: a window is 32 by 16 in and at most 48 by 48, a door 34 by 82 in.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests import walls as w
from tests.walls import inch
from warmside.answers import Answers, answer, work_through
from warmside.catalog.goods import Batt
from warmside.job.openings import CountedOpening
from warmside.job.resolve import HouseWall, Side, resolve
from warmside.order.order import Order, window_edges
from warmside.say import Voice

IN = 0.0254


def resolved(side: Side = Side.NOMINAL, **fields: Any) -> HouseWall:
    return resolve(w.survey(w.wall(**fields)), side).walls[0]


@pytest.mark.parametrize(
    ("side", "size", "spares"),
    [(Side.NOMINAL, (32, 16), True), (Side.STRICTER, (48, 48), True), (Side.LARGER, (48, 48), False)],
)
def test_the_size_of_a_counted_window(side: Side, size: tuple[int, int], spares: bool) -> None:
    opening = CountedOpening("window", inch(size[0]), inch(size[1]), spares)
    assert resolved(side, counts={"window": 2}).openings == (opening, opening)


def test_a_window_described_without_a_place_keeps_its_own_size() -> None:
    window = {"kind": "window", "width": "30 in", "height": "20 in"}
    (found,) = resolved(Side.LARGER, in_the_way=[window], counts={"window": 1}).openings
    assert (found.width, found.height) == (inch(30), inch(20))


def test_what_has_a_place_is_no_counted_opening() -> None:
    window = {"kind": "window", "from_left": "40 in", "up": "60 in"}
    planned = {**w.STANDING, "state": "planned"}
    wall = resolved(in_the_way=[window], counts={"window": 1, "water pipe": 3}, frame=planned)
    assert wall.openings == ()


def test_counts_of_the_house_are_shared_out() -> None:
    two = w.survey(w.wall(), w.wall(name="B"), every_wall={"counts": {"door": 2}})
    assert [len(wall.openings) for wall in resolve(two).walls] == [1, 1]


def test_counted_windows_are_taped_and_sealed_round() -> None:
    # Two of them: 2 x 2 x (32 + 16) in, and at most 2 x 2 x (48 + 48) in.
    assert window_edges(resolved(counts={"window": 2})) == pytest.approx(192 * IN)
    assert window_edges(resolved(Side.LARGER, counts={"window": 2})) == pytest.approx(384 * IN)


def batts(order: Order) -> float:
    return sum(line.needed for line in order.lines if isinstance(line.good, Batt))


def worked(side: Side, **fields: Any) -> Order:
    rim = {"joists": "run alongside", "height": "9-1/4 in"}
    return work_through(resolve(w.survey(w.wall(length="24 ft", rim=rim, **fields)), side)).order


def test_a_counted_door_saves_batts_where_likely_and_none_in_the_larger_order() -> None:
    # The frame is 24 ft by 93 + 1-1/2 in: 27216 in2, the door 34 x 82 = 2788 in2, a share of 0.1024.
    def of_the_wall(order: Order) -> float:
        return next(line.needed for line in order.lines if line.good.id == "R12 glass 15 in")

    whole = of_the_wall(worked(Side.NOMINAL))
    frame = resolved(length="24 ft").frame
    assert frame is not None
    assert frame.end - frame.start == inch(288)
    left = math.ceil(whole * (1 - 2788 / 27216))
    assert of_the_wall(worked(Side.NOMINAL, counts={"door": 1})) == left < whole
    assert of_the_wall(worked(Side.LARGER, counts={"door": 1})) == of_the_wall(worked(Side.LARGER))


def test_more_openings_than_wall_still_leave_half_of_the_batts() -> None:
    assert 0 < batts(worked(Side.NOMINAL, counts={"door": 150})) < batts(worked(Side.NOMINAL))


def test_the_sizes_taken_are_told_with_their_kind() -> None:
    house = resolve(w.survey(w.wall(counts={"window": 2})))
    fields = [taken.field for taken in house.assumptions if "window" in taken.field]
    assert fields == ["wall A.window x 2.width", "wall A.window x 2.height"]


# Studs whose spacing nobody measured


def open_spacing(**top: Any) -> Answers:
    frame = {"state": "planned", "studs": "2x4", "top_plates": 1}
    return answer(w.survey(w.wall(length="40 ft", frame=frame), **top))


def told(found: Answers) -> list[str]:
    return [Voice().text(note) for note in found.warnings if note.code == "warning.spacing"]


def test_an_open_spacing_is_ordered_for_both_ways_and_the_larger_order_taken() -> None:
    found = open_spacing()
    at = {
        s: answer(w.survey(w.wall(length="40 ft", frame={**w.PLANNED, "spacing": s})))
        for s in ("16 in", "24 in")
    }
    bags = {s: sum(ln.packages for ln in a.order.lines if isinstance(ln.good, Batt)) for s, a in at.items()}
    assert bags["16 in"] != bags["24 in"]
    larger = max(bags, key=lambda s: bags[s])
    goods = {line.good.id: line.packages for line in at[larger].order.lines}
    assert {line.good.id: line.packages for line in found.order.lines} == goods
    assert {line.good.id for line in found.likely_order.lines} == set(goods)
    (sentence,) = told(found)
    assert '16"' in sentence
    assert '24"' in sentence
    assert "Measure before you buy" in sentence


def test_an_order_at_hand_prices_goes_by_its_price() -> None:
    goods = {line.good.id: line.good.package for a in (open_spacing(),) for line in a.order.lines}
    wide = ("R12 glass 23 in", "R20 glass 23 in", "R12 glass 15 in", "R20 glass 15 in")
    prices = {name: f"10 CAD per {package}" for name, package in goods.items()}
    prices |= {
        name: "90 CAD per bag" if "23" in name and "R12" in name else "10 CAD per bag" for name in wide
    }
    found = open_spacing(prices=prices)
    assert "R12 glass 23 in" in {line.good.id for line in found.order.lines}


def test_a_measured_spacing_or_measured_bays_are_ordered_for_once() -> None:
    assert told(answer(w.survey(w.wall()))) == []
    bays = {"state": "standing", "studs": "2x4", "bays": ["14-1/2 in"] * 5}
    assert told(answer(w.survey(w.wall(length="81-1/2 in", frame=bays)))) == []


def test_a_job_in_millimetres_is_taken_at_400_and_600_mm() -> None:
    found = open_spacing(show="mm")
    (wall,) = found.house.walls
    assert wall.frame is not None
    assert wall.frame.spacing == 400 * 160
    (note,) = [note for note in found.warnings if note.code == "warning.spacing"]
    assert {note.args["taken"], note.args["spacing"]} == {400 * 160, 600 * 160}
