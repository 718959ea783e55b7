"""What hours of temperature and humidity do to a surface, to wood and to metal in it, and the limits for it.

Mould index: Hukka and Viitanen 1999, Wood Sci. Technol. 33:475 (pine and spruce sapwood), and the sensitivity
and decline classes of Ojanen et al. 2010, Buildings XI. 30-day humidity: ANSI/ASHRAE 160-2009. Wood moisture:
sorption equation of the USDA Wood Handbook. Decay: Viitanen et al. 2010, Eur. J. Wood Prod. 68:303 (pine
sapwood). Time of wetness: ISO 9223. Classes: data/damage.toml; limits: data/limits.toml.

The time to visible growth, the wood and surface terms of the index, the decline classes, the sorption
equation and the decay equations are held from memory. A class taken by a material's name is uncertain: two
products of one kind can differ. Not for standing water, salts or treated wood. Time is the first axis of
every array of hours; all further axes are walls. Humidity is relative, over liquid water, 0 to 1.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from enum import IntEnum, StrEnum
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
import numpy.typing as npt

from warmside.physics import air
from warmside.physics.air import Array, Like

BLOCK = 512
"""Hours whose growth is worked out together, few enough to stay in a processor's cache."""
MONTH_OF_160 = 720
"""Hours of the running mean of ASHRAE 160."""
WARM_ENOUGH = (5.0, 40.0)
"""Mean temperatures at which ASHRAE 160-2009 judges a surface [C]."""
_STEEP = 2.3
"""How sharply growth slows below its ceiling, Hukka and Viitanen 1999 [-]."""
_RECOVERY = 17520.0
"""Hours in which wood forgets its activation, Viitanen et al. 2010 [h]."""
_HOTTEST_DECAY = 30.0
"""Temperature beyond which the fit of the decay model is not used [C]."""


class DamageInputError(ValueError):
    """Hours, a state or a name that the judging functions cannot take."""


class Sensitivity(StrEnum):
    """How readily mould grows on a surface, the classes of Ojanen et al. 2010."""

    VERY_SENSITIVE = "very_sensitive"
    SENSITIVE = "sensitive"
    MEDIUM_RESISTANT = "medium_resistant"
    RESISTANT = "resistant"


class Decline(StrEnum):
    """How fast growth dies back in dry times, the classes of Ojanen et al. 2010."""

    STRONG = "strong"
    SIGNIFICANT = "significant"
    RELATIVELY_LOW = "relatively_low"
    ALMOST_NONE = "almost_none"


class Standing(IntEnum):
    """Where a value stands against its limit."""

    WITHIN = 0
    BORDERLINE = 1
    OVER = 2


# Limits


@dataclass(frozen=True)
class Limit:
    """One limit with what it means and where it comes from.

    value : above it is over [unit of the limit]
    borderline : from it on is borderline [unit of the limit]
    """

    name: str
    value: float
    borderline: float
    unit: str
    means: str
    source: str
    status: str

    def grade(self, worst: Like) -> npt.NDArray[np.int64]:
        """The Standing of each value, as its number.

        worst : largest values of walls, any shape [unit of the limit]
        Raises DamageInputError for a value that is not finite.
        """
        values = np.asarray(worst, float)
        if not np.isfinite(values).all():
            raise DamageInputError(f"{self.name}: a value is not finite; want numbers in {self.unit}")
        return (values >= self.borderline).astype(np.int64) + (values > self.value)

    def judge(self, worst: float) -> Standing:
        """The Standing of one value.

        worst : largest value of a wall [unit of the limit]
        """
        return Standing(int(self.grade(worst)))


@cache
def _read(name: str) -> dict[str, Any]:
    return tomllib.loads((files("warmside") / "data" / name).read_text("utf-8"))


@cache
def limits() -> dict[str, Limit]:
    """All limits of data/limits.toml by name."""
    table = _read("limits.toml")
    share = table["borderline_share"]
    return {
        name: Limit(name, **{"borderline": share * entry["value"], **entry})
        for name, entry in table["limit"].items()
    }


