"""What does not fit is told where it is, and the rest is still answered."""

from __future__ import annotations

from typing import Any

import pytest

from tests import walls as w
from warmside.answers import Answers, answer
from warmside.catalog.goods import shelf
from warmside.plan import cautions
from warmside.say import Note, Voice
from warmside.units import INCH
from warmside.wall.in_the_way import Box


def said(found: Answers, code: str) -> list[Note]:
    return [note for note in found.warnings if note.code == code]


def standing(width: float, *things: dict[str, Any], **fields: Any) -> dict[str, Any]:
    frame = {**w.STANDING, **fields.pop("frame", {})}
    return w.wall(length=f"{width} in", against="plate", frame=frame, in_the_way=list(things), **fields)


def own(family: str, joint: str) -> dict[str, Any]:
    goods = []
    for batt in shelf().batts(family):
        good = batt.model_dump(mode="json")
        for name in ("thickness", "width", "length", "add_width", "add_height"):
            good[name]["value"] = w.written(good[name]["value"])
        goods.append(good | {"joint": {"value": joint, "source": "label", "status": "label"}})
    return {"batt": goods}


def test_a_bay_narrower_than_a_sliver_is_told_and_the_rest_is_cut() -> None:
    """Bays of 1-1/2 and 24-1/2 in with three studs of 1-1/2 in: 30-1/2 in."""
    found = answer(w.survey(standing(30.5, frame={"bays": ["1.5 in", "24.5 in"]})))
    (note,) = said(found, "warning.bay_too_narrow")
    assert (note.args["marks"], note.where.wall) == ("A1", "A")
    assert found.walls[0].fills[1].pieces
    assert found.walls[0].torn_strips > 0


def test_where_the_rule_is_foam_cans_are_bought_for_what_is_too_narrow(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Bay A1: 1-1/2 in by 91-1/2 (93, a sill, less two plates), 3-1/2 in deep: 480.375 cu in = 7.872 L.

    A can fills 20 L, a quarter of it lost: one of 15 L. With an electrical box at the bay the strip is torn.
    """
    w.rule_says_foam(monkeypatch)
    bays = {"bays": ["1.5 in", "24.5 in"]}
    found = answer(w.survey(standing(30.5, frame=bays), prices={"foam 750 mL": "9.50 CAD per can"}))
    (note,) = said(found, "warning.bay_foamed")
    assert note.args["marks"] == "A1"
    assert said(found, "warning.bay_too_narrow") == []
    assert found.walls[0].foam * 1000.0 == pytest.approx(7.872, abs=0.001)
    (line,) = [line for line in found.order.lines if line.unit == "cans"]
    assert (line.packages, line.cents) == (1, 950)
    assert line.basis.args["litres"] == pytest.approx(7.872, abs=0.001)
    assert "caution.foam_cover" in [n.code for step in cautions(found.house) for n in step.notes]
    box = {"kind": "electrical box", "from_left": "1.5 in", "up": "40 in"}
    boxed = answer(w.survey(standing(30.5, box, frame=bays)))
    assert boxed.walls[0].foam * 1000.0 < 7.872
    assert all(v.laid != "foam" or not near_a_box(v.box) for v in boxed.walls[0].fills[0].voids)


def near_a_box(box: Box) -> bool:
    """The box of 3-3/4 in stands from 40 in up."""
    return box.bottom < 43.75 * INCH and box.top > 40 * INCH


@pytest.mark.parametrize("layers", [[], [{"kind": "batt", "then": "keep"}]])
def test_no_strip_is_laid_in_where_old_batts_stay(layers: list[dict[str, Any]]) -> None:
    found = answer(w.survey(standing(30.5, frame={"bays": ["1.5 in", "24.5 in"]}, existing=layers)))
    assert (found.walls[0].torn_strips > 0) is not bool(layers)


@pytest.mark.parametrize(("joint", "told"), [("yes", 0), ("no", 1)])
def test_stock_shorter_than_the_bay_is_told_where_it_may_not_be_joined(joint: str, told: int) -> None:
    found = answer(w.survey(standing(96), assembly={"batt": "R12 glass"}, goods=own("R12 glass", joint)))
    notes = said(found, "warning.no_joint")
    assert len(notes) == told
    if told:
        assert notes[0].args["marks"].split(", ")[0] == "A1"
        assert "may not be joined" in Voice().text(notes[0])
    assert found.nests


def test_a_box_larger_than_its_bay_is_told_and_the_rest_is_cut() -> None:
    # 20 in wide over the studs at 31-1/4 and 15-1/4 in: a stud stands in it.
    box = {"kind": "electrical box", "from_left": "14 in", "up": "40 in", "width": "20 in", "height": "4 in"}
    found = answer(w.survey(standing(96, box)))
    assert len(said(found, "warning.stud_in_thing")) == 2
    assert all(fill.pieces for fill in found.walls[0].fills)


def test_what_nobody_reaches_behind_a_frame_that_stands_is_told_and_counts_as_empty() -> None:
    partition = {"kind": "partition", "from_left": "14 in", "width": "20 in"}
    found = answer(w.survey(standing(96, partition)))
    (note,) = said(found, "warning.out_of_reach")
    assert note.args["marks"] == "A2"
    shut, bare = found.walls[0].worth, answer(w.survey(standing(96))).walls[0].worth
    assert shut.whole is not None
    assert bare.whole is not None
    assert dict(shut.bays[1].shares)["void, out of reach"] > 0.8
    assert shut.whole.resistance < bare.whole.resistance


def test_a_bay_filled_before_the_frame_stands_counts_in_full() -> None:
    partition = {"kind": "partition", "from_left": "14 in", "width": "20 in"}
    planned = {"frame": {"state": "planned"}}
    found = answer(w.survey(standing(96, partition, **planned)))
    plain = answer(w.survey(standing(96, **planned)))
    assert said(found, "warning.out_of_reach") == []
    assert found.walls[0].worth == plain.walls[0].worth


def test_a_good_wall_is_told_nothing() -> None:
    codes = {"bay_too_narrow", "no_joint", "out_of_reach", "not_for_heat", "kinds_mixed", "inside_unmeasured"}
    found = answer(w.survey(standing(96)))
    assert not {note.code.removeprefix("warning.") for note in found.warnings} & codes
