"""Several walls on a sheet, all at one scale: as few sheets as there can be, then as large as these allow.

A wall that is too long for that, or with so much in its way that its words take the sheet, has sheets of its
own. Source: own arrangement; the scales are those of module pages and steps between.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from warmside.answers import WallAnswer
from warmside.paper.elevation import beside, pages, small
from warmside.paper.pages import Sheet
from warmside.paper.picture import Picture
from warmside.paper.typeset import Shown, shown, side_by_side
from warmside.paper.wall_key import key
from warmside.say import Voice

SCALES = (50, 45, 40, 35, 30)
"""Tried from the smallest on, until a larger one takes more sheets."""
MOST_OF_SHEET = 0.6
"""A small picture that takes more of the height has too many words to be read at its scale [-]."""
GAP = 3.0
"""Between two rows, and above the key [mm on paper]."""


@dataclass(frozen=True)
class WallSheet:
    """Rows of walls on one sheet, and what their marks mean; a wall with its own sheet says that itself."""

    rows: tuple[tuple[Shown, ...], ...]
    key: Shown | None = None


def wall_sheets(walls: Sequence[WallAnswer], voice: Voice, sheet: Sheet) -> tuple[WallSheet, ...]:
    """All walls in the order of the round."""
    best: tuple[WallSheet, ...] = ()
    for scale in SCALES:
        found = tuple(_at_scale(walls, voice, sheet, scale)) if walls else ()
        if best and len(found) > len(best):
            break
        best = found
    return best


def _at_scale(walls: Sequence[WallAnswer], voice: Voice, sheet: Sheet, scale: float) -> Iterator[WallSheet]:
    """The sheets at one scale; large walls stand between the others where the round has them."""
    told = _shown(key(walls, voice, scale, sheet.area[0]))
    waiting: list[Shown] = []
    for each in walls:
        next_to = beside(walls, each)
        picture = _shown(small(each, voice, next_to, scale))
        if picture.width <= sheet.area[0] and picture.height <= MOST_OF_SHEET * sheet.area[1]:
            waiting.append(picture)
            continue
        yield from _filled(waiting, told, sheet)
        waiting = []
        yield from (WallSheet(((_shown(large),),)) for large in pages(each, voice, sheet, next_to))
    yield from _filled(waiting, told, sheet)


def _filled(pictures: Sequence[Shown], told: Shown, sheet: Sheet) -> Iterator[WallSheet]:
    """Rows of small pictures, as many on a sheet as its height takes."""
    rows = side_by_side([picture.width for picture in pictures], sheet.area[0])
    room = sheet.area[1] - told.height - GAP
    here: list[tuple[Shown, ...]] = []
    used = 0.0
    for row in (tuple(pictures[number] for number in numbers) for numbers in rows):
        high = max(picture.height for picture in row) + GAP
        if here and used + high > room:
            yield WallSheet(tuple(here), told)
            here, used = [], 0.0
        here.append(row)
        used += high
    if here:
        yield WallSheet(tuple(here), told)


def _shown(picture: Picture) -> Shown:
    return shown(picture.svg, picture.told)
