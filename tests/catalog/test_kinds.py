"""Kinds of what is in the way: sizes for the way they run, and the rules of the trade as data."""

from __future__ import annotations

import pytest

from warmside.catalog.kinds import Kind, kinds
from warmside.plan import all_cautions
from warmside.say import messages
from warmside.units import INCH, MM

KINDS = list(kinds().values())


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_a_kind_has_the_sizes_for_the_way_it_runs(kind: Kind) -> None:
    needed = {"spot": ("width", "height"), "up": ("width",), "along": ("height",)}[kind.runs]
    assert [name for name in needed if getattr(kind, name) is None] == []


@pytest.mark.parametrize("name", ["water pipe", "hose bib", "soil stack"])
def test_nothing_stands_between_a_pipe_and_the_room(name: str) -> None:
    # Keeping the Heat In, chapter 6: insulation behind water pipes, never in front of them.
    assert kinds()[name].in_front == "empty"
    assert kinds()[name].cut == "notch"


@pytest.mark.parametrize("name", ["service panel", "meter", "gas line", "gas vent", "flue", "chimney"])
def test_no_knife_near_what_is_dangerous(name: str) -> None:
    kind = kinds()[name]
    assert (kind.cut, kind.behind, kind.in_front) == ("keep out", "empty", "empty")
    assert kind.clear.value > 0
    assert kind.caution is not None


def test_clearances_as_published() -> None:
    # 9.21.5.1.(1): 50 mm from a masonry chimney inside. 9.23.2.2.: 12 mm of air round wood let into concrete.
    assert kinds()["chimney"].clear.value == 50 * MM
    assert kinds()["beam pocket"].clear.value == 12 * MM


def test_only_boxes_take_a_wrap_and_only_openings_are_framed() -> None:
    assert {k.name for k in KINDS if k.wrapped} == {"electrical box", "electrical box, two gang"}
    assert (
        {k.name for k in KINDS if k.framed}
        == {k.name for k in KINDS if k.cut == "opening"}
        == {"window", "door"}
    )


def test_a_box_leaves_room_behind_it_in_a_2x4() -> None:
    for name in ("electrical box", "electrical box, two gang"):
        depth = kinds()[name].depth
        assert depth is not None
        assert depth.value < 3.5 * INCH


def test_a_partition_takes_nothing_of_the_stud_space() -> None:
    partition = kinds()["partition"]
    assert partition.depth is not None
    assert partition.depth.value == 0
    assert (partition.cut, partition.behind) == ("none", "fill")


def test_each_sentence_of_caution_belongs_to_one_step() -> None:
    written = sorted(code for code in messages("en") if code.startswith("caution."))
    assert sorted(caution.code for caution in all_cautions()) == written


def test_every_step_has_its_cautions_in_the_order_of_the_work() -> None:
    steps = list(dict.fromkeys(caution.step for caution in all_cautions()))
    assert steps == ["survey", "rim", "frame", "pipes", "electrical", "batts", "sheet"]


def test_asbestos_and_lead_are_asked_about_before_1990() -> None:
    # Notices of the federal health department: houses from before 1990.
    old = {caution.code: caution.built_before for caution in all_cautions() if caution.built_before}
    assert old == {"caution.asbestos": 1990, "caution.vermiculite": 1990, "caution.lead_paint": 1990}


def test_what_a_kind_warns_of_is_planned_for_it() -> None:
    planned = {caution.code: caution.kinds for caution in all_cautions()}
    assert {kind for named in planned.values() for kind in named} <= set(kinds())
    for kind in KINDS:
        if kind.caution is not None:
            named = planned[kind.caution]
            assert not named or kind.name in named, kind.name


def test_sentences_of_caution_are_short_and_have_no_blanks() -> None:
    for code, sentence in messages("en").items():
        if code.startswith("caution."):
            assert "{" not in sentence
            assert sentence.endswith(".")
            assert max(len(part.split()) for part in sentence.split(". ")) <= 28, code


LISTED = """\
electrical box; service panel; meter; duct; water pipe; cable; window; window well; door; beam
pocket; partition; bulkhead; stair; landing; tub; furnace; hose bib; cleanout; shut-off valve; sump;
floor drain; backwater valve; radon pipe; hydronic line; heated slab; flue; recessed light"""


@pytest.mark.parametrize("name", [" ".join(name.split()) for name in LISTED.split(";")])
def test_what_a_basement_has_in_the_way_has_a_kind(name: str) -> None:
    assert name in kinds()


@pytest.mark.parametrize(
    ("name", "access"),
    [
        ("cleanout", "cover"),
        ("shut-off valve", "cover"),
        ("sump", "cover"),
        ("floor drain", "cover"),
        ("backwater valve", "cover"),
        ("radon pipe", "cover"),
        ("hose bib", "cover"),
        ("junction box", "cover"),
        ("service panel", "floor"),
        ("furnace", "floor"),
        ("partition", "none"),
    ],
)
def test_what_people_must_reach(name: str, access: str) -> None:
    assert kinds()[name].access == access


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_whoever_must_reach_a_thing_is_warned(kind: Kind) -> None:
    assert kind.access == "none" or kind.caution is not None


@pytest.mark.parametrize("name", ["bulkhead", "stair", "landing", "tub", "furnace", "sump", "heated slab"])
def test_what_stands_before_the_wall_takes_nothing_of_the_stud_space(name: str) -> None:
    kind = kinds()[name]
    assert (kind.cut, kind.behind) == ("none", "fill")
    assert kind.depth is not None
    assert kind.depth.value == 0


def test_nothing_is_laid_behind_a_tap_whose_pipe_goes_out_through_the_wall() -> None:
    assert (kinds()["hose bib"].behind, kinds()["hose bib"].in_front) == ("empty", "empty")


def test_no_insulation_touches_a_recessed_light() -> None:
    # 75 mm to one that is not marked for contact (from memory: the electrical codes of both countries).
    light = kinds()["recessed light"]
    assert (light.cut, light.behind, light.in_front) == ("keep out", "empty", "empty")
    assert light.clear.value == 75 * MM


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_a_kind_says_what_it_does_to_a_piece(kind: Kind) -> None:
    """Only a notch leaves a batt behind a thing in the stud space; it and a slit need a depth."""
    if kind.cut == "notch" and kind.behind == "fill" and kind.sits != "whole":
        assert kind.depth is not None
    assert kind.cut != "slit" or kind.depth is not None
    assert kind.cut not in ("keep out", "opening", "framing") or kind.behind == "empty"
    assert (kind.hollow is not None) == (kind.cut == "framing")
    assert kind.door is None or kind.access == "cover"
    assert not kind.locks or kind.cut == "keep out"
    assert kind.trade


def test_foam_stays_away_from_heat_gas_and_wires() -> None:
    """All that is kept out of, and boxes: foam in a box is against the electrical codes (common practice)."""
    boxes = {"electrical box", "electrical box, two gang", "junction box"}
    assert {k.name for k in KINDS if k.no_foam} == {k.name for k in KINDS if k.cut == "keep out"} | boxes


def test_what_closes_stands_before_the_studs() -> None:
    assert {k.name for k in KINDS if k.closes} == {"partition", "bulkhead", "stair", "landing", "tub"}
    assert all(k.cut == "none" and k.behind == "fill" for k in KINDS if k.closes)
