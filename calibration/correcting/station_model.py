"""The model of a station: one tone curve and matrix for its camera and lamp, exposure and balance for each photo."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.cards.layouts import Edition
from calibration.colourspaces import xyz_to_lab
from calibration.correcting.candidates import MODELS, Model, predict, prior_sd
from calibration.correcting.fitting import LARGEST_LAB_STEP, OUTLIER, TYPICAL_RESIDUAL, lab_slopes
from calibration.correcting.illumination import CONES_FROM_XYZ, XYZ_FROM_CONES
from calibration.correcting.metric import edition_metric
from calibration.photo import FloatArray

# Cameras balance white in their own channels, which are nearest to these of all that are published for adaptation
# (linear Bradford); three stations in four are fitted better by them than by the file's red, green and blue.
CAMERA_FROM_XYZ, XYZ_FROM_CAMERA = CONES_FROM_XYZ, XYZ_FROM_CONES
# Exposure and balance of one photo against the next, one standard deviation of the logarithm: as good as free.
GAIN_SD = 1.0
STEPS = 8
GAIN_STEPS = 4


@dataclass(frozen=True, eq=False)
class StationCard:
    """One card as one photo shows it.

    linear_rgb : The file's light over `reference`, the station's own. shape (patches, 3).
    weights : How much each patch counts; 0 for one that may not serve. shape (patches,).
    """

    linear_rgb: FloatArray
    edition: Edition
    weights: FloatArray


def station_models(linear: bool) -> tuple[Model, ...]:
    """Models that a station may take, from simple to rich; linear files need no tone curve."""
    return tuple(model for model in MODELS if (model.curves == 0) == linear)


def balance(log_gains: FloatArray) -> FloatArray:
    """The matrix in XYZ that a change of exposure and white balance amounts to. shape (3, 3)."""
    changed: FloatArray = XYZ_FROM_CAMERA * np.exp(log_gains) @ CAMERA_FROM_XYZ
    return changed


def with_gains(model: Model, values: FloatArray, log_gains: FloatArray) -> FloatArray:
    """Values for one photo: the station's, its gains put into the matrix. shape (values,)."""
    own = values.copy()
    own[: model.matrix_values] = (balance(log_gains) @ own[: model.matrix_values].reshape(3, -1)).ravel()
    return own


def predicted(model: Model, values: FloatArray, log_gains: FloatArray, linear_rgb: FloatArray) -> FloatArray:
    """CIE XYZ D65 of patches of one photo. shape (patches, 3)."""
    xyz: FloatArray = predict(model, with_gains(model, values, log_gains)[None], linear_rgb)[0][0]
    return xyz


