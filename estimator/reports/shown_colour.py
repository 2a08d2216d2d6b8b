"""A colour for a screen and in words, from lab_d65 alone."""

from collections.abc import Sequence

import numpy as np

from calibration.colourspaces import in_srgb, lab_to_xyz, xyz_to_srgb8
from calibration.photo import FloatArray
from estimator.reports.wording import number_text


def hex_colour(lab_d65: Sequence[float] | FloatArray) -> str:
    """Colour for a screen, "#rrggbb"; clipped where no sRGB screen can show it (`shown_text` says so)."""
    red, green, blue = xyz_to_srgb8(lab_to_xyz(np.asarray(lab_d65, dtype=np.float64)))
    return f"#{red:02x}{green:02x}{blue:02x}"


def shown_text(lab_d65: Sequence[float] | FloatArray) -> str:
    """ "" for a colour that a screen can show; else the words that must stand beside its patch."""
    return "" if in_srgb(lab_to_xyz(np.asarray(lab_d65, dtype=np.float64))) else "shown as near as a screen can"


def lab_words(lab_d65: Sequence[float] | FloatArray) -> str:
    """CIELAB for a screen reader."""
    named = zip(("L*", "a*", "b*"), lab_d65, strict=True)
    return ", ".join(f"{name} {number_text(float(value), 0)}" for name, value in named)
