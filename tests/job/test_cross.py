"""What a survey says against itself: each contradiction by its whole sentence, and what is none."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from warmside.catalog.codes import rule_sets
from warmside.catalog.goods import KINDS, Model
from warmside.job.read import read_bytes
from warmside.job.sizes import bounds
from warmside.job.survey import (
    EveryWall,
    ExistingLayer,
    Foundation,
    Frame,
    Inside,
    InsideDoor,
    Rim,
    Thing,
    Wall,
)
from warmside.say import Voice
from warmside.units import INCH

HEAD = 'format = 1\nname = "x"\nbare_numbers = "in"\n'


def faults(text: str) -> list[str]:
    return [Voice().located(note) for note in read_bytes(text.encode()).faults]


def wall(body: str, name: str = "A") -> str:
    return f'[[wall]]\nname = "{name}"\n{body}\n'


def thing(body: str, kind: str = "window") -> str:
    return f'\n[[wall.in_the_way]]\nkind = "{kind}"\n{body}'


@pytest.mark.parametrize(
    ("body", "sentence"),
    [
        ("length = 3", "line 6, wall A: length is 3\", less than the 3-15/16\" that it can be; look at "
         "the unit"),
        ("length = '101 m'", "line 6, wall A: length is 331' 4-3/8\", more than the 328' 1\" that it can be; "
         "look at the unit"),
        ("height = ['7 ft', '21 ft']", "line 6, wall A: height is 21' 0\", more than the 20' 0\" that it "
         "can be; "
         "look at the unit"),
        ("height = 7", "line 6, wall A: height is 7\", less than the 1' 0\" that it can be; look at the "
         "unit"),
        ("gap = [1, 13]", "line 6, wall A: gap is 1' 1\", more than the 1' 0\" that it can be; look at "
         "the unit"),
        ("frame.spacing = 7", "line 6, wall A: frame.spacing is 7\", less than the 8\" that it can be; "
         "look at the unit"),
        ("frame.spacing = 33", "line 6, wall A: frame.spacing is 2' 9\", more than the 2' 8\" that it can "
         "be; "
         "look at the unit"),
        ("frame.odd_bays = { 2 = 73 }", "line 6, wall A: frame.odd_bays.2 is 6' 1\", more than the 6' 0\" "
         "that it "
         "can be; look at the unit"),
        ("frame.bays = [14.5, 145]", "line 6, wall A: frame.bays number 2 is 12' 1\", more than the 6' "
         "0\" that it "
         "can be; look at the unit"),
        ("rim.height = 31", "line 6, wall A: rim.height is 2' 7\", more than the 2' 6\" that it can be; "
         "look at the unit"),
        (thing("width = 37", "electrical box"), "line 9, wall A, electrical box 1: width is 3' 1\", more "
         "than the "
         "3' 0\" that it can be; look at the unit"),
        ("frame = { state = 'none', bays = [14.5] }", "line 6, wall A: frame.bays is given, and the wall has "
         "no frame; "
         "write state = 'standing' or 'planned', or leave it out"),
        ("frame = { bays = [14.5], odd_bays = { 1 = 12 } }", "line 6, wall A: both bays and odd_bays are "
         "given; keep "
         "bays for all clear widths, or odd_bays for the ones that differ"),
        ("length = 120\nheight = [[0, 80], [130, 82]]", "line 7, wall A: height has a point at 10' 10\", "
         "10\" past "
         "the right end of the wall"),
        ("height = 80\nconcrete_showing = [70, 83]", "line 7, wall A: more concrete shows than the wall "
         "is high, "
         "by 3\"; both are measured from the top of the concrete"),
        (thing("", "windows"), "line 8, wall A, windows 1: there is no kind 'windows'; did you mean "
         "'window'?"),
        (thing("", "zzz"), "line 8, wall A, zzz 1: there is no kind 'zzz'; there are: backwater valve, "
         "beam pocket, bulkhead, cable, chimney, cleanout, concrete ledge, conduit, corner post, door, "
         "duct, electric heater, electrical box, electrical box, two gang, floor drain, flue, ..."),
        (thing("from_left = 3\nfrom_left_to_middle = 9"), "line 9, wall A, window 1: both from_left and "
         "from_left_to_middle are given; keep one"),
        (thing("up = 3\nup_to_middle = 9"), "line 9, wall A, window 1: both up and up_to_middle are "
         "given; keep one"),
        ("length = 100" + thing("from_left = 80\nwidth = 30"), "line 7, wall A, window 1: it reaches 10\" "
         "past the "
         "right end of the wall"),
        ("length = 100" + thing("from_left = 101\nid = 'w'"), "line 7, wall A, w: it reaches 2' 9\" past "
         "the right end "
         "of the wall"),
        (thing("from_left_to_middle = 10\nwidth = 30"), "line 7, wall A, window 1: it reaches 5\" past "
         "the left end "
         "of the wall"),
        ("height = 90" + thing("up = 80\nheight = 30"), "line 7, wall A, window 1: it reaches 8\" above "
         "the top of "
         "the wall"),
        (thing("up_to_middle = 3\nheight = 10"), "line 7, wall A, window 1: it reaches 2\" below the floor"),
        (thing("from_left = 20\nup = 40\nwidth = 30\nheight = 20") + thing("from_left = 45\nup = "
         "30", "electrical box")
         + thing("from_left = 48\nup = 58", "electrical box"), "line 17, wall A, electrical box 3: it "
         "overlaps window 1 "
         "by 2\" across and 2\" up; one of the two is placed or sized wrong"),
        ("assembly.batt = 'R14 glas'", "line 6, wall A: assembly.batt: there is no family of batts 'R14 "
         "glas'; did you "
         "mean 'R14 glass'?"),
        ("assembly.batt = 'none'", "line 6, wall A: assembly.batt: there is no family of batts 'none'; "
         "there are: "
         "R12 glass, R12 sound, R13 glass, R14 fire, R14 glass, R14 stone, R15 glass, R19 glass, R20 glass, "
         "R21 glass, R22 glass, R22 stone, R24 glass, R24 stone"),
        ("assembly.batt = 'sound'", "line 6, wall A: assembly.batt: there is no family of batts 'sound'; "
         "did you mean 'R12 sound'?"),
        (thing("", "box"), "line 8, wall A, box 1: there is no kind 'box'; did you mean 'electrical box'?"),
        (thing("", "Panel"), "line 8, wall A, Panel 1: there is no kind 'Panel'; did you mean "
         "'service panel'?"),
        ("counts = { outlets = 3 }", "line 6, wall A: there is no kind 'outlets'; did you mean "
         "'electrical box'?"),
        ("assembly.tape = 'none'", "line 6, wall A: assembly.tape: 'none' is not among the goods that fit "
         "here: "
         "sheathing tape 60 mm"),
        ("assembly.rim = { batt = 'R22 ston' }", "line 6, wall A: assembly.rim.batt: there is no family "
         "of batts "
         "'R22 ston'; did you mean 'R22 stone'?"),
        ("assembly.vapour_control = 'breather paper'", "line 6, wall A: assembly.vapour_control: "
         "'breather paper' is "
         "a moisture barrier and does not fit here; there are: polyethylene 0.15 mm, polyethylene 0.15 mm "
         "3.05 m, variable membrane"),
        ("frame.studs = '2x44'", "line 6, wall A: frame.studs: '2x44' is not among the goods that fit "
         "here; did you "
         "mean '2x4'?"),
    ],
)  # fmt: skip
def test_a_wall_that_can_not_be(body: str, sentence: str) -> None:
    assert faults(HEAD + wall(body)) == [f"job.toml {sentence}"]


@pytest.mark.parametrize(
    "body",
    [
        "height = 90" + thing("up = 70\nheight = 20"),
        "height = 90\nframe.height = 96" + thing("up = 70\nheight = 26"),
        "length = 100" + thing("from_left = 70\nwidth = 30"),
        "length = 100" + thing("up = 20", "cable"),
        "height = 90" + thing("from_left = 20", "water pipe"),
        thing("from_left = 20\nup = 12", "electrical box")
        + thing("from_left = 22\nup = 12", "electrical box"),
        thing("from_left = 20\nup = 12", "electrical box") + thing("up = 13", "cable"),
        thing("from_left = 20\nup = 12", "electrical box") + thing("from_left = 21", "water pipe"),
        thing("from_left = 20\nup = 12\nback = 3\ndepth = 2", "electrical box")
        + thing("from_left = 20\nup = 12\nback = 0\ndepth = 2", "electrical box"),
        thing("from_left = 20\nup = 12", "electrical box")
        + thing("from_left = 20\nup = 12", "shut-off valve"),
        thing("from_left = 20", "electrical box") + thing("from_left = 20", "electrical box"),
        "assembly = { vapour_control = 'none', moisture_barrier = 'none' }",
        "assembly = { sheet = 'none', foam_board = 'none', box_wrap = 'none' }",
        "concrete_showing = [12, 20]",
    ],
)
def test_what_could_stand_in_a_house_is_no_fault(body: str) -> None:
    assert faults(HEAD + wall(body)) == []


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (wall("", "North side") + wall("", "north  SIDE"), "line 8, wall north  SIDE: the name north  "
         "SIDE is already "
         "taken by wall number 1; each wall has its own"),
        (wall("", "  "), "line 5, wall number 1: the name of a wall needs at least one letter or digit "
         "and stands "
         "on one line"),
        (wall("", "A\\nB"), "line 5, wall A B: the name of a wall needs at least one letter or digit and "
         "stands "
         "on one line"),
        (wall("id = 'w1'") + wall("id = 'w1'", "B"), "line 9, wall B: the id 'w1' stands twice; leave one "
         "out, and "
         "the next save gives it a new one"),
        (wall("id = 't1'" + thing("id = 't1'")), "line 9, wall A, t1: the id 't1' stands twice; leave one "
         "out, and "
         "the next save gives it a new one"),
        (wall("id = ' '"), "line 6, wall A: an id can't be blank; leave it out, and the first save gives "
         "one"),
        ("place.rule_set = 'nbc-2022'", "line 4: place.rule_set: there are no rules 'nbc-2022'; did you mean "
         "'nbc-2020'?"),
        ("place.rule_set = 'local'", f"line 4: place.rule_set: there are no rules 'local'; there are: "
         f"{', '.join(sorted(rule_sets()))}"),
        ("foundation.thickness = 80", "line 4: foundation.thickness is 6' 8\", more than the 3' 0\" that "
         "it can be; "
         "look at the unit"),
        ("prices.'R14 glass 15' = '9 CAD/bag'", "line 4: there are no goods 'R14 glass 15'; did you mean "
         "'R14 glass 15 in'?"),
        ("at_hand.zzz = 3", "line 4: there are no goods 'zzz'; there are: 2x3, 2x4, 2x6, R12 glass 15 in, "
         "R12 glass "
         "23 in, R12 sound 15 in, R12 sound 23 in, R13 glass 15 in, R14 fire 15-1/4 in, R14 fire 23 in, "
         "R14 glass 15 in, R14 glass 23 in, R14 stone 15-1/4 in, R14 stone 23 in, R15 glass 15 in, R19 "
         "glass 15 in, ..."),
        ("at_hand.'R24 stone' = 3", "line 4: there are no goods 'R24 stone'; did you mean "
         "'R24 stone 23 in'?"),
        ("prices.'vapour hat' = '9 CAD per bag'", "line 4: the price is per bag, and these goods come by "
         "the piece; "
         "write the price of one piece"),
        ("prices.'vapour hat' = '9 CAD per piece'\nprices.2x4 = '4 USD per stick'", "line 5: prices are "
         "in CAD and in "
         "USD; use one currency for the whole job"),
    ],
)  # fmt: skip
def test_a_job_that_can_not_be(text: str, sentence: str) -> None:
    assert faults(HEAD + text) == [f"job.toml {sentence}"]


@pytest.mark.parametrize("per", ["bag", "bags"])
def test_a_price_may_be_written_for_one_or_many(per: str) -> None:
    assert faults(f"{HEAD}prices.'R14 glass 15 in' = '9 CAD per {per}'") == []


def warnings(text: str) -> list[str]:
    result = read_bytes(text.encode())
    assert result.faults == ()
    return [Voice().located(note) for note in result.warnings]


def round_of(facings: Mapping[str, str], turns: str = "right") -> str:
    walls = [
        wall(f"turn = '{turns}'\n" + (f"facing = '{facings[n]}'" if n in facings else ""), n) for n in "ABCD"
    ]
    return HEAD + "".join(walls)


def test_a_facing_that_the_turns_contradict_is_a_warning() -> None:
    # Inside a square house one turns right at every corner: north, east, south, west.
    assert warnings(round_of({"A": "N", "B": "E", "C": "S", "D": "W"})) == []
    assert warnings(round_of({"A": "N", "B": "SE"})) == []
    assert warnings(round_of({"A": "N", "C": "E"})) == [
        "job.toml line 15, wall C: it faces E, but by its turns from wall A, which faces N, it should "
        "face S; "
        "the plan goes by the turns"
    ]
    (round_left,) = warnings(round_of({"A": "N", "B": "W"}, "left"))
    assert "the corners turn left all the way round" in round_left
    (twice,) = warnings(round_of(dict.fromkeys("ABCDEFGH", "unknown"), "left"))
    assert "the corners turn left all the way round" in twice
    assert warnings(round_of({"A": "N", "C": "N"}, "unknown")) == []


def test_every_bound_names_a_length_of_the_survey() -> None:
    models: dict[str, type[Model]] = {
        "foundation": Foundation,
        "wall": Wall,
        "frame": Frame,
        "rim": Rim,
        "every_wall": EveryWall,
        "thing": Thing,
        "box": Thing,
        "existing": ExistingLayer,
        "inside": Inside,
        "insidedoor": InsideDoor,
        **{name: KINDS[name] for name in ("batt", "membrane", "board", "tape", "sealant", "lumber")},
    }
    for key, bound in bounds().items():
        assert bound.least < bound.most
        record, _, field = key.partition(".")
        assert key == "overlap" or field in models[record].model_fields


# Counts, totals and second measurements


def cross_warnings(text: str) -> list[str]:
    read = read_bytes((HEAD + text).encode())
    assert read.faults == ()
    return [Voice().text(note) for note in read.warnings]


AGAIN = (
    '[[wall]]\nname = "A"\nlength = 240\nagainst = "concrete"\nheight = [88, 90]\n[[wall.measured_again]]\n'
)


@pytest.mark.parametrize(
    ("again", "apart"),
    [
        ('field = "length"\nvalue = "240-1/2 in"', False),
        ('field = "length"\nvalue = "240-9/16 in"', True),
        ('field = "length"\nvalue = "239-7/16 in"', True),
        ('field = "length"\nvalue = 230\nagainst = "stud face"', False),
        ('field = "length"\nvalue = 230\nagainst = "concrete"', True),
        ('field = "length"\nvalue = "256-1/2 in"\nagainst = "stud face"', True),
        ('field = "height"\nvalue = 89', False),
        ('field = "height"\nvalue = "90-1/2"', False),
        ('field = "height"\nvalue = "90-9/16 in"', True),
        ('field = "height"\nvalue = "87-1/4"', True),
        ('field = "rim.height"\nvalue = 9', False),
    ],
)
def test_a_second_measurement_more_than_half_an_inch_off_is_told(again: str, apart: bool) -> None:
    told = cross_warnings(f'{AGAIN}{again}\nwho = "Ana"\nwhen = "2026-03-02"\n')
    assert [("measured again by Ana" in sentence) for sentence in told] == ([True] if apart else [])


def test_a_first_measurement_of_which_nobody_said_the_face_is_compared_all_the_same() -> None:
    again = 'field = "length"\nvalue = 252\nagainst = "concrete"\nwho = "Ana"\nwhen = "May"\n'
    (told,) = cross_warnings(AGAIN.replace('against = "concrete"\n', "") + again)
    assert "1' 0\" off the first" in told


@pytest.mark.parametrize(
    ("kind", "placed", "told"),
    [
        ("cable", "up = 30", []),
        ("cable", "up = 30\nfrom_left = 20", ["it runs along the wall from end to end"]),
        ("duct", "up = 60\nruns = 'along'\nwidth = 14", ["it runs along the wall from end to end"]),
        ("duct", "up = 60\nruns = 'along'\nfrom_left = 20\nwidth = 14", []),
        ("water pipe", "from_left = 20", []),
        ("water pipe", "from_left = 20\nheight = 30", ["it runs up the wall from floor to top"]),
        ("water pipe", "from_left = 20\nup = 3\nheight = 30\nruns = 'spot'", []),
    ],
)
def test_a_place_that_counts_for_nothing_is_told(kind: str, placed: str, told: list[str]) -> None:
    found = cross_warnings(wall(thing(placed, kind)))
    assert [one.partition(", so")[0] for one in found] == told


def test_the_first_measurement_still_counts() -> None:
    read = read_bytes(f'{HEAD}{AGAIN}field = "length"\nvalue = 230\nwho = "Ana"\nwhen = "May"\n'.encode())
    assert read.survey is not None
    assert read.survey.wall[0].length == 240 * INCH


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("every_wall.counts = { windw = 2 }", "line 4: there is no kind 'windw'; did you mean 'window'?"),
        (
            '[[wall]]\nname = "A"\ncounts = { doorr = 1 }',
            "line 6, wall A: there is no kind 'doorr'; did you mean 'door'?",
        ),
        (
            "every_wall.counts = { window = 201 }",
            "line 4: every_wall.counts.window = 201 is more than 200, the most that it can be",
        ),
        (
            "every_wall = { height = 60, concrete_showing = [6, 70] }",
            'line 4: more concrete shows than the wall is high, by 10"; both are measured from the top of '
            "the concrete",
        ),
        (
            "every_wall.height = 4",
            'line 4: every_wall.height is 4", less than the 1\' 0" that it can be; look at the unit',
        ),
        (
            '[[wall]]\nname = "A"\nframe = { state = "none", leans_in = 1 }',
            "line 6, wall A: frame.leans_in is given, and the wall has no frame; write state = 'standing' or "
            "'planned', or leave it out",
        ),
        (
            "every_wall.frame.bays = [14]",
            "line 4: unknown key 'bays'; the keys here are: state, studs, spacing, top_plates",
        ),
    ],
)
def test_a_walk_that_can_not_be(text: str, sentence: str) -> None:
    assert faults(HEAD + text) == [f"job.toml {sentence}"]


def test_a_count_that_is_less_than_what_is_placed_is_told() -> None:
    thing = '{ kind = "window", from_left = 20, up = 60 }'
    text = f'[[wall]]\nname = "A"\ncounts = {{ window = 0 }}\nin_the_way = [{thing}]\n'
    said = "window: 0 counted, and 1 in the job one by one; the 1 are taken"
    assert cross_warnings(text) == [said]
    assert cross_warnings(f"[every_wall]\ncounts = {{ window = 0 }}\n{text}") == [said] * 2


@pytest.mark.parametrize(("total", "told"), [(240, 0), (252, 0), (253, 1), (200, 1)])
def test_a_total_length_that_the_walls_contradict(total: int, told: int) -> None:
    text = f'[every_wall]\ntotal_length = {total}\n[[wall]]\nname = "A"\nlength = 240\n'
    assert len(cross_warnings(text)) == told


@pytest.mark.parametrize(
    ("part", "told"),
    [
        ("name = 'A'", "the name A is taken already; every wall, partition and ceiling has its own"),
        ("name = 'P'\nbatt = 'R12 soundd'", "there is no family of batts 'R12 soundd'; did you mean"),
        ("name = 'P'\nstuds = '2x5'", "did you mean"),
        ("name = 'P'\nlength = '1 in'", '1"'),
        ("name = 'P'\nruns = ['900 m']", "more than the 328' 1\""),
        ("name = 'P'\ndoors = [{ width = 34 }]", "a ceiling has no doors"),
    ],
)
def test_a_ceiling_or_partition_that_can_not_be(part: str, told: str) -> None:
    read = read_bytes((HEAD + wall("") + "[[inside]]\nkind = 'ceiling'\n" + part + "\n").encode())
    (fault,) = [Voice().text(note) for note in read.faults]
    assert told in fault


@pytest.mark.parametrize(
    ("door", "told"),
    [
        ("from_left = 80, width = 34, height = 82", "the door ends 1' 6\" past the end of the partition"),
        ("from_left = 20, width = 34, height = 100", 'the door is 4" higher than the partition'),
        ("width = '1 in'", "less than"),
    ],
)
def test_a_door_that_does_not_go_into_its_partition(door: str, told: str) -> None:
    part = f"[[inside]]\nname = 'P'\nkind = 'partition'\nlength = 96\nheight = 96\ndoors = [{{ {door} }}]\n"
    read = read_bytes((HEAD + wall("") + part).encode())
    (fault,) = [Voice().text(note) for note in read.faults]
    assert told in fault


@pytest.mark.parametrize(
    "text",
    [
        wall("frame = { state = 'standing', studs = '3-5/8 steel' }"),
        "[every_wall]\nframe = { state = 'planned', studs = 'Metal channels' }\n",
        wall("") + "[[inside]]\nname = 'P'\nkind = 'partition'\nstuds = 'galvanized 25 gauge'\n",
    ],
)
def test_steel_is_refused_in_words_and_never_taken_for_wood(text: str) -> None:
    (fault,) = [Voice().text(note) for note in read_bytes((HEAD + text).encode()).faults]
    assert "of steel are not computed here" in fault
    assert "did you mean" not in fault


def test_own_studs_of_steel_are_refused_too() -> None:
    size = "{ value = '1-5/8 in', source = 'label', status = 'label' }"
    own = f"[[goods.lumber]]\nid = 'mine'\nname = 'Steel stud'\npackage = 'stick'\nface = {size}\n"
    told = [Voice().text(note) for note in read_bytes((HEAD + own + f"depth = {size}\n").encode()).faults]
    assert any("of steel are not computed here" in fault for fault in told)


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("Nowhere at all", "no place like 'Nowhere at all'; give a larger town nearby, or coordinates"),
        ("Timmins, Ontaro", "no region 'Ontaro'; is it Ontario?"),
    ],
)
def test_a_listed_place_that_is_named_and_not_there_is_a_fault(name: str, why: str) -> None:
    [fault] = faults(HEAD + f'[place]\nclimate = "{name}"\n')
    advice = "name a listed place, with its province, state or country, or leave it out"
    assert fault == f"job.toml line 5: place.climate: {why}; {advice}"


def test_a_place_in_the_list_is_no_fault_nor_a_town_outside_it() -> None:
    assert not faults(HEAD + '[place]\nclimate = "Timmins, Ontario"\n')
    assert not faults(HEAD + '[place]\ntown = "Cold Kettle"\n')
