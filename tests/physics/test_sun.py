"""Sun and sky: what the published checks don't cover."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from warmside.physics import sun

LATITUDES = st.floats(0.0, 70.0)
LONGITUDES = st.floats(-170.0, 170.0)


@given(LATITUDES, LONGITUDES)
def test_the_sun_is_south_when_it_is_highest(latitude: float, longitude: float) -> None:
    # North of the tropic the sun culminates in the south; 12 h of solar time by definition of noon.
    where = sun.sun_at(
        max(latitude, 24.0), longitude, round(longitude / 15.0), 24.0 * 79 + np.arange(1440) / 60
    )
    highest = where.height.argmax()
    assert np.degrees(where.azimuth[highest]) == pytest.approx(180.0, abs=1.0)
    assert where.hour_angle[highest] == pytest.approx(0.0, abs=0.01)


@given(LATITUDES, st.floats(0.0, 8759.0))
def test_height_and_azimuth_are_one_direction(latitude: float, hour: float) -> None:
    # The three components of the sun's direction make a vector of length 1 (closed form).
    where = sun.sun_at(latitude, 0.0, 0.0, [hour])
    tilt, phi = sun.declination([hour]), np.radians(latitude)
    across = np.sqrt(1 - where.height**2)
    north = np.cos(phi) * np.sin(tilt) - np.sin(phi) * np.cos(tilt) * np.cos(where.hour_angle)
    assert across * np.cos(where.azimuth) == pytest.approx(north, abs=1e-9)
    assert across * np.sin(where.azimuth) == pytest.approx(-np.cos(tilt) * np.sin(where.hour_angle), abs=1e-9)


def test_mornings_are_east_and_evenings_west() -> None:
    where = sun.sun_at(50.0, 0.0, 0.0, 24.0 * 171 + np.array([6.0, 18.0]))
    assert np.degrees(where.azimuth) == pytest.approx([75.0, 285.0], abs=3.0)


def test_a_clock_one_zone_off_sees_the_same_sun_an_hour_later() -> None:
    hours = np.array([24.0 * 40 + 9.5])
    here, there = sun.sun_at(45.0, -75.0, -5.0, hours), sun.sun_at(45.0, -75.0, -4.0, hours + 1.0)
    assert here.height == pytest.approx(there.height, abs=1e-12)


@given(st.floats(0.0, 1.0), st.integers(0, 8759))
def test_beam_and_diffuse_close_to_the_whole(clearness: float, hour: int) -> None:
    where = sun.sun_at(45.0, -75.0, -5.0, [hour + 0.5])
    whole = clearness * where.horizontal
    beam, diffuse = sun.split(whole, where)
    assert beam * np.maximum(where.height, 0) + diffuse == pytest.approx(whole, abs=1e-9)
    assert (beam >= 0).all()
    assert (diffuse >= -1e-9).all()


def test_opposite_walls_share_the_sky_and_never_the_beam() -> None:
    where = sun.sun_at(45.0, -75.0, -5.0)
    beam = np.full(8760, 700.0)
    none = np.zeros(8760)
    north, south = (sun.on_face(beam, none, none, where, angle) for angle in (0.0, 180.0))
    assert (np.minimum(north, south) == 0).all()
    assert south.sum() > 3 * north.sum()


def test_a_facing_that_is_none_is_named_with_the_eight() -> None:
    assert [sun.bearing(name) for name in ("N", "E", "SW")] == [0.0, 90.0, 225.0]
    with pytest.raises(sun.FacingError, match="'north' is no facing; there are: N, NE, E, SE, S, SW, W, NW"):
        sun.bearing("north")


def test_sky_temperature_is_the_inverse_of_its_radiation() -> None:
    # Stefan-Boltzmann: 315.658 W/m2 at 273.15 K (5.670374e-8 x 273.15^4).
    assert sun.sky_temperature(315.6578) == pytest.approx(0.0, abs=1e-3)
    assert sun.longwave_down(0.0, 611.2, 0.0) < sun.longwave_down(0.0, 611.2, 1.0) < 315.66


def test_cloud_follows_the_sun_of_the_day() -> None:
    # Kasten and Czeplak 1980: under a closed sky a quarter of the clear sun is left.
    where = sun.sun_at(50.0, 0.0, 0.0)
    clear = np.maximum(910.0 * where.height - 30.0, 0.0)
    assert sun.cloud_of_day(clear, where) == pytest.approx(0.0, abs=1e-6)
    assert sun.cloud_of_day(0.25 * clear, where) == pytest.approx(1.0, abs=1e-9)
    assert sun.cloud_of_day(0.625 * clear, where) == pytest.approx(0.5 ** (1 / 3.4), abs=1e-9)


def test_polar_night_takes_the_cloud_of_the_days_around() -> None:
    where = sun.sun_at(75.0, 0.0, 0.0)
    cloud = sun.cloud_of_day(0.5 * where.horizontal, where)
    assert np.isfinite(cloud).all()
    assert where.horizontal[: 24 * 20].max() == 0.0
    assert cloud[240] == pytest.approx(np.interp(10, [-30, 40], [cloud[-24 * 40], cloud[24 * 40]]), abs=0.2)
