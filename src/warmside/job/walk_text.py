"""The job file of a first walk: the template of a language with the answers in it, and its comments.

What was not answered stands as unknown. Heights, gap and frame are one for all walls: a wall that differs is
corrected in the file.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from importlib.resources import files
from string import Template
from typing import Any

from warmside.catalog.climates import ClimateError, country_of, find_place
from warmside.job.walk_through import BARE, Walk, Walls, signs
from warmside.say import UnitSystem
from warmside.units import FOOT, INCH, MM, Length

COMMENT_AT = 36
"""Column at which the comments of the written job begin."""


def job_text(walk: Walk, language: str = "en") -> str:
    """The job file of a walk, with its comments; all that was not answered stands as unknown."""
    given = walk.answers
    walls: Walls = given.get("walls", Walls())
    town, region, country = located(given.get("place", []))
    frame = {**given.get("frame", {}), **{k: v for k, v in given.get("studs", {}).items() if v is not None}}
    least_most = {key: _pair(given.get(key), walk.show) for key in ("showing", "gap")}
    blanks = {
        "name": " ".join(walk.name.split()),
        "name_toml": _toml(walk.name),
        "show": _toml(walk.show),
        "bare": _toml(BARE[walk.show]),
        "town": _toml(town),
        "region": _toml(region),
        "country": _toml(country),
        "total": _toml(_written(walls.total.length, walk.show) if walls.total else None),
        "spacing": _toml(_written(frame.get("spacing"), walk.show)),
        "frame": _toml(frame.get("state")),
        "studs": _toml(frame.get("studs")),
        "joists": _toml(_joists_of_all(given.get("joists", []))),
        "existing": _toml([{"kind": k} for k in given["existing"]] if "existing" in given else None),
        "counts": "".join(f"{_toml(k)} = {n}\n" for k, n in given.get("counts", {}).items()),
        "walls": _walls_text(walk, walls, language),
        **{key: _toml(value) for key, value in least_most.items()},
        **{key: _toml(_written(given.get(key), walk.show)) for key in ("height", "rim")},
        **{key: _toml(given.get(key)) for key in ("year", "upstairs", "foundation", "flame")},
        **_looked_at(given),
    }
    text = Template(_template("new_job.txt", language)).substitute(blanks)
    if walls.total and walls.total.exposure:
        text = text.replace("[every_wall]\n", f"[every_wall]\nexposure = {_toml(walls.total.exposure)}\n", 1)
    text = re.sub(r"\n{3,}", "\n\n", text.rstrip("\n"))
    return "\n".join(_aligned(line) for line in text.split("\n")) + "\n"


def located(parts: Sequence[str]) -> tuple[str | None, str | None, str | None]:
    """Town, region and country; a second word is a region where one is called so, else a country.

    A town that stands alone gets those of the listed one of its name, where there is one only.
    """
    if len(parts) in (1, 2) and (split := _with_region(parts[0]))[1] is not None:
        return split[0], split[1], parts[1] if len(parts) == 2 else country_of(split[1])
    if len(parts) == 2:
        home = country_of(parts[1])
        return (parts[0], parts[1], home) if home else (parts[0], None, parts[1])
    if len(parts) == 1:
        try:
            found = find_place(parts[0])
        except ClimateError:
            return parts[0], None, None
        alike = found.asked.casefold() == parts[0].casefold()
        return (
            (parts[0], found.asked_region or None, found.asked_country) if alike else (parts[0], None, None)
        )
    town, region, country = parts or (None, None, None)
    return town, region, country


def _with_region(town: str) -> tuple[str, str | None]:
    """Thunder Bay Ontario as a town and its region."""
    name, _, last = town.rpartition(" ")
    return (name, last) if name and country_of(last) else (town, None)


def _looked_at(given: Mapping[str, Any]) -> dict[str, str]:
    """What was seen of each hazard of the round; water may have been said by its own flag."""
    seen: dict[str, str | None] = dict(given.get("signs", {}))
    if "water" in given:
        seen[signs()["water"].hazard] = given["water"]
    return {s.hazard.replace("-", "_"): _toml(seen.get(s.hazard)) for s in signs().values()}


def _template(name: str, language: str) -> str:
    return (files("warmside") / "data" / "messages" / language / name).read_text("utf-8")


def _joists_of_all(joists: Sequence[str]) -> str | None:
    return {"all": "land here", "none": "run alongside"}.get(" ".join(joists))


def _walls_text(walk: Walk, walls: Walls, language: str) -> str:
    """The head of the walls and a table for each."""
    if not walls.walls:
        return ""
    landing: Sequence[str] = walk.answers.get("joists", [])
    by_wall = bool(landing) and _joists_of_all(landing) is None
    tables = []
    for name, wall in zip(walls.names, walls.walls, strict=True):
        lines = ["[[wall]]", f"name = {_toml(name)}", f"length = {_toml(_written(wall.length, walk.show))}"]
        lines.append(f"exposure = {_toml(wall.exposure)}")
        if by_wall:
            joists = "land here" if name in landing else "run alongside"
            lines.append(f"rim = {_toml({'joists': joists})}")
        tables.append("\n".join(lines) + "\n")
    return _template("new_walls.txt", language) + "\n" + "\n".join(tables)


def _pair(ends: tuple[Length, Length] | None, show: UnitSystem) -> list[str | None] | None:
    return None if ends is None else [_written(end, show) for end in ends]


def _written(length: Length | None, show: UnitSystem) -> str | None:
    """A length as a job file has it, exact: in feet and inches where it is whole 1/32 in, else in mm."""
    if length is None:
        return None
    part = Fraction(length, INCH)
    if show == "mm" or part.denominator > 32:
        return f"{float(Fraction(length, MM)):g} mm"
    feet, inches = divmod(part, FOOT // INCH) if length >= 10 * FOOT else (0, part)
    whole, rest = divmod(inches, 1)
    words = "-".join(str(number) for number in (whole, rest) if number) or "0"
    spoken = f"{words} in" if inches or not feet else ""
    return f"{feet} ft {spoken}".strip() if feet else spoken


def _toml(value: Any) -> str:
    """A value as TOML; None is unknown."""
    if value is None:
        return '"unknown"'
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _aligned(line: str) -> str:
    """A key with its comment at one column."""
    key, sign, comment = line.partition("  # ")
    return f"{key.rstrip():<{COMMENT_AT - 1}} # {comment.strip()}" if sign and "=" in key else line
