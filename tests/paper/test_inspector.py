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
from warmside.paper.inspector import HOLD_POINTS, inspector_content, inspector_paper
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
    assert content.start.startswith("STOP. 1 found")


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


def test_the_points_before_covering_have_a_place_to_sign() -> None:
    content = inspector_content(job("nbc-2020"), VOICE, DATE)
    assert len(content.hold) == len(HOLD_POINTS) == 7
    assert words(inspector_paper(job("nbc-2020"), VOICE, DATE)).count("Seen by, on:") == 7
