"""The registry of published checks: what is claimed, from which source, and whether this machine agrees.

A check is one claim with one source; a table is one check with many rows. Claims, sources, tolerances and
published values are data (data/checks/*.toml, long tables beside them as .csv). A compute function is
registered by the check's id and gets the inputs of one row, never the published value: asking for it, or for
the tables while it runs, fails the check. What stands here are published values and closed forms; comparisons
with other libraries live in the tests.
"""

from __future__ import annotations

import csv
import math
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextvars import ContextVar
from dataclasses import dataclass
from enum import StrEnum
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from warmside.say import Note, Where


class RegistryError(ValueError):
    """A check's data can't be used, or a check and its compute function don't pair up."""


class WithheldError(Exception):
    """A compute function reached for the published value."""


class Kind(StrEnum):
    """What a check proves: an outside figure, a closed form, or only that a formula was typed right."""

    OUTSIDE = "outside"
    EXACT = "exact"
    CODING = "coding"


class Status(StrEnum):
    """How far the published value was confirmed."""

    READ = "read"
    COMPUTED = "computed"
    MEMORY = "from memory"
    PRACTICE = "common practice"


class Group(StrEnum):
    """What is counted apart in the report, strongest evidence first."""

    READ = "read"
    COMPUTED = "computed"
    EXACT = "exact"
    MEMORY = "memory"
    PRACTICE = "practice"
    CODING = "coding"


_BY_STATUS = {
    Status.READ: Group.READ,
    Status.COMPUTED: Group.COMPUTED,
    Status.MEMORY: Group.MEMORY,
    Status.PRACTICE: Group.PRACTICE,
}


