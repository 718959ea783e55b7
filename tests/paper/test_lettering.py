"""Widths of the shipped fonts, against the engine that sets the papers; the fonts against their note."""

import hashlib
import json
import re
from pathlib import Path
from typing import Any

import pytest
import typst

from warmside.paper.lettering import FAMILY, MARKS, em, fonts_folder, line_reach, text_width, wrapped

# Strings with pairs that kerning would pull together (AV, To) and fractions.
SAMPLES = ["AVATAR To", "88-3/4", "16½ × 34⅞", "cut 1/8 less", "coupé à 2,5 °C", "≤ 10″ → ✓"]


def widths_by_typst(samples: list[str], bold: bool) -> list[float]:
    """Widths in mm at a font size of 10 mm, measured by an independent typesetting engine."""
    weight = "bold" if bold else "regular"
    source = (
        f'#set text(font: ("{FAMILY}", "{MARKS}"), size: 10mm, weight: "{weight}", kerning: false, '
        f"ligatures: false)\n#context [#metadata({json.dumps(samples, ensure_ascii=False)[1:-1].join('()')}"
        ".map(s => measure(text(s)).width / 1mm)) <widths>]"
    )
    page: Any = source.encode()
    found = typst.query(
        page, "<widths>", font_paths=[str(fonts_folder())], ignore_system_fonts=True, field="value"
    )
    return [float(value) for value in json.loads(found)[0]]


@pytest.mark.parametrize("bold", [False, True])
def test_widths_agree_with_the_engine_that_sets_the_papers(bold: bool) -> None:
    # Both read the same advance widths; 0.001 mm is the rounding of the engine's own units.
    expected = widths_by_typst(SAMPLES, bold)
    found = [text_width(sample, 10.0 / em(1.0, bold), bold) for sample in SAMPLES]
    assert found == pytest.approx(expected, abs=1e-3)


def test_size_is_the_height_of_capitals() -> None:
    # The OS/2 table of Noto Sans 2.004 states sCapHeight 714 of 1000 units.
    assert em(7.14) == pytest.approx(10.0)


def test_an_accented_capital_rises_higher_than_a_plain_one() -> None:
    plain, accented = line_reach("E", 2.5), line_reach("É", 2.5)
    assert accented.rise > plain.rise > 2.5
    assert accented.width == plain.width


def test_a_letter_with_a_tail_is_held_by_the_usual_drop() -> None:
    assert line_reach("88", 2.5).drop == line_reach("gypq", 2.5).drop


def test_a_sign_of_no_shipped_font_counts_as_one_em() -> None:
    assert text_width("漢", 2.5) == pytest.approx(em(2.5))


def test_widest_line_counts() -> None:
    assert text_width("a\nlong line\nb", 2.5) == text_width("long line", 2.5)


@pytest.mark.parametrize(
    "text", ["box, not live until the inspector has seen it", "unbreakablelongword", "a b"]
)
@pytest.mark.parametrize("width", [8.0, 15.0, 30.0])
def test_wrapped_text_fits_and_keeps_every_letter(text: str, width: float) -> None:
    result = wrapped(text, 2.5, width)
    assert text_width(result, 2.5) <= width
    assert re.sub(r"\s", "", result) == re.sub(r"\s", "", text)


def test_text_that_fits_is_not_wrapped() -> None:
    assert wrapped("drain pipe", 2.5, 60.0) == "drain pipe"


def test_signs_that_are_no_letters_become_spaces() -> None:
    assert wrapped("a\x0bb\tc", 2.5, 60.0) == "a b c"


def test_font_files_are_those_of_the_note() -> None:
    note = (fonts_folder() / "SOURCE.md").read_text(encoding="utf-8")
    stated = dict(re.findall(r"^\| (\S+\.ttf) .* ([0-9a-f]{64}) \|$", note, flags=re.MULTILINE))
    found = {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in Path(fonts_folder()).glob("*.ttf")}
    assert found == stated
    assert len(found) == 3


def test_licence_travels_with_the_fonts() -> None:
    licence = (fonts_folder() / "OFL.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
    assert "TERMINATION" in licence