# Hours


def _hours(temperature: Like, humidity: Like) -> tuple[Array, Array]:
    """Both as arrays of one shape, hours first; humidity a hair above 1 is cut to 1."""
    t, rh = np.broadcast_arrays(np.asarray(temperature, float), np.asarray(humidity, float))
    if t.ndim == 0 or not len(t):
        raise DamageInputError(f"hours of shape {t.shape}: want at least one hour along the first axis")
    _within("temperature", t, -60.0, 100.0, "C")
    _within("relative humidity", rh, 0.0, 1.01, "(a share, not %)")
    return t, np.minimum(rh, 1.0)


def _within(name: str, values: Array, low: float, high: float, unit: str) -> None:
    bad = ~((values >= low) & (values <= high))
    if bad.any():
        worst = float(values[bad].flat[0])
        raise DamageInputError(f"{name} is {worst:g}; it should be from {low:g} to {high:g} {unit}")


def running_mean(values: Like, hours: int) -> Array:
    """Mean of every unbroken run of hours, shape (all - hours + 1, walls) [unit of the values].

    values : shape (hours, walls) [unit of the values]
    hours : length of a run, at most as long as the record
    Raises DamageInputError.
    """
    given = np.asarray(values, float)
    if given.ndim == 0 or not 1 <= hours <= len(given):
        raise DamageInputError(
            f"a run of {hours} hours on {given.shape}: want from 1 hour to the whole record"
        )
    total = np.concatenate([np.zeros((1, *given.shape[1:])), np.cumsum(given, axis=0)])
    return np.asarray((total[hours:] - total[:-hours]) / hours)


def _count(happens: npt.NDArray[np.bool_]) -> npt.NDArray[np.int64]:
    """Hours of each wall that count."""
    return np.asarray(np.sum(happens, axis=0, dtype=np.int64))


def longest_spell(happens: npt.ArrayLike) -> npt.NDArray[np.int64]:
    """Hours of the longest unbroken run of each wall, shape (walls,).

    happens : true in the hours that count, shape (hours, walls)
    """
    flags = np.asarray(happens, bool)
    run = longest = np.zeros(flags.shape[1:], np.int64)
    for hour in flags:
        run = (run + 1) * hour
        longest = np.maximum(longest, run)
    return longest


# Mould


@dataclass(frozen=True)
class MouldSurface:
    """How mould grows and dies back on a surface.

    early : growth below index 1, over that of pine sapwood [-]
    late : growth from index 1 on, over the early growth of pine; None follows from the times of 1999 [-]
    ceiling : A, B and C of the largest index [-]
    lowest_humidity : below which nothing grows at any temperature [-]
    decline : dying back, over that of pine sapwood [-]
    spruce : spruce, not pine, in the equations of 1999
    kiln_dried : original kiln-dried surface, not resawn, in the equations of 1999
    """

    early: float
    late: float | None
    ceiling: tuple[float, float, float]
    lowest_humidity: float
    decline: float
    spruce: bool = False
    kiln_dried: bool = False


def class_surface(sensitivity: Sensitivity, decline: Decline = Decline.ALMOST_NONE) -> MouldSurface:
    """A surface of the class model, Ojanen et al. 2010; the default decline is the safe one."""
    entry = _read("damage.toml")["mould"][sensitivity]
    a, b, c = entry["ceiling"]
    factor = _read("damage.toml")["decline"][decline]["factor"]
    return MouldSurface(entry["early"], entry["late"], (a, b, c), entry["lowest_humidity"], factor)


def wood_surface(spruce: bool = False, kiln_dried: bool = False) -> MouldSurface:
    """Sapwood by the equations of Hukka and Viitanen 1999."""
    pine = class_surface(Sensitivity.VERY_SENSITIVE, Decline.STRONG)
    return MouldSurface(1.0, None, pine.ceiling, pine.lowest_humidity, pine.decline, spruce, kiln_dried)


