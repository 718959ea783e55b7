"""Limits that one set alone has: either side of each, and what is known of it only from memory."""

from __future__ import annotations

from typing import Any

import pytest

from tests import walls as w
from tests.rules.test_clauses import FORT_NELSON, KELOWNA, job, one, results, verdicts
from warmside.catalog.codes import Measure
from warmside.rules.clauses import Verdict
from warmside.rules.told import has, verdict
from warmside.say import Voice

US = {**KELOWNA, "rule_set": "irc-2021"}
QUEBEC = {**KELOWNA, "rule_set": "quebec-11"}
ONTARIO = {**KELOWNA, "rule_set": "ontario-2012"}


# The United States: a basement wall, or a wall above ground (from memory: 50 per cent)


@pytest.mark.parametrize(
    ("showing", "told"),
    [
        ("46.5 in", "it counts as a basement wall"),
        (
            "46.6 in",
            "it counts as a wall above the ground; the line for basement walls stands there to compare",
        ),
    ],
)
def test_half_of_the_wall_in_the_ground_makes_a_basement_wall(showing: str, told: str) -> None:
    # The wall of the tests is 93 in high.
    house = job(US, concrete_showing=showing)
    assert Voice().text(verdict(one(house, Measure.SHARE_SHOWING))) == told
    assert bool(verdicts(house, Measure.ABOVE_GROUND_LABEL_R)) is (showing == "46.6 in")


@pytest.mark.parametrize(
    ("batt", "foam", "studs", "place", "expected"),
    [
        # Mass wall, more than half of the insulation inside: 17 in zone 5 (Kelowna), 21 in 7 (Fort Nelson).
        ("R13 glass", "none", "2x4", US, Verdict.ASK),
        ("R19 glass", "none", "2x6", US, Verdict.LIKELY_PASSES),
        ("R19 glass", "none", "2x6", {**FORT_NELSON, "rule_set": "irc-2021"}, Verdict.ASK),
        ("R22 glass", "none", "2x6", {**FORT_NELSON, "rule_set": "irc-2021"}, Verdict.LIKELY_PASSES),
    ],
)
def test_a_mass_wall_by_zone(batt: str, foam: str, studs: str, place: dict[str, str], expected: Any) -> None:
    frame = {**w.STANDING, "studs": studs}
    house = job(
        place, {"assembly": {"batt": batt, "foam_board": foam}}, frame=frame, concrete_showing="60 in"
    )
    assert one(house, Measure.ABOVE_GROUND_LABEL_R).verdict is expected


@pytest.mark.parametrize(
    ("width", "height", "area", "side"),
    [
        # From memory: 5.0 sq ft near the ground, 20 in wide. 30 by 24 in is 5.0 sq ft, 30 by 23.9 is not.
        ("30 in", "24 in", Verdict.LIKELY_PASSES, Verdict.LIKELY_PASSES),
        ("30 in", "23.9 in", Verdict.ASK, Verdict.LIKELY_PASSES),
        ("40 in", "20 in", Verdict.LIKELY_PASSES, Verdict.LIKELY_PASSES),
        ("40 in", "19.9 in", Verdict.LIKELY_PASSES, Verdict.ASK),
    ],
)
def test_an_escape_opening_in_the_us(width: str, height: str, area: Verdict, side: Verdict) -> None:
    window = {"kind": "window", "from_left": "51 in", "up": "50 in", "width": width, "height": height}
    house = job(US, in_the_way=[window])
    assert verdicts(house, Measure.OPENING_AREA) == [area]
    assert verdicts(house, Measure.OPENING_SIDE) == [side]


@pytest.mark.parametrize(
    ("from_left", "expected"),
    # Studs at 16 in: that of 47.25 to 48.75 in stands 2 in, or a little less, from the chimney.
    [("50.75 in", Verdict.LIKELY_PASSES), ("50.7 in", Verdict.LIKELY_FAILS)],
)
def test_two_inches_round_a_chimney_in_the_us(from_left: str, expected: Verdict) -> None:
    chimney = {"kind": "chimney", "from_left": from_left, "width": "8 in"}
    house = job(US, in_the_way=[chimney])
    (result,) = [r for r in results(house) if r.rule.id == "chimney-clearance"]
    assert result.verdict is expected


