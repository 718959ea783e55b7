"""Judging functions: closed forms, an independent integration, sequences counted by hand, limits, refusals.

Published tables at steady air stand in the registry of checks.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from warmside.physics import damage
from warmside.physics.air import Array
from warmside.physics.damage import (
    DamageInputError,
    Decline,
    MouldSurface,
    Sensitivity,
    Standing,
    class_surface,
    limits,
    mould_index,
    wood_surface,
)

PINE = wood_surface()
CLASSES = [class_surface(sensitivity) for sensitivity in Sensitivity]
WOODS = [wood_surface(spruce, dried) for spruce in (False, True) for dried in (False, True)]
SURFACES = CLASSES + WOODS
FAST, SLOW = 0.032 / 24, 0.016 / 24
"""Decline of pine in an hour, up to 6 hours and after 24, Hukka and Viitanen 1999 [1/h]."""


def pace(t: float, rh: float, surface: MouldSurface, index: float) -> float:
    """The equation as published, with T in C and RH in %: growth in a day."""
    weeks = math.exp(
        -0.68 * math.log(t) - 13.9 * math.log(rh) + 0.14 * surface.spruce - 0.33 * surface.kiln_dried + 66.02
    )
    visible = math.exp(-0.74 * math.log(t) - 12.72 * math.log(rh) + 0.06 * surface.spruce + 61.50)
    late = 2 / (visible / weeks - 1) if surface.late is None else surface.late
    k1 = surface.early if index < 1 else late
    k2 = max(1 - math.exp(2.3 * (index - largest(t, rh, surface))), 0.0)
    return k1 * k2 / (7 * weeks)


def largest(t: float, rh: float, surface: MouldSurface) -> float:
    cubic = -0.00267 * t**3 + 0.160 * t**2 - 3.13 * t + 100.0
    lowest = 100 * surface.lowest_humidity
    critical = max(cubic, lowest) if t <= 20 else lowest
    reach = (critical - rh) / (critical - 100)
    a, b, c = surface.ceiling
    return a + b * reach - c * reach**2


def steady(t: float, rh: float, surface: MouldSurface, hours: int, start: float = 0.0) -> Array:
    return mould_index(np.full(hours, t), np.full(hours, rh / 100), surface, start).index


# Growth


def test_surfaces_have_the_published_constants() -> None:
    # k1 below and from index 1, A, B, C and least humidity of the four classes; decline as told
    table = {
        Sensitivity.VERY_SENSITIVE: (1.0, 2.0, (1.0, 7.0, 2.0), 0.80),
        Sensitivity.SENSITIVE: (0.578, 0.386, (0.3, 6.0, 1.0), 0.80),
        Sensitivity.MEDIUM_RESISTANT: (0.072, 0.097, (0.0, 5.0, 1.5), 0.85),
        Sensitivity.RESISTANT: (0.033, 0.014, (0.0, 3.0, 1.0), 0.85),
    }
    assert list(table) == list(Sensitivity)
    for sensitivity, row in table.items():
        assert class_surface(sensitivity, Decline.STRONG) == MouldSurface(*row, decline=1.0)
    # the wood of 1999: growth of pine, largest index 1 + 7 r - 2 r^2, from 80 %
    plain = MouldSurface(1.0, None, (1.0, 7.0, 2.0), 0.80, 1.0, spruce=False, kiln_dried=False)
    assert wood_surface() == plain
    assert wood_surface(spruce=True) == replace(plain, spruce=True)
    assert wood_surface(kiln_dried=True) == replace(plain, kiln_dried=True)


@pytest.mark.parametrize("surface", SURFACES)
@pytest.mark.parametrize(
    ("t", "rh", "start"),
    [
        (20.0, 97.0, 0.0),
        (8.0, 99.0, 0.0),
        (35.0, 92.0, 0.0),
        (25.0, 82.0, 0.3),  # ceilings 1.68 and 0.89 of the two sensitive classes
        (30.0, 100.0, 0.98),  # resistant: from below 1 to over it, ceiling 2
    ],
)
def test_steady_growth_is_the_closed_form_at_every_hour(
    surface: MouldSurface, t: float, rh: float, start: float
) -> None:
    # t = (1/pace) [M1 - M0 - ln((1 - e^2.3(M1 - Mmax)) / (1 - e^2.3(M0 - Mmax))) / 2.3], first to 1, then on;
    # exact, so to rounding, which grows as the index comes to its ceiling
    top = largest(t, rh, surface)

    def days(low: float, high: float) -> float:
        far_below = pace(t, rh, surface, low) / (1 - math.exp(2.3 * (low - top)))
        ends = [math.log(1 - math.exp(2.3 * (m - top))) for m in (low, high)]
        return (high - low - (ends[1] - ends[0]) / 2.3) / far_below

    index = steady(t, rh, surface, 960, start)
    for hour in (0, 1, 23, 200, 511, 512, 959):
        reached = float(index[hour])
        if start < reached < top - 1e-3:
            first = days(start, min(1.0, reached))
            then = days(1.0, reached) if reached > 1 else 0.0
            assert (first + then) * 24 == pytest.approx(hour + 1, rel=1e-6)
    assert index[-1] > start or start >= top or rh < 100 * surface.lowest_humidity


@pytest.mark.parametrize("surface", [*CLASSES[:2], PINE])
def test_changing_air_against_a_general_integrator(surface: MouldSurface) -> None:
    # the published equation, hour by hour, rtol 1e-10; growth changes pace at index 1, which costs 1e-6
    rng = np.random.default_rng(7)
    t, rh = rng.uniform(12, 40, 240), rng.uniform(93, 100, 240)
    state, expected = 0.9, []
    for hour in range(240):
        step = solve_ivp(
            lambda _, m, h=hour: [pace(float(t[h]), float(rh[h]), surface, float(m[0]))],
            (0, 1 / 24),
            [state],
            rtol=1e-10,
            atol=1e-12,
        )
        state = float(step.y[0, -1])
        expected.append(state)
    found = mould_index(t, rh / 100, surface, start=0.9).index
    assert expected[-1] > 1.05
    assert found == pytest.approx(np.array(expected), abs=2e-6)


@pytest.mark.parametrize("surface", SURFACES)
def test_index_rises_and_stays_under_its_ceiling(surface: MouldSurface) -> None:
    # 30 C and 100 %: A + B - C
    a, b, c = surface.ceiling
    index = steady(30.0, 100.0, surface, 8760)
    assert np.all(np.diff(index) >= -1e-15)
    assert 0.5 < index[-1] <= a + b - c


def test_an_index_above_the_ceiling_waits() -> None:
    # 25 C and 85 %: pine can reach 1 + 7/4 - 2/16 = 2.625 and no more; an index above it does not decline
    assert steady(25.0, 85.0, PINE, 100, start=4.0) == pytest.approx(4.0, abs=0)
    assert steady(25.0, 85.0, PINE, 24 * 500)[-1] == pytest.approx(2.625, abs=1e-6)


@pytest.mark.parametrize(
    ("t", "rh", "grows"),
    [
        (0.0, 1.0, False),
        (-5.0, 1.0, False),
        (1e-9, 1.0, True),
        (1e-300, 1.0, True),
        (0.5, 1.0, True),
        (49.9, 0.9, True),
        (50.0, 0.9, False),
        (60.0, 0.9, False),
        (20.0, 0.7999, False),
        (20.0, 0.81, True),
        (30.0, 0.80, True),
        (10.0, 0.8202, False),
        (10.0, 0.8204, True),
        (18.0, 0.7998, False),
    ],
)
def test_where_mould_can_grow(t: float, rh: float, grows: bool) -> None:
    # above 0, below 50 C; critical humidity 82.03 % at 10 C (published), 80 % from 20 C on, never below 80 %
    assert bool(damage.mould_growth([t], [rh], PINE).growing[0]) is grows
    assert bool(steady(t, 100 * rh, PINE, 2, start=0.5)[-1] < 0.5) is not grows


def test_resistant_surfaces_want_more_humidity() -> None:
    # 85 % for the two resistant classes, 80 % for the two others, at 25 C
    lowest = [surface.lowest_humidity for surface in CLASSES]
    assert lowest == [0.80, 0.80, 0.85, 0.85]
    grows = [bool(damage.mould_growth([25.0], [0.83], surface).growing[0]) for surface in CLASSES]
    assert grows == [True, True, False, False]
    assert damage.critical_humidity(10.0, 0.85) == 0.85
    # at 20.5 C the cubic would be over 80 %; it holds to 20 C
    assert damage.critical_humidity([20.5, 10.0]) == pytest.approx([0.80, 0.8203], abs=1e-12)


def test_without_growth_the_rates_are_told_as_one_and_the_ceiling_as_zero() -> None:
    growth = damage.mould_growth([20.0, 20.0], [0.5, 0.95], PINE)
    assert (growth.early[0], growth.late[0], growth.ceiling[0]) == (1.0, 1.0, 0.0)
    # published: tm 1.98182 weeks, k1 2.07957 after index 1, Mmax 5.1230
    assert growth.early[1] == pytest.approx(1 / (1.98182 * 168), rel=1e-5)
    assert growth.late[1] == pytest.approx(2.07957 / (1.98182 * 168), rel=1e-5)
    assert growth.ceiling[1] == pytest.approx(5.1230, abs=1e-4)


def test_times_of_1999() -> None:
    # published tm and tv in weeks at 10 C, 95 %; to five decimals
    assert damage.time_to_first_growth(10, 0.95) / 168 == pytest.approx(3.17515, abs=1e-5)
    assert damage.time_to_first_growth(10, 0.95, spruce=True) / 168 == pytest.approx(3.65229, abs=1e-5)
    assert damage.time_to_first_growth(10, 0.95, kiln_dried=True) / 168 == pytest.approx(2.28269, abs=1e-5)
    assert damage.time_to_visible_growth(10, 0.95) / 168 == pytest.approx(6.49331, abs=1e-5)
    assert damage.time_to_visible_growth(10, 0.95, spruce=True) / 168 == pytest.approx(6.89484, abs=1e-5)


# Decline


def test_decline_in_three_steps() -> None:
    # 1 a day is 0.032 for 6 hours, nothing until 24, then 0.016
    index = mould_index(np.full(60, 20.0), np.full(60, 0.5), PINE, start=3.0).index
    lost = np.concatenate([[3.0], index])
    assert -np.diff(lost) == pytest.approx([FAST] * 6 + [0.0] * 18 + [SLOW] * 36, abs=1e-14)


def test_frost_and_heat_decline_too() -> None:
    for t in (-10.0, 0.0, 55.0):
        assert mould_index([t], [1.0], PINE, start=3.0).index[0] == pytest.approx(3.0 - FAST, abs=1e-14)


def test_a_damp_hour_starts_the_count_anew() -> None:
    humidity = np.array([0.5] * 8 + [0.97] + [0.5] * 8)
    index = mould_index(np.full(17, 20.0), humidity, PINE, start=3.0).index
    grown = steady(20.0, 97.0, PINE, 1, start=3.0 - 6 * FAST)[0]
    assert index[8] == pytest.approx(grown, abs=1e-14)
    assert index[16] == pytest.approx(grown - 6 * FAST, abs=1e-14)


@pytest.mark.parametrize(("decline", "factor"), list(zip(Decline, (1.0, 0.5, 0.25, 0.1), strict=True)))
def test_decline_classes(decline: Decline, factor: float) -> None:
    surface = class_surface(Sensitivity.SENSITIVE, decline)
    index = mould_index(np.full(48, 20.0), np.full(48, 0.5), surface, start=3.0).index[-1]
    assert index == pytest.approx(3.0 - factor * (6 * FAST + 24 * SLOW), abs=1e-14)


def test_default_decline_is_the_safe_one() -> None:
    assert class_surface(Sensitivity.SENSITIVE).decline == 0.1
    assert PINE.decline == 1.0


def test_index_starts_at_nothing_and_never_goes_below_it() -> None:
    assert mould_index([20.0], [0.5], PINE).index[0] == 0.0
    assert mould_index(np.full(48, 20.0), np.full(48, 0.5), PINE, start=0.001).index.min() == 0.0


# Many hours, many walls


def weather(hours: int, walls: int) -> tuple[Array, Array]:
    rng = np.random.default_rng(3)
    return rng.uniform(-5, 30, (hours, walls)), rng.uniform(0.7, 1.0, (hours, walls))


def test_a_record_cut_in_two_goes_on_where_it_stopped() -> None:
    t, rh = weather(1500, 4)
    whole = mould_index(t, rh, PINE)
    first = mould_index(t[:700], rh[:700], PINE)
    second = mould_index(t[700:], rh[700:], PINE, first.index[-1], first.quiet)
    assert np.array_equal(np.concatenate([first.index, second.index]), whole.index)
    assert np.array_equal(second.quiet, whole.quiet)
    assert whole.index.max() > 0.2


def test_quiet_hours_are_those_since_growth() -> None:
    found = mould_index([20.0] * 5, [0.97, 0.97, 0.5, 0.5, 0.5], PINE)
    assert found.quiet == 3.0
    assert mould_index([20.0] * 2, [0.5, 0.97], PINE, quiet=9.0).quiet == 0.0
    assert mould_index([20.0], [0.5], PINE, start=1.0, quiet=24.0).index[0] == pytest.approx(
        1 - SLOW, abs=1e-15
    )
    assert mould_index([20.0], [0.5], PINE, start=1.0, quiet=23.0).index[0] == 1.0


def test_a_wall_has_the_same_index_beside_any_other() -> None:
    t, rh = weather(600, 6)
    together = mould_index(t, rh, PINE).index
    for wall in range(6):
        assert np.array_equal(mould_index(t[:, wall], rh[:, wall], PINE).index, together[:, wall])
    cube = mould_index(t.reshape(600, 2, 3), rh.reshape(600, 2, 3), PINE).index
    assert np.array_equal(cube.reshape(600, 6), together)


def test_one_temperature_serves_all_walls() -> None:
    _, rh = weather(50, 3)
    assert np.array_equal(
        mould_index(20.0, rh, PINE).index, mould_index(np.full((50, 3), 20.0), rh, PINE).index
    )


def test_inputs_are_left_alone() -> None:
    t, rh = weather(50, 3)
    rh[0] = 1.005
    kept = t.copy(), rh.copy()
    mould_index(t, rh, PINE)
    damage.decay(t, rh)
    damage.frost_hours(t, rh)
    assert np.array_equal(t, kept[0])
    assert np.array_equal(rh, kept[1])


def test_a_hair_above_saturation_is_saturation() -> None:
    assert steady(20.0, 100.9, PINE, 5)[-1] == steady(20.0, 100.0, PINE, 5)[-1]


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: mould_index([20.0], [85.0], PINE), r"relative humidity is 85; it should be from 0 to 1.01"),
        (
            lambda: mould_index([20.0], [-0.1], PINE),
            r"is -0.1; it should be from 0 to 1.01 \(a share, not %\)$",
        ),
        (lambda: mould_index([20.0], [math.nan], PINE), "relative humidity is nan"),
        (lambda: mould_index([300.0], [0.5], PINE), "temperature is 300; it should be from -60 to 100 C"),
        (lambda: mould_index(20.0, 0.5, PINE), "want at least one hour along the first axis"),
        (lambda: mould_index([], [], PINE), "want at least one hour along the first axis"),
        (lambda: mould_index([20.0], [0.5], PINE, start=6.5), "mould index is 6.5; it should be from 0 to 6"),
        (
            lambda: mould_index([20.0], [0.5], PINE, start=-0.5),
            "mould index is -0.5; it should be from 0 to 6 -$",
        ),
        (lambda: damage.decay([20.0], [0.5], activation=1.5), "activation is 1.5; it should be from 0 to 1"),
        (
            lambda: damage.decay([20.0], [0.5], activation=-0.5),
            "activation is -0.5; it should be from 0 to 1 -$",
        ),
        (lambda: damage.running_mean([1.0, 2.0], 3), "a run of 3 hours on .2,.: want from 1 hour"),
        (lambda: damage.running_mean([1.0, 2.0], 0), "a run of 0 hours"),
        (lambda: damage.running_mean(1.0, 1), "a run of 1 hours"),
        (lambda: damage.thirty_day_humidity([20.0] * 719, 0.5), "a run of 720 hours"),
        (lambda: damage.wood_moisture(20.0, 50.0), r"relative humidity is 50; .* \(a share, not %\)"),
        (lambda: damage.wood_moisture(20.0, 1.02), "relative humidity is 1.02"),
        (lambda: damage.wood_moisture(-31.0, 0.5), "temperature is -31; it should be from -30 to 70 C"),
        (lambda: damage.wood_moisture(71.0, 0.5), "temperature is 71"),
        (lambda: damage.wood_humidity(20.0, -0.1), "wood moisture is -0.1; it should be from 0 to 3 kg/kg"),
        (lambda: damage.wood_humidity(20.0, 16.0), "wood moisture is 16"),
        (lambda: damage.face_water([1.0], [-1.0]), "free water is -1; it should be from 0 to 1000 kg/m2"),
        (lambda: limits()["frost"].judge(math.nan), "frost: a value is not finite; want numbers in kg/m2"),
        (lambda: limits()["frost"].grade([0.0, math.inf]), "frost: a value is not finite"),
    ],
)
def test_messages_say_what_would_be_right(call: Callable[[], object], message: str) -> None:
    with pytest.raises(DamageInputError, match=message):
        call()


# Limits


def test_limits_are_those_of_the_design() -> None:
    # index 1 where room air touches, 3 elsewhere; wood 16/20/26 %, under 18 % at metal
    values = {name: [limit.borderline, limit.value] for name, limit in limits().items()}
    assert values["mould_room_face"] == pytest.approx([0.7, 1.0], abs=1e-12)
    assert values["mould_hidden_face"] == pytest.approx([2.1, 3.0], abs=1e-12)
    assert values["wood_moisture"] == [0.16, 0.20]
    assert values["wood_decay_moisture"] == [0.20, 0.26]
    assert values["wood_at_metal"] == [0.16, 0.18]
    assert values["surface_humidity"][1] == values["monthly_surface_humidity"][1] == 0.80
    assert values["decay_activation"] == pytest.approx([0.7, 1.0], abs=1e-12)


def test_each_limit_is_sourced() -> None:
    for name, limit in limits().items():
        assert limit.name == name
        assert limit.status in {"read", "computed", "from memory", "common practice"}
        assert limit.unit in {"-", "kg/m2"}
        assert len(limit.source) > 5
        assert len(limit.means) > 10
        assert 0 < limit.borderline < limit.value


def test_standing_turns_at_its_ends() -> None:
    # at the limit itself a value is not over
    limit = limits()["mould_hidden_face"]
    assert limit.judge(2.0999) is Standing.WITHIN
    assert limit.judge(limit.borderline) is Standing.BORDERLINE
    assert limit.judge(3.0) is Standing.BORDERLINE
    assert limit.judge(3.0001) is Standing.OVER
    grades = limit.grade([[0.0, 2.5], [9.0, 3.0]])
    assert grades.dtype == np.int64
    assert grades.tolist() == [[0, 1], [2, 1]]
    assert Standing.WITHIN < Standing.BORDERLINE < Standing.OVER


# Surface humidity


def test_running_mean_by_hand() -> None:
    assert damage.running_mean([1.0, 2.0, 4.0, 8.0], 2) == pytest.approx([1.5, 3.0, 6.0], abs=1e-15)
    assert damage.running_mean([1.0, 2.0, 4.0], 3) == pytest.approx([7 / 3], abs=1e-15)
    assert damage.running_mean([1.0, 2.0, 4.0], 1) == pytest.approx([1.0, 2.0, 4.0], abs=1e-15)
    assert damage.running_mean([[1.0, 5.0], [2.0, 7.0]], 2).tolist() == [[1.5, 6.0]]


def test_a_damp_month_in_a_dry_year() -> None:
    # 720 hours at 91 % among 50 %: the mean is over 80 % with 527 of them or more inside: 2 * 194 - 1 runs
    humidity = np.full(4000, 0.5)
    humidity[1500:2220] = 0.91
    found = damage.thirty_day_humidity(20.0, humidity)
    assert found.worst == pytest.approx(0.91, abs=1e-12)
    assert found.runs == 387


def test_only_warm_runs_count() -> None:
    # 5 to 40 C, both ends included; each of the 281 runs of 1000 hours
    temperature = np.tile([4.999, 5.0, 20.0, 40.0, 40.001], (1000, 1))
    found = damage.thirty_day_humidity(temperature, 0.9)
    assert found.worst == pytest.approx([0.0, 0.9, 0.9, 0.9, 0.0], abs=1e-12)
    assert found.runs.tolist() == [0, 281, 281, 281, 0]


def test_longest_spell_by_hand() -> None:
    wet = np.array([[0, 1, 0], [1, 1, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0], [1, 1, 0], [1, 0, 0]], bool)
    assert damage.longest_spell(wet).tolist() == [3, 3, 0]
    assert damage.longest_spell([True, True, False]) == 2


# Wood


@given(st.floats(-30, 70), st.floats(0.02, 0.98))
def test_humidity_and_moisture_are_inverse(t: float, rh: float) -> None:
    assert damage.wood_humidity(t, damage.wood_moisture(t, rh)) == pytest.approx(rh, abs=1e-9)


def test_wood_moisture_by_the_equation() -> None:
    # published: temperature, humidity, moisture, all in %; to three decimals
    rows = [
        (-10, 90, 20.852),
        (0, 30, 6.316),
        (10, 80, 16.382),
        (21.1111, 10, 2.482),
        (30, 50, 8.969),
        (25, 98, 26.415),
    ]
    for t, rh, moisture in rows:
        assert 100 * damage.wood_moisture(t, rh / 100) == pytest.approx(moisture, abs=6e-4)


def test_wood_takes_more_from_damper_air() -> None:
    moisture = damage.wood_moisture([[-20.0], [0.0], [20.0], [60.0]], np.linspace(0, 1, 101))
    assert np.all(np.diff(moisture, axis=1) > 0)
    assert np.all(moisture[:, 0] == 0)
    assert np.all((moisture[:, -1] > 0.2) & (moisture[:, -1] < 0.35))


def test_wood_wetter_than_saturated_air_gives() -> None:
    assert damage.wood_humidity([10.0, 10.0], [0.6, 0.0]) == pytest.approx([1.0, 0.0], abs=1e-14)
    assert damage.wood_moisture(20.0, 1.005) == damage.wood_moisture(20.0, 1.0)


# Decay


def test_decay_needs_warmth_and_very_damp_air() -> None:
    # above 0 C and above 95 %
    t = np.array([0.0, -5.0, 20.0, 20.0, 20.0])
    rh = np.array([1.0, 1.0, 0.95, 0.90, 0.9501])
    assert (damage.decay_activation_rate(t, rh) > 0).tolist() == [False, False, False, False, True]
    assert (damage.decay_loss_rate(t, rh) > 0).tolist() == [False, False, False, False, True]
    # near 0 C the fit would ask for negative times from 95 to 95.3 %
    assert damage.decay_activation_rate(0.1, 0.952) == 0.0
    assert damage.decay_loss_rate(0.1, 0.9505) == 0.0
    assert damage.decay_activation_rate(0.5, 1.0) > 0.0


def test_decay_rates() -> None:
    # published: 20 C and 97 % take 574.986 h, then lose 0.004945 %/h
    assert 1 / damage.decay_activation_rate(20.0, 0.97) == pytest.approx(574.986, abs=1e-3)
    assert damage.decay_loss_rate(20.0, 0.97) == pytest.approx(4.945e-5, abs=1e-9)
    assert damage.decay_activation_rate(45.0, 0.99) == damage.decay_activation_rate(30.0, 0.99)
    assert damage.decay_activation_rate(29.0, 0.99) < damage.decay_activation_rate(30.0, 0.99)
    assert damage.decay_loss_rate(45.0, 1.005) == damage.decay_loss_rate(30.0, 1.0)
    assert damage.decay_loss_rate(29.0, 1.0) < damage.decay_loss_rate(30.0, 1.0)


def test_activation_rises_then_mass_is_lost() -> None:
    # 20 C and 100 %: 220.408 h to activation 1, then 0.00682 %/h (published); from within the 221st hour on
    found = damage.decay(np.full(300, 20.0), np.full(300, 1.0))
    time = 1 / float(damage.decay_activation_rate(20.0, 1.0))
    assert time == pytest.approx(220.408, abs=1e-3)
    assert found.activation[:220] == pytest.approx(np.arange(1, 221) / time, rel=1e-12)
    assert np.all(found.activation[220:] == 1.0)
    assert np.all(found.loss[:220] == 0.0)
    assert found.loss[220:] == pytest.approx(6.82e-5 * (np.arange(221, 301) - time), rel=1e-9)


def test_activation_is_forgotten_in_two_years_but_lost_mass_is_gone() -> None:
    found = damage.decay(np.full(9000, 20.0), np.full(9000, 0.5), activation=0.5, loss=0.02)
    assert found.activation[8758] > 0
    assert found.activation[1751] == pytest.approx(0.4, abs=1e-9)
    assert found.activation[8761:] == pytest.approx(0.0, abs=1e-12)
    assert np.all(found.activation >= 0.0)
    assert np.all(found.loss == 0.02)


def test_wood_that_dried_for_a_day_loses_no_mass_until_activation_is_back() -> None:
    humidity = np.array([1.0] * 10 + [0.5] * 24 + [1.0] * 10)
    found = damage.decay(np.full(44, 20.0), humidity, activation=1.0)
    assert found.loss[9] == pytest.approx(10 * 6.82e-5, rel=1e-9)
    assert found.loss[33] == found.loss[9]
    assert found.activation[33] == pytest.approx(1 - 24 / 17520, abs=1e-12)
    back = 24 / 17520 / float(damage.decay_activation_rate(20.0, 1.0))
    assert found.loss[43] == pytest.approx((20 - back) * 6.82e-5, rel=1e-9)


def test_decay_goes_on_where_it_stopped() -> None:
    t, rh = weather(400, 3)
    rh = 0.93 + 0.07 * (rh - 0.7) / 0.3
    whole = damage.decay(t, rh, activation=0.9)
    first = damage.decay(t[:150], rh[:150], activation=0.9)
    second = damage.decay(t[150:], rh[150:], first.activation[-1], first.loss[-1])
    assert np.array_equal(np.concatenate([first.activation, second.activation]), whole.activation)
    assert np.array_equal(second.loss, whole.loss[150:])
    assert whole.loss[-1].min() > 0


# Metal, condensate, frost


def test_time_of_wetness_counts_damp_hours_above_freezing() -> None:
    # above 80 % and above 0 C, neither included
    t = np.array([[0.0], [0.1], [20.0], [20.0], [-3.0]])
    rh = np.array([[0.9], [0.9], [0.80], [0.801], [0.95]])
    assert damage.time_of_wetness(t, rh).tolist() == [2]


def test_frost_settles_from_saturation_over_ice() -> None:
    # at -10 C: 259.87 over ice and 286.56 Pa over water (published), so from 90.69 %
    t = np.array([-10.0, -10.0, -10.0, 0.0, 1.0, -0.1])
    rh = np.array([0.9060, 0.9075, 1.0, 1.0, 1.0, 1.0])
    assert damage.frost_hours(t, rh) == 3
    assert damage.frost_hours(np.stack([t, t + 20], axis=1), rh[:, None]).tolist() == [3, 0]


def test_water_on_a_face_by_hand() -> None:
    t = np.array([[5.0, 5.0], [-1.0, 5.0], [0.0, 5.0], [2.0, 5.0], [2.0, 5.0]])
    water = np.array([[0.02, 0.0], [0.05, 0.0], [0.07, 0.0], [0.0, 0.0], [0.03, 0.0]])
    found = damage.face_water(t, water)
    assert found.peak.tolist() == [0.03, 0.0]
    assert found.frost.tolist() == [0.07, 0.0]
    assert damage.face_water([0.5], [0.02]).peak == 0.02
    assert found.hours.tolist() == [4, 0]
    assert found.spell.tolist() == [3, 0]
