"""The cutting card: bag after bag, how each batt is cut and which bay every part of it is for.

Batts come in the order of the knife; those that read alike stand in one line. What is cut from the same batt
after its first piece is an off-cut that has its bay already. Source: own arrangement.
"""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from warmside.cutting.nesting import CutBatt, Nest, Strip
from warmside.cutting.pieces import Piece
from warmside.cutting.rules import knife_rules
from warmside.paper.phrases import SHORTEST_RUN, counted, joined
from warmside.say import Voice
from warmside.units import Length


@dataclass(frozen=True)
class BagLine:
    """Batts of a bag that are cut alike: how many, how, for which pieces, and what is left of each."""

    batts: str
    cut: str
    serves: str
    rest: str


@dataclass(frozen=True)
class Bag:
    """One bag, or several that are cut alike."""

    name: str
    lines: tuple[BagLine, ...]


@dataclass(frozen=True)
class BagCard:
    """All bags of one good."""

    goods: str
    bags: tuple[Bag, ...]


def bag_cards(nests: Iterable[Nest], voice: Voice) -> tuple[BagCard, ...]:
    """The card of each good, bag by bag in the order of the knife."""
    return tuple(BagCard(nest.batt.name, tuple(_bags(nest, voice))) for nest in nests)


def _bags(nest: Nest, voice: Voice) -> Iterable[Bag]:
    per_bag = nest.batt.per_bag.value
    full = [nest.batts[start : start + per_bag] for start in range(0, nest.count, per_bag)]
    numbered = list(enumerate(full, 1))
    for (_, many), group in groupby(numbered, key=lambda each: _alike(each, voice)):
        rows = list(group)
        batts = [batt for _, bag in rows for batt in bag]
        yield Bag(_name(rows[0][0], rows[-1][0], voice), tuple(_lines(batts, voice, in_each=many)))


def _alike(bag: tuple[int, Sequence[CutBatt]], voice: Voice) -> tuple[str, int]:
    """What bags told together have in common: all batts cut one way, and as many of them."""
    cuts = {_cut(batt, voice) for batt in bag[1]}
    return (cuts.pop(), len(bag[1])) if len(cuts) == 1 else (str(bag[0]), 0)


def _name(first: int, last: int, voice: Voice) -> str:
    if first == last:
        return voice.line("paper.bag.one", number=first)
    code = "paper.bag.pair" if last == first + 1 else "paper.bag.run"
    return voice.line(code, first=first, last=last)


def _lines(batts: Sequence[CutBatt], voice: Voice, *, in_each: int) -> Iterable[BagLine]:
    """The batts of a bag by how they are cut; `in_each` where several bags are told together, else 0."""
    for cut, group in groupby(batts, key=lambda batt: _cut(batt, voice)):
        alike = list(group)
        yield BagLine(
            batts=counted(voice, "paper.bag.batts", in_each or len(alike)),
            cut=cut,
            serves=_serves(alike, voice),
            rest=_rest(alike[0], voice),
        )


def _cut(batt: CutBatt, voice: Voice) -> str:
    """Cut 40-1/4 in; two of 18 in; a strip of 26 in, ripped 9-3/4 in; or ripped first."""
    parts = [_strip(batt, strip, voice) for strip in batt.strips]
    told = [_times(part, len(list(same)), voice) for part, same in groupby(parts)]
    return joined(voice, told, "paper.bag.next")


def _strip(batt: CutBatt, strip: Strip, voice: Voice) -> str:
    stock = strip.pieces[0].batt
    across = batt.first == "across"
    outer, inner = (
        (stock.length.value, stock.width.value) if across else (stock.width.value, stock.length.value)
    )
    sizes = [piece.cut_width if across else piece.cut_height for piece in strip.pieces]
    shown = [voice.show("batt", size) for size in sizes if size < inner]
    then = joined(
        voice, [_times(size, len(list(same)), voice) for size, same in groupby(shown)], "paper.bag.and"
    )
    kind = "cut" if across else "rip"
    if strip.size >= outer:
        return voice.line(f"paper.bag.{kind}.inside", sizes=then) if then else voice.line("paper.bag.whole")
    size = voice.show("batt", strip.size)
    code = f"paper.bag.{kind}.both" if then else f"paper.bag.{kind}.alone"
    return voice.line(code, size=size, sizes=then)


def _times(part: str, count: int, voice: Voice) -> str:
    return part if count == 1 else voice.line("paper.bag.times", count=count, part=part)


def _serves(batts: Sequence[CutBatt], voice: Voice) -> str:
    """The pieces by their marks: the first of each batt, then what its off-cuts are for."""
    places: dict[tuple[str, str], list[Piece]] = {}
    for batt in batts:
        for piece in batt.pieces:
            size = voice.show("batt", piece.cut_width), voice.show("batt", piece.cut_height)
            places.setdefault(size, []).append(piece)
    return joined(voice, [_marks(pieces, voice) for pieces in places.values()], "paper.bag.offcut")


def _marks(pieces: Sequence[Piece], voice: Voice) -> str:
    """Marks in order, three and more in a row as A4.1 to A9.1; how often where layers need several."""
    often = Counter(piece.id for piece in pieces)
    rows: list[list[tuple[str, int, str, int]]] = []
    for mark, count in often.items():
        before, number, after = _split(mark)
        if rows and rows[-1][-1] == (before, number - 1, after, count):
            rows[-1].append((before, number, after, count))
        else:
            rows.append([(before, number, after, count)])
    return joined(voice, [part for row in rows for part in _run(row, voice)])


def _run(row: Sequence[tuple[str, int, str, int]], voice: Voice) -> list[str]:
    marks = [f"{before}{number}{after}" for before, number, after, _ in row]
    count = row[0][3]
    if len(marks) >= SHORTEST_RUN:
        marks = [voice.line("paper.list.run", first=marks[0], last=marks[-1])]
    return marks if count == 1 else [voice.line("paper.bag.layers", mark=mark, count=count) for mark in marks]


def _split(mark: str) -> tuple[str, int, str]:
    """A rim 7.1 as what stands before the number of the bay, the number, and the piece."""
    bay, dot, piece = mark.rpartition(".")
    digits = re.search(r"\d+$", bay)
    start = digits.start() if digits else len(bay)
    return bay[:start], int(bay[start:] or 0), f"{dot}{piece}"


def _rest(batt: CutBatt, voice: Voice) -> str:
    """What is left beyond all pieces and worth keeping: its length, or the width of a strip."""
    across = batt.first == "across"
    left, wide = batt.left_over, not across
    if left == 0 and len(batt.strips) == 1:
        stock, (strip,) = batt.strips[0].pieces[0].batt, batt.strips
        used = sum(piece.cut_width if across else piece.cut_height for piece in strip.pieces)
        left, wide = Length((stock.width if across else stock.length).value - used), across
    if left < knife_rules().worth_keeping.value:
        return ""
    return voice.line("paper.bag.wide" if wide else "paper.bag.long", size=left)
