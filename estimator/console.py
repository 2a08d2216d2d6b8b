"""What the command prints: tables for people, CSV and JSON for programs. Every figure goes through reports.wording."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from calibration.findings import Finding, Severity
from calibration.station import LearnedStation
from estimator.batch import rows_of_photo
from estimator.care.cautions import Caution, first_aid, standing_order, usual_cautions
from estimator.care.dates import Reminder
from estimator.care.jurisdictions import PlaceLimits
from estimator.care.verdicts import CareVerdict, CareWord
from estimator.files import write_text
from estimator.reading.comparing import ZoneDifference
from estimator.reading.zone_reading import NINE_IN_TEN
from estimator.reports import lift_wording, wording
from estimator.reports.explaining_words import explanation_lines
from estimator.scale.swatch_ring import RingFit
from estimator.spreadsheet_cells import csv_text
from estimator.toning.plan import Bowl, Plan, ZonePlan
from estimator.visit import CheckedPlan, PhotoReading, ReadZone, explain
from estimator.visit_file import VisitOutcome

WORD_FOR = {Severity.RETAKE: "retake", Severity.CARE: "with care", Severity.NOTE: "note"}
_SHAPE = {
    CareWord.STOP: "■ STOP",
    CareWord.TEST_FIRST: "▲ TEST FIRST",
    CareWord.CAUTION: "◆ CAUTION",
    CareWord.CLEAR: "● CLEAR",
}

_console = Console(highlight=False, soft_wrap=False)


def _table(*columns: str) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, expand=False)
    for column in columns:
        table.add_column(column, overflow="fold")
    return table


def table_of(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """A table of plain words."""
    table = _table(*columns)
    for cells in rows:
        table.add_row(*map(Text, cells))
    _console.print(table)


def say(text: str = "", style: str = "") -> None:
    """One line, as it is."""
    _console.print(Text(text, style=style))


def print_reading(photo: str, reading: PhotoReading) -> None:
    """The verdict with every finding, and the table of zones."""
    corrected = reading.corrected
    say(f"{photo}: {wording.verdict_text(corrected.verdict.verdict)}", "bold")
    if not reading.refused:
        error = wording.card_error_text(corrected.correction.held_out_de2000, corrected.verified)
        say(f"Corrected by {corrected.correction.method}; {error}.")
    for finding in (*corrected.verdict.findings, *reading.unread):
        _print_finding(finding)
    if reading.zones:
        _console.print(_zone_table(reading))
        _console.print(_lab_table(reading))
        say("Intervals hold nine times in ten. " + f"Level stands on the {reading.zones[0].level.scale}.")
    if reading.evenness is not None:
        say(f"Between zones: {wording.evenness_text(reading.evenness)}.")
    for read in reading.zones:
        for finding in read.reading.findings:
            _print_finding(finding)
        for told in read.parts:
            say(f"    {wording.part_text(told.part, told.level, told.warmth)}")


def _zone_table(reading: PhotoReading) -> Table:
    table = _table("zone", "level", "warmth left", "within the zone")
    for read in reading.zones:
        cells = (
            _zone_name(read),
            wording.level_text(read.level),
            wording.stage_text(read.warmth),
            wording.spread_text(read.reading),
        )
        table.add_row(*map(Text, cells))
    return table


def _lab_table(reading: PhotoReading) -> Table:
    table = _table("zone", "L*", "a*", "b*")
    for read in reading.zones:
        lab = zip(read.reading.lab_d65, read.reading.lab_low, read.reading.lab_high, strict=True)
        cells = [wording.interval_text(float(value), float(low), float(high)) for value, low, high in lab]
        table.add_row(*map(Text, (_zone_name(read), *cells)))
    return table


def _zone_name(read: ReadZone) -> str:
    proposed = " (proposed)" if read.zone.proposed else ""
    return wording.zone_text(read.name) + proposed + ("" if read.reading.verified else " (unverified)")


def _print_finding(finding: Finding) -> None:
    place = "" if finding.where in ("photo", "card") else f"{wording.zone_text(finding.where)}: "
    say(f"  {WORD_FOR[finding.severity]} [{finding.code}] {place}{finding.message} {finding.remedy}")


def print_reading_json(photo: str, reading: PhotoReading) -> None:
    """The same reading as rows of JSON, with the names of the CSV's columns."""
    document = {
        "photo": photo,
        "verdict": reading.corrected.verdict.verdict.value,
        "findings": [_finding_record(finding) for finding in reading.corrected.verdict.findings],
        "zones": [row for row in rows_of_photo(photo, reading) if row["zone"]],
        "why": _why(reading),
        "two_colours": [_parts_record(read) for read in reading.zones if read.parts],
    }
    print(json.dumps(document, ensure_ascii=False, indent=1))


