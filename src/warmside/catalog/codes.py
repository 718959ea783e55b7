"""Rule sets as data: which one a place is under, what its limits are made of, and each limit as one rule.

A rule is one typed row: a `measure` of the wall, a comparison, one or more limits with the conditions that
choose among them, the clause, its source and how far it was read. What no survey can tell stands in the same
file as something to be seen before it is covered, and what was not read is named, so that no set is silent
about it. Rules are read from data/rules, one file for a set; sets are never merged. They are written for new
houses. Our reading: the authority decides.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from enum import StrEnum
from functools import cache
from typing import Annotated, Literal, Protocol, Self

from pydantic import AfterValidator, Field, model_validator

from warmside.catalog.data_fault import DataFileError
from warmside.catalog.data_files import data_text, entries, parsed, read_named
from warmside.catalog.goods import PERMEANCES, Model, Size, Status
from warmside.catalog.kinds import kinds
from warmside.physics.resistance import Method
from warmside.say import Note, messages


class RuleSet(Model):
    """One set of rules as read: its edition, the resistance method of its limits, films, largest gap.

    `zones` names the climate zones that its limits go by.
    """

    id: str
    title: str
    edition: str
    method: Method
    inside_film: str
    outside_film: str
    largest_gap: Size
    zones: str | None = None
    note: str


class Measure(StrEnum):
    """What a rule limits; the word is what a rule file or a job's amendment says."""

    FOUNDATION_R = "foundation wall R"
    ABOVE_GROUND_R = "R of the part above ground"
    TOTAL_R = "R through the insulation"
    ABOVE_GROUND_TOTAL_R = "R through the insulation above ground"
    RIM_R = "rim R"
    LABEL_R = "label R"
    ABOVE_GROUND_LABEL_R = "label R above ground"
    RIM_LABEL_R = "label R of the rim"
    METHOD = "resistance method"
    MEAN_SHOWING = "mean height above ground"
    SHARE_SHOWING = "share above ground"
    BEHIND = "share of R behind a thing"
    CROSSING = "insulation along a crossing wall"
    CONTACT = "insulation against a tight face"
    COVER = "cover over the insulation"
    BOX_SEALED = "box sealed to the air barrier"
    UNFILLED = "share without insulation"
    OUTSIDE_SHARE = "share of R outside the wall"
    FROM_FLOOR = "insulation above the floor"
    VAPOUR_PERMEANCE = "vapour barrier permeance"
    VAPOUR_WET = "wet-cup permeance of the vapour barrier"
    VAPOUR_CLASS = "class of the vapour barrier"
    FOAM_PERMEANCE = "permeance of foam without a vapour barrier"
    VAPOUR_WARM_SIDE = "vapour barrier on the warm side"
    AIR_BARRIER_PERMEANCE = "permeance of the air barrier below ground"
    RATIO = "low-permeance ratio"
    MOISTURE_PROTECTION = "moisture protection below ground"
    MOISTURE_TOP = "moisture barrier above ground"
    MOISTURE_PERMEANCE = "permeance of the moisture barrier"
    BELOW_GROUND = "insulation below the ground"
    LAP = "lap of the vapour barrier"
    GAP = "largest gap behind the studs"
    FIRE_BLOCKS = "spacing of fire blocks"
    FOAM_COVER = "cover over foam"
    WOOD_BREAK = "break between wood and concrete"
    WOOD_MOISTURE = "moisture of the wood"
    DUCT_INSIDE = "duct inside the insulation"
    CLEARANCE = "clearance of the studs"
    BY_LABEL = "distance by its own label"
    LIGHT = "light made to be covered"
    PANEL_SPACE = "free space before the panel"
    BEAM_AIR = "air at the end of a beam"
    OPENING_AREA = "opening of a window"
    OPENING_SIDE = "smallest side of a window"
    SHEET_SPACING = "spacing of sheet supports"


UNITS: Mapping[str, tuple[str, float]] = {
    "m2.K/W": ("m2.K/W", 1.0),
    "h.ft2.F/Btu": ("m2.K/W", 0.17611),
    "m": ("m", 1.0),
    "mm": ("m", 1e-3),
    "in": ("m", 0.0254),
    "ft": ("m", 0.3048),
    "m2": ("m2", 1.0),
    "ft2": ("m2", 0.3048**2),
    "ng/(Pa.s.m2)": ("kg/(m2.s.Pa)", PERMEANCES["ng/(Pa.s.m2)"]),
    "perm": ("kg/(m2.s.Pa)", PERMEANCES["perm"]),
    "-": ("-", 1.0),
    "%": ("-", 1e-2),
    "yes": ("yes", 1.0),
}
"""The units a rule may be written in: the one it is judged in, and the factor to it."""

