"""How fast a strand fills with what diffuses into it: a long cylinder in a bath of constant strength.

J. Crank, The Mathematics of Diffusion, chapter 5: 1 - sum of 4 / root^2 * exp(-root^2 D t / r^2) over the roots of J0.
"""

import math
from functools import cache

import numpy as np

from calibration.photo import FloatArray

FIRST_ROOT = 2.404825557695773  # of J0; McMahon's series is too coarse for this one only
ROOTS = 60
# Up to here the short-time law is within 0.003; the series would need ever more roots.
EARLY_UNTIL = 1e-3


def absorbed_share(dt_over_r2: FloatArray) -> FloatArray:
    """Share of what the strand will hold in the end, 0-1, at these D t / r^2. Same shape in and out."""
    time = np.maximum(np.asarray(dt_over_r2, dtype=np.float64), 0.0)
    left = np.zeros_like(time)
    for root in _roots_of_j0():
        left += 4 / root**2 * np.exp(-(root**2) * time)
    share: FloatArray = np.where(time < EARLY_UNTIL, early_share(time), 1 - left)
    return share


def absorbed_share_quickly(dt_over_r2: FloatArray) -> FloatArray:
    """As `absorbed_share`, within 1e-4, for many values at once: between its values on a fine grid of roots of time."""
    grid, shares = _grid()
    share: FloatArray = np.interp(np.sqrt(dt_over_r2), grid, shares)
    return share


@cache
def _grid() -> tuple[FloatArray, FloatArray]:
    grid = np.linspace(0.0, math.sqrt(3.0), 800)
    return grid, absorbed_share(grid**2)


def early_share(dt_over_r2: FloatArray) -> FloatArray:
    """The short-time law of the same cylinder: it grows with the square root of time."""
    share: FloatArray = 4 * np.sqrt(dt_over_r2 / math.pi) - dt_over_r2
    return share


def time_times(diameter_um: float, other_um: float) -> float:
    """How many times as long the first strand takes as the other: time goes with the square of the diameter."""
    return (diameter_um / other_um) ** 2


def _roots_of_j0() -> list[float]:
    return [FIRST_ROOT, *(_mcmahon(number) for number in range(2, ROOTS + 1))]


def _mcmahon(number: int) -> float:
    """A root of J0 by McMahon's expansion (Abramowitz and Stegun 9.5.12)."""
    eight = 8 * (number - 0.25) * math.pi
    return eight / 8 + 1 / eight - 124 / (3 * eight**3) + 120928 / (15 * eight**5)
