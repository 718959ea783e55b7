"""Things in the way against their wall and each other: kinds, edges, what stands outside, what overlaps.

Nothing is assumed but the usual size of a kind where a thing gives none.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from warmside.catalog.kinds import Kind, kind_meant, kinds
from warmside.job.faults import brief
from warmside.job.findings import Found, found, things_of, unlisted, walls_of
from warmside.job.lines import KeyPath
from warmside.job.sizes import bounds
from warmside.job.survey import Survey, Thing, Wall
from warmside.units import Length


@dataclass(frozen=True)
class _Spot:
    """A thing as it stands on the elevation; an edge is None where it is not known or runs through."""

    path: KeyPath
    thing: Thing
    kind: Kind

    @property
    def runs(self) -> str:
        """Whether it is a spot or runs up or along the wall."""
        return self.thing.runs or self.kind.runs

    @property
    def whole_length(self) -> bool:
        """Whether it runs along the wall from end to end."""
        return self.runs == "along" and not self.thing.has_stretch

    @cached_property
    def across(self) -> tuple[int, int] | None:
        """Left and right edge."""
        thing = self.thing
        return self._edges(thing.from_left, thing.from_left_to_middle, "width")

    @cached_property
    def upright(self) -> tuple[int, int] | None:
        """Lower and upper edge."""
        return self._edges(self.thing.up, self.thing.up_to_middle, "height")

    def _edges(self, edge: Length | None, middle: Length | None, size: str) -> tuple[int, int] | None:
        usual = getattr(self.kind, size)
        extent: int | None = getattr(self.thing, size) or (usual.value if usual is not None else None)
        if edge is not None:
            return edge, edge + (extent or 0)
        if middle is None or extent is None:
            return None if middle is None else (middle, middle)
        return middle - extent // 2, middle - extent // 2 + extent

    def may_meet(self, other: _Spot) -> bool:
        """False where the two surely lie at different depths of the wall."""
        ours, theirs = self._depth(), other._depth()
        if ours is not None and theirs is not None:
            return ours[0] < theirs[1] and theirs[0] < ours[1]
        whole = "whole" in (self.kind.sits, other.kind.sits)
        return whole or self.kind.sits == other.kind.sits or "opening" in (self.kind.cut, other.kind.cut)

    def _depth(self) -> tuple[int, int] | None:
        back, depth = self.thing.back, self.thing.depth
        return None if back is None or depth is None else (back, back + depth)


def unknown_kinds(survey: Survey) -> Iterator[Found]:
    """Kinds that the table does not have."""
    for path, _, thing in things_of(survey):
        if thing.kind not in kinds():
            yield unlisted(
                "fault.unknown_kind", (*path, "kind"), thing.kind, list(kinds()), kind_meant(thing.kind)
            )


def positions(survey: Survey) -> Iterator[Found]:
    """Things placed twice, or outside their wall."""
    for path, wall, thing in things_of(survey):
        if thing.from_left is not None and thing.from_left_to_middle is not None:
            yield found("fault.edge_and_middle", (*path, "from_left"), other="from_left_to_middle")
        if thing.up is not None and thing.up_to_middle is not None:
            yield found("fault.edge_and_middle", (*path, "up"), other="up_to_middle")
        if thing.kind in kinds():
            spot = _Spot(path, thing, kinds()[thing.kind])
            yield from _unused(spot)
            yield from _outside(spot, wall, survey)


_UNUSED: Mapping[str, tuple[str, ...]] = {
    "along": ("from_left", "from_left_to_middle", "width"),
    "up": ("up", "up_to_middle", "height"),
}
"""What runs from end to end has no place and no size that way; along a wall it may have both (a stretch)."""


def _unused(spot: _Spot) -> Iterator[Found]:
    given = [key for key in _UNUSED.get(spot.runs, ()) if getattr(spot.thing, key) is not None]
    if given and (spot.whole_length or spot.runs == "up"):
        yield found(f"warning.runs_{spot.runs}", (*spot.path, given[0]))


def _outside(spot: _Spot, wall: Wall, survey: Survey) -> Iterator[Found]:
    if not spot.whole_length and spot.across is not None:
        if spot.across[0] < 0:
            yield found("fault.past_left", spot.path, over=-spot.across[0])
        if wall.length is not None and spot.across[1] > wall.length:
            yield found("fault.past_right", spot.path, over=spot.across[1] - wall.length)
    if spot.runs != "up" and spot.upright is not None:
        if spot.upright[0] < 0:
            yield found("fault.past_floor", spot.path, over=-spot.upright[0])
        top = _top(wall, survey)
        if top is not None and spot.upright[1] > top:
            yield found("fault.past_top", spot.path, over=spot.upright[1] - top)


def _top(wall: Wall, survey: Survey) -> int | None:
    """The highest that a thing on this wall can reach: the top of the frame, or the concrete and its sill."""
    sill = survey.foundation.sill
    above = bounds()["foundation.sill"].most if sill is None else sill
    tops = [wall.frame.height.most] if wall.frame.height is not None else []
    tops += [Length(wall.height.most + above)] if wall.height is not None else []
    return max(tops, default=None)


def overlaps(survey: Survey) -> Iterator[Found]:
    """Two spots or openings of one wall in the same place; what runs along or up may cross them."""
    for path, wall in walls_of(survey):
        spots = [
            _Spot((*path, "in_the_way", i), thing, kinds()[thing.kind])
            for i, thing in enumerate(wall.in_the_way)
            if thing.kind in kinds()
        ]
        yield from _overlapping([s for s in spots if s.runs == "spot" and s.across and s.upright])


def _overlapping(spots: list[_Spot]) -> Iterator[Found]:
    slack = bounds()["overlap"].most
    ordered = sorted(spots, key=lambda spot: (spot.across or (0, 0), spot.path[-1]))
    for i, left in enumerate(ordered):
        for right in ordered[i + 1 :]:
            width = _shared(left.across, right.across)
            if width <= slack:
                break
            height = _shared(left.upright, right.upright)
            if height > slack and left.may_meet(right):
                first, second = sorted((left, right), key=lambda spot: int(spot.path[-1]))
                yield found("fault.overlap", second.path, other=_called(first), width=width, height=height)


def _shared(one: tuple[int, int] | None, other: tuple[int, int] | None) -> int:
    return min(one[1], other[1]) - max(one[0], other[0]) if one and other else 0


def _called(spot: _Spot) -> str:
    return brief(spot.thing.id or f"{spot.thing.kind} {int(spot.path[-1]) + 1}")
