"""Job papers: what stands in them, that they are tagged, and that the same input gives the same bytes."""

import io
import json
import re
import tomllib
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, get_args

import pytest
from pypdf import PdfReader

from tests.paper.test_bag_card import answers as demo_answers
from warmside.answers import Answers, AnswersShown, answer
from warmside.catalog.codes import rule_sets
from warmside.catalog.goods import shelf
from warmside.job.survey import Survey
from warmside.order.order import Order
from warmside.paper.alike import drawn_bays, straight_bays
from warmside.paper.assumed import assumed, each_once
from warmside.paper.crew import crew_content, crew_paper
from warmside.paper.documents import READERS, ReaderError, safe_names, write_papers
from warmside.paper.front import bought, front_content, front_sheet, what_to_buy
from warmside.paper.phrases import QUARTERS, runs
from warmside.paper.typeset import PictureError, printable, shown, side_by_side
from warmside.paper.wall_shapes import needs_drawing
from warmside.physics.resistance import Method
from warmside.plan import Step, cautions
from warmside.rules.may_we_start import headline
from warmside.runs import Stopped
from warmside.say import Note, Voice, Where, messages

DATE = "2026-11-25"
VOICE = Voice("ft-in")

MEASURED = """
format = 1
name = "Alder Court"
show = "ft-in"
bare_numbers = "in"
place = { town = "Low Ford", year_built = 1958, rule_set = "nbc-2020" }
people = { owner = "R. Quill", contractor = "Quill and Sons" }
assembly = { batt = "R12 glass", rim = { batt = "R20 glass", pieces = 1 } }
prices = { "R12 glass 15 in" = "61.50 CAD per bag" }
at_hand = { "R12 glass 15 in" = 1 }

[[wall]]
name = "A"
length = "12 ft"
turn = "right"
height = 92
concrete_showing = [16, 10]
gap = [0.5, 0.75]
frame = { state = "standing", studs = "2x4", spacing = 16, layout_from = "left", height = 91.5 }
rim = { joists = "land here", height = 9.25, spacing = 16 }
in_the_way = [
    { kind = "electrical box", from_left = 37.25, up = 12, wrap = "none" },
    { kind = "cable", up = 30 },
]

[[wall]]
name = "B/<porch> №1."
length = "9 ft"
turn = "right"
height = [92, 90]
concrete_showing = 10
gap = [0.5, 0.75]
frame = { state = "planned", studs = "2x4", spacing = 16, top_plates = 1 }
rim = { joists = "run alongside", height = 9.25 }
"""

WALKED = MEASURED.replace("spacing = 16, top_plates = 1", "top_plates = 1").replace(
    'kind = "electrical box", from_left = 37.25, up = 12', 'kind = "electrical box"'
)


@cache
def job(text: str) -> Answers:
    table: dict[str, Any] = tomllib.loads(text)
    return answer(Survey.model_validate(table, context={"bare_numbers": "in"}))


@cache
def pdf(paper: str, text: str = MEASURED) -> bytes:
    make = {"front": front_sheet, "crew": crew_paper}[paper]
    return make(job(text), VOICE, DATE)


def words(paper: bytes) -> str:
    """All text of a PDF with single spaces."""
    pages = PdfReader(io.BytesIO(paper)).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


@pytest.mark.parametrize("paper", ["front", "crew"])
def test_same_answers_same_bytes(paper: str) -> None:
    make = {"front": front_sheet, "crew": crew_paper}[paper]
    assert make(job(MEASURED), VOICE, DATE) == pdf(paper)


@pytest.mark.parametrize("paper", ["front", "crew"])
def test_a_paper_is_tagged_titled_and_dated_by_nothing(paper: str) -> None:
    # PDF/UA-1, 7.1: marked content, a structure tree, the language, the title shown.
    reader = PdfReader(io.BytesIO(pdf(paper)))
    root: Any = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root
    assert root["/Lang"] == "en"
    assert reader.metadata is not None
    assert reader.metadata.title == f"Alder Court · {'Front sheet' if paper == 'front' else 'Crew'}"
    assert reader.metadata.creation_date is None
    assert b"/CreationDate" not in pdf(paper)


