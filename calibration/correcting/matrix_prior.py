"""What is known of a correction's matrix before the card is seen: how lamps, cameras and their developments differ.

A file's colours are those of its own colour space, mixed a little: by a lamp that is not the camera's, by a
development that saturates. So, on the file's light balanced to neutral greys, the mixing is near to none. How near,
`python -m tests.studies.matrix_prior` measures over cameras, lamps and developments.
"""

import numpy as np

from calibration.correcting.candidates import ROOTS, WHITENESS, Model, prior_sd
from calibration.photo import FloatArray

# What each channel takes from the other two, one standard deviation. Rows and columns R, G, B. Two to six times what
# the study finds; half of it, or half as much again, changes the error on real cards by less than 0.1 ΔE2000.
MIXING_SD = ((0.0, 0.54, 0.30), (0.18, 0.0, 0.36), (0.15, 0.30, 0.0))
GAIN_SD = 10.0  # exposure and balance: free
# Whiteness works on all channels alike, but for this.
TINT_SD = 0.01
# How far from grey, in chroma, a patch still tells the balance; the others count for next to nothing.
NEUTRAL_CHROMA = 8.0
LEAST_SAY = 1e-3
_ROOT_SHARES = np.array([[0.5, 0.5, 0.0], [0.0, 0.5, 0.5], [0.5, 0.0, 0.5]])


def balance(linear_rgb: FloatArray, wanted: tuple[FloatArray, FloatArray], weights: FloatArray) -> FloatArray:
    """Gains of red, green and blue, 1 on the whole, that make the greys neutral. shape (fits, 3).

    wanted : The patches in the file's own linear colour, and as CIELAB. weights : Of each fit. shape (fits, patches).
    """
    rgb, lab = wanted
    near_grey = np.exp(-np.square(lab[:, 1:]).sum(axis=1) / (2 * NEUTRAL_CHROMA**2)) + LEAST_SAY
    say = weights * near_grey
    gains: FloatArray = np.clip((say @ (rgb * linear_rgb)) / np.maximum(say @ np.square(linear_rgb), 1e-9), 0.02, 50.0)
    # How much light there is, the reference light has settled at white, where no tone curve bends it.
    balanced: FloatArray = gains / np.exp(np.log(gains).mean(axis=1, keepdims=True))
    return balanced


def value_prior(model: Model, file_matrix: FloatArray, gains: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where the fitted values of each fit are expected, and their precision. shapes (fits, n), (fits, n, n)."""
    width, count = model.features + model.offset, model.matrix_values
    centre = np.zeros((len(gains), model.values))
    matrix = centre[:, :count].reshape(len(gains), 3, width)
    matrix[:, :, :3] = file_matrix * gains[:, None, :]
    precision = np.zeros((len(gains), model.values, model.values))
    precision[:] = np.diag(1 / np.square(prior_sd(model)))
    scale = np.tile(1 / _column_scale(model, gains), (1, 3))
    balanced = _balanced_precision(model, np.asarray(np.linalg.inv(file_matrix), dtype=np.float64))
    precision[:, :count, :count] = scale[:, :, None] * balanced * scale[:, None, :]
    return centre, precision


def _column_scale(model: Model, gains: FloatArray) -> FloatArray:
    """How each column of the matrix grows with the gains. shape (fits, columns)."""
    red, green, blue = gains.T
    roots = [np.sqrt(red * green), np.sqrt(green * blue), np.sqrt(red * blue)]
    columns = [red, green, blue, *roots, red * green * blue][: model.features] + [np.ones_like(red)] * model.offset
    return np.stack(columns, axis=1)


def _balanced_precision(model: Model, to_rgb: FloatArray) -> FloatArray:
    """Precision of the matrix on balanced light, row by row. shape (matrix values, matrix values)."""
    width = model.features + model.offset
    tied: list[tuple[FloatArray, float]] = []
    for row in range(3):
        mixing = [_mixing(model, to_rgb, row, column) for column in range(3)]
        tied.append((np.sum(mixing, axis=0), GAIN_SD))
        tied += [(mixing[column], MIXING_SD[row][column]) for column in range(3) if column != row]
        for column in range(3, width):
            tied.append(_beyond_mixing(model, to_rgb, row, column))
    if model.features == WHITENESS:
        tied.append((_column(to_rgb.mean(axis=0), 6, width), float(prior_sd(model)[6])))
    rows = np.array([form.ravel() / sd for form, sd in tied])
    precision: FloatArray = rows.T @ rows
    return precision


def _mixing(model: Model, to_rgb: FloatArray, row: int, column: int) -> FloatArray:
    """The form that reads one element of the mixing off the matrix, root products counted with it. (3, columns)."""
    form = _column(to_rgb[row], column, model.features + model.offset)
    if model.features >= ROOTS:
        form[:, 3:6] = to_rgb[row][:, None] * _ROOT_SHARES[:, column]
    return form


def _beyond_mixing(model: Model, to_rgb: FloatArray, row: int, column: int) -> tuple[FloatArray, float]:
    """The form of one value outside the 3x3, and how far it may stray."""
    width = model.features + model.offset
    if model.features == WHITENESS and column == 6:
        return _column(to_rgb[row] - to_rgb.mean(axis=0), column, width), TINT_SD
    return _column(np.eye(3)[row], column, width), float(prior_sd(model)[column])


def _column(values: FloatArray, column: int, width: int) -> FloatArray:
    form = np.zeros((3, width))
    form[:, column] = values
    return form
