"""The correction by any card whose colours are known: a measured print, or the 140-patch card.

The same models and the same choice as for the 24-patch card.
"""

from dataclasses import dataclass

import numpy as np

from calibration.cards.classic140 import classic140_editions, classic140_greys, classic140_near_hair
from calibration.cards.layouts import Edition
from calibration.cards.measured_card import MeasuredCard
from calibration.cards.printed_layout import printed_layout
from calibration.cards.sighting import PatchColours
from calibration.colourspaces import delta_e_2000, xyz_to_lab
from calibration.correcting.candidates import MODELS, Model, predict
from calibration.correcting.choosing import (
    FEWEST_GREYS,
    FEWEST_PATCHES,
    NEAR_HAIR_WEIGHT,
    WHITE_BALANCE,
    Candidate,
    ChosenCorrection,
    _choice,
    _for_pixels,
    near_hair_covariance,
    nested_error,
)
from calibration.correcting.fitting import CardData, fit, fit_left_out, start_values
from calibration.correcting.metric import local_metric
from calibration.errors import CorrectionError
from calibration.findings import Finding, Severity
from calibration.photo import Encoding, FloatArray

HAIR_LAB = np.array([[45.0, 10.0, 16.0]])  # a middle brown: where a shared error is put into ΔE2000


@dataclass(frozen=True, eq=False)
class KnownCard:
    """A card whose colours are known.

    greys : Numbers of its grey patches, from 0. near_hair : Of those that lie where hair lies.
    shared_covariance : Of the error that all its values share, in CIELAB. shape (3, 3).
    """

    edition: Edition
    greys: tuple[int, ...]
    near_hair: tuple[int, ...]
    shared_covariance: FloatArray


def measured_print(card: MeasuredCard) -> KnownCard:
    """A print with the colours that were measured on it."""
    layout = printed_layout()
    edition = Edition(layout.name, card.xyz_d65, card.lab_d65.copy())
    return KnownCard(edition, layout.greys, layout.near_hair, card.shared_covariance)


def known_140() -> tuple[KnownCard, ...]:
    """The 140-patch card's editions with their maker's values, older first."""
    greys, near_hair = classic140_greys(), classic140_near_hair()
    return tuple(KnownCard(edition, greys, near_hair, np.zeros((3, 3))) for edition in classic140_editions())


def correct_by_known_card(patches: PatchColours, card: KnownCard, encoding: Encoding) -> ChosenCorrection:
    """The best correction that this card allows; its stated error holds the error that the card's values share.

    Raises
    ------
    CorrectionError : Too few patches, or too few greys, can serve.
    """
    _enough(patches, card.greys)
    edition = card.edition
    reference = _reference_light(patches, card.greys, edition)
    light = np.where(patches.usable[:, None], patches.linear_rgb, 0.2 * reference) / reference
    trust = np.where(patches.usable, patches.trust, 0.0)
    weights = trust.copy()
    weights[list(card.near_hair)] *= NEAR_HAIR_WEIGHT
    data = CardData(light, edition, weights)
    candidates = (_white_balanced(data, encoding, card.greys), *(_candidate(model, data) for model in MODELS))
    best = candidates[_choice(candidates, weights)]
    # Patches left out of the fit tell what differs from patch to patch; what all of them share no fit can tell.
    covariance = near_hair_covariance(best, edition, trust) + card.shared_covariance
    error = float(np.hypot(nested_error(candidates, weights), shared_de2000(card.shared_covariance)))
    return ChosenCorrection(_for_pixels(best, encoding, reference, (error, covariance)), edition, best, reference)


def shared_de2000(shared_covariance: FloatArray) -> float:
    """The error that all values of a card share, in ΔE2000 at a middle brown: its root mean square."""
    metric = local_metric(HAIR_LAB)[0]
    return float(np.sqrt(np.trace(metric @ shared_covariance @ metric.T)))


def _enough(patches: PatchColours, greys: tuple[int, ...]) -> None:
    grey = int(patches.usable[list(greys)].sum())
    if patches.usable.sum() >= FEWEST_PATCHES and grey >= FEWEST_GREYS:
        return
    count = len(patches.usable)
    message = f"Only {int(patches.usable.sum())} of {count} patches of the card can be used, {grey} of them grey."
    remedy = "Lay the whole card in view, evenly lit, and take the photo again."
    raise CorrectionError(Finding("card_unusable", Severity.RETAKE, message, remedy, "card"))


def _reference_light(patches: PatchColours, greys: tuple[int, ...], edition: Edition) -> float:
    """Light that stands for white: of the lightest grey that serves, by its share of white."""
    serving = [patch for patch in greys if patches.usable[patch]]
    lightest = max(serving, key=lambda patch: edition.xyz_d65[patch, 1])
    return float(patches.linear_rgb[lightest].max() / max(edition.xyz_d65[lightest, 1], 0.01))


def _candidate(model: Model, data: CardData) -> Candidate:
    """The model fitted to all patches, and to all but each one."""
    values, weights = fit(model, data, start_values(model, data))
    served = np.flatnonzero(data.weights > 0)
    left_out = fit_left_out(model, data, values, weights, np.eye(len(data.weights))[served])
    xyz = predict(model, left_out, data.linear_rgb)[0][np.arange(len(served)), served]
    return _judged(model, values, xyz, data)


def _white_balanced(data: CardData, encoding: Encoding, greys: tuple[int, ...]) -> Candidate:
    """Gains on the greys, the file's own matrix otherwise."""
    seen = np.array([patch for patch in greys if data.weights[patch] > 0])
    wanted = data.edition.xyz_d65 @ np.linalg.inv(encoding.to_xyz_d65).T

    def balanced(without: int) -> FloatArray:
        kept = seen[seen != without]
        gains = (wanted[kept] * data.linear_rgb[kept]).sum(axis=0) / np.square(data.linear_rgb[kept]).sum(axis=0)
        matrix: FloatArray = encoding.to_xyz_d65 @ np.diag(gains)
        return matrix

    served = np.flatnonzero(data.weights > 0)
    xyz = np.array([balanced(int(patch)) @ data.linear_rgb[patch] for patch in served])
    return _judged(WHITE_BALANCE, balanced(-1).ravel(), xyz, data)


def _judged(model: Model, values: FloatArray, xyz: FloatArray, data: CardData) -> Candidate:
    served = data.weights > 0
    lab, held_out = np.full((len(served), 3), np.nan), np.full(len(served), np.nan)
    lab[served] = xyz_to_lab(xyz)
    held_out[served] = delta_e_2000(lab[served], data.edition.lab_d65[served])
    return Candidate(model, values, lab, held_out)
