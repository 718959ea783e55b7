"""The front sheet, the first page of every set: what may stop the work, what goes in, its worth, what to buy.

Sentences from the message tables, figures from the answers; nothing is computed here. It says what was
assumed and which of the ten questions are not answered, and defers to the authority and the licensed trades.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from warmside.answers import Answers, AnswersShown, NotYet, WallAnswer, WhatWorth, build_up
from warmside.catalog.goods import Membrane
from warmside.job.assume import spacing_both_ways
from warmside.job.closing import closing_note
from warmside.job.resolve import House, HouseFrame, HouseWall
from warmside.measure_next import measure_next
from warmside.order.order import Line, Order, ground_height
from warmside.paper.assumed import AssumedShown, assumed, each_once
from warmside.paper.phrases import counted, joined, listed, money, needed, packages, told_once, verdicts
from warmside.paper.plan_map import orientation_picture
from warmside.paper.saves import SavesShown, saves_shown
from warmside.paper.typeset import SHEETS, Foot, Shown, shown, typeset
from warmside.paper.wall_shapes import needs_drawing
from warmside.plan import cautions
from warmside.rules.clauses import Verdict
from warmside.rules.may_we_start import Start, headline, lines, raised_note
from warmside.rules.told import grouped
from warmside.say import Note, Voice
from warmside.study.layers import CONCRETE, Layer

FILMS = ("inside film", "outside film")
AIR = "air"
FEW = 4
"""So many things that nobody has looked at still have room on the front sheet."""


@dataclass(frozen=True)
class Head:
    """What stands at the top of a paper: which paper, which job, for whom, how well measured."""

    paper: str
    title: str
    lines: tuple[str, ...]
    fields: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Step:
    """One layer of a build-up, from the room outwards."""

    name: str
    told: str


@dataclass(frozen=True)
class BuildUpShown:
    """The layers of the walls that are built alike; a sentence instead where nothing goes in."""

    walls: str
    layers: tuple[Step, ...]
    nothing: str = ""


@dataclass(frozen=True)
class Table:
    """A table: its head, its rows, and a last row that sums it up; `words` puts all columns flush left."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    last: tuple[str, ...] = ()
    words: bool = False


@dataclass(frozen=True)
class WorthShown:
    """The two large figures, what stands under them, and a row for each wall."""

    big: str
    under: str
    rim: str
    rim_under: str
    lines: tuple[str, ...]
    walls: Table


@dataclass(frozen=True)
class QuestionShown:
    """One of the ten questions, and whether it is answered."""

    text: str
    state: str
    answered: bool


@dataclass(frozen=True)
class FrontSheet:
    """All that the template of the front sheet lays out."""

    head: Head
    foot: Foot
    titles: Mapping[str, str]
    start: str
    found: tuple[str, ...]
    look: str
    cautions: tuple[str, ...]
    warnings: tuple[str, ...]
    build_ups: tuple[BuildUpShown, ...]
    no_walls: str
    plan: Shown | None
    worth: WorthShown | None
    no_worth: str
    saves: SavesShown
    buy: Table
    left_out: str
    measure: tuple[str, ...]
    assumed: tuple[AssumedShown, ...]
    questions: tuple[QuestionShown, ...]
    deferred: str


def front_sheet(answers: Answers, voice: Voice, date: str) -> bytes:
    """The front sheet as PDF; `date` is printed as it is given."""
    content = front_content(answers, voice, date)
    return typeset("front", content, SHEETS[voice.system], voice.language)


