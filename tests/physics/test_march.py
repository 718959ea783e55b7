"""The fast march: same bits however it is run, balances of any wall, orders of convergence, named faults."""

import ctypes
import math
import subprocess
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.special import erfcx

import build_kernel
from tests.physics.moist_walls import everything, faces, weather, with_sheet
from warmside.physics import kernel, marching
from warmside.physics.forcing import Forcing, forcing, steady
from warmside.physics.kernel import KernelInput
from warmside.physics.marching import LEDGER, Accuracy, Histories, Method, initial, march_walls
from warmside.physics.materials import (
    Conductivity,
    Isotherm,
    Material,
    Vapour,
    material,
    material_names,
)
from warmside.physics.moist_wall import BadWallError, End, Face, Layer, Wall, cut, film
from warmside.physics.water import WATER
from warmside.runs import Stopped

Array = npt.NDArray[np.float64]
HOURS = 48


@cache
def sampled(count: int) -> tuple[Wall, ...]:
    """Walls of one layout whose sizes, materials and leaks all differ."""
    draw = np.random.default_rng(7)
    base = everything()
    walls = []
    for _ in range(count):
        stretch = draw.uniform(0.7, 1.4, len(base.layers))
        concrete = material(
            "concrete", ("adsorption", "desorption")[draw.integers(2)], draw.uniform(0.005, 0.03)
        )
        layers = tuple(
            replace(layer, material=concrete if layer.material.name == "concrete" else layer.material)
            for layer in base.layers
        )
        widths = tuple(row * factor for row, factor in zip(base.widths, stretch, strict=True))
        walls.append(
            replace(base, layers=layers, widths=widths, room_air=base.room_air * draw.uniform(0.0, 3.0))
        )
    return tuple(walls)


def run(walls: tuple[Wall, ...], threads: int = 1, first: int = 0) -> Histories:
    some = walls[first:]
    start = np.concatenate([initial([wall], 2.0, 0.6 + 0.3 * n / 20.0) for n, wall in enumerate(walls)])[
        first:
    ]
    return march_walls(some, [weather(HOURS)] * len(some), start, faces(walls[0]), threads=threads)


def content(out: Histories, wall: int) -> bytes:
    parts = (out.temperature, out.humidity, out.water, out.free, out.run_off, out.ledger, out.state)
    return b"".join(np.ascontiguousarray(part[wall]).tobytes() for part in parts)


# ---- the same bits -----------------------------------------------------------------------------------------


def test_same_bytes_for_any_number_of_threads_and_company() -> None:
    walls = sampled(19)
    one, two = run(walls), run(walls, threads=2)
    assert [content(one, n) for n in range(19)] == [content(two, n) for n in range(19)]
    for first in (3, 18):
        moved = run(walls, first=first)
        assert [content(moved, n) for n in range(19 - first)] == [content(one, n) for n in range(first, 19)]
    assert one.faults == ()


def test_lanes_that_freeze_thaw_and_drip_in_hours_of_their_own_change_no_other() -> None:
    # The group is decided on where it is cold or wet for some lane; each lane must find that for itself.
    some = tuple(map(with_sheet, sampled(8)))
    driven, start = [weather(HOURS, 2.0)] * 8, initial(some, 0.5, 0.99)
    together = march_walls(some, driven, start, faces(some[0]))
    steps = together.ledger[:, LEDGER.index("steps")]
    assert steps.min() > HOURS
    assert len(set(steps)) > 1
    for n in range(8):
        alone = march_walls(some[n : n + 1], driven[:1], start[n : n + 1], faces(some[0]))
        assert content(alone, 0) == content(together, n)


def test_same_bytes_for_every_vector_width(monkeypatch: pytest.MonkeyPatch) -> None:
    widest = kernel.vector_width()
    expected = content(run(sampled(9)), 3)
    for width in (128, 256, 512):
        if width <= widest:
            monkeypatch.setattr(marching, "vector_width", lambda width=width: width)
            assert content(run(sampled(9)), 3) == expected


