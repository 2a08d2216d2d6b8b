"""A letter to the client, in plain words: what was seen, what comes first, what may be had. Never a formula.

It is for the colourist to change and to send by their own means; so it exists as plain text beside the printed form.
"""

import datetime
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from estimator.care.verdicts import CareVerdict, CareWord
from estimator.reports import wording
from estimator.reports.composing import DEMO, who_words
from estimator.reports.document import BeforeAfter, ReadZone
from estimator.reports.lettering import each_text, printable
from estimator.reports.page_form import page
from estimator.reports.quote_wording import quote_text
from estimator.reports.typesetting import typeset
from estimator.toning.plan import Plan, ZonePlan

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


def client_letter(document: BeforeAfter, quote: "QuoteRecord | None" = None) -> ClientLetter:
    """The letter about one visit. quote : What the client was told that it takes; left out behind a stop."""
    passages = (
        Passage("What was seen", _seen(document)),
        Passage("What comes first", _first(document.care)),
        Passage("What may be had", _may_be_had(document)),
        Passage("What it takes", () if quote is None or document.care.stops_everything else _takes(quote)),
        Passage("What changed", tuple(_changed(document))),
        Passage("Please tell us", PLEASE_TELL),
    )
    told = tuple(passage for passage in passages if passage.sentences)
    return ClientLetter("Your hair", DEMO if document.heading.demo else "", who_words(document), told)


def letter_text(letter: ClientLetter) -> str:
    """The letter as plain text, to be changed in any editor."""
    who = ", ".join(f"{label}: {words}" for label, words in letter.who)
    parts = [f"{passage.heading}\n\n" + "\n".join(passage.sentences) for passage in letter.passages]
    return "\n\n".join([*filter(None, (letter.demo,)), letter.title, who, *parts]) + "\n"


def letter_html(letter: ClientLetter) -> str:
    """The letter as one HTML file that needs nothing else."""
    return page("client_letter", asdict(letter), {})


def letter_pdf(letter: ClientLetter, day: datetime.date) -> bytes:
    """The letter as tagged PDF/A-2a on A4. Raises OutputError where the temporary folder can't be written."""
    words = each_text(asdict(letter), printable)
    return typeset(PRINTED_FORM, {**words, "day": [day.year, day.month, day.day]}, {}, day)


PLEASE_TELL = (
    "Tell us of every colour, henna, relaxer, straightening and metal in the water that your hair has met.",
    "Tell us of allergies, of a rash or burning from an earlier colour, and of medicines that touch skin or hair.",
    "If your skin burns, swells or itches after a test or a service, rinse with plenty of water and see a doctor.",
)


def _seen(document: BeforeAfter) -> tuple[str, ...]:
    zones = document.before.zones
    if not zones:
        return ("The photograph could not be read. We would like to take another one, dry and in even light.",)
    read = [_zone_sentence(zone) for zone in zones]
    unverified = any(not zone.reading.verified for zone in zones)
    rough = "There was no colour card in the photograph, so this is a rough first look." if unverified else ""
    return tuple(filter(None, (*read, "Level 1 is black, level 10 the lightest blonde.", rough)))


def _zone_sentence(zone: ReadZone) -> str:
    level = zone.level
    unsure = (level.level_high - level.level_low) / 2 > SURE_WITHIN_LEVELS
    between = f", between {wording.plain_text(level.level_low)} and {wording.plain_text(level.level_high)}"
    number = wording.number_text(level.level, 0)
    return f"{_named(zone.zone.name)}: about level {number}{between if unsure else ''}; {_warmth(zone)}."


def _warmth(zone: ReadZone) -> str:
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


def _may_be_had(document: BeforeAfter) -> tuple[str, ...]:
    plan = document.formula
    if plan is None:
        return ()
    return tuple(_hope(zone) for zone in plan.zones) + _waiting(plan)


def _hope(zone: ZonePlan) -> str:
    name = _named(zone.zone)
    if zone.bowl_number is None:
        return f"{name}: we would leave it as it is."
    level, warmth = wording.number_text(zone.predicted_level.level, 0), zone.predicted_warmth.stage
    sentence = (
        f"{name[:1].upper()}{name[1:]}: likely level {level}, {warmth}; {wording.odds_text(zone.odds_inside)} as wished"
    )
    if zone.out_of_reach:
        return f"{sentence}. The whole wish is out of reach today: {zone.out_of_reach[0].message}"
    return sentence + "."


def _waiting(plan: Plan) -> tuple[str, ...]:
    longest = max((zone.minutes_high for zone in plan.zones), default=0.0)
    return (f"Allow for up to {wording.number_text(longest, 0)} minutes of waiting.",) if longest > 0 else ()


def _takes(quote: "QuoteRecord") -> tuple[str, ...]:
    return tuple(filter(None, (f"{quote_text(quote)}.", quote.text)))


def _changed(document: BeforeAfter) -> list[str]:
    return [f"{_named(change.zone)}: {change.words}." for change in document.differences]


def _named(zone: str) -> str:
    """The zone as a sentence begins with it."""
    name = wording.zone_text(zone)
    return name[:1].upper() + name[1:]
