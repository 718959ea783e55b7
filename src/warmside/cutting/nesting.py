"""Pieces into batts: first-fit decreasing over guillotine cuts, with the bound from area.

First-fit decreasing: Johnson, D. S. (1973), Near-optimal bin packing algorithms. Each batt is cut across
first, then each length ripped; what is left beside a ripped piece takes narrower ones.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from warmside.catalog.goods import Batt
from warmside.cutting.pieces import Piece
from warmside.units import INCH, Length

KNIFE = Length(INCH // 4)
"""Pieces this much alike in length share one cross cut (common practice)."""


@dataclass
class _Shelf:
    """One length cut across a batt, and the width still free on it."""

    height: int
    free: int
    pieces: list[str]


@dataclass
class _Open:
    """A batt being cut: its shelves and the length still free."""

    free: int
    shelves: list[_Shelf] = field(default_factory=list)


@dataclass(frozen=True)
class CutBatt:
    """One batt and the pieces that come out of it, cross cut by cross cut."""

    number: int
    rows: tuple[tuple[str, ...], ...]
    left_over: Length


@dataclass(frozen=True)
class Nest:
    """All batts of one good, the number of them, and the least number that any cutting could need."""

    batt: Batt
    batts: tuple[CutBatt, ...]
    least: int

    @property
    def count(self) -> int:
        """How many batts are taken."""
        return len(self.batts)


def first_fit(pieces: Iterable[Piece]) -> tuple[Nest, ...]:
    """Every piece into the first batt that takes it, longest first. Plugs out of notches need no stock."""
    by_batt: defaultdict[str, list[Piece]] = defaultdict(list)
    goods: dict[str, Batt] = {}
    for piece in pieces:
        if not piece.plug:
            by_batt[piece.batt.id].extend([piece] * piece.layers)
            goods[piece.batt.id] = piece.batt
    return tuple(_nest(goods[name], by_batt[name]) for name in sorted(by_batt))


def _nest(batt: Batt, pieces: list[Piece]) -> Nest:
    opened: list[_Open] = []
    for piece in sorted(pieces, key=lambda p: (-p.cut_height, -p.cut_width, p.id)):
        _put(piece, batt, opened)
    cut = tuple(
        CutBatt(number, tuple(tuple(shelf.pieces) for shelf in each.shelves), Length(each.free))
        for number, each in enumerate(opened, 1)
    )
    return Nest(batt, cut, _least(batt, pieces))


def _put(piece: Piece, batt: Batt, opened: list[_Open]) -> None:
    """Beside another piece of about its length where that fits, else a new cross cut, else a new batt."""
    width, height = piece.cut_width, piece.cut_height
    # Pieces come longest first, so that every row there is is long enough.
    room = [s for each in opened for s in each.shelves if s.free >= width]
    beside = next((s for s in room if s.height - height <= KNIFE), next(iter(room), None))
    if beside is not None:
        beside.free -= width
        beside.pieces.append(piece.id)
        return
    home = next((each for each in opened if each.free >= height), None)
    if home is None:
        home = _Open(free=batt.length.value)
        opened.append(home)
    home.free -= height
    home.shelves.append(_Shelf(height, batt.width.value - width, [piece.id]))


def _least(batt: Batt, pieces: list[Piece]) -> int:
    """Bound by area: no cutting needs fewer batts than the pieces have area for."""
    area = sum(p.cut_width * p.cut_height for p in pieces)
    return -(-area // (batt.width.value * batt.length.value))


def bags(nests: Iterable[Nest]) -> Mapping[str, int]:
    """Whole bags of each good for these nests."""
    return {nest.batt.id: math.ceil(nest.count / nest.batt.per_bag.value) for nest in nests}
