"""An hourly year from monthly normals, the same for the same seed.

Temperature = area-matching curve through the monthly means + mean-day shape (Erbs, Klein and Beckman 1983,
ASHRAE J. 25(6):60, eq. 8) + red noise. The usual way draws daily means by a first-order autoregression
(Richardson 1981, Water Resour. Res. 17:182) and lays hours between them; at the 99.6 % temperature that is
3 K too mild. What is done about the cold tail:
- The noise runs hour by hour, as a second-order process, so that the hours spread more than their daily
  means. Its long time is 50 h in winter and 22 h in summer: cold spells last longer than warm ones.
- A spread that was fitted within months belongs to months whose own mean is taken out and whose trend is
  still in. The endless process is wider by what a month loses, and narrower by the trend.
- Air near 0 C over melting snow is held up on its warm side: months about -4 C are skewed to the cold.
- Where the code names a cold, the winter's spread can be stretched until the year meets it.
Sun follows a daily clearness tied to the temperature (clear is cold in winter and warm in summer) and an
hourly one (Graham and Hollands 1990, Solar Energy 44:333, spread from memory), the day's course after
Collares-Pereira and Rabl 1979 (Solar Energy 22:155). Dew point follows the temperature. Monthly means of
temperature, vapour pressure, sun and wind are those of the normals; docs/climate.md shows what is left.
Not generated: rain, wind direction, wind tied to weather, pressure changes, differences between years. North
of the trees it is too cold by up to 10 K without a code temperature. Time is mean solar time.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import gamma
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.signal import lfilter
from scipy.special import ndtr

from warmside.physics import sun
from warmside.physics.air import Array, dew_point, saturation_over_water
from warmside.physics.ground_surface import MONTH_DAYS, by_month
from warmside.physics.weather import (
    HOURS,
    MONTH_OF_HOUR,
    Normals,
    Origin,
    Year,
    ceiling,
    exceeded,
    monthly_means,
    smooth_days,
    standard_pressure,
)

FAST, WINTER, SUMMER = 0.6, 50.0, 22.0
"""Times of the red noise, fitted to the variograms of seven typical years from 1 to 72 h: short and long from
November to March, long from May to September [h]."""
SPIN_UP = 720
_SHAPE = ((0.4632, 3.805), (0.0984, 0.360), (0.0168, 0.822), (0.0138, 3.513))
"""Amplitude and phase of the mean day's harmonics; Erbs, Klein and Beckman 1983, eq. 8."""
SKEW_AT: Final = (-12.0, -4.0, 4.0)
"""Monthly mean temperatures between which the skewness runs straight [C]."""
SKEW: Final = (0.0, -0.4, 0.0)
"""Skewness of the hours there: ridge fit to the 99.6 % temperatures of 302 stations, drawn towards what seven
typical years have (-0.1 from -10 to 0 C) [-]."""
COLDEST = -56.0
"""Towards which hours under -50 C are bent, so that no place leaves the range of the vapour formulas [C]."""
CLEARNESS_SPREAD = 0.15
"""Spread of the daily clearness index, mean of seven stations over the seasons [-]."""
_DAYS = np.arange(365) + 0.5
_WINTER = np.cos(2 * np.pi * (_DAYS - 15.0) / 365.0)
"""Cosine of the year, 1 in the middle of January, for each day [-]."""


def spread_of_days(normals: Normals) -> Array:
    """Spread of daily mean temperatures within each month, fitted on 302 cold stations [K].

    Daily greatest less least temperature, the month's mean and the spread of the twelve means tell it. Under
    -20 C, where hardly a station was, it is not continued: arctic months vary less, not more.
    """
    swing = normals.tmax - normals.tmin
    spread = (
        2.453
        - 0.114 * np.maximum(normals.tmean, -20.0)
        + 0.232 * float(np.std(normals.tmean))
        + 0.069 * swing
    )
    return np.maximum(spread, 0.8)


def correlation(lags: npt.ArrayLike, slow: float) -> Array:
    """Correlation of the red noise over so many hours [-].

    lags : hours apart [h]
    slow : time of the slow part [h]
    """
    hours = np.asarray(lags, float)
    return np.asarray((slow * np.exp(-hours / slow) - FAST * np.exp(-hours / FAST)) / (slow - FAST))


