"""What insulating the walls of a basement saves, where it stays cold, and what it does to the frost.

Before: the walls as they were found, the rim bare, the basement at the temperature that the survey says, or
floating without heat of its own. After: the walls of the job, the basement at its wanted temperature. Losses
are those on heated days. Savings are taken under snow where snow is known, frost and cold surfaces under bare
ground. A range is the least and the most of all ends that were run: soil, how the basement hangs on the
house, leakage, efficiency, what is on the walls already, and the stricter reading of the survey. The settled
state, walls of poured concrete, one room.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from warmside.job.resolve import House
from warmside.physics.conduction import Numbers, one_thread
from warmside.physics.grid import Array, Grid
from warmside.physics.ground import Section
from warmside.say import Note
from warmside.study import frost_job
from warmside.study.as_found import End, WallBefore, walls_before
from warmside.study.basement import (
    KWH,
    MONTH_HOURS,
    Drives,
    SkinLoss,
    Tie,
    floating,
    in_soil,
    months,
    skin_loss,
)
from warmside.study.cold import TIMES, Draught, Indoors, Spot, draught, spots
from warmside.study.frost_job import Frost, FrostDrives
from warmside.study.ground_job import (
    FloorPlan,
    GroundJob,
    Stretch,
    assembly,
    at_times,
    by_months,
    ground_job,
    steady,
)
from warmside.study.heat_data import Range, SoilKind, soil_kind, spread
from warmside.study.money import Bought, Money, Purchase, bought, money, needs
from warmside.study.outdoors import (
    Cover,
    RimAir,
    WeatherInputs,
    face_waves,
    heated_share,
    rim_air,
    sheltered_waves,
    surface_waves,
)
from warmside.study.r_value import WallWorth
from warmside.study.standard import Beside, beside_standard

Worths = Mapping[str, WallWorth]


class NothingToComputeError(ValueError):
    """No wall is measured, so there is no basement to compute."""


@dataclass(frozen=True)
class State:
    """A basement before or after.

    basement : mean temperature of each month [C]
    parts : heat through above, below, floor and rim on the heated days of each month [kWh]
    air : heat for the air that the rim lets in, likewise [kWh]
    conducted : through the skin in a year, on heated days [kWh]
    """

    basement: tuple[float, ...]
    parts: Mapping[str, tuple[float, ...]]
    air: tuple[float, ...]
    conducted: Range

    @property
    def months(self) -> tuple[float, ...]:
        """All heat lost on the heated days of each month [kWh]."""
        return tuple(sum(row) for row in zip(*self.parts.values(), self.air, strict=True))

    @property
    def total(self) -> float:
        """All heat lost on heated days in a year [kWh]."""
        return sum(self.months)


@dataclass(frozen=True)
class Saving:
    """Heat that is not lost any more in a year, on heated days [kWh].

    conducted : through walls, floor and rim
    air : that came in at the rim
    bare : likely saving by conduction when no snow lies
    same_temperature : by conduction, if the basement had been kept as warm before as it is after
    """

    conducted: Range
    air: Range
    bare: float
    same_temperature: Range

    @property
    def total(self) -> Range:
        """By conduction and air."""
        return self.conducted.plus(self.air)


@dataclass(frozen=True)
class Design:
    """The outdoor temperature of the design day [C], and whether a table gave it rather than the survey."""

    temperature: float
    from_table: bool


@dataclass(frozen=True, eq=False)
class Picture:
    """A section in the coldest time, for the picture with isotherms; bare ground.

    section : before, without layers
    grid : of both fields [m]
    before, after : temperatures, nan outside the solid [C]
    """

    section: Section
    grid: Grid
    before: Array
    after: Array


@dataclass(frozen=True)
class HeatStudy:
    """The answer to what a job saves.

    floor : area and perimeter
    place : whose weather was taken
    cover : of the ground for the savings
    soil : conductivity [W/(m.K)]
    fuel, money : None where the survey names no fuel or no price; `needs` are the fields to ask for
    design, spots, draught : None or empty where no design temperature is known
    frost : one for each cover that was run, for the section that it goes nearest to the footing
    walls_before : those on which something old counts
    standard : floor and wall below the ground by the sections and by ISO 13370
    notes : warnings and what to do
    """

    floor: FloorPlan
    place: str
    cover: Cover
    soil: Range
    upstairs: float
    asked_before: bool
    before: State
    after: State
    saved: Saving
    fuel: Bought | None
    money: Money | None
    needs: tuple[str, ...]
    design: Design | None
    spots: tuple[Spot, ...]
    draught: Draught | None
    frost: tuple[Frost, ...]
    picture: Picture
    walls_before: tuple[WallBefore, ...]
    standard: tuple[Beside, ...]
    notes: tuple[Note, ...]


@dataclass(frozen=True, eq=False)
class _Run:
    """One soil under one cover: the skin before and after, and the basement before, the likely one first."""

    job: GroundJob
    drives: Drives
    before: SkinLoss
    after: SkinLoss
    floats: tuple[Numbers, ...]


@dataclass(frozen=True, eq=False)
class _Case:
    """What all runs of a house share."""

    house: House
    weather: WeatherInputs
    air: RimAir
    share: Array
    faces: Mapping[float | None, Numbers]

    @property
    def warm(self) -> Numbers:
        """Waves of the basement after [C]."""
        return steady(self.house.heating.basement_after)

    def drives(self, job: GroundJob, cover: Cover) -> Drives:
        """What acts on a job's stretches under a cover."""
        shelter = sheltered_waves(self.weather, self.house.heating.upstairs)
        faces = tuple(self.faces[s.bearing] if s.outdoors else shelter for s in job.stretches)
        return Drives(faces, surface_waves(self.weather, job.sections[0].soil, cover))

    def run(self, job: GroundJob, cover: Cover) -> _Run:
        """A job in its soil under a cover."""
        drives = self.drives(job, cover)
        before = skin_loss(job, drives, insulated=False)
        after = skin_loss(job, drives, insulated=True)
        return _Run(job, drives, before, after, self._floats(job, before))

    def _floats(self, job: GroundJob, loss: SkinLoss) -> tuple[Numbers, ...]:
        asked = self.house.heating.basement_before
        if asked is not None:
            return (steady(asked),)
        ends = [spread("basement", name).ends for name in ("coupling", "gain", "ducts")]
        air, area = float(self.air.before.mean()), job.floor.area
        low, likely, high = (Tie(area * c, area * g, area * d, air) for c, g, d in zip(*ends, strict=True))
        upstairs = self.house.heating.upstairs
        return tuple(floating(loss, tie, upstairs, self.weather.air) for tie in (likely, low, high))

    def conducted(self, loss: SkinLoss, basement: Numbers) -> float:
        """Heat through a skin on heated days in a year [kWh]."""
        return months(loss, basement, self.share).total


