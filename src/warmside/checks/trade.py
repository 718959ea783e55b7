"""Compute functions of the checks on goods, cutting and rule data: custom of the trade and printed sizes."""

from __future__ import annotations

from warmside.catalog.codes import rule_sets
from warmside.catalog.goods import Membrane, shelf
from warmside.checks.registry import Inputs, computes
from warmside.cutting.pieces import cut_width, narrowest
from warmside.units import INCH, MM, parse_length, to_m


def _length(row: Inputs, name: str) -> int:
    return parse_length(row.text(name))


@computes("batt-for-bay")
def _batt_for_bay(row: Inputs) -> float:
    """Width of the batt that is taken for a clear bay [in]."""
    batts = shelf().batts(row.text("family"))
    return narrowest(batts, _length(row, "clear")).width.value / INCH


@computes("batt-cut-for-bay")
def _batt_cut_for_bay(row: Inputs) -> float:
    """Width that the batt is ripped to [in]."""
    clear = _length(row, "clear")
    return cut_width(narrowest(shelf().batts(row.text("family")), clear), clear) / INCH


@computes("batt-fills-stud")
def _batt_fills_stud(row: Inputs) -> float:
    """How much a family is squeezed in a stud space: label thickness over space [-]."""
    return shelf().batts(row.text("family"))[0].thickness.value / _length(row, "stud")


@computes("bag-coverage")
def _bag_coverage(row: Inputs) -> float:
    """Area of all batts of one bag [ft2]."""
    batt = {b.id: b for b in shelf().batts(row.text("family"))}[row.text("good")]
    return batt.per_bag.value * to_m(batt.width.value) * to_m(batt.length.value) / 0.3048**2


@computes("largest-gap")
def _largest_gap(row: Inputs) -> float:
    """Largest gap behind the studs that a rule set lets stand without fire blocks [mm]."""
    return rule_sets()[row.text("rule_set")].largest_gap.value / MM


@computes("sheet-lap")
def _sheet_lap(row: Inputs) -> float:
    """Lap of a membrane [mm]."""
    return shelf().find(Membrane, row.text("good")).lap.value / MM
