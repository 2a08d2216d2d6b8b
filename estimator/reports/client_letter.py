"""A letter to the client, in plain words: what was seen, what comes first, what may be had. Never a formula.

It is for the colourist to change and to send by their own means; so it exists as plain text beside the printed form.
"""

import datetime
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Protocol

from estimator.care.verdicts import CareVerdict, CareWord
from estimator.reports import wording
from estimator.reports.composing import DEMO, heading_words
from estimator.reports.document import BeforeAfter, Heading
from estimator.reports.lettering import each_text, printable
from estimator.reports.page_form import page
from estimator.reports.quote_wording import quote_text
from estimator.reports.typesetting import PrintedForm
from estimator.scale.appearance import Level, Warmth
from estimator.toning.plan import ZonePlan

if TYPE_CHECKING:
    from estimator.records.visit_record import QuoteRecord

PRINTED_FORM = "client_letter.typ"
SURE_WITHIN_LEVELS = 0.5  # half an interval no wider than this may be said without "about"


@dataclass(frozen=True)
class Passage:
    """One part of the letter: a heading and its sentences."""

    heading: str
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class ClientLetter:
    """The whole letter in words."""

    title: str
    demo: str
    who: tuple[tuple[str, str], ...]
    passages: tuple[Passage, ...]


class SeenZone(Protocol):
    """One zone as a letter tells of it."""

    @property
    def name(self) -> str: ...

    @property
    def level(self) -> Level: ...

    @property
    def warmth(self) -> Warmth: ...

    @property
    def verified(self) -> bool: ...


@dataclass(frozen=True)
class Hope:
    """What a zone may become. longest_minutes : 0 where it is left as it is. out_of_reach : Why not all; ""."""

    zone: str
    left_alone: bool
    level: float
    stage: str
    odds_inside: float
    longest_minutes: float
    out_of_reach: str = ""


@dataclass(frozen=True)
class LetterFacts:
    """What a letter is made of. care : None where nothing of it may be told. changes : Zone, and what changed."""

    heading: Heading
    seen: Sequence[SeenZone]
    care: CareVerdict | None
    hopes: tuple[Hope, ...]
    changes: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class _Seen:
    name: str
    level: Level
    warmth: Warmth
    verified: bool


def client_letter(document: BeforeAfter, quote: "QuoteRecord | None" = None) -> ClientLetter:
    """The letter about one visit. quote : What the client was told that it takes; left out behind a stop."""
    plan = document.formula
    seen = [_Seen(read.zone.name, read.level, read.warmth, read.reading.verified) for read in document.before.zones]
    changes = tuple((change.zone, change.words) for change in document.differences)
    hopes = tuple(map(_hoped, plan.zones)) if plan is not None else ()
    return letter_of(LetterFacts(document.heading, seen, document.care, hopes, changes), quote)


def letter_of(facts: LetterFacts, quote: "QuoteRecord | None" = None) -> ClientLetter:
    """The letter that these facts make; as `client_letter`."""
    stopped = facts.care is not None and facts.care.stops_everything
    passages = (
        Passage("What was seen", _seen(facts.seen)),
        Passage("What comes first", _first(facts.care) if facts.care is not None else ()),
        Passage("What may be had", _may_be_had(facts.hopes)),
        Passage("What it takes", () if quote is None or stopped else _takes(quote)),
        Passage("What changed", tuple(f"{_named(zone)}: {words}." for zone, words in facts.changes)),
        Passage("Please tell us", PLEASE_TELL),
    )
    told = tuple(passage for passage in passages if passage.sentences)
    heading = facts.heading
    return ClientLetter("Your hair", DEMO if heading.demo else "", heading_words(heading), told)


def letter_text(letter: ClientLetter) -> str:
    """The letter as plain text, to be changed in any editor."""
    who = ", ".join(f"{label}: {words}" for label, words in letter.who)
    parts = [f"{passage.heading}\n\n" + "\n".join(passage.sentences) for passage in letter.passages]
    return "\n\n".join([*filter(None, (letter.demo,)), letter.title, who, *parts]) + "\n"


def letter_html(letter: ClientLetter) -> str:
    """The letter as one HTML file that needs nothing else."""
    return page("client_letter", asdict(letter), {})


