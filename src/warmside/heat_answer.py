"""The question "what does it save": weather of the place -> study of heat -> its types in results.json.

Weather comes from the file that the job names, else from the listed place it names, its coordinates, or its
town. Normals of 1961-1990 are taken 1 K warmer for savings. Energy in results.json is in joules, money in
cents, both for a year.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Literal

import numpy as np

from warmside.catalog.climate_tables import ClimateSource
from warmside.catalog.climates import (
    ClimateError,
    Place,
    file_year,
    typical_year,
)
from warmside.catalog.design_values import Definition, design
from warmside.catalog.goods import Model
from warmside.job import survey as asked
from warmside.job.listed_place import listed_place
from warmside.job.resolve import House
from warmside.order.order import Order
from warmside.physics.snow import snow_cover
from warmside.physics.weather import WeatherError, Year
from warmside.physics.weather_files import WeatherFileError
from warmside.say import Figure, Note
from warmside.study.frost_job import Frost, Line
from warmside.study.heat import HeatStudy, State, heat_study
from warmside.study.heat_data import Range
from warmside.study.money import Purchase, Years
from warmside.study.outdoors import WeatherInputs
from warmside.study.r_value import WallWorth
from warmside.study.standard import What, When

OLD_NORMALS = "cru-cl2"
"""Normals of 1961-1990."""
SINCE_THEN = 1.0
"""How much warmer recent years are [K]."""
JOULES = 3.6e6
"""In a kWh [J]."""
DRY = np.zeros(12)


class NoWeatherError(LookupError):
    """No weather can be found for a job; `note` says what to name."""

    def __init__(self, note: Note) -> None:
        super().__init__(note.code)
        self.note = note


class RangeShown(Model):
    """A figure with the ends between which it may lie."""

    likely: Figure
    low: float
    high: float


class YearsShown(Model):
    """How long it takes, from the best to the worst end; null is never [a]."""

    low: float | None
    likely: float | None
    high: float | None


class StateShown(Model):
    """A basement before or after: twelve monthly temperatures [C] and heats by part [J], on heated days."""

    basement: tuple[float, ...]
    parts: dict[str, tuple[float, ...]]
    air: tuple[float, ...]
    total: Figure
    conducted: RangeShown


class SpotShown(Model):
    """The surface of one place on the design day."""

    place: str
    wall: str
    before: Figure
    after: Figure


class LineShown(Model):
    """Depths of the 0 C line beside the wall and far off, and the coldest soil under the footing."""

    beside: Figure
    open: Figure
    under_footing: Figure


class FrostShown(Model):
    """Frost under one ground cover; without latent heat an upper bound."""

    cover: Literal["bare", "snow"]
    footing: Figure
    before: LineShown
    after: LineShown
    frozen_before: LineShown | None
    frozen_after: LineShown | None


class FuelShown(Model):
    """Energy that is not bought: its amount, and what it is in units of sale and money."""

    fuel: str
    energy: RangeShown
    unit: str | None
    units: RangeShown | None
    currency: str | None
    cents: RangeShown | None


class WallBeforeShown(Model):
    """What a wall resists as it was found, from inside film to concrete."""

    wall: str
    resistance: RangeShown


class BesideShown(Model):
    """Floor and wall below the ground by the sections and by ISO 13370, for each of three figures [W/K].

    `steady` is heat per kelvin between indoors and outdoors, the others per kelvin of the year's swing.
    """

    when: When
    what: What
    section: Figure
    standard: Figure


class WhatSaves(Model):
    """What a year saves, where it stays cold, what the frost does; `notes` are codes of sentences.

    `walls_before` are those on which something old counts; the others are bare.
    """

    answered: Literal[True] = True
    climate: str
    ground: Literal["bare", "snow"]
    soil_conductivity: RangeShown
    before: StateShown
    after: StateShown
    saved: RangeShown
    saved_by_conduction: RangeShown
    saved_at_the_rim: RangeShown
    saved_at_same_temperature: RangeShown
    fuel: FuelShown | None
    payback: YearsShown | None
    payback_with_interest: YearsShown | None
    design_temperature: Figure
    cold_places: tuple[SpotShown, ...]
    falling_air_before: Figure
    falling_air_after: Figure
    frost: tuple[FrostShown, ...]
    needs: tuple[str, ...]
    notes: tuple[str, ...]
    walls_before: tuple[WallBeforeShown, ...] = ()
    beside_iso_13370: tuple[BesideShown, ...] = ()


# Weather


def weather_inputs(place: asked.Place, folder: Path | None = None) -> WeatherInputs:
    """The weather of a job.

    place : where the house stands, as surveyed
    folder : of the job, for its weather file

    Raises NoWeatherError.
    """
    try:
        if place.weather_file is not None and folder is not None:
            return _of_file(folder / place.weather_file)
        return _of_place(listed_place(place))
    except (ClimateError, WeatherError, WeatherFileError) as fault:
        raise NoWeatherError(Note("warning.no_weather", {"why": str(fault)})) from fault


def weather_source(place: asked.Place) -> ClimateSource | None:
    """Where the normals of a job's place come from; None where a file is named or no place is found."""
    try:
        return None if place.weather_file is not None else listed_place(place).source
    except ClimateError:
        return None


@lru_cache(maxsize=8)
def _typical(station: str, place: Place) -> Year:
    return typical_year(place)


def _of_place(place: Place) -> WeatherInputs:
    normals, cold = place.normals, design(place).governing
    rain = normals.precipitation
    return WeatherInputs(
        year=_typical(place.station.id, place),
        snow=None if rain is None else snow_cover(normals),
        precipitation=DRY if rain is None else rain,
        design=cold.temperature,
        place=place.title,
        estimated=cold.definition is Definition.ESTIMATE,
        warming=SINCE_THEN if place.station.source == OLD_NORMALS else 0.0,
    )


