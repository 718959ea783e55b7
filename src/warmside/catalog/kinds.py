"""What can be in the way of insulation, as one table: sizes, who owns it, and what it does to a piece.

A thing in the way is one type whose behaviour comes from three words of its kind: how the batt is `cut`,
whether insulation goes `behind` it, and whether any may stand `in_front`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Literal

from warmside.catalog.goods import Model, Size

Runs = Literal["spot", "up", "along"]
Cut = Literal["notch", "slit", "keep out", "opening", "framing", "none"]
Fill = Literal["fill", "empty"]
Access = Literal["none", "cover", "floor"]
Depth = Literal["room face", "concrete", "middle", "whole"]


class Kind(Model):
    """One kind of thing: a spot, something that runs up the wall, or something that runs along it.

    `sits` says which side of the stud space it takes its depth from. `clear` is kept free on all sides;
    `access` says what people must still reach: an opening with a cover, or free floor in front.
    One that `locks` leaves every bay that it touches without a piece. `most_width` and `most_height` are
    the largest that one is likely to be which was only counted.
    """

    name: str
    runs: Runs
    cut: Cut
    behind: Fill
    in_front: Fill
    sits: Depth
    trade: str
    width: Size | None = None
    height: Size | None = None
    depth: Size | None = None
    most_width: Size | None = None
    most_height: Size | None = None
    clear: Size
    wrapped: bool = False
    framed: bool = False
    locks: bool = False
    access: Access = "none"
    door: Size | None = None
    closes: bool = False
    no_foam: bool = False
    hollow: Size | None = None
    caution: str | None = None


@cache
def kinds() -> Mapping[str, Kind]:
    """All kinds by the word that a job file uses."""
    text = (files("warmside") / "data" / "in_the_way.toml").read_text("utf-8")
    return {name: Kind.model_validate({"name": name, **entry}) for name, entry in tomllib.loads(text).items()}


@cache
def _names() -> Mapping[str, str]:
    return tomllib.loads((files("warmside") / "data" / "kind_names.toml").read_text("utf-8"))


def kind_meant(words: str) -> str | None:
    """The kind that people mean: its own name, or what they call it, also in the plural; None for neither."""
    low = words.strip().lower()
    for single in (low, low.removesuffix("s"), low.removesuffix("es")):
        name = _names().get(single, single)
        if name in kinds():
            return name
    return None
