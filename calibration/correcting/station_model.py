"""The model of a station: one tone curve and matrix for its camera and lamp, exposure and balance for each photo."""

from dataclasses import dataclass

import numpy as np

from calibration.cards.layouts import Edition
from calibration.colourspaces import xyz_to_lab
from calibration.correcting.candidates import MODELS, Model, channel_terms, features_of, predict, prior_sd, straightened
from calibration.correcting.fitting import LARGEST_LAB_STEP, OUTLIER, TYPICAL_RESIDUAL, lab_slopes
from calibration.correcting.metric import edition_metric
from calibration.photo import FloatArray

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


def column_gains(model: Model, log_gains: FloatArray) -> FloatArray:
    """What the columns of the matrix are multiplied with under gains of red, green, blue. Shape (..., columns)."""
    shares = [[1, 0, 0], [0, 1, 0], [0, 0, 1], [0.5, 0.5, 0], [0, 0.5, 0.5], [0.5, 0, 0.5]][: model.features]
    logs = log_gains @ np.array([*shares, *([[0, 0, 0]] * model.offset)], dtype=np.float64).T
    gains: FloatArray = np.exp(logs)
    return gains


def with_gains(model: Model, values: FloatArray, log_gains: FloatArray) -> FloatArray:
    """Values for one photo: the station's, its gains put into the matrix. shape (values,)."""
    own = values.copy()
    matrix = own[: model.matrix_values].reshape(3, -1) * column_gains(model, log_gains)
    own[: model.matrix_values] = matrix.ravel()
    return own


def predicted(model: Model, values: FloatArray, log_gains: FloatArray, linear_rgb: FloatArray) -> FloatArray:
    """CIE XYZ D65 of patches of one photo. shape (patches, 3)."""
    xyz: FloatArray = predict(model, with_gains(model, values, log_gains)[None], linear_rgb)[0][0]
    return xyz


def fit_station(
    model: Model, cards: tuple[StationCard, ...], start: FloatArray, steps: int = STEPS
) -> tuple[FloatArray, FloatArray]:
    """The station's values, and the logarithm of each photo's gains, the first photo's 0. shapes (values,), (n, 3).

    start : Values to begin with and to hold on to. shape (values,).
    """
    values, gains = start.copy(), np.zeros((len(cards), 3))
    gains = np.array([start_gains(card, cards[0]) for card in cards])
    gain_centre = gains.copy()
    precision = np.concatenate([1 / np.square(prior_sd(model)), np.full(3 * (len(cards) - 1), 1 / GAIN_SD**2)])
    for _ in range(steps):
        normal, right = (
            np.diag(precision),
            precision * np.concatenate([values - start, (gains - gain_centre)[1:].ravel()]),
        )
        for number, card in enumerate(cards):
            slopes, residual, weights = linearised(model, values, gains[number], card)
            columns = _columns(model, number)
            weighted = (weights[:, None, None] * slopes).reshape(-1, slopes.shape[-1]).T
            flat = slopes.reshape(-1, slopes.shape[-1])
            kept = columns >= 0
            at = np.ix_(columns[kept], columns[kept])
            normal[at] += (weighted @ flat)[np.ix_(kept, kept)]
            right[columns[kept]] += (weighted @ residual.ravel())[kept]
        step = np.linalg.solve(normal, right)
        values = values - step[: model.values]
        gains[1:] -= step[model.values :].reshape(-1, 3)
    return values, gains


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
    own = with_gains(model, values, log_gains)
    xyz, slopes = (part[0] for part in predict(model, own[None], card.linear_rgb))
    width = model.features + model.offset
    scale = np.ones(model.values)
    scale[: model.matrix_values] = np.tile(column_gains(model, log_gains), 3)
    by_gain = _by_gain(model, own, card.linear_rgb, width)
    together = np.concatenate([slopes * scale, by_gain], axis=-1)
    metric = edition_metric(card.edition)
    offset = np.clip(xyz_to_lab(xyz) - card.edition.lab_d65, -LARGEST_LAB_STEP, LARGEST_LAB_STEP)
    residual = (metric @ offset[..., None])[..., 0]
    lengths = np.sqrt(np.square(residual).sum(axis=-1))
    weights = card.weights * np.minimum(1.0, OUTLIER / np.maximum(lengths, 1e-9)) / TYPICAL_RESIDUAL**2
    return metric @ lab_slopes(xyz) @ together, residual, weights


def _by_gain(model: Model, own: FloatArray, linear_rgb: FloatArray, width: int) -> FloatArray:
    """Derivative of XYZ by the logarithm of the gains. shape (patches, 3, 3)."""
    straight = straightened(linear_rgb, channel_terms(model, own)[None])
    columns = features_of(model, straight)
    matrix = own[: model.matrix_values].reshape(3, width)
    shares = np.log(column_gains(model, np.eye(3)))  # how each column's logarithm goes with each gain's: (3, columns)
    by_gain: FloatArray = np.einsum("pk,xk,gk->pxg", columns, matrix, shares)
    return by_gain


def _columns(model: Model, number: int) -> FloatArray:
    """Where a photo's slopes stand among all unknowns; -1 for the gains of the first photo, which are fixed."""
    gains = np.arange(3) + model.values + 3 * (number - 1) if number else np.full(3, -1)
    return np.concatenate([np.arange(model.values), gains]).astype(np.int64)


def start_gains(card: StationCard, first: StationCard) -> FloatArray:
    """Gains that bring the mean of a photo's patches to where the first photo's card would have them. shape (3,)."""
    ratio = _mean_ratio(first) / _mean_ratio(card)
    logs: FloatArray = np.log(ratio)
    return logs


def _mean_ratio(card: StationCard) -> FloatArray:
    served = card.weights > 0
    light = np.maximum(card.linear_rgb[served], 1e-5)
    ratio: FloatArray = np.exp(np.log(light / card.edition.xyz_d65[served, 1:2]).mean(axis=0))
    return ratio
