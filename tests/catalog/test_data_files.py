"""Broken tables of the package: one sentence with file, line, what was read and what would be right."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests import walls as w
from warmside import cli
from warmside.catalog import codes, data_files, hazards
from warmside.catalog.codes import RuleSet, read_rules, rule_sets
from warmside.catalog.data_fault import DataFileError
from warmside.catalog.data_files import data_text, read_named
from warmside.catalog.hazards import Hazard
from warmside.job.resolve import resolve

JOB = """format = 1
name = "A job"
[place]
rule_set = "nbc-2020"
[[wall]]
name = "A"
length = "20 ft"
height = "90 in"
"""
CACHES = (codes._rule_file, codes.rule_sets, codes._reaches, hazards.hazards)


def forget() -> None:
    for cached in CACHES:
        cached.cache_clear()


@pytest.fixture(autouse=True)
def afresh() -> Iterator[None]:
    """Tables are kept once read; what is broken here must not stay."""
    forget()
    yield
    forget()


def broken(patch: pytest.MonkeyPatch, name: str, old: str, new: str) -> None:
    """One file of the package with one text in place of another."""

    def text(*path: str) -> str:
        read = data_text(*path)
        return read.replace(old, new, 1) if path[-1] == name else read

    assert old in data_text(*(("rules", name) if name in RULES else (name,)))
    for module in (codes, data_files):
        patch.setattr(module, "data_text", text)


RULES = [f"{name}.toml" for name in rule_sets()]


@pytest.mark.parametrize(
    ("name", "old", "new", "told"),
    [
        (
            "nbc-2020.toml",
            'comparison = "required"',
            'comparison = "wanted"',
            ", [[rule]]: comparison: Input should be 'at least'",
        ),
        ("nbc-2020.toml", "value = 600", "value = six", "nbc-2020.toml: Invalid value (at line "),
        (
            "nbc-2020.toml",
            'unit = "mm"',
            'unit = "furlong"',
            "mean height above ground is in m or mm or in or ft, not in 'furlong'",
        ),
        (
            "rule_sets.toml",
            'method = "isothermal planes"',
            'method = "isothermal plane"',
            ", [nbc-2020]: method: not 'isothermal plane'; did you mean 'isothermal planes'?",
        ),
        (
            "hazards.toml",
            'level = "stop"',
            'level = "halt"',
            ", [bulk-water]: level: Input should be 'stop', 'wait', 'warn' or 'clue', not 'halt'",
        ),
    ],
)
def test_a_broken_table_ends_in_one_sentence_and_status_1(
    name: str,
    old: str,
    new: str,
    told: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    broken(monkeypatch, name, old, new)
    (tmp_path / "job.toml").write_text(JOB, "utf-8")
    monkeypatch.setattr(sys, "argv", ["warmside", "check", str(tmp_path)])
    with pytest.raises(SystemExit) as left:
        cli.main()
    assert left.value.code == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith(f"A table of Warmside itself can't be read: {name}")
    assert said.err.count("\n") == 1
    assert told in said.err


def test_a_broken_list_of_places_is_told_too(monkeypatch: pytest.MonkeyPatch) -> None:
    broken(monkeypatch, "rule_places.toml", "countries", "country")
    with pytest.raises(
        DataFileError, match=r"rule_places.toml, line 3, .*no key country; did you mean 'countries'"
    ):
        resolve(w.survey(w.wall()))


def test_a_file_that_is_missing_is_told() -> None:
    with pytest.raises(DataFileError, match=r"atlantis.toml: it can't be read; install Warmside again"):
        data_text("rules", "atlantis.toml")


def test_a_value_where_a_table_should_stand(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(data_files, "data_text", lambda *_path: 'title = "Code"')
    with pytest.raises(DataFileError, match=r"sets.toml: title stands alone; write it under the"):
        read_named(RuleSet, "sets.toml")


def test_a_missing_key_is_told_with_its_table(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(data_files, "data_text", lambda *_path: "\n[mould]\nlevel = 'stop'")
    with pytest.raises(DataFileError, match=r"h.toml, line 2, \[mould\]: the key who is missing"):
        read_named(Hazard, "h.toml")


RULE = """[[rule]]
id = "gap"
clause = "1"
measure = "largest gap behind the studs"
comparison = "at most"
unit = "mm"
limits = [{ value = 25 }]
source = "s"
status = "read"
"""
UNREAD = '[[not_read]]\nwhere = "Code"\nmeasures = ["rim R"]\nwords = "rules.words.part_not_read"\n'


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "mine.toml: it holds no [[rule]]; a set has at least one"),
        (RULE.replace("[[rule]]", "[rule]"), "mine.toml: rule is one table; write each entry under [[rule]]"),
        (RULE + RULE, "mine.toml: the id 'gap' stands twice; give each rule its own"),
        (
            RULE + 'after = "rim R"\n',
            "mine.toml: the rule 'gap' comes after 'rim R', which no rule of this file limits",
        ),
        (
            RULE + 'words = "rules.words.nonesuch"\n',
            "mine.toml, line 1, [[rule]]: no sentence is called 'rules.words.nonesuch'; "
            "write it in messages/en/rules.toml",
        ),
        (
            RULE.replace("value = 25", 'value = 25, kinds = ["chimny"]'),
            "mine.toml, line 1, [[rule]]: limits.0: 'chimny' is no kind of thing in the way; "
            "did you mean 'chimney'?",
        ),
        (
            RULE + UNREAD.replace("rim R", "rimm R"),
            "mine.toml, line 10, [[not_read]]: measures.0: not 'rimm R'; did you mean 'rim R'?",
        ),
        (
            RULE + UNREAD.replace("part_not_read", "nonesuch"),
            "mine.toml, line 10, [[not_read]]: words: no sentence is called 'rules.words.nonesuch'; "
            "write it in messages/en/rules.toml",
        ),
    ],
)
def test_what_can_not_be_in_a_rule_file(text: str, told: str) -> None:
    with pytest.raises(DataFileError) as caught:
        read_rules(text, "mine.toml")
    assert str(caught.value) == told


def test_indented_heads_lose_no_entry() -> None:
    text = (RULE + RULE.replace('"gap"', '"other"')).replace("[[rule]]", "  [[rule]]")
    assert [rule.id for rule in read_rules(text, "mine.toml").rule] == ["gap", "other"]


def test_a_file_in_another_encoding_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "hazards.toml").write_bytes("# Québec".encode("latin-1"))
    monkeypatch.setattr(data_files, "files", lambda _package: tmp_path)
    with pytest.raises(DataFileError, match=r"hazards.toml: it is no UTF-8 text; save it as UTF-8"):
        data_text("hazards.toml")
