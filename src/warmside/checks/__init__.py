"""Published checks that the tool runs on the machine it stands on: `warmside verify`.

`registry` reads and runs them, `report` prints them; the other modules hold the compute functions by subject.
"""

from warmside.checks import (
    cutting,
    damage,
    heat,
    judging,
    march,
    moisture,
    rules,
    saving,
    trade,
    walls,
    weather,
)
from warmside.checks.registry import (
    Check,
    Count,
    Group,
    Inputs,
    Kind,
    RegistryError,
    Result,
    RowResult,
    Status,
    WithheldError,
    computes,
    count,
    load_checks,
    run_check,
    run_checks,
)
from warmside.checks.report import report_json, report_lines

SUBJECTS = (walls, trade, cutting, heat, damage, moisture, march, judging, saving, weather, rules)
"""Modules whose import registers compute functions."""

__all__ = [
    "SUBJECTS",
    "Check",
    "Count",
    "Group",
    "Inputs",
    "Kind",
    "RegistryError",
    "Result",
    "RowResult",
    "Status",
    "WithheldError",
    "computes",
    "count",
    "load_checks",
    "report_json",
    "report_lines",
    "run_check",
    "run_checks",
]
