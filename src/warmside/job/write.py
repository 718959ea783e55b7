"""Edits of a job file as operations on its tomlkit document, so that comments and layout survive.

An operation says what it expects to find; where something else stands it is a conflict and nothing is
written. Each carries an id: within one call, and against the ids that the caller has kept of earlier calls
(`done`), the same id counts once. What is written is read first by the reader and refused where it has a
fault, and compared with the same operations done on plain values, so that no slip in the layout can change a
survey.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Array, InlineTable, Item, Table

from warmside.job.faults import JOB_FILE, is_unknown, key_of, value_shown
from warmside.job.lines import KeyPath, locate
from warmside.job.read import CannotRead, format_of, hash_of, job_bytes, job_text, migrate, read_bytes
from warmside.job.survey import FORMAT
from warmside.runs import write_atomic
from warmside.say import Note, Voice, Where


@dataclass(frozen=True)
class Operation:
    """One edit: `old` stands at `path` (None: nothing, or unknown), `new` shall stand (None: nothing)."""

    id: str
    path: KeyPath
    old: Any
    new: Any


class EditError(Exception):
    """An edit that can't be made; `notes` say why, and nothing was written."""

    def __init__(self, *notes: Note) -> None:
        super().__init__("; ".join(Voice().text(note) for note in notes))
        self.notes = notes


class Conflict(EditError):  # noqa: N818
    """Something else stands in the job than the operation expects."""


class NoSuchPlace(EditError):  # noqa: N818
    """The path of an operation leads through a value, or past the end of a list."""


class BaseChanged(EditError):  # noqa: N818
    """The job file is not the one that the edits were made on."""


class RefusedEdit(EditError):  # noqa: N818
    """The job would have faults after the edit; `notes` are those faults."""


class NotWritable(EditError):  # noqa: N818
    """The folder can't be written."""


def save(folder: Path, operations: Iterable[Operation], base: str, done: Collection[str] = ()) -> str:
    """Make the edits in the job file of `folder`, and give an id to whatever has none.

    `base` is the hash of the file that the edits were made on; `done` are ids of operations of earlier calls.
    Edits that were all done before change nothing. Returns the hash of the file that now stands.
    Raises EditError; the old file then stands unchanged.
    """
    try:
        content = job_bytes(folder)
        text = job_text(content).replace("\r\n", "\n")
    except CannotRead as refused:
        raise RefusedEdit(refused.note) from refused
    asked = list(operations)
    fresh = list(_once(asked, done))
    if asked and not fresh:
        return hash_of(content)
    if hash_of(content) != base:
        raise BaseChanged(_note("fault.base_changed"))
    found, edited = edited_text(text, fresh)
    if edited == text:
        return base
    new = (edited.replace("\n", "\r\n") if b"\r\n" in content else edited).encode("utf-8")
    if faults := read_bytes(new).faults:
        raise RefusedEdit(*faults)
    _write(folder, new, content if found < FORMAT else None, found)
    return hash_of(new)


def _write(folder: Path, new: bytes, old: bytes | None, found: int) -> None:
    """Write the job; of one that was migrated, the old file is kept beside it."""
    kept = folder / f"{JOB_FILE}.format-{found}"
    try:
        if old is not None and not kept.exists():
            write_atomic(kept, old)
        write_atomic(folder / JOB_FILE, new)
    except OSError as error:
        reason = error.strerror or str(error)
        raise NotWritable(_note("fault.not_writable", folder=str(folder), reason=reason)) from error


def edited_text(text: str, operations: Iterable[Operation]) -> tuple[int, str]:
    """The format that a job text was in, and the text after the edits. Raises EditError."""
    try:
        document = tomlkit.parse(text)
        named = format_of(document.unwrap())
        found = FORMAT if named is None else named
        if found < FORMAT:
            migrate(document, found)
        expected = document.unwrap()
        made = list(_once(operations, ()))
        apply(document, made)
        made += assign_ids(document, _next_number(expected))
    except (TOMLKitError, RecursionError, KeyError) as error:
        raise RefusedEdit(*(read_bytes(text.encode()).faults or [_note("fault.not_editable")])) from error
    for operation in made:
        _put_plain(expected, operation)
    edited = _aired(tomlkit.dumps(document), text) if made or found < FORMAT else text
    if not _says(edited, expected):
        raise RefusedEdit(_note("fault.not_editable"))
    return found, edited