def _of_file(path: Path) -> WeatherInputs:
    year, place = file_year(path)
    if place is None:
        return WeatherInputs(year, None, DRY, None, path.name)
    near = _of_place(place)
    return WeatherInputs(year, near.snow, near.precipitation, near.design, path.name, near.estimated)


# The answer


def study(
    house: House,
    worths: Mapping[str, WallWorth],
    order: Order,
    weather: WeatherInputs,
    stricter: tuple[House, Mapping[str, WallWorth]] | None = None,
) -> HeatStudy:
    """The study of heat of a job with its order. Raises NothingToComputeError."""
    purchase = Purchase(order.total, order.currency, order.complete)
    return heat_study(house, worths, weather, purchase, stricter)


def what_saves(house: House, found: HeatStudy) -> WhatSaves:
    """The types of results.json for a study."""
    return _Shower(house).all(found)


def _years(found: Years | None) -> YearsShown | None:
    return None if found is None else YearsShown(low=found.low, likely=found.likely, high=found.high)


class _Shower:
    """Turns figures of a study into those of results.json, at the level of the house."""

    def __init__(self, house: House) -> None:
        self.level = house.level

    def figure(self, value: float | None, unit: str, method: str, *needs: str) -> Figure:
        return Figure(value=value, unit=unit, method=method, level=self.level, needs=needs)

    def range(self, ends: Range, unit: str, method: str, factor: float = 1.0) -> RangeShown:
        likely = self.figure(ends.likely * factor, unit, method)
        return RangeShown(likely=likely, low=ends.low * factor, high=ends.high * factor)

    def energy(
        self, ends: Range, method: str = "section through wall and soil, waves of the year"
    ) -> RangeShown:
        return self.range(ends, "J", method, JOULES)

    def state(self, state: State) -> StateShown:
        return StateShown(
            basement=state.basement,
            parts={name: tuple(kwh * JOULES for kwh in row) for name, row in state.parts.items()},
            air=tuple(kwh * JOULES for kwh in state.air),
            total=self.figure(state.total * JOULES, "J", "sum of the months"),
            conducted=self.energy(state.conducted),
        )

    def line(self, line: Line) -> LineShown:
        method = "section through wall and soil, coldest of the year"
        beside, far = (self.figure(depth, "m", method) for depth in (line.beside, line.open))
        return LineShown(beside=beside, open=far, under_footing=self.figure(line.under_footing, "C", method))

    def frost(self, frost: Frost) -> FrostShown:
        frozen = [
            None if one is None else self.line(one) for one in (frost.frozen_before, frost.frozen_after)
        ]
        return FrostShown(
            cover=frost.cover,
            footing=self.figure(frost.footing, "m", "survey"),
            before=self.line(frost.before),
            after=self.line(frost.after),
            frozen_before=frozen[0],
            frozen_after=frozen[1],
        )

    def fuel(self, found: HeatStudy) -> FuelShown | None:
        fuel, money = found.fuel, found.money
        if fuel is None:
            return None
        units = (
            None
            if fuel.units is None
            else self.range(fuel.units, fuel.unit or "", "energy content of the fuel")
        )
        return FuelShown(
            fuel=fuel.fuel,
            energy=self.energy(fuel.energy, "heat over efficiency"),
            unit=fuel.unit,
            units=units,
            currency=money.currency if money else None,
            cents=self.range(money.cents, "cents", "the survey's price") if money else None,
        )

    def all(self, found: HeatStudy) -> WhatSaves:
        cold, edge, money = found.design, found.draught, found.money
        needs = () if cold else ("place.design_temperature",)
        temperature = self.figure(cold.temperature if cold else None, "C", "code temperature", *needs)
        speeds = edge.speed if edge else (None, None)
        before, after = (self.figure(v, "m/s", "air falling along a cold wall", *needs) for v in speeds)
        steady = "outdoors held at the design temperature"
        return WhatSaves(
            climate=found.place,
            ground=found.cover.value,
            soil_conductivity=self.range(found.soil, "W/(m.K)", "kind of soil"),
            before=self.state(found.before),
            after=self.state(found.after),
            saved=self.energy(found.saved.total),
            saved_by_conduction=self.energy(found.saved.conducted),
            saved_at_the_rim=self.energy(found.saved.air, "stack effect through leakage areas"),
            saved_at_same_temperature=self.energy(found.saved.same_temperature),
            fuel=self.fuel(found),
            payback=_years(money.payback if money else None),
            payback_with_interest=_years(money.discounted if money else None),
            design_temperature=temperature,
            cold_places=tuple(
                SpotShown(
                    place=spot.place,
                    wall=spot.wall,
                    before=self.figure(spot.before, "C", steady),
                    after=self.figure(spot.after, "C", steady),
                )
                for spot in found.spots
            ),
            falling_air_before=before,
            falling_air_after=after,
            frost=tuple(self.frost(frost) for frost in found.frost),
            needs=(*found.needs, *needs),
            notes=tuple(note.code for note in found.notes),
            walls_before=tuple(
                WallBeforeShown(
                    wall=old.wall, resistance=self.range(old.whole, "m2.K/W", "survey, or the trade's")
                )
                for old in found.walls_before
            ),
            beside_iso_13370=tuple(
                BesideShown(
                    when=each.when,
                    what=each.what,
                    section=self.figure(each.section, "W/K", "section through wall and soil"),
                    standard=self.figure(each.standard, "W/K", "ISO 13370:2007, equations 2 to 15, annex B"),
                )
                for each in found.standard
            ),
        )
