"""The lift sheet: care first, then what is weighed for each zone, when to look, the curves, and lines not to cross.

One composition in words, set twice: as one HTML file and as tagged PDF. A stop hides what it is about.
"""

from dataclasses import asdict, dataclass, field, replace

from estimator.care.cautions import first_aid, standing_order, usual_cautions
from estimator.care.verdicts import verdict_from
from estimator.lifting.lift_plan import LiftPlan, ZoneLift
from estimator.lifting.lightener_bowl import LightenerBowl
from estimator.lifting.stopping import StopCall
from estimator.lifting.strand_test import StrandTest
from estimator.reports import lift_wording, wording
from estimator.reports.composing import DEMO, caution_words, heading_words, verdict_words
from estimator.reports.composing_shots import zone_shot
from estimator.reports.lettering import each_text, printable
from estimator.reports.lift_document import JudgedStrand, LiftDocument
from estimator.reports.lift_drawings import Marked, lift_curve
from estimator.reports.page_form import page
from estimator.reports.sheet import BowlWords, Care, CautionWords, Remark, Weighing
from estimator.reports.typesetting import PrintedForm

NAME = "lift_sheet"
NO_MIX = "Where a stop stands no mix, no strength and no minutes are shown. The reason stands at the top."


@dataclass(frozen=True)
class LiftZoneWords:
    """One zone. order : "1st" and so on; "" without a mix. facts : label and words. curve : SVG or ""."""

    zone: str
    order: str
    reach: str
    mix: tuple[tuple[str, str], ...]
    facts: tuple[tuple[str, str], ...]
    lines: tuple[tuple[str, str], ...]
    curve: str
    basis: str
    remarks: tuple[Remark, ...]
    hidden: str


@dataclass(frozen=True)
class StrandWords:
    """One test strand: its curve and what follows from it."""

    zone: str
    can: str
    curve: str
    facts: tuple[tuple[str, str], ...]
    remarks: tuple[Remark, ...]


@dataclass(frozen=True)
class LiftSheet:
    """The whole sheet in words and drawings. outlines : Zones and lines over the picture, as SVG."""

    title: str
    demo: str
    who: tuple[tuple[str, str], ...]
    care: Care
    no_plan: str
    bowls: tuple[BowlWords, ...]
    zones: tuple[LiftZoneWords, ...]
    strands: tuple[StrandWords, ...]
    notes: tuple[str, ...]
    reminders: tuple[tuple[str, str], ...]
    outlines: tuple[str, ...]
    frame_ratio: float
    alt: str
    cautions: tuple[CautionWords, ...]
    first_aid: tuple[CautionWords, ...]
    standing_order: str
    known: tuple[tuple[str, str], ...]
    pictures: dict[str, bytes] = field(repr=False)


def lift_sheet(document: LiftDocument) -> LiftSheet:
    """The sheet of a lift in words and drawings."""
    plan = document.plan
    shot = zone_shot(document.reading, {lift.zone: lift.lines for lift in plan.zones} if plan is not None else {})
    return LiftSheet(
        title=document.title,
        demo=DEMO if document.heading.demo else "",
        who=heading_words(document.heading),
        care=verdict_words(plan.care if plan is not None else verdict_from([])),
        no_plan=_no_plan(plan),
        bowls=tuple(map(_bowl, plan.bowls)) if plan is not None else (),
        zones=tuple(map(_zone, plan.zones)) if plan is not None else (),
        strands=tuple(map(_strand, document.tests)),
        notes=plan.notes if plan is not None else (),
        reminders=tuple((lift_wording.reminder_when(due), f"{due.title}. {due.text}") for due in document.reminders),
        outlines=shot.layers,
        frame_ratio=shot.frame_ratio,
        alt=shot.alt,
        cautions=tuple(map(caution_words, usual_cautions())),
        first_aid=tuple(map(caution_words, first_aid())),
        standing_order=standing_order(),
        known=_known(document),
        pictures={"zones.jpg": shot.jpeg},
    )


def render_lift_html(document: LiftDocument) -> str:
    """The sheet as one HTML file that needs nothing else."""
    sheet = lift_sheet(document)
    return page(NAME, asdict(replace(sheet, pictures={})), sheet.pictures, style="before_after")


def lift_form(document: LiftDocument) -> PrintedForm:
    """The sheet on A4, for PDF or PNG."""
    sheet, day = lift_sheet(document), document.heading.day
    words = each_text(asdict(replace(sheet, pictures={})), printable)
    return PrintedForm(f"{NAME}.typ", {**words, "day": [day.year, day.month, day.day]}, sheet.pictures, day)


def render_lift_pdf(document: LiftDocument) -> bytes:
    """The sheet as tagged PDF/A-2a. Raises OutputError where the temporary folder can't be written."""
    return lift_form(document).pdf()