def _says(text: str, expected: Mapping[str, Any]) -> bool:
    """True where a text holds the expected values and nothing else."""
    try:
        return bool(_lean(tomllib.loads(text)) == _lean(expected))
    except tomllib.TOMLDecodeError:
        return False


def _aired(edited: str, original: str) -> str:
    """A blank line before each header that the edit has put close behind other lines."""
    lines, before = edited.rstrip("\n").split("\n"), original.split("\n")
    as_before = set(pairwise(before))
    for at in sorted((line - 1 for line in locate(edited).headers if line > 1), reverse=True):
        above = lines[at - 1].strip()
        if above and not above.startswith("#") and (lines[at - 1], lines[at]) not in as_before:
            lines.insert(at, "")
    return "\n".join(lines) + "\n"


def _once(operations: Iterable[Operation], done: Collection[str]) -> Iterator[Operation]:
    """The operations whose id was neither met before in this call nor done in an earlier one."""
    seen = set(done)
    for operation in operations:
        if operation.id not in seen:
            seen.add(operation.id)
            yield operation


def apply(document: tomlkit.TOMLDocument, operations: Iterable[Operation]) -> tuple[str, ...]:
    """Make the edits in the document, in order, the same id once; returns the ids of those made.

    Raises Conflict or NoSuchPlace; the document is then half edited and must not be written.
    """
    made: list[str] = []
    for operation in _once(operations, ()):
        stands = _found(document, operation.path)
        if not _same(stands, operation.old):
            shown = {
                "stands": _shown(stands),
                "expected": _shown(operation.old),
                "key": key_of(operation.path),
            }
            raise Conflict(_note("fault.conflict", path=_written(operation.path), **shown))
        _put(document, operation)
        made.append(operation.id)
    return tuple(made)


def _note(code: str, **args: Any) -> Note:
    return Note(code, args, Where(JOB_FILE))


def _written(path: KeyPath) -> str:
    """A path with its list positions counted from 1, such as `wall 2 frame spacing`."""
    return " ".join(str(part + 1) if isinstance(part, int) else part for part in path)


def _shown(value: object) -> str:
    return "nothing" if value is None else value_shown(value)


def _same(stands: object, expected: object) -> bool:
    """Equal, where a missing value and `unknown` are one, and true is not 1."""
    return _known(stands) == _known(expected) and isinstance(stands, bool) == isinstance(expected, bool)


def _known(value: object) -> object:
    return None if is_unknown(value) else value


def _found(document: tomlkit.TOMLDocument, path: KeyPath) -> Any:
    """The plain value at `path`, or None. Raises NoSuchPlace where the path leads through a value."""
    value: Any = document
    if not path:
        raise NoSuchPlace(_note("fault.no_place", path="()"))
    for part in path:
        _check_step(value, part, path)
        if isinstance(part, int) and part >= len(value):
            return None
        value = value[part] if isinstance(part, int) else value.get(part)
        if value is None:
            return None
    return value.unwrap() if isinstance(value, Item) or hasattr(value, "unwrap") else value


def _check_step(holder: object, part: str | int, path: KeyPath) -> None:
    fits = isinstance(holder, Mapping) if isinstance(part, str) else isinstance(holder, list)
    within = isinstance(part, str) or (isinstance(holder, list) and 0 <= part <= len(holder))
    if not (fits and within):
        raise NoSuchPlace(_note("fault.no_place", path=_written(path)))


def _put(document: tomlkit.TOMLDocument, operation: Operation) -> None:
    """Set or remove the value at the path of the operation; tables on the way are made."""
    holder: Any = document
    for part, after in zip(operation.path, operation.path[1:], strict=False):
        _check_step(holder, part, operation.path)
        if not _stands(holder, part):
            if operation.new is None:
                return
            _set(holder, part, _empty(holder, after), operation)
        holder = holder[part]
    last = operation.path[-1]
    _check_step(holder, last, operation.path)
    if operation.new is not None:
        _set(holder, last, _item(operation.new, holder), operation)
    elif _stands(holder, last):
        del holder[last]


def _stands(holder: Any, part: str | int) -> bool:
    return part < len(holder) if isinstance(part, int) else part in holder


