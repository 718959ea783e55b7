"""The shelf: label resistances and sizes against published figures, and what a wrong name is told."""

from __future__ import annotations

import math
import re

import pytest
from pydantic import ValidationError

from warmside.catalog.goods import Batt, Board, GoodsError, Lumber, Membrane, Sealant, Size, shelf
from warmside.units import FOOT, MM, Length, to_m, to_r

BATTS = [good for good in shelf().goods.values() if isinstance(good, Batt)]


def test_the_shelf_holds_every_family() -> None:
    glass = {f"R{r} glass" for r in (12, 13, 14, 15, 19, 20, 21, 22, 24)}
    stone = {f"R{r} stone" for r in (14, 22, 24)}
    assert {batt.family for batt in BATTS} == glass | stone | {"R12 sound", "R14 fire"}


def test_ids_are_plain_names() -> None:
    for key, good in shelf().goods.items():
        assert key == good.id
        assert re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9 ./-]*", key), key
        assert len(key) <= 32
        assert good.name[0].isupper() or good.name[0].isdigit()
        assert re.fullmatch(r"[a-z]+", good.package), "a price says `per` and one small word"


@pytest.mark.parametrize("batt", BATTS, ids=lambda batt: batt.id)
def test_the_resistance_is_the_r_number_of_the_name(batt: Batt) -> None:
    # The name carries the label, R in h.ft2.F/Btu. Tolerance: two decimals of RSI are 0.03 R.
    label = float(batt.id.split()[0].removeprefix("R"))
    assert to_r(batt.r_label.value) == pytest.approx(label, abs=0.03)
    assert batt.r_label.unit == "m2.K/W"


@pytest.mark.parametrize("batt", BATTS, ids=lambda batt: batt.id)
def test_conductivity_of_mineral_fibre(batt: Batt) -> None:
    # A maker's published chart has 0.034 W/(m.K) (R15 in 3-1/2 in) to 0.048 W/(m.K) (R30 in 10 in).
    assert 0.033 <= batt.conductivity <= 0.048


@pytest.mark.parametrize(
    ("name", "width"),
    [("R12 glass 15 in", 381.0), ("R20 glass 23 in", 584.2), ("R14 stone 15-1/4 in", 387.35)],
)
def test_widths_in_millimetres(name: str, width: float) -> None:
    # 15 in = 381 mm and 23 in = 584 mm as printed on a trade page; the inch is 25.4 mm exactly.
    assert shelf().find(Batt, name).width.value == round(width * MM)


def test_a_bag_covers_what_its_pieces_do() -> None:
    # 20 pieces of 15 x 47 in are 97.9 sq ft (20 x 15 x 47 / 144 = 97.92).
    bag = shelf().find(Batt, "R12 glass 15 in")
    assert bag.per_bag.value * bag.width.value * bag.length.value / FOOT**2 == pytest.approx(97.92, abs=0.01)


def test_a_family_comes_narrowest_first() -> None:
    for family in {batt.family for batt in BATTS}:
        widths = [batt.width.value for batt in shelf().batts(family)]
        assert widths == sorted(widths)
    assert [batt.id for batt in shelf().batts("R22 stone")] == ["R22 stone 15-1/4 in", "R22 stone 23 in"]


@pytest.mark.parametrize(("name", "printed"), [("2x3", (38, 64)), ("2x4", (38, 89)), ("2x6", (38, 140))])
def test_lumber_as_the_code_prints_it(name: str, printed: tuple[int, int]) -> None:
    # National Building Code, Table 9.23.10.1, whole millimetres; so the tolerance is half a millimetre.
    stick = shelf().find(Lumber, name)
    assert abs(stick.face.value - printed[0] * MM) <= MM / 2
    assert abs(stick.depth.value - printed[1] * MM) <= MM / 2


def test_sixteen_inches_leave_a_bay_of_fourteen_and_a_half() -> None:
    assert Length(16 * 4064) - shelf().find(Lumber, "2x4").face.value == round(14.5 * 4064)


def test_wood_against_the_worked_example_of_the_code() -> None:
    # Note A-9.36.2.4.(1): 1.19 m2.K/W for 140 mm of framing. Tolerance: the second decimal as printed.
    wood = shelf().material("spruce-pine-fir").resistivity
    assert wood is not None
    assert wood.value * 0.140 == pytest.approx(1.19, abs=0.005)


@pytest.mark.parametrize(("name", "thickness"), [("XPS 25 mm", 0.025), ("XPS 50 mm", 0.050)])
def test_foam_board_against_the_federal_table(name: str, thickness: float) -> None:
    # Keeping the Heat In, Table 3-1: 0.88 m2.K/W for 25.4 mm. Tolerance: the second decimal as printed.
    assert shelf().find(Board, name).resistance * 0.0254 / thickness == pytest.approx(0.88, abs=0.005)


