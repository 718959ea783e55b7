"""Edits of a job: comments and layout survive, conflicts change nothing, ids are never given twice."""

from __future__ import annotations

import difflib
import os
import tomllib
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from warmside.job import read as reader
from warmside.job import write as writer
from warmside.job.read import hash_of, read_bytes, read_job
from warmside.job.write import (
    BaseChanged,
    Conflict,
    EditError,
    NoSuchPlace,
    NotWritable,
    Operation,
    RefusedEdit,
    apply,
    assign_ids,
    edited_text,
    save,
)

FULL = (Path(__file__).parent / "full_job.toml").read_text("utf-8")
SMALL = 'format = 1\nname = "x" # the name\n\n[[wall]]\nname = "A"\nid = "w1"\n'


def folder_with(path: Path, text: str) -> tuple[Path, str]:
    (path / "job.toml").write_bytes(text.encode())
    return path, hash_of(text.encode())


def lines_changed(before: str, after: str) -> tuple[list[str], list[str]]:
    """The lines that went and the lines that came."""
    diff = list(difflib.ndiff(before.splitlines(), after.splitlines()))
    return [d[2:] for d in diff if d[0] == "-"], [d[2:] for d in diff if d[0] == "+"]


def edit(text: str, *operations: tuple[tuple[str | int, ...], Any, Any]) -> str:
    return edited_text(text, [Operation(str(i), *op) for i, op in enumerate(operations)])[1]


def ids(text: str) -> list[str]:
    walls = tomllib.loads(text).get("wall", [])
    return [record["id"] for w in walls for record in [w, *w.get("in_the_way", [])]]


# Layout


def test_one_edit_changes_one_line_and_ids_come_once() -> None:
    first = edit(FULL)
    gone, come = lines_changed(first, edit(first, (("wall", 0, "frame", "spacing"), 16, "24 in")))
    assert (gone, come) == (["spacing = 16"], ['spacing = "24 in"'])
    assert edit(first) == first


def test_comments_stay_with_their_lines() -> None:
    changed = edit(SMALL, (("name",), "x", "y"), (("wall", 0, "length"), None, "9 ft"))
    assert changed == SMALL.replace('"x" #', '"y" #') + 'length = "9 ft"\n'
    comments = [row[row.index("#") :] for row in FULL.splitlines() if "#" in row]
    assert all(comment in edit(FULL) for comment in comments)


def test_new_text_with_an_inch_mark_stands_in_single_quotes() -> None:
    assert "length = '88-3/4\"'\n" in edit(SMALL, (("wall", 0, "length"), None, '88-3/4"'))
    assert 'length = "7\' 4\\""\n' in edit(SMALL, (("wall", 0, "length"), None, "7' 4\""))


def test_a_new_thing_is_a_table_of_its_own_with_a_blank_line_round_it() -> None:
    thing = {"kind": "duct", "from_left": "15 ft"}
    changed = edit(FULL, (("wall", 0, "in_the_way", 3), None, thing))
    assert (
        '\n\n[[wall.in_the_way]]\nkind = "duct"\nfrom_left = "15 ft"\nid = "t22"\n\n[[wall]] # runs'
        in changed
    )
    inline = edit(FULL, (("wall", 1, "in_the_way", 2), None, thing))
    assert '\n  {kind = "duct",from_left = "15 ft",id = "t25"},\n]\n' in inline


def test_missing_tables_on_the_way_are_made() -> None:
    changed = edit(
        'format = 1\nname = "x"\n',
        (("place", "town"), None, "Sample Town"),
        (("wall", 0, "name"), None, "A"),
        (("wall", 0, "frame", "odd_bays", "3"), None, "12 in"),
        (("wall", 0, "in_the_way", 0, "kind"), None, "window"),
    )
    assert tomllib.loads(changed) == {
        "format": 1,
        "name": "x",
        "next_id": 3,
        "place": {"town": "Sample Town"},
        "wall": [
            {
                "name": "A",
                "id": "w1",
                "frame": {"odd_bays": {"3": "12 in"}},
                "in_the_way": [{"kind": "window", "id": "t2"}],
            }
        ],
    }