def critical_humidity(temperature: Like, lowest: float = 0.80) -> Array:
    """Relative humidity from which mould can grow [-]; Hukka and Viitanen 1999, never below the lowest.

    temperature : of the surface, above 0 [C]
    lowest : of the surface's class [-]
    """
    t = np.asarray(temperature, float)
    cold = np.polynomial.polynomial.polyval(t, [1.0, -0.0313, 0.0016, -0.0000267])
    return np.where(t > 20.0, lowest, np.maximum(cold, lowest))


def time_to_first_growth(
    temperature: Like, humidity: Like, spruce: bool = False, kiln_dried: bool = False
) -> Array:
    """Time in which the index goes from 0 to 1 in steady air [h]; Hukka and Viitanen 1999.

    temperature : of the surface, above 0 [C]
    humidity : at the surface, above the critical [-]
    """
    logs = -0.68 * np.log(temperature) - 13.9 * np.log(100.0 * np.asarray(humidity, float))
    return np.asarray(168.0 * np.exp(logs + 0.14 * spruce - 0.33 * kiln_dried + 66.02))


def time_to_visible_growth(temperature: Like, humidity: Like, spruce: bool = False) -> Array:
    """Time in which the index goes from 0 to 3 in steady air [h]; Hukka and Viitanen 1999.

    temperature : of the surface, above 0 [C]
    humidity : at the surface, above the critical [-]
    """
    logs = -0.74 * np.log(temperature) - 12.72 * np.log(100.0 * np.asarray(humidity, float))
    return np.asarray(168.0 * np.exp(logs + 0.06 * spruce + 61.50))


@dataclass(frozen=True)
class Growth:
    """What each hour lets mould do, all of the shape of the hours.

    growing : whether it can grow
    early : growth below index 1 far from the ceiling [1/h]
    late : growth from index 1 on far from the ceiling [1/h]
    ceiling : largest index that it can reach [-]
    """

    growing: npt.NDArray[np.bool_]
    early: Array
    late: Array
    ceiling: Array


def mould_growth(temperature: Like, humidity: Like, surface: MouldSurface) -> Growth:
    """Whether, how fast and how far mould grows in each hour; without growth rates are 1 and the ceiling 0.

    temperature : of the surface, shape (hours, walls) [C]
    humidity : at the surface, of the same shape [-]
    Raises DamageInputError.
    """
    t, rh = _hours(temperature, humidity)
    growing = (t > 0.0) & (t < 50.0) & (rh >= critical_humidity(t, surface.lowest_humidity))
    early, late, ceiling = np.ones(t.shape), np.ones(t.shape), np.zeros(t.shape)
    early[growing], late[growing] = _rates(t[growing], rh[growing], surface)
    ceiling[growing] = _ceiling(t[growing], rh[growing], surface)
    return Growth(growing, early, late, ceiling)


def _rates(t: Array, rh: Array, surface: MouldSurface) -> tuple[Array, Array]:
    """Growth before and after index 1, far from the ceiling [1/h]."""
    first = time_to_first_growth(t, rh, surface.spruce, surface.kiln_dried)
    if surface.late is None:
        late = 2.0 / (time_to_visible_growth(t, rh, surface.spruce) / first - 1.0)
        return surface.early / first, late / first
    return surface.early / first, surface.late / first


def _ceiling(t: Array, rh: Array, surface: MouldSurface) -> Array:
    """Largest index, Hukka and Viitanen 1999 with the constants of the class [-]."""
    critical = critical_humidity(t, surface.lowest_humidity)
    reach = (rh - critical) / np.maximum(1.0 - critical, 1e-12)
    a, b, c = surface.ceiling
    return a + b * reach - c * reach**2


@dataclass(frozen=True)
class MouldHistory:
    """The mould index over time, and what the next hours need to go on from it.

    index : at the end of each hour, shape (hours, walls) [-]
    quiet : since growth was last possible, at the end, shape (walls,) [h]
    """

    index: Array
    quiet: Array


