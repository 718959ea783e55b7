"""The cutting card: every batt of every bag once, each piece at the batt that it comes out of."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from tests.cutting.test_nesting import piece, pieces_of
from warmside.answers import Answers, answer
from warmside.cutting.nesting import Nest, nest
from warmside.job.read import read_job
from warmside.paper.bag_card import Bag, BagCard, bag_cards
from warmside.say import Voice

DEMO = Path(__file__).parent.parent.parent / "demo"
JOBS = ["birch-lane", "kadaka-cellar"]


@cache
def answers(job: str) -> Answers:
    read = read_job(DEMO / job)
    assert read.survey is not None
    return answer(read.survey)


def card(*sizes: tuple[float, float]) -> BagCard:
    (found,) = bag_cards(nest(pieces_of(sizes)), Voice())
    return found


def told(bag: Bag) -> list[tuple[str, str, str, str]]:
    return [(line.batts, line.cut, line.serves, line.rest) for line in bag.lines]


def test_a_small_card_reads_as_the_knife_goes() -> None:
    # R12 batts of 15 x 47 in, 20 in a bag: two whole ones, one for 9-1/4 and 5-3/4 in, one for 40 and 7 in.
    (bag,) = card((15, 47), (15, 47), (15, 40), (15, 7), (9.25, 47), (5.75, 47)).bags
    assert bag.name == "Bag 1"
    assert told(bag) == [
        ("2 batts", "whole", "A1.1, A1.2", ""),
        ("1 batt", 'rip 9-1/4" + 5-3/4"', "A1.5; off-cut A1.6", ""),
        ("1 batt", 'cut 40"; cut 7"', "A1.3; off-cut A1.4", ""),
    ]


def test_a_rest_is_named_where_it_is_worth_keeping() -> None:
    # 47 - 40 = 7 in is 6 in and more, 47 - 42 = 5 in is not; beside 8-1/2 in of 15 in 6-1/2 in are left.
    (bag,) = card((15, 40), (15, 42), (8.5, 47)).bags
    rests = {(line.cut, line.rest) for line in bag.lines}
    assert rests == {('cut 40"', '7"'), ('cut 42"', ""), ('rip 8-1/2"', '6-1/2" wide')}


def test_bags_of_whole_batts_are_told_together() -> None:
    bags = card(*[(15, 47)] * 65).bags
    assert [bag.name for bag in bags] == ["Bags 1 to 3, each", "Bag 4"]
    assert [line.batts for bag in bags for line in bag.lines] == ["20 batts", "5 batts"]


def test_two_bags_are_no_run() -> None:
    bags = card(*[(15, 47)] * 40).bags
    assert [bag.name for bag in bags] == ["Bags 1 and 2, each"]


def test_layers_are_counted_at_the_mark() -> None:
    (found,) = nest(replace(piece(number, 15, 23.5), layers=2) for number in (1, 2))
    (shown,) = bag_cards([found], Voice())
    assert told(shown.bags[0]) == [("2 batts", '2 x cut 23-1/2"', "A1.1 (2 deep), A1.2 (2 deep)", "")]


def batts_of(bag: Bag) -> int:
    run = re.fullmatch(r"Bags (\d+) (?:to|and) (\d+), each", bag.name)
    times = int(run[2]) - int(run[1]) + 1 if run else 1
    return times * sum(int(line.batts.split()[0]) for line in bag.lines)


def marks_of(nests: tuple[Nest, ...]) -> Counter[str]:
    return Counter(p.id for each in nests for batt in each.batts for p in batt.pieces)


@pytest.mark.parametrize("job", JOBS)
def test_the_card_of_a_demo_has_every_batt_and_every_piece(job: str) -> None:
    found = answers(job)
    nests = nest(p for each in found.walls if each.wall.level == 2 for p in each.pieces)
    cards = bag_cards(nests, Voice())
    assert [sum(map(batts_of, each.bags)) for each in cards] == [each.count for each in nests]
    words = " ".join(line.serves for each in cards for bag in each.bags for line in bag.lines)
    for mark in marks_of(nests):
        alone = re.search(rf"(^|[ ,;]){re.escape(mark)}($|[ ,;])", words)
        assert alone or any(within(mark, run) for run in re.findall(RUN, words)), mark


RUN = r"([A-Z](?: rim)? ?)(\d+)(\.\d+) to \1(\d+)\3"


def within(mark: str, run: tuple[str, str, str, str]) -> bool:
    """True for A5.1 in the run from A4.1 to A9.1."""
    before, first, after, last = run
    number = mark.removeprefix(before).removesuffix(after)
    inside = number.isdigit() and int(first) <= int(number) <= int(last)
    return inside and mark == f"{before}{number}{after}"


@pytest.mark.parametrize("job", JOBS)
def test_the_card_is_the_same_every_time(job: str) -> None:
    found = [p for each in answers(job).walls for p in each.pieces]
    assert bag_cards(nest(found), Voice("mm")) == bag_cards(nest(reversed(found)), Voice("mm"))


@pytest.mark.parametrize("job", JOBS)
def test_off_cuts_of_one_wall_serve_bays_of_another(job: str) -> None:
    nests = answers(job).nests
    walls = [{piece.id[0] for piece in batt.pieces} for each in nests for batt in each.batts]
    assert any(len(names) > 1 for names in walls)
    told = [line.serves for made in bag_cards(nests, Voice()) for bag in made.bags for line in bag.lines]
    both = [re.findall(r"\b([A-H])(?: rim )?\d", serves) for serves in told if "off-cut" in serves]
    assert any(len(set(names)) > 1 for names in both)
