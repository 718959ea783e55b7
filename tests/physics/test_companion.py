"""The companion grid: its error beside the true one where the answer is known; what doubling must keep."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pytest
from scipy.optimize import brentq

from tests.physics.moist_walls import everything, faces, weather, with_sheet
from warmside.physics.companion import (
    SMOOTH,
    Companion,
    Figure,
    doubled,
    doubled_face,
    doubled_state,
    hours_above,
    last_mould,
    last_water,
    march_with_companion,
    peak_free,
    peak_wood_moisture,
)
from warmside.physics.damage import wood_surface
from warmside.physics.forcing import Forcing, steady
from warmside.physics.marching import Accuracy, initial, march_walls
from warmside.physics.materials import Conductivity, Isotherm, Material, Vapour, material
from warmside.physics.moist_wall import End, Face, Layer, Wall, cut
from warmside.physics.transport import Equations
from warmside.physics.water import WATER

Array = npt.NDArray[np.float64]
TIGHT = Accuracy(1e-9, 1e-9, steps=16)
HOURS = 48


# ---- where the answer is known -----------------------------------------------------------------------------

SEALED = End(0.0, 1e30)
STONE = Material("stone", 2e6, Conductivity(2.0), Isotherm(1e-6, -17.0, 1.0, 1.0), Vapour(1e-9))
LENGTH, SPREAD = 1.0, 1e-6
"""Of the slab [m], and its thermal diffusivity [m2/s]."""


def slab() -> tuple[Wall, Array]:
    """Two layers of one stone between faces at 10 C, and the cell means of a sine above that."""
    wall = cut((Layer(STONE, 0.5 * LENGTH), Layer(STONE, 0.5 * LENGTH)), SEALED, SEALED, 0.02, 1.4, 0.12)
    ends = np.concatenate([[0.0], np.cumsum(wall.width)])
    mean = -np.diff(np.cos(np.pi * ends / LENGTH)) * LENGTH / np.pi / wall.width
    return wall, initial([wall], (10.0 + 10.0 * mean)[None], 0.5)


def cooling(face: Face, figures: dict[str, Figure] | None = None) -> tuple[Companion, Array]:
    """The slab marched with its companion, and its true temperature in the middle."""
    wall, start = slab()
    driven = steady(HOURS, (10.0, 0.5), (10.0, 0.5))
    found = march_with_companion([wall], [driven], start, [face], figures or {}, SMOOTH, TIGHT)
    after = 3600.0 * np.arange(1.0, HOURS + 1.0)
    # Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed., section 3.3: one wave of the series.
    return found, 10.0 + 10.0 * np.exp(-SPREAD * (np.pi / LENGTH) ** 2 * after)


def test_the_stated_error_of_a_temperature_is_the_true_one() -> None:
    # Errors go with h^2 + c h^4; cells of a tenth of the slab leave (pi / 10)^2 / 4 of that, 2 %, and growing
    # cells some of the third order: 15 %.
    found, exact = cooling(Face(slab()[0].last(0), True))
    gap = np.abs(found.base.temperature[0, 24:, 0] - exact[24:])
    assert gap.max() > 1e-3
    assert found.faces.max_temperature[0, 0] == pytest.approx(gap.max(), rel=0.15)
    assert found.faces.rms_temperature[0, 0] == pytest.approx(np.sqrt((gap**2).mean()), rel=0.15)


RISING = Material(
    "rising", 1e3, Conductivity(0.1), Isotherm(0.0173, -20.516, 1.0, 6.0), Vapour(0.2, 1e-3, 6.0)
)


def half_way(driven: Forcing) -> float:
    """Humidity there: the integral of the permeability runs straight in a steady isothermal flow."""
    saturated = float(np.exp(WATER.log_saturation(np.array(20.0))[0]))
    low, high = float(driven.outdoor_vapour[0]) / saturated, float(driven.room_vapour[0]) / saturated

    def integral(phi: float) -> float:
        return 0.2 * phi + 1e-3 / 6.0 * float(np.exp(6.0 * phi))

    middle = 0.5 * (integral(low) + integral(high))
    return float(brentq(lambda phi: integral(phi) - middle, low, high, xtol=1e-13))


def humid(density: int = 1) -> Wall:
    held = End(0.0, 0.0)
    layers = (Layer(RISING, 0.05), Layer(RISING, 0.05))
    return cut(layers, held, held, 6e-3, 1.4, 0.02, density)


def test_the_stated_error_of_a_humidity_is_the_true_one() -> None:
    # As above: a share of h^2 left, plus third order from cells that grow by 1.4: 15 %.
    wall, driven = humid(), steady(HOURS, (20.0, 0.3), (20.0, 0.95))
    face = Face(wall.last(0), True)
    found = march_with_companion([wall], [driven], initial([wall], 20.0, 0.6), [face], {}, SMOOTH, TIGHT)
    gap = abs(float(found.base.humidity[0, -1, 0]) - half_way(driven))
    assert gap > 1e-4
    assert found.faces.max_humidity[0, 0] == pytest.approx(gap, rel=0.15)
    assert found.faces.rms_humidity[0, 0] == pytest.approx(gap, rel=0.15)


def test_doubling_twice_shows_order_2() -> None:
    # Both known answers, on the base, doubled and quadrupled grid: 2 less what the coarsest grid hides.
    wall, driven = humid(), steady(HOURS, (20.0, 0.3), (20.0, 0.95))
    errors, face = [], Face(wall.last(0), True)
    for _ in range(3):
        out = march_walls([wall], [driven], initial([wall], 20.0, 0.6), [face], TIGHT)
        errors.append(abs(float(out.humidity[0, -1, 0]) - half_way(driven)))
        wall, face = doubled(wall), doubled_face(face)
    assert min(np.log2(coarse / fine) for coarse, fine in pairwise(errors)) > 1.8


def test_a_figure_has_the_true_error_by_its_order() -> None:
    wall, _ = slab()
    last = Figure(lambda out: out.temperature[:, -1, 0], SMOOTH)
    found, exact = cooling(Face(wall.last(0), True), {"last": last, "safe": Figure(last.of)})
    smooth, safe = found.figures["last"], found.figures["safe"]
    assert smooth.value[0] == found.base.temperature[0, -1, 0]
    assert smooth.error[0] == pytest.approx(abs(smooth.value[0] - exact[-1]), rel=0.15)
    # 2 / (4 / 3): a gap is half of a first-order error and three quarters of a second-order one.
    assert safe.error[0] == pytest.approx(1.5 * smooth.error[0], rel=1e-12)


# ---- what doubling keeps -----------------------------------------------------------------------------------


def test_doubling_keeps_sizes_sources_and_contents() -> None:
    wall = everything()
    fine = doubled(wall)
    for coarse, dense in zip(wall.widths, fine.widths, strict=True):
        np.testing.assert_allclose(dense.reshape(-1, 2).sum(axis=1), coarse, rtol=1e-14)
    for name in ("room_air", "outdoor_air", "beside", "heat", "wetting"):
        np.testing.assert_allclose(
            getattr(fine, name).reshape(-1, 2).sum(axis=1), getattr(wall, name), rtol=1e-14
        )
    # What reaches a face stays at it.
    for name, cell in (("room_air", 2 * wall.first(2)), ("wetting", 0)):
        assert np.flatnonzero(getattr(fine, name)).tolist() == [cell]
    assert fine.film_limit[2 * wall.first(2)] == wall.film_limit[wall.first(2)]
    assert fine.film_limit[2 * wall.first(2) + 1] == np.inf


def test_doubled_cells_grow_as_evenly_as_those_of_a_denser_cut() -> None:
    # The cut's own doubling follows the same growth: equal but for where that changes, at the ends of layers.
    for ours, cut_anew in zip(doubled(humid()).widths, humid(2).widths, strict=True):
        np.testing.assert_allclose(ours, cut_anew, rtol=0.15)


def test_a_doubled_start_holds_the_same_free_water_and_means() -> None:
    wall = with_sheet(everything())
    state = march_walls([wall], [weather(24)], initial([wall], 2.0, 0.95)).state[0]
    fine, equations = doubled_state(wall, state), Equations(wall, weather(1))
    free = equations.parted(*state.T)[1]
    assert free.max() > 0.0
    again = Equations(doubled(wall), weather(1)).parted(*fine.T)[1]
    np.testing.assert_allclose(again.reshape(-1, 2).sum(axis=1), free, rtol=1e-12, atol=1e-15)
    weights = doubled(wall).width.reshape(-1, 2)
    means = (weights * fine[:, 0].reshape(-1, 2)).sum(axis=1) / weights.sum(axis=1)
    np.testing.assert_allclose(means, state[:, 0], rtol=0.0, atol=1e-12)


def test_a_doubled_wall_with_everything_is_marched_and_comes_nearer() -> None:
    # No outside answer here. On cells of the grid rule, water is of first order at least: half and a fifth.
    told = []
    for density in (1, 2):
        wall = everything(3e-4, density)
        wall = replace(wall, beside=np.where(wall.beside > 0.0, 20.0 * wall.width, 0.0))
        start, names = initial([wall], 6.0, 0.8), {"layer": last_water(1), "free": peak_free(2)}
        found = march_with_companion([wall], [weather(HOURS, 6.0)], start, faces(wall), names)
        assert found.faults == ()
        assert found.faces.rms_temperature.shape == (1, len(faces(wall)))
        told.append(found.figures["layer"].error[0])
    assert 0.0 < told[1] < 0.6 * told[0]


# ---- figures -----------------------------------------------------------------------------------------------


def still(humidity: float, hours: int) -> tuple[Wall, Forcing, Array]:
    """A board in air of its own state: nothing moves."""
    wall = cut((Layer(material("osb"), 0.012),), End(0.1, 1e9), End(0.1, 1e9), 1e-3)
    return wall, steady(hours, (20.0, humidity), (20.0, humidity)), initial([wall], 20.0, humidity)


def test_figures_of_a_wall_where_nothing_moves() -> None:
    # Hukka and Viitanen 1999: 20 C, 97 % bring pine sapwood to index 1 in
    # exp(66.02 - 0.68 ln 20 - 13.9 ln 97) weeks, 249 h; half an hour is 0.002 of it.
    hours = 24 + round(168.0 * float(np.exp(66.02 - 0.68 * np.log(20.0) - 13.9 * np.log(97.0))))
    wall, driven, start = still(0.97, hours)
    names = {
        "mould": last_mould(0, wood_surface()),
        "over": hours_above(0, 0.9),
        "never": hours_above(0, 0.98),
        "free": peak_free(0),
        "water": last_water(0),
    }
    found = march_with_companion([wall], [driven], start, [Face(0, False)], names).figures
    assert found["mould"].value[0] == pytest.approx(1.0, abs=0.005)
    assert found["over"].value.tolist() == [hours - 24]
    assert found["never"].value.tolist() == found["free"].value.tolist() == [0.0]
    log_suction = float(start[0, 0, 1])
    content = float(material("osb").isotherm.content(np.array(log_suction)))
    # The march's saturation curve is within 1e-5 of the one that made the air: the board takes up that much.
    assert found["water"].value[0] == pytest.approx(0.012 * content, rel=1e-4)
    assert all(estimate.error[0] < 1e-6 for estimate in found.values())


def test_wood_moisture_at_a_face() -> None:
    # Wood Handbook, table 4-2: 12.0 % at 65 % and 70 F; 20 C is 1 K colder, less than 0.1 %.
    wall, driven, start = still(0.65, 30)
    names = {"wood": peak_wood_moisture(0)}
    found = march_with_companion([wall], [driven], start, [Face(0, False)], names).figures
    assert found["wood"].value[0] == pytest.approx(0.12, abs=0.001)


def test_a_wall_with_a_fault_has_no_error_and_the_others_keep_theirs() -> None:
    good, driven, start = still(0.65, 30)
    full = replace(material("eps"), vapour=Vapour(1e-30))
    bad = replace(good, layers=(Layer(full, 0.012),), heat=good.at(0, 1e9))
    found = march_with_companion(
        [good, bad], [driven] * 2, np.concatenate([start] * 2), [], {"water": last_water(0)}
    )
    assert {fault.wall for fault in found.faults} == {1}
    assert np.isnan([found.figures["water"].value[1], found.figures["water"].error[1]]).all()
    assert found.figures["water"].error[0] < 1e-6
