"""The first walk through a basement as a dialogue: questions from a table, answers, a job file.

At most fifteen questions; an answer that is left out is unknown. What is written is a job file like any
other, with its comments from a template of the language. Heights, gap and frame are taken as one for all
walls: a wall that differs is corrected in the file.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from fractions import Fraction
from functools import cache
from importlib.resources import files
from string import Template
from typing import Any, Literal, get_args

from warmside.catalog.goods import Lumber, Model, shelf
from warmside.catalog.kinds import kinds
from warmside.job.survey import ExistingLayer, Exposure
from warmside.say import Note, UnitSystem
from warmside.units import FOOT, INCH, MM, Length, LengthError, parse_length, shown

Form = Literal[
    "text",
    "year",
    "walls",
    "length",
    "range",
    "word",
    "frame",
    "studs",
    "joists",
    "counts",
    "layers",
    "signs",
    "yes_no",
]
MOST_WALLS = 60
MOST_COUNTED = 200
MOST_NAMED = 12
"""So many kinds are named where nothing comes near to what was written."""
BARE: Mapping[UnitSystem, str] = {"ft-in": "in", "mm": "mm"}
COMMENT_AT = 36
"""Column at which the comments of the written job begin."""


class AnswerError(ValueError):
    """An answer that can't be read; `note` says what would be right."""

    def __init__(self, code: str, **args: Any) -> None:
        super().__init__(code)
        self.note = Note(code, args)


class Question(Model):
    """One question: how its answer is read, and how much room it gets on paper.

    One that is not `asked` is only a flag: a part of another answer.
    """

    key: str
    form: Form
    room: Literal["small", "wide", "lines", "ticks"]
    words: tuple[str, ...] = ()
    asked: bool = True


class Sign(Model):
    """What stops the work, as the walk names it; `by_eye` where a look can say that it is not there."""

    hazard: str
    by_eye: bool


@dataclass(frozen=True)
class WalkedWall:
    """A wall as it was paced off."""

    length: Length
    exposure: str | None


