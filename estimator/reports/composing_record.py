"""A kept visit in the words of its record: stops and cautions first, then who agreed to what, then what was done."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from calibration.findings import Severity, Verdict
from estimator.care.answers import Answer
from estimator.care.verdicts import CareWord
from estimator.records.consent_scopes import scope_texts
from estimator.records.visit_record import AnswerRecord, FindingRecord, MixedRecord, PhotoRecord, VisitRecord
from estimator.reports import wording
from estimator.reports.composing import DEMO
from estimator.reports.composing_answers import changed_facts, stated_facts
from estimator.reports.composing_kept import change_facts, clock_facts, plan_facts, readings_table, target_facts
from estimator.reports.composing_shots import SEVERITY_WORDS
from estimator.reports.pictures import is_small_jpeg
from estimator.reports.quote_wording import quote_text
from estimator.reports.record_sheet import Facts, RecordPart, RecordPhoto, RecordSheet
from estimator.reports.shapes import care_shape
from estimator.reports.sheet import Care, Remark
from estimator.toning.peroxide import STRONGEST_VOLUME, PeroxideStrength

if TYPE_CHECKING:
    from estimator.records.whole_visit import ConsentThen, WholeVisit

NO_HEALTH = (
    "The client has not agreed that health answers are kept, so the consultation and care's findings are not here."
)
NOTHING = "Nothing was written down."
SENTENCES = {
    CareWord.STOP: "The verdict of that day was stop.",
    CareWord.TEST_FIRST: "The verdict of that day: test first, then mix.",
    CareWord.CAUTION: "The verdict of that day: go on with care.",
    CareWord.CLEAR: "No rule of this program objected to what was answered that day.",
}


def compose_record(visit: "WholeVisit", with_name: bool = False) -> RecordSheet:
    """The record of one visit in words and small pictures. with_name : The client's name beside the code."""
    record = visit.record
    name = (("Name", record.client_name),) if with_name and record.client_name else ()
    when = wording.date_text(record.day)
    pictures = {_key(n): photo.thumbnail for n, photo in enumerate(record.photos) if is_small_jpeg(photo.thumbnail)}
    return RecordSheet(
        title="Visit record",
        demo=DEMO if record.demo else "",
        client=record.client_code,
        date=when,
        who=(("Client", record.client_code), *name, ("Salon", record.salon), ("Date", when)),
        care=_care(record) if visit.health and record.care_verdict else None,
        no_care="" if visit.health else NO_HEALTH,
        parts=tuple(part for part in _parts(visit) if part is not None),
        day=(record.day.year, record.day.month, record.day.day),
        pictures=pictures,
    )


def _parts(visit: "WholeVisit") -> list[RecordPart | None]:
    record = visit.record
    return [
        RecordPart("Agreed to", facts=tuple(map(_consent, visit.consents))),
        _consultation(visit) if visit.health else None,
        RecordPart("Photographs", photos=tuple(_photo(n, photo) for n, photo in enumerate(record.photos))),
        _seen(record),
        RecordPart("Readings", (READ_AS,) if record.readings else (NOTHING,), table=readings_table(record)),
        RecordPart("Wanted and planned", *_planned(record)),
        _told("Mixed and applied", tuple(_mixed(each) for each in record.mixed)),
        _told("The clock", clock_facts(record.clock)) if record.clock else None,
        RecordPart("What came of it", *_outcome(record)),
        RecordPart("Notes", record.notes) if record.notes else None,
        RecordPart("Quote", _quoted(record)) if record.quote else None,
        RecordPart("How do you know?", facts=_known(visit)),
    ]


READ_AS = "In brackets: the interval that holds nine times in ten."


def _told(heading: str, facts: Facts) -> RecordPart:
    return RecordPart(heading, () if facts else (NOTHING,), facts)


# --- care ------------------------------------------------------------------------------------------------------


def _care(record: VisitRecord) -> Care:
    """The verdict of that day and its findings, each with what was done about it."""
    word = CareWord(record.care_verdict)
    found = [finding for finding in record.findings if finding.about == "care"]
    remarks = tuple(_care_remark(finding, record) for finding in found)
    return Care(word.value.capitalize(), care_shape(word), SENTENCES[word], word is CareWord.STOP, remarks)


def _care_remark(finding: FindingRecord, record: VisitRecord) -> Remark:
    word = CareWord(finding.weight)
    answered = [_answer(each) for each in record.answers if (each.code, each.zone) == (finding.code, finding.where)]
    done = f"Answered: {'; '.join(answered)}." if answered else "No answer is written down."
    place = wording.zone_text(finding.where) if finding.where else ""
    remedy = f"{finding.remedy} {done}" if word in (CareWord.STOP, CareWord.TEST_FIRST) or answered else finding.remedy
    stop = word is CareWord.STOP
    return Remark(word.value.capitalize(), finding.message, remedy, finding.source, place, care_shape(word), stop)


def _answer(answer: AnswerRecord) -> str:
    return wording.answer_text(
        Answer(
            code=answer.code,
            who=answer.who,
            when=answer.when,
            what=answer.what,
            strength_volume=answer.strength_volume,
            place=answer.where,
            zone=answer.zone,
        )
    )


def _other_answers(record: VisitRecord) -> Facts:
    """Tests and words of doctors that stand beside no finding any more, since none was left to answer."""
    told = {(finding.code, finding.where) for finding in record.findings if finding.about == "care"}
    others = [answer for answer in record.answers if (answer.code, answer.zone) not in told]
    return tuple((f"Answered, {each.code.replace('-', ' ')}", _answer(each)) for each in others)


