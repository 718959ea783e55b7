"""Papers for owner and office, and what it saves on the front sheet, of a house whose weather is known."""

from __future__ import annotations

import io
import re
import tomllib
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from pypdf import PdfReader

from tests.paper.test_documents import MEASURED
from warmside.answers import Answers, answer
from warmside.job.survey import Survey
from warmside.paper.assumed import assumed
from warmside.paper.front import front_content, front_sheet
from warmside.paper.month_chart import month_chart
from warmside.paper.office import office_content, office_paper
from warmside.paper.owner import owner_content, owner_paper
from warmside.paper.saves import cold_line, count, energy_line, rounded, saves_shown
from warmside.rules.clauses import Verdict
from warmside.rules.told import grouped
from warmside.say import Note, Voice, messages
from warmside.study.heat import HeatStudy
from warmside.study.heat_data import Range
from warmside.study.money import Years

DATE = "2026-11-25"
VOICE = Voice("ft-in")
METRIC = Voice("mm")
WARM = MEASURED.replace(
    'rule_set = "nbc-2020" }',
    'rule_set = "nbc-2020", climate = "Timmins, Ontario", design_temperature = "-33 C" }\n'
    'heating = { fuel = "electricity", price = "0.15 CAD per kWh", basement_before = "14 C" }',
)
EMPTY = 'format = 1\nname = "Later"\n'
PAPERS = {"front": front_sheet, "owner": owner_paper, "office": office_paper}


@cache
def job(text: str = WARM) -> Answers:
    table: dict[str, Any] = tomllib.loads(text)
    return answer(Survey.model_validate(table, context={"bare_numbers": "in"}))


def study(text: str = WARM) -> HeatStudy:
    found = job(text).heat
    assert found is not None
    return found


@cache
def pages(paper: str, text: str = WARM, metric: bool = False) -> list[str]:
    made = PAPERS[paper](job(text), METRIC if metric else VOICE, DATE)
    return [re.sub(r"\s+", " ", page.extract_text()) for page in PdfReader(io.BytesIO(made)).pages]


def words(paper: str, text: str = WARM) -> str:
    return " ".join(pages(paper, text))


def with_saving(saved: Range) -> HeatStudy:
    """The study as if conduction saved so much and air nothing."""
    zero = Range.certain(0.0)
    return replace(study(), saved=replace(study().saved, conducted=saved, air=zero))


def with_payback(*ends: float | None) -> Answers:
    """The answers as if the goods were paid back in so many years."""
    money = study().money
    assert money is not None
    return replace(job(), heat=replace(study(), money=replace(money, payback=Years(*ends))))


# ---- in sentences ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "shown"),
    [(0.0, "0"), (0.44, "0.4"), (6.04, "6.0"), (44.4, "44"), (1_234.0, "1,200"), (-987.0, "-990")],
)
def test_figures_are_told_to_two_digits(value: float, shown: str) -> None:
    assert count(value) == shown
    assert rounded(value) == pytest.approx(value, rel=0.05, abs=1e-12)


@pytest.mark.parametrize(
    ("saved", "begins"),
    [
        (
            Range(5_400.0, 6_600.0, 7_900.0),
            "Saves about 5,400 to 7,900 kWh of heat a year, most likely 6,600.",
        ),
        (Range(-300.0, 900.0, 2_000.0), "Between 300 kWh of heat a year more than now"),
        (Range(-900.0, -200.0, 500.0), "Most likely no heat is saved: about 200 kWh a year more"),
    ],
)
def test_a_saving_is_told_with_its_ends_and_a_loss_is_not_hidden(saved: Range, begins: str) -> None:
    assert energy_line(with_saving(saved), VOICE).startswith(begins)


@pytest.mark.parametrize(
    ("ends", "said"),
    [
        ((6.0, 7.4, 9.0), "pay back in 6 to 9 years, most likely 7;"),
        ((6.0, 20.0, None), "pay back in 6 years at best, most likely in 20, and never at the worst end"),
        ((6.0, None, None), "pay back in 6 years at best, and most likely never"),
        ((None, None, None), "never paid back"),
    ],
)
def test_payback_is_told_by_the_ends_at_which_it_comes(ends: tuple[float | None, ...], said: str) -> None:
    assert said in " ".join(saves_shown(with_payback(*ends), VOICE).lines)


