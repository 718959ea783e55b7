"""Faults of a job file as notes: each with its line, its wall and thing, and what would be right.

Two sources of faults stand here: a walk over the values as TOML gives them (words, dates and numbers that no
field takes, and `unknown`, which means the same as leaving a field out), and the errors of the schema, turned
into our own sentences by their kind. Lines are those of the text as it was read, also after a migration.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from difflib import get_close_matches
from functools import cached_property
from typing import Any, Final, get_args

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from warmside.job.lines import KeyPath, Lines, locate
from warmside.job.survey import Survey
from warmside.say import Note, Where
from warmside.units import shown

JOB_FILE = "job.toml"
DEEPEST = 12
LONGEST_LIST = 1000
LARGEST_NUMBER = 2**63
LONGEST_SENTENCE = 240
CONTROL = re.compile(
    "[\\x00-\\x08\\x0b\\x0c\\x0e-\\x1f\\x7f-\\x9f\\u200e\\u200f\\u202a-\\u202e\\u2066-\\u2069\\ufffe\\uffff]"
)
"""Signs that no paper or workbook can hold, or that turn a line round; tab and line ends are none."""

ABSENT: Final = object()


@dataclass(frozen=True)
class Places:
    """Where each part of a job stands: its line, the wall by its name, the thing by id or number."""

    text: str
    raw: Mapping[str, Any]

    @cached_property
    def lines(self) -> Lines:
        """The line of each key; worked out when the first fault needs it."""
        return locate(self.text)

    def where(self, path: KeyPath) -> Where:
        """The place of `path`, for a note."""
        return Where(JOB_FILE, self.lines.line(path), self.wall_name(path), self.item(path))

    def note(self, code: str, path: KeyPath, **args: Any) -> Note:
        """A note about `path`; `key` in its sentence is the key as it is written."""
        return Note(code, {"key": key_of(path), **args}, self.where(path))

    def wall_name(self, path: KeyPath) -> str | None:
        """The name of the wall that `path` is in, or its number where it has none."""
        if len(path) < 2 or path[0] != "wall" or not isinstance(path[1], int):
            return None
        name = self._at(path[:2]).get("name")
        return brief(name) if isinstance(name, str) and name.strip() else f"number {path[1] + 1}"

    def item(self, path: KeyPath) -> str | None:
        """The thing in the way that `path` is in: its id, or its kind and its number on the wall."""
        if len(path) < 4 or path[2] != "in_the_way" or not isinstance(path[3], int):
            return None
        thing = self._at(path[:4])
        if isinstance(name := thing.get("id"), str) and name.strip():
            return brief(name)
        kind = thing.get("kind")
        return f"{'thing' if not isinstance(kind, str) or is_unknown(kind) else brief(kind)} {path[3] + 1}"

    def _at(self, path: KeyPath) -> Mapping[str, Any]:
        value: Any = self.raw
        for part in path:
            value = value[part]
        return value if isinstance(value, Mapping) else {}


def brief(text: str) -> str:
    """The start of a name or key on one line, short enough for a sentence."""
    return "".join(sign if sign.isprintable() else " " for sign in text[:40]) + ("..." if text[40:] else "")


def key_of(path: KeyPath) -> str:
    """The dotted key inside its wall or thing, such as `frame.spacing` or `frame.bays number 3`."""
    inner = path
    for start in ("wall", "in_the_way"):
        if len(inner) > 2 and inner[0] == start and isinstance(inner[1], int):
            inner = inner[2:]
    words = [f" number {part + 1}" if isinstance(part, int) else f".{brief(part)}" for part in inner]
    return "".join(words).lstrip(".")


def is_unknown(value: object) -> bool:
    """True for the word `unknown`, which means the same as leaving a field out."""
    return isinstance(value, str) and value.strip().lower() == "unknown"


def nearest(word: str, known: list[str]) -> str | None:
    """The known word most like `word`, or None where none is near."""
    by_lower = {choice.lower(): choice for choice in known}
    found = get_close_matches(word[:80].lower(), by_lower, n=1, cutoff=0.6)
    return by_lower[found[0]] if found else None


def value_shown(value: object) -> str:
    """What was read, short enough for a sentence."""
    if isinstance(value, str):
        return shown(value)
    if isinstance(value, Mapping | list):
        return "a table" if isinstance(value, Mapping) else "a list"
    return shown(str(value)).strip("'")


@dataclass
class Cleaned:
    """The values without what no field takes; `faulted` and `unknown` are the paths that were left out."""

    places: Places
    notes: list[Note] = field(default_factory=list)
    faulted: set[KeyPath] = field(default_factory=set)
    unknown: set[KeyPath] = field(default_factory=set)

    def clean(self, value: Any, path: KeyPath = ()) -> Any:
        """A copy of `value` without unknowns and impossible values; ABSENT where nothing is left."""
        if len(path) > DEEPEST:
            return self._refuse("fault.nested", path, deepest=DEEPEST)
        if isinstance(value, dict):
            pairs = [(key, self.clean(inner, (*path, key))) for key, inner in value.items()]
            return {key: inner for key, inner in pairs if inner is not ABSENT}
        if isinstance(value, list):
            return self._list(value, path)
        if is_unknown(value):
            self.unknown.add(path)
            return ABSENT
        return self._plain(value, path)

    def _list(self, value: list[Any], path: KeyPath) -> Any:
        if len(value) > LONGEST_LIST:
            return self._refuse("fault.too_many", path, limit=LONGEST_LIST)
        cleaned = [self.clean(inner, (*path, i)) for i, inner in enumerate(value)]
        for i, inner in enumerate(cleaned):
            if inner is ABSENT and (*path, i) in self.unknown:
                self._refuse("fault.unknown_in_list", (*path, i))
        if any(inner is ABSENT for inner in cleaned):
            self.faulted.add(path)
            return ABSENT
        return cleaned

    def _plain(self, value: Any, path: KeyPath) -> Any:
        if isinstance(value, bool):
            return self._refuse("fault.truth", path, value=str(value).lower())
        if isinstance(value, date | datetime | time):
            return self._refuse("fault.date", path, value=str(value))
        if isinstance(value, float) and not math.isfinite(value):
            return self._refuse("fault.not_finite", path, value=str(value))
        if isinstance(value, int) and abs(value) >= LARGEST_NUMBER:
            return self._refuse("fault.long_number", path)
        if isinstance(value, str) and (sign := CONTROL.search(value)):
            return self._refuse("fault.control", path, sign=f"U+{ord(sign[0]):04X}", value=value_shown(value))
        return value

    def _refuse(self, code: str, path: KeyPath, **args: Any) -> object:
        self.notes.append(self.places.note(code, path, **args))
        self.faulted.add(path)
        return ABSENT


def error_path(error: ErrorDetails) -> KeyPath:
    """The path of a schema error in the job file."""
    return tuple(part for part in error["loc"] if part != "[key]")


def notes_of(errors: list[ErrorDetails], cleaned: Cleaned) -> Iterator[Note]:
    """One note for each schema error that is not already told by the walk over the values."""
    for error in errors:
        if error_path(error) not in cleaned.faulted:
            yield _note(error, cleaned)


def _note(error: ErrorDetails, cleaned: Cleaned) -> Note:
    path = error_path(error)
    if error["loc"][-1] == "[key]" and error["type"] != "value_error":
        return cleaned.places.note("fault.bay_number", path[:-1], value=value_shown(error["input"]))
    return _BY_TYPE.get(error["type"], _other)(error, path, cleaned)


Teller = Callable[[ErrorDetails, KeyPath, Cleaned], Note]


def _plainly(code: str, limit: str = "") -> Teller:
    """A sentence that says what was read and, where the error has one, the limit."""

    def tell(error: ErrorDetails, path: KeyPath, cleaned: Cleaned) -> Note:
        args = {"limit": error["ctx"][limit]} if limit else {}
        return cleaned.places.note(code, path, value=value_shown(error["input"]), **args)

    return tell


def _other(error: ErrorDetails, path: KeyPath, cleaned: Cleaned) -> Note:
    return cleaned.places.note("fault.says", path, sentence=_short(error["msg"]))


def _says(error: ErrorDetails, path: KeyPath, cleaned: Cleaned) -> Note:
    # A table in a list is checked as a whole; one under a key stands where a value belongs.
    if isinstance(error["input"], Mapping) and isinstance(path[-1], str):
        return cleaned.places.note("fault.table_here", path)
    return cleaned.places.note("fault.says", path, sentence=_short(str(error["ctx"]["error"])))


def _short(sentence: str) -> str:
    """A sentence with a long value in it keeps its start and what it says at the end."""
    if len(sentence) <= LONGEST_SENTENCE:
        return sentence
    return f"{sentence[:60]} ... {sentence[-(LONGEST_SENTENCE - 65) :]}"


def _unknown_key(error: ErrorDetails, path: KeyPath, cleaned: Cleaned) -> Note:
    key = str(path[-1])
    known = list(_fields_at(path[:-1]))
    near = nearest(key, known)
    if near is not None:
        return cleaned.places.note("fault.unknown_key_near", path, name=shown(key), nearest=near)
    return cleaned.places.note("fault.unknown_key", path, name=shown(key), known=", ".join(known))


def _missing(error: ErrorDetails, path: KeyPath, cleaned: Cleaned) -> Note:
    code = "fault.unknown_required" if path in cleaned.unknown else "fault.missing"
    return cleaned.places.note(code, path)


def _choice(error: ErrorDetails, path: KeyPath, cleaned: Cleaned) -> Note:
    choices = re.findall(r"'([^']*)'", error["ctx"]["expected"])
    shown_value = value_shown(error["input"])
    return cleaned.places.note("fault.choice", path, value=shown_value, choices=", ".join(choices))


def _word(error: ErrorDetails, path: KeyPath, cleaned: Cleaned) -> Note:
    """One of many words: the nearest is named where there is one."""
    words, value = re.findall(r"'([^']*)'", error["ctx"]["expected"]), value_shown(error["input"])
    near = nearest(str(error["input"]), words)
    if near is None:
        few = ", ".join([*words[:8], "..."] if len(words) > 8 else words)
        return cleaned.places.note("fault.choice", path, value=value, choices=few)
    return cleaned.places.note("fault.choice_near", path, value=value, nearest=near)


def _list_wanted(error: ErrorDetails, path: KeyPath, cleaned: Cleaned) -> Note:
    code = "fault.needs_tables" if isinstance(error["input"], Mapping) else "fault.needs_list"
    return cleaned.places.note(code, path, value=value_shown(error["input"]), header=_header(path))


def _table_wanted(error: ErrorDetails, path: KeyPath, cleaned: Cleaned) -> Note:
    value = value_shown(error["input"])
    return cleaned.places.note("fault.needs_table", path, value=value, header=_header(path))


def _header(path: KeyPath) -> str:
    return ".".join(part for part in path if isinstance(part, str))


_BY_TYPE: Mapping[str, Teller] = {
    "extra_forbidden": _unknown_key,
    "missing": _missing,
    "literal_error": _choice,
    "enum": _word,
    "value_error": _says,
    "string_type": _plainly("fault.needs_text"),
    "string_too_short": _plainly("fault.empty_text"),
    "string_too_long": _plainly("fault.long_text", "max_length"),
    "int_type": _plainly("fault.needs_whole"),
    "int_parsing": _plainly("fault.needs_whole"),
    "int_parsing_size": _plainly("fault.needs_whole"),
    "int_from_float": _plainly("fault.needs_whole"),
    "float_type": _plainly("fault.needs_number"),
    "float_parsing": _plainly("fault.needs_number"),
    "greater_than_equal": _plainly("fault.under", "ge"),
    "less_than_equal": _plainly("fault.over", "le"),
    "too_long": _plainly("fault.too_many", "max_length"),
    "tuple_type": _list_wanted,
    "model_type": _table_wanted,
    "model_attributes_type": _table_wanted,
    "dict_type": _table_wanted,
}


def _fields_at(path: KeyPath) -> Mapping[str, Any]:
    """The fields of the record that stands at `path` in a survey."""
    record: type[BaseModel] = Survey
    for part in path:
        if isinstance(part, str) and part in record.model_fields:
            record = next(iter(_records(record.model_fields[part].annotation)), record)
    return record.model_fields


def _records(annotation: Any) -> Iterator[type[BaseModel]]:
    """The records named in a type such as `tuple[Wall, ...]` or `Assembly | None`."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _records(inner)
