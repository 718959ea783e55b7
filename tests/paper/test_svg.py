"""SVG: real millimetres, page window, the same bytes, and text that the papers can be searched for."""

import os
import subprocess
import sys
from io import BytesIO
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pypdf
import pytest
import typst

from warmside.paper.drawing import Circle, Dimension, Drawing, Polyline, Rect, Text, Window, text_window
from warmside.paper.lettering import fonts_folder
from warmside.paper.svg import lost_texts, svg

NS = "{http://www.w3.org/2000/svg}"
SCALE = 20.0
WALL = Window(-200, -400, 4200, 2600)


def sample() -> Drawing:
    return Drawing(
        (
            Rect(0, 0, 4000, 2400, "wall", "outline"),
            Rect(381, 38, 38, 2324, "studs", "frame"),
            Polyline(((0, 1500), (4000, 1200)), "ground line", "ground"),
            Polyline(((0, 0), (100, 0), (50, 90)), "marks", "solid", closed=True),
            Circle((900, 300), 30, "electrical box", "thing"),
            Text((1000, 1000), "stays dry ≤ 3 → ✓", "answers", on_white=True),
            Text((1500, 700), "bay\n7", "bay marks", 3.5, "middle", "middle", 90, True),
            Dimension((0, 0), (4000, 0), -200, "13 ft 1-1/2 in"),
        ),
        'Wall <C> & "D"',
    )


def tree(text: str) -> ElementTree.Element:
    return ElementTree.fromstring(text)


def test_size_is_the_window_over_the_scale_in_millimetres() -> None:
    root = tree(svg(sample(), SCALE, WALL))
    assert (root.get("width"), root.get("height")) == ("220mm", "150mm")
    assert root.get("viewBox") == "0 0 220 150"


def test_shapes_stand_where_the_scale_puts_them() -> None:
    # By hand: x = (381 + 200) / 20, y = (2600 - 38 - 2324) / 20, then 38 / 20 and 2324 / 20.
    stud = tree(svg(sample(), SCALE, WALL)).findall(f".//{NS}rect")[1]
    assert [stud.get(k) for k in ("x", "y", "width", "height")] == ["29.05", "11.9", "1.9", "116.2"]


def test_title_and_description_are_escaped_and_kept() -> None:
    root = tree(svg(sample(), SCALE, WALL, "two <bays>\x00 & a box"))
    assert [root.findtext(f"{NS}title"), root.findtext(f"{NS}desc")] == [
        'Wall <C> & "D"',
        "two <bays>  & a box",
    ]
    assert root.get("role") == "img"


def test_layers_are_plain_words_in_painting_order() -> None:
    groups = tree(svg(sample(), SCALE, WALL)).findall(f"{NS}g")
    assert [g.get("data-layer") for g in groups] == list(sample().layers)


def test_dashes_and_weights_come_from_the_style() -> None:
    line = tree(svg(sample(), SCALE, WALL)).find(f".//{NS}polyline")
    assert line is not None
    assert (line.get("stroke-width"), line.get("stroke-dasharray")) == ("0.7", "5 1.2 1 1.2")
    assert line.get("fill") == "none"


def test_what_lies_outside_the_window_is_left_out() -> None:
    root = tree(svg(sample(), SCALE, Window(0, 0, 800, 2400)))
    assert [t.text for t in root.findall(f".//{NS}text")] == []
    assert root.findall(f".//{NS}circle") == []
    assert len(root.findall(f".//{NS}rect")) == 2


def test_a_text_is_never_cut_by_the_edge_of_a_page() -> None:
    text = Text((1000, 1000), "88-3/4", "answers")
    drawing = Drawing((text,), "t")
    box = text_window(text, SCALE)
    whole, cut = Window(0, 0, box.right + 1, 2000), Window(0, 0, box.centre[0], 2000)
    assert "88-3/4" in svg(drawing, SCALE, whole)
    assert "88" not in svg(drawing, SCALE, cut)
    assert lost_texts(drawing, SCALE, [cut]) == ("88-3/4",)
    assert lost_texts(drawing, SCALE, [cut, whole]) == ()


def test_a_dimension_across_a_page_cut_is_told_on_both_pages() -> None:
    for window in (Window(-200, -400, 2000, 2600), Window(1800, -400, 4200, 2600)):
        assert "13 ft 1-1/2 in" in svg(sample(), SCALE, window)


def test_same_bytes_in_another_process() -> None:
    script = (
        "import sys; sys.path.insert(0, sys.argv[1]); import test_svg as t; "
        "print(t.svg(t.sample(), t.SCALE, t.WALL))"
    )
    env = {**os.environ, "PYTHONHASHSEED": "77", "TZ": "Asia/Tokyo", "PYTHONIOENCODING": "utf-8"}
    here = str(Path(__file__).parent)
    done = subprocess.run([sys.executable, "-c", script, here], env=env, capture_output=True, check=True)
    assert done.stdout.decode("utf-8") == svg(sample(), SCALE, WALL) + "\n"


@pytest.fixture(scope="module")
def pdf(tmp_path_factory: pytest.TempPathFactory) -> pypdf.PdfReader:
    folder = tmp_path_factory.mktemp("page")
    (folder / "wall.svg").write_text(svg(sample(), SCALE, WALL), encoding="utf-8")
    (folder / "page.typ").write_text(
        '#set page(width: 279.4mm, height: 215.9mm, margin: 12mm)\n#image("wall.svg")', encoding="utf-8"
    )
    made = typst.compile(str(folder / "page.typ"), font_paths=[str(fonts_folder())], ignore_system_fonts=True)
    return pypdf.PdfReader(BytesIO(made))


def test_the_papers_take_the_picture_with_its_text(pdf: pypdf.PdfReader) -> None:
    text = pdf.pages[0].extract_text()
    for words in ("stays dry ≤ 3 → ✓", "bay", "7", "13 ft 1-1/2 in"):
        assert words in text


def test_the_papers_use_the_shipped_fonts_only(pdf: pypdf.PdfReader) -> None:
    page: Any = pdf.pages[0]
    names = {font.get_object()["/BaseFont"].split("+")[-1] for font in page["/Resources"]["/Font"].values()}
    assert names == {"NotoSans-Regular", "NotoSans-Bold", "WarmsideMarks-Regular"}


def test_text_stands_in_the_papers_where_the_drawing_puts_it(pdf: pypdf.PdfReader) -> None:
    # By hand: 12 + (1000 + 200) / 20 mm from the left, 215.9 - 12 - (2600 - 1000) / 20 mm from the foot.
    found: list[tuple[float, float]] = []

    def visit(text: str, cm: list[float], tm: list[float], *_: object) -> None:
        if text.strip().startswith("s"):
            x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
            y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
            found.append((x / 72 * 25.4, y / 72 * 25.4))

    pdf.pages[0].extract_text(visitor_text=visit)
    # 0.1 mm: a tenth of the thinnest gap between text and line.
    assert found[0] == pytest.approx((72.0, 123.9), abs=0.1)
