"""What is in each bay at each height, from the room outwards: the one owner of "what is in this wall".

Resistance is summed over it, drawings read it. Films, wood and concrete by the rule set and the goods table;
air layers by ISO 6946. Soil is not counted, nor the outside film of a part that may stand in the ground.

All zones of a wall have the same planes: the back of a batt in the stud space, the back of the studs, the
concrete. A batt that is thinner than the stud space lies against the sheet. Air stands still, also in voids:
not valid where it moves from the room to the concrete.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from warmside.catalog import goods
from warmside.cutting.pieces import BayFill, Piece, is_rim_sliver
from warmside.job.resolve import RIM_BOARD, House, HouseFrame, HouseWall
from warmside.physics.batts import STRONGEST_COMPRESSION, Batt, stack
from warmside.physics.resistance import THICKEST_AIR_LAYER, RangeError, air_layer
from warmside.say import Note, Where
from warmside.units import Length, to_m
from warmside.wall.frame import Bay, WallFrame, frame_area, openings
from warmside.wall.in_the_way import Box, bay_box, minus, outline

WOOD = "spruce-pine-fir"
CONCRETE = "concrete"
AIR = "air"


@dataclass(frozen=True)
class Layer:
    """One layer: its name in the tables, thickness [length units], resistance [m2.K/W]."""

    name: str
    thickness: Length
    resistance: float


@dataclass(frozen=True)
class Zone:
    """A part of the wall with one build-up: its area [square length units], layers from the room outwards."""

    name: str
    area: int
    layers: tuple[Layer, ...]


@dataclass(frozen=True)
class WallLayers:
    """The layers before and behind the stud space and the gap, the same all over one wall.

    depth : of the stud space [length units]
    gap : air space behind it [length units]
    split : the plane in the stud space where the batts end [length units from the sheet]
    """

    before: tuple[Layer, ...]
    behind: tuple[Layer, ...]
    depth: Length
    gap: Length
    split: Length

    def around(self, name: str, area: int, *between: Layer) -> Zone:
        """A zone with these layers between sheet and foam board or concrete."""
        return Zone(name, area, (*self.before, *_in_planes(between, (self.split, self.depth)), *self.behind))


def _in_planes(layers: Sequence[Layer], stops: Sequence[int]) -> list[Layer]:
    """Layers cut at these distances from the first face; each part keeps its share of the resistance."""
    ends = [*stops, max(sum(layer.thickness for layer in layers), *stops)]
    return [_between(layers, start, end) for start, end in zip([0, *stops], ends, strict=True)]


def _between(layers: Sequence[Layer], start: int, end: int) -> Layer:
    """What lies between two distances from the first face as one layer, named by its thickest part."""
    near = 0
    parts: list[Layer] = []
    for layer in layers:
        shared = min(end, near + layer.thickness) - max(start, near)
        if shared > 0:
            parts.append(Layer(layer.name, Length(shared), layer.resistance * shared / layer.thickness))
        near += layer.thickness
    name = max(parts, key=lambda part: part.thickness).name if parts else AIR
    return Layer(name, Length(end - start), sum(part.resistance for part in parts))


def label(batt: goods.Batt) -> Batt:
    """The label of a batt as the physics takes it."""
    return Batt(batt.r_label.value, to_m(batt.thickness.value))


def around_studs(house: House, wall: HouseWall) -> WallLayers:
    """Film and sheet on the room side; foam board and concrete behind the gap."""
    depth = wall.frame.depth if wall.frame else Length(0)
    film = house.shelf.material(house.rules.inside_film)
    board, foam = wall.assembly.sheet, wall.assembly.foam_board
    concrete = house.shelf.material(CONCRETE)
    return WallLayers(
        before=(Layer("inside film", Length(0), _layer(film)), *_boards([board])),
        behind=(
            *_boards([foam]),
            *_old_foam(wall),
            Layer(CONCRETE, wall.thickness, _per_metre(concrete, wall.thickness)),
        ),
        depth=depth,
        gap=wall.mean_air_gap,
        split=min(depth, wall.assembly.batts[0].thickness.value),
    )


def _old_foam(wall: HouseWall) -> Iterator[Layer]:
    for layer in wall.old_foam:
        yield Layer(layer.as_material.id, layer.thickness, layer.resistance)


def _boards(boards: Sequence[goods.Board | None]) -> Iterator[Layer]:
    for board in boards:
        if board is not None:
            yield Layer(board.id, board.thickness.value, board.resistance)


def _layer(material: goods.Material) -> float:
    return material.resistance.value if material.resistance else 0.0


def _per_metre(material: goods.Material, thickness: int) -> float:
    return material.resistivity.value * to_m(thickness) if material.resistivity else 0.0


def air(thickness: int) -> Layer:
    """A still air layer; what is thicker than the method treats counts as the thickest."""
    metres = min(to_m(thickness), THICKEST_AIR_LAYER)
    return Layer(AIR, Length(thickness), air_layer(metres) if thickness > 0 else 0.0)


def wood(house: House, depth: int) -> Layer:
    """Framing lumber along the heat flow."""
    return Layer(WOOD, Length(depth), _per_metre(house.shelf.material(WOOD), depth))


def batt_layers(batt: goods.Batt, depth: int, gap: int) -> tuple[Layer, Layer]:
    """A batt in the stud space and the air behind it; squeezed where it is thicker than the space."""
    thickness = min(batt.thickness.value, depth)
    worth = stack([label(batt)], to_m(thickness)).resistance
    return Layer(batt.id, Length(thickness), worth), air(gap + depth - thickness)


def plain_layers(house: House, wall: HouseWall, batt: goods.Batt) -> tuple[Layer, ...]:
    """The layers of a wall where nothing is in the way, from the room outwards; without a frame no batt."""
    layers = around_studs(house, wall)
    between = batt_layers(batt, layers.depth, layers.gap) if wall.frame else ()
    return (*layers.before, *(layer for layer in between if layer.thickness > 0), *layers.behind)


def bay_zones(house: House, wall: HouseWall, frame: HouseFrame, fill: BayFill) -> tuple[Zone, ...]:
    """Every part of a bay with its build-up, sills and heads too; openings are not part of the wall."""
    layers = around_studs(house, wall)
    whole = [(void.box, f"void, {void.why}") for void in fill.voids if void.why != "in front"]
    batts = [piece for piece in fill.pieces if piece.role == "batt"]
    zones = [
        *(zone for piece in batts for zone in _piece_zones(layers, fill.bay, piece)),
        *(_behind(layers, p, [p.box], fill.bay, p.thickness) for p in fill.pieces if p.role == "behind"),
        *(layers.around(why, _area([box], fill.bay), air(frame.depth + layers.gap)) for box, why in whole),
        framing_zone(house, wall, frame, _area(fill.framing, fill.bay)),
    ]
    return tuple(zone for zone in zones if zone.area > 0)


def _piece_zones(layers: WallLayers, bay: Bay, piece: Piece) -> Iterator[Zone]:
    """A batt outside of its notches, and what is left of it behind the troughs in its room face."""
    cut = [piece.notch_box(n) for n in piece.notches]
    between = batt_layers(piece.batt, layers.depth, layers.gap)
    yield layers.around("batt", _area(minus(piece.box, cut), bay), *between)
    gone = [piece.notch_box(n) for n in piece.notches if n.depth is None]
    for trough in sorted((n for n in piece.notches if n.depth is not None), key=lambda n: -(n.depth or 0)):
        box = piece.notch_box(trough)
        yield _behind(layers, piece, minus(box, gone), bay, Length(layers.depth - (trough.depth or 0)))
        gone.append(box)


def _behind(
    layers: WallLayers, piece: Piece, boxes: Sequence[Box], bay: Bay, thickness: Length | None
) -> Zone:
    """Batt behind a thing; the thing itself and the empty space before it count nothing."""
    room = min(layers.depth if thickness is None else thickness, piece.batt.thickness.value)
    worth = Layer(piece.batt.id, layers.depth, to_m(room) / piece.batt.conductivity)
    return layers.around("behind", _area(boxes, bay), worth, air(layers.gap))


def _area(boxes: Sequence[Box], bay: Bay) -> int:
    """Area of boxes of a bay, as far as they lie under its top [square length units]."""
    if bay.top_left == bay.top_right:
        return sum(box.area for box in boxes)
    return sum(_under(box, bay) for box in boxes)


def _under(box: Box, bay: Bay) -> int:
    """The part of a box under the sloping top of a bay, to the nearest square length unit."""
    slope = Fraction(bay.top_right - bay.top_left, bay.width)
    left, right = (bay.top_left + slope * (x - bay.left) for x in (box.left, box.right))

    def above(y: int) -> Fraction:
        """Twice the area between the level `y` and the top, times the slope."""
        return max(right - y, Fraction(0)) ** 2 - max(left - y, Fraction(0)) ** 2

    return round((above(box.bottom) - above(box.top)) / (2 * slope))


def framing_zone(house: House, wall: HouseWall, frame: HouseFrame, area: int) -> Zone:
    """Studs and plates: wood over the depth of the stud space, the gap behind."""
    layers = around_studs(house, wall)
    return layers.around("framing", area, wood(house, frame.depth), air(layers.gap))


def framing_area(wall: HouseWall, built: WallFrame) -> int:
    """Area of studs and plates: the frame less its bays and openings [square length units]."""
    if wall.frame is None:
        return 0
    frame = Box(wall.frame.start, Length(0), wall.frame.end, wall.frame.top.most)
    gone = [bay_box(bay) for bay in built.bays]
    area = frame_area(wall.frame) - sum(bay.area for bay in built.bays)
    for opening in openings(wall):
        box = outline(opening).clipped(frame)
        area -= sum(part.area for part in minus(box, gone)) if box.area else 0
        gone.append(box)
    return area


def rim_zones(house: House, wall: HouseWall, built: WallFrame) -> tuple[Zone, ...]:
    """The rim bays filled so many batts deep, and the joists between them; rim board and outside film behind.

    Above a wall without a frame nothing is put in.
    """
    inside = Layer("inside film", Length(0), _layer(house.shelf.material(house.rules.inside_film)))
    outside = Layer("outside film", Length(0), _layer(house.shelf.material(house.rules.outside_film)))
    board, depth = wood(house, RIM_BOARD), wall.rim.depth
    empty = Layer(AIR, depth, air(depth).resistance if wall.frame else 0.0)
    filled = _rim_batts(wall) if wall.frame else empty
    zones = [
        Zone(
            "void, sliver" if is_rim_sliver(bay) else "batt" if wall.frame else "void, no frame",
            bay.width * bay.height,
            (inside, empty if is_rim_sliver(bay) else filled, board, outside),
        )
        for bay in built.rim_bays
    ]
    joists = wall.concrete_length - sum(bay.width for bay in built.rim_bays)
    zones.append(Zone("framing", joists * wall.rim.height, (inside, wood(house, depth), board, outside)))
    return tuple(zone for zone in zones if zone.area > 0)


def _rim_batts(wall: HouseWall) -> Layer:
    """Batts one behind the other in the rim, squeezed or with one air space left over."""
    batts = wall.assembly.rim_batts[:1] * wall.assembly.rim_pieces
    loose = sum(batt.thickness.value for batt in batts)
    spare = max(0, wall.rim.depth - loose)
    worth = stack([label(batt) for batt in batts], to_m(wall.rim.depth - spare)).resistance
    name = f"{wall.assembly.rim_pieces} x {batts[0].family}"
    return Layer(name, wall.rim.depth, worth + air(spare).resistance)


# What does not fit


def misfits(wall: HouseWall) -> Iterator[Note]:
    """What can't be in a framed wall: batts squeezed to half or less, a label better than still air."""
    if wall.frame is None:
        return
    rim = wall.assembly.rim_batts[:1] * wall.assembly.rim_pieces
    stacks = {"fault.batt_too_thick": (wall.assembly.batts[:1], wall.frame.depth)}
    stacks["fault.rim_too_full"] = (rim, wall.rim.depth)
    for code, (batts, space) in stacks.items():
        loose = sum(batt.thickness.value for batt in batts)
        if loose >= STRONGEST_COMPRESSION * space:
            args = {"batt": batts[0].name, "count": len(batts), "thickness": loose, "space": space}
            yield Note(code, args, Where(wall=wall.name))
    for batt in dict.fromkeys((*wall.assembly.batts, *wall.assembly.rim_batts)):
        try:
            label(batt)
        except RangeError:
            yield Note("fault.batt_label", {"batt": batt.name}, Where(wall=wall.name))
