"""Wall-years per second of the moisture march at a stated error, and the same problem by general integrators.

One wall-year is 8760 hours of one slice with ice, latent heat, an air layer that exchanges, one leak, a
variable membrane and sun, all on. Three published walls (moist_walls.toml), each with 256 different samples,
one thread on one core. The time error is taken against steps of 56 s and tight Newton on the same grid, over
all hours after the first day and all faces, for eight of the samples; the total error against four times as
many cells as well; the error of the grid from base, doubled and quadrupled cells. Wood is judged at the faces
that moist_walls.toml names. General integrators solve the first days of one wall.

    ./run bench moisture [WALL ...] [quick]

`quick` takes 64 samples, a tenth of a year and one round.
"""

from __future__ import annotations

import os
import platform
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median
from typing import Any

import numpy as np
from threadpoolctl import threadpool_limits

from bench._moist_cases import (
    FINE,
    HEADINGS,
    WALLS,
    YEAR,
    Errors,
    errors,
    faces,
    samples,
    shown,
    timed,
    wall,
    weather,
    wood_faces,
)
from bench._moist_others import others
from warmside.physics.companion import (
    doubled,
    doubled_face,
    doubled_state,
    face_errors,
    last_mould,
    last_water,
    peak_free,
    peak_wood_moisture,
)
from warmside.physics.damage import wood_surface
from warmside.physics.kernel import vector_width
from warmside.physics.marching import LEDGER, USUAL, Accuracy, Histories, Method, initial, march_walls

__all__ = ["FINE", "WALLS", "YEAR", "Errors", "errors", "faces", "samples", "timed", "wall", "weather"]

ACCURACIES = {
    "usual": USUAL,
    "order 3": replace(USUAL, method=Method.ESDIRK_3),
    "SDIRK 2": replace(USUAL, method=Method.SDIRK_2),
    "half hours": replace(USUAL, steps=2, events=16),
    "quarter hours": replace(USUAL, steps=4, events=16),
    "no events": replace(USUAL, events=1),
}
QUARTERS = replace(FINE, steps=16, events=16)
"""Steps of 225 s and tight Newton."""
JUDGED = 8
"""Samples whose error is taken: one group of lanes."""


@dataclass(frozen=True)
class Size:
    """How much is measured."""

    hours: int = YEAR
    samples: int = 256
    rounds: int = 5
    crowds: tuple[int, ...] = (1, 8, 256, 1024)
    crowd_hours: int = 500
    days: int = 2


WHOLE, QUICK = Size(), Size(YEAR // 10, 64, 1, (1, 8, 64), 200, 2)


def say(row: str) -> None:
    """A row of the result."""
    print(row, flush=True)


def progress(what: str) -> None:
    """Where we are, apart from the result."""
    print(f"... {what}", file=sys.stderr, flush=True)


def table(headings: str) -> None:
    """Head of a table."""
    say(f"\n| {headings} |\n|{'---|' * (headings.count('|') + 1)}")


@contextmanager
def on_one_core() -> Iterator[None]:
    """Pins this process to a core where the system lets it."""
    if not hasattr(os, "sched_setaffinity"):
        yield
        return
    mine = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(mine)})
    try:
        yield
    finally:
        os.sched_setaffinity(0, mine)


def time_errors(told: dict[str, Any], size: Size) -> None:
    """Speed and error in time of each way of stepping, on eight samples; then the total error."""
    walls, driven = samples(told, JUDGED), weather(told, size.hours)
    progress("steps of 56 s")
    _, exact = timed(walls, driven, FINE)
    table(f"eight samples, one thread | wall-years/s | turns an hour | {HEADINGS}")
    for label, accuracy in ACCURACIES.items():
        progress(label)
        speed, out = timed(walls, driven, accuracy)
        turns = out.ledger[:, LEDGER.index("solves")].sum() / JUDGED / size.hours
        say(f"| {label} | {speed:.1f} | {turns:.2f} | {shown(errors(out, exact, told, walls[0]))} |")
        if label == "usual":
            first = speed, turns, out
    progress("four times the cells, steps of 225 s")
    dense = samples(told, JUDGED, 4)
    _, fine = timed(dense, driven, QUARTERS)
    lost = f", {len(exact.faults)} and {len(fine.faults)} faults" if exact.faults or fine.faults else ""
    total = errors(first[2], fine, told, walls[0])
    say(f"| usual, total{lost} | {first[0]:.1f} | {first[1]:.2f} | {shown(total)} |")


def speeds(told: dict[str, Any], size: Size) -> None:
    """The median speed on all samples, and how it depends on the number of walls and threads."""
    driven, walls = weather(told, size.hours), samples(told, size.samples)
    found = []
    with on_one_core():
        for number in range(size.rounds):
            progress(f"{size.samples} samples, round {number + 1} of {size.rounds}")
            found.append(timed(walls, driven, USUAL)[0])
    say(
        f"\n{size.samples} samples, {size.hours} hours, one thread on one core:"
        f" **{median(found):.1f} wall-years/s** (median of {size.rounds},"
        f" {min(found):.1f} to {max(found):.1f})"
    )
    short = weather(told, size.crowd_hours)
    table(f"walls, {size.crowd_hours} hours | one thread | two threads")
    for count in size.crowds:
        progress(f"{count} walls")
        crowd = samples(told, count)
        rates = [timed(crowd, short, USUAL, threads)[0] for threads in (1, 2)]
        say(f"| {count} | {rates[0]:.1f} | {rates[1]:.1f} |")


