"""From a visit to its report in words and drawings: every sentence, figure and drawing of both forms is made here."""

from estimator.care.cautions import Caution, first_aid, standing_order, usual_cautions
from estimator.care.verdicts import CareFinding, CareVerdict, CareWord
from estimator.reports import shapes, wording
from estimator.reports.composing_plan import plan_words
from estimator.reports.composing_shots import Shots, shots_of
from estimator.reports.composing_zones import evenness_words, shared_basis, zone_panels
from estimator.reports.document import BeforeAfter, Heading, PhotoReading
from estimator.reports.lift_wording import reminder_when
from estimator.reports.sheet import Care, CautionWords, Remark, Sheet

DEMO = "DEMO: invented client, invented salon, rendered hair"

CARE_SENTENCES = {
    CareWord.STOP: "No formula is shown while a stop stands.",
    CareWord.TEST_FIRST: "Do what is listed here before anything is mixed.",
    CareWord.CAUTION: "Go on with care: read what is listed here before mixing.",
    CareWord.CLEAR: "No rule of this program objects to what was answered.",
}


def compose(document: BeforeAfter) -> Sheet:
    """The whole report in words and drawings."""
    shots = shots_of(document)
    plan = document.formula
    return Sheet(
        title=document.title,
        demo=DEMO if document.heading.demo else "",
        who=who_words(document),
        care=care_words(document),
        shots=shots.shots,
        zones=zone_panels(document),
        evenness=evenness_words(document),
        plan=plan_words(plan) if plan is not None else None,
        no_plan=no_plan_words(document),
        cautions=tuple(map(caution_words, usual_cautions())),
        first_aid=tuple(map(caution_words, first_aid())),
        standing_order=standing_order(),
        known=_known(document, shots),
        pictures=shots.pictures,
        alike=shots.alike,
        reminders=tuple((reminder_when(due), f"{due.title}. {due.text}") for due in document.reminders),
    )


def who_words(document: BeforeAfter) -> tuple[tuple[str, str], ...]:
    """Whose visit, where and when: label and words."""
    return heading_words(document.heading)


def heading_words(heading: Heading) -> tuple[tuple[str, str], ...]:
    """The same of a heading alone."""
    return (("Client", heading.client_code), ("Salon", heading.salon), ("Date", wording.date_text(heading.day)))


def care_words(document: BeforeAfter) -> Care:
    """The verdict on the facts, and every finding."""
    return verdict_words(document.care)


def verdict_words(verdict: CareVerdict) -> Care:
    """A verdict, and every finding with the zone that it speaks of."""
    remarks = tuple(map(_care_remark, verdict.findings))
    word = verdict.verdict
    sentence = CARE_SENTENCES[word]
    if verdict.is_stop and not verdict.stops_everything:
        zones = wording.list_text([wording.zone_text(zone) for zone in verdict.stopped_zones])
        sentence = f"No formula is shown for {zones} while the stop there stands. Keep every mix off it."
    return Care(word.value.capitalize(), shapes.care_shape(word), sentence, verdict.is_stop, remarks)


def _care_remark(finding: CareFinding) -> Remark:
    answered = f" Answered: {wording.answer_text(finding.answer)}" if finding.answer is not None else ""
    return Remark(
        finding.verdict.value.capitalize(),
        finding.message + answered,
        finding.remedy,
        finding.source,
        wording.zone_text(finding.zone) if finding.zone else "",
        shapes.care_shape(finding.verdict),
        stop=finding.verdict is CareWord.STOP,
    )


def no_plan_words(document: BeforeAfter) -> str:
    """Why no formula stands here; "" where one does."""
    if document.care.is_stop and document.formula is None:
        return "There is no formula here, because the answers say stop. The reason and the remedy stand at the top."
    return "" if document.plan is not None else "Nothing was planned: no target was chosen for any zone."


def caution_words(caution: Caution) -> CautionWords:
    """One caution as a report says it."""
    return CautionWords(caution.title, caution.text, caution.source)


def _known(document: BeforeAfter, shots: Shots) -> tuple[tuple[str, str], ...]:
    """How do you know: for each photo what stands behind its colours, then the scale and the intervals."""
    rows: list[tuple[str, str]] = []
    for word, reading in shots.readings:
        rows.extend(_photo_rows(word, reading))
    scales = {read.level.scale for _, reading in shots.readings for read in reading.zones}
    if scales:
        rows.append(("Scale of levels", wording.list_text(sorted(scales))))
    rows.extend(("Readings rest on", line) for line in shared_basis(document))
    rows.append(("Colour", "CIELAB, D65, 2°, as an instrument would read a flat tress of the same hair"))
    rows.append(("Intervals", "hold nine times in ten; shown to two significant digits of their width at most"))
    return tuple(rows)


def _photo_rows(word: str, reading: PhotoReading) -> list[tuple[str, str]]:
    corrected = reading.corrected
    photo, correction = corrected.photo, corrected.correction
    card = "24-patch card found" if corrected.verified else "no card found"
    error = wording.card_error_text(correction.held_out_de2000, corrected.verified)
    encoding = photo.encoding.name + (", assumed because the file does not say" if photo.encoding.assumed else "")
    name = f"{wording.hash_text(photo.sha256)} (first digits of its SHA-256)"
    return [
        (f"{word} photo", f"{name}; {photo.file_format}, {encoding}"),
        (f"{word} colours", f"{card}; {correction.method}; {error}; pipeline version {corrected.pipeline_version}"),
    ]