def print_explanations(reading: PhotoReading) -> None:
    """Three sentences for each zone: what its reading rests on and what would make it tighter."""
    why = _why(reading)
    for read in reading.zones:
        say(wording.zone_text(read.name), "bold")
        for line in why[read.name]:
            say(f"  {line}")


def _why(reading: PhotoReading) -> dict[str, Sequence[str]]:
    """The sentences for each zone; of several photographs what the joint reading rests on."""
    basis: dict[str, Sequence[str]] = {read.name: read.reading.basis for read in reading.zones}
    return basis | {told.zone: explanation_lines(told) for told in explain(reading)}


def _parts_record(read: ReadZone) -> dict[str, Any]:
    parts = [
        {
            "place": told.part.place,
            "share": [round(share, 3) for share in (told.part.share, told.part.share_low, told.part.share_high)],
            "lab_d65": [round(float(value), 3) for value in told.part.lab_d65],
            "level": [round(value, 3) for value in (told.level.level, told.level.level_low, told.level.level_high)],
            "stage": told.warmth.stage,
        }
        for told in read.parts
    ]
    return {"zone": read.name, "parts": parts}


def _finding_record(finding: Finding) -> dict[str, str]:
    told = {"message": finding.message, "remedy": finding.remedy}
    return {"code": finding.code, "severity": finding.severity.value, **told}


def print_differences(differences: Sequence[ZoneDifference]) -> None:
    """What changed in each zone, with the difference's own interval."""
    table = _table("zone", "change", "how")
    for change in differences:
        cells = (wording.zone_text(change.zone), wording.change_text(change), wording.direction_text(change))
        table.add_row(*map(Text, cells))
    _console.print(table)
    for change in differences:
        say(f"  {change.zone}: {wording.lab_difference_text(change)}")


def print_scale(fit: RingFit) -> None:
    """Every row of a fitted scale, and what a person should know of it."""
    table = _table("level", "L*", "from")
    for level, lightness, sd, source in zip(
        fit.scale.levels, fit.scale.lightness, fit.scale.lightness_sd, fit.sources, strict=True
    ):
        half = NINE_IN_TEN * sd
        shown = wording.interval_text(lightness, lightness - half, lightness + half)
        table.add_row(*map(Text, (wording.plain_text(level), shown, source)))
    _console.print(table)
    for finding in fit.findings:
        _print_finding(finding)


def print_station(learned: LearnedStation) -> None:
    """What a station's profile is worth, against the photos' own corrections."""
    profile, count = learned.profile, len(learned.profile.photos_sha256)
    say(f"{profile.name}: learned from {count} photos, {profile.model.name}.", "bold")
    say(
        f"Error in a new photo {wording.plain_text(profile.stated_de2000)} ΔE2000; the photos' own corrections "
        f"{wording.plain_text(learned.own_de2000)}. Keep the camera, its settings and the lamp as they are."
    )


def print_corrections(found: Sequence[dict[str, Any]]) -> None:
    """One line for each photograph: verdict, card, error."""
    table = _table("photo", "verdict", "card", "error (ΔE)", "findings")
    for row in found:
        table.add_row(*(Text(str(row[key])) for key in ("photo", "verdict", "card", "held_out_de2000", "findings")))
    _console.print(table)


def print_care(verdict: CareVerdict) -> None:
    """The verdict on the facts, with every finding, the worst first."""
    say(f"Care: {_SHAPE[verdict.verdict]}", "bold")
    for finding in verdict.findings:
        zone = f"{wording.zone_text(finding.zone)}: " if finding.zone else ""
        say(f"  {finding.verdict.value} [{finding.code}] {zone}{finding.message} {finding.remedy}")


