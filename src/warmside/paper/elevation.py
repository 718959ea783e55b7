"""The wall as one stands before it, bay by bay with its R on it: as one drawing, and cut into pages.

Read from the room; every length is true to scale. Above the wall stand its name, what the page shows and a
bar to check the print with; below it the clear widths of the bays. Source: own arrangement. Valid for walls
that fit on the sheet at one of the scales of module pages.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from warmside.answers import WallAnswer
from warmside.paper.bay_numbers import Stretch, bay_windows, usual_width
from warmside.paper.chains import Chain, dimension_row, spread
from warmside.paper.drawing import (
    TICK,
    Across,
    Dimension,
    Drawing,
    Item,
    Line,
    Polyline,
    Text,
    Window,
    text_window,
)
from warmside.paper.leaders import Label, Strip, lead_out
from warmside.paper.lettering import text_width, wrapped
from warmside.paper.pages import (
    LETTER,
    DoesNotFitError,
    Layout,
    Page,
    Room,
    Sheet,
    cut_lines,
    lay_out,
)
from warmside.paper.picture import Picture
from warmside.paper.svg import svg
from warmside.paper.wall_key import bar, meanings
from warmside.paper.wall_shapes import (
    ALONE,
    Beside,
    beside,
    ends,
    mm,
    shapes,
    wall_window,
)
from warmside.paper.wall_words import spoken, words
from warmside.say import Voice
from warmside.units import Length

__all__ = [
    "ALONE",
    "Beside",
    "Drawn",
    "Picture",
    "beside",
    "drawn_pages",
    "elevation",
    "pages",
    "small",
    "whole",
]

USUAL_SCALE = 20.0
TITLE, LINE, FINE = 5.0, 2.3, 2.0
"""Cap heights of the wall's name, of what stands below it, and of the marks' meaning [mm on paper]."""
NARROWEST = 130.0
"""A picture is at least this wide, so that its title has room [mm on paper]."""
OVERLAP = 13.0
"""How far a page shows the wall beyond its cut [mm on paper]."""
WIDTH = 2.2
"""Cap height in the chain of clear widths [mm on paper]."""
_FLAT, _UPRIGHT = 4.0, 1.5
"""Room for a text that lies on the chain [mm on paper]; what an upright one takes, in cap heights [-]."""
_STEP = 1.75
_TO_TEXT = 4.0
_BAR_ROOM = 62.0
_NARROWEST_SMALL = 50.0
_SMALL_TITLE, _WIDE = 4.2, 60.0
"""Of a small picture: the cap height of its title, and from which width flags begin between the heights."""
_ROOM_BESIDE = 60.0
"""With less room than this beside its name, what there is to say of a wall stands below [mm on paper]."""
_TRIES = ((1.0, 25), (0.7, 25), (0.5, 25), (1.0, 50))
"""What is tried for a page: the part of the sheet's width [-], and the smallest scale [-]."""


@dataclass(frozen=True)
class _Part:
    """One of several pictures of a wall; `printed` adds the scale and the bar to its title.

    `small`: one of several walls on a page, with the scale and what the marks mean told once for all of them.
    """

    page: Page
    of: int = 1
    printed: bool = True
    small: bool = False


@dataclass(frozen=True)
class Drawn:
    """A picture's drawing and the part of it that is shown [mm]."""

    drawing: Drawing
    window: Window


def elevation(
    answer: WallAnswer, voice: Voice, next_to: Beside = ALONE, scale: float = USUAL_SCALE
) -> Drawing:
    """The whole wall in one drawing, its words seated for one scale.

    next_to : the walls whose frames stand at its corners
    scale : object over paper [-]
    """
    return _drawn(
        answer, voice, next_to, scale, _Part(_one_page(answer, voice, scale), printed=False)
    ).drawing


def whole(answer: WallAnswer, voice: Voice, next_to: Beside = ALONE, scale: float = USUAL_SCALE) -> Picture:
    """The whole wall in one picture, however wide, with its scale and a bar to check the print with.

    scale : object over paper [-]
    """
    part = _Part(_one_page(answer, voice, scale))
    return _picture(_drawn(answer, voice, next_to, scale, part), scale, _told(answer, voice, part))


