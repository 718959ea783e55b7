"""A job file as a survey: every fault at once, each with its line. Reading never writes.

The file is TOML 1.0 in UTF-8, at most `LARGEST_FILE` bytes, and says `format = N`. An older format is
migrated on the tomlkit document, so that its comments live; a newer one is refused. A file that is no TOML
tells its first fault only, because nothing behind that place can be trusted.
"""

from __future__ import annotations

import hashlib
import re
import shlex
import stat
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import chain, islice
from pathlib import Path
from typing import Any

import tomlkit
from pydantic import ValidationError
from pydantic_core import ErrorDetails
from tomlkit.exceptions import TOMLKitError

from warmside.job.cross import cross_check
from warmside.job.faults import JOB_FILE as JOB_FILE
from warmside.job.faults import Cleaned, Places, error_path, notes_of, value_shown
from warmside.job.findings import Found
from warmside.job.lines import KeyPath
from warmside.job.survey import FORMAT, Survey
from warmside.say import Note, Where
from warmside.units import UNITS, shown

LARGEST_FILE = 2_000_000
MOST_FAULTS = 200

MIGRATIONS: Mapping[int, Callable[[tomlkit.TOMLDocument], None]] = {}
"""What turns a document of format N into one of format N + 1, by N."""


@dataclass(frozen=True)
class ReadResult:
    """A survey where the file has no fault, else its faults; `base` is the hash of its bytes."""

    survey: Survey | None
    faults: tuple[Note, ...]
    warnings: tuple[Note, ...]
    base: str | None = None
    places: Places | None = None


class CannotRead(Exception):  # noqa: N818
    """The file can't be read any further; carries the fault."""

    def __init__(self, code: str, line: int | None = None, **args: Any) -> None:
        super().__init__(code)
        self.note = Note(code, args, Where(None if code in _OF_THE_FOLDER else JOB_FILE, line))


_OF_THE_FOLDER = frozenset({"fault.no_folder", "fault.not_a_folder"})
"""Told without the name of a file that is not there."""


def read_job(folder: Path) -> ReadResult:
    """Read the job file of a folder. Never raises for what it finds there, and never writes."""
    try:
        content = job_bytes(folder)
    except CannotRead as refused:
        return ReadResult(None, (refused.note,), ())
    return read_bytes(content)


def read_with_files(folder: Path) -> ReadResult:
    """The same, with a fault where the weather file that the job names is not in its folder."""
    read = read_job(folder)
    name = read.survey.place.weather_file if read.survey else None
    if name is None or read.places is None or (folder / name).is_file():
        return read
    fault = read.places.note("fault.weather_file", ("place", "weather_file"), value=shown(name))
    return replace(read, survey=None, faults=(fault,))


def job_bytes(folder: Path) -> bytes:
    """The bytes of the job file; its size is looked at before it is opened. Raises CannotRead."""
    path = folder / JOB_FILE
    try:
        if not folder.is_dir():
            code = "fault.not_a_folder" if folder.exists() else "fault.no_folder"
            raise CannotRead(code, folder=str(folder))
        state = path.stat()
        if not stat.S_ISREG(state.st_mode):
            raise CannotRead("fault.not_a_file", folder=str(folder))
        if state.st_size > LARGEST_FILE:
            raise CannotRead("fault.too_big", size=state.st_size, most=LARGEST_FILE)
        with path.open("rb") as file:
            return file.read(LARGEST_FILE)
    except FileNotFoundError as missing:
        raise CannotRead("fault.no_job", folder=str(folder), quoted=shlex.quote(str(folder))) from missing
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise CannotRead("fault.unreadable", reason=reason) from error


def read_bytes(content: bytes) -> ReadResult:
    """Read a job file from its bytes. Never raises for what stands in them."""
    base = hash_of(content)
    try:
        text = job_text(content)
        places = Places(text, _current(text, _parsed(text)))
        return _read(places, base)
    except CannotRead as refused:
        return ReadResult(None, (refused.note,), (), base)


def hash_of(content: bytes) -> str:
    """SHA-256 of the bytes of a job file, in hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def job_text(content: bytes) -> str:
    """The text of a job file; a byte order mark is dropped. Raises CannotRead."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise CannotRead("fault.not_utf8", line, byte=error.start + 1) from error


# The text as TOML