def mould_index(
    temperature: Like, humidity: Like, surface: MouldSurface, start: Like = 0.0, quiet: Like = 0.0
) -> MouldHistory:
    """The mould index hour by hour; Hukka and Viitanen 1999, classes of Ojanen et al. 2010.

    temperature : of the surface, shape (hours, walls) [C]
    humidity : at the surface, of the same shape [-]
    start : index before the first hour, shape (walls,) [-]
    quiet : hours since growth was last possible before the first hour, shape (walls,) [h]

    Growth within an hour is the exact solution of the equation, also across index 1. Growth that cannot go on
    declines for 6 hours, rests until 24 and declines at half that pace afterwards, at every temperature.
    Raises DamageInputError.
    """
    t, rh = _hours(temperature, humidity)
    walls = t.shape[1:]
    index = np.broadcast_to(np.asarray(start, float), walls)
    since = np.broadcast_to(np.asarray(quiet, float), walls)
    _within("mould index", index, 0.0, 6.0, "-")
    history = np.empty(t.shape)
    for first in range(0, len(t), BLOCK):
        block = slice(first, first + BLOCK)
        index, since = _march(
            mould_growth(t[block], rh[block], surface), surface, index, since, history[block]
        )
    return MouldHistory(history, since)


def _march(
    growth: Growth, surface: MouldSurface, index: Array, since: Array, history: Array
) -> tuple[Array, Array]:
    """Fill a block of the history; return the index and the quiet hours at its end."""
    above = growth.ceiling > 1.0
    knee = np.full(above.shape, -np.inf)
    knee[above] = np.log(np.expm1(_STEEP * (growth.ceiling[above] - 1.0))) / _STEEP
    some = [bool(growing.any()) for growing in growth.growing]
    every = [bool(growing.all()) for growing in growth.growing]
    for hour, growing in enumerate(growth.growing):
        since = (since + 1.0) * ~growing
        grown = lost = index
        if some[hour]:
            grown = _grown(index, growth.early[hour], growth.late[hour], growth.ceiling[hour], knee[hour])
        if not every[hour]:
            lost = np.maximum(index - surface.decline * _decline(since), 0.0)
        history[hour] = index = np.where(growing, grown, lost)
    return index, since


def _decline(since: Array) -> Array:
    """What pine loses in the hour that ends so long after growth stopped, Hukka and Viitanen 1999 [1/h]."""
    return np.asarray(((since <= 6.0) * 0.032 + (since > 24.0) * 0.016) / 24.0)


def _grown(index: Array, early: Array, late: Array, ceiling: Array, knee: Array) -> Array:
    """The index after an hour of growth, exact.

    With y = ln(exp(s (ceiling - M)) - 1) / s the equation is dy/dt = -rate; `knee` is y at index 1.
    """
    here = np.log(np.expm1(_STEEP * np.maximum(ceiling - index, 1e-12))) / _STEEP
    share = np.minimum(np.maximum((here - knee) / early, 0.0), 1.0)
    there = here - early * share - late * (1.0 - share)
    return np.where(index < ceiling, ceiling - np.log1p(np.exp(_STEEP * there)) / _STEEP, index)


# Surface humidity


@dataclass(frozen=True)
class DampSpell:
    """How damp a surface was by running means of 30 days.

    worst : largest mean humidity while it was warm enough, 0 where it never was, shape (walls,) [-]
    runs : how many of the means were above the limit while it was warm enough, shape (walls,)
    """

    worst: Array
    runs: npt.NDArray[np.int64]


def thirty_day_humidity(temperature: Like, humidity: Like) -> DampSpell:
    """The surface criterion of ANSI/ASHRAE 160-2009, which counts runs of 30 days with a mean of 5 to 40 C.

    temperature : of the surface, shape (hours, walls), at least 720 hours [C]
    humidity : at the surface, of the same shape [-]
    Raises DamageInputError.
    """
    t, rh = (running_mean(values, MONTH_OF_160) for values in _hours(temperature, humidity))
    counts = (t >= WARM_ENOUGH[0]) & (t <= WARM_ENOUGH[1])
    over = counts & (rh > limits()["surface_humidity"].value)
    return DampSpell(np.max(np.where(counts, rh, 0.0), axis=0), _count(over))


