"""What a survey says against itself: twice the same name, a thing outside its wall, a price for no goods.

Works on the values as surveyed, as far as they are known; nothing is assumed but the size of a kind where a
thing gives none. Bays that don't add up and the closing error of the round need resolved geometry and are not
looked at here. The bounds of what a measure can be at all stand in `data/survey_bounds.toml`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from importlib.resources import files
from typing import Any, get_args

from warmside.catalog.codes import rule_sets
from warmside.catalog.goods import (
    Batt,
    Board,
    Good,
    LengthField,
    Lumber,
    Membrane,
    Model,
    Sealant,
    Shelf,
    Status,
    Tape,
    Wrap,
    shelf,
)
from warmside.catalog.kinds import Kind, kinds
from warmside.job.every_wall import on_walls
from warmside.job.faults import brief, nearest
from warmside.job.lines import KeyPath
from warmside.job.survey import (
    Assembly,
    EveryWall,
    ExistingLayer,
    Facing,
    Gap,
    Inside,
    Profile,
    Survey,
    Thing,
    Wall,
)
from warmside.say import Note
from warmside.units import INCH, METRE, Length, shown

NONE = "none"
MOST_LISTED = 8
ROUND_OFF = Length(12 * INCH)
"""A total length that was paced off may differ from the sum of the walls by this much (common practice)."""
APART = Length(INCH // 2)
"""Two measurements of one thing that differ by more are told (common practice)."""


@dataclass(frozen=True)
class Found:
    """Something that can't be right at `path`: the code of its sentence and what fills the blanks."""

    code: str
    path: KeyPath
    args: Mapping[str, Any]


def found(code: str, path: KeyPath, **args: Any) -> Found:
    """A finding with the blanks of its sentence by name."""
    return Found(code, path, args)


class Bound(Model):
    """The least and the most that a measure can be, and why."""

    least: LengthField
    most: LengthField
    source: str
    status: Status


@cache
def bounds() -> Mapping[str, Bound]:
    """The bounds of every measure, by its key in a job file."""
    text = (files("warmside") / "data" / "survey_bounds.toml").read_text("utf-8")
    return {key: Bound.model_validate(entry) for key, entry in tomllib.loads(text).items()}


def cross_check(survey: Survey) -> Iterator[Found]:
    """Everything in a survey that contradicts the rest of it or cannot be."""
    for check in _CHECKS:
        yield from check(survey)


def _walls(survey: Survey) -> Iterator[tuple[KeyPath, Wall]]:
    for i, wall in enumerate(survey.wall):
        yield ("wall", i), wall


def _parts(survey: Survey) -> Iterator[tuple[KeyPath, Inside]]:
    for i, part in enumerate(survey.inside):
        yield ("inside", i), part


def _things(survey: Survey) -> Iterator[tuple[KeyPath, Wall, Thing]]:
    for path, wall in _walls(survey):
        for i, thing in enumerate(wall.in_the_way):
            yield (*path, "in_the_way", i), wall, thing


# Names and ids


def _names(survey: Survey) -> Iterator[Found]:
    seen: dict[str, KeyPath] = {}
    given = [(path, wall.name) for path, wall in _walls(survey)]
    for path, written in [*given, *((path, part.name) for path, part in _parts(survey))]:
        name = " ".join(written.casefold().split())
        if not name or not written.isprintable():
            yield found("fault.name_blank", (*path, "name"))
        elif name in seen and path[0] == "inside":
            yield found("fault.inside_name_twice", (*path, "name"), name=written)
        elif name in seen:
            yield found("fault.name_twice", (*path, "name"), name=written, first=int(seen[name][1]) + 1)
        seen.setdefault(name, path)


def _ids(survey: Survey) -> Iterator[Found]:
    seen: set[str] = set()
    given = [(path, wall.id) for path, wall in _walls(survey)]
    given += [(path, thing.id) for path, _, thing in _things(survey)]
    for path, name in given:
        if name is not None and not name.strip():
            yield found("fault.id_blank", (*path, "id"))
        elif name is not None and name in seen:
            yield found("fault.id_twice", (*path, "id"), id=shown(name))
        seen.add(name or "")


# Sizes that cannot be


