"""Sentences and code hold together: every code that is spoken has a sentence, every sentence is spoken."""

import ast
import re
import string
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import warmside
from warmside.say import languages, messages

PACKAGE = Path(warmside.__file__).parent
CODE = re.compile(r"[a-z_]+(\.[A-Za-z0-9_-]+)+")
SPEAKERS = {"Note", "line"}


@cache
def trees() -> list[ast.Module]:
    return [ast.parse(path.read_text("utf-8")) for path in sorted(PACKAGE.rglob("*.py"))]


def nodes() -> Iterator[ast.AST]:
    for tree in trees():
        yield from ast.walk(tree)


@cache
def spoken() -> set[str]:
    """Codes written out in a call of Note(...) or of .line(...), also the two of a choice."""
    found = set()
    for node in nodes():
        if isinstance(node, ast.Call) and node.args:
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            parts = [node.args[0]]
            if isinstance(parts[0], ast.IfExp):
                parts = [parts[0].body, parts[0].orelse]
            texts = [p.value for p in parts if isinstance(p, ast.Constant) and isinstance(p.value, str)]
            found |= {text for text in texts if name in SPEAKERS and CODE.fullmatch(text)}
    return found


@cache
def literals() -> set[str]:
    """Every text of the package that looks like a code or like the beginning of some."""
    texts = (node.value for node in nodes() if isinstance(node, ast.Constant))
    return {text for text in texts if isinstance(text, str) and CODE.fullmatch(text)}


@cache
def families() -> set[str]:
    """Codes made up in an f-string with a known beginning, as patterns."""
    found = set()
    for node in nodes():
        if isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant):
            parts = [re.escape(str(p.value)) if isinstance(p, ast.Constant) else ".+" for p in node.values]
            root = str(node.values[0].value).partition(".")
            if root[1] and root[0] in {code.partition(".")[0] for code in messages("en")}:
                found.add("".join(parts))
    return found


@cache
def endings() -> set[str]:
    """What f-strings put behind a code, such as `_near`."""
    found = set()
    for node in nodes():
        if (
            isinstance(node, ast.JoinedStr)
            and len(node.values) == 2
            and isinstance(node.values[1], ast.Constant)
        ):
            text = str(node.values[1].value)
            found |= {text} if re.fullmatch(r"[._][a-z_]+", text) else set()
    return found


def in_data() -> set[str]:
    """Codes that the package's data names: cautions, reasons of assumptions."""

    def texts(value: Any) -> Iterator[str]:
        if isinstance(value, dict):
            value = list(value.values())
        if isinstance(value, list):
            for inner in value:
                yield from texts(inner)
        elif isinstance(value, str):
            yield value

    tables = [*PACKAGE.glob("data/*.toml"), *PACKAGE.glob("data/rules/*.toml")]
    return {
        text
        for path in tables
        for text in texts(tomllib.loads(path.read_text("utf-8")))
        if CODE.fullmatch(text)
    }


def test_every_code_that_is_spoken_has_a_sentence() -> None:
    known = messages("en")
    assert len(spoken()) > 50
    assert sorted(spoken() - set(known)) == []


def told_to_watches() -> set[str]:
    """Codes that long work gives to its watch as the third thing it tells."""
    calls = [node for node in nodes() if isinstance(node, ast.Call) and len(node.args) == 3]
    steps = [call.args[2] for call in calls if getattr(call.func, "attr", "") == "step"]
    return {step.value for step in steps if isinstance(step, ast.Constant) and isinstance(step.value, str)}


def test_every_code_told_to_a_watch_has_a_sentence() -> None:
    assert {"paper.making", "runs.walls"} <= told_to_watches() <= set(messages("en"))


def test_every_code_in_the_data_has_a_sentence() -> None:
    roots = {"caution", "assumed", "rules"}
    named = {code for code in in_data() if code.partition(".")[0] in roots}
    assert len(named) > 30
    assert sorted(named - set(messages("en"))) == []


def test_every_family_of_codes_has_sentences() -> None:
    empty = [
        family for family in families() if not any(re.fullmatch(family, code) for code in messages("en"))
    ]
    assert sorted(empty) == []


def is_used(code: str, named: set[str], patterns: list[re.Pattern[str]]) -> bool:
    """Named whole, by its beginning, without an ending that an f-string adds, or by an f-string."""
    parts = code.split(".")
    beginnings = {".".join(parts[:count]) for count in range(2, len(parts) + 1)}
    stems = {code.removesuffix(ending) for ending in endings()}
    return bool((beginnings | stems) & named) or any(pattern.fullmatch(code) for pattern in patterns)


def test_every_sentence_is_used() -> None:
    named = literals() | in_data()
    patterns = [re.compile(family) for family in families()]
    assert [code for code in messages("en") if not is_used(code, named, patterns)] == []


def test_a_sentence_that_nobody_speaks_is_seen() -> None:
    patterns = [re.compile(family) for family in families()]
    assert not is_used("paper.nobody.says_this", literals() | in_data(), patterns)
    assert is_used("paper.cut.whole.many", literals(), [])


@pytest.mark.parametrize("language", languages())
def test_languages_have_the_same_sentences_with_the_same_blanks(language: str) -> None:
    def blanks(sentence: str) -> set[str]:
        return {name for _, name, _, _ in string.Formatter().parse(sentence) if name is not None}

    first = {code: blanks(sentence) for code, sentence in messages("en").items()}
    assert {code: blanks(sentence) for code, sentence in messages(language).items()} == first
