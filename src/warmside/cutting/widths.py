"""Which widths of a batt are worth buying for a house.

A bay that only another width fits would take a whole bag of it. Where such a bag is not used up, the house is
cut without that width too: wider batts are ripped, rim batts lie on edge, or two stand side by side. The
cutting that leaves less to be bought is taken, by the area of whole bags beyond those at hand (own
arrangement).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from warmside.catalog.goods import Batt
from warmside.cutting.inside import InsideFill
from warmside.cutting.nesting import Nest, nest
from warmside.cutting.pieces import Piece, fill_bay, fill_rim
from warmside.job.resolve import House, HouseAssembly, HouseWall
from warmside.wall.frame import WallFrame

Cut = tuple[House, tuple[Nest, ...]]
"""A house with the widths that it is cut from, and the batts that it takes."""


def choose_widths(house: House, built: Mapping[str, WallFrame], inside: Sequence[InsideFill]) -> Cut:
    """The house with the widths that it is cut from, and the batts that it takes."""
    best: Cut = (house, nests_of(house, built, inside))
    for _ in range(len(best[1])):
        fewer = min((best, *_with_fewer(best, built, inside)), key=_bought)
        if fewer is best:
            break
        best = fewer
    return best


def same_widths(house: House, like: House) -> House:
    """The house with the widths that another reading of the same survey is cut from, wall by wall.

    Else an order for both readings would add up goods that stand for each other.
    """
    chosen = {wall.name: wall.assembly for wall in like.walls}
    walls = tuple(_as_in(wall, chosen.get(wall.name, wall.assembly)) for wall in house.walls)
    return replace(house, walls=walls)


def _as_in(wall: HouseWall, other: HouseAssembly) -> HouseWall:
    batts, rim = (
        tuple(one for one in own if one in theirs) or own
        for own, theirs in (
            (wall.assembly.batts, other.batts),
            (wall.assembly.rim_batts, other.rim_batts),
        )
    )
    return replace(wall, assembly=replace(wall.assembly, batts=batts, rim_batts=rim))


def nests_of(house: House, built: Mapping[str, WallFrame], inside: Sequence[InsideFill]) -> tuple[Nest, ...]:
    """The batts that a house takes, of the widths that it has."""
    return nest(_pieces(house, built, inside))


def _with_fewer(cut: Cut, built: Mapping[str, WallFrame], inside: Sequence[InsideFill]) -> Iterator[Cut]:
    """The house without one of the widths whose first bag is not used up; other families stay as cut."""
    house, nests = cut
    for few in [each.batt for each in nests if each.count < each.batt.per_bag.value]:
        other = _without(house, few)
        if other is not None:
            again = nest(p for p in _pieces(other, built, inside) if p.batt.family == few.family)
            kept = [each for each in nests if each.batt.family != few.family]
            yield other, tuple(sorted([*kept, *again], key=lambda each: each.batt.id))


def _pieces(house: House, built: Mapping[str, WallFrame], inside: Sequence[InsideFill]) -> Iterator[Piece]:
    for wall in house.walls:
        if wall.frame is not None:
            yield from _of_wall(wall, built[wall.name])
    for each in inside:
        yield from each.pieces


def _of_wall(wall: HouseWall, built: WallFrame) -> Iterator[Piece]:
    for bay in () if wall.keeps_batts else built.bays:
        yield from fill_bay(wall, bay).pieces
    for rim_bay in built.rim_bays:
        yield from fill_rim(wall, rim_bay)


def _without(house: House, batt: Batt) -> House | None:
    """The house without one width of batt; None where nothing uses it or a wall has no other."""
    walls = tuple(_spared(wall, batt) for wall in house.walls)
    empty = any(not wall.assembly.batts or not wall.assembly.rim_batts for wall in walls)
    return None if empty or walls == house.walls else replace(house, walls=walls)


def _spared(wall: HouseWall, batt: Batt) -> HouseWall:
    batts, rim = (
        tuple(one for one in batts if one != batt) for batts in (wall.assembly.batts, wall.assembly.rim_batts)
    )
    return replace(wall, assembly=replace(wall.assembly, batts=batts, rim_batts=rim))


def _bought(cut: Cut) -> int:
    """Area of the batts in all bags that have to be bought [square length units]."""
    house, nests = cut
    return sum(
        max(0, each.bags - house.at_hand.get(each.batt.id, 0))
        * each.batt.per_bag.value
        * each.batt.width.value
        * each.batt.length.value
        for each in nests
    )
