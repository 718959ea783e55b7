"""The demo jobs: all can be read, walls close, and what stands in them could stand in a house."""

from __future__ import annotations

import math
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from warmside.answers import NotYet, WhatWorth, answer
from warmside.catalog.goods import Batt, shelf
from warmside.catalog.kinds import kinds
from warmside.job.read import read_job
from warmside.job.resolve import Side, resolve
from warmside.job.survey import Place, Survey
from warmside.measure_next import measure_next
from warmside.units import INCH, MM
from warmside.wall.frame import frame_wall

DEMO = Path(__file__).parent.parent / "demo"
JOBS = ["birch-lane", "kadaka-cellar"]
WALKED = "alder-row"
"""Only walked through: no turns, no places, most of it unknown."""


def raw(job: str) -> dict[str, Any]:
    return tomllib.loads((DEMO / job / "job.toml").read_text("utf-8"))


def known(value: Any) -> Any:
    """The table without its unknowns; absent and `unknown` mean the same."""
    if isinstance(value, dict):
        return {key: known(inner) for key, inner in value.items() if inner != "unknown"}
    return [known(inner) for inner in value] if isinstance(value, list) else value


@cache
def survey(job: str) -> Survey:
    table = raw(job)
    return Survey.model_validate(known(table), context={"bare_numbers": table["bare_numbers"]})


def unknowns(value: Any) -> int:
    if isinstance(value, dict):
        return sum(map(unknowns, value.values()))
    return sum(map(unknowns, value)) if isinstance(value, list) else int(value == "unknown")


def miss(job: str) -> float:
    """By how much the concrete of the walls misses closing, added up corner by corner."""
    x = y = heading = 0.0
    for wall in survey(job).wall:
        assert wall.length is not None
        assert wall.turn is not None
        assert wall.against == "concrete"
        x += wall.length * math.cos(heading)
        y += wall.length * math.sin(heading)
        heading += math.radians(wall.turn)
    assert heading == pytest.approx(2 * math.pi)
    return math.hypot(x, y)


@pytest.mark.parametrize("job", [*JOBS, WALKED])
def test_a_demo_reads_without_a_fault_or_a_warning(job: str) -> None:
    found = read_job(DEMO / job)
    assert (found.faults, found.warnings) == ((), ())
    assert found.survey == survey(job)


def test_birch_lane_is_a_whole_house() -> None:
    walls = survey("birch-lane").wall
    things = [thing.kind for wall in walls for thing in wall.in_the_way]
    assert len(walls) >= 7
    assert sum(kind.startswith("electrical box") for kind in things) == 14
    assert things.count("window") == 3
    assert {"duct", "soil stack", "water pipe", "service panel"} <= set(things)
    assert {"beam pocket", "partition", "cable"} <= set(things)
    assert {wall.frame.state for wall in walls} == {"standing", "planned"}
    assert {wall.rim.joists for wall in walls} == {"land here", "run alongside"}
    assert sum(wall.facing is not None for wall in walls) == 1


def test_birch_lane_leaves_a_few_things_unknown() -> None:
    assert 2 <= unknowns(raw("birch-lane")) <= 4
    wraps = [t.wrap for w in survey("birch-lane").wall for t in w.in_the_way if kinds()[t.kind].wrapped]
    assert {"none", "wrapped", "sealed box", None} == set(wraps)


def test_one_good_of_birch_lane_has_no_price() -> None:
    job = survey("birch-lane")
    layers = ("vapour_control", "moisture_barrier", "sheet", "sealant", "tape", "box_wrap")
    used = {getattr(job.assembly, layer) for layer in layers}
    assert used - set(job.prices) == {"sheathing tape 60 mm"}


@pytest.mark.parametrize("job", JOBS)
def test_the_walls_close_as_a_real_survey_does(job: str) -> None:
    # A round taken with a tape misses by something, and by less than half an inch.
    assert 1 * MM < miss(job) < INCH / 2


