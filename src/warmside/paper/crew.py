"""The crew paper: steps with their cautions, the walls to scale, the cutting pages.

It is read from pictures, numbers and bay marks. A wall that is not measured gets no cut list; what to measure
is said instead. Figures come from the answers, sentences from the message tables.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from warmside.answers import Answers, WallAnswer, measured_pieces
from warmside.catalog.goods import Batt
from warmside.cut_notes import before_the_frame, crew_notes
from warmside.cutting.nesting import nest
from warmside.cutting.pieces import SLIVER, BayFill
from warmside.job.resolve import House
from warmside.paper.alike import Alike, drawn_bays, inside_bays, rim_bays, straight_bays
from warmside.paper.bag_card import BagCard, bag_cards
from warmside.paper.front import Head, foot, halted, head, of_start
from warmside.paper.phrases import bags_left, counted, listed
from warmside.paper.picture import Picture
from warmside.paper.piece_drawing import piece_picture
from warmside.paper.typeset import SHEETS, Foot, Shown, shown, side_by_side, typeset
from warmside.paper.wall_sheets import WallSheet, wall_sheets
from warmside.plan import StepCautions, cautions
from warmside.rules.may_we_start import headline
from warmside.say import Voice
from warmside.wall.in_the_way import access_opening

BAYS_BY_TAPE = "assumed.frame.spacing"
"""The assumption that tells that nobody measured where the studs stand."""
PIECES_AT = (80.0, 64.0, 56.0, 48.0)
"""Scales of the pieces, tried from the smallest on, until a larger one takes more sheets."""
CARD_GAP, ROW_GAP = 4.0, 1.6
"""Between two drawn bays, and between two rows; the template has the same [mm on paper]."""
HEADING = 7.0
"""Room for the heading above the rows [mm on paper]."""
RIM_NOTES = ("paper.crew.note.rim", "paper.crew.note.rim_not_flush", "paper.crew.note.rim_on_edge")
"""What is told at the lines of the rim, not before all lines."""
WHY = ("whole", "alike", "offcut", "drawn", "rest")
"""The reasons of the cutting card, in the order of the work."""


@dataclass(frozen=True)
class StepShown:
    """One step of the work: what is done, why, and what can hurt there."""

    title: str
    do: str
    why: str
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class CutRow:
    """Bays that are cut alike, in one line."""

    bays: str
    rip: str
    cuts: str
    stops: str
    marks: str


@dataclass(frozen=True)
class CutTable:
    """The lines of one kind of batt."""

    goods: str
    head: tuple[str, ...]
    rows: tuple[CutRow, ...]


@dataclass(frozen=True)
class ToMeasure:
    """A wall without a cut list, and what it takes to get one."""

    wall: str
    items: tuple[str, ...]


@dataclass(frozen=True)
class CrewPaper:
    """All that the template of the crew paper lays out."""

    head: Head
    foot: Foot
    titles: Mapping[str, str]
    start: str
    found: tuple[str, ...]
    marking: str
    steps: tuple[StepShown, ...]
    walls: tuple[WallSheet, ...]
    straight: tuple[CutTable, ...]
    drawn: tuple[tuple[Shown, ...], ...]
    drawn_up: str
    rim: tuple[CutTable, ...]
    rim_notes: tuple[str, ...]
    bags: tuple[str, ...]
    card: tuple[BagCard, ...]
    card_head: tuple[str, ...]
    card_why: tuple[str, ...]
    to_measure: tuple[ToMeasure, ...]
    notes: tuple[str, ...]


def crew_paper(answers: Answers, voice: Voice, date: str) -> bytes:
    """The crew paper as PDF; `date` is printed as it is given."""
    content = crew_content(answers, voice, date)
    return typeset("crew", content, SHEETS[voice.system], voice.language)


def crew_content(answers: Answers, voice: Voice, date: str) -> CrewPaper:
    """Every sentence and picture of the crew paper."""
    name = voice.line("paper.crew.name")
    measured = [each for each in answers.walls if each.wall.level == 2]
    told = list(crew_notes(answers.house, measured, answers.inside))
    drawn = drawn_bays(measured, voice)
    titles = ("steps", "card", "straight", "drawn", "rim", "bags", "measure")
    return CrewPaper(
        head=head(answers, voice, date, name),
        foot=foot(answers, voice, date, name),
        titles={title: voice.line(f"paper.crew.title.{title}") for title in titles},
        start=voice.text(headline(answers.start)),
        found=(*halted(answers, voice), *(voice.text(note) for note in of_start(answers.start))),
        marking=voice.line("paper.crew.marking") if measured else "",
        steps=tuple(_step(step, voice, measured) for step in cautions(answers.house)),
        walls=wall_sheets(answers.walls, voice, SHEETS[voice.system]),
        straight=_tables(
            (*straight_bays(measured, voice), *inside_bays(answers.inside, voice)),
            "paper.crew.bays",
            "up",
            voice,
        ),
        drawn=_cards(drawn, voice),
        drawn_up=voice.line("paper.crew.drawn_up"),
        rim=_tables(rim_bays(measured, voice), "paper.crew.rim_bays", "along", voice),
        rim_notes=tuple(voice.text(note) for note in told if note.code in RIM_NOTES),
        bags=tuple(bags_left(voice, each) for each in answers.nests) if measured else (),
        card=bag_cards(nest(measured_pieces(answers.walls, answers.inside)), voice),
        card_head=tuple(voice.line(f"paper.bag.head.{name}") for name in ("batts", "cut", "serves", "rest")),
        card_why=tuple(voice.line(f"paper.bag.why.{why}") for why in WHY if drawn or why != "drawn"),
        to_measure=to_measure(answers, voice),
        notes=(
            *(_notes(measured, voice) if measured else ()),
            *(voice.text(note) for note in told if note.code not in RIM_NOTES),
            *(_of_no_use(answers, voice) if measured else ()),
        ),
    )


def _step(step: StepCautions, voice: Voice, measured: Sequence[WallAnswer]) -> StepShown:
    code = f"paper.step.{step.step}"
    first = before_the_frame(measured) if step.step == "frame" else ()
    return StepShown(
        title=voice.line(f"{code}.title"),
        do=voice.line(f"{code}.do"),
        why=voice.line(f"{code}.why"),
        cautions=tuple(voice.text(note) for note in (*step.notes, *first)),
    )


def _shown(picture: Picture) -> Shown:
    return shown(picture.svg, picture.told)


def _tables(alike: Iterable[Alike], counts: str, order: str, voice: Voice) -> tuple[CutTable, ...]:
    """The lines by what they are cut from; `order` names the sentence that says where their pieces begin."""
    by_goods: dict[str, list[CutRow]] = {}
    for bays in alike:
        row = CutRow(
            bays=counted(voice, counts, bays.count),
            rip=bays.rip,
            cuts=bays.cuts,
            stops=bays.stops,
            marks=bays.marks,
        )
        by_goods.setdefault(bays.goods, []).append(row)
    head = tuple(voice.line(f"paper.crew.head.{name}") for name in ("bays", "rip", order, "stops", "marks"))
    return tuple(CutTable(goods, head, tuple(rows)) for goods, rows in by_goods.items())


def _cards(odd: Sequence[Sequence[BayFill]], voice: Voice) -> tuple[tuple[Shown, ...], ...]:
    """The odd bays in rows: on as few sheets as there can be, then as large as these allow."""
    best: tuple[tuple[Shown, ...], ...] = ()
    for scale in PIECES_AT if odd else ():
        rows = _rows([_shown(piece_picture(fills[0], voice, scale, fills[1:])) for fills in odd], voice)
        if best and _sheets(rows, voice) > _sheets(best, voice):
            break
        best = rows
    return best


def _rows(cards: Sequence[Shown], voice: Voice) -> tuple[tuple[Shown, ...], ...]:
    """As many beside each other as the sheet is wide."""
    width, _ = SHEETS[voice.system].area
    rows = side_by_side([card.width for card in cards], width, keep_order=False, gap=CARD_GAP)
    return tuple(tuple(cards[number] for number in row) for row in rows)


def _sheets(rows: Sequence[Sequence[Shown]], voice: Voice) -> int:
    """How many sheets some rows take, the heading on the first; a row that is too high takes more of them."""
    _, room = SHEETS[voice.system].area
    sheets, used = 1, HEADING
    for row in rows:
        high = max(card.height for card in row) + ROW_GAP
        if used + high > room + ROW_GAP:
            sheets, used = sheets + int(high // room) + 1, 0.0
        used += high
    return sheets


def to_measure(answers: Answers, voice: Voice) -> tuple[ToMeasure, ...]:
    """For each wall without a cut list what to measure; walls that lack the same stand together."""
    size = (voice.line("paper.measure.size"),)
    lacking: dict[tuple[str, ...], list[str]] = {}
    for name in answers.house.unmeasured:
        lacking.setdefault(size, []).append(name)
    for each in answers.walls:
        if each.wall.level == 1:
            lacking.setdefault(tuple(_missing(answers.house, each, voice)), []).append(each.wall.name)
    return tuple(ToMeasure(listed(voice, names), items) for items, names in lacking.items())


def _missing(house: House, each: WallAnswer, voice: Voice) -> Iterable[str]:
    wall = each.wall
    taken = {(a.note.code, a.note.where.wall) for a in house.assumptions}
    if wall.frame is None:
        yield voice.line("paper.measure.frame")
    elif not wall.unplaced or (not wall.frame.bays and (BAYS_BY_TAPE, wall.name) in taken):
        yield voice.line("paper.measure.bays")
    if wall.unplaced:
        yield voice.line("paper.measure.places", things=listed(voice, wall.unplaced))


def _notes(measured: Sequence[WallAnswer], voice: Voice) -> Iterable[str]:
    """What the cutting pages have to say once, where it is met in this house."""
    fills = [fill for each in measured for fill in each.fills]
    pieces = [piece for fill in fills for piece in fill.pieces]
    if any(fill.bay.top_left != fill.bay.top_right for fill in fills):
        yield voice.line("paper.crew.slope")
    if any(piece.role == "behind" for piece in pieces):
        yield voice.line("paper.crew.behind")
    if any(piece.slits for piece in pieces):
        yield voice.line("paper.crew.slit")
    if any(void.laid == "torn strip" for fill in fills for void in fill.voids):
        yield voice.line("paper.crew.note.sliver", width=SLIVER)
    locked = [fill.bay.mark for fill in fills if any(touch.thing.kind.locks for touch in fill.touches)]
    if locked:
        yield voice.line("paper.crew.note.locked", marks=listed(voice, locked))
    for each in measured:
        yield from _kept_in_reach(each, voice)


def _of_no_use(answers: Answers, voice: Voice) -> Iterable[str]:
    """Batts at hand that no piece is cut from."""
    used = {each.batt.id for each in answers.nests}
    for name in answers.house.at_hand:
        good = answers.house.shelf.goods.get(name)
        if isinstance(good, Batt) and name not in used:
            yield voice.line("paper.crew.note.no_use", name=good.name)


def _kept_in_reach(each: WallAnswer, voice: Voice) -> Iterable[str]:
    """A stop for each thing that may not be closed over, and the opening with a cover that it needs."""
    for thing in each.wall.in_the_way:
        if thing.kind.access == "cover":
            word = voice.line(f"drawing.thing.{thing.kind.name}")
            width, height = access_opening(thing)
            in_the_wall = thing.kind.cut != "none" and thing.runs == "spot"
            code = "paper.crew.note.access" if in_the_wall else "paper.crew.note.reach"
            yield voice.line(code, wall=each.wall.name, thing=word, width=width, height=height)
