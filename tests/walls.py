"""Surveys and walls for the tests: short ways to write them, and random ones.

Sizes of the hand-worked tests are written as in a job file. Random sizes are whole length units, as exact as
the program counts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any, Literal

import pytest
from hypothesis import assume
from hypothesis import strategies as st

from warmside.catalog.kinds import kinds
from warmside.cutting.rules import knife_rules
from warmside.job.resolve import House, HouseFrame, HouseThing, HouseWall, resolve
from warmside.job.survey import Point, Profile, Survey
from warmside.units import INCH, Length
from warmside.wall.frame import FrameError, WallFrame, frame_wall

STANDING: Mapping[str, Any] = {"state": "standing", "studs": "2x4", "spacing": "16 in", "top_plates": 1}
PLANNED: Mapping[str, Any] = {**STANDING, "state": "planned"}


def inch(value: float) -> Length:
    """Inches in length units; the hand-worked sizes are whole 1/32 in."""
    return Length(round(value * INCH))


def written(length: int) -> str:
    """A length in units as a job file has it, without loss."""
    return f"{Decimal(length) / 160:f} mm"


def survey(*walls: Mapping[str, Any], **top: Any) -> Survey:
    """A job of these walls; what is not given is unknown."""
    table = {"format": 1, "name": "A job", "wall": [dict(wall) for wall in walls], **top}
    return Survey.model_validate(table, context={"bare_numbers": "in"})


def wall(**fields: Any) -> dict[str, Any]:
    """A wall of 20 ft by 93 in with a standing frame at 16 in, the fields given put in."""
    usual = {"name": "A", "length": "20 ft", "height": "93 in", "frame": STANDING, "gap": ["1/2 in", "1 in"]}
    return {**usual, **fields}


def house(*walls: Mapping[str, Any], **top: Any) -> House:
    """The resolved house of these walls."""
    return resolve(survey(*walls, **top))


def only(**fields: Any) -> HouseWall:
    """A house's one wall, with the usual fields and those given."""
    return house(wall(**fields)).walls[0]


def framed(width: float, in_the_way: Sequence[Mapping[str, Any]] = (), **frame: Any) -> HouseWall:
    """A wall whose frame is exactly `width` inches long, from 0."""
    return only(length=f"{width} in", frame={**STANDING, **frame}, in_the_way=list(in_the_way))


def mirrored(wall: HouseWall) -> HouseWall:
    """The wall as a mirror shows it, turned about the middle of its frame. Its ceiling must be level."""
    frame = wall.frame
    assert frame is not None
    both = frame.start + frame.end
    things = tuple(replace(t, left=Length(both - t.right)) for t in wall.in_the_way)
    other: Literal["left", "right"] = "right" if frame.layout_from == "left" else "left"
    turned = replace(frame, layout_from=other, bays=frame.bays[::-1])
    start = Length(both - wall.concrete_start - wall.concrete_length)
    return replace(wall, frame=turned, in_the_way=things, concrete_start=start)


def without(wall: HouseWall, *names: str) -> HouseWall:
    """The wall without the things of these ids."""
    return replace(wall, in_the_way=tuple(t for t in wall.in_the_way if t.id not in names))


