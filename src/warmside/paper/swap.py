"""A set of files that changes as a whole: all new ones are on the disk before the first old one goes.

They are written to a folder of their own within the folder, and then take their places by renaming, which
needs no room on the disk. What fails or is interrupted on the way puts every old file back. A link stays a
link: the file that it leads to is written. Not proof against a power cut in the middle of the renaming.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from warmside.runs import write_atomic


def swap_in(folder: Path, files: Mapping[str, bytes]) -> None:
    """Put all files in their places below a folder that has the folders they need.

    Raises OSError where they can't be written; the old ones then stand unchanged.
    """
    own = {name: content for name, content in files.items() if _lies_here(folder, name)}
    stage = Path(tempfile.mkdtemp(prefix=".new.", dir=folder))
    try:
        for name, content in own.items():
            _stage(folder, stage, name, content)
        for name in (name for name in files if name not in own):
            write_atomic(folder / name, files[name])
        _take_places(folder, stage, list(own))
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def _lies_here(folder: Path, name: str) -> bool:
    """Whether no link leads elsewhere."""
    return Path(os.path.realpath(folder / name)) == folder.resolve() / name


def _stage(folder: Path, stage: Path, name: str, content: bytes) -> None:
    """Write a new file whole, with the rights of the old one."""
    path, old = stage / "new" / name, folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    if old.exists():
        path.chmod(old.stat().st_mode & 0o777)


def _take_places(folder: Path, stage: Path, names: list[str]) -> None:
    """Old files out, new ones in; all old ones back where anything goes wrong."""
    try:
        for name in names:
            aside = stage / "old" / name
            aside.parent.mkdir(parents=True, exist_ok=True)
            if (folder / name).exists():
                (folder / name).replace(aside)
            (stage / "new" / name).replace(folder / name)
    except BaseException:
        for name in names:
            _put_back(folder / name, stage / "old" / name, stage / "new" / name)
        raise


def _put_back(place: Path, old: Path, new: Path) -> None:
    """The old file where there was one; where there was none, none."""
    if old.exists():
        old.replace(place)
    elif not new.exists():
        place.unlink(missing_ok=True)
