"""`warmside new`: asks, explains, writes once and never over a job, and says the first results."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from pypdf import PdfReader
from typer.testing import CliRunner

from warmside import cli
from warmside.__main__ import main as entry_point
from warmside.answers import answer, results_schema
from warmside.cli import app
from warmside.job.read import read_bytes, read_job
from warmside.job.walk_text import job_text
from warmside.job.walk_through import questions
from warmside.measure_next import measure_next
from warmside.new_job import KEYS, NewJobError, refuse_if_taken, walked, write_job
from warmside.paper.first_results import first_results
from warmside.paper.survey_form import FORM_NAME, form_content, question_words
from warmside.say import Voice
from warmside.units import FOOT

FLAGS = ["--walls", "24 ft, 16 ft, 24 ft, 16 ft", "--height", "88 in", "--frame", "planned", "--water", "no"]


def run(*words: str) -> tuple[int, str]:
    done = CliRunner().invoke(app, ["new", *words])
    return done.exit_code, done.output


class Person:
    """Somebody who answers from a list; nothing more is Enter."""

    def __init__(self, *answers: str) -> None:
        self.answers = list(answers)
        self.heard: list[str] = []

    def __call__(self, lines: Sequence[str]) -> str:
        self.heard += lines
        return self.answers.pop(0) if self.answers else ""


def test_flags_write_a_job_and_tell_its_first_results(tmp_path: Path) -> None:
    status, said = run(str(tmp_path / "House"), *FLAGS)
    assert status == 0
    job = read_job(tmp_path / "House").survey
    assert job is not None
    assert (job.name, len(job.wall)) == ("House", 4)
    assert os.listdir(tmp_path / "House") == ["job.toml"]
    for words in (
        "is written",
        "WAIT.",
        "The label says R12",
        "bags",
        "were assumed",
        "Measure next:",
        "Then, in the same way as `new`",
    ):
        assert words in said


def test_first_results_say_what_the_rules_make_of_it(tmp_path: Path) -> None:
    said = run(str(tmp_path / "x"), *FLAGS, "--yes")[1]
    assert "Against the rules, as they are read here: " in said
    assert "No climate is known for this place" in said
    assert "under [looked_at]" in said


def test_a_frame_of_which_nobody_said_whether_it_stands_is_told() -> None:
    somebody = Person(*[""] * 7, "2x4 at 16")
    walked("x", Voice(), {}, somebody)
    assert any("no batt is counted yet" in line for line in somebody.heard)


def test_what_stops_the_work_is_named_at_once(tmp_path: Path) -> None:
    status, said = run(str(tmp_path / "x"), *FLAGS, "--signs", "mould, no cracks", "--yes")
    assert status == 0
    assert "STOP. 1 found" in said
    assert "Is there mould that you can see or smell? Yes." in said


def test_where_nothing_is_known_the_walls_are_asked_for_first(tmp_path: Path) -> None:
    _, said = run(str(tmp_path / "x"), "--yes")
    assert "Measure how long each outside wall is" in said.partition("Measure next:")[2]


def test_every_question_has_its_flag() -> None:
    _, said = run("--help")
    assert [key for key in KEYS if f"--{key}" not in said] == []


def test_a_folder_with_a_job_is_refused_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text("mine")
    status, said = run(str(tmp_path), "--yes")
    assert (status, (tmp_path / "job.toml").read_text()) == (2, "mine")
    assert "nothing was changed" in said


def test_a_file_in_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "x").write_text("")
    assert run(str(tmp_path / "x"), "--yes")[0] == 2
    with pytest.raises(NewJobError):
        refuse_if_taken(tmp_path / "x")
    assert run(str(tmp_path / "x" / "below"), "--yes")[0] == 2


def test_where_nothing_can_be_written_nothing_is_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(NewJobError) as error:
        refuse_if_taken(tmp_path / "below" / "new")
    assert "can't be written: Permission denied" in Voice().text(error.value.note)


@pytest.mark.parametrize(
    ("flags", "words"),
    [
        (["--year", "62"], "--year: '62' is no year"),
        (["--show", "yards"], "choose ft-in or mm"),
        (["--name", "x" * 90], "A job's name has at most 80 letters"),
        (["--walls", "2 in"], '--walls: 2" can\'t be right: it is 3-15/16" at least'),
        (["--height", "5 in", "--showing", "9 in"], "--height: 5\" can't be right"),
        (["--height", "60 in", "--showing", "70 in"], "is more than 5' 0\", the height of the concrete"),
    ],
)
def test_a_flag_that_can_not_be_read_writes_nothing(tmp_path: Path, flags: list[str], words: str) -> None:
    status, said = run(str(tmp_path / "new"), "--yes", *flags)
    assert status == 2
    assert words in said
    assert not (tmp_path / "new").exists()


def test_nothing_known_is_a_job_too(tmp_path: Path) -> None:
    status, said = run(str(tmp_path / "new"), "--yes")
    assert status == 0
    assert "nothing is computed" in said
    assert "nothing is computed" in CliRunner().invoke(app, ["check", str(tmp_path / "new")]).output


def test_a_person_is_asked_each_question_once_and_a_question_mark_explains() -> None:
    voice, somebody = Voice(), Person("?", "Cold Kettle, Ontario", "sixty", "1960")
    walk = walked("x", voice, {}, somebody)
    assert walk.answers == {"place": ["Cold Kettle", "Ontario"], "year": 1960}
    assert voice.line("walk.help.place") in somebody.heard
    assert "'sixty' is no year; write it like 1962. Or press Enter if you do not know." in somebody.heard
    assert any(line.startswith("No climate is known for it (no place like") for line in somebody.heard)
    asked = [line for line in somebody.heard if "/15" in line]
    assert len(asked) == len(questions())


@pytest.mark.parametrize(
    ("place", "heard", "written"),
    [
        # Towns of the package's own table; a region has one country, so that one need not be said.
        ("Timmins", "That is Timmins, Ontario, Canada", ("Timmins", "Ontario", "Canada")),
        ("Timmins, Ontario", "That is Timmins, Ontario, Canada", ("Timmins", "Ontario", "Canada")),
        ("Timins, ON", "That is Timmins, Ontario, Canada", ("Timins", "ON", "Canada")),
        ("Thunder Bay, ON", "That is Thunder Bay, Ontario, Canada", ("Thunder Bay", "ON", "Canada")),
        ("Thunder Bay Ontario, Canada", "That is Thunder Bay", ("Thunder Bay", "Ontario", "Canada")),
        ("Tallinn, Estonia", "That is Tallinn", ("Tallinn", None, "Estonia")),
        ("Springfield", "places are called that", ("Springfield", None, None)),
        ("Nowhere at all", "No climate is known for it", ("Nowhere at all", None, None)),
    ],
)
def test_a_place_is_read_back_before_the_next_question(
    place: str, heard: str, written: tuple[str | None, ...]
) -> None:
    somebody = Person(place)
    walk = walked("x", Voice(), {}, somebody)
    assert any(heard in line for line in somebody.heard)
    survey = read_bytes(job_text(walk).encode()).survey
    assert survey is not None
    assert (survey.place.town, survey.place.region, survey.place.country) == written


def test_a_job_in_millimetres_is_asked_with_metric_examples() -> None:
    somebody = Person()
    walked("x", Voice("mm"), {}, somebody)
    asked = " ".join(line for line in somebody.heard if "/15" in line)
    assert "150 to 500 mm" in asked
    assert " in." not in asked


def test_a_measure_that_can_not_be_is_asked_again_and_nothing_is_lost() -> None:
    somebody = Person("", "", "", "", "", "24 ft, 16 ft", "8 in", "8 ft")
    walk = walked("x", Voice(), {}, somebody)
    assert walk.answers["height"] == 8 * FOOT
    assert any(
        "8\" can't be right: it is 1' 0\" at least and 20' 0\" at most" in line for line in somebody.heard
    )


def test_what_a_flag_answers_is_not_asked() -> None:
    somebody = Person()
    walk = walked("x", Voice(), {"year": "1950"}, somebody)
    assert walk.answers == {"year": 1950}
    assert not any("In which year" in line for line in somebody.heard)


def test_what_is_written_can_be_answered_and_asks_for_what_is_missing(tmp_path: Path) -> None:
    walk = walked("x", Voice(), {"walls": "80 ft total"}, None)
    told = write_job(tmp_path, walk, Voice())
    assert any("Measure the height of the concrete" in line for line in told)
    job = read_job(tmp_path).survey
    assert job is not None
    assert job.every_wall.total_length == 80 * FOOT


def test_a_name_that_no_folder_can_have_is_told(tmp_path: Path) -> None:
    status, said = run(str(tmp_path / ("x" * 300)), "--yes")
    assert status == 2
    assert said.endswith("can't be written: File name too long. Nothing was written.\n")


def test_the_end_of_input_answers_nothing_and_ends_its_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def ended(prompt: str) -> str:
        print(prompt, end="")
        raise EOFError

    monkeypatch.setattr("builtins.input", ended)
    assert cli._ask(["How high?"]) == ""
    assert capsys.readouterr().out == "How high?\n> \n"


def test_a_full_disk_behind_the_output_is_told_in_a_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full() -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(cli, "app", full)
    with pytest.raises(SystemExit) as left:
        cli.main()
    assert left.value.code == 2
    assert capsys.readouterr().err == "The output can't be written: no space is left on the disk.\n"


def test_a_folder_that_can_not_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    status, said = run(str(tmp_path / "file" / "under"), "--yes")
    assert status == 2
    assert "file is a file; choose another name" in said


SOME = {
    "walls": ["24 ft, 16 ft garage", "80 ft total", "3 ft, 4 ft second suite, 5 ft"],
    "height": ["88 in", "4 ft", "3 m"],
    "showing": ["0 in", "6 to 20 in"],
    "foundation": ["stone", "poured concrete"],
    "frame": ["none", "planned", "standing", "planned 2x4 at 24 in"],
    "upstairs": ["2x6", "logs"],
    "signs": ["none", "water, old wrap", "no mould"],
    "studs": ["2x3 at 12 in", "2x6", "24 in"],
    "gap": ["0 in", "1/2 in to 3 in"],
    "rim": ["7-1/4 in", "16 in"],
    "joists": ["all", "none"],
    "counts": ["40 boxes, 9 windows, 2 doors", "1 duct"],
    "existing": ["vapour barrier", "none"],
}


@settings(max_examples=15, deadline=None)
@given(st.fixed_dictionaries({}, optional={key: st.sampled_from(some) for key, some in SOME.items()}))
def test_any_walk_is_a_job_with_an_answer(given_answers: dict[str, str]) -> None:
    read = read_bytes(job_text(walked("x", Voice(), given_answers, None)).encode())
    assert read.faults == ()
    assert read.survey is not None
    found = answer(read.survey)
    assert found.house.level == 1
    assert first_results(found, measure_next(read.survey), Voice())


# The form on paper


@pytest.mark.parametrize("show", ["ft-in", "mm"])
def test_the_form_is_a_sheet_for_the_walk_the_house_a_wall_and_what_is_inside(
    tmp_path: Path, show: str
) -> None:
    assert run(str(tmp_path), "--paper", "--show", show)[0] == 0
    assert os.listdir(tmp_path) == [FORM_NAME]
    pages = PdfReader(tmp_path / FORM_NAME).pages
    assert len(pages) == 4
    words = " ".join(pages[0].extract_text().split())
    for question in questions():
        assert question_words(Voice("mm" if show == "mm" else "ft-in"), question) in words


def test_the_form_asks_what_the_command_asks_in_its_order() -> None:
    form = form_content(Voice())
    assert [each.number for each in form.questions] == list(range(1, len(questions()) + 1))
    assert [each.text for each in form.questions] == [
        question_words(Voice(), question) for question in questions()
    ]


def test_the_form_is_the_same_every_time(tmp_path: Path) -> None:
    for name in ("a", "b"):
        run(str(tmp_path / name), "--paper")
    assert (tmp_path / "a" / FORM_NAME).read_bytes() == (tmp_path / "b" / FORM_NAME).read_bytes()


def test_a_walk_gives_a_front_sheet_and_no_cut_list(tmp_path: Path) -> None:
    run(str(tmp_path), *FLAGS, "--name", "First walk")
    done = CliRunner().invoke(app, ["papers", str(tmp_path), "--for", "owner", "--date", "2026-11-25"])
    assert done.exit_code == 0
    made = sorted(path.name for path in (tmp_path / "papers").iterdir())
    assert "front.pdf" in made
    assert "cutlist.csv" not in made
    words = " ".join(PdfReader(tmp_path / "papers" / "front.pdf").pages[0].extract_text().split())
    for told in ("First walk", "walk-through", "WAIT", "R12"):
        assert told in words


def test_check_names_what_to_measure_next(tmp_path: Path) -> None:
    run(str(tmp_path), "--walls", "24 ft", "--height", "88 in", "--frame", "planned")
    done = CliRunner().invoke(app, ["check", str(tmp_path)])
    assert (done.exit_code, "Measure next:" in done.output) == (0, True)
    assert "WAIT. 0 of 26 looked at" in done.output
    assert "Not looked at: Is there mould that you can see or smell? (mould)" in done.output
    assert "Answer these in the file under [looked_at]" in done.output
    told = json.loads(CliRunner().invoke(app, ["check", str(tmp_path), "--json"]).output)
    assert 1 <= len(told["measure_next"]) <= 3
    assert {"code", "text"} == set(told["measure_next"][0])


def test_check_for_programs_has_the_hazards_as_results_have_them(tmp_path: Path) -> None:
    run(str(tmp_path), "--walls", "24 ft", "--height", "88 in", "--signs", "water, no mould")
    told = json.loads(CliRunner().invoke(app, ["check", str(tmp_path), "--json"]).output)["may_we_start"]
    schema = results_schema()
    Draft202012Validator({**schema["$defs"]["MayWeStart"], "$defs": schema["$defs"]}).validate(told)
    assert (told["answer"], told["looked_at"]) == ("stop", 2)
    assert [found["hazard"] for found in told["found"]] == ["bulk-water"]
    assert "mould" not in told["not_looked_at"]
    CliRunner().invoke(app, ["papers", str(tmp_path), "--date", "2026-11-25"])
    results = json.loads((tmp_path / "papers" / "results.json").read_text("utf-8"))
    assert told == results["answers"]["may_we_start"]


# What the command line does not stumble over


def piped(*words: str) -> int:
    """The exit status of the program when whoever reads its output goes away after one byte."""
    done = subprocess.Popen(
        [sys.executable, "-m", "warmside", *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert done.stdout is not None
    assert done.stderr is not None
    done.stdout.read(1)
    done.stdout.close()
    complaint = done.stderr.read()
    done.stderr.close()
    assert complaint == b""
    return done.wait()


def test_who_reads_only_the_first_line_is_no_fault(tmp_path: Path) -> None:
    run(str(tmp_path), "--yes")
    assert piped("check", str(tmp_path)) == 0


@pytest.mark.parametrize("out", ["", "  "])
def test_papers_need_the_name_of_a_folder(tmp_path: Path, out: str) -> None:
    run(str(tmp_path), *FLAGS)
    done = CliRunner().invoke(app, ["papers", str(tmp_path), "--out", out])
    assert done.exit_code == 2
    assert "--out: name a folder" in done.output
    assert os.listdir(tmp_path) == ["job.toml"]


@pytest.mark.parametrize("command", ["new", "check", "papers"])
def test_a_folder_without_a_name_is_refused(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(app, [command, ""])
    assert done.exit_code == 2
    assert "write a dot" in done.output
    assert os.listdir(tmp_path) == []


def test_an_interruption_while_the_program_loads_is_quiet(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted() -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "main", interrupted)
    with pytest.raises(SystemExit) as left:
        entry_point()
    assert left.value.code == 130