def _no_plan(plan: LiftPlan | None) -> str:
    if plan is None:
        return "The photograph has to be taken again; nothing was planned from it."
    if plan.hidden:
        return NO_MIX
    return "" if plan.bowls else "No zone needs a lift, or none may be lifted."


# --- bowls and zones


def _bowl(bowl: LightenerBowl) -> BowlWords:
    whole = bowl.whole
    fresh = wording.number_text(bowl.fresh_minutes, 0)
    half = "half of it mixed fresh for the second half of the head" if bowl.batches > 1 else "mixed fresh"
    return BowlWords(
        number=bowl.number,
        zones=wording.list_text([wording.zone_text(zone) for zone in bowl.zones]),
        kind=f"lightener; {half}; used within {fresh} minutes",
        lines=tuple(Weighing(what, "", grams) for what, grams in lift_wording.mix_lines(whole)),
        total=wording.grams_text(whole.total_grams),
        ratio=whole.ratio_text,
        on_head=wording.strength_text(whole.on_head),
    )


def _zone(lift: ZoneLift) -> LiftZoneWords:
    shown = lift.mix is not None and lift.forecast is not None and lift.most_minutes is not None
    return LiftZoneWords(
        zone=wording.zone_text(lift.zone),
        order=f"{lift.order}" if lift.order is not None else "",
        reach=lift_wording.reachable_text(lift),
        mix=lift_wording.mix_lines(lift.mix) if lift.mix is not None else (),
        facts=_facts(lift),
        lines=tuple((lift_wording.line_text(line), line.handling) for line in lift.lines),
        curve=_curve(lift) if shown else "",
        basis=lift.basis,
        remarks=tuple(Remark("Know", reason.message, reason.remedy) for reason in lift.reasons),
        hidden="Stopped: no mix is shown for this zone." if lift.care.is_stop else "",
    )


def _facts(lift: ZoneLift) -> tuple[tuple[str, str], ...]:
    now = wording.level_text(lift.level_now)
    aim = f"level {wording.plain_text(lift.target.level)}, {lift.target.tone}"
    rows = [("Now", f"level {now}"), ("Goal", aim)]
    if lift.mix is not None and lift.forecast is not None and lift.most_minutes is not None:
        every = lift.check_every_minutes or 0.0
        ratio = f"powder to developer {lift.mix.ratio_text}; {wording.strength_text(lift.mix.on_head)} on the head"
        rows += [
            ("Mix", ratio),
            ("Laid", lift_wording.laid_text(lift.laid)),
            ("Looks", wording.checks_text(lift.first_check_minutes or every, every)),
            ("At most", lift_wording.most_minutes_text(lift.most_minutes)),
            ("Rinse", lift.forecast.message),
            ("Odds", f"{wording.odds_text(lift.forecast.odds)} that today's level is reached by then"),
            ("Cost", lift_wording.bonds_text(lift.forecast)),
        ]
    return tuple(rows)


def _curve(lift: ZoneLift) -> str:
    assert lift.curve is not None
    rinse = lift.forecast.rinse_minutes if lift.forecast is not None else None
    return lift_curve(lift.curve, Marked(lift.level_today, lift.most_minutes, rinse))


# --- strands


def _strand(tested: JudgedStrand) -> StrandWords:
    test = tested.test
    marked = Marked(test.reach.level, None, test.forecast.rinse_minutes)
    return StrandWords(
        zone=wording.zone_text(tested.zone),
        can=test.can,
        curve=lift_curve(test.curve, marked),
        facts=strand_facts(test),
        remarks=tuple(map(_stop_remark, test.stops)),
    )


def strand_facts(test: StrandTest) -> tuple[tuple[str, str], ...]:
    """What a test strand tells: when the target is reached, when to rinse, what it costs, what it rests on."""
    return (
        ("Reaches", lift_wording.reach_text(test.reach)),
        ("Rinse", test.forecast.message),
        ("Harm", lift_wording.outrun_text(test.forecast)),
        ("Cost", lift_wording.bonds_text(test.forecast)),
        ("Rests on", test.curve.basis),
    )


def _stop_remark(call: StopCall) -> Remark:
    return Remark("Stop", call.message, call.remedy, call.source, stop=True)


def _known(document: LiftDocument) -> tuple[tuple[str, str], ...]:
    corrected = document.reading.corrected
    name = wording.hash_text(corrected.photo.sha256)
    error = wording.card_error_text(corrected.correction.held_out_de2000, corrected.verified)
    return (
        ("Photograph", f"{name} (first digits of its SHA-256); {error}"),
        ("Curves", "a model of how pigment leaves a strand, fitted to what was seen"),
        ("Strengths, visits, minutes", "common practice; the maker's leaflet and the strand stand above them"),
        ("Intervals", "hold nine times in ten"),
    )
