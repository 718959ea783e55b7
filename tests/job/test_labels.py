"""Goods of a job's own: a value in the wrong unit is told with its line, another unit of labels is read.

R is h.ft2.F/Btu, 0.17611 m2.K/W by the definitions of foot, Btu and degree; the rest is arithmetic on them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from warmside.catalog.goods import Batt, Board, Lumber, Membrane, Sealant, Tape, shelf
from warmside.job.labels import label_bounds, labels
from warmside.job.read import read_bytes
from warmside.job.survey import OwnGoods, Survey
from warmside.say import Voice

LABEL = 'source = "label", status = "label"'
BATT: Mapping[str, str] = {
    "r_label": 'value = 2.11, unit = "m2.K/W"',
    "thickness": 'value = "3-1/2 in"',
    "width": 'value = "15 in"',
    "length": 'value = "47 in"',
    "per_bag": "value = 10",
    "add_width": 'value = "1/2 in"',
    "add_height": 'value = "1/2 in"',
}
BOARD: Mapping[str, str] = {
    "thickness": 'value = "1 in"',
    "width": 'value = "4 ft"',
    "length": 'value = "8 ft"',
    "resistivity": 'value = 35, unit = "m.K/W"',
}
SEALANT: Mapping[str, str] = {
    "volume": 'value = 825, unit = "mL"',
    "bead": 'value = "8 mm"',
    "waste": 'value = 15, unit = "%"',
}


def own(kind: str, words: str, fields: Mapping[str, str]) -> bytes:
    head = f'format = 1\nname = "x"\n[[goods.{kind}]]\nid = "own"\nname = "Own"\npackage = "bag"\n{words}'
    lines = [f"{name} = {{ {value}, {LABEL} }}\n" for name, value in fields.items()]
    return (head + "".join(lines)).encode()


def batt(**changed: str) -> bytes:
    return own("batt", 'family = "own"\nfibre = "glass"\n', {**BATT, **changed})


def board(role: str, resistivity: str) -> bytes:
    return own("board", f'role = "{role}"\n', {**BOARD, "resistivity": resistivity})


def sealant(**changed: str) -> bytes:
    return own("sealant", "", {**SEALANT, **changed})


def faults(content: bytes) -> list[str]:
    return [Voice().located(note) for note in read_bytes(content).faults]


def surveyed(content: bytes) -> Survey:
    read = read_bytes(content)
    assert read.faults == ()
    assert read.survey is not None
    return read.survey


@pytest.mark.parametrize(
    ("content", "told"),
    [
        # 88.9 mm at 0.07 and at 0.025 W/(m.K) resist 1.27 and 3.56 m2.K/W.
        (
            batt(r_label='value = 12, unit = "m2.K/W"'),
            'job.toml line 9: goods.batt number 1.r_label.value: 12 m2.K/W is more or less than any batt of '
            '3-1/2" can resist, 1.3 to 3.6 m2.K/W; look at the unit, an R12 of a label is 2.11 m2.K/W',
        ),
        (batt(r_label='value = 2.11, unit = "h.ft2.F/Btu"'), "0.372 m2.K/W is more or less than any batt"),
        (
            board("foam board", 'value = 5, unit = "m.K/W"'),
            "5 m.K/W is more or less than any such board can resist for its thickness, 15 to 60 m.K/W; look "
            "at the unit, R5 per inch of a label is 35 m.K/W",
        ),
        (board("foam board", 'value = 0.9, unit = "m.K/W"'), "0.9 m.K/W is more or less"),
        (board("sheet", 'value = 0.45, unit = "m.K/W"'), "0.45 m.K/W is more or less"),
        (sealant(volume='value = 825, unit = "L"'), "0.825 m3 is more or less than any package of sealant"),
        (sealant(waste='value = 15, unit = "1"'), "15 of each package lost is more or less than can be"),
    ],
)  # fmt: skip
def test_a_value_in_the_wrong_unit_is_told(content: bytes, told: str) -> None:
    (fault,) = faults(content)
    assert told in fault


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (
            batt(r_label='value = 12, unit = "R"'),
            "'R' is no unit of a resistance; write one of m2.K/W, h.ft2.F/Btu",
        ),
        (board("sheet", 'value = 6, unit = "m2.K/W"'), "'m2.K/W' is no unit of a resistance per thickness"),
        (
            sealant(volume='value = 28, unit = "fl oz"'),
            "'fl oz' is no unit of a volume; write one of m3, L, mL",
        ),
        (sealant(waste='value = 1, unit = "m"'), "'m' is no unit of a share; write one of 1, %"),
    ],
)
def test_a_unit_of_something_else_is_told(content: bytes, told: str) -> None:
    (fault,) = faults(content)
    assert told in fault


def test_units_of_labels_are_read() -> None:
    (glass,) = surveyed(batt(r_label='value = 12, unit = "h.ft2.F/Btu"')).goods.batt
    assert glass.r_label.value == pytest.approx(2.11, abs=0.005)
    (foam,) = surveyed(board("foam board", 'value = 5, unit = "h.ft2.F/(Btu.in)"')).goods.board
    # R5 in one inch is 0.881 m2.K/W.
    assert foam.resistance == pytest.approx(0.881, abs=0.001)
    (tube,) = surveyed(sealant()).goods.sealant
    assert [tube.volume.value, tube.waste.value] == pytest.approx([825e-6, 0.15])


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("thickness", "89 in", "goods.batt number 1.thickness.value is 7' 5\", more than the 1' 4\""),
        ("width", "381 in", "goods.batt number 1.width.value is 31' 9\", more than the 6' 0\""),
        ("length", "47 mm", 'goods.batt number 1.length.value is 1-7/8", less than the 1\' 0"'),
    ],
)
def test_a_size_in_the_wrong_unit_is_told_once(field: str, value: str, told: str) -> None:
    (fault,) = faults(batt(**{field: f'value = "{value}"'}))
    assert told in fault
    assert "look at the unit" in fault


def test_nothing_on_the_shelf_is_out_of_bounds() -> None:
    goods = shelf().goods.values()
    kinds = {
        "batt": Batt,
        "membrane": Membrane,
        "board": Board,
        "tape": Tape,
        "sealant": Sealant,
        "lumber": Lumber,
    }
    every = {name: tuple(good for good in goods if isinstance(good, kind)) for name, kind in kinds.items()}
    survey = Survey(format=1, name="x", goods=OwnGoods(**every))
    assert [*labels(survey)] == []


def test_bounds_are_bounds() -> None:
    assert all(bound.least < bound.most for bound in label_bounds().values())
