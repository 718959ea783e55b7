"""A bay and a piece have one mark on all papers: walls, lines, drawings, cutting card, tables, results."""

from __future__ import annotations

import csv
import io
import json
import re
from itertools import chain

import pytest

from tests.paper.test_bag_card import JOBS, RUN, answers, within
from tests.paper.test_elevation import texts
from warmside.answers import results_json
from warmside.paper.alike import drawn_bays, rim_bays, straight_bays
from warmside.paper.bag_card import bag_cards
from warmside.paper.elevation import beside, elevation
from warmside.paper.piece_drawing import piece_picture
from warmside.paper.workbook import cut_list
from warmside.say import Voice

VOICES = {"birch-lane": Voice("ft-in"), "kadaka-cellar": Voice("mm")}


def listed(marks: str) -> set[str]:
    """The bays that `A2, A4 to A6` or `A rim 2 to 5` stand for."""
    found = set()
    for part in marks.split(", "):
        run = re.fullmatch(r"(.*?)(\d+) to (?:.*?)(\d+)", part)
        ends = range(int(run[2]), int(run[3]) + 1) if run else ()
        found |= {f"{run[1]}{number}" for number in ends} if run else {part}
    return found


def table_ids(job: str) -> list[str]:
    found = answers(job)
    read = csv.reader(io.StringIO(cut_list(found.walls, VOICES[job], found.inside).decode("utf-8")))
    return [row[0] for row in read][1:]


@pytest.mark.parametrize("job", JOBS)
def test_every_piece_of_the_table_is_on_the_cutting_card_and_in_the_results(job: str) -> None:
    ids = table_ids(job)
    assert len(set(ids)) == len(ids)
    told = json.loads(results_json(answers(job).results))["answers"]["what_cut"]["pieces"]
    assert sorted(piece["id"] for piece in told) == sorted(ids)
    cards = bag_cards(answers(job).nests, VOICES[job])
    serves = " ".join(line.serves for card in cards for bag in card.bags for line in bag.lines)
    runs = re.findall(RUN, serves)
    plugs = {p.id for each in answers(job).walls for p in each.pieces if p.plug}
    for mark in set(ids) - plugs:
        alone = re.search(rf"(^|[ ,;]){re.escape(mark)}($|[ ,;])", serves)
        assert alone or any(within(mark, run) for run in runs), mark


@pytest.mark.parametrize("job", JOBS)
def test_every_bay_with_pieces_has_its_mark_on_the_crew_paper_and_its_number_on_the_wall(job: str) -> None:
    walls, voice = answers(job).walls, VOICES[job]
    bays = {mark.rpartition(".")[0] for mark in table_ids(job)}
    lines = chain(straight_bays(walls, voice), rim_bays(walls, voice))
    shown = set().union(*(listed(alike.marks) for alike in lines))
    shown |= {fill.bay.mark for group in drawn_bays(walls, voice) for fill in group}
    assert shown == bays
    for each in walls:
        told = texts(elevation(each, voice, beside(walls, each), 20.0), 20.0)
        words = {word for text in told if text.bold for word in re.split(r"[\s,]", text.text)}
        numbers = {fill.bay.mark.removeprefix(each.wall.name) for fill in each.fills}
        assert numbers <= words


@pytest.mark.parametrize("job", JOBS)
def test_the_drawings_of_odd_bays_name_every_piece_of_theirs(job: str) -> None:
    groups = drawn_bays(answers(job).walls, VOICES[job])
    assert groups
    for group in groups:
        told = piece_picture(group[0], VOICES[job], 64.0, group[1:]).told
        assert all(f"{piece.id}:" in told for fill in group for piece in fill.pieces)
