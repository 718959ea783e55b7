"""Studs, plates and bays of a wall, and its rim bays; studs and bays tile the frame exactly.

Layout by trade custom (common practice, no published source): the first stud stands at the end of the frame,
the second is centred at one spacing from that end, and so on; the last bay takes what is left, and a stud
that would stand in the place of the last one is left out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from warmside.job.resolve import HouseFrame, HouseThing, HouseWall
from warmside.say import Note, Where
from warmside.units import INCH, Length

TOLERANCE = Length(INCH // 2)
"""How far bays measured one by one may miss the length of the frame: a tape read twice (common practice)."""

JOIST = Length(INCH + INCH // 2)


class FrameError(ValueError):
    """The bays as surveyed can't stand in the wall as measured; `note` says where and by how much."""

    def __init__(self, note: Note) -> None:
        super().__init__(note.code)
        self.note = note


@dataclass(frozen=True)
class Member:
    """One stick of the frame as seen from the room; its right end may lie higher by `rise`."""

    name: str
    left: Length
    right: Length
    bottom: Length
    top: Length
    rise: Length = Length(0)


@dataclass(frozen=True)
class Bay:
    """The clear space between two studs and the plates; the top may slope from left to right."""

    wall: str
    number: int
    left: Length
    right: Length
    bottom: Length
    top_left: Length
    top_right: Length

    @property
    def mark(self) -> str:
        """What is written on the stud, such as C7; a wall named 2 has 2-7."""
        return f"{self.wall}-{self.number}" if self.wall[-1:].isdigit() else f"{self.wall}{self.number}"

    @property
    def width(self) -> Length:
        """Clear width."""
        return Length(self.right - self.left)

    @property
    def top(self) -> Length:
        """The higher end of the top."""
        return max(self.top_left, self.top_right)

    @property
    def height(self) -> Length:
        """The longer of the two sides, which a batt is cut to."""
        return Length(self.top - self.bottom)

    @property
    def area(self) -> int:
        """Clear area under the sloping top [square length units]."""
        return self.width * (self.top_left + self.top_right - 2 * self.bottom) // 2


@dataclass(frozen=True)
class RimBay:
    """The clear space between two joists at the rim, or the whole run beside the first joist."""

    wall: str
    number: int
    left: Length
    right: Length
    height: Length
    depth: Length

    @property
    def mark(self) -> str:
        """What is written on the joist, such as C rim 3."""
        return f"{self.wall} rim {self.number}"

    @property
    def width(self) -> Length:
        """Clear width."""
        return Length(self.right - self.left)


@dataclass(frozen=True)
class WallFrame:
    """The frame of one wall: every stick, and every bay from left to right."""

    members: tuple[Member, ...]
    studs: tuple[tuple[Length, Length], ...]
    bays: tuple[Bay, ...]
    rim_bays: tuple[RimBay, ...]


def frame_wall(wall: HouseWall) -> WallFrame:
    """Studs, plates, bays and rim bays of a wall. Raises FrameError where the bays do not add up."""
    if wall.concrete_length <= 0:
        raise FrameError(Note("fault.no_concrete", {"short": -wall.concrete_length}, Where(wall=wall.name)))
    if wall.frame is None:
        return WallFrame((), (), (), rim_bays(wall))
    studs = _studs(wall, wall.frame)
    _refuse_straddling(wall, studs)
    return WallFrame(
        members=(
            *_bottom_plate(wall, wall.frame),
            *_top_plates(wall.frame),
            *_uprights(wall, wall.frame, studs),
            *_opening_members(wall, wall.frame),
        ),
        studs=tuple((Length(a), Length(b)) for a, b in studs),
        bays=tuple(_bays(wall, wall.frame, studs)),
        rim_bays=rim_bays(wall),
    )


def openings(wall: HouseWall) -> list[HouseThing]:
    """Windows and doors: what the frame goes round."""
    return [thing for thing in wall.in_the_way if thing.kind.cut == "opening"]


def _studs(wall: HouseWall, frame: HouseFrame) -> list[tuple[int, int]]:
    total = frame.end - frame.start
    if total < 2 * frame.face:
        raise FrameError(Note("fault.frame_too_short", {"length": total}, Where(wall=wall.name)))
    edges = _one_by_one(wall, frame, total) if frame.bays else _by_spacing(wall, frame, total)
    studs = [(frame.start + edge, frame.start + edge + frame.face) for edge in edges]
    return studs if frame.state == "standing" or frame.bays else _with_jambs(wall, frame, studs)


