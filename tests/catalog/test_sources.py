"""Every value of the package's own tables names a known source, and claims no more than that source."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from importlib.resources import files
from typing import Any

import pytest

from warmside.catalog.codes import rule_sets
from warmside.say import sources

TABLES = [
    "goods.toml",
    "in_the_way.toml",
    "rule_sets.toml",
    "assumptions.toml",
    "cautions.toml",
    "cutting.toml",
    "as_found.toml",
    "existing.toml",
    "heat.toml",
    "measure_next.toml",
    "refused.toml",
]
TABLES += ["hazards.toml", *(f"rules/{name}.toml" for name in rule_sets())]

RANK = {"read": 0, "computed": 1, "common practice": 2, "from memory": 3, "invented": 4}
"""How little a status word claims: a value worked out from a page that was read is `computed`, and so on."""

OF_JOBS = {"label", "invented"}
"""Sources that only job files name: the label in hand, and what the demo made up."""


def table(name: str) -> dict[str, Any]:
    return tomllib.loads((files("warmside") / "data" / name).read_text("utf-8"))


def sourced(value: object, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every table below `value` that has a source, with its path."""
    if isinstance(value, dict):
        if "source" in value:
            yield path, value
        for key, inner in value.items():
            yield from sourced(inner, f"{path}/{key}")
    if isinstance(value, list):
        for number, inner in enumerate(value):
            yield from sourced(inner, f"{path}/{number}")


@pytest.mark.parametrize("name", TABLES)
def test_each_source_is_known(name: str) -> None:
    found = list(sourced(table(name)))
    assert found
    assert {path: entry["source"] for path, entry in found if entry["source"] not in sources()} == {}


@pytest.mark.parametrize("name", TABLES)
def test_no_value_claims_more_than_its_source(name: str) -> None:
    bold = [
        path
        for path, entry in sourced(table(name))
        if RANK[entry["status"]] < RANK[sources()[entry["source"]].status]
    ]
    assert bold == []


def test_no_source_stands_idle() -> None:
    named = {entry["source"] for name in TABLES for _, entry in sourced(table(name))}
    assert set(sources()) - named == OF_JOBS


def test_titles_are_for_people() -> None:
    for source in sources().values():
        assert source.title[0].isalpha()
        assert "http" not in source.title + source.part
        assert "www." not in source.title + source.part
        assert ".com" not in source.title + source.part
