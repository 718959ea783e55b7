"""Width and height of a line of text, from the fonts that ship with the package: the same on every machine.

Source: the advance widths and outline boxes of the font files in data/fonts (their origin is in SOURCE.md
there), read by fontTools. Kerning and ligatures are left out on purpose, and every writer is told to leave
them out as well. A sign that no shipped font has is counted as one em wide; then another font draws it and
the width is only an estimate.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from fontTools.ttLib import TTFont

FAMILY = "Noto Sans"
MARKS = "Warmside Marks"
LINE_STEP = 1.75
"""Distance of baselines in cap heights, for text of several lines."""

_FILES = {False: "NotoSans-Regular.ttf", True: "NotoSans-Bold.ttf"}
_MARKS_FILE = "WarmsideMarks-Regular.ttf"
_USUAL_RISE, _USUAL_DROP = 0.77, 0.24


@dataclass(frozen=True, slots=True)
class Reach:
    """How far a line of text reaches from its starting point on the baseline, in the unit of its size.

    width : along the baseline
    rise : above the baseline
    drop : below the baseline
    """

    width: float
    rise: float
    drop: float


class Face:
    """One font file: advance widths and outline heights in em."""

    def __init__(self, name: str) -> None:
        font: Any = TTFont(fonts_folder() / name)
        self._names: dict[int, str] = font.getBestCmap()
        self._advances: dict[str, tuple[int, int]] = font["hmtx"].metrics
        self._outlines: Any = font["glyf"]
        self._em: int = font["head"].unitsPerEm
        self.cap_height: float = font["OS/2"].sCapHeight / self._em

    def has(self, sign: str) -> bool:
        """Whether the font draws this sign."""
        return ord(sign) in self._names

    def reach(self, sign: str) -> Reach:
        """Advance width and outline height of one sign [em]."""
        name = self._names[ord(sign)]
        outline = self._outlines[name]
        empty = outline.numberOfContours == 0
        rise = 0.0 if empty else outline.yMax / self._em
        drop = 0.0 if empty else -outline.yMin / self._em
        return Reach(self._advances[name][0] / self._em, rise, drop)


def fonts_folder() -> Path:
    """Folder of the shipped fonts, for a program that draws text."""
    return Path(str(files("warmside") / "data" / "fonts"))


@cache
def face(bold: bool = False) -> Face:
    """The text font, regular or bold."""
    return Face(_FILES[bold])


@cache
def _marks() -> Face:
    return Face(_MARKS_FILE)


@cache
def _sign(sign: str, bold: bool) -> Reach:
    for candidate in (face(bold), _marks()):
        if candidate.has(sign):
            return candidate.reach(sign)
    return Reach(1.0, _USUAL_RISE, _USUAL_DROP)


def text_rows(text: str) -> list[str]:
    """The lines of a text; signs that stand for no letter become spaces."""
    return ["".join(sign if sign.isprintable() else " " for sign in line) for line in text.split("\n")]


def em(size: float, bold: bool = False) -> float:
    """Font size that gives capitals of a height.

    size : cap height [mm]
    result : font size [mm]
    """
    return size / face(bold).cap_height


def line_reach(text: str, size: float, bold: bool = False) -> Reach:
    """Box of one line of text round its starting point.

    text : one line
    size : cap height [mm]
    result : width, rise and drop [mm]; rise and drop are at least those of small letters
    """
    signs = [_sign(sign, bold) for sign in text]
    scale = em(size, bold)
    return Reach(
        sum(s.width for s in signs) * scale,
        max([_USUAL_RISE, *(s.rise for s in signs)]) * scale,
        max([_USUAL_DROP, *(s.drop for s in signs)]) * scale,
    )


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width of the widest line.

    text : one or more lines
    size : cap height [mm]
    result : width [mm]
    """
    return max(line_reach(line, size, bold).width for line in text_rows(text))


_BREAKS = re.compile(r"(?<!\d) | (?!(?:mm|m|ft|in)\b)")
"""Spaces between words, but not the one between a number and its unit."""


def wrapped(text: str, size: float, width: float, bold: bool = False) -> str:
    """The text broken into lines no wider than asked: at spaces, within a word only where it must be.

    size : cap height [mm]
    width : greatest width of a line [mm]
    """
    lines: list[str] = []
    for paragraph in text_rows(text):
        line = ""
        for word in _pieces(paragraph, size, width, bold):
            longer = f"{line} {word}" if line else word
            if line and line_reach(longer, size, bold).width > width:
                lines.append(line)
                longer = word
            line = longer
        lines.append(line)
    return "\n".join(lines)


def _words(paragraph: str, size: float, width: float, bold: bool) -> Iterator[str]:
    """The words; a number with its unit is one where a line takes both."""
    for word in _BREAKS.split(paragraph):
        fits = line_reach(word, size, bold).width <= width
        yield from [word] if fits else word.split(" ")


def _pieces(paragraph: str, size: float, width: float, bold: bool) -> list[str]:
    """The words, those wider than a line cut into parts that are not."""
    pieces: list[str] = []
    for word in _words(paragraph, size, width, bold):
        rest = word
        while len(rest) > 1 and line_reach(rest, size, bold).width > width:
            fitting = [n for n in range(1, len(rest)) if line_reach(rest[:n], size, bold).width <= width]
            cut = max(fitting, default=1)
            pieces.append(rest[:cut])
            rest = rest[cut:]
        pieces.append(rest)
    return pieces
