"""What the cutting pages say once: strips, locked bays, what stays in reach, batts that fit nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from tests import walls as w
from warmside.answers import answer
from warmside.paper.crew import crew_content
from warmside.say import Voice


def notes(*things: Mapping[str, Any], system: Any = "ft-in", **top: Any) -> tuple[str, ...]:
    """The notes of a wall of 96 in with these things in it."""
    made = w.wall(length="96 in", in_the_way=list(things))
    return crew_content(answer(w.survey(made, **top)), Voice(system), "2026-01-01").notes


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
    ("kind", "size"), [("cleanout", '8" x 8"'), ("junction box", '4" x 4"'), ("shut-off valve", '5" x 6"')]
)
def test_what_must_be_reached_gets_an_opening_with_a_cover(kind: str, size: str) -> None:
    # 6 x 6 in and 25 mm on each side; 4 x 4 in without; 3 x 4 in and 25 mm on each side.
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
