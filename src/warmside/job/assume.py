"""What is taken for a field that nobody knows: from the table of assumptions, on the side of the question.

The stance of a field stands in the metadata of the schema, the values with their reasons in
`data/assumptions.toml`. What only asking helps has no value there and stays unknown.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from functools import cache
from importlib.resources import files
from typing import Any, get_args

from pydantic import TypeAdapter

from warmside.catalog.codes import rule_sets
from warmside.catalog.goods import LengthField, Model
from warmside.job import survey as asked
from warmside.job.every_wall import spread
from warmside.say import Note, Where
from warmside.units import Length, parse_length


class Side(Enum):
    """On which side an unknown is assumed."""

    NOMINAL = "nominal"
    STRICTER = "stricter"
    LARGER = "larger"


@dataclass(frozen=True)
class Assumption:
    """One field that was not known: what was taken for it, and the sentence that says why."""

    field: str
    note: Note


@dataclass
class Filler:
    """Takes known fields as they are, the others from the table; remembers what it took.

    `metric` : take the sizes of the metric trade where the table has them
    """

    side: Side
    taken: dict[str, Assumption] = field(default_factory=dict)
    metric: bool = False

    def get(self, model: Model, name: str, path: str, derived: Any = None, wall: str | None = None) -> Any:
        """The value of a field; unknown ones from `derived` where given, else from the table."""
        value = getattr(model, name)
        if value is not None:
            return value
        known = asked.stance_of(type(model), name)
        if known is None or known.key is None:
            return None
        entry = assumed_values()[known.key]
        value = (
            derived if derived is not None else _tabled(type(model), name, known.key, self.side, self.metric)
        )
        shows = "length" if _is_length(type(model), name) else entry.get("shows", "plain")
        spoken = _spoken(value, shows)
        self.tell(f"{path}.{name}", known.key, spoken, wall)
        return value

    def tell(self, field: str, key: str, value: Note, wall: str | None) -> None:
        """Remember what was taken for a field, with the reason of `key`."""
        note = Note(assumed_values()[key]["reason"], {"value": value}, Where(wall=wall))
        self.taken.setdefault(field, Assumption(field, note))


@cache
def _tabled(model: type[Model], name: str, key: str, side: Side, metric: bool) -> Any:
    """What the table of assumptions has for a field, as the survey would hold it."""
    entry = assumed_values()[key]
    sides = entry.get("metric", entry) if metric else entry
    adapter: TypeAdapter[Any] = TypeAdapter(model.model_fields[name].rebuild_annotation())
    return adapter.validate_python(sides.get(side.value, sides["nominal"]))


@dataclass(frozen=True)
class BothSpacings:
    """A survey whose studs stand at the other spacing; `spacings` are the one assumed and the other."""

    other: asked.Survey
    spacings: tuple[Length, Length]


def spacing_both_ways(survey: asked.Survey) -> BothSpacings | None:
    """The survey with the other spacing, where there is a frame whose spacing nobody measured."""
    if not any(_open_spacing(wall) for wall in spread(survey).wall):
        return None
    entry = assumed_values()["frame.spacing"]
    sides = entry["metric"] if survey.show == "mm" else entry
    near, far = parse_length(sides["nominal"]), parse_length(sides["other"])
    frame = survey.every_wall.frame.model_copy(update={"spacing": far})
    every = survey.every_wall.model_copy(update={"frame": frame})
    return BothSpacings(survey.model_copy(update={"every_wall": every}), (near, far))


def _open_spacing(wall: asked.Wall) -> bool:
    measured = wall.length is not None and wall.height is not None
    framed = wall.frame.state in ("planned", "standing") and not wall.frame.bays
    return measured and framed and wall.frame.spacing is None


@cache
def _is_length(model: type[Model], name: str) -> bool:
    return LengthField in get_args(model.model_fields[name].annotation)


@cache
def assumed_values() -> Mapping[str, Mapping[str, Any]]:
    """What is taken for an unknown, by key: nominal, stricter and larger value, and the reason."""
    return tomllib.loads((files("warmside") / "data" / "assumptions.toml").read_text("utf-8"))


def _spoken(value: Any, shows: str) -> Note:
    """An assumed value as a note, so that each reader sees it in own units."""
    if isinstance(value, asked.Profile) and value.least == value.most:
        return Note("value.length", {"length": value.least})
    if isinstance(value, asked.Gap | asked.Profile):
        return Note("value.from_to", {"least": value.least, "most": value.most})
    return _SHOWN[shows](value)


def _worth(value: float) -> Note:
    return Note("value.worth", {"value": value}) if value > 0.0 else Note("value.none")


_SHOWN: Mapping[str, Callable[[Any], Note]] = {
    "plain": lambda value: Note("value.plain", {"value": value}),
    "length": lambda value: Note("value.length", {"length": value}),
    "temperature": lambda value: Note("value.temperature", {"value": value}),
    "worth": _worth,
    "rules": lambda value: Note("value.plain", {"value": rule_sets()[value].title}),
}
