"""The pieces of odd bays as a knife reads them: room face up, bottom end down, marks from two edges.

Every mark is a distance from the piece's own left edge or from its own bottom end, as a tape hooked there
shows it. A batt that is cut with its facing down lies with its back up: its pieces are drawn mirrored, and
say so. Pieces that are only cut to a size, or that come out of a notch, are told in a line. Bays whose drawn
pieces are the same share a drawing, and every piece has its own mark there. Source: own arrangement. Valid
for pieces with straight notches.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

from warmside.cutting.pieces import BayFill, Notch, Piece, Slit
from warmside.paper.chains import Chain, dimension_column, spread
from warmside.paper.drawing import Dimension, Drawing, Item, Line, Rect, Text, Window, text_window
from warmside.paper.lettering import wrapped
from warmside.paper.phrases import joined, listed
from warmside.paper.picture import Picture, moved
from warmside.paper.svg import svg
from warmside.paper.wall_shapes import mm
from warmside.say import Voice
from warmside.units import Length
from warmside.wall.frame import Bay
from warmside.wall.in_the_way import Box

USUAL_SCALE = 12.0
MARK, NAME, WORD, HEAD = 2.1, 2.6, 1.9, 3.2
"""Cap heights of marks, of a piece's id, of other words and of the bay [mm on paper]."""
NARROWEST, WIDE = 46.0, 66.0
"""The lines of a bay, and of bays that share a drawing, have at least this width [mm on paper]."""
NAMES = 56.0
"""The ids of alike pieces break into lines of this length [mm on paper]."""
WIDEST = 250.0
"""So much fits beside each other on a sheet of letter paper [mm on paper]."""
_BETWEEN = 6.0


def piece_drawing(
    fill: BayFill, voice: Voice, scale: float = USUAL_SCALE, alike: Sequence[BayFill] = ()
) -> Drawing:
    """All pieces of one bay: those with notches or slits in rows side by side, the others in a line each.

    scale : object over paper [-]
    alike : further bays whose drawn pieces are the same
    """
    fills = (fill, *alike)
    items: list[Item] = []
    width, top = (WIDE if alike else NARROWEST) * scale, -_BETWEEN * scale
    for row in reversed(_rows(fills, voice, scale)):
        area = Drawing(row, "").extents(scale)
        up = top + _BETWEEN * scale - area.bottom if items else 0.0
        items += [moved(item, 0.0, up) for item in row]
        width, top = max(width, area.width), area.top + up
    items += _head(fills, voice, width, max(top, 0.0) + 2.0 * scale, scale)
    return Drawing(tuple(items), _bays(fills, voice))


def _bays(fills: Sequence[BayFill], voice: Voice) -> str:
    """Bay A3; Bays B2 and C2."""
    marks = listed(voice, [fill.bay.mark for fill in fills])
    return voice.line("drawing.piece.bays" if len(fills) > 1 else "drawing.piece.bay", mark=marks)


def _rows(fills: Sequence[BayFill], voice: Voice, scale: float) -> list[tuple[Item, ...]]:
    """The drawn pieces in rows no wider than a page, the first row on top."""
    rows: list[tuple[Item, ...]] = []
    left = WIDEST * scale
    for same in zip(*([p for p in fill.pieces if is_drawn(p)] for fill in fills), strict=True):
        drawn = piece_items(same[0], fills[0].bay, voice, scale, _ids(same, voice))
        area = Drawing(drawn, "").extents(scale)
        if left + area.width > WIDEST * scale:
            rows.append(())
            left = 0.0
        rows[-1] += tuple(moved(item, left - area.left, 0.0) for item in drawn)
        left += area.width + _BETWEEN * scale
    return rows


def _ids(pieces: Iterable[Piece], voice: Voice) -> str:
    return joined(voice, [piece.id for piece in pieces])


def piece_picture(
    fill: BayFill, voice: Voice, scale: float = USUAL_SCALE, alike: Sequence[BayFill] = ()
) -> Picture:
    """The pieces of one bay as a picture, cut to its own size so that several go on a page.

    scale : object over paper [-]
    alike : further bays whose drawn pieces are the same
    """
    fills = (fill, *alike)
    drawing = piece_drawing(fill, voice, scale, alike)
    pieces = " ".join(_size_line(piece, fill.bay, voice) for fill in fills for piece in fill.pieces)
    told = voice.line("drawing.piece.told", bays=drawing.title, face=_face(fills, voice), pieces=pieces)
    return Picture(svg(drawing, scale, drawing.extents(scale).grown(0.3 * scale), told), scale, told)