def test_windows_line_ends_stay(tmp_path: Path) -> None:
    folder, base = folder_with(tmp_path, SMALL.replace("\n", "\r\n"))
    save(folder, [Operation("a", ("wall", 0, "length"), None, "9 ft")], base)
    content = (folder / "job.toml").read_bytes()
    assert content == (SMALL + 'length = "9 ft"\n').replace("\n", "\r\n").encode()


# Old and new


def test_none_removes_and_removing_nothing_is_nothing() -> None:
    place = 'format = 1\nname = "x"\n\n[place]\ntown = "a"\nregion = "b"\n'
    assert edit(place, (("place", "town"), "a", None)) == place.replace('town = "a"\n', "")
    assert edit(place, (("people", "owner"), None, None)) == place
    gone = edit(FULL, (("wall", 0, "in_the_way", 0), tomllib.loads(FULL)["wall"][0]["in_the_way"][0], None))
    assert [t["kind"] for t in tomllib.loads(gone)["wall"][0]["in_the_way"]] == ["window", "water pipe"]


def test_unknown_and_absent_are_the_same_to_an_edit() -> None:
    changed = edit(FULL, (("wall", 1, "concrete_showing"), None, "14 in"))
    assert 'concrete_showing = "14 in"' in changed
    assert edit(changed, (("wall", 0, "note"), "unknown", None)) == changed


@pytest.mark.parametrize(
    ("path", "old", "sentence"),
    [
        (
            ("wall", 0, "frame", "spacing"),
            24,
            "wall 1 frame spacing is 16, and the edit expects 24; look at it again before changing it",
        ),
        (
            ("wall", 0, "frame", "bays"),
            [14],
            "wall 1 frame bays is nothing, and the edit expects a list; look at it again before changing it",
        ),
        (
            ("place", "town"),
            None,
            "place town is 'Sample Town', and the edit expects nothing; look at it again before changing it",
        ),
        (
            ("next_id",),
            True,
            "next_id is 20, and the edit expects True; look at it again before changing it",
        ),
    ],
)
def test_where_something_else_stands_it_is_a_conflict(path: Any, old: Any, sentence: str) -> None:
    with pytest.raises(Conflict) as refused:
        edit(FULL, (path, old, "x"))
    assert str(refused.value) == sentence


def test_true_is_not_one() -> None:
    document = tomlkit.parse("a = 1")
    with pytest.raises(Conflict):
        apply(document, [Operation("1", ("a",), True, 2)])


@pytest.mark.parametrize(
    ("path", "sentence"),
    [
        (("wall", 7, "length"), "wall 8 length: there is no such place in the job"),
        (("wall", -1, "length"), "wall 0 length: there is no such place in the job"),
        (("wall", "length"), "wall length: there is no such place in the job"),
        (("name", "first"), "name first: there is no such place in the job"),
        (("place", 0), "place 1: there is no such place in the job"),
        ((), "(): there is no such place in the job"),
    ],
)
def test_a_path_that_leads_nowhere_is_named(path: Any, sentence: str) -> None:
    with pytest.raises(NoSuchPlace) as refused:
        edit(FULL, (path, None, "x"))
    assert str(refused.value) == sentence


def test_the_same_id_in_one_call_counts_once() -> None:
    twice = [
        Operation("a", ("wall", 0, "length"), None, "9 ft"),
        Operation("a", ("wall", 0, "length"), None, "8 ft"),
    ]
    document = tomlkit.parse(SMALL)
    assert apply(document, twice) == ("a",)
    assert document.unwrap()["wall"][0]["length"] == "9 ft"


# Saving


