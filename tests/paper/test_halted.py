"""A round that misses closing by feet: nobody who cuts or buys may miss it on the paper in hand."""

from __future__ import annotations

import io
import zipfile
from functools import cache
from pathlib import Path

from warmside.answers import Answers, answer
from warmside.job.read import read_bytes
from warmside.paper.crew import crew_content
from warmside.paper.front import halted
from warmside.paper.workbook import order_workbook
from warmside.say import Voice

VOICE, DATE = Voice("ft-in"), "2026-11-25"
DEMO = Path(__file__).parents[2] / "demo" / "birch-lane" / "job.toml"
WALL_A = 'length = "26 ft 4 in"'


@cache
def job(length: str) -> Answers:
    """The demo house with another length of wall A."""
    text = DEMO.read_text("utf-8")
    assert text.count(WALL_A) == 1
    read = read_bytes(text.replace(WALL_A, f'length = "{length}"').encode())
    assert read.survey is not None
    return answer(read.survey)


def test_metres_for_feet_stop_the_cutting_and_name_the_wall() -> None:
    """26.4 m for 26 ft 4 in is 60 ft 3-3/8 in too long: 26.4 / 0.3048 = 86.614 ft."""
    [told] = halted(job("26.4 m"), VOICE)
    assert "STOP." in told
    assert told.startswith("Wall A")
    assert told in crew_content(job("26.4 m"), VOICE, DATE).found
    with zipfile.ZipFile(io.BytesIO(order_workbook(job("26.4 m"), VOICE, DATE))) as book:
        assert "STOP." in book.read("xl/sharedStrings.xml").decode()


def test_a_round_that_closes_stops_nothing() -> None:
    assert halted(job("26 ft 4 in"), VOICE) == ()
