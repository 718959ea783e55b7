"""House -> the ten answers: the only place that runs the whole pipeline, and the types of results.json.

Questions that are not answered yet say so. The types are written by hand; inner classes never leak out.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.metadata import version
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from warmside.catalog.goods import Batt, Model
from warmside.cut_notes import cut_warnings
from warmside.cutting.inside import InsideFill
from warmside.cutting.nesting import Nest, nest
from warmside.cutting.pieces import Piece
from warmside.doubts import doubts as survey_doubts
from warmside.doubts import less_than_upstairs
from warmside.heat_answer import NoWeatherError, WhatSaves, study, weather_inputs, what_saves
from warmside.job.assume import spacing_both_ways
from warmside.job.closing import Closing, closing, closing_note
from warmside.job.resolve import House, HouseWall, Side, resolve
from warmside.job.survey import Survey
from warmside.order.order import Line, Order, batts_told, larger_of, size_of
from warmside.rules.clauses import Built, ClauseResult, judge
from warmside.rules.may_we_start import Start, may_we_start
from warmside.rules_answer import MayWeStart, MeetsRules, rules_shown, start_shown
from warmside.runs import content_id
from warmside.say import Figure, Note, Spread, Where
from warmside.study.heat import HeatStudy, NothingToComputeError
from warmside.study.layers import Layer, plain_layers
from warmside.study.r_value import WallWorth, Worth, together
from warmside.units import INCH, MM, Length, to_m
from warmside.wall.frame import TOLERANCE, WallFrame
from warmside.wall.in_the_way import in_stud_space
from warmside.worked import JobError as JobError
from warmside.worked import WallAnswer as WallAnswer
from warmside.worked import Worked as Worked
from warmside.worked import work_through as work_through

SCHEMA = "warmside.results/0.6"
INCH_FOR_25_MM = Length(INCH - 25 * MM)
"""A gap of one inch on the tape is the 25 mm of the rule sets (common practice)."""


class NotYet(Model):
    """A question that this version does not answer."""

    answered: Literal[False] = False
    code: str = "answer.not_yet"


class LayerShown(Model):
    """One layer of a build-up, from the room outwards."""

    name: str
    thickness: Figure
    resistance: Figure


class BuildUp(Model):
    """What is in a wall where nothing is in the way."""

    wall: str
    layers: tuple[LayerShown, ...]


class WhatGoesIn(Model):
    """Layer by layer, wall by wall."""

    answered: Literal[True] = True
    walls: tuple[BuildUp, ...]


class PartWorth(Model):
    """A bay, a wall or a rim: its effective resistance and what share of its area is what."""

    mark: str
    effective: Figure
    area: Figure
    shares: dict[str, float]


class WallShown(Model):
    """A wall, its bays and its rim."""

    wall: str
    whole: PartWorth | None
    bays: tuple[PartWorth, ...]
    rim: PartWorth


class WhatWorth(Model):
    """Effective resistance of every bay and wall; `nominal` is the label of the batt, the lowest there is."""

    answered: Literal[True] = True
    nominal: Figure
    walls_together: Figure
    rims_together: Figure
    walls: tuple[WallShown, ...]


class LineShown(Model):
    """One line of the order; `likely` is how many packages it takes if the unknowns turn out as assumed."""

    good: str
    package: str
    needed: Figure
    packages: int
    likely: int
    at_hand: int
    to_buy: int
    cents: int | None


class WhatBuy(Model):
    """The order, larger where unknowns matter; not `complete` while a line that is bought has no price."""

    answered: Literal[True] = True
    lines: tuple[LineShown, ...]
    currency: str | None
    total_cents: int
    complete: bool


class PieceShown(Model):
    """One piece; sizes in metres, notches from its left edge and bottom end: left, bottom, width, height."""

    id: str
    good: str
    role: Literal["batt", "behind", "rim"]
    width: float
    height: float
    thickness: float
    layers: int
    notches: tuple[tuple[float, float, float, float], ...]


class NestShown(Model):
    """How many batts of one good are cut, and the least that any cutting in two rounds could need.

    `proof` of the least: area, prices that no way to cut a batt is worth more than, or a search of every way.
    """

    good: str
    batts: int
    at_least: int
    proof: Literal["area", "prices", "search"]
    first_fit: int
    bags: int


class WhatCut(Model):
    """Every piece, and how many batts they come out of."""

    answered: Literal[True] = True
    pieces: tuple[PieceShown, ...]
    nests: tuple[NestShown, ...]


class AnswersShown(Model):
    """The ten questions by their keys."""

    may_we_start: MayWeStart
    what_goes_in: WhatGoesIn
    meets_rules: MeetsRules
    what_worth: WhatWorth | NotYet
    stays_dry: NotYet = NotYet()
    what_saves: WhatSaves | NotYet
    what_buy: WhatBuy
    what_cut: WhatCut | NotYet
    who_when: NotYet = NotYet()
    hand_over: NotYet = NotYet()


class Results(Model):
    """results.json: no clock time, host, path, duration or thread count inside; all SI."""

    schema_id: Annotated[str, Field(serialization_alias="schema")]
    version: str
    input_id: str
    rule_set: str
    level: Literal[1, 2]
    assumed: tuple[str, ...]
    answers: AnswersShown


@dataclass(frozen=True)
class Answers:
    """What the papers are made from; `order` takes the larger of the unknowns, `likely_order` the likely."""

    survey: Survey
    house: House
    walls: tuple[WallAnswer, ...]
    inside: tuple[InsideFill, ...]
    nests: tuple[Nest, ...]
    order: Order
    likely_order: Order
    closing: Closing | None
    heat: HeatStudy | None
    warnings: tuple[Note, ...]
    start: Start
    clauses: tuple[ClauseResult, ...]
    results: Results


def input_id(survey: Survey) -> str:
    """The id of an input: a hash of everything surveyed and chosen."""
    return content_id(survey.model_dump(mode="json"))


def answer(survey: Survey, folder: Path | None = None, warnings: Sequence[Note] = ()) -> Answers:
    """All ten answers of a survey. Raises JobError with every fault of the geometry.

    folder : of the job, where its weather file lies
    warnings : of reading the survey; they come first among those of the answers
    """
    nominal = work_through(resolve(survey))
    house = nominal.house
    larger, too_large = _on_side(survey, Side.LARGER, nominal)
    stricter, too_strict = _on_side(survey, Side.STRICTER, nominal)
    missed = closing(house)
    likely, order, both_ways = _orders(survey, nominal, larger)
    heat, unheard = _heat(house, nominal, order, stricter, folder)
    doubts = [*too_large, *(note for note in too_strict if note not in too_large)]
    start, clauses = may_we_start(house), _clauses(stricter)
    return Answers(
        survey=survey,
        house=house,
        walls=nominal.walls,
        inside=nominal.inside,
        nests=nominal.nests,
        order=order,
        likely_order=likely,
        closing=missed,
        heat=heat if isinstance(heat, HeatStudy) else None,
        warnings=(
            *warnings,
            *survey_doubts(survey),
            *less_than_upstairs(house),
            *_warnings(house, nominal.walls, missed),
            *cut_warnings(nominal),
            *both_ways,
            *doubts,
            *unheard,
        ),
        start=start,
        clauses=clauses,
        results=_results(
            house, nominal, (likely, order), stricter.walls, heat, start, clauses, input_id(survey)
        ),
    )


def _orders(survey: Survey, nominal: Worked, larger: Worked) -> tuple[Order, Order, list[Note]]:
    """What is likely to be bought and the larger order, both for the spacing of studs that needs more.

    Batts of the one width do not fit the bays of the other: the two are not added up, the other is told.
    """
    likely, order = nominal.order, larger_of(nominal.order, larger.order)
    both = spacing_both_ways(survey)
    if both is None:
        return likely, order, []
    other = _on_side(both.other, Side.NOMINAL, nominal, afresh=True)[0]
    wide = larger_of(other.order, _on_side(both.other, Side.LARGER, other)[0].order)
    more = size_of(wide) > size_of(order)
    batts = batts_told(order, wide) if more else batts_told(wide, order)
    taken, spacing = both.spacings[::-1] if more else both.spacings
    told = Note("warning.spacing", {"taken": taken, "spacing": spacing, "batts": batts})
    return (*((other.order, wide) if more else (likely, order)), [told])


def _clauses(stricter: Worked) -> tuple[ClauseResult, ...]:
    """Clause by clause; rules take the stricter reading of an unknown."""
    built = [Built(each.wall, each.built, each.fills, each.worth) for each in stricter.walls]
    return judge(stricter.house, built)


def _worths(worked: Worked) -> Mapping[str, WallWorth]:
    return {each.wall.name: each.worth for each in worked.walls}


def _heat(
    house: House, nominal: Worked, order: Order, stricter: Worked, folder: Path | None
) -> tuple[HeatStudy | NotYet, list[Note]]:
    """The study of heat, or why there is none; told where the job names a weather that is not found."""
    other = None if stricter is nominal else (stricter.house, _worths(stricter))
    try:
        weather = weather_inputs(house.place, folder)
        return study(house, _worths(nominal), order, weather, other), []
    except NoWeatherError as fault:
        place = house.place
        named = place.climate or place.weather_file or place.latitude is not None
        return NotYet(code="answer.no_weather"), [fault.note] if named else []
    except NothingToComputeError:
        return NotYet(code="answer.no_wall"), []


def _on_side(
    survey: Survey, side: Side, nominal: Worked, *, afresh: bool = False
) -> tuple[Worked, list[Note]]:
    """The house with its unknowns on one side; what was taken for them may not go together, which is told.

    afresh : choose the widths of its batts anew, not those of `nominal`
    """
    try:
        return work_through(resolve(survey, side), None if afresh else nominal.house), []
    except JobError as error:
        return nominal, [Note("warning.unknown_matters", {"why": note}, note.where) for note in error.faults]


def _warnings(house: House, walls: Sequence[WallAnswer], missed: Closing | None) -> tuple[Note, ...]:
    notes = [Note("warning.unmeasured", {}, Where(wall=name)) for name in house.unmeasured]
    for each in walls:
        notes += _wall_warnings(house, each.wall, each.built)
    misses = closing_note(missed)
    return (*notes, misses) if misses is not None else tuple(notes)


def _wall_warnings(house: House, wall: HouseWall, built: WallFrame) -> Iterator[Note]:
    here = Where(wall=wall.name)
    for item in wall.unplaced:
        yield Note("warning.unplaced", {}, replace(here, item=item))
    if wall.largest_air_gap > house.rules.largest_gap.value + INCH_FOR_25_MM:
        args = {"gap": wall.largest_air_gap, "largest": house.rules.largest_gap.value}
        yield Note("warning.gap", args, here)
    if wall.frame is not None and wall.foam > wall.gap.least:
        yield Note("warning.foam_over_gap", {"foam": wall.foam, "gap": wall.gap.least}, here)
    yield from _studs_in_things(wall, built)


def _studs_in_things(wall: HouseWall, built: WallFrame) -> Iterator[Note]:
    """Nothing in the stud space can stand where a stud does: one of the two was measured wrong."""
    if wall.frame is None or wall.level == 1:
        return
    for thing in wall.in_the_way:
        cuts = thing.kind.cut in ("notch", "keep out") and in_stud_space(thing, wall.frame.depth)
        for left, right in built.studs if cuts and thing.runs != "along" else ():
            if min(right, thing.right) - max(left, thing.left) > TOLERANCE:
                args = {"left": left, "right": right}
                yield Note("warning.stud_in_thing", args, Where(wall=wall.name, item=thing.id))


def _results(
    house: House,
    worked: Worked,
    orders: tuple[Order, Order],
    stricter: Sequence[WallAnswer],
    heat: HeatStudy | NotYet,
    start: Start,
    clauses: Sequence[ClauseResult],
    identity: str,
) -> Results:
    framed = [each for each in worked.walls if each.fills]
    return Results(
        schema_id=SCHEMA,
        version=version("warmside"),
        input_id=identity,
        rule_set=house.rules.id,
        level=house.level,
        assumed=tuple(a.field for a in house.assumptions),
        answers=AnswersShown(
            may_we_start=start_shown(house, start),
            meets_rules=rules_shown(house, clauses),
            what_goes_in=WhatGoesIn(walls=tuple(_build_up(house, each) for each in framed)),
            what_worth=_what_worth(house, worked.walls, stricter),
            what_saves=heat if isinstance(heat, NotYet) else what_saves(house, heat),
            what_buy=_what_buy(house, *orders),
            what_cut=_what_cut(worked),
        ),
    )


def _figure(house: House, value: float, unit: str, method: str, spread: float | None = None) -> Figure:
    """A figure of this house; what the house assumes stands beside the answers."""
    error = None if spread is None else Spread(kind="range", value=spread)
    return Figure(value=value, unit=unit, method=method, error=error, level=house.level)


def _build_up(house: House, each: WallAnswer) -> BuildUp:
    return BuildUp(wall=each.wall.name, layers=tuple(_shown(house, layer) for layer in build_up(house, each)))


def build_up(house: House, each: WallAnswer) -> tuple[Layer, ...]:
    """The layers of a wall where nothing is in the way, from the room outwards."""
    return plain_layers(house, each.wall, _most_used(each))


def _most_used(each: WallAnswer) -> Batt:
    """The batt that fills most of a wall; the first of its family where none does."""
    batts = each.wall.assembly.batts
    used = [piece for fill in each.fills for piece in fill.pieces if piece.role == "batt"]
    return max(batts, key=lambda batt: sum(piece.box.area for piece in used if piece.batt == batt))


def _shown(house: House, layer: Layer) -> LayerShown:
    return LayerShown(
        name=layer.name,
        thickness=_figure(house, to_m(layer.thickness), "m", "goods table or survey"),
        resistance=_figure(house, layer.resistance, "m2.K/W", "thickness and conductivity"),
    )


def _what_worth(
    house: House, walls: Sequence[WallAnswer], stricter: Sequence[WallAnswer]
) -> WhatWorth | NotYet:
    """Effective resistances; the range is how much lower the stricter reading of the unknowns is."""
    framed = [each for each in walls if each.worth.whole is not None]
    wholes = [each.worth.whole for each in walls if each.worth.whole is not None]
    low = [each.worth.whole for each in stricter if each.worth.whole is not None]
    if not wholes:
        return NotYet(code="answer.no_frame" if walls else "answer.no_wall")
    value, rims = together(wholes), together([each.worth.rim for each in framed])
    as_ruled = any(whole.method is house.rules.method for whole in wholes)
    how = house.rules.method.value if as_ruled else wholes[0].method.value
    label = min(each.wall.assembly.batts[0].r_label.value for each in framed)
    return WhatWorth(
        nominal=_figure(house, label, "m2.K/W", "label"),
        walls_together=_figure(house, value, "m2.K/W", how, max(0.0, value - together(low))),
        rims_together=_figure(house, rims, "m2.K/W", how),
        walls=tuple(_wall_shown(house, each) for each in walls),
    )


def _wall_shown(house: House, each: WallAnswer) -> WallShown:
    whole = each.worth.whole
    return WallShown(
        wall=each.wall.name,
        whole=_part(house, whole) if whole else None,
        bays=tuple(_part(house, bay) for bay in each.worth.bays),
        rim=_part(house, each.worth.rim),
    )


def _part(house: House, part: Worth) -> PartWorth:
    return PartWorth(
        mark=part.mark,
        effective=_figure(house, part.resistance, "m2.K/W", part.method.value),
        area=_figure(house, part.area, "m2", "survey"),
        shares=dict(part.shares),
    )


def _what_buy(house: House, likely: Order, order: Order) -> WhatBuy:
    return WhatBuy(
        lines=tuple(_line_shown(house, line, likely.packages(line.good)) for line in order.lines),
        currency=order.currency,
        total_cents=order.total,
        complete=order.complete,
    )


def _line_shown(house: House, line: Line, likely: int) -> LineShown:
    return LineShown(
        good=line.good.id,
        package=line.good.package,
        needed=_figure(house, line.needed, line.unit, line.basis.code),
        packages=line.packages,
        likely=likely,
        at_hand=line.at_hand,
        to_buy=line.to_buy,
        cents=line.cents,
    )


def measured_pieces(walls: Sequence[WallAnswer], inside: Sequence[InsideFill]) -> list[Piece]:
    """Pieces of the walls at level 2 and of what is inside: a cut list is not made from a walk-through."""
    ready = [piece for each in walls if each.wall.level == 2 for piece in each.pieces]
    return [*ready, *(piece for each in inside for piece in each.pieces)]


def _what_cut(worked: Worked) -> WhatCut | NotYet:
    """Every piece that is measured, and what they take."""
    pieces = measured_pieces(worked.walls, worked.inside)
    if not pieces and all(each.wall.level == 1 for each in worked.walls):
        return NotYet(code="answer.not_measured")
    return WhatCut(
        pieces=tuple(_piece_shown(piece) for piece in pieces),
        nests=tuple(_nest_shown(each) for each in nest(pieces)),
    )


def _piece_shown(piece: Piece) -> PieceShown:
    return PieceShown(
        id=piece.id,
        good=piece.batt.id,
        role=piece.role,
        width=to_m(piece.cut_width),
        height=to_m(piece.cut_height),
        thickness=to_m(piece.thickness or piece.batt.thickness.value),
        layers=piece.layers,
        notches=tuple(
            (to_m(n.left), to_m(n.bottom), to_m(n.width), to_m(n.height)) for n in piece.cut_notches
        ),
    )


def _nest_shown(cut: Nest) -> NestShown:
    return NestShown(
        good=cut.batt.id,
        batts=cut.count,
        at_least=cut.least,
        proof=cut.proof,
        first_fit=cut.first_fit,
        bags=cut.bags,
    )


def results_json(results: Results) -> bytes:
    """results.json: sorted keys, two spaces, floats to 6 significant digits, a line end at the end."""
    text = json.dumps(as_json(results), indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False)
    return (text + "\n").encode("utf-8")


def as_json(part: Model) -> Any:
    """Results, or a part of them, as they stand in the file."""
    return _rounded(part.model_dump(mode="json", by_alias=True))


def results_schema() -> dict[str, Any]:
    """The JSON Schema of results.json."""
    return Results.model_json_schema(mode="serialization", by_alias=True)


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return float(f"{value:.6g}")
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    return [_rounded(inner) for inner in value] if isinstance(value, list) else value