def test_a_wall_that_needs_less_is_not_changed_by_one_that_needs_more() -> None:
    # Without liquid, bend, rise or sources beside a wall that has all of them.
    plain = replace(sampled(1)[0], room_air=np.zeros(everything().cells))
    dry = tuple(replace(layer, material=material("eps")) for layer in plain.layers)
    plain = replace(plain, layers=dry)
    alone = march_walls([plain], [weather(HOURS)], initial([plain], 2.0, 0.7))
    both = march_walls([plain, *sampled(3)], [weather(HOURS)] * 4, initial([plain] * 4, 2.0, 0.7))
    assert content(alone, 0) == content(both, 0)


# ---- balances ----------------------------------------------------------------------------------------------


def residuals(out: Histories) -> tuple[Array, Array]:
    """Water against the greater of gross flow and 1e-6 of what is stored, energy against gross flow."""
    row = {name: out.ledger[:, place] for place, name in enumerate(LEDGER)}
    water = sum(row[f"water_{name}"] for name in ("outer", "inner", "air", "wetting", "run_off"))
    energy = sum(row[f"energy_{name}"] for name in ("outer", "inner", "sources", "run_off"))
    gross = np.maximum(row["water_gross"], 1e-6 * out.water[:, -1].sum(axis=1))
    return (row["water_gained"] - water) / gross, (row["energy_gained"] - energy) / row["energy_gross"]


@settings(max_examples=25)
@example(48)
@example(1359)
@example(3071)
@given(st.integers(0, 10**6))
def test_random_walls_keep_water_and_energy(seed: int) -> None:
    draw = np.random.default_rng(seed)
    names, walls = material_names(), []
    sizes = draw.uniform(0.01, 0.2, 3)
    for _ in range(8):
        layers = [Layer(material(names[draw.integers(len(names))]), size) for size in sizes]
        wall = cut(layers, film(draw.uniform(5.0, 25.0)), film(draw.uniform(2.0, 8.0)), 1e-3, 1.8)
        cell = int(draw.integers(wall.cells))
        walls.append(replace(wall, room_air=wall.at(cell, draw.uniform(0.0, 5e-4))))
    driven = weather(24, draw.uniform(-20.0, 15.0))
    out = march_walls(walls, [driven] * 8, initial(walls, draw.uniform(-10.0, 20.0), draw.uniform(0.2, 0.98)))
    assert out.faults == ()
    water, energy = residuals(out)
    assert np.abs(water).max() < 1e-9
    assert np.abs(energy).max() < 1e-8


def test_water_beyond_the_film_limit_is_handed_on() -> None:
    wall = with_sheet(everything())
    wall = replace(wall, room_air=5.0 * wall.room_air, film_limit=np.full(wall.cells, 1e-3))
    out = march_walls([wall], [weather(HOURS)], initial([wall], 2.0, 0.9))
    ran = out.run_off[0].sum(axis=0)
    assert ran[2] > 0.05
    assert out.free[0, :, 2].max() <= 1e-3 * len(wall.widths[2]) + 1e-12
    assert -ran.sum() == pytest.approx(out.ledger[0, LEDGER.index("water_run_off")], rel=1e-12)
    assert abs(residuals(out)[0][0]) < 1e-12
    unlimited = replace(wall, film_limit=np.full(wall.cells, np.inf))
    kept = march_walls([unlimited], [weather(HOURS)], initial([wall], 2.0, 0.9))
    assert kept.run_off.sum() == 0.0
    assert kept.free[0, -1, 2] > 0.05


def test_what_is_stored_is_what_the_material_functions_say() -> None:
    out = march_walls(
        [everything()], [weather(HOURS)], initial([everything()], 2.0, 0.9), accuracy=Accuracy(1e-9, 1e-9)
    )
    amiss = out.ledger[0, LEDGER.index("water_amiss")] / out.water[0, -1].sum()
    assert amiss < 1e-12


# ---- orders of convergence ---------------------------------------------------------------------------------


def smooth(hours: int) -> Forcing:
    """Straight ramps, so that the march sees no kinks."""
    at = np.arange(hours + 1.0) / hours
    return forcing(2.0 + 6.0 * at, 0.7 + 0.1 * at, 20.0 - at, 0.5 - 0.1 * at)


