"""Rules of the knife, from one table: what is too narrow to cut, how a stack ends, what a knife tells apart.

All are common practice; no source is published for them. They hold for glass and stone batts.
"""

from __future__ import annotations

from functools import cache
from typing import Literal

from warmside.catalog.data_files import read_whole
from warmside.catalog.goods import Model, Size, Status

Laid = Literal["torn strip", "foam"]
"""What is laid into a place that is too narrow for a batt; nothing is counted for either."""


class Filling(Model):
    """What is laid into a sliver, with its source and how far it was confirmed."""

    value: Laid
    source: str
    status: Status


class KnifeRules(Model):
    """How batts are cut; what each length means stands in the table."""

    sliver: Size
    sliver_fill: Filling
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
    return read_whole(KnifeRules, "cutting.toml")
