"""Which thing touches which bay, and the part of the bay that it takes with its keep-clear zone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from warmside.job.resolve import HouseThing, HouseWall
from warmside.units import Length
from warmside.wall.frame import Bay


@dataclass(frozen=True)
class Box:
    """A rectangle on the wall, in its coordinates [length units]."""

    left: Length
    bottom: Length
    right: Length
    top: Length

    @property
    def width(self) -> Length:
        """Extent along the wall."""
        return Length(self.right - self.left)

    @property
    def height(self) -> Length:
        """Extent up the wall."""
        return Length(self.top - self.bottom)

    @property
    def area(self) -> int:
        """Area in square length units; 0 where the box is empty."""
        return max(0, self.width) * max(0, self.height)

    def clipped(self, other: Box) -> Box:
        """The part that both have in common; may be empty."""
        return Box(
            max(self.left, other.left),
            max(self.bottom, other.bottom),
            min(self.right, other.right),
            min(self.top, other.top),
        )

    def overlaps(self, other: Box) -> bool:
        """True where the two share an area."""
        return self.clipped(other).width > 0 and self.clipped(other).height > 0


@dataclass(frozen=True)
class Touch:
    """A thing in a bay: the rectangle that it takes there, keep-clear zone included."""

    thing: HouseThing
    box: Box


def minus(box: Box, others: Sequence[Box]) -> list[Box]:
    """What is left of a rectangle outside the others, as rectangles that do not overlap."""
    left = [box]
    for other in others:
        left = [part for whole in left for part in _without(whole, other)]
    return left


def _without(whole: Box, other: Box) -> list[Box]:
    if not whole.overlaps(other):
        return [whole]
    cut = whole.clipped(other)
    parts = (
        replace(whole, top=cut.bottom),
        replace(whole, bottom=cut.bottom, top=cut.top, right=cut.left),
        replace(whole, bottom=cut.bottom, top=cut.top, left=cut.right),
        replace(whole, bottom=cut.top),
    )
    return [part for part in parts if part.width > 0 and part.height > 0]


def bay_box(bay: Bay) -> Box:
    """The bay as a rectangle up to the higher end of its top."""
    return Box(bay.left, bay.bottom, bay.right, bay.top)


def reach(thing: HouseThing, stud_face: int) -> Box:
    """What the thing takes of the wall: itself, what is kept clear, and the sill and head of an opening."""
    clear = thing.kind.clear.value
    framing = stud_face if thing.kind.framed else 0
    return Box(
        Length(thing.left - clear),
        Length(thing.bottom - clear - framing),
        Length(thing.right + clear),
        Length(thing.top + clear + framing),
    )


def touches(wall: HouseWall, bay: Bay) -> tuple[Touch, ...]:
    """Everything that reaches into a bay, lowest first."""
    face = wall.frame.face if wall.frame else 0
    found = [Touch(t, reach(t, face).clipped(bay_box(bay))) for t in wall.in_the_way]
    kept = [touch for touch in found if touch.box.width > 0 and touch.box.height > 0]
    return tuple(sorted(kept, key=lambda touch: (touch.box.bottom, touch.box.left, touch.thing.id)))


def in_stud_space(thing: HouseThing, depth: int) -> bool:
    """True where the thing, or what is kept clear round it, lies between back and room face of the studs."""
    clear = thing.kind.clear.value if thing.kind.cut == "keep out" else 0
    return thing.far + clear > 0 and thing.near - clear < depth


def is_closed_off(wall: HouseWall, bay: Bay) -> bool:
    """True for a bay that nobody reaches from the room once the frames stand.

    Behind the studs of the next wall, or behind what is built over all of its width and height.
    """
    if wall.frame is not None and bay.left >= wall.frame.end - wall.behind_next:
        return True
    over = (outline(t) for t in wall.in_the_way if t.kind.closes and not in_stud_space(t, 0))
    return any(minus(bay_box(bay), [box]) == [] for box in over)


def access_opening(thing: HouseThing) -> tuple[Length, Length]:
    """Width and height of the opening with a cover that a thing needs; at least what its kind asks for."""
    box = reach(thing, 0)
    least = thing.kind.door.value if thing.kind.door else Length(0)
    return max(box.width, least), max(box.height, least)


def outline(thing: HouseThing) -> Box:
    """The thing itself, with nothing round it."""
    return Box(thing.left, thing.bottom, thing.right, thing.top)
