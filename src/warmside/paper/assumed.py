"""What the survey left open, what matters most first, like things in one sentence: what was taken, and why.

The sentences and the values taken are those of the resolved house; here they are only brought together, as
`data/assumed.toml` says.
"""

import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from warmside.catalog.goods import Model
from warmside.job.resolve import Assumption, House
from warmside.paper.phrases import capital, joined, listed
from warmside.say import Note, Voice

OF_THINGS = "assumed.kind"
OF_GOODS = "assumed.assembly."

Met = Mapping[str, Sequence[Assumption]]
"""Assumptions by the code of their sentence."""


class Line(Model):
    """Codes that are told one by one, or brought together by the sentence of `lead`.

    craft : sizes that matter to who builds, and not to who lives there
    """

    codes: tuple[str, ...]
    lead: str | None = None
    craft: bool = False


@dataclass(frozen=True)
class AssumedShown:
    """One sentence, and the places it holds for; empty for the whole house."""

    places: str
    text: str


@cache
def lines() -> tuple[Line, ...]:
    """All lines in the order in which they are told."""
    text = (files("warmside") / "data" / "assumed.toml").read_text("utf-8")
    return tuple(Line.model_validate(entry) for entry in tomllib.loads(text)["line"])


def each_once(house: House) -> list[Assumption]:
    """Every assumption once; what holds for the whole house is met again at each wall."""
    return list({assumption.field: assumption for assumption in house.assumptions}.values())


def assumed(house: House, voice: Voice) -> tuple[AssumedShown, ...]:
    """The sentences, what matters most first."""
    met = _met(house)
    return tuple(shown for line in lines() for shown in _told(house, voice, line, met))


def assumed_for_owner(house: House, voice: Voice) -> tuple[AssumedShown, ...]:
    """The sentences for who lives there; sizes of the craft are only counted, in a last one."""
    met = _met(house)
    craft = sum(len(met.get(code, ())) for line in lines() if line.craft for code in line.codes)
    told = [shown for line in lines() if not line.craft for shown in _told(house, voice, line, met)]
    more = [AssumedShown("", voice.line("paper.owner.craft", count=craft))] if craft else []
    return (*told, *more)


def _met(house: House) -> Met:
    met: dict[str, list[Assumption]] = {}
    for assumption in each_once(house):
        met.setdefault(assumption.note.code, []).append(assumption)
    return met


def _told(house: House, voice: Voice, line: Line, met: Met) -> Iterator[AssumedShown]:
    codes = [code for code in line.codes if code in met]
    if line.lead is None or len(codes) == 1:
        yield from (_sentence(house, voice, code, met[code]) for code in codes)
    elif codes:
        items = joined(voice, [_item(house, voice, code, met[code]) for code in codes], "paper.assumed.apart")
        yield AssumedShown("", voice.line(line.lead, items=items))


def _sentence(house: House, voice: Voice, code: str, every: Sequence[Assumption]) -> AssumedShown:
    """One kind of assumption by its own sentence, led by its places where it is the same at all of them."""
    if code == OF_THINGS:
        return AssumedShown("", voice.line(code, value=_sizes(house, voice, every)))
    values = _values(house, voice, every)
    if len(values) == 1:
        [(value, places)] = values.items()
        told = _places(house, voice, places)
        return AssumedShown(capital(told), voice.line(code, value=value))
    several = [_at(house, voice, *one) for one in values.items()]
    return AssumedShown("", voice.line(code, value=joined(voice, several, "paper.assumed.apart")))


def _item(house: House, voice: Voice, code: str, every: Sequence[Assumption]) -> str:
    """One kind of assumption in a few words, for a sentence that tells several."""
    values = _values(house, voice, every)
    told = [_at(house, voice, *one) for one in values.items()]
    brief = code.removeprefix("assumed.").replace(".", "_")
    return voice.line(f"paper.assumed.brief.{brief}", value=joined(voice, told))


