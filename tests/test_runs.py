"""Content ids, and files that are written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from warmside.runs import canonical_json, content_id, write_atomic


def test_one_value_has_one_text() -> None:
    assert canonical_json({"b": 1, "a": [1.5, None, "é"]}) == '{"a":[1.5,null,"é"],"b":1}'.encode()


def test_order_of_keys_does_not_change_the_id() -> None:
    assert content_id({"a": 1, "b": 2}) == content_id({"b": 2, "a": 1}) != content_id({"a": 2, "b": 1})


def test_the_id_is_the_published_hash() -> None:
    # The digest of the two bytes {} as the sha256sum of coreutils prints it.
    assert content_id({}) == "44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a"


@pytest.mark.parametrize("value", [float("nan"), float("inf"), {"a": [float("-inf")]}])
def test_what_json_can_not_hold_is_refused(value: object) -> None:
    with pytest.raises(ValueError, match="Out of range float"):
        canonical_json(value)


def test_a_file_is_written_and_nothing_is_left_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    write_atomic(path, b"first")
    write_atomic(path, b"second")
    assert path.read_bytes() == b"second"
    assert [p.name for p in tmp_path.iterdir()] == ["job.toml"]


def test_a_new_file_takes_the_usual_rights_and_an_old_one_keeps_its_own(tmp_path: Path) -> None:
    usual, strict = tmp_path / "usual", tmp_path / "strict"
    usual.write_bytes(b"")
    strict.write_bytes(b"")
    strict.chmod(0o600)
    write_atomic(tmp_path / "new", b"x")
    write_atomic(strict, b"x")
    assert (tmp_path / "new").stat().st_mode == usual.stat().st_mode
    assert strict.stat().st_mode & 0o777 == 0o600


def test_a_link_stays_a_link_and_its_file_is_written(tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    target, link = tmp_path / "kept" / "job.toml", tmp_path / "job.toml"
    target.write_bytes(b"first")
    link.symlink_to(target)
    write_atomic(link, b"second")
    assert link.is_symlink()
    assert target.read_bytes() == b"second"


@pytest.mark.parametrize(("owner", "step"), [(os, "fsync"), (Path, "chmod"), (Path, "replace")])
def test_a_write_that_breaks_off_leaves_the_old_file_and_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, owner: object, step: str
) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(b"first")

    def broken(*_args: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(owner, step, broken)
    with pytest.raises(OSError, match="No space left"):
        write_atomic(path, b"second")
    assert path.read_bytes() == b"first"
    assert os.listdir(tmp_path) == ["job.toml"]


def test_a_folder_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        write_atomic(tmp_path / "none" / "job.toml", b"x")
