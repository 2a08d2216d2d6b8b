"""Which correction a photograph gets: candidates are compared on patches that their fit did not see."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.cards.layouts import GREY_ROW, Edition, classic24_editions
from calibration.cards.sighting import PatchColours
from calibration.colourspaces import delta_e_2000, xyz_to_lab
from calibration.correcting.applying import TableCorrection
from calibration.correcting.candidates import MODELS, Model, channel_terms, predict, straightened
from calibration.correcting.fitting import CardData, fit, fit_left_out, start_values
from calibration.errors import CorrectionError
from calibration.findings import Finding, Severity
from calibration.photo import BoolArray, Encoding, FloatArray

# Hair is grey to brown: those patches count double. Patches 1, 2 and 21 to 24, counted from 0.
NEAR_HAIR = (0, 1, 20, 21, 22, 23)
NEAR_HAIR_WEIGHT = 2.0
FEWEST_PATCHES = 8
FEWEST_GREYS = 2
# A richer model must win by this many standard errors of the difference between them.
WIN_BY_STANDARD_ERRORS = 0.5
WHITE_BALANCE = Model("white balance")
# Chroma within which a patch says something about hair; what cards usually leave there, and its weight in patches.
# Held against measured hair and skin by tests/studies/correction_models.py.
HAIR_CHROMA = 30.0
PRIOR_LAB_SD = (0.9, 2.0, 1.4)
PRIOR_PATCHES = 6.0


@dataclass(frozen=True, eq=False)
class Candidate:
    """One model fitted to one card, and how it does on patches it did not see.

    lab_held_out : CIELAB of each patch from the fit without it; nan where it does not serve. shape (24, 3).
    held_out : ΔE2000 of the same. shape (24,).
    """

    model: Model
    values: FloatArray
    lab_held_out: FloatArray
    held_out: FloatArray


@dataclass(frozen=True, eq=False)
class ChosenCorrection:
    """The correction, the edition of the card that it takes, and how each patch does without itself."""

    correction: TableCorrection
    edition: Edition
    candidate: Candidate
    reference_light: float


@dataclass(frozen=True, eq=False)
class FittedCard:
    """Every candidate fitted to one card.

    weights : How much each patch counts. shape (24,). reference_light : Linear light that stands for white.
    """

    candidates: tuple[Candidate, ...]
    edition: Edition
    weights: FloatArray
    reference_light: float


def choose_correction(patches: PatchColours, encoding: Encoding) -> ChosenCorrection:
    """The best correction that this card allows, with its held-out error.

    Raises
    ------
    CorrectionError : Too few patches, or too few greys, can serve.
    """
    card = fit_candidates(patches, encoding)
    best = card.candidates[_choice(card.candidates, card.weights)]
    error = nested_error(card.candidates, card.weights)
    covariance = near_hair_covariance(best, card.edition, np.where(patches.usable, patches.trust, 0.0))
    correction = _for_pixels(best, encoding, card.reference_light, (error, covariance))
    return ChosenCorrection(correction, card.edition, best, card.reference_light)


def fit_candidates(patches: PatchColours, encoding: Encoding) -> FittedCard:
    """Every candidate fitted to this card, with the edition that it takes.

    Raises
    ------
    CorrectionError : Too few patches, or too few greys, can serve.
    """
    _enough(patches.usable)
    reference = _reference_light(patches)
    light = np.where(patches.usable[:, None], patches.linear_rgb, 0.2 * reference) / reference
    weights = serving_weights(patches)
    edition = _likelier_edition(light, weights)
    data = CardData(light, edition, weights)
    candidates = (_white_balanced(data, encoding), *(_candidate(model, data) for model in MODELS))
    return FittedCard(candidates, edition, weights, reference)


def serving_weights(patches: PatchColours) -> FloatArray:
    """How much each patch counts; 0 for one that may not serve. shape (24,)."""
    weights = np.where(patches.usable, patches.trust, 0.0)
    weights[list(NEAR_HAIR)] *= NEAR_HAIR_WEIGHT
    return weights


def nested_error(candidates: tuple[Candidate, ...], weights: FloatArray) -> float:
    """Mean ΔE2000 of patches that took no part in fitting or choosing.

    For each patch the candidate is chosen by the other patches alone, so the choice can't flatter the error.
    """
    served = np.flatnonzero(weights > 0)
    errors = []
    for patch in served:
        others = weights.copy()
        others[patch] = 0
        errors.append(candidates[_choice(candidates, others)].held_out[patch])
    return float(np.mean(errors))


def near_hair_covariance(candidate: Candidate, edition: Edition, trust: FloatArray) -> FloatArray:
    """Covariance in Lab of the held-out misses, near the colours of hair, never less than the card's own. (3, 3)."""
    missed = candidate.lab_held_out - edition.lab_d65
    weights = np.exp(-np.square(edition.lab_d65[:, 1:]).sum(axis=1) / (2 * HAIR_CHROMA**2)) * trust
    served = np.isfinite(missed).all(axis=1) & (weights > 0)
    weights, missed = weights[served] / weights[served].sum(), missed[served]
    covariance: FloatArray = (weights[:, None] * missed).T @ missed
    # Few patches speak for the covariance: it is drawn towards what cards usually leave.
    effective = 1 / np.square(weights).sum()
    drawn: FloatArray = (effective * covariance + PRIOR_PATCHES * np.diag(np.square(PRIOR_LAB_SD))) / (
        effective + PRIOR_PATCHES
    )
    return drawn