def test_no_wall_passes_for_sure_by_a_method_that_nobody_read() -> None:
    # R12 with 50 mm of foam keeps to U-0.050 (R20) by parallel path, which is from memory.
    assembly = {"batt": "R12 glass", "foam_board": "XPS 50 mm"}
    house = job(US, {"assembly": assembly}, gap=["52 mm", "60 mm"])
    assert one(house, Measure.FOUNDATION_R).verdict is Verdict.LIKELY_PASSES
    assert one(house, Measure.METHOD).verdict is Verdict.LIKELY_PASSES


# Quebec: the limit is for the insulated part


def test_the_studs_do_not_count_in_quebec() -> None:
    # Film 0.12, drywall 0.08, R15 2.64, air 0.10 to 0.20, concrete 0.08: 3.02 to 3.12 m2.K/W, over 2.99.
    # With the studs in it, at about a seventh of the wall and 0.0085 per mm, it stays below that.
    fill = {"assembly": {"batt": "R15 glass"}}
    result = one(job(QUEBEC, fill), Measure.TOTAL_R)
    assert result.verdict is Verdict.PASSES
    assert result.found is not None
    assert 3.02 <= result.found <= 3.12
    effective = one(job(KELOWNA, fill), Measure.FOUNDATION_R).found
    assert effective is not None
    assert effective < 2.99


def test_without_foam_the_total_falls_short_in_quebec() -> None:
    # 0.12 + 0.08 + 2.11 + 0.10 to 0.20 + 0.08 = 2.49 to 2.59 m2.K/W
    result = one(job(QUEBEC, {"assembly": {"batt": "R12 glass"}}), Measure.TOTAL_R)
    assert result.verdict is Verdict.FAILS
    assert result.found == pytest.approx(2.54, abs=0.06)


# Ontario: the package is that of zone 1, from memory


@pytest.mark.parametrize(
    ("place", "rule", "short"),
    [
        (ONTARIO, "label-r", Verdict.LIKELY_FAILS),
        ({**FORT_NELSON, "rule_set": "ontario-2012"}, "label-r-north", Verdict.ASK),
    ],
)
def test_the_package_of_zone_1_fails_nobody_in_zone_2(
    place: dict[str, str], rule: str, short: Verdict
) -> None:
    # Kelowna has 3400 degree-days, Fort Nelson 6710; zone 2 of Ontario begins at 5000.
    result = one(job(place, {"assembly": {"batt": "R12 glass"}}), Measure.LABEL_R)
    assert (result.rule.id, result.verdict) == (rule, short)


# From memory in Ontario and Quebec what was read in the national text


@pytest.mark.parametrize("place", [ONTARIO, QUEBEC])
def test_what_is_taken_over_from_the_national_text_is_never_sure(place: dict[str, str]) -> None:
    foam = {"batt": "R12 glass", "foam_board": "XPS 25 mm"}
    covered = job(place, {"assembly": foam, "looked_at": {"wood-mc": "19 %"}}, gap=["30 mm", "40 mm"])
    assert verdicts(covered, Measure.FOAM_COVER) == [Verdict.LIKELY_PASSES]
    assert verdicts(covered, Measure.WOOD_MOISTURE) == [Verdict.LIKELY_PASSES]
    bare = job(
        place,
        {"assembly": {**foam, "sheet": "none"}, "looked_at": {"wood-mc": "20 %"}},
        gap=["30 mm", "40 mm"],
    )
    assert verdicts(bare, Measure.FOAM_COVER) == [Verdict.LIKELY_FAILS]
    assert verdicts(bare, Measure.WOOD_MOISTURE) == [Verdict.LIKELY_FAILS]


@pytest.mark.parametrize("place", [ONTARIO, QUEBEC])
def test_a_wide_gap_asks_for_fire_blocks_in_every_province(place: dict[str, str]) -> None:
    assert verdicts(job(place, gap=["10 mm", "25 mm"]), Measure.FIRE_BLOCKS) == []
    assert verdicts(job(place, gap=["10 mm", "40 mm"]), Measure.FIRE_BLOCKS) == [Verdict.CANT_TELL]


# What was looked at without being measured


@pytest.mark.parametrize(
    ("answer", "expected", "told"),
    [
        ("no", Verdict.PASSES, "19 % or less, as looked at"),
        ("yes", Verdict.FAILS, "over 19 %, as looked at"),
        ("14.5 %", Verdict.PASSES, "14.5 %"),
        ("unknown", Verdict.CANT_TELL, "not known"),
    ],
)
def test_an_answer_about_the_wood_counts_as_far_as_it_goes(answer: str, expected: Verdict, told: str) -> None:
    looked = {} if answer == "unknown" else {"looked_at": {"wood-mc": answer}}
    result = one(job(top=looked), Measure.WOOD_MOISTURE)
    assert (result.verdict, Voice().text(has(result))) == (expected, told)


