"""The middle and the covariance of a mixture of Gaussians in CIELAB."""

import numpy as np

from calibration.photo import FloatArray

ROUNDS = 17  # halvings of a range of at most some 200 units: to 2e-3
LEAST_SHARE = 1e-4


def mixture_in_lab(share: FloatArray, lab: FloatArray, covariances: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Median of each coordinate, shape (3,), and the covariance about it, shape (3, 3).

    The median and not the mean: of a lopsided mixture it lies closer to the truth more often.

    share : Of each Gaussian, adding up to 1. shape (kernels,). lab : shape (kernels, 3).
    covariances : shape (kernels, 3, 3).
    """
    middle = _medians(share, lab, np.sqrt(np.einsum("kii->ki", covariances)))
    about = lab - middle
    covariance: FloatArray = np.tensordot(share, covariances, axes=1) + (about * share[:, None]).T @ about
    return middle, covariance


def _medians(share: FloatArray, lab: FloatArray, sd: FloatArray) -> FloatArray:
    """Where each coordinate's distribution reaches one half, by halving. shape (3,)."""
    kept = share > LEAST_SHARE
    share, lab, sd = share[kept] / share[kept].sum(), lab[kept], sd[kept]
    low, high = (lab - sd).min(axis=0), (lab + sd).max(axis=0)
    for _ in range(ROUNDS):
        middle = (low + high) / 2
        below = share @ _normal_share_below((middle - lab) / sd) > 0.5
        low, high = np.where(below, low, middle), np.where(below, middle, high)
    found: FloatArray = (low + high) / 2
    return found


def _normal_share_below(deviation: FloatArray) -> FloatArray:
    """Cumulative normal distribution, to 2e-4: the hyperbolic tangent form (Page 1977; from memory)."""
    share: FloatArray = 0.5 * (1 + np.tanh(0.7978845608 * (deviation + 0.044715 * deviation * deviation * deviation)))
    return share
