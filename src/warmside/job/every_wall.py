"""A walk-through spread over the walls: what holds for every wall, and things that were only counted.

A wall's own value goes first. Where no wall is listed, one total length makes one wall of them all. Things
counted for the whole house are shared out by the lengths of the walls (common practice), so that totals hold;
they have no place until somebody measures it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from warmside.job.survey import CommonFrame, CommonRim, EveryWall, Gap, Point, Profile, Survey, Wall
from warmside.units import Length

ALL_WALLS = "all round"


def spread(survey: Survey, showing: str = "mean") -> Survey:
    """The survey with what holds for every wall written into each wall that does not say otherwise.

    showing : which of the concrete that shows is taken: "least", "mean" or "most"
    """
    common = survey.every_wall
    walls = survey.wall
    if not walls and common.total_length is not None:
        walls = (Wall(name=ALL_WALLS).model_copy(update={"length": common.total_length}),)
    if common == EveryWall():
        return survey
    return survey.model_copy(update={"wall": tuple(_filled(wall, common, showing) for wall in walls)})


def _filled(wall: Wall, common: EveryWall, showing: str) -> Wall:
    level = {
        "exposure": common.exposure,
        "height": _level(common.height),
        "concrete_showing": _showing(wall, common, showing),
        "gap": common.gap,
    }
    update = {name: value for name, value in level.items() if getattr(wall, name) is None}
    frame = {n: getattr(common.frame, n) for n in CommonFrame.model_fields if getattr(wall.frame, n) is None}
    rim = {n: getattr(common.rim, n) for n in CommonRim.model_fields if getattr(wall.rim, n) is None}
    return wall.model_copy(
        update={
            **update,
            "frame": wall.frame.model_copy(update=frame),
            "rim": wall.rim.model_copy(update=rim),
            "existing": wall.existing or common.existing,
        }
    )


def _showing(wall: Wall, common: EveryWall, showing: str) -> Profile | None:
    """Of a wall in the soil; against all else the whole concrete counts as showing, as `resolve` derives."""
    in_soil = (wall.exposure or common.exposure) in (None, "soil")
    return _level(_taken(common.concrete_showing, showing)) if in_soil else None


def _taken(measured: Gap | None, showing: str) -> Length | None:
    if measured is None:
        return None
    ends = {
        "least": measured.least,
        "mean": Length((measured.least + measured.most) // 2),
        "most": measured.most,
    }
    return ends[showing]


def _level(value: Length | None) -> Profile | None:
    return None if value is None else Profile(points=(Point(at=Length(0), value=value),))


def unplaced_counts(wall: Wall) -> Mapping[str, int]:
    """By kind, how many things a wall counts beyond those that it describes one by one."""
    left = {kind: count - _described(wall, kind) for kind, count in wall.counts.items()}
    return {kind: count for kind, count in left.items() if count > 0}


def _described(wall: Wall, kind: str) -> int:
    return sum(thing.kind == kind for thing in wall.in_the_way)


def house_counts(survey: Survey) -> Mapping[str, int]:
    """By kind, how many things the house counts beyond those that its walls count or describe."""
    left = {kind: count - on_walls(survey, kind) for kind, count in survey.every_wall.counts.items()}
    return {kind: count for kind, count in left.items() if count > 0}


def on_walls(survey: Survey, kind: str) -> int:
    """How many things of a kind the walls count or describe themselves."""
    return sum(max(wall.counts.get(kind, 0), _described(wall, kind)) for wall in survey.wall)


def shared_out(survey: Survey) -> Mapping[str, Mapping[str, int]]:
    """What was counted for the house as shares of its walls, by wall and kind; they add up to the counts."""
    shares: dict[str, dict[str, int]] = {wall.name: {} for wall in survey.wall}
    lengths = [wall.length or Length(0) for wall in survey.wall]
    for kind, count in house_counts(survey).items():
        for wall, share in zip(survey.wall, _shares(count, lengths), strict=True):
            shares[wall.name] |= {kind: share} if share else {}
    return shares


def _shares(count: int, lengths: Sequence[int]) -> list[int]:
    """Whole shares in proportion; what is left goes one by one to the largest remainders, from the left."""
    whole = sum(lengths)
    if whole <= 0:
        return [0] * len(lengths)
    shares = [count * length // whole for length in lengths]
    by_remainder = sorted(range(len(lengths)), key=lambda i: (-(count * lengths[i] % whole), i))
    for i in by_remainder[: count - sum(shares)]:
        shares[i] += 1
    return shares


def kinds_present(survey: Survey) -> Iterator[str]:
    """Kinds of everything that was described or counted."""
    for wall in survey.wall:
        yield from (thing.kind for thing in wall.in_the_way)
        yield from (kind for kind, count in wall.counts.items() if count)
    yield from (kind for kind, count in survey.every_wall.counts.items() if count)


def unsaid_layers(survey: Survey) -> frozenset[str]:
    """Walls of which nobody has said what is on them already; an empty list says that nothing is."""
    if "existing" in survey.every_wall.model_fields_set:
        return frozenset()
    return frozenset(wall.name for wall in survey.wall if "existing" not in wall.model_fields_set)
