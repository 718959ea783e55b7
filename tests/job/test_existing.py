"""What is on a wall already: what stays counts and is not bought again, what goes takes sacks."""

from __future__ import annotations

import math
from typing import Any, get_args

import pytest

from tests import walls as w
from warmside.answers import Answers, answer
from warmside.catalog.goods import Batt
from warmside.job.existing import usual_layers
from warmside.job.resolve import Side, resolve
from warmside.job.survey import ExistingLayer
from warmside.measure_next import measure_next, unknowns
from warmside.paper.front import build_ups
from warmside.say import Voice
from warmside.units import INCH, to_m

R = 0.1761101838
"""One h.ft2.F/Btu [m2.K/W], by the definitions of the units."""


def on(*layers: dict[str, Any], state: str = "standing", **fields: Any) -> Answers:
    frame = {**w.STANDING, "state": state}
    return answer(w.survey(w.wall(existing=list(layers), frame=frame, **fields)))


def bags(found: Answers) -> int:
    """Of batts in the bays; the rim has its own."""
    return sum(line.packages for line in found.order.lines if isinstance(line.good, Batt))


def test_old_batts_between_studs_that_stand_are_kept_and_no_new_ones_bought() -> None:
    kept = on({"kind": "batt", "then": "keep", "thickness": "3-1/2 in", "worth": "R8"})
    assert not any(piece.role == "batt" for each in kept.walls for piece in each.pieces)
    assert 0 < bags(kept) < bags(on())
    layers = kept.results.answers.what_goes_in.walls[0].layers
    assert [round(x.resistance.value or 0, 3) for x in layers if x.name == "old batt A"] == [round(8 * R, 3)]


def test_old_batts_are_taken_at_the_worse_end() -> None:
    # 3-1/2 in at 20 m.K/W: 1.78 m2.K/W, R10 where a new one is R12.
    (old,) = resolve(w.survey(w.wall(existing=[{"kind": "batt", "then": "keep"}]))).walls[0].old
    assert old.resistance == pytest.approx(3.5 * 0.0254 * 20.0)
    assert old.thickness == 3.5 * INCH


def test_behind_a_planned_frame_old_batts_count_for_nothing() -> None:
    kept = on({"kind": "batt", "then": "keep"}, state="planned")
    assert bags(kept) == bags(on(state="planned"))
    assert kept.results.answers.what_worth == on(state="planned").results.answers.what_worth


def test_old_foam_that_stays_adds_its_resistance_and_takes_its_part_of_the_gap() -> None:
    """25 mm at 25 m.K/W by its thickness; the gap of 2 in gets 1 in less."""
    foam = {"kind": "foam board", "then": "keep", "thickness": "1 in", "worth": "R4"}
    wall = resolve(w.survey(w.wall(existing=[foam], gap="2 in"))).walls[0]
    assert wall.mean_air_gap == INCH
    layers = on(foam, gap="2 in").results.answers.what_goes_in.walls[0].layers
    found = [x.resistance.value for x in layers if x.name == "old foam board"]
    assert found == [pytest.approx(4 * R, rel=1e-3)]


@pytest.mark.parametrize("state", ["wet", "mouldy"])
def test_what_is_spoilt_does_not_stay(state: str) -> None:
    (old,) = (
        resolve(w.survey(w.wall(existing=[{"kind": "batt", "state": state, "then": "keep"}]))).walls[0].old
    )
    assert old.then == "remove"


def test_what_goes_takes_sacks() -> None:
    """20 ft by 93 in of concrete, 3-1/2 in of batt, squeezed to half, in sacks of 160 L."""
    wall = w.house(w.wall()).walls[0]
    volume = to_m(wall.concrete_length) * 93 * 0.0254 * 3.5 * 0.0254 * 0.5
    found = on({"kind": "batt", "then": "remove"})
    (line,) = [line for line in found.order.lines if line.unit == "sacks"]
    assert line.packages == math.ceil(volume / 0.16)
    assert not any(line.unit == "sacks" for line in on().order.lines)


def test_of_a_layer_without_a_word_both_ends_are_told() -> None:
    """Likely no sack, in the larger order all of them; and what to do with it is asked next."""
    found = on({"kind": "batt"})
    (line,) = [line for line in found.results.answers.what_buy.lines if "sack" in line.good]
    assert (line.likely, line.packages > 0) == (0, True)
    assert [each.field for each in unknowns() if each.field.startswith("existing")] == ["existing.then"]
    assert {(s, old_then(s)) for s in Side} == {
        (Side.NOMINAL, None),
        (Side.STRICTER, None),
        (Side.LARGER, "remove"),
    }


def old_then(side: Side) -> str | None:
    (old,) = resolve(w.survey(w.wall(existing=[{"kind": "batt"}])), side).walls[0].old
    return old.then


def test_a_moisture_barrier_that_stays_is_not_bought_again() -> None:
    kept = on({"kind": "moisture barrier", "then": "keep", "state": "sound"})
    codes = [line.basis.code for line in kept.order.lines]
    assert "basis.moisture_barrier" not in codes
    assert "basis.moisture_barrier" in [line.basis.code for line in on().order.lines]


def test_every_old_layer_of_the_survey_is_in_the_table() -> None:
    assert set(usual_layers()) == set(get_args(ExistingLayer.model_fields["kind"].annotation))


@pytest.mark.parametrize("kind", ["batt", "foam board", "sprayed foam"])
def test_the_front_sheet_names_what_stays(kind: str) -> None:
    kept = on({"kind": kind, "then": "keep"}, gap="2 in")
    (built,) = build_ups(kept, Voice())
    told = {"batt": "Old batts that stay"}.get(kind, f"Old {kind}")
    assert told in [step.name for step in built.layers]


def test_whether_old_insulation_stays_is_asked_next_where_the_order_depends_on_it() -> None:
    """Between studs that stand, kept batts save all the new ones."""
    known = {"exposure": "soil", "concrete_showing": "8 in", "against": "concrete"}
    rim = {"joists": "land here", "height": "9-1/4 in", "spacing": "16 in", "first_joist": "16 in"}
    told = measure_next(w.survey(w.wall(existing=[{"kind": "batt"}], rim=rim, **known)))
    assert "measure.field.existing_then" in [note.code for note in told]
    said = w.survey(w.wall(existing=[{"kind": "batt", "then": "remove"}], rim=rim, **known))
    assert "measure.field.existing_then" not in [note.code for note in measure_next(said)]
