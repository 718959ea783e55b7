"""What earlier runs left in the folder of the papers: what is still good, what is removed, what stays.

A small list, made.json, stands beside the papers: of which input and version they are, and the SHA-256 of
each file as it was written. Only files on that list are ever removed, and only with unchanged bytes: what
somebody else put there or changed stays. Papers of the same input stay too, when this run makes fewer.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path, PurePosixPath

from warmside.runs import write_atomic

LIST = "made.json"


@dataclass(frozen=True)
class Made:
    """The list of what was made: input and version, and the digest of each file by its place."""

    input_id: str
    version: str
    files: Mapping[str, str]

    def of(self, other: "Made") -> bool:
        """Whether both are of the same input and version."""
        return (self.input_id, self.version) == (other.input_id, other.version)


NOTHING = Made("", "", {})


@dataclass(frozen=True)
class Tidied:
    """Places of files of an earlier input: those removed, and those that stay since somebody changed them."""

    removed: tuple[str, ...]
    changed: tuple[str, ...]


def digest(content: bytes) -> str:
    """SHA-256 in hexadecimal digits."""
    return sha256(content).hexdigest()


def read_list(folder: Path) -> Made:
    """The list in a folder; an empty one where there is none or none that can be read."""
    try:
        found = json.loads((folder / LIST).read_bytes())
        files = {str(name): str(known) for name, known in found["files"].items() if _is_inside(str(name))}
        return Made(str(found["input_id"]), str(found["version"]), files)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return NOTHING


def _is_inside(name: str) -> bool:
    """Whether a place can only lie below the folder."""
    place = PurePosixPath(name)
    return not place.is_absolute() and ".." not in place.parts and "\\" not in name and ":" not in name


def tidy(folder: Path, now: Made) -> Tidied:
    """Remove what earlier runs made of another input and this one does not make, then write the list anew.

    Raises OSError where the folder can't be written.
    """
    before = read_list(folder)
    left = {name: known for name, known in before.files.items() if name not in now.files}
    there = {name: known for name, known in left.items() if _is_ours(folder, name)}
    same = [name for name, known in there.items() if digest((folder / name).read_bytes()) == known]
    keep = before.of(now)
    removed = () if keep else tuple(sorted(same))
    changed = () if keep else tuple(sorted(set(there) - set(same)))
    _remove(folder, removed)
    kept = {name: there[name] for name in same} if keep else {}
    listed = {"input_id": now.input_id, "version": now.version, "files": {**kept, **now.files}}
    text = json.dumps(listed, indent=2, sort_keys=True, ensure_ascii=False)
    write_atomic(folder / LIST, (text + "\n").encode("utf-8"))
    return Tidied(removed, changed)


def _is_ours(folder: Path, name: str) -> bool:
    """A file that lies in the folder itself; what a link leads to is not ours."""
    path = folder / name
    return path.is_file() and path.resolve() == folder.resolve() / name


def _remove(folder: Path, names: Iterable[str]) -> None:
    """Remove files, and the folders below this one that they leave empty."""
    for name in names:
        (folder / name).unlink()
        for parent in (folder / name).parents:
            if parent == folder or any(parent.iterdir()):
                break
            parent.rmdir()
