"""From a photograph to its corrected colours: the only place that knows the order of the stages."""

import numpy as np

from calibration.cards.finding import search_cards
from calibration.cards.patches import measure_patches
from calibration.cards.sighting import CardSighting, PatchColours
from calibration.corrected import UNCORRECTED, CorrectedPhoto
from calibration.correcting.applying import TableCorrection
from calibration.correcting.choosing import ChosenCorrection, choose_correction, serving_weights
from calibration.correcting.neutral_reference import NeutralPoint, correct_by_neutral
from calibration.correcting.outliers import with_outliers_named
from calibration.correcting.shading import CardShading, measure_shading
from calibration.errors import CorrectionError
from calibration.findings import Finding, verdict_from
from calibration.judging import CardReading, judge_card, judge_no_card, neutral_only
from calibration.opening import open_photo
from calibration.photo import Photo, Step

# What the colours of a photograph are worth when nothing in it is known. [our assumption]
UNKNOWN_DE2000 = 25.0
UNKNOWN_LAB_SD = (20.0, 12.0, 15.0)


def correct_bytes(photo_bytes: bytes, neutral: NeutralPoint | None = None) -> CorrectedPhoto:
    """The corrected photograph of a file's bytes.

    Raises
    ------
    PhotoRefusedError : The bytes are not one whole photograph that this program reads.
    """
    return correct_photo(open_photo(photo_bytes), neutral)


def correct_photo(photo: Photo, neutral: NeutralPoint | None = None) -> CorrectedPhoto:
    """The photograph with its correction and the verdict on it.

    Without a card and without a neutral the colours stay as the file means them, and the verdict is `retake`.
    """
    search = search_cards(photo)
    if search.sightings:
        return _corrected_by_card(photo, search.sightings)
    refusals = judge_no_card(photo, search)
    if neutral is not None:
        return _corrected_by_neutral(photo, neutral, refusals)
    return uncorrected(photo, refusals, None, None)


def _corrected_by_card(photo: Photo, sightings: tuple[CardSighting, ...]) -> CorrectedPhoto:
    sighting = sightings[0]
    patches = measure_patches(photo, sighting)
    chosen, refusals = _chosen(patches, photo)
    if chosen is not None:
        cleaned = with_outliers_named(patches, chosen)
        if cleaned.why_not != patches.why_not:
            patches = cleaned
            chosen, refusals = _chosen(patches, photo)
    shading = None if chosen is None else _shading(patches, chosen)
    findings = (*refusals, *judge_card(photo, CardReading(sighting, patches, len(sightings), chosen, shading)))
    if chosen is None:
        return uncorrected(photo, findings, sighting, patches)
    correction = chosen.correction
    step = Step(
        "correct_by_card",
        1,
        {"method": correction.method, "edition": chosen.edition.name, "patches": int(patches.usable.sum())},
        {"held_out_de2000": correction.held_out_de2000},
    )
    verdict = verdict_from((*photo.findings, *findings))
    return CorrectedPhoto(photo, correction, verdict, sighting, patches, (*photo.steps, step))


def _chosen(patches: PatchColours, photo: Photo) -> tuple[ChosenCorrection | None, tuple[Finding, ...]]:
    try:
        return choose_correction(patches, photo.encoding), ()
    except CorrectionError as refusal:
        return None, (refusal.finding,)


def _shading(patches: PatchColours, chosen: ChosenCorrection) -> CardShading:
    usable = patches.usable[:, None]
    light = np.where(usable, patches.linear_rgb, 0.2 * chosen.reference_light) / chosen.reference_light
    return measure_shading(light, serving_weights(patches), chosen.edition)


def _corrected_by_neutral(photo: Photo, neutral: NeutralPoint, refusals: tuple[Finding, ...]) -> CorrectedPhoto:
    try:
        correction = correct_by_neutral(photo, neutral)
    except CorrectionError as refusal:
        return uncorrected(photo, (*refusals, refusal.finding), None, None)
    step = Step("correct_by_neutral", 1, {"x_px": neutral.x_px, "y_px": neutral.y_px, "radius_px": neutral.radius_px})
    # A missing card is what the neutral is for; faults of the whole frame still stand.
    kept = tuple(finding for finding in refusals if finding.where != "card" and finding.code != "no_card")
    verdict = verdict_from((*photo.findings, *kept, neutral_only()))
    return CorrectedPhoto(photo, correction, verdict, None, None, (*photo.steps, step))


def uncorrected(
    photo: Photo, findings: tuple[Finding, ...], sighting: CardSighting | None, patches: PatchColours | None
) -> CorrectedPhoto:
    encoding = photo.encoding
    covariance = np.diag(np.square(UNKNOWN_LAB_SD))
    correction = TableCorrection(UNCORRECTED, UNKNOWN_DE2000, encoding.tables, encoding.to_xyz_d65, covariance)
    verdict = verdict_from((*photo.findings, *findings))
    return CorrectedPhoto(photo, correction, verdict, sighting, patches, photo.steps)