def is_drawn(piece: Piece) -> bool:
    """True where its size and its place in the bay do not tell how to cut a piece."""
    return not piece.plug and bool(piece.notches or piece.slits)


def _head(
    fills: Sequence[BayFill], voice: Voice, width: float, bottom: float, scale: float
) -> tuple[Item, ...]:
    """The bays' marks over their clear size and a line for all that the drawing does not show."""
    mirrored = [_face(fills, voice)] if any(back_up(p) for fill in fills for p in fill.pieces) else []
    lines = [_clear(fills, voice), *mirrored, *_lines(fills, voice)]
    text = "\n".join(wrapped(line, WORD, width / scale) for line in lines)
    below = Text((0.0, bottom), text, "words", WORD, "left", "bottom")
    over = text_window(below, scale).top + 1.8 * scale
    name = wrapped(_bays(fills, voice), HEAD, width / scale, bold=True)
    return below, Text((0.0, over), name, "words", HEAD, "left", "bottom", bold=True)


def _clear(fills: Sequence[BayFill], voice: Voice) -> str:
    """The clear size of a bay; of several that differ, the least and the most."""
    width = _ends([fill.bay.width for fill in fills], voice)
    height = _ends([fill.bay.height for fill in fills], voice)
    return voice.line("drawing.piece.clear", width=width, height=height)


def _ends(lengths: Sequence[Length], voice: Voice) -> str:
    """The least and the most, or the one that all are."""
    ends = dict.fromkeys(voice.show("inches", length) for length in (min(lengths), max(lengths)))
    return joined(voice, list(ends), "drawing.piece.range")


def _lines(fills: Sequence[BayFill], voice: Voice) -> Iterator[str]:
    """What no outline tells, first of the pieces that are not drawn; alike pieces share a line."""
    alike: dict[str, tuple[Callable[[str], str], list[str]]] = {}
    for drawn in (False, True):
        for fill, piece in ((f, p) for f in fills for p in f.pieces if is_drawn(p) == drawn):
            for saying in _sayings(piece, fill.bay, voice):
                alike.setdefault(saying(""), (saying, []))[1].append(piece.id)
    for saying, ids in alike.values():
        yield saying(joined(voice, ids))


def _sayings(piece: Piece, bay: Bay, voice: Voice) -> Iterator[Callable[[str], str]]:
    """What to say of pieces by their ids: size, place and thickness, how deep slits and troughs go."""
    if piece.role == "behind" or not is_drawn(piece):
        yield lambda ids: _size_line(piece, bay, voice, ids)
    depths = {("slit", slit.depth) for slit in piece.slits}
    depths |= {("trough", notch.depth) for notch in piece.cut_notches if notch.depth is not None}
    for kind, depth in sorted(depths):
        yield partial(_depth_line, voice, kind, depth)


def _depth_line(voice: Voice, kind: str, depth: Length, ids: str) -> str:
    return voice.line(f"drawing.piece.{kind}", id=ids, depth=depth)


def back_up(piece: Piece) -> bool:
    """True where the batt lies with its back up to be cut."""
    return piece.batt.cut_from_back is not None and piece.batt.cut_from_back.value == "yes"


def _face(fills: Sequence[BayFill], voice: Voice) -> str:
    """Which face of the batts lies up."""
    mirrored = any(back_up(piece) for fill in fills for piece in fill.pieces)
    return voice.line(f"drawing.piece.{'back_up' if mirrored else 'room_up'}")


def as_it_lies(piece: Piece) -> Piece:
    """The piece as it lies before the knife: left and right change sides where its back is up."""
    if not back_up(piece):
        return piece
    wide = piece.cut_width
    notches = [replace(n, left=Length(wide - n.left - n.width)) for n in piece.cut_notches]
    slits = [replace(s, at=Length(wide - s.at)) if s.upright else s for s in piece.slits]
    # Its notches have run out to its edges already, so that its place is as large as the piece.
    box = Box(Length(0), Length(0), wide, piece.cut_height)
    return replace(piece, box=box, notches=tuple(notches), slits=tuple(slits))