def heat_study(
    house: House,
    worths: Worths,
    weather: WeatherInputs,
    purchase: Purchase | None = None,
    stricter: tuple[House, Worths] | None = None,
    with_ice: bool = True,
) -> HeatStudy:
    """What a job saves, where it stays cold, and what the frost does.

    house : with its unknowns at their likely values
    worths : of its walls, by name
    weather : of the place
    purchase : what the order costs
    stricter : the same with its unknowns on the stricter side; widens the ranges
    with_ice : whether a winter is marched with freezing where frost is warned of

    Raises NothingToComputeError.
    """
    with one_thread():
        return _studied(house, worths, weather, purchase, stricter, with_ice)


def _studied(
    house: House,
    worths: Worths,
    weather: WeatherInputs,
    purchase: Purchase | None,
    stricter: tuple[House, Worths] | None,
    with_ice: bool,
) -> HeatStudy:
    kind = soil_kind(house.ground.soil)
    job = ground_job(house, worths, kind.at(kind.conductivity.likely))
    if job is None:
        raise NothingToComputeError("no wall has both a length and a height: measure one wall")
    case, cold = _case(house, weather.recent, job), _case(house, weather, job)
    cover = weather.covers[-1]
    runs = [case.run(in_soil(job, kind.at(k)), cover) for k in _likely_first(kind.conductivity)]
    runs += [case.run(other, cover) for other in _others(house, worths, stricter, job)]
    bare = runs[0] if cover is Cover.BARE else case.run(job, Cover.BARE)
    bare_now = cold.run(job, Cover.BARE)
    saved = _saving(case, runs, bare)
    fuel = bought(house.heating, saved.total)
    design = _design(house, weather)
    shown, worst = _cold(cold, bare_now, design)
    frost, picture = _frost(cold, job, kind, with_ice)
    edge = None if design is None else draught(job, worst, *_indoors(cold, bare_now, design.temperature))
    found = HeatStudy(
        floor=job.floor,
        place=weather.place,
        cover=cover,
        soil=kind.conductivity,
        upstairs=house.heating.upstairs,
        asked_before=house.heating.basement_before is not None,
        before=_state(case, runs, insulated=False),
        after=_state(case, runs, insulated=True),
        saved=saved,
        fuel=fuel,
        money=money(house.heating, fuel, purchase),
        needs=needs(house.heating, fuel, purchase),
        design=design,
        spots=shown,
        draught=edge,
        frost=frost,
        picture=picture,
        walls_before=walls_before(house),
        standard=beside_standard(job),
        notes=(),
    )
    return replace(found, notes=tuple(_notes(house, found, weather, kind, job)))