def _values(house: House, voice: Voice, every: Sequence[Assumption]) -> Mapping[str, Sequence[Assumption]]:
    """What was taken, in words, and where."""
    values: dict[str, list[Assumption]] = {}
    for assumption in every:
        value = assumption.note.args["value"]
        text = voice.text(value) if isinstance(value, Note) else str(value)
        good = house.shelf.goods.get(text) if assumption.note.code.startswith(OF_GOODS) else None
        values.setdefault(_inside_a_sentence(good.name) if good else text, []).append(assumption)
    return values


def _inside_a_sentence(name: str) -> str:
    """A name with a small letter first; R12 and XPS stay."""
    return name[:1].lower() + name[1:] if name[1:2].islower() else name


def _at(house: House, voice: Voice, value: str, where: Sequence[Assumption]) -> str:
    """A value with its places, but for one that holds everywhere."""
    places = _places(house, voice, where)
    everywhere = places in ("", voice.line("paper.assumed.every"))
    return value if everywhere else voice.line("paper.assumed.at", value=value, places=places)


def _places(house: House, voice: Voice, where: Sequence[Assumption]) -> str:
    """Walls in one list; things by what they are called, those that are called alike together."""
    by_thing: dict[str, list[str]] = {}
    for assumption in where:
        if assumption.note.where.wall is not None:
            by_thing.setdefault(_thing(assumption), []).append(assumption.note.where.wall)
    return joined(voice, [_place(house, voice, *one) for one in by_thing.items()], "paper.assumed.apart")


def _place(house: House, voice: Voice, thing: str, walls: Sequence[str]) -> str:
    if thing:
        return voice.line("paper.assumed.thing", walls=listed(voice, walls), thing=thing)
    every = len(walls) > 1 and len(walls) == len(house.walls)
    return voice.line("paper.assumed.every") if every else listed(voice, walls)


def _thing(assumption: Assumption) -> str:
    """What an assumption about a thing in the way is about; empty for the wall itself."""
    thing = _inside(assumption).rpartition(".")[0]
    return "" if thing in ("", "frame", "rim") else thing


def _inside(assumption: Assumption) -> str:
    """The field without the wall that it belongs to: `frame.studs`, `electrical box 1.width`."""
    return assumption.field.removeprefix(f"wall {assumption.note.where.wall}.")


def _sizes(house: House, voice: Voice, every: Iterable[Assumption]) -> str:
    """Usual sizes by the kind of thing; where things of a kind differ in one, which of them has which."""
    kinds = {f"{w.name}\n{t.id}": t.kind.name for w in house.walls for t in w.in_the_way}
    by_kind: dict[str, dict[str, dict[str, list[str]]]] = {}
    for assumption in every:
        thing, _, field = _inside(assumption).rpartition(".")
        counted = thing.rpartition(" x ")[0]
        kind = kinds.get(f"{assumption.note.where.wall}\n{thing}", counted or thing)
        values = by_kind.setdefault(kind, {}).setdefault(field, {})
        values.setdefault(voice.text(assumption.note.args["value"]), []).append(
            _short(voice, kind, assumption)
        )
    parts = [
        voice.line(
            "paper.assumed.kind",
            kind=kind,
            sizes=joined(voice, [_size(voice, *one) for one in sizes.items()]),
        )
        for kind, sizes in by_kind.items()
    ]
    return joined(voice, parts, "paper.assumed.apart")


def _short(voice: Voice, kind: str, assumption: Assumption) -> str:
    """A thing of a kind by its number in the list of its wall, or by the id that it was given."""
    thing = _inside(assumption).rpartition(".")[0].removeprefix(f"{kind} ")
    return voice.line("paper.assumed.numbered", wall=assumption.note.where.wall, thing=thing)


def _size(voice: Voice, field: str, values: Mapping[str, Sequence[str]]) -> str:
    told = [
        voice.line("paper.assumed.at", value=value, places=listed(voice, places))
        if len(values) > 1
        else value
        for value, places in values.items()
    ]
    return voice.line("paper.assumed.size", size=voice.line(f"paper.size.{field}"), value=joined(voice, told))