def _one_by_one(wall: HouseWall, frame: HouseFrame, total: int) -> list[int]:
    """Left edges of the studs from clear widths one by one; the last bay absorbs a small miss."""
    taken = sum(frame.bays) + (len(frame.bays) + 1) * frame.face
    if abs(taken - total) > TOLERANCE or frame.bays[-1] < taken - total:
        args = {"bays": taken, "length": total, "off": abs(taken - total)}
        code = "fault.bays_too_long" if taken > total else "fault.bays_too_short"
        raise FrameError(Note(code, args, Where(wall=wall.name)))
    edges = [0]
    for clear in frame.bays[:-1]:
        edges.append(edges[-1] + frame.face + clear)
    return [*edges, total - frame.face]


def _by_spacing(wall: HouseWall, frame: HouseFrame, total: int) -> list[int]:
    """Left edges of the studs by spacing, with the odd bays as exceptions counted from `layout_from`."""
    last = total - frame.face
    edges = [0]
    while (clear := last - edges[-1] - frame.face) > 0:
        wanted = frame.odd_bays.get(len(edges), _standard(frame, len(edges)))
        following = edges[-1] + frame.face + wanted
        if following + frame.face > last:
            _check_last(wall, frame, len(edges), clear)
            break
        edges.append(following)
    missing = [number for number in frame.odd_bays if number > len(edges)]
    if missing:
        args = {"number": missing[0], "count": len(edges)}
        raise FrameError(Note("fault.no_such_bay", args, Where(wall=wall.name)))
    edges.append(last)
    return edges if frame.layout_from == "left" else sorted(last - edge for edge in edges)


def _standard(frame: HouseFrame, number: int) -> int:
    clear = frame.spacing - frame.face
    return clear - frame.face // 2 if number == 1 else clear


def _check_last(wall: HouseWall, frame: HouseFrame, number: int, clear: int) -> None:
    """The last bay takes what is left; as an odd bay it must agree with the tape."""
    wanted = frame.odd_bays.get(number, clear)
    if abs(wanted - clear) > TOLERANCE:
        args = {"number": number, "wanted": wanted, "left": clear}
        raise FrameError(Note("fault.last_bay", args, Where(wall=wall.name)))