def test_a_save_writes_what_the_reader_takes_and_gives_the_new_base(tmp_path: Path) -> None:
    folder, base = folder_with(tmp_path, FULL)
    new = save(folder, [Operation("a", ("wall", 0, "frame", "spacing"), 16, "24 in")], base)
    result = read_job(folder)
    assert result.base == new != base
    assert result.survey is not None
    assert os.listdir(folder) == ["job.toml"]


def test_a_save_without_effect_writes_nothing(tmp_path: Path) -> None:
    folder, base = folder_with(tmp_path, SMALL)
    before = (folder / "job.toml").stat().st_mtime_ns, (folder / "job.toml").stat().st_ino
    assert save(folder, [], base) == base
    assert ((folder / "job.toml").stat().st_mtime_ns, (folder / "job.toml").stat().st_ino) == before


def test_a_save_on_an_old_base_is_refused(tmp_path: Path) -> None:
    folder, _ = folder_with(tmp_path, SMALL)
    with pytest.raises(BaseChanged, match="the job was changed elsewhere since it was opened"):
        save(folder, [Operation("a", ("name",), "x", "y")], hash_of(b"other"))
    assert (folder / "job.toml").read_text() == SMALL


def test_edits_that_were_done_in_an_earlier_call_count_once(tmp_path: Path) -> None:
    folder, base = folder_with(tmp_path, SMALL)
    first = Operation("a", ("name",), "x", "y")
    new = save(folder, [first], base)
    assert save(folder, [first], base, done={"a"}) == new
    newer = save(folder, [first, Operation("b", ("wall", 0, "length"), None, "9 ft")], new, done={"a"})
    assert newer == read_job(folder).base != new


@pytest.mark.parametrize(
    ("path", "new", "sentence"),
    [
        (("wall", 0, "lenght"), "9 ft", "unknown key 'lenght'; did you mean 'length'?"),
        (("wall", 0, "length"), "9 yd", "length: '9 yd' is not a length; write it like 12' 4-3/8\""),
        (("wall", 0, "name"), None, "name is missing, and it is needed"),
        (("format",), 9, "this job is in format 9, and this version of Warmside reads formats up to 1"),
    ],
)
def test_a_result_with_faults_is_refused_and_nothing_written(
    tmp_path: Path, path: Any, new: Any, sentence: str
) -> None:
    folder, base = folder_with(tmp_path, SMALL)
    old: dict[Any, Any] = {"name": "A", "format": 1}
    with pytest.raises(RefusedEdit) as refused:
        save(folder, [Operation("a", path, old.get(path[-1]), new)], base)
    assert sentence in str(refused.value)
    assert refused.value.notes[0].where.file == "job.toml"
    assert (folder / "job.toml").read_text() == SMALL
    assert os.listdir(folder) == ["job.toml"]


@pytest.mark.parametrize("text", ["format = 1\nname = ", "format = 1\nname = 'x'\nname = 'y'"])
def test_a_job_that_is_no_toml_is_refused_with_its_fault(tmp_path: Path, text: str) -> None:
    folder, base = folder_with(tmp_path, text)
    with pytest.raises(RefusedEdit, match=r"this is not a value|stands twice"):
        save(folder, [], base)


def test_a_folder_without_a_job_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RefusedEdit, match=r"there is no job\.toml in"):
        save(tmp_path, [], "")


def test_a_folder_that_can_not_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(_path: Path, _content: bytes) -> None:
        raise PermissionError(13, "Permission denied")

    folder, base = folder_with(tmp_path, SMALL)
    monkeypatch.setattr(writer, "write_atomic", refused)
    with pytest.raises(NotWritable) as error:
        save(folder, [Operation("a", ("name",), "x", "y")], base)
    sentence = f"the folder {folder} can't be written (Permission denied); nothing was changed"
    assert str(error.value) == sentence


