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
from warmside.catalog.codes import rule_sets
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