def front_content(answers: Answers, voice: Voice, date: str) -> FrontSheet:
    """Every sentence and picture of the front sheet."""
    house, told = answers.house, answers.results.answers
    worth = told.what_worth
    return FrontSheet(
        head=head(answers, voice, date, voice.line("paper.front.name")),
        foot=foot(answers, voice, date, voice.line("paper.front.name")),
        titles=_titles(answers, voice),
        start=voice.text(headline(answers.start)),
        found=tuple(voice.text(note) for note in of_start(answers.start)),
        look=voice.line("paper.front.look"),
        cautions=tuple(
            voice.text(n) for step in cautions(house) if step.step == "survey" for n in step.notes
        ),
        warnings=told_once(voice, answers.warnings),
        build_ups=build_ups(answers, voice),
        no_walls="" if answers.walls else voice.line("paper.front.no_walls"),
        plan=_plan(answers, voice),
        worth=worth_shown(answers, worth, voice) if isinstance(worth, WhatWorth) else None,
        no_worth=voice.line(worth.code) if isinstance(worth, NotYet) else "",
        saves=saves_shown(answers, voice),
        buy=what_to_buy(answers.order, answers.likely_order, voice, "frame" if answers.walls else "size"),
        left_out=voice.line("paper.buy.left_out"),
        measure=tuple(voice.text(note) for note in measure_next(answers.survey)),
        assumed=assumed(house, voice),
        questions=questions(answers, voice),
        deferred=voice.line("paper.deferred"),
    )


def of_start(start: Start) -> Sequence[Note]:
    """What is there; what nobody has looked at by name only where it is little: the office paper has all."""
    few = len(start.open) <= FEW
    many = Note("hazard.unseen_many", {"count": len(start.open)})
    told = [*(lines(start) if few else [*map(raised_note, start.found), many])]
    return [*told, *(note for note in start.front if note not in told)]


def halted(answers: Answers, voice: Voice) -> tuple[str, ...]:
    """What stops cutting and buying: a round of walls that misses closing by more than a tape errs."""
    far = answers.closing is not None and answers.closing.is_far
    note = closing_note(answers.closing) if far else None
    return told_once(voice, [note]) if note is not None else ()


def _plan(answers: Answers, voice: Voice) -> Shown | None:
    """The map of the walls; none while no wall is measured."""
    if not answers.walls:
        return None
    picture = orientation_picture([each.wall for each in answers.walls], voice)
    return shown(picture.svg, picture.told)


def _titles(answers: Answers, voice: Voice) -> dict[str, str]:
    """Headings of the parts; those of answered questions are the questions' own."""
    titles = {
        key: voice.line(f"answer.question.{key}")
        for key in ("may_we_start", "what_goes_in", "what_worth", "what_saves", "what_buy")
    }
    count = len(each_once(answers.house))
    return titles | {
        "warnings": voice.line("paper.front.warnings"),
        "assumed": voice.line("paper.front.assumed", count=count),
        "questions": voice.line("paper.front.questions"),
        "measure": voice.line("measure.title"),
    }


def head(answers: Answers, voice: Voice, date: str, paper: str) -> Head:
    """The top of a paper; unknown people and places are left out."""
    house = answers.house
    place = [
        p for p in (house.people.address, house.place.town, house.place.region, house.place.country) if p
    ]
    built = house.place.year_built
    people = {"owner": house.people.owner, "contractor": house.people.contractor}
    named = [voice.line(f"paper.head.{role}", name=name) for role, name in people.items() if name]
    if house.people.measured_by:
        by = [text for text in (house.people.measured_by, house.people.measured_on) if text]
        named.append(voice.line("paper.head.measured", by=joined(voice, by)))
    where = [", ".join(place)] if place else []
    return Head(
        paper=paper,
        title=house.name,
        lines=(
            " · ".join(where + ([voice.line("paper.head.built", year=built)] if built is not None else [])),
            " · ".join(named),
        ),
        fields=(
            (voice.line("paper.field.level"), level(answers, voice)),
            (voice.line("paper.field.input"), short_id(answers)),
            (voice.line("paper.field.date"), date),
        ),
    )


def short_id(answers: Answers) -> str:
    """The first eight digits of the id of the input, which every paper carries."""
    return answers.results.input_id[:8]


