"""Names of goods, rules and prices in a survey against what there is, a job's own goods among them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from warmside.catalog.codes import rule_sets
from warmside.catalog.data_files import read_named
from warmside.catalog.goods import (
    Batt,
    Board,
    Good,
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
from warmside.job.faults import brief
from warmside.job.findings import Found, few_of, found, parts_of, unlisted, walls_of
from warmside.job.lines import KeyPath
from warmside.job.survey import Assembly, Survey
from warmside.units import shown

NONE = "none"


class Refused(Model):
    """Words in the name of a good that is not computed here."""

    words: tuple[str, ...]
    source: str
    status: Status


@cache
def refused_studs() -> Refused:
    """What no frame is computed of: steel, in any of its names."""
    return read_named(Refused, "refused.toml")["studs"]


def _is_refused(name: str) -> bool:
    return any(word in name.casefold() for word in refused_studs().words)


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


def goods(survey: Survey) -> Iterator[Found]:
    """Names of goods that are not on the shelf, or that do not fit where they stand."""
    stock = _shelf(survey)
    for i, own in enumerate(survey.goods.lumber):
        if _is_refused(f"{own.id} {own.name}"):
            yield found("fault.steel_studs", ("goods", "lumber", i, "name"), value=shown(own.name))
    yield from _assembly(stock, survey.assembly, ("assembly",))
    for path, wall in walls_of(survey):
        if wall.assembly is not None:
            yield from _assembly(stock, wall.assembly, (*path, "assembly"))
        if wall.frame.studs is not None:
            yield from _layer(stock, _Layer(Lumber), wall.frame.studs, (*path, "frame", "studs"))
    if survey.every_wall.frame.studs is not None:
        studs = survey.every_wall.frame.studs
        yield from _layer(stock, _Layer(Lumber), studs, ("every_wall", "frame", "studs"))
    for path, part in parts_of(survey):
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
        yield unlisted("fault.unknown_batt", path, family, families)


def _layer(stock: Shelf, layer: _Layer, value: str, path: KeyPath) -> Iterator[Found]:
    if layer.good is Lumber and _is_refused(value):
        yield found("fault.steel_studs", path, value=shown(value))
        return
    fitting = [key for key, good in stock.goods.items() if _fits(layer, good)]
    if value in fitting:
        return
    role = getattr(stock.goods.get(value), "role", None)
    if role is not None and layer.role is not None:
        yield found("fault.other_role", path, value=shown(value), role=role, known=few_of(fitting))
        return
    none = [NONE] if layer.optional else []
    yield unlisted("fault.unknown_good", path, value, [*fitting, *none])


def _fits(layer: _Layer, good: Good) -> bool:
    return isinstance(good, layer.good) and layer.role in (None, getattr(good, "role", None))


def rule_set(survey: Survey) -> Iterator[Found]:
    """A rule set that there is none of."""
    name = survey.place.rule_set
    if name is not None and name not in rule_sets():
        yield unlisted("fault.unknown_rule_set", ("place", "rule_set"), name, list(rule_sets()))


def prices(survey: Survey) -> Iterator[Found]:
    """Prices and stocks of no goods, prices of another package or currency."""
    goods = _shelf(survey).goods
    for table in ("prices", "at_hand"):
        for name in getattr(survey, table):
            if name not in goods:
                yield unlisted("fault.unknown_stock", (table, name), name, list(goods))
    for name, price in survey.prices.items():
        if name in goods and price.per.removesuffix("s") != goods[name].package:
            package = brief(goods[name].package)
            yield found("fault.package", ("prices", name), per=brief(price.per), package=package)
    currencies = [price.currency for price in survey.prices.values()]
    for name, price in survey.prices.items():
        if price.currency != currencies[0]:
            yield found("fault.currencies", ("prices", name), one=currencies[0], other=price.currency)
