"""Snow on the ground from monthly normals, and what the ground's surface receives month by month. Estimates.

Snow: the days of a month are spread normally about a smooth curve; precipitation falls as snow in proportion
to the days under 1 C, and degree-days over 0 C melt 2.74 mm of water each (a value often used where nothing
else is known, from memory). Density grows with depth and date (Sturm et al. 2010), conductivity with density:
0.138 - 1.01 r + 3.233 r2 W/(m.K) (Sturm et al. 1997, J. Glaciol. 43:26, r in g/cm3). Wind-blown, trodden,
shovelled and roof snow, rain on snow and chinook are not in it: prairie near mountains has more snow early
and loses it more often than this says, so the ground is always run bare as well.

Surface: sun less long-wave loss less evaporation, at the temperature of the air. Evaporation is 1.26 of the
equilibrium value (Priestley and Taylor 1972, Mon. Weather Rev. 100:81), cut as the soil dries under
three quarters of 150 mm (Manabe 1969, Mon. Weather Rev. 97:739), none under snow. Grass, shade, slope and
freezing are not in it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from warmside.physics.air import KELVIN, Array, saturation_slope
from warmside.physics.ground_surface import MONTH_DAYS, by_month, equivalent_temperature
from warmside.physics.resistance import outside_convection
from warmside.physics.sun import STEFAN_BOLTZMANN
from warmside.physics.synthesis import spread_of_days
from warmside.physics.weather import Normals, WeatherError, Year, monthly_means, smooth_days

MELT = 2.74
"""Water that each degree-day over 0 C melts [kg/(m2.K.d)]."""
SNOW_UNDER = 1.0
"""Daily mean under which precipitation counts as snow; usual value, from memory [C]."""
FRESHEST, DENSEST, BY_DEPTH, BY_DAY = 233.2, 594.0, 0.16, 0.0031
"""Density of prairie snow, from least to most, and how it grows with depth and with the days from 1 January;
Sturm et al. 2010, J. Hydrometeorol. 11:1380, Table 4, from memory [kg/m3, 1/m and 1/d]."""
LATENT = 2.5e6
"""Heat of evaporation near 0 C [J/kg]."""
FIELD_CAPACITY = 150.0
"""Water that the upper soil gives to evaporation; Manabe 1969 [kg/m2]."""
BARE_ALBEDO, SNOW_ALBEDO = 0.20, 0.60
"""Share of the sun that bare ground or grass, and settled snow, throw back; usual values, from memory [-]."""
EMISSIVITY = 0.95
"""Of soil, grass and snow to long waves; usual value, from memory [-]."""
NEAR_GROUND = 0.67
"""Wind at 1 m over wind at 10 m above short grass, logarithmic profile with roughness 0.01 m [-]."""


@dataclass(frozen=True, eq=False)
class Snow:
    """Estimated snow on level open ground, each a row of twelve months.

    water : mean mass of the snow [kg/m2]
    days : on which snow lies [d]
    """

    water: Array
    days: Array

    @property
    def density(self) -> Array:
        """Of the mean snow in the middle of each month, by Sturm et al. 2010 [kg/m3]."""
        middle = np.cumsum(MONTH_DAYS) - np.array(MONTH_DAYS) / 2.0
        day = np.where(middle > 212.0, middle - 365.0, middle)
        density = np.full(12, FRESHEST)
        for _ in range(20):
            aged = BY_DEPTH * self.water / density + BY_DAY * day
            density = FRESHEST + (DENSEST - FRESHEST) * (1.0 - np.exp(-aged))
        return np.asarray(np.clip(density, 156.0, DENSEST))

    @property
    def depth(self) -> Array:
        """Mean depth [m]."""
        return np.asarray(self.water / self.density)

    @property
    def share(self) -> Array:
        """Share of the days on which snow lies [-]."""
        return np.asarray(self.days / np.array(MONTH_DAYS))

    @property
    def resistance(self) -> Array:
        """Thermal resistance of the mean depth [m2.K/W]."""
        return np.asarray(self.depth / snow_conductivity(self.density))


def snow_conductivity(density: npt.ArrayLike) -> Array:
    """Effective conductivity of seasonal snow; Sturm et al. 1997, eq. 4 [W/(m.K)].

    density : 156 to 600 [kg/m3]

    Raises WeatherError.
    """
    heavy = np.asarray(density, float) / 1000.0
    if not ((heavy >= 0.156) & (heavy <= 0.6)).all():
        raise WeatherError(f"snow of {density!r} kg/m3: the equation holds from 156 to 600 kg/m3")
    return np.asarray(0.138 - 1.01 * heavy + 3.233 * heavy**2)


def snow_cover(normals: Normals) -> Snow:
    """Snow of an ordinary year from monthly normals, an estimate. Raises WeatherError without rain."""
    if normals.precipitation is None:
        raise WeatherError(f"normals of {normals.name}: no precipitation, so no estimate of snow")
    mean, days = smooth_days(normals.tmean), np.array(MONTH_DAYS)
    spread = np.repeat(spread_of_days(normals), days)
    cold, snowing = ndtr(-mean / spread), ndtr((SNOW_UNDER - mean) / spread)
    bell = np.exp(-0.5 * (mean / spread) ** 2) / np.sqrt(2 * np.pi)
    melt = MELT * (mean * (1.0 - cold) + spread * bell)
    fall = np.repeat(normals.precipitation / days, days) * snowing
    lying = _balance(fall, melt)
    monthly = monthly_means(np.repeat(lying, 24))
    return Snow(monthly, monthly_means(np.repeat(lying > 1.0, 24)) * days)


def _balance(fall: Array, melt: Array) -> Array:
    """Water in the snow day by day, from a summer without snow to the next [kg/m2]."""
    lying = np.zeros(365)
    for day in np.arange(212, 212 + 365) % 365:
        before = 0.0 if day == 212 else lying[day - 1]
        lying[day] = max(before + fall[day] - melt[day], 0.0)
    return lying


@dataclass(frozen=True, eq=False)
class GroundMonths:
    """What the ground's surface receives, each a row of twelve months.

    air : temperature [C]
    sun : taken up [W/m2]
    sky : long waves lost at the temperature of the air [W/m2]
    evaporation : heat that it takes [W/m2]
    film : combined resistance of the surface [m2.K/W]
    snow : resistance of the snow, 0 where bare [m2.K/W]
    """

    air: Array
    sun: Array
    sky: Array
    evaporation: Array
    film: Array
    snow: Array

    @property
    def gain(self) -> Array:
        """Sun taken up less long waves less evaporation [W/m2]."""
        return self.sun - self.sky - self.evaporation

    def equivalent(self, air: Array) -> Array:
        """Hourly air temperature that alone would load the surface like all of it [C].

        air : temperature of the hours [C]
        """
        return equivalent_temperature(air, by_month(self.film * self.gain), 1.0)

    @property
    def resistance(self) -> Array:
        """Film and snow of each hour [m2.K/W]."""
        return by_month(self.film + self.snow)


def ground_months(year: Year, snow: Snow | None, precipitation: npt.ArrayLike) -> GroundMonths:
    """Monthly inputs of the ground's surface, bare or under snow.

    year : hours of air, sun and sky
    snow : None for bare ground all winter
    precipitation : of each month [kg/m2]
    """
    air, share = monthly_means(year.temperature), np.zeros(12) if snow is None else snow.share
    albedo = (1.0 - share) * BARE_ALBEDO + share * SNOW_ALBEDO
    taken = (1.0 - albedo) * monthly_means(year.ghi)
    black = STEFAN_BOLTZMANN * monthly_means((year.temperature + KELVIN) ** 4)
    lost = EMISSIVITY * (black - monthly_means(year.longwave))
    radiant = EMISSIVITY * 4.0 * STEFAN_BOLTZMANN * (air + KELVIN) ** 3
    convective = np.array(
        [outside_convection(float(speed)) for speed in NEAR_GROUND * monthly_means(year.wind)]
    )
    wet = evaporation(air, taken - lost, np.asarray(precipitation, float), share)
    cover = np.zeros(12) if snow is None else snow.resistance
    return GroundMonths(air, taken, lost, wet, 1.0 / (convective + radiant), cover)


def evaporation(air: Array, net: Array, precipitation: Array, covered: Array) -> Array:
    """Heat that evaporation takes from the ground, month by month in a repeating year [W/m2].

    air : temperature [C]
    net : radiation taken up less lost [W/m2]
    precipitation : of the month [kg/m2]
    covered : share of the days under snow [-]
    """
    slope = saturation_slope(air)
    most = 1.26 * np.maximum(net, 0.0) * slope / (slope + 66.0) * (1.0 - covered)
    seconds = 86400.0 * np.array(MONTH_DAYS)
    wish, store = most * seconds / LATENT, FIELD_CAPACITY
    taken = np.zeros(12)
    for step in range(36):
        month = step % 12
        store, taken[month] = _month(store, float(precipitation[month]), float(wish[month]))
    return np.asarray(taken * LATENT / seconds)


def _month(store: float, fall: float, wish: float) -> tuple[float, float]:
    """Water in the soil after a month of thirty steps, and what evaporated [kg/m2]."""
    gone = 0.0
    for _ in range(30):
        store = min(store + fall / 30.0, FIELD_CAPACITY)
        out = min(wish / 30.0 * min(store / (0.75 * FIELD_CAPACITY), 1.0), store)
        store, gone = store - out, gone + out
    return store, gone