_DEEP_KEY = re.compile(
    r"""(?<![\w\-])(?:(?:[\w\-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){50}""",
)
_LONG_NUMBER = re.compile(r"\d[\d_]{4000}")
_PLACE = re.compile(
    r"(?P<reason>.*) \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)", re.DOTALL
)

_REASONS: tuple[tuple[str, str], ...] = (
    ("Expected '=' after a key", "fault.toml_equals"),
    ("Invalid statement", "fault.toml_statement"),
    ("Invalid value", "fault.toml_value"),
    ("Expected newline or end of document", "fault.toml_rest"),
    ("Unterminated string", "fault.toml_text"),
    ("Illegal character", "fault.toml_text"),
    ("Found invalid character", "fault.toml_text"),
    ('Expected "', "fault.toml_text"),
    ("Unclosed array", "fault.toml_array"),
    ("Unclosed inline table", "fault.toml_inline"),
    ("Expected ']", "fault.toml_header"),
    ("Invalid initial character for a key", "fault.toml_key"),
    ("Unescaped", "fault.toml_backslash"),
    ("Invalid hex value", "fault.toml_backslash"),
    ("Escaped character", "fault.toml_backslash"),
    ("Invalid date", "fault.toml_date"),
    ("Cannot", "fault.toml_twice"),
    ("Duplicate inline table key", "fault.toml_twice"),
)


def _parsed(text: str) -> dict[str, Any]:
    if deep := _DEEP_KEY.search(text):
        raise CannotRead("fault.deep", _line_at(text, deep.start()))
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _malformed(text, str(error)) from error
    except RecursionError as error:
        raise CannotRead("fault.deep") from error
    except ValueError as error:
        long = _LONG_NUMBER.search(text)
        raise CannotRead("fault.long_number", _line_at(text, long.start()) if long else None) from error


def _malformed(text: str, message: str) -> CannotRead:
    """The parser's message in our own words, with the line that it means."""
    place = _PLACE.fullmatch(message)
    if place is None:
        return CannotRead("fault.toml_other", reason=message)
    line = int(place["line"]) if place["line"] else max(1, text.rstrip("\n").count("\n") + 1)
    code = next((c for start, c in _REASONS if place["reason"].startswith(start)), "fault.toml_other")
    written = text.split("\n")[line - 1].strip()
    if code == "fault.toml_twice" and written.startswith("[[") and written[1:-1] in text.split("\n"):
        code = "fault.toml_one_bracket"
    column = int(place["column"] or len(written) + 1)
    return CannotRead(code, line, column=column, reason=place["reason"], read=shown(written))


def _line_at(text: str, position: int) -> int:
    return text.count("\n", 0, position) + 1


# Formats


def _current(text: str, raw: dict[str, Any]) -> dict[str, Any]:
    """The values in the present format. Raises CannotRead for one that can't be brought there."""
    found = format_of(raw)
    if found is None or found == FORMAT:
        return raw
    line = Places(text, raw).lines.line(("format",))
    if found > FORMAT:
        raise CannotRead("fault.format_newer", line, format=found, known=FORMAT)
    if any(step not in MIGRATIONS for step in range(found, FORMAT)):
        raise CannotRead("fault.format_none", line, format=found, known=FORMAT)
    try:
        document = tomlkit.parse(text)
    except (TOMLKitError, RecursionError) as error:
        raise CannotRead("fault.toml_other", reason=str(error)) from error
    migrate(document, found)
    return document.unwrap()


def format_of(raw: Mapping[str, Any]) -> int | None:
    """The format that a job says it is in, or None where it says no whole number."""
    found = raw.get("format")
    return found if isinstance(found, int) and not isinstance(found, bool) else None


def migrate(document: tomlkit.TOMLDocument, found: int) -> None:
    """Bring a document of format `found` to the present one, step by step, its comments kept."""
    for step in range(found, FORMAT):
        MIGRATIONS[step](document)
    document["format"] = FORMAT


# The values as a survey


def _read(places: Places, base: str) -> ReadResult:
    cleaned = Cleaned(places)
    values: dict[str, Any] = cleaned.clean(dict(places.raw))
    _check_format(values, cleaned)
    survey, errors = _validated(values)
    doubted = {*cleaned.faulted, *map(error_path, errors)}
    partial = _partial(values, errors, doubted) if doubted else survey
    contradictions = (f for f in cross_check(partial) if not _rests_on(f, doubted)) if partial else iter(())
    told = [places.note(f.code, f.path, **f.args) for f in islice(contradictions, MOST_FAULTS + 1)]
    faults = _first_ones(chain(cleaned.notes, notes_of(errors, cleaned), filter(_is_fault, told)))
    warnings = _by_line(note for note in told if not _is_fault(note))
    return ReadResult(None if faults else survey, faults, warnings, base, places)


