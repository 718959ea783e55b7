"""What the cutting pages say once: strips, locked bays, what stays in reach, batts that fit nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from tests import walls as w
from warmside.answers import answer
from warmside.paper.crew import CrewPaper, crew_content
from warmside.say import Voice


def notes(*things: Mapping[str, Any], system: Any = "ft-in", **top: Any) -> tuple[str, ...]:
    """The notes of a wall of 96 in with these things in it."""
    made = w.wall(length="96 in", in_the_way=list(things))
    return told(crew_content(answer(w.survey(made, **top)), Voice(system), "2026-01-01"))


def test_a_strip_too_narrow_for_a_batt_is_told_with_what_goes_in() -> None:
    # A stack at 18 in leaves 1-1/4 in beside the stud at 16-3/4 in.
    stack = {"kind": "soil stack", "from_left": "18 in"}
    (told,) = [note for note in notes(stack) if "torn strip" in note]
    assert told.startswith('A strip narrower than 2":')
    assert "Foam never goes against a flue or into a box." in told
    assert not any("torn strip" in note for note in notes())


def test_bays_with_an_old_cable_are_locked() -> None:
    # From 18 to 46 in, with 25 mm at both ends, it reaches into the bays from 16-3/4 and from 32-3/4 in.
    cable = {"kind": "old cable", "runs": "spot", "from_left": "18 in", "width": "28 in", "up": "50 in"}
    (told,) = [note for note in notes(cable) if "locked" in note]
    assert told.startswith("Bays A2 and A3: locked.")


@pytest.mark.parametrize(
    ("kind", "size"),
    [
        ("cleanout", '8" x 8"'),
        ("junction box", '4" x 4"'),
        ("shut-off valve", '6" x 6"'),
        ("hose bib", '6" x 6"'),
    ],
)
def test_what_must_be_reached_gets_an_opening_with_a_cover(kind: str, size: str) -> None:
    # 6 x 6 in and 25 mm on each side; 4 x 4 in without; 3 x 4 in and 25 mm, but a hand needs 6 in.
    thing = {"kind": kind, "from_left": "20 in", "up": "10 in"}
    cover = f"Leave an opening with a cover, {size} at least."
    assert f"Wall A, {kind}: people must reach it. {cover}" in notes(thing)


def test_what_lies_in_the_floor_is_never_closed_over() -> None:
    sump = {"kind": "sump", "from_left": "20 in", "up": "0 in"}
    assert "Wall A, sump: people must reach it. Nothing closes it over." in notes(sump)


def test_batts_at_hand_that_fit_nothing_are_told() -> None:
    told = notes(assembly={"batt": "R12 glass"}, at_hand={"R22 glass 15 in": 2, "R12 glass 15 in": 1})
    assert [note for note in told if "at hand" in note] == [
        "R22 glass batt, 15 x 47 in, at hand: no piece of this house is cut from it."
    ]


def crew(*walls: Mapping[str, Any], **top: Any) -> tuple[str, ...]:
    return told(crew_content(answer(w.survey(*walls, **top)), Voice(), "2026-01-01"))


def told(content: CrewPaper) -> tuple[str, ...]:
    """The notes before all lines, and those at the lines of the rim."""
    return content.notes + content.rim_notes


def test_the_crew_reads_a_stop_on_its_own_paper() -> None:
    wet = crew_content(answer(w.survey(w.wall(), looked_at={"bulk-water": "yes"})), Voice(), "2026-01-01")
    assert wet.start.startswith("STOP.")
    assert any("Water comes in" in line for line in wet.found)


def test_bays_are_marked_only_where_they_are_measured() -> None:
    # Without a height a wall is no more than walked through.
    walked = {name: value for name, value in w.wall().items() if name != "height"}
    for wall, marked in ((w.wall(), True), (walked, False)):
        paper = crew_content(answer(w.survey(wall)), Voice(), "2026-01-01")
        assert bool(paper.marking) is marked


def test_the_card_speaks_of_ringed_bays_only_where_one_is() -> None:
    box = {"kind": "electrical box", "from_left": "20 in", "up": "12 in"}
    for things, ringed in (([], False), ([box], True)):
        made = answer(w.survey(w.wall(in_the_way=things)))
        hints = crew_content(made, Voice(), "2026-01-01").card_why
        assert any("ringed bay" in hint for hint in hints) is ringed


def test_bays_that_hold_for_every_wall_are_asked_for_wall_by_wall() -> None:
    every = {"height": "88 in", "frame": {"state": "standing", "studs": "2x4", "spacing": 16}}
    walls = [{"name": name, "length": "20 ft"} for name in ("A", "B")]
    (told,) = crew_content(answer(w.survey(*walls, every_wall=every)), Voice(), "2026-01-01").to_measure
    assert told.wall == "A and B"
    assert told.items[0].startswith("where the studs stand")


def test_what_is_behind_a_stair_goes_in_before_it_is_built() -> None:
    stair = {"kind": "stair", "from_left": "20 in", "up": "0 in"}
    told = "Behind the stair, wall A: batts and vapour barrier go on before it is built."
    assert any(note.startswith(told) for note in notes(stair))


def test_batts_shorter_than_their_bay_stand_on_each_other() -> None:
    # A bay of 90 in and more takes two of 47 in; one of 93 in reaches.
    told = 'R12 glass batt, 15 x 47 in: 47" long, shorter than the bay. One stands on the other'
    assert any(note.startswith(told) for note in notes(assembly={"batt": "R12 glass"}))
    assert not any("One stands on the other" in note for note in notes(assembly={"batt": "R13 glass"}))


def test_old_batts_that_stay_are_not_cut_and_those_that_go_are_torn_out_with_care() -> None:
    keep = crew(w.wall(existing=[{"kind": "batt", "then": "keep"}]))
    assert any(note.startswith("Wall A: the old batts stay.") for note in keep)
    go = crew(w.wall(existing=[{"kind": "batt", "then": "remove"}]))
    (torn,) = [note for note in go if note.startswith("Old insulation that goes")]
    assert all(word in torn for word in ("mask", "vermiculite", "Mould"))


def test_a_rim_that_is_not_flush_is_told() -> None:
    """Concrete of 8 in, a gap of 3/4 in and a 2x4: 8 - 1.5 + 4.25 = 10.75 in; one batt of 6 leaves 4.75."""
    foundation = {"thickness": "8 in"}
    rim = {"batt": "R20 glass", "pieces": 1}
    one = notes(foundation=foundation, assembly={"rim": rim})
    (short,) = [note for note in one if "short of the wall" in note]
    assert '1 deep, ends 4-3/4" or more short' in short
    two = notes(foundation=foundation, assembly={"rim": {"batt": "R20 glass", "pieces": 2}})
    assert not any("short of the wall" in note for note in two)
    # Only one of them is said: flush would be no more than a wish where the batts end short.
    flush = "lay the batts flush with the wall below"
    assert [any(flush in note for note in found) for found in (one, two)] == [False, True]


def test_kinds_of_batts_are_kept_apart() -> None:
    part = {"name": "P", "kind": "partition", "use": "sound", "length": "10 ft", "height": "8 ft"}
    told = [note for note in crew(w.wall(), inside=[part]) if "kinds are never mixed" in note]
    assert [note.partition(":")[0] for note in told] == ["For heat", "For sound"]
    assert not any("never mixed" in note for note in crew(w.wall()))


def test_a_rim_batt_that_lies_is_told() -> None:
    # Joists of 1-1/2 in at 16 in leave 14-1/2 in, at 48 in 46-1/2 in, more than any batt is wide.
    lies = "too wide for a batt to stand"
    for spacing, told in (("16 in", False), ("48 in", True)):
        rim = {"joists": "land here", "height": "9-1/4 in", "spacing": spacing, "first_joist": "0 in"}
        found = crew(w.wall(rim=rim), assembly={"batt": "R12 glass"})
        assert any(lies in note for note in found) is told


def test_what_nobody_reaches_later_stands_at_the_step_of_the_frame() -> None:
    """A partition over the second bay, a corner post in the fourth; once the frame stands it is too late."""
    things = [
        {"kind": "partition", "from_left": "14 in", "width": "20 in"},
        {"kind": "corner post", "from_left": "52 in"},
    ]
    told: dict[str, list[str]] = {}
    for state in ("planned", "standing"):
        made = w.wall(
            length="96 in", against="plate", frame={**w.STANDING, "state": state}, in_the_way=things
        )
        (frame,) = [s for s in crew_content(answer(w.survey(made)), Voice(), "x").steps if s.title == "Frame"]
        told[state] = [caution for caution in frame.cautions if "before the frame stands" in caution]
    assert told["planned"] == [
        "Fill before the frame stands, nobody reaches it later: A2.",
        "The hollow of the posts in A4: lay a strip of batt in before the frame stands.",
    ]
    assert told["standing"] == []