def layered(density: int) -> Wall:
    layers = (Layer(material("osb"), 0.02), Layer(material("eps"), 0.05))
    return cut(layers, film(10.0), film(8.0), 2e-3, 1.3, density=density)


@pytest.mark.parametrize("method", Method)
def test_order_in_time(method: Method) -> None:
    wall, driven, order = layered(1), smooth(8), int(method.name[-1])
    first = march_walls([wall], [driven], initial([wall], 8.0, 0.6), accuracy=Accuracy(1e-9, 1e-9, steps=128))

    def after(steps: int) -> Array:
        accuracy = Accuracy(1e-10, 1e-10, steps=steps, method=method)
        return march_walls([wall], [driven], first.state, accuracy=accuracy).state

    reference = after(64)
    errors = [np.abs(after(steps) - reference).max() for steps in (1, 2, 4)]
    assert math.log2(errors[0] / errors[1]) > order - 0.35
    assert math.log2(errors[1] / errors[2]) > order - 0.35


def one_bend() -> tuple[float, float]:
    """Face of a deep stone behind a film an hour after its air begins to warm by 10 K an hour; the exact one.

    Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed., section 2.7: after a step of the air the face
    has come 1 - erfcx(b sqrt(t)) of the way, b = film sqrt(a) / k; here its integral, for a ramp.
    """
    stone = Material("stone", 2e6, Conductivity(2.0), Isotherm(1e-6, -17.0, 1.0, 1.0), Vapour(1e-9))
    film_heat, hours = 25.0, 4
    ends = End(1.0 / film_heat, 1e12), End(1e9, 1e12)
    wall = cut((Layer(stone, 1.0),), *ends, surface=1e-3, growth=1.2, largest=0.02)
    air, half = 10.0 * np.maximum(np.arange(hours + 1.0) - 3.0, 0.0), np.full(hours + 1, 0.5)
    driven = forcing(air, half, 0.0 * air, half)
    out = march_walls([wall], [driven], initial([wall], 0.0, 0.5), [Face(0, False)])
    square = (film_heat / 2.0) ** 2 * 2.0 / 2e6 * 3600.0
    lag = (2.0 * np.sqrt(square / np.pi) + erfcx(np.sqrt(square)) - 1.0) / square
    return float(out.temperature[0, -1, 0]), float(10.0 * (1.0 - lag))


def test_a_face_follows_air_that_begins_to_warm_within_the_hour() -> None:
    # 0.04 K in 3.7 K: a step of an hour without what march_newton.h adds for bends errs by 0.10 K.
    found, exact = one_bend()
    assert found == pytest.approx(exact, abs=0.04)


def test_order_in_space() -> None:
    rows = []
    for density in (1, 2, 4, 8):
        wall = layered(density)
        ends = [Face(0, False), Face(wall.last(0), True), Face(wall.cells - 1, True)]
        out = march_walls(
            [wall], [smooth(24)], initial([wall], 8.0, 0.6), ends, Accuracy(1e-8, 1e-8, steps=4)
        )
        rows.append(np.concatenate([out.temperature[0, -1], out.humidity[0, -1]]))
    steps = [np.abs(fine - coarse).max() for coarse, fine in pairwise(rows)]
    assert math.log2(steps[0] / steps[1]) > 1.7
    assert math.log2(steps[1] / steps[2]) > 1.7


# ---- limits ------------------------------------------------------------------------------------------------


def test_steady_heat_flow_is_that_of_the_resistances() -> None:
    stone = Material("stone", 1e5, material("xps").conductivity, material("xps").isotherm, Vapour(1e-6))
    wall = cut((Layer(stone, 0.05, contact=0.3), Layer(stone, 0.02)), End(0.05, 1e12), End(0.13, 1e12))
    out = march_walls(
        [wall], [steady(400, (-5.0, 0.5), (20.0, 0.4))], initial([wall], 5.0, 0.5), [Face(0, False)]
    )
    flow = 25.0 / (0.05 + 0.07 / 0.0289 + 0.3 + 0.13)
    assert out.temperature[0, -1, 0] == pytest.approx(-5.0 + 0.05 * flow, abs=1e-4)


