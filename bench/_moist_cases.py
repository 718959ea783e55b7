"""The three walls of the moisture measurements (moist_walls.toml): samples, weather, errors."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from time import perf_counter
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from warmside.physics.companion import FIRST_DAY
from warmside.physics.damage import mould_index, wood_moisture, wood_surface
from warmside.physics.forcing import Forcing, forcing, sol_air
from warmside.physics.marching import Accuracy, Histories, initial, march_walls
from warmside.physics.materials import material, membrane_from_pairs
from warmside.physics.moist_wall import Face, Layer, Wall, air_layer, cut, film

FloatArray = npt.NDArray[np.float64]
Four = tuple[float, float, float, float]
WALLS: dict[str, dict[str, Any]] = tomllib.loads(
    (Path(__file__).parent / "moist_walls.toml").read_text("utf-8")
)
YEAR = 8760
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
    plain = cut(nominal, film(20.0), film(8.0), None, told["growth"], told["largest"], density)
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

    rms_t, max_t of temperature [K], rms_h, max_h of humidity [points], shares of the peaks of free water and
    of wood moisture, mould index at the end; mould at all is the reference's largest index, so that an error
    of nothing can be told from no mould.
    """

    rms_t: float
    max_t: float
    rms_h: float
    max_h: float
    free: float
    wood: float
    mould: float
    mould_at_all: float


HEADINGS = "T rms K | T max K | RH rms | RH max | free water % | wood % | mould | mould at all"


def shown(e: Errors) -> str:
    """Columns of a row under HEADINGS."""
    return (
        f"{e.rms_t:.4f} | {e.max_t:.3f} | {e.rms_h:.3f} | {e.max_h:.2f} | {100.0 * e.free:.2f}"
        f" | {100.0 * e.wood:.2f} | {e.mould:.4f} | {e.mould_at_all:.2f}"
    )


def errors(found: Histories, exact: Histories, told: dict[str, Any], made: Wall) -> Errors:
    """The error of a run."""
    hourly = errors_at(found.temperature, found.humidity, exact.temperature, exact.humidity)
    free, exact_free = (out.free[:, FIRST_DAY:].max(axis=1) for out in (found, exact))
    wood = wood_faces(told, made)
    moist, exact_moist = (_wettest_wood(out, wood) for out in (found, exact))
    mould, exact_mould = (_mould(out, wood) for out in (found, exact))
    gap, at_all = float(np.abs(mould - exact_mould).max()), float(exact_mould.max())
    return Errors(*hourly, _share(free, exact_free, 1e-3), _share(moist, exact_moist, 0.0), gap, at_all)


def errors_at(t: FloatArray, h: FloatArray, exact_t: FloatArray, exact_h: FloatArray) -> Four:
    """rms_t, max_t, rms_h, max_h of histories with shape (walls, hours, faces)."""
    gaps = (t - exact_t)[:, FIRST_DAY:], 100.0 * (h - exact_h)[:, FIRST_DAY:]
    pairs = [(float(np.sqrt((row**2).mean(axis=1)).max()), float(np.abs(row).max())) for row in gaps]
    return (*pairs[0], *pairs[1])


def wood_faces(told: dict[str, Any], made: Wall) -> list[int]:
    """Places of the faces that are judged as wood."""
    names = [told["layers"][made.layer_of[face.cell]][0] for face in faces(made)]
    return [place for place, name in enumerate(names) if name in told["wood"]]


def _share(found: FloatArray, exact: FloatArray, least: float) -> float:
    """Largest error of peaks as a share of them, of those that are over the least."""
    some = exact > least
    return float(np.abs(found[some] / exact[some] - 1.0).max()) if some.any() else 0.0


def _hours(out: Histories, wood: list[int]) -> tuple[FloatArray, FloatArray]:
    """Temperature and humidity at faces of wood, hours first."""
    t, h = (np.moveaxis(row[:, FIRST_DAY:][:, :, wood], 1, 0) for row in (out.temperature, out.humidity))
    return np.clip(t, -30.0, 70.0), np.minimum(h, 1.0)


def _wettest_wood(out: Histories, wood: list[int]) -> FloatArray:
    return np.asarray(wood_moisture(*_hours(out, wood)).max(axis=0))


def _mould(out: Histories, wood: list[int]) -> FloatArray:
    return np.asarray(mould_index(*_hours(out, wood), wood_surface()).index[-1])


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
