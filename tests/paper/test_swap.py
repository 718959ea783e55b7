"""All files or none: whatever goes wrong on the way, the old set stands."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from warmside.paper.swap import swap_in

OLD = {"a.txt": b"old a", "drawings/b.txt": b"old b"}
NEW = {"a.txt": b"new a", "drawings/b.txt": b"new b", "c.txt": b"new c"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the old set, and a file of somebody else's."""
    (tmp_path / "drawings").mkdir()
    for name, content in OLD.items():
        (tmp_path / name).write_bytes(content)
    (tmp_path / "mine.txt").write_bytes(b"mine")
    return tmp_path


def found(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_the_new_set_stands_and_nothing_else_is_touched(folder: Path) -> None:
    swap_in(folder, NEW)
    assert found(folder) == NEW | {"mine.txt": b"mine"}
    assert sorted(path.name for path in folder.iterdir()) == ["a.txt", "c.txt", "drawings", "mine.txt"]


def test_the_rights_of_a_file_stay(folder: Path) -> None:
    (folder / "a.txt").chmod(0o600)
    swap_in(folder, NEW)
    assert (folder / "a.txt").stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("nth", range(1, 6))
@pytest.mark.parametrize("fault", [KeyboardInterrupt(), OSError(errno.ENOSPC, "full")], ids=["^C", "full"])
def test_a_fault_while_the_files_take_their_places_puts_all_back(
    folder: Path, monkeypatch: pytest.MonkeyPatch, nth: int, fault: BaseException
) -> None:
    # Two old files go aside and three new ones come in: five renames; each in turn goes wrong.
    renames = 0
    rename = Path.replace

    def failing(path: Path, target: Path) -> Path:
        nonlocal renames
        renames += 1
        if renames == nth:
            raise fault
        return rename(path, target)

    monkeypatch.setattr(Path, "replace", failing)
    with pytest.raises(type(fault)):
        swap_in(folder, NEW)
    assert found(folder) == OLD | {"mine.txt": b"mine"}


def test_a_disk_that_fills_up_while_writing_leaves_the_old_set(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    written = 0

    def full(_: int) -> None:
        nonlocal written
        written += 1
        if written == 3:
            raise OSError(errno.ENOSPC, "no space")

    monkeypatch.setattr("warmside.paper.swap.os.fsync", full)
    with pytest.raises(OSError, match="no space"):
        swap_in(folder, NEW)
    assert found(folder) == OLD | {"mine.txt": b"mine"}


def test_a_link_stays_a_link(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    elsewhere = tmp_path_factory.mktemp("elsewhere") / "a.txt"
    elsewhere.write_bytes(b"old")
    (folder / "a.txt").unlink()
    (folder / "a.txt").symlink_to(elsewhere)
    swap_in(folder, NEW)
    assert (folder / "a.txt").is_symlink()
    assert elsewhere.read_bytes() == b"new a"
