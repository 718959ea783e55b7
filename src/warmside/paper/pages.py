"""Which scale a wall is drawn at, and where a long wall is cut into pages.

Source: scales 1:20, 1:25, 1:30, 1:40 and 1:50; those of ISO 5455 and steps between. 1:20 is taken unless 1:25
saves a page; the smaller ones only where the height does not fit otherwise. All pages of a wall have the same
scale. Cuts lie at the places that the caller allows; only where two of these are farther apart than a page is
wide does a page end elsewhere.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from warmside.paper.drawing import Line, Window

USUAL_SCALES = (20, 25)
SMALL_SCALES = (30, 40, 50)
CUT_REACH = 4.0
"""How far the mark of a page cut stands out above and below the wall [mm on paper]."""


class DoesNotFitError(ValueError):
    """A wall is too high for the paper at every scale."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet of paper lying on its long side.

    width, height : of the sheet [mm]
    margin : left free on every side [mm]
    """

    name: str
    width: float
    height: float
    margin: float = 12.0

    @property
    def area(self) -> tuple[float, float]:
        """Width and height inside the margins [mm]."""
        return self.width - 2 * self.margin, self.height - 2 * self.margin


LETTER = Sheet("letter", 279.4, 215.9)
A4 = Sheet("A4", 297.0, 210.0)


@dataclass(frozen=True, slots=True)
class Room:
    """What is kept free round the wall for dimensions and labels [mm on paper].

    overlap : how far a page shows the wall beyond its cut
    """

    above: float = 0.0
    below: float = 0.0
    left: float = 0.0
    right: float = 0.0
    overlap: float = 8.0


@dataclass(frozen=True, slots=True)
class Page:
    """What one page shows.

    number : from 1
    window : the part of the drawing [mm]
    left_cut, right_cut : where the wall goes on on another page, None at its ends [mm]
    """

    number: int
    window: Window
    left_cut: float | None
    right_cut: float | None


@dataclass(frozen=True, slots=True)
class Layout:
    """The pages of one wall.

    scale : object over paper [-]
    """

    scale: int
    pages: tuple[Page, ...]


def lay_out(
    wall: Window, area: tuple[float, float], cuts: Sequence[float] = (), room: Room | None = None
) -> Layout:
    """Scale and pages for a wall.

    wall : the wall [mm]
    area : width and height of the drawing area of a page [mm]
    cuts : where the wall may be cut, for instance at the middle of studs [mm]
    room : what is kept free round the wall
    raises DoesNotFitError : the wall is too high, or the room leaves no width
    """
    room = room or Room()
    usual = [trial for s in USUAL_SCALES if (trial := _trial(wall, area, cuts, room, s))]
    if usual:
        return min(usual, key=lambda trial: (len(trial.pages), trial.scale))
    for scale in SMALL_SCALES:
        if trial := _trial(wall, area, cuts, room, scale):
            return trial
    raise DoesNotFitError(
        f"the wall is {wall.height:.0f} mm high, with {room.above + room.below:.0f} mm of paper above and "
        f"below it; {area[0]:.0f} x {area[1]:.0f} mm are free, too little even at 1:{SMALL_SCALES[-1]}"
    )


def _trial(
    wall: Window, area: tuple[float, float], cuts: Sequence[float], room: Room, scale: int
) -> Layout | None:
    """The pages at one scale, None where the wall does not fit."""
    reach = (area[0] - max(room.left, room.overlap) - max(room.right, room.overlap)) * scale
    if wall.height / scale + room.above + room.below > area[1] or reach <= 0.0:
        return None
    one_page = wall.width <= (area[0] - room.left - room.right) * scale
    inner = [] if one_page else _chosen_cuts(wall, cuts, reach)
    edges: list[float | None] = [None, *inner, None]
    pages = (_page(n, wall, room, scale, *pair) for n, pair in enumerate(pairwise(edges), start=1))
    return Layout(scale, tuple(pages))


def _page(number: int, wall: Window, room: Room, scale: int, left: float | None, right: float | None) -> Page:
    window = Window(
        wall.left - room.left * scale if left is None else left - room.overlap * scale,
        wall.bottom - room.below * scale,
        wall.right + room.right * scale if right is None else right + room.overlap * scale,
        wall.top + room.above * scale,
    )
    return Page(number, window, left, right)


def _chosen_cuts(wall: Window, cuts: Sequence[float], reach: float) -> list[float]:
    """The fewest cuts, and among these the ones whose widest page is narrowest."""
    allowed = sorted({c for c in cuts if wall.left < c < wall.right})
    best = _far_cuts(wall, allowed, reach)
    edges = [wall.left, *allowed, wall.right]
    for narrower in sorted({b - a for a in edges for b in edges if 0.0 < b - a < reach}, reverse=True):
        trial = _far_cuts(wall, allowed, narrower)
        if len(trial) > len(best) or not set(trial) <= set(allowed):
            break
        best = trial
    return best


def _far_cuts(wall: Window, allowed: Sequence[float], reach: float) -> list[float]:
    """Cuts from the left, each as far as the reach goes."""
    inner: list[float] = []
    start = wall.left
    # A hair of slack: the reach may be the very distance of two cuts.
    while wall.right - start > reach + 1e-6:
        index = bisect_right(allowed, start + reach + 1e-6) - 1
        found = index >= 0 and allowed[index] > start
        start = allowed[index] if found else start + reach
        inner.append(start)
    return inner


def cut_lines(page: Page, wall: Window, scale: float) -> tuple[Line, ...]:
    """A dashed upright mark wherever the wall goes on on another page.

    wall : the wall [mm]
    scale : object over paper [-]
    """
    cuts = [cut for cut in (page.left_cut, page.right_cut) if cut is not None]
    low, high = wall.bottom - CUT_REACH * scale, wall.top + CUT_REACH * scale
    return tuple(Line((cut, low), (cut, high), "page cut", "page cut") for cut in cuts)
