"""Sizes in a survey that can't be, and heights that run past their wall.

The bounds of what a measure can be at all stand in `data/survey_bounds.toml`; they judge no wall.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Any

from warmside.catalog.data_files import read_named
from warmside.catalog.goods import LengthField, Model, Status
from warmside.catalog.kinds import kinds
from warmside.job.findings import Found, found, parts_of, things_of, walls_of
from warmside.job.lines import KeyPath
from warmside.job.survey import EveryWall, ExistingLayer, Gap, Inside, Profile, Survey, Wall
from warmside.units import METRE, Length


class Bound(Model):
    """The least and the most that a measure can be, and why."""

    least: LengthField
    most: LengthField
    source: str
    status: Status


@cache
def bounds() -> Mapping[str, Bound]:
    """The bounds of every measure, by its key in a job file."""
    return read_named(Bound, "survey_bounds.toml")


def sizes(survey: Survey) -> Iterator[Found]:
    """Measures outside the bounds of what they can be at all."""
    yield from _bounded("foundation", survey.foundation, ("foundation",))
    for path, wall in walls_of(survey):
        yield from _bounded("wall", wall, path)
        yield from _bounded("frame", wall.frame, (*path, "frame"))
        yield from _bounded("rim", wall.rim, (*path, "rim"))
        for i, again in enumerate(wall.measured_again):
            key = again.field if "." in again.field else f"wall.{again.field}"
            yield from within(bounds()[key], again.value, (*path, "measured_again", i, "value"))
        yield from _old_sizes(wall.existing, path)
    yield from _common_sizes(survey.every_wall)
    for path, part in parts_of(survey):
        yield from _bounded("inside", part, path)
        yield from _doors(part, path)
    for path, _, thing in things_of(survey):
        kind = kinds().get(thing.kind)
        yield from _bounded("box" if kind is not None and kind.wrapped else "thing", thing, path)
        if kind is not None and kind.wrapped and thing.back is not None:
            yield from within(bounds()["thing.back"], thing.back, (*path, "back"))


def _doors(part: Inside, path: KeyPath) -> Iterator[Found]:
    """Doors that are larger than their partition, or that stand in a ceiling."""
    for i, door in enumerate(part.doors):
        here = (*path, "doors", i)
        yield from _bounded("insidedoor", door, here)
        if part.kind == "ceiling":
            yield found("fault.door_in_ceiling", here)
        ends = (door.from_left or 0) + (door.width or 0)
        if part.length is not None and ends > part.length:
            yield found("fault.door_past_end", (*here, "width"), over=Length(ends - part.length))
        if part.height is not None and door.height is not None and door.height > part.height:
            yield found("fault.door_too_high", (*here, "height"), over=Length(door.height - part.height))


def _old_sizes(layers: Sequence[ExistingLayer], path: KeyPath) -> Iterator[Found]:
    for i, layer in enumerate(layers):
        yield from _bounded("existing", layer, (*path, "existing", i))


def _common_sizes(common: EveryWall) -> Iterator[Found]:
    yield from _bounded("every_wall", common, ("every_wall",))
    yield from _old_sizes(common.existing, ("every_wall",))
    for part in ("frame", "rim"):
        yield from _bounded(part, getattr(common, part), ("every_wall", part))


def _bounded(record: str, model: Model, path: KeyPath) -> Iterator[Found]:
    """Every length of `model` that `record` has bounds for."""
    for key, bound in bounds().items():
        name = key.partition(".")[2] if key.startswith(f"{record}.") else None
        for inner, length in _lengths(getattr(model, name, None)) if name else ():
            yield from within(bound, length, (*path, str(name), *inner))


def within(bound: Bound, length: Length, path: KeyPath) -> Iterator[Found]:
    """A length at `path` that is outside of its bounds."""
    if length > bound.most:
        yield found("fault.size_over", path, size=length, most=bound.most)
    elif length < bound.least:
        yield found("fault.size_under", path, size=length, least=bound.least)


def _lengths(value: Any) -> Iterator[tuple[KeyPath, Length]]:
    """All lengths in the value of a field, each with its path inside the field."""
    if isinstance(value, Profile | Gap):
        yield from (((), edge) for edge in dict.fromkeys((value.least, value.most)))
    elif isinstance(value, dict):
        yield from (((str(key),), length) for key, length in value.items())
    elif isinstance(value, tuple):
        yield from (((i,), length) for i, length in enumerate(value))
    elif value is not None:
        yield (), value


def profiles(survey: Survey) -> Iterator[Found]:
    """Points beyond the wall's right end; more concrete showing than there is."""
    for path, wall in walls_of(survey):
        profiles = [((*path, "height"), wall.height), ((*path, "concrete_showing"), wall.concrete_showing)]
        for key, profile in [*profiles, ((*path, "frame", "height"), wall.frame.height)]:
            yield from _points_inside(wall, profile, key)
        if wall.height is not None and wall.concrete_showing is not None:
            over = max(s - h for h, s in _side_by_side(wall.height, wall.concrete_showing, wall.length))
            if over > 0:
                yield found("fault.showing_over_height", (*path, "concrete_showing"), over=over)
    common = survey.every_wall
    if common.height is not None and common.concrete_showing is not None:
        over = common.concrete_showing.most - common.height
        if over > 0:
            yield found("fault.showing_over_height", ("every_wall", "concrete_showing"), over=over)


def _points_inside(wall: Wall, profile: Profile | None, path: KeyPath) -> Iterator[Found]:
    points = [point.at for point in profile.points if point.at is not None] if profile else []
    if wall.length is not None and points and max(points) > wall.length:
        yield found("fault.point_past_end", path, at=max(points), over=max(points) - wall.length)


def _side_by_side(one: Profile, other: Profile, length: Length | None) -> Iterator[tuple[Length, Length]]:
    """The values of both profiles wherever either has a point; between them both run straight."""
    ats = [point.at for point in (*one.points, *other.points) if point.at is not None]
    end = length or Length(max(ats) or METRE)
    for at in sorted({end, *ats}):
        yield one.at(at, end), other.at(at, end)
