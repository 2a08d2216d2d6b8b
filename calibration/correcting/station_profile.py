"""What was learned at a station: the tone curve and matrix of one camera under one lamp, and how well they hold."""

import hashlib
from dataclasses import dataclass

import numpy as np

from calibration.correcting.candidates import MODELS, Model
from calibration.photo import FloatArray

PROFILE_VERSION = 1


@dataclass(frozen=True, eq=False)
class StationProfile:
    """One camera and one lamp.

    name, day : Of the station, in the salon's words, and when it was learned, as 2026-11-25.
    encoding : How the photos keep their colours; only photos of the same kind can use the profile.
    model, values : The correction's form, and its values under the first photo's exposure and balance.
    reference_light : The file's linear light that counts as 1.
    stated_de2000, covariance : Error on patches of a photo that took no part, none of whose kind took part in any
        other: as for an unknown surface in a new photo. Covariance in CIELAB near hair, shape (3, 3).
    check_de2000, check_sd : What the card itself shows in a new photo, mean and standard deviation between photos.
    photos_sha256 : Of the photos that it was learned from.
    """

    name: str
    day: str
    encoding: str
    model: Model
    values: FloatArray
    reference_light: float
    stated_de2000: float
    covariance: FloatArray
    check_de2000: float
    check_sd: float
    photos_sha256: tuple[str, ...]

    def __post_init__(self) -> None:
        if self.model not in MODELS or self.values.shape != (self.model.values,) or self.covariance.shape != (3, 3):
            raise ValueError("A station's profile needs a known model, its values, and a 3x3 covariance.")
        if not (np.isfinite(self.values).all() and np.isfinite(self.covariance).all() and self.reference_light > 0):
            raise ValueError("A station's profile needs finite values and a reference light above 0.")
        self.values.setflags(write=False)
        self.covariance.setflags(write=False)

    @property
    def sha256(self) -> str:
        """Of all values: the profile's name in records."""
        said = (self.encoding, self.model.name, self.values.round(9).tolist(), round(self.reference_light, 9))
        judged = (round(self.stated_de2000, 6), self.covariance.round(6).tolist(), round(self.check_de2000, 6))
        return hashlib.sha256(repr((said, judged, round(self.check_sd, 6), self.photos_sha256)).encode()).hexdigest()
