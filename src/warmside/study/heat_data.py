"""Ranges, and the inputs that the study of heat takes where the survey can't tell.

The values stand in data/heat.toml, each with its source and status; `Range` is how a figure that rests on
them is told. A range is an interval of assumed ends, not a distribution: it says nothing of how likely an
end is.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from warmside.job.survey import Fuel, Soil
from warmside.physics import ground_rules


class HeatDataError(LookupError):
    """The table of heat inputs has no such entry."""


@dataclass(frozen=True)
class Range:
    """A figure from its lowest to its highest end."""

    low: float
    likely: float
    high: float

    @staticmethod
    def over(likely: float, others: Iterable[float]) -> Range:
        """The range of a likely value and of all others that were run."""
        values = [likely, *others]
        return Range(min(values), likely, max(values))

    @staticmethod
    def certain(value: float) -> Range:
        """A value without a range."""
        return Range(value, value, value)

    @property
    def ends(self) -> tuple[float, float, float]:
        """Low, likely, high."""
        return self.low, self.likely, self.high

    def map(self, change: Callable[[float], float]) -> Range:
        """Each end changed; a falling change swaps the ends."""
        return Range.over(change(self.likely), (change(self.low), change(self.high)))

    def plus(self, other: Range) -> Range:
        """Both added, low to low and high to high."""
        return Range(self.low + other.low, self.likely + other.likely, self.high + other.high)

    def over_range(self, other: Range) -> Range:
        """The quotient: the highest is high by low. The other must not reach 0."""
        return Range.over(
            self.likely / other.likely,
            (a / b for a in (self.low, self.high) for b in (other.low, other.high)),
        )


@cache
def _table() -> Mapping[str, Any]:
    return tomllib.loads((files("warmside") / "data" / "heat.toml").read_text("utf-8"))


def _entry(*path: str) -> Mapping[str, Any]:
    table: Any = _table()
    for name in path:
        if name not in table:
            raise HeatDataError(f"no {'.'.join(path)} among the heat inputs; there are: {', '.join(table)}")
        table = table[name]
    found: Mapping[str, Any] = table
    return found


def spread(*path: str) -> Range:
    """A range of the table. Raises HeatDataError."""
    entry = _entry(*path)
    return Range(entry["low"], entry["likely"], entry["high"])


def value(*path: str) -> float:
    """A single value of the table. Raises HeatDataError."""
    return float(_entry(*path)["value"])


def provenance(*path: str) -> tuple[str, str]:
    """Id of the source of an entry, and how far it was confirmed. Raises HeatDataError."""
    entry = _entry(*path)
    return str(entry["source"]), str(entry["status"])


@dataclass(frozen=True)
class SoilKind:
    """A kind of soil.

    conductivity : from dry to wet [W/(m.K)]
    capacity : volumetric [J/(m3.K)]
    water : that can freeze [m3/m3]
    heaves : whether freezing lifts what stands in it or clings to it
    """

    conductivity: Range
    capacity: float
    water: float
    heaves: bool

    def at(self, conductivity: float) -> ground_rules.Soil:
        """The soil with one conductivity."""
        return ground_rules.Soil(conductivity, self.capacity)


def soil_kind(name: Soil) -> SoilKind:
    """A kind of soil by its name in the survey."""
    return SoilKind(
        conductivity=spread("soil", name, "conductivity"),
        capacity=value("soil", name, "capacity"),
        water=value("soil", name, "water"),
        heaves=bool(_entry("soil", name)["heaves"]),
    )


def fuel_efficiency(fuel: Fuel) -> Range:
    """Share of the energy bought that becomes heat in the house, of a heating nobody looked at [-]."""
    return spread("fuel", fuel, "efficiency")


def energy_per(fuel: Fuel, unit: str) -> float | None:
    """Energy in one unit of sale of a fuel; None where it is not sold so [kWh]."""
    own, common = _entry("fuel", fuel), _entry("unit")
    entry = own.get(unit) if unit in own else common.get(unit)
    return None if entry is None else float(entry["value"])
