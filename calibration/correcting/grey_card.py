"""A plain grey card that a person points at: a neutral thing whose reflectance is known, so brightness is tied too."""

from dataclasses import dataclass

import numpy as np

from calibration.correcting.applying import TableCorrection
from calibration.correcting.neutral_reference import NeutralPoint, mean_light, neutral_balance
from calibration.photo import Photo

# The reflectance that grey cards are sold with, and how far they stray. [common practice]
USUAL_REFLECTANCE = 0.18
# What is left when one grey is right in colour and brightness. tests/studies/grey_card.py: nine in ten readings of L*
# are within 3.7 on renders but 13.7 on real photographs, whose tone curves one grey can't undo; a*, b* within 8.
GREY_DE2000 = 8.0
GREY_LAB_SD = (8.5, 4.5, 5.5)


@dataclass(frozen=True)
class GreyCardPoint:
    """Where a grey card lies. at : A round part of it, in pixels. reflectance : Share of light it sends back. [0-1]"""

    at: NeutralPoint
    reflectance: float = USUAL_REFLECTANCE

    def __post_init__(self) -> None:
        if not 0.02 <= self.reflectance <= 0.95:
            raise ValueError(
                f"A grey card sends back 0.02 to 0.95 of the light; got {self.reflectance}. 0.18 is usual."
            )


def correct_by_grey_card(photo: Photo, grey: GreyCardPoint) -> TableCorrection:
    """White balance and brightness that make the grey card what it is.

    Raises
    ------
    CorrectionError : The point lies outside the photo, or on something clipped or black.
    """
    light = mean_light(photo, grey.at)
    gains = neutral_balance(light, photo.encoding.to_xyz_d65)
    luminance = float(photo.encoding.to_xyz_d65[1] @ (gains * light))
    matrix = photo.encoding.to_xyz_d65 @ np.diag(gains) * (grey.reflectance / luminance)
    covariance = np.diag(np.square(GREY_LAB_SD))
    return TableCorrection("grey card", GREY_DE2000, photo.encoding.tables, matrix, covariance)
