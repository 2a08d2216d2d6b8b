"""What every way comes to: a corrected photograph, or one whose colours stay as the file means them."""

from collections.abc import Callable

import numpy as np

from calibration.cards.sighting import CardSighting, PatchColours
from calibration.corrected import UNCORRECTED, CorrectedPhoto
from calibration.correcting.applying import TableCorrection
from calibration.correcting.choosing import ChosenCorrection
from calibration.correcting.outliers import with_outliers_named
from calibration.errors import CorrectionError
from calibration.findings import Finding, verdict_from
from calibration.photo import Photo

# What the colours of a photograph are worth when nothing in it is known. [our assumption]
UNKNOWN_DE2000 = 25.0
UNKNOWN_LAB_SD = (20.0, 12.0, 15.0)

Choose = Callable[[PatchColours], ChosenCorrection]


def uncorrected(
    photo: Photo, findings: tuple[Finding, ...], sighting: CardSighting | None, patches: PatchColours | None
) -> CorrectedPhoto:
    """The photograph without a correction, and why."""
    encoding = photo.encoding
    covariance = np.diag(np.square(UNKNOWN_LAB_SD))
    correction = TableCorrection(UNCORRECTED, UNKNOWN_DE2000, encoding.tables, encoding.to_xyz_d65, covariance)
    verdict = verdict_from((*photo.findings, *findings))
    return CorrectedPhoto(photo, correction, verdict, sighting, patches, photo.steps)


def settled(patches: PatchColours, choose: Choose) -> tuple[PatchColours, ChosenCorrection | None, tuple[Finding, ...]]:
    """The correction chosen without patches that it shows to be wrong, which are named; or why there is none."""
    chosen, refusals = _tried(patches, choose)
    if chosen is None:
        return patches, None, refusals
    cleaned = with_outliers_named(patches, chosen)
    if cleaned.why_not == patches.why_not:
        return patches, chosen, ()
    return cleaned, *_tried(cleaned, choose)


def _tried(patches: PatchColours, choose: Choose) -> tuple[ChosenCorrection | None, tuple[Finding, ...]]:
    try:
        return choose(patches), ()
    except CorrectionError as refusal:
        return None, (refusal.finding,)
