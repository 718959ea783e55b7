"""Conduction and ground: what an answer costs, beside time stepping and a direct factorisation.

One core, one BLAS thread. Goals: a 2-D section in 30 ms; 40,000 cells in 3-D, two grids together, in 0.6 s
with a total error under 0.5 %. Times are the median of the repeats; ratios are of times in the same run.
"""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
import pyamg
from scipy import sparse
from threadpoolctl import threadpool_limits

from warmside.checks.heat import floor_loss, slab_linear
from warmside.physics.conduction import Body, Solver, System, symmetric_lu
from warmside.physics.ground import (
    GROUND,
    INDOOR,
    OUTDOOR,
    Plan,
    Section,
    Zone,
    plan_body,
    section_body,
    steady_loss,
    without_layers,
)
from warmside.physics.ground_rules import Soil
from warmside.physics.ground_surface import YEAR
from warmside.physics.response import ANNUAL, Assembly, Condensed, hourly, spectrum

SECTION = Section(4.0, 2.4, 0.3, Soil(1.5, 2e6), wall=(Zone(0.0, 2.7, 2.5),))
ANGLE = Plan(((0, 0), (12, 0), (12, 5), (7, 5), (7, 9), (0, 9)))
WINTER = {INDOOR: 20.0, OUTDOOR: 5.0, GROUND: 5.0}
SWING = {INDOOR: 0.0, OUTDOOR: -14.0, GROUND: -12.0}
GC10A = 2432.597
"""Published flow of the slab with a linear edge [W]."""


def timed(work: Callable[[], object], repeats: int = 5) -> float:
    """Median time of a piece of work [s]."""
    spans = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        spans.append(time.perf_counter() - start)
    return statistics.median(spans)


def line(label: str, seconds: float, note: str = "") -> None:
    """Print one measurement."""
    print(f"  {label:<58} {1000 * seconds:10.2f} ms   {note}")


def section_cold() -> Assembly:
    """Mean and annual wave of a section from nothing."""
    answer = Condensed(without_layers(SECTION)).with_layers(SECTION)
    answer.loss(0.0), answer.loss(ANNUAL), answer.face(2.2, 2.35, ANNUAL)
    return answer


def section_plain() -> None:
    """The same without condensing: two grids for the error, one annual wave."""
    steady_loss(lambda d: section_body(SECTION, d), WINTER)
    System(section_body(SECTION)).solve(SWING, ANNUAL)


def weather() -> dict[str, np.ndarray]:
    """An invented year: seasons, days, and noise of a few days."""
    hours, noise = np.arange(8760), np.random.default_rng(1).normal(size=8760)
    noise = np.convolve(noise, np.exp(-np.arange(200) / 40), "same")
    outdoor = (
        5
        - 14 * np.cos(2 * np.pi * (hours / 24 - 20) / 365)
        - 4 * np.cos(2 * np.pi * (hours - 3) / 24)
        + noise
    )
    ground = 6 - 12 * np.cos(2 * np.pi * (hours / 24 - 30) / 365)
    return {INDOOR: np.full(8760, 20.0), OUTDOOR: outdoor, GROUND: ground}


def stepped(system: System, years: dict[str, np.ndarray], start: np.ndarray, steps: int) -> np.ndarray:
    """Hourly trapezoidal steps with one factorisation: what the frequency response replaces."""
    heat = sparse.diags(np.asarray(system.heat) / (YEAR / 8760))
    factors = symmetric_lu((0.5 * system.matrix + heat).tocsc())
    behind = (heat - 0.5 * system.matrix).tocsr()
    series = np.array([years[name] for name in system.environments])
    now, kept = start, np.empty((steps, system.size), np.float32)
    for step in range(steps):
        drive = 0.5 * (series[:, step % 8760] + series[:, (step - 1) % 8760])
        now = factors.solve(behind @ now + system.drive @ drive)
        kept[step] = now
    return kept


