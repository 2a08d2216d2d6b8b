"""What one photograph says of one zone, kept beside its reading so that photographs can be read together."""

from dataclasses import dataclass

import numpy as np

from calibration.photo import FloatArray
from estimator.reading.hair_colours import HairColours
from estimator.reading.light_model import LightModel
from estimator.zones.outline import StrandPattern

# The light of blocks varies by about this much (logarithm) for no reason: a zone without any pattern of light says
# nothing of where the lamp stood.
FLOOR_SD = 0.05
FEWEST_BLOCKS = 8


@dataclass(frozen=True, eq=False)
class Evidence:
    """The light of one zone in one photo, as the model takes it.

    patterns : The strand pattern that was stated, or all that it may be.
    seen : What is seen of the zone, less the light at the zone and the photo's shift as far as known. shape (seen,).
    scatter : Covariance of `seen` about what the model expects. shape (seen, seen).
    log_light : Logarithm of the light of the zone's blocks, NaN where there is none. shape (ALONG, ACROSS).
    """

    patterns: tuple[StrandPattern, ...]
    seen: FloatArray
    scatter: FloatArray
    log_light: FloatArray
    model: LightModel
    colours: HairColours


def likeness(one: Evidence, other: Evidence) -> float:
    """How alike light falls on a zone in two photos, 0 to 1: 1 where its blocks stand out alike in both.

    The same hair under the same lamp errs alike, whatever was done to its colour; under another lamp it does not.
    """
    first, second = one.log_light.ravel(), other.log_light.ravel()
    both = np.isfinite(first) & np.isfinite(second)
    if both.sum() < FEWEST_BLOCKS:
        return 0.0
    first, second = (blocks[both] - blocks[both].mean() for blocks in (first, second))
    apart = np.square(first - second).mean() + FLOOR_SD**2
    alone = np.square(first).mean() + np.square(second).mean() + FLOOR_SD**2
    return max(0.0, 1.0 - float(apart / alone))


def error_correlation(one: Evidence, other: Evidence) -> FloatArray:
    """Correlation of the errors of two photos of the same hair, for each number seen. shape (seen,)."""
    model = one.model
    light = model.same_light[0] * likeness(one, other) ** model.likeness_power
    # The statistics beside hair_u: spread of light goes with light, change of colour with colour.
    by_feature = (light, light, *model.same_light[1:])
    return np.array([light, *model.same_light[1:], *(by_feature[feature] for feature in model.features)])
