"""Rules of the knife, from one table: what is too narrow to cut, how a stack ends, what a knife tells apart.

All are common practice; no source is published for them. They hold for glass and stone batts.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files

from warmside.catalog.goods import Model, Size


class KnifeRules(Model):
    """How batts are cut; what each length means stands in the table."""

    sliver: Size
    strip: Size
    least_behind: Size
    trough: Size
    least_joint: Size
    no_rip: Size
    step: Size
    worth_keeping: Size


@cache
def knife_rules() -> KnifeRules:
    """The rules that come with the package."""
    text = (files("warmside") / "data" / "cutting.toml").read_text("utf-8")
    return KnifeRules.model_validate(tomllib.loads(text))
