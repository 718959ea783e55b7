"""Pieces into batts: as few as can be found, in the order of the knife, with the least number proved.

First-fit decreasing (Johnson, D. S. (1973), Near-optimal bin packing algorithms) gives the first answer and
the one to beat; `columns` finds better ones and the bound. Off-cuts serve any other bay of the house, so that
all walls are nested together. Pieces are not turned, and none is cut from a batt of another width.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict, deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from warmside.catalog.goods import Batt
from warmside.cutting.columns import Proof, fewest
from warmside.cutting.knife import STEP, Settings, knife_order, setting
from warmside.cutting.patterns import First, Pattern, Size
from warmside.cutting.pieces import Piece
from warmside.units import Length


@dataclass
class _Shelf:
    """One length cut across a batt, and the width still free on it."""

    height: int
    free: int
    pieces: list[int]


@dataclass
class _Open:
    """A batt being cut: its shelves and the length still free."""

    free: int
    shelves: list[_Shelf] = field(default_factory=list)


@dataclass(frozen=True)
class Strip:
    """One strip of a batt, cut to `size`, and the pieces out of it in the order of the cuts."""

    size: Length
    pieces: tuple[Piece, ...]


@dataclass(frozen=True)
class CutBatt:
    """One batt and the pieces that come out of it, strip by strip.

    first : "across": strips are cut off the length, then ripped; "ripped": the other way round
    left_over : length beyond the strips, or width where the batt is ripped first
    """

    number: int
    first: First
    strips: tuple[Strip, ...]
    left_over: Length

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """All that comes out of it, in the order of the cuts."""
        return tuple(piece for strip in self.strips for piece in strip.pieces)

    @property
    def settings(self) -> Settings:
        """How the knife is set for it, cut after cut."""
        return tuple(_settings(self.first, self.strips))


@dataclass(frozen=True)
class Nest:
    """All batts of one good in the order of cutting, and the least number that any such cutting could need.

    proof : whether the bound rests on the area of the pieces, or on prices that no pattern is worth more than
    first_fit : how many batts plain first-fit takes
    """

    batt: Batt
    batts: tuple[CutBatt, ...]
    least: int
    proof: Proof
    first_fit: int

    @property
    def count(self) -> int:
        """How many batts are taken."""
        return len(self.batts)

    @property
    def bags(self) -> int:
        """Whole bags."""
        return math.ceil(self.count / self.batt.per_bag.value)


def _settings(first: First, strips: Sequence[Strip]) -> Iterable[tuple[str, int]]:
    """A cut that the factory has made is no cut."""
    inner: First = "ripped" if first == "across" else "across"
    for strip in strips:
        batt = strip.pieces[0].batt
        outside = {"across": batt.length.value, "ripped": batt.width.value}
        sizes = [(first, strip.size), *((inner, _along(piece, first)) for piece in strip.pieces)]
        yield from (setting(way, size) for way, size in sizes if size < outside[way])


def _along(piece: Piece, first: First) -> Length:
    return piece.cut_width if first == "across" else piece.cut_height


def nest(pieces: Iterable[Piece]) -> tuple[Nest, ...]:
    """The fewest batts found for all pieces, good by good. Plugs out of notches need no stock."""
    return tuple(_fewest(batt, group) for batt, group in _by_batt(pieces))


def first_fit(pieces: Iterable[Piece]) -> tuple[Nest, ...]:
    """Every piece into the first batt that takes it, longest first."""
    return tuple(
        _made(batt, group, start, _by_area(batt, group), "area", len(start))
        for batt, group in _by_batt(pieces)
        for start in [_first_fit(batt, _sizes(group))]
    )


def _by_batt(pieces: Iterable[Piece]) -> list[tuple[Batt, list[Piece]]]:
    """Pieces by what they are cut from, in the order of the walls; layers one by one."""
    groups: defaultdict[str, list[Piece]] = defaultdict(list)
    for piece in pieces:
        if not piece.plug:
            groups[piece.batt.id].extend([piece] * piece.layers)
    return [(groups[name][0].batt, sorted(groups[name], key=_place)) for name in sorted(groups)]


def _place(piece: Piece) -> list[tuple[int, str]]:
    """A2.1 before A10.1, whatever order pieces come in."""
    return [(int(part), "") if part.isdigit() else (0, part) for part in re.split(r"(\d+)", piece.id)]


def _sizes(pieces: Sequence[Piece]) -> tuple[Size, ...]:
    wanted: dict[tuple[int, int], int] = defaultdict(int)
    for piece in pieces:
        wanted[piece.cut_height, piece.cut_width] += 1
    return tuple(Size(width, height, wanted[height, width]) for height, width in sorted(wanted, reverse=True))


def _fewest(batt: Batt, pieces: Sequence[Piece]) -> Nest:
    sizes = _sizes(pieces)
    start = _first_fit(batt, sizes)
    found = fewest(batt.width.value, batt.length.value, sizes, start)
    return _made(batt, pieces, found.batts, found.least, found.proof, len(start))


def _by_area(batt: Batt, pieces: Sequence[Piece]) -> int:
    """No cutting needs fewer batts than the pieces have area for."""
    area = sum(p.cut_width * p.cut_height for p in pieces)
    return -(-area // (batt.width.value * batt.length.value))


def _first_fit(batt: Batt, sizes: Sequence[Size]) -> tuple[Pattern, ...]:
    """Sizes come longest first."""
    opened: list[_Open] = []
    for number, size in enumerate(sizes):
        for _ in range(size.wanted):
            _put(number, size, batt, opened)
    return tuple(Pattern("across", tuple(tuple(shelf.pieces) for shelf in each.shelves)) for each in opened)


def _put(number: int, size: Size, batt: Batt, opened: list[_Open]) -> None:
    """Beside another piece of about its length where that fits, else a new cross cut, else a new batt."""
    room = [s for each in opened for s in each.shelves if s.free >= size.width]
    beside = next((s for s in room if s.height - size.height <= STEP), next(iter(room), None))
    if beside is not None:
        beside.free -= size.width
        beside.pieces.append(number)
        return
    home = next((each for each in opened if each.free >= size.height), None)
    if home is None:
        home = _Open(free=batt.length.value)
        opened.append(home)
    home.free -= size.height
    home.shelves.append(_Shelf(size.height, batt.width.value - size.width, [number]))


def _made(
    batt: Batt, pieces: Sequence[Piece], patterns: Sequence[Pattern], least: int, proof: Proof, first: int
) -> Nest:
    """Patterns with the pieces of the walls put in, in the order of the knife."""
    sizes = [(size.height, size.width) for size in _sizes(pieces)]
    waiting: dict[tuple[int, int], deque[Piece]] = {size: deque() for size in sizes}
    for piece in pieces:
        waiting[piece.cut_height, piece.cut_width].append(piece)
    bare = [_plain(pattern) for pattern in patterns]
    empty = [_cut(batt, 0, p, [[waiting[sizes[n]][0] for n in strip] for strip in p.strips]) for p in bare]
    order = knife_order([each.settings for each in empty])
    batts = [
        _cut(batt, number, bare[each], [[waiting[sizes[n]].popleft() for n in s] for s in bare[each].strips])
        for number, each in enumerate(order, 1)
    ]
    return Nest(batt, tuple(batts), least, proof, first)


def _plain(pattern: Pattern) -> Pattern:
    """One strip of the whole length is cut across, as any batt; nobody needs to rip first for it."""
    if pattern.first == "ripped" and len(pattern.strips) == 1:
        return Pattern("across", tuple((number,) for number in pattern.strips[0]))
    return pattern


def _cut(batt: Batt, number: int, pattern: Pattern, strips: Sequence[Sequence[Piece]]) -> CutBatt:
    """A batt with its largest strip first."""
    across = pattern.first == "across"
    made = [Strip(max(p.cut_height if across else p.cut_width for p in s), tuple(s)) for s in strips]
    made.sort(key=lambda strip: -strip.size)
    room = batt.length.value if across else batt.width.value
    return CutBatt(number, pattern.first, tuple(made), Length(room - sum(strip.size for strip in made)))


def bags(nests: Iterable[Nest]) -> Mapping[str, int]:
    """Whole bags of each good for these nests."""
    return {each.batt.id: each.bags for each in nests}
