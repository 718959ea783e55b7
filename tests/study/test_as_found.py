"""What a wall resists before the work: by hand from its old layers, and what that takes off the saving."""

from __future__ import annotations

from typing import Any

import pytest

from tests import walls as w
from tests.study.test_heat import HEATING, job, studied
from warmside.job.resolve import House
from warmside.study.as_found import End, left_alone, old_resistance, walls_before
from warmside.study.layers import framing_area
from warmside.units import to_m
from warmside.wall.frame import frame_wall

R = 0.1761101838
"""One h.ft2.F/Btu [m2.K/W], by the definitions of the units; labels are read with five digits of it."""
WARM = HEATING | {"basement_before": "20 C"}
"""No change of temperature: what is saved is saved by the layers alone."""
FOAM = {"kind": "foam board", "thickness": "2 in", "worth": "R10", "state": "sound"}
BATT = {"kind": "batt", "thickness": "3-1/2 in", "worth": "R8", "state": "sound"}
NONE = {"state": "none"}


def on(*layers: dict[str, Any], **fields: Any) -> House:
    return w.house(w.wall(existing=list(layers), **{"gap": "2 in", **fields}))


def ends(house: House) -> list[float]:
    return [old_resistance(house, house.walls[0], end) for end in (End.LEAST, End.LIKELY, End.MOST)]


def air_by_hand(thickness: float) -> float:
    """Still air of 12 to 300 mm: 0.17 to 0.18 m2.K/W by ISO 6946 Table 2 as the code of the layer has it."""
    return 0.18 if thickness >= 0.025 else 0.17


@pytest.mark.parametrize("then", ["keep", "remove", None])
@pytest.mark.parametrize("state", ["planned", "standing"])
def test_old_foam_counts_whole_whatever_becomes_of_it(then: str | None, state: str) -> None:
    # 10 R of the label, no stud through it
    house = on({**FOAM, "then": then}, frame={**w.STANDING, "state": state})
    assert ends(house) == pytest.approx([10 * R] * 3, rel=1e-5)


def test_old_batts_between_studs_are_bridged_by_them() -> None:
    # Parallel paths in the stud space, then 1 in of air behind: 1 / (f / R_wood + (1 - f) / R_batt) + air.
    # R_wood = 88.9 mm x 8.5 m.K/W = 0.756 by the NBC's table. 3 %: air by table, wood to two digits.
    house = on({**BATT, "then": "remove"}, gap="1 in")
    wall = house.walls[0]
    built = frame_wall(wall)
    sticks = framing_area(wall, built)
    share = sticks / (sticks + sum(bay.area for bay in built.bays))
    between = 1.0 / (share / (0.0889 * 8.5) + (1.0 - share) / (8 * R))
    assert old_resistance(house, wall) == pytest.approx(between + air_by_hand(0.0254), rel=0.03)


def test_an_old_sheet_shuts_in_the_air_between_the_studs() -> None:
    # 12.7 mm at 6.1 m.K/W = 0.077, and air of 5-1/2 in beside wood with air behind it: 0.18 to 0.25
    house = on({"kind": "drywall", "state": "sound"})
    assert 0.077 + 0.18 < old_resistance(house, house.walls[0]) < 0.077 + 0.25


def test_open_studs_with_nothing_old_count_for_nothing() -> None:
    assert ends(on()) == [0.0, 0.0, 0.0]
    assert walls_before(on({"kind": "moisture barrier", "then": "remove"})) == ()


def test_without_a_standing_frame_batts_hang_on_the_concrete() -> None:
    for frame in (w.PLANNED, NONE):
        assert ends(on(BATT, frame=frame)) == pytest.approx([8 * R] * 3, rel=1e-5)


