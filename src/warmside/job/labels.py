"""What the labels of a job's own goods say, against what a label can say at all.

A value in the wrong unit is told here. The bounds stand in `data/label_bounds.toml` and, of sizes, in
`data/survey_bounds.toml`. What goods are worth in a wall is not judged.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache

from warmside.catalog.data_files import read_named
from warmside.catalog.goods import Batt, Board, Good, Model, Quantity, Sealant, Size, Status
from warmside.job.findings import Found, found
from warmside.job.lines import KeyPath
from warmside.job.sizes import bounds, within
from warmside.job.survey import OwnGoods, Survey
from warmside.units import to_m


class LabelBound(Model):
    """The least and the most that a label can say, and why."""

    least: float
    most: float
    unit: str
    source: str
    status: Status


@cache
def label_bounds() -> Mapping[str, LabelBound]:
    """The bounds by kind of goods, or role of a board, and field."""
    return read_named(LabelBound, "label_bounds.toml")


def labels(survey: Survey) -> Iterator[Found]:
    """Values of a job's own goods that stand on no label: most often they are in another unit."""
    for kind in OwnGoods.model_fields:
        for i, good in enumerate(getattr(survey.goods, kind)):
            path: KeyPath = ("goods", kind, i)
            sizes = [*_sizes(kind, good, path)]
            yield from sizes
            # A batt's resistance is judged by its thickness, so that one slip is told once.
            yield from () if sizes else _quantities(good, path)


def _sizes(kind: str, good: Good, path: KeyPath) -> Iterator[Found]:
    for name, size in good.values:
        bound = bounds().get(f"{kind}.{name}")
        if bound is not None and isinstance(size, Size):
            yield from within(bound, size.value, (*path, name, "value"))


def _quantities(good: Good, path: KeyPath) -> Iterator[Found]:
    if isinstance(good, Batt):
        yield from _batt(good, path)
    if isinstance(good, Board):
        yield from _label(f"{good.role}.resistivity", good.resistivity, (*path, "resistivity", "value"))
    if isinstance(good, Sealant):
        yield from _label("sealant.volume", good.volume, (*path, "volume", "value"))
        yield from _label("sealant.waste", good.waste, (*path, "waste", "value"))


def _label(key: str, label: Quantity, path: KeyPath) -> Iterator[Found]:
    bound = label_bounds()[key]
    if not bound.least <= label.value <= bound.most:
        args = {"least": bound.least, "most": bound.most, "unit": bound.unit}
        yield found(f"fault.label_{path[-2]}", path, value=label.value, **args)


def _batt(batt: Batt, path: KeyPath) -> Iterator[Found]:
    """The resistance on a label goes with the thickness on it."""
    bound, metres = label_bounds()["batt.r_label"], to_m(batt.thickness.value)
    least, most = metres / bound.most, metres / bound.least
    if not least <= batt.r_label.value <= most:
        args = {"thickness": batt.thickness.value, "least": least, "most": most}
        yield found("fault.label_r_label", (*path, "r_label", "value"), value=batt.r_label.value, **args)