@pytest.mark.parametrize(("show", "size"), [("ft-in", (279.4, 215.9)), ("mm", (297.0, 210.0))])
def test_paper_goes_with_the_units(show: str, size: tuple[float, float]) -> None:
    voice = Voice("mm" if show == "mm" else "ft-in")
    crew = PdfReader(io.BytesIO(crew_paper(job(MEASURED), voice, DATE))).pages
    front = PdfReader(io.BytesIO(front_sheet(job(MEASURED), voice, DATE))).pages
    for page in crew:
        found = [float(side) / 72 * 25.4 for side in page.mediabox[2:]]
        assert found == pytest.approx(size, abs=0.1)
    assert [float(side) / 72 * 25.4 for side in front[0].mediabox[2:]] == pytest.approx(size[::-1], abs=0.1)
    assert len(front) <= 2


def test_warnings_of_reading_stand_first_on_the_front_sheet() -> None:
    table: dict[str, Any] = tomllib.loads(MEASURED)
    survey = Survey.model_validate(table, context={"bare_numbers": "in"})
    note = Note("warning.closing", {"miss": 4064, "walls": "A"}, Where(file="job.toml", line=7))
    shown_ones = front_content(answer(survey, warnings=[note]), VOICE, DATE).warnings
    # A paper is for people: the line of the job file is told by `check`.
    told = VOICE.text(note)
    assert shown_ones[0] == told[:1].upper() + told[1:]
    assert len(shown_ones) == 1 + len(job(MEASURED).warnings)


@pytest.mark.parametrize(
    ("likely", "said"),
    [
        (5, "4 bags"),
        (6, "4 bags"),
        (3, "4 bags; 2 are likely"),
        (2, "4 bags; 1 is likely"),
        (1, "4 bags; perhaps none"),
    ],
)
def test_the_larger_number_is_bought_and_the_likely_one_stands_beside_it(likely: int, said: str) -> None:
    # 5 bags are needed and 1 is at hand, so 4 are bought.
    line = replace(job(MEASURED).order.lines[0], packages=5, at_hand=1)
    assert bought(line, likely, VOICE) == said


def test_what_the_foam_board_takes_of_the_gap_is_no_air() -> None:
    # 50 mm of foam in a gap of 60 to 70 mm leaves 10 to 20 mm; the foam stands before the concrete.
    text = MEASURED.replace("gap = [0.5, 0.75]", 'gap = ["60 mm", "70 mm"]').replace(
        'batt = "R12 glass", rim', 'batt = "R12 glass", foam_board = "XPS 50 mm", rim'
    )
    [walls] = front_content(job(text), Voice("mm"), DATE).build_ups
    names = [layer.name for layer in walls.layers]
    assert [layer.told for layer in walls.layers if layer.name == "Air gap"] == [
        "10 mm to 20 mm behind the studs"
    ]
    assert names.index("Air gap") < names.index(shelf().goods["XPS 50 mm"].name) == len(names) - 2
    assert names[-1].startswith("Concrete")


def test_nothing_goes_into_a_wall_without_a_frame() -> None:
    text = MEASURED.replace(
        'frame = { state = "planned", studs = "2x4", spacing = 16, top_plates = 1 }',
        'frame = { state = "none" }',
    )
    framed, bare = front_content(job(text), VOICE, DATE).build_ups
    assert framed.layers
    assert (bare.layers, bare.nothing) == ((), "No frame, so nothing goes in.")


