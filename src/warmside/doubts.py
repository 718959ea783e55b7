"""What a survey says that the answers do not cover, or that somebody has to be asked about first.

Another owner or household behind a wall, a foundation that is not poured concrete, layers that are there
already, a frame out of plumb, things only counted. Words for people; no figure changes by them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import get_args

from pydantic import TypeAdapter

from warmside.job.every_wall import house_counts, spread
from warmside.job.resolve import House, HouseWall
from warmside.job.survey import (
    EnergyUnit,
    ExistingLayer,
    Heating,
    Place,
    Resistance,
    Survey,
    Wall,
)
from warmside.say import Note, Where
from warmside.study.heat_data import energy_per

OTHER_RULES: Mapping[str, str] = {
    "party wall": "doubt.party_wall",
    "second suite": "doubt.second_suite",
}
"""Exposures with a neighbour's fire, noise and ownership in them: the answers do not cover these walls."""

FOUNDATIONS: Mapping[str, str] = {
    "concrete block": "doubt.concrete_block",
    "stone": "doubt.stone",
    "brick": "doubt.brick",
    "wood": "doubt.wood_foundation",
}
"""Walls that are computed as poured concrete although they are not."""

ALIKE = 0.95
"""Labels that differ by less are one degree of insulation: R12 is close to R12.5 (common practice) [-]."""

STATES: Mapping[str, str] = {
    "wet": "doubt.existing_wet",
    "mouldy": "doubt.existing_mouldy",
    "torn": "doubt.existing_torn",
}


def doubts(survey: Survey) -> tuple[Note, ...]:
    """All of them, those that stop the work first."""
    walls = spread(survey).wall
    stops = [note for wall in walls for note in _neighbours(wall)]
    others = [note for wall in survey.wall for note in (*_on_wall(survey, wall), *_out_of_plumb(wall))]
    everywhere = _existing(survey.every_wall.existing, survey.assembly.vapour_control, Where())
    house = (*_foundation(survey), *_place(survey.place), *_energy(survey.heating))
    return (*stops, *house, *everywhere, *others, *_counted(survey))


def _neighbours(wall: Wall) -> Iterator[Note]:
    code = OTHER_RULES.get(wall.exposure or "")
    if code is not None:
        yield Note(code, {}, Where(wall=wall.name))


def _foundation(survey: Survey) -> Iterator[Note]:
    code = FOUNDATIONS.get(survey.foundation.kind or "")
    if code is not None:
        yield Note(code)


def _place(place: Place) -> Iterator[Note]:
    """Half a pair of coordinates names no place."""
    if (place.latitude is None) != (place.longitude is None):
        yield Note("doubt.no_longitude" if place.longitude is None else "doubt.no_latitude")


def _energy(heating: Heating) -> Iterator[Note]:
    """A price by a unit in which the fuel is not sold gives no money."""
    if heating.fuel is None or heating.price is None:
        return
    if energy_per(heating.fuel, heating.price.per) is None:
        sold = [unit for unit in get_args(EnergyUnit) if energy_per(heating.fuel, unit) is not None]
        args = {"fuel": heating.fuel, "unit": heating.price.per, "units": ", ".join(sold)}
        yield Note("doubt.energy_unit", args)


def _on_wall(survey: Survey, wall: Wall) -> Iterator[Note]:
    """What a wall says of itself; what is on every wall is told once."""
    own = wall.assembly.vapour_control if wall.assembly else None
    yield from _existing(wall.existing, own or survey.assembly.vapour_control, Where(wall=wall.name))


def _existing(layers: Sequence[ExistingLayer], chosen: str | None, where: Where) -> Iterator[Note]:
    """Of what is there already, beside the vapour barrier that is chosen; None is the one proposed."""
    for layer in layers:
        yield from _of_layer(layer, where)
    if chosen != "none" and any(one.kind == "vapour barrier" and one.then != "remove" for one in layers):
        yield Note("doubt.two_barriers", {}, where)


def _of_layer(layer: ExistingLayer, where: Where) -> Iterator[Note]:
    """Wet or mouldy layers are told whatever becomes of them; of a layer without a word one is asked."""
    code = STATES.get(layer.state or "")
    if code is not None and (layer.state != "torn" or layer.then == "keep"):
        yield Note(code, {"layer": layer.kind}, where)
    if layer.then is None:
        yield Note("doubt.existing_asked", {"layer": layer.kind}, where)


def _out_of_plumb(wall: Wall) -> Iterator[Note]:
    if wall.frame.leans_in:
        yield Note("doubt.out_of_plumb", {"by": wall.frame.leans_in}, Where(wall=wall.name))


@cache
def _upstairs_labels() -> Mapping[str, float]:
    """The least label that fills the stud space upstairs, by its frame [m2.K/W]."""
    table = tomllib.loads((files("warmside") / "data" / "upstairs.toml").read_text("utf-8"))
    worth: TypeAdapter[float] = TypeAdapter(Resistance)
    return {frame: worth.validate_python(entry["label"]) for frame, entry in table.items()}


def less_than_upstairs(house: House) -> tuple[Note, ...]:
    """Walls whose batts and foam are labelled lower than what the walls upstairs usually hold."""
    least = _upstairs_labels().get(house.place.upstairs_frame or "")
    framed = [wall for wall in house.walls if wall.frame is not None]
    low = [wall for wall in framed if least is not None and _label(wall) < ALIKE * least]
    if not low or least is None:
        return ()
    args = {"frame": house.place.upstairs_frame, "upstairs": least, "here": min(map(_label, low))}
    return (Note("doubt.less_than_upstairs", {**args, "walls": ", ".join(wall.name for wall in low)}),)


def _label(wall: HouseWall) -> float:
    """Labels of the batt and of the foam board behind it [m2.K/W]."""
    foam = wall.assembly.foam_board
    return wall.assembly.batts[0].r_label.value + (foam.resistance if foam else 0.0)


def _counted(survey: Survey) -> Iterator[Note]:
    counts = house_counts(survey)
    if counts:
        listed = ", ".join(f"{kind} x {count}" for kind, count in counts.items())
        yield Note("doubt.counted", {"things": listed})
