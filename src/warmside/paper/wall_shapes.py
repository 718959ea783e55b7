"""The wall as one stands before it, as shapes without a word: frame, rim, ground, what is in the way.

Everything stands where the survey and the frame put it, in millimetres at real size. Source: own choice of
what is drawn over what. The rim follows the top of the concrete. A neighbour's frame is drawn at square
corners only: at other angles the two frames meet in a line.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from warmside.answers import WallAnswer
from warmside.cutting.pieces import BayFill, Piece
from warmside.job.resolve import HouseThing, HouseWall
from warmside.job.survey import Profile
from warmside.paper.drawing import Item, Line, Point, Polyline, Rect, Window
from warmside.units import INCH, MM, Length
from warmside.wall.frame import Member
from warmside.wall.in_the_way import Box, minus, reach

Height = Callable[[int], int]

THIN = 15.0
"""What runs along the wall and is lower is drawn as one line [mm]."""
SEEN = INCH // 8
"""Less than this a void need not stand out from its thing: it can't be seen at 1:20 [length units]."""


@dataclass(frozen=True)
class Beside:
    """The walls whose frames meet this one at square inside corners; None where there is no such wall."""

    left: HouseWall | None = None
    right: HouseWall | None = None


ALONE = Beside()


def beside(walls: Sequence[WallAnswer], answer: WallAnswer) -> Beside:
    """The neighbours of a wall in the round of all walls."""
    houses = [each.wall for each in walls]
    at = houses.index(answer.wall)
    round_is_closed = abs(sum(wall.turn or 0.0 for wall in houses) - 360.0) < 0.01
    before = houses[at - 1] if at or round_is_closed else None
    after = houses[(at + 1) % len(houses)] if at + 1 < len(houses) or round_is_closed else None
    return Beside(
        left=before if before is not None and before.frame and before.turn == 90.0 else None,
        right=after if after is not None and after.frame and answer.wall.turn == 90.0 else None,
    )


def mm(length: float) -> float:
    """Length units as millimetres [mm]."""
    return length / MM


def box_window(box: Box) -> Window:
    """A rectangle of the wall, for drawing [mm]."""
    return Window(mm(box.left), mm(box.bottom), mm(box.right), mm(box.top))


def thing_window(thing: HouseThing) -> Window:
    """Where a thing in the way stands [mm]."""
    return Window(mm(thing.left), mm(thing.bottom), mm(thing.right), mm(thing.top))


def ends(wall: HouseWall) -> tuple[int, int]:
    """Both ends of the concrete behind the wall [length units]."""
    return wall.concrete_start, wall.concrete_start + wall.concrete_length


def wall_window(wall: HouseWall) -> Window:
    """Concrete, frame and rim together, from the floor up [mm]."""
    left, right = ends(wall)
    top = wall.height.most + wall.sill + wall.rim.height
    if wall.frame is not None:
        left, right = min(left, wall.frame.start), max(right, wall.frame.end)
        top = max(top, wall.frame.top.most)
    return Window(mm(left), 0.0, mm(right), mm(top))


def _breaks(profiles: Iterable[Profile], end: int, low: int, high: int) -> list[int]:
    """Where the profiles may bend, and both ends [length units]."""
    bends = {end if point.at is None else point.at for profile in profiles for point in profile.points}
    return sorted({low, high, *(x for x in bends if low < x < high)})


def _line(height: Height, stops: Iterable[int]) -> tuple[Point, ...]:
    return tuple((mm(x), mm(height(x))) for x in stops)


def concrete_top(wall: HouseWall) -> tuple[Point, ...]:
    """The top of the concrete from end to end [mm]."""
    stops = _breaks([wall.height], wall.length, *ends(wall))
    return _line(lambda x: wall.height.at(x, wall.length), stops)


def ground_line(wall: HouseWall) -> tuple[Point, ...]:
    """The ground outside, from end to end; it lies on the floor where the ground is lower [mm]."""
    stops = _breaks([wall.height, wall.showing], wall.length, *ends(wall))

    def above_floor(x: int) -> int:
        return wall.height.at(x, wall.length) - wall.showing.at(x, wall.length)

    meets = []
    for a, b in pairwise(stops):
        low, high = above_floor(a), above_floor(b)
        if (low < 0) != (high < 0):
            meets.append(round(a + (b - a) * low / (low - high)))
    return _line(wall.ground, sorted({*stops, *meets}))


