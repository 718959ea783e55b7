"""Wall-years per second of the moisture march at a stated error, and the same problem by general integrators.

One wall-year is 8760 hours of one slice with ice, latent heat, an air layer that exchanges, one leak, a
variable membrane and sun, all on. Three published walls (bench/moist_walls.toml), each with 256 different
samples, one thread. The time error is taken against steps of 56 s and tight Newton on the same grid, over all
hours after the first day and all reported faces, for eight of the samples; the total error against four times
as many cells as well. General integrators solve the first days of one wall.
"""

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.integrate import solve_ivp
from threadpoolctl import threadpool_limits

from warmside.physics import transport
from warmside.physics.forcing import Forcing, forcing, sol_air
from warmside.physics.marching import LEDGER, USUAL, Accuracy, Histories, Method, initial, march_walls
from warmside.physics.materials import material, membrane_from_pairs
from warmside.physics.moist_wall import Face, Layer, Wall, air_layer, cut, film

FloatArray = npt.NDArray[np.float64]
WALLS = tomllib.loads((Path(__file__).parent / "moist_walls.toml").read_text("utf-8"))
YEAR, SAMPLES, ROUNDS = 8760, 256, 5
FINE = Accuracy(1e-4, 1e-4, steps=64, events=64)
"""Steps of 56 s and tight Newton."""


def weather(told: dict[str, Any], hours: int = YEAR) -> Forcing:
    """An invented year: seasons, days, fronts, cloud, sun on the face; the same numbers at every run."""
    at = np.arange(hours + 1.0)
    draw = np.random.default_rng(20)
    fronts, cloud = _drift(draw, hours, 60.0), 0.5 + 0.5 * np.tanh(_drift(draw, hours, 20.0))
    season, day = np.cos(2 * np.pi * (at / YEAR - 0.05)), np.cos(2 * np.pi * (at - 15.0) / 24.0)
    sun = told["sun"] * np.maximum(day, 0.0) * (1.0 - 0.8 * cloud) * (1.0 - 0.5 * season)
    outdoor = 6.0 - 14.0 * season + 4.0 * day * (1.0 - 0.6 * cloud) + 4.0 * fronts
    depth, lag = told["soil_share"], told["soil_lag_days"] * 24.0
    soil = 8.0 - 14.0 * depth * np.cos(2 * np.pi * ((at - lag) / YEAR - 0.05))
    face = sol_air(outdoor, sun, outdoor - 12.0 * (1.0 - cloud), 0.6, 15.0, 4.5)
    return forcing(
        outdoor,
        np.clip(0.75 - 0.1 * day + 0.1 * cloud, 0.3, 0.98),
        21.0 - 1.0 * season,
        0.5 - 0.15 * season + 0.03 * day,
        outer=soil if told["buried"] else face,
        room_share=np.clip(0.4 + 0.6 * season + 0.2 * fronts, 0.0, 1.0),
        outdoor_share=np.clip(0.4 - 0.4 * season, 0.0, 1.0),
        beside=soil,
        wet_share=np.ones(hours + 1) if told["buried"] else (cloud > 0.97).astype(float),
    )


def _drift(draw: np.random.Generator, hours: int, memory: float) -> FloatArray:
    """Noise of unit size that forgets itself within some hours."""
    steps, keep = draw.normal(size=hours + 1), np.exp(-1.0 / memory)
    drift, row = 0.0, np.empty(hours + 1)
    for hour, step in enumerate(steps):
        drift = keep * drift + np.sqrt(1.0 - keep**2) * float(step)
        row[hour] = drift
    return row


