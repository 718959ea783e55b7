"""Formats are read for ever: the full job of each format, as it stood when the format was fixed.

The files are never edited. `read.json` is what was read from the job then; later fields may come beside it.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest

from warmside.job.read import read_job
from warmside.job.survey import FORMAT
from warmside.say import Voice

FORMATS = Path(__file__).parent.parent / "formats"
FIXED = {
    "1/job.toml": "6dd6fb8ff4e491a0b74e5672cabbaed663de82fab7d5edcbe270505f052bee14",
    "1/read.json": "23f0387a82731897694e9d3389117ab31f502cc4b7280c6c91510338c7814598",
}
"""SHA-256 of the files; a change here breaks a promise."""


def stands_in(then: Any, now: Any, path: str = "") -> list[str]:
    """Where something that was read then is not read the same now."""
    if isinstance(then, dict) and isinstance(now, dict):
        return [fault for key in then for fault in stands_in(then[key], now.get(key), f"{path}.{key}")]
    if isinstance(then, list) and isinstance(now, list) and len(then) == len(now):
        pairs = enumerate(zip(then, now, strict=True))
        return [fault for n, (old, new) in pairs for fault in stands_in(old, new, f"{path}.{n}")]
    return [] if then == now else [path]


@pytest.mark.parametrize("name", FIXED)
def test_the_files_of_a_format_are_never_edited(name: str) -> None:
    assert hashlib.sha256((FORMATS / name).read_bytes()).hexdigest() == FIXED[name]


def test_every_format_has_its_full_job() -> None:
    assert sorted(folder.name for folder in FORMATS.iterdir()) == [str(n) for n in range(1, FORMAT + 1)]


@pytest.mark.parametrize("number", range(1, FORMAT + 1))
def test_the_job_of_a_format_is_read_as_it_was_then(number: int) -> None:
    folder = FORMATS / str(number)
    read = read_job(folder)
    assert [Voice().located(note) for note in (*read.faults, *read.warnings)] == []
    assert read.survey is not None
    then = json.loads((folder / "read.json").read_text("utf-8"))
    assert stands_in(then, read.survey.model_dump(mode="json")) == []


def test_a_reading_that_changed_is_seen() -> None:
    then = {"a": [1, {"b": 2}], "c": 3}
    assert stands_in(then, {"a": [1, {"b": 2, "new": 0}], "c": 3, "new": 1}) == []
    assert stands_in(then, {"a": [1, {"b": 4}], "c": 3}) == [".a.1.b"]
    assert stands_in(then, {"a": [1]}) == [".a", ".c"]
