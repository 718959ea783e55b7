"""What earlier runs left: only what we made, of another input, with unchanged bytes, is ever removed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from warmside.paper.earlier import LIST, Made, Tidied, digest, read_list, tidy

FIRST = {"front.pdf": b"front", "cutlist.csv": b"cuts", "drawings/D-1.svg": b"<svg/>"}


def put(folder: Path, files: dict[str, bytes], input_id: str = "one", version: str = "1") -> Tidied:
    """Write some files as a run of an input does, then tidy."""
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return tidy(folder, Made(input_id, version, {name: digest(content) for name, content in files.items()}))


def there(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()} - {LIST}


def test_what_another_input_left_is_removed_with_the_folder_it_leaves_empty(tmp_path: Path) -> None:
    put(tmp_path, FIRST)
    found = put(tmp_path, {"front.pdf": b"new front"}, "two")
    assert found == Tidied(("cutlist.csv", "drawings/D-1.svg"), ())
    assert there(tmp_path) == {"front.pdf"}
    assert not (tmp_path / "drawings").exists()
    assert set(read_list(tmp_path).files) == {"front.pdf"}


def test_papers_of_the_same_input_stay_when_fewer_are_made(tmp_path: Path) -> None:
    put(tmp_path, FIRST)
    assert put(tmp_path, {"front.pdf": b"front of another day"}) == Tidied((), ())
    assert there(tmp_path) == set(FIRST)
    assert set(read_list(tmp_path).files) == set(FIRST)
    # And they are still known when the input changes later.
    assert put(tmp_path, {"front.pdf": b"new"}, "two").removed == ("cutlist.csv", "drawings/D-1.svg")


def test_papers_of_another_version_are_of_an_earlier_run(tmp_path: Path) -> None:
    put(tmp_path, FIRST)
    assert "cutlist.csv" in put(tmp_path, {"front.pdf": b"front"}, version="2").removed


def test_what_somebody_changed_or_put_there_stays(tmp_path: Path) -> None:
    put(tmp_path, FIRST)
    (tmp_path / "cutlist.csv").write_bytes(b"cuts, and a remark")
    (tmp_path / "drawings" / "mine.svg").write_bytes(b"mine")
    found = put(tmp_path, {"front.pdf": b"new front"}, "two")
    assert found == Tidied(("drawings/D-1.svg",), ("cutlist.csv",))
    assert there(tmp_path) == {"front.pdf", "cutlist.csv", "drawings/mine.svg"}


def test_what_is_gone_already_is_no_fault(tmp_path: Path) -> None:
    put(tmp_path, FIRST)
    (tmp_path / "cutlist.csv").unlink()
    assert put(tmp_path, {"front.pdf": b"new"}, "two").removed == ("drawings/D-1.svg",)


@pytest.mark.parametrize("name", ["../outside.txt", "drawings/../../outside.txt"])
def test_nothing_outside_the_folder_is_touched(tmp_path: Path, name: str) -> None:
    folder, outside = tmp_path / "papers", tmp_path / "outside.txt"
    folder.mkdir()
    outside.write_bytes(b"not ours")
    listed = {"input_id": "one", "version": "1", "files": {name: digest(b"not ours")}}
    (folder / LIST).write_text(json.dumps(listed))
    assert put(folder, {"front.pdf": b"front"}, "two") == Tidied((), ())
    assert outside.read_bytes() == b"not ours"


def test_what_a_link_leads_to_is_not_ours(tmp_path: Path) -> None:
    folder, outside = tmp_path / "papers", tmp_path / "elsewhere"
    outside.mkdir()
    (outside / "D-1.svg").write_bytes(b"<svg/>")
    folder.mkdir()
    (folder / "drawings").symlink_to(outside)
    listed = {"input_id": "one", "version": "1", "files": {"drawings/D-1.svg": digest(b"<svg/>")}}
    (folder / LIST).write_text(json.dumps(listed))
    assert put(folder, {"front.pdf": b"front"}, "two") == Tidied((), ())
    assert (outside / "D-1.svg").exists()


@pytest.mark.parametrize("text", ["", "[]", "{", '{"files": []}', '{"input_id": 1, "version": 2}', "\xff"])
def test_a_list_that_cannot_be_read_is_no_list(tmp_path: Path, text: str) -> None:
    (tmp_path / LIST).write_bytes(text.encode("latin-1"))
    assert put(tmp_path, FIRST) == Tidied((), ())
    assert there(tmp_path) == set(FIRST)


def test_the_list_is_the_same_for_the_same_files(tmp_path: Path) -> None:
    put(tmp_path / "a", FIRST)
    put(tmp_path / "b", dict(reversed(FIRST.items())))
    assert (tmp_path / "a" / LIST).read_bytes() == (tmp_path / "b" / LIST).read_bytes()