@pytest.mark.parametrize("surface", [4e-3, 2e-3, 1e-3])
def test_a_face_that_pores_keep_wet_dries_as_its_film_lets_it(surface: float) -> None:
    """Liquid reaches the face whatever the size of its cell: the film is all the resistance there is.

    Concrete made to suck e^8 times as fast, held at 1 MPa from behind. Exact for pores without resistance:
    the face is as humid as the water behind it (Kelvin's equation). 0.1 point: a tight film, so that what
    evaporates cools the face cell by less than 0.01 K, which is worth 0.1 points.
    """
    plain = material("concrete")
    assert plain.liquid is not None
    first, *others = plain.liquid.coefficients
    fast = replace(plain, liquid=replace(plain.liquid, coefficients=(first + 8.0, *others)))
    wall = cut((Layer(fast, 0.02),), End(0.0, 4e9), End(0.0, 1e30), surface=surface)
    last = wall.cells - 1
    wall = replace(wall, wetting=wall.at(last, 1.0), wetting_suction=np.full(wall.cells, np.log(1e6)))
    driven = steady(400, (20.0, 0.5), (20.0, 0.5), wet_share=1.0)
    out = march_walls([wall], [driven], initial([wall], 20.0, 0.9), [Face(0, False)])
    humid = np.exp(-1e6 / WATER.kelvin(np.array(20.0)))
    assert out.humidity[0, -1, 0] == pytest.approx(humid, abs=1e-3)


def test_a_soil_row_passes_heat_and_holds_a_suction() -> None:
    soil = Material(
        "soil", 2e6, material("concrete").conductivity, material("concrete").isotherm, Vapour(1e-9)
    )
    layers = (Layer(soil, 1.0), Layer(material("concrete"), 0.2))
    wall = cut(layers, End(0.0, 1e30), film(8.0), 5e-3, 1.6, 0.2)
    first = wall.first(1)
    wall = replace(wall, wetting=wall.at(first, 1.0), wetting_suction=np.full(wall.cells, np.log(1e4)))
    driven = steady(24 * 20, (8.0, 0.9), (20.0, 0.5), wet_share=1.0)
    out = march_walls([wall], [driven], initial([wall], 10.0, 0.9))
    assert out.faults == ()
    assert out.state[0, first, 1] == pytest.approx(np.log(1e4), abs=1e-3)
    assert out.ledger[0, LEDGER.index("water_wetting")] > 0.0


# ---- what goes wrong is told -------------------------------------------------------------------------------


def test_a_wall_that_fails_is_named_and_the_others_go_on() -> None:
    good = layered(1)
    # Saturated pores that neither hold more nor let anything through, and water pressed into them.
    full = replace(material("eps"), vapour=Vapour(1e-30))
    bad = replace(good, layers=(good.layers[0], Layer(full, 0.05)), heat=good.at(good.last(1), 1e9))
    walls = [good, bad, good]
    out = march_walls(walls, [smooth(24)] * 3, initial(walls, 8.0, 0.6), [Face(0, False)])
    (fault,) = out.faults
    assert (fault.wall, fault.hour) == (1, 0)
    assert fault.layer in (0, 1)
    assert np.isfinite([fault.temperature, fault.potential]).all()
    assert np.isnan(out.temperature[1]).all()
    assert np.isnan(out.state[1]).all()
    alone = march_walls([good], [smooth(24)], initial([good], 8.0, 0.6), [Face(0, False)])
    assert [content(out, n) for n in (0, 2)] == [content(alone, 0)] * 2


class Impatient:
    """A watch that says stop at once, or never."""

    def __init__(self, stops: bool) -> None:
        self.stops, self.told = stops, [(0, 0)]

    def step(self, done: int, total: int, code: str) -> None:
        self.told.append((done, total))

    def stop(self) -> bool:
        return self.stops