def shapes(answer: WallAnswer, next_to: Beside) -> tuple[Item, ...]:
    """Everything of a wall but words and dimensions, in the order in which it is painted."""
    wall = answer.wall
    return (
        *_ground_area(wall),
        *_concrete(wall),
        *_rim(answer),
        *_frame(answer.built.members),
        *_in_the_way(wall),
        *_empty(answer),
        *_lines_over_all(wall),
        *_corners(wall, next_to),
    )


def _ground_area(wall: HouseWall) -> Iterator[Item]:
    line = ground_line(wall)
    area = ((line[0][0], 0.0), *line, (line[-1][0], 0.0))
    yield Polyline(area, "in the ground", "in the ground", closed=True)


def _concrete(wall: HouseWall) -> Iterator[Item]:
    """The ends of the concrete; dashed where the frame goes on past a corner that sticks out."""
    line, frame = concrete_top(wall), wall.frame
    for x, top in (line[0], line[-1]):
        covered = frame is not None and mm(frame.start) < x < mm(frame.end)
        yield Line((x, 0.0), (x, top), "concrete", "behind" if covered else "outline")


def _band(wall: HouseWall, left: int, right: int, low: int, high: int) -> tuple[Point, ...]:
    """A strip that follows the top of the concrete, between two heights above it [mm]."""
    stops = _breaks([wall.height], wall.length, left, right)
    under = _line(lambda x: wall.height.at(x, wall.length) + low, stops)
    over = _line(lambda x: wall.height.at(x, wall.length) + high, stops)
    return (*under, *reversed(over))


def rim_window(wall: HouseWall, left: int, right: int) -> Window:
    """The part of a rim bay that is an upright rectangle [mm]."""
    heights = [wall.height.at(x, wall.length) + wall.sill for x in (left, right)]
    return Window(mm(left), mm(max(heights)), mm(right), mm(min(heights) + wall.rim.height))


def _rim(answer: WallAnswer) -> Iterator[Item]:
    wall, bays = answer.wall, answer.built.rim_bays
    low, high = wall.sill, wall.sill + wall.rim.height
    for one, other in pairwise(bays):
        yield Polyline(_band(wall, one.right, other.left, low, high), "joists", "frame", closed=True)
    yield Polyline(_band(wall, *ends(wall), low, high), "rim", "outline", closed=True)


def _frame(members: Sequence[Member]) -> Iterator[Item]:
    """Sticks; the plates last, since an upright may end under a sloping plate."""
    for member in sorted(members, key=lambda m: m.name.endswith("plate")):
        yield stick(member)


def stick(member: Member) -> Item:
    """One stick of the frame, true to scale [mm]."""
    left, right, rise = mm(member.left), mm(member.right), mm(member.rise)
    low, high = mm(member.bottom), mm(member.top)
    if not member.rise:
        return Rect(left, low, right - left, high - low, member.name, "frame")
    corners = ((left, low), (right, low + rise), (right, high + rise), (left, high))
    return Polyline(corners, member.name, "frame", closed=True)


def hidden(thing: HouseThing) -> bool:
    """True where it stands behind the studs or before them, so that the frame is not cut for it."""
    return thing.kind.cut == "none" or thing.far <= 0


def _in_the_way(wall: HouseWall) -> Iterator[Item]:
    # What runs along the wall passes behind a window; the rest stands before it.
    for thing in sorted(wall.in_the_way, key=lambda t: (t.runs != "along", t.kind.cut != "opening")):
        area = thing_window(thing)
        if thing.kind.clear.value:
            yield _rect(taken_window(wall, thing), "keep clear", "keep clear")
        yield _thing(thing, area)
        if lacks_wrap(thing):
            half = (area.corners[0], area.corners[1], area.corners[3])
            yield Polyline(half, thing.kind.name, "solid", closed=True)