@pytest.mark.parametrize("job", JOBS)
def test_prices_and_goods_at_hand_are_of_known_goods(job: str) -> None:
    goods = shelf().with_own(survey(job).goods.every()).goods
    for name, price in survey(job).prices.items():
        assert price.per == goods[name].package, name
    assert set(survey(job).at_hand) <= set(goods)
    assert len({price.currency for price in survey(job).prices.values()}) == 1


@pytest.mark.parametrize("job", JOBS)
def test_kinds_and_families_are_known(job: str) -> None:
    assert {t.kind for w in survey(job).wall for t in w.in_the_way} <= set(kinds())
    own = shelf().with_own(survey(job).goods.every())
    for family in (survey(job).assembly.batt, survey(job).assembly.rim.batt):
        assert family is not None
        assert own.batts(family)


def test_own_batt_of_the_cellar_has_the_stated_conductivity() -> None:
    # The job's comment says 95 mm at 0.037 W/(m.K); RSI is written to two decimals, 0.2 % of it.
    batt = survey("kadaka-cellar").goods.batt[0]
    assert isinstance(batt, Batt)
    assert batt.conductivity == pytest.approx(0.037, rel=0.002)


@pytest.mark.parametrize("job", JOBS)
def test_neighbouring_walls_meet_at_one_height_and_one_ground_line(job: str) -> None:
    # Concrete is one piece at a corner: half an inch apart at most.
    walls = survey(job).wall
    for wall, after in zip(walls, (*walls[1:], walls[0]), strict=True):
        for field in ("height", "concrete_showing"):
            here, there = getattr(wall, field), getattr(after, field)
            if here is not None and there is not None:
                assert abs(here.points[-1].value - there.points[0].value) <= INCH / 2, (wall.name, field)


@pytest.mark.parametrize("side", Side)
def test_boxes_hang_on_studs_and_windows_stand_between_jambs(side: Side) -> None:
    # A box is nailed to the side of a stud, so one of its edges is the edge of a bay; a window has two jamb
    # studs. This holds whichever way the unknowns are taken.
    for wall in resolve(survey("birch-lane"), side).walls:
        frame = frame_wall(wall)
        edges = {edge for bay in frame.bays for edge in (bay.left, bay.right)}
        assert all(0 < bay.width <= 14.5 * INCH for bay in frame.bays)
        for thing in wall.in_the_way:
            if thing.kind.wrapped:
                assert edges & {thing.left, thing.right}, (wall.name, thing.id)
            if thing.kind.framed:
                assert edges >= {thing.left, thing.right}, (wall.name, thing.id)


def test_what_runs_up_or_stands_in_a_bay_keeps_to_it() -> None:
    # A pipe, a duct, a panel and a beam end lie between two studs; only a partition stands before them.
    for wall in resolve(survey("birch-lane")).walls:
        bays = [(bay.left, bay.right) for bay in frame_wall(wall).bays]
        for thing in wall.in_the_way:
            if thing.runs != "along" and thing.kind.cut in ("notch", "keep out"):
                assert any(a <= thing.left and thing.right <= b for a, b in bays), (wall.name, thing.id)


def test_every_demo_is_looked_at() -> None:
    assert sorted(folder.name for folder in DEMO.iterdir()) == sorted([*JOBS, WALKED])


def test_the_walked_job_gives_its_first_results_and_no_cut_list() -> None:
    job = survey(WALKED).model_copy(update={"place": Place()})  # without weather, so without the heat
    found = answer(job)
    told = found.results.answers
    assert (found.house.level, isinstance(told.what_cut, NotYet)) == (1, True)
    assert isinstance(told.what_worth, WhatWorth)
    assert [len(found.walls), len(told.what_goes_in.walls)] == [4, 4]
    assert any(isinstance(line.good, Batt) for line in found.order.lines)
    # Eleven boxes were counted, nobody looked behind them: eleven hats.
    assert [line.packages for line in found.order.lines if line.good.id == "vapour hat"] == [11]
    assert 1 <= len(measure_next(job)) <= 3