def test_a_watch_is_told_and_can_stop() -> None:
    walls = sampled(17)
    patient, impatient = Impatient(False), Impatient(True)
    arguments = ([*walls], [weather(HOURS)] * 17, initial(walls, 2.0, 0.8))
    watched = march_walls(*arguments, watch=patient)
    assert patient.told[-1] == (3, 3)
    assert content(watched, 5) == content(march_walls(*arguments), 5)
    with pytest.raises(Stopped):
        march_walls(*arguments, watch=impatient)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"walls": []}, r"walls: 0 and 1 forcings were given; one for each is right"),
        (
            {"walls": [layered(2)]},
            r"state: float64 of shape \(1, 16, 2\) was given; float64 of \(1, 32, 2\) is right",
        ),
        (
            {"state": np.full((1, 16, 2), np.nan)},
            r"state: nan was given at \(0, 0, 0\); every number must be finite",
        ),
        ({"faces": [Face(16, True)]}, r"faces: cell 16 was given; 0 to 15 is right"),
        ({"threads": 0}, r"threads: 0 was given; 1 or more is right"),
    ],
)
def test_wrong_input_is_named(wrong: dict[str, object], message: str) -> None:
    wall = layered(1)
    right = {"walls": [wall], "forcings": [smooth(2)], "state": initial([wall], 5.0, 0.5)}
    with pytest.raises(KernelInput, match=message):
        march_walls(**(right | wrong))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: cut((Layer(material("eps"), 0.0),), film(8.0), film(8.0)), "layer 1, eps: thickness 0 m"),
        (
            lambda: cut((Layer(material("eps"), 3e-4),), film(8.0), film(8.0), 2e-4),
            "less than two cells .* make it a membrane",
        ),
        (lambda: Wall((), (), film(8.0), film(8.0)), "0 layers and 0 rows of cells"),
        (lambda: replace(layered(1), room_air=np.full(16, -1.0)), "room_air: want 16 numbers, none below 0"),
        (lambda: replace(layered(1), outer=End(-1.0, 0.0)), "a film's resistance is below 0"),
    ],
)
def test_wrong_walls_are_named(make: Callable[[], Wall], message: str) -> None:
    with pytest.raises(BadWallError, match=message):
        make()


def test_the_c_code_and_the_binding_agree_on_sizes() -> None:
    library = kernel._library()

    sizes = [library.march_sizes(n) for n in range(7)]
    assert sizes[6] == ctypes.sizeof(marching._Walls)
    assert sizes[4:6] == [len(LEDGER), 4]


# ---- outside Python, watched by sanitizers -----------------------------------------------------------------

DRIVER = Path(__file__).with_name("march_walls_driver.c")
# As the older driver is watched; zig has no library for memory, and traps the other.
WATCHED = {
    "cc": ["-g", "-O0", "-DMARCH_NARROW", "-fsanitize=address,undefined", "-fno-sanitize-recover=all"],
    "zig": ["-g", "-O0", "-DMARCH_NARROW", "-fsanitize=undefined", "-fsanitize-trap=undefined"],
}


def case(path: Path) -> bytes:
    """Writes one group as the driver reads it; gives faces and state as the installed kernel has them."""
    walls, driven, seen = list(sampled(8)), [weather(6)] * 8, faces(sampled(8)[0])
    job = marching._Job(walls, driven, seen, marching.USUAL, WATER, np.zeros(1, np.int64))
    inputs, tables = marching._inputs(walls, seen), marching._tables(walls, driven)
    outputs = job._outputs(initial(walls, 2.0, 0.9))
    told = job._told({**inputs, **tables, **outputs, "stop": job.flag})
    arrays = [*inputs.values(), *tables.values(), outputs["state"]]
    head = np.array([128], np.int64).tobytes() + bytes(told)
    path.write_bytes(head + b"".join(np.ascontiguousarray(array).tobytes() for array in arrays))
    kernel._library().march_walls(128, ctypes.byref(told))
    return outputs["faces"].tobytes() + outputs["state"].tobytes()


@pytest.mark.parametrize("compiler", list(build_kernel.compilers()))
def test_sanitizers_find_nothing_in_the_march(compiler: str, tmp_path: Path) -> None:
    command = (*build_kernel.compilers()[compiler], *build_kernel.CALCULATION, *WATCHED[compiler])
    program = tmp_path / "driver"
    sources = (str(DRIVER), str(build_kernel.SOURCE), *build_kernel.LIBRARIES)
    assert build_kernel.succeeds(*command, "-o", str(program), *sources)
    expected = case(tmp_path / "case")
    done = subprocess.run([program, str(tmp_path / "case")], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
    assert done.stdout == expected
