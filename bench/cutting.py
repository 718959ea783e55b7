"""Nesting: batts taken, the least proved and the time, beside first-fit and a plain assignment model.

Pieces in 10 mm classes, drawn with a fixed seed, from batts of 381 x 1190 mm. `straight`: all of whole width;
`odd`: half of them ripped; `tenths`: odd, in classes of 0.1 mm, four draws. The assignment model gives every
piece to a batt with a 0-or-1 choice, on the same solver (HiGHS); it knows no strips, so that it is run on
straight pieces only, and is stopped by the clock.
"""

from __future__ import annotations

import math
import random
import statistics
import time
from collections.abc import Sequence

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array, hstack, identity, kron
from threadpoolctl import threadpool_limits

from warmside.catalog.goods import Batt, shelf
from warmside.cutting.columns import fewest
from warmside.cutting.nesting import Nest, nest
from warmside.cutting.pieces import Piece
from warmside.units import MM, Length
from warmside.wall.in_the_way import Box

WIDTH, LENGTH = 381, 1190
COUNTS = (50, 100, 200, 300, 500, 1000)
ASSIGNED = 100
"""Above this many pieces the assignment model finds nothing worth waiting for."""
TENTHS, DRAWS = 300, (300, 1, 2, 3)
"""So many pieces of nearly as many sizes, and the seeds of their draws."""
PATIENCE = 60.0
"""The assignment model is stopped after so long [s]."""
NOWHERE = Box(Length(0), Length(0), Length(0), Length(0))


def stock() -> Batt:
    """A batt of whole centimetres."""
    known = shelf().batts("R12 glass")[0]
    sizes = {"width": Length(WIDTH * MM), "length": Length(LENGTH * MM)}
    return known.model_copy(
        update={name: getattr(known, name).model_copy(update={"value": v}) for name, v in sizes.items()}
    )


def drawn(count: int, *, odd: bool, step: int = 10 * MM, seed: int | None = None) -> list[Piece]:
    """So many pieces in classes of 10 mm, or another step, the same every time."""
    chance, batt = random.Random(count if seed is None else seed), stock()
    pieces = []
    for number in range(count):
        ripped = odd and chance.random() < 0.5
        width = step * chance.randint(80 * MM // step, 370 * MM // step) if ripped else WIDTH * MM
        sizes = Length(width), Length(step * chance.randint(150 * MM // step, LENGTH * MM // step))
        pieces.append(Piece(f"A1.{number}", "batt", batt, NOWHERE, *sizes))
    return pieces


def timed(pieces: Sequence[Piece], repeats: int = 3) -> tuple[Nest, float]:
    """The nest, and the median time from nothing [s]."""
    spans = []
    for _ in range(repeats):
        fewest.cache_clear()
        start = time.perf_counter()
        (found,) = nest(pieces)
        spans.append(time.perf_counter() - start)
    return found, statistics.median(spans)


def assigned(pieces: Sequence[Piece], batts: int) -> tuple[int | None, int | None, float]:
    """Batts by a choice of 0 or 1 for each piece and batt, the bound, and the time [s].

    batts : how many there are to choose from
    """
    heights = np.array([piece.cut_height / MM for piece in pieces])
    count = len(pieces)
    each_once = hstack([kron(identity(count), np.ones((1, batts))), csr_array((count, batts))])
    room = hstack([kron(heights[None, :], identity(batts)), -LENGTH * identity(batts)])
    cost = np.concatenate([np.zeros(count * batts), np.ones(batts)])
    start = time.perf_counter()
    found = milp(
        cost,
        integrality=np.ones(len(cost)),
        bounds=Bounds(0, 1),
        constraints=[LinearConstraint(each_once, 1, 1), LinearConstraint(room, ub=0)],
        options={"time_limit": PATIENCE},
    )
    spent = time.perf_counter() - start
    bound = found.mip_dual_bound
    taken = None if found.x is None else round(float(found.fun))
    return taken, None if bound is None else math.ceil(bound - 1e-6), spent


def row(count: int, *, odd: bool) -> tuple[str, float]:
    """One line of the table, and the time of ours [s]."""
    pieces = drawn(count, odd=odd)
    found, spent = timed(pieces, 1 if count > 500 else 3)
    distinct = len({(piece.cut_width, piece.cut_height) for piece in pieces})
    beside = "– | – | –"
    if not odd and count <= ASSIGNED:
        taken, bound, took = assigned(pieces, found.first_fit)
        beside = f"{taken or 'none'} | {bound or 'none'} | {took:.1f}"
    kind = "odd" if odd else "straight"
    mine = f"{found.first_fit} | {found.count} | {found.least} | {found.proof} | {spent:.2f}"
    return f"| {kind} | {count} | {distinct} | {mine} | {beside} |", spent


def growing(spans: Sequence[float]) -> float:
    """The power of the number of pieces that the times follow, by least squares of the logarithms [-]."""
    slope, _ = np.polyfit(np.log(COUNTS), np.log(spans), 1)
    return float(slope)


def main() -> None:
    """Print the table, on one core."""
    head = ("pieces", "number", "distinct", "first-fit", "result", "least", "by", "s")
    other = ("assignment", "its bound", "s")
    print("| " + " | ".join((*head, *other)) + " |")
    print("|---" * len((*head, *other)) + "|")
    growth = []
    with threadpool_limits(1):
        for odd in (False, True):
            spans = []
            for count in COUNTS:
                line, spent = row(count, odd=odd)
                spans.append(spent)
                print(line, flush=True)
            growth.append(growing(spans))
        for seed in DRAWS:
            found, spent = timed(drawn(TENTHS, odd=True, step=MM // 10, seed=seed), 1)
            mine = f"{found.first_fit} | {found.count} | {found.least} | {found.proof} | {spent:.2f}"
            print(f"| tenths | {TENTHS} | draw {seed} | {mine} | – | – | – |", flush=True)
    print(f"\nTime grows as the number to the power of {growth[0]:.1f} (straight) and {growth[1]:.1f} (odd).")


if __name__ == "__main__":
    main()
