"""Lengths as people write them, held as whole 1/160 mm; resistances and temperatures at the edges.

One unit is 1/160 mm, so that both 1/32 in (127 units) and 0.1 mm (16 units) are exact. A bare number is a
length only where the caller states its unit: a file that says `bare_numbers = "in"`.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import NewType

Length = NewType("Length", int)

MM = Length(160)
METRE = Length(160_000)
INCH = Length(4064)
FOOT = Length(12 * INCH)

UNITS: dict[str, Length] = {
    "mm": MM,
    "cm": Length(10 * MM),
    "m": METRE,
    "in": INCH,
    "ft": FOOT,
}

RSI_PER_R = 0.3048**2 / 1055.05585262 * 3600 / 1.8
"""One h.ft2.F/Btu in m2.K/W, from the international foot and the International Table Btu (ISO 31-4)."""

_SPELLINGS = {
    "millimetre": "mm",
    "millimetres": "mm",
    "millimeter": "mm",
    "millimeters": "mm",
    "centimetre": "cm",
    "centimetres": "cm",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
}
_QUOTES = str.maketrans(
    {"’": "'", "‘": "'", "′": "'", "`": "'", "”": '"', "“": '"', "″": '"', "−": "-", "–": "-"}
)
_VULGAR = {
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
}
_SPOKEN = {"half": 2, "halve": 2, "quarter": 4, "eighth": 8, "sixteenth": 16, "thirty-second": 32}
_LONGEST = 80
_NUMBER = r"\d{1,9}(?:\.\d{1,18})?|\.\d{1,18}"
_QUANTITY = rf"(?:\d{{1,9}}(?:\s*-\s*|\s+)\d{{1,4}}/\d{{1,4}}|\d{{1,4}}/\d{{1,4}}|{_NUMBER})"
_IMPERIAL = re.compile(
    rf"(?:(?P<feet>{_QUANTITY})\s*(?:'(?!')|ft\.?|feet|foot))?"
    rf"(?:\s*(?:[-,]|and)?\s*(?P<inches>{_QUANTITY})\s*(?P<mark>\"|''|in\.?|inch|inches)?)?"
)
_METRIC = re.compile(rf"(?P<value>{_NUMBER})\s*(?P<unit>[a-z]+)\.?")
_FRACTION_WORD = re.compile(
    r"(?:and\s+)?\b(\d+|an?|one|three)\s+(half|halves|quarters?|eighths?|sixteenths?|thirty[- ]seconds?)\b"
)


class LengthError(ValueError):
    """The text is not a length; the message says what was read and what would be right."""


def parse_length(text: str, bare_unit: str | None = None) -> Length:
    """Read a length such as `12' 4-3/8"`, `43/8"`, `88.5 in`, `3770 mm` or `12 foot 4 and 3 eighths`.

    `bare_unit` (mm, cm, m, in or ft) is the unit of a number that carries none; without it such a number is
    refused, unless it is 0. Raises LengthError.
    """
    if len(text) > _LONGEST:
        raise LengthError(f"{shown(text)} is too long for a length; write it like 12' 4-3/8\" or 3770 mm")
    plain = _plain(text)
    if re.fullmatch(_QUANTITY, plain):
        return _bare(text, plain, bare_unit)
    if re.search(r"\d,\d", plain) and "'" not in plain:
        raise LengthError(f"{shown(text)}: a comma in a number can be read two ways; write 3.77 m or 3770 mm")
    metric = _METRIC.fullmatch(plain)
    if metric and (unit := _SPELLINGS.get(metric["unit"], metric["unit"])) in ("mm", "cm", "m"):
        return _whole(Fraction(metric["value"]) * UNITS[unit])
    imperial = _IMPERIAL.fullmatch(plain)
    if imperial and (imperial["feet"] or (imperial["inches"] and imperial["mark"])):
        return _imperial(text, imperial)
    raise LengthError(f"{shown(text)} is not a length; write it like 12' 4-3/8\", 88.5 in, 3770 mm or 3.77 m")


def shown(text: str) -> str:
    """The start of a text in quotes; without them where it holds both kinds, as feet and inches do."""
    short = text if len(text) <= 40 else text[:37] + "..."
    if not short.isprintable():
        return repr(short)
    quote = next((sign for sign in "'\"" if sign not in short), "")
    return f"{quote}{short}{quote}"


def _plain(text: str) -> str:
    """Lower case, straight quotes, spoken and vulgar fractions written with a slash."""
    plain = text.translate(_QUOTES).replace("⁄", "/")
    for sign, fraction in _VULGAR.items():
        plain = plain.replace(sign, f" {fraction}")
    plain = _FRACTION_WORD.sub(_spoken, plain.lower())
    return re.sub(r"(?<=\d)\s+and\s+(?=\d+/)", " ", plain).strip()


def _spoken(match: re.Match[str]) -> str:
    count = {"a": "1", "an": "1", "one": "1", "three": "3"}.get(match[1], match[1])
    word = match[2].replace(" ", "-").removesuffix("s")
    return f" {count}/{_SPOKEN[word]}"


def _bare(text: str, plain: str, bare_unit: str | None) -> Length:
    quantity = _quantity(text, plain)
    if bare_unit is None and quantity == 0:
        return Length(0)
    if bare_unit is None:
        raise LengthError(f'{shown(text)} has no unit; write it like 14-1/2" or 368 mm')
    if bare_unit not in UNITS:
        raise LengthError(f"{bare_unit!r} is not a unit of length; choose one of {', '.join(UNITS)}")
    return _whole(quantity * UNITS[bare_unit])


def _imperial(text: str, match: re.Match[str]) -> Length:
    feet = _quantity(text, match["feet"]) if match["feet"] else Fraction(0)
    inches = _quantity(text, match["inches"]) if match["inches"] else Fraction(0)
    if match["feet"] and match["inches"]:
        _check_inches(text, feet, inches, match)
    return _whole(feet * FOOT + inches * INCH)


def _check_inches(text: str, feet: Fraction, inches: Fraction, match: re.Match[str]) -> None:
    """Inches behind feet can be taken one way only. Raises LengthError."""
    if inches >= 12:
        raise LengthError(f"{shown(text)}: the inches behind the feet should be under 12")
    if feet.denominator != 1:
        raise LengthError(f"{shown(text)}: feet with a part of a foot take no inches; write 3' 6\" or 3.5 ft")
    if not match["mark"] and re.fullmatch(r"\d+/\d+", match["inches"]):
        raise LengthError(f"{shown(text)}: half a foot or half an inch? write 4' 6\" or 4' 0-1/2\"")


def _quantity(text: str, written: str) -> Fraction:
    """A whole number, a decimal, a fraction, or a whole number and a fraction of a tape."""
    whole, _, fraction = re.sub(r"\s*-\s*|\s+", " ", written).rpartition(" ")
    if "/" not in fraction:
        return Fraction(fraction)
    top, bottom = map(int, fraction.split("/"))
    if bottom not in (2, 4, 8, 16, 32):
        raise LengthError(
            f"{shown(text)}: a tape has halves, quarters, 8ths, 16ths and 32nds, not {fraction}"
        )
    if whole and top >= bottom:
        raise LengthError(f"{shown(text)}: the fraction {fraction} behind a whole number should be under one")
    return Fraction(whole or 0) + Fraction(top, bottom)


def _whole(units: Fraction) -> Length:
    return Length(round(units))


def inches(length: int, nearest: int = 16) -> str:
    """The length in inches to the nearest 1/`nearest`, such as `88-3/4"`."""
    parts = _rounded(length * nearest, INCH)
    sign, parts = ("-", -parts) if parts < 0 else ("", parts)
    whole, rest = divmod(parts, nearest)
    return f'{sign}{_mixed(whole, Fraction(rest, nearest))}"'


def feet_inches(length: int, nearest: int = 16) -> str:
    """The length in feet and inches to the nearest 1/`nearest` in, such as `12' 4-3/8"`."""
    parts = _rounded(length * nearest, INCH)
    sign, parts = ("-", -parts) if parts < 0 else ("", parts)
    feet, rest = divmod(parts, 12 * nearest)
    whole, part = divmod(rest, nearest)
    tail = f'{_mixed(whole, Fraction(part, nearest))}"'
    return f"{sign}{feet}' {tail}" if feet else f"{sign}{tail}"


def millimetres(length: int) -> str:
    """The length to the nearest millimetre, such as `3770 mm`."""
    return f"{_rounded(length, MM)} mm"


def _rounded(value: int, unit: int) -> int:
    """Nearest whole multiple; halves go away from zero, as on a tape."""
    half = (2 * abs(value) + unit) // (2 * unit)
    return half if value >= 0 else -half


def _mixed(whole: int, part: Fraction) -> str:
    if not part:
        return str(whole)
    return f"{whole}-{part}" if whole else str(part)


def to_m(length: int) -> float:
    """A length in metres [m]."""
    return length / METRE


def from_m(metres: float) -> Length:
    """The nearest whole length to `metres` [m]."""
    return Length(round(metres * METRE))


def area_m2(units: int) -> float:
    """An area in square metres [m2] from one in square length units."""
    return units / METRE**2


def to_r(rsi: float) -> float:
    """Thermal resistance in h.ft2.F/Btu from `rsi` [m2.K/W]."""
    return rsi / RSI_PER_R


def to_fahrenheit(celsius: float) -> float:
    """Temperature in degrees Fahrenheit from `celsius` [degC]."""
    return celsius * 1.8 + 32.0
