"""The one to three things whose measure would change a verdict, the order by a bag, or the price by 2 %.

Found by working the house through with each unknown at both its ends and all else as assumed, for at most
eight unknowns by their rank in `data/measure_next.toml`. What nobody knows on site is never asked: not the
soil, not the leakage; for the price of energy a bill is asked for. Unknowns that only matter together are
not found.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

from pydantic import TypeAdapter

from warmside.answers import JobError, Worked, work_through
from warmside.catalog.climates import ClimateError
from warmside.catalog.goods import Batt, Model
from warmside.catalog.kinds import kinds
from warmside.job.every_wall import spread
from warmside.job.existing import usual_layers
from warmside.job.listed_place import listed_place
from warmside.job.resolve import House, HouseWall, resolve
from warmside.job.survey import EveryWall, ExistingLayer, Foundation, Frame, Rim, Survey, Thing, Wall
from warmside.rules.clauses import GOOD, Built, Verdict, judge
from warmside.say import Note
from warmside.units import Length, parse_length

MOST_RUN = 8
MOST_TOLD = 3
OPENINGS = "openings.size"
"""Windows and doors that were only counted: their sizes stand in no field of a wall."""
MATTERS = 0.02
"""Share of the price from which on an unknown matters [-]."""


class Unknown(Model):
    """A field that may be unknown, and the ends between which it lies."""

    field: str
    low: Any
    high: Any
    source: str
    status: str


@cache
def unknowns() -> tuple[Unknown, ...]:
    """All of them, by rank."""
    text = (files("warmside") / "data" / "measure_next.toml").read_text("utf-8")
    return tuple(Unknown.model_validate(entry) for entry in tomllib.loads(text)["unknown"])


@dataclass(frozen=True)
class _Outcome:
    """What can depend on an unknown; a house that can't stand has another verdict and nothing else."""

    verdicts: Mapping[str, frozenset[str]]
    bags: int = 0
    packages: int = 0
    cents: int = 0


def measure_next(survey: Survey) -> tuple[Note, ...]:
    """At most three sentences: what to measure, on which walls, and what depends on it."""
    spoken = spread(survey)
    first = tuple(_needed_at_all(spoken))
    told = [*first, *(_telling(spoken) if len(first) < MOST_TOLD else ())]
    return (*told[:MOST_TOLD], *(_for_the_savings(survey) if len(told) < MOST_TOLD else ()))


def _for_the_savings(survey: Survey) -> Iterator[Note]:
    """Without a climate nothing is saved on paper; with one, a bill says it in money."""
    try:
        known = survey.place.weather_file is not None or bool(listed_place(survey.place))
    except ClimateError:
        known = False
    if not known:
        yield Note("measure.climate")
    elif survey.heating.price is None:
        yield Note("measure.bill")


def _needed_at_all(survey: Survey) -> Iterator[Note]:
    """What a wall needs before anything of it is computed."""
    without: Mapping[str, Callable[[Wall], bool]] = {
        "measure.length": lambda wall: wall.length is None,
        "measure.height": lambda wall: wall.height is None,
        "measure.frame_state": lambda wall: wall.frame.state is None,
    }
    if not survey.wall:
        yield Note("measure.walls")
    for code, lacks in without.items():
        names = [wall.name for wall in survey.wall if lacks(wall)]
        if names:
            yield Note(code, {"walls": _called(", ".join(names))})


def _telling(survey: Survey) -> list[Note]:
    """Unknowns that matter, those that turn a verdict first, then by bags, then by price."""
    open_ones = [(unknown, names) for unknown in unknowns() if (names := _open(survey, unknown)) is not None]
    weighed = [
        (weight, rank, note)
        for rank, (unknown, names) in enumerate(open_ones[:MOST_RUN])
        for weight, note in _weighed(survey, unknown, names)
    ]
    return [note for _, _, note in sorted(weighed, key=lambda one: (one[0], one[1]))]


def _weighed(survey: Survey, unknown: Unknown, names: str) -> Iterator[tuple[tuple[float, ...], Note]]:
    """How much depends on an unknown, smaller first, and its sentence; nothing where it does not matter."""
    low, high = (_outcome(_at(survey, unknown, end)) for end in (unknown.low, unknown.high))
    bags, most = abs(high.bags - low.bags), max(low.cents, high.cents)
    share = abs(high.cents - low.cents) / most if most else 0.0
    turned = _turned(low.verdicts, high.verdicts)
    if turned:
        why = Note("measure.why.verdict")
    elif bags:
        why = Note("measure.why.bags", {"least": min(low.bags, high.bags), "most": max(low.bags, high.bags)})
    elif share >= MATTERS:
        why = Note("measure.why.price", {"share": share})
    elif not most and low.packages != high.packages:
        why = Note("measure.why.packages")
    else:
        return
    code = f"measure.field.{unknown.field.replace('.', '_').replace(' ', '_')}"
    yield (-float(turned), -float(bags), -share), Note(code, {"walls": _called(names), "why": why})


def _called(names: str) -> Note:
    """Wall A; walls A, B, C."""
    return Note("where.walls", {"walls": names}) if ", " in names else Note("where.wall", {"wall": names})


def _at(survey: Survey, unknown: Unknown, end: Any) -> House:
    """The house with one unknown at one of its ends."""
    if unknown.field != OPENINGS:
        return resolve(_with(survey, unknown, end))
    house = resolve(survey)
    width, height = (parse_length(size) for size in end)
    return replace(house, walls=tuple(_opened(wall, width, height) for wall in house.walls))


