"""Every paper that the program makes, each with hostile texts in every place where a person may have written one."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from itertools import cycle

from estimator.care.answers import Answer
from estimator.care.calendar_file import calendar_text
from estimator.care.dates import VisitDates, reminders_for
from estimator.care.facts import Facts, baseline_facts
from estimator.care.print_form import consultation_form
from estimator.care.verdicts import CareFinding
from estimator.care.zoned_facts import ZonedFacts
from estimator.lifting.lift_plan import Client, LiftRequest, LiftSettings
from estimator.lifting.planning import plan_lift
from estimator.lifting.strand import Strand, StrandPoint
from estimator.lifting.strand_test import judge_strand
from estimator.records.consent_scopes import Scope
from estimator.records.earlier import VisitThen, ZoneThen
from estimator.records.visit_record import (
    AnswerRecord,
    ClockRecord,
    MixedRecord,
    OutcomeRecord,
    PlanRecord,
    QuoteRecord,
)
from estimator.records.whole_visit import ConsentThen, WholeVisit
from estimator.remote.consultation import RemoteConsultation, SentPhoto
from estimator.remote.reply import reply_to
from estimator.remote.views import asked_views
from estimator.reports import bowl_sheet, class_sheet, client_letter, intake_sheet, lift_sheet, trend
from estimator.reports.before_after import render_html, render_pdf
from estimator.reports.composing_record import compose_record
from estimator.reports.consultation_paper import form_html, form_pdf
from estimator.reports.document import BeforeAfter, Heading
from estimator.reports.kept_letter import kept_letter
from estimator.reports.lift_document import JudgedStrand, LiftDocument
from estimator.reports.visit_record import record_form, record_html
from estimator.scale.appearance import Level, Warmth
from estimator.toning.targets import Target
from estimator.visit import check
from estimator.visit.consulting import Consultation
from tests.estimator import report_samples as samples
from tests.estimator.records import invented

DAY = date(2026, 10, 5)
NOON = datetime(2026, 10, 5, 12, tzinfo=UTC)


@dataclass(frozen=True)
class Paper:
    """One paper. shown : The texts that must be seen on it."""

    content: bytes
    shown: tuple[str, ...]


def heading(texts: Sequence[str]) -> Heading:
    return Heading(texts[0], texts[-1], DAY)


def visit(texts: Sequence[str]) -> BeforeAfter:
    """A visit with a zone and a shade for each text, its first and last for client and salon."""
    zones = tuple(replace(samples.zone_of(n % 3, "zone"), name=text) for n, text in enumerate(texts))
    read = tuple(samples.reading_of(zone, lab) for zone, lab in zip(zones, cycle(samples.COLOURS["before"])))
    before = replace(samples.side("before"), zones=read, outlined=zones)
    plan = samples.plan_for(before)
    (bowl,) = plan.bowls
    parts = tuple((text, 1) for text in texts)
    grams = tuple((text, 12.5) for text in texts)
    plan = replace(plan, bowls=(replace(bowl, parts=parts, shade_grams=grams),), shelf_name=texts[0])
    return BeforeAfter(heading(texts), before, samples.care_of(*_answered(texts)), plan, samples.SCALE)


def _answered(texts: Sequence[str]) -> tuple[CareFinding, ...]:
    """A caution for each zone, with what somebody wrote about it."""
    return tuple(
        replace(
            samples.CAUTION,
            zone=text,
            answer=Answer(code="porous-ends", who=text, when=DAY, what=text, strength_volume=6, place=text),
        )
        for text in texts
    )


def lift(texts: Sequence[str]) -> LiftDocument:
    level, warmth = Level(5.0, 4.6, 5.4, "", texts[0]), Warmth(30, 26, 34, 58, 5, "orange", ())
    requests = tuple(LiftRequest(text, level, warmth, Target(text, 7.0, "beige")) for text in texts)
    plan = plan_lift(requests, Client(baseline_facts(), DAY), LiftSettings())
    strands = tuple(
        JudgedStrand(text, judge_strand(Strand(start_level=5.0), (StrandPoint(0, 32, 0.8), StrandPoint(5, 34, 0.8)), 7))
        for text in texts[:2]
    )
    return LiftDocument(heading(texts), visit(texts).before, plan, strands)


def trend_visits(texts: Sequence[str]) -> tuple[VisitThen, ...]:
    zones = tuple(
        ZoneThen(text, "before", Level(7.0, 6.5, 7.5, "", text), Warmth(12, 10, 14, 70, 8, "gold", ()), True, "beige")
        for text in texts
    )
    return (VisitThen("v", DAY, False, zones), VisitThen("w", date(2026, 11, 2), False, zones))


def reply(texts: Sequence[str]) -> client_letter.ClientLetter:
    """The reply on photographs whose names are the texts, none of which could be opened."""
    marks = (samples.GLARE, replace(samples.GLARE, message=f"This is the same picture as {texts[-1]}."))
    photos = tuple(SentPhoto(text, "", False, marks, None) for text in texts)
    care = check(Consultation(Facts(), DAY))
    return reply_to(heading(texts), RemoteConsultation(photos, tuple(texts), ("Front",), None, care, None))


def form(texts: Sequence[str]) -> ZonedFacts:
    return ZonedFacts(baseline_facts(), {text: {"breakage": "widespread"} for text in texts})


def quote(texts: Sequence[str]) -> QuoteRecord:
    return QuoteRecord(DAY, (1, 2), (2.0, 3.0), (90.0, 140.0), texts[-1][:8] or "EUR", texts[0])


def kept(texts: Sequence[str]) -> WholeVisit:
    """A kept visit with a zone, a mix, an outcome, an answer and a note for each text; no record holds a null."""
    texts = [text.replace("\0", "") or "null" for text in texts]
    plain = invented.visit(texts[0][:190], salon=texts[-1][:190], photos=(), notes=tuple(texts))
    zones = tuple(replace(plain.zones[0], name=text) for text in texts)
    record = replace(
        plain,
        client_name=texts[0][:190],
        zones=zones,
        readings=tuple(invented.reading(text) for text in texts),
        findings=tuple(replace(plain.findings[1], where=text) for text in texts),
        answers=tuple(AnswerRecord("ask-a-doctor", text, DAY, text, None, text) for text in texts),
        plan=PlanRecord(texts[0], {"bowls": [{"number": 1, "parts": [[text, 1] for text in texts], "zones": texts}]}),
        mixed=tuple(MixedRecord(1, (text,), ((text, 20.5),), 61.0, 6.0, 12.0, text) for text in texts),
        clock=tuple(ClockRecord("start", text, NOON, {"most_minutes": 20.0, "minutes": 0.0}) for text in texts),
        outcomes=tuple(OutcomeRecord(text, text) for text in texts),
        quote=quote(texts),
    )
    consents = tuple(ConsentThen(Scope.RECORD, DAY, text, None) for text in texts)
    return WholeVisit("0123456789abcdef" * 2, record, consents, True, None, 4, 9)


def reminders(texts: Sequence[str]):
    found = reminders_for(VisitDates(NOON, NOON), lightener=True, oxidative_dye=True)
    return tuple(replace(due, text=text, code=text) for due, text in zip(cycle(found[:1]), texts))


Maker = Callable[[Sequence[str]], bytes]

_letter = lambda texts: client_letter.client_letter(visit(texts), quote(texts))  # noqa: E731 - one line in a table
_intake = lambda texts: intake_sheet.intake_sheet(texts[0], asked_views(), texts)  # noqa: E731
_trend = lambda texts: trend.trend_of(texts[0], trend_visits(texts))  # noqa: E731

PDFS: Mapping[str, Maker] = {
    "report": lambda texts: render_pdf(visit(texts)),
    "bowl sheet": lambda texts: bowl_sheet.render_bowl_sheet(visit(texts)),
    "letter": lambda texts: client_letter.letter_pdf(_letter(texts), DAY),
    "class sheet": lambda texts: class_sheet.render_class_sheet(visit(texts)),
    "lift sheet": lambda texts: lift_sheet.render_lift_pdf(lift(texts)),
    "trend": lambda texts: trend.trend_pdf(_trend(texts), DAY),
    "intake sheet": lambda texts: intake_sheet.intake_pdf(_intake(texts), DAY),
    "consultation": lambda texts: form_pdf(consultation_form(form(texts)), DAY),
    "reply": lambda texts: client_letter.letter_pdf(reply(texts), DAY),
    "visit record": lambda texts: record_form(compose_record(kept(texts), with_name=True)).pdf(),
    "kept letter": lambda texts: client_letter.letter_pdf(kept_letter(kept(texts)), DAY),
}
PAGES: Mapping[str, Maker] = {
    "report": lambda texts: render_html(visit(texts)).encode(),
    "letter": lambda texts: client_letter.letter_html(_letter(texts)).encode(),
    "lift sheet": lambda texts: lift_sheet.render_lift_html(lift(texts)).encode(),
    "trend": lambda texts: trend.trend_html(_trend(texts)).encode(),
    "intake sheet": lambda texts: intake_sheet.intake_html(_intake(texts)).encode(),
    "consultation": lambda texts: form_html(consultation_form(form(texts)), DAY).encode(),
    "reply": lambda texts: client_letter.letter_html(reply(texts)).encode(),
    "visit record": lambda texts: record_html(compose_record(kept(texts), with_name=True)).encode(),
    "kept letter": lambda texts: client_letter.letter_html(kept_letter(kept(texts))).encode(),
}
TEXTS: Mapping[str, Maker] = {
    "letter": lambda texts: client_letter.letter_text(_letter(texts)).encode(),
    "reply": lambda texts: client_letter.letter_text(reply(texts)).encode(),
    "trend": lambda texts: trend.trend_csv(trend_visits(texts)).encode(),
    "calendar": lambda texts: calendar_text(reminders(texts), NOON, texts[0]).encode(),
}