# Wood


def wood_moisture(temperature: Like, humidity: Like) -> Array:
    """Water over dry mass of softwood in balance with air [-]; USDA Wood Handbook, sorption equation.

    temperature : -30 to 70; the data behind the fit start near 0 [C]
    humidity : of the air, 0 to 1; good to about 1 % of moisture [-]
    Raises DamageInputError.
    """
    t, h = np.broadcast_arrays(np.asarray(temperature, float), np.asarray(humidity, float))
    _within("temperature", t, -30.0, 70.0, "C")
    _within("relative humidity", h, 0.0, 1.01, "(a share, not %)")
    weight = 349.0 + 1.29 * t + 0.0135 * t**2
    k = (0.805 + 0.000736 * t - 2.73e-6 * t**2) * np.minimum(h, 1.0)
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    layers = k1 * k, k1 * k2 * k**2
    return np.asarray(
        18.0 / weight * (k / (1.0 - k) + (layers[0] + 2.0 * layers[1]) / (1.0 + layers[0] + layers[1]))
    )


def wood_humidity(temperature: Like, moisture: Like) -> Array:
    """Humidity of the air in balance with softwood, 1 where it holds more than saturated air gives [-].

    temperature : -30 to 70 [C]
    moisture : water over dry mass, 0 or more [-]
    Raises DamageInputError.
    """
    t, u = np.broadcast_arrays(np.asarray(temperature, float), np.asarray(moisture, float))
    _within("wood moisture", u, 0.0, 3.0, "kg/kg")
    low, high = np.zeros(t.shape), np.ones(t.shape)
    for _ in range(50):
        middle = 0.5 * (low + high)
        drier = wood_moisture(t, middle) < u
        low, high = np.where(drier, middle, low), np.where(drier, high, middle)
    return np.asarray(high)


@dataclass(frozen=True)
class DecayHistory:
    """Decay of pine sapwood over time, all at the end of each hour, shape (hours, walls).

    activation : 0 fresh, 1 decay has set in [-]
    loss : of dry mass, a share [-]
    """

    activation: Array
    loss: Array


def decay_activation_rate(temperature: Like, humidity: Like) -> Array:
    """How fast activation rises where decay is possible, else 0 [1/h]; Viitanen et al. 2010.

    temperature : of the wood; above 30 it counts as 30, where the fit ends [C]
    humidity : in the wood's pores; decay is possible above 0.95 and above 0 C [-]
    """
    t, rh = _decay_state(temperature, humidity)
    over = 0.14 * t + 0.45 * rh - 42.9
    return _where_decay(t, rh, np.maximum(over, 0.0) / (720.0 * (2.3 * t + 0.035 * rh - 0.024 * t * rh)))


def decay_loss_rate(temperature: Like, humidity: Like) -> Array:
    """Share of dry mass lost per hour once activation is 1, 0 where decay is not possible [1/h].

    temperature : of the wood; above 30 it counts as 30, where the fit ends [C]
    humidity : in the wood's pores [-]
    Viitanen et al. 2010.
    """
    t, rh = _decay_state(temperature, humidity)
    return _where_decay(t, rh, np.maximum(-5.96e-2 + 1.96e-4 * t + 6.25e-4 * rh, 0.0) / 100.0)


def _decay_state(temperature: Like, humidity: Like) -> tuple[Array, Array]:
    """Temperature as the fit takes it, and humidity in percent."""
    t, rh = np.broadcast_arrays(np.asarray(temperature, float), np.asarray(humidity, float))
    return np.minimum(t, _HOTTEST_DECAY), 100.0 * np.minimum(rh, 1.0)