def _opened(wall: HouseWall, width: Length, height: Length) -> HouseWall:
    """The wall with the openings that were only counted at one size."""
    return replace(wall, openings=tuple(replace(each, width=width, height=height) for each in wall.openings))


def _outcome(house: House) -> _Outcome:
    try:
        worked = work_through(house)
    except JobError as error:
        return _Outcome({fault.code: frozenset([TROUBLE]) for fault in error.faults})
    bought = [line for line in worked.order.lines if isinstance(line.good, Batt)]
    return _Outcome(
        verdicts=_verdicts(worked.house, worked),
        bags=sum(line.to_buy for line in bought),
        packages=sum(line.to_buy for line in worked.order.lines),
        cents=worked.order.total,
    )


TROUBLE = "trouble"
"""What is no verdict of a rule: a house that can't stand, a gap that is too wide."""
_NO_TROUBLE = frozenset({*GOOD, Verdict.CANT_TELL, Verdict.ASK})
"""A rule that is met, or that nobody can tell, turns nothing by being there at one end alone."""


def _turned(low: Mapping[str, frozenset[str]], high: Mapping[str, frozenset[str]]) -> bool:
    """Whether anything is judged otherwise at the two ends."""
    return any(
        low[key] != high[key] if key in low and key in high else bool({**low, **high}[key] - _NO_TROUBLE)
        for key in {*low, *high}
    )


def _verdicts(house: House, worked: Worked) -> Mapping[str, frozenset[str]]:
    """Everything that is judged, by the rule and the wall or thing that it is said of."""
    built = [Built(each.wall, each.built, each.fills, each.worth) for each in worked.walls]
    told: dict[str, frozenset[str]] = {}
    for result in judge(house, built):
        key = f"{result.rule.id} {result.wall} {result.thing}"
        told[key] = told.get(key, frozenset()) | {result.verdict}
    largest = house.rules.largest_gap.value
    wide = (each.wall.name for each in worked.walls if each.wall.largest_air_gap > largest)
    return {**told, **{f"gap {name}": frozenset([TROUBLE]) for name in wide}}


# Which walls do not know a field, and a survey in which they do

_RECORDS: Mapping[str, type[Model]] = {
    "wall": Wall,
    "frame": Frame,
    "rim": Rim,
    "foundation": Foundation,
    "thing": Thing,
    "existing": ExistingLayer,
}


def _open(survey: Survey, unknown: Unknown) -> str | None:
    """Names of the walls that do not know a field, "" for one of the house, None where it is known."""
    record, _, name = unknown.field.partition(".")
    if unknown.field == OPENINGS:
        return ", ".join(wall.name for wall in resolve(survey).walls if wall.openings) or None
    if record == "counts":
        counted = name in survey.every_wall.counts
        told = counted or any(name in wall.counts or wall.in_the_way for wall in survey.wall)
        return None if told or not survey.wall else ""
    if record == "foundation":
        return "" if getattr(survey.foundation, name) is None and survey.wall else None
    names = [wall.name for wall in survey.wall if _lacks(wall, record, name)]
    return ", ".join(names) or None


def _lacks(wall: Wall, record: str, name: str) -> bool:
    if record == "thing":
        return any(thing.wrap is None for thing in wall.in_the_way if _is_box(thing))
    if record == "existing":
        return any(_is_open(layer) for layer in wall.existing)
    if record == "frame" and (wall.frame.state not in ("planned", "standing") or wall.frame.bays):
        return False
    if name == "concrete_showing" and wall.exposure not in (None, "soil"):
        return False
    return getattr(wall if record == "wall" else getattr(wall, record), name) is None


def _is_open(layer: ExistingLayer) -> bool:
    """True for old insulation of which nobody said what becomes of it."""
    return layer.then is None and usual_layers()[layer.kind].resistivity is not None


def _is_box(thing: Thing) -> bool:
    return kinds()[thing.kind].wrapped


def _with(survey: Survey, unknown: Unknown, end: Any) -> Survey:
    """The survey with one unknown at one of its ends, wherever it is unknown."""
    record, _, name = unknown.field.partition(".")
    if record == "counts":
        counts = {**survey.every_wall.counts, name: end}
        common: EveryWall = survey.every_wall.model_copy(update={"counts": counts})
        return survey.model_copy(update={"every_wall": common})
    adapter: TypeAdapter[Any] = TypeAdapter(_RECORDS[record].model_fields[name].rebuild_annotation())
    value = adapter.validate_python(end)
    if record == "foundation":
        return survey.model_copy(update={"foundation": survey.foundation.model_copy(update={name: value})})
    walls = (_known(w, record, name, value) if _lacks(w, record, name) else w for w in survey.wall)
    return survey.model_copy(update={"wall": tuple(walls)})


def _known(wall: Wall, record: str, name: str, value: Any) -> Wall:
    if record == "wall":
        return wall.model_copy(update={name: value})
    if record == "thing":
        things = (
            t.model_copy(update={name: value}) if _is_box(t) and t.wrap is None else t
            for t in wall.in_the_way
        )
        return wall.model_copy(update={"in_the_way": tuple(things)})
    if record == "existing":
        old = (one.model_copy(update={name: value}) if _is_open(one) else one for one in wall.existing)
        return wall.model_copy(update={"existing": tuple(old)})
    return wall.model_copy(update={record: getattr(wall, record).model_copy(update={name: value})})