def small(answer: WallAnswer, voice: Voice, next_to: Beside = ALONE, scale: float = USUAL_SCALE) -> Picture:
    """The whole wall as one of several on a page: no bar, no meaning of the marks, its title in one line.

    scale : object over paper [-]
    """
    part = _small_part(answer, voice, scale)
    return _picture(_drawn(answer, voice, next_to, scale, part), scale, _told(answer, voice, part))


def small_drawn(answer: WallAnswer, voice: Voice, next_to: Beside, scale: float) -> Drawn:
    """The same as a drawing."""
    return _drawn(answer, voice, next_to, scale, _small_part(answer, voice, scale))


def _small_part(answer: WallAnswer, voice: Voice, scale: float) -> _Part:
    return _Part(_one_page(answer, voice, scale, small=True), printed=False, small=True)


def pages(answer: WallAnswer, voice: Voice, sheet: Sheet = LETTER, next_to: Beside = ALONE) -> list[Picture]:
    """The wall cut into pictures at the middles of studs, each to fill one sheet.

    Raises DoesNotFitError where the wall is too high for the sheet at every scale.
    """
    layout, drawn = drawn_pages(answer, voice, sheet, next_to)
    parts = [_Part(page, len(drawn)) for page in layout.pages]
    return [
        _picture(each, layout.scale, _told(answer, voice, part))
        for each, part in zip(drawn, parts, strict=True)
    ]


def _picture(drawn: Drawn, scale: float, told: str) -> Picture:
    return Picture(svg(drawn.drawing, scale, drawn.window, told), scale, told)


def _side(answer: WallAnswer, voice: Voice, *, small: bool = False) -> float:
    """Room for the heights at either end of the wall [mm on paper]."""
    texts = [_level_text(pair, voice, small) for x in ends(answer.wall) for pair in _heights(answer, x)]
    return _TO_TEXT + max(text_width(text, LINE) for text in texts) + 0.2


def _one_page(answer: WallAnswer, voice: Voice, scale: float, *, small: bool = False) -> Page:
    area = wall_window(answer.wall)
    side = _side(answer, voice, small=small) * scale
    right = side if not small or _slopes(answer) else 0.5 * scale
    return Page(1, replace(area, left=area.left - side, right=area.right + right), None, None)


def _slopes(answer: WallAnswer) -> bool:
    """Whether anything stands at another height at the right end than at the left."""
    left, right = ends(answer.wall)
    return _heights(answer, left) != _heights(answer, right)


def drawn_pages(
    answer: WallAnswer, voice: Voice, sheet: Sheet = LETTER, next_to: Beside = ALONE
) -> tuple[Layout, list[Drawn]]:
    """The pages of a wall as drawings; the height above and below the wall is what their words need.

    Where the words of a page need too much, the wall is cut into more and narrower pages. If that does not
    help either, the pages are higher than the sheet.
    Raises DoesNotFitError where the wall is too high for the sheet at every scale.
    """
    tried: list[tuple[float, int, Layout, list[Drawn]]] = []
    for share, smallest in _TRIES:
        area = sheet.area[0] * share, sheet.area[1]
        layout, drawn = _laid_out(answer, voice, next_to, area, smallest)
        height = max(each.window.height for each in drawn) / layout.scale
        if height <= sheet.area[1]:
            return layout, drawn
        tried.append((height, len(tried), layout, drawn))
    *_, layout, drawn = min(tried, key=lambda each: each[:2])
    return layout, drawn