def level(answers: Answers, voice: Voice) -> str:
    """How well the house is measured."""
    measured = [each.wall.name for each in answers.walls if each.wall.level == 2]
    if answers.house.level == 1 and measured:
        return voice.line("paper.level.mixed", walls=listed(voice, measured))
    return voice.line(f"paper.level.{answers.house.level}")


def foot(answers: Answers, voice: Voice, date: str, paper: str) -> Foot:
    """The line at the foot of every page."""
    program = voice.line("paper.program", version=answers.results.version)
    input_shown = voice.line("paper.input", id=short_id(answers))
    left = [answers.house.name, paper, level(answers, voice), input_shown, date, program]
    return Foot(" · ".join(left), voice.line("paper.page"), voice.line("paper.of"))


def build_ups(answers: Answers, voice: Voice) -> tuple[BuildUpShown, ...]:
    """Walls that are built alike together, in the order of the round, whatever the gap behind their studs."""
    alike: dict[tuple[Step, ...], list[WallAnswer]] = {}
    for each in answers.walls:
        air = (0, min(each.wall.largest_air_gap, 1))
        key = _layer_steps(answers, each, air, voice) if each.wall.frame else ()
        alike.setdefault(key, []).append(each)
    return tuple(_built(answers, walls, voice) for walls in alike.values())


def _built(answers: Answers, walls: Sequence[WallAnswer], voice: Voice) -> BuildUpShown:
    """What the foam board takes of the gap is no air."""
    least = min(max(0, each.wall.gap.least - each.wall.foam) for each in walls)
    most = max(each.wall.largest_air_gap for each in walls)
    title = _called(voice, [each.wall.name for each in walls])
    if walls[0].wall.frame is None:
        return BuildUpShown(title, (), voice.line("paper.front.no_frame"))
    return BuildUpShown(title, _layer_steps(answers, walls[0], (least, most), voice))


def _called(voice: Voice, names: Sequence[str]) -> str:
    """Wall A; walls A, B and C."""
    code = "paper.front.wall" if len(names) == 1 else "paper.front.walls"
    return voice.line(code, names=listed(voice, names))


def _layer_steps(answers: Answers, each: WallAnswer, gap: tuple[int, int], voice: Voice) -> tuple[Step, ...]:
    """What one meets from the room outwards; the membranes stand where they hang."""
    house, assembly = answers.house, each.wall.assembly
    barrier = assembly.moisture_barrier if ground_height(each.wall) > 0.0 else None
    layers = [layer for layer in build_up(house, each) if layer.name not in FILMS]
    boards = {board.id for board in (assembly.sheet, assembly.foam_board) if board is not None}
    boards |= {layer.as_material.id for layer in each.wall.old_foam}
    sheet = assembly.sheet.id if assembly.sheet is not None else None
    before = [layer for layer in layers[:1] if layer.name == sheet]
    behind = [layer for layer in layers[len(before) :] if layer.name in boards or layer.name == CONCRETE]
    middle = [layer for layer in layers[len(before) :] if layer not in behind]
    return (
        *(_layer_step(house, each.wall, layer, voice) for layer in before),
        *_membrane(assembly.vapour_control, f"paper.layer.control.{house.rules.id}", voice),
        *(_between_studs(answers, each.wall, layer, voice) for layer in middle if layer.name != AIR),
        *(_gap(*gap, voice) if len(middle) > 0 else ()),
        *_membrane(barrier, "paper.layer.moisture", voice),
        *(_layer_step(house, each.wall, layer, voice) for layer in behind),
    )


def _membrane(membrane: Membrane | None, code: str, voice: Voice) -> Iterable[Step]:
    if membrane is not None:
        yield Step(membrane.name, voice.line(code))


def _gap(least: int, most: int, voice: Voice) -> Iterable[Step]:
    if most > 0:
        code = "value.from_to" if least < most else "value.length"
        span = voice.line(code, length=most, least=least, most=most)
        yield Step(voice.line("paper.layer.air"), voice.line("paper.layer.behind", gap=span))


