"""Ready sentences and pictures -> PDF, through a template that only lays them out.

Tagged, with title and language, after PDF/UA-1 (ISO 14289-1:2014) as far as the typesetter checks it. No
date and no path goes in, and only the shipped fonts are used: the same content gives the same bytes.
"""

import json
import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Final
from unicodedata import category

import typst

from warmside.paper.lettering import FAMILY, MARKS, Face, face, fonts_folder
from warmside.paper.pages import A4, LETTER, Sheet
from warmside.say import UnitSystem

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

UNPRINTABLE = "□"
"""Stands for a sign that no shipped font has."""
BYTE_ORDER_MARK = "\ufeff"
STANDARD: Final = "ua-1"
SHEETS: dict[UnitSystem, Sheet] = {"ft-in": LETTER, "mm": A4}
"""Letter paper goes with feet and inches, A4 with millimetres; both as they lie."""
_SIZE = re.compile(r'<svg [^>]*?width="([\d.]+)mm" height="([\d.]+)mm"')


class PictureError(ValueError):
    """A picture does not say its size in millimetres."""


@dataclass(frozen=True)
class Shown:
    """A picture as a template takes it; it is never scaled.

    width, height : on paper [mm]
    told : the picture in words, for those who don't see it
    """

    svg: str
    width: float
    height: float
    told: str


def shown(svg: str, told: str) -> Shown:
    """A picture with its size as the SVG states it. Raises PictureError."""
    size = _SIZE.search(svg)
    if size is None:
        raise PictureError(
            f'{svg[:60]!r} has no width and height; a picture begins <svg ... width="80mm" height="60mm"'
        )
    return Shown(svg, float(size[1]), float(size[2]), told)


@dataclass(frozen=True)
class Foot:
    """What stands at the foot of every page, around the page number."""

    left: str
    page: str
    of: str


def side_by_side(
    widths: Sequence[float], room: float, *, keep_order: bool = True, gap: float = 8.0
) -> list[list[int]]:
    """Rows of pictures by their numbers, as many in a row as fit beside each other.

    widths : of the pictures [mm]
    room : width of a row [mm]
    keep_order : whether a picture may only join the last row, not an earlier one that has room
    gap : between two pictures [mm]
    """
    rows: list[list[int]] = []
    for number, width in enumerate(widths):
        open_rows = rows[-1:] if keep_order else rows
        fitting = (row for row in open_rows if sum(widths[n] + gap for n in row) + width <= room)
        row = next(fitting, None)
        if row is None:
            rows.append([number])
        else:
            row.append(number)
    return rows


@cache
def _marks() -> Face:
    return Face("WarmsideMarks-Regular.ttf")


def _drawn(sign: str) -> bool:
    return _marks().has(sign) or (face().has(sign) and face(bold=True).has(sign))


def _wants_a_picture(sign: str) -> bool:
    """Also one that Unicode has not assigned, or leaves to private use."""
    return sign.isprintable() or category(sign) in ("Cn", "Co")


def printable(text: str) -> str:
    """The text with a box for each sign that no shipped font has, since PDF/UA takes none of those."""
    strange = {sign for sign in set(text) if _wants_a_picture(sign) and not _drawn(sign)}
    return text.replace(BYTE_ORDER_MARK, "").translate({ord(sign): UNPRINTABLE for sign in strange})


def typeset(template: str, content: "DataclassInstance", sheet: Sheet, language: str) -> bytes:
    """The PDF of a template of the package and its content; `sheet` gives paper and margin."""
    folder = Path(str(files("warmside") / "data" / "templates"))
    told = {
        "content": asdict(content),
        "language": language,
        "fonts": [FAMILY, MARKS],
        "sheet": asdict(sheet),
    }
    text = json.dumps(told, sort_keys=True, ensure_ascii=False)
    made = typst.compile(
        str(folder / f"{template}.typ"),
        root=str(folder),
        font_paths=[str(fonts_folder())],
        ignore_system_fonts=True,
        sys_inputs={"told": printable(text)},
        format="pdf",
        pdf_standards=STANDARD,
    )
    return bytes(made)