@dataclass(frozen=True)
class Walls:
    """The walls in their order, or one total length of them all."""

    walls: tuple[WalkedWall, ...] = ()
    total: WalkedWall | None = None

    @property
    def names(self) -> list[str]:
        """A, B, C ... Z, A2, B2 ..."""
        letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
        rounds = range(len(self.walls))
        return [letters[n % 26] + (str(n // 26 + 1) if n >= 26 else "") for n in rounds]


@dataclass
class Walk:
    """What has been answered so far, by the key of its question; what is missing is unknown."""

    name: str
    show: UnitSystem = "ft-in"
    answers: dict[str, Any] = field(default_factory=dict)

    def give(self, question: Question, text: str) -> None:
        """Take an answer as it was written. Raises AnswerError; an empty one, or `unknown`, is unknown."""
        if text.strip() and text.strip().lower() != "unknown":
            self.answers[question.key] = _FORMS[question.form](text.strip(), question, self)

    def length(self, text: str) -> Length:
        """A length; a number without a unit is in inches, or in millimetres in a metric job."""
        try:
            return parse_length(text, BARE[self.show])
        except LengthError as error:
            raise AnswerError("walk.bad.unlike", why=str(error)) from error


@cache
def _table() -> Mapping[str, Any]:
    return tomllib.loads((files("warmside") / "data" / "walk_through.toml").read_text("utf-8"))


@cache
def flags() -> tuple[Question, ...]:
    """All questions, also those that are parts of others and can only be given."""
    return tuple(Question.model_validate(entry) for entry in _table()["question"])


def questions() -> tuple[Question, ...]:
    """The questions that are asked, in walking order."""
    return tuple(question for question in flags() if question.asked)


@cache
def signs() -> Mapping[str, Sign]:
    """What stops the work, by the word that is written for it."""
    return {word: Sign.model_validate(entry) for word, entry in _table()["signs"].items()}


# How answers are read


def _text(text: str, _question: Question, _walk: Walk) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()][:3]


def _year(text: str, _question: Question, _walk: Walk) -> int:
    if not re.fullmatch(r"1[6-9]\d\d|20\d\d", text):
        raise AnswerError("walk.bad.year", text=shown(text))
    return int(text)


def _word(text: str, question: Question, _walk: Walk) -> str:
    return _one_of(_by(text), question.words)


def _one_of(text: str, words: Sequence[str]) -> str:
    """The word that is meant by its beginning, or by one of its own words."""
    low = text.lower()
    fits = [w for w in words if w == low] or [w for w in words if w.startswith(low) or low in w.split()]
    if len(fits) != 1:
        raise AnswerError("walk.bad.word", text=shown(text), choices=", ".join(words))
    return fits[0]


def _length(text: str, _question: Question, walk: Walk) -> Length:
    return walk.length(text)


def _range(text: str, _question: Question, walk: Walk) -> tuple[Length, Length]:
    parts = re.split(r"\s+(?:to|and)\s+|\s*\.\.+\s*", text)
    if len(parts) > 2:
        raise AnswerError("walk.bad.range")
    if len(parts) == 2 and (unit := re.search(r"[a-z]+\.?$|[\"']$", parts[1])) and parts[0][-1:].isdigit():
        parts[0] = f"{parts[0]} {unit[0]}"
    ends = [walk.length(part) for part in parts]
    if ends[0] > ends[-1]:
        raise AnswerError("walk.bad.range")
    return ends[0], ends[-1]


def _frame(text: str, question: Question, walk: Walk) -> dict[str, Any]:
    """Whether a frame stands, and studs and spacing or one of the two, in any order; or any part alone."""
    low = text.lower()
    for word in re.findall(r"[a-z]{3,}", low):
        if len(fits := [state for state in question.words if state.startswith(word)]) == 1:
            rest = re.sub(rf"\b{word}\b", "", low, count=1).strip(" ,;")
            return {"state": fits[0], **(_studs(rest, question, walk) if rest else {})}
    if low[0].isalpha():
        return {"state": _one_of(low, question.words)}
    return {"state": None, **_studs(low, question, walk)}


_ON_CENTRE = re.compile(r"\s*(?:\bo\.?\s?c\.?|\bon cent(?:er|re)s?|\bapart|\bc/c)\s*$")


def _studs(text: str, _question: Question, walk: Walk) -> dict[str, Any]:
    """Studs and spacing, or one of the two."""
    low = _ON_CENTRE.sub("", _by(text.lower()))
    match = re.fullmatch(r"(?:(?P<studs>\d+x\d+))?(?:[\s,]*(?:at\b|@)?\s*(?P<spacing>\S.*))?", low)
    if match is None:
        raise AnswerError("walk.bad.studs")
    studs, known = match["studs"], [g.id for g in shelf().goods.values() if isinstance(g, Lumber)]
    if studs is not None and studs not in known:
        raise AnswerError("walk.bad.lumber", text=shown(studs), choices=", ".join(known))
    return {"studs": studs, "spacing": walk.length(match["spacing"]) if match["spacing"] else None}


def _by(text: str) -> str:
    """2 by 4 as 2x4."""
    return re.sub(r"(\d)\s*(?:by|x|×)\s*(\d)", r"\1x\2", text)


def _walls(text: str, _question: Question, walk: Walk) -> Walls:
    parts = [part.strip() for part in re.split(r"[,;]", text) if part.strip()]
    if len(parts) > MOST_WALLS:
        raise AnswerError("walk.bad.many_walls", most=MOST_WALLS)
    in_all = [re.sub(r"\s*\b(total|in all)\b", "", part) for part in parts]
    if in_all == parts:
        return Walls(tuple(_wall(part, walk) for part in parts))
    if len(parts) > 1:
        raise AnswerError("walk.bad.total")
    return Walls(total=_wall(in_all[0], walk))


def _wall(text: str, walk: Walk) -> WalkedWall:
    for words in (*get_args(Exposure), "outside", "unheated"):
        if text.lower().endswith(f" {words}"):
            return WalkedWall(_paced(text[: -len(words)], walk), _one_of(words, get_args(Exposure)))
    _no_words_left(text, walk)
    return WalkedWall(_paced(text, walk), None)


def _no_words_left(text: str, walk: Walk) -> None:
    """A length with a word behind it that is no exposure is told as such, not as a bad length."""
    words = text.split()
    for at in range(1, len(words)):
        behind = " ".join(words[at:])
        if behind[0].isalpha() and _reads(" ".join(words[:at]), walk) and not _reads(text, walk):
            raise AnswerError("walk.bad.word", text=shown(behind), choices=", ".join(get_args(Exposure)))


def _reads(text: str, walk: Walk) -> bool:
    try:
        _paced(text, walk)
    except AnswerError:
        return False
    return True


def _paced(text: str, walk: Walk) -> Length:
    """A wall is paced in feet or metres: a bare number is refused, because it would be inches elsewhere."""
    if re.fullmatch(r"\s*\d+(?:\.\d+)?\s*", text) and walk.show != "mm":
        raise AnswerError("walk.bad.no_unit", text=text.strip())
    try:
        return parse_length(text.strip(), "mm" if walk.show == "mm" else None)
    except LengthError as error:
        raise AnswerError("walk.bad.unlike", why=str(error)) from error


def _joists(text: str, _question: Question, walk: Walk) -> list[str]:
    """Names of the walls on which joists land."""
    walls: Walls = walk.answers.get("walls", Walls())
    if text.lower() in ("all", "none"):
        return [text.lower()]
    if not walls.walls:
        raise AnswerError("walk.bad.joists_total")
    named = [part.upper() for part in re.split(r"[,;\s]+", text) if part and part.lower() != "and"]
    for name in named:
        if name not in walls.names:
            raise AnswerError("walk.bad.wall", text=shown(name), choices=", ".join(walls.names))
    return named


def _counts(text: str, _question: Question, _walk: Walk) -> dict[str, int]:
    found: dict[str, int] = {}
    for part in (part.strip().lower() for part in re.split(r"[,;]| and ", text) if part.strip()):
        match = re.fullmatch(r"(\d{1,3}|[a-z]+)\s+(\D.*)", part)
        number = _number(match[1]) if match else None
        if match is None or number is None or number > MOST_COUNTED:
            raise AnswerError("walk.bad.number", text=shown(part))
        kind = _kind(match[2])
        found[kind] = found.get(kind, 0) + number
    return found


def _number(word: str) -> int | None:
    return int(word) if word.isdigit() else _table()["numbers"].get(word)


def _kind(words: str) -> str:
    """The kind that people mean: its own name, a name of the table, either of them in the plural."""
    for single in _singles(words):
        name = _table()["names"].get(single, single)
        if name in kinds():
            return str(name)
    near = [kind for kind in kinds() if set(_singles(words)[-1].split()) & set(kind.split())]
    near = near or get_close_matches(words, list(kinds())) or list(kinds())[:MOST_NAMED]
    raise AnswerError("walk.bad.thing", text=shown(words), choices=", ".join(near))


def _singles(words: str) -> list[str]:
    """As it was written, and in the singular."""
    return [words, words.removesuffix("s"), words.removesuffix("es")]


def _layers(text: str, _question: Question, _walk: Walk) -> list[str]:
    if text.lower() in ("none", "no", "nothing", "bare"):
        return []
    parts = (part.strip().lower() for part in re.split(r"[,;]| and ", text) if part.strip())
    return list(dict.fromkeys(_layer(part) for part in parts))


def _layer(words: str) -> str:
    """The kind of layer that people mean by a phrase, or by one word of it."""
    known = get_args(ExistingLayer.model_fields["kind"].annotation)
    for phrase in (words, *reversed(words.split())):
        for single in _singles(phrase):
            name = _table()["layers"].get(single, single)
            if name in known:
                return str(name)
    return _one_of(words, known)


def _signs(text: str, _question: Question, _walk: Walk) -> dict[str, str]:
    """Hazards that are there, "no" before one that was looked for; `none` for all that eyes can tell."""
    found: dict[str, str] = {}
    clear = {sign.hazard: "no" for sign in signs().values() if sign.by_eye}
    for part in (part.strip().lower() for part in re.split(r"[,;]| and (?!tube)", text) if part.strip()):
        if part in _NO_OTHERS:
            found = {**clear, **found}
            continue
        absent = part.startswith("no ")
        sign = _sign(part.removeprefix("no ").strip())
        if absent and not sign.by_eye:
            raise AnswerError("walk.bad.not_by_eye", text=shown(part.removeprefix("no ")))
        found[sign.hazard] = "no" if absent else "yes"
    return found


def _sign(words: str) -> Sign:
    """What is meant by its own word, or by one that people use for it."""
    for single in _singles(words):
        if (name := _table()["sign_names"].get(single, single)) in signs():
            return signs()[name]
    return signs()[_one_of(words, tuple(signs()))]


_NO_OTHERS = frozenset({"none", "no", "nothing", "no others", "none else", "nothing else"})


def _yes_no(text: str, _question: Question, _walk: Walk) -> str:
    words = {"y": "yes", "yes": "yes", "n": "no", "no": "no"}
    if text.lower() not in words:
        raise AnswerError("walk.bad.yes_no", text=shown(text))
    return words[text.lower()]


_FORMS: Mapping[Form, Callable[[str, Question, Walk], Any]] = {
    "text": _text,
    "year": _year,
    "walls": _walls,
    "length": _length,
    "range": _range,
    "word": _word,
    "frame": _frame,
    "studs": _studs,
    "joists": _joists,
    "counts": _counts,
    "layers": _layers,
    "signs": _signs,
    "yes_no": _yes_no,
}


# The job file


def job_text(walk: Walk, language: str = "en") -> str:
    """The job file of a walk, with its comments; all that was not answered stands as unknown."""
    given = walk.answers
    walls: Walls = given.get("walls", Walls())
    place = [*given.get("place", []), None, None, None]
    frame = {**given.get("frame", {}), **{k: v for k, v in given.get("studs", {}).items() if v is not None}}
    least_most = {key: _pair(given.get(key), walk.show) for key in ("showing", "gap")}
    blanks = {
        "name": " ".join(walk.name.split()),
        "name_toml": _toml(walk.name),
        "show": _toml(walk.show),
        "bare": _toml(BARE[walk.show]),
        "town": _toml(place[0]),
        "region": _toml(place[1] if place[2] else None),
        "country": _toml(place[2] or place[1]),
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