def fonts(reader: PdfReader) -> set[str]:
    """Names of all fonts in a PDF, those of its pictures included, without the tag of the subset."""
    every: list[Any] = [reader.get_object(number) for number in reader.xref[0]]
    named = [each["/BaseFont"] for each in every if isinstance(each, dict) and "/BaseFont" in each]
    return {str(name).lstrip("/").split("+")[-1] for name in named}


def test_only_the_shipped_fonts_are_used() -> None:
    names = fonts(PdfReader(io.BytesIO(pdf("crew")))) | fonts(PdfReader(io.BytesIO(pdf("front"))))
    assert {"NotoSans-Regular", "NotoSans-Bold"} <= names
    assert names <= {"NotoSans-Regular", "NotoSans-Bold", "WarmsideMarks-Regular"}


# ---- the front sheet ---------------------------------------------------------------------------------------


def test_front_names_the_job_its_level_its_input_and_the_date() -> None:
    text = words(pdf("front"))
    for told in ("Alder Court", "Low Ford", "R. Quill", "Quill and Sons", "measured survey", DATE):
        assert told in text
    assert job(MEASURED).results.input_id[:8] in text
    assert job(MEASURED).results.input_id[:9] not in text


def test_front_holds_every_caution_before_the_start_and_says_that_nobody_looked() -> None:
    text = words(pdf("front"))
    survey = [note for step in cautions(job(MEASURED).house) if step.step == "survey" for note in step.notes]
    assert len(survey) >= 8
    assert [note.code for note in survey if VOICE.text(note) not in text] == []
    assert VOICE.text(headline(job(MEASURED).start)) in text


def test_front_tells_effective_against_nominal() -> None:
    # 2.11 m2.K/W on the label is R12: 2.11 / 0.17611 = 11.98 (definition of the R-value).
    answers = job(MEASURED)
    worth = answers.results.answers.what_worth
    assert worth.answered
    effective = VOICE.show("R", worth.walls_together.value)
    assert f"R12 on the bag, about {effective} in the wall" in words(pdf("front"))
    assert VOICE.show("R", worth.rims_together.value) in words(pdf("front"))


def test_front_counts_and_gives_each_assumption_once() -> None:
    answers = job(MEASURED)
    count = len({assumption.field for assumption in answers.house.assumptions})
    assert len(each_once(answers.house)) == count
    text = words(pdf("front"))
    assert f"{count} values were not measured or not chosen" in text
    shown_ones = assumed(answers.house, VOICE)
    assert len({it.text for it in shown_ones}) == len(shown_ones)
    assert [it.text for it in shown_ones if it.text not in text] == []


def test_front_says_which_price_is_missing_and_that_the_total_is_incomplete() -> None:
    text = words(pdf("front"))
    answers = job(MEASURED)
    unpriced = [line for line in answers.order.lines if line.to_buy and line.cents is None]
    assert unpriced
    assert text.count("no price") == len([line for line in answers.order.lines if line.cents is None])
    assert f"incomplete: {len(unpriced)} lines without a price; the priced part is" in text


def test_front_gives_a_range_over_what_has_a_price_and_calls_it_incomplete() -> None:
    # 5 bags, 3 of them likely, 1 at hand, at 10.00 each: 4 or 2 are bought, for 40.00 or 20.00.
    bag = replace(job(MEASURED).order.lines[0], at_hand=1, cents_each=1000)
    free = replace(job(MEASURED).order.lines[-1], packages=3, cents_each=None, at_hand=0)
    order, likely = (Order((replace(bag, packages=n), free), "CAD") for n in (5, 3))
    told = "incomplete: 1 line without a price; the priced part is "
    assert what_to_buy(order, likely, VOICE).last[1] == f"{told}20.00 CAD to 40.00 CAD"
    assert what_to_buy(order, order, VOICE).last[1] == f"{told}40.00 CAD"