def _laid_out(
    answer: WallAnswer, voice: Voice, next_to: Beside, area: tuple[float, float], smallest: int
) -> tuple[Layout, list[Drawn]]:
    """Pages at the scale that the wall has, or at a smaller one, down to `smallest`, if its words need it."""
    wall = wall_window(answer.wall)
    cuts = [mm((a + b) / 2) for a, b in answer.built.studs]
    side = _side(answer, voice)
    room = Room(above=20.0, below=18.0, left=side, right=side, overlap=OVERLAP)
    layout: Layout | None = lay_out(wall, area, cuts, room)
    while layout is not None:
        kept, drawn = layout, _all_drawn(answer, voice, next_to, layout)
        above = max(each.window.top - wall.top for each in drawn) / layout.scale
        below = max(wall.bottom - each.window.bottom for each in drawn) / layout.scale
        if wall.height / layout.scale + above + below <= area[1]:
            break
        room = replace(room, above=max(room.above, above), below=max(room.below, below))
        layout = _smaller(wall, area, cuts, room, smallest)
    return kept, drawn


def _smaller(
    wall: Window, area: tuple[float, float], cuts: Sequence[float], room: Room, smallest: int
) -> Layout | None:
    """The pages at a scale that leaves so much room, None where there is none."""
    try:
        layout = lay_out(wall, area, cuts, room)
    except DoesNotFitError:
        return None
    return layout if layout.scale <= smallest else None


def _all_drawn(answer: WallAnswer, voice: Voice, next_to: Beside, layout: Layout) -> list[Drawn]:
    of = len(layout.pages)
    return [_drawn(answer, voice, next_to, layout.scale, _Part(page, of)) for page in layout.pages]


def _drawn(answer: WallAnswer, voice: Voice, next_to: Beside, scale: float, part: _Part) -> Drawn:
    """One picture: shapes, words in the wall, heights at its ends, widths below it, title above it."""
    page, wall = part.page, wall_window(answer.wall)
    stretch = _stretch(page, wall)
    levels = _levels(answer, voice, part, scale)
    high = max(Drawing(levels, "").extents(scale).top, wall.top)
    # The flags of a small picture begin between the heights at its ends, where the wall is wide enough.
    between = part.small and wall.width > _WIDE * scale
    if between:
        stretch = replace(stretch, window=wall)
    above = (wall.top if between else high) + 1.5 * scale
    said = words(answer, voice, next_to, stretch, scale, above, widths=part.small)
    widths = _Widths((), said.bottom) if part.small else _widths(answer, voice, stretch, said.bottom, scale)
    below = min(said.bottom, Drawing(widths.items, "").extents(scale).bottom)
    across = _wide_enough(page.window, _NARROWEST_SMALL if part.small else NARROWEST, scale)
    foot = () if part.small else _foot(answer, voice, across, below - 3.0 * scale, scale)
    over = max(high, said.top) + (1.5 if part.small else 3.0) * scale
    head = (_small_head if part.small else _head)(answer, voice, across, over, scale, part)
    items = (
        *shapes(answer, next_to),
        *cut_lines(page, wall, scale),
        *_goes_on(page, voice, widths.chain_at, scale),
        *widths.items,
        *said.items,
        *levels,
        *foot,
        *head,
    )
    shown = Drawing((*head, *foot, *widths.items), "").extents(scale)
    edge = (0.3 if part.small else 1.0) * scale
    window = replace(across, bottom=min(below, shown.bottom) - edge, top=shown.top + edge)
    return Drawn(Drawing(items, voice.line("drawing.wall", name=answer.wall.name)), window)


def _stretch(page: Page, wall: Window) -> Stretch:
    left = float("-inf") if page.left_cut is None else page.left_cut
    right = float("inf") if page.right_cut is None else page.right_cut
    window = Window(page.window.left, wall.bottom, page.window.right, wall.top)
    return Stretch(left, right, window)


def _wide_enough(window: Window, least: float, scale: float) -> Window:
    return replace(window, right=max(window.right, window.left + least * scale))


def _goes_on(page: Page, voice: Voice, y: float, scale: float) -> Iterator[Item]:
    """Beside each page cut, below the wall, the part that comes next."""
    if page.left_cut is not None:
        text = voice.line("drawing.goes_on_left", part=page.number - 1)
        yield Text((page.left_cut - scale, y), text, "page cut", FINE, "right", "bottom")
    if page.right_cut is not None:
        text = voice.line("drawing.goes_on_right", part=page.number + 1)
        yield Text((page.right_cut + scale, y), text, "page cut", FINE, "left", "bottom")


