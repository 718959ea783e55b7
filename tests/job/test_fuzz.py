"""2,000 spoilt jobs: whatever stands in the file, the answer is a survey, or faults that can be said.

What is spoilt is a job in which every field of the schema stands: a new field that is not in it fails here.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, get_args

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from warmside.catalog.goods import Model
from warmside.job.read import ReadResult, read_bytes
from warmside.job.survey import Survey
from warmside.say import Voice

FULL = (Path(__file__).parent / "full_job.toml").read_bytes()
ROWS = FULL.count(b"\n")

VALUES = (
    "unknown", "true", "1", "-1", "0", "1.5", "1e308", "inf", "nan", "'unknown'", "''", "' '", "'x'",
    "'3 in'", "'7 ft'", "'12 km'", "'99999 m'", "'100 m'", "'0 mm'", "[]", "[1]", "[1, 2]", "{}", "[{}]",
    "[[0, 1], [2, 3]]", "[['1 in', 'x']]", "{ a = 1 }", "[[[[[[[[[[[[[[1]]]]]]]]]]]]]]", "2026-01-01",
    "07:30:00", "2026-01-01T07:30:00Z", "'none'", "'R14 glass'", "'2x4'", "'window'", "'standing'", "'right'",
    "'left 400'", "'N'", "'9 CAD per bag'", "'9 USD per roll'", "9223372036854775808", "0xfffffffffffffffff",
    "'''a\n[[wall]]\n'''", '"a\\u0000"', "'𝟙𝟚 in'", "'½\"'", "'" + "9" * 500 + "'", "9" * 4500,
    "[" * 400 + "]" * 400,
)  # fmt: skip
PIECES = (
    b"\x00", b"\xff", b"\xef\xbb\xbf", b"\r", b"\n", b'"', b"'", b"[", b"]", b"{", b"}", b"=", b".", b"#",
    b",", b"\\", b"'''", b'"""', b"[[wall]]\n", b"[wall]\n", b"[[wall.in_the_way]]\n", b"[frame]\n",
    b"[[goods.batt]]\n", b"format = 2\n", "é".encode(), "\u202e".encode(), "\U0001f9f1".encode(), b" mm",
    b" in", b" ft", b"a." * 60,
)  # fmt: skip


def at_row(content: bytes, row: int, change: Callable[[bytes], bytes]) -> bytes:
    rows = content.split(b"\n")
    row %= len(rows)
    rows[row] = change(rows[row])
    return b"\n".join(rows)


def flip(content: bytes, at: int, by: int) -> bytes:
    at %= max(1, len(content))
    return content[:at] + bytes([(content[at] ^ (1 + by % 255)) & 255] if content else []) + content[at + 1 :]


def cut(content: bytes, at: int, by: int) -> bytes:
    at %= max(1, len(content))
    return content[:at] + content[at + 1 + by % 40 :]


def truncate(content: bytes, at: int, _by: int) -> bytes:
    return content[: at % max(1, len(content))]


def insert(content: bytes, at: int, by: int) -> bytes:
    at %= max(1, len(content))
    return content[:at] + PIECES[by % len(PIECES)] + content[at:]


def repeat_row(content: bytes, at: int, by: int) -> bytes:
    return at_row(content, at, lambda row: b"\n".join([row] * (2 + by % 3)))


def drop_row(content: bytes, at: int, _by: int) -> bytes:
    return at_row(content, at, lambda _row: b"")


def swap_rows(content: bytes, at: int, by: int) -> bytes:
    rows = content.split(b"\n")
    one, other = at % len(rows), by % len(rows)
    rows[one], rows[other] = rows[other], rows[one]
    return b"\n".join(rows)


def new_value(content: bytes, at: int, by: int) -> bytes:
    value = VALUES[by % len(VALUES)].encode()
    return at_row(content, at, lambda row: row.partition(b"=")[0] + b"= " + value if b"=" in row else row)


def swap_values(content: bytes, at: int, by: int) -> bytes:
    rows = content.split(b"\n")
    one, other = at % len(rows), by % len(rows)
    (key, _, value), (other_key, _, other_value) = rows[one].partition(b"="), rows[other].partition(b"=")
    if value and other_value:
        rows[one], rows[other] = key + b"=" + other_value, other_key + b"=" + value
    return b"\n".join(rows)


