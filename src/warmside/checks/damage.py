"""Compute functions of the checks on mould, wood, decay and the monthly method.

Each function gets one row's inputs in the units its data file states. Times to a mould index and to decay
come from the hourly march, not from the closed form that the published figures rest on.
"""

from __future__ import annotations

from functools import cache
from itertools import product

import numpy as np

from warmside.checks.registry import Inputs, computes
from warmside.physics import damage, monthly, monthly_surface
from warmside.physics.air import Array
from warmside.physics.damage import Decline, MouldSurface, Sensitivity
from warmside.physics.monthly import Layer, Wall, solid_layer
from warmside.physics.monthly_surface import Climate, HumidityClass

_AIR = tuple(product((5, 10, 15, 20, 25, 30, 40), (80.5, 82, 85, 88, 90, 92, 95, 97, 98, 100)))
"""Temperatures [C] and humidities [%] that are marched side by side."""
_CLASS_DAYS = {
    Sensitivity.VERY_SENSITIVE: 210,
    Sensitivity.SENSITIVE: 345,
    Sensitivity.MEDIUM_RESISTANT: 1140,
    Sensitivity.RESISTANT: 1515,
}
"""Days that the march of a class lasts, longer than its slowest growth."""
_WOOD_DAYS = 100


def _share(row: Inputs, name: str = "humidity") -> float:
    return row.number(name) / 100.0


# Mould


@cache
def _days_to(surface: MouldSurface, days: int) -> dict[tuple[float, float, float], float]:
    """Days of steady air until an index is reached, by temperature, humidity and index, where it is."""
    temperature, humidity = np.array(_AIR, float).T
    steady = np.broadcast_to(temperature, (24 * days, len(_AIR)))
    index = damage.mould_index(steady, humidity / 100.0, surface).index
    lanes = zip(temperature.tolist(), humidity.tolist(), index.T, strict=True)
    return {
        (t, rh, target): _reached(lane, target)
        for t, rh, lane in lanes
        for target in (1.0, 2.0, 3.0)
        if lane[-1] >= target
    }


def _reached(index: Array, target: float) -> float:
    """Days until an index is reached, by the slope of the hour before: growth changes pace at index 1."""
    last = int(np.argmax(index >= target)) - 1
    return float(last + 1 + (target - index[last]) / (index[last] - index[last - 1])) / 24.0


def _read_off(row: Inputs, surface: MouldSurface, days: int) -> float:
    return _days_to(surface, days)[row.number("temperature"), row.number("humidity"), row.number("index")]


@computes("mould-on-wood-steady")
def _mould_on_wood(row: Inputs) -> float:
    surface = damage.wood_surface(row.number("spruce") == 1, row.number("kiln_dried") == 1)
    return _read_off(row, surface, _WOOD_DAYS)


@computes("mould-classes-steady")
def _mould_of_class(row: Inputs) -> float:
    sensitivity = Sensitivity(row.text("sensitivity"))
    return _read_off(row, damage.class_surface(sensitivity), _CLASS_DAYS[sensitivity])


@computes("mould-ceiling")
def _mould_ceiling(row: Inputs) -> float:
    surface = damage.class_surface(Sensitivity(row.text("sensitivity")))
    return float(damage.mould_growth([row.number("temperature")], [_share(row)], surface).ceiling[0])


@computes("mould-critical-humidity")
def _mould_critical(row: Inputs) -> float:
    return 100.0 * float(damage.critical_humidity(row.number("temperature")))


@computes("mould-decline")
def _mould_decline(row: Inputs) -> float:
    surface = damage.class_surface(Sensitivity.VERY_SENSITIVE, Decline(row.text("decline")))
    dry = np.full(round(row.number("hours")), 0.5)
    return float(damage.mould_index(20.0, dry, surface, start=row.number("start")).index[-1])


@computes("thirty-day-humidity")
def _thirty_days(row: Inputs) -> float:
    swing = np.sin(2 * np.pi * np.arange(8760) / 8760)
    humidity = _share(row, "base") + _share(row, "swing") * swing
    return 100.0 * float(damage.thirty_day_humidity(20.0, humidity).worst)


# Wood


@computes("wood-moisture-list")
def _wood_list(row: Inputs) -> float:
    return 100.0 * float(damage.wood_moisture(21.0, _share(row)))


@computes("wood-moisture-equation")
def _wood_equation(row: Inputs) -> float:
    return 100.0 * float(damage.wood_moisture(row.number("temperature"), _share(row)))


@computes("wood-moisture-inverse")
def _wood_inverse(row: Inputs) -> float:
    return 100.0 * float(damage.wood_humidity(10.0, _share(row, "moisture")))


