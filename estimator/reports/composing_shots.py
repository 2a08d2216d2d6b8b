"""The photographs of a report: corrected pictures of one size, outlines, numbers beside the hair, findings."""

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from calibration.corrected import CorrectedPhoto
from calibration.findings import Finding, Severity
from estimator.lifting.demarcation import Line
from estimator.reports import wording
from estimator.reports.aligning import can_be_laid, hair_shown, laid_as, window_of
from estimator.reports.document import BeforeAfter, PhotoReading
from estimator.reports.lift_drawings import lines_over
from estimator.reports.lift_wording import line_text
from estimator.reports.pictures import (
    Picture,
    card_picture,
    corrected_picture,
    encode_jpeg,
    outlines_svg,
    place_tags,
)
from estimator.reports.sheet import AlikeShot, Remark, Shot, TagWords

SEVERITY_WORDS = {Severity.RETAKE: "Retake", Severity.CARE: "Care", Severity.NOTE: "Note"}
ALIKE_PX = 1000  # longer side of the photographs from which the two pictures of one cut are taken
BEYOND_SCREEN_SHARE = 0.005  # from here on it is said that a screen can't show some of the colours


@dataclass(frozen=True, eq=False)
class ZoneShot:
    """One photograph with what is drawn over it. layers : SVG, each over the whole picture, the lowest first."""

    jpeg: bytes
    layers: tuple[str, ...]
    frame_ratio: float
    alt: str


@dataclass(frozen=True, eq=False)
class Shots:
    """All photographs of a report, with their JPEG bytes by key. readings : the word of each and what was read."""

    shots: tuple[Shot, ...]
    pictures: dict[str, bytes]
    readings: tuple[tuple[str, PhotoReading], ...]
    alike: tuple[AlikeShot, ...]


def shots_of(document: BeforeAfter) -> Shots:
    """Before, and after where there is one, in frames of one shape."""
    readings = [("Before", document.before)]
    if document.after is not None:
        readings.append(("After", document.after))
    # Decoding, arithmetic and encoding all let go of the interpreter, so two photographs take little longer than one.
    with ThreadPoolExecutor(len(readings)) as pool:
        pairs = list(pool.map(_pictures_of, [photo.corrected for _, photo in readings]))
    # Both lie in a frame as broad as the broadest, so that they stand side by side at one size.
    frame_ratio = max(picture.width_px / picture.height_px for picture, _ in pairs)
    numbers = zone_numbers(document)
    shots, pictures = [], {}
    for (word, reading), (picture, card) in zip(readings, pairs, strict=True):
        key = word.lower()
        pictures[f"{key}.jpg"] = picture.jpeg
        if card is not None:
            pictures[f"{key}-card.jpg"] = card.jpeg
        shots.append(_shot(word, reading, (picture, card), frame_ratio, numbers))
    alike = laid_alike(document)
    pictures |= {shot.jpeg: jpeg for shot, jpeg in alike}
    return Shots(tuple(shots), pictures, tuple(readings), tuple(shot for shot, _ in alike))


def laid_alike(document: BeforeAfter) -> tuple[tuple[AlikeShot, bytes], ...]:
    """The hair before and after with its surroundings, the second moved, turned and cut as the first.

    Empty without an after photograph, and where the two show the head from another side.
    """
    if document.after is None or not (document.before.outlined and document.after.outlined):
        return ()
    first, second = (hair_shown(side, "", ALIKE_PX) for side in (document.before, document.after))
    if not can_be_laid(second, first):
        return ()
    sides = {"Before": first, "After": laid_as(second, first)}
    window = window_of([side.hair for side in sides.values()])
    alt = "{}: the hair, corrected to daylight, in the same cut as the other."
    cut = {word: side.srgb[window] for word, side in sides.items()}
    return tuple(
        (
            AlikeShot(word, f"{word.lower()}-alike.jpg", alt.format(word), srgb.shape[1] / srgb.shape[0]),
            encode_jpeg(np.ascontiguousarray(srgb)),
        )
        for word, srgb in cut.items()
    )


def zone_shot(reading: PhotoReading, lines: Mapping[str, tuple[Line, ...]]) -> ZoneShot:
    """The photograph with its zones outlined and the lines of demarcation of each zone across it."""
    picture = corrected_picture(reading.corrected)
    photo = reading.corrected.photo
    drawn = [(zone, lines.get(zone.name, ())) for zone in reading.outlined]
    names = wording.list_text([wording.zone_text(zone.name) for zone in reading.outlined])
    told = "; ".join(f"{wording.zone_text(zone.name)}: {line_text(line)}" for zone, found in drawn for line in found)
    return ZoneShot(
        picture.jpeg,
        (outlines_svg(reading.outlined, reading.corrected, ()), lines_over(drawn, photo.width_px, photo.height_px)),
        picture.width_px / picture.height_px,
        f"The photograph with its zones outlined: {names or 'none'}. {told or 'No line of demarcation is seen'}.",
    )


def _pictures_of(corrected: CorrectedPhoto) -> tuple[Picture, Picture | None]:
    return corrected_picture(corrected), card_picture(corrected)


def zone_numbers(document: BeforeAfter) -> dict[str, int]:
    """A number for each zone, the same in both photographs."""
    names = [zone.name for reading in (document.before, document.after) if reading for zone in reading.outlined]
    return {name: number for number, name in enumerate(dict.fromkeys(names), 1)}


def _shot(
    word: str,
    reading: PhotoReading,
    pictures: tuple[Picture, Picture | None],
    frame_ratio: float,
    numbers: dict[str, int],
) -> Shot:
    corrected, (picture, card) = reading.corrected, pictures
    tags = place_tags(reading.outlined, corrected)
    names = wording.list_text([f"{numbers[zone.name]} {wording.zone_text(zone.name)}" for zone in reading.outlined])
    return Shot(
        word=word,
        jpeg=f"{word.lower()}.jpg",
        alt=f"{word}: the photograph corrected to daylight, with its zones outlined: {names or 'none'}.",
        breadth_percent=100 * picture.width_px / picture.height_px / frame_ratio,
        frame_ratio=frame_ratio,
        outlines=outlines_svg(reading.outlined, corrected, tags),
        tags=tuple(TagWords(numbers[tag.zone], 100 * tag.x, 100 * tag.y) for tag in tags),
        card_jpeg=f"{word.lower()}-card.jpg" if card is not None else "",
        verdict=wording.verdict_text(corrected.verdict.verdict),
        error=wording.card_error_text(corrected.correction.held_out_de2000, corrected.verified),
        notes=tuple(_notes(reading, picture)),
        remarks=tuple(map(finding_remark, (*corrected.verdict.findings, *reading.unread))),
    )


def _notes(reading: PhotoReading, picture: Picture) -> list[str]:
    notes = []
    if not reading.corrected.verified:
        notes.append("Unverified: no card stands behind these colours.")
    if picture.beyond_screen_share > BEYOND_SCREEN_SHARE:
        share = wording.share_text(picture.beyond_screen_share)
        notes.append(f"{share} of the picture is brighter or more vivid than a screen can show.")
    if any(zone.proposed for zone in reading.outlined):
        notes.append("The outline was proposed by the program and confirmed by nobody.")
    return notes


def finding_remark(finding: Finding) -> Remark:
    """A finding of a capture or a zone, in the words of the report."""
    place = "" if finding.where == "photo" else wording.zone_text(finding.where)
    return Remark(SEVERITY_WORDS[finding.severity], finding.message, finding.remedy, finding.source, place)