def wall(told: dict[str, Any], draw: np.random.Generator | None, density: int = 1) -> Wall:
    """The published wall, or a sample of what workmanship and materials do to it."""

    def vary(spread: float) -> float:
        return 1.0 if draw is None else float(np.exp(draw.normal(0.0, spread)))

    sheet = membrane_from_pairs("variable", (0.25, 40e-12 * vary(0.2)), (0.75, 600e-12 * vary(0.2)))
    layers = []
    for name, thickness in told["layers"]:
        made = air_layer(thickness, 0.17) if name == "air" else material(name)
        if name == "concrete":
            made = material(name, "adsorption", 0.015 * vary(0.3))
        layers.append(
            Layer(
                made,
                thickness * (vary(0.03) if name != "air" else 1.0),
                sheet if name == told["sheet_behind"] else None,
            )
        )
    sliced = _cut(layers, told, density)
    gap, behind = sliced.first(told["gap"]), sliced.first(told["leak"])
    wetting = sliced.at(sliced.first(told["wet"]), told["wetting"] * vary(0.5))
    return replace(
        sliced,
        room_air=sliced.at(gap, 5e-5 * vary(0.5)) + sliced.at(behind, 1e-4 * vary(0.7)),
        outdoor_air=sliced.at(gap, 5e-5 * vary(0.5)),
        beside=np.where(np.arange(sliced.cells) < gap, told["beside"] / gap, 0.0),
        wetting=wetting,
        wetting_suction=np.full(sliced.cells, np.log(1e4)),
    )


def _cut(layers: Sequence[Layer], told: dict[str, Any], density: int) -> Wall:
    """Cells by the nominal sizes, so that all samples share one layout."""
    nominal = [
        replace(layer, thickness=size) for layer, (_, size) in zip(layers, told["layers"], strict=True)
    ]
    plain = cut(nominal, film(20.0), film(8.0), told["surface"], told["growth"], told["largest"], density)
    widths = tuple(row * layer.thickness / row.sum() for row, layer in zip(plain.widths, layers, strict=True))
    return Wall(tuple(layers), widths, plain.outer, plain.inner)


def faces(made: Wall) -> list[Face]:
    """Outer face, both sides of every face between layers, inner face."""
    inside = [
        face
        for layer in range(len(made.layers) - 1)
        for face in (Face(made.last(layer), True), Face(made.first(layer + 1), False))
    ]
    return [Face(0, False), *inside, Face(made.cells - 1, True)]


class Errors(NamedTuple):
    """Against a reference, after the first day, the worst of all walls and faces.

    rms_t, max_t of temperature [K], rms_h, max_h of humidity [points], share of the peak of free water
    """

    rms_t: float
    max_t: float
    rms_h: float
    max_h: float
    free: float


def errors(found: Histories, reference: Histories) -> Errors:
    """The error of a run."""
    t = (found.temperature - reference.temperature)[:, 24:]
    h = 100.0 * (found.humidity - reference.humidity)[:, 24:]
    peaks = [out.free[:, 24:].max(axis=1) for out in (found, reference)]
    wet = peaks[1] > 1e-3
    peak = np.abs(peaks[0][wet] / peaks[1][wet] - 1.0).max() if wet.any() else 0.0
    rms = [float(np.sqrt((row**2).mean(axis=1)).max()) for row in (t, h)]
    return Errors(rms[0], float(np.abs(t).max()), rms[1], float(np.abs(h).max()), float(peak))


def samples(told: dict[str, Any], count: int, density: int = 1) -> list[Wall]:
    """Walls that differ as workmanship and materials do; the same at every run."""
    draw = np.random.default_rng(256)
    return [wall(told, draw, density) for _ in range(count)]


def timed(
    walls: list[Wall], driven: Forcing, accuracy: Accuracy, threads: int = 1
) -> tuple[float, Histories]:
    """Wall-years per second, and what came out."""
    start = initial(walls, 12.0, 0.75)
    before = perf_counter()
    out = march_walls(walls, [driven] * len(walls), start, faces(walls[0]), accuracy, threads)
    return len(walls) * driven.hours / YEAR / (perf_counter() - before), out


ACCURACIES = {
    "usual": USUAL,
    "order 3": replace(USUAL, method=Method.ESDIRK_3),
    "SDIRK 2": replace(USUAL, method=Method.SDIRK_2),
    "half hours": replace(USUAL, steps=2, events=16),
    "no events": replace(USUAL, events=1),
}


