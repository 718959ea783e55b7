"""The parts of the office paper on heat: method, ranges, months, money, isotherms, cold places, frost.

Figures of the study of heat in SI and kWh, as tables; the section with isotherms and the chart of the months.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from warmside.answers import Answers, NotYet
from warmside.job.resolve import House
from warmside.paper.front import Table
from warmside.paper.ground_picture import ground_pictures
from warmside.paper.month_chart import month_chart
from warmside.paper.picture import Picture
from warmside.paper.saves import place
from warmside.paper.typeset import SHEETS, Shown, shown
from warmside.say import Voice, sources
from warmside.study.frost_job import Frost, Line
from warmside.study.heat import HeatStudy, State
from warmside.study.heat_data import Range, provenance, spread
from warmside.study.money import Years
from warmside.study.proof import section_proof

GAP = 8.0
"""Between the two sections [mm on paper]."""
PICTURE_HEIGHT = 126.0
"""Of a section with isotherms, at most [mm on paper]."""
SURVEY = ("survey", "")
CUBED = {"m3": "m³"}
"""Units of sale that are printed otherwise than a job writes them."""


@dataclass(frozen=True)
class Part:
    """A part of the paper: sentences, pictures in a row with captions, tables, a list of small items."""

    title: str
    lines: tuple[str, ...]
    pictures: tuple[Shown, ...] = ()
    captions: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    items: tuple[str, ...] = ()


def table(
    voice: Voice,
    columns: Sequence[str],
    rows: Sequence[tuple[str, ...]],
    last: tuple[str, ...] = (),
    words: bool = False,
) -> Table:
    """A table by the names of its columns; `words` puts all columns flush left."""
    head = tuple(voice.line(f"paper.office.column.{name}") for name in columns)
    return Table(head, tuple(rows), last, words)


def heat_parts(answers: Answers, voice: Voice) -> Iterator[Part]:
    """All parts on heat; without a study one sentence on what is missing."""
    study, told = answers.heat, answers.results.answers.what_saves
    if study is None:
        lines = (voice.line(told.code),) if isinstance(told, NotYet) else ()
        yield Part(voice.line("paper.office.title.heat"), lines)
        return
    yield _method(study, voice)
    yield _inputs(answers.house, study, voice)
    yield _standard(study, voice)
    yield _months(study, voice)
    yield _money(answers, study, voice)
    yield _isotherms(study, voice)
    yield _cold(study, voice)
    yield _frost(study, voice)
    yield _proof(study, voice)


def _method(study: HeatStudy, voice: Voice) -> Part:
    floor = study.floor
    about = {"area": floor.area, "perimeter": floor.perimeter, "width": floor.width}
    shown_floor = voice.line("paper.office.floor", **about)
    methods = ("ground", "before", "air", "season")
    said = [voice.text(note) for note in study.notes if not note.code.startswith("heat.frost_")]
    return Part(
        title=voice.line("paper.office.title.heat"),
        lines=(*(voice.line(f"paper.office.method.{name}") for name in methods), shown_floor),
        items=tuple(said),
    )


# Inputs


def _inputs(house: House, study: HeatStudy, voice: Voice) -> Part:
    rows = [_input(voice, *each) for each in _ranges(house, study, voice)]
    columns = ("input", "low", "likely", "high", "unit", "source")
    return Part(
        title=voice.line("paper.office.title.inputs"),
        lines=(voice.line("paper.office.method.ranges"),),
        tables=(table(voice, columns, rows, words=True),),
    )


def _ranges(
    house: House, study: HeatStudy, voice: Voice
) -> Iterator[tuple[str, Range, str, tuple[str, str]]]:
    """Each input that has ends, or was surveyed: its name, ends, unit, source and status."""
    soil = ("soil", house.ground.soil, "conductivity")
    yield "soil", study.soil, "W/(m·K)", provenance(*soil)
    if not study.asked_before:
        for name, unit in (("coupling", "W/(m²·K)"), ("gain", "W/m²"), ("ducts", "W/(m²·K)")):
            yield name, spread("basement", name), unit, provenance("basement", name)
    for name, unit in (("rim_before", "cm²/m"), ("rim_after", "cm²/m"), ("rest_of_house", "cm²")):
        yield name, spread("air", name), unit, provenance("air", name)
    if study.fuel is not None:
        asked = house.heating.efficiency is not None
        basis = SURVEY if asked else provenance("fuel", study.fuel.fuel, "efficiency")
        yield "efficiency", study.fuel.efficiency, "–", basis
    if study.money is not None:
        yield (
            "interest",
            spread("interest", "rate"),
            voice.line("paper.office.unit.rate"),
            provenance("interest", "rate"),
        )


def _input(voice: Voice, name: str, ends: Range, unit: str, basis: tuple[str, str]) -> tuple[str, ...]:
    return (
        voice.line(f"paper.office.input.{name}"),
        *(f"{end:g}" for end in ends.ends),
        unit,
        _basis(voice, *basis),
    )


def _basis(voice: Voice, source: str, status: str) -> str:
    if source == SURVEY[0]:
        return voice.line("paper.office.survey")
    return voice.line("paper.office.source", source=sources()[source].title, status=status)


def _standard(study: HeatStudy, voice: Voice) -> Part:
    """The same basement by the formulas of the standard."""
    rows = [
        (
            voice.line(f"paper.office.beside.{each.what}"),
            voice.line(f"paper.office.column.{each.when}"),
            _tenth(each.section),
            _tenth(each.standard),
            f"{each.section / each.standard - 1.0:+.0%}",
        )
        for each in study.standard
    ]
    return Part(
        title=voice.line("paper.office.title.standard"),
        lines=(voice.line("paper.office.method.standard"),),
        tables=(table(voice, ("beside", "walls", "section", "standard", "apart"), rows),),
    )


# Months and money


def _months(study: HeatStudy, voice: Voice) -> Part:
    before, after = study.before, study.after
    names = ("above", "below", "floor", "rim")
    rows = [
        (
            voice.line(f"paper.month.{month + 1}"),
            _pair(before.basement[month], after.basement[month], _tenth),
            *(_pair(before.parts[name][month], after.parts[name][month], _whole) for name in names),
            _pair(before.air[month], after.air[month], _whole),
            _whole(before.months[month]),
            _whole(after.months[month]),
            _whole(before.months[month] - after.months[month]),
        )
        for month in range(12)
    ]
    rows.append(_year(before, after, names, voice))
    width = SHEETS[voice.system].height - 2 * SHEETS[voice.system].margin
    chart = month_chart(before.months, after.months, voice, width - 16.0)
    columns = ("month", "basement", *names, "air", "before", "after", "saved")
    return Part(
        title=voice.line("paper.office.title.months"),
        lines=(voice.line("paper.office.method.months"), voice.line("heat.settled")),
        pictures=(_shown(chart),),
        captions=("",),
        tables=(table(voice, columns, rows),),
    )


def _year(before: State, after: State, names: Sequence[str], voice: Voice) -> tuple[str, ...]:
    return (
        voice.line("paper.office.year"),
        "",
        *(_pair(sum(before.parts[name]), sum(after.parts[name]), _whole) for name in names),
        _pair(sum(before.air), sum(after.air), _whole),
        _whole(before.total),
        _whole(after.total),
        _whole(before.total - after.total),
    )


def _pair(before: float, after: float, show: Callable[[float], str]) -> str:
    return f"{show(before)} → {show(after)}"


def _whole(value: float) -> str:
    return f"{value:z,.0f}"


def _tenth(value: float) -> str:
    return f"{value:z.1f}"


def _shown(picture: Picture) -> Shown:
    return shown(picture.svg, picture.told)


def _money(answers: Answers, study: HeatStudy, voice: Voice) -> Part:
    rows = [_money_row(voice, *row) for row in _money_rows(answers, study, voice)]
    none = [voice.line(f"paper.office.need.{name.replace('.', '_')}") for name in study.needs]
    return Part(
        title=voice.line("paper.office.title.money"),
        lines=(voice.line("paper.office.method.money"), *none),
        tables=(table(voice, ("figure", "low", "likely", "high", "unit"), rows),),
    )


def _money_rows(answers: Answers, study: HeatStudy, voice: Voice) -> Iterator[tuple[str, Range | Years, str]]:
    saved, fuel, money = study.saved, study.fuel, study.money
    kwh = voice.line("paper.office.unit.a_year", unit="kWh")
    years = voice.line("paper.office.unit.years")
    yield "conducted", saved.conducted, kwh
    yield "air", saved.air, kwh
    yield "total", saved.total, kwh
    yield "alike", saved.same_temperature, kwh
    yield "bare", Range.certain(saved.bare), kwh
    if fuel is not None:
        yield "fuel", fuel.energy, kwh
        if fuel.units is not None and fuel.unit is not None:
            yield (
                "units",
                fuel.units,
                voice.line("paper.office.unit.a_year", unit=CUBED.get(fuel.unit, fuel.unit)),
            )
    if money is not None:
        yield (
            "money",
            money.cents.map(lambda cents: cents / 100),
            voice.line("paper.office.unit.a_year", unit=money.currency),
        )
    if answers.order.currency is not None:
        yield "goods", Range.certain(answers.order.total / 100), answers.order.currency
    if money is not None and money.payback is not None:
        yield "payback", money.payback, years
    if money is not None and money.discounted is not None:
        yield "discounted", money.discounted, years


def _money_row(voice: Voice, name: str, ends: Range | Years, unit: str) -> tuple[str, ...]:
    """Low, likely and high; the likely alone where there are no ends, never where it never comes."""
    found = (ends.low, ends.likely, ends.high)
    show = _tenth if max(abs(end) for end in (*found, 0.0) if end is not None) < 100 else _whole
    cells = [voice.line("paper.office.never") if end is None else show(end) for end in found]
    if isinstance(ends, Range) and ends.low == ends.high:
        cells[0] = cells[2] = voice.line("paper.none")
    return (voice.line(f"paper.office.figure.{name}"), *cells, unit)


# The section, cold places, frost


def _isotherms(study: HeatStudy, voice: Voice) -> Part:
    sheet = SHEETS[voice.system]
    width = (sheet.height - 2 * sheet.margin - GAP) / 2
    drawn = ground_pictures(study.picture, voice, width, PICTURE_HEIGHT)
    section = study.picture.section
    return Part(
        title=voice.line("paper.office.title.isotherms"),
        lines=(
            voice.line("paper.office.method.isotherms", scale=drawn[0].scale, soil=section.soil.conductivity),
        ),
        pictures=tuple(_shown(picture) for picture in drawn),
        captions=tuple(
            f"{voice.line(f'paper.office.picture.{when}')} {picture.told}"
            for when, picture in zip(("before", "after"), drawn, strict=True)
        ),
    )


def _cold(study: HeatStudy, voice: Voice) -> Part:
    title = voice.line("paper.office.title.cold")
    if study.design is None:
        return Part(title, (voice.line("heat.no_design"),))
    spots = [
        (place(spot, voice), spot.wall or voice.line("paper.none"), _tenth(spot.before), _tenth(spot.after))
        for spot in study.spots
    ]
    tables = [table(voice, ("place", "wall", "before", "after"), spots)]
    if study.draught is not None:
        edge = study.draught
        felt = [
            ("floor", *map(_tenth, (*edge.floor, edge.floor_limit)), "°C"),
            ("speed", *(f"{speed:.2f}" for speed in (*edge.speed, edge.speed_limit)), "m/s"),
        ]
        rows = [(voice.line(f"paper.office.felt.{name}"), *cells) for name, *cells in felt]
        tables.append(table(voice, ("felt", "before", "after", "limit", "unit"), rows))
    where = "table" if study.design.from_table else "job"
    lines = (
        voice.line(f"paper.office.design.{where}", temperature=study.design.temperature),
        voice.line("paper.office.method.cold"),
    )
    return Part(title, lines, tables=tuple(tables))


def _frost(study: HeatStudy, voice: Voice) -> Part:
    rows = [row for frost in study.frost for row in _frost_rows(frost, voice)]
    columns = ("cover", "beside_before", "beside_after", "open", "under_before", "under_after")
    notes = [voice.text(note) for note in study.notes if note.code.startswith("heat.frost_")]
    return Part(
        title=voice.line("paper.office.title.frost"),
        lines=(
            voice.line("paper.office.footing", footing=_deep(voice, study.frost[0].footing)),
            voice.line("paper.office.method.frost"),
        ),
        tables=(table(voice, columns, rows),),
        items=tuple(notes),
    )


def _frost_rows(frost: Frost, voice: Voice) -> Iterator[tuple[str, ...]]:
    cover = voice.line(f"paper.office.cover.{frost.cover}")
    yield _frost_row(voice, voice.line("paper.office.bound_of", cover=cover), frost.before, frost.after)
    if frost.frozen_before is not None and frost.frozen_after is not None:
        frozen = voice.line("paper.office.frozen", cover=cover)
        yield _frost_row(voice, frozen, frost.frozen_before, frost.frozen_after)


def _frost_row(voice: Voice, name: str, before: Line, after: Line) -> tuple[str, ...]:
    depths = [_deep(voice, metres) for metres in (before.beside, after.beside, after.open)]
    return (name, *depths, _tenth(before.under_footing), _tenth(after.under_footing))


def _deep(voice: Voice, metres: float) -> str:
    """A depth in the reader's unit, in metres to the centimetre."""
    return voice.show("depth", metres) if voice.system == "ft-in" else f"{metres:.2f} m"


def _proof(study: HeatStudy, voice: Voice) -> Part:
    proof = section_proof(study.picture.section)
    figures = {"cells": proof.cells, "heat": proof.heat, "grid": 100 * proof.grid, "balance": proof.balance}
    return Part(
        title=voice.line("paper.office.title.proof"),
        lines=(voice.line("paper.office.proof", **figures), voice.line("paper.office.method.proof")),
    )