def _layer_step(house: House, wall: HouseWall, layer: Layer, voice: Voice) -> Step:
    """A layer by its name; boards carry their thickness in it, what fills a space is told with its own."""
    if layer.name == CONCRETE:
        name = voice.line(f"paper.layer.foundation.{house.foundation.replace(' ', '_')}")
        return Step(name, voice.show("inches", layer.thickness))
    if layer.name in house.shelf.materials:
        return Step(house.shelf.material(layer.name).name, voice.show("inches", layer.thickness))
    return Step(house.shelf.goods[layer.name].name, "")


def _between_studs(answers: Answers, wall: HouseWall, layer: Layer, voice: Voice) -> Step:
    """What fills the stud space; where nobody measured the spacing, a batt of either width."""
    good = answers.house.shelf.goods.get(layer.name)
    if wall.frame is None or good not in wall.assembly.batts:
        return _layer_step(answers.house, wall, layer, voice)
    batt = wall.assembly.batts[0]
    args = {"thickness": layer.thickness, "studs": wall.frame.lumber.name, "spacing": wall.frame.spacing}
    both = spacing_both_ways(answers.survey)
    if both is None or all(
        one.field != f"wall {wall.name}.frame.spacing" for one in answers.house.assumptions
    ):
        return Step(good.name, voice.line("paper.layer.between", **args))
    name = voice.line("paper.layer.batt_either", family=batt.family)
    return Step(name, voice.line("paper.layer.between_either", **args, other=both.spacings[1]))


def worth_shown(answers: Answers, worth: WhatWorth, voice: Voice) -> WorthShown:
    """Effective against nominal, how sure it is, by which method, and wall by wall."""
    together, rim = _value(worth.walls_together.value), _value(worth.rims_together.value)
    method = worth.walls_together.method.replace(" ", "_")
    rules = {"title": answers.house.rules.title, "edition": answers.house.rules.edition}
    return WorthShown(
        big=voice.show("R", together),
        under=voice.line("paper.worth.walls", nominal=_value(worth.nominal.value), effective=together),
        rim=voice.show("R", rim),
        rim_under=voice.line("paper.worth.rim"),
        lines=(
            _how_sure(
                together, worth.walls_together.error.value if worth.walls_together.error else 0.0, voice
            ),
            voice.line(f"paper.method.{method}", **rules),
            voice.line("paper.worth.counted"),
            *_past_concrete(answers, voice),
        ),
        walls=_wall_table(answers, voice),
    )


def _past_concrete(answers: Answers, voice: Voice) -> Iterable[str]:
    """Round a corner that sticks out a frame runs on before the next one: concrete counts there as well."""
    past = [wall.name for wall in answers.house.walls if wall.frame and _runs_past(wall, wall.frame)]
    if past:
        yield voice.line("paper.worth.past", walls=_called(voice, past))


def _runs_past(wall: HouseWall, frame: HouseFrame) -> bool:
    """By more than a stud's width at either end."""
    over = max(wall.concrete_start - frame.start, frame.end - wall.concrete_start - wall.concrete_length)
    return over > frame.face


def _value(value: float | None) -> float:
    if value is None:
        raise ValueError("an effective resistance is missing; it is there whenever a wall has a frame")
    return value


def _how_sure(together: float, lower: float, voice: Voice) -> str:
    """What the unknowns can take from it; said only where it shows in whole R or hundredths of RSI."""
    low = voice.show("R", together - lower)
    if lower <= 0.0:
        return voice.line("paper.worth.sure")
    if low == voice.show("R", together):
        return voice.line("paper.worth.hardly")
    return voice.line("paper.worth.range", low=together - lower, high=together)


def _wall_table(answers: Answers, voice: Voice) -> Table:
    columns = ("wall", "length", "bays", "drawn", "worth", "rim")
    return Table(
        head=tuple(voice.line(f"paper.column.{name}") for name in columns),
        rows=tuple(_wall_row(each, voice) for each in answers.walls),
    )


