"""Colours that lean on one thing a person points at: a grey card, or something neutral. Never `usable`."""

from calibration.corrected import CorrectedPhoto
from calibration.correcting.applying import TableCorrection
from calibration.correcting.grey_card import GreyCardPoint, correct_by_grey_card
from calibration.correcting.neutral_reference import NeutralPoint, correct_by_neutral
from calibration.errors import CorrectionError
from calibration.findings import Finding, Severity, verdict_from
from calibration.judging import neutral_only
from calibration.photo import Photo, Step
from calibration.ways.outcome import uncorrected


def corrected_by_grey_card(photo: Photo, grey: GreyCardPoint, refusals: tuple[Finding, ...]) -> CorrectedPhoto:
    """The photograph corrected by a grey card of known reflectance; `refusals` say why no colour card serves."""
    try:
        correction = correct_by_grey_card(photo, grey)
    except CorrectionError as refusal:
        return uncorrected(photo, (*refusals, refusal.finding), None, None)
    place = {"x_px": grey.at.x_px, "y_px": grey.at.y_px, "radius_px": grey.at.radius_px}
    step = Step("correct_by_grey_card", 1, {**place, "reflectance": grey.reflectance})
    return _leaning(photo, correction, refusals, (_grey_card_only(), step))


def corrected_by_neutral(photo: Photo, neutral: NeutralPoint, refusals: tuple[Finding, ...]) -> CorrectedPhoto:
    """The photograph white-balanced on a neutral thing; `refusals` say why no colour card serves."""
    try:
        correction = correct_by_neutral(photo, neutral)
    except CorrectionError as refusal:
        return uncorrected(photo, (*refusals, refusal.finding), None, None)
    step = Step("correct_by_neutral", 1, {"x_px": neutral.x_px, "y_px": neutral.y_px, "radius_px": neutral.radius_px})
    return _leaning(photo, correction, refusals, (neutral_only(), step))


def _leaning(
    photo: Photo, correction: TableCorrection, refusals: tuple[Finding, ...], said: tuple[Finding, Step]
) -> CorrectedPhoto:
    # A missing card is what the pointed-at thing is for; faults of the whole frame still stand.
    kept = tuple(finding for finding in refusals if finding.where != "card" and finding.code != "no_card")
    verdict = verdict_from((*photo.findings, *kept, said[0]))
    return CorrectedPhoto(photo, correction, verdict, None, None, (*photo.steps, said[1]))


def _grey_card_only() -> Finding:
    return Finding(
        "grey_card_only",
        Severity.CARE,
        "No card was found; the colours lean on one grey card, so they are less sure.",
        "Put a 24-patch card beside the hair for a reading that can be relied on.",
    )
