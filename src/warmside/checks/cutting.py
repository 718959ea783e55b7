"""Checks of the nesting: published cutting-stock problems in one dimension, solved as batts of full width.

The value computed is the number of batts where the bound proves it, else the negative of the gap, so that an
answer without a proof fails.
"""

from __future__ import annotations

from warmside.checks.registry import Inputs, computes
from warmside.cutting.columns import fewest
from warmside.cutting.patterns import Pattern, Size


@computes("cutting-stock")
@computes("cutting-stock-gaps")
def _cutting_stock(row: Inputs) -> float:
    room = int(row.number("room"))
    wanted = (part.split(" x ") for part in row.text("wanted").split(", "))
    sizes = tuple(Size(1, int(height), int(count)) for count, height in wanted)
    alone = [Pattern("across", ((n,),)) for n, size in enumerate(sizes) for _ in range(size.wanted)]
    found = fewest(1, room, sizes, tuple(alone))
    taken = len(found.batts)
    return float(taken if taken == found.least else found.least - taken)
