"""The line of each key: on texts of every form, on generated documents, and never an error on any text."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from warmside.job.lines import KeyPath, locate

TEXT = '''# a comment with [brackets] and = signs
format = 1
name = "x" # = [[wall]]
dotted . "quoted key" . last = 3
"with = sign" = 'and # hash'

[place]
town = """
[[wall]]
name = "not a key"
\\""" still text
"""
region = \'\'\'
town = 1
\'\'\'
[[wall]]
name = "A"
frame = { odd_bays = { 3 = "12 in", 7 = "13 in" }, spacing = 16.5 }
bays = [
  "14 in", # [ {
  14.5,
  [1,
   2],
]
in_the_way = [
  { kind = "box", width = 3 },
  { kind = "duct" },
]
[wall.rim]
joists = "land here"
[[wall.thing]]
kind = 'a'
[[wall.thing]]
[[wall]]
name = "B"
[[wall.thing]]
kind = 'c'
[a."b.c".d]
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("format",), 2),
        (("name",), 3),
        (("dotted", "quoted key", "last"), 4),
        (("with = sign",), 5),
        (("place",), 7),
        (("place", "town"), 8),
        (("place", "region"), 13),
        (("place", "country"), 7),
        (("wall", 0), 16),
        (("wall", 0, "name"), 17),
        (("wall", 0, "frame", "odd_bays", "7"), 18),
        (("wall", 0, "frame", "height"), 18),
        (("wall", 0, "bays"), 19),
        (("wall", 0, "bays", 0), 20),
        (("wall", 0, "bays", 1), 21),
        (("wall", 0, "bays", 2, 0), 22),
        (("wall", 0, "bays", 2, 1), 23),
        (("wall", 0, "in_the_way", 0, "width"), 26),
        (("wall", 0, "in_the_way", 1), 27),
        (("wall", 0, "in_the_way", 1, "width"), 27),
        (("wall", 0, "rim"), 29),
        (("wall", 0, "rim", "joists"), 30),
        (("wall", 0, "thing", 0, "kind"), 32),
        (("wall", 0, "thing", 1), 33),
        (("wall", 1), 34),
        (("wall", 1, "thing", 0, "kind"), 37),
        (("a", "b.c", "d"), 38),
        (("a", "b.c"), 38),
        (("nothing",), None),
        ((), None),
    ],
)
def test_each_key_has_its_line_and_a_missing_one_that_of_the_table_round_it(
    path: KeyPath, line: int | None
) -> None:
    assert locate(TEXT).line(path) == line


def test_headers_are_the_lines_that_open_a_table() -> None:
    assert locate(TEXT).headers == (7, 16, 29, 31, 33, 34, 36, 38)


def test_a_deep_key_takes_the_line_of_the_key_round_it() -> None:
    text = "\n" + ".".join("a" * 50) + " = 1"
    assert locate(text).line(tuple("a" * 50)) == 2


def test_windows_line_ends_count_once() -> None:
    assert locate("a = 1\r\n\r\nb = 2\r\n").line(("b",)) == 3


KEYS = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), min_size=1, max_size=6)
PLAIN = st.one_of(
    st.integers(-1000, 1000),
    st.floats(allow_nan=False, allow_infinity=False),
    st.booleans(),
    st.dates(),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=12),
)
VALUES = st.recursive(
    PLAIN,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(KEYS, inner, max_size=3)),
    max_leaves=12,
)
DOCUMENTS = st.dictionaries(KEYS, VALUES, max_size=5)


def key_paths(value: Any, path: KeyPath = ()) -> Iterator[KeyPath]:
    """Every path that ends in a key."""
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for part, inner in pairs:
        if isinstance(part, str):
            yield (*path, part)
        yield from key_paths(inner, (*path, part))


@given(DOCUMENTS)
def test_the_line_of_every_key_holds_the_key(values: dict[str, Any]) -> None:
    text = tomlkit.dumps(values)
    found = locate(text)
    rows = text.split("\n")
    for path in key_paths(tomllib.loads(text)):
        line = found.line(path)
        assert line is not None
        key = str(path[-1])
        escaped = tomlkit.key(key).as_string().strip('"')
        assert path in found.found
        assert key in rows[line - 1] or escaped in rows[line - 1]


@given(st.one_of(st.text(), st.text(alphabet="[]{}=.,#'\"\\\n a1", max_size=80)))
def test_any_text_has_lines_within_it_and_never_an_error(text: str) -> None:
    lines = locate(text)
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.found.values())


@pytest.mark.parametrize("piece", ["[", "{", "a.", '"""\\"', "'", "a=[", "[[a]]\n", "a={b=", "\\"])
def test_a_long_run_of_anything_is_read_in_one_pass(piece: str) -> None:
    lines = locate(piece * 20_000)
    assert all(len(path) <= 22 for path in lines.found)
