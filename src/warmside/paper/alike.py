"""Bays that are cut alike, brought together: one line for many bays, one drawing for alike odd ones.

Two bays are alike where everything that the knife reads is the same as the papers show it: batts to 1/4 in or
to the millimetre. That rounding is finer than a friction fit (common practice).
"""

import re
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from warmside.answers import WallAnswer
from warmside.cutting.inside import InsideBay, InsideFill
from warmside.cutting.pieces import BayFill, Piece
from warmside.paper.phrases import counted, joined, runs
from warmside.paper.piece_drawing import is_drawn, place_in_bay
from warmside.paper.wall_shapes import needs_drawing, stand_apart
from warmside.say import Voice


@dataclass(frozen=True)
class Alike:
    """Bays with the same pieces.

    goods : what they are cut from
    rip : the width that all pieces are ripped to, or that they are not ripped
    cuts : the pieces in words, from the bottom up; at the rim from the left
    stops : how many stops the knife needs for the lengths
    like : the first of the bays, None at the rim
    """

    count: int
    marks: str
    goods: str
    rip: str
    cuts: str
    stops: str
    like: BayFill | None = None


def straight_bays(walls: Sequence[WallAnswer], voice: Voice) -> tuple[Alike, ...]:
    """The bays that need no drawing, whole widths and most alike first."""
    fills = [fill for each in walls if not each.wall.keeps_batts for fill in each.fills]
    plain = [fill for fill in fills if fill.pieces and not needs_drawing(fill)]
    return tuple(sorted(_bays(plain, voice), key=lambda alike: (_ripped(alike), -alike.count)))


def drawn_bays(walls: Sequence[WallAnswer], voice: Voice) -> tuple[tuple[BayFill, ...], ...]:
    """The bays that are drawn, in the order of the walls; those whose drawn pieces are the same together."""
    fills = [fill for each in walls if not each.wall.keeps_batts for fill in each.fills]
    groups: dict[Hashable, list[BayFill]] = {}
    for fill in (fill for fill in fills if needs_drawing(fill)):
        groups.setdefault(_drawn(fill, voice), []).append(fill)
    return tuple(tuple(group) for group in groups.values())


def _drawn(fill: BayFill, voice: Voice) -> Hashable:
    """All that is drawn of a bay, and where it stands in it; all pieces where nothing is drawn."""
    drawn = [piece for piece in fill.pieces if is_drawn(piece)]
    places = tuple(place_in_bay(piece, fill.bay, voice) for piece in drawn)
    return bool(drawn), _key(drawn or fill.pieces, voice), places


def _ripped(alike: Alike) -> bool:
    return alike.like is not None and any(piece.ripped for piece in alike.like.pieces)


def rim_bays(walls: Sequence[WallAnswer], voice: Voice) -> tuple[Alike, ...]:
    """The rim bays of all walls, those with most alike first."""
    groups: dict[Hashable, list[tuple[tuple[str, int], tuple[Piece, ...]]]] = {}
    for each in walls:
        numbers = {bay.mark: bay.number for bay in each.built.rim_bays}
        for mark, row in groupby(each.rim_pieces, key=lambda piece: piece.id.rpartition(".")[0]):
            pieces = tuple(row)
            groups.setdefault(_key(pieces, voice), []).append((_numbered(mark, numbers[mark]), pieces))
    every = [
        _alike(len(group), runs(voice, [mark for mark, _ in group], short=True), group[0][1], voice)
        for group in groups.values()
    ]
    return tuple(sorted(every, key=lambda alike: -alike.count))


def inside_bays(inside: Iterable[InsideFill], voice: Voice) -> tuple[Alike, ...]:
    """The bays of partitions and ceilings, most alike first."""
    groups: dict[Hashable, list[InsideBay]] = {}
    for each in inside:
        for bay in each.bays:
            if bay.pieces:
                groups.setdefault(_key(bay.pieces, voice), []).append(bay)
    every = [
        _alike(len(group), runs(voice, [_parted(bay.mark) for bay in group]), group[0].pieces, voice)
        for group in groups.values()
    ]
    return tuple(sorted(every, key=lambda alike: -alike.count))


def _parted(mark: str) -> tuple[str, int]:
    """A mark as what stands before its number, and the number."""
    number = re.search(r"\d+$", mark)
    return (mark[: number.start()], int(number[0])) if number else (mark, 0)


def _bays(fills: Iterable[BayFill], voice: Voice) -> Iterable[Alike]:
    groups: dict[Hashable, list[BayFill]] = {}
    for fill in fills:
        groups.setdefault((_key(fill.pieces, voice), _voids(fill, voice)), []).append(fill)
    for group in groups.values():
        marks = runs(voice, [_numbered(fill.bay.mark, fill.bay.number) for fill in group])
        yield replace(_alike(len(group), marks, group[0].pieces, voice), like=group[0])


def _numbered(mark: str, number: int) -> tuple[str, int]:
    """A mark as what stands before its number, and the number."""
    return mark.removesuffix(str(number)), number


