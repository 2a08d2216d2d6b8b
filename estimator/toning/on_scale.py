"""The one place where toning asks the scale: what L* a level is, and what level and warmth a colour is."""

from dataclasses import dataclass
from typing import cast

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.reading.zone_reading import NINE_IN_TEN, ZoneReading
from estimator.scale.appearance import Level, Warmth
from estimator.scale.level import default_scale, level_of
from estimator.scale.warmth import warmth_of


@dataclass(frozen=True, eq=False)
class _PredictedColour:
    """A colour with its spread: all that the scale asks of a reading. covariance : shape (3, 3)."""

    lab_d65: FloatArray
    covariance: FloatArray

    @property
    def lab_low(self) -> FloatArray:
        low: FloatArray = self.lab_d65 - NINE_IN_TEN * np.sqrt(np.diag(self.covariance))
        return low

    @property
    def lab_high(self) -> FloatArray:
        high: FloatArray = self.lab_d65 + NINE_IN_TEN * np.sqrt(np.diag(self.covariance))
        return high


def lightness_of_level(level: float) -> float:
    """L* of hair of this level on the default scale; beyond its ends as at them."""
    scale = default_scale()
    return float(np.interp(level, scale.levels, scale.lightness))


def level_of_colour(lab_d65: FloatArray, covariance: FloatArray) -> Level:
    """Level of a colour, with its nine-in-ten interval."""
    # A predicted colour is no reading, but it has what the scale looks at.
    return level_of(cast(ZoneReading, _PredictedColour(lab_d65, covariance)))


def warmth_of_colour(lab_d65: FloatArray, covariance: FloatArray) -> Warmth:
    """Remaining warmth of a colour, with its nine-in-ten intervals."""
    return warmth_of(cast(ZoneReading, _PredictedColour(lab_d65, covariance)))
