"""Reading a job: each fault by its whole sentence with its line, all at once, and never an error of ours."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import tomlkit

from warmside.catalog.goods import Model
from warmside.job import read as reader
from warmside.job.read import (
    LARGEST_FILE,
    MOST_FAULTS,
    ReadResult,
    hash_of,
    read_bytes,
    read_job,
    read_with_files,
)
from warmside.job.survey import FORMAT, Foundation, Frame, Rim, Thing, Wall
from warmside.say import Voice
from warmside.units import INCH

FULL = (Path(__file__).parent / "full_job.toml").read_text("utf-8")
HEAD = 'format = 1\nname = "x"\nbare_numbers = "in"\n'


def said(result: ReadResult) -> list[str]:
    return [Voice().located(note) for note in result.faults]


def faults(text: str) -> list[str]:
    result = read_bytes(text.encode())
    assert (result.survey is None) == bool(result.faults)
    return said(result)


def changed(old: str, new: str) -> list[str]:
    assert FULL.count(old) >= 1
    return faults(FULL.replace(old, new, 1))


def line_of(text: str) -> int:
    return FULL[: FULL.index(text)].count("\n") + 1


def wall(body: str, name: str = "A") -> str:
    return f'[[wall]]\nname = "{name}"\n{body}\n'


def written(folder: Path, content: bytes) -> Path:
    (folder / "job.toml").write_bytes(content)
    return folder


def test_a_full_job_is_read_without_a_word(tmp_path: Path) -> None:
    result = read_job(written(tmp_path, FULL.encode()))
    assert said(result) == []
    assert result.warnings == ()
    assert result.base == hash_of(FULL.encode())
    survey = result.survey
    assert survey is not None
    assert [w.name for w in survey.wall] == ["A", "B"]
    assert survey.wall[0].frame.spacing == 16 * INCH
    assert survey.wall[0].frame.odd_bays == {3: INCH * 49 // 4, 7: INCH * 107 // 8}
    assert survey.wall[1].concrete_showing is None
    assert os.listdir(tmp_path) == ["job.toml"]


def records(value: Any) -> Iterator[Model]:
    """Every record of the survey, with all that stands in it."""
    if isinstance(value, Model):
        yield value
    inner = vars(value).values() if isinstance(value, Model) else value if isinstance(value, tuple) else ()
    for part in inner:
        yield from records(part)


def test_every_key_of_the_schema_stands_in_the_full_job() -> None:
    survey = read_bytes(FULL.encode()).survey
    given: dict[type[Model], set[str]] = {}
    for record in records(survey):
        given.setdefault(type(record), set()).update(record.model_fields_set)
    left_out = {(kind.__name__, key) for kind, keys in given.items() for key in set(kind.model_fields) - keys}
    assert {Wall, Thing, Frame, Rim, Foundation} < set(given)
    assert left_out == set()


# The folder and the file


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    assert said(read_job(tmp_path / "none")) == [f"there is no folder {tmp_path}/none"]


def test_a_folder_without_a_job(tmp_path: Path) -> None:
    sentence = f"job.toml: there is no job.toml in {tmp_path}; `warmside new {tmp_path}` writes one"
    assert said(read_job(tmp_path)) == [sentence]
    (tmp_path / "my house").mkdir()
    (spaced,) = said(read_job(tmp_path / "my house"))
    assert spaced.endswith(f"`warmside new '{tmp_path}/my house'` writes one")


def test_a_file_in_place_of_the_folder(tmp_path: Path) -> None:
    path = written(tmp_path, b"") / "job.toml"
    assert said(read_job(path)) == [f"{path} is a file; give the folder that holds job.toml"]


def test_a_folder_in_place_of_the_file(tmp_path: Path) -> None:
    (tmp_path / "job.toml").mkdir()
    assert said(read_job(tmp_path)) == [f"job.toml: job.toml in {tmp_path} is not a plain file"]


def test_a_pipe_in_place_of_the_file_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "job.toml")
    assert said(read_job(tmp_path)) == [f"job.toml: job.toml in {tmp_path} is not a plain file"]


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_args: object, **_named: object) -> None:
        raise PermissionError(13, "Permission denied")

    written(tmp_path, b"")
    monkeypatch.setattr(Path, "open", refused)
    assert said(read_job(tmp_path)) == ["job.toml: the file can't be read: Permission denied"]


def test_a_path_that_no_system_has() -> None:
    (sentence,) = said(read_job(Path("a\0b")))
    assert sentence.startswith("there is no folder a")


def test_a_file_too_large_is_refused_before_it_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with (tmp_path / "job.toml").open("wb") as file:
        file.truncate(LARGEST_FILE + 1)
    monkeypatch.setattr(Path, "open", None)
    assert said(read_job(tmp_path)) == [
        "job.toml: the file has 2,000,001 bytes, and a job has at most 2,000,000; it was not opened"
    ]


def test_bytes_that_are_no_utf_8_are_told_with_their_place() -> None:
    result = read_bytes(b'format = 1\nname = "\xff"\n')
    assert said(result) == ["job.toml line 2: byte 20 is no UTF-8 text; save the file as UTF-8"]


def test_a_byte_order_mark_and_windows_line_ends_are_taken() -> None:
    content = b"\xef\xbb\xbf" + FULL.replace("\n", "\r\n").encode()
    assert said(read_bytes(content)) == []


# The text as TOML


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("format = 1\nname\n", "line 2: column 5: behind a key there should be = and a value; read 'name'"),
        ("format = 1\n]\n", "line 2: column 1: a line begins with a key, a [table] or a #; read ']'"),
        (
            "format = 1\nname = Birch lane\n",
            "line 2: column 8: this is not a value; text stands in quotes, like '12 ft 4-3/8 in'; "
            "read 'name = Birch lane'",
        ),
        (
            'format = 1\nname = "12\' 4""\n',
            "line 2: column 15: the line goes on behind its value. An inch mark ends a text in double "
            "quotes: "
            'write \'88-3/4"\' or "12 ft 4-3/8 in"; read name = "12\' 4""',
        ),
        (
            'format = 1\nname = "x\n',
            "line 2: column 10: a text is not closed by its quote, or holds a sign that no text may hold; "
            "read 'name = \"x'",
        ),
        (
            "format = 1\nname = 'x",
            "line 2: column 10: a text is not closed by its quote, or holds a sign that no text may hold; "
            'read "name = \'x"',
        ),
        (
            "format = 1\na = [1 2]\n",
            "line 2: column 8: a list needs a comma between its values and ] at its end; read 'a = [1 2]'",
        ),
        (
            "format = 1\na = {b = 1\n",
            "line 2: column 11: a table in braces needs a comma between its entries and } at its end, on "
            "one line; "
            "read 'a = {b = 1'",
        ),
        ("format = 1\n[wall\n", "line 2: column 6: a table is headed [name] or [[name]]; read '[wall'"),
        ("format = 1\n[[wall]\n", "line 2: column 7: a table is headed [name] or [[name]]; read '[[wall]'"),
        (
            "format = 1\n[]\n",
            "line 2: column 2: a key has letters, digits, - and _, or stands in quotes; read '[]'",
        ),
        (
            'format = 1\nname = "C:\\photos"\n',
            "line 2: column 13: a backslash in double quotes begins a sign such as \\n; "
            "put the text in single quotes; read 'name = \"C:\\photos\"'",
        ),
        (
            "format = 1\nname = 2026-02-30\n",
            "line 2: column 8: this is no date; read 'name = 2026-02-30'",
        ),
        (
            "format = 1\nname = 'x'\nname = 'y'\n",
            "line 3: a key or table stands twice here; leave one of the two; read \"name = 'y'\"",
        ),
        (
            "format = 1\n[place]\n[people]\n[place]\n",
            "line 4: a key or table stands twice here; leave one of the two; read '[place]'",
        ),
        (
            "format = 1\nplace = {town = 'x', town = 'y'}\n",
            "line 2: a key or table stands twice here; leave one of the two; "
            "read \"place = {town = 'x', town = 'y'}\"",
        ),
    ],
)
def test_what_is_no_toml_is_told_in_plain_words(text: str, sentence: str) -> None:
    assert faults(text) == [f"job.toml {sentence}"]


@pytest.mark.parametrize(
    "deep", ["a = " + "[" * 5000 + "]" * 5000, "a = " + "{b = " * 3000, "a." * 60 + "a = 1"]
)
def test_deep_nesting_is_one_fault(deep: str) -> None:
    (sentence,) = faults(HEAD + deep)
    assert "nested too deep for a job" in sentence


def test_nesting_that_the_parser_takes_but_no_key_does() -> None:
    (sentence,) = faults(HEAD + "[place]\ntown = " + "[" * 30 + "]" * 30)
    assert sentence.startswith("job.toml line 5: place.town")
    assert sentence.endswith("is nested deeper than any key of a job")


@pytest.mark.parametrize("number", ["9" * 5000, "0x" + "f" * 40, "-" + "9" * 30])
def test_a_huge_whole_number_is_one_fault(number: str) -> None:
    assert faults(f"{HEAD}[place]\nyear_built = {number}\n") == [
        "job.toml line 5: a number has too many digits for anything in a job"
    ]


# The format


def test_a_newer_format_is_refused_with_what_is_needed() -> None:
    assert faults('name = "x"\nformat = 7\nnew_key = 1') == [
        "job.toml line 2: this job is in format 7, and this version of Warmside reads formats up to 1; "
        "it needs a newer Warmside"
    ]


def test_a_format_that_never_was() -> None:
    assert faults('format = 0\nname = "x"') == [
        "job.toml line 1: there is no format 0; this version of Warmside reads format 1"
    ]


def test_a_job_without_a_format_is_read_on_for_its_other_faults() -> None:
    assert faults("name = 3") == [
        "job.toml: the job names no format; its first line should be: format = 1",
        "job.toml line 1: name = 3 should be text in quotes",
    ]


@pytest.mark.parametrize("value", ['"1"', "1.0", "true", "[1]", '"unknown"', "1979-05-27"])
def test_a_format_that_is_no_whole_number(value: str) -> None:
    (sentence,) = faults(f"format = {value}\nname = 'x'")
    assert sentence.startswith("job.toml line 1: format = ")
    assert sentence.endswith("is no whole number; the line should be: format = 1")


def test_an_older_format_is_migrated_in_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def step(document: tomlkit.TOMLDocument) -> None:
        document["name"] = document.pop("title")

    monkeypatch.setattr(reader, "MIGRATIONS", {0: step})
    old = b"format = 0\n# kept\ntitle = 'x'\nwal = 1\n"
    result = read_job(written(tmp_path, old))
    assert said(result) == ["job.toml line 4: unknown key 'wal'; did you mean 'wall'?"]
    assert (tmp_path / "job.toml").read_bytes() == old
    survey = read_bytes(old.replace(b"wal = 1\n", b"")).survey
    assert survey is not None
    assert (survey.format, survey.name) == (FORMAT, "x")


# Unknown


@pytest.mark.parametrize("word", ["unknown", "Unknown", " UNKNOWN "])
def test_unknown_means_the_same_as_absent(word: str) -> None:
    body = f'length = "{word}"\ngap = "{word}"\nframe = {{ state = "{word}", bays = "{word}" }}\n'
    assert read_bytes((HEAD + wall(body)).encode()).survey == read_bytes((HEAD + wall("")).encode()).survey
    body = '[[wall.in_the_way]]\nkind = "window"\nup = "unknown"'
    assert faults(HEAD + wall(body)) == []


def test_a_list_can_not_hold_an_unknown() -> None:
    assert changed("[0.5, '1-1/4\"']", '[0.5, "unknown"]') == [
        f"job.toml line {line_of('gap =')}, wall A: gap number 2 is unknown, and a list can't have gaps; "
        "leave the whole list out, or write what is known of it"
    ]


def test_a_name_can_not_be_unknown() -> None:
    assert faults('format = 1\nname = "unknown"') == [
        "job.toml line 2: name can't be unknown; choose one and write it"
    ]
    kind = 'kind = "water pipe"'
    assert changed(kind, 'kind = "unknown"') == [
        f"job.toml line {line_of(kind)}, wall A, thing 3: kind can't be unknown; choose one and write it"
    ]


# Keys and values against the schema


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("spacing = 16\n", "spaceing = 16\n", "unknown key 'spaceing'; did you mean 'spacing'?"),
        ("spacing = 16\n", "Spacing = 16\n", "unknown key 'Spacing'; did you mean 'spacing'?"),
        (
            "spacing = 16\n",
            "colour = 16\n",
            "unknown key 'colour'; the keys here are: state, studs, spacing, top_plates, layout_from, "
            "odd_bays, bays, starts, ends, height, leans_in",
        ),
        (
            'facing = "N"',
            'facing = "north"',
            "facing = 'north' is none of the choices: N, NE, E, SE, S, SW, W, NW",
        ),
        ('facing = "N"', "facing = 3", "facing = 3 is none of the choices: N, NE, E, SE, S, SW, W, NW"),
        (
            'length = "24 ft 6-1/2 in"',
            'length = "24.5 yd"',
            "length: '24.5 yd' is not a length; write it like 12' 4-3/8\", 88.5 in, 3770 mm or 3.77 m",
        ),
        ('length = "24 ft 6-1/2 in"', "length = { a = 1 }", "length is a table, and one value belongs here"),
        (
            'length = "24 ft 6-1/2 in"',
            "length = 2026-01-01",
            "length = 2026-01-01 is a date; write it in quotes if it is text",
        ),
        (
            'length = "24 ft 6-1/2 in"',
            "length = true",
            "length = true: no key of a job is true or false; write one of the words or measures it takes, "
            "or leave it out",
        ),
        ('length = "24 ft 6-1/2 in"', "length = inf", "length = inf is no number that can be measured"),
        ('facing = "N"', r'facing = "N\u0007"',
         r"facing = 'N\x07' holds a control sign, U+0007, which can't be printed; take it out"),
        ('turn = "right"', "turn = 90", "turn: '90' is not a turn; write left, right, straight, or right 45"),
        ("top_plates = 1", "top_plates = 9", "frame.top_plates = 9 is more than 3, the most that it can be"),
        ("top_plates = 1", "top_plates = 0", "frame.top_plates = 0 is less than 1, the least that it can be"),
        ("top_plates = 1", "top_plates = 1.5", "frame.top_plates = 1.5 should be a whole number"),
        ("top_plates = 1", "top_plates = 'two'", "frame.top_plates = 'two' should be a whole number"),
        ("{ 3 = ", "{ x = ", "odd bays are numbered 1, 2, 3 from the end where the layout begins; read 'x'"),
        ("{ 3 = '12-1/4\"'", "{ 3 = 'x'", "frame.odd_bays.3: 'x' is not a length; write it like 12' 4-3/8\", "
         "88.5 in, 3770 mm or 3.77 m"),
    ],
)  # fmt: skip
def test_a_wrong_key_or_value_of_a_wall(old: str, new: str, sentence: str) -> None:
    assert changed(old, new) == [f"job.toml line {line_of(old)}, wall A: {sentence}"]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (HEAD + "[wall]\nname = 'A'", "line 4: wall is one table, and there can be several; head each "
         "with [[wall]] "
         "in two brackets"),
        (HEAD + "wall = 3", "line 4: wall = 3 should be a list in brackets, [first, second]"),
        (HEAD + "[[place]]", "line 4: place should be a table, headed [place] in one bracket; read a list"),
        (HEAD + "place = 'x'", "line 4: place should be a table, headed [place] in one bracket; read 'x'"),
        (HEAD + "wall = [3]", "line 4, wall number 1: wall number 1 should be a table, headed [wall] in "
         "one bracket; "
         "read 3"),
        (HEAD + "[[wall]]\nlength = 90", "line 4, wall number 1: name is missing, and it is needed"),
        (HEAD + "[[wall]]\nname = ''", "line 5, wall number 1: name is empty; write at least one letter "
         "or digit"),
        (HEAD + "[place]\ntown = 3", "line 5: place.town = 3 should be text in quotes"),
        (HEAD + "[place]\ndesign_temperature = '-80 C'", "line 5: place.design_temperature = '-80 C' is "
         "less than "
         "-60.0, the least that it can be"),
        (HEAD + "[prices]\n'R14 glass 15 in' = '61.50'", "line 5: prices.R14 glass 15 in: '61.50' is not "
         "a price; "
         "write it like 61.50 CAD per bag, the currency in three letters"),
        (HEAD + "[at_hand]\n'vapour hat' = -1", "line 5: at_hand.vapour hat = -1 is less than 0, the "
         "least that "
         "it can be"),
        (HEAD.replace('"x"', '"' + "x" * 90 + '"'), f"line 2: name = '{'x' * 37}...' is too long; "
         "it may have 80 letters"),
        (HEAD.replace('"in"', '"inch"') + wall("length = 90"), "line 3: bare_numbers = 'inch' is none of "
         "the choices: "
         "mm, cm, m, in, ft"),
        (HEAD + wall("") * 61, "line 4: wall has more than 60 entries"),
        (HEAD + "wall = [" + "3, " * 2000 + "]", "line 4: wall has more than 1000 entries"),
        (HEAD + "[[goods.lumber]]\nid = 'a'\nname = 'b'\npackage = 'c'\nface = {value = 1, source = 'label', "
         "status = 'label'}", "line 4: goods.lumber number 1.depth is missing, and it is needed"),
    ],
)  # fmt: skip
def test_a_wrong_shape_is_told_once(text: str, sentence: str) -> None:
    assert faults(text) == [f"job.toml {sentence}"]


def thing(body: str, kind: str = "window") -> str:
    return f'\n[[wall.in_the_way]]\nkind = "{kind}"\n{body}'


# All at once


def test_every_fault_is_told_at_once_and_by_line() -> None:
    text = (
        HEAD
        + "colour = 'red'\n"
        + wall("length = 'x'\nspacing = 16\nframe = { spacing = 4 }" + thing("up = 'y'", "windoe"))
        + wall("facing = 'north'\nheight = 80\nconcrete_showing = 90", "A")
        + "[prices]\nx = true\n'2x4' = '4 USD per bag'\n[goods]\nbatts = 3\n"
    )
    assert [sentence.partition(":")[0] for sentence in faults(text)] == [
        "job.toml line 4",
        "job.toml line 7, wall A",
        "job.toml line 8, wall A",
        "job.toml line 9, wall A",
        "job.toml line 11, wall A, windoe 1",
        "job.toml line 12, wall A, windoe 1",
        "job.toml line 14, wall A",
        "job.toml line 15, wall A",
        "job.toml line 17, wall A",
        "job.toml line 19",
        "job.toml line 22",
    ]


def test_a_fault_of_the_jobs_own_goods_makes_no_others() -> None:
    batt = "[[goods.batt]]\nid = 'own'\nname = 'x'\nfamily = 'own family'\n"
    told = faults(
        HEAD + "at_hand.own = 3\nassembly.batt = 'own family'\n" + wall("assembly.batt = 'own family'") + batt
    )
    assert told
    assert all("goods.batt number 1" in sentence for sentence in told)
    (truth,) = faults(HEAD + "at_hand.own = 3\n" + "goods.batt = [true]")
    assert "no key of a job is true or false" in truth


def test_a_flood_of_faults_ends() -> None:
    told = faults(HEAD + "[at_hand]\n" + "".join(f"goods{n} = 1\n" for n in range(3000)))
    assert len(told) == MOST_FAULTS + 1
    assert told[-1] == f"job.toml: there are more than {MOST_FAULTS} faults; mend these first and look again"


# What a pencil, a keyboard or another language slips in


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("place.design_temperature = '33 C'", "place.design_temperature = '33 C' is more than 15.0"),
        ("place.town = 'Birch\u202eenaL'", "holds a control sign, U+202E"),
        ("heating.efficiency = '920 %'", "920 % is not an efficiency; it is from 20 % to 600 %"),
        ("heating.efficiency = '0.92'", "'0.92' is not an efficiency; write it like 92 %"),
        ("heating.price = '$1.10 per therm'", "like 0.145 CAD per kWh, the currency in three letters"),
        ("foundation.sill = '-1-1/2 in'", "'-1-1/2 in' is less than nothing; a length has no sign"),
    ],
)
def test_a_slip_is_told_with_its_cure(line: str, told: str) -> None:
    (sentence,) = faults(HEAD + line + "\n")
    assert told in sentence


@pytest.mark.parametrize("efficiency", ['"92 %"', '"92"', "92", "92.0"])
def test_an_efficiency_needs_no_sign(efficiency: str) -> None:
    read = read_bytes(f"{HEAD}heating.efficiency = {efficiency}\n".encode())
    assert read.survey is not None
    assert read.survey.heating.efficiency == pytest.approx(0.92)


def test_one_bracket_further_up_is_named() -> None:
    text = HEAD + '[wall]\nname = "A"\n[[wall]]\nname = "B"\n'
    (sentence,) = faults(text)
    assert "further up one of them is headed in one bracket; write '[[wall]]' there too" in sentence


def test_a_weather_file_that_is_named_lies_in_the_folder(tmp_path: Path) -> None:
    written(tmp_path, (HEAD + '[place]\nweather_file = "roof.epw"\n').encode())
    assert said(read_job(tmp_path)) == []
    assert said(read_with_files(tmp_path)) == [
        "job.toml line 5: place.weather_file: there is no file 'roof.epw' in the job's folder; put it there, "
        "or leave it out"
    ]
    (tmp_path / "roof.epw").touch()
    assert said(read_with_files(tmp_path)) == []
