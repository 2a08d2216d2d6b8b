"""Which correction a photograph gets: candidates are compared on patches that their fit did not see."""

from dataclasses import dataclass, field, replace

import numpy as np

from calibration.cards.layouts import Edition
from calibration.cards.sighting import PatchColours
from calibration.colourspaces import delta_e_2000, xyz_to_lab
from calibration.correcting.applying import TableCorrection
from calibration.correcting.candidates import (
    MODELS,
    USUAL_WIN_BY,
    Model,
    card_models,
    channel_terms,
    predict,
    straightened,
)
from calibration.correcting.fitting import CardData, CardFit, fit, fit_card, fit_left_out, fitted_xyz
from calibration.correcting.known_card import KnownCard, cards_24, shared_de2000
from calibration.correcting.leaving_out import left_out_sets
from calibration.photo import Encoding, FloatArray

WHITE_BALANCE = Model("white balance")
# Chroma within which a patch says something about hair; what cards usually leave there, and its weight in patches.
# Held against measured hair and skin by tests/studies/correction_models.py.
HAIR_CHROMA = 30.0
PRIOR_LAB_SD = (0.8, 2.4, 1.3)
PRIOR_PATCHES = 6.0


@dataclass(frozen=True, eq=False)
class Candidate:
    """One model fitted to one card, and how it does on patches it did not see.

    lab_held_out : CIELAB of each patch, mean of the fits without it; nan where it does not serve. shape (patches, 3).
    held_out : ΔE2000 of the same fits, mean. shape (patches,).
    plane : Slope of the light's logarithm across and down the card, for a half of its width. shape (2,).
    """

    model: Model
    values: FloatArray
    lab_held_out: FloatArray
    held_out: FloatArray
    plane: FloatArray = field(default_factory=lambda: np.zeros(2))


@dataclass(frozen=True, eq=False)
class ChosenCorrection:
    """The correction, the card that it takes, and how each patch does without itself."""

    correction: TableCorrection
    card: KnownCard
    candidate: Candidate
    reference_light: float

    @property
    def edition(self) -> Edition:
        return self.card.edition

    def patches_xyz(self, linear_rgb: FloatArray) -> FloatArray:
        """CIE XYZ D65 of every patch of the card, as the light at its middle would show it. shape (patches, 3)."""
        model, values = self.candidate.model, self.candidate.values
        data = CardData(linear_rgb / self.reference_light, self.edition, np.ones(len(linear_rgb)), self.card.places)
        xyz: FloatArray = fitted_xyz(model, data, CardFit(values[None], self.candidate.plane[None]))[0]
        return xyz


@dataclass(frozen=True, eq=False)
class FittedCard:
    """Every candidate fitted to one card.

    weights : How much each patch counts. shape (patches,). reference_light : Linear light that stands for white.
    """

    candidates: tuple[Candidate, ...]
    card: KnownCard
    weights: FloatArray
    reference_light: float


def choose_correction(
    patches: PatchColours, encoding: Encoding, cards: tuple[KnownCard, ...] | None = None
) -> ChosenCorrection:
    """The best correction that this card allows, with its held-out error.

    cards : What it may be: the editions of one card, or a single print; the 24-patch card if not said. The error that
        a card's values share is added to what the patches tell.

    Raises
    ------
    CorrectionError : Too few patches, or too few greys, can serve.
    """
    fitted = fit_candidates(patches, encoding, cards)
    card = fitted.card
    best = fitted.candidates[_choice(fitted.candidates, fitted.weights)]
    # Patches left out of the fit tell what differs from patch to patch; what all of them share no fit can tell.
    error = float(np.hypot(nested_error(fitted.candidates, fitted.weights), shared_de2000(card.shared_covariance)))
    trust = np.where(patches.usable, patches.trust, 0.0)
    covariance = near_hair_covariance(best, card.edition, trust) + card.shared_covariance
    correction = _for_pixels(best, encoding, fitted.reference_light, (error, covariance))
    return ChosenCorrection(correction, card, best, fitted.reference_light)


