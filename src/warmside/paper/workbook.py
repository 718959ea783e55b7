"""The order and the pieces as tables for a spreadsheet: order.xlsx and cutlist.csv.

Numbers are numbers, and each sum stands beside its formula. Formats: Office Open XML (ISO/IEC 29500) as
XlsxWriter writes it, and RFC 4180 with line feeds. The date inside is always the same, for the same bytes.
"""

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import xlsxwriter
from xlsxwriter.utility import xl_rowcol_to_cell
from xlsxwriter.worksheet import Worksheet

from warmside.answers import Answers, WallAnswer
from warmside.cutting.inside import InsideFill
from warmside.cutting.pieces import Piece, Slit
from warmside.order.order import Line
from warmside.paper.front import halted, level, short_id
from warmside.say import Voice
from warmside.units import FOOT, INCH, METRE, MM, from_m

ALWAYS = datetime(2000, 1, 1, tzinfo=UTC)
ORDER_COLUMNS = ("good", "package", "needed", "unit", "packages", "likely", "at_hand", "to_buy")
PIECE_COLUMNS = ("piece", "wall", "bay", "good", "width", "height", "notches", "thickness", "layers", "slits")
WIDTHS = {"good": 42, "package": 10, "basis": 90, "notches": 32, "slits": 24, "status": 14}
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
FIRST_ROW = 4

Cell = str | float | int


@dataclass(frozen=True)
class PieceRow:
    """A piece and the bay it belongs to."""

    wall: str
    bay: str
    piece: Piece


def measured_pieces(walls: Sequence[WallAnswer], inside: Sequence[InsideFill]) -> list[PieceRow]:
    """Every piece of the walls at level 2, bay by bay, then the rim; then partitions and ceilings."""
    rows = []
    for each in walls:
        if each.wall.level == 2:
            fills = () if each.wall.keeps_batts else each.fills
            rows += [PieceRow(each.wall.name, f.bay.mark, p) for f in fills for p in f.pieces]
            rows += [PieceRow(each.wall.name, p.id.rpartition(".")[0], p) for p in each.rim_pieces]
    rows += [PieceRow(f.part.name, bay.mark, p) for f in inside for bay in f.bays for p in bay.pieces]
    return rows