def variance_of_mean(hours: int, slow: float) -> float:
    """Variance of the mean over so many hours, of noise with variance 1 [-].

    hours : in the mean
    slow : time of the slow part [h]
    """
    lags = np.arange(1.0, hours)
    return float((hours + 2.0 * (correlation(lags, slow) * (hours - lags)).sum()) / hours**2)


def widening(slow: float) -> float:
    """Spread of the hours of the endless noise over that of daily means within a month [-].

    slow : time of the slow part [h]
    """
    return float((variance_of_mean(24, slow) - variance_of_mean(730, slow)) ** -0.5)


def red_noise(source: np.random.Generator) -> tuple[Array, Array]:
    """A year of hours of noise with mean 0 and variance 1, and its widening.

    Slow in winter, quicker in summer: two rows mixed by season, their variances adding to 1.
    """
    winter = (1.0 + _season()) / 2.0
    rows = [_process(source, slow) for slow in (WINTER, SUMMER)]
    noise = np.sqrt(winter) * rows[0] + np.sqrt(1.0 - winter) * rows[1]
    return noise, winter * widening(WINTER) + (1.0 - winter) * widening(SUMMER)


def _process(source: np.random.Generator, slow: float) -> Array:
    """Second-order autoregression with the two times, mean 0 and variance 1 [-]."""
    p, q = float(np.exp(-1.0 / slow)), float(np.exp(-1.0 / FAST))
    row = lfilter([1.0], [1.0, -p - q, p * q], source.standard_normal(HOURS + SPIN_UP))[SPIN_UP:]
    return np.asarray(row / ((1 + p * q) / ((1 - p * q) * (1 - p**2) * (1 - q**2))) ** 0.5)


def _follows(source: np.random.Generator, steps: int, memory: float) -> Array:
    """First-order autoregression with mean 0 and variance 1 [-]."""
    row = lfilter([(1 - memory**2) ** 0.5], [1.0, -memory], source.standard_normal(steps + SPIN_UP))
    return np.asarray(row[SPIN_UP:])


def _hourly(daily: Array) -> Array:
    """Days to hours, straight between noons [unit of the values]."""
    middle = np.arange(365) * 24.0 + 12.0
    return np.asarray(np.interp(np.arange(HOURS) + 0.5, middle, daily, period=HOURS))


def _season() -> Array:
    """Cosine of the year for each hour [-]."""
    return np.asarray(np.repeat(_WINTER, 24))


def skewed(noise: Array, skewness: Array) -> Array:
    """Noise with variance 1 and a small skewness, by the quadratic of Cornish and Fisher [-].

    noise : normal, variance 1 [-]
    skewness : wanted, to about 0.6 either way [-]
    """
    a = skewness / 6.0
    return np.asarray((noise + a * (noise**2 - 1.0)) / np.sqrt(1.0 + 2.0 * a**2))


def mean_day() -> Array:
    """Course of a mean day over 24 hour middles, from greatest to least 1, mean 0 [-]."""
    t = 2 * np.pi * (np.arange(24) + 0.5 - 1.0) / 24.0
    course = sum(size * np.cos(k * t - phase) for k, (size, phase) in enumerate(_SHAPE, start=1))
    course = np.asarray(course) - np.mean(course)
    return np.asarray(course / (course.max() - course.min()))


def _to_means(hourly: Array, monthly: Array) -> Array:
    """Hours moved by a smooth curve so that their monthly means are as wanted [unit of the values]."""
    return np.asarray(hourly + np.repeat(smooth_days(monthly - monthly_means(hourly)), 24))


# Temperature


