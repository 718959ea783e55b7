"""What the survey left open, alike things in one sentence: which walls, what was taken, and why.

The sentences and the values taken are those of the resolved house; here they are only brought together.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from warmside.job.resolve import Assumption, House
from warmside.paper.phrases import joined, listed
from warmside.say import Note, Voice

OF_THINGS = "assumed.kind"


@dataclass(frozen=True)
class AssumedShown:
    """One sentence, and the places it holds for; empty for the whole house."""

    places: str
    text: str


def each_once(house: House) -> list[Assumption]:
    """Every assumption once; what holds for the whole house is met again at each wall."""
    return list({assumption.field: assumption for assumption in house.assumptions}.values())


def assumed(house: House, voice: Voice) -> tuple[AssumedShown, ...]:
    """One sentence for each kind of assumption, in the order in which they were met."""
    by_code: dict[str, list[Assumption]] = {}
    for assumption in each_once(house):
        by_code.setdefault(assumption.note.code, []).append(assumption)
    return tuple(_sentence(house, voice, code, every) for code, every in by_code.items())


def _sentence(house: House, voice: Voice, code: str, every: Sequence[Assumption]) -> AssumedShown:
    if code == OF_THINGS:
        return AssumedShown("", voice.line(code, value=_sizes(house, voice, every)))
    by_value: dict[str, list[str]] = {}
    for assumption in every:
        value = assumption.note.args["value"]
        text = voice.text(value) if isinstance(value, Note) else str(value)
        by_value.setdefault(text, []).append(_place(voice, assumption))
    if len(by_value) == 1:
        [(value, places)] = by_value.items()
        return AssumedShown(listed(voice, [p for p in places if p]), voice.line(code, value=value))
    several = [
        voice.line("paper.assumed.at", value=value, places=listed(voice, places))
        for value, places in by_value.items()
    ]
    return AssumedShown("", voice.line(code, value=joined(voice, several, "paper.assumed.apart")))


def _place(voice: Voice, assumption: Assumption) -> str:
    """The wall, and the thing where the assumption is about one."""
    wall = assumption.note.where.wall
    if wall is None:
        return ""
    thing = _inside(assumption).rpartition(".")[0]
    of_wall = thing in ("", "frame", "rim")
    return wall if of_wall else voice.line("paper.assumed.thing", wall=wall, thing=thing)


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
