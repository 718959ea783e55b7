"""What is taken for a field that nobody knows: from the table of assumptions, on the side of the question.

The stance of a field stands in the metadata of the schema, the values with their reasons in
`data/assumptions.toml`. What only asking helps has no value there and stays unknown.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from functools import cache
from importlib.resources import files
from typing import Any, get_args

from pydantic import TypeAdapter

from warmside.catalog.goods import LengthField, Model
from warmside.job import survey as asked
from warmside.say import Note, Where


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
    """Takes known fields as they are, the others from the table; remembers what it took."""

    side: Side
    taken: dict[str, Assumption] = field(default_factory=dict)

    def get(self, model: Model, name: str, path: str, derived: Any = None, wall: str | None = None) -> Any:
        """The value of a field; unknown ones from `derived` where given, else from the table."""
        value = getattr(model, name)
        if value is not None:
            return value
        known = asked.stance_of(type(model), name)
        if known is None or known.key is None:
            return None
        entry = assumed_values()[known.key]
        value = derived if derived is not None else _tabled(type(model), name, known.key, self.side)
        spoken = _spoken(value, _is_length(type(model), name))
        note = Note(entry["reason"], {"value": spoken}, Where(wall=wall))
        self.taken.setdefault(f"{path}.{name}", Assumption(f"{path}.{name}", note))
        return value


@cache
def _tabled(model: type[Model], name: str, key: str, side: Side) -> Any:
    """What the table of assumptions has for a field, as the survey would hold it."""
    entry = assumed_values()[key]
    adapter: TypeAdapter[Any] = TypeAdapter(model.model_fields[name].rebuild_annotation())
    return adapter.validate_python(entry.get(side.value, entry["nominal"]))


@cache
def _is_length(model: type[Model], name: str) -> bool:
    return LengthField in get_args(model.model_fields[name].annotation)


@cache
def assumed_values() -> Mapping[str, Mapping[str, Any]]:
    """What is taken for an unknown, by key: nominal, stricter and larger value, and the reason."""
    return tomllib.loads((files("warmside") / "data" / "assumptions.toml").read_text("utf-8"))


def _spoken(value: Any, is_length: bool) -> Note:
    """An assumed value as a note, so that each reader sees it in own units."""
    if isinstance(value, asked.Profile) and value.least == value.most:
        return Note("value.length", {"length": value.least})
    if isinstance(value, asked.Gap | asked.Profile):
        return Note("value.from_to", {"least": value.least, "most": value.most})
    plain = f"{value:g}" if isinstance(value, float) else value
    return Note("value.length", {"length": value}) if is_length else Note("value.plain", {"value": plain})