def _thing(thing: HouseThing, area: Window) -> Item:
    """A thing true to scale; a cable, too thin to be drawn as two lines, as one along its middle."""
    style = "opening" if thing.kind.cut == "opening" else "behind" if hidden(thing) else "thing"
    _, y = area.centre
    if thing.runs == "along" and area.height < THIN:
        return Line((area.left, y), (area.right, y), thing.kind.name, style)
    return _rect(area, thing.kind.name, style)


def taken_window(wall: HouseWall, thing: HouseThing) -> Window:
    """A thing and what it keeps clear, between the floor and the top of the frame [mm]."""
    top = wall.frame.top.most if wall.frame is not None else wall.height.most
    box = reach(thing, 0)
    return box_window(replace(box, bottom=max(Length(0), box.bottom), top=max(thing.top, min(top, box.top))))


def needs_drawing(fill: BayFill) -> bool:
    """True where the pieces of a bay are cut to more than a size, so that a hand needs a drawing of them.

    A slit alone is told on the wall, at the thing that runs along; so is an empty place. Columns of whole
    rectangles at the two sides of a thing are told in a line.
    """
    columns = {piece.box.left for piece in fill.pieces if piece.role == "batt"}
    plain = all(piece.role == "batt" for piece in fill.pieces) and stand_apart(fill.pieces)
    return any(piece.notches for piece in fill.pieces) or (len(columns) > 1 and not plain)


def stand_apart(pieces: Iterable[Piece]) -> bool:
    """True where the pieces form columns, each as wide from bottom to top, that don't overlap."""
    edges = sorted({(piece.box.left, piece.box.right) for piece in pieces})
    return all(one[1] <= other[0] for one, other in pairwise(edges))


def lacks_wrap(thing: HouseThing) -> bool:
    """True for a box without a vapour hat or wrap."""
    return thing.kind.wrapped and thing.wrap == "none"


def _rect(window: Window, layer: str, style: str) -> Rect:
    return Rect(window.left, window.bottom, window.width, window.height, layer, style)


def empty_places(answer: WallAnswer) -> tuple[Box, ...]:
    """Parts of the bays that stay empty and that no thing in the way, with what it keeps clear, covers."""
    things = [reach(t, 0) for t in answer.wall.in_the_way if not hidden(t)]
    voids = [void.box for fill in answer.fills for void in fill.voids if void.why != "in front"]
    parts = [part for void in voids for part in minus(void, things)]
    return tuple(part for part in parts if min(part.width, part.height) > SEEN)


def _empty(answer: WallAnswer) -> Iterator[Item]:
    for box in empty_places(answer):
        area = box_window(box)
        yield _rect(area, "stays empty", "void")
        yield Line(area.corners[0], area.corners[2], "stays empty", "void")


def _lines_over_all(wall: HouseWall) -> Iterator[Item]:
    yield Polyline(concrete_top(wall), "top of concrete", "behind")
    line = ground_line(wall)
    for part in pairwise(line):
        if part[0][1] > 0.0 or part[1][1] > 0.0:
            yield Line(*part, "ground", "ground")
    area = wall_window(wall)
    yield Line((area.left, 0.0), (area.right, 0.0), "floor", "outline")


def corner_windows(wall: HouseWall, next_to: Beside) -> tuple[Window | None, Window | None]:
    """What the frames of the neighbours cover at the left and at the right end [mm]."""
    frame = wall.frame
    if frame is None:
        return None, None
    left = right = None
    if next_to.left is not None and next_to.left.frame is not None:
        edge, top = frame.start, frame.top.at(frame.start, frame.end)
        left = Window(mm(edge - next_to.left.frame.depth), 0.0, mm(edge), mm(top))
    if next_to.right is not None and next_to.right.frame is not None:
        edge, top = frame.end, frame.top.at(frame.end, frame.end)
        right = Window(mm(edge - next_to.right.frame.depth), 0.0, mm(edge), mm(top))
    return left, right


def _corners(wall: HouseWall, next_to: Beside) -> Iterator[Item]:
    left, right = corner_windows(wall, next_to)
    if left is not None:
        yield _rect(left, "neighbouring frame", "plain")
    if right is not None:
        yield _rect(right, "neighbouring frame", "behind")