def _with_jambs(wall: HouseWall, frame: HouseFrame, studs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """A planned frame gets a stud at each side of a window; layout studs in their place make way."""
    first, last = studs[0], studs[-1]
    framed = [opening for opening in openings(wall) if opening.kind.framed]
    jambs: list[tuple[int, int]] = []
    for opening in framed:
        for left in (opening.left - frame.face, int(opening.right)):
            jamb = (left, left + frame.face)
            in_frame = left >= first[1] and jamb[1] <= last[0]
            half_in = any(_stands_half_in(jamb, other) for other in framed)
            if in_frame and not half_in and not any(_overlap(jamb, other) for other in jambs):
                jambs.append(jamb)
    kept = [s for s in studs if s in (first, last) or not any(_overlap(s, jamb) for jamb in jambs)]
    return sorted(kept + jambs)


def _overlap(one: tuple[int, int], other: tuple[int, int]) -> bool:
    return one[0] < other[1] and other[0] < one[1]


def _refuse_straddling(wall: HouseWall, studs: list[tuple[int, int]]) -> None:
    """A full stud can't stand half in an opening: one of the two was measured wrong."""
    for opening in openings(wall):
        for stud in studs:
            if _stands_half_in(stud, opening):
                args = {"left": stud[0], "right": stud[1], "from": opening.left, "to": opening.right}
                raise FrameError(Note("fault.stud_in_opening", args, Where(wall=wall.name, item=opening.id)))


def _stands_half_in(stud: tuple[int, int], opening: HouseThing) -> bool:
    """True where a stud is neither in an opening nor beside it, by more than a tape may miss."""
    over = min(stud[1], opening.right) - max(stud[0], opening.left)
    return TOLERANCE < over < stud[1] - stud[0] - TOLERANCE


def _bottom_plate(wall: HouseWall, frame: HouseFrame) -> Iterator[Member]:
    """From end to end, but for the doors."""
    left = frame.start
    doors = [opening for opening in openings(wall) if opening.bottom < frame.face]
    for door in sorted(doors, key=lambda opening: opening.left):
        if door.left > left:
            yield Member("bottom plate", left, min(door.left, frame.end), Length(0), frame.face)
        left = max(left, door.right)
    if left < frame.end:
        yield Member("bottom plate", left, frame.end, Length(0), frame.face)


def _top_plates(frame: HouseFrame) -> Iterator[Member]:
    """From break to break of the ceiling line."""
    for left, right in _stretches(frame):
        low, high = _under_plates(frame, left), _under_plates(frame, right)
        for number in range(frame.top_plates):
            bottom = Length(low + number * frame.face)
            yield Member("top plate", left, right, bottom, Length(bottom + frame.face), Length(high - low))


def _under_plates(frame: HouseFrame, x: int) -> Length:
    """Underside of the top plates at `x`, above the floor."""
    return Length(frame.top.at(x, frame.end) - frame.top_plates * frame.face)


def frame_area(frame: HouseFrame) -> int:
    """Area of the frame from the floor to the top of its plates [square length units]."""
    heights = ((b - a, frame.top.at(a, frame.end), frame.top.at(b, frame.end)) for a, b in _stretches(frame))
    return sum(length * (left + right) for length, left, right in heights) // 2


def _stretches(frame: HouseFrame) -> Iterator[tuple[Length, Length]]:
    """The frame from break to break of the ceiling line."""
    breaks = [p.at for p in frame.top.points if p.at is not None and frame.start < p.at < frame.end]
    return pairwise([frame.start, *breaks, frame.end])


def _uprights(wall: HouseWall, frame: HouseFrame, studs: list[tuple[int, int]]) -> Iterator[Member]:
    for left, right in studs:
        top = _under_plates(frame, (left + right) // 2)
        cut_by = [o for o in openings(wall) if left >= o.left - TOLERANCE and right <= o.right + TOLERANCE]
        spans = _around(cut_by, frame, top) if cut_by else [(int(frame.face), int(top))]
        for low, high in spans:
            name = "cripple" if cut_by else "stud"
            yield Member(name, Length(left), Length(right), Length(low), Length(high))


def _around(cut_by: list[HouseThing], frame: HouseFrame, top: int) -> list[tuple[int, int]]:
    """What is left of a stud above and below the openings that it would cross."""
    spans, low = [], int(frame.face)
    for opening in sorted(cut_by, key=lambda o: o.bottom):
        margin = frame.face if opening.kind.framed else 0
        spans.append((low, opening.bottom - margin))
        low = opening.top + margin
    return [(a, b) for a, b in [*spans, (low, top)] if b > a]


def _opening_members(wall: HouseWall, frame: HouseFrame) -> Iterator[Member]:
    """The sill and the head of each framed opening, cut thinner where the plates leave less room."""
    for opening in openings(wall):
        if not opening.kind.framed:
            continue
        left, right = max(opening.left, frame.start), min(opening.right, frame.end)
        low = max(frame.face, Length(opening.bottom - frame.face))
        under = min(_under_plates(frame, left), _under_plates(frame, right))
        high = min(under, Length(opening.top + frame.face))
        if low < opening.bottom:
            yield Member(f"{opening.kind.name} sill", left, right, low, opening.bottom)
        if opening.top < high:
            yield Member(f"{opening.kind.name} head", left, right, opening.top, high)


def _bays(wall: HouseWall, frame: HouseFrame, studs: list[tuple[int, int]]) -> Iterator[Bay]:
    clear = [(a[1], b[0]) for a, b in pairwise(studs) if b[0] > a[1]]
    for number, (left, right) in enumerate(clear, 1):
        yield Bay(
            wall=wall.name,
            number=number,
            left=Length(left),
            right=Length(right),
            bottom=frame.face,
            top_left=_under_plates(frame, left),
            top_right=_under_plates(frame, right),
        )


def rim_bays(wall: HouseWall) -> tuple[RimBay, ...]:
    """Between the joists where they land; one long bay where they run alongside."""
    start, end = int(wall.concrete_start), wall.concrete_start + wall.concrete_length
    joists = _joists(wall, start, end) if wall.rim.joists == "land here" else []
    edges = [start, *(edge for joist in joists for edge in joist), end]
    spaces = [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b > a]
    return tuple(
        RimBay(wall.name, number, Length(a), Length(b), wall.rim.height, wall.rim.depth)
        for number, (a, b) in enumerate(spaces, 1)
    )


def _joists(wall: HouseWall, start: int, end: int) -> list[tuple[int, int]]:
    """Both edges of the joists on the concrete, also in part; the first is centred at `first_joist`."""
    first = start + wall.rim.first_joist - JOIST // 2
    lefts = range(first, end, max(wall.rim.spacing, JOIST))
    return [(x, x + JOIST) for x in lefts if x + JOIST > start]
