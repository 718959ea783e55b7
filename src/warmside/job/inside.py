"""Partitions and ceilings of a survey as they are cut: batts of their own, known sizes, nothing unknown."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from warmside.catalog.goods import Batt, Lumber, Shelf, Use
from warmside.job.assume import Filler
from warmside.job.survey import Inside, Survey
from warmside.units import INCH, Length

JOIST = Length(INCH + INCH // 2)
FOR_USE = {"sound": "R12 sound", "fire": "R14 fire"}
"""The family proposed for what a part is to do; else that of the outside walls."""


@dataclass(frozen=True)
class HouseDoor:
    """A door in a partition: the opening from floor to head [length units]."""

    left: Length
    width: Length
    height: Length


@dataclass(frozen=True)
class HouseInside:
    """One partition or ceiling: its length across the bays, and the clear lengths of its batts in each bay.

    face : of a stud or joist [length units]
    use : what it is to do; None where nobody said
    doors : those whose place and size are known
    open_doors : how many others there are
    """

    name: str
    kind: Literal["partition", "ceiling"]
    use: Use | None
    batts: tuple[Batt, ...]
    length: Length
    lengths: tuple[Length, ...]
    spacing: Length
    face: Length
    doors: tuple[HouseDoor, ...] = ()
    open_doors: int = 0


def inside_parts(survey: Survey, filler: Filler, goods: Shelf) -> tuple[HouseInside, ...]:
    """Every partition and ceiling that is measured.

    Raises GoodsError where a family or a stud is not on the shelf.
    """
    measured = [part for part in survey.inside if is_measured(part)]
    usual = filler.get(survey.assembly, "batt", "assembly") if measured else ""
    return tuple(_part(part, usual, filler, goods) for part in measured)


def is_measured(part: Inside) -> bool:
    """True where the sizes are known that its pieces are cut by."""
    return part.length is not None and bool(part.runs if part.kind == "ceiling" else part.height)


def unmeasured_parts(survey: Survey) -> Iterator[str]:
    """Names of those whose sizes are not known."""
    return (part.name for part in survey.inside if not is_measured(part))


def _part(part: Inside, usual: str, filler: Filler, goods: Shelf) -> HouseInside:
    path = f"inside {part.name}"
    family = filler.get(part, "batt", path, FOR_USE.get(part.use or "", usual))
    spacing = filler.get(part, "spacing", path)
    face = JOIST
    if part.kind == "partition":
        face = goods.find(Lumber, filler.get(part, "studs", path)).face.value
    height = Length((part.height or 0) - 2 * face)
    lengths = part.runs if part.kind == "ceiling" else (height,) if height > 0 else ()
    doors = tuple(_doors(part))
    return HouseInside(
        name=part.name,
        kind=part.kind,
        use=part.use,
        batts=goods.batts(family),
        length=Length(part.length or 0),
        lengths=lengths,
        spacing=spacing,
        face=face,
        doors=doors,
        open_doors=len(part.doors) - len(doors),
    )


def _doors(part: Inside) -> Iterator[HouseDoor]:
    for door in part.doors:
        if door.from_left is not None and door.width is not None and door.height is not None:
            yield HouseDoor(door.from_left, door.width, door.height)