def test_money_is_told_to_ten_and_no_payback_without_all_prices() -> None:
    # 0.15 CAD for each kWh of heat that electricity does not have to give.
    likely = round(study().saved.total.likely * 0.15, -1)
    lines = saves_shown(job(), VOICE).lines
    assert f"most likely {likely:,.0f}." in lines[1]
    assert "CAD a year" in lines[1]
    assert lines[2] == VOICE.line("paper.saves.payback_no_price")


def test_without_a_price_there_is_energy_only() -> None:
    lines = saves_shown(job(WARM.replace(', price = "0.15 CAD per kWh"', "")), VOICE).lines
    assert len(lines) == 2
    assert "nobody has said what the energy costs" in lines[1]


def test_without_weather_it_says_what_is_needed() -> None:
    for paper in ("front", "owner"):
        assert "name a listed town with a like climate" in words(paper, MEASURED)
    assert messages("en")["answer.no_weather"] in words("office", MEASURED)


def test_cold_places_stand_in_one_line_the_coldest_first() -> None:
    [line] = cold_line(study(), METRIC)
    shown = [int(found) for found in re.findall(r"(-?\d+) °C[,.]", line.partition("have:")[2])]
    assert line.startswith("On the coldest day, -33 °C outside")
    assert len(shown) == len(study().spots) == 5
    assert shown == sorted(shown)


@pytest.mark.parametrize(
    ("codes", "said"), [([], ""), (["clings"], "deeper"), (["clings", "footing"], "engineer")]
)
def test_the_gravest_frost_warning_is_one_sentence(codes: list[str], said: str) -> None:
    notes = tuple(Note(f"heat.frost_{code}") for code in codes)
    shown = saves_shown(replace(job(), heat=replace(study(), notes=notes)), VOICE).frost
    assert said in shown
    assert bool(shown) is bool(codes)


# ---- the papers --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("paper", "most"), [("front", 2), ("owner", 2), ("office", 6)])
@pytest.mark.parametrize("metric", [False, True])
def test_papers_keep_to_their_pages(paper: str, most: int, metric: bool) -> None:
    assert len(pages(paper, WARM, metric)) <= most


@pytest.mark.parametrize("paper", ["owner", "office"])
@pytest.mark.parametrize(
    "text", [WARM, MEASURED, 'format = 1\nname = "Later"\n'], ids=["whole", "no weather", "empty"]
)
def test_same_answers_same_bytes_and_tagged(paper: str, text: str) -> None:
    made = PAPERS[paper](job(text), VOICE, DATE)
    assert made == PAPERS[paper](job(text), VOICE, DATE)
    root: Any = PdfReader(io.BytesIO(made)).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]


def test_the_front_sheet_answers_the_question() -> None:
    content = front_content(job(), VOICE, DATE)
    assert [q.answered for q in content.questions if q.text == "What does it save?"] == [True]
    text = words("front")
    assert all(line in text for line in (*content.saves.lines, *content.saves.cold))


def test_the_owner_reads_settled_and_verified_and_what_is_not_answered() -> None:
    text = words("owner")
    for code in ("paper.owner.settled", "paper.verified", "paper.owner.not_yet.stays_dry", "caution.radon"):
        assert messages("en")[code] in text
    assert "two winters" in text
    assert f"{VOICE.show('temperature', study().spots[0].after)}" in text


def test_the_owner_is_told_what_was_found() -> None:
    mouldy = WARM.replace("heating = {", 'looked_at = { mould = "yes" }\nheating = {', 1)
    found = owner_content(job(mouldy), VOICE, DATE).found
    assert any("Is there mould" in line and "Yes." in line for line in found)


