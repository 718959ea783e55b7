"""What a survey says against itself: twice the same name, bays without a frame, a facing against the turns.

Works on the values as surveyed, as far as they are known. Sizes, things in the way, counts and goods have
modules of their own; here they come together. Bays that don't add up and the closing error of the round need
resolved geometry and are not looked at here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import get_args

from warmside.catalog.climates import ClimateError
from warmside.job.counted import counts, measured_again, total_length
from warmside.job.findings import Found, found, parts_of, things_of, walls_of
from warmside.job.labels import labels
from warmside.job.lines import KeyPath
from warmside.job.listed_place import listed_place
from warmside.job.sizes import profiles, sizes
from warmside.job.spots import overlaps, positions, unknown_kinds
from warmside.job.stock import goods, prices, rule_set
from warmside.job.survey import Facing, Survey, Wall
from warmside.units import shown


def cross_check(survey: Survey) -> Iterator[Found]:
    """Everything in a survey that contradicts the rest of it or cannot be."""
    for check in _CHECKS:
        yield from check(survey)


# Names and ids


def _names(survey: Survey) -> Iterator[Found]:
    seen: dict[str, KeyPath] = {}
    given = [(path, wall.name) for path, wall in walls_of(survey)]
    for path, written in [*given, *((path, part.name) for path, part in parts_of(survey))]:
        name = " ".join(written.casefold().split())
        if not name or not written.isprintable():
            yield found("fault.name_blank", (*path, "name"))
        elif name in seen and path[0] == "inside":
            yield found("fault.inside_name_twice", (*path, "name"), name=written)
        elif name in seen:
            yield found("fault.name_twice", (*path, "name"), name=written, first=int(seen[name][1]) + 1)
        seen.setdefault(name, path)


def _ids(survey: Survey) -> Iterator[Found]:
    seen: set[str] = set()
    given = [(path, wall.id) for path, wall in walls_of(survey)]
    given += [(path, thing.id) for path, _, thing in things_of(survey)]
    for path, name in given:
        if name is not None and not name.strip():
            yield found("fault.id_blank", (*path, "id"))
        elif name is not None and name in seen:
            yield found("fault.id_twice", (*path, "id"), id=shown(name))
        seen.add(name or "")


def _frames(survey: Survey) -> Iterator[Found]:
    for path, wall in walls_of(survey):
        frame = wall.frame
        given = [key for key, value in (("bays", frame.bays), ("odd_bays", frame.odd_bays)) if value]
        if len(given) == 2:
            yield found("fault.bays_twice", (*path, "frame", "bays"))
        given += ["leans_in"] if frame.leans_in else []
        if frame.state == "none" and given:
            yield found("fault.no_frame", (*path, "frame", given[0]))


_BEARING: Mapping[str, float] = {name: 45.0 * i for i, name in enumerate(get_args(Facing))}
WIDEST_DOUBT = 45.0
"""Two facings, each rounded to the nearest of eight, may differ from the turns by this much [deg]."""


def _facings(survey: Survey) -> Iterator[Found]:
    """A facing that the turns since the first given facing contradict."""
    first: tuple[Wall, float] | None = None
    for path, wall in walls_of(survey):
        if wall.facing is not None and first is not None:
            off = (_BEARING[wall.facing] - first[1] + 180.0) % 360.0 - 180.0
            if abs(off) > WIDEST_DOUBT + 1e-6:
                args = {
                    "other": first[0].name,
                    "other_facing": first[0].facing,
                    "expected": _nearest_facing(first[1]),
                }
                yield found("warning.facing", (*path, "facing"), facing=wall.facing, **args)
        elif wall.facing is not None:
            first = (wall, _BEARING[wall.facing])
        if first is not None:
            first = None if wall.turn is None else (first[0], first[1] + wall.turn)


def _turns(survey: Survey) -> Iterator[Found]:
    """Corners that lead round the outside of a house; inside one turns right on the whole."""
    turns = [wall.turn for wall in survey.wall if wall.turn is not None]
    if len(turns) == len(survey.wall) > 2 and sum(turns) < 0.0:
        yield found("warning.turned_left", ("wall", 0, "turn"))


def _climate(survey: Survey) -> Iterator[Found]:
    """A listed place that is named and not found; a town alone may well be unknown."""
    if survey.place.climate is not None:
        try:
            listed_place(survey.place)
        except ClimateError as unknown:
            yield found("fault.climate", ("place", "climate"), why=str(unknown).rstrip("."))


def _nearest_facing(bearing: float) -> str:
    return list(_BEARING)[round(bearing / 45.0) % 8]


Check = Callable[[Survey], Iterator[Found]]

_CHECKS: tuple[Check, ...] = (
    _names,
    _ids,
    sizes,
    _frames,
    profiles,
    unknown_kinds,
    positions,
    overlaps,
    counts,
    total_length,
    measured_again,
    labels,
    goods,
    rule_set,
    prices,
    _facings,
    _turns,
    _climate,
)