def test_front_with_every_price_is_complete() -> None:
    answers = job(MEASURED)
    goods = {line.good.id: line.good.package for line in answers.order.lines}
    priced = "\n".join(f'"{good}" = "2.00 CAD per {package}"' for good, package in goods.items())
    text = (
        MEASURED.replace('prices = { "R12 glass 15 in" = "61.50 CAD per bag" }', "") + f"\n[prices]\n{priced}"
    )
    buy = front_content(job(text), VOICE, DATE).buy
    packages = sum(line.to_buy for line in job(text).order.lines)
    likely = sum(line.to_buy for line in job(text).likely_order.lines)
    assert likely < packages
    assert buy.last[1] == f"{2 * packages:,d}.00 CAD; {2 * likely:,d}.00 CAD is likely"


def test_front_lists_the_ten_questions_honestly() -> None:
    asked = front_content(job(MEASURED), VOICE, DATE).questions
    assert len(asked) == 10
    answered = [question.text for question in asked if question.answered]
    assert answered == [
        "May we start?",
        "What goes in the wall?",
        "Does it meet the rules?",
        "What is it really worth?",
        "What do we buy?",
        "What do we cut?",
    ]
    unanswered = {question.state for question in asked if not question.answered}
    assert unanswered == {"not yet", "not yet: no weather is known for this place"}


def test_walls_built_alike_stand_together() -> None:
    # Both walls of the job have the same layers; only their gaps could differ.
    content = front_content(job(MEASURED), VOICE, DATE)
    assert [walls.walls for walls in content.build_ups] == ["Walls A and B/<porch> №1."]
    names = [layer.name for layer in content.build_ups[0].layers]
    assert names[0].startswith("Drywall")
    assert names[1].startswith("Polyethylene")
    assert names[2].startswith("R12 glass batt")
    assert names[-1].startswith("Concrete")
    assert "only up to the ground line" in content.build_ups[0].layers[-2].told


# ---- the crew paper ----------------------------------------------------------------------------------------


def test_crew_holds_every_caution_of_the_job() -> None:
    text = words(pdf("crew"))
    notes = [note for step in cautions(job(MEASURED).house) for note in step.notes]
    assert len(notes) > 15
    assert [note.code for note in notes if VOICE.text(note) not in text] == []


def listed_bays(marks: str) -> list[str]:
    """The marks that a line such as `A2, A4 to A6` stands for."""
    found = []
    for part in marks.split(", "):
        first, _, last = part.partition(" to ")
        before = first.rstrip("0123456789")
        ends = [int(mark.removeprefix(before)) for mark in (first, last or first)]
        found += [f"{before}{number}" for number in range(ends[0], ends[1] + 1)]
    return found


def test_every_bay_is_cut_once_by_a_line_or_by_a_drawing() -> None:
    answers = job(MEASURED)
    alike = straight_bays(answers.walls, VOICE)
    marks = [mark for group in alike for mark in listed_bays(group.marks)]
    assert sum(group.count for group in alike) == len(marks)
    marks += [fill.bay.mark for group in drawn_bays(answers.walls, VOICE) for fill in group]
    assert sorted(marks) == sorted(fill.bay.mark for each in answers.walls for fill in each.fills)


def test_marks_are_those_that_stand_on_the_studs() -> None:
    # A wall named by a number has a dash in its marks, so that bay 2 of wall 1 is not wall 12.
    text = MEASURED.replace('name = "A"', 'name = "1"')
    marks = [group.marks for group in straight_bays(job(text).walls[:1], VOICE)]
    assert {mark for line in marks for mark in listed_bays(line)} == {
        fill.bay.mark for fill in job(text).walls[0].fills if not needs_drawing(fill)
    }
    assert all(mark.startswith("1-") for mark in marks)


def test_crew_prints_the_marks_and_sizes_of_every_line() -> None:
    text = words(pdf("crew"))
    content = crew_content(job(MEASURED), VOICE, DATE)
    rows = [row for table in (*content.straight, *content.rim) for row in table.rows]
    assert len(rows) > 3
    assert [row for row in rows if row.marks not in text or row.cuts not in text] == []


