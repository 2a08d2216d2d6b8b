"""Fits of a model to a card in ΔE2000: Gauss-Newton on all sets of left-out patches at once."""

from dataclasses import dataclass, field

import numpy as np

from calibration.cards.layouts import Edition
from calibration.colourspaces import CIE_EPSILON, CIE_KAPPA, SRGB_TO_XYZ_D65, WHITE_D65_XYZ, xyz_to_lab
from calibration.correcting.candidates import Model, predict
from calibration.correcting.matrix_prior import balance, value_prior
from calibration.correcting.metric import edition_metric
from calibration.photo import FloatArray

FULL_STEPS = 8
LEFT_OUT_STEPS = 3
TYPICAL_RESIDUAL = 1.25  # ΔE2000: weighs the card against the priors
OUTLIER = 4.0  # ΔE2000: beyond, a patch's pull no longer grows
LARGEST_LAB_STEP = 60.0
# Change of the light's logarithm from the middle of the card to its edge, one standard deviation. Looser or tighter by
# a factor of two changes little: tests/studies/correction_models.py.
PLANE_SD = 0.05


@dataclass(frozen=True, eq=False)
class CardData:
    """One card as photographed, and what it should be.

    linear_rgb : File's linear light, white patch about 1. shape (patches, 3).
    weights : How much each patch counts; 0 for one that may not serve. shape (patches,).
    places : Where the patches lie, in halves of the card's width from its middle: a plane of light across the card is
        then fitted too. shape (patches, 2), or (0, 2) for no plane.
    file_matrix : The file's own linear colour to CIE XYZ D65: what the matrix is expected to be near.
    """

    linear_rgb: FloatArray
    edition: Edition
    weights: FloatArray
    places: FloatArray = field(default_factory=lambda: np.zeros((0, 2)))
    file_matrix: FloatArray = field(default_factory=lambda: SRGB_TO_XYZ_D65)


@dataclass(frozen=True, eq=False)
class CardFit:
    """One fit or several. values : Of the model. plane : Slope of the light's logarithm across and down the card."""

    values: FloatArray
    plane: FloatArray


def fit(model: Model, data: CardData, start: FloatArray | None = None) -> tuple[FloatArray, FloatArray]:
    """Values of the best fit, shape (values,), and the weights that outliers were left with, shape (patches,).

    start : Where to begin, if not where the prior stands. shape (values,).
    """
    fitted, weights = fit_card(model, data, start)
    return fitted.values, weights


def fit_card(model: Model, data: CardData, start: FloatArray | None = None) -> tuple[CardFit, FloatArray]:
    """The best fit, with the plane of light across the card, and the weights that outliers were left with."""
    prior = _prior(model, data, data.weights[None])
    fitted = CardFit(prior[0][:, : model.values] if start is None else start[None], np.zeros((1, 2)))
    weights = data.weights[None]
    for _ in range(FULL_STEPS):
        slopes, residual = _linearised(model, data, fitted)
        lengths = np.sqrt(np.square(residual).sum(axis=-1))
        weights = data.weights * np.minimum(1.0, OUTLIER / np.maximum(lengths, 1e-9))
        fitted = _step(fitted, (slopes, residual), weights, prior)
    return CardFit(fitted.values[0], fitted.plane[0]), weights[0]


def fit_left_out(model: Model, data: CardData, fitted: CardFit, weights: FloatArray, sets: FloatArray) -> CardFit:
    """Fits that leave patches out, from the fit of all. Shapes (sets, values), (sets, 2).

    The prior is made anew for each set, so nothing of a left-out patch is in it.
    sets : 1 where a patch is left out of a set, else 0. shape (sets, patches).
    """
    kept = weights[None] * (1 - sets)
    prior = _prior(model, data, kept)
    moved = CardFit(np.repeat(fitted.values[None], len(sets), axis=0), np.repeat(fitted.plane[None], len(sets), axis=0))
    # The first step leaves one place, so it is linearised once for all sets.
    linearised = _linearised(model, data, CardFit(fitted.values[None], fitted.plane[None]))
    for left in range(LEFT_OUT_STEPS):
        if left:
            linearised = _linearised(model, data, moved)
        moved = _step(moved, linearised, kept, prior)
    return moved


def fitted_xyz(model: Model, data: CardData, fitted: CardFit) -> FloatArray:
    """XYZ of every patch under every fit, as the light at the card's middle would show it. (fits, patches, 3)."""
    xyz: FloatArray = predict(model, fitted.values, data.linear_rgb)[0] * _evening(data, fitted)[..., None]
    return xyz


