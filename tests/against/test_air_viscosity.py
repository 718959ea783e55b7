"""Viscosity of air against the equation of state of CoolProp, -30 to 40 C."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI

from warmside.physics.batts import air_viscosity


@pytest.mark.parametrize("celsius", [-30.0, 0.0, 20.0, 40.0])
def test_viscosity_agrees_within_one_percent(celsius: float) -> None:
    # Sutherland's formula and the reference correlation each claim about 1 %.
    expected = PropsSI("V", "T", celsius + 273.15, "P", 101325.0, "Air")
    assert air_viscosity(celsius) == pytest.approx(expected, rel=0.01)
