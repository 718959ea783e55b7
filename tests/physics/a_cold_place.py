"""Normals of an invented cold town, for the tests of weather, files and snow."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from warmside.physics.air import saturation_over_water
from warmside.physics.weather import Normals

MEAN = np.array([-15.0, -12.6, -5.3, 2.9, 9.4, 14.2, 17.6, 16.4, 11.2, 5.5, -2.8, -11.6])
RAIN = np.array([31.0, 25, 42, 42, 72, 86, 89, 88, 88, 63, 55, 38])
PLACE = Normals(
    name="Cold Kettle",
    latitude=48.4,
    longitude=-89.3,
    elevation=199.0,
    tmean=MEAN,
    tmax=MEAN + 5.9,
    tmin=MEAN - 6.0,
    vapour_pressure=0.74 * saturation_over_water(MEAN) * np.where(MEAN < 0, 1.15, 1.0),
    wind=np.full(12, 3.8),
    ghi=np.array([54.0, 96, 150, 192, 225, 242, 242, 200, 138, 83, 50, 42]),
    precipitation=RAIN,
)


def moved(kelvin: float) -> Normals:
    """The same place with all temperatures moved."""
    return replace(PLACE, tmean=PLACE.tmean + kelvin, tmax=PLACE.tmax + kelvin, tmin=PLACE.tmin + kelvin)