def test_a_standard_bay_of_12_ft_of_wall() -> None:
    # Frame 91-1/2 less two plates of 1-1/2 leaves 88-1/2 clear: a batt of 47, then 41-1/2 + 1/2 friction.
    plain = straight_bays(job(MEASURED).walls[:1], VOICE)[0]
    assert plain.rip == "–"
    assert plain.cuts.startswith("1 whole (slit ")
    assert plain.cuts.endswith('then 42"')
    assert plain.stops == "1"


def test_a_wall_that_is_not_measured_gets_no_cut_list_but_what_to_measure() -> None:
    answers = job(WALKED)
    assert [each.wall.level for each in answers.walls] == [1, 1]
    content = crew_content(answers, VOICE, DATE)
    assert (content.straight, content.drawn, content.rim, content.bags) == ((), (), (), ())
    told = {wall.wall: " ".join(wall.items) for wall in content.to_measure}
    assert "electrical box" in told["A"]
    assert "spacing" in told["B/<porch> №1."]
    text = words(pdf("crew", WALKED))
    assert "no cut list" in text
    assert "whole" not in text


def test_a_wall_without_length_is_to_be_measured_whole() -> None:
    text = MEASURED.replace('length = "9 ft"\n', "")
    told = crew_content(job(text), VOICE, DATE).to_measure
    assert [(wall.wall, wall.items) for wall in told] == [
        ("B/<porch> №1.", ("length and height of the wall",)),
    ]


@pytest.mark.parametrize("system", ["ft-in", "mm"])
def test_no_picture_is_larger_than_its_page(system: str) -> None:
    voice = Voice("mm" if system == "mm" else "ft-in")
    # Paper as it lies less 12 mm on every side: letter 279.4 x 215.9 mm, A4 297 x 210 mm.
    width, height = (273.0, 186.0) if system == "mm" else (255.4, 191.9)
    content = crew_content(job(MEASURED), voice, DATE)
    rows = [list(row) for each in content.walls for row in each.rows]
    rows += [list(row) for row in content.drawn]
    assert len(rows) >= 2
    for each in content.walls:
        high = [max(picture.height for picture in row) for row in each.rows]
        told = each.key.height if each.key is not None else 0.0
        assert sum(high) + 3.0 * len(high) + told <= height
    for row in rows:
        assert sum(picture.width for picture in row) + 8.0 * (len(row) - 1) <= width
        assert max(picture.height for picture in row) <= height


def test_a_tall_batt_fits_on_the_sheet() -> None:
    # A batt of 93 in is 2362 mm: at 1:48 it takes 49 mm of the page, its marks and words the rest.
    text = MEASURED.replace("R12 glass", "R13 glass").replace("height = 91.5", "height = 96")
    [row] = crew_content(job(text), VOICE, DATE).drawn
    assert max(card.height for card in row) <= 191.9 - 16.0


# ---- what the papers are made of ---------------------------------------------------------------------------


def test_marks_in_a_row_become_a_run() -> None:
    marks = [("A", 1), ("A", 2), ("A", 4), ("A", 5), ("A", 6), ("C", 7), ("C", 8), ("C", 9), ("C", 10)]
    assert runs(VOICE, marks) == "A1, A2, A4 to A6, C7 to C10"
    assert runs(VOICE, marks[2:5], short=True) == "A4 to 6"


def test_pictures_stand_side_by_side_only_where_they_fit() -> None:
    # With 8 between them 100 + 92 fill 200, 101 + 99 do not, 90 finds room beside 101 where order may change.
    widths = [100.0, 92.0, 101.0, 99.0, 90.0]
    assert side_by_side(widths, 200.0) == [[0, 1], [2], [3, 4]]
    assert side_by_side(widths, 200.0, keep_order=False) == [[0, 1], [2, 4], [3]]