def fit_candidates(patches: PatchColours, encoding: Encoding, cards: tuple[KnownCard, ...] | None = None) -> FittedCard:
    """Every candidate fitted to this card, in the edition that it takes.

    Raises
    ------
    CorrectionError : Too few patches, or too few greys, can serve.
    """
    cards = cards or cards_24()
    cards[0].enough(patches)
    reference = cards[-1].reference_light(patches)
    weights = cards[0].serving_weights(patches)
    light = np.where(patches.usable[:, None], patches.linear_rgb, 0.2 * reference) / reference
    possible = [CardData(light, card.edition, weights, card.places, encoding.to_xyz_d65) for card in cards]
    likelier = 0 if len(cards) == 1 else int(np.argmin([_misfit(data) for data in possible]))
    card, data = cards[likelier], possible[likelier]
    sets = left_out_sets(np.flatnonzero(weights > 0), len(weights))
    models = card_models(encoding.linear)
    candidates = (_white_balanced(data, card.greys, sets), *(_candidate(model, data, sets) for model in models))
    return FittedCard(candidates, card, weights, reference)


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


def _misfit(data: CardData) -> float:
    """Mean ΔE2000 that the tone curve and 3x3 leave: the likelier edition leaves less."""
    values, _ = fit(MODELS[1], data)
    lab = xyz_to_lab(predict(MODELS[1], values[None], data.linear_rgb)[0][0])
    return float(np.average(delta_e_2000(lab, data.edition.lab_d65), weights=data.weights))


def _candidate(model: Model, data: CardData, sets: FloatArray) -> Candidate:
    """The model fitted to all patches, and to all but those of each set."""
    fitted, weights = fit_card(model, data)
    left_out = fit_left_out(model, data, fitted, weights, sets)
    judged = _judged(model, fitted.values, fitted_xyz(model, data, left_out), (data.edition, sets))
    return replace(judged, plane=fitted.plane)


def _white_balanced(data: CardData, greys: tuple[int, ...], sets: FloatArray) -> Candidate:
    """White balance on the greys, the file's own matrix otherwise."""
    wanted = data.edition.xyz_d65 @ np.linalg.inv(data.file_matrix).T
    is_grey = np.isin(np.arange(len(data.weights)), greys) & (data.weights > 0)

    def balanced(left_out: FloatArray) -> FloatArray:
        seen = is_grey & (left_out == 0)
        if not seen.any():
            seen = is_grey
        gains = (wanted[seen] * data.linear_rgb[seen]).sum(axis=0) / np.square(data.linear_rgb[seen]).sum(axis=0)
        matrix: FloatArray = data.file_matrix @ np.diag(gains)
        return matrix

    xyz = np.array([data.linear_rgb @ balanced(left_out).T for left_out in sets])
    return _judged(WHITE_BALANCE, balanced(np.zeros(len(is_grey))).ravel(), xyz, (data.edition, sets))


def _judged(model: Model, values: FloatArray, xyz: FloatArray, against: tuple[Edition, FloatArray]) -> Candidate:
    """The candidate with the colours of patches from the fits without them. xyz : shape (sets, patches, 3)."""
    edition, sets = against
    lab = xyz_to_lab(xyz)
    errors = delta_e_2000(lab, np.broadcast_to(edition.lab_d65, lab.shape))
    times = sets.sum(axis=0)
    served = times > 0
    mean_lab, held_out = np.full((len(times), 3), np.nan), np.full(len(times), np.nan)
    mean_lab[served] = (lab * sets[..., None]).sum(axis=0)[served] / times[served, None]
    held_out[served] = (errors * sets).sum(axis=0)[served] / times[served]
    return Candidate(model, values, mean_lab, held_out)


def _choice(candidates: tuple[Candidate, ...], weights: FloatArray) -> int:
    """The simplest candidate that is as good as the best, within the noise of their difference."""
    served = weights > 0
    share = weights[served] / weights[served].sum()
    errors = np.array([candidate.held_out[served] for candidate in candidates])
    means = errors @ share
    win_by = np.array([candidate.model.win_by for candidate in candidates])
    usual = win_by <= USUAL_WIN_BY
    best = int(np.argmin(np.where(usual, means, np.inf)))
    chosen = int(np.argmax(usual & (means - means[best] <= USUAL_WIN_BY * _noise(errors, best, share))))
    wins = means[chosen] - means > win_by * _noise(errors, chosen, share)
    return int(np.argmin(np.where(wins & ~usual, means, np.inf))) if (wins & ~usual).any() else chosen


def _noise(errors: FloatArray, one: int, share: FloatArray) -> FloatArray:
    """Standard error of each candidate's mean difference from one of them. shape (candidates,)."""
    worse = errors - errors[one]
    noise: FloatArray = np.sqrt(np.square(worse - (worse @ share)[:, None]) @ np.square(share))
    return noise


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
