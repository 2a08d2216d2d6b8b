"""The one place where toning asks the scale: what L* a level is, and what level and warmth a colour is."""

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.scale.appearance import Level, Warmth

_LIGHTNESS = (17.0, 20.0, 23.5, 27.5, 32.0, 37.5, 44.0, 51.0, 59.0, 68.0)
_LEVELS = tuple(range(1, 11))


def lightness_of_level(level: float) -> float:
    """L* of hair of this level on the default scale."""
    return float(np.interp(level, _LEVELS, _LIGHTNESS))


def level_of_colour(lab_d65: FloatArray, covariance: FloatArray) -> Level:
    """Level of a colour, with its nine-in-ten interval."""
    half = 1.6449 * float(np.sqrt(covariance[0, 0]))
    low, middle, high = (float(np.interp(lab_d65[0] + shift, _LIGHTNESS, _LEVELS)) for shift in (-half, 0, half))
    return Level(middle, low, high, "", "default scale (an assumption)")


def warmth_of_colour(lab_d65: FloatArray, covariance: FloatArray) -> Warmth:
    """Remaining warmth of a colour, with its nine-in-ten intervals."""
    chroma = float(np.hypot(lab_d65[1], lab_d65[2]))
    hue = float(np.degrees(np.arctan2(lab_d65[2], lab_d65[1])) % 360)
    half = 1.6449 * float(np.sqrt(np.trace(covariance[1:, 1:]) / 2))
    width = 180.0 if chroma <= half else float(np.degrees(np.arcsin(half / chroma)))
    return Warmth(chroma, max(0.0, chroma - half), chroma + half, hue, width, _stage(chroma, hue), ())


_STAGES = (
    (25, "red"),
    (50, "red-brown"),
    (65, "orange"),
    (78, "gold"),
    (100, "yellow"),
    (170, "green cast"),
    (280, "blue cast"),
    (340, "violet cast"),
    (361, "red"),
)


def _stage(chroma: float, hue_deg: float) -> str:
    if chroma < 8:
        return "little warmth"
    word = next(word for top, word in _STAGES if hue_deg < top)
    return "pale yellow" if word == "yellow" and chroma < 20 else word