def test_membranes_on_the_right_side_of_the_code_limits() -> None:
    # 9.25.4.2.(1): a vapour barrier lets through at most 60 ng/(Pa.s.m2). 9.13.2.5.(2): above ground nothing
    # under 170 ng stands between insulation and wall.
    for membrane in (good for good in shelf().goods.values() if isinstance(good, Membrane)):
        assert membrane.permeance.unit == "kg/(m2.s.Pa)"
        if membrane.role == "vapour control":
            assert membrane.permeance.value <= 60e-12
        else:
            assert membrane.permeance.value >= 170e-12


def labelled(value: float, unit: str) -> Board:
    """A board of the shelf with a permeance as its label says it."""
    size = {"source": "label", "status": "label"}
    board = shelf().find(Board, "XPS 25 mm").model_dump()
    lengths = {key: {"value": "1 m", **size} for key in ("thickness", "width", "length")}
    return Board.model_validate({**board, **lengths, "permeance": {"value": value, "unit": unit, **size}})


@pytest.mark.parametrize(
    ("value", "unit"), [(57.2e-12, "kg/(m2.s.Pa)"), (57.2, "ng/(Pa.s.m2)"), (1.0, "perm")]
)
def test_a_permeance_is_read_in_the_units_of_labels(value: float, unit: str) -> None:
    # 1 perm = 57.2 ng/(Pa.s.m2), by the definition of the units.
    board = labelled(value, unit)
    assert board.permeance is not None
    assert board.permeance.value == pytest.approx(57.2e-12)
    assert board.permeance.unit == "kg/(m2.s.Pa)"


@pytest.mark.parametrize(
    ("value", "unit", "told"),
    [
        (60, "ng", "'ng' is no unit of a permeance; write one of kg/(m2.s.Pa), ng/(Pa.s.m2), perm"),
        (60, "kg/(m2.s.Pa)", "a permeance of 60 kg/(m2.s.Pa) is none of a sheet; write what the label says"),
        (-1, "perm", "a permeance of -5.72e-11 kg/(m2.s.Pa) is none of a sheet"),
    ],
)
def test_a_permeance_in_a_wrong_unit_is_told(value: float, unit: str, told: str) -> None:
    with pytest.raises(ValidationError, match=re.escape(told)):
        labelled(value, unit)


@pytest.mark.parametrize(
    ("name", "metres"), [("acoustical sealant 825 mL", 11.6), ("acoustical sealant 295 mL", 4.2)]
)
def test_how_far_a_tube_reaches(name: str, metres: float) -> None:
    # Closed form: volume over the section of a round bead of 9.5 mm; before waste.
    tube = shelf().find(Sealant, name)
    section = math.pi * to_m(tube.bead.value) ** 2 / 4
    assert tube.volume.value / section == pytest.approx(metres, abs=0.05)
    assert 0.10 <= tube.waste.value <= 0.15


def test_a_wrong_name_is_told_the_right_ones() -> None:
    with pytest.raises(GoodsError, match=r"'2x5' is not known as a lumber; there are: 2x3, 2x4, 2x6"):
        shelf().find(Lumber, "2x5")
    with pytest.raises(
        GoodsError, match=r"'2x4' is not known as a sealant; there are: acoustical sealant 295 mL"
    ):
        shelf().find(Sealant, "2x4")
    with pytest.raises(
        GoodsError, match=r"'R13 stone' is not a family of batts; there are: R12 glass, R12 sound, R13 glass"
    ):
        shelf().batts("R13 stone")
    with pytest.raises(GoodsError, match=r"'brick' is not a material; there are: concrete, inside film"):
        shelf().material("brick")


def test_own_goods_replace_ours_and_leave_the_shelf_alone() -> None:
    ours = shelf().find(Batt, "R12 glass 15 in")
    label = ours.model_copy(
        update={"per_bag": ours.per_bag.model_copy(update={"value": 18, "status": "label"})}
    )
    assert shelf().with_own([label]).find(Batt, "R12 glass 15 in").per_bag.value == 18
    assert shelf().find(Batt, "R12 glass 15 in").per_bag.value == 20


def test_every_value_of_a_good_is_sourced() -> None:
    for good in shelf().goods.values():
        expected = {"wrap": 0}.get(type(good).__name__.lower(), 1)
        assert len(list(good.values)) >= expected, good.id


@pytest.mark.parametrize("name", sorted(shelf().goods))
def test_a_name_in_millimetres_says_the_sizes_that_the_good_has(name: str) -> None:
    # Every number before "mm", or before "x", is one of its own sizes, to the nearest millimetre or two.
    good, metric = shelf().goods[name], shelf().in_millimetres().goods[name]
    assert not re.search(r"\d (in|ft)\b", metric.name)
    assert metric.id == good.id
    if good.name_mm is None:
        assert metric.name == good.name
        return
    assert metric.name == good.name_mm
    sizes = [value.value / MM for _, value in good.values if isinstance(value, Size)]
    told = [float(found) for found in re.findall(r"(\d+(?:\.\d+)?)(?= x | mm)", metric.name)]
    assert told
    for number in told:
        assert any(abs(number - size) <= 1.0 for size in sizes) or f"{number:g} mm" in good.name