_RESISTANCES = (
    Measure.FOUNDATION_R,
    Measure.ABOVE_GROUND_R,
    Measure.TOTAL_R,
    Measure.ABOVE_GROUND_TOTAL_R,
    Measure.RIM_R,
    Measure.LABEL_R,
    Measure.ABOVE_GROUND_LABEL_R,
    Measure.RIM_LABEL_R,
)
_PERMEANCES = (
    Measure.VAPOUR_PERMEANCE,
    Measure.VAPOUR_WET,
    Measure.VAPOUR_CLASS,
    Measure.FOAM_PERMEANCE,
    Measure.AIR_BARRIER_PERMEANCE,
    Measure.MOISTURE_PERMEANCE,
)
_SHARES = (
    Measure.SHARE_SHOWING,
    Measure.BEHIND,
    Measure.UNFILLED,
    Measure.OUTSIDE_SHARE,
    Measure.RATIO,
    Measure.WOOD_MOISTURE,
    Measure.CROSSING,
)
_SAID = (
    Measure.METHOD,
    Measure.CONTACT,
    Measure.COVER,
    Measure.BOX_SEALED,
    Measure.BY_LABEL,
    Measure.LIGHT,
    Measure.VAPOUR_WARM_SIDE,
    Measure.MOISTURE_PROTECTION,
    Measure.WOOD_BREAK,
    Measure.DUCT_INSIDE,
)
_UNIT_OF: Mapping[Measure, str] = {
    **dict.fromkeys(Measure, "m"),
    **dict.fromkeys(_RESISTANCES, "m2.K/W"),
    **dict.fromkeys(_PERMEANCES, "kg/(m2.s.Pa)"),
    **dict.fromkeys(_SHARES, "-"),
    **dict.fromkeys(_SAID, "yes"),
    Measure.OPENING_AREA: "m2",
}


def unit_of(measure: Measure) -> str:
    """The unit that a measure is judged in; "yes" for what is so or not."""
    return _UNIT_OF[measure]


def units_for(measure: Measure) -> list[str]:
    """The units that a rule on a measure may be written in."""
    return [name for name, (base, _) in UNITS.items() if base == unit_of(measure)]


Comparison = Literal["at least", "at most", "more than", "below", "any of", "required", "not read"]
OWN_WORDS = "rules.words."
"""How the code of a sentence begins that stands beside a rule; other words are the user's own."""
NOT_READ: Literal["not read"] = "not read"
"""The comparison and the status of a rule whose limit nobody has read: the authority is asked."""


class Limit(Model):
    """One limit of a rule and where it holds; a condition left out always holds.

    `value` is in the unit of the rule; `continuous` is the board that goes with a cavity value of "any of".
    """

    value: float
    continuous: float | None = None
    zones: tuple[str, ...] = ()
    heat_recovery: bool | None = None
    degree_days_from: float | None = None
    degree_days_below: float | None = None
    kinds: tuple[str, ...] = ()

    @model_validator(mode="after")
    def _kinds_are_known(self) -> Self:
        for kind in self.kinds:
            if kind not in kinds():
                near = get_close_matches(kind, kinds(), 1)
                hint = f"did you mean {near[0]!r}?" if near else "see in_the_way.toml"
                raise ValueError(f"{kind!r} is no kind of thing in the way; {hint}")
        return self


class Exemption(Model):
    """Where a rule does not hold: all conditions that are given have to be met.

    permeance_from : of the layer that the rule is about, in ng/(Pa.s.m2)
    resistance_from : of that layer, in m2.K/W
    """

    permeance_from: float | None = None
    resistance_from: float | None = None
    degree_days_below: float | None = None
    words: str
    status: Status
    source: str


class Reduction(Model):
    """By how much a limit is lower beside enclosed space that is not heated, in the unit of the rule."""

    by: float
    words: str
    status: Status
    source: str