def _empty(holder: Any, after: str | int) -> Item:
    """An empty table or list to be put into `holder`, for a path that goes on with `after`."""
    inline = isinstance(holder, InlineTable | Array)
    if isinstance(after, int):
        return tomlkit.array() if inline else tomlkit.aot()
    return tomlkit.inline_table() if inline else tomlkit.table()


def _item(value: Any, holder: Any) -> Item:
    """A value as TOML: text with inch marks in single quotes, tables inline where their holder is."""
    if isinstance(value, str):
        literal = '"' in value and "'" not in value and value.isprintable()
        return tomlkit.string(value, literal=literal)
    parent = holder if isinstance(holder, InlineTable | Array) else tomlkit.table()
    item: Item = tomlkit.item(value, _parent=parent)
    return item


def _set(holder: Any, part: str | int, item: Item, operation: Operation) -> None:
    if isinstance(holder, AoT) and not isinstance(item, Table):
        shown = {"path": _written(operation.path), "value": value_shown(operation.new)}
        raise NoSuchPlace(_note("fault.no_record", **shown))
    if isinstance(part, str) or part < len(holder):
        holder[part] = item
    else:
        holder.append(item)


# The same on plain values


def _put_plain(values: Any, operation: Operation) -> None:
    """Set or remove the value at the path of the operation in plain dicts and lists."""
    for part, after in zip(operation.path, operation.path[1:], strict=False):
        if not _stands(values, part):
            if operation.new is None:
                return
            _set_plain(values, part, [] if isinstance(after, int) else {})
        values = values[part]
    last = operation.path[-1]
    if operation.new is not None:
        _set_plain(values, last, deepcopy(operation.new))
    elif _stands(values, last):
        del values[last]


def _set_plain(values: Any, part: str | int, value: Any) -> None:
    if isinstance(part, int) and part >= len(values):
        values.append(value)
    else:
        values[part] = value


def _lean(value: Any) -> Any:
    """The value without empty tables and lists, which say nothing in a job."""
    if isinstance(value, dict):
        return {key: lean for key, inner in value.items() if (lean := _lean(inner)) not in ({}, [])}
    if isinstance(value, list):
        return [_lean(inner) for inner in value]
    return value


# Ids

_NUMBERED = re.compile(r"[a-z]*([0-9]{1,9})")


def assign_ids(document: tomlkit.TOMLDocument, at_least: int = 1) -> list[Operation]:
    """Give every wall and thing without an id the next one, and keep count in `next_id`.

    An id is `w` or `t` and a number, at least `at_least`, that no wall or thing of this job has had before.
    Returns what was done.
    """
    values = document.unwrap()
    records = list(_records(values))
    without = [(path, "t" if len(path) > 2 else "w") for path, record in records if not _id_of(record)]
    first = max(at_least, _next_number(values))
    if not without and first == _next_number(values):
        return []
    made = [
        Operation(f"id {n}", (*path, "id"), None, f"{letter}{n}")
        for n, (path, letter) in enumerate(without, first)
    ]
    given = values.get("next_id")
    made.append(Operation("next id", ("next_id",), given, first + len(without)))
    apply(document, made)
    return made


def _records(values: Mapping[str, Any]) -> Iterator[tuple[KeyPath, Mapping[str, Any]]]:
    """Every wall and thing with its path."""
    for i, wall in _tables(values.get("wall")):
        yield ("wall", i), wall
        for j, thing in _tables(wall.get("in_the_way")):
            yield ("wall", i, "in_the_way", j), thing


def _tables(value: object) -> list[tuple[int, Mapping[str, Any]]]:
    listed: Sequence[Any] = value if isinstance(value, list) else []
    return [(i, entry) for i, entry in enumerate(listed) if isinstance(entry, dict)]


def _id_of(record: Mapping[str, Any]) -> str:
    value = _known(record.get("id"))
    return value if isinstance(value, str) else ""


def _next_number(values: Mapping[str, Any]) -> int:
    """The next free number: the one kept in the file, or above every id in it."""
    kept = values.get("next_id")
    ids = [_id_of(record) for _, record in _records(values)]
    numbers = [int(match[1]) + 1 for name in ids if (match := _NUMBERED.fullmatch(name))]
    return max([kept if isinstance(kept, int) else 1, 1, *numbers])
