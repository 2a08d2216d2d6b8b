"""The bowl sheet: what is mixed and when it is looked at, on A5, to be read at arm's length with gloves on.

A stop stands first and hides every bowl. Nothing is printed smaller than 14 point.
"""

from dataclasses import asdict, dataclass

from estimator.care.cautions import standing_order, usual_cautions
from estimator.reports import wording
from estimator.reports.composing import DEMO, care_words, caution_words, no_plan_words, who_words
from estimator.reports.composing_plan import bowl_words, mixing_notes
from estimator.reports.document import BeforeAfter
from estimator.reports.lettering import each_text, printable
from estimator.reports.sheet import BowlWords, Care, CautionWords
from estimator.reports.typesetting import PrintedForm
from estimator.toning.plan import Plan, ZonePlan

PRINTED_FORM = "bowl_sheet.typ"


@dataclass(frozen=True)
class ZoneOnHead:
    """One zone of a bowl: how much goes there, how long, when to look, what it becomes and what waiting does."""

    zone: str
    grams: str
    minutes: str
    checks: str
    becomes: str
    longer: str
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class BowlPage:
    """One bowl with its zones."""

    bowl: BowlWords
    zones: tuple[ZoneOnHead, ...]


@dataclass(frozen=True)
class BowlSheet:
    """The whole sheet in words. pages : empty where a stop stands or nothing was planned; `no_plan` then says why."""

    title: str
    demo: str
    who: tuple[tuple[str, str], ...]
    care: Care
    no_plan: str
    pages: tuple[BowlPage, ...]
    left_alone: str
    notes: tuple[str, ...]
    cautions: tuple[CautionWords, ...]
    standing_order: str


def bowl_sheet(document: BeforeAfter) -> BowlSheet:
    """The bowl sheet of a visit in words."""
    plan = document.formula
    return BowlSheet(
        title="Bowl sheet",
        demo=DEMO if document.heading.demo else "",
        who=who_words(document),
        care=care_words(document),
        no_plan=no_plan_words(document),
        pages=_pages(plan) if plan is not None else (),
        left_alone=_left_alone(plan) if plan is not None else "",
        notes=mixing_notes(plan) if plan is not None else (),
        cautions=tuple(map(caution_words, usual_cautions())),
        standing_order=standing_order(),
    )


def bowl_form(document: BeforeAfter) -> PrintedForm:
    """The bowl sheet on A5, a page for each bowl, for PDF or PNG."""
    day = document.heading.day
    words = each_text(asdict(bowl_sheet(document)), printable)
    return PrintedForm(PRINTED_FORM, {**words, "day": [day.year, day.month, day.day]}, {}, day)


def render_bowl_sheet(document: BeforeAfter) -> bytes:
    """The bowl sheet as tagged PDF/A-2a. Raises OutputError where the temporary folder can't be written."""
    return bowl_form(document).pdf()


def _pages(plan: Plan) -> tuple[BowlPage, ...]:
    return tuple(
        BowlPage(bowl_words(bowl), tuple(_on_head(zone) for zone in plan.zones if zone.bowl_number == bowl.number))
        for bowl in plan.bowls
    )


def _on_head(zone: ZonePlan) -> ZoneOnHead:
    predicted = f"level {wording.level_text(zone.predicted_level)}, {wording.stage_text(zone.predicted_warmth)}"
    return ZoneOnHead(
        zone=wording.zone_text(zone.zone),
        grams=wording.grams_text(zone.grams),
        minutes=wording.minutes_text(zone.minutes_low, zone.minutes_high),
        checks=wording.checks_text(zone.first_check_minutes, zone.check_every_minutes),
        becomes=predicted,
        longer=zone.if_left_longer,
        warnings=tuple(f"{reason.message} {reason.remedy}".strip() for reason in zone.out_of_reach),
    )


def _left_alone(plan: Plan) -> str:
    """The zones that no bowl is for; "" where there are none."""
    names = [wording.zone_text(zone.zone) for zone in plan.zones if zone.bowl_number is None]
    return f"No bowl for {wording.list_text(names)}: left as it is." if names else ""