def _levels(answer: WallAnswer, voice: Voice, part: _Part, scale: float) -> tuple[Item, ...]:
    """Heights from the floor at the ends of the wall that the page shows."""
    (left, right), area = ends(answer.wall), wall_window(answer.wall)
    items: list[Item] = []
    if part.page.left_cut is None:
        items += _level_column(_heights(answer, left), area.left, -1.0, voice, scale, part.small)
    if part.page.right_cut is None and (not part.small or _slopes(answer)):
        items += _level_column(_heights(answer, right), area.right, 1.0, voice, scale, part.small)
    return tuple(items)


def _heights(answer: WallAnswer, x: int) -> list[tuple[str, int]]:
    """What stands how high at an end of the wall, from below; each height is told once [length units]."""
    wall = answer.wall
    concrete = wall.height.at(x, wall.length)
    found = [("ground", int(wall.ground(x))), ("concrete", int(concrete))]
    if wall.frame is not None:
        found.append(("frame", int(wall.frame.top.at(x, wall.frame.end))))
    found.append(("rim", concrete + wall.sill + wall.rim.height))
    return sorted((pair for pair in found if pair[1] > 0), key=lambda pair: pair[1])


def _level_column(
    heights: Sequence[tuple[str, int]], x: float, side: float, voice: Voice, scale: float, small: bool
) -> Iterator[Item]:
    """A short mark at each height, and beside it the word and the height, spread so that none overlap."""
    wanted = [mm(height) for _, height in heights]
    step = ((1 if small else 2) * _STEP * LINE + 0.9) * scale
    mark, text_at = x + side * 1.6 * scale, x + side * _TO_TEXT * scale
    for pair, y, middle in zip(heights, wanted, spread(wanted, step), strict=True):
        yield Line((x + side * 0.6 * scale, y), (mark, y), "heights", "dimension")
        yield Line((mark, y), (text_at - side * 0.6 * scale, middle), "heights", "dimension")
        across: Across = "left" if side > 0 else "right"
        yield Text((text_at, middle), _level_text(pair, voice, small), "heights", LINE, across, "middle")


def _level_text(pair: tuple[str, int], voice: Voice, small: bool) -> str:
    word, height = pair
    text = voice.line(f"drawing.level.{word}", height=Length(height))
    return text.replace("\n", " ") if small else text


@dataclass(frozen=True)
class _Widths:
    """The dimensions below a wall, and where the chain of clear widths runs [mm]."""

    items: tuple[Item, ...]
    chain_at: float


@dataclass(frozen=True)
class _Span:
    """One clear width, or several alike: its ends [mm], and what it says."""

    left: float
    right: float
    text: str

    def lies(self, scale: float) -> bool:
        """Whether the text fits between the ends."""
        return (text_width(self.text, WIDTH) + 1.0) * scale <= self.right - self.left

    def stands(self, stud: float, scale: float) -> bool:
        """Whether it does not, but fits when read upwards: it may reach half way over the studs."""
        return not self.lies(scale) and _UPRIGHT * WIDTH * scale <= self.right - self.left + stud


def _widths(answer: WallAnswer, voice: Voice, stretch: Stretch, top: float, scale: float) -> _Widths:
    """The clear widths, equal neighbours said together, and below them the length of the frame."""
    wall = answer.wall
    start = -0.8 * scale
    stud = mm(wall.frame.face) if wall.frame is not None else 0.0
    spans = list(_spans(answer, voice, stretch, scale))
    upright = [text_width(span.text, WIDTH) for span in spans if span.stands(stud, scale)]
    chain_at = top - (max([_FLAT, *upright]) + 2.0) * scale
    chain = tuple(_chain(spans, stud, chain_at, start, scale))
    below = Drawing(chain, "").extents(scale).bottom - 5.5 * scale if chain else chain_at
    if wall.frame is not None:
        left, right, code = int(wall.frame.start), int(wall.frame.end), "drawing.frame_length"
    else:
        left, right, code = *ends(wall), "drawing.concrete_length"
    text = voice.line(code, length=Length(right - left))
    # The words of the chain are led out over the lines of the whole length, so they are painted after it.
    whole = dimension_row(Chain([mm(left), mm(right)], [text], below, start, scale))
    return _Widths((*whole, *chain), chain_at)