def _alike(count: int, marks: str, pieces: Sequence[Piece], voice: Voice) -> Alike:
    goods = dict.fromkeys(piece.batt.name for piece in pieces)
    return Alike(
        count=count,
        marks=marks,
        goods=joined(voice, list(goods)),
        rip=_rip(pieces, voice),
        cuts=_cuts(pieces, voice),
        stops=_stops(pieces, voice),
    )


def _key(pieces: Iterable[Piece], voice: Voice) -> Hashable:
    """All that the knife reads of some pieces."""
    return tuple(
        (
            (piece.role, piece.batt.id, piece.layers, piece.plug),
            _sizes(voice, piece.cut_width, piece.cut_height, piece.thickness or piece.batt.thickness.value),
            tuple(_sizes(voice, n.left, n.bottom, n.width, n.height) for n in piece.cut_notches),
            tuple((s.upright, *_sizes(voice, s.at, s.depth)) for s in piece.slits),
        )
        for piece in pieces
    )


def _voids(fill: BayFill, voice: Voice) -> Hashable:
    """What stays empty, from the lower left corner of the bay."""
    left, bottom = fill.bay.left, fill.bay.bottom
    return tuple(
        (v.why, *_sizes(voice, v.box.left - left, v.box.bottom - bottom, v.box.width, v.box.height))
        for v in fill.voids
    )


def _sizes(voice: Voice, *lengths: int) -> tuple[str, ...]:
    return tuple(voice.show("batt", length) for length in lengths)


def _widths(pieces: Iterable[Piece], voice: Voice) -> dict[str, None]:
    """The widths that pieces are ripped to, each once, in order; nothing for a whole width."""
    return dict.fromkeys(voice.show("batt", piece.cut_width) if piece.ripped else "" for piece in pieces)


def _rip(pieces: Sequence[Piece], voice: Voice) -> str:
    """What the batts are ripped to, a column of pieces after the other."""
    widths = _widths(sorted(pieces, key=lambda piece: piece.box.left), voice)
    return joined(voice, [width or voice.line("paper.none") for width in widths])


def _cuts(pieces: Sequence[Piece], voice: Voice) -> str:
    """Whole length, then cut 40 in; where a thing parts the bay, one column beside the other."""
    columns = _columns(pieces)
    several = len(_widths(pieces, voice)) > 1
    told = [_column(column, several, voice) for column in columns]
    if len(told) > 1 and len(set(told)) == 1:
        text = voice.line("paper.cut.each", count=len(told), cut=told[0])
    else:
        text = joined(voice, told, "paper.cut.beside")
    deep = max(piece.layers for piece in pieces)
    return voice.line("paper.cut.deep", cut=text, layers=deep) if deep > 1 else text


def _columns(pieces: Sequence[Piece]) -> list[list[Piece]]:
    """Pieces one above the other in columns that stand apart; all in one where they do not."""
    columns: dict[tuple[int, int], list[Piece]] = {}
    for piece in pieces:
        columns.setdefault((piece.box.left, piece.box.right), []).append(piece)
    along_the_rim = any(piece.role == "rim" for piece in pieces)
    apart = stand_apart(pieces) and not along_the_rim
    return [columns[edge] for edge in sorted(columns)] if apart else [list(pieces)]


def _column(pieces: Sequence[Piece], several: bool, voice: Voice) -> str:
    """The pieces of a column; `several` where the widths of the bay differ, so that each says its own."""
    widths = list(_widths(pieces, voice))
    parts = []
    for _, row in groupby(pieces, key=lambda piece: _key([piece], voice)):
        alike = list(row)
        parts.append(_cut(alike[0], len(alike), len(widths) > 1, voice))
    text = joined(voice, parts, "paper.cut.then")
    wide = several and len(widths) == 1 and pieces[0].ripped
    return voice.line("paper.cut.wide", width=pieces[0].cut_width, cut=text) if wide else text


def _cut(piece: Piece, count: int, own_width: bool, voice: Voice) -> str:
    """One piece, or several alike: whole or cut to a length, slit; ripped where widths differ."""
    if piece.cut_height >= piece.batt.length.value:
        text = counted(voice, "paper.cut.whole", count)
    else:
        text = voice.line("paper.cut.long", height=piece.cut_height)
        text = voice.line("paper.cut.times", count=count, cut=text) if count > 1 else text
    if own_width and piece.ripped:
        text = voice.line("paper.cut.ripped", cut=text, width=piece.cut_width)
    for slit in piece.slits:
        text = voice.line("paper.cut.slit", cut=text, depth=slit.depth)
    return text


def _stops(pieces: Sequence[Piece], voice: Voice) -> str:
    """How many different lengths the knife is set to; a whole length takes none."""
    lengths = {voice.show("batt", p.cut_height) for p in pieces if p.cut_height < p.batt.length.value}
    return str(len(lengths)) if lengths else voice.line("paper.none")
