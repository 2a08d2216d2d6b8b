"""Fits of a model to a card in ΔE2000: Gauss-Newton on all leave-one-out sets at once."""

from dataclasses import dataclass

import numpy as np

from calibration.cards.layouts import Edition
from calibration.colourspaces import CIE_EPSILON, CIE_KAPPA, WHITE_D65_XYZ, xyz_to_lab
from calibration.correcting.candidates import Model, predict, prior_sd
from calibration.correcting.metric import edition_metric
from calibration.photo import FloatArray

FULL_STEPS = 6
LEFT_OUT_STEPS = 2
TYPICAL_RESIDUAL = 1.25  # ΔE2000: weighs the card against the priors
OUTLIER = 4.0  # ΔE2000: beyond, a patch's pull no longer grows
LARGEST_LAB_STEP = 60.0


@dataclass(frozen=True, eq=False)
class CardData:
    """One card as photographed, and what it should be.

    linear_rgb : File's linear light, white patch about 1. shape (24, 3).
    weights : How much each patch counts; 0 for one that may not serve. shape (24,).
    """

    linear_rgb: FloatArray
    edition: Edition
    weights: FloatArray


def fit(model: Model, data: CardData, start: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Values of the best fit, shape (values,), and the weights that outliers were left with, shape (24,).

    start : Where to begin. shape (values,). The priors hold on to `start_values`, wherever it begins.
    """
    values, weights = start[None], data.weights[None]
    centre = start_values(model, data)
    for _ in range(FULL_STEPS):
        slopes, residual = _linearised(model, data, values)
        lengths = np.sqrt(np.square(residual).sum(axis=-1))
        weights = data.weights * np.minimum(1.0, OUTLIER / np.maximum(lengths, 1e-9))
        values = _step(model, values, (slopes, residual), weights, centre)
    return values[0], weights[0]


def fit_left_out(model: Model, data: CardData, values: FloatArray, weights: FloatArray, sets: FloatArray) -> FloatArray:
    """Values of fits that leave patches out, from the fit of all. Shape (sets, values).

    sets : 1 where a patch is left out of a set, else 0. shape (sets, 24).
    """
    moved = np.repeat(values[None], len(sets), axis=0)
    kept = weights[None] * (1 - sets)
    centre = start_values(model, data)
    # The first step leaves one place, so it is linearised once for all sets.
    slopes, residual = _linearised(model, data, values[None])
    for left in range(LEFT_OUT_STEPS):
        if left:
            slopes, residual = _linearised(model, data, moved)
        moved = _step(model, moved, (slopes, residual), kept, centre)
    return moved


def start_values(model: Model, data: CardData) -> FloatArray:
    """Where a fit starts, and what its priors hold on to: the plain least-squares 3x3, no curve. shape (values,)."""
    light, xyz = data.linear_rgb, data.edition.xyz_d65
    served = data.weights > 0
    scale = np.sqrt(data.weights[served] / np.maximum(xyz[served, 1], 0.02))[:, None]
    matrix = np.linalg.lstsq(scale * light[served], scale * xyz[served], rcond=None)[0].T
    values = np.zeros(model.values)
    width = model.features + model.offset
    for row in range(3):
        values[row * width : row * width + 3] = matrix[row]
    return values


def _step(
    model: Model, values: FloatArray, linearised: tuple[FloatArray, FloatArray], weights: FloatArray, centre: FloatArray
) -> FloatArray:
    """One Gauss-Newton step of every fit. weights : shape (fits, 24)."""
    slopes, residual = linearised
    jacobian = slopes.reshape(len(slopes), -1, model.values)
    weight = np.repeat(weights / TYPICAL_RESIDUAL**2, 3, axis=1)
    weighted = (weight[..., None] * jacobian).transpose(0, 2, 1)
    precision = 1 / np.square(prior_sd(model))
    normal = weighted @ jacobian + np.diag(precision)
    right = weighted @ residual.reshape(len(residual), -1, 1) + (precision * (values - centre))[..., None]
    moved: FloatArray = values - np.linalg.solve(normal, right)[..., 0]
    return moved


def _linearised(model: Model, data: CardData, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Difference to the card as a vector whose length is about ΔE2000, and its derivative by the values.

    Returns shapes (fits, 24, 3, values) and (fits, 24, 3).
    """
    metric = edition_metric(data.edition)
    xyz, slopes = predict(model, values, data.linear_rgb)
    offset = np.clip(xyz_to_lab(xyz) - data.edition.lab_d65, -LARGEST_LAB_STEP, LARGEST_LAB_STEP)
    return metric @ lab_slopes(xyz) @ slopes, (metric @ offset[..., None])[..., 0]


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