def _chain(spans: Sequence[_Span], stud: float, at: float, start: float, scale: float) -> Iterator[Item]:
    """The clear widths: a text that is wider than its bay stands upright on the line, or is led out."""
    led: list[Label] = []
    for span in spans:
        text = span.text if span.lies(scale) else ""
        middle = (span.left + span.right) / 2
        yield Dimension((span.left, start), (span.right, start), at, text, size=WIDTH)
        if span.stands(stud, scale):
            spot = (middle, at + 1.2 * scale)
            yield Text(spot, span.text, "dimensions", WIDTH, "left", "middle", 90, on_white=True)
        elif not text:
            led.append(Label(span.text, (), (middle, at), "dimensions", WIDTH))
    if led:
        right = max(spans[-1].right, spans[0].left + 40.0 * scale)
        for flag in lead_out(led, Strip(spans[0].left, right, at - TICK * scale, -1), scale):
            yield Polyline(flag.leader, "dimensions", "leader")
            yield flag.text


def _spans(answer: WallAnswer, voice: Voice, stretch: Stretch, scale: float) -> Iterator[_Span]:
    """Clear widths from left to right; equal neighbours said once where there is room for it."""
    shown = [
        (window, fill.bay.width)
        for fill, window in zip(answer.fills, bay_windows(answer), strict=True)
        if stretch.has(window)
    ]
    for text, group in groupby(shown, key=lambda pair: voice.line("drawing.one", width=pair[1])):
        run = list(group)
        together = voice.line("drawing.run", count=len(run), width=run[0][1])
        whole = _Span(run[0][0].left, run[-1][0].right, together)
        if len(run) > 1 and whole.lies(scale):
            yield whole
        else:
            yield from (_Span(window.left, window.right, text) for window, _ in run)


def _head(
    answer: WallAnswer, voice: Voice, across: Window, bottom: float, scale: float, part: _Part
) -> tuple[Item, ...]:
    """The wall's name, what the page shows, and at the right the bar; it stands on `bottom`."""
    width = across.width / scale - (_BAR_ROOM if part.printed else 0.0)
    lines = wrapped(" ".join(_about(answer, voice, part)), LINE, width)
    name = wrapped(voice.line("drawing.wall", name=answer.wall.name), TITLE, width, bold=True)
    below = Text((across.left, bottom), lines, "title", LINE, "left", "bottom")
    over = text_window(below, scale).top + 1.8 * scale
    above = Text((across.left, over), name, "title", TITLE, "left", "bottom", bold=True)
    return above, below, *(bar(voice, across.right, bottom, scale) if part.printed else ())


def _small_head(
    answer: WallAnswer, voice: Voice, across: Window, bottom: float, scale: float, part: _Part
) -> tuple[Item, ...]:
    """The wall's name with what there is to say beside it, or below it where the wall is short."""
    told = voice.line("drawing.wall", name=answer.wall.name)
    name = Text((across.left, bottom), told, "title", _SMALL_TITLE, "left", "bottom", bold=True)
    room = across.width / scale
    beside_name = room - text_width(told, _SMALL_TITLE, bold=True) - 3.0
    about = " ".join(_about(answer, voice, part))
    if beside_name >= _ROOM_BESIDE:
        at = (across.right - beside_name * scale, bottom)
        return name, Text(at, wrapped(about, LINE, beside_name), "title", LINE, "left", "bottom")
    below = Text((across.left, bottom), wrapped(about, LINE, room), "title", LINE, "left", "bottom")
    wrapped_name = wrapped(told, _SMALL_TITLE, room, bold=True)
    over = text_window(below, scale).top + 1.8 * scale
    return below, replace(name, at=(across.left, over), text=wrapped_name)


