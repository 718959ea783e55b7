"""The order and the cut list read back: numbers are numbers, sums agree with their formulas, bytes repeat."""

import csv
import io
import re
import tomllib
from functools import cache
from typing import Any

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from warmside.answers import Answers, answer
from warmside.job.survey import Survey
from warmside.paper.workbook import cut_list, order_workbook
from warmside.say import Voice

DATE = "2026-11-25"
FEET, METRES = Voice("ft-in"), Voice("mm")

JOB = """
format = 1
name = "Alder Court"
bare_numbers = "in"
assembly = { batt = "R12 glass", rim = { batt = "R20 glass", pieces = 2 } }
prices = { "R12 glass 15 in" = "61.50 CAD per bag", "drywall 12.7 mm" = "18.25 CAD per sheet" }
at_hand = { "R12 glass 15 in" = 1 }

[[wall]]
name = "=A"
length = "12 ft"
height = 92
gap = [0.5, 0.75]
frame = { state = "standing", studs = "2x4", spacing = 16, layout_from = "left", height = 91.5 }
rim = { joists = "land here", height = 9.25, spacing = 16 }
in_the_way = [{ kind = "electrical box", from_left = 37.25, up = 12, width = 2.25, height = 3.75 }]
"""


@cache
def job(text: str = JOB) -> Answers:
    table: dict[str, Any] = tomllib.loads(text)
    return answer(Survey.model_validate(table, context={"bare_numbers": "in"}))


def sheets(answers: Answers, voice: Voice, values: bool) -> tuple[Worksheet, Worksheet]:
    """The two sheets with the values that stand beside the formulas, or with the formulas."""
    book = openpyxl.load_workbook(io.BytesIO(order_workbook(answers, voice, DATE)), data_only=values)
    assert book.sheetnames == ["Order", "Pieces"]
    return book["Order"], book["Pieces"]


def table(sheet: Worksheet) -> list[list[Any]]:
    """Everything from the head down."""
    return [list(row) for row in sheet.iter_rows(min_row=4, values_only=True)]


def test_the_order_reads_back_as_it_is() -> None:
    order = job().order
    head, *rows, total = table(sheets(job(), FEET, values=True)[0])
    assert head[:3] == ["what", "package", "needed"]
    assert len(rows) == len(order.lines)
    for row, line in zip(rows, order.lines, strict=True):
        assert row[:2] == [line.good.name, line.good.package]
        assert row[4:8] == [line.packages, line.packages, line.at_hand, line.to_buy]
        assert all(isinstance(cell, int | float) for cell in row[4:8])
        priced: list[Any] = [cents / 100 for cents in (line.cents_each, line.cents) if cents is not None]
        assert row[8:10] == (priced or ["no price", "no price"])
        assert isinstance(row[11], str)
    assert total[0] == "Total"
    assert total[9] == pytest.approx(order.total / 100)
    assert total[10] == "incomplete"


def test_without_any_price_the_heads_name_no_currency() -> None:
    bare = job(re.sub(r"prices = .*\n", "", JOB))
    assert bare.order.currency is None
    head = table(sheets(bare, FEET, values=True)[0])[0]
    assert {"price each", "price"} <= set(head)
    assert all(text == text.strip() for text in head)


def test_sums_are_formulas_over_the_cells_beside_them() -> None:
    _, *rows, total = table(sheets(job(), FEET, values=False)[0])
    last = 4 + len(rows)
    assert rows[0][7] == "=MAX(0,E5-G5)"
    assert rows[0][9] == '=IF(ISNUMBER(I5),H5*I5,"no price")'
    assert total[9] == f"=SUM(J5:J{last})"
    assert total[10] == f'=IF(SUMPRODUCT((H5:H{last}>0)*NOT(ISNUMBER(I5:I{last})))>0,"incomplete","complete")'


def test_with_every_price_the_total_is_complete() -> None:
    goods = {line.good.id: line.good.package for line in job().order.lines}
    prices = ", ".join(f'"{good}" = "2.00 CAD per {package}"' for good, package in goods.items())
    start, end = JOB.index("prices"), JOB.index("at_hand")
    text = JOB[:start] + f"prices = {{ {prices} }}\n" + JOB[end:]
    total = table(sheets(job(text), FEET, values=True)[0])[-1]
    assert total[10] == "complete"
    assert total[9] == 2 * sum(line.to_buy for line in job(text).order.lines)


@pytest.mark.parametrize(("voice", "unit", "per_metre"), [(FEET, "ft", 1 / 0.3048), (METRES, "m", 1.0)])
def test_lengths_stand_in_the_readers_unit(voice: Voice, unit: str, per_metre: float) -> None:
    # 1 ft = 0.3048 m exactly; the sheet shows a tenth of its unit.
    _, *rows, _ = table(sheets(job(), voice, values=True)[0])
    long = [(row, line) for row, line in zip(rows, job().order.lines, strict=True) if line.unit == "m"]
    assert len(long) >= 3
    for row, line in long:
        assert row[3] == unit
        assert row[2] == pytest.approx(line.needed * per_metre, abs=0.051)


