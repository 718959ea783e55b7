"""Sun and sky over a place: where the sun stands, what falls on a face, what the sky radiates back.

Position after Spencer 1971 (Search 2:172) as printed in Duffie and Beckman, Solar Engineering of Thermal
Processes, eq. 1.4.1b, 1.5.3, 1.6.1b and 1.6.5, with the angle of the year running through the day: within
0.3 degrees, no refraction, a year of 365 days. Horizontal sun is split into beam and diffuse after Erbs,
Klein and Duffie 1982 (Solar Energy 28:293). On a face the sky is taken as evenly bright (Liu and Jordan
1963): a face towards the sun under clear sky gets up to a tenth more. Clear sky radiates after Berdahl and
Martin 1984 (Solar Energy 32:663), clouds after Unsworth and Monteith 1975 (Q. J. R. Meteorol. Soc. 101:13),
cloud from sun after Kasten and Czeplak 1980 (Solar Energy 24:177): a daily estimate, not an observation. No
shade from trees, hills or houses.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from warmside.physics.air import KELVIN, SEA_LEVEL, Array, dew_point

SOLAR_CONSTANT = 1367.0
"""Duffie and Beckman, section 1.2, World Radiation Center [W/m2]."""
STEFAN_BOLTZMANN = 5.670374e-8
"""CODATA 2018 [W/(m2.K4)]."""
MID_HOURS: Final[Array] = np.arange(8760, dtype=np.float64) + 0.5
"""Middle of each hour after New Year's midnight [h]."""
CLEAREST = 0.80
"""Most of the beam that passes clear dry air; Hottel 1976, Solar Energy 18:129, from memory [-]."""
LOWEST_BEAM = 0.02
"""Sine of the altitude under which all sun counts as diffuse [-]."""

FACINGS = {"N": 0.0, "NE": 45.0, "E": 90.0, "SE": 135.0, "S": 180.0, "SW": 225.0, "W": 270.0, "NW": 315.0}
"""Direction that a face looks, clockwise from north [deg]."""


class FacingError(ValueError):
    """A facing was named that is none of the eight."""


def bearing(facing: str) -> float:
    """Clockwise angle from north of one of the eight facings [deg]. Raises FacingError."""
    if facing not in FACINGS:
        raise FacingError(f"{facing!r} is no facing; there are: {', '.join(FACINGS)}")
    return FACINGS[facing]


@dataclass(frozen=True, eq=False)
class Sun:
    """Where the sun stands at a row of moments.

    height : sine of the altitude, negative below the horizon [-]
    azimuth : clockwise from north [rad]
    hour_angle : from solar noon, positive in the afternoon [rad]
    normal : extraterrestrial sun across its rays [W/m2]
    """

    height: Array
    azimuth: Array
    hour_angle: Array
    normal: Array

    @property
    def horizontal(self) -> Array:
        """Extraterrestrial sun on a level face [W/m2]."""
        return self.normal * np.maximum(self.height, 0.0)


def _year_angle(hours: npt.ArrayLike) -> Array:
    """B of Duffie and Beckman eq. 1.4.2, running through the day [rad]."""
    return np.asarray(2 * np.pi * np.asarray(hours, float) / 8760.0)


def declination(hours: npt.ArrayLike) -> Array:
    """Angle between the sun at noon and the equator; Spencer 1971, eq. 1.6.1b [rad].

    hours : since New Year's midnight, universal time [h]
    """
    b = _year_angle(hours)
    first = 0.006918 - 0.399912 * np.cos(b) + 0.070257 * np.sin(b)
    second = -0.006758 * np.cos(2 * b) + 0.000907 * np.sin(2 * b)
    return np.asarray(first + second - 0.002697 * np.cos(3 * b) + 0.00148 * np.sin(3 * b))