def fit_station(model: Model, cards: tuple[StationCard, ...], start: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The station's values, and the logarithm of each photo's gains, the first photo's 0. shapes (values,), (n, 3).

    start : Values to begin with and to hold on to. shape (values,).
    """
    fit = start, np.array([start_gains(card, cards[0]) for card in cards])
    centre = fit
    for _ in range(STEPS):
        values, gains = fit
        stacked = [linearised(model, values, own, card) for own, card in zip(gains, cards, strict=True)]
        fit = _moved(model, stacked, fit, centre)
    return fit


def fit_without_each(
    model: Model, cards: tuple[StationCard, ...], fit: tuple[FloatArray, FloatArray], start: FloatArray
) -> FloatArray:
    """The station's values when one colour takes part in no photo: a step from the fit of all. shape (patches, values).

    cards : All of one kind. fit : Values and gains of all patches.
    """
    values, gains = fit
    stacked = [linearised(model, values, own, card) for own, card in zip(gains, cards, strict=True)]
    centre = start, np.array([start_gains(card, cards[0]) for card in cards])
    moved = []
    for patch in range(len(cards[0].weights)):
        kept = [(slopes, residual, _zeroed(weights, patch)) for slopes, residual, weights in stacked]
        moved.append(_moved(model, kept, fit, centre)[0])
    return np.array(moved)


def _zeroed(weights: FloatArray, patch: int) -> FloatArray:
    kept = weights.copy()
    kept[patch] = 0.0
    return kept


def _moved(
    model: Model,
    stacked: list[tuple[FloatArray, FloatArray, FloatArray]],
    fit: tuple[FloatArray, FloatArray],
    centre: tuple[FloatArray, FloatArray],
) -> tuple[FloatArray, FloatArray]:
    """One Gauss-Newton step of the station's values and the photos' gains."""
    values, gains = fit
    precision = np.concatenate([1 / np.square(prior_sd(model)), np.full(3 * (len(gains) - 1), 1 / GAIN_SD**2)])
    away = np.concatenate([values - centre[0], (gains - centre[1])[1:].ravel()])
    normal, right = np.diag(precision), precision * away
    for number, (slopes, residual, weights) in enumerate(stacked):
        columns = _columns(model, number)
        flat = slopes.reshape(-1, slopes.shape[-1])[:, : len(columns)]
        weighted = (np.repeat(weights, 3)[:, None] * flat).T
        normal[np.ix_(columns, columns)] += weighted @ flat
        right[columns] += weighted @ residual.ravel()
    step = np.linalg.solve(normal, right)
    moved = gains.copy()
    moved[1:] -= step[model.values :].reshape(-1, 3)
    return values - step[: model.values], moved


def fit_gains(model: Model, values: FloatArray, card: StationCard, start: FloatArray) -> FloatArray:
    """Logarithm of one photo's gains that fit its card best, the station's values kept. shape (3,)."""
    gains = start.copy()
    for _ in range(GAIN_STEPS):
        slopes, residual, weights = linearised(model, values, gains, card)
        own = slopes[..., model.values :]
        weighted = (weights[:, None, None] * own).reshape(-1, 3).T
        normal = weighted @ own.reshape(-1, 3) + 1e-6 * np.eye(3)
        gains = gains - np.linalg.solve(normal, weighted @ residual.ravel())
    return gains


def linearised(
    model: Model, values: FloatArray, log_gains: FloatArray, card: StationCard
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Slopes by the station's values and this photo's gains, difference to the card, and weights with outliers held.

    shapes (patches, 3, values + 3), (patches, 3), (patches,).
    """
    own, changed = with_gains(model, values, log_gains), balance(log_gains)
    xyz, slopes = (part[0] for part in predict(model, own[None], card.linear_rgb))
    by_matrix = slopes[..., : model.matrix_values].reshape(len(xyz), 3, 3, -1)
    by_station = np.einsum("pxyk,yi->pxik", by_matrix, changed).reshape(len(xyz), 3, -1)
    by_gain = XYZ_FROM_CAMERA * (xyz @ CAMERA_FROM_XYZ.T)[:, None, :]
    together = np.concatenate([by_station, slopes[..., model.matrix_values :], by_gain], axis=-1)
    metric = edition_metric(card.edition)
    offset = np.clip(xyz_to_lab(xyz) - card.edition.lab_d65, -LARGEST_LAB_STEP, LARGEST_LAB_STEP)
    residual = (metric @ offset[..., None])[..., 0]
    lengths = np.sqrt(np.square(residual).sum(axis=-1))
    weights = card.weights * np.minimum(1.0, OUTLIER / np.maximum(lengths, 1e-9)) / TYPICAL_RESIDUAL**2
    return metric @ lab_slopes(xyz) @ together, residual, weights


def _columns(model: Model, number: int) -> NDArray[np.int64]:
    """Where a photo's slopes stand among all unknowns; the gains of the first photo are fixed and have no place."""
    gains = np.arange(3) + model.values + 3 * (number - 1) if number else np.arange(0)
    return np.concatenate([np.arange(model.values), gains]).astype(np.int64)


def start_gains(card: StationCard, first: StationCard) -> FloatArray:
    """Gains that bring the mean of a photo's patches to where the first photo's card would have them. shape (3,)."""
    logs: FloatArray = np.log(_mean_ratio(first) / _mean_ratio(card))
    return np.full(3, logs.mean())


def _mean_ratio(card: StationCard) -> FloatArray:
    served = card.weights > 0
    light = np.maximum(card.linear_rgb[served], 1e-5)
    ratio: FloatArray = np.exp(np.log(light / card.edition.xyz_d65[served, 1:2]).mean(axis=0))
    return ratio