def _enough(usable: BoolArray) -> None:
    greys = int(usable[list(GREY_ROW)].sum())
    if usable.sum() >= FEWEST_PATCHES and greys >= FEWEST_GREYS:
        return
    message = f"Only {int(usable.sum())} of 24 card patches can be used, {greys} of them grey."
    remedy = "Lay the whole card in view, evenly lit, and take the photo again."
    raise CorrectionError(Finding("card_unusable", Severity.RETAKE, message, remedy, "card"))


def _reference_light(patches: PatchColours) -> float:
    """Light that stands for white: of the brightest grey that serves, by its share of white."""
    for patch in GREY_ROW:
        if patches.usable[patch]:
            share = classic24_editions()[1].xyz_d65[patch, 1]
            return float(patches.linear_rgb[patch].max() / share)
    raise ValueError("A card without a usable grey was not refused.")


def _likelier_edition(light: FloatArray, weights: FloatArray) -> Edition:
    """The edition of the card that fits better under the tone curve and 3x3."""
    misses = []
    for edition in classic24_editions():
        data = CardData(light, edition, weights)
        values, _ = fit(MODELS[1], data, start_values(MODELS[1], data))
        lab = xyz_to_lab(predict(MODELS[1], values[None], light)[0][0])
        misses.append(float(np.average(delta_e_2000(lab, edition.lab_d65), weights=weights)))
    return classic24_editions()[int(np.argmin(misses))]


def _candidate(model: Model, data: CardData) -> Candidate:
    """The model fitted to all patches, and to all but each one."""
    values, weights = fit(model, data, start_values(model, data))
    served = np.flatnonzero(data.weights > 0)
    sets = np.eye(24)[served]
    left_out = fit_left_out(model, data, values, weights, sets)
    xyz = predict(model, left_out, data.linear_rgb)[0][np.arange(len(served)), served]
    return _judged(model, values, served, xyz, data.edition)


def _white_balanced(data: CardData, encoding: Encoding) -> Candidate:
    """White balance on the greys, the file's own matrix otherwise."""
    served = np.flatnonzero(data.weights > 0)
    greys = np.array([patch for patch in GREY_ROW if data.weights[patch] > 0])
    to_rgb = np.linalg.inv(encoding.to_xyz_d65)
    wanted = data.edition.xyz_d65 @ to_rgb.T

    def balanced(seen: NDArray[np.int64]) -> FloatArray:
        gains = (wanted[seen] * data.linear_rgb[seen]).sum(axis=0) / np.square(data.linear_rgb[seen]).sum(axis=0)
        matrix: FloatArray = encoding.to_xyz_d65 @ np.diag(gains)
        return matrix

    xyz = np.array([balanced(greys[greys != patch]) @ data.linear_rgb[patch] for patch in served])
    return _judged(WHITE_BALANCE, balanced(greys).ravel(), served, xyz, data.edition)


def _judged(
    model: Model, values: FloatArray, served: NDArray[np.int64], xyz: FloatArray, edition: Edition
) -> Candidate:
    lab, held_out = np.full((24, 3), np.nan), np.full(24, np.nan)
    lab[served] = xyz_to_lab(xyz)
    held_out[served] = delta_e_2000(lab[served], edition.lab_d65[served])
    return Candidate(model, values, lab, held_out)


def _choice(candidates: tuple[Candidate, ...], weights: FloatArray) -> int:
    """The simplest candidate that is as good as the best, within the noise of their difference."""
    served = weights > 0
    share = weights[served] / weights[served].sum()
    errors = np.array([candidate.held_out[served] for candidate in candidates])
    means = errors @ share
    best = int(np.argmin(means))
    worse = errors - errors[best]
    noise = np.sqrt((np.square(worse - (worse @ share)[:, None])) @ np.square(share))
    return int(np.argmax(means - means[best] <= WIN_BY_STANDARD_ERRORS * noise))


def _for_pixels(
    candidate: Candidate, encoding: Encoding, reference: float, stated: tuple[float, FloatArray]
) -> TableCorrection:
    """The candidate as look-up tables and a matrix."""
    model, values = candidate.model, candidate.values
    light = encoding.tables.astype(np.float64).T / reference
    straight = straightened(light, channel_terms(model, values))
    # A tone curve that turns back would give two colours one reading: it is held level instead.
    tables = np.maximum.accumulate(straight, axis=0).T.astype(np.float32)
    matrix = values[: model.matrix_values].reshape(3, -1)
    return TableCorrection(model.name, stated[0], np.ascontiguousarray(tables), np.ascontiguousarray(matrix), stated[1])
