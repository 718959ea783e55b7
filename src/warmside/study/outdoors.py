"""What drives a basement from outside: air, faces in the sun, the ground's surface, and air through the rim.

Exposed concrete and rim take sun and lose long waves to half a sky by the way they face; nothing shades them.
The ground's surface is run bare and under snow, as it is far from the house. Air: stack effect alone through
rim, upper walls and ceiling in balance month by month; wind is left out, so the flows are on the low side.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from warmside.physics import sun
from warmside.physics.air import KELVIN, NoBalanceError, Opening, leakage
from warmside.physics.conduction import Numbers
from warmside.physics.grid import Array
from warmside.physics.ground_rules import Soil
from warmside.physics.ground_surface import surface_year
from warmside.physics.resistance import OUTSIDE_SURFACE
from warmside.physics.snow import Snow, ground_months
from warmside.physics.weather import Year, monthly_means
from warmside.study.ground_job import waves
from warmside.study.heat_data import spread, value

AIR_HEAT = 1006.0
"""Heat capacity of air [J/(kg.K)]."""
REFERENCE_PRESSURE = 4.0
"""Pressure at which leakage areas are stated [Pa]."""
AIR_DENSITY = 1.2
"""Of the air that leakage areas are stated for [kg/m3]."""
CM2 = 1e-4
"""[m2]"""


class Cover(Enum):
    """What lies on the ground in winter."""

    BARE = "bare"
    SNOW = "snow"


@dataclass(frozen=True, eq=False)
class WeatherInputs:
    """The weather of a house.

    year : hours
    snow : of an ordinary winter; None where not known
    precipitation : of each month [kg/m2]
    design : outdoor temperature of the code for this place; None where no table has it [C]
    place : the listed place, or the file, that the weather is of
    estimated : whether the design temperature is an estimate from normals
    warming : how much warmer recent years are than this one, for savings [K]
    """

    year: Year
    snow: Snow | None
    precipitation: Array
    design: float | None
    place: str
    estimated: bool = False
    warming: float = 0.0

    @property
    def recent(self) -> WeatherInputs:
        """The weather of recent years."""
        return replace(self, year=self.year.warmer(self.warming), warming=0.0) if self.warming else self

    @property
    def covers(self) -> tuple[Cover, ...]:
        """The covers that can be run."""
        return (Cover.BARE,) if self.snow is None else (Cover.BARE, Cover.SNOW)

    @property
    def air(self) -> Numbers:
        """Waves of the air [C]."""
        return waves(self.year.temperature)

    @property
    def air_months(self) -> Array:
        """Mean of the air in each month [C]."""
        return monthly_means(self.year.temperature)


_COMPASS = (0.0, 90.0, 180.0, 270.0)


def face_waves(weather: WeatherInputs, bearing: float | None) -> Numbers:
    """Waves of the air temperature that alone would load a face like air, sun and sky [C].

    weather : of the house
    bearing : that the face looks; None takes the mean of all four sides [deg]
    """
    year = weather.year
    ways = _COMPASS if bearing is None else (bearing,)
    falls = sum((sun.on_face(year.dni, year.dhi, year.ghi, year.sun, way) for way in ways), np.zeros(8760))
    black = sun.STEFAN_BOLTZMANN * (year.temperature + KELVIN) ** 4
    lost = value("outside", "emits") * value("outside", "sees_sky") * (black - year.longwave)
    gain = value("outside", "absorbs") * falls / len(ways) - lost
    return waves(year.temperature + OUTSIDE_SURFACE * gain)


def sheltered_waves(weather: WeatherInputs, indoors: float) -> Numbers:
    """Waves of the air in unheated space beside a wall [C].

    weather : of the house
    indoors : temperature upstairs [C]
    """
    share = value("outside", "beside_unheated")
    found = share * weather.air
    found[0] += (1.0 - share) * indoors
    return found


def surface_waves(weather: WeatherInputs, soil: Soil, cover: Cover) -> Numbers:
    """Waves of the ground's surface under its cover [C].

    weather : of the house
    soil : below the surface
    cover : in winter
    """
    snow = weather.snow if cover is Cover.SNOW else None
    months = ground_months(weather.year, snow, weather.precipitation)
    drive = _daily(months.equivalent(weather.year.temperature))
    return waves(surface_year(drive, _daily(months.resistance), soil))


def _daily(hours: Array) -> Array:
    return np.asarray(hours.reshape(365, 24).mean(axis=1))


def heated_share(weather: WeatherInputs) -> Array:
    """Share of the days of each month on which the house is heated [-]."""
    days = _daily(weather.year.temperature) < value("season", "heated_under")
    return monthly_means(np.repeat(days, 24).astype(float))


# Air at the rim


@dataclass(frozen=True)
class Leaks:
    """Leakage areas of a house at 4 Pa.

    rim : per metre of rim [m2/m]
    rest : of the house above the basement [m2]
    """

    rim: float
    rest: float


def crack(height: float, area: float) -> Opening:
    """The opening of a leakage area at 4 Pa.

    height : above the rim [m]
    area : [m2]
    """
    exponent = value("air", "exponent")
    flow = area * (2.0 * REFERENCE_PRESSURE / AIR_DENSITY) ** 0.5
    return Opening(height, flow / REFERENCE_PRESSURE**exponent, exponent)


def infiltration(leaks: Leaks, length: float, storeys: int, inside: float, outside: float) -> float:
    """Air that comes into the house from outdoors by the stack effect [kg/s].

    leaks : of rim and rest; half of the rest lies in the ceiling, half in the middle of the walls
    length : of the rim [m]
    storeys : above the basement
    inside : temperature of the house [C]
    outside : temperature of the air [C]
    """
    if outside >= inside:
        return 0.0
    top = storeys * value("air", "storey")
    openings = [crack(0.0, leaks.rim * length), crack(top / 2, leaks.rest / 2), crack(top, leaks.rest / 2)]
    try:
        return -sum(flow for flow in leakage(openings, inside, outside).flows if flow < 0)
    except NoBalanceError:
        return 0.0


@dataclass(frozen=True, eq=False)
class RimAir:
    """Heat that the air entering because of the rim takes, month by month, as conductance [W/K].

    before, after : likely
    saved : low, likely, high (3, 12)
    """

    before: Array
    after: Array
    saved: Array


def rim_air(months: Array, length: float, storeys: int, inside: float) -> RimAir:
    """Conductance of the air that a leaking rim lets into the house, against a tight rim.

    months : mean outdoor temperature of each [C]
    length : of the rim [m]
    storeys : above the basement
    inside : temperature of the house [C]
    """
    before, after, rest = (spread("air", name) for name in ("rim_before", "rim_after", "rest_of_house"))

    def through(rim: float, other: float) -> Array:
        tight, leaky = Leaks(0.0, other * CM2), Leaks(rim * CM2, other * CM2)
        flows = [
            infiltration(leaky, length, storeys, inside, t) - infiltration(tight, length, storeys, inside, t)
            for t in months.tolist()
        ]
        return AIR_HEAT * np.array(flows)

    likely = through(before.likely, rest.likely), through(after.likely, rest.likely)
    least = through(before.low, rest.low) - through(after.high, rest.low)
    most = through(before.high, rest.high) - through(after.low, rest.high)
    return RimAir(*likely, np.array([np.maximum(least, 0.0), likely[0] - likely[1], most]))
