"""The lift of the visit in hand: its plan, its strand tests and its sheet, kept by what they were made from."""

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st

from estimator.errors import BadInputError
from estimator.pages import kept_plans, kept_readings
from estimator.pages.draft import Draft, StrandEntry

if TYPE_CHECKING:
    from estimator.care.dates import Reminder
    from estimator.lifting.clock_events import Event
    from estimator.lifting.clock_store import ClockStore
    from estimator.lifting.lift_plan import LiftPlan, ZoneLift
    from estimator.reports.lift_document import JudgedStrand, LiftDocument
    from estimator.toning.targets import Target
    from estimator.visit import SeenAtCheck

RESULTS_KEPT = 24


def store() -> "ClockStore":
    """The one running clock of this salon."""
    from estimator.salon_settings import clock_store

    return clock_store()


def clock_runs() -> bool:
    """Whether there is a clock at all; nothing heavy is loaded to find out."""
    from estimator.records.place import usual_folder

    return (usual_folder() / "clock.json").exists()


def read_check(photo_bytes: bytes) -> "SeenAtCheck":
    """What one strand's photograph reads during the lift. Raises BadInputError, PhotoRefusedError."""
    from estimator import visit

    return visit.read_check(photo_bytes, visit.StrandPlace())


def start_of(lift: "ZoneLift") -> "Event":
    """The start of a planned zone's clock, at this moment. Raises BadInputError where there is no mix."""
    from estimator import visit
    from estimator.lifting.clock_store import instant_now

    return visit.start_of(lift, instant_now())


def lines_picture(visit_draft: Draft) -> str:
    """The photograph with its lines of demarcation over it, as HTML."""
    import base64

    from estimator.reports.lift_drawings import lines_over

    assert visit_draft.before is not None
    copy = kept_readings.picture(visit_draft.before)
    lines = {lift.zone: lift.lines for lift in plan(visit_draft).zones}
    read = kept_readings.reading_before(visit_draft)
    drawn = [(zone, lines.get(zone.name, ())) for zone in read.outlined]
    source = f"data:image/jpeg;base64,{base64.b64encode(copy.jpeg).decode('ascii')}"
    over = lines_over(drawn, copy.width_px, copy.height_px)
    return f'<img src="{source}" alt="The photograph with its lines of demarcation"><div class="over">{over}</div>'


def reminders(visit_draft: Draft) -> "tuple[Reminder, ...]":
    """What to do by when."""
    from estimator import visit

    return visit.reminders(kept_plans.facts(visit_draft), kept_plans.dates(visit_draft), lightener=visit_draft.lightens)


# --- plan


def lift_key(visit_draft: Draft) -> str:
    """Changes whenever a lift planned for this visit would."""
    entered = (visit_draft.laid, visit_draft.additive_percent, visit_draft.card_pitch_mm, visit_draft.strands)
    return repr((kept_plans.plan_key(visit_draft), visit_draft.own, visit_draft.dates, entered))


@st.cache_resource(max_entries=RESULTS_KEPT, show_spinner="Planning the lift")
def _plan(key: str, _draft: Draft) -> "LiftPlan":
    from estimator import visit
    from estimator.lifting.lift_plan import LiftSettings

    if _draft.before is None or not _draft.wishes:
        raise BadInputError("No zone has a target yet. Choose a level and a tone in step 5.")
    wishes = visit.LiftWishes(
        _targets(_draft),
        kept_plans.hair(_draft),
        _draft.laid,
        {tested.zone: tested.test for tested in strand_tests(_draft)},
        LiftSettings(_draft.additive_percent),
        _draft.card_pitch_mm,
    )
    return visit.plan_lift(kept_readings.reading_before(_draft), kept_plans.consultation(_draft), wishes)


def plan(visit_draft: Draft) -> "LiftPlan":
    """The lift of this visit; raises BadInputError."""
    return _plan(lift_key(visit_draft), visit_draft)


def _targets(visit_draft: Draft) -> "tuple[Target, ...]":

    return kept_plans.targets(visit_draft)


# --- strand tests


def strand_tests(visit_draft: Draft) -> "tuple[JudgedStrand, ...]":
    """The strand tests of this visit, each judged against the base that its zone's toner needs."""
    from estimator.reports.lift_document import JudgedStrand

    return tuple(
        JudgedStrand(zone, _strand_test(repr((entry, visit_draft.wishes[zone])), visit_draft, zone, entry))
        for zone, entry in visit_draft.strands.items()
        if zone in visit_draft.wishes and (entry.photos or entry.looks)
    )


@st.cache_resource(max_entries=RESULTS_KEPT, show_spinner="Reading the strand")
def _strand_test(key: str, _draft: Draft, _zone: str, _entry: StrandEntry):  # type: ignore[no-untyped-def]
    from estimator import visit
    from estimator.lifting.stopping import NOT_SEEN, Signs
    from estimator.lifting.strand import Strand, point_by_eye
    from estimator.toning.peroxide import PeroxideStrength

    target = next(target for target in _targets(_draft) if target.zone == _zone)
    strand = Strand(
        kept_plans.hair(_draft)[_zone].strand_diameter,
        PeroxideStrength.from_volume(_entry.volume),
        _entry.start_level,
        dyed=_draft.answers.get("earlier_colour", ["unknown"]) not in ([], ["none"]),
    )
    shots = tuple(visit.StrandShot(taken.minutes, taken.photo_bytes) for taken in _entry.photos)
    looks = tuple(point_by_eye(minute, level) for minute, level in _entry.looks)
    signs = Signs(stretch=_entry.stretch or NOT_SEEN["stretch"])
    return visit.judge_test_strand(strand, shots, visit.lift_base(target), looks, signs)


# --- the sheet


@dataclass(frozen=True)
class LiftSheetFiles:
    """The lift sheet, ready to be kept as files. stem : their name without its ending."""

    stem: str
    pdf: bytes
    html: str


def sheet(visit_draft: Draft) -> LiftSheetFiles:
    """The lift sheet of this visit; raises BadInputError, OutputError."""
    from estimator.reports.lift_sheet import render_lift_html, render_lift_pdf

    document = _document(visit_draft)
    stem = f"lift-{document.heading.day.isoformat()}"
    return LiftSheetFiles(stem, render_lift_pdf(document), render_lift_html(document))


def _document(visit_draft: Draft) -> "LiftDocument":
    from estimator.reports.document import Heading
    from estimator.reports.lift_document import LiftDocument

    if visit_draft.before is None:
        raise BadInputError("There is no photograph from before. Take one in step 1.")
    day = visit_draft.day or datetime.date.today()
    heading = Heading(visit_draft.client or "no code", visit_draft.salon or "no salon named", day, visit_draft.demo)
    return LiftDocument(
        heading,
        kept_readings.reading_before(visit_draft),
        plan(visit_draft),
        strand_tests(visit_draft),
        reminders(visit_draft),
    )