def _sizes(survey: Survey) -> Iterator[Found]:
    yield from _bounded("foundation", survey.foundation, ("foundation",))
    for path, wall in _walls(survey):
        yield from _bounded("wall", wall, path)
        yield from _bounded("frame", wall.frame, (*path, "frame"))
        yield from _bounded("rim", wall.rim, (*path, "rim"))
        for i, again in enumerate(wall.measured_again):
            key = again.field if "." in again.field else f"wall.{again.field}"
            yield from _within(bounds()[key], again.value, (*path, "measured_again", i, "value"))
        yield from _old_sizes(wall.existing, path)
    yield from _common_sizes(survey.every_wall)
    for path, part in _parts(survey):
        yield from _bounded("inside", part, path)
    for path, _, thing in _things(survey):
        kind = kinds().get(thing.kind)
        yield from _bounded("box" if kind is not None and kind.wrapped else "thing", thing, path)
        if kind is not None and kind.wrapped and thing.back is not None:
            yield from _within(bounds()["thing.back"], thing.back, (*path, "back"))


def _old_sizes(layers: Sequence[ExistingLayer], path: KeyPath) -> Iterator[Found]:
    for i, layer in enumerate(layers):
        yield from _bounded("existing", layer, (*path, "existing", i))


def _common_sizes(common: EveryWall) -> Iterator[Found]:
    yield from _bounded("every_wall", common, ("every_wall",))
    yield from _old_sizes(common.existing, ("every_wall",))
    for part in ("frame", "rim"):
        yield from _bounded(part, getattr(common, part), ("every_wall", part))


def _bounded(record: str, model: Model, path: KeyPath) -> Iterator[Found]:
    """Every length of `model` that `record` has bounds for."""
    for key, bound in bounds().items():
        name = key.partition(".")[2] if key.startswith(f"{record}.") else None
        for inner, length in _lengths(getattr(model, name, None)) if name else ():
            yield from _within(bound, length, (*path, str(name), *inner))


def _within(bound: Bound, length: Length, path: KeyPath) -> Iterator[Found]:
    if length > bound.most:
        yield found("fault.size_over", path, size=length, most=bound.most)
    elif length < bound.least:
        yield found("fault.size_under", path, size=length, least=bound.least)


def _lengths(value: Any) -> Iterator[tuple[KeyPath, Length]]:
    """All lengths in the value of a field, each with its path inside the field."""
    if isinstance(value, Profile | Gap):
        yield from (((), edge) for edge in dict.fromkeys((value.least, value.most)))
    elif isinstance(value, dict):
        yield from (((str(key),), length) for key, length in value.items())
    elif isinstance(value, tuple):
        yield from (((i,), length) for i, length in enumerate(value))
    elif value is not None:
        yield (), value


# One wall


def _frames(survey: Survey) -> Iterator[Found]:
    for path, wall in _walls(survey):
        frame = wall.frame
        given = [key for key, value in (("bays", frame.bays), ("odd_bays", frame.odd_bays)) if value]
        if len(given) == 2:
            yield found("fault.bays_twice", (*path, "frame", "bays"))
        given += ["leans_in"] if frame.leans_in else []
        if frame.state == "none" and given:
            yield found("fault.no_frame", (*path, "frame", given[0]))


def _profiles(survey: Survey) -> Iterator[Found]:
    """Points beyond the wall's right end; more concrete showing than there is."""
    for path, wall in _walls(survey):
        profiles = [((*path, "height"), wall.height), ((*path, "concrete_showing"), wall.concrete_showing)]
        for key, profile in [*profiles, ((*path, "frame", "height"), wall.frame.height)]:
            yield from _points_inside(wall, profile, key)
        if wall.height is not None and wall.concrete_showing is not None:
            over = max(s - h for h, s in _side_by_side(wall.height, wall.concrete_showing, wall.length))
            if over > 0:
                yield found("fault.showing_over_height", (*path, "concrete_showing"), over=over)
    common = survey.every_wall
    if common.height is not None and common.concrete_showing is not None:
        over = common.concrete_showing.most - common.height
        if over > 0:
            yield found("fault.showing_over_height", ("every_wall", "concrete_showing"), over=over)


def _points_inside(wall: Wall, profile: Profile | None, path: KeyPath) -> Iterator[Found]:
    points = [point.at for point in profile.points if point.at is not None] if profile else []
    if wall.length is not None and points and max(points) > wall.length:
        yield found("fault.point_past_end", path, at=max(points), over=max(points) - wall.length)


