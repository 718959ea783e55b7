"""The inspector's paper: every rule once, the worst place of each, and no more than two pages."""

from __future__ import annotations

import io
import re
from functools import cache
from typing import Any

import pytest
from pypdf import PdfReader

from tests import walls as w
from warmside.answers import Answers, answer
from warmside.catalog.codes import rule_sets, seen_on_site
from warmside.catalog.hazards import hazards
from warmside.paper.inspector import HOLD_POINTS, MOST_FOUND, inspector_content, inspector_paper
from warmside.say import UnitSystem, Voice

DATE = "2026-03-02"
VOICE = Voice()
THINGS = [
    {"kind": "electrical box", "from_left": f"{16 * n + 1} in", "up": "12 in", "wrap": "none"}
    for n in range(1, 8)
]


@cache
def job(rules: str) -> Answers:
    place = {"climate": "Kelowna, British Columbia", "rule_set": rules}
    usual: dict[str, Any] = {"exposure": "soil", "concrete_showing": "12 in", "turn": "right"}
    walls = [w.wall(name=name, **usual, in_the_way=THINGS) for name in "ABCD"]
    return answer(w.survey(*walls, place=place))


def words(paper: bytes) -> str:
    pages = PdfReader(io.BytesIO(paper)).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


@pytest.mark.parametrize("rules", list(rule_sets()))
def test_each_set_fits_two_pages_and_says_which_set_it_is(rules: str) -> None:
    made = inspector_paper(job(rules), VOICE, DATE)
    assert len(PdfReader(io.BytesIO(made)).pages) <= 2
    told = words(made)
    assert rule_sets()[rules].title in told
    assert "Our reading. The authority decides." in told
    assert made == inspector_paper(job(rules), VOICE, DATE)


def test_every_rule_that_applies_stands_there_once() -> None:
    clauses = [line.clause for line in inspector_content(job("nbc-2020"), VOICE, DATE).clauses]
    applied = dict.fromkeys(result.rule.id for result in job("nbc-2020").clauses)
    assert len(clauses) == len(applied) > 15
    assert "9.10.17.10.(1), 9.29 *" not in clauses


def test_what_is_kept_needs_no_row() -> None:
    lines = inspector_content(job("nbc-2020"), VOICE, DATE).clauses
    signs = {line.sign for line in lines if not line.kept}
    assert signs == {"✗", "?"}
    assert {line.sign for line in lines if line.kept} == {"✓", "·"}
    assert all(line.plain or not line.kept or line.verdict != "passes" for line in lines)


def test_the_climate_that_chose_the_limits_is_told() -> None:
    # Kelowna has 3400 degree-days in the table of British Columbia that was read: zone 5.
    reading = inspector_content(job("nbc-2020"), VOICE, DATE).reading
    assert "Zone 5: 3400 degree-days (Kelowna)." in reading
    assert "Whether a heat-recovery ventilator runs is not known." in reading
    assert not any("Zone" in line for line in inspector_content(job("iso-6946"), VOICE, DATE).reading)
    unknown = inspector_content(answer(w.survey(w.wall(), place={"rule_set": "irc-2021"})), VOICE, DATE)
    assert any(line.startswith("No degree-days are known") for line in unknown.reading)
    assert not any("ventilator" in line for line in unknown.reading)


def test_walls_under_other_rules_are_named() -> None:
    place = {"rule_set": "nbc-2020"}
    made = answer(w.survey(w.wall(), w.wall(name="N", exposure="party wall"), place=place))
    content = inspector_content(made, VOICE, DATE)
    assert "Left out, because other rules govern it: wall N. Ask first." in content.reading
    assert content.start.answer.startswith("STOP. 1 found")


