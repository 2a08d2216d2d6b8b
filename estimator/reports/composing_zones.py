"""The zones of a report: readings in words, drawings on one scale for all zones, and what changed."""

from collections import Counter
from collections.abc import Sequence

import numpy as np

from estimator.reading.comparing import ZoneDifference
from estimator.reports import wording
from estimator.reports.composing_shots import finding_remark, zone_numbers
from estimator.reports.document import BeforeAfter, ReadZone
from estimator.reports.drawings import (
    Patch,
    PlanePoint,
    PlaneRange,
    ProfileRow,
    StripRow,
    ab_plane,
    level_strip,
    plane_range,
    roots_to_ends,
    shown_text,
    swatches,
)
from estimator.reports.sheet import ReadingRow, ZonePanel
from estimator.toning.plan import ZonePlan

Read = tuple[str, ReadZone]  # "before" or "after", and what was read
MARKS = {"before": "square", "after": "disc"}


def zone_panels(document: BeforeAfter) -> tuple[ZonePanel, ...]:
    """One panel for each zone that was read in either photograph."""
    reads = {name: _reads_of(document, name) for name in zone_numbers(document)}
    aims = {aim.zone: aim for aim in document.formula.zones} if document.formula else {}
    points = {name: _points(found, aims.get(name)) for name, found in reads.items() if found}
    shown = plane_range(point for found in points.values() for point in found)
    changes = {change.zone: change for change in document.differences}
    return tuple(
        _panel(document, name, reads[name], (points[name], shown), (changes.get(name), aims.get(name)))
        for name in points
    )


def shared_basis(document: BeforeAfter) -> tuple[str, ...]:
    """What more than one reading rests on; what one alone rests on stands in its own panel."""
    photos = [photo for photo in (document.before, document.after) if photo is not None]
    count = Counter(line for photo in photos for read in photo.zones for line in read.reading.basis)
    return tuple(line for line, times in count.items() if times > 1)


def evenness_words(document: BeforeAfter) -> tuple[str, ...]:
    """How well the zones match, before and after."""
    photos = (("Before", document.before), ("After", document.after))
    found = [(word, photo.evenness) for word, photo in photos if photo is not None]
    return tuple(f"{word}: {wording.evenness_text(evenness)}." for word, evenness in found if evenness is not None)


def _reads_of(document: BeforeAfter, name: str) -> list[Read]:
    both = (("before", document.before), ("after", document.after))
    return [(word, read) for word, reading in both if reading for read in reading.zones if read.zone.name == name]


def _points(reads: Sequence[Read], aim: ZonePlan | None) -> list[PlanePoint]:
    points = [
        PlanePoint(word, read.reading.lab_d65, read.reading.covariance, MARKS[word], read.reading.verified)
        for word, read in reads
    ]
    if aim is not None:
        points.append(PlanePoint("target", np.asarray(aim.target_lab_d65), None, "ring"))
        points.append(PlanePoint("predicted", np.asarray(aim.predicted_lab_d65), aim.predicted_covariance, "cross"))
    return points


def _panel(
    document: BeforeAfter,
    name: str,
    reads: list[Read],
    plane: tuple[list[PlanePoint], PlaneRange],
    aims: tuple[ZoneDifference | None, ZonePlan | None],
) -> ZonePanel:
    change, aim = aims
    target_level = aim.target.level if aim is not None else None
    rows = [StripRow(word, read.level, read.reading.verified) for word, read in reads]
    profiles = [ProfileRow(word, read.reading.profile) for word, read in reads if read.reading.profile]
    return ZonePanel(
        number=zone_numbers(document)[name],
        name=wording.zone_text(name),
        rows=tuple(_row(word, read) for word, read in reads),
        change=wording.change_text(change) if change is not None else "",
        change_details=_change_details(change, reads) if change is not None else (),
        swatches=swatches([_patch(word, read) for word, read in reads]),
        strip=level_strip(rows, document.scale_lightness, target_level),
        plane=ab_plane(*plane),
        roots_to_ends=roots_to_ends(profiles) if profiles else "",
        notes=(*_notes(reads), *_own_basis(reads, shared_basis(document))),
        remarks=tuple(finding_remark(finding) for _, read in reads for finding in read.reading.findings),
    )


def _change_details(change: ZoneDifference, reads: Sequence[Read]) -> tuple[str, ...]:
    details = [wording.direction_text(change), wording.lab_difference_text(change)]
    if change.delta_e_2000 > wording.LARGE_CHANGE_DE2000 and len(reads) == 2:
        details.append(wording.large_change_text(reads[0][1].reading.lab_d65, reads[1][1].reading.lab_d65))
    return tuple(details)


def _row(word: str, read: ReadZone) -> ReadingRow:
    return ReadingRow(
        when=word,
        level=wording.level_text(read.level),
        stage=wording.stage_text(read.warmth),
        strength=wording.chroma_text(read.warmth),
        within=wording.spread_text(read.reading),
        lab=wording.lab_interval_text(read.reading),
        verified=read.reading.verified,
    )


def _patch(word: str, read: ReadZone) -> Patch:
    lightness, red_green, yellow_blue = (float(number) for number in read.reading.lab_d65)
    unsure = () if read.reading.verified else ("unverified",)
    lines = (word, f"level {wording.number_text(read.level.level, 1)}", *unsure)
    return Patch((lightness, red_green, yellow_blue), lines, read.reading.verified)


def _own_basis(reads: Sequence[Read], shared: tuple[str, ...]) -> list[str]:
    return [f"{word.capitalize()}: {line}" for word, read in reads for line in read.reading.basis if line not in shared]


def _notes(reads: Sequence[Read]) -> list[str]:
    notes = []
    for word, read in reads:
        if not read.reading.verified:
            notes.append(f"{word.capitalize()}: unverified, no card stands behind this reading.")
        notes.extend(
            f"{word.capitalize()}, {wording.part_text(told.part, told.level, told.warmth)}." for told in read.parts
        )
        shown = shown_text(read.reading.lab_d65)
        if shown:
            notes.append(f"{word.capitalize()}: this colour is {shown}.")
        if read.reading.proposed:
            notes.append(f"{word.capitalize()}: the outline was proposed and confirmed by nobody.")
    return notes
