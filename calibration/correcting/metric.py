"""CIEDE2000 near one colour as a plain squared length, so that a least-squares fit can minimise it."""

from functools import cache

import numpy as np

from calibration.cards.layouts import Edition
from calibration.colourspaces import delta_e_2000
from calibration.photo import FloatArray

STEP = 0.5  # of L*, a*, b*: small against the formula's bends, large against rounding


@cache
def edition_metric(edition: Edition) -> FloatArray:
    """For each patch the matrix that turns a small Lab difference into one whose length is ΔE2000. (24, 3, 3)."""
    return local_metric(edition.lab_d65)


def local_metric(lab_d65: FloatArray) -> FloatArray:
    """Matrices S with |S d| = ΔE2000(lab, lab + d) for small d. Shape (n, 3, 3) for colours of shape (n, 3)."""
    squares = np.empty((len(lab_d65), 3, 3))
    for first in range(3):
        for second in range(first + 1):
            plus, minus = np.zeros(3), np.zeros(3)
            plus[first] += STEP / 2
            plus[second] += STEP / 2
            minus[first] += STEP / 2
            minus[second] -= STEP / 2
            # Polarisation: the form of two directions from the lengths of their sum and difference.
            mixed = _squared(lab_d65, plus) - _squared(lab_d65, minus)
            squares[:, first, second] = squares[:, second, first] = mixed / STEP**2
    return np.asarray(np.linalg.cholesky(squares + 1e-9 * np.eye(3)).transpose(0, 2, 1), dtype=np.float64)


def _squared(lab_d65: FloatArray, offset: FloatArray) -> FloatArray:
    there, back = delta_e_2000(lab_d65, lab_d65 + offset), delta_e_2000(lab_d65, lab_d65 - offset)
    squared: FloatArray = (np.square(there) + np.square(back)) / 2
    return squared