def _others(
    house: House, worths: Worths, stricter: tuple[House, Worths] | None, job: GroundJob
) -> Iterator[GroundJob]:
    """The stricter reading of the survey, and both ends of what is on the walls already."""
    soil = job.sections[0].soil
    read = [ground_job(*stricter, soil)] if stricter else []
    read += [ground_job(house, worths, soil, end) for end in (End.LEAST, End.MOST)]
    yield from (other for other in read if other is not None and other != job)


def _likely_first(spread_out: Range) -> tuple[float, ...]:
    return tuple(dict.fromkeys((spread_out.likely, spread_out.low, spread_out.high)))


def _case(house: House, weather: WeatherInputs, job: GroundJob) -> _Case:
    heating, bearings = house.heating, {s.bearing for s in job.stretches}
    air = rim_air(weather.air_months, job.floor.perimeter, heating.storeys, heating.upstairs)
    faces = {b: face_waves(weather, b) for b in sorted(bearings, key=lambda b: -1.0 if b is None else b)}
    return _Case(house, weather, air, heated_share(weather), faces)


# Losses and savings


def _saving(case: _Case, runs: Sequence[_Run], bare: _Run) -> Saving:
    after = [case.conducted(run.after, case.warm) for run in runs]
    likely = case.conducted(runs[0].before, runs[0].floats[0]) - after[0]
    every = [
        case.conducted(run.before, basement) - warm
        for run, warm in zip(runs, after, strict=True)
        for basement in run.floats
    ]
    alike = [case.conducted(run.before, case.warm) - warm for run, warm in zip(runs, after, strict=True)]
    without = case.conducted(bare.before, bare.floats[0]) - case.conducted(bare.after, case.warm)
    air = [float(row.sum()) for row in case.air.saved * _per_conductance(case)]
    return Saving(Range.over(likely, every), Range(*air), without, Range.over(alike[0], alike))


def _per_conductance(case: _Case) -> Array:
    """Heat on the heated days of each month per conductance from the rooms above to outdoors [kWh.K/W]."""
    apart = np.maximum(case.house.heating.upstairs - case.weather.air_months, 0.0)
    return np.asarray(apart * MONTH_HOURS * KWH * case.share)


def _state(case: _Case, runs: Sequence[_Run], *, insulated: bool) -> State:
    likely = runs[0]
    skin, basement = (likely.after, case.warm) if insulated else (likely.before, likely.floats[0])
    ends = [
        case.conducted(run.after if insulated else run.before, waves)
        for run in runs
        for waves in ((case.warm,) if insulated else run.floats)
    ]
    air = (case.air.after if insulated else case.air.before) * _per_conductance(case)
    found = months(skin, basement, case.share)
    return State(
        tuple(by_months(basement).tolist()),
        found.by_part(),
        tuple(air.tolist()),
        Range.over(found.total, ends),
    )