def rule_says_foam(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a strip is too narrow for a batt the rule of the knife is foam, not a torn strip."""
    rules = knife_rules()
    foam = rules.sliver_fill.model_copy(update={"value": "foam"})
    changed = rules.model_copy(update={"sliver_fill": foam})
    monkeypatch.setattr("warmside.cutting.pieces.knife_rules", lambda: changed)


Ceiling = Literal["level", "straight", "any"]


@st.composite
def profiles(draw: st.DrawFn, end: int, ceiling: Ceiling) -> Profile:
    """Ceiling heights of 80 to 100 in: one number, two ends, or several points."""
    heights = st.integers(80 * INCH, 100 * INCH).map(Length)
    between = st.lists(st.integers(1, end - 1), max_size=3 if ceiling == "any" else 0)
    ats = [0] if ceiling == "level" or draw(st.booleans()) else sorted({0, *draw(between), end})
    return Profile(points=tuple(Point(at=Length(at), value=draw(heights)) for at in ats))


@st.composite
def things(draw: st.DrawFn, start: int, end: int, top: int, kind: str) -> dict[str, Any]:
    """One thing of a kind somewhere on the wall; sometimes of an odd size."""
    usual = kinds()[kind]
    thing: dict[str, Any] = {"kind": kind}
    width = int(usual.width.value if usual.width else INCH)
    height = int(usual.height.value if usual.height else INCH)
    if draw(st.booleans()):
        width = draw(st.integers(INCH // 2, 30 * INCH))
        thing["width"] = written(width)
    if draw(st.booleans()):
        height = draw(st.integers(INCH // 2, 40 * INCH))
        thing["height"] = written(height)
    if draw(st.booleans()):
        thing["back"] = written(draw(st.integers(0, 4 * INCH)))
    thing["from_left"] = written(draw(st.integers(max(0, start), max(1, end - width))))
    thing["up"] = written(draw(st.integers(0, max(1, top - height))))
    return thing


@st.composite
def openings(draw: st.DrawFn, start: int, end: int) -> list[dict[str, Any]]:
    """Up to two windows or doors that keep clear of each other and of the ends of the frame."""
    middle, room = (start + end) // 2, 6 * INCH
    found = []
    for low, high in ((start + room, middle - room), (middle + room, end - room)):
        if draw(st.booleans()):
            left = draw(st.integers(low, high - 20 * INCH))
            width = draw(st.integers(12 * INCH, min(high - left, 72 * INCH)))
            sizes = {"from_left": written(left), "width": written(width)}
            if draw(st.booleans()):
                found.append({"kind": "door", "up": "0 in", "height": "76 in", **sizes})
            else:
                up = draw(st.integers(INCH, 60 * INCH))
                found.append({"kind": "window", "up": written(up), "height": "16 in", **sizes})
    return found


OTHERS = sorted(name for name, kind in kinds().items() if kind.cut != "opening")
OFTEN = ["water pipe", "electrical box", "soil stack", "duct"]
"""What has insulation behind it, and so the most ways to be cut for."""


@st.composite
def walls(
    draw: st.DrawFn,
    *,
    ceiling: Ceiling = "any",
    most_things: int = 5,
    with_openings: bool = True,
    states: Sequence[str] = ("planned", "standing"),
    studs: Sequence[str] = ("2x3", "2x4", "2x6"),
) -> HouseWall:
    """A wall with a frame that can stand, and things of every kind in its way."""
    length = draw(st.integers(8 * 12 * INCH, 24 * 12 * INCH))
    frame = {
        "state": draw(st.sampled_from(states)),
        "studs": draw(st.sampled_from(studs)),
        "spacing": draw(st.sampled_from(["12 in", "16 in", "19.2 in", "24 in", "400 mm"])),
        "layout_from": draw(st.sampled_from(["left", "right"])),
        "top_plates": draw(st.integers(1, 2)),
        "starts": written(draw(st.integers(0, 6 * INCH))),
        "ends": written(length - draw(st.integers(0, 6 * INCH))),
    }
    if draw(st.booleans()):
        numbers = st.integers(1, 3)
        widths = st.integers(INCH, 16 * INCH).map(written)
        frame["odd_bays"] = draw(st.dictionaries(numbers, widths, max_size=2))
    in_the_way = [
        draw(things(0, length, 70 * INCH, draw(st.sampled_from([*OTHERS, *OFTEN, *OFTEN]))))
        for _ in range(draw(st.integers(0, most_things)))
    ]
    if with_openings and frame["state"] == "planned":
        in_the_way += draw(openings(6 * INCH, length - 6 * INCH))
    batt = draw(st.sampled_from(["R12 glass", "R14 stone", "R15 glass"]))
    made = house(
        wall(length=written(length), frame=frame, in_the_way=in_the_way), assembly={"batt": batt}
    ).walls[0]
    return replace(made, frame=replace(frame_of(made), top=draw(profiles(length, ceiling))))


def standing(wall: HouseWall) -> tuple[HouseWall, WallFrame]:
    """The wall and its frame; a wall that can't stand is not what a test is about."""
    try:
        return wall, frame_wall(wall)
    except FrameError:
        assume(False)
        raise


def frame_of(wall: HouseWall) -> HouseFrame:
    """The frame of a wall that has one."""
    assert wall.frame is not None
    return wall.frame


def thing(wall: HouseWall, kind: str) -> HouseThing:
    """The first thing of a kind on a wall."""
    return next(t for t in wall.in_the_way if t.kind.name == kind)