class Check(BaseModel):
    """One claim with its source, its tolerance and its rows.

    `columns` gives the unit of every column; `expected` names the column of published values. A column `row`
    labels the rows, a column `tolerance` overrides the tolerance of single rows.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")
    id: str = Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")
    claim: str = Field(min_length=10)
    source: str = Field(min_length=3)
    part: str = Field(min_length=3)
    status: Status
    kind: Kind
    tolerance: float = Field(gt=0)
    relative: bool = False
    tolerance_reason: str = Field(min_length=10)
    expected: str
    columns: dict[str, str]
    rows: tuple[dict[str, Any], ...] = Field(min_length=1)

    @property
    def unit(self) -> str:
        """Unit of the published values."""
        return self.columns[self.expected]

    @property
    def group(self) -> Group:
        """Where the check is counted."""
        if self.kind is Kind.CODING:
            return Group.CODING
        if self.kind is Kind.EXACT and self.status in (Status.READ, Status.COMPUTED):
            return Group.EXACT
        return _BY_STATUS[self.status]


class Inputs(Mapping[str, Any]):
    """The inputs of one row; asking for the published column raises WithheldError."""

    def __init__(self, values: Mapping[str, Any], withheld: str) -> None:
        self._values = {key: value for key, value in values.items() if key != withheld}
        self._withheld = withheld

    def __getitem__(self, column: str) -> Any:
        if column == self._withheld:
            raise WithheldError(f"the compute function asked for the published value in column {column!r}")
        return self._values[column]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def number(self, column: str) -> float:
        """A value as a number, in the unit that the check states for the column."""
        return float(self[column])

    def text(self, column: str) -> str:
        """A value as text."""
        return str(self[column])


Compute = Callable[[Inputs], float]
_COMPUTES: dict[str, Compute] = {}
_computing: ContextVar[bool] = ContextVar("computing", default=False)


def computes(check_id: str) -> Callable[[Compute], Compute]:
    """Register the compute function of a check by its id. Raises RegistryError for a second one."""

    def register(compute: Compute) -> Compute:
        if check_id in _COMPUTES:
            raise RegistryError(f"the check {check_id} has two compute functions; it should have one")
        _COMPUTES[check_id] = compute
        return compute

    return register


# Reading


def load_checks(folder: Traversable | None = None) -> tuple[Check, ...]:
    """All checks of a folder (the package's own when None), by id. Raises RegistryError."""
    if _computing.get():
        raise WithheldError("the compute function asked for the tables of published values")
    place = files("warmside") / "data" / "checks" if folder is None else folder
    names = sorted(entry.name for entry in place.iterdir() if entry.name.endswith(".toml"))
    return tuple(_read(place, name.removesuffix(".toml")) for name in names)


def _read(place: Traversable, name: str) -> Check:
    content = tomllib.loads((place / f"{name}.toml").read_text("utf-8"))
    table = place / f"{name}.csv"
    if table.is_file():
        if "rows" in content:
            raise RegistryError(f"{name}: rows stand in the .toml and in a .csv; keep one")
        content["rows"] = list(csv.DictReader(table.read_text("utf-8").splitlines()))
    try:
        check = Check.model_validate(content)
    except ValidationError as faults:
        raise RegistryError(f"{name}.toml: {faults}") from faults
    _consistent(name, check)
    return check


def _consistent(name: str, check: Check) -> None:
    if check.id != name:
        raise RegistryError(f"{name}.toml holds the check {check.id}; file and id should have one name")
    if check.expected not in check.columns:
        raise RegistryError(f"{name}: the expected column {check.expected} is not in {list(check.columns)}")
    for number, row in enumerate(check.rows, start=1):
        if set(row) != set(check.columns):
            raise RegistryError(f"{name}, row {number} has {list(row)}; it should have {list(check.columns)}")


# Running


@dataclass(frozen=True)
class RowResult:
    """One published value beside the one computed; `computed` is None where `fault` says why.

    allowed : how far they may lie apart, in the unit of the check
    """

    label: str
    published: float
    computed: float | None
    allowed: float
    fault: str = ""

    @property
    def passed(self) -> bool:
        """Whether the two agree."""
        return self.computed is not None and abs(self.computed - self.published) <= self.allowed


@dataclass(frozen=True)
class Result:
    """A check with what was computed for each row."""

    check: Check
    rows: tuple[RowResult, ...]

    @property
    def passed(self) -> bool:
        """Whether every row agrees."""
        return all(row.passed for row in self.rows)

    @property
    def notes(self) -> tuple[Note, ...]:
        """A note for each row that doesn't agree."""
        return tuple(_note(self.check, row) for row in self.rows if not row.passed)


def _note(check: Check, row: RowResult) -> Note:
    where = Where(item=check.id)
    if row.computed is None:
        return Note("checks.fault", {"id": check.id, "row": row.label, "fault": row.fault}, where)
    pair = {"published": row.published, "computed": row.computed, "allowed": row.allowed, "unit": check.unit}
    return Note("checks.off", {"id": check.id, "row": row.label, **pair}, where)


def run_checks(
    folder: Traversable | None = None, functions: Mapping[str, Compute] | None = None
) -> list[Result]:
    """Compute every row of every check, in the order of groups and ids.

    folder : of the check files, the package's own when None
    functions : compute functions by check id, the registered ones when None

    Raises RegistryError where checks and compute functions don't pair up.
    """
    checks, known = load_checks(folder), _COMPUTES if functions is None else functions
    if lone := {check.id for check in checks} ^ set(known):
        raise RegistryError(f"a check without a compute function, or the reverse: {', '.join(sorted(lone))}")
    order = {group: place for place, group in enumerate(Group)}
    ranked = sorted(checks, key=lambda check: (order[check.group], check.id))
    return [run_check(check, known[check.id]) for check in ranked]


def run_check(check: Check, compute: Compute) -> Result:
    """Compute every row of one check."""
    return Result(check, tuple(_run_row(check, row, compute) for row in check.rows))


def _run_row(check: Check, row: Mapping[str, Any], compute: Compute) -> RowResult:
    inputs = {key: value for key, value in row.items() if key not in ("row", "tolerance", check.expected)}
    label = str(row.get("row") or ", ".join(f"{key} {value}" for key, value in inputs.items()))
    published = float(row[check.expected])
    tolerance = float(row.get("tolerance") or check.tolerance)
    allowed = tolerance * abs(published) if check.relative else tolerance
    sealed = _computing.set(True)
    try:
        computed = float(compute(Inputs(inputs, check.expected)))
    except (WithheldError, ArithmeticError, LookupError, ValueError) as fault:
        return RowResult(label, published, None, allowed, f"{type(fault).__name__}: {fault}")
    finally:
        _computing.reset(sealed)
    if not math.isfinite(computed):
        return RowResult(label, published, None, allowed, f"the computed value is {computed}")
    return RowResult(label, published, computed, allowed)


@dataclass(frozen=True)
class Count:
    """How many checks and rows, from how many sources, and how many checks failed."""

    checks: int
    rows: int
    sources: int
    failed: int


def count(results: Sequence[Result], group: Group | None = None) -> Count:
    """Count results, all of them or those of one group."""
    taken = [result for result in results if group in (None, result.check.group)]
    sources = {result.check.source for result in taken}
    failed = sum(not result.passed for result in taken)
    return Count(len(taken), sum(len(result.rows) for result in taken), len(sources), failed)