def grids(told: dict[str, Any], size: Size) -> None:
    """Gaps between base, doubled and quadrupled cells, hourly and of figures, with the stated error."""
    runs = {"1 h": nested(told, size.hours, USUAL), "225 s": nested(told, size.hours, QUARTERS)}
    for steps, found in runs.items():
        face_gaps(told, steps, found)
    figure_gaps(told, runs["1 h"])


def face_gaps(told: dict[str, Any], steps: str, found: list[Histories]) -> None:
    """Gaps of the hourly values at every face."""
    table(
        f"face, steps of {steps}, rms and max of eight samples | base to doubled: T K | RH points"
        " | doubled to quadrupled: T K | RH points"
    )
    for number, place in enumerate(places(told)):
        cells = []
        for coarse, dense in pairwise(found):
            # The stated error is twice the gap.
            e = [0.5 * row[:, number].max() for row in face_errors(coarse, dense)]
            cells.append(f"{e[0]:.4f}, {e[1]:.3f} | {100 * e[2]:.3f}, {100 * e[3]:.2f}")
        say(f"| {place} | {' | '.join(cells)} |")


def places(told: dict[str, Any]) -> list[str]:
    """Names of the faces."""
    made = samples(told, 1)[0]
    sides = {True: "inner face", False: "outer face"}
    return [f"{told['layers'][made.layer_of[f.cell]][0]}, {sides[f.inward]}" for f in faces(made)]


def figure_gaps(told: dict[str, Any], found: list[Histories]) -> None:
    """Figures on each grid, with the stated error; of wood at the face with the most mould."""

    def mould(face: int) -> float:
        return float(last_mould(face, wood_surface()).of(found[0]).sum())

    spot = max(wood_faces(told, samples(told, 1)[0]), key=mould)
    table("figure, its worst sample | base | doubled | quadrupled | stated error | base less quadrupled")
    figures = {
        "water in the outermost layer, kg/m2": last_water(0),
        "peak free water on it, kg/m2": peak_free(0),
        "peak free water in the air layer, kg/m2": peak_free(1),
        f"peak wood moisture, {places(told)[spot]}, kg/kg": peak_wood_moisture(spot),
        "mould index there, -": last_mould(spot, wood_surface()),
    }
    for name, figure in figures.items():
        values = np.array([figure.of(out) for out in found])
        k = int(np.abs(values[0] - values[2]).argmax())
        stated = 2.0 * abs(values[1, k] - values[0, k])
        numbers = [*values[:, k], stated, abs(values[0, k] - values[2, k])]
        say(f"| {name} | {' | '.join(f'{number:.4g}' for number in numbers)} |")


def nested(told: dict[str, Any], hours: int, accuracy: Accuracy) -> list[Histories]:
    """Eight samples on base, doubled and quadrupled cells."""
    walls, driven = samples(told, JUDGED), weather(told, hours)
    start, seen, found = initial(walls, 12.0, 0.75), faces(walls[0]), []
    for cells in ("base", "doubled", "quadrupled"):
        progress(f"{cells} cells, {accuracy.steps} steps an hour")
        found.append(march_walls(walls, [driven] * JUDGED, start, seen, accuracy))
        start = np.stack([doubled_state(one, row) for one, row in zip(walls, start, strict=True)])
        walls, seen = [doubled(one) for one in walls], [doubled_face(face) for face in seen]
    return found


def integrators(told: dict[str, Any], size: Size) -> None:
    """General integrators at an error no greater than the march's."""
    progress("general integrators")
    table(
        f"{size.days} days of one wall | tolerance | T rms K | T max K | RH rms | RH max | wall-years/s"
        " | march of 256 is faster by"
    )
    with on_one_core():
        others(told, size.days, say)


PARTS: tuple[Callable[[dict[str, Any], Size], None], ...] = (time_errors, speeds, grids, integrators)


def main(*words: str) -> None:
    """Print the tables of the walls named, of all when none is; exits with a sentence at another word."""
    unknown = sorted(set(words) - {*WALLS, "quick"})
    if unknown:
        known = f"there are: {', '.join(WALLS)}, and the word quick"
        print(f"No wall is called {', '.join(unknown)}; {known}.", file=sys.stderr)
        sys.exit(2)
    size, chosen = (QUICK if "quick" in words else WHOLE), [name for name in WALLS if name in words]
    say(
        f"{platform.machine()}, vectors of {vector_width()} bit, {os.cpu_count()} cores of which one is used"
        f" (two where two threads are named), Python {platform.python_version()}, numpy {np.__version__}"
    )
    with threadpool_limits(1):
        for name in chosen or WALLS:
            told = WALLS[name]
            made = samples(told, 1)[0]
            sizes = 1000.0 * np.array([made.width.min(), made.width.max()])
            say(
                f"\n## {name}\n\n{made.cells} cells of {sizes[0]:.2f} to {sizes[1]:.1f} mm,"
                f" {size.hours} hours"
            )
            for part in PARTS:
                part(told, size)
