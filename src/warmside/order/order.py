"""What to buy: quantities from geometry, whole packages, prices where the user gave them.

Batts come from the cutting, barriers from lengths and laps, tape and sealant from seams and beads. How seams
and beads run is common practice; package sizes and laps come from the goods table.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from warmside.catalog.goods import Batt, Board, Can, Good, Membrane, Sack, Sealant, Tape
from warmside.cutting.nesting import Nest
from warmside.job.openings import MOST_OPEN
from warmside.job.resolve import House, HouseWall
from warmside.say import Note
from warmside.units import area_m2, to_m
from warmside.wall.frame import WallFrame, openings

BARRIER = "moisture barrier"
WRAP_SEAL = 0.6
"""Tape round one vapour hat, four sides of about 150 mm (common practice) [m]."""


class QuantityError(ValueError):
    """A quantity can't be computed from what was given."""


@dataclass(frozen=True)
class Line:
    """One line of the order. `needed` is in `unit`; `cents` is None where the user gave no price."""

    good: Good
    needed: float
    unit: str
    packages: int
    at_hand: int
    cents_each: int | None
    basis: Note

    @property
    def to_buy(self) -> int:
        """Packages beyond what is at hand."""
        return max(0, self.packages - self.at_hand)

    @property
    def cents(self) -> int | None:
        """Price of what is bought, in cents."""
        return None if self.cents_each is None else self.cents_each * self.to_buy


@dataclass(frozen=True)
class Order:
    """The whole order; the total is incomplete while a line that is bought has no price."""

    lines: tuple[Line, ...]
    currency: str | None

    @property
    def total(self) -> int:
        """Sum of the lines that have a price [cents]."""
        return sum(line.cents or 0 for line in self.lines)

    @property
    def complete(self) -> bool:
        """True where every line that has to be bought has a price."""
        return all(line.cents is not None for line in self.lines if line.to_buy)

    def packages(self, good: Good) -> int:
        """Packages of one of the goods; 0 where none is needed."""
        return sum(line.packages for line in self.lines if line.good.id == good.id)


def larger_of(likely: Order, larger: Order) -> Order:
    """Line by line the order that needs more; goods that the larger reading needs alone come last."""
    more = {line.good.id: line for line in larger.lines}
    lines = [max(line, more.pop(line.good.id, line), key=lambda one: one.needed) for line in likely.lines]
    return Order((*lines, *more.values()), likely.currency or larger.currency)


def size_of(order: Order) -> tuple[int, int]:
    """How large an order is: what it costs where all has a price, then its bags."""
    return order.total if order.complete else 0, sum(line.to_buy for line in _batts_of(order))


def batts_told(order: Order, beside: Order) -> str:
    """The batts of an order in packages, as far as they differ from those of another."""
    others = [line for line in _batts_of(order) if beside.packages(line.good) != line.packages]
    return ", ".join(f"{line.packages} x {line.good.name}" for line in others)


def _batts_of(order: Order) -> list[Line]:
    return [line for line in order.lines if isinstance(line.good, Batt)]


def bead_length(volume: float, diameter: float) -> float:
    """Length of a round bead that a volume of sealant makes, without waste [m].

    volume : of the sealant [m3]
    diameter : of the bead [m]

    Raises QuantityError.
    """
    if not diameter > 0.0:
        raise QuantityError(f"the bead is {diameter * 1000:g} mm thick; it should be more than 0")
    return 4.0 * volume / (math.pi * diameter**2)


def make_order(
    house: House, built: Mapping[str, WallFrame], nests: Sequence[Nest], strips: int = 0, foam: float = 0.0
) -> Order:
    """Everything to buy for the framed walls of a house, and sacks for what is torn out of any.

    strips : area that torn strips of batt are laid into [square length units]
    foam : volume that is filled from a can [m3]
    """
    framed = [wall for wall in house.walls if wall.frame is not None]
    more = strip_batts(nests, strips)
    lines = [
        *(_batt_line(house, nest, framed, more.get(nest.batt.id, 0)) for nest in nests),
        *_membranes(house, framed),
        *_tape(house, framed),
        *_sealant(house, framed, built),
        *_wraps(house, framed),
        *_sheets(house, framed),
        *_cans(house, foam),
        *_sacks(house),
    ]
    currencies = sorted({price.currency for price in house.prices.values()})
    return Order(tuple(lines), currencies[0] if currencies else None)


def _line(house: House, good: Good, needed: float, unit: str, packages: int, basis: Note) -> Line:
    price = house.prices.get(good.id)
    at_hand = house.at_hand.get(good.id, 0)
    return Line(good, needed, unit, packages, at_hand, price.cents if price else None, basis)


