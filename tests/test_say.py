"""Notes become sentences: blanks filled in the reader's own units, nested notes spoken, their place first."""

from __future__ import annotations

import tomllib
from importlib.resources import files

import pytest
from pydantic import ValidationError

from warmside.say import Figure, MessageError, Note, Voice, Where, languages, messages, sources
from warmside.units import INCH, METRE, MM

FEET, METRIC = Voice("ft-in"), Voice("mm")


def test_a_note_is_spoken_with_lengths_in_the_readers_units() -> None:
    note = Note("fault.past_right", {"over": 14 * INCH})
    assert FEET.text(note) == "it reaches 1' 2\" past the right end of the wall"
    assert METRIC.text(note) == "it reaches 356 mm past the right end of the wall"


def test_a_note_is_led_by_its_place() -> None:
    note = Note("fault.past_left", {"over": INCH}, Where("job.toml", 12, "A", "window 2"))
    assert FEET.located(note) == (
        'job.toml line 12, wall A, window 2: it reaches 1" past the left end of the wall'
    )
    assert FEET.located(Note("fault.past_left", {"over": INCH}, Where("job.toml"))).startswith("job.toml: it")
    assert FEET.located(Note("fault.past_left", {"over": INCH})).startswith("it reaches")


def test_a_note_inside_a_note_is_spoken() -> None:
    inner = Note("fault.past_left", {"over": INCH})
    assert FEET.line("fault.says", key="width", sentence=inner) == f"width: {FEET.text(inner)}"


@pytest.mark.parametrize(
    ("kind", "value", "feet", "metric"),
    [
        ("length", 148 * INCH + INCH * 3 // 8, "12' 4-3/8\"", "3769 mm"),
        ("inches", 148 * INCH, '148"', "3759 mm"),
        ("batt", 88 * INCH + INCH * 3 // 8, '88-1/2"', "2245 mm"),
        ("board", 88 * INCH + INCH * 3 // 8, '88-3/8"', "2245 mm"),
        ("batt", 542 * MM + MM // 2, '21-1/4"', "545 mm"),  # nearest 5 mm, a half goes up, as on a tape
        # 4 in are 101.6 mm, 24 in are 609.6 mm, both within 2 %; 14 in is on the tape already.
        ("stated", 100 * MM, '100 mm (4")', "100 mm"),
        ("stated", 600 * MM, '600 mm (24")', "600 mm"),
        ("stated", 12 * MM, '12 mm (1/2")', "12 mm"),
        ("stated", 14 * INCH, '14"', "356 mm"),
        ("depth", 0.914, "3' 0\"", "0.9 m"),  # 0.914 m / 25.4 mm = 35.98 in
        ("depth", 0.4, "1' 4\"", "0.4 m"),  # 15.75 in
        ("run", 36 * METRE, "118 ft", "36 m"),  # 36 m / 0.3048 = 118.1 ft
        ("money", 6150, "61.50", "61.50"),
        ("money", 123456789, "1,234,567.89", "1,234,567.89"),
        ("about_money", 500, "10", "10"),
        ("about_money", 1500, "20", "20"),
        ("about_money", 2500, "30", "30"),
        ("about_money", 123449, "1,230", "1,230"),
        ("about_money", -1500, "-20", "-20"),
        ("R", 2.47, "R14", "RSI 2.47"),
        ("R_both", 2.47, "R14 (RSI 2.47)", "RSI 2.47 (R14)"),
        ("temperature", -30.0, "-30 °C (-22 °F)", "-30 °C"),
        ("temperature", -0.3, "0 °C (31 °F)", "0 °C"),
        ("area", 9.290304, "100 sq ft", "9.3 m²"),
        ("percent", 0.256, "26 %", "26 %"),
    ],
)
def test_each_kind_of_value_is_shown_in_both_systems(kind: str, value: float, feet: str, metric: str) -> None:
    assert FEET.show(kind, value) == feet
    assert METRIC.show(kind, value) == metric


def test_what_can_not_be_said_is_an_error_that_names_it() -> None:
    with pytest.raises(MessageError, match=r"no sentence 'fault\.none_such' in language 'en'"):
        FEET.line("fault.none_such")
    with pytest.raises(MessageError, match=r"the sentence 'fault\.past_left' needs 'over'"):
        FEET.line("fault.past_left")
    with pytest.raises(MessageError, match="no way to show 'furlong'; there are: length, inches"):
        FEET.show("furlong", 1)
    with pytest.raises(MessageError, match="no sentences in language 'xx'; there are: en"):
        Voice("ft-in", "xx").line("fault.past_left", over=1)


def test_no_code_stands_twice_and_every_sentence_is_text() -> None:
    table = messages("en")
    assert "en" in languages()
    assert all(sentence.strip() == sentence and sentence for sentence in table.values())


def test_every_fault_begins_small_and_ends_without_a_stop() -> None:
    text = (files("warmside") / "data" / "messages" / "en" / "faults.toml").read_text("utf-8")
    faults = [*tomllib.loads(text)["fault"].values(), *tomllib.loads(text)["warning"].values()]
    assert len(faults) > 60
    assert all(not sentence.endswith(".") and not sentence[0].isupper() for sentence in faults)


def test_sources_are_read_with_their_ids() -> None:
    assert all(source.id == key and source.title for key, source in sources().items())


def test_a_figure_is_never_nan_and_null_may_say_what_it_needs() -> None:
    figure = Figure(value=None, unit="m", method="tape", needs=("wall.length",))
    assert figure.needs == ("wall.length",)
    with pytest.raises(ValidationError, match="finite number"):
        Figure(value=float("nan"), unit="m", method="tape")
