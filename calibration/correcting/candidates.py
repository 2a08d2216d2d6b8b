"""The models of correction: what may stand between a file's linear light and CIE XYZ, from simple to rich."""

from dataclasses import dataclass

import numpy as np

from calibration.correcting.applying import with_root_products, with_whiteness
from calibration.photo import FloatArray

DARKEST = 1e-5  # of white: below, a logarithm would run away
# Where the toe of a tone curve begins, as a share of white: middle grey.
TOE = 0.18
CURVE_TERMS = 3
# How far each value may be expected to stray, one standard deviation. From tests/studies/correction_models.py: looser
# or tighter by a factor of two changes the error on skin and hair by less than 0.1 ΔE2000.
CURVE_SD = (1.0, 1.0, 1.0)
CHANNEL_CURVE_SD = (0.02, 0.02, 0.02)
OFFSET_SD = 0.001  # stray light, as a share of white: more freedom here costs accuracy in dark hair
ROOT_SD = 0.10
MATRIX_SD = 1.0
WHITENESS_SD = 1.0
USUAL_WIN_BY = 0.5
# A curve for each channel costs accuracy in dark hair (tests/studies/correction_models.py) unless a card cries for it.
EACH_CHANNEL_WIN_BY = 2.0
ROOTS, WHITENESS = 6, 7  # features with root products, and with whiteness beside them


@dataclass(frozen=True)
class Model:
    """One form of correction.

    curves : Tone curves fitted: 0 none, 1 common to the channels, 4 a common one and what each channel adds to it.
    features : Columns of the matrix: 3, 6 with root products, 7 with whiteness too.
    offset : Columns for stray light: 0 or 1.
    win_by : By how many standard errors of their difference it must beat a simpler one.
    """

    name: str
    curves: int = 0
    features: int = 3
    offset: int = 0
    win_by: float = USUAL_WIN_BY

    @property
    def matrix_values(self) -> int:
        return 3 * (self.features + self.offset)

    @property
    def values(self) -> int:
        """Number of values that a fit finds: matrix row by row, then curve terms."""
        return self.matrix_values + CURVE_TERMS * self.curves


# From simple to rich. A station takes one of these.
MODELS = (
    Model("3x3"),
    Model("tone curve and 3x3", curves=1),
    Model("tone curve and root polynomial", curves=1, features=6),
    Model("tone curve, stray light and 3x3", curves=1, offset=1),
    Model("tone curve for each channel, stray light and 3x3", curves=4, offset=1),
)
# What one card may take; the choice takes the first that is as good as the best, white balance before them all.
CARD_MODELS = (
    MODELS[0],
    Model("tone curve, root polynomial and whiteness", curves=1, features=WHITENESS),
    Model(
        "tone curve for each channel, stray light, root polynomial and whiteness", 4, WHITENESS, 1, EACH_CHANNEL_WIN_BY
    ),
)
# A file of linear light has no tone curve, and nothing in it holds white back.
LINEAR_MODELS = (MODELS[0],)


def card_models(linear: bool) -> tuple[Model, ...]:
    """What one card may take: of a file that keeps linear light, or of one whose light a development has bent."""
    return LINEAR_MODELS if linear else CARD_MODELS


def curve_basis(linear_rgb: FloatArray) -> FloatArray:
    """Terms of a tone curve's logarithm at each value: power, shoulder, toe. Shape (..., 3, terms), 0 at white."""
    light = np.maximum(linear_rgb, DARKEST)
    power = np.log(light)
    shoulder = light - 1
    toe = -np.log1p(TOE / light) + np.log1p(TOE)
    return np.stack([power, shoulder, toe], axis=-1)


def straightened(linear_rgb: FloatArray, terms: FloatArray) -> FloatArray:
    """Light after the tone curve is taken out. terms : shape (..., 3 channels, terms), broadcast against the light."""
    light = np.maximum(linear_rgb, DARKEST)
    straight: FloatArray = light * np.exp((curve_basis(linear_rgb) * terms).sum(axis=-1))
    return straight


