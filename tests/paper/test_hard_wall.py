"""A hard wall, twelve things in six bays: its pieces are cut by the print alone, and laid on the wall.

The wall is invented: 96 in of frame at 16 in, clear bays of 13-3/4, four times 14-1/2 and 13-3/4 in, from
1-1/2 to 91-1/2 in up. Prints are to 1/4 in, so that a cut may lie 1/8 in off; a batt gives way by far more.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import astuple, dataclass, replace
from functools import cache
from itertools import combinations
from typing import Any

import pytest

from tests import walls as w
from warmside.catalog.goods import Allowed
from warmside.cutting.pieces import STRIP, BayFill, Piece, fill_bay
from warmside.job.resolve import HouseWall
from warmside.paper.drawing import Dimension, Item, Line, Rect, Text, dimension_parts, text_window
from warmside.paper.piece_drawing import is_drawn, piece_drawing, piece_items
from warmside.paper.typeset import SHEETS
from warmside.say import Voice
from warmside.units import INCH, MM, Length, parse_length
from warmside.wall.frame import frame_wall
from warmside.wall.in_the_way import Box, bay_box, in_stud_space, minus, reach

SCALE = 28.0
PRINT = INCH // 8
"""A print to 1/4 in lies so far off at most."""
SHOVE = INCH // 2 + 10 * MM + PRINT
"""A piece stands over its place by its allowance, by what is pushed in, and by the print."""


def thing(kind: str, left: float, up: float | None = None, **sizes: float) -> dict[str, Any]:
    placed = {"from_left": left} | ({} if up is None else {"up": up}) | sizes
    return {"kind": kind, **{key: f"{value} in" for key, value in placed.items()}}


THINGS = [
    thing("electrical box", 1.5, 13.5),
    thing("electrical box, two gang", 11.25, 48),
    thing("water pipe", 21),
    thing("hose bib", 26, 72),
    thing("soil stack", 38),
    thing("cleanout", 42.5, 14),
    thing("service panel", 48.75, 44),
    thing("shut-off valve", 66, 20),
    thing("gas line", 76),
    thing("beam pocket", 84, 83.5),
    thing("vent through the wall", 86, 60),
    {"kind": "cable", "up": "32 in"},
]


@cache
def hard(studs: str = "2x4", batt: str = "R12 glass", back_up: bool = False) -> HouseWall:
    """The wall; with `back_up` its batts are cut with the facing down, so that they are drawn mirrored."""
    made = w.wall(length="96 in", frame={**w.STANDING, "studs": studs}, in_the_way=THINGS)
    wall = w.house(made, assembly={"batt": batt}).walls[0]
    yes = Allowed(value="yes", source="practice", status="common practice") if back_up else None
    batts = tuple(one.model_copy(update={"cut_from_back": yes}) for one in wall.assembly.batts)
    return replace(wall, assembly=replace(wall.assembly, batts=batts))


KINDS_OF_WALL = pytest.mark.parametrize(
    ("studs", "batt", "back_up"),
    [
        ("2x4", "R12 glass", False),
        ("2x4", "R12 glass", True),
        ("2x6", "R22 glass", False),
        ("2x6", "R22 glass", True),
    ],
)


def fills(wall: HouseWall) -> list[BayFill]:
    return [fill_bay(wall, bay) for bay in frame_wall(wall).bays]


@dataclass(frozen=True)
class Printed:
    """A piece as the paper shows it: its size, what is cut through, the troughs, the slits [length units].

    `back_up` is what stands behind its mark: the drawing is turned over before the piece goes in.
    """

    width: int
    height: int
    through: tuple[Box, ...] = ()
    troughs: tuple[Box, ...] = ()
    slits: tuple[int, ...] = ()
    back_up: bool = False


def read(text: str) -> int:
    """A printed length, without the words behind it."""
    return parse_length(re.sub(r" [a-z]+$", "", text))


def printed(piece: Piece, fill: BayFill) -> Printed:
    """The piece by what is printed for it, whether drawn or in a line."""
    if is_drawn(piece):
        return by_drawing(list(piece_items(piece, fill.bay, Voice(), SCALE)))
    told = " ".join(t.text for t in texts(piece_drawing(fill, Voice(), SCALE).items)).replace("\n", " ")
    if piece.plug:
        assert f"{piece.id}: cut-out behind" in told
        return Printed(piece.box.width, piece.box.height)
    found = re.search(rf"{re.escape(piece.id)}: (\S+) x ([^\s,]+?)[,.] ", f"{told} ")
    assert found is not None
    return Printed(read(found[1]), read(found[2]))


def texts(items: Iterable[Item]) -> list[Text]:
    parts = [p for i in items for p in (dimension_parts(i, SCALE) if isinstance(i, Dimension) else (i,))]
    return [part for part in parts if isinstance(part, Text) and part.text]


def by_drawing(items: list[Item]) -> Printed:
    """What a reader takes from the picture: each edge of a cut-out by the mark whose line starts there."""
    shown = texts(items)
    (width,) = (read(t.text) for t in shown if t.layer == "dimensions" and t.at[1] < 0)
    (height,) = (read(t.text) for t in shown if t.layer == "dimensions" and t.at[0] < 0 and t.at[1] > 0)
    marks: dict[int, dict[float, int]] = {0: {0.0: 0, width / MM: width}, 90: {0.0: 0, height / MM: height}}
    for line, _, text in zip(items, items[1:], items[2:], strict=False):
        if isinstance(line, Line) and isinstance(text, Text) and line.layer == text.layer == "dimensions":
            across = text.rotation == 90
            marks[0 if across else 90][line.a[0 if across else 1]] = read(text.text)

    def edge(at: float, turn: int) -> Length:
        nearest = min(marks[turn], key=lambda mark: abs(mark - at))
        assert abs(nearest - at) <= 2 * PRINT / MM
        return Length(marks[turn][nearest])

    def box(left: float, bottom: float, right: float, top: float) -> Box:
        return Box(edge(left, 0), edge(bottom, 90), edge(right, 0), edge(top, 90))

    crosses = [i for i in items if isinstance(i, Line) and i.layer == "cut out"]
    through = [box(*one.a, *one.b) for one in crosses if one.b[1] > one.a[1]]
    dashed = [i for i in items if isinstance(i, Rect) and i.layer == "troughs"]
    troughs = [box(r.x, r.y, r.x + r.width, r.y + r.height) for r in dashed]
    slits = [read(t.text) for t in shown if t.text.endswith(" slit") and t.rotation == 0]
    back = any(t.text.replace("\n", " ").endswith(", back up") for t in shown)
    return Printed(width, height, tuple(through), tuple(troughs), tuple(slits), back)


def laid(piece: Piece, shape: Printed) -> list[Box]:
    """The whole batt of a printed piece on the wall, from the corner where the elevation has it."""
    left, bottom = piece.box.left, piece.box.bottom

    def moved(box: Box) -> Box:
        if shape.back_up:
            turned = Length(shape.width - box.right), Length(shape.width - box.left)
            box = replace(box, left=turned[0], right=turned[1])
        return Box(*(Length(e + by) for e, by in zip(astuple(box), (left, bottom) * 2, strict=True)))

    whole = Box(left, bottom, Length(left + shape.width), Length(bottom + shape.height))
    return minus(whole, [moved(box) for box in (*shape.through, *shape.troughs)])


def shrunk(box: Box, by: int) -> Box:
    return Box(*(Length(e + d) for e, d in zip(astuple(box), (by, by, -by, -by), strict=True)))


@KINDS_OF_WALL
def test_pieces_cut_by_the_print_keep_clear_of_all_that_is_in_the_way(
    studs: str, batt: str, back_up: bool
) -> None:
    wall = hard(studs, batt, back_up)
    depth = w.frame_of(wall).depth
    for fill in fills(wall):
        batts = [piece for piece in fill.pieces if piece.role == "batt"]
        boxes = [box.clipped(p.box) for p in batts for box in laid(p, printed(p, fill))]
        for each in wall.in_the_way:
            if each.kind.cut in ("notch", "keep out") and in_stud_space(each, depth):
                taken = shrunk(reach(each, 0), PRINT)
                assert not any(box.overlaps(taken) for box in boxes)


@KINDS_OF_WALL
def test_pieces_cut_by_the_print_fill_their_bays_and_stand_over_by_the_allowance(
    studs: str, batt: str, back_up: bool
) -> None:
    for fill in fills(hard(studs, batt, back_up)):
        bay = bay_box(fill.bay)
        shapes = [(piece, printed(piece, fill)) for piece in fill.pieces]
        for piece, shape in shapes:
            assert -PRINT <= shape.width - piece.box.width <= SHOVE
            assert -PRINT <= shape.height - piece.box.height <= SHOVE
        batts = [box for piece, shape in shapes if piece.role == "batt" for box in laid(piece, shape)]
        let_in = [piece.notch_box(n) for piece in fill.pieces for n in piece.notches]
        gone = [void.box for void in fill.voids]
        bare = minus(bay, [shrunk(box, -PRINT) for box in (*batts, *let_in, *gone)])
        assert [part for part in bare if min(part.width, part.height) >= STRIP] == []


def depths(kind: str, fill: BayFill) -> dict[str, int]:
    """How deep the slits or troughs of each piece are, by the lines of the bay."""
    drawing = piece_drawing(fill, Voice(), SCALE)
    told = " ".join(text.text for text in texts(drawing.items)).replace("\n", " ")
    found = re.finditer(rf"((?:[A-Z]\d+\.\d+(?:, )?)+): {kind}", told)
    return {mark: parse_length(told[m.end() :].split()[0]) for m in found for mark in m[1].split(", ")}


@KINDS_OF_WALL
def test_every_batt_that_the_cable_crosses_is_split_by_the_print_at_its_height_and_depth(
    studs: str, batt: str, back_up: bool
) -> None:
    """The cable lies 32 in up; what is printed, from the bottom end of each piece, meets it there."""
    wall = hard(studs, batt, back_up)
    cable = w.thing(wall, "cable")
    split = 0
    for fill in fills(wall):
        told = depths("slit", fill)
        for piece in (p for p in fill.pieces if p.role == "batt"):
            shape = printed(piece, fill)
            crossed = piece.box.bottom < cable.bottom and cable.top < piece.box.top
            assert [abs(piece.box.bottom + at - cable.bottom) <= PRINT for at in shape.slits] == [
                True
            ] * crossed
            assert (piece.id in told) is crossed
            if crossed:
                assert abs(told[piece.id] - cable.near) <= PRINT
                split += 1
    assert split >= 4


@KINDS_OF_WALL
def test_a_trough_by_the_print_is_as_deep_as_the_pipe_stands_off_the_back(
    studs: str, batt: str, back_up: bool
) -> None:
    wall = hard(studs, batt, back_up)
    pipe, depth = w.thing(wall, "water pipe"), w.frame_of(wall).depth
    let_in = [(p, fill) for fill in fills(wall) for p in fill.pieces if printed(p, fill).troughs]
    assert let_in
    for piece, fill in let_in:
        told = depths("dashed, a trough", fill)
        assert abs(told[piece.id] - (depth - pipe.near)) <= PRINT


def test_with_the_back_up_the_drawings_say_so_and_are_mirrored() -> None:
    """The lowest box of bay 1 stands at its left stud; with the back up it is printed at the right edge."""
    for back_up in (False, True):
        fill = fills(hard(back_up=back_up))[0]
        piece = next(p for p in fill.pieces if p.notches)
        shape = printed(piece, fill)
        assert shape.back_up is back_up
        box = min(shape.through, key=lambda box: box.bottom)
        assert (box.left == 0, box.right == shape.width) == (not back_up, back_up)


def test_twelve_things_stand_in_six_bays_and_each_is_met() -> None:
    wall = hard()
    found = fills(wall)
    assert (len(wall.in_the_way), len(found)) == (12, 6)
    assert {touch.thing.id for fill in found for touch in fill.touches} == {t.id for t in wall.in_the_way}


@pytest.mark.parametrize("system", ["ft-in", "mm"])
def test_no_text_of_the_hard_wall_overlaps(system: Any) -> None:
    for fill in (*fills(hard()), *fills(hard("2x6", "R22 glass"))):
        shown = texts(piece_drawing(fill, Voice(system), SCALE).items)
        boxes = [(text.text, text_window(text, SCALE)) for text in shown]
        assert [(a, b) for (a, one), (b, other) in combinations(boxes, 2) if one.overlaps(other)] == []


@pytest.mark.parametrize(("studs", "batt"), [("2x4", "R12 glass"), ("2x6", "R22 glass")])
def test_a_bay_of_many_pieces_is_drawn_within_the_sheet(studs: str, batt: str) -> None:
    # In the 2x6 seven pieces stand about the stack; a sheet of letter paper has 279.4 mm less two margins.
    for fill in fills(hard(studs, batt)):
        drawing = piece_drawing(fill, Voice(), SCALE)
        assert drawing.extents(SCALE).width / SCALE < SHEETS["ft-in"].area[0] - 2.0
        shown = {text.text for text in texts(drawing.items)}
        assert {p.id for p in fill.pieces if is_drawn(p)} <= shown
