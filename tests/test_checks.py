"""The registry of published checks: whole, honest about its evidence, and blind to the published values."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import pytest

from warmside import checks
from warmside.checks import Check, Group, Inputs, Kind, RegistryError, Status, registry
from warmside.say import Voice

ALL = checks.load_checks()
COMPUTES = dict(registry._COMPUTES)
each_check = pytest.mark.parametrize("check", ALL, ids=lambda check: check.id)

SMALL = """
id = "small"
claim = "Two and two make four."
source = "counting"
part = "on fingers"
status = "read"
kind = "exact"
tolerance = 0.001
tolerance_reason = "fingers are whole"
expected = "sum"
[columns]
one = "-"
sum = "-"
[[rows]]
one = 2.0
sum = 4.0
"""


def small(folder: Path, text: str = SMALL, name: str = "small") -> Path:
    (folder / f"{name}.toml").write_text(text, "utf-8")
    return folder


def outcome(folder: Path, compute: registry.Compute) -> registry.RowResult:
    (result,) = checks.run_checks(folder, {"small": compute})
    return result.rows[0]


@cache
def computed(check_id: str) -> checks.Result:
    """The result of one check, computed once for all tests."""
    (check,) = (check for check in ALL if check.id == check_id)
    return checks.run_check(check, COMPUTES[check_id])


def replay(check: Check, off: float = 0.0) -> registry.Compute:
    """A compute function that gives what was computed before, or that much off."""
    values = iter([row.computed for row in computed(check.id).rows])

    def compute(row: Inputs) -> float:
        value = next(values)
        return math.nan if value is None else value + off

    return compute


@pytest.fixture(scope="module")
def results() -> Sequence[checks.Result]:
    """What `run_checks` gives, without computing twice."""
    return checks.run_checks(functions={check.id: replay(check) for check in ALL})


# The registry is whole


@each_check
def test_check_agrees(check: Check) -> None:
    result = computed(check.id)
    assert result.passed, [Voice().located(note) for note in result.notes]


def test_ids_are_unique_and_every_check_has_one_compute_function() -> None:
    ids = [check.id for check in ALL]
    assert len(set(ids)) == len(ids)
    assert set(ids) == set(COMPUTES)


def test_enough_rows_from_enough_sources_were_read(results: Sequence[checks.Result]) -> None:
    read = checks.count(results, Group.READ)
    assert read.rows >= 40
    assert read.sources >= 8
    assert all(r.check.kind is Kind.OUTSIDE for r in results if r.check.group is Group.READ)
    assert all(r.check.status is Status.READ for r in results if r.check.group is Group.READ)


def test_evidence_is_counted_apart(results: Sequence[checks.Result]) -> None:
    parts = [checks.count(results, group) for group in Group]
    whole = checks.count(results)
    assert sum(part.checks for part in parts) == whole.checks == len(ALL)
    assert sum(part.rows for part in parts) == whole.rows
    for result in results:
        if result.check.kind is Kind.CODING:
            assert result.check.group is Group.CODING
        if result.check.kind is not Kind.CODING and result.check.status is Status.MEMORY:
            assert result.check.group is Group.MEMORY


def test_results_stand_in_the_order_of_evidence(results: Sequence[checks.Result]) -> None:
    order = list(Group)
    places = [(order.index(result.check.group), result.check.id) for result in results]
    assert places == sorted(places)


def test_a_check_from_memory_says_so_in_print(results: Sequence[checks.Result]) -> None:
    lines = checks.report_lines(results)
    memory = lines.index("published figures held from memory")
    firsts = [n for n, line in enumerate(lines) if "(rows " in line and "from memory)" in line]
    assert firsts
    assert min(firsts) > memory


def test_data_names_no_site() -> None:
    for check in ALL:
        text = f"{check.claim} {check.source} {check.part} {check.tolerance_reason}"
        assert not any(mark in text for mark in ("www", "http", ".com", ".org", ".ca", ".net")), check.id


# A compute function can't see the published value


def test_inputs_hold_no_published_value() -> None:
    seen: list[tuple[str, set[str]]] = []
    for check in ALL:

        def record(row: Inputs, name: str = check.id) -> float:
            seen.append((name, set(row)))
            return 0.0

        checks.run_check(check, record)
    expected = {check.id: check.expected for check in ALL}
    assert len(seen) == sum(len(check.rows) for check in ALL)
    assert all(expected[name] not in columns for name, columns in seen)


@pytest.mark.parametrize(
    "reach",
    [
        lambda row: row["sum"],
        lambda row: row.number("sum"),
        lambda row: row.get("sum", 4.0),
        lambda row: "sum" in row,
    ],
)
def test_asking_for_the_published_value_fails_the_check(tmp_path: Path, reach: registry.Compute) -> None:
    row = outcome(small(tmp_path), reach)
    assert not row.passed
    assert row.computed is None
    assert "asked for the published value in column 'sum'" in row.fault


def test_reading_the_tables_while_computing_fails_the_check(tmp_path: Path) -> None:
    folder = small(tmp_path)

    def peek(row: Inputs) -> float:
        return float(checks.load_checks(folder)[0].rows[0]["sum"])

    row = outcome(folder, peek)
    assert not row.passed
    assert "asked for the tables of published values" in row.fault
    assert checks.load_checks(folder)


def scrambled(check: Check, rows: int) -> Check:
    other = ({**row, check.expected: 1e6 + 2.0 * float(row[check.expected])} for row in check.rows[:rows])
    return check.model_copy(update={"rows": tuple(other)})


@each_check
def test_computed_values_do_not_follow_the_published_ones(check: Check) -> None:
    other = checks.run_check(scrambled(check, rows=2), COMPUTES[check.id])
    assert [row.computed for row in other.rows] == [row.computed for row in computed(check.id).rows[:2]]
    assert not any(row.passed for row in other.rows)


# What is wrong fails


@each_check
def test_a_compute_function_that_is_off_fails(check: Check) -> None:
    allowed = max(row.allowed for row in computed(check.id).rows)
    wrong = checks.run_check(check, replay(check, off=2.5 * allowed))
    assert not any(row.passed for row in wrong.rows)
    note = wrong.notes[0]
    assert note.code == "checks.off"
    assert check.id in Voice().text(note)


@pytest.mark.parametrize(
    ("compute", "told"),
    [
        (lambda row: math.nan, "the computed value is nan"),
        (lambda row: row.number("one") / 0.0, "ZeroDivisionError"),
        (lambda row: row.number("two"), "KeyError"),
        (lambda row: float("four"), "ValueError"),
    ],
)
def test_no_value_fails_and_says_why(tmp_path: Path, compute: registry.Compute, told: str) -> None:
    (result,) = checks.run_checks(small(tmp_path), {"small": compute})
    assert not result.passed
    assert told in result.rows[0].fault
    assert told in Voice().text(result.notes[0])


def test_tolerance_is_the_last_thing_that_passes(tmp_path: Path) -> None:
    folder = small(tmp_path)
    assert outcome(folder, lambda row: 4.00099).passed
    assert not outcome(folder, lambda row: 4.00101).passed
    assert not outcome(folder, lambda row: 3.99899).passed


def test_relative_tolerance_and_a_row_of_its_own(tmp_path: Path) -> None:
    relative = SMALL.replace("tolerance = 0.001", "tolerance = 0.001\nrelative = true", 1)
    assert outcome(small(tmp_path, relative), lambda row: 4.0039).passed
    assert not outcome(small(tmp_path, relative), lambda row: 4.0041).passed
    own = SMALL.replace('sum = "-"', 'sum = "-"\ntolerance = "-"') + "tolerance = 0.5\n"
    assert outcome(small(tmp_path, own), lambda row: 4.49).passed
    assert not outcome(small(tmp_path, own), lambda row: 4.51).passed


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (SMALL.replace('"small"', '"other"'), "holds the check other; file and id should have one name"),
        (SMALL.replace('expected = "sum"', 'expected = "total"'), "the expected column total is not in"),
        (SMALL.replace("one = 2.0\n", ""), "row 1 has .* it should have"),
        (SMALL.replace('tolerance_reason = "fingers are whole"\n', ""), "tolerance_reason"),
        (SMALL.replace('source = "counting"\n', ""), "source"),
        (SMALL.replace('status = "read"', 'status = "likely"'), "status"),
        (SMALL.replace("tolerance = 0.001", "tolerance = 0"), "tolerance"),
        (SMALL.split("[[rows]]")[0], "rows"),
    ],
)
def test_unusable_data_is_refused(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(RegistryError, match=f"small.*(?s:.*){told}"):
        checks.load_checks(small(tmp_path, text))


def test_rows_come_from_one_place(tmp_path: Path) -> None:
    folder = small(tmp_path)
    (folder / "small.csv").write_text("one,sum\n2,4\n3,5\n", "utf-8")
    with pytest.raises(RegistryError, match=r"rows stand in the \.toml and in a \.csv; keep one"):
        checks.load_checks(folder)
    small(tmp_path, SMALL.split("[[rows]]")[0])
    (result,) = checks.run_checks(folder, {"small": lambda row: row.number("one") + 2.0})
    assert [row.published for row in result.rows] == [4.0, 5.0]
    assert result.passed


def test_a_check_and_its_compute_function_come_in_pairs(tmp_path: Path) -> None:
    with pytest.raises(RegistryError, match="or the reverse: small"):
        checks.run_checks(small(tmp_path), {})
    with pytest.raises(RegistryError, match="or the reverse: lone"):
        checks.run_checks(small(tmp_path), {"small": lambda row: 4.0, "lone": lambda row: 4.0})
    with pytest.raises(RegistryError, match="air-layers has two compute functions"):
        checks.computes("air-layers")(lambda row: 0.0)


# The printed report


def test_report_fits_a_hundred_columns_and_shows_every_row(results: Sequence[checks.Result]) -> None:
    lines = checks.report_lines(results)
    assert max(map(len, lines)) <= 100
    assert sum(line.endswith("  agrees") for line in lines) == sum(len(result.rows) for result in results)
    for word in ("row", "published", "computed", "apart"):
        assert any(word in line.split() for line in lines)


def test_report_names_claim_source_tolerance_class_and_status(tmp_path: Path) -> None:
    lines = checks.report_lines(checks.run_checks(small(tmp_path), {"small": lambda row: 4.5}))
    assert lines == [
        "closed forms and definitions",
        "============================",
        "small: DIFFERS (rows 1; exact, read)",
        "  Two and two make four.",
        "  source: counting, on fingers",
        "  tolerance: 0.001; fingers are whole",
        "    row                                              published    computed       apart",
        "    one 2.0                                             4.0000      4.5000     +0.5000  DIFFERS",
        "",
        "Together: checks 1, rows 1, sources 1, failed 1",
        "  closed forms and definitions: checks 1, rows 1, sources 1, failed 1",
    ]


def test_report_of_a_row_without_value(tmp_path: Path) -> None:
    lines = checks.report_lines(checks.run_checks(small(tmp_path), {"small": lambda row: math.inf}))
    assert any(line.split()[-4:] == ["-", "-", "no", "value"] for line in lines)


def test_report_for_machines_holds_every_row_and_no_infinity(results: Sequence[checks.Result]) -> None:
    told = json.loads(json.dumps(checks.report_json(results), allow_nan=False))
    assert [check["id"] for check in told["checks"]] == [result.check.id for result in results]
    assert told["counts"]["rows"] == sum(len(check["rows"]) for check in told["checks"])
    first = told["checks"][0]["rows"][0]
    assert set(first) == {"label", "published", "computed", "allowed", "fault", "passed"}


def test_running_twice_gives_the_same(results: Sequence[checks.Result]) -> None:
    some = ("air-layers", "air-loop-closed-form", "batt-labels")
    for check in (check for check in ALL if check.id in some):
        assert checks.run_check(check, COMPUTES[check.id]) == computed(check.id)