def equation_of_time(hours: npt.ArrayLike) -> Array:
    """Solar time less mean solar time; Spencer 1971, eq. 1.5.3 [min].

    hours : since New Year's midnight, universal time [h]
    """
    b = _year_angle(hours)
    first = 0.000075 + 0.001868 * np.cos(b) - 0.032077 * np.sin(b)
    return np.asarray(229.2 * (first - 0.014615 * np.cos(2 * b) - 0.04089 * np.sin(2 * b)))


def extraterrestrial(hours: npt.ArrayLike) -> Array:
    """Sun across its rays above the air; Spencer 1971, eq. 1.4.1b [W/m2].

    hours : since New Year's midnight, universal time [h]
    """
    b = _year_angle(hours)
    ratio = 1.00011 + 0.034221 * np.cos(b) + 0.00128 * np.sin(b)
    return np.asarray(SOLAR_CONSTANT * (ratio + 0.000719 * np.cos(2 * b) + 0.000077 * np.sin(2 * b)))


def sun_at(latitude: float, longitude: float, zone: float, hours: npt.ArrayLike = MID_HOURS) -> Sun:
    """Position of the sun at local standard times.

    latitude : north positive [deg]
    longitude : east positive [deg]
    zone : local standard time less universal time [h]
    hours : since New Year's midnight, the middle of each hour of the year unless given [h]
    """
    times = np.asarray(hours, float)
    universal = times - zone
    solar = universal + longitude / 15.0 + equation_of_time(universal) / 60.0
    angle = np.radians(15.0 * (solar % 24.0 - 12.0))
    tilt, phi = declination(universal), np.radians(latitude)
    height = np.sin(phi) * np.sin(tilt) + np.cos(phi) * np.cos(tilt) * np.cos(angle)
    east = -np.cos(tilt) * np.sin(angle)
    north = np.cos(phi) * np.sin(tilt) - np.sin(phi) * np.cos(tilt) * np.cos(angle)
    return Sun(height, np.arctan2(east, north) % (2 * np.pi), angle, extraterrestrial(universal))


def diffuse_share(clearness: npt.ArrayLike) -> Array:
    """Share of hourly horizontal sun that is diffuse; Erbs, Klein and Duffie 1982 eq. 1 [-].

    clearness : horizontal sun over extraterrestrial horizontal sun [-]
    """
    k = np.asarray(clearness, float)
    middle = 0.9511 - 0.1604 * k + 4.388 * k**2 - 16.638 * k**3 + 12.336 * k**4
    return np.where(k <= 0.22, 1.0 - 0.09 * k, np.where(k <= 0.80, middle, 0.165))


def split(ghi: npt.ArrayLike, sun: Sun) -> tuple[Array, Array]:
    """Beam across the rays and diffuse sky sun of horizontal sun; the two close to it [W/m2].

    ghi : on the level [W/m2]
    sun : position at the same moments
    """
    total = np.asarray(ghi, float)
    high = sun.height > LOWEST_BEAM
    level = np.where(high, sun.height, 1.0)
    share = diffuse_share(total / (sun.normal * level))
    beam = np.where(high, np.minimum((1.0 - share) * total / level, CLEAREST * sun.normal), 0.0)
    return beam, total - beam * np.where(high, sun.height, 0.0)


def incidence(sun: Sun, azimuth: float, tilt: float = 90.0) -> Array:
    """Cosine of the angle between the beam and a face's normal, 0 where the sun is behind or down [-].

    sun : position
    azimuth : that the face looks, clockwise from north [deg]
    tilt : from the level, 90 for a wall [deg]
    """
    slope = np.radians(tilt)
    across = np.sqrt(np.maximum(1.0 - sun.height**2, 0.0)) * np.cos(sun.azimuth - np.radians(azimuth))
    cosine = sun.height * np.cos(slope) + across * np.sin(slope)
    return np.where(sun.height > 0, np.maximum(cosine, 0.0), 0.0)