def _side_by_side(one: Profile, other: Profile, length: Length | None) -> Iterator[tuple[Length, Length]]:
    """The values of both profiles wherever either has a point; between them both run straight."""
    ats = [point.at for point in (*one.points, *other.points) if point.at is not None]
    end = length or Length(max(ats) or METRE)
    for at in sorted({end, *ats}):
        yield one.at(at, end), other.at(at, end)


# Things in the way


@dataclass(frozen=True)
class _Spot:
    """A thing as it stands on the elevation; an edge is None where it is not known or runs through."""

    path: KeyPath
    thing: Thing
    kind: Kind

    @property
    def runs(self) -> str:
        """Whether it is a spot or runs up or along the wall."""
        return self.thing.runs or self.kind.runs

    @cached_property
    def across(self) -> tuple[int, int] | None:
        """Left and right edge."""
        thing = self.thing
        return self._edges(thing.from_left, thing.from_left_to_middle, "width")

    @cached_property
    def upright(self) -> tuple[int, int] | None:
        """Lower and upper edge."""
        return self._edges(self.thing.up, self.thing.up_to_middle, "height")

    def _edges(self, edge: Length | None, middle: Length | None, size: str) -> tuple[int, int] | None:
        usual = getattr(self.kind, size)
        extent: int | None = getattr(self.thing, size) or (usual.value if usual is not None else None)
        if edge is not None:
            return edge, edge + (extent or 0)
        if middle is None or extent is None:
            return None if middle is None else (middle, middle)
        return middle - extent // 2, middle - extent // 2 + extent

    def may_meet(self, other: _Spot) -> bool:
        """False where the two surely lie at different depths of the wall."""
        ours, theirs = self._depth(), other._depth()
        if ours is not None and theirs is not None:
            return ours[0] < theirs[1] and theirs[0] < ours[1]
        whole = "whole" in (self.kind.sits, other.kind.sits)
        return whole or self.kind.sits == other.kind.sits or "opening" in (self.kind.cut, other.kind.cut)

    def _depth(self) -> tuple[int, int] | None:
        back, depth = self.thing.back, self.thing.depth
        return None if back is None or depth is None else (back, back + depth)


def _kinds(survey: Survey) -> Iterator[Found]:
    for path, _, thing in _things(survey):
        if thing.kind not in kinds():
            yield _unknown("fault.unknown_kind", (*path, "kind"), thing.kind, list(kinds()))


def _positions(survey: Survey) -> Iterator[Found]:
    for path, wall, thing in _things(survey):
        if thing.from_left is not None and thing.from_left_to_middle is not None:
            yield found("fault.edge_and_middle", (*path, "from_left"), other="from_left_to_middle")
        if thing.up is not None and thing.up_to_middle is not None:
            yield found("fault.edge_and_middle", (*path, "up"), other="up_to_middle")
        if thing.kind in kinds():
            yield from _outside(_Spot(path, thing, kinds()[thing.kind]), wall, survey)


def _outside(spot: _Spot, wall: Wall, survey: Survey) -> Iterator[Found]:
    if spot.runs != "along" and spot.across is not None:
        if spot.across[0] < 0:
            yield found("fault.past_left", spot.path, over=-spot.across[0])
        if wall.length is not None and spot.across[1] > wall.length:
            yield found("fault.past_right", spot.path, over=spot.across[1] - wall.length)
    if spot.runs != "up" and spot.upright is not None:
        if spot.upright[0] < 0:
            yield found("fault.past_floor", spot.path, over=-spot.upright[0])
        top = _top(wall, survey)
        if top is not None and spot.upright[1] > top:
            yield found("fault.past_top", spot.path, over=spot.upright[1] - top)


def _top(wall: Wall, survey: Survey) -> int | None:
    """The highest that a thing on this wall can reach: the top of the frame, or the concrete and its sill."""
    sill = survey.foundation.sill
    above = bounds()["foundation.sill"].most if sill is None else sill
    tops = [wall.frame.height.most] if wall.frame.height is not None else []
    tops += [Length(wall.height.most + above)] if wall.height is not None else []
    return max(tops, default=None)