def test_a_picture_without_a_size_is_refused() -> None:
    with pytest.raises(PictureError, match="has no width and height"):
        shown("<svg viewBox='0 0 1 1'>", "")


def test_a_sign_that_no_font_has_becomes_a_box() -> None:
    assert printable('Ünïcødé Строй ½ ✓ "株"\n') == 'Ünïcødé Строй ½ ✓ "□"\n'
    text = MEASURED.replace("R. Quill", "株式会社")
    assert "For □□□□" in words(front_sheet(job(text), VOICE, DATE))


@pytest.mark.parametrize(
    ("sign", "shown_as"),
    [("\ufeff", ""), ("\u0378", "□"), ("\U000f0000", "□")],
    ids=["byte order mark", "unassigned", "private use"],
)
def test_a_sign_without_any_picture_does_not_stop_the_papers(sign: str, shown_as: str) -> None:
    text = MEASURED.replace("R. Quill", f"R.{sign}Quill")
    assert f"For R.{shown_as}Quill" in words(front_sheet(job(text), VOICE, DATE))


@pytest.mark.parametrize("taken", ["drawings", "results.json"])
def test_nothing_is_written_where_something_is_in_the_way(taken: str, tmp_path: Path) -> None:
    in_the_way = tmp_path / taken
    in_the_way.mkdir() if taken.endswith("json") else in_the_way.touch()
    with pytest.raises(OSError, match=r"exists|is a folder"):
        write_papers(job(WALKED), tmp_path, VOICE, {"owner"}, DATE)
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == [in_the_way] * in_the_way.is_file()


@pytest.mark.parametrize("text", ["", '[[wall]]\nname = "A"\n'], ids=["no wall", "a bare name"])
def test_a_job_without_measures_still_has_its_papers(text: str) -> None:
    answers = job(f'format = 1\nname = "Later"\n{text}')
    assert "No wall has a length and a height yet." in words(front_sheet(answers, VOICE, DATE))
    crew = words(crew_paper(answers, VOICE, DATE))
    assert "Water first." in crew
    assert ("length and height of the wall" in crew) == bool(text)


def test_every_choice_has_its_sentence() -> None:
    steps = [f"paper.step.{step}.{part}" for step in get_args(Step) for part in ("title", "do", "why")]
    methods = [f"paper.method.{method.value.replace(' ', '_')}" for method in Method]
    rules = [f"paper.layer.control.{name}" for name in rule_sets()]
    parts = [f"paper.left.{part}" for part in QUARTERS]
    goods = [f"paper.package.{good.package}.{n}" for good in shelf().goods.values() for n in ("one", "many")]
    questions = [f"answer.question.{key}" for key in AnswersShown.model_fields]
    wanted = [*steps, *methods, *rules, *parts, *goods, *questions]
    assert len(wanted) > 50
    assert sorted(set(wanted) - set(messages("en"))) == []


# ---- writing -----------------------------------------------------------------------------------------------


def test_everything_is_written_and_again_the_same(tmp_path: Path) -> None:
    made = write_papers(job(MEASURED), tmp_path / "new" / "papers", VOICE, set(READERS), DATE)
    names = [path.relative_to(tmp_path / "new" / "papers").as_posix() for path in made.paths]
    papers = ["front.pdf", "crew.pdf", "inspector.pdf", "owner.pdf", "office.pdf"]
    assert names[:8] == [*papers, "order.xlsx", "cutlist.csv", "results.json"]
    assert {"drawings/A-1.svg", "drawings/A.dxf", "drawings/B-porch-No1-1.svg"} <= set(names)
    assert all(
        re.fullmatch(r"(drawings/)?[A-Za-z0-9_-]+\.(pdf|xlsx|csv|json|svg|dxf)", name) for name in names
    )
    before = [path.read_bytes() for path in made.paths]
    again = write_papers(job(MEASURED), tmp_path / "new" / "papers", VOICE, set(READERS), DATE)
    assert [path.read_bytes() for path in again.paths] == before
    assert json.loads((tmp_path / "new" / "papers" / "results.json").read_bytes())["level"] == 2
    left = sorted(path for path in (tmp_path / "new").rglob("*") if path.is_file())
    assert left == sorted([*made.paths, tmp_path / "new" / "papers" / "made.json"])