def print_plan(checked: CheckedPlan) -> None:
    """The bowls to mix and what each zone becomes; behind a stop only the stop."""
    if checked.plan is None:
        say("No formula is shown while a stop stands. First aid is always shown.", "bold")
        return
    for kept_back in checked.withheld:
        say(
            f"No formula is shown for {wording.zone_text(kept_back)} while its stop stands; keep every mix off it.",
            "bold",
        )
    for bowl in checked.plan.bowls:
        _print_bowl(bowl)
    _console.print(_plan_table(checked.plan))
    for zone in checked.plan.zones:
        for reason in zone.out_of_reach:
            say(f"  {zone.zone}: {reason.message} {reason.remedy}")
    for note in checked.plan.notes:
        say(f"  {note}")


def _print_bowl(bowl: Bowl) -> None:
    say(f"Bowl {bowl.number}, for {', '.join(bowl.zones)}: {wording.parts_text(bowl.parts)}", "bold")
    grams = ", ".join(f"{name} {wording.grams_text(grams)}" for name, grams in bowl.shade_grams)
    developer = f"developer {wording.grams_text(bowl.developer_grams)} of {wording.strength_text(bowl.developer)}"
    say(f"  weigh {grams}, {developer} ({bowl.ratio_text}); {wording.grams_text(bowl.total_grams)} in all")
    say(f"  on the head {wording.strength_text(bowl.on_head)}; {bowl.kind.value}")


def _plan_table(plan: Plan) -> Table:
    table = _table("zone", "bowl", "target", "predicted", "odds", "minutes")
    for zone in plan.zones:
        table.add_row(*(Text(cell) for cell in _plan_cells(zone)))
    return table


def _plan_cells(zone: ZonePlan) -> tuple[str, ...]:
    bowl = str(zone.bowl_number) if zone.bowl_number is not None else "none"
    minutes = wording.minutes_text(zone.minutes_low, zone.minutes_high) if zone.bowl_number is not None else ""
    return (
        zone.zone,
        bowl,
        wording.target_text(zone.target),
        f"{wording.level_text(zone.predicted_level)}\n{wording.stage_text(zone.predicted_warmth)}",
        wording.odds_text(zone.odds_inside),
        minutes,
    )


def print_cautions(title: str, cautions: Sequence[Caution]) -> None:
    """Cautions that stand beside every formula, or first aid."""
    say(title, "bold")
    for caution in cautions:
        say(f"  {caution.title}: {caution.text}")


def print_visit(name: str, outcome: VisitOutcome) -> None:
    """A whole visit: readings, care, bowls with their cautions, and what changed."""
    document = outcome.document
    if document.heading.demo:
        say("DEMO DATA: the salon, the client and the hair are invented.", "bold reverse")
    say(f"{document.heading.salon}, {document.heading.client_code}, {wording.date_text(document.heading.day)}")
    print_reading(f"{name}, before", outcome.before)
    print_care(document.care)
    if outcome.checked.plan is not None or document.care.is_stop:
        print_plan(outcome.checked)
    if outcome.checked.plan is not None:
        print_cautions(standing_order(), usual_cautions())
    print_cautions("First aid", first_aid())
    if outcome.after is not None:
        print_reading(f"{name}, after", outcome.after)
    if document.differences:
        print_differences(document.differences)
    print_reminders(outcome.reminders)


def print_reminders(reminders: Sequence[Reminder]) -> None:
    """What to do by when, the soonest first."""
    for reminder in reminders:
        say(f"{lift_wording.reminder_when(reminder)}: {reminder.title}. {reminder.text}")


def print_limits(place: PlaceLimits) -> None:
    """What the law of a place allows: each figure with what it is counted as, and what to do before resting on it."""
    say(f"{place.name[:1].upper()}{place.name[1:]}{': ' + place.act if place.act else ''}", "bold")
    if place.as_of is not None:
        say(f"Figures as of {wording.date_text(place.as_of)}.")
    rows = []
    for limit in place.limits:
        look_up = " (look it up: not read in a published text)" if limit.to_look_up else ""
        counted = f"{wording.plain_text(limit.figure)} {limit.unit}, {limit.counted}"
        rows.append((limit.entry, limit.substance, counted, limit.who, limit.warning + look_up))
    if rows:
        table_of(("entry", "substance", "at most", "who", "warning"), rows)
    say(place.note)


def print_written(paths: Sequence[Path]) -> None:
    """Where the report lies."""
    for path in paths:
        say(f"Report: {path}")


def write_rows(records: Sequence[dict[str, Any]], out: Path) -> None:
    """Rows as CSV, whole or not at all. An empty list writes the bare file."""
    write_text(out, csv_text(list(records[0]) if records else [], records))
    print(f"{len(records)} rows written to {out}")