def _temperature(
    normals: Normals, noise: Array, widening: Array, clearness: Array, stretch: float = 1.0
) -> Array:
    """Hours of the year; `stretch` widens the winter [C]."""
    level = np.repeat(smooth_days(normals.tmean), 24)
    trend = monthly_means(level**2) - monthly_means(level) ** 2
    days = np.sqrt(np.maximum(spread_of_days(normals) ** 2 - trend, 0.64))
    spread = np.repeat(smooth_days(days) * (1.0 + (stretch - 1.0) * (1.0 + _WINTER) / 2.0), 24) * widening
    anomaly = spread * skewed(noise, np.interp(level, SKEW_AT, SKEW))
    clear = np.repeat(clearness / np.repeat(_by_month_mean(clearness), MONTH_DAYS), 24)
    course = np.tile(mean_day(), 365) * np.maximum(1.0 + 0.8 * (clear - 1.0), 0.2)
    base = _hourly(smooth_days(normals.tmean)) + anomaly
    swing = np.maximum(-2.92 + 1.05 * (normals.tmax - normals.tmin), 0.5)
    for _ in range(2):
        hours = base + course * np.repeat(swing, 24 * np.array(MONTH_DAYS))
        swing = np.maximum(swing + (normals.tmax - normals.tmin) - _mean_range(hours), 0.0)
    hours = base + course * np.repeat(swing, 24 * np.array(MONTH_DAYS))
    for _ in range(3 if hours.min() < -50.0 else 1):
        hours = _to_means(_floored(hours), normals.tmean)
    return np.asarray(hours)


def _floored(hours: Array) -> Array:
    """Hours under -50 C bent towards the coldest [C]."""
    room = -50.0 - COLDEST
    return np.where(hours < -50.0, -50.0 - room * (1.0 - np.exp((hours + 50.0) / room)), hours)


def _by_month_mean(daily: Array) -> Array:
    return monthly_means(np.repeat(daily, 24))


def _mean_range(hours: Array) -> Array:
    """Mean daily greatest less least of each month [unit of the values]."""
    days = hours.reshape(365, 24)
    return _by_month_mean(days.max(axis=1) - days.min(axis=1))


# Sun


@dataclass(frozen=True, eq=False)
class _Sky:
    """What sets the sun of a place: its path, the sum of each day, and the clearness of each day."""

    path: sun.Sun
    day_sum: Array
    clearness: Array


def _sky(normals: Normals, noise: Array, source: np.random.Generator) -> _Sky:
    path = sun.sun_at(normals.latitude, normals.longitude, normals.longitude / 15.0)
    day_sum = path.horizontal.reshape(365, 24).sum(axis=1)
    possible = _by_month_mean(day_sum)
    mean = np.clip(24.0 * normals.ghi / np.maximum(possible, 1.0), 0.05, 0.8)
    tie = -0.08 - 0.36 * _WINTER
    drawn = tie * noise.reshape(365, 24).mean(axis=1) + np.sqrt(1.0 - tie**2) * _follows(source, 365, 0.2)
    clearness = np.repeat(mean, MONTH_DAYS) + CLEARNESS_SPREAD * drawn
    return _Sky(path, day_sum, np.clip(clearness, 0.05, 0.80))


def _ghi(normals: Normals, sky: _Sky, source: np.random.Generator) -> Array:
    """Horizontal sun with the monthly means of the normals [W/m2]."""
    late = np.sin(np.repeat(_sunset(normals.latitude), 24) - np.pi / 3)
    course = 0.409 + 0.5016 * late + (0.6609 - 0.4767 * late) * np.cos(sky.path.hour_angle)
    shape = np.maximum(sky.path.horizontal * course, 0.0)
    day = np.maximum(shape.reshape(365, 24).sum(axis=1), 1e-9)
    clear = np.repeat(sky.clearness, 24)
    smooth = shape * np.repeat(sky.clearness * sky.day_sum / day, 24)
    flicker = 0.16 * np.sin(np.pi * clear / 0.90) * _follows(source, HOURS, 0.54)
    least, most = 0.02 * sky.path.horizontal, 0.82 * sky.path.horizontal
    hours = smooth + flicker * sky.path.horizontal
    for _ in range(3):
        hours = _scaled(np.clip(hours, least, most), normals.ghi)
    return np.asarray(hours)


def _sunset(latitude: float) -> Array:
    """Hour angle at sunset of each day [rad]."""
    tilt = sun.declination(24.0 * _DAYS)
    return np.asarray(np.arccos(np.clip(-np.tan(np.radians(latitude)) * np.tan(tilt), -1.0, 1.0)))