# Cold surfaces


def _design(house: House, weather: WeatherInputs) -> Design | None:
    own = house.place.design_temperature
    if own is not None:
        return Design(own, from_table=False)
    return None if weather.design is None else Design(weather.design, from_table=True)


def _indoors(case: _Case, run: _Run, design: float) -> tuple[Indoors, Indoors]:
    """The basement on the design day before and after; what has no heat of its own falls with the cold."""
    before, after = run.floats[0], Indoors(case.warm)
    if case.house.heating.basement_before is not None:
        return Indoors(before), after
    coupling, ducts = (run.job.floor.area * spread("basement", name).likely for name in ("coupling", "ducts"))
    out, air = float(run.before.outdoors.sum()), float(case.air.before.mean())
    held = coupling + air + float(run.before.own[0].sum().real)
    cooler = float(at_times(case.weather.air, TIMES).min()) - design
    return Indoors(before, max(0.0, cooler * (out + air - ducts) / held)), after


def _cold(case: _Case, run: _Run, design: Design | None) -> tuple[tuple[Spot, ...], Mapping[str, Spot]]:
    if design is None:
        return (), {}
    return spots(run.job, *_indoors(case, run, design.temperature), run.drives.ground, design.temperature)


# Frost


def _frost(case: _Case, job: GroundJob, kind: SoilKind, with_ice: bool) -> tuple[tuple[Frost, ...], Picture]:
    """The frost where it comes nearest to a footing, in the soil that conducts most, and a picture of it."""
    most = in_soil(job, kind.at(kind.conductivity.high))
    runs = {cover: case.run(most, cover) for cover in case.weather.covers}
    bare = runs[Cover.BARE]
    place = min(_deepest(most), key=lambda stretch: _left(case, bare, stretch))
    frost = tuple(
        _frost_at(case, run, cover, place, kind if with_ice else None) for cover, run in runs.items()
    )
    return frost, _picture(case, bare, place)


def _deepest(job: GroundJob) -> list[Stretch]:
    """The best insulated stretch of each section, where frost goes deepest.

    Beside a garage or a cold room the ground is sheltered and its level unknown: such a stretch speaks for
    the house only where no wall is outdoors.
    """
    outside = [s for s in job.stretches if s.outdoors] or job.stretches
    order = sorted(outside, key=lambda s: s.skin.wall)
    return list({stretch.section: stretch for stretch in order}.values())


def _left(case: _Case, run: _Run, stretch: Stretch) -> float:
    """Soil between frost and underside of the footing after insulating [m]."""
    section = run.job.sections[stretch.section]
    after = frost_job.bound(section, stretch.skin, _acting(case, run, stretch, insulated=True))
    return frost_job.underside(section) - after.beside


def _acting(case: _Case, run: _Run, stretch: Stretch, *, insulated: bool) -> FrostDrives:
    face = run.drives.faces[run.job.stretches.index(stretch)]
    return FrostDrives(case.warm if insulated else run.floats[0], face, run.drives.ground)


def _frost_at(case: _Case, run: _Run, cover: Cover, stretch: Stretch, kind: SoilKind | None) -> Frost:
    section = run.job.sections[stretch.section]
    skins = (stretch.found, stretch.skin)
    acting = [_acting(case, run, stretch, insulated=on) for on in (False, True)]
    lines = [frost_job.bound(section, *one) for one in zip(skins, acting, strict=True)]
    found = Frost(cover.value, frost_job.underside(section), *lines)
    if (
        kind is None
        or cover is not Cover.BARE
        or not (found.reaches_footing or (found.goes_deeper and kind.heaves))
    ):
        return found
    frozen = [frost_job.with_freezing(section, *one, kind) for one in zip(skins, acting, strict=True)]
    return replace(
        found,
        before=found.before.or_deeper(frozen[0]),
        after=found.after.or_deeper(frozen[1]),
        frozen_before=frozen[0],
        frozen_after=frozen[1],
    )


