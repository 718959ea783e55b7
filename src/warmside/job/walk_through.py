"""The first walk through a basement as a dialogue: questions from a table, and how their answers are read.

At most fifteen questions; an answer that is left out is unknown. Words and measures are taken as people say
them; what can be meant in two ways, or can't be, is refused in words. `walk_text` writes the job.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from typing import Any, Literal, get_args

from warmside.catalog.goods import Lumber, Model, shelf
from warmside.catalog.kinds import kind_meant, kinds
from warmside.job.sizes import bounds
from warmside.job.survey import ExistingLayer, Exposure
from warmside.say import Note, UnitSystem
from warmside.units import Length, LengthError, parse_length, shown

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


class AnswerError(ValueError):
    """An answer that can't be read; `note` says what would be right."""

    def __init__(self, code: str, **args: Any) -> None:
        super().__init__(code)
        self.note = Note(code, args)


class Question(Model):
    """One question: how its answer is read, what its lengths can be, and how much room it gets on paper.

    One that is not `asked` is only a flag: a part of another answer.
    """

    key: str
    form: Form
    room: Literal["small", "wide", "lines", "ticks"]
    words: tuple[str, ...] = ()
    bounds: str | None = None
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
        plain = text.strip().rstrip("?").rstrip()
        if plain and plain.lower().rstrip(".!") not in _table()["unknown"]["words"]:
            self.answers[question.key] = _agreed(self, question.key, self._read(plain, question))

    def _read(self, text: str, question: Question) -> Any:
        return _FORMS[question.form](text, question, self)

    def length(self, text: str, bounds: str | None) -> Length:
        """A length inside its bounds; a bare number is in inches, or in millimetres in a metric job."""
        try:
            return _within(bounds, parse_length(_paced_words(text), BARE[self.show]))
        except LengthError as error:
            raise AnswerError("walk.bad.unlike", why=str(error)) from error


_ABOUT = re.compile(r"^\s*(?:about|around|roughly|approximately|approx\.?|circa|ca\.?|~)\s*", re.IGNORECASE)
"""Everything is paced or guessed on a first walk, so the word says nothing."""
_OR_SO = re.compile(r"\s*,?\s*(?:or so|more or less|ish)\s*$", re.IGNORECASE)
_ONE = re.compile(r"^an?\s+(?=foot|inch|met)", re.IGNORECASE)
_PART = re.compile(r"^(?:an?\s+)?(half|quarter)(?:\s+of)?(?:\s+an?)?\s+", re.IGNORECASE)
_PARTS: Mapping[str, str] = {"half": "1/2 ", "quarter": "1/4 "}
_DASHED = re.compile(r"(\d{1,2})\s*[-–]\s*(\d{1,2})")


def _paced_words(text: str) -> str:
    """A measure without the words of somebody who guesses. Raises AnswerError for feet-inches by a dash."""
    plain = _ONE.sub("1 ", _OR_SO.sub("", _ABOUT.sub("", text)).strip())
    plain = _PART.sub(lambda part: _PARTS[part[1].lower()], plain)
    if dashed := _DASHED.fullmatch(plain):
        feet, inches = dashed.groups()
        raise AnswerError("walk.bad.dash", text=shown(plain), feet=feet, inches=inches)
    return plain


def _within(key: str | None, length: Length) -> Length:
    """The length, where a survey can have it at all. Raises AnswerError."""
    if key is None or bounds()[key].least <= length <= bounds()[key].most:
        return length
    args = {"size": length, "least": bounds()[key].least, "most": bounds()[key].most}
    raise AnswerError("walk.bad.size", **args)


def _agreed(walk: Walk, key: str, answer: Any) -> Any:
    """The answer, where what was answered before does not contradict it. Raises AnswerError."""
    given = {**walk.answers, key: answer}
    if "showing" in given and "height" in given and given["showing"][1] > given["height"]:
        raise AnswerError("walk.bad.showing", showing=given["showing"][1], height=given["height"])
    return answer


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
    """A year, or the first one of a decade: the older house is the one with more to look at."""
    plain = re.sub(r"^(?:in )?(?:the )?", "", _ABOUT.sub("", text).strip().lower())
    if decade := re.fullmatch(r"(?:19|20)?(\d)0'?s", plain):
        return int(plain[:4]) if len(plain) > 4 else 1900 + 10 * int(decade[1])
    if not re.fullmatch(r"1[6-9]\d\d|20\d\d", plain):
        raise AnswerError("walk.bad.year", text=shown(text))
    return int(plain)


def _word(text: str, question: Question, _walk: Walk) -> str:
    return _one_of(_table()["words"].get(text.lower(), _by(text)), question.words)


def _one_of(text: str, words: Sequence[str]) -> str:
    """The word that is meant by its beginning, or by one of its own words."""
    low = text.lower()
    fits = [w for w in words if w == low] or [w for w in words if w.startswith(low) or low in w.split()]
    if len(fits) > 1:
        raise AnswerError("walk.bad.several", text=shown(text), choices=", ".join(fits))
    if not fits:
        raise AnswerError("walk.bad.word", text=shown(text), choices=", ".join(words))
    return fits[0]


def _length(text: str, question: Question, walk: Walk) -> Length:
    return walk.length(text, question.bounds)


