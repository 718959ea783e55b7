"""What to measure next: only what would change something, never what nobody can know on site."""

from __future__ import annotations

from typing import Any

import pytest

from tests import walls as w
from warmside.job.survey import Survey
from warmside.measure_next import MOST_TOLD, measure_next, unknowns
from warmside.say import Note, Voice, messages

KNOWN: dict[str, Any] = {
    "name": "A",
    "length": "24 ft",
    "height": "88 in",
    "against": "concrete",
    "exposure": "soil",
    "concrete_showing": "8 in",
    "gap": ["1/4 in", "3/4 in"],
    "frame": {"state": "standing", "studs": "2x4", "spacing": "16 in", "top_plates": 1},
    "rim": {"joists": "land here", "height": "9-1/4 in", "spacing": "16 in"},
    "counts": {"electrical box": 0},
}
TOP: dict[str, Any] = {
    "place": {"weather_file": "year.epw"},
    "heating": {"fuel": "natural gas", "price": "0.46 CAD per m3"},
    "foundation": {"kind": "poured concrete", "thickness": "8 in", "sill": "1-1/2 in"},
}
PRICES = {"R12 glass 15 in": "60 CAD per bag", "vapour hat": "90 CAD per piece"}


def without(*paths: str, **more: Any) -> Survey:
    """The known wall with some of its fields left out."""
    wall: dict[str, Any] = {k: dict(v) if isinstance(v, dict) else v for k, v in KNOWN.items()}
    for path in paths:
        record, _, name = path.partition(".")
        (wall[record] if name else wall).pop(name or record)
    return w.survey({**wall, **more.pop("wall", {})}, **{**TOP, **more})


def asked(survey: Survey) -> list[str]:
    return [note.code for note in measure_next(survey)]


def why(note: Note) -> str:
    reason = note.args["why"]
    assert isinstance(reason, Note)
    return reason.code


def test_where_all_that_counts_is_known_nothing_is_asked() -> None:
    assert measure_next(without()) == ()


def test_a_gap_that_decides_about_the_fire_blocks_is_asked_for() -> None:
    # The most that a gap may be is 25 mm; nobody measured it, and it may lie on either side.
    (note,) = measure_next(without("gap"))
    assert (note.code, why(note), Voice().text(note.args["walls"])) == (
        "measure.field.wall_gap",
        "measure.why.verdict",
        "wall A",
    )


def test_a_spacing_that_changes_the_order_is_asked_for_with_its_bags() -> None:
    # 16 or 24 in apart over 48 ft: narrow batts or wide ones, which fill another number of bags.
    notes = {note.code: note for note in measure_next(without("frame.spacing", wall={"length": "48 ft"}))}
    note = notes["measure.field.frame_spacing"]
    assert why(note) == "measure.why.bags"
    assert note.args["why"].args["least"] < note.args["why"].args["most"]


def test_the_price_counts_from_two_percent_on() -> None:
    box = {"kind": "electrical box", "from_left": "30 in", "up": "12 in"}
    dear = without(wall={"in_the_way": [box]}, prices=PRICES)
    (note,) = measure_next(dear)
    assert (note.code, why(note)) == ("measure.field.thing_wrap", "measure.why.price")
    cheap = {**PRICES, "vapour hat": "0.05 CAD per piece"}
    assert measure_next(without(wall={"in_the_way": [box]}, prices=cheap)) == ()


def test_windows_that_were_only_counted_are_asked_for_where_they_count() -> None:
    # Four windows of 24 x 12 in or 48 x 48 in: 8 or 64 sq ft of 189, and the seams round them.
    (note,) = measure_next(without(wall={"counts": {"electrical box": 0, "window": 4}}))
    assert (note.code, Voice().text(note.args["walls"])) == ("measure.field.openings_size", "wall A")
    placed = [{"kind": "window", "from_left": "100 in", "up": "60 in"}]
    frame = {**KNOWN["frame"], "state": "planned"}
    assert measure_next(without(wall={"in_the_way": placed, "frame": frame})) == ()


def test_a_rule_that_can_not_be_told_at_either_end_is_no_verdict() -> None:
    # Boxes bring a rule that nobody can tell yet: their number turns nothing and counts for the order alone.
    (note,) = measure_next(without(wall={"counts": {}}))
    assert (note.code, why(note)) == ("measure.field.counts_electrical_box", "measure.why.packages")


def test_without_length_height_or_frame_these_come_first() -> None:
    assert asked(w.survey({"name": "A"}, {"name": "B", "length": "20 ft"}))[:3] == [
        "measure.length",
        "measure.height",
        "measure.frame_state",
    ]


def test_at_most_three() -> None:
    bare = w.survey({"name": "A", "length": "30 ft", "height": "88 in", "frame": {"state": "planned"}})
    assert len(measure_next(bare)) == MOST_TOLD


def test_a_climate_and_then_a_bill_are_asked_for_where_nothing_else_is_open() -> None:
    # Without a climate a bill tells nothing; Timmins is in the package's table of towns.
    assert asked(without(heating={}, place={"town": "Nowhere at all"})) == ["measure.climate"]
    assert asked(without(heating={}, place={"town": "Timmins"})) == ["measure.bill"]


@pytest.mark.parametrize("word", ["soil", "leakage", "tariff", "conductiv"])
def test_what_nobody_knows_on_site_is_never_asked(word: str) -> None:
    told = [text for code, text in messages("en").items() if code.startswith("measure.")]
    assert told
    assert not any(word in text.lower() for text in told)
    assert not any(word in unknown.field for unknown in unknowns())


def test_all_unknown_fields_have_two_ends_and_a_sentence() -> None:
    for unknown in unknowns():
        assert unknown.low != unknown.high
        code = f"measure.field.{unknown.field.replace('.', '_').replace(' ', '_')}"
        assert Voice().line(code, walls="A", why="Because.").endswith("Because.")


def test_the_showing_of_a_garage_wall_is_not_asked_for() -> None:
    assert "measure.field.wall_concrete_showing" not in asked(
        without("concrete_showing", wall={"exposure": "garage"})
    )


def test_the_same_survey_gives_the_same_questions() -> None:
    bare = w.survey({"name": "A", "length": "30 ft", "height": "88 in", "frame": {"state": "planned"}})
    assert measure_next(bare) == measure_next(bare.model_copy(deep=True))
