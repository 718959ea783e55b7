"""What rules limit at a thing in the way: behind it, round it, before it.

A thing that was only counted has no place, so nothing can be told of it but that it has to be measured. No
distance of our own stands here: what is hot says by its label how far it has to stay from wood and batts.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

from warmside.catalog.codes import Measure
from warmside.catalog.kinds import kinds
from warmside.job.resolve import House, HouseThing
from warmside.rules.facts import Built, Found, needs
from warmside.study.layers import air, around_studs
from warmside.units import Length, to_m

HOT = frozenset({"chimney", "gas vent", "flue"})
LABELLED = frozenset({"electric heater", "furnace", "water heater", "recessed light"}) | HOT
"""What says itself how far it has to stay from wood and batts."""
DUCTS = frozenset({"duct"})
CROSSING = frozenset({"partition"})
LIGHTS = frozenset({"recessed light"})
PANELS = frozenset({"service panel"})
POCKETS = frozenset({"beam pocket"})
WINDOWS = frozenset({"window"})

Tell = Callable[[House, Built], Iterator[Found]]


def _seen_at(names: frozenset[str], need: str) -> Tell:
    """At each thing of these kinds somebody has to look, since no survey tells it."""

    def tell(_house: House, each: Built) -> Iterator[Found]:
        for thing in each.wall.in_the_way:
            if thing.kind.name in names:
                yield Found(None, each.wall.name, thing.id, thing.kind.name, needs(need))

    return tell


def _known_at(names: frozenset[str], value: Callable[[HouseThing], float]) -> Tell:
    """A value that each thing of these kinds has as surveyed."""

    def tell(_house: House, each: Built) -> Iterator[Found]:
        for thing in each.wall.in_the_way:
            if thing.kind.name in names:
                yield Found(value(thing), each.wall.name, thing.id, thing.kind.name)

    return tell


# Before the panel


def _panel_space(house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name in PANELS:
            yield replace(_free_floor(house), wall=each.wall.name, thing=thing.id, kind=thing.kind.name)


def _free_floor(house: House) -> Found:
    """Of the hazards one asks whether there is less than 1 m; a no says that there is so much."""
    seen = house.looked_at.get("panel-space")
    free = seen is not None and seen.answer == "no"
    return Found(1.0 if free else None, needs=needs("panel_space"), bound="or_more" if free else None)


# Behind things


def behind(house: House, built: Built, thing: HouseThing) -> float | None:
    """Resistance that is left of the wall where a thing stands [m2.K/W]; None where it takes nothing away."""
    frame = built.wall.frame
    voids = [void for fill in built.fills for void in fill.voids if void.thing == thing.id]
    if frame is None or not voids:
        return None
    batt = built.wall.assembly.batts[0]
    layers = around_studs(house, built.wall)
    rooms = [frame.depth - void.depth if void.why == "in front" else 0 for void in voids]
    room = min(min(rooms), batt.thickness.value)
    kept = to_m(Length(max(0, room))) / batt.conductivity
    rest = (*layers.before, air(layers.gap), *layers.behind)
    return kept + math.fsum(layer.resistance for layer in rest)


def _behind(house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        left = behind(house, each, thing)
        if left is not None:
            yield Found(left, each.wall.name, thing.id, thing.kind.name)


def _box_sealed(_house: House, each: Built) -> Iterator[Found]:
    """As planned: the assembly wraps every box that has no vapour hat yet."""
    for thing in each.wall.in_the_way:
        if thing.kind.wrapped:
            sealed = thing.wrap != "none" or each.wall.assembly.box_wrap is not None
            yield Found(float(sealed), each.wall.name, thing.id, thing.kind.name)


def _all_wrapped(house: House) -> Found:
    """Where every wall has something for its boxes, each box is sealed wherever it hangs."""
    wrapped = house.walls and all(wall.assembly.box_wrap is not None for wall in house.walls)
    return Found(1.0 if wrapped else None)


# What is hot


def _clearance(_house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name in HOT and each.wall.frame is not None:
            gaps = [max(left - thing.right, thing.left - right) for left, right in each.frame.studs]
            nearest = max(0, min(gaps)) if gaps else 0
            yield Found(to_m(Length(nearest)), each.wall.name, thing.id, thing.kind.name)


OF_THINGS: Mapping[Measure, Tell] = {
    Measure.BEHIND: _behind,
    Measure.CROSSING: _seen_at(CROSSING, "crossing"),
    Measure.BOX_SEALED: _box_sealed,
    Measure.DUCT_INSIDE: _known_at(DUCTS, lambda thing: float(thing.near > 0)),
    Measure.BY_LABEL: _seen_at(LABELLED, "label"),
    Measure.LIGHT: _seen_at(LIGHTS, "light"),
    Measure.CLEARANCE: _clearance,
    Measure.PANEL_SPACE: _panel_space,
    Measure.BEAM_AIR: _known_at(POCKETS, lambda thing: to_m(thing.kind.clear.value)),
    Measure.OPENING_AREA: _known_at(WINDOWS, lambda thing: to_m(thing.width) * to_m(thing.height)),
    Measure.OPENING_SIDE: _known_at(WINDOWS, lambda thing: to_m(min(thing.width, thing.height))),
}
_UNTOLD: Mapping[Measure, frozenset[str]] = {
    Measure.BEHIND: frozenset(kinds()),
    Measure.CROSSING: CROSSING,
    Measure.DUCT_INSIDE: DUCTS,
    Measure.BY_LABEL: LABELLED,
    Measure.LIGHT: LIGHTS,
    Measure.CLEARANCE: HOT,
    Measure.PANEL_SPACE: PANELS,
    Measure.BEAM_AIR: POCKETS,
    Measure.OPENING_AREA: WINDOWS,
    Measure.OPENING_SIDE: WINDOWS,
    Measure.BOX_SEALED: frozenset(kind.name for kind in kinds().values() if kind.wrapped),
}
"""Kinds that a measure can't be told of while they are only counted."""
_WITHOUT_A_PLACE: Mapping[Measure, Callable[[House], Found]] = {
    Measure.PANEL_SPACE: _free_floor,
    Measure.BOX_SEALED: _all_wrapped,
}
"""What can be told of a thing wherever it stands."""


def without_a_place(measure: Measure, house: House) -> Iterator[Found]:
    """One for each kind of which something has no place, where the measure needs one."""
    for kind in sorted(house.unplaced_kinds & _UNTOLD.get(measure, frozenset())):
        told = _WITHOUT_A_PLACE[measure](house) if measure in _WITHOUT_A_PLACE else Found(None)
        one = told if told.value is not None else Found(None, needs=needs("place"))
        yield replace(one, thing=kind, kind=kind)