def test_what_no_survey_can_tell_stands_under_its_point() -> None:
    hold = inspector_content(job("nbc-2020"), VOICE, DATE).hold
    rim = hold[HOLD_POINTS.index("rim")]
    assert rim.see[0].startswith("9.36.2.10.(9), 9.25.3.3.(5): four joints sealed")
    assert sum(len(point.see) for point in hold) == len(seen_on_site("nbc-2020")) > 10
    assert "hatches and sump lids" in words(inspector_paper(job("nbc-2020"), VOICE, DATE))


def test_many_places_are_told_by_their_walls() -> None:
    (line,) = [
        line
        for line in inspector_content(job("nbc-2020"), VOICE, DATE).clauses
        if line.clause == "9.36.2.5.(7)"
    ]
    assert line.where == "28 places: A, B, C, D"
    assert (line.sign, line.verdict) == ("✗", "fails")


def test_limits_from_memory_are_marked() -> None:
    content = inspector_content(job("ontario-2012"), VOICE, DATE)
    assert "SB-12, chapter 3 *" in [line.clause for line in content.clauses]
    assert any("from memory" in line for line in content.reading)


def test_another_set_than_that_of_the_place_is_told() -> None:
    place = {"country": "Canada", "region": "Ontario", "rule_set": "nbc-2020"}
    other = inspector_content(answer(w.survey(w.wall(), place=place)), VOICE, DATE)
    assert "Suggested: Ontario Building Code, because the house stands in Ontario." in " ".join(other.reading)
    same = inspector_content(
        answer(w.survey(w.wall(), place={**place, "rule_set": "ontario-2012"})), VOICE, DATE
    )
    assert "Suggested" not in " ".join(same.reading)


@pytest.mark.parametrize(("system", "gap"), [("ft-in", '25 mm (1")'), ("mm", "25 mm")])
def test_each_reader_sees_own_units(system: UnitSystem, gap: str) -> None:
    lines = inspector_content(job("nbc-2020"), Voice(system), DATE).clauses
    assert any(line.wants == f"largest gap behind the studs: at most {gap}" for line in lines)


def test_what_is_wrong_elsewhere_is_named_beside_the_worst() -> None:
    # 40 mm is over 25 mm; of wall B nobody measured the gap.
    place = {"climate": "Kelowna, British Columbia", "rule_set": "nbc-2020"}
    usual: dict[str, Any] = {"exposure": "soil", "concrete_showing": "12 in"}
    unknown = {key: value for key, value in w.wall(name="B", **usual).items() if key != "gap"}
    made = answer(w.survey(w.wall(name="A", **usual, gap=["10 mm", "40 mm"]), unknown, place=place))
    lines = {line.clause: line for line in inspector_content(made, VOICE, DATE).clauses}
    assert lines["9.10.16.2.(2)(a)"].where == "A. Can't tell: B"
    assert lines["9.36.2.8.(1), Tables 9.36.2.8.-A and -B"].where == "every wall"


def test_every_wall_is_said_of_all_walls_of_the_house_only() -> None:
    # Fire blocks are asked about where the gap is too wide: at two of three walls, so not at every wall.
    place = {"climate": "Kelowna, British Columbia", "rule_set": "nbc-2020"}
    usual: dict[str, Any] = {"exposure": "soil", "concrete_showing": "12 in"}
    gaps = {"A": ["10 mm", "40 mm"], "B": ["10 mm", "40 mm"], "C": ["10 mm", "20 mm"]}
    made = answer(w.survey(*(w.wall(name=n, **usual, gap=gap) for n, gap in gaps.items()), place=place))
    lines = {line.clause: line for line in inspector_content(made, VOICE, DATE).clauses}
    assert lines["9.10.16.2.(1)"].where == "A; B"


def test_a_wall_that_nobody_measured_is_named() -> None:
    place = {"rule_set": "nbc-2020"}
    part = answer(w.survey(w.wall(), {"name": "B", "exposure": "soil"}, place=place))
    assert (
        "Not judged, because nobody has measured it: wall B." in inspector_content(part, VOICE, DATE).reading
    )
    none = inspector_content(answer(w.survey(place=place)), VOICE, DATE)
    assert "No wall is measured yet, so no wall is judged." in none.reading


