"""Pieces as a knife reads them: marks from the piece's own left edge and bottom end, outlines as cut."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.walls import only, standing, walls
from warmside.catalog.goods import Allowed
from warmside.cutting.pieces import BayFill, Piece, fill_bay
from warmside.job.read import read_job
from warmside.job.resolve import HouseWall, resolve
from warmside.paper.drawing import Dimension, Drawing, Line, Rect, Text, dimension_parts, text_window
from warmside.paper.piece_drawing import as_it_lies, outline, piece_drawing, piece_picture
from warmside.paper.wall_shapes import needs_drawing
from warmside.say import Voice
from warmside.units import MM
from warmside.wall.frame import frame_wall

DEMO = Path(__file__).parent.parent.parent / "demo"
SCALE = 12.0
IN = 25.4


def fills_of(wall: HouseWall) -> list[BayFill]:
    wall, built = standing(wall)
    return [fill_bay(wall, bay) for bay in built.bays]


@cache
def odd_bays(job: str) -> tuple[BayFill, ...]:
    read = read_job(DEMO / job)
    assert read.survey is not None
    house = resolve(read.survey)
    fills = [fill_bay(wall, bay) for wall in house.walls for bay in frame_wall(wall).bays]
    return tuple(fill for fill in fills if needs_drawing(fill) or fill.odd)


def bay(number: int, *things: dict[str, Any]) -> BayFill:
    """One bay of a wall of 240 in with studs at 16 in; bay 2 is from 16-3/4 to 31-1/4 in."""
    wall = only(in_the_way=list(things))
    return fills_of(wall)[number - 1]


def texts(drawing: Drawing, scale: float = SCALE) -> list[Text]:
    parts = [
        part
        for item in drawing.items
        for part in (dimension_parts(item, scale) if isinstance(item, Dimension) else (item,))
    ]
    return [part for part in parts if isinstance(part, Text) and part.text]


def said(fill: BayFill, voice: Voice = Voice()) -> set[str]:  # noqa: B008
    return {text.text for text in texts(piece_drawing(fill, voice))}


def overlapping(drawing: Drawing, scale: float = SCALE) -> list[tuple[str, str]]:
    boxes = [(text.text, text_window(text, scale)) for text in texts(drawing, scale)]
    return [(a, b) for (a, one), (b, other) in combinations(boxes, 2) if one.overlaps(other)]


BOX = {
    "kind": "electrical box",
    "from_left": "16-3/4 in",
    "up": "13-1/2 in",
    "width": "2 in",
    "height": "3 in",
}


def test_a_box_at_the_left_stud() -> None:
    # The bay starts 1-1/2 in up and at the stud: the notch is 12 to 15 in from the bottom end, 2 in deep.
    found = said(bay(2, BOX))
    assert {'12"', '15"', '2"'} <= found
    assert '0"' not in found


def test_a_box_at_the_right_stud_is_cut_out_to_the_edge() -> None:
    # Its left edge is 29-1/4 - 16-3/4 = 12-1/2 in from the batt's left edge; no strip is left at the right.
    found = said(bay(2, {**BOX, "from_left": "29-1/4 in"}))
    assert {'12"', '15"', '12-1/2"'} <= found
    assert '14-1/2"' not in found


def test_a_box_within_the_bay_is_marked_at_both_edges() -> None:
    found = said(bay(2, {**BOX, "from_left": "20-3/4 in"}))
    assert {'4"', '6"', '12"', '15"'} <= found


def test_millimetres_are_shown_to_a_metric_reader() -> None:
    # 4 in = 101.6 mm and 12 in = 304.8 mm, to the nearest 5 mm.
    assert {"100 mm", "305 mm"} <= said(bay(2, {**BOX, "from_left": "20-3/4 in"}), Voice("mm"))


def test_a_cable_is_a_slit_at_its_height() -> None:
    # From the bottom plate's top, 1-1/2 in up: 30 - 1-1/2 = 28-1/2 in.
    found = said(bay(2, {"kind": "cable", "up": "30 in"}))
    assert '28-1/2" slit' in found
    assert not needs_drawing(bay(2, {"kind": "cable", "up": "30 in"}))


def test_what_is_let_in_is_dashed_and_its_depth_told() -> None:
    # A pipe of 7/8 in with 1-1/4 in behind it in 3-1/2 in: a trough 2-1/4 in deep from the room face.
    pipe = {"kind": "water pipe", "from_left": "20-3/4 in", "back": "1-1/4 in"}
    fill = bay(2, pipe)
    drawing = piece_drawing(fill, Voice())
    assert any(isinstance(item, Rect) and item.style == "void" for item in drawing.items)
    assert 'trough 2-1/4" deep in the room face' in " ".join(sorted(said(fill))).replace("\n", " ")


def test_the_outline_goes_round_the_notch() -> None:
    # 2 x 3 in taken out of the left edge: the way round is 2 x 2 in longer.
    piece = bay(2, BOX).pieces[0]
    length = sum(abs(b[0] - a[0]) + abs(b[1] - a[1]) for a, b in outline(piece))
    whole = 2 * (piece.cut_width + piece.cut_height) / MM
    assert length == pytest.approx(whole + 2 * 2 * IN)


def test_the_outline_of_a_hole_is_two_loops() -> None:
    piece = bay(2, {**BOX, "from_left": "20-3/4 in"}).pieces[0]
    length = sum(abs(b[0] - a[0]) + abs(b[1] - a[1]) for a, b in outline(piece))
    assert length == pytest.approx(2 * (piece.cut_width + piece.cut_height) / MM + 2 * (2 + 3) * IN)


def test_every_piece_is_named() -> None:
    for fill in odd_bays("birch-lane"):
        everything = " ".join(said(fill))
        assert all(piece.id in everything for piece in fill.pieces)
        assert fill.bay.mark in everything
        assert "Room face up." in piece_picture(fill, Voice()).told


def test_bays_with_the_same_notch_share_a_drawing_and_every_piece_keeps_its_mark() -> None:
    # In Birch Lane a box stands at the left stud of each of these, as high; only the upper batts differ.
    wanted = ("B2", "C2", "D12", "G3", "H14")
    first, *alike = (fill for fill in odd_bays("birch-lane") if fill.bay.mark in wanted)
    drawing = piece_drawing(first, Voice(), 64.0, alike)
    told = " ".join(text.text for text in texts(drawing, 64.0)).replace("\n", " ")
    assert "Bays B2, C2, D12, G3 and H14" in told
    assert "B2.1, C2.1, D12.1, G3.1, H14.1" in told
    assert 'B2.2, C2.2: 15-1/4" x 39-3/4".' in told
    assert 'G3.2: 15-1/4" x 40-1/2".' in told
    assert sum(isinstance(item, Line) and item.layer == "cut out" for item in drawing.items) == 2
    assert overlapping(drawing, 64.0) == []


@pytest.mark.parametrize("job", ["birch-lane", "kadaka-cellar"])
@pytest.mark.parametrize("scale", [12.0, 20.0, 48.0, 64.0, 80.0])
def test_no_text_of_a_demo_piece_overlaps(job: str, scale: float) -> None:
    for fill in odd_bays(job):
        assert overlapping(piece_drawing(fill, Voice(), scale), scale) == []


@settings(max_examples=25)
@given(walls(), st.sampled_from(["ft-in", "mm"]))
def test_no_text_of_a_random_piece_overlaps(wall: HouseWall, system: Any) -> None:
    for fill in fills_of(wall):
        assert overlapping(piece_drawing(fill, Voice(system))) == []


def test_the_picture_is_well_formed_and_the_same_every_time() -> None:
    fill = odd_bays("birch-lane")[0]
    first, second = (piece_picture(fill, Voice(), 15.0) for _ in range(2))
    assert first == second
    root = ElementTree.fromstring(first.svg)
    # 0.3 mm of paper are left on every side.
    wide = piece_drawing(fill, Voice(), 15.0).extents(15.0).width / 15 + 0.6
    assert float(root.get("width", "").removesuffix("mm")) == pytest.approx(wide, abs=1e-3)
    assert first.scale == 15.0


def test_where_a_bay_has_two_columns_each_says_its_side() -> None:
    duct = {"kind": "duct", "from_left_to_middle": "24 in", "width": "5 in", "back": "0 in"}
    found = said(bay(2, duct))
    told = " ".join(sorted(found)).replace("\n", " ")
    assert "at the left of the bay" in told
    assert "at the right of the bay" in told


def test_a_bay_without_pieces_still_has_its_head() -> None:
    empty = replace(bay(2), pieces=())
    assert f"Bay {empty.bay.mark}" in said(empty)


# Cut from the back


def from_the_back(fill: BayFill) -> BayFill:
    """The bay with batts whose facing lies down when they are cut."""
    yes = Allowed(value="yes", source="practice", status="common practice")
    batts = [piece.batt.model_copy(update={"cut_from_back": yes}) for piece in fill.pieces]
    return replace(
        fill, pieces=tuple(replace(p, batt=batt) for p, batt in zip(fill.pieces, batts, strict=True))
    )


def edges(piece: Piece) -> set[frozenset[tuple[int, int]]]:
    """The outline of a piece, each edge by its ends [length units]."""
    return {frozenset((round(x * MM), round(y * MM)) for x, y in line) for line in outline(piece)}


def test_a_batt_that_is_cut_from_the_back_has_its_box_on_the_other_side() -> None:
    # In the bay the box is 4 to 6 in from the left of a batt of 15 in; with the back up 9 to 11 in.
    fill = from_the_back(bay(2, {**BOX, "from_left": "20-3/4 in"}))
    assert fill.pieces[0].cut_width == 15 * IN * MM
    found = said(fill)
    assert {'9"', '11"', '12"', '15"', f"{fill.pieces[0].id}, back up"} <= found
    assert found.isdisjoint({'4"', '6"'})
    assert "Back up: drawn mirrored." in " ".join(found).replace("\n", " ")


def test_an_upright_slit_changes_sides_too() -> None:
    # A cable that runs up 4 in from the left of the bay: 15 - 4 = 11 in with the back up.
    fill = bay(2, {"kind": "cable", "runs": "up", "from_left": "20-3/4 in", "width": "1/2 in"})
    slits = [slit for piece in fill.pieces for slit in piece.slits]
    assert slits
    assert all(slit.upright and slit.at == 4 * IN * MM for slit in slits)
    assert '11" slit' in said(from_the_back(fill))


@settings(max_examples=25)
@given(walls())
def test_turned_over_a_mirrored_piece_is_the_piece_of_the_bay(wall: HouseWall) -> None:
    for fill in fills_of(wall):
        for piece, faced in zip(fill.pieces, from_the_back(fill).pieces, strict=True):
            lies = as_it_lies(faced)
            turned = {frozenset((piece.cut_width - x, y) for x, y in line) for line in edges(lies)}
            assert turned == edges(piece)
            depths = [notch.depth for notch in lies.cut_notches]
            assert depths == [notch.depth for notch in piece.cut_notches]
            again = as_it_lies(lies)
            assert again.cut_notches == piece.cut_notches
            assert again.slits == piece.slits
            assert as_it_lies(piece) == piece