class Rule(Model):
    """One rule.

    `slack` is how far a tape may be over before it counts; `after` is a measure whose rule must be missed
    first; `target` marks what is written for new houses; `short_means` says what follows where it is missed,
    and `chooses` what one that `decides` chooses. One that serves `instead` makes up for the one before it.
    """

    id: str
    clause: str
    measure: Measure
    comparison: Comparison
    unit: str = "yes"
    limits: tuple[Limit, ...] = (Limit(value=1.0),)
    slack: float = 0.0
    after: Measure | None = None
    target: bool = False
    instead: bool = False
    short_means: Literal["fails", "ask", "decides"] = "fails"
    chooses: Literal["wall value", "whole wall", "above ground"] | None = None
    exempt: tuple[Exemption, ...] = ()
    beside_unheated: Reduction | None = None
    words: str | None = None
    status: Status | Literal["not read"]
    source: str

    @model_validator(mode="after")
    def _unit_fits(self) -> Self:
        fitting = units_for(self.measure)
        if self.unit not in fitting:
            raise ValueError(f"{self.measure} is in {' or '.join(fitting)}, not in {self.unit!r}")
        for words in (self.words, *(one.words for one in self.exempt)):
            if words is not None and words.startswith(OWN_WORDS):
                _sentence(words)
        if (self.short_means == "decides") != (self.chooses is not None):
            raise ValueError('a rule that decides says what it chooses: chooses = "wall value"')
        return self

    def si(self, value: float) -> float:
        """A number of this rule in the unit that it is judged in."""
        return value * UNITS[self.unit][1]


class Amendment(Model):
    """A local rule of one job: it takes the place of the set's rules with the same measure.

    In the job file, five lines: [[amendment]], clause, measure, at_least or at_most, unit. `words` says why.
    """

    clause: Annotated[str, Field(min_length=1, max_length=80)]
    measure: Measure
    at_least: Annotated[float | None, Field(ge=0.0, le=1e6)] = None
    at_most: Annotated[float | None, Field(ge=0.0, le=1e6)] = None
    unit: str = "yes"
    words: Annotated[str, Field(max_length=200)] | None = None

    @model_validator(mode="after")
    def _one_limit(self) -> Self:
        given = [value for value in (self.at_least, self.at_most) if value is not None]
        if unit_of(self.measure) != "yes" and len(given) != 1:
            raise ValueError("an amendment has one limit: write at_least or at_most")
        self.as_rule(0)
        return self

    def as_rule(self, number: int) -> Rule:
        """The rule that it stands for; what the authority demands is no target."""
        limits = [value for value in (self.at_least, self.at_most) if value is not None]
        comparison: Comparison = (
            "required" if not limits else "at least" if self.at_least is not None else "at most"
        )
        return Rule(
            id=f"amendment-{number}",
            clause=self.clause,
            measure=self.measure,
            comparison=comparison,
            unit=self.unit,
            limits=(Limit(value=limits[0] if limits else 1.0),),
            words=self.words,
            source="amendment",
            status="label",
        )


@cache
def rule_sets() -> Mapping[str, RuleSet]:
    """All rule sets by id; they are never merged."""
    return read_named(RuleSet, "rule_sets.toml")


def _sentence(code: str) -> str:
    if code not in messages("en"):
        raise ValueError(f"no sentence is called {code!r}; write it in messages/en/rules.toml")
    return code


Sentence = Annotated[str, AfterValidator(_sentence)]
"""The code of a sentence that stands in the message tables."""


class ToSee(Model):
    """What a clause wants that no survey can tell: looked at on site, before the next layer hides it."""

    clause: str
    point: Literal["hazards", "dry", "rim", "frame", "rough_in", "insulation", "handover"]
    words: Sentence
    status: Status
    source: str


class NotRead(Model):
    """What a set may limit and nobody has read: the authority is asked about each of the measures.

    `where` is the text in which it would stand, `words` why it was not read.
    """

    where: str
    measures: tuple[Measure, ...]
    words: Sentence

    def as_rules(self) -> Iterator[Rule]:
        """One rule without a limit for each measure."""
        for measure in self.measures:
            yield Rule(
                id=f"not-read-{measure.replace(' ', '-')}",
                clause=self.where,
                measure=measure,
                comparison=NOT_READ,
                unit=units_for(measure)[0],
                words=self.words,
                source=NOT_READ,
                status=NOT_READ,
            )


class RuleFile(Model):
    """One file of a set: its rules, what has to be seen on site, and what was not read."""

    rule: tuple[Rule, ...]
    see: tuple[ToSee, ...] = ()
    not_read: tuple[NotRead, ...] = ()