def letter_form(letter: ClientLetter, day: datetime.date) -> PrintedForm:
    """The letter on A4, for PDF or PNG."""
    words = each_text(asdict(letter), printable)
    return PrintedForm(PRINTED_FORM, {**words, "day": [day.year, day.month, day.day]}, {}, day)


def letter_pdf(letter: ClientLetter, day: datetime.date) -> bytes:
    """The letter as tagged PDF/A-2a. Raises OutputError where the temporary folder can't be written."""
    return letter_form(letter, day).pdf()


PLEASE_TELL = (
    "Tell us of every colour, henna, relaxer, straightening and metal in the water that your hair has met.",
    "Tell us of allergies, of a rash or burning from an earlier colour, and of medicines that touch skin or hair.",
    "If your skin burns, swells or itches after a test or a service, rinse with plenty of water and see a doctor.",
)


def _seen(zones: Sequence[SeenZone]) -> tuple[str, ...]:
    if not zones:
        return ("The photograph could not be read. We would like to take another one, dry and in even light.",)
    read = [_zone_sentence(zone) for zone in zones]
    unverified = any(not zone.verified for zone in zones)
    rough = "There was no colour card in the photograph, so this is a rough first look." if unverified else ""
    return tuple(filter(None, (*read, "Level 1 is black, level 10 the lightest blonde.", rough)))


def _zone_sentence(zone: SeenZone) -> str:
    level = zone.level
    unsure = (level.level_high - level.level_low) / 2 > SURE_WITHIN_LEVELS
    between = f", between {wording.plain_text(level.level_low)} and {wording.plain_text(level.level_high)}"
    number = wording.number_text(level.level, 0)
    return f"{_named(zone.name)}: about level {number}{between if unsure else ''}; {_warmth(zone)}."


def _warmth(zone: SeenZone) -> str:
    stage = zone.warmth.stage
    if stage == "little warmth":
        return "hardly any warmth in it"
    return f"a {stage} in it" if stage.endswith("cast") else f"warmth: {stage}"


def _first(care: CareVerdict) -> tuple[str, ...]:
    """What must be done or known before anything is mixed, as a client can act on it."""
    words = {
        CareWord.STOP: "We can't colour yet: {message} {remedy}",
        CareWord.TEST_FIRST: "Before anything is mixed: {remedy}",
    }
    sentences = [
        words[finding.verdict].format(message=finding.message, remedy=finding.remedy)
        for finding in care.findings
        if finding.verdict in words
    ]
    return tuple(dict.fromkeys(sentences)) or ("Nothing that you told us stands in the way.",)


def _hoped(zone: ZonePlan) -> Hope:
    return Hope(
        zone.zone,
        zone.bowl_number is None,
        zone.predicted_level.level,
        zone.predicted_warmth.stage,
        zone.odds_inside,
        zone.minutes_high,
        zone.out_of_reach[0].message if zone.out_of_reach else "",
    )


def _may_be_had(hopes: tuple[Hope, ...]) -> tuple[str, ...]:
    return tuple(map(_hope, hopes)) + _waiting(hopes)


def _hope(hope: Hope) -> str:
    name = _named(hope.zone)
    if hope.left_alone:
        return f"{name}: we would leave it as it is."
    level = wording.number_text(hope.level, 0)
    sentence = f"{name}: likely level {level}, {hope.stage}; {wording.odds_text(hope.odds_inside)} as wished"
    if hope.out_of_reach:
        return f"{sentence}. The whole wish is out of reach today: {hope.out_of_reach}"
    return sentence + "."


def _waiting(hopes: tuple[Hope, ...]) -> tuple[str, ...]:
    longest = max((hope.longest_minutes for hope in hopes), default=0.0)
    return (f"Allow for up to {wording.number_text(longest, 0)} minutes of waiting.",) if longest > 0 else ()


def _takes(quote: "QuoteRecord") -> tuple[str, ...]:
    return tuple(filter(None, (f"{quote_text(quote)}.", quote.text)))


def _named(zone: str) -> str:
    """The zone as a sentence begins with it."""
    name = wording.zone_text(zone)
    return name[:1].upper() + name[1:]
