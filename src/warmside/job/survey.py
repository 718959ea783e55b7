"""The survey: everything that was measured and chosen, as the job file says it. Every field may be unknown.

Absent and `unknown` mean the same and are None here. The metadata of a field names its *stance*: what is
done about it when it is unknown. `resolve` reads it, so that no later module meets an unknown.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum
from itertools import pairwise
from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator, Field, ValidationInfo

from warmside.catalog.codes import Amendment
from warmside.catalog.goods import (
    R_IN_SI,
    Batt,
    Board,
    LengthField,
    Lumber,
    Membrane,
    Model,
    Sealant,
    Tape,
    Use,
    Wrap,
    read_length,
)
from warmside.catalog.hazards import HazardId, SeenField
from warmside.units import Length, shown

FORMAT = 1


class Stance(Enum):
    """What is done about an unknown: ask for it, or assume on the side that the question needs."""

    ASK = "ask"
    STRICTER = "stricter"
    LARGER = "larger"
    BOTH_ENDS = "both ends"


@dataclass(frozen=True)
class IfUnknown:
    """Field metadata: the stance for an unknown, and the key of its values in the table of assumptions."""

    stance: Stance
    key: str | None = None


ASK = IfUnknown(Stance.ASK)
END_OF_WALL = None


class Point(Model):
    """A value at a distance from the left end; `at` None is the right end of the wall."""

    at: Length | None
    value: Length


class Profile(Model):
    """A height along a wall: one number, two ends, or a list of (from left, value)."""

    points: tuple[Point, ...]

    def at(self, x: int, end: int) -> Length:
        """The value at `x` from the left of a wall that ends at `end`, straight between the points."""
        spots = [(end if p.at is None else p.at, p.value) for p in self.points]
        after = next((i for i, (at, _) in enumerate(spots) if at >= x), len(spots))
        if after == 0:
            return spots[0][1]
        if after == len(spots):
            return spots[-1][1]
        (x0, y0), (x1, y1) = spots[after - 1], spots[after]
        return y1 if x1 == x0 else Length(round(y0 + (y1 - y0) * (x - x0) / (x1 - x0)))

    @property
    def least(self) -> Length:
        """The smallest value of the list."""
        return min(p.value for p in self.points)

    @property
    def most(self) -> Length:
        """The largest value of the list."""
        return max(p.value for p in self.points)

    def raised(self, by: int) -> Profile:
        """The same profile, higher by `by`."""
        return Profile(points=tuple(Point(at=p.at, value=Length(p.value + by)) for p in self.points))


def _profile(value: object, info: ValidationInfo) -> object:
    if isinstance(value, Profile):
        return value
    if not isinstance(value, list):
        return Profile(points=(Point(at=Length(0), value=read_length(value, info)),))
    if not value:
        raise ValueError("an empty list; write one number, [left, right], or [[from left, value], ...]")
    if all(isinstance(entry, list) for entry in value):
        return _listed(value, info)
    if len(value) != 2:
        raise ValueError("two ends are [left, right]; for more points write [[from left, value], ...]")
    left, right = (read_length(entry, info) for entry in value)
    return Profile(points=(Point(at=Length(0), value=left), Point(at=END_OF_WALL, value=right)))


def _listed(value: list[list[object]], info: ValidationInfo) -> Profile:
    if any(len(entry) != 2 for entry in value):
        raise ValueError("each point of the list is [from left, value]")
    points = [(read_length(at, info), read_length(height, info)) for at, height in value]
    if any(later <= earlier for (earlier, _), (later, _) in pairwise(points)):
        raise ValueError("the points must go from left to right, each further than the one before")
    return Profile(points=tuple(Point(at=at, value=height) for at, height in points))


ProfileField = Annotated[Profile, BeforeValidator(_profile)]


class Gap(Model):
    """A measure that varies along a wall, such as the gap behind the studs: smallest and largest."""

    least: LengthField
    most: LengthField


def _gap(value: object, info: ValidationInfo) -> object:
    if isinstance(value, Gap):
        return value
    pair = value if isinstance(value, list) else [value, value]
    if len(pair) != 2:
        raise ValueError("this is one number or [smallest, largest]")
    least, most = (read_length(entry, info) for entry in pair)
    if least > most:
        raise ValueError("the smallest is larger than the largest; write [smallest, largest]")
    return Gap.model_construct(least=least, most=most)


GapField = Annotated[Gap, BeforeValidator(_gap)]

_TURN = re.compile(r"(left|right)(?:\s+(\d+(?:\.\d+)?)(?:\s*(?:°|deg|degrees))?)?")


def _turn(value: object) -> object:
    """The change of direction at the right end of a wall, in degrees to the right."""
    if isinstance(value, str) and value == "straight":
        return 0.0
    match = _TURN.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise ValueError(f"{shown(str(value))} is not a turn; write left, right, straight, or right 45")
    angle = float(match[2] or 90.0)
    if not 0.0 < angle < 180.0:
        raise ValueError(f"a turn is between 0 and 180 degrees, not {match[2]}")
    return angle if match[1] == "right" else -angle


Turn = Annotated[float, BeforeValidator(_turn)]

_TEMPERATURE = re.compile(r"([-−]?\d{1,3}(?:\.\d+)?)\s*°?\s*([CF])")


def _temperature(value: object) -> object:
    match = _TEMPERATURE.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise ValueError(f"{shown(str(value))} is not a temperature; write it like -30 C or -22 F")
    degrees = float(match[1].replace("−", "-"))
    return degrees if match[2] == "C" else (degrees - 32.0) / 1.8


Temperature = Annotated[float, BeforeValidator(_temperature), Field(ge=-60.0, le=60.0)]
DesignTemperature = Annotated[float, BeforeValidator(_temperature), Field(ge=-60.0, le=15.0)]
"""Of the coldest days: where they are warmer nobody insulates a basement, or a sign was lost."""
Indoors = Annotated[float, BeforeValidator(_temperature), Field(ge=0.0, le=35.0)]

_PRICE = re.compile(r"(\d{1,7}(?:\.\d{1,2})?)\s+([A-Z]{3})\s*(?:/|per)\s*([a-z]+)")


class Price(Model):
    """What one package costs: whole cents of one stated currency, and the package it is for."""

    cents: int
    currency: str
    per: str


def _price(value: object) -> object:
    if isinstance(value, Price):
        return value
    match = _PRICE.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        raise ValueError(
            f"{shown(str(value))} is not a price; write it like 61.50 CAD per bag, the currency in three "
            "letters"
        )
    whole, _, part = match[1].partition(".")
    return Price(cents=int(whole) * 100 + int(part.ljust(2, "0") or 0), currency=match[2], per=match[3])


PriceField = Annotated[Price, BeforeValidator(_price)]

EnergyUnit = Literal["kWh", "MWh", "GJ", "therm", "m3", "L", "gal", "kg", "t", "cord"]
_ENERGY_PRICE = re.compile(r"(\d{1,5}(?:\.\d{1,6})?)\s+([A-Z]{3})\s*(?:/|per)\s*([A-Za-z]+3?)")


class EnergyPrice(Model):
    """What one unit of a fuel costs, in millionths of one stated currency."""

    millionths: int
    currency: str
    per: EnergyUnit


def _energy_price(value: object) -> object:
    if isinstance(value, EnergyPrice):
        return value
    match = _ENERGY_PRICE.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None or match[3] not in get_args(EnergyUnit):
        known = ", ".join(get_args(EnergyUnit))
        raise ValueError(
            f"{shown(str(value))} is not a price of energy; write it like 0.145 CAD per kWh, the currency in "
            f"three letters. Units: {known}"
        )
    whole, _, part = match[1].partition(".")
    return {"millionths": int(whole + part.ljust(6, "0")), "currency": match[2], "per": match[3]}


_SHARE = re.compile(r"(\d{1,3}(?:\.\d+)?)\s*(%)?")
LEAST_BARE = 20.0
MOST_SHARE = 600.0
"""Of the worst stove and of the best heat pump [%]; a number without its sign is in per cent."""


def _share(value: object) -> object:
    bare = isinstance(value, int | float) and not isinstance(value, bool)
    match = _SHARE.fullmatch(str(value).strip()) if bare or isinstance(value, str) else None
    if match is None or (match[2] is None and float(match[1]) < LEAST_BARE):
        raise ValueError(
            f"{shown(str(value))} is not an efficiency; write it like 92 %, or 250 % for a heat pump"
        )
    if not LEAST_BARE <= float(match[1]) <= MOST_SHARE:
        raise ValueError(
            f"{match[1]} % is not an efficiency; it is from {LEAST_BARE:g} % to {MOST_SHARE:g} %"
        )
    return float(match[1]) / 100.0


_WORTH = re.compile(r"(?:(R)-?\s*(\d{1,2}(?:\.\d+)?)|RSI\s*(\d{1,2}(?:\.\d+)?))")


def _worth(value: object) -> object:
    if value == "none":
        return 0.0
    match = _WORTH.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        raise ValueError(f"{shown(str(value))} is not an insulation; write R10, RSI 1.76 or none")
    return float(match[2]) * R_IN_SI if match[1] else float(match[3])


Resistance = Annotated[float, BeforeValidator(_worth), Field(ge=0.0, le=15.0)]

Facing = Literal["N", "NE", "E", "SE", "S", "SW", "W", "NW"]
Exposure = Literal[
    "soil", "outside air", "unheated space", "garage", "cold room", "party wall", "second suite"
]
UpstairsFrame = Literal["2x3", "2x4", "2x6", "2x8", "masonry", "logs"]
FoundationKind = Literal["poured concrete", "concrete block", "stone", "brick", "wood"]
Joists = Literal["land here", "run alongside"]
FrameState = Literal["none", "planned", "standing"]
WrapState = Literal["none", "wrapped", "sealed box"]
Against = Literal["concrete", "stud face", "plate"]
Soil = Literal["any", "sand or gravel", "silt", "clay", "loam", "rock"]
Fuel = Literal[
    "electricity",
    "heat pump",
    "natural gas",
    "propane",
    "heating oil",
    "pellets",
    "firewood",
    "district heat",
]


class Place(Model):
    """Where the house stands, how old it is, and under which rules.

    `climate` names a listed place with a like climate; `weather_file` is a file in the job's folder.
    `upstairs_frame` is what the outside walls of the storeys above are framed with.
    """

    town: Annotated[str | None, ASK] = None
    region: Annotated[str | None, ASK] = None
    country: Annotated[str | None, ASK] = None
    year_built: Annotated[int | None, ASK, Field(ge=1600, le=2100)] = None
    upstairs_frame: Annotated[UpstairsFrame | None, ASK] = None
    rule_set: Annotated[str | None, IfUnknown(Stance.STRICTER, "place.rule_set")] = None
    design_temperature: Annotated[DesignTemperature | None, ASK] = None
    climate: Annotated[str | None, ASK] = None
    weather_file: Annotated[str | None, ASK] = None
    latitude: Annotated[float | None, ASK, Field(ge=-90, le=90)] = None
    longitude: Annotated[float | None, ASK, Field(ge=-180, le=180)] = None


class People(Model):
    """Who the papers are for and from, and who walked through first."""

    owner: Annotated[str | None, ASK] = None
    contractor: Annotated[str | None, ASK] = None
    address: Annotated[str | None, ASK] = None
    measured_by: Annotated[str | None, ASK] = None
    measured_on: Annotated[str | None, ASK] = None


class Foundation(Model):
    """What the outside walls are made of, what carries them, and the soil around them."""

    kind: Annotated[FoundationKind | None, IfUnknown(Stance.ASK, "foundation.kind")] = None
    thickness: Annotated[LengthField | None, IfUnknown(Stance.STRICTER, "foundation.thickness")] = None
    sill: Annotated[LengthField | None, IfUnknown(Stance.STRICTER, "foundation.sill")] = None
    soil: Annotated[Soil | None, IfUnknown(Stance.BOTH_ENDS, "foundation.soil")] = None
    slab: Annotated[LengthField | None, IfUnknown(Stance.STRICTER, "foundation.slab")] = None
    floor_insulation: Annotated[
        Resistance | None, IfUnknown(Stance.STRICTER, "foundation.floor_insulation")
    ] = None
    footing_width: Annotated[LengthField | None, IfUnknown(Stance.STRICTER, "foundation.footing_width")] = (
        None
    )
    footing_height: Annotated[LengthField | None, IfUnknown(Stance.STRICTER, "foundation.footing_height")] = (
        None
    )


class Heating(Model):
    """How the house is heated, at what price, and how warm it is kept.

    An efficiency or a basement temperature that nobody knows is computed or run at both ends.
    """

    fuel: Annotated[Fuel | None, ASK] = None
    efficiency: Annotated[
        float | None, BeforeValidator(_share), IfUnknown(Stance.BOTH_ENDS), Field(ge=0.2, le=6.0)
    ] = None
    price: Annotated[EnergyPrice | None, BeforeValidator(_energy_price), ASK] = None
    upstairs: Annotated[Indoors | None, IfUnknown(Stance.STRICTER, "heating.upstairs")] = None
    basement_before: Annotated[Indoors | None, IfUnknown(Stance.BOTH_ENDS)] = None
    basement_after: Annotated[Indoors | None, IfUnknown(Stance.STRICTER, "heating.basement_after")] = None
    storeys: Annotated[int | None, IfUnknown(Stance.STRICTER, "heating.storeys"), Field(ge=1, le=4)] = None
    heat_recovery: Annotated[Literal["no", "yes"] | None, ASK] = None


class RimFill(Model):
    """What goes into a rim bay: one family of batts, so many pieces deep."""

    batt: Annotated[str | None, IfUnknown(Stance.STRICTER, "assembly.rim.batt")] = None
    pieces: Annotated[int | None, IfUnknown(Stance.STRICTER, "assembly.rim.pieces"), Field(ge=1, le=6)] = None


class Assembly(Model):
    """What the wall is to be built of, by the names of the goods; "none" leaves a layer out."""

    batt: Annotated[str | None, IfUnknown(Stance.STRICTER, "assembly.batt")] = None
    vapour_control: Annotated[str | None, IfUnknown(Stance.STRICTER, "assembly.vapour_control")] = None
    moisture_barrier: Annotated[str | None, IfUnknown(Stance.STRICTER, "assembly.moisture_barrier")] = None
    sheet: Annotated[str | None, IfUnknown(Stance.STRICTER, "assembly.sheet")] = None
    foam_board: Annotated[str | None, IfUnknown(Stance.STRICTER, "assembly.foam_board")] = None
    sealant: Annotated[str | None, IfUnknown(Stance.LARGER, "assembly.sealant")] = None
    tape: Annotated[str | None, IfUnknown(Stance.LARGER, "assembly.tape")] = None
    box_wrap: Annotated[str | None, IfUnknown(Stance.LARGER, "assembly.box_wrap")] = None
    rim: RimFill = RimFill()


BayNumber = Annotated[int, Field(ge=1, le=999)]


class CommonFrame(Model):
    """What the frames of all walls have in common."""

    state: Annotated[FrameState | None, ASK] = None
    studs: Annotated[str | None, IfUnknown(Stance.STRICTER, "frame.studs")] = None
    spacing: Annotated[LengthField | None, IfUnknown(Stance.LARGER, "frame.spacing")] = None
    top_plates: Annotated[int | None, IfUnknown(Stance.LARGER, "frame.top_plates"), Field(ge=1, le=3)] = None


class Frame(CommonFrame):
    """The studs: none, planned or standing; bays by exception from one end, or one by one.

    `odd_bays` gives the clear width of the bays that differ; `bays` all clear widths from the left. A frame
    that is not plumb stands further from the concrete at its top by `leans_in`.
    """

    layout_from: Annotated[Literal["left", "right"] | None, IfUnknown(Stance.LARGER, "frame.layout_from")] = (
        None
    )
    odd_bays: dict[BayNumber, LengthField] = {}
    bays: Annotated[tuple[LengthField, ...], Field(max_length=400)] = ()
    starts: Annotated[LengthField | None, IfUnknown(Stance.LARGER, "frame.starts")] = None
    ends: Annotated[LengthField | None, IfUnknown(Stance.LARGER, "frame.ends")] = None
    height: Annotated[ProfileField | None, IfUnknown(Stance.LARGER, "frame.height")] = None
    leans_in: Annotated[LengthField | None, ASK] = None


class CommonRim(Model):
    """What the rims of all walls have in common."""

    joists: Annotated[Joists | None, IfUnknown(Stance.LARGER, "rim.joists")] = None
    height: Annotated[LengthField | None, IfUnknown(Stance.LARGER, "rim.height")] = None
    spacing: Annotated[LengthField | None, IfUnknown(Stance.LARGER, "rim.spacing")] = None


class Rim(CommonRim):
    """The band above the concrete where the joists land or run alongside."""

    first_joist: Annotated[LengthField | None, IfUnknown(Stance.LARGER, "rim.first_joist")] = None
    depth: Annotated[LengthField | None, IfUnknown(Stance.STRICTER, "rim.depth")] = None


class Thing(Model):
    """One thing in the way, placed by its left edge or its middle and by its lower edge or its middle.

    `back` is the clear distance from its back to the back of the stud space.
    """

    kind: str
    id: str | None = None
    from_left: Annotated[LengthField | None, ASK] = None
    from_left_to_middle: Annotated[LengthField | None, ASK] = None
    up: Annotated[LengthField | None, ASK] = None
    up_to_middle: Annotated[LengthField | None, ASK] = None
    width: Annotated[LengthField | None, IfUnknown(Stance.LARGER, "kind")] = None
    height: Annotated[LengthField | None, IfUnknown(Stance.LARGER, "kind")] = None
    depth: Annotated[LengthField | None, IfUnknown(Stance.LARGER, "kind")] = None
    back: Annotated[LengthField | None, IfUnknown(Stance.STRICTER, "kind")] = None
    runs: Annotated[Literal["spot", "up", "along"] | None, IfUnknown(Stance.LARGER, "kind")] = None
    wrap: Annotated[WrapState | None, IfUnknown(Stance.LARGER, "thing.wrap")] = None
    note: str | None = None

    @property
    def has_stretch(self) -> bool:
        """True with a place from the left and a width: what runs along a wall then covers just that."""
        return self.width is not None and (self.from_left, self.from_left_to_middle) != (None, None)


Count = Annotated[int, Field(ge=0, le=200)]


class ExistingLayer(Model):
    """Something that is on the wall already, in which state, and whether it stays; absent `then` asks.

    `worth` is its resistance, where its label or its kind is known [m2.K/W].
    """

    kind: Literal[
        "batt", "foam board", "sprayed foam", "vapour barrier", "moisture barrier", "drywall", "panelling"
    ]
    state: Annotated[Literal["sound", "torn", "wet", "mouldy"] | None, ASK] = None
    then: Annotated[Literal["keep", "remove"] | None, ASK] = None
    thickness: Annotated[LengthField | None, IfUnknown(Stance.STRICTER, "existing.thickness")] = None
    worth: Annotated[Resistance | None, IfUnknown(Stance.STRICTER, "existing.worth")] = None


class MeasuredAgain(Model):
    """A second measurement of a field of a wall, beside the first; it does not replace it."""

    field: Literal["length", "height", "concrete_showing", "gap", "frame.spacing", "rim.height"]
    value: LengthField
    who: str
    when: str
    against: Annotated[Against | None, ASK] = None


class Wall(Model):
    """One outside wall, as one walks round inside; `turn` is the corner at its right end.

    `length` was taken against concrete, the room face of the neighbouring studs, or along its own plate.
    """

    name: Annotated[str, Field(min_length=1, max_length=24)]
    id: str | None = None
    length: Annotated[LengthField | None, ASK] = None
    against: Annotated[Against | None, IfUnknown(Stance.LARGER, "wall.against")] = None
    turn: Annotated[Turn | None, ASK] = None
    facing: Annotated[Facing | None, ASK] = None
    exposure: Annotated[Exposure | None, IfUnknown(Stance.STRICTER, "wall.exposure")] = None
    height: Annotated[ProfileField | None, ASK] = None
    concrete_showing: Annotated[ProfileField | None, IfUnknown(Stance.STRICTER, "wall.concrete_showing")] = (
        None
    )
    gap: Annotated[GapField | None, IfUnknown(Stance.STRICTER, "wall.gap")] = None
    frame: Frame = Frame()
    rim: Rim = Rim()
    assembly: Assembly | None = None
    counts: dict[str, Count] = {}
    existing: Annotated[
        tuple[ExistingLayer, ...], IfUnknown(Stance.ASK, "wall.existing"), Field(max_length=20)
    ] = ()
    measured_by: Annotated[str | None, ASK] = None
    measured_on: Annotated[str | None, ASK] = None
    measured_again: Annotated[tuple[MeasuredAgain, ...], Field(max_length=50)] = ()
    in_the_way: Annotated[tuple[Thing, ...], Field(max_length=400)] = ()


class EveryWall(Model):
    """What holds for every wall that does not say otherwise; `total_length` stands for walls not listed.

    `counts` are of the whole house, those that walls count or place themselves among them.
    """

    total_length: Annotated[LengthField | None, ASK] = None
    exposure: Annotated[Exposure | None, ASK] = None
    height: Annotated[LengthField | None, ASK] = None
    concrete_showing: Annotated[GapField | None, ASK] = None
    gap: Annotated[GapField | None, ASK] = None
    frame: CommonFrame = CommonFrame()
    rim: CommonRim = CommonRim()
    counts: dict[str, Count] = {}
    existing: Annotated[tuple[ExistingLayer, ...], Field(max_length=20)] = ()


class InsideDoor(Model):
    """A door in a partition, by the opening between its studs; without size or place none is taken off."""

    from_left: Annotated[LengthField | None, ASK] = None
    width: Annotated[LengthField | None, ASK] = None
    height: Annotated[LengthField | None, ASK] = None


class Inside(Model):
    """A partition or a ceiling inside the house that gets batts of its own.

    `length` runs across its studs or joists. A partition has a `height` from floor to ceiling; a ceiling has
    `runs`, the clear lengths of its batts between rim, bulkhead and wall.
    """

    name: Annotated[str, Field(min_length=1, max_length=24)]
    kind: Literal["partition", "ceiling"]
    use: Annotated[Use | None, ASK] = None
    batt: Annotated[str | None, IfUnknown(Stance.STRICTER, "inside.batt")] = None
    length: Annotated[LengthField | None, ASK] = None
    height: Annotated[LengthField | None, ASK] = None
    runs: Annotated[tuple[LengthField, ...], Field(max_length=20)] = ()
    studs: Annotated[str | None, IfUnknown(Stance.STRICTER, "frame.studs")] = None
    spacing: Annotated[LengthField | None, IfUnknown(Stance.LARGER, "frame.spacing")] = None
    doors: Annotated[tuple[InsideDoor, ...], Field(max_length=20)] = ()


class OwnGoods(Model):
    """Goods of the job itself, with the fields of the package's own table."""

    batt: tuple[Batt, ...] = ()
    membrane: tuple[Membrane, ...] = ()
    board: tuple[Board, ...] = ()
    tape: tuple[Tape, ...] = ()
    sealant: tuple[Sealant, ...] = ()
    wrap: tuple[Wrap, ...] = ()
    lumber: tuple[Lumber, ...] = ()

    def every(self) -> list[Batt | Membrane | Board | Tape | Sealant | Wrap | Lumber]:
        """All of them in one list."""
        kinds = (self.batt, self.membrane, self.board, self.tape, self.sealant, self.wrap, self.lumber)
        return [good for kind in kinds for good in kind]