@pytest.mark.parametrize(("answer", "limit", "expected"), [
    ("no", 15, Verdict.CANT_TELL), ("no", 19, Verdict.PASSES), ("no", 20, Verdict.PASSES),
    ("yes", 15, Verdict.FAILS), ("yes", 19, Verdict.FAILS), ("yes", 20, Verdict.CANT_TELL),
])  # fmt: skip
def test_a_local_limit_for_wood_may_ask_for_a_reading(answer: str, limit: int, expected: Verdict) -> None:
    own = {"clause": "by-law 3", "measure": "moisture of the wood", "at_most": limit, "unit": "%"}
    house = job(top={"looked_at": {"wood-mc": answer}, "amendment": [own]})
    assert verdicts(house, Measure.WOOD_MOISTURE) == [expected]


PANEL = {"kind": "service panel", "from_left": "70 in", "up": "40 in"}


@pytest.mark.parametrize(
    ("answer", "expected"),
    [("no", Verdict.PASSES), ("yes", Verdict.CANT_TELL), ("unknown", Verdict.CANT_TELL)],
)
@pytest.mark.parametrize("wall", [{"in_the_way": [PANEL]}, {"counts": {"service panel": 1}}])
def test_free_floor_before_the_panel_that_somebody_looked_at(
    answer: str, expected: Verdict, wall: dict[str, Any]
) -> None:
    looked = {} if answer == "unknown" else {"looked_at": {"panel-space": answer}}
    assert verdicts(job(top=looked, **wall), Measure.PANEL_SPACE) == [expected]


def test_boxes_without_a_place_are_sealed_as_planned() -> None:
    counted = {"counts": {"electrical box": 3}}
    (told,) = [r for r in results(job(**counted)) if r.rule.measure is Measure.BOX_SEALED]
    assert (told.verdict, told.thing) == (Verdict.PASSES, "electrical box")
    bare = job(top={"assembly": {"box_wrap": "none"}}, **counted)
    assert verdicts(bare, Measure.BOX_SEALED) == [Verdict.CANT_TELL]


# What lies behind a wall


def test_a_wall_of_which_nobody_said_what_lies_behind_is_asked_about() -> None:
    house = w.house(w.wall(concrete_showing="12 in"), place=KELOWNA)
    result = one(house, Measure.MOISTURE_PROTECTION)
    assert Voice().text(verdict(result)) == "can't tell: say what is on the other side of the wall"
    assert verdicts(job(exposure="garage"), Measure.MOISTURE_PROTECTION) == []


# Local amendments of rules that choose others, or come after others


def amended(measure: str, **limit: Any) -> dict[str, Any]:
    return {"amendment": [{"clause": "by-law 3", "measure": measure, **limit}]}


@pytest.mark.parametrize(("showing", "above"), [("35.4 in", False), ("35.5 in", True)])
def test_a_town_may_say_from_which_height_the_wall_value_counts(showing: str, above: bool) -> None:
    # 900 mm is 35.43 in; the set itself says 600 mm.
    town = amended("mean height above ground", at_most=900, unit="mm")
    house = job(top=town, concrete_showing=showing)
    result = one(house, Measure.MEAN_SHOWING)
    assert (result.rule.clause, result.verdict) == ("by-law 3", Verdict.DECIDES)
    assert bool(verdicts(house, Measure.ABOVE_GROUND_R)) is above


def test_a_local_wall_value_counts_only_where_the_wall_shows_so_high() -> None:
    town = amended("R of the part above ground", at_least=4.0, unit="m2.K/W")
    assert verdicts(job(top=town, concrete_showing="12 in"), Measure.ABOVE_GROUND_R) == []
    assert verdicts(job(top=town, concrete_showing="30 in"), Measure.ABOVE_GROUND_R) == [Verdict.FAILS]


def test_a_local_effective_r_does_not_wait_for_the_labels_in_the_us() -> None:
    town = amended("foundation wall R", at_least=3.52, unit="m2.K/W")
    house = job(US, {**town, "assembly": {"batt": "R19 glass"}}, frame={**w.STANDING, "studs": "2x6"})
    assert one(house, Measure.LABEL_R).verdict is Verdict.PASSES
    assert verdicts(house, Measure.FOUNDATION_R) == [Verdict.LIKELY_FAILS]
