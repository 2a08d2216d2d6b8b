"""Which correction a photograph gets: candidates are compared on patches that their fit did not see."""

from dataclasses import dataclass

import numpy as np

from calibration.cards.layouts import GREY_ROW, Edition, classic24_editions
from calibration.cards.sighting import PatchColours
from calibration.colourspaces import delta_e_2000, xyz_to_lab
from calibration.correcting.applying import TableCorrection
from calibration.photo import BoolArray, Encoding, FloatArray

# Hair is grey to brown: those patches count double. Patches 1, 2 and 21 to 24, counted from 0.
NEAR_HAIR = (0, 1, 20, 21, 22, 23)
NEAR_HAIR_WEIGHT = 2.0


@dataclass(frozen=True, eq=False)
class ChosenCorrection:
    """The correction, and the edition of the card that fits the photograph best."""

    correction: TableCorrection
    edition: Edition


def choose_correction(patches: PatchColours, encoding: Encoding) -> ChosenCorrection:
    """The best 3x3 correction of these patches, with its held-out error."""
    choices = [_fit_edition(patches, encoding, edition) for edition in classic24_editions()]
    return min(choices, key=lambda choice: choice.correction.held_out_de2000)


def patch_weights() -> FloatArray:
    """How much each patch counts. shape (24,)."""
    weights = np.ones(24)
    weights[list(NEAR_HAIR)] = NEAR_HAIR_WEIGHT
    return weights


def _fit_edition(patches: PatchColours, encoding: Encoding, edition: Edition) -> ChosenCorrection:
    rgb, usable, weights = patches.linear_rgb, patches.usable, patch_weights()
    matrix = _fit(rgb, edition.xyz_d65, usable, weights)
    held_out = np.full(24, np.nan)
    for patch in np.flatnonzero(usable):
        seen = usable.copy()
        seen[patch] = False
        lab = xyz_to_lab(_fit(rgb, edition.xyz_d65, seen, weights) @ rgb[patch])
        held_out[patch] = delta_e_2000(lab[None], edition.lab_d65[patch][None])[0]
    error = float(np.average(held_out[usable], weights=weights[usable]))
    covariance = np.diag(np.square([error, error / 2, error / 2]))
    return ChosenCorrection(TableCorrection("3x3", error, encoding.tables, matrix, covariance), edition)


def _fit(rgb: FloatArray, xyz_d65: FloatArray, usable: BoolArray, weights: FloatArray) -> FloatArray:
    scale = np.sqrt(weights[usable] / np.maximum(xyz_d65[usable, 1], 0.02))[:, None]
    solution = np.linalg.lstsq(scale * rgb[usable], scale * xyz_d65[usable], rcond=None)[0]
    return np.ascontiguousarray(solution.T)


def grey_row_light(patches: PatchColours) -> FloatArray:
    """Linear light of the grey row. shape (6, 3)."""
    return patches.linear_rgb[list(GREY_ROW)]