def _size_line(piece: Piece, bay: Bay, voice: Voice, ids: str | None = None) -> str:
    """A piece in a line: its id, what it is cut to, where it stands, and how thick if it is peeled.

    ids : of all pieces like this one, where there are several
    """
    code = "plug" if piece.plug else "peeled" if piece.role == "behind" else "size"
    place = "" if piece.plug else place_in_bay(piece, bay, voice)
    return voice.line(
        f"drawing.piece.{code}{'_at' if place else ''}",
        id=piece.id if ids is None else ids,
        width=piece.cut_width,
        height=piece.cut_height,
        thickness=piece.thickness or piece.batt.thickness.value,
        place=place,
    )


def piece_items(
    piece: Piece, bay: Bay, voice: Voice, scale: float, ids: str | None = None
) -> tuple[Item, ...]:
    """One piece from the origin: its size at the left and below, its marks at the right and above.

    ids : of all pieces like this one, where there are several
    """
    name_of, piece = piece, as_it_lies(piece)
    width, height = mm(piece.cut_width), mm(piece.cut_height)
    edges = [Line(a, b, "pieces", "outline") for a, b in outline(piece)]
    size = (
        Dimension((0.0, 0.0), (width, 0.0), -2.6 * scale, "", size=MARK),
        Text((width / 2, -4.0 * scale), _batt(piece.cut_width, voice), "dimensions", MARK, "middle", "top"),
        *dimension_column(
            Chain([0.0, height], [_batt(piece.cut_height, voice)], -3.5 * scale, 0.0, scale, size=MARK)
        ),
    )
    across = list(_marks_across(piece, voice, scale))
    above = max([height, *(text_window(t, scale).top for t in across if isinstance(t, Text))])
    name = _name(name_of, ids or name_of.id, bay, voice, above + 1.6 * scale, scale)
    return (
        *edges,
        *(line for notch in piece.cut_notches for line in _crossed(notch)),
        *(_trough(notch) for notch in piece.cut_notches if notch.depth is not None),
        *_slit_lines(piece),
        *size,
        *across,
        *_marks_up(piece, voice, scale),
        *name,
    )


def _name(piece: Piece, ids: str, bay: Bay, voice: Voice, bottom: float, scale: float) -> tuple[Item, ...]:
    """A piece's id, and where it stands if the bay has several side by side."""
    place = Text((0.0, bottom), place_in_bay(piece, bay, voice), "words", WORD, "left", "bottom")
    over = text_window(place, scale).top + 1.5 * scale if place.text else bottom
    told = voice.line("drawing.piece.mirrored", id=ids) if back_up(piece) else ids
    told = wrapped(told, NAME, NAMES, bold=True)
    name = Text((0.0, over), told, "words", NAME, "left", "bottom", bold=True)
    return (place, name) if place.text else (name,)


def place_in_bay(piece: Piece, bay: Bay, voice: Voice) -> str:
    """Where a piece stands in a bay that has several side by side, else nothing."""
    at_left, at_right = piece.box.left == bay.left, piece.box.right == bay.right
    if at_left and at_right:
        return ""
    side = "at_left" if at_left else "at_right" if at_right else "between"
    return voice.line(f"drawing.piece.{side}", left=Length(piece.box.left - bay.left))


def _batt(length: int, voice: Voice) -> str:
    return voice.show("batt", length)


def outline(piece: Piece) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """The edges of a piece as it is cut, its bottom left corner at the origin [mm]."""
    areas = [notch_window(notch) for notch in piece.cut_notches if notch.depth is None]
    width, height = mm(piece.cut_width), mm(piece.cut_height)
    xs = sorted({0.0, width, *(x for a in areas for x in (a.left, a.right) if 0.0 < x < width)})
    ys = sorted({0.0, height, *(y for a in areas for y in (a.bottom, a.top) if 0.0 < y < height)})
    whole = Window(0.0, 0.0, width, height)

    def solid(x: float, y: float) -> bool:
        spot = Window(x, y, x, y)
        return whole.holds(spot) and not any(area.holds(spot) for area in areas)

    reach = width + height
    upright = [
        ((x, a), (x, b))
        for before, x, after in _neighbours(xs, reach)
        for a, b in pairwise(ys)
        if solid((before + x) / 2, (a + b) / 2) != solid((x + after) / 2, (a + b) / 2)
    ]
    level = [
        ((a, y), (b, y))
        for before, y, after in _neighbours(ys, reach)
        for a, b in pairwise(xs)
        if solid((a + b) / 2, (before + y) / 2) != solid((a + b) / 2, (y + after) / 2)
    ]
    return upright + level


