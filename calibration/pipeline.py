"""From a photograph to its corrected colours: the only place that knows the order of the stages."""

import numpy as np

from calibration.cards.finding import find_cards
from calibration.cards.patches import measure_patches
from calibration.cards.sighting import CardSighting
from calibration.corrected import CorrectedPhoto
from calibration.correcting.applying import TableCorrection
from calibration.correcting.choosing import choose_correction
from calibration.correcting.neutral_reference import NeutralPoint, correct_by_neutral
from calibration.errors import CorrectionError
from calibration.findings import Finding, Severity, verdict_from
from calibration.judging import judge_card, no_card
from calibration.photo import Photo, Step


def correct_bytes(photo_bytes: bytes, neutral: NeutralPoint | None = None) -> CorrectedPhoto:
    """The corrected photograph of a file's bytes.

    Raises
    ------
    PhotoRefusedError : The bytes are not one whole photograph that this program reads.
    """
    from calibration.opening import open_photo

    return correct_photo(open_photo(photo_bytes), neutral)


def correct_photo(photo: Photo, neutral: NeutralPoint | None = None) -> CorrectedPhoto:
    """The photograph with its correction and the verdict on it.

    Without a card and without a neutral the colours stay as the file means them, and the verdict is `retake`.
    """
    sightings = find_cards(photo)
    if sightings:
        return _corrected_by_card(photo, sightings[0])
    if neutral is not None:
        return _corrected_by_neutral(photo, neutral)
    return _uncorrected(photo, (no_card(),))


def _corrected_by_card(photo: Photo, sighting: CardSighting) -> CorrectedPhoto:
    patches = measure_patches(photo, sighting)
    findings = judge_card(sighting, patches)
    if patches.usable.sum() < 10:
        return _uncorrected(photo, findings)
    correction = choose_correction(patches, photo.encoding).correction
    step = Step("correct_by_card", 1, {"method": correction.method}, {"held_out_de2000": correction.held_out_de2000})
    verdict = verdict_from((*photo.findings, *findings))
    return CorrectedPhoto(photo, correction, verdict, sighting, patches, (*photo.steps, step))


def _corrected_by_neutral(photo: Photo, neutral: NeutralPoint) -> CorrectedPhoto:
    try:
        correction = correct_by_neutral(photo, neutral)
    except CorrectionError as refusal:
        return _uncorrected(photo, (no_card(), refusal.finding))
    weak = Finding(
        "neutral_only",
        Severity.CARE,
        "No card was found; the colours lean on one neutral thing.",
        "Put a 24-patch card beside the hair for a reading that can be relied on.",
    )
    step = Step("correct_by_neutral", 1, {"x_px": neutral.x_px, "y_px": neutral.y_px, "radius_px": neutral.radius_px})
    return CorrectedPhoto(photo, correction, verdict_from((*photo.findings, weak)), None, None, (*photo.steps, step))


def _uncorrected(photo: Photo, findings: tuple[Finding, ...]) -> CorrectedPhoto:
    encoding = photo.encoding
    covariance = np.diag(np.square([20.0, 12.0, 15.0]))
    correction = TableCorrection("none", 25.0, encoding.tables, encoding.to_xyz_d65, covariance)
    return CorrectedPhoto(photo, correction, verdict_from((*photo.findings, *findings)), None, None, photo.steps)