def _about(answer: WallAnswer, voice: Voice, part: _Part) -> Iterator[str]:
    yield _built(answer, voice)
    if not part.small:
        yield _worth(answer, voice)
    elif (usual := usual_width(answer, voice)) is not None:
        others = {fill.bay.width for fill in answer.fills}
        code = "drawing.about.usual" if len(others) > 1 else "drawing.about.all_wide"
        yield voice.line(code, width=usual)
    if answer.wall.level == 1 and answer.wall.frame is not None:
        yield voice.line("drawing.about.not_measured")
    if answer.wall.unplaced:
        yield voice.line("drawing.about.unplaced", things=", ".join(answer.wall.unplaced))
    if part.of > 1:
        yield _which_part(answer, voice, part)


def _built(answer: WallAnswer, voice: Voice) -> str:
    """Length, state, count and clear height of the frame."""
    frame = answer.wall.frame
    if frame is None:
        return voice.line("drawing.about.unframed", length=answer.wall.concrete_length)
    heights = [end for fill in answer.fills for end in (fill.bay.top_left, fill.bay.top_right)]
    least, most = min(heights) - frame.face, max(heights) - frame.face
    same = voice.show("length", least) == voice.show("length", most)
    one = len(answer.fills) == 1
    return voice.line(
        "drawing.about.framed",
        length=Length(frame.end - frame.start),
        state=voice.line(f"drawing.about.{frame.state}"),
        bays=voice.line("drawing.about.one_bay" if one else "drawing.about.bays", count=len(answer.fills)),
        clear=voice.line(
            "drawing.about.clear" if same else "drawing.about.clear_between",
            height=least,
            least=least,
            most=most,
        ),
    )


def _worth(answer: WallAnswer, voice: Voice) -> str:
    worth = answer.worth
    if worth.whole is None:
        return voice.line("drawing.about.rim_only", rim=worth.rim.resistance)
    return voice.line("drawing.about.worth", wall=worth.whole.resistance, rim=worth.rim.resistance)


def _which_part(answer: WallAnswer, voice: Voice, part: _Part) -> str:
    """Which of several pictures this is, and its bays."""
    stretch = _stretch(part.page, wall_window(answer.wall))
    pairs = zip(answer.fills, bay_windows(answer), strict=True)
    shown = [fill.bay.number for fill, window in pairs if stretch.has(window)]
    code = "part" if len(shown) > 1 else "part_one_bay" if shown else "part_unframed"
    bays = {"first": shown[0], "last": shown[-1]} if shown else {}
    return voice.line(f"drawing.about.{code}", part=part.page.number, parts=part.of, **bays)


def _foot(answer: WallAnswer, voice: Voice, across: Window, top: float, scale: float) -> tuple[Item, ...]:
    """What the marks mean, as far as the wall has them."""
    text = " ".join(voice.line(code) for code in meanings(answer))
    text = wrapped(text, FINE, across.width / scale)
    return (Text((across.left, top), text, "title", FINE, "left", "top", style="soft text"),)


def _told(answer: WallAnswer, voice: Voice, part: _Part) -> str:
    """The picture in words: every bay with its width and R, and what is in the way."""
    stretch = _stretch(part.page, wall_window(answer.wall))
    pairs = zip(answer.fills, bay_windows(answer), answer.worth.bays, strict=True)
    bays = [
        voice.line("drawing.bay_told", number=f.bay.number, width=f.bay.width, worth=worth.resistance)
        for f, window, worth in pairs
        if stretch.has(window)
    ]
    things = [
        voice.line(
            "drawing.thing_told",
            word=spoken(t, voice).replace("\n", " "),
            left=t.left,
            right=t.right,
            low=t.bottom,
            high=t.top,
        )
        for t in answer.wall.in_the_way
    ]
    told = voice.line(
        "drawing.wall_told", name=answer.wall.name, bays=" ".join(bays), things=" ".join(things)
    )
    return " ".join([told, _which_part(answer, voice, part)] if part.of > 1 else [told])