def time_error(name: str, told: dict[str, Any]) -> None:
    """Prints speed and error of each way of stepping on eight samples of one wall."""
    walls, driven = samples(told, 8), weather(told)
    _, exact = timed(walls, driven, FINE)
    print(f"{name}: {walls[0].cells} cells, 8 samples, one thread, faults {len(exact.faults)}")
    for label, accuracy in ACCURACIES.items():
        speed, out = timed(walls, driven, accuracy)
        row = dict(zip(LEDGER, out.ledger.sum(axis=0), strict=True))
        print(
            f"  {label:10} {_line(speed, errors(out, exact))}, {row['solves'] / 8 / YEAR:.2f} solves an hour"
        )
    _, fine = timed(samples(told, 8, 4), driven, replace(FINE, steps=16, events=16))
    speed, out = timed(walls, driven, USUAL)
    print(f"  total      {_line(speed, errors(out, fine))} (against four times the cells, steps of 225 s)")


def _line(speed: float, e: Errors) -> str:
    return (
        f"{speed:6.1f} wall-years/s, T rms {e.rms_t:.4f} max {e.max_t:.3f} K,"
        f" RH rms {e.rms_h:.3f} max {e.max_h:.2f} points, free water {100.0 * e.free:.2f} %"
    )


def speeds(told: dict[str, Any]) -> None:
    """Prints the median speed on all samples, and how it depends on the number of walls and threads."""
    driven = weather(told)
    found = [timed(samples(told, SAMPLES), driven, USUAL)[0] for _ in range(ROUNDS)]
    print(f"  256 samples, one thread: {median(found):.1f} wall-years/s, median of {ROUNDS}")
    short = weather(told, 1000)
    for count in (1, 8, 256, 1024):
        rates = [timed(samples(told, count), short, USUAL, threads)[0] for threads in (1, 2)]
        print(f"  {count:5} walls: {rates[0]:6.1f} with one thread, {rates[1]:6.1f} with two")


def others(told: dict[str, Any], days: int = 3) -> None:
    """Prints the readable version and LSODA on one of the walls, as ratios to the fast march."""
    made, driven = samples(told, 1)[0], weather(told, 24 * days)
    _, exact = timed([made], driven, FINE)
    speed = timed(samples(told, 256), driven, USUAL)[0]
    runs: dict[str, Callable[[], transport.March]] = {
        "readable, BDF 1e-4": lambda: transport.march(made, driven, 12.0, 0.75, faces(made), tolerance=1e-4),
        "LSODA banded 1e-4": lambda: by_lsoda(made, driven, 1e-4),
    }
    for label, run in runs.items():
        before = perf_counter()
        out = run()
        rate = days / 365.0 / (perf_counter() - before)
        worst = np.abs(out.face_temperature[25:] - exact.temperature[0, 24:]).max()
        print(f"  {label}: {rate:.4f} wall-years/s, T max {worst:.3f} K; ratio {speed / rate:.0f}")


def by_lsoda(made: Wall, driven: Forcing, tolerance: float) -> transport.March:
    """The readable equations by LSODA with a banded Jacobian."""
    equations = transport.Equations(made, driven)
    start = initial([made], 12.0, 0.75)[0].ravel()
    wanted = np.arange(driven.hours + 1.0)
    done = solve_ivp(
        equations.rates,
        (0.0, wanted[-1]),
        start,
        "LSODA",
        wanted,
        rtol=tolerance,
        atol=10.0 * tolerance,
        lband=3,
        uband=3,
        max_step=1.0,
    )
    states = done.y.T.reshape(len(wanted), made.cells, 2)
    at = [equations.at_faces(hour, row, faces(made)) for hour, row in zip(wanted, states, strict=True)]
    seen = np.array(at)
    return transport.March(wanted, states[:, :, 0], states[:, :, 1], seen[:, 0], seen[:, 1])


def main() -> None:
    """Prints the table."""
    with threadpool_limits(1):
        for name, told in WALLS.items():
            time_error(name, told)
            speeds(told)
            others(told)
