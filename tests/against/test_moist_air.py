"""Moist air against two independent libraries: properties by IAPWS-95, and handbook psychrometrics.

The handbook library holds the Hyland-Wexler equations, up to 0.035 % from IAPWS: at 5.5 % per kelvin that is
0.006 K of wet bulb. The property library treats humid air as a real gas: 0.5 % more vapour, and an
enhancement that differs by 0.05 % between air and dew point, 0.01 K.
"""

import numpy as np
import psychrolib
import pytest
from CoolProp import CoolProp

from warmside.physics import air

psychrolib.SetUnitSystem(psychrolib.SI)

STATES = [(t, rh) for t in (2.0, 10.0, 21.0, 33.0) for rh in (0.2, 0.5, 0.9)]


@pytest.mark.parametrize("t", np.linspace(0.02, 60.0, 13))
def test_saturation_over_water(t: float) -> None:
    expected = CoolProp.PropsSI("P", "T", t + 273.15, "Q", 0, "Water")
    assert float(air.saturation_over_water(t)) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("t", np.linspace(-40.0, 60.0, 21))
def test_saturation_near_the_handbook(t: float) -> None:
    expected = psychrolib.GetSatVapPres(t)
    here = air.saturation_over_water(t) if t > 0.01 else air.saturation_over_ice(t)
    assert float(here) == pytest.approx(expected, rel=3.5e-4)


@pytest.mark.parametrize(("t", "rh"), STATES)
def test_states_near_the_handbook(t: float, rh: float) -> None:
    vapour = psychrolib.GetVapPresFromRelHum(t, rh)
    ratio = psychrolib.GetHumRatioFromVapPres(vapour, 101325.0)
    assert float(air.humidity_ratio(vapour)) == pytest.approx(ratio, rel=2e-5)
    assert float(air.enthalpy(t, ratio)) == pytest.approx(psychrolib.GetMoistAirEnthalpy(t, ratio), abs=1.0)
    assert float(air.specific_volume(t, ratio)) == pytest.approx(
        psychrolib.GetMoistAirVolume(t, ratio, 101325.0), rel=2e-5
    )
    wet = psychrolib.GetTWetBulbFromHumRatio(t, ratio, 101325.0)
    assert float(air.wet_bulb(t, vapour)) == pytest.approx(wet, abs=0.006)


@pytest.mark.parametrize(("t", "rh"), STATES)
def test_states_near_the_real_gas(t: float, rh: float) -> None:
    vapour = float(air.vapour_pressure(t, rh))
    given = ("T", t + 273.15, "R", rh, "P", 101325.0)
    assert float(air.humidity_ratio(vapour)) == pytest.approx(CoolProp.HAPropsSI("W", *given), rel=6e-3)
    if vapour > 611.7:
        dew = CoolProp.HAPropsSI("D", *given) - 273.15
        assert float(air.dew_point(vapour)) == pytest.approx(dew, abs=0.01)
    wet = CoolProp.HAPropsSI("B", *given) - 273.15
    if wet > 0.1:
        assert float(air.wet_bulb(t, vapour)) == pytest.approx(wet, abs=0.02)