def _overlaps(survey: Survey) -> Iterator[Found]:
    """Two spots or openings of one wall in the same place; what runs along or up may cross them."""
    for path, wall in _walls(survey):
        spots = [
            _Spot((*path, "in_the_way", i), thing, kinds()[thing.kind])
            for i, thing in enumerate(wall.in_the_way)
            if thing.kind in kinds()
        ]
        yield from _overlapping([s for s in spots if s.runs == "spot" and s.across and s.upright])


def _overlapping(spots: list[_Spot]) -> Iterator[Found]:
    slack = bounds()["overlap"].most
    ordered = sorted(spots, key=lambda spot: (spot.across or (0, 0), spot.path[-1]))
    for i, left in enumerate(ordered):
        for right in ordered[i + 1 :]:
            width = _shared(left.across, right.across)
            if width <= slack:
                break
            height = _shared(left.upright, right.upright)
            if height > slack and left.may_meet(right):
                first, second = sorted((left, right), key=lambda spot: int(spot.path[-1]))
                yield found("fault.overlap", second.path, other=_called(first), width=width, height=height)


def _shared(one: tuple[int, int] | None, other: tuple[int, int] | None) -> int:
    return min(one[1], other[1]) - max(one[0], other[0]) if one and other else 0


def _called(spot: _Spot) -> str:
    return brief(spot.thing.id or f"{spot.thing.kind} {int(spot.path[-1]) + 1}")


# What was only counted, and what was measured twice


def _counts(survey: Survey) -> Iterator[Found]:
    """Counts of no kind, and counts that what stands one by one contradicts."""
    yield from _known_kinds(survey.every_wall.counts, ("every_wall", "counts"))
    for path, wall in _walls(survey):
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
            yield _unknown("fault.unknown_kind", (*path, kind), kind, list(kinds()))


def _total_length(survey: Survey) -> Iterator[Found]:
    """One total length beside walls that add up to another."""
    total, lengths = survey.every_wall.total_length, [wall.length for wall in survey.wall]
    known = [length for length in lengths if length is not None]
    if total is not None and known and len(known) == len(lengths) and abs(sum(known) - total) > ROUND_OFF:
        args = {"total": total, "sum": Length(sum(known))}
        yield found("warning.total_length", ("every_wall", "total_length"), **args)


def _measured_again(survey: Survey) -> Iterator[Found]:
    """A second measurement further from the first than a tape read twice; the first still counts."""
    for path, wall in _walls(survey):
        for i, again in enumerate(wall.measured_again):
            first = first_measured(wall, again.field)
            other_face = again.field == "length" and again.against not in (None, wall.against)
            if first is None or other_face:
                continue
            off = max(first.least - again.value, again.value - first.most)
            if off > APART:
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


# Goods, rules, prices


@dataclass(frozen=True)
class _Layer:
    """A layer of the assembly: what kind of good it takes, in which role, and whether it may be left out."""

    good: type[Good]
    role: str | None = None
    optional: bool = False


_LAYERS: Mapping[str, _Layer] = {
    "vapour_control": _Layer(Membrane, "vapour control", optional=True),
    "moisture_barrier": _Layer(Membrane, "moisture barrier", optional=True),
    "sheet": _Layer(Board, "sheet", optional=True),
    "foam_board": _Layer(Board, "foam board", optional=True),
    "sealant": _Layer(Sealant),
    "tape": _Layer(Tape),
    "box_wrap": _Layer(Wrap, optional=True),
}


def _shelf(survey: Survey) -> Shelf:
    return shelf().with_own(survey.goods.every())


def _goods(survey: Survey) -> Iterator[Found]:
    stock = _shelf(survey)
    yield from _assembly(stock, survey.assembly, ("assembly",))
    for path, wall in _walls(survey):
        if wall.assembly is not None:
            yield from _assembly(stock, wall.assembly, (*path, "assembly"))
        if wall.frame.studs is not None:
            yield from _layer(stock, _Layer(Lumber), wall.frame.studs, (*path, "frame", "studs"))
    if survey.every_wall.frame.studs is not None:
        studs = survey.every_wall.frame.studs
        yield from _layer(stock, _Layer(Lumber), studs, ("every_wall", "frame", "studs"))
    for path, part in _parts(survey):
        yield from _family(stock, part.batt, (*path, "batt"))
        if part.studs is not None:
            yield from _layer(stock, _Layer(Lumber), part.studs, (*path, "studs"))