def _picture(case: _Case, run: _Run, stretch: Stretch) -> Picture:
    """The temperatures of a section when the air is coldest."""
    section, when = run.job.sections[stretch.section], int(at_times(case.weather.air, TIMES).argmin())
    fields = []
    for insulated, skin in ((False, stretch.found), (True, stretch.skin)):
        built = assembly(section, skin)
        mean, moving = frost_job.field_waves(built, _acting(case, run, stretch, insulated=insulated))
        waves = [mean.field, *(moving[n].field for n in frost_job.FROST_WAVES)]
        fields.append(sum(np.real(w * np.exp(2j * np.pi * n * TIMES[when])) for n, w in enumerate(waves)))
    return Picture(section, built.ground.system.grid, *(np.asarray(field) for field in fields))


# What is said


def _notes(
    house: House, study: HeatStudy, weather: WeatherInputs, kind: SoilKind, job: GroundJob
) -> Iterator[Note]:
    yield Note("heat.place", {"place": study.place})
    if study.design is None:
        yield Note("heat.no_design")
    elif study.design.from_table:
        code = "heat.design_estimated" if weather.estimated else "heat.design_from_table"
        yield Note(code, {"temperature": study.design.temperature})
    if not study.floor.measured:
        yield Note("heat.floor_guessed")
    if not study.asked_before:
        yield Note(
            "heat.floats", {"coldest": min(study.before.basement), "warmest": max(study.before.basement)}
        )
    yield from _old_notes(study.walls_before)
    yield Note("heat.settled")
    if weather.warming:
        yield Note("heat.recent", {"warmer": weather.warming})
    if weather.snow is None:
        yield Note("heat.no_snow")
    if any(not stretch.outdoors for stretch in job.stretches):
        yield Note("heat.sheltered")
    if study.saved.conducted.low <= 0:
        yield Note("heat.warmer_costs")
    if study.fuel is not None and study.fuel.units is None and house.heating.price is not None:
        yield Note("heat.price_unit", {"unit": house.heating.price.per, "fuel": study.fuel.fuel})
    yield from _comfort(study.draught)
    yield from _frost_notes(study.frost, kind)


def _old_notes(before: Sequence[WallBefore]) -> Iterator[Note]:
    """Old insulation counts before the work too; how sure its worth is."""
    for found in before:
        ends = found.whole
        if ends.low < ends.high:
            args = {"wall": found.wall, "low": ends.low, "high": ends.high, "worth": ends.likely}
            yield Note("heat.old_either", args)
        else:
            yield Note("heat.old_counted", {"wall": found.wall, "worth": ends.likely})


def _comfort(edge: Draught | None) -> Iterator[Note]:
    if edge is None:
        return
    if edge.floor[1] < edge.floor_limit:
        yield Note("heat.cold_floor", {"floor": edge.floor[1], "limit": edge.floor_limit})
    if edge.speed[1] > edge.speed_limit:
        yield Note("heat.falling_air", {"speed": edge.speed[1], "limit": edge.speed_limit})


def _frost_notes(frost: Sequence[Frost], kind: SoilKind) -> Iterator[Note]:
    """Warnings of bare ground, and what to do about them."""
    bare = frost[0]
    depths = {"before": bare.before.beside, "after": bare.after.beside, "footing": bare.footing}
    clings = bare.goes_deeper and kind.heaves
    if bare.reaches_footing:
        yield Note("heat.frost_footing", depths)
    if clings:
        yield Note("heat.frost_clings", depths)
    if not bare.reaches_footing and not clings:
        yield Note("heat.frost_far", depths)
        return
    if bare.frozen_before is not None and bare.frozen_after is not None:
        frozen = {"before": bare.frozen_before.beside, "after": bare.frozen_after.beside}
        yield Note("heat.frost_with_ice", frozen)
    if len(frost) > 1:
        yield Note("heat.frost_snow", {"after": frost[-1].after.beside})
    yield Note("heat.frost_keep_snow")
    yield Note("heat.frost_skirt")
    if bare.reaches_footing:
        yield Note("heat.frost_engineer")