def _where_decay(t: Array, rh: Array, rate: Array) -> Array:
    return np.where((t > 0.0) & (rh > 95.0), rate, 0.0)


def decay(temperature: Like, humidity: Like, activation: Like = 0.0, loss: Like = 0.0) -> DecayHistory:
    """Decay dose hour by hour; Viitanen et al. 2010, pine sapwood.

    temperature : of the wood, shape (hours, walls) [C]
    humidity : in the wood's pores, of the same shape [-]
    activation : before the first hour, shape (walls,) [-]
    loss : share of dry mass lost before the first hour, shape (walls,) [-]

    Activation falls in two years where decay is not possible; mass is lost only while it is 1, and never
    comes back. The short times of the model read as those of wood that already carries fungi.
    Raises DamageInputError.
    """
    t, rh = _hours(temperature, humidity)
    state = np.broadcast_to(np.asarray(activation, float), t.shape[1:])
    gone = np.broadcast_to(np.asarray(loss, float), t.shape[1:])
    _within("activation", state, 0.0, 1.0, "-")
    rise, eaten = decay_activation_rate(t, rh), decay_loss_rate(t, rh)
    history = DecayHistory(np.empty(t.shape), np.empty(t.shape))
    for hour in range(len(t)):
        reached = state + rise[hour]
        # The share of the hour that is left once activation is 1.
        left = np.maximum(reached - 1.0, 0.0) / np.maximum(rise[hour], 1e-300)
        gone = gone + left * eaten[hour]
        fallen = np.maximum(state - 1.0 / _RECOVERY, 0.0)
        state = np.where(rise[hour] > 0.0, np.minimum(reached, 1.0), fallen)
        history.activation[hour], history.loss[hour] = state, gone
    return history


# Metal, condensate, frost


def time_of_wetness(temperature: Like, humidity: Like) -> npt.NDArray[np.int64]:
    """Hours in which metal corrodes, above 80 % and above 0 C, shape (walls,); ISO 9223.

    temperature : of the metal, shape (hours, walls) [C]
    humidity : at the metal, of the same shape [-]
    Raises DamageInputError.
    """
    t, rh = _hours(temperature, humidity)
    return _count((t > 0.0) & (rh > 0.80))


def frost_hours(temperature: Like, humidity: Like) -> npt.NDArray[np.int64]:
    """Hours in which frost settles on a face: below 0 C and saturated over ice, shape (walls,).

    temperature : of the face, shape (hours, walls) [C]
    humidity : at the face, over liquid water, of the same shape [-]
    Raises DamageInputError.
    """
    t, rh = _hours(temperature, humidity)
    frost = t < 0.0
    cold = t[frost]
    frost[frost] = rh[frost] * air.saturation_over_water(cold) >= air.saturation_over_ice(cold)
    return _count(frost)


@dataclass(frozen=True)
class FaceWater:
    """Free water on a face, each of shape (walls,).

    peak : most water while the face is above 0 C [kg/m2]
    frost : most water while it is at 0 C or below [kg/m2]
    hours : in which there is any
    spell : longest unbroken run of such hours
    """

    peak: Array
    frost: Array
    hours: npt.NDArray[np.int64]
    spell: npt.NDArray[np.int64]


def face_water(temperature: Like, water: Like) -> FaceWater:
    """How much condensate and frost a face held, and how long.

    temperature : of the face, shape (hours, walls) [C]
    water : free water on it, of the same shape [kg/m2]
    Raises DamageInputError.
    """
    amount = np.asarray(water, float)
    _within("free water", amount, 0.0, 1e3, "kg/m2")
    t, amount = np.broadcast_arrays(_hours(temperature, 0.0)[0], amount)
    frozen, wet = t <= 0.0, amount > 0.0
    return FaceWater(
        np.max(np.where(frozen, 0.0, amount), axis=0),
        np.max(np.where(frozen, amount, 0.0), axis=0),
        _count(wet),
        longest_spell(wet),
    )