def _scaled(hours: Array, monthly: Array) -> Array:
    """Hours scaled month by month to the wanted means; a month of zeros stays so [unit of the values]."""
    found = monthly_means(hours)
    factor = np.where(found > 0, monthly / np.where(found > 0, found, 1.0), 0.0)
    return np.asarray(hours * by_month(factor))


# Vapour and wind


def _vapour(normals: Normals, temperature: Array, source: np.random.Generator) -> Array:
    """Vapour pressure with the monthly means of the normals, as far as the air can hold them [Pa].

    Dew point moves 1.06 K with each kelvin in January and 0.42 in July; its own spread is 0.55 of the mean
    dew point depression (seven stations).
    """
    season = _season()
    dew = dew_point(normals.vapour_pressure)
    anomaly = temperature - _hourly(smooth_days(normals.tmean))
    days = np.repeat(anomaly.reshape(365, 24).mean(axis=1), 24)
    own = 0.55 * np.clip(normals.tmean - dew, 0.5, 8.0)
    follow = (0.74 + 0.32 * season) * days + (0.13 + 0.13 * season) * (anomaly - days)
    noise = np.repeat(own, 24 * np.array(MONTH_DAYS)) * _follows(source, HOURS, 0.94)
    drawn = saturation_over_water(np.clip(np.repeat(smooth_days(dew), 24) + follow + noise, -59.0, 45.0))
    over_ice, over_water = ceiling(temperature, 1.05), saturation_over_water(temperature)
    damp = normals.vapour_pressure > 0.93 * monthly_means(over_ice)
    return _held(drawn, np.where(damp[MONTH_OF_HOUR], over_water, over_ice), normals.vapour_pressure)


def _held(drawn: Array, most: Array, monthly: Array) -> Array:
    """The drawn vapour times one factor a month, bent under what the air holds, at the monthly means [Pa]."""
    low, high = np.full(12, 0.0), np.full(12, 50.0)
    for _ in range(50):
        middle = 0.5 * (low + high)
        short = monthly_means(_bent(drawn * middle[MONTH_OF_HOUR], most)) < monthly
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return _bent(drawn * high[MONTH_OF_HOUR], most)


def _bent(vapour: Array, most: Array) -> Array:
    """Vapour that comes near saturation but not over it: straight to 0.85, then bent [Pa]."""
    over = np.maximum(vapour / most - 0.85, 0.0)
    return np.asarray(np.where(over > 0, most * (0.85 + 0.15 * (1.0 - np.exp(-over / 0.15))), vapour))


def _wind(normals: Normals, source: np.random.Generator) -> Array:
    """Wind speed, Rayleigh distributed, with the monthly means of the normals [m/s]."""
    chance = np.minimum(ndtr(_follows(source, HOURS, 0.93)), 1.0 - 1e-9)
    return _scaled(np.sqrt(-np.log1p(-chance)) / gamma(1.5), normals.wind)


# The year


@dataclass(frozen=True)
class Cold:
    """How cold the year shall be: the temperature that a share of the hours of some months exceeds.

    temperature : such as the January 2.5 % value of the code [C]
    share : of the hours that are warmer, 0.975 for a 2.5 % value [-]
    months : that count, 0 for January
    """

    temperature: float
    share: float = 0.975
    months: tuple[int, ...] = (0,)

    def of(self, temperature: Array) -> float:
        """The same statistic of a year of hours [C].

        temperature : 8760 hours [C]
        """
        return exceeded(temperature, self.share, self.months)


USUAL_COLD = Cold(0.0, 0.996, tuple(range(12)))
"""By what years are ranked where no cold is asked for: 99.6 % of the year."""
STRETCH = (0.5, 1.6)
"""Least and most that the winter's spread is stretched to meet a code temperature [-]."""


