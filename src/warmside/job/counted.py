"""What was only counted against what stands one by one, and what was measured twice.

A count or a second measurement never replaces the first: both are told, and which one counts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from warmside.catalog.kinds import kind_meant, kinds
from warmside.job.every_wall import on_walls
from warmside.job.faults import brief
from warmside.job.findings import Found, found, unlisted, walls_of
from warmside.job.lines import KeyPath
from warmside.job.survey import Gap, Profile, Survey, Wall
from warmside.say import Note
from warmside.units import INCH, Length

ROUND_OFF = Length(12 * INCH)
"""A total length that was paced off may differ from the sum of the walls by this much (common practice)."""
APART = Length(INCH // 2)
"""Two measurements of one thing that differ by more are told (common practice)."""
OTHER_FACE = Length(16 * INCH)
"""Lengths against two faces differ by gap and studs at both ends, by no more than this (common practice)."""


def counts(survey: Survey) -> Iterator[Found]:
    """Counts of no kind, and counts that what stands one by one contradicts."""
    yield from _known_kinds(survey.every_wall.counts, ("every_wall", "counts"))
    for path, wall in walls_of(survey):
        yield from _known_kinds(wall.counts, (*path, "counts"))
        for kind, count in wall.counts.items():
            placed = sum(thing.kind == kind for thing in wall.in_the_way)
            if placed > count:
                args = {"kind": brief(kind), "count": count, "placed": placed}
                yield found("warning.counted_less", (*path, "counts", kind), **args)
    for kind, count in survey.every_wall.counts.items():
        placed = on_walls(survey, kind)
        if placed > count:
            args = {"kind": brief(kind), "count": count, "placed": placed}
            yield found("warning.counted_less", ("every_wall", "counts", kind), **args)


def _known_kinds(counts: Mapping[str, int], path: KeyPath) -> Iterator[Found]:
    for kind in counts:
        if kind not in kinds():
            yield unlisted("fault.unknown_kind", (*path, kind), kind, list(kinds()), kind_meant(kind))


def total_length(survey: Survey) -> Iterator[Found]:
    """One total length beside walls that add up to another."""
    total, lengths = survey.every_wall.total_length, [wall.length for wall in survey.wall]
    known = [length for length in lengths if length is not None]
    if total is not None and known and len(known) == len(lengths) and abs(sum(known) - total) > ROUND_OFF:
        args = {"total": total, "sum": Length(sum(known))}
        yield found("warning.total_length", ("every_wall", "total_length"), **args)


def measured_again(survey: Survey) -> Iterator[Found]:
    """A second measurement further from the first than a tape read twice; the first still counts."""
    for path, wall in walls_of(survey):
        for i, again in enumerate(wall.measured_again):
            first = first_measured(wall, again.field)
            if first is None:
                continue
            other_face = None not in (again.against, wall.against) and again.against != wall.against
            off = max(first.least - again.value, again.value - first.most)
            if off > (OTHER_FACE if again.field == "length" and other_face else APART):
                args = {
                    "what": Note(f"measured.{again.field.replace('.', '_')}"),
                    "value": again.value,
                    "who": brief(again.who),
                    "when": brief(again.when),
                    "face": Note("measured.face", {"face": again.against}) if again.against else "",
                    "off": off,
                    "first": ends_told(first),
                }
                yield found("warning.measured_apart", (*path, "measured_again", i), **args)


def ends_told(first: Profile | Gap) -> Note:
    """A measure as it stands in its field: one length, or from the least to the most."""
    code = "measured.one" if first.least == first.most else "measured.range"
    return Note(code, {"least": first.least, "most": first.most})


def first_measured(wall: Wall, field: str) -> Profile | Gap | None:
    """What stands in the field itself, from its least to its most; None where nothing does."""
    record, _, name = field.rpartition(".")
    value = getattr(getattr(wall, record) if record else wall, name)
    if value is None or isinstance(value, Profile | Gap):
        return value
    return Gap.model_construct(least=value, most=value)