def strip_batts(nests: Sequence[Nest], strips: int) -> Mapping[str, int]:
    """Batts for torn strips beyond what the rests give, of the good that most is cut from.

    strips : area of the strips [square length units]
    """
    if not nests:
        return {}
    most = max(nests, key=lambda each: each.count)
    whole = most.batt.width.value * most.batt.length.value
    used = sum(p.cut_width * p.cut_height for cut in most.batts for p in cut.pieces)
    return {most.batt.id: max(0, -(-(strips + used - most.count * whole) // whole))}


def _batt_line(house: House, nest: Nest, walls: Sequence[HouseWall], strips: int) -> Line:
    """Batts by the cutting and for torn strips, less what openings take that were only counted."""
    count = math.ceil(nest.count * (1.0 - _spared(nest, walls))) + strips
    bags = math.ceil(count / nest.batt.per_bag.value)
    args = {
        "count": count,
        "per_bag": nest.batt.per_bag.value,
        "left": bags * nest.batt.per_bag.value - count,
    }
    basis = Note("basis.batts_counted" if count < nest.count else "basis.batts", args)
    return _line(house, nest.batt, count, "batts", bags, basis)


def _spared(nest: Nest, walls: Sequence[HouseWall]) -> float:
    """Share of the batts of a nest that counted openings save, by area [-]; none at the rim."""
    used = [wall for wall in walls if nest.batt in wall.assembly.batts]
    frames = sum(frame_length(wall) * frame_height(wall) for wall in used)
    gone = sum(area_m2(o.area) for wall in used for o in wall.openings if o.spares_batts)
    pieces = [piece for batt in nest.batts for piece in batt.pieces]
    in_bays = sum(piece.box.area for piece in pieces if piece.role != "rim")
    share = in_bays / max(1, sum(piece.box.area for piece in pieces))
    return share * min(MOST_OPEN, gone / frames) if frames else 0.0


@dataclass(frozen=True)
class _Strip:
    """Membrane along one wall: so many strips, one above the other, each of one length [m]."""

    strips: int
    length: float


def _strip(membrane: Membrane, length: float, height: float) -> _Strip:
    """Strips with the lap of the membrane between them and one lap at the end."""
    width, lap = to_m(membrane.width.value), to_m(membrane.lap.value)
    rows = 1 if height <= width else 1 + math.ceil((height - width) / (width - lap))
    return _Strip(rows if height > 0 else 0, length + lap)


def frame_length(wall: HouseWall) -> float:
    """Length of the frame [m]; 0 where there is none."""
    return to_m(wall.frame.end - wall.frame.start) if wall.frame else 0.0


def frame_height(wall: HouseWall) -> float:
    """Greatest height of the frame [m]; 0 where there is none."""
    return to_m(wall.frame.top.most) if wall.frame else 0.0


def ground_height(wall: HouseWall) -> float:
    """Greatest height of the ground line above the floor [m]."""
    bends = [p.at for profile in (wall.height, wall.showing) for p in profile.points]
    ends = [wall.concrete_start, wall.concrete_start + wall.concrete_length]
    return max(to_m(wall.ground(x)) for x in (*ends, *(wall.length if x is None else x for x in bends)))


def _membranes(house: House, walls: Sequence[HouseWall]) -> Iterable[Line]:
    """The vapour barrier over the whole frame; the moisture barrier on the concrete up to the ground line.

    An old moisture barrier that stays takes no new one.
    """
    whole = [(w.assembly.vapour_control, frame_length(w), frame_height(w)) for w in walls]
    low = [(w.assembly.moisture_barrier, to_m(w.concrete_length), ground_height(w)) for w in walls]
    low = [part for part, w in zip(low, walls, strict=True) if part[2] > 0.0 and not _stays(w, BARRIER)]
    for code, parts in (("basis.vapour_control", whole), ("basis.moisture_barrier", low)):
        for good in dict.fromkeys(good for good, _, _ in parts if good is not None):
            strips = [_strip(good, length, height) for used, length, height in parts if used == good]
            needed = sum(s.strips * s.length for s in strips)
            roll = to_m(good.length.value)
            basis = Note(code, {"walls": len(strips), "lap": good.lap.value, "roll": good.length.value})
            yield _line(house, good, needed, "m", math.ceil(needed / roll), basis)


def window_edges(wall: HouseWall) -> float:
    """Length round all openings of a wall; a door has no edge at the floor, but for one only counted [m]."""
    placed = sum(to_m(2 * o.height + (2 if o.bottom > 0 else 1) * o.width) for o in openings(wall))
    return placed + sum(to_m(o.edge) for o in wall.openings)


def _seams(wall: HouseWall) -> float:
    """One upright seam, level seams where strips lie one above the other, and the openings [m]."""
    barrier = wall.assembly.vapour_control
    if barrier is None:
        return 0.0
    strip = _strip(barrier, frame_length(wall), frame_height(wall))
    return frame_height(wall) + (strip.strips - 1) * strip.length + window_edges(wall)


def _tape(house: House, walls: Sequence[HouseWall]) -> Iterable[Line]:
    tapes: dict[str, tuple[Tape, float]] = {}
    for wall in walls:
        tape = wall.assembly.tape
        hats = len(unwrapped(wall)) if wall.assembly.box_wrap else 0
        needed = _seams(wall) + WRAP_SEAL * hats
        tapes[tape.id] = (tape, tapes.get(tape.id, (tape, 0.0))[1] + needed)
    for tape, needed in (used for used in tapes.values() if used[1] > 0.0):
        rolls = math.ceil(needed / to_m(tape.length.value))
        yield _line(house, tape, needed, "m", rolls, Note("basis.tape"))


def beads(wall: HouseWall, built: WallFrame) -> float:
    """Sealant at both plates, both ends and the openings, and round every rim bay [m]."""
    frame = 2.0 * frame_length(wall) + 2.0 * frame_height(wall) + window_edges(wall)
    rim = sum(2.0 * to_m(bay.width + bay.height) for bay in built.rim_bays)
    return frame + rim


def _sealant(house: House, walls: Sequence[HouseWall], built: Mapping[str, WallFrame]) -> Iterable[Line]:
    used: dict[str, tuple[Sealant, float]] = {}
    for wall in walls:
        sealant = wall.assembly.sealant
        needed = beads(wall, built[wall.name])
        used[sealant.id] = (sealant, used.get(sealant.id, (sealant, 0.0))[1] + needed)
    for sealant, needed in used.values():
        each = bead_length(sealant.volume.value, to_m(sealant.bead.value)) * (1.0 - sealant.waste.value)
        basis = Note("basis.sealant", {"bead": sealant.bead.value, "waste": sealant.waste.value})
        yield _line(house, sealant, needed, "m", math.ceil(needed / each), basis)


def unwrapped(wall: HouseWall) -> list[str]:
    """Ids of the electrical boxes that still need a vapour hat, also of those without a place on the wall."""
    placed = [t.id for t in wall.in_the_way if t.kind.wrapped and t.wrap == "none"]
    return [*placed, *wall.unplaced_bare]


def _wraps(house: House, walls: Sequence[HouseWall]) -> Iterable[Line]:
    used = [(wall.assembly.box_wrap, len(unwrapped(wall))) for wall in walls]
    for wrap in dict.fromkeys(wrap for wrap, count in used if count and wrap is not None):
        needed = sum(count for good, count in used if good == wrap)
        yield _line(house, wrap, needed, "boxes", needed, Note("basis.box_wrap", {"count": needed}))


def _sheets(house: House, walls: Sequence[HouseWall]) -> Iterable[Line]:
    """Boards side by side, openings not taken off: the sheet on the frame, foam board on the concrete."""
    sheets = [(w.assembly.sheet, frame_length(w), frame_height(w)) for w in walls]
    foams = [(w.assembly.foam_board, to_m(w.concrete_length), to_m(w.height.most)) for w in walls]
    for chosen in (sheets, foams):
        for board in dict.fromkeys(board for board, _, _ in chosen if board is not None):
            counts = [_sheet_count(board, length, height) for used, length, height in chosen if used == board]
            basis = Note("basis.boards", {"width": board.width.value, "walls": len(counts)})
            yield _line(house, board, sum(counts), "boards", sum(counts), basis)


def _sheet_count(board: Board, length: float, height: float) -> int:
    """Boards side by side; what is higher than one board takes a part of another."""
    columns = math.ceil(length / to_m(board.width.value))
    rows = max(1.0, height / to_m(board.length.value))
    return math.ceil(columns * rows)


def _stays(wall: HouseWall, kind: str) -> bool:
    """True where an old layer of that kind stays on the wall."""
    return any(layer.kind == kind and layer.then == "keep" for layer in wall.old)


def _cans(house: House, foam: float) -> Iterable[Line]:
    """Foam for all that is too narrow for a batt, over the depth of the studs."""
    can = next((good for good in house.shelf.goods.values() if isinstance(good, Can)), None)
    if foam > 0.0 and can is not None:
        needed = math.ceil(foam / (can.volume.value * (1.0 - can.waste.value)))
        yield _line(house, can, needed, "cans", needed, Note("basis.cans", {"litres": 1000.0 * foam}))


def _sacks(house: House) -> Iterable[Line]:
    """Sacks for old insulation that goes, by its volume on the wall and the room that it takes when torn."""
    volume = sum(torn_out(wall) for wall in house.walls)
    sack = next((good for good in house.shelf.goods.values() if isinstance(good, Sack)), None)
    if volume > 0.0 and sack is not None:
        needed = math.ceil(volume / sack.volume.value)
        yield _line(house, sack, needed, "sacks", needed, Note("basis.sacks", {"volume": volume}))


def torn_out(wall: HouseWall) -> float:
    """Volume in sacks of the old insulation that leaves a wall, windows and doors taken off [m3]."""
    mean = (to_m(wall.height.least) + to_m(wall.height.most)) / 2.0
    area = to_m(wall.concrete_length) * mean - sum(area_m2(o.width * o.height) for o in openings(wall))
    gone = sum(to_m(old.thickness) * old.in_sack for old in wall.old if old.then == "remove")
    return max(0.0, area) * gone
