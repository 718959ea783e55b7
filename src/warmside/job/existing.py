"""What is on a wall already: what of it stays and counts, and what is torn out into sacks.

A layer that is wet or mouldy can't stay, whatever the file says. One without a word is torn out where the
larger order is asked for, and counts for nothing in any other. Old batts count in the bays of a frame that
stands; behind a planned frame they count for nothing, since nobody knows how they lie in the gap. Thickness
and resistance that nobody measured come from `data/existing.toml`, at the worse end. Not valid for layers
that cover a wall in part.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Literal

from warmside.catalog.data_files import read_named
from warmside.catalog.goods import Batt, Count, LabelResistance, Material, Model, Quantity, Shelf, Size
from warmside.job.assume import Filler, Side
from warmside.job.survey import ExistingLayer, Wall
from warmside.units import INCH, Length, to_m

SPOILT = ("wet", "mouldy")
"""In these states nothing stays."""
FOAMS = ("foam board", "sprayed foam")
"""What lies against the concrete, behind the studs."""
WIDE, LONG = Length(400 * INCH), Length(400 * INCH)
"""Old batts are not cut: no bay is wider or higher."""


class Usual(Model):
    """A kind of old layer: thickness, resistance of a metre, room in a sack for its volume on the wall."""

    thickness: Size
    resistivity: Quantity | None = None
    in_sack: Quantity | None = None


@cache
def usual_layers() -> Mapping[str, Usual]:
    """All kinds of old layers, by the word that a job file uses."""
    return read_named(Usual, "existing.toml")


@dataclass(frozen=True)
class OldLayer:
    """One layer that is there: what becomes of it, its thickness [length units], its resistance [m2.K/W].

    in_sack : volume in sacks over volume on the wall; 0 for what goes out by the piece [-]
    worth_known : false where its resistance was assumed
    """

    kind: str
    then: Literal["keep", "remove"] | None
    thickness: Length
    resistance: float
    in_sack: float
    state: Literal["sound", "torn", "wet", "mouldy"] | None = None
    worth_known: bool = True

    @property
    def insulates(self) -> bool:
        """True where it stays and is counted as insulation."""
        return self.then == "keep" and self.resistance > 0.0

    @property
    def as_material(self) -> Material:
        """Old foam as it stands among the materials."""
        known = Quantity(value=self.resistance, unit="m2.K/W", source="survey", status="label")
        return Material(id=f"old {self.kind}", name=f"Old {self.kind}", resistance=known)

    def as_batt(self, wall: str) -> Batt:
        """The old batts of a wall as goods that need no cut and are not bought."""
        return Batt(
            id=f"old batt {wall}",
            name="Old batts that stay",
            package="bag",
            family="old batt",
            fibre="glass",
            r_label=LabelResistance(value=self.resistance, unit="m2.K/W", source="survey", status="label"),
            thickness=_size(self.thickness),
            width=_size(WIDE),
            length=_size(LONG),
            per_bag=Count(value=1, source="survey", status="label"),
            add_width=_size(0),
            add_height=_size(0),
        )


def _size(value: int) -> Size:
    """A length as goods have it; a record that is made is not read from text."""
    return Size.model_construct(value=Length(value), source="survey", status="label")


def old_layers(wall: Wall, filler: Filler) -> tuple[OldLayer, ...]:
    """What is on a wall, from the concrete or from the room as the file has it; what was assumed is told."""
    return tuple(_old(layer, wall.name, filler) for layer in wall.existing)


def _old(layer: ExistingLayer, wall: str, filler: Filler) -> OldLayer:
    usual = usual_layers()[layer.kind]
    then = _becomes(layer, filler.side)
    asker = filler if then == "keep" and usual.resistivity else Filler(filler.side)
    path = f"wall {wall}.existing {layer.kind}"
    thickness: Length = asker.get(layer, "thickness", path, usual.thickness.value, wall)
    by_metre = usual.resistivity.value * to_m(thickness) if usual.resistivity else 0.0
    worth: float = asker.get(layer, "worth", path, by_metre, wall) if usual.resistivity else 0.0
    in_sack = usual.in_sack.value if usual.in_sack else 0.0
    return OldLayer(layer.kind, then, thickness, worth, in_sack, layer.state, layer.worth is not None)


def _becomes(layer: ExistingLayer, side: Side) -> Literal["keep", "remove"] | None:
    if layer.state in SPOILT:
        return "remove"
    return "remove" if layer.then is None and side is Side.LARGER else layer.then


def kept_foam(layers: tuple[OldLayer, ...]) -> Iterator[OldLayer]:
    """The old foam that stays against the concrete."""
    return (layer for layer in layers if layer.kind in FOAMS and layer.insulates)


def kept_batts(layers: tuple[OldLayer, ...], wall: str) -> tuple[Batt, ...]:
    """The old batts of a wall that stay; empty where none do."""
    stay = [layer for layer in layers if layer.kind == "batt" and layer.insulates]
    return tuple(layer.as_batt(wall) for layer in stay[:1])


def with_old(shelf: Shelf, layers: Mapping[str, tuple[OldLayer, ...]]) -> Shelf:
    """The shelf with the old insulation that stays, by wall; none of it can be bought."""
    batts = [batt for wall, old in layers.items() for batt in kept_batts(old, wall)]
    foams = [foam.as_material for old in layers.values() for foam in kept_foam(old)]
    own = shelf.with_own(batts)
    return own.model_copy(update={"materials": {**own.materials, **{foam.id: foam for foam in foams}}})