def start_values(model: Model, data: CardData) -> FloatArray:
    """The plain least-squares 3x3, no curve: where a station's fit starts, and what it holds on to. shape (values,)."""
    light, xyz = data.linear_rgb, data.edition.xyz_d65
    served = data.weights > 0
    scale = np.sqrt(data.weights[served] / np.maximum(xyz[served, 1], 0.02))[:, None]
    matrix = np.linalg.lstsq(scale * light[served], scale * xyz[served], rcond=None)[0].T
    values = np.zeros(model.values)
    width = model.features + model.offset
    for row in range(3):
        values[row * width : row * width + 3] = matrix[row]
    return values


def _prior(model: Model, data: CardData, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Centre and precision of values and plane together, for each fit."""
    wanted = data.edition.xyz_d65 @ np.linalg.inv(data.file_matrix).T
    gains = balance(data.linear_rgb, (wanted, data.edition.lab_d65), weights)
    centre, precision = value_prior(model, data.file_matrix, gains)
    whole = np.zeros((len(gains), model.values + 2, model.values + 2))
    whole[:, : model.values, : model.values] = precision
    whole[:, -1, -1] = whole[:, -2, -2] = 1 / PLANE_SD**2
    return np.concatenate([centre, np.zeros((len(gains), 2))], axis=1), whole


def _step(
    fitted: CardFit,
    linearised: tuple[FloatArray, FloatArray],
    weights: FloatArray,
    prior: tuple[FloatArray, FloatArray],
) -> CardFit:
    """One Gauss-Newton step of every fit. weights : shape (fits, patches)."""
    slopes, residual = linearised
    centre, precision = prior
    now = np.concatenate([fitted.values, fitted.plane], axis=1)
    jacobian = slopes.reshape(len(slopes), -1, slopes.shape[-1])
    weight = np.repeat(weights / TYPICAL_RESIDUAL**2, 3, axis=1)
    weighted = (weight[..., None] * jacobian).transpose(0, 2, 1)
    normal = weighted @ jacobian + precision
    right = weighted @ residual.reshape(len(residual), -1, 1) + precision @ (now - centre)[..., None]
    moved = now - np.linalg.solve(normal, right)[..., 0]
    return CardFit(moved[:, :-2], moved[:, -2:])


def _linearised(model: Model, data: CardData, fitted: CardFit) -> tuple[FloatArray, FloatArray]:
    """Difference to the card as a vector whose length is about ΔE2000, and its derivative by values and plane.

    Returns shapes (fits, patches, 3, values + 2) and (fits, patches, 3).
    """
    metric = edition_metric(data.edition)
    raw, by_values = predict(model, fitted.values, data.linear_rgb)
    evening = _evening(data, fitted)[..., None]
    xyz = raw * evening
    by_plane = np.zeros((*xyz.shape, 2))
    if len(data.places):
        by_plane = -xyz[..., None] * data.places[None, :, None, :]
    offset = np.clip(xyz_to_lab(xyz) - data.edition.lab_d65, -LARGEST_LAB_STEP, LARGEST_LAB_STEP)
    slopes = np.concatenate([by_values * evening[..., None], by_plane], axis=-1)
    return metric @ lab_slopes(xyz) @ slopes, (metric @ offset[..., None])[..., 0]


def _evening(data: CardData, fitted: CardFit) -> FloatArray:
    """Light at the card's middle over that at each patch. shape (fits, patches)."""
    if not len(data.places):
        return np.ones((len(fitted.plane), len(data.linear_rgb)))
    evening: FloatArray = np.exp(-fitted.plane @ data.places.T)
    return evening


def lab_slopes(xyz: FloatArray) -> FloatArray:
    """Derivative of CIELAB by XYZ at many colours. Shape (..., 3, 3): rows L*, a*, b*."""
    ratio = xyz / WHITE_D65_XYZ
    safe = np.maximum(ratio, CIE_EPSILON)
    slope = np.where(ratio > CIE_EPSILON, safe ** (-2 / 3) / 3, CIE_KAPPA / 116) / WHITE_D65_XYZ
    slopes = np.zeros((*xyz.shape, 3))
    slopes[..., 0, 1] = 116 * slope[..., 1]
    slopes[..., 1, 0], slopes[..., 1, 1] = 500 * slope[..., 0], -500 * slope[..., 1]
    slopes[..., 2, 1], slopes[..., 2, 2] = 200 * slope[..., 1], -200 * slope[..., 2]
    return slopes