def test_readers_without_a_paper_are_told(tmp_path: Path) -> None:
    made = write_papers(job(WALKED), tmp_path, VOICE, {"owner", "inspector", "quote"}, DATE)
    assert [VOICE.text(note) for note in made.notes] == [
        "The quote: this version does not make it yet.",
    ]
    names = {path.name for path in made.paths}
    assert {"front.pdf", "inspector.pdf", "owner.pdf"} <= names
    assert not names & {"crew.pdf", "cutlist.csv", "A.dxf"}


def test_what_an_earlier_survey_left_is_removed_and_told(tmp_path: Path) -> None:
    write_papers(job(MEASURED), tmp_path, VOICE, {"crew"}, DATE)
    assert (tmp_path / "cutlist.csv").exists()
    made = write_papers(job(WALKED), tmp_path, VOICE, {"owner"}, DATE)
    assert not (tmp_path / "cutlist.csv").exists()
    assert {path.name for path in made.removed} >= {"cutlist.csv", "crew.pdf"}
    assert "cutlist.csv was of an earlier survey and is removed." in [VOICE.text(n) for n in made.notes]
    again = write_papers(job(WALKED), tmp_path, VOICE, {"crew"}, DATE)
    assert again.removed == ()
    assert (tmp_path / "owner.pdf").exists()


def test_an_unknown_reader_is_refused_and_nothing_written(tmp_path: Path) -> None:
    with pytest.raises(ReaderError, match=r"'mayor' is no reader .* crew, inspector, owner, quote, office"):
        write_papers(job(WALKED), tmp_path / "papers", VOICE, {"mayor"}, DATE)
    assert not (tmp_path / "papers").exists()


class StopsAt:
    """A watch that stops before the part of that number."""

    def __init__(self, part: int) -> None:
        self.part, self.done = part, 0

    def step(self, done: int, total: int, code: str) -> None:
        assert VOICE.line(code)
        assert done <= total
        self.done = done

    def stop(self) -> bool:
        return self.done + 1 >= self.part


def test_stopped_half_way_nothing_is_written(tmp_path: Path) -> None:
    watch = StopsAt(3)
    with pytest.raises(Stopped):
        write_papers(job(MEASURED), tmp_path / "papers", VOICE, {"crew"}, DATE, watch)
    assert watch.done == 2
    assert not (tmp_path / "papers").exists()


def test_names_are_safe_and_no_two_alike() -> None:
    names = ["A", "a", "D/stairs", "D stairs", "..", "Größe", "ñ", "壁", "con", "A-2", "../../x"]
    safe = safe_names(names)
    assert safe[:4] == ["A", "a-2", "D-stairs", "D-stairs-2"]
    assert all(re.fullmatch(r"[A-Za-z0-9_]([A-Za-z0-9_-]*[A-Za-z0-9_])?", name) for name in safe)
    assert len({name.casefold() for name in safe}) == len(names)
    assert "con" not in safe


def test_eight_walls_with_odd_bays_take_at_most_seven_pages() -> None:
    # Steps, three sheets of walls, the lines, the card, the odd bays.
    paper = crew_paper(demo_answers("birch-lane"), VOICE, DATE)
    assert len(PdfReader(io.BytesIO(paper)).pages) <= 7


def test_a_small_cellar_takes_at_most_five_pages() -> None:
    # Steps, two sheets of walls, the lines with the odd bays, the card.
    paper = crew_paper(demo_answers("kadaka-cellar"), Voice("mm"), DATE)
    assert len(PdfReader(io.BytesIO(paper)).pages) <= 5