def section_report() -> None:
    """A 2-D section, cold and warm, and its hourly year against hourly steps."""
    print("2-D section (goal 30 ms)")
    cold = timed(section_cold)
    ground = section_cold().ground
    line(f"section from nothing, {ground.system.size} cells: mean and annual wave", cold)
    line("the same uncondensed, with the error from a second grid", timed(section_plain))
    other = replace(SECTION, wall=(Zone(0.0, 2.7, 4.0),))

    def warm() -> None:
        answer = ground.with_layers(other)
        answer.loss(0.0), answer.loss(ANNUAL), answer.face(2.2, 2.35, ANNUAL)

    line("another assembly on the same ground", timed(warm, 20), f"{cold / timed(warm, 20):.0f} times faster")
    years = weather()

    def year() -> np.ndarray:
        answer = ground.with_layers(SECTION)
        found = spectrum(lambda w: answer.face(2.2, 2.35, w), answer.environments)
        return hourly(found, years).values

    line("hourly year of a face, first time (26 frequencies factorised)", timed(year, 1))
    again = timed(year)
    line("hourly year of a face, another assembly", again)
    system = System(section_body(SECTION))
    begin = time.perf_counter()
    steps = stepped(
        system, years, system.solve({n: float(y.mean()) for n, y in years.items()}).temperature, 3 * 8760
    )
    spent = (time.perf_counter() - begin) / 3
    line(
        "hourly steps, one year of several to the periodic state",
        spent,
        f"{spent / again:.0f} times the response",
    )
    gap = face_of(system, steps[-8760:], years[INDOOR]) - year()
    print(f"  third year of steps against the response at that face: rms {np.sqrt(np.mean(gap**2)):.3f} K")


def face_of(system: System, cells: np.ndarray, indoor: np.ndarray) -> np.ndarray:
    """Mean temperature of the concrete's inner face between 2.2 and 2.35 m, from cell temperatures [C]."""
    surface, height = system.surface, system.surface.centre[:, 1] - SECTION.slab
    wall = np.array([p.name for p in system.body.patches])[surface.patch] == "wall"
    mine = wall & (height > 2.2) & (height < 2.35)
    behind = cells[:, surface.cell[mine]]
    share = surface.half[mine] / (surface.half[mine] + surface.film[mine])
    return np.average(behind + share * (indoor[:, None] - behind), axis=1, weights=surface.area[mine])


def block_report() -> None:
    """3-D: error and time of two bodies, beside a direct factorisation and daily steps."""
    print("3-D block (goal 0.6 s at 40,000 cells, total error under 0.5 %)")
    found: list[float] = []
    spent = timed(lambda: found.append(4 * floor_loss(lambda d: slab_linear(6.0, 0.24, 120.0, d))), 3)
    cells = System(slab_linear(6.0, 0.24, 120.0, 2)).size
    line(
        f"slab with linear edge, {cells} cells and an eighth of it",
        spent,
        f"error {found[0] / GC10A - 1:+.2%}",
    )
    bare = replace(SECTION, rim_height=0.0)
    loss = steady_loss(lambda d: plan_body(bare, ANGLE, (), d), WINTER)
    spent = timed(lambda: steady_loss(lambda d: plan_body(bare, ANGLE, (), d), WINTER), 3)
    fine = steady_loss(lambda d: plan_body(bare, ANGLE, (), d), WINTER, density=4)
    away = loss.heat.value / fine.heat.value - 1
    note = f"error {away:+.2%} against {fine.cells} cells, balance {loss.balance:.0e}"
    line(f"L-shaped plan, {loss.cells} cells and an eighth of it", spent, note)
    system = System(plan_body(bare, ANGLE))
    steady, wave = timed(lambda: system.solve(WINTER), 3), timed(lambda: system.solve(SWING, ANNUAL), 3)
    line("  of it the steady solve", steady)
    line("  the annual wave", wave)
    direct = timed(lambda: system.solve(WINTER, method=Solver.DIRECT), 1)
    line("  direct factorisation of the same equations", direct, f"{direct / steady:.0f} times multigrid")
    levels = pyamg.ruge_stuben_solver(
        system.magnitude(1 / 86400).tocsr(), strength=("classical", {"theta": 0.1})
    )
    load = system.drive @ system.vector(WINTER)
    step = timed(lambda: levels.solve(load, tol=1e-8, accel="cg"), 3)
    line(
        "  one year of daily steps, hierarchy kept, from three steps",
        365 * step,
        f"{365 * step / wave:.0f} times the wave",
    )


def scaling() -> None:
    """Time against the number of cells."""
    print("cost against cells, steady, L-shaped plan")
    bare = replace(SECTION, rim_height=0.0)
    last: tuple[int, float] | None = None
    for density in (1, 2, 3, 4):
        body: Body = plan_body(bare, ANGLE, (), density)
        system = System(body)
        spent = timed(partial(system.solve, WINTER), 1)
        power = (
            ""
            if last is None
            else f"cells to the power {np.log(spent / last[1]) / np.log(system.size / last[0]):.2f}"
        )
        line(f"{system.size:>8} cells", spent, power)
        last = system.size, spent


def main() -> None:
    """Print all measurements."""
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    with threadpool_limits(1):
        section_report()
        block_report()
        scaling()


if __name__ == "__main__":
    main()
