"""Compute functions of the checks on material curves, on counting hours, and on the room of both standards.

Inverses must give back their argument, counts must be those of a hand on a short series, and the room's
vapour must meet the corner points of its curve. Real histories stand in `checks.damage`.
"""

from __future__ import annotations

import numpy as np

from warmside.checks.registry import Inputs, computes
from warmside.physics import damage, materials, monthly_surface
from warmside.physics.forcing import MoistureLoad, en_15026_room
from warmside.physics.monthly_surface import HumidityClass
from warmside.physics.water import WATER


def _series(row: Inputs) -> list[float]:
    return [float(value) for value in row.text("series").split()]


@computes("isotherm-gives-back-humidity")
def _isotherm(row: Inputs) -> float:
    curve, twenty = materials.isotherm(row.text("material")), np.array(20.0)
    given = WATER.log_suction(twenty, np.array(row.number("given") / 100.0))
    back = np.exp(curve.log_suction(curve.content(given)))
    return 100.0 * float(np.exp(-back / WATER.kelvin(twenty)))


@computes("membrane-through-two-cups")
def _cups(row: Inputs) -> float:
    dry, humid = row.number("dry") * 1e-12, row.number("humid") * 1e-12
    sheet = materials.membrane_from_pairs("sheet", (0.25, dry), (0.75, humid))
    return 1e12 * float(sheet.permeance(np.array(row.number("at"))))


@computes("liquid-exponent-ratio")
def _ratio(row: Inputs) -> float:
    curve, humidity = materials.isotherm(row.text("material")), row.number("humidity")
    exponent = materials.exponent_for_range(curve, humidity, 10.0 ** -row.number("decades"))
    share = curve.log_share(WATER.log_suction(np.array(20.0), np.array(humidity)))
    return float(np.exp(materials.Liquid((0.0,), exponent).log_conductivity(share)))


@computes("running-mean-by-hand")
def _running(row: Inputs) -> float:
    return float(damage.running_mean(_series(row), round(row.number("hours"))).max())


@computes("longest-spell-by-hand")
def _spell(row: Inputs) -> float:
    return float(damage.longest_spell(np.array(_series(row)) > 0.0))


@computes("decay-activation-falls")
def _falls(row: Inputs) -> float:
    dry = np.full((round(row.number("hours")), 1), 0.5)
    return float(damage.decay(np.full_like(dry, 20.0), dry, row.number("start")).activation[-1, 0])


@computes("iso13788-class-excess")
def _excess(row: Inputs) -> float:
    return float(monthly_surface.class_excess(HumidityClass(row.text("use")), row.number("outside")))


@computes("en15026-room")
def _room(row: Inputs) -> float:
    load = MoistureLoad[row.text("load").upper()]
    temperature, humidity = en_15026_room(np.array([row.number("outside")]), load)
    return float({"temperature": temperature, "humidity": 100.0 * humidity}[row.text("of")][0])


@computes("ventilation-excess")
def _ventilation(row: Inputs) -> float:
    given = (row.number(name) for name in ("production", "volume", "air_changes", "inside"))
    return monthly_surface.ventilation_excess(*given)


@computes("least-surface-humidity")
def _least(row: Inputs) -> float:
    vapour, most = row.number("vapour"), row.number("most")
    least = monthly_surface.least_surface_temperature(vapour, most / 100.0)
    return 100.0 * vapour / float(monthly_surface.saturation(least))