@dataclass(frozen=True, eq=False)
class _Drawn:
    """What is drawn first: noise, its widening, clearness, and the source for the rest."""

    normals: Normals
    noise: Array
    widening: Array
    sky: _Sky
    source: np.random.Generator

    def temperature(self, stretch: float = 1.0) -> Array:
        """Hours of the year [C].

        stretch : of the winter's spread [-]
        """
        return _temperature(self.normals, self.noise, self.widening, self.sky.clearness, stretch)


def temperatures(normals: Normals, seed: int = 1) -> Array:
    """Only the temperatures of a generated year, for statistics over many [C].

    normals : of the place
    seed : of the random draws
    """
    return _draw(normals, seed).temperature()


def _draw(normals: Normals, seed: int) -> _Drawn:
    source = np.random.Generator(np.random.PCG64(seed))
    noise, wide = red_noise(source)
    return _Drawn(normals, noise, wide, _sky(normals, noise, source), source)


def _stretch(drawn: _Drawn, cold: Cold) -> float:
    """Stretch of the winter's spread with which the year is as cold as asked, or the nearest limit [-]."""

    def off(stretch: float) -> float:
        return cold.of(drawn.temperature(stretch)) - cold.temperature

    low, high = STRETCH
    if off(low) < 0:
        return low
    if off(high) > 0:
        return high
    return float(brentq(off, low, high, xtol=1e-3, maxiter=30))


def ranked(
    normals: Normals, share: float = 0.5, cold: Cold | None = None, draws: int = 9, seed: int = 1
) -> Year:
    """One of several generated years, by how cold it is; single draws stray by 1 K and more.

    normals : of the place
    share : of the draws that are colder: 0 the coldest, 0.5 the typical year, 1 the mildest [-]
    cold : that the year shall meet, see `generate`
    draws : years to choose from
    seed : of the first of them; `draws` further seeds follow
    """
    seeds = [seed * 1000 + k for k in range(draws)]
    found = [(cold or USUAL_COLD).of(temperatures(normals, one)) for one in seeds]
    return generate(normals, seeds[int(np.argsort(found)[round(share * (draws - 1))])], cold)


def generate(normals: Normals, seed: int = 1, cold: Cold | None = None) -> Year:
    """A year of hours from monthly normals, the same for the same seed.

    normals : of the place
    seed : of the random draws, another year of the same climate for another number
    cold : that the year shall meet by stretching the winter's spread, 0.5 to 1.6 times; None leaves it

    Raises WeatherError where the normals lead out of the bounds of a year.
    """
    drawn = _draw(normals, seed)
    stretch = 1.0 if cold is None else _stretch(drawn, cold)
    temperature, sky, source = drawn.temperature(stretch), drawn.sky, drawn.source
    told = f"generated from monthly normals, seed {seed}, winter spread x {stretch:.2f}"
    ghi = _ghi(normals, sky, source)
    vapour = _vapour(normals, temperature, source)
    dni, dhi = sun.split(ghi, sky.path)
    pressure = np.full(HOURS, standard_pressure(normals.elevation))
    cloud = sun.cloud_of_day(ghi, sky.path)
    longwave = sun.longwave_down(temperature, vapour, cloud, np.arange(HOURS) % 24 + 0.5, pressure)
    names = ("temperature", "vapour_pressure", "wind", "pressure", "ghi", "dni", "dhi", "longwave")
    return Year(
        name=normals.name,
        latitude=normals.latitude,
        longitude=normals.longitude,
        elevation=normals.elevation,
        zone=normals.longitude / 15.0,
        temperature=temperature,
        vapour_pressure=vapour,
        wind=_wind(normals, source),
        pressure=pressure,
        ghi=ghi,
        dni=dni,
        dhi=dhi,
        longwave=longwave,
        origin=dict.fromkeys(names, Origin.GENERATED),
        source=normals.source,
        notes=(told, *_dry(normals, vapour)),
    )


def _dry(normals: Normals, vapour: Array) -> tuple[str, ...]:
    """A note where cold air can't hold the vapour of the normals."""
    short = 1.0 - monthly_means(vapour) / normals.vapour_pressure
    if short.max() < 0.01:
        return ()
    months, most = int((short >= 0.01).sum()), 100 * float(short.max())
    return (f"vapour is below its normal in {months} months, by up to {most:.0f} %: air can't hold it",)