class Survey(Model):
    """A whole job file. `bare_numbers` is the unit of a number that carries none.

    `next_id` is the number of the next id to be given, so that none is given twice.
    """

    format: Literal[1]
    name: Annotated[str, Field(min_length=1, max_length=80)]
    show: Literal["ft-in", "mm"] = "ft-in"
    bare_numbers: Literal["mm", "cm", "m", "in", "ft"] | None = None
    next_id: Annotated[int, Field(ge=1)] = 1
    place: Place = Place()
    people: People = People()
    foundation: Foundation = Foundation()
    heating: Heating = Heating()
    looked_at: dict[HazardId, SeenField] = {}
    amendment: Annotated[tuple[Amendment, ...], Field(max_length=60)] = ()
    assembly: Assembly = Assembly()
    every_wall: EveryWall = EveryWall()
    wall: Annotated[tuple[Wall, ...], Field(max_length=60)] = ()
    inside: Annotated[tuple[Inside, ...], Field(max_length=40)] = ()
    prices: dict[str, PriceField] = {}
    at_hand: dict[str, Annotated[int, Field(ge=0, le=10_000)]] = {}
    goods: OwnGoods = OwnGoods()


def stance_of(model: type[Model], name: str) -> IfUnknown | None:
    """The metadata that says what is done when this field is unknown."""
    found: list[Any] = [m for m in model.model_fields[name].metadata if isinstance(m, IfUnknown)]
    return found[0] if found else None