def test_the_owner_gets_only_cautions_for_who_lives_there() -> None:
    care = owner_content(job(), VOICE, DATE).care
    assert messages("en")["caution.water_first"] in care
    assert messages("en")["caution.fibres"] not in care
    assert 5 <= len(care) <= 9


def test_months_of_the_office_add_up_to_the_year() -> None:
    part = next(part for part in office_content(job(), VOICE, DATE).parts if part.captions == ("",))
    *months, year = part.tables[0].rows
    assert len(months) == 12
    for column in (-3, -2, -1):
        told = [float(row[column].replace(",", "")) for row in months]
        # Thirteen figures, each rounded to a whole kWh.
        assert sum(told) == pytest.approx(float(year[column].replace(",", "")), abs=6.5)


def test_the_office_has_bounds_grid_errors_methods_and_sources() -> None:
    text = words("office")
    for nest in job().nests:
        told = f"{nest.count} batts taken (first-fit: {nest.first_fit}); at least {nest.least} by"
        assert told in text
    assert "by extrapolation from two grids" in text
    assert "isothermal planes" in text
    assert "ISO 13370" in text
    assert "(from memory)" in text
    assert "CRU CL 2.0" in text


def test_isotherms_are_marked_and_the_one_at_zero_is_heaviest() -> None:
    part = next(part for part in office_content(job(), METRIC, DATE).parts if len(part.pictures) == 2)
    before, after = part.pictures
    for picture in (before, after):
        weights = {float(found) for found in re.findall(r'stroke-width="([\d.]+)"', picture.svg)}
        assert max(weights) == 0.9
        marks = re.findall(r">(-?\d+) °C<", picture.svg)
        assert "0" in marks
        assert len(marks) == len(set(marks)) >= 3
        assert "stroke-dasharray" in picture.svg
    assert (before.width, before.height) == (after.width, after.height)
    # Two of them and 8 mm between fill the 186 mm between the margins of an A4 sheet.
    assert before.width + after.width + 8.0 <= 186.1
    assert "0 °C reaches" in part.captions[0]


def test_columns_of_the_chart_are_as_high_as_the_months() -> None:
    before = [1200.0, 900.0, 600.0, 300.0, 100.0, 0.0, 0.0, 0.0, 150.0, 400.0, 800.0, 1100.0]
    after = [value / 2 for value in before]
    svg = month_chart(before, after, VOICE, 150.0).svg
    columns = svg.partition('data-layer="legend"')[0]
    heights = [float(h) for h in re.findall(r'<rect [^>]*height="([\d.]+)"', columns)]
    assert len(heights) == 12
    assert heights == pytest.approx([15.0 * value / 600.0 for value in after], abs=0.01)
    assert all(f">{month}<" in svg for month in ("Jan", "Jul", "Dec"))


def test_the_owner_is_told_where_the_plan_falls_short_of_the_rules() -> None:
    """R12 batts in 2x4 studs are far from the R17 that the national code wants in zone 7A (read in it)."""
    content, text = owner_content(job(), VOICE, DATE), words("owner")
    bad = [
        row for row in grouped(job().clauses) if row.worst.verdict in (Verdict.FAILS, Verdict.LIKELY_FAILS)
    ]
    assert len(content.short) == len(bad) > 0
    assert any("ffective R of the foundation wall: at least R" in line for line in content.short)
    assert all(line in text for line in (*content.rules, *content.short))
    assert messages("en")["rules.target"] in content.rules


def test_without_a_wall_no_rule_is_said_to_be_met() -> None:
    content = owner_content(job(EMPTY), VOICE, DATE)
    assert content.short == ()
    assert content.rules == (messages("en")["paper.owner.no_rules"],)


def test_sizes_of_the_craft_are_counted_for_the_owner_and_told_on_the_front_sheet() -> None:
    told = [one.text for one in owner_content(job(), VOICE, DATE).assumed]
    whole = [one.text for one in assumed(job().house, VOICE)]
    assert told[-1].startswith("Sizes that a trade takes as usual")
    assert set(told[:-1]) < set(whole)