_TO = re.compile(r"\s+(?:to|and)\s+|\s*\.\.+\s*|(?:(?<=in)|(?<=mm)|(?<=cm)|(?<=\"))\s*[-–]\s*(?=\d)")

_RANGE = re.compile(r"^(\d{1,4}(?:/\d{1,2})?)\s*[-–]\s*(\d{1,4}\s*(?:in|inch|inches|\"|mm|cm))$")
"""6-20 in is a range; without its unit it may be feet and inches, and 1-1/2 in is a number."""


def _range(text: str, question: Question, walk: Walk) -> tuple[Length, Length]:
    parts = _TO.split(_RANGE.sub(r"\1 to \2", _ABOUT.sub("", text)))
    if len(parts) > 2:
        raise AnswerError("walk.bad.range")
    if len(parts) == 2 and (unit := re.search(r"[a-z]+\.?$|[\"']$", parts[1])) and parts[0][-1:].isdigit():
        parts[0] = f"{parts[0]} {unit[0]}"
    ends = [walk.length(part, question.bounds) for part in parts]
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


_ON_CENTRE = re.compile(r"\s*(?:\bo\.?\s?c\.?|(?:\bon )?\bcent(?:er|re)s?|\bapart|\bc/c)\s*$")


def _studs(text: str, question: Question, walk: Walk) -> dict[str, Any]:
    """Studs and spacing, or one of the two."""
    low = _ON_CENTRE.sub("", _by(text.lower()))
    match = re.fullmatch(r"(?:(?P<studs>\d+x\d+))?(?:[\s,]*(?:at\b|@)?\s*(?P<spacing>\S.*))?", low)
    if match is None:
        raise AnswerError("walk.bad.studs")
    studs, known = match["studs"], [g.id for g in shelf().goods.values() if isinstance(g, Lumber)]
    if studs is not None and studs not in known:
        raise AnswerError("walk.bad.lumber", text=shown(studs), choices=", ".join(known))
    return {
        "studs": studs,
        "spacing": walk.length(match["spacing"], question.bounds) if match["spacing"] else None,
    }


def _by(text: str) -> str:
    """2 by 4 as 2x4."""
    return re.sub(r"(\d)\s*(?:by|x|×)\s*(\d)", r"\1x\2", text)


def _walls(text: str, _question: Question, walk: Walk) -> Walls:
    # A comma between two digits belongs to a number, which is then refused in words.
    parts = [part.strip() for part in re.split(r";|,(?!\d)|(?<!\d),", text) if part.strip()]
    if len(parts) > MOST_WALLS:
        raise AnswerError("walk.bad.many_walls", most=MOST_WALLS)
    in_all = [re.sub(r"\s*\b(total|in all)\b", "", part) for part in parts]
    if in_all == parts:
        return Walls(tuple(_wall(part, walk) for part in parts))
    if len(parts) > 1:
        raise AnswerError("walk.bad.total")
    return Walls(total=_wall(in_all[0], walk, "every_wall.total_length"))


def _wall(text: str, walk: Walk, key: str = "wall.length") -> WalkedWall:
    names: Mapping[str, str] = _table()["exposures"]
    for words in sorted((*get_args(Exposure), *names), key=len, reverse=True):
        if text.lower().endswith(f" {words}"):
            return WalkedWall(_within(key, _paced(text[: -len(words)], walk)), names.get(words, words))
    _no_words_left(text, walk)
    return WalkedWall(_within(key, _paced(text, walk)), None)


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
    plain = _paced_words(text)
    if re.fullmatch(r"\d+(?:\.\d+)?", plain) and walk.show != "mm":
        raise AnswerError("walk.bad.no_unit", text=plain)
    try:
        return parse_length(plain, "mm" if walk.show == "mm" else None)
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
    """Numbers and kinds; commas may be left out, and a single thing may be named without its number."""
    found: dict[str, int] = {}
    for part in (part.strip().lower() for part in _between_counts().split(text) if part.strip()):
        number, words = _counted(part)
        if number > MOST_COUNTED:
            raise AnswerError("walk.bad.number", text=shown(part))
        kind = _kind(words)
        found[kind] = found.get(kind, 0) + number
    return found


@cache
def _between_counts() -> re.Pattern[str]:
    words = "|".join(word for word in _table()["numbers"] if word != "no")
    return re.compile(rf"[,;]|\band\b|\s+(?=(?:\d+|{words})\s+\w)", re.IGNORECASE)


def _counted(part: str) -> tuple[int, str]:
    """A number with what it counts, in either order. Raises AnswerError."""
    first = re.fullmatch(r"(\d{1,3}|[a-z]+)\s+(\D.*)", part)
    if first and (number := _number(first[1])) is not None:
        return number, first[2]
    if last := re.fullmatch(r"(\D+?)\s*[:x]?\s*(\d{1,3})", part):
        return int(last[2]), last[1]
    if kind_meant(part) is not None and not part.endswith("s"):
        return 1, part
    raise AnswerError("walk.bad.number", text=shown(part))


def _number(word: str) -> int | None:
    return int(word) if word.isdigit() else _table()["numbers"].get(word)


def _kind(words: str) -> str:
    """The kind that people mean. Raises AnswerError with those that come near."""
    if (meant := kind_meant(words)) is not None:
        return meant
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
