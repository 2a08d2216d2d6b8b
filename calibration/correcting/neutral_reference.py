"""The weak reference: a neutral thing that a person points at, where no card is in the photograph."""

from dataclasses import dataclass

import numpy as np

from calibration.correcting.applying import TableCorrection
from calibration.errors import CorrectionError
from calibration.findings import Finding, Severity
from calibration.photo import Box, FloatArray, Photo
from calibration.transfer import clipped, linear_light

# What white balance alone leaves: lightness is tied to nothing, colour to one neutral. tests/studies/
# neutral_reference.py: nine in ten readings of known browns and greys lie within 1.64 times this on renders (0.91 to
# 0.95), of a*, b* on real photographs too; of lightness on real ones eight in ten.
ASSUMED_DE2000 = 10.0
ASSUMED_LAB_SD = (10.0, 4.5, 5.5)
MIN_RADIUS_PX = 2.0


@dataclass(frozen=True)
class NeutralPoint:
    """Where a neutral thing (a grey card, a white towel) lies. Pixels of the upright photograph.

    x_px, y_px : Centre of a round patch of it.
    radius_px : Radius of that patch. At least 2.
    """

    x_px: float
    y_px: float
    radius_px: float

    def __post_init__(self) -> None:
        if not self.radius_px >= MIN_RADIUS_PX or not (np.isfinite(self.x_px) and np.isfinite(self.y_px)):
            raise ValueError(f"A neutral point needs finite x, y and a radius of {MIN_RADIUS_PX:.0f} px or more.")


def correct_by_neutral(photo: Photo, neutral: NeutralPoint) -> TableCorrection:
    """White balance that makes the pointed-at thing neutral, its brightness left as the file means it.

    Raises
    ------
    CorrectionError : The point lies outside the photo, or on something clipped or black.
    """
    balance = neutral_balance(mean_light(photo, neutral), photo.encoding.to_xyz_d65)
    matrix = photo.encoding.to_xyz_d65 @ np.diag(balance)
    covariance = np.diag(np.square(ASSUMED_LAB_SD))
    return TableCorrection("white balance on a neutral", ASSUMED_DE2000, photo.encoding.tables, matrix, covariance)


def neutral_balance(neutral_rgb: FloatArray, to_xyz_d65: FloatArray) -> FloatArray:
    """Gains that make this linear RGB as neutral as the encoding's own white, luminance kept. shape (3,)."""
    white_rgb = np.ones(3)
    luminance = float(to_xyz_d65[1] @ neutral_rgb)
    gains: FloatArray = white_rgb * luminance / neutral_rgb
    return gains


def mean_light(photo: Photo, neutral: NeutralPoint) -> FloatArray:
    """Mean linear light inside the pointed-at circle. shape (3,)."""
    left, right = int(neutral.x_px - neutral.radius_px), int(neutral.x_px + neutral.radius_px) + 1
    top, bottom = int(neutral.y_px - neutral.radius_px), int(neutral.y_px + neutral.radius_px) + 1
    if left < 0 or top < 0 or right > photo.width_px or bottom > photo.height_px:
        raise CorrectionError(_finding("neutral_outside", "The neutral thing pointed at lies outside the photo."))
    box = Box(top, left, bottom, right)
    rows, columns = np.mgrid[top:bottom, left:right]
    inside = np.hypot(columns - neutral.x_px, rows - neutral.y_px) <= neutral.radius_px
    light = linear_light(photo, box)[inside].astype(np.float64)
    if clipped(photo, box)[inside].mean() > 0.1:
        raise CorrectionError(_finding("neutral_clipped", "The neutral thing pointed at is too bright to measure."))
    mean: FloatArray = light.mean(axis=0)
    if mean.min() < 0.005:
        raise CorrectionError(_finding("neutral_dark", "The neutral thing pointed at is too dark to measure."))
    return mean


def _finding(code: str, message: str) -> Finding:
    return Finding(code, Severity.RETAKE, message, "Point at an evenly lit white or grey thing, away from shine.")
