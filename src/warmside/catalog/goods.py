"""Goods and materials: what can be bought, its properties and package sizes, each value with its source.

Generic product classes only. A job adds its own goods, or replaces ours by the label in hand, with the same
fields in `[[goods.batt]]` and its neighbours.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from importlib.resources import files
from typing import Annotated, Any, ClassVar, Literal, Self, TypeVar

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    ValidationInfo,
    field_validator,
    model_validator,
)

from warmside.units import Length, parse_length, shown, to_m

Status = Literal["read", "computed", "from memory", "common practice", "invented", "label"]


def read_length(value: object, info: ValidationInfo) -> Length:
    """A length as written in a data or job file; bare numbers take the unit that the file states."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise ValueError(f"{value!r} is not a length; write it like 12' 4-3/8\" or 3770 mm")
    if str(value).strip().startswith(("-", "−")):
        raise ValueError(f"{shown(str(value))} is less than nothing; a length has no sign")
    bare = (info.context or {}).get("bare_numbers")
    return parse_length(str(value), bare)


LengthField = Annotated[Length, BeforeValidator(read_length)]


class Model(BaseModel):
    """A record that cannot change and takes no key it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Quantity(Model):
    """A number in SI with its source and how far it was confirmed."""

    value: float
    unit: str
    source: str
    status: Status


R_IN_SI = 0.17611
"""One h.ft2.F/Btu, the R of labels in North America [m2.K/W]."""
PERMEANCES: Mapping[str, float] = {"kg/(m2.s.Pa)": 1.0, "ng/(Pa.s.m2)": 1e-12, "perm": 57.2e-12}
"""The units that labels give a permeance in, with the factor to the first."""
MOST_PERMEANCE = 1e-7
"""More than any sheet lets through: 2 mm of still air [kg/(m2.s.Pa)]."""


class Labelled(Quantity):
    """A quantity in the units that labels give it in, kept in the first of them.

    `units` have their factors to the first; `what` is the quantity as a sentence calls it.
    """

    units: ClassVar[Mapping[str, float]]
    what: ClassVar[str]

    @model_validator(mode="before")
    @classmethod
    def _in_si(cls, given: Any) -> Any:
        if not isinstance(given, Mapping):
            return given
        value, factor = given.get("value"), cls.units.get(str(given.get("unit")))
        if factor is None or isinstance(value, bool) or not isinstance(value, int | float):
            return given
        return {**given, "value": value * factor, "unit": next(iter(cls.units))}

    @field_validator("unit")
    @classmethod
    def _known(cls, unit: str) -> str:
        if unit not in cls.units:
            raise ValueError(f"{shown(unit)} is no unit of {cls.what}; write one of {', '.join(cls.units)}")
        return unit


class LabelResistance(Labelled):
    """What a batt of its full thickness resists [m2.K/W]."""

    units = {"m2.K/W": 1.0, "h.ft2.F/Btu": R_IN_SI}
    what = "a resistance"


class Resistivity(Labelled):
    """What a board resists per thickness [m.K/W]."""

    units = {"m.K/W": 1.0, "h.ft2.F/(Btu.in)": R_IN_SI / 0.0254}
    what = "a resistance per thickness"


class Volume(Labelled):
    """What a cartridge or a sack holds [m3]."""

    units = {"m3": 1.0, "L": 1e-3, "mL": 1e-6}
    what = "a volume"


class Share(Labelled):
    """A part of the whole [-]."""

    units = {"1": 1.0, "%": 0.01}
    what = "a share"


class Permeance(Labelled):
    """What a thin layer lets through [kg/(m2.s.Pa)]."""

    units = PERMEANCES
    what = "a permeance"

    @field_validator("unit")
    @classmethod
    def _of_a_sheet(cls, unit: str, info: ValidationInfo) -> str:
        value = info.data.get("value", 0.0)
        if not 0.0 <= value <= MOST_PERMEANCE:
            raise ValueError(
                f"a permeance of {value:g} kg/(m2.s.Pa) is none of a sheet; "
                "write what the label says, such as 60 ng/(Pa.s.m2)"
            )
        return unit


class Size(Model):
    """A length with its source and how far it was confirmed."""

    value: LengthField
    source: str
    status: Status


class Count(Model):
    """A whole number with its source and how far it was confirmed."""

    value: int
    source: str
    status: Status


class Allowed(Model):
    """A yes or a no of a product, with its source and how far it was confirmed."""

    value: Literal["yes", "no"]
    source: str
    status: Status


class Good(Model):
    """Anything that can be bought: an id for the file, a name for people, and the package it comes in.

    `name_mm`: the name on papers in millimetres, where `name` has inches or feet.
    """

    id: str
    name: str
    name_mm: str | None = None
    package: str

    @property
    def values(self) -> Iterable[tuple[str, Quantity | Size | Count]]:
        """Every sourced number of this good, with its field."""
        fields = type(self).model_fields
        return [(f, v) for f in fields if isinstance(v := getattr(self, f), Quantity | Size | Count)]


Use = Literal["heat", "sound", "fire"]


class Batt(Good):
    """Insulation cut to a friction fit: `r_label` is its label resistance at its full thickness.

    `joint`: whether one may stand on another in a bay (None: nobody forbids it); `use`: what it is made for;
    `cut_from_back`: whether it is cut with its facing down.
    """

    family: str
    fibre: Literal["glass", "stone"]
    use: Use = "heat"
    r_label: LabelResistance
    thickness: Size
    width: Size
    length: Size
    per_bag: Count
    add_width: Size
    add_height: Size
    joint: Allowed | None = None
    cut_from_back: Allowed | None = None

    @property
    def may_join(self) -> bool:
        """True where batts of it may stand one above the other in a bay."""
        return self.joint is None or self.joint.value == "yes"

    @property
    def conductivity(self) -> float:
        """Apparent conductivity at the full thickness [W/(m.K)]."""
        return to_m(self.thickness.value) / self.r_label.value


class Membrane(Good):
    """A thin flexible layer sold by the roll; its thermal resistance is none.

    `permeance` is that of the dry cup; a variable membrane has that of the wet cup as well.
    """

    role: Literal["vapour control", "moisture barrier"]
    width: Size
    length: Size
    permeance: Permeance
    permeance_wet: Permeance | None = None
    lap: Size


class Board(Good):
    """A stiff sheet or board; resistance per metre of thickness times thickness.

    `permeance` is that of the whole board, by the dry cup.
    """

    role: Literal["sheet", "foam board"]
    thickness: Size
    width: Size
    length: Size
    resistivity: Resistivity
    permeance: Permeance | None = None

    @property
    def resistance(self) -> float:
        """Thermal resistance [m2.K/W]."""
        return to_m(self.thickness.value) * self.resistivity.value


class Tape(Good):
    """Tape for seams and boxes, by the roll."""

    length: Size


class Sealant(Good):
    """Sealant by the cartridge, laid as a round bead."""

    volume: Volume
    bead: Size
    waste: Share


class Wrap(Good):
    """A vapour hat or wrap for one electrical box."""


class Sack(Good):
    """A sack for what is torn out."""

    volume: Volume


class Can(Good):
    """Foam from a can: `volume` is what it fills once it has grown, `waste` what hardens in the can."""

    volume: Volume
    waste: Share


class Lumber(Good):
    """A stick of dimension lumber: `face` is what the batt sees between two bays, `depth` what it fills."""

    face: Size
    depth: Size


class Material(Model):
    """What is in a wall without being bought by the piece: wood, concrete, an air film."""

    id: str
    name: str
    resistivity: Quantity | None = None
    resistance: Quantity | None = None

    @model_validator(mode="after")
    def _one_of_the_two(self) -> Self:
        if (self.resistivity is None) == (self.resistance is None):
            raise ValueError(f"{self.id}: give either a resistivity per metre or the resistance of the layer")
        return self


G = TypeVar("G", bound=Good)

KINDS: Mapping[str, type[Good]] = {
    "batt": Batt,
    "membrane": Membrane,
    "board": Board,
    "tape": Tape,
    "sealant": Sealant,
    "wrap": Wrap,
    "lumber": Lumber,
    "sack": Sack,
    "can": Can,
}


class GoodsError(LookupError):
    """No goods or material of that name; the message lists the nearest ones."""


class Shelf(Model):
    """All goods and materials that a job can choose from, by id."""

    goods: Mapping[str, Batt | Membrane | Board | Tape | Sealant | Wrap | Lumber | Sack | Can]
    materials: Mapping[str, Material]

    def find(self, kind: type[G], name: str) -> G:
        """The good of that kind by its id. Raises GoodsError."""
        found = self.goods.get(name)
        if isinstance(found, kind):
            return found
        known = sorted(key for key, good in self.goods.items() if isinstance(good, kind))
        raise GoodsError(f"{name!r} is not known as a {kind.__name__.lower()}; there are: {', '.join(known)}")

    def batts(self, family: str) -> tuple[Batt, ...]:
        """All widths of one family of batts, narrowest first. Raises GoodsError."""
        every = [good for good in self.goods.values() if isinstance(good, Batt)]
        of_family = [batt for batt in every if batt.family == family]
        if not of_family:
            names = ", ".join(sorted({batt.family for batt in every}))
            raise GoodsError(f"{family!r} is not a family of batts; there are: {names}")
        return tuple(sorted(of_family, key=lambda batt: (batt.width.value, batt.id)))

    def material(self, name: str) -> Material:
        """The material by its id. Raises GoodsError."""
        if name not in self.materials:
            raise GoodsError(f"{name!r} is not a material; there are: {', '.join(sorted(self.materials))}")
        return self.materials[name]

    def in_millimetres(self) -> Shelf:
        """The shelf with each good called as on papers in millimetres."""
        goods = {
            name: good if good.name_mm is None else good.model_copy(update={"name": good.name_mm})
            for name, good in self.goods.items()
        }
        return self.model_copy(update={"goods": goods})

    def with_own(self, own: Iterable[Good]) -> Shelf:
        """The shelf with a job's own goods added; the same id replaces ours."""
        return self.model_copy(update={"goods": {**self.goods, **{good.id: good for good in own}}})


@cache
def shelf() -> Shelf:
    """The goods and materials that come with the package."""
    text = (files("warmside") / "data" / "goods.toml").read_text("utf-8")
    table: dict[str, dict[str, dict[str, Any]]] = tomllib.loads(text)
    goods = {
        name: kind.model_validate({"id": name, **entry})
        for key, kind in KINDS.items()
        for name, entry in table.get(key, {}).items()
    }
    materials = {
        name: Material.model_validate({"id": name, **entry}) for name, entry in table["material"].items()
    }
    return Shelf.model_validate({"goods": goods, "materials": materials})
