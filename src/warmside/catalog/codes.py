"""Rule sets: which one a place is under, and what the resistance that its limits mean is made of."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

from warmside.catalog.goods import Model, Size
from warmside.physics.resistance import Method


class RuleSet(Model):
    """One set of rules as read: its edition, the resistance method of its limits, films, largest gap."""

    id: str
    title: str
    edition: str
    method: Method
    inside_film: str
    outside_film: str
    largest_gap: Size
    note: str


@cache
def rule_sets() -> Mapping[str, RuleSet]:
    """All rule sets by id; they are never merged."""
    text = (files("warmside") / "data" / "rule_sets.toml").read_text("utf-8")
    return {key: RuleSet.model_validate({"id": key, **entry}) for key, entry in tomllib.loads(text).items()}