def new_key(content: bytes, at: int, by: int) -> bytes:
    return at_row(content, at, lambda row: row[: by % 5] + row[1 + by % 5 :] if b"=" in row else row)


def new_unit(content: bytes, at: int, by: int) -> bytes:
    unit = (b" mm", b" m", b" cm", b" in", b" ft", b"'", b"", b" yd")[by % 8]
    return at_row(content, at, lambda row: row.replace(b" in", unit).replace(b" ft", unit))


SPOIL = (
    flip,
    cut,
    truncate,
    insert,
    repeat_row,
    drop_row,
    swap_rows,
    new_value,
    swap_values,
    new_key,
    new_unit,
)
STEP = st.tuples(st.sampled_from(SPOIL), st.integers(0, 4 * len(FULL)), st.integers(0, 4 * ROWS))


def check(content: bytes) -> ReadResult:
    """Read and say all of it; what must hold of every answer."""
    result = read_bytes(content)
    assert (result.survey is None) == bool(result.faults)
    for note in (*result.faults, *result.warnings):
        sentence = Voice("ft-in").located(note)
        assert sentence.startswith("job.toml")
        assert len(sentence) < 600
        assert note.where.line is None or 1 <= note.where.line <= content.count(b"\n") + 1
    return result


@settings(max_examples=2000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(STEP, min_size=1, max_size=4))
@example([])
def test_a_spoilt_job_is_read_or_refused_in_words(
    steps: list[tuple[Callable[[bytes, int, int], bytes], int, int]],
) -> None:
    content = FULL
    for spoil, at, by in steps:
        content = spoil(content, at, by)
    check(content)


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused_in_words(content: bytes) -> None:
    check(content)


def test_odd_values_in_every_row_are_read_or_refused_in_words() -> None:
    """Two of the odd values in each row, other ones from row to row."""
    for row in range(ROWS):
        for step in range(2):
            check(new_value(FULL, row, row * 7 + step * 17))


# Every field of the schema


def records_of(annotation: Any) -> set[type[Model]]:
    """The records that a field may hold, with those inside them."""
    if isinstance(annotation, type) and issubclass(annotation, Model):
        inner = {
            found for field in annotation.model_fields.values() for found in records_of(field.annotation)
        }
        return {annotation} | inner
    return {found for part in get_args(annotation) for found in records_of(part)}


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The path of everything in a table that is no table itself."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*path, key))
    elif isinstance(value, list) and value and isinstance(value[0], dict):
        for i, inner in enumerate(value):
            yield from leaves(inner, (*path, i))
    else:
        yield path


TABLE = tomllib.loads(FULL.decode())
LEAVES = tuple(leaves(TABLE))


def test_every_record_and_field_of_the_schema_stands_in_the_job_that_is_spoilt() -> None:
    # Shorthands stand in the file: a number for a gap or a height, a text for a price or a reading.
    written = {"Point", "Profile", "Gap", "Price", "EnergyPrice", "Seen"}
    reached = {record for record in records_of(Survey) if record.__name__ not in written}
    keys = {path[-1] for path in LEAVES} | {key for path in LEAVES for key in path if isinstance(key, str)}
    assert len(reached) > 30
    missing = {
        f"{record.__name__}.{name}" for record in reached for name in record.model_fields if name not in keys
    }
    assert missing == set()


INLINE = re.compile(rb"(?<=[{,]) *([\w\"]+) = (\"[^\"]*\"|[-\d.e]+)(?= *[,}\]])")


def test_an_odd_value_in_every_field_of_a_table_on_one_line_is_read_or_refused_in_words() -> None:
    """What stands on a row of its own is spoilt above; here each field between braces."""
    inside = [match for match in INLINE.finditer(FULL) if match[1] not in (b"source", b"status")]
    assert len(inside) > 40
    for number, match in enumerate(inside):
        odd = VALUES[number * 7 % len(VALUES)].encode()
        check(FULL[: match.start(2)] + odd + FULL[match.end(2) :])