@computes("wood-moisture-limits")
@computes("wood-at-metal-limit")
def _wood_limit(row: Inputs) -> float:
    return 100.0 * damage.limits()[row.text("limit")].value


_DECAY_HOURS = 4000


@cache
def _steady_decay() -> dict[tuple[float, float], tuple[float, Array]]:
    """Hours until activation is 1 and the loss after each hour, by temperature and humidity."""
    states = tuple(product((5.0, 10.0, 15.0, 20.0, 25.0), (96.0, 97.0, 98.0, 99.0, 100.0)))
    temperature, humidity = np.array(states).T
    history = damage.decay(np.broadcast_to(temperature, (_DECAY_HOURS, len(states))), humidity / 100.0)
    first = np.argmax(history.activation >= 1.0, axis=0)
    times = first / history.activation[first - 1, np.arange(len(states))]
    return dict(zip(states, zip(times.tolist(), history.loss.T, strict=True), strict=True))


@computes("decay-activation-time")
def _decay_time(row: Inputs) -> float:
    return _steady_decay()[row.number("temperature"), row.number("humidity")][0]


@computes("decay-loss")
def _decay_loss(row: Inputs) -> float:
    time, loss = _steady_decay()[row.number("temperature"), row.number("humidity")]
    return 100.0 * float(np.interp(time + 1000.0, np.arange(1.0, _DECAY_HOURS + 1.0), loss))


# The monthly method


@computes("iso13788-saturation")
def _saturation(row: Inputs) -> float:
    return float(monthly_surface.saturation(row.number("temperature")))


@computes("iso13788-dew-point")
def _dew_point(row: Inputs) -> float:
    return float(
        monthly_surface.dew_point(_share(row) * monthly_surface.saturation(row.number("temperature")))
    )


@computes("iso13788-factor-by-class")
def _factor_by_class(row: Inputs) -> float:
    outside = np.full(12, row.number("outside"))
    climate = monthly_surface.climate_by_class(outside, 0.80, 20.0, HumidityClass(row.text("humidity_class")))
    return float(monthly_surface.required_factor(climate)[0])


@computes("iso13788-factor-by-humidity")
def _factor_by_humidity(row: Inputs) -> float:
    outside = np.full(12, row.number("outside"))
    climate = monthly_surface.climate_by_humidity(outside, 0.80, 20.0, _share(row, "inside_humidity"))
    return float(monthly_surface.required_factor(climate)[0])


_BOARD = solid_layer("board", 0.011, 0.13, 50.0)
_WOOL = solid_layer("wool", 0.140, 0.036, 1.0)
_GYPSUM = solid_layer("gypsum", 0.0125, 0.25, 10.0)
_WALLS = {
    "open": Wall((_BOARD, _WOOL, _GYPSUM)),
    "sheet": Wall((_BOARD, _WOOL, Layer("sheet", 0.0, 50.0), _GYPSUM)),
}


@computes("iso13788-steady-wall")
def _steady_wall(row: Inputs) -> float:
    wall = _WALLS[row.text("wall")]
    climate = monthly_surface.climate_by_humidity(np.full(12, -5.0), 0.85, 20.0, 0.50)
    _, vapour = monthly.steady_vapour(wall, climate, 0)
    board = vapour.temperature[1]
    values = {
        "resistance": wall.resistance,
        "board": board,
        "condensation": vapour.rate.sum() * 86400e3,
        "humidity": 100.0 * vapour.pressure[1] / monthly_surface.saturation(board),
        "vapour": vapour.pressure[1],
    }
    return float(values[row.text("quantity")])


@computes("iso13788-year")
def _year(row: Inputs) -> float:
    outside = 6.5 - 15.5 * np.cos(2 * np.pi * np.arange(12) / 12)
    climate = monthly_surface.climate_by_humidity(outside, 0.75, 20.0, 0.50)
    year = monthly.condensation_year(_WALLS[row.text("wall")], climate)
    return 1000.0 * float(year.water[year.months.index(round(row.number("month")) - 1)].sum())


@computes("vapour-from-wet-concrete")
def _from_wet_concrete(row: Inputs) -> float:
    thin, tight = 1e-9, 1e6
    # Warm enough to be one part: in a cut layer the saturation between both faces lies under the chord.
    batt = Layer("batt", 0.2, row.number("thickness") / 1000.0)
    layers = Layer("concrete", thin, thin), batt, Layer("sheet", thin, tight)
    wall = Wall(layers, outside_film=thin, inside_film=thin)
    warm, cool = (np.full(12, row.number(side)) for side in ("concrete", "sheet"))
    climate = Climate(warm, monthly_surface.saturation(warm), cool, 0.5 * monthly_surface.saturation(cool))
    _, vapour = monthly.steady_vapour(wall, climate, 0)
    return float(vapour.rate[-2] * 86400e3)
