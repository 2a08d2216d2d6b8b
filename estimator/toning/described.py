"""A shade from its description alone: family and level give a guess of its colour on white hair, and a wide doubt."""

import numpy as np

from estimator.scale.level import lightness_of_level
from estimator.toning.grams import toning_table
from estimator.toning.shades import Covariance, Family, Lab

LEAST_SHADED = 2.0  # a shade darkens white hair by at least so much. [L* units]


def described_colour(family: Family, depth_level: float, white_lab_d65: Lab) -> tuple[Lab, Covariance]:
    """CIELAB D65 2° of white hair after one full part of such a shade, and the covariance of that guess.

    Clear leaves the hair as it is, and nothing about it is in doubt.
    """
    none = (0.0, 0.0, 0.0)
    if family is Family.CLEAR:
        return white_lab_d65, (none, none, none)
    table = toning_table("described_shades")
    row = next(row for row in table["family"] if row["word"] == family)
    lightness = lightness_of_level(depth_level) + float(table["lighter_than_level"])
    lightness = min(lightness, white_lab_d65[0] - LEAST_SHADED)
    spread = np.diag(np.array([table["lightness_sd"], row["ab_sd"], row["ab_sd"]], dtype=np.float64) ** 2)
    return (lightness, float(row["a"]), float(row["b"])), as_covariance(spread)


def as_covariance(spread: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]") -> Covariance:
    """A covariance as a shade holds it. shape (3, 3)."""
    first, second, third = ((float(row[0]), float(row[1]), float(row[2])) for row in spread)
    return first, second, third