def test_the_pieces_are_the_same_in_both() -> None:
    head, *rows = table(sheets(job(), FEET, values=True)[1])
    read = list(csv.reader(io.StringIO(cut_list(job().walls, FEET).decode("utf-8"))))
    assert read[0] == head
    assert len(read) - 1 == len(rows) == len(job().walls[0].pieces)
    for row, line in zip(rows, read[1:], strict=True):
        assert [cell.removeprefix("'") for cell in line[:3]] == row[:3]
        assert [float(line[at]) for at in (4, 5, 7, 8)] == [row[at] for at in (4, 5, 7, 8)]
        assert all(isinstance(row[at], int | float) for at in (4, 5, 7, 8))


def test_a_standard_piece_in_inches_and_in_millimetres() -> None:
    # 91-1/2 in of frame less two plates of 1-1/2 in is 88-1/2 in clear: a batt of 47 in, and 41-1/2 in and
    # 1/2 in of friction over it. 42 in are 1066.8 mm, 15 in are 381 mm: cut sizes go to the nearest 5 mm, as
    # on the crew's paper. 3-1/2 in are 88.9 mm: a bought thickness goes to the millimetre.
    def upper(voice: Voice) -> list[str]:
        read = csv.reader(io.StringIO(cut_list(job().walls, voice).decode("utf-8")))
        return next(line for line in read if line[0] == "'=A2.2")

    assert upper(FEET)[4:] == ["15", "42", "", "3.5", "1", ""]
    assert upper(METRES)[4:] == ["380", "1065", "", "89", "1", ""]


def test_a_notch_is_four_numbers() -> None:
    # The box stands 12 in up, the plate is 1-1/2 in thick: the notch begins 10-1/2 in up the batt.
    read = list(csv.reader(io.StringIO(cut_list(job().walls, FEET).decode("utf-8"))))
    [notched] = [line for line in read[1:] if line[6]]
    left, bottom, width, height = map(float, notched[6].split(" "))
    assert (bottom, width, height) == (10.5, 2.25, 3.75)
    assert 0.0 <= left <= 15.0 - 2.25
    assert "[in]" in read[0][6]


def test_a_trough_says_how_deep_it_is() -> None:
    # A pipe whose back is 1-1/2 in off the concrete side lies in a batt that stays whole behind it.
    pipe = '{ kind = "water pipe", from_left_to_middle = 60, back = "1-1/2" }'
    text = JOB.replace("in_the_way = [", f"in_the_way = [{pipe}, ")
    read = list(csv.reader(io.StringIO(cut_list(job(text).walls, FEET).decode("utf-8"))))
    troughs = [line[6].split(" ") for line in read[1:] if len(line[6].split(" ")) == 5]
    assert troughs
    assert all(0.0 < float(trough[4]) < 3.5 for trough in troughs)


def test_a_slit_says_how_high_and_how_deep() -> None:
    # A cable 30 in up, 3/8 in thick, drilled through the middle of 3-1/2 in: 30 less the plate of 1-1/2 in is
    # 28-1/2 in up the batt, its middle to the nearest 1/4 in; half of the batt lies behind.
    text = JOB.replace("in_the_way = [", 'in_the_way = [{ kind = "cable", up = 30 }, ')
    read = list(csv.reader(io.StringIO(cut_list(job(text).walls, FEET).decode("utf-8"))))
    assert read[0][-1].startswith("slits: from the bottom, depth from the back")
    slits = {tuple(map(float, line[-1].split(" "))) for line in read[1:] if line[-1]}
    ((up, deep),) = slits
    assert up == pytest.approx(28.5, abs=0.25)
    assert deep == pytest.approx(1.75, abs=0.25)


def test_a_name_that_looks_like_a_formula_stays_a_name() -> None:
    assert all(
        line[0].startswith("'=A")
        for line in list(csv.reader(io.StringIO(cut_list(job().walls, FEET).decode())))[1:]
    )
    pieces = sheets(job(), FEET, values=False)[1]
    assert {cell.data_type for cell in pieces["A"][4:]} == {"s"}


def test_the_cut_list_is_utf_8_with_line_feeds() -> None:
    content = cut_list(job().walls, FEET)
    assert b"\r" not in content
    assert content.endswith(b"\n")
    assert not content.startswith(b"\xef\xbb\xbf")


def test_same_order_same_bytes() -> None:
    assert order_workbook(job(), FEET, DATE) == order_workbook(job(), FEET, DATE)
    assert b"2000-01-01T00:00:00Z" in _core(order_workbook(job(), FEET, DATE))


def _core(workbook: bytes) -> bytes:
    import zipfile

    return zipfile.ZipFile(io.BytesIO(workbook)).read("docProps/core.xml")


def test_nothing_measured_no_pieces() -> None:
    text = JOB.replace("spacing = 16, layout", "layout")
    assert job(text).walls[0].wall.level == 1
    assert cut_list(job(text).walls, FEET).count(b"\n") == 1
    assert table(sheets(job(text), FEET, values=True)[1])[1][0] == "not yet: no wall is measured for cutting"