def _assembly(stock: Shelf, assembly: Assembly, path: KeyPath) -> Iterator[Found]:
    yield from _family(stock, assembly.batt, (*path, "batt"))
    yield from _family(stock, assembly.rim.batt, (*path, "rim", "batt"))
    for name, layer in _LAYERS.items():
        value = getattr(assembly, name)
        if value is not None and not (layer.optional and value == NONE):
            yield from _layer(stock, layer, value, (*path, name))


def _family(stock: Shelf, family: str | None, path: KeyPath) -> Iterator[Found]:
    families = sorted({good.family for good in stock.goods.values() if isinstance(good, Batt)})
    if family is not None and family not in families:
        yield _unknown("fault.unknown_batt", path, family, families)


def _layer(stock: Shelf, layer: _Layer, value: str, path: KeyPath) -> Iterator[Found]:
    fitting = [key for key, good in stock.goods.items() if _fits(layer, good)]
    if value in fitting:
        return
    role = getattr(stock.goods.get(value), "role", None)
    if role is not None and layer.role is not None:
        yield found("fault.other_role", path, value=shown(value), role=role, known=_listed(fitting))
        return
    none = [NONE] if layer.optional else []
    yield _unknown("fault.unknown_good", path, value, [*fitting, *none])


def _fits(layer: _Layer, good: Good) -> bool:
    return isinstance(good, layer.good) and layer.role in (None, getattr(good, "role", None))


def _unknown(code: str, path: KeyPath, value: str, known: list[str]) -> Found:
    """A word that is none of the known ones, with the nearest of them."""
    near = nearest(value, known)
    if near is not None:
        return found(f"{code}_near", path, value=shown(value), nearest=brief(near))
    return found(code, path, value=shown(value), known=_listed(known))


def _listed(known: list[str]) -> str:
    more = ["..."] if len(known) > MOST_LISTED else []
    return ", ".join([*map(brief, sorted(known)[:MOST_LISTED]), *more])


def _rule_set(survey: Survey) -> Iterator[Found]:
    name = survey.place.rule_set
    if name is not None and name not in rule_sets():
        yield _unknown("fault.unknown_rule_set", ("place", "rule_set"), name, list(rule_sets()))


def _prices(survey: Survey) -> Iterator[Found]:
    goods = _shelf(survey).goods
    for table in ("prices", "at_hand"):
        for name in getattr(survey, table):
            if name not in goods:
                yield _unknown("fault.unknown_stock", (table, name), name, list(goods))
    for name, price in survey.prices.items():
        if name in goods and price.per.removesuffix("s") != goods[name].package:
            package = brief(goods[name].package)
            yield found("fault.package", ("prices", name), per=brief(price.per), package=package)
    currencies = [price.currency for price in survey.prices.values()]
    for name, price in survey.prices.items():
        if price.currency != currencies[0]:
            yield found("fault.currencies", ("prices", name), one=currencies[0], other=price.currency)


# Warnings

_BEARING: Mapping[str, float] = {name: 45.0 * i for i, name in enumerate(get_args(Facing))}
WIDEST_DOUBT = 45.0
"""Two facings, each rounded to the nearest of eight, may differ from the turns by this much [deg]."""


def _facings(survey: Survey) -> Iterator[Found]:
    """A facing that the turns since the first given facing contradict."""
    first: tuple[Wall, float] | None = None
    for path, wall in _walls(survey):
        if wall.facing is not None and first is not None:
            off = (_BEARING[wall.facing] - first[1] + 180.0) % 360.0 - 180.0
            if abs(off) > WIDEST_DOUBT + 1e-6:
                args = {
                    "other": first[0].name,
                    "other_facing": first[0].facing,
                    "expected": _nearest_facing(first[1]),
                }
                yield found("warning.facing", (*path, "facing"), facing=wall.facing, **args)
        elif wall.facing is not None:
            first = (wall, _BEARING[wall.facing])
        if first is not None:
            first = None if wall.turn is None else (first[0], first[1] + wall.turn)


def _nearest_facing(bearing: float) -> str:
    return list(_BEARING)[round(bearing / 45.0) % 8]


Check = Callable[[Survey], Iterator[Found]]

_CHECKS: tuple[Check, ...] = (
    _names,
    _ids,
    _sizes,
    _frames,
    _profiles,
    _kinds,
    _positions,
    _overlaps,
    _counts,
    _total_length,
    _measured_again,
    _goods,
    _rule_set,
    _prices,
    _facings,
)