def test_the_first_save_of_a_migrated_job_keeps_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def step(document: tomlkit.TOMLDocument) -> None:
        document["name"] = document.pop("title")

    monkeypatch.setattr(reader, "MIGRATIONS", {0: step})
    old = "format = 0 # first\n# kept\ntitle = 'x'\n"
    folder, base = folder_with(tmp_path, old)
    save(folder, [Operation("a", ("name",), "x", "y")], base)
    assert (folder / "job.toml.format-0").read_text() == old
    assert (folder / "job.toml").read_text() == 'format = 1 # first\n# kept\nname = "y"\n'
    (folder / "job.toml").write_text(old)
    (folder / "job.toml.format-0").write_text("kept from before")
    save(folder, [], base)
    assert (folder / "job.toml.format-0").read_text() == "kept from before"


def test_a_slip_of_the_layout_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder, base = folder_with(tmp_path, SMALL)
    monkeypatch.setattr(tomlkit, "dumps", lambda document: document.as_string().replace('"A"', '"B"'))
    with pytest.raises(RefusedEdit, match="can't be edited safely here"):
        save(folder, [Operation("a", ("name",), "x", "y")], base)
    assert (folder / "job.toml").read_text() == SMALL


# Ids


def test_every_wall_and_thing_gets_an_id_of_its_own_that_stays() -> None:
    given_ids = ids(edit(FULL))
    assert given_ids == ["w1", "t1", "t20", "t21", "w22", "t23", "t24"]
    assert tomllib.loads(edit(FULL))["next_id"] == 25


def test_an_id_is_above_all_that_stand_and_never_given_twice() -> None:
    text = SMALL + 'in_the_way = [{ kind = "duct", id = "t40" }, { kind = "duct", id = "unknown" }]\n'
    first = edit(text)
    assert ids(first) == ["w1", "t40", "t41"]
    last = tomllib.loads(first)["wall"][0]["in_the_way"][1]
    without = edit(first, (("wall", 0, "in_the_way", 1), last, None))
    again = edit(without, (("wall", 0, "in_the_way", 1), None, {"kind": "duct"}))
    assert ids(again) == ["w1", "t40", "t42"]


def test_the_last_id_is_not_given_again_where_the_file_kept_no_count() -> None:
    text = SMALL + '[[wall.in_the_way]]\nkind = "duct"\nid = "t9"\n'
    without = edit(text, (("wall", 0, "in_the_way", 0), {"kind": "duct", "id": "t9"}, None))
    assert tomllib.loads(without)["next_id"] == 10
    assert ids(edit(without, (("wall", 0, "in_the_way", 0), None, {"kind": "duct"}))) == ["w1", "t10"]


def test_ids_given_to_a_document_are_told() -> None:
    document = tomlkit.parse('format = 1\nname = "x"\n[[wall]]\nname = "A"\n')
    assert [(op.path, op.new) for op in assign_ids(document)] == [
        (("wall", 0, "id"), "w1"),
        (("next_id",), 2),
    ]
    assert assign_ids(document) == []


# Any edit at all

STEPS = st.sampled_from(
    ["wall", "in_the_way", "frame", "rim", "odd_bays", "name", "place", "gap", 0, 1, 2, "kind"]
)
VALUES = st.sampled_from([None, 1, "9 ft", 'a"b', "unknown", [1, 2], {"kind": "duct"}, [{"kind": "duct"}]])


def standing(text: str, path: list[str | int]) -> Any:
    """What stands at a path in a text, or None."""
    value: Any = tomllib.loads(text)
    for part in path:
        fits = isinstance(value, dict if isinstance(part, str) else list)
        known = fits and (part in value if isinstance(part, str) else part < len(value))
        value = value[part] if known else None
    return value


@given(st.lists(STEPS, min_size=1, max_size=5), VALUES)
def test_any_edit_is_made_truly_or_refused(path: list[str | int], new: Any) -> None:
    try:
        text = edit(FULL, (tuple(path), standing(FULL, path), new))
    except EditError:
        return
    if isinstance(new, str | int):
        assert standing(text, path) == new
    elif new is None and isinstance(path[-1], str):
        assert standing(text, path) is None
    assert read_bytes(text.encode()).places is not None
