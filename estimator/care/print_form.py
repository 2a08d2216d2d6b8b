"""The consultation as a form to print and fill in by hand: questions by section, as data for any report."""

from dataclasses import dataclass
from itertools import groupby

from estimator.care.cautions import Caution, standing_order, usual_cautions
from estimator.care.expressions import Kind
from estimator.care.facts import Facts
from estimator.care.questions import QUESTIONS, ZONE_QUESTIONS, Question
from estimator.care.unknown import UNKNOWN
from estimator.care.zoned_facts import ZonedFacts

NOT_KNOWN = str(UNKNOWN)
SIGNATURES = ("Client", "Guardian, where the client is under 18", "Colourist", "Date")
# Medical questions hold no more than this, whatever is told at the chair.
MEDICAL_NOTE = 'Medical questions: write yes, no or "asked a doctor", and nothing more.'


@dataclass(frozen=True)
class FormQuestion:
    """One question on paper.

    boxes : Words to tick; empty where a number is written. Every question has a box "not known".
    many : Several boxes may be ticked.
    unit : Behind the line for a number; "" with boxes.
    only_if : Whether it only counts for some plans or earlier answers. why : Why it is asked.
    ticked : Boxes that an answer ticks. written : The number that stands on the line; "" where none is known.
    by_zone : May be answered for one zone otherwise than for the head.
    """

    fact: str
    text: str
    boxes: tuple[str, ...]
    many: bool
    unit: str
    only_if: bool
    why: str
    ticked: tuple[str, ...] = ()
    written: str = ""
    by_zone: bool = False


@dataclass(frozen=True)
class FormSection:
    """Questions that belong together, in the order of the consultation."""

    title: str
    questions: tuple[FormQuestion, ...]


@dataclass(frozen=True)
class FormZone:
    """What one zone has otherwise than the head. zone : "" where a hand will write its name."""

    zone: str
    questions: tuple[FormQuestion, ...]


@dataclass(frozen=True)
class ConsultationForm:
    """The whole form. zones : The questions that zones may answer otherwise, once for each zone that does."""

    title: str
    standing_order: str
    medical_note: str
    sections: tuple[FormSection, ...]
    zones: tuple[FormZone, ...]
    cautions: tuple[Caution, ...]
    signatures: tuple[str, ...]


def consultation_form(zoned: ZonedFacts | None = None) -> ConsultationForm:
    """The form, empty, or with what is known of a client and of each zone filled in; one more zone stays open."""
    facts = zoned.head if zoned is not None else None
    sections = tuple(
        FormSection(topic[0].upper() + topic[1:], tuple(_on_paper(question, facts) for question in questions))
        for topic, questions in groupby(_by_topic(), key=lambda question: question.topic)
    )
    named = tuple(_zone_on_paper(zoned, zone) for zone in zoned.own) if zoned is not None else ()
    zones = (*named, FormZone("", tuple(_on_paper(question, None) for question in ZONE_QUESTIONS)))
    cautions = usual_cautions()
    return ConsultationForm("Consultation", standing_order(), MEDICAL_NOTE, sections, zones, cautions, SIGNATURES)


def _zone_on_paper(zoned: ZonedFacts, zone: str) -> FormZone:
    """Only what the zone has otherwise: all else stands under the head."""
    own = zoned.own_values(zone)
    stated = zoned.head.with_answers(zoned.own[zone])
    return FormZone(zone, tuple(_on_paper(question, stated) for question in ZONE_QUESTIONS if question.fact in own))


def _by_topic() -> list[Question]:
    order = list(dict.fromkeys(question.topic for question in QUESTIONS))
    return sorted(QUESTIONS, key=lambda question: order.index(question.topic))


def _on_paper(question: Question, facts: Facts | None) -> FormQuestion:
    number = question.kind is Kind.NUMBER
    ticked, written = _answered(question, facts) if facts is not None else ((), "")
    return FormQuestion(
        fact=question.fact,
        text=question.text,
        boxes=(*_boxes(question), NOT_KNOWN),
        many=question.kind is Kind.SET,
        unit=question.unit if number else "",
        only_if=question.needed_if is not None,
        why=question.why,
        ticked=ticked,
        written=written,
        by_zone=question.by_zone,
    )


def _boxes(question: Question) -> tuple[str, ...]:
    if question.kind is Kind.YES_NO:
        return ("yes", "no")
    never = ("never",) if question.never is not None else ()
    none = ("none",) if question.kind is Kind.SET else ()
    return (*none, *(says for _, says in question.choices), *never)


def _answered(question: Question, facts: Facts) -> tuple[tuple[str, ...], str]:
    """Ticked boxes, and the number on the line."""
    value = facts.by_name[question.fact]
    if value is UNKNOWN:  # perhaps only not asked yet: the box is left to the hand that fills in the form
        return (), ""
    if isinstance(value, bool):
        return ("yes" if value else "no",), ""
    if isinstance(value, frozenset):
        return tuple(says for word, says in question.choices if word in value) or ("none",), ""
    if isinstance(value, str):
        return (dict(question.choices)[value],), ""
    return (("never",), "") if value == question.never else ((), f"{value:g}")
