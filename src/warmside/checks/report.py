"""The printed form of the published checks: source, published, computed, tolerance, row by row.

Figures held from memory, common practice and coding checks stand in groups of their own, so that nobody takes
them for evidence from outside.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import Any

from warmside.checks.registry import Check, Group, Result, RowResult, count
from warmside.say import Voice

WIDTH = 100
"""Columns of the printed report."""


def report_lines(results: Sequence[Result], voice: Voice | None = None) -> list[str]:
    """The report as lines of at most 100 columns: group by group each check with its rows, then the counts.

    Figures from memory, common practice and coding stand in groups of their own.
    """
    speak = voice or Voice()
    lines: list[str] = []
    for group in Group:
        part = [result for result in results if result.check.group is group]
        title = speak.line(f"checks.group.{group}")
        lines += [title, "=" * len(title)] if part else []
        for result in part:
            lines += [*_check_lines(result, speak), ""]
    return lines + _count_lines(results, speak)


def report_json(results: Sequence[Result]) -> dict[str, Any]:
    """The report for machines: counts in all and by group, and every check with its rows."""
    return {
        "counts": vars(count(results)),
        "groups": {group.value: vars(count(results, group)) for group in Group},
        "checks": [_check_json(result) for result in results],
    }


def _check_json(result: Result) -> dict[str, Any]:
    told = result.check.model_dump(mode="json", exclude={"columns", "rows", "expected"})
    rows = [{**vars(row), "passed": row.passed} for row in result.rows]
    extra = {"group": result.check.group.value, "unit": result.check.unit, "passed": result.passed}
    return {**told, **extra, "rows": rows}


def _check_lines(result: Result, speak: Voice) -> list[str]:
    check = result.check
    head = [
        check.claim,
        speak.line("checks.source", source=check.source, part=check.part),
        _tolerance(check, speak),
    ]
    first = speak.line(
        "checks.check",
        id=check.id,
        verdict=_verdict(result.passed, speak),
        rows=len(result.rows),
        kind=check.kind,
        status=check.status,
    )
    names = [speak.line(f"checks.column.{name}") for name in ("row", "published", "computed", "apart")]
    body = [_row_line(row, speak) for row in result.rows]
    return [first, *(line for text in head for line in _wrapped(text)), _columns(*names), *body]


def _verdict(passed: bool, speak: Voice) -> str:
    return speak.line("checks.verdict.agree" if passed else "checks.verdict.differ")


def _tolerance(check: Check, speak: Voice) -> str:
    if check.relative:
        share = 100.0 * check.tolerance
        return speak.line("checks.tolerance_share", tolerance=share, reason=check.tolerance_reason)
    amount = f"{check.tolerance:.3g} {check.unit}".removesuffix(" -")
    return speak.line("checks.tolerance", tolerance=amount, reason=check.tolerance_reason)


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH - 2, initial_indent="  ", subsequent_indent="    ")


def _columns(label: str, published: str, computed: str, apart: str, verdict: str = "") -> str:
    short = label if len(label) <= 46 else label[:43] + "..."
    return f"    {short:<46} {published:>11} {computed:>11} {apart:>11}  {verdict}".rstrip()


def _row_line(row: RowResult, speak: Voice) -> str:
    places = max(0, 1 - math.floor(math.log10(row.allowed))) if row.allowed < 10.0 else 0
    form = f".{places}f" if places <= 7 else ".5g"
    published = f"{row.published:{form}}"
    if row.computed is None:
        return _columns(row.label, published, "-", "-", speak.line("checks.verdict.none"))
    apart = f"{round(row.computed - row.published, 12) + 0.0:+{form}}"
    return _columns(row.label, published, f"{row.computed:{form}}", apart, _verdict(row.passed, speak))


def _count_lines(results: Sequence[Result], speak: Voice) -> list[str]:
    present = {result.check.group for result in results}
    lines = [speak.line("checks.totals", **vars(count(results)))]
    for group in (group for group in Group if group in present):
        title = speak.line(f"checks.group.{group}")
        lines.append("  " + speak.line("checks.group_totals", group=title, **vars(count(results, group))))
    return lines