def _consultation(visit: "WholeVisit") -> RecordPart:
    facts = (*stated_facts(visit.record.facts), *_other_answers(visit.record))
    if visit.facts_before is None:
        return RecordPart("Consultation", ("This is the first consultation that is kept.",), facts)
    day, before = visit.facts_before
    changed = changed_facts(before, visit.record.facts)
    since = f"since {wording.date_text(day)}"
    lead = f"Changed {since}: {wording.list_text(changed)}." if changed else f"Nothing changed {since}."
    return RecordPart("Consultation", (lead,), facts)


def _consent(consent: "ConsentThen") -> tuple[str, str]:
    back = f"; taken back on {wording.date_text(consent.withdrawn_on)}" if consent.withdrawn_on else ""
    return wording.date_text(consent.given_on), f"{scope_texts()[consent.scope].what}, {consent.how}{back}"


# --- photographs -----------------------------------------------------------------------------------------------


def _key(number: int) -> str:
    return f"photo-{number}.jpg"


def _photo(number: int, photo: PhotoRecord) -> RecordPhoto:
    verdict = (("Verdict", wording.verdict_text(Verdict(photo.verdict))),) if photo.verdict else ()
    colours = wording.card_error_text(photo.held_out_de2000 or 0.0, photo.verified)
    behind = (("Colours", f"{photo.method}; {colours}"),) if photo.held_out_de2000 is not None else ()
    facts = (
        *verdict,
        *behind,
        ("Size", f"{photo.width_px} by {photo.height_px} pixels"),
        ("Pipeline", f"version {photo.pipeline_version}"),
        ("SHA-256 of the file as it came", wording.whole_hash_text(photo.original_sha256)),
    )
    word = photo.side[:1].upper() + photo.side[1:]
    alt = f"The photograph {photo.side}, small, corrected to daylight."
    return RecordPhoto(word, _key(number) if is_small_jpeg(photo.thumbnail) else "", alt, facts)


def _seen(record: VisitRecord) -> RecordPart | None:
    """What was told of the photographs and their zones that day."""
    found = [finding for finding in record.findings if finding.about != "care"]
    remarks = tuple(
        Remark(
            SEVERITY_WORDS[Severity(finding.weight)],
            finding.message,
            finding.remedy,
            finding.source,
            "" if finding.where == "photo" else wording.zone_text(finding.where),
        )
        for finding in found
    )
    return RecordPart("What the photographs lack", remarks=remarks) if remarks else None


# --- what was done ---------------------------------------------------------------------------------------------


def _planned(record: VisitRecord) -> tuple[tuple[str, ...], Facts]:
    """Targets, then the plan as it was shown; a stop hides what it is about, whatever is kept."""
    stops = {finding.where for finding in record.findings if finding.about == "care" and finding.weight == "stop"}
    content: Mapping[str, Any] = record.plan.content if record.plan else {}
    planned = {str(zone.get("zone", "")) for zone in content.get("zones", ())}
    wanted = target_facts(record.zones)
    if stops and ("" in stops or stops & planned):
        return ("There is no formula here: the answers said stop.",), wanted
    if record.plan is None:
        return ("Nothing was planned.",), wanted
    return (f"Shelf: {record.plan.shelf or 'not named'}.",), (*wanted, *plan_facts(content))


def _mixed(mixed: MixedRecord) -> tuple[str, str]:
    weighed = [f"{name} {wording.grams_text(grams)}" for name, grams in mixed.shade_grams]
    if mixed.developer_grams > 0:
        weighed.append(f"developer {_strength(mixed.developer_volume)} {wording.grams_text(mixed.developer_grams)}")
    total = sum(grams for _, grams in mixed.shade_grams) + mixed.developer_grams
    on_head = f"; {wording.plain_text(mixed.minutes)} minutes on the hair" if mixed.minutes is not None else ""
    zones = wording.list_text([wording.zone_text(zone) for zone in mixed.zones])
    note = f"; {mixed.note}" if mixed.note else ""
    words = f"{', '.join(weighed)}; {wording.grams_text(total)} in all{on_head}{note}"
    return f"Bowl {mixed.bowl_number}{f' for {zones}' if zones else ''}", words


def _strength(volume: float) -> str:
    if 0 <= volume <= STRONGEST_VOLUME:
        return wording.strength_text(PeroxideStrength.from_volume(volume))
    return f"{wording.plain_text(volume)} volume"


def _outcome(record: VisitRecord) -> tuple[tuple[str, ...], Facts]:
    facts = change_facts(record)
    return (() if facts else ("No photograph was taken after, and nothing was written down.",)), facts


def _quoted(record: VisitRecord) -> tuple[str, ...]:
    assert record.quote is not None
    return tuple(filter(None, (f"{quote_text(record.quote)}.", record.quote.text)))


def _known(visit: "WholeVisit") -> Facts:
    record = visit.record
    scales = sorted({str(reading.level["scale"]) for reading in record.readings})
    pipelines = sorted({str(reading.pipeline_version) for reading in record.readings})
    changed = f"kept with change {visit.kept_in}, last touched by change {visit.last_change}" if visit.kept_in else ""
    rows = (
        ("Visit", visit.id),
        ("In the records", changed),
        ("Program", f"version {record.program_version}"),
        ("Readings", f"pipeline version {wording.list_text(pipelines)}" if pipelines else ""),
        ("Scale of levels", wording.list_text(scales)),
        ("Colour", "CIELAB, D65, 2°, as an instrument would read a flat tress of the same hair" if scales else ""),
        ("Intervals", "hold nine times in ten" if scales else ""),
    )
    return tuple((label, words) for label, words in rows if words)
