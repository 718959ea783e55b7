"""What is said to people: notes by code, figures with their basis, and the tables of sentences.

No module below the papers formats text. They return a `Note`, a code with its arguments, and a `Voice` turns
it into a sentence of one language with lengths in the reader's own units.
"""

from __future__ import annotations

import string
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

from warmside import units

UnitSystem = Literal["ft-in", "mm"]


class MessageError(LookupError):
    """A sentence was asked for that no table holds, or with an argument missing."""


@dataclass(frozen=True)
class Where:
    """The place in the job that a note is about."""

    file: str | None = None
    line: int | None = None
    wall: str | None = None
    item: str | None = None


@dataclass(frozen=True)
class Note:
    """A sentence by its code; `args` fill the blanks, `where` says what it is about."""

    code: str
    args: Mapping[str, Any] = field(default_factory=dict)
    where: Where = field(default_factory=Where)


class Source(BaseModel):
    """Where a value comes from, and how far it was confirmed."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    id: str
    title: str
    part: str = ""
    year: int | None = None
    status: Literal["read", "computed", "from memory", "common practice", "invented"]


class Spread(BaseModel):
    """How far a figure may be off, and what kind of error that is."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    kind: Literal["grid", "sampling", "range"]
    value: float


class Figure(BaseModel):
    """A number with its unit and all it rests on; `value` None means can't tell, and `needs` says why."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
    value: float | None
    unit: str
    method: str
    sources: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    error: Spread | None = None
    level: Literal[1, 2, 3] = 1
    needs: tuple[str, ...] = ()


@cache
def sources() -> Mapping[str, Source]:
    """Every source that the package's data names, by id."""
    text = (files("warmside") / "data" / "sources.toml").read_text("utf-8")
    return {key: Source(id=key, **entry) for key, entry in tomllib.loads(text).items()}


@cache
def messages(language: str) -> Mapping[str, str]:
    """All sentences of a language by code. Raises MessageError for a language without a table."""
    folder = files("warmside") / "data" / "messages" / language
    if not folder.is_dir():
        raise MessageError(f"no sentences in language {language!r}; there are: {', '.join(languages())}")
    tables = sorted((f for f in folder.iterdir() if f.name.endswith(".toml")), key=lambda f: f.name)
    found: dict[str, str] = {}
    for table in tables:
        for code, sentence in _flat(tomllib.loads(table.read_text("utf-8"))):
            if code in found:
                raise MessageError(f"the code {code} stands twice in the tables of {language!r}")
            found[code] = sentence
    return found


def languages() -> list[str]:
    """The languages that have tables of sentences."""
    return sorted(f.name for f in (files("warmside") / "data" / "messages").iterdir() if f.is_dir())


def _flat(table: Mapping[str, Any], prefix: str = "") -> list[tuple[str, str]]:
    pairs: list[tuple[str, str]] = []
    for key, value in table.items():
        inner = _flat(value, f"{prefix}{key}.") if isinstance(value, dict) else [(prefix + key, str(value))]
        pairs.extend(inner)
    return pairs


def _length(nearest: int, *, feet: bool) -> Callable[[Any, UnitSystem], str]:
    imperial = units.feet_inches if feet else units.inches

    def show(value: Any, system: UnitSystem) -> str:
        return imperial(value, nearest) if system == "ft-in" else units.millimetres(value)

    return show


def _money(value: Any, _system: UnitSystem) -> str:
    return f"{value / 100:,.2f}"


def _round_money(value: Any, _system: UnitSystem) -> str:
    tens = (abs(value) + 500) // 1000 * 10
    return f"{-tens if value < 0 else tens:,d}"


def _resistance(value: Any, system: UnitSystem) -> str:
    return f"R{units.to_r(value):.0f}" if system == "ft-in" else f"RSI {value:.2f}"


def _resistance_both(value: Any, system: UnitSystem) -> str:
    whole, fine = f"R{units.to_r(value):.0f}", f"RSI {value:.2f}"
    return f"{whole} ({fine})" if system == "ft-in" else f"{fine} ({whole})"


def _resistance_pair(value: Any, system: UnitSystem) -> str:
    """R as it is to be shown, and the RSI beside it."""
    whole, fine = f"R{value[0]:g}", f"RSI {value[1]:.2f}"
    return f"{whole} ({fine})" if system == "ft-in" else f"{fine} ({whole})"


def _area_pair(value: Any, system: UnitSystem) -> str:
    """Square feet to a tenth as they are to be shown, and the square metres beside them."""
    feet, metres = f"{value[0]:.1f} sq ft", f"{value[1]:.2f} m²"
    return f"{feet} ({metres})" if system == "ft-in" else metres