@cache
def _rule_file(set_id: str) -> RuleFile:
    return read_rules(data_text("rules", f"{set_id}.toml"), f"{set_id}.toml")


def rules(set_id: str) -> tuple[Rule, ...]:
    """The rules of one set in the order of its file, those that nobody has read at the end."""
    file = _rule_file(set_id)
    return (*file.rule, *(rule for entry in file.not_read for rule in entry.as_rules()))


def seen_on_site(set_id: str) -> tuple[ToSee, ...]:
    """What the clauses of one set want to be seen on site."""
    return _rule_file(set_id).see


def read_rules(text: str, name: str) -> RuleFile:
    """The rules of a file. `name` is what the file is called in a message. Raises DataFileError."""
    table = parsed(text, name)
    known = [f"[[{word}]]" for word in RuleFile.model_fields]
    for word in table.keys() - RuleFile.model_fields.keys():
        raise DataFileError(f"{name}: [[{word}]] is no table of a rule file; there are: {', '.join(known)}")
    if not table.get("rule"):
        raise DataFileError(f"{name}: it holds no [[rule]]; a set has at least one")
    file = RuleFile(
        rule=tuple(entries(Rule, "rule", table, text, name, _INNER)),
        see=tuple(entries(ToSee, "see", table, text, name)),
        not_read=tuple(entries(NotRead, "not_read", table, text, name)),
    )
    for fault in _faults(file.rule):
        raise DataFileError(f"{name}: {fault}")
    return file


def _faults(every: Sequence[Rule]) -> Iterator[str]:
    """What no single rule can tell: ids that stand twice, and a rule after one that there is not."""
    ids, measures = [rule.id for rule in every], {rule.measure for rule in every}
    for rule in every:
        if ids.count(rule.id) > 1:
            yield f"the id {rule.id!r} stands twice; give each rule its own"
        if rule.after is not None and rule.after not in measures:
            yield f"the rule {rule.id!r} comes after {rule.after.value!r}, which no rule of this file limits"


_INNER: Mapping[str, type[Model]] = {"limits": Limit, "exempt": Exemption, "beside_unheated": Reduction}


def rules_with(set_id: str, amendments: tuple[Amendment, ...]) -> tuple[Rule, ...]:
    """The rules of a set with a job's amendments in place of those with the same measure."""
    own = (one.as_rule(number) for number, one in enumerate(amendments, 1))
    amended = {one.measure for one in amendments}
    rest = tuple(rule for rule in rules(set_id) if rule.measure not in amended)
    return (*rest, *(_in_its_place(rule, rules(set_id)) for rule in own))


def _in_its_place(own: Rule, every: Sequence[Rule]) -> Rule:
    """A local rule that keeps what the one before it was for: to choose another, or to come after another."""
    for rule in every:
        if rule.measure is own.measure and rule.short_means == "decides":
            return own.model_copy(update={"short_means": "decides", "chooses": rule.chooses})
        if rule.measure is own.measure and rule.after is not None and not rule.instead:
            return own.model_copy(update={"after": rule.after})
    return own


# Which set a place is under


class Located(Protocol):
    """What is known of where a house stands."""

    @property
    def country(self) -> str | None:
        """The country, as the user writes it."""

    @property
    def region(self) -> str | None:
        """The province or state."""


class Reach(Model):
    """Where a set is suggested: country words, and region words where it counts only there."""

    set: str
    countries: tuple[str, ...]
    regions: tuple[str, ...] = ()


@cache
def _reaches() -> tuple[Reach, ...]:
    name = "rule_places.toml"
    text = data_text(name)
    return tuple(entries(Reach, "place", parsed(text, name), text, name))


def suggest(place: Located) -> tuple[str, Note]:
    """The rule set of a place, and why that one; the first listed where no country is known."""
    country, region = ((word or "").strip().casefold() for word in (place.country, place.region))
    for reach in _reaches():
        if country in reach.countries and (not reach.regions or region in reach.regions):
            why = "rules.suggest.region" if reach.regions else "rules.suggest.country"
            return reach.set, _why(why, reach.set, place)
    first = next(iter(rule_sets()))
    return first, _why("rules.suggest.unlisted" if country else "rules.suggest.no_country", first, place)


def _why(code: str, chosen: str, place: Located) -> Note:
    title = rule_sets()[chosen].title
    return Note(code, {"title": title, "country": place.country or "", "region": place.region or ""})
