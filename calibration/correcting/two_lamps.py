"""Two lamps of different colour over one frame: seen between two references, taken out between them."""

from dataclasses import dataclass

import numpy as np

from calibration.cards.layouts import CLASSIC24_COLUMNS, CLASSIC24_ROWS
from calibration.colourspaces import lab_jacobian, lab_to_xyz
from calibration.corrected import Correction
from calibration.correcting.illumination import (
    CONES_FROM_XYZ,
    ORDER,
    XYZ_FROM_CONES,
    Illumination,
    WidenedCorrection,
)
from calibration.correcting.known_card import HAIR_LAB, shared_de2000
from calibration.findings import Finding, Severity
from calibration.photo import FloatArray, Photo

# How well a patch tells the light at its place (logarithm, one standard deviation): what the correction leaves.
PATCH_LOG_SD = 0.05
# How much light may change over one width of the photo, one standard deviation, before anything is seen.
SLOPE_SD = 0.7
# Below this change of colour between two references (logarithm of the cones' ratios) there is one lamp.
ONE_LAMP_LOG = 0.05
# Share of the change between two references that stays open between them: the way from lamp to lamp is no straight
# line. tests/studies/two_lamps.py
LEFT_OPEN = 0.15
REACH_SHARE = 0.15  # of the photo's width round the references in which their light holds
# Drift of a* and b* across the card that one lamp shows too: nine in ten rendered photos show no more.
DRIFT_OF_ONE_LAMP = np.array([3.5, 2.2])
HAIR_CARDS_AWAY = 1.6  # hair lies about this many widths of the card from it
DRIFT_TOLD = 3.0
DARKEST_XYZ = 0.03  # darker patches tell more of stray light than of the lamp


@dataclass(frozen=True, eq=False)
class LightSeen:
    """The light at places of known colour: what is seen there over what the card's correction expects.

    places_px : x, y. shape (n, 2). log_ratio : Logarithm in three cone channels. shape (n, 3).
    """

    places_px: FloatArray
    log_ratio: FloatArray

    def joined(self, other: "LightSeen") -> "LightSeen":
        return LightSeen(
            np.concatenate([self.places_px, other.places_px]), np.concatenate([self.log_ratio, other.log_ratio])
        )


def light_seen(places_px: FloatArray, seen_xyz: FloatArray, known_xyz: FloatArray) -> LightSeen:
    """The light at patches of known colour, those that tell it: not too dark. XYZ of shape (n, 3)."""
    seen, known = seen_xyz @ CONES_FROM_XYZ.T, known_xyz @ CONES_FROM_XYZ.T
    tells = (known_xyz[:, 1] > DARKEST_XYZ) & (seen.min(axis=1) > 1e-4) & (known.min(axis=1) > 1e-4)
    return LightSeen(places_px[tells], np.log(seen[tells] / known[tells]))


def change_between(here: LightSeen, there: LightSeen) -> FloatArray:
    """Change of the light from one reference to the other: logarithm in three cone channels. shape (3,)."""
    change: FloatArray = np.median(there.log_ratio, axis=0) - np.median(here.log_ratio, axis=0)
    return change


def colour_change(change: FloatArray) -> float:
    """How far a change of light is one of colour: largest difference between channels."""
    return float(np.ptp(change))


def illumination_between(here: LightSeen, there: LightSeen, photo: Photo) -> Illumination:
    """A light that runs evenly from the card to the other reference, 1 at the middle of the card."""
    both = here.joined(there)
    origin = here.places_px.mean(axis=0)
    from_origin = (both.places_px - origin) / photo.width_px
    design = np.column_stack([np.ones(len(from_origin)), from_origin])
    precision = design.T @ design / PATCH_LOG_SD**2 + np.diag([0.0, 1 / SLOPE_SD**2, 1 / SLOPE_SD**2])
    solution = np.linalg.solve(precision, design.T @ both.log_ratio / PATCH_LOG_SD**2)
    terms = np.zeros((3, ORDER + 1, ORDER + 1))
    terms[:, 0, 1], terms[:, 1, 0] = solution[1], solution[2]
    margin = REACH_SHARE * photo.width_px
    left, top = both.places_px.min(axis=0) - margin
    right, bottom = both.places_px.max(axis=0) + margin
    return Illumination(terms, origin, photo.width_px, (float(left), float(top), float(right), float(bottom)))


def left_open(change: FloatArray) -> tuple[FloatArray, float]:
    """Covariance in CIELAB at a middle brown that this change of light leaves open, and its ΔE2000."""
    covariance = _as_lab(LEFT_OPEN * change)
    return covariance, shared_de2000(covariance)


def _as_lab(log_change: FloatArray) -> FloatArray:
    """Covariance of a shift of the light by its logarithm in cone channels, at a middle brown. shape (3, 3)."""
    xyz = lab_to_xyz(HAIR_LAB)[0]
    moved = XYZ_FROM_CONES @ (CONES_FROM_XYZ @ xyz * log_change)
    lab = lab_jacobian(xyz) @ moved
    return np.outer(lab, lab)


def widened_by_drift(correction: Correction, chroma_slope: FloatArray) -> Correction:
    """The correction, less sure where the light changes colour across the card and nothing else tells its way.

    chroma_slope : Change of a* and b* for each patch, across and down. shape (2, 2).
    """
    away = drift_elsewhere(chroma_slope)
    if not away.any():
        return correction
    covariance = np.diag([0.0, *np.square(away)])
    return WidenedCorrection(correction, covariance, shared_de2000(covariance))


def drift_elsewhere(chroma_slope: FloatArray) -> FloatArray:
    """How far a* and b* may be off beside the card, by what drifts across it beyond what one lamp shows. shape (2,)."""
    drift = np.linalg.norm(chroma_slope * [CLASSIC24_COLUMNS, CLASSIC24_ROWS], axis=1)
    beyond: FloatArray = np.sqrt(np.maximum(np.square(drift) - np.square(DRIFT_OF_ONE_LAMP), 0.0))
    return HAIR_CARDS_AWAY * beyond


def drift_seen(chroma_slope: FloatArray) -> Finding | None:
    """The finding where the light changes colour so that hair beside the card is read less surely."""
    away = float(np.linalg.norm(drift_elsewhere(chroma_slope)))
    if away < DRIFT_TOLD:
        return None
    message = (
        f"The light changes colour over the photo: beside the card colours may be {away:.0f} units off, "
        "and the intervals are wider."
    )
    remedy = "Use one kind of lamp; or lay a second card, or a grey card to point at, on the other side of the hair."
    return Finding("mixed_light", Severity.NOTE, message, remedy, "card")
