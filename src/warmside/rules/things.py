"""What rules limit at a thing in the way: behind it, round it, before it.

A thing that was only counted has no place, so nothing can be told of it but that it has to be measured. No
distance of our own stands here: what is hot says by its label how far it has to stay from wood and batts.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping

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


def _crossing(_house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name in CROSSING:
            yield Found(None, each.wall.name, thing.id, thing.kind.name, needs("crossing"))


def _box_sealed(_house: House, each: Built) -> Iterator[Found]:
    """As planned: the assembly wraps every box that has no vapour hat yet."""
    for thing in each.wall.in_the_way:
        if thing.kind.wrapped:
            sealed = thing.wrap != "none" or each.wall.assembly.box_wrap is not None
            yield Found(float(sealed), each.wall.name, thing.id, thing.kind.name)


# Ducts, and what is hot


def _duct_inside(_house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name in DUCTS:
            yield Found(float(thing.near > 0), each.wall.name, thing.id, thing.kind.name)


def _by_label(_house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name in LABELLED:
            yield Found(None, each.wall.name, thing.id, thing.kind.name, needs("label"))


def _light(_house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name in LIGHTS:
            yield Found(None, each.wall.name, thing.id, thing.kind.name, needs("light"))


def _clearance(_house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name in HOT and each.wall.frame is not None:
            gaps = [max(left - thing.right, thing.left - right) for left, right in each.frame.studs]
            nearest = max(0, min(gaps)) if gaps else 0
            yield Found(to_m(Length(nearest)), each.wall.name, thing.id, thing.kind.name)


# Panels, beams, windows


def _panel_space(_house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name in PANELS:
            yield Found(None, each.wall.name, thing.id, thing.kind.name, needs("panel_space"))


def _beam_air(_house: House, each: Built) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name in POCKETS:
            yield Found(to_m(thing.kind.clear.value), each.wall.name, thing.id, thing.kind.name)


def _windows(each: Built, value: Callable[[HouseThing], float]) -> Iterator[Found]:
    for thing in each.wall.in_the_way:
        if thing.kind.name in WINDOWS:
            yield Found(value(thing), each.wall.name, thing.id, thing.kind.name)


def _opening_area(_house: House, each: Built) -> Iterator[Found]:
    yield from _windows(each, lambda thing: to_m(thing.width) * to_m(thing.height))


def _opening_side(_house: House, each: Built) -> Iterator[Found]:
    yield from _windows(each, lambda thing: to_m(min(thing.width, thing.height)))


OF_THINGS: Mapping[Measure, Callable[[House, Built], Iterator[Found]]] = {
    Measure.BEHIND: _behind,
    Measure.CROSSING: _crossing,
    Measure.BOX_SEALED: _box_sealed,
    Measure.DUCT_INSIDE: _duct_inside,
    Measure.BY_LABEL: _by_label,
    Measure.LIGHT: _light,
    Measure.CLEARANCE: _clearance,
    Measure.PANEL_SPACE: _panel_space,
    Measure.BEAM_AIR: _beam_air,
    Measure.OPENING_AREA: _opening_area,
    Measure.OPENING_SIDE: _opening_side,
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
}
"""Kinds that a measure can't be told of while they are only counted."""


def without_a_place(measure: Measure, house: House) -> Iterator[Found]:
    """One for each kind of which something has no place, where the measure needs one."""
    for kind in sorted(house.unplaced_kinds & _UNTOLD.get(measure, frozenset())):
        yield Found(None, thing=kind, kind=kind, needs=needs("place"))
