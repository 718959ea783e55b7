"""What drives a wall: refused where it can't be, and the indoor climates by their published corner points."""

from dataclasses import replace

import numpy as np
import pytest

from warmside.physics.air import saturation_over_water
from warmside.physics.forcing import (
    BadForcingError,
    Forcing,
    HumidityClass,
    MoistureLoad,
    en_15026_room,
    forcing,
    iso_13788_room,
    sol_air,
    steady,
)


def good() -> Forcing:
    return steady(3, (-5.0, 0.8), (20.0, 0.5), room_share=1.0)


def test_humidities_become_pressures() -> None:
    driven = good()
    assert driven.hours == 3
    np.testing.assert_allclose(driven.outdoor_vapour, 0.8 * saturation_over_water(-5.0))
    np.testing.assert_allclose(driven.room_vapour, 0.5 * saturation_over_water(20.0))
    assert driven.outer.tolist() == driven.beside.tolist() == [-5.0] * 4
    assert driven.outdoor_share.tolist() == [0.0] * 4


GAP = np.array([0.0, np.nan, 0.0, 0.0])


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"outer": GAP}, "outer, hour 1: nan; a gap must be filled before"),
        ({"room": np.zeros(3)}, "room has 3 values: want 4, as outer has"),
        ({"outer": np.zeros(1)}, "outer has 1 values"),
        ({"outdoor": np.full(4, -60.0)}, "outdoor, hour 0: -60 C; want -45 to 75 C"),
        ({"room_vapour": np.full(4, 2400.0)}, "room, hour 0: humidity 1.0.*; want over 0 and at most 1"),
        ({"outdoor_vapour": np.zeros(4)}, "outdoor, hour 0: humidity 0.000"),
        ({"wet_share": np.full(4, -0.1)}, "wet_share: below 0 at hour 0"),
    ],
)
def test_what_cannot_drive_a_wall_is_named(wrong: dict[str, np.ndarray], message: str) -> None:
    with pytest.raises(BadForcingError, match=message):
        replace(good(), **wrong)


def test_series_may_be_given_one_by_one() -> None:
    hours = np.arange(3.0)
    driven = forcing(
        hours, np.full(3, 0.7), hours + 20.0, np.full(3, 0.4), outer=hours + 5.0, beside=hours + 8.0
    )
    assert driven.outer.tolist() == [5.0, 6.0, 7.0]
    assert driven.beside.tolist() == [8.0, 9.0, 10.0]


def test_sol_air_balances_air_sun_and_sky() -> None:
    face = sol_air(np.array(10.0), np.array(300.0), np.array(-5.0), 0.6, 15.0, 5.0)
    # Heat to a face at this temperature adds up to nothing.
    assert 15.0 * (10.0 - face) + 5.0 * (-5.0 - face) + 0.6 * 300.0 == pytest.approx(0.0, abs=1e-12)


def test_room_by_en_15026_annex_c() -> None:
    # From memory: 20 C up to 10 C outside, 25 C from 20 C; humidity rises from -10 to 20 C, by 30 points.
    outside = np.array([-20.0, -10.0, 5.0, 10.0, 15.0, 20.0, 30.0])
    temperature, humidity = en_15026_room(outside, MoistureLoad.NORMAL)
    assert temperature.tolist() == [20.0, 20.0, 20.0, 20.0, 22.5, 25.0, 25.0]
    assert humidity == pytest.approx([0.3, 0.3, 0.45, 0.5, 0.55, 0.6, 0.6])
    assert en_15026_room(outside, MoistureLoad.HIGH)[1] == pytest.approx(humidity + 0.1)


def test_room_by_iso_13788_classes() -> None:
    # From memory: 270, 540, 810, 1080 Pa up to 0 C outside, nothing left at 20 C.
    outside, vapour = np.array([-5.0, 0.0, 10.0, 20.0, 25.0]), np.full(5, 600.0)
    found = iso_13788_room(outside, vapour, HumidityClass.DWELLING)
    assert found.tolist() == [1140.0, 1140.0, 870.0, 600.0, 600.0]
    assert [kind.value for kind in HumidityClass] == [270.0, 540.0, 810.0, 1080.0]