def _wall_row(each: WallAnswer, voice: Voice) -> tuple[str, ...]:
    whole = each.worth.whole
    return (
        each.wall.name,
        voice.show("length", each.wall.length),
        str(len(each.fills)),
        str(sum(needs_drawing(fill) for fill in each.fills)),
        voice.show("R", whole.resistance) if whole else voice.line("paper.none"),
        voice.show("R", each.worth.rim.resistance),
    )


def what_to_buy(order: Order, likely: Order, voice: Voice, lacks: str = "frame") -> Table:
    """One line for each of the goods; where the unknowns made it larger, how much is likely.

    lacks : what the walls are without where there is nothing to buy, frame or size
    """
    columns = ("good", "buy", "needs", "at_hand", "price")
    last = _total(order, likely, voice) if order.lines else voice.line(f"paper.buy.nothing_yet.{lacks}")
    return Table(
        head=tuple(voice.line(f"paper.column.{name}") for name in columns),
        rows=tuple(_buy_row(line, likely.packages(line.good), order.currency, voice) for line in order.lines),
        last=(voice.line("paper.buy.total"), last),
    )


def _total(order: Order, likely: Order, voice: Voice) -> str:
    """What all of it costs, likely and at most; with a price missing what is priced, never as a total."""
    dear, cheap = (money(voice, each.total, order.currency) for each in (order, likely))
    missing = sum(1 for line in order.lines if line.to_buy and line.cents is None)
    if missing and not order.total:
        return voice.line("paper.buy.unpriced")
    code = "range" if likely.total < order.total else "sure"
    if not missing:
        return voice.line(f"paper.buy.{code}", total=dear, likely=cheap)
    lines = counted(voice, "paper.buy.lines", missing)
    return voice.line(f"paper.buy.incomplete.{code}", missing=lines, total=dear, likely=cheap)


def _buy_row(line: Line, likely: int, currency: str | None, voice: Voice) -> tuple[str, ...]:
    priced = voice.line("paper.buy.no_price") if line.cents is None else money(voice, line.cents, currency)
    return (
        line.good.name,
        bought(line, likely, voice),
        needed(voice, line),
        at_hand(line, voice),
        priced,
    )


def at_hand(line: Line, voice: Voice) -> str:
    """What of one of the goods is there already."""
    return packages(voice, line.at_hand, line.good.package) if line.at_hand else voice.line("paper.none")


def bought(line: Line, likely: int, voice: Voice) -> str:
    """What to buy of one of the goods; `likely` is how many packages it takes if the unknowns turn out so."""
    if not line.to_buy:
        return voice.line("paper.buy.nothing")
    firm = packages(voice, line.to_buy, line.good.package)
    fewer = max(0, likely - line.at_hand)
    if fewer >= line.to_buy:
        return firm
    return voice.line(
        f"paper.buy.likely.{('none', 'one')[fewer] if fewer < 2 else 'many'}", firm=firm, count=fewer
    )


def questions(answers: Answers, voice: Voice) -> tuple[QuestionShown, ...]:
    """The ten questions in their order, and what became of each; of the rules how many are met."""
    told, rows = answers.results.answers, []
    clauses = grouped(answers.clauses)
    outcome = verdicts(clauses, voice)
    empty = {
        "what_goes_in": not told.what_goes_in.walls,
        "what_buy": not told.what_buy.lines,
        "meets_rules": all(row.worst.verdict in (Verdict.CANT_TELL, Verdict.ASK) for row in clauses),
    }
    without = "answer.no_frame" if answers.walls else "answer.no_wall"
    for key in AnswersShown.model_fields:
        given = getattr(told, key)
        answered = not isinstance(given, NotYet) and not empty.get(key, False)
        state = voice.line("answer.yes" if answered else getattr(given, "code", without))
        if key == "meets_rules" and outcome:
            state = voice.line("paper.front.rules", outcome=outcome)
        rows.append(QuestionShown(voice.line(f"answer.question.{key}"), state, answered))
    return tuple(rows)
