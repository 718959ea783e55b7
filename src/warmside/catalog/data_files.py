"""Reading the package's own tables: a broken one is told in one sentence.

The sentence names the file and line, what was read and what would be right, as for any other input. It is a
fault of the package, not of a job. Physics and goods stand before this and read theirs by themselves.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from importlib.resources import files
from typing import Any, TypeVar

from pydantic import ValidationError

from warmside.catalog.data_fault import DataFileError
from warmside.catalog.goods import Model

M = TypeVar("M", bound=Model)


def data_text(*path: str) -> str:
    """The text of a file below `data`. Raises DataFileError."""
    place = files("warmside") / "data"
    for part in path:
        place = place / part
    try:
        return place.read_text("utf-8")
    except UnicodeDecodeError:
        raise DataFileError(f"{path[-1]}: it is no UTF-8 text; save it as UTF-8") from None
    except OSError:
        raise DataFileError(f"{path[-1]}: it can't be read; install Warmside again") from None


def parsed(text: str, name: str) -> dict[str, Any]:
    """A file of tables. `name` is what it is called in a message. Raises DataFileError."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise DataFileError(f"{name}: {error}") from None


def read_whole(kind: type[M], name: str) -> M:
    """A file that is one entry. Raises DataFileError."""
    return _one(kind, parsed(data_text(name), name), name)


def read_named(kind: type[M], name: str) -> dict[str, M]:
    """The entries of a file by the names of their tables, which are the ids of those that have one.

    Raises DataFileError.
    """
    text, has_id = data_text(name), "id" in kind.model_fields
    heads = {line.partition("]")[0]: number for number, line in enumerate(text.splitlines(), 1)}

    def entry(key: str, given: object) -> M:
        table = _table(given, key, name)
        line = heads.get(f"[{key}")
        where = f"{name}, line {line}, [{key}]" if line else f"{name}, [{key}]"
        return _one(kind, {"id": key, **table} if has_id else table, where)

    return {key: entry(key, given) for key, given in parsed(text, name).items()}


def entries(
    kind: type[M],
    word: str,
    table: Mapping[str, Any],
    text: str,
    name: str,
    inner: Mapping[str, type[Model]] | None = None,
) -> Iterator[M]:
    """Each entry of an array of tables, or the line of the first that can't be, and what would be right.

    inner : the types of tables within an entry, by their key. Raises DataFileError.
    """
    every = table.get(word, [])
    if not isinstance(every, list):
        raise DataFileError(f"{name}: {word} is one table; write each entry under [[{word}]]")
    heads = [line for line, read in enumerate(text.splitlines(), 1) if read.strip().startswith(f"[[{word}]]")]
    for number, entry in enumerate(every):
        at = f"line {heads[number]}, " if number < len(heads) else ""
        yield _one(kind, entry, f"{name}, {at}[[{word}]]", inner)


def _table(entry: object, key: str, name: str) -> dict[str, Any]:
    if not isinstance(entry, dict):
        raise DataFileError(f"{name}: {key} stands alone; write it under the [table] that it belongs to")
    return entry


def _one(kind: type[M], entry: object, where: str, inner: Mapping[str, type[Model]] | None = None) -> M:
    try:
        return kind.model_validate(entry)
    except ValidationError as error:
        raise DataFileError(f"{where}: {_remedy(error, kind, inner or {})}") from None


def _remedy(error: ValidationError, kind: type[Model], inner: Mapping[str, type[Model]]) -> str:
    """One fault of an entry in one sentence: the key, what was read, what would be right."""
    every = error.errors()
    first = next((one for one in every if one["type"] == "extra_forbidden"), every[0])
    where = ".".join(str(part) for part in first["loc"])
    if first["type"] == "missing":
        return f"the key {where} is missing"
    if first["type"] == "extra_forbidden":
        within = kind if len(first["loc"]) == 1 else inner.get(str(first["loc"][0]), kind)
        return f"there is no key {where}; {_like(str(first['loc'][-1]), list(within.model_fields))}"
    told = first["msg"].removeprefix("Value error, ")
    if first["type"] == "enum":
        choices = re.findall(r"'([^']*)'", first["ctx"]["expected"])
        return f"{where}: not {first['input']!r}; {_like(str(first['input']), choices)}"
    plain = isinstance(first["input"], str | int | float) and first["type"] != "value_error"
    read = f", not {first['input']!r}" if plain else ""
    return f"{where}: {told}{read}" if where else told


def _like(word: str, known: Sequence[str]) -> str:
    """The known word most like this one, or all of them."""
    near = get_close_matches(word, known, 1)
    return f"did you mean {near[0]!r}?" if near else f"there are: {', '.join(known)}"