def channel_terms(model: Model, values: FloatArray) -> FloatArray:
    """Curve terms for each channel out of fitted values (..., values). Shape (..., 3, terms)."""
    if model.curves == 0:
        return np.zeros((*values.shape[:-1], 3, CURVE_TERMS))
    terms = values[..., model.matrix_values :].reshape(*values.shape[:-1], model.curves, CURVE_TERMS)
    common = np.repeat(terms[..., :1, :], 3, axis=-2)
    return common if model.curves == 1 else common + terms[..., 1:, :]


def features_of(model: Model, straight: FloatArray) -> FloatArray:
    """What the matrix is multiplied with. Shape (..., features + offset)."""
    columns = straight
    if model.features == ROOTS:
        columns = np.asarray(with_root_products(straight), dtype=np.float64)
    elif model.features == WHITENESS:
        columns = np.asarray(with_whiteness(straight), dtype=np.float64)
    if model.offset:
        columns = np.concatenate([columns, np.ones_like(columns[..., :1])], axis=-1)
    return columns


def predict(model: Model, values: FloatArray, linear_rgb: FloatArray) -> tuple[FloatArray, FloatArray]:
    """XYZ of each patch under each set of values, and its derivative by them.

    values : shape (fits, values). linear_rgb : shape (patches, 3), white about 1.
    Returns shapes (fits, patches, 3) and (fits, patches, 3, values).
    """
    fits, patches = len(values), len(linear_rgb)
    matrix = values[:, : model.matrix_values].reshape(fits, 3, -1)
    straight = straightened(linear_rgb[None], channel_terms(model, values)[:, None])
    columns = features_of(model, straight)
    xyz = columns @ matrix.transpose(0, 2, 1)
    slopes = np.zeros((fits, patches, 3, model.values))
    width = model.features + model.offset
    for row in range(3):
        slopes[:, :, row, row * width : (row + 1) * width] = columns
    if model.curves:
        by_light = _matrix_slopes(model, matrix, straight) * straight[:, :, None, :]
        by_channel = by_light[..., None] * curve_basis(linear_rgb)[None, :, None]
        common = by_channel.sum(axis=3)
        own = [] if model.curves == 1 else [by_channel.reshape(fits, patches, 3, -1)]
        slopes[..., model.matrix_values :] = np.concatenate([common, *own], axis=-1)
    return xyz, slopes


def _matrix_slopes(model: Model, matrix: FloatArray, straight: FloatArray) -> FloatArray:
    """Derivative of XYZ by straightened light. Shape (fits, patches, 3 of XYZ, 3 of RGB)."""
    slopes = np.repeat(matrix[:, None, :, :3], straight.shape[1], axis=1)
    if model.features >= ROOTS:
        root = np.sqrt(np.maximum(straight, DARKEST))
        for place, (one, other) in enumerate(((0, 1), (1, 2), (0, 2)), start=3):
            column = matrix[:, None, :, place]
            slopes[..., one] += column * (root[..., other] / root[..., one] / 2)[..., None]
            slopes[..., other] += column * (root[..., one] / root[..., other] / 2)[..., None]
    if model.features == WHITENESS:
        white = np.square(root).prod(axis=-1)[..., None]
        slopes += (matrix[:, None, :, 6] * white)[..., None] / np.square(root)[:, :, None]
    return slopes


def prior_sd(model: Model) -> FloatArray:
    """How far each fitted value may stray from its start, one standard deviation. shape (values,)."""
    features = [MATRIX_SD] * 3 + [ROOT_SD] * 3 + [WHITENESS_SD]
    row = features[: model.features] + [OFFSET_SD] * model.offset
    curve = [*CURVE_SD] + (model.curves - 1) * [*CHANNEL_CURVE_SD] if model.curves else []
    return np.array([*(3 * row), *curve])