@pytest.mark.parametrize(
    ("state", "shares"),
    [
        ("sound", (1, 1, 1)),
        ("torn", (0, 0.5, 1)),
        ("wet", (0, 0.5, 1)),
        ("mouldy", (0, 0.5, 1)),
        (None, (0, 1, 1)),
    ],
)
def test_a_state_that_spoils_or_is_unknown_is_run_from_end_to_end(
    state: str | None, shares: tuple[float, float, float]
) -> None:
    house = on({**FOAM, "state": state, "then": "remove"})
    assert ends(house) == pytest.approx([10 * R * share for share in shares], rel=1e-5)


def test_a_worth_that_nobody_knows_is_run_from_end_to_end() -> None:
    # 2 in of foam board: 0.0508 m x 25 and x 42 m.K/W by the tables, between them in the middle
    foam = {"kind": "foam board", "thickness": "2 in", "state": "sound"}
    least, most = 0.0508 * 25.0, 0.0508 * 42.0
    assert ends(on({**foam, "then": "remove"})) == pytest.approx([least, (least + most) / 2, most])


def test_what_stays_counts_before_as_it_does_after_and_at_most_as_the_best_of_its_kind() -> None:
    kept = {"kind": "foam board", "thickness": "2 in", "then": "keep"}
    assert ends(on(kept)) == pytest.approx([0.0508 * 25.0, 0.0508 * 25.0, 0.0508 * 42.0])


def test_a_wall_as_found_is_told_with_its_film_and_concrete() -> None:
    # 0.12 of inside film and 8 in of concrete at 0.0004 per mm = 0.081 come on top
    (found,) = walls_before(w.house(w.wall(existing=[FOAM]), foundation={"thickness": "8 in"}))
    assert found.whole.likely - found.layers.likely == pytest.approx(0.12 + 0.081, abs=0.03)
    assert to_m(w.house(w.wall(), foundation={"thickness": "8 in"}).walls[0].thickness) == 0.2032


# ---- the saving --------------------------------------------------------------------------------------------


def saved(*layers: dict[str, Any], **fields: Any) -> float:
    house = job(heating=WARM, gap="2 in", existing=list(layers), **fields)
    return studied(house).saved.conducted.likely


def test_old_foam_that_is_torn_out_takes_its_part_off_the_saving() -> None:
    bare, foam = saved(), saved({**FOAM, "then": "remove"})
    assert 0.0 < foam < 0.6 * bare


def test_kept_batts_are_no_saving() -> None:
    # What is new is the sheet, the sealing and the rim: less than half of what bare walls save.
    kept = saved({**BATT, "then": "keep"})
    assert 0.0 < kept < 0.5 * saved()


def test_old_insulation_of_unknown_state_saves_between_bare_and_sound() -> None:
    unknown = job(heating=WARM, gap="2 in", existing=[{**FOAM, "state": None, "then": "remove"}])
    found = studied(unknown)
    assert found.saved.conducted.high >= saved() > found.saved.conducted.likely
    assert found.before.conducted.high > found.before.conducted.likely
    assert [note.code for note in found.notes if note.code.startswith("heat.old")] == ["heat.old_either"] * 4
    sound = studied(job(heating=WARM, gap="2 in", existing=[FOAM]))
    assert [note.code for note in sound.notes if note.code.startswith("heat.old")] == ["heat.old_counted"] * 4


def test_without_a_frame_what_stays_saves_nothing_and_what_goes_costs() -> None:
    assert saved({**FOAM, "then": "keep"}, frame=NONE) == pytest.approx(0.0, abs=1e-6)
    assert saved({**FOAM, "then": "remove"}, frame=NONE) < -100.0
    wall = on({**FOAM, "then": "remove"}, frame=NONE)
    assert left_alone(wall, wall.walls[0]) == 0.0


def test_a_wall_with_old_foam_is_warmer_before_the_work() -> None:
    bare, foam = (
        studied(job(heating=WARM, gap="2 in", existing=layers)).spots
        for layers in ([], [{**FOAM, "then": "remove"}])
    )
    was, now = ({spot.place: spot.before for spot in spots} for spots in (bare, foam))
    assert now["above ground"] > was["above ground"] + 3.0
    assert now["corner"] > was["corner"] + 3.0
