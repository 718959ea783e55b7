"""Content ids, atomic writing, and the watch through which long work reports and is stopped."""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from pathlib import Path
from typing import Any, Protocol


class Watch(Protocol):
    """Told how far a long call is, and asked whether to stop."""

    def step(self, done: int, total: int, code: str) -> None:
        """`done` of `total` parts are finished; `code` is the sentence that says of what."""

    def stop(self) -> bool:
        """True when the work should end at the next safe place."""


class Stopped(Exception):  # noqa: N818
    """The work was stopped by its watch; nothing is half-written."""


def canonical_json(value: Any) -> bytes:
    """One value, one text: sorted keys, no spaces, no NaN. Raises ValueError for NaN or infinity."""
    text = json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return text.encode("utf-8")


def content_id(value: Any) -> str:
    """SHA-256 of the canonical JSON of `value`, in hexadecimal digits."""
    return hashlib.sha256(canonical_json(value)).hexdigest()


def write_atomic(path: Path, content: bytes) -> None:
    """Write a file whole or not at all: temporary file beside it, flushed, then renamed.

    A link stays a link: the file that it leads to is written. Raises OSError where the folder can't be
    written; the old file then stands unchanged.
    """
    path = Path(os.path.realpath(path))
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        mode = path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask()
        temporary.chmod(mode)
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
