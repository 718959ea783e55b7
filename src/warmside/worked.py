"""A house run through frames, pieces, worth and order; `answers` does the rest and shows it.

Faults of the geometry and of a job's own goods come all at once, as one error.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

from warmside.catalog.goods import Good, Membrane, Sealant
from warmside.cutting.inside import InsideFill, fill_inside
from warmside.cutting.nesting import Nest
from warmside.cutting.pieces import BayFill, Piece, Void, fill_bay, fill_rim, is_rim_sliver
from warmside.cutting.rules import Laid
from warmside.cutting.widths import choose_widths, nests_of, same_widths
from warmside.job.resolve import House, HouseWall
from warmside.order.order import Order, make_order
from warmside.say import Note
from warmside.study.layers import misfits
from warmside.study.r_value import WallWorth, wall_worth
from warmside.units import area_m2, to_m
from warmside.wall.frame import FrameError, WallFrame, frame_wall


class JobError(ValueError):
    """The job can't be answered as it stands; `faults` say where and why."""

    def __init__(self, faults: Sequence[Note]) -> None:
        super().__init__(", ".join(fault.code for fault in faults))
        self.faults = tuple(faults)


@dataclass(frozen=True)
class WallAnswer:
    """Everything computed for one wall."""

    wall: HouseWall
    built: WallFrame
    fills: tuple[BayFill, ...]
    rim_pieces: tuple[Piece, ...]
    worth: WallWorth

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """All pieces of the wall and its rim; old batts that stay are none."""
        fills = () if self.wall.keeps_batts else self.fills
        return (*(piece for fill in fills for piece in fill.pieces), *self.rim_pieces)

    @property
    def torn_strips(self) -> int:
        """Area that torn strips of batt are laid into [square length units]."""
        voids = self._laid("torn strip")
        rim = (bay for bay in self.built.rim_bays if self.wall.frame and is_rim_sliver(bay))
        return sum(void.box.area for void in voids) + sum(bay.width * bay.height for bay in rim)

    @property
    def foam(self) -> float:
        """Volume that is filled with foam from a can [m3]."""
        return sum(area_m2(void.box.area) * to_m(void.depth) for void in self._laid("foam"))

    def _laid(self, what: Laid) -> Iterator[Void]:
        """What is laid into voids; where old batts stay nothing is."""
        fills = () if self.wall.keeps_batts else self.fills
        return (void for fill in fills for void in fill.voids if void.laid == what)


@dataclass(frozen=True)
class Worked:
    """A house run through the whole pipeline."""

    house: House
    walls: tuple[WallAnswer, ...]
    inside: tuple[InsideFill, ...]
    nests: tuple[Nest, ...]
    order: Order


def work_through(house: House, like: House | None = None) -> Worked:
    """Frames, pieces, worth and order of a house. Raises JobError with every fault of the geometry.

    like : another reading of the same survey, whose widths of batts are taken
    """
    house = house if like is None else same_widths(house, like)
    built = _frames(house)
    inside = fill_inside(house.inside)
    if like is None:
        house, nests = choose_widths(house, built, inside)
    else:
        nests = nests_of(house, built, inside)
    walls = tuple(_wall_answer(house, wall, built[wall.name]) for wall in house.walls)
    strips = sum(each.torn_strips for each in walls)
    foam = sum(each.foam for each in walls)
    return Worked(house, walls, inside, nests, make_order(house, built, nests, strips, foam))


def _frames(house: House) -> Mapping[str, WallFrame]:
    """The frame of every wall; all faults at once."""
    built: dict[str, WallFrame] = {}
    faults = list(_impossible_goods(house))
    for wall in house.walls:
        faults += misfits(wall)
        try:
            built[wall.name] = frame_wall(wall)
        except FrameError as fault:
            faults.append(fault.note)
    if faults:
        raise JobError(faults)
    return built


_MAY_BE_NONE = frozenset({"permeance", "lap", "waste", "resistivity", "add_width", "add_height"})


def _impossible_goods(house: House) -> Iterator[Note]:
    """A job's own goods may hold a slip of the pen that nothing can be computed with."""
    for good in dict.fromkeys(good for wall in house.walls for good in _goods_of(wall)):
        for name in _impossible_values(good):
            yield Note("fault.good_value", {"good": good.id, "field": name})


def _impossible_values(good: Good) -> Iterator[str]:
    for name, size in good.values:
        if size.value < 0 or (size.value == 0 and name not in _MAY_BE_NONE):
            yield name
    if isinstance(good, Membrane) and good.lap.value >= good.width.value:
        yield "lap"
    if isinstance(good, Sealant) and good.waste.value >= 1.0:
        yield "waste"


def _goods_of(wall: HouseWall) -> Iterator[Good]:
    built_of = wall.assembly
    layers = (built_of.vapour_control, built_of.moisture_barrier, built_of.sheet, built_of.foam_board)
    others = (built_of.sealant, built_of.tape, wall.frame.lumber if wall.frame else None)
    yield from chain(built_of.batts, built_of.rim_batts)
    yield from (good for good in (*layers, *others) if good is not None)


def _wall_answer(house: House, wall: HouseWall, built: WallFrame) -> WallAnswer:
    fills = tuple(fill_bay(wall, bay) for bay in built.bays)
    rim = tuple(piece for bay in built.rim_bays for piece in fill_rim(wall, bay)) if wall.frame else ()
    return WallAnswer(wall, built, fills, rim, wall_worth(house, wall, built, fills))