def cut_list(walls: Sequence[WallAnswer], voice: Voice, inside: Sequence[InsideFill] = ()) -> bytes:
    """The pieces of the measured walls as CSV: UTF-8, line feeds; its head names the unit."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_piece_head(voice))
    writer.writerows(
        [_plain(cell) for cell in _piece_cells(row, voice)] for row in measured_pieces(walls, inside)
    )
    return text.getvalue().encode("utf-8")


def _plain(cell: Cell) -> str:
    """A cell as text; one that a spreadsheet would run as a formula gets an apostrophe in front."""
    if isinstance(cell, str):
        return f"'{cell}" if cell.startswith(FORMULA_STARTS) else cell
    return f"{cell:g}"


def _piece_head(voice: Voice) -> list[str]:
    unit = voice.line(f"paper.unit.{'inch' if voice.system == 'ft-in' else 'millimetre'}")
    return [voice.line(f"paper.table.{name}", unit=unit) for name in PIECE_COLUMNS]


def _piece_cells(row: PieceRow, voice: Voice) -> list[Cell]:
    piece = row.piece
    notches = [
        (n.left, n.bottom, n.width, n.height, *([] if n.depth is None else [n.depth]))
        for n in piece.cut_notches
    ]
    return [
        piece.id,
        row.wall,
        row.bay,
        piece.batt.name,
        _size(piece.cut_width, voice),
        _size(piece.cut_height, voice),
        "; ".join(" ".join(f"{_size(size, voice):g}" for size in notch) for notch in notches),
        _size(piece.thickness, voice) if piece.thickness else _bought(piece.batt.thickness.value, voice),
        piece.layers,
        "; ".join(_slit(slit, voice) for slit in piece.slits),
    ]


def _slit(slit: Slit, voice: Voice) -> str:
    """Where a slit runs, from the bottom end or from the left edge, and how deep from the back."""
    code = "paper.table.slit_up" if slit.upright else "paper.table.slit"
    return voice.line(code, at=_size(slit.at, voice), depth=_size(slit.depth, voice))


def _size(length: int, voice: Voice) -> float:
    """A size as the crew's paper shows it: to a quarter inch or to 5 mm, in that unit."""
    unit, step = (INCH, INCH // 4) if voice.system == "ft-in" else (MM, 5 * MM)
    return (length + step // 2) // step * step / unit


def _bought(length: int, voice: Voice) -> float:
    """The thickness of a batt as it comes: to a quarter inch or to a millimetre, in that unit."""
    unit, parts = (INCH, 4) if voice.system == "ft-in" else (MM, 1)
    return math.floor(length * parts / unit + 0.5) / parts


def order_workbook(answers: Answers, voice: Voice, date: str) -> bytes:
    """The order, and the pieces of the measured walls, as a workbook; `date` is printed as it is given."""
    made = io.BytesIO()
    book = xlsxwriter.Workbook(made, {"in_memory": True})
    book.set_properties({"title": answers.house.name, "created": ALWAYS})
    writer = _Writer(book, answers, voice, date)
    writer.order()
    writer.pieces()
    book.close()
    return made.getvalue()


class _Writer:
    """Writes the two sheets of one workbook."""

    def __init__(self, book: xlsxwriter.Workbook, answers: Answers, voice: Voice, date: str) -> None:
        self.book, self.answers, self.voice = book, answers, voice
        self.bold = book.add_format({"bold": True})
        self.head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        self.money = book.add_format({"num_format": "#,##0.00", "align": "right"})
        self.sum = book.add_format({"num_format": "#,##0.00", "bold": True, "top": 1})
        self.told = " · ".join([level(answers, voice), short_id(answers), date])

    def _sheet(self, code: str, columns: Sequence[str], heads: Sequence[str], landscape: bool) -> Worksheet:
        """A new sheet with the job above and a head that stays in sight."""
        sheet: Worksheet = self.book.add_worksheet(self.voice.line(code))
        sheet.write_string(0, 0, self.answers.house.name, self.bold)
        sheet.write_string(1, 0, self.told)
        sheet.write_string(2, 0, " ".join(halted(self.answers, self.voice)), self.bold)
        for number, (name, text) in enumerate(zip(columns, heads, strict=True)):
            sheet.write_string(FIRST_ROW - 1, number, text, self.head)
            sheet.set_column(number, number, WIDTHS.get(name, 12))
        sheet.freeze_panes(FIRST_ROW, 1)
        sheet.repeat_rows(FIRST_ROW - 1)
        sheet.set_paper(1 if self.voice.system == "ft-in" else 9)
        if landscape:
            sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        return sheet

    def order(self) -> None:
        """The order: a line for each of the goods, then the total and whether it is complete."""
        order = self.answers.order
        columns = (*ORDER_COLUMNS, "price_each", "price", "status", "basis")
        heads = [self._order_head(name, order.currency) for name in columns]
        sheet = self._sheet("paper.table.order", columns, heads, landscape=True)
        for row, line in enumerate(order.lines, FIRST_ROW):
            self._line(sheet, row, line, self.answers.likely_order.packages(line.good))
        self._total(sheet, FIRST_ROW + len(order.lines))

    def _order_head(self, name: str, currency: str | None) -> str:
        """The head of a column; without any price there is no currency to tell."""
        bare = "_bare" if currency is None and name in ("price_each", "price") else ""
        return self.voice.line(f"paper.table.{name}{bare}", currency=currency or "")

    def _line(self, sheet: Worksheet, row: int, line: Line, likely: int) -> None:
        needed, unit = _needed(line, self.voice)
        texts = {0: line.good.name, 1: line.good.package, 3: unit, 11: self.voice.text(line.basis)}
        for column, text in texts.items():
            sheet.write_string(row, column, text)
        numbers = {2: needed, 4: line.packages, 5: likely, 6: line.at_hand}
        for column, number in numbers.items():
            sheet.write_number(row, column, number)
        packages, at_hand, to_buy, each = (xl_rowcol_to_cell(row, column) for column in (4, 6, 7, 8))
        sheet.write_formula(row, 7, f"=MAX(0,{packages}-{at_hand})", None, line.to_buy)
        no_price = self.voice.line("paper.buy.no_price")
        if line.cents_each is None:
            sheet.write_string(row, 8, no_price, self.money)
        else:
            sheet.write_number(row, 8, line.cents_each / 100, self.money)
        price: Cell = no_price if line.cents is None else line.cents / 100
        sheet.write_formula(
            row, 9, f"=IF(ISNUMBER({each}),{to_buy}*{each},{_quoted(no_price)})", self.money, price
        )

    def _total(self, sheet: Worksheet, row: int) -> None:
        order = self.answers.order
        first, last = FIRST_ROW, max(FIRST_ROW, row - 1)
        span = {c: f"{xl_rowcol_to_cell(first, c)}:{xl_rowcol_to_cell(last, c)}" for c in (7, 8, 9)}
        yes, no = self.voice.line("paper.buy.whole"), self.voice.line("paper.buy.part")
        test = f"SUMPRODUCT(({span[7]}>0)*NOT(ISNUMBER({span[8]})))>0"
        sheet.write_string(row, 0, self.voice.line("paper.buy.total"), self.bold)
        sheet.write_formula(row, 9, f"=SUM({span[9]})", self.sum, order.total / 100)
        shown = yes if order.complete else no
        sheet.write_formula(row, 10, f"=IF({test},{_quoted(no)},{_quoted(yes)})", self.bold, shown)

    def pieces(self) -> None:
        """The pieces of the measured walls, or that there are none."""
        rows = measured_pieces(self.answers.walls, self.answers.inside)
        sheet = self._sheet("paper.table.pieces", PIECE_COLUMNS, _piece_head(self.voice), landscape=False)
        if not rows:
            sheet.write_string(FIRST_ROW, 0, self.voice.line("answer.not_measured"))
        for number, row in enumerate(rows, FIRST_ROW):
            for column, cell in enumerate(_piece_cells(row, self.voice)):
                write = sheet.write_string if isinstance(cell, str) else sheet.write_number
                write(number, column, cell)


def _quoted(text: str) -> str:
    """A text inside a formula."""
    return '"' + text.replace('"', '""') + '"'


def _needed(line: Line, voice: Voice) -> tuple[float, str]:
    """The quantity as a number, and its unit."""
    if line.unit != "m":
        return line.needed, voice.line(f"paper.unit.{line.unit}")
    unit, name = (FOOT, "feet") if voice.system == "ft-in" else (METRE, "m")
    return round(from_m(line.needed) / unit, 1), voice.line(f"paper.unit.{name}")
