"""Pigment left in hair, from its lightness and back: what a lift takes out is melanin, not L*.

A volume of strands sends back exp(-D sqrt(absorption)) of the light that enters it (Chiang, Bitterli, Tappan, Burley,
Computer Graphics Forum 35(2), 2016). D falls out here, since only ratios of pigment count.
"""

import numpy as np

from calibration.photo import FloatArray
from estimator.lifting.figures import figure

# CIE 1976 L*: 116 Y^(1/3) - 16 above (6/29)^3, 903.3 Y below; hair is never as dark as that bend.
DARKEST, PALEST = 9.0, 100.0


def pigment_of(lightness: FloatArray) -> FloatArray:
    """Pigment left, in units that only compare: 0 is bare hair. Any shape; hair darker than L* 17 counts as 17."""
    light = (np.clip(lightness, DARKEST, PALEST) + 16) ** 3 / 116**3
    surface = figure("surface_luminance")
    inside = np.clip((light - surface) / (1 - surface), 1e-3, 1.0)
    absorbed: FloatArray = np.log(inside) ** 2 - _keratin()
    return np.maximum(absorbed, 0.0)


def lightness_of(pigment: FloatArray) -> FloatArray:
    """L* of hair that holds this much pigment: the reverse of `pigment_of`."""
    surface = figure("surface_luminance")
    light = surface + (1 - surface) * np.exp(-np.sqrt(pigment + _keratin()))
    lightness: FloatArray = 116 * np.cbrt(light) - 16
    return lightness


def _keratin() -> float:
    light = ((figure("bare_lightness") + 16) / 116) ** 3
    surface = figure("surface_luminance")
    return float(np.log((light - surface) / (1 - surface)) ** 2)
