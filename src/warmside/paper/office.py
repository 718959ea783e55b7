"""The office paper: method, sources, ranges, isotherms, months, money, frost, bounds, grid errors.

For who must answer for the figures. Sentences come from the message tables, figures from the answers; the one
thing computed for it is how well the grid resolves the section shown.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from warmside.answers import Answers, WallAnswer
from warmside.heat_answer import weather_source
from warmside.job.counted import ends_told, first_measured
from warmside.job.survey import MeasuredAgain, Wall
from warmside.paper.front import Head, at_hand, bought, foot, head
from warmside.paper.office_heat import Part, heat_parts, table
from warmside.paper.phrases import joined
from warmside.paper.typeset import SHEETS, Foot, typeset
from warmside.rules.may_we_start import headline, lines
from warmside.say import Source, Voice, sources
from warmside.study.heat_data import provenance

STANDARDS = ("iso-6946", "iso-13370", "iso-13788", "iso-7730")
"""Whose methods every paper rests on."""
INPUTS = (
    ("basement", "coupling"),
    ("basement", "gain"),
    ("air", "rim_before"),
    ("air", "exponent"),
    ("comfort", "downdraught"),
    ("interest", "rate"),
)


@dataclass(frozen=True)
class OfficePaper:
    """All that the template of the office paper lays out."""

    head: Head
    foot: Foot
    parts: tuple[Part, ...]
    deferred: str


def office_paper(answers: Answers, voice: Voice, date: str) -> bytes:
    """The office paper as PDF; `date` is printed as it is given."""
    content = office_content(answers, voice, date)
    return typeset("office", content, SHEETS[voice.system], voice.language)


def office_content(answers: Answers, voice: Voice, date: str) -> OfficePaper:
    """Every sentence, table and picture of the office paper."""
    name = voice.line("paper.office.name")
    return OfficePaper(
        head=head(answers, voice, date, name),
        foot=foot(answers, voice, date, name),
        parts=(
            _start(answers, voice),
            *_measured_twice(answers, voice),
            _resistance(answers, voice),
            *heat_parts(answers, voice),
            _cutting(answers, voice),
            _order(answers, voice),
            _sources(answers, voice),
        ),
        deferred=voice.line("paper.deferred"),
    )


def _start(answers: Answers, voice: Voice) -> Part:
    told = tuple(voice.text(note) for note in lines(answers.start))
    title = voice.line("paper.office.title.start")
    return Part(title=title, lines=(voice.text(headline(answers.start)),), items=told)


def _measured_twice(answers: Answers, voice: Voice) -> Iterator[Part]:
    """Every second measurement beside the first: who, when, against which face."""
    told = tuple(_again(wall, again, voice) for wall in answers.survey.wall for again in wall.measured_again)
    if told:
        yield Part(
            title=voice.line("paper.office.title.measured"),
            lines=(voice.line("paper.office.measured.which"),),
            items=told,
        )


def _again(wall: Wall, again: MeasuredAgain, voice: Voice) -> str:
    first = first_measured(wall, again.field)
    by = joined(voice, [text for text in (wall.measured_by, wall.measured_on) if text])
    return voice.line(
        "paper.office.measured.twice",
        wall=wall.name,
        what=voice.line(f"measured.{again.field.replace('.', '_')}"),
        first=voice.line("paper.none") if first is None else voice.text(ends_told(first)),
        by=voice.line("paper.office.measured.by", by=by) if by else "",
        first_face=voice.line("measured.face", face=wall.against) if _has_face(wall, again) else "",
        value=again.value,
        who=again.who,
        when=again.when,
        face=voice.line("measured.face", face=again.against) if again.against else "",
    )


def _has_face(wall: Wall, again: MeasuredAgain) -> bool:
    """Only a length is taken against something."""
    return again.field == "length" and wall.against is not None


# Resistance


def _resistance(answers: Answers, voice: Voice) -> Part:
    rules = answers.house.rules
    return Part(
        title=voice.line("paper.office.title.resistance"),
        lines=(
            voice.line("paper.office.method.resistance", title=rules.title, edition=rules.edition),
            rules.note,
            voice.line("paper.worth.counted"),
        ),
        tables=(
            table(
                voice,
                ("wall", "area", "effective", "bays", "framing", "voids", "method", "rim"),
                [_wall_row(each, voice) for each in answers.walls],
            ),
        ),
    )


def _wall_row(each: WallAnswer, voice: Voice) -> tuple[str, ...]:
    none, whole, rim = voice.line("paper.none"), each.worth.whole, each.worth.rim
    shown_rim = voice.show("R_both", rim.resistance)
    if whole is None:
        return (each.wall.name, *[none] * 6, shown_rim)
    bays = [bay.resistance for bay in each.worth.bays]
    shares = dict(whole.shares)
    empty = sum(share for name, share in shares.items() if name.startswith("void"))
    return (
        each.wall.name,
        voice.show("area", whole.area),
        voice.show("R_both", whole.resistance),
        voice.line("paper.office.range", low=f"{min(bays):.2f}", high=f"{max(bays):.2f}"),
        voice.show("percent", shares.get("framing", 0.0)),
        voice.show("percent", empty),
        voice.line(f"paper.office.method.name.{whole.method.value.replace(' ', '_')}"),
        shown_rim,
    )


# Cutting and order


def _cutting(answers: Answers, voice: Voice) -> Part:
    bounds = [
        voice.line(
            f"paper.bound.{nest.proof}",
            good=nest.batt.name,
            taken=nest.count,
            least=nest.least,
            first=nest.first_fit,
        )
        for nest in answers.nests
    ]
    none = [] if bounds else [voice.line("paper.office.no_pieces")]
    return Part(
        title=voice.line("paper.office.title.cutting"),
        lines=(voice.line("paper.office.method.cutting"), *bounds, *none),
    )


def _order(answers: Answers, voice: Voice) -> Part:
    rows = [
        (
            line.good.name,
            bought(line, answers.likely_order.packages(line.good), voice),
            at_hand(line, voice),
            voice.text(line.basis),
        )
        for line in answers.order.lines
    ]
    return Part(
        title=voice.line("paper.office.title.order"),
        lines=(voice.line("paper.office.method.order"),),
        tables=(table(voice, ("good", "buy", "at_hand", "basis"), rows, words=True),) if rows else (),
    )


# Sources


def _sources(answers: Answers, voice: Voice) -> Part:
    told = [_source(source, voice) for source in _used(answers)]
    weather = weather_source(answers.house.place)
    if answers.heat is not None and weather is not None:
        told.append(voice.line("paper.office.weather", title=weather.title, period=weather.period))
    return Part(
        title=voice.line("paper.office.title.sources"),
        lines=(voice.line("paper.office.statuses"), voice.line("paper.verified")),
        items=tuple(told),
    )


def _source(source: Source, voice: Voice) -> str:
    whole = ", ".join(part for part in (source.title, source.part, str(source.year or "")) if part)
    return voice.line("paper.office.source", source=whole, status=source.status)


def _used(answers: Answers) -> Iterator[Source]:
    """The sources of this job, each once: standards, goods, inputs of the study of heat."""
    ids = [*STANDARDS, *_goods_sources(answers)]
    if answers.heat is not None:
        soil = answers.house.ground.soil
        ids += [provenance("soil", soil, "conductivity")[0], *(provenance(*path)[0] for path in INPUTS)]
    known = sources()
    yield from (known[name] for name in dict.fromkeys(ids) if name in known)


def _goods_sources(answers: Answers) -> list[str]:
    return [nest.batt.r_label.source for nest in answers.nests]