def _is_fault(note: Note) -> bool:
    return note.code.startswith("fault.")


def _rests_on(contradiction: Found, doubted: set[KeyPath]) -> bool:
    """True where the contradiction is about something whose own fault is already told."""
    path = contradiction.path
    return any(path[:end] in doubted for end in range(1, len(path) + 1))


def _first_ones(notes: Iterator[Note]) -> tuple[Note, ...]:
    """At most MOST_FAULTS of the notes by line, and a last one where there are more."""
    kept = list(islice(notes, MOST_FAULTS + 1))
    if len(kept) <= MOST_FAULTS:
        return _by_line(kept)
    return (*_by_line(kept[:MOST_FAULTS]), Note("fault.more", {"most": MOST_FAULTS}, Where(JOB_FILE)))


def _by_line(notes: Iterable[Note]) -> tuple[Note, ...]:
    return tuple(sorted(notes, key=lambda note: note.where.line or 0))


def _check_format(values: dict[str, Any], cleaned: Cleaned) -> None:
    """A job that names no format is read on as if it were in the present one."""
    if ("format",) in cleaned.faulted or format_of(values) is None:
        code = "fault.format_value" if "format" in cleaned.places.raw else "fault.format_missing"
        given = value_shown(cleaned.places.raw.get("format"))
        cleaned.notes = [n for n in cleaned.notes if n.args.get("key") != "format"]
        cleaned.notes.append(cleaned.places.note(code, ("format",), value=given, known=FORMAT))
        cleaned.faulted.add(("format",))
        values["format"] = FORMAT


def _validated(values: dict[str, Any]) -> tuple[Survey | None, list[ErrorDetails]]:
    """The survey, or the errors of the schema. A wrong `bare_numbers` is told once, not at every number."""
    unit = values.get("bare_numbers")
    bare = unit if unit is None or (isinstance(unit, str) and unit in UNITS) else "in"
    try:
        return Survey.model_validate(values, context={"bare_numbers": bare}), []
    except ValidationError as error:
        return None, error.errors(include_url=False)


# What is left of a survey once its faults are taken out, so that the rest can still be looked at

_ROUNDS = 4
_STAND_IN = "\0"


def _partial(values: dict[str, Any], errors: list[ErrorDetails], doubted: set[KeyPath]) -> Survey | None:
    """A survey without the faulty parts, or None where nothing can be made of it."""
    if any(path[0] == "goods" for path in doubted):
        _forget_goods(values)
    for _ in range(_ROUNDS):
        for error in reversed(errors):
            _take_out(values, error_path(error), missing=error["type"] == "missing")
        survey, errors = _validated(values)
        if survey is not None:
            return survey
    return None


def _take_out(values: dict[str, Any], path: KeyPath, *, missing: bool = False) -> None:
    """Remove what stands at `path`; a missing name or kind gets a stand-in, a list of measures goes whole."""
    holder, last = _holder(values, path), path[-1]
    if isinstance(holder, dict):
        holder.pop(last, None)
        if missing:
            holder[last] = f"{_STAND_IN}{path[-2:-1]}"
    elif isinstance(holder, list) and path[-2] in ("wall", "in_the_way"):
        holder[int(last)] = {}
    elif len(path) > 1:
        _take_out(values, path[:-1])


def _holder(values: Any, path: KeyPath) -> Any:
    """The table or list that the last part of `path` stands in, or None where it is gone."""
    for part in path[:-1]:
        try:
            values = values[part]
        except (LookupError, TypeError):
            return None
    return values


def _forget_goods(values: dict[str, Any]) -> None:
    """Take out everything that names goods, where the job's own goods can't be read."""
    walls = values.get("wall")
    for table in [values, *(walls if isinstance(walls, list) else [])]:
        if isinstance(table, dict):
            for key in ("goods", "prices", "at_hand", "assembly"):
                table.pop(key, None)
            if isinstance(frame := table.get("frame"), dict):
                frame.pop("studs", None)