def on_face(
    dni: npt.ArrayLike,
    dhi: npt.ArrayLike,
    ghi: npt.ArrayLike,
    sun: Sun,
    azimuth: float,
    tilt: float = 90.0,
    albedo: npt.ArrayLike = 0.2,
) -> Array:
    """Sun on a face: beam, even sky, and what the ground throws back; Duffie and Beckman eq. 2.15.1 [W/m2].

    dni : beam across its rays [W/m2]
    dhi : diffuse on the level [W/m2]
    ghi : all sun on the level [W/m2]
    sun : position at the same moments
    azimuth : that the face looks, clockwise from north [deg]
    tilt : from the level, 90 for a wall [deg]
    albedo : share that the ground throws back, 0.2 for bare ground or grass [-]
    """
    sky = (1.0 + np.cos(np.radians(tilt))) / 2.0
    beam = np.asarray(dni, float) * incidence(sun, azimuth, tilt)
    thrown = np.asarray(albedo, float) * np.asarray(ghi, float) * (1.0 - sky)
    return np.asarray(beam + np.asarray(dhi, float) * sky + thrown)


# The sky at night and by day


def clear_emissivity(vapour_pressure: npt.ArrayLike, hour: npt.ArrayLike, pressure: npt.ArrayLike) -> Array:
    """Emissivity of a cloudless sky to the temperature of the air; Berdahl and Martin 1984 [-].

    vapour_pressure : of the air near the ground [Pa]
    hour : of the day [h]
    pressure : barometric [Pa]
    """
    dew = dew_point(np.maximum(np.asarray(vapour_pressure, float), 1.0)) / 100.0
    daily = 0.013 * np.cos(2 * np.pi * np.asarray(hour, float) / 24.0)
    thin = 0.00012 * (np.asarray(pressure, float) / 100.0 - 1000.0)
    return np.asarray(0.711 + 0.56 * dew + 0.73 * dew**2 + daily + thin)


def longwave_down(
    temperature: npt.ArrayLike,
    vapour_pressure: npt.ArrayLike,
    cloud: npt.ArrayLike,
    hour: npt.ArrayLike = 6.0,
    pressure: npt.ArrayLike = SEA_LEVEL,
) -> Array:
    """Long-wave radiation of the sky on a level face; cloud after Unsworth and Monteith 1975 [W/m2].

    temperature : of the air [C]
    vapour_pressure : of the air [Pa]
    cloud : share of the sky that is covered, 0 to 1 [-]
    hour : of the day; at 6 the daily term is zero [h]
    pressure : barometric [Pa]
    """
    cover = 0.84 * np.asarray(cloud, float)
    emissivity = (1.0 - cover) * clear_emissivity(vapour_pressure, hour, pressure) + cover
    return np.asarray(emissivity * STEFAN_BOLTZMANN * (np.asarray(temperature, float) + KELVIN) ** 4)


def sky_temperature(longwave: npt.ArrayLike) -> Array:
    """Temperature of the black sky that radiates this much [C].

    longwave : of the sky on a level face [W/m2]
    """
    return np.asarray((np.asarray(longwave, float) / STEFAN_BOLTZMANN) ** 0.25 - KELVIN)


def cloud_of_day(ghi: npt.ArrayLike, sun: Sun) -> Array:
    """Share of the sky under cloud at each hour of a year, one value a day; Kasten and Czeplak 1980 [-].

    ghi : horizontal sun, 8760 hours [W/m2]
    sun : position at the middle of the hours

    Clear sun is 910 sin(altitude) - 30 W/m2 and cloud takes 0.75 N^3.4 of it. Days with next to no clear sun
    (polar night) take the value of the days around them.
    """
    clear = np.maximum(910.0 * sun.height - 30.0, 0.0).reshape(365, 24).sum(axis=1)
    measured = np.asarray(ghi, float).reshape(365, 24).sum(axis=1)
    lit = np.flatnonzero(clear > 100.0)
    lost = np.clip(1.0 - measured[lit] / clear[lit], 0.0, 0.75)
    cover = np.interp(np.arange(365), lit, (lost / 0.75) ** (1 / 3.4), period=365)
    return np.repeat(cover, 24)