@pytest.mark.parametrize("rules", list(rule_sets()))
def test_what_nobody_has_read_stands_there_with_what_the_house_has(rules: str) -> None:
    content = inspector_content(job(rules), VOICE, DATE)
    assert not any("not-read" in line.clause for line in content.clauses)
    assert bool(content.not_read) is (rules != "nbc-2020")
    assert ("not read, so not judged" in content.counted) is (rules != "nbc-2020")


def test_ontario_is_asked_from_which_height_the_wall_value_counts() -> None:
    (tables,) = inspector_content(job("ontario-2012"), VOICE, DATE).not_read
    assert tables.why == "SB-12: The tables of SB-12 could not be read."
    assert 'mean height of the concrete above the ground: 12"' in tables.has
    assert any(line.startswith("effective R of the rim: R") for line in tables.has)


# May we start


def started(**looked_at: str) -> Answers:
    place = {"rule_set": "nbc-2020", "year_built": 1962}
    looked = {key.replace("_", "-"): value for key, value in looked_at.items()}
    return answer(w.survey(w.wall(), place=place, looked_at=looked))


def test_each_finding_says_what_has_to_be_done_and_who_may() -> None:
    start = inspector_content(started(radon="250 Bq/m3", structure="yes"), VOICE, DATE).start
    assert start.answer.startswith("STOP. 1 found")
    assert start.found[0] == (
        "Stop",
        "Does a wall bow or lean, or has it stepped or wide cracks? Yes.",
        "Nothing is covered before an engineer has looked.",
        "an engineer",
    )
    assert start.found[1][1].endswith("Read: 250 Bq/m3, the line is 200 Bq/m3.")
    assert start.found[1][3] == "a certified radon professional"


def test_what_was_looked_at_and_what_not_is_named() -> None:
    start = inspector_content(started(bulk_water="no", radon="180 Bq/m3"), VOICE, DATE).start
    waits, no_stop, clear = start.lists
    assert waits.startswith("Not looked at, and the work waits for it: white salts, moisture of the wood, ")
    assert "wiring (a licensed electrician)" in waits
    assert "floor that moves" in no_stop
    assert clear == "Looked at, nothing found: water, radon."


def test_nothing_is_named_twice_and_nothing_left_out() -> None:
    made = started(bulk_water="no", radon="250 Bq/m3")
    start = made.start
    assert len(start.found) + len(start.unseen) + len(start.clear) == start.of
    assert start.seen == len(start.found) + len(start.clear)


@pytest.mark.parametrize("rules", list(rule_sets()))
def test_a_house_with_every_hazard_still_fits_two_pages(rules: str) -> None:
    place = {"climate": "Kelowna, British Columbia", "rule_set": rules}
    things = [
        *THINGS,
        {"kind": "service panel", "from_left": "130 in"},
        {"kind": "duct", "from_left": "170 in"},
    ]
    usual: dict[str, Any] = {"exposure": "soil", "concrete_showing": "12 in", "turn": "right"}
    walls = [w.wall(name=name, **usual, in_the_way=things) for name in "ABCD"]
    made = answer(w.survey(*walls, place=place, looked_at=dict.fromkeys(hazards(), "yes")))
    content = inspector_content(made, VOICE, DATE)
    assert len(content.start.found) == MOST_FOUND
    assert content.start.lists[0].startswith("Found as well: ")
    assert len(PdfReader(io.BytesIO(inspector_paper(made, VOICE, DATE))).pages) <= 2


def test_the_points_before_covering_have_a_place_to_sign() -> None:
    content = inspector_content(job("nbc-2020"), VOICE, DATE)
    assert len(content.hold) == len(HOLD_POINTS) == 7
    assert words(inspector_paper(job("nbc-2020"), VOICE, DATE)).count("Seen by, on:") == 7