def _temperature(value: Any, system: UnitSystem) -> str:
    celsius = f"{value:z.0f} °C"
    return celsius if system == "mm" else f"{celsius} ({units.to_fahrenheit(value):z.0f} °F)"


def _area(value: Any, system: UnitSystem) -> str:
    return f"{value:.1f} m²" if system == "mm" else f"{value / 0.3048**2:.0f} sq ft"


def _depth(value: Any, system: UnitSystem) -> str:
    """A depth in the ground, from metres, to a tenth of a metre or a whole inch."""
    return f"{value:.1f} m" if system == "mm" else units.feet_inches(units.from_m(value), 1)


def _batt(value: Any, system: UnitSystem) -> str:
    """To a quarter inch or 5 mm, as fine as a batt is cut."""
    five = 5 * units.MM
    return (
        units.inches(value, 4) if system == "ft-in" else units.millimetres((value + five // 2) // five * five)
    )


def _stated(value: Any, system: UnitSystem) -> str:
    """A length as a code or a maker states it: whole millimetres keep them, with plain inches beside.

    Of what is thin, such as sheets, tenths of a millimetre are told.
    """
    on_a_tape = value * 16 % units.INCH == 0
    if system == "mm" and value % units.MM and abs(value) < _THIN:
        return f"{value / units.MM:.1f} mm"
    if system == "mm" or on_a_tape or value % units.MM:
        return _length(16, feet=False)(value, system)
    near = next((n for n in (1, 2, 4, 8) if _is_near(value, n)), 16)
    return f"{units.millimetres(value)} ({units.inches(value, near)})"


_THIN = 20 * units.MM


def _is_near(value: int, parts: int) -> bool:
    """Whether the nearest 1/`parts` in is within 2 % of a length, as 4 in is of 100 mm."""
    return abs(round(value * parts / units.INCH) * units.INCH / parts - value) < 0.02 * value


def _run(value: Any, system: UnitSystem) -> str:
    """What is on a roll, in whole feet or metres to a tenth."""
    return f"{value / units.FOOT:.0f} ft" if system == "ft-in" else f"{round(units.to_m(value), 1):g} m"


_SHOW: dict[str, Callable[[Any, UnitSystem], str]] = {
    "length": _length(16, feet=True),
    "inches": _length(16, feet=False),
    "batt": _batt,
    "board": _length(8, feet=False),
    "stated": _stated,
    "run": _run,
    "money": _money,
    "about_money": _round_money,
    "R": _resistance,
    "R_both": _resistance_both,
    "R_pair": _resistance_pair,
    "area_pair": _area_pair,
    "temperature": _temperature,
    "area": _area,
    "depth": _depth,
    "percent": lambda value, _system: f"{100 * value:.0f} %",
}


@dataclass(frozen=True)
class Voice(string.Formatter):
    """One language and one system of units; turns notes into sentences."""

    system: UnitSystem = "ft-in"
    language: str = "en"

    def text(self, note: Note) -> str:
        """The sentence of a note, without its place. Raises MessageError."""
        return self.line(note.code, **note.args)

    def line(self, code: str, /, **args: Any) -> str:
        """The sentence of `code` with its blanks filled. Raises MessageError."""
        template = messages(self.language).get(code)
        if template is None:
            raise MessageError(f"no sentence {code!r} in language {self.language!r}")
        try:
            return self.vformat(template, (), args)
        except KeyError as missing:
            raise MessageError(f"the sentence {code!r} needs {missing}") from missing

    def show(self, kind: str, value: Any) -> str:
        """A value for people, such as a length to the nearest 1/16 in or R12. Raises MessageError."""
        if kind not in _SHOW:
            raise MessageError(f"no way to show {kind!r}; there are: {', '.join(_SHOW)}")
        return _SHOW[kind](value, self.system)

    def format_field(self, value: Any, format_spec: str) -> Any:
        """Blanks such as {height:length} or {worth:R}; a nested Note is spoken."""
        if isinstance(value, Note):
            return self.text(value)
        if format_spec in _SHOW:
            return self.show(format_spec, value)
        return super().format_field(value, format_spec)

    def located(self, note: Note) -> str:
        """The sentence led by its place: file and line, wall, item."""
        where = note.where
        at_line = where.file and where.line
        place = [self.line("where.line", file=where.file, line=where.line) if at_line else where.file or ""]
        place += [self.line("where.wall", wall=where.wall)] if where.wall else []
        place += [where.item] if where.item else []
        lead = ", ".join(part for part in place if part)
        return f"{lead}: {self.text(note)}" if lead else self.text(note)