def _neighbours(stops: Sequence[float], reach: float) -> Iterator[tuple[float, float, float]]:
    """Each stop between the one before and the one after it."""
    roomy = [stops[0] - reach, *stops, stops[-1] + reach]
    yield from zip(roomy, roomy[1:], roomy[2:], strict=False)


def notch_window(notch: Notch) -> Window:
    """A notch from the piece's left edge and bottom end [mm]."""
    right, top = notch.left + notch.width, notch.bottom + notch.height
    return Window(mm(notch.left), mm(notch.bottom), mm(right), mm(top))


def _crossed(notch: Notch) -> Iterator[Line]:
    """What is cut right through is crossed out."""
    if notch.depth is not None:
        return
    a, b, c, d = notch_window(notch).corners
    yield Line(a, c, "cut out", "plain")
    yield Line(b, d, "cut out", "plain")


def _trough(notch: Notch) -> Rect:
    """A trough in the room face is dashed."""
    area = notch_window(notch)
    return Rect(area.left, area.bottom, area.width, area.height, "troughs", "void")


def _slit_lines(piece: Piece) -> Iterator[Line]:
    for slit in piece.slits:
        at = mm(slit.at)
        if slit.upright:
            yield Line((at, 0.0), (at, mm(piece.cut_height)), "slits", "seam")
        else:
            yield Line((0.0, at), (mm(piece.cut_width), at), "slits", "seam")


@dataclass(frozen=True)
class _Mark:
    """A distance from an edge: where [mm], what it says, and from where its thin line comes [mm]."""

    at: float
    text: str
    line_from: float


def _told_once(marks: Iterable[_Mark], whole: int) -> list[_Mark]:
    """The marks in order, without those at an edge and without one that says the same as the one before."""
    kept: dict[str, _Mark] = {}
    for mark in sorted(marks, key=lambda m: (m.at, m.line_from)):
        if 0.0 < mark.at < mm(whole):
            kept.setdefault(mark.text, mark)
    return list(kept.values())


def _slit_mark(slit: Slit, edge: int, voice: Voice) -> _Mark:
    return _Mark(mm(slit.at), voice.line("drawing.piece.slit_at", at=slit.at), mm(edge))


def _marks_up(piece: Piece, voice: Voice, scale: float) -> Iterator[Item]:
    """Distances from the bottom end, at the right of the piece."""
    edges = [(n.bottom + part, n.left + n.width) for n in piece.cut_notches for part in (0, n.height)]
    found = [_Mark(mm(at), _batt(at, voice), mm(x)) for at, x in edges]
    found += [_slit_mark(slit, piece.cut_width, voice) for slit in piece.slits if not slit.upright]
    marks = _told_once(found, piece.cut_height)
    right = mm(piece.cut_width)
    heights = spread([mark.at for mark in marks], 1.6 * MARK * scale)
    for mark, height in zip(marks, heights, strict=True):
        start = (min(mark.line_from, right), mark.at)
        yield Line(start, (right + 1.5 * scale, mark.at), "dimensions", "dimension")
        yield Line((right + 1.5 * scale, mark.at), (right + 3.5 * scale, height), "dimensions", "dimension")
        yield Text((right + 4.0 * scale, height), mark.text, "dimensions", MARK, "left", "middle")


def _marks_across(piece: Piece, voice: Voice, scale: float) -> Iterator[Item]:
    """Distances from the left edge, above the piece, to be read upwards."""
    edges = [(n.left + part, n.bottom + n.height) for n in piece.cut_notches for part in (0, n.width)]
    found = [_Mark(mm(at), _batt(at, voice), mm(y)) for at, y in edges]
    found += [_slit_mark(slit, piece.cut_height, voice) for slit in piece.slits if slit.upright]
    marks = _told_once(found, piece.cut_width)
    top = mm(piece.cut_height)
    places = spread([mark.at for mark in marks], 1.6 * MARK * scale)
    for mark, place_at in zip(marks, places, strict=True):
        start = (mark.at, min(mark.line_from, top))
        yield Line(start, (mark.at, top + 1.2 * scale), "dimensions", "dimension")
        yield Line((mark.at, top + 1.2 * scale), (place_at, top + 2.8 * scale), "dimensions", "dimension")
        yield Text((place_at, top + 3.2 * scale), mark.text, "dimensions", MARK, "left", "middle", 90)
