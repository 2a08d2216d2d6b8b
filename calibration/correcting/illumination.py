"""How light and its colour change over the frame, and a correction that takes the change out place by place."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.cards.layouts import Edition
from calibration.colourspaces import xyz_to_lab
from calibration.corrected import Correction
from calibration.photo import Box, FloatArray, Photo, XyzD65

# Linear Bradford: Lam 1985, as printed in ICC.1:2022 (chromatic adaptation). Lamps change colour place by place as a
# gain in these channels, far better than in X, Y, Z.
CONES_FROM_XYZ: FloatArray = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
XYZ_FROM_CONES: FloatArray = np.asarray(np.linalg.inv(CONES_FROM_XYZ), dtype=np.float64)
ORDER = 3
# Light that is a fifth or five times that at the card is no shading but another place. [our assumption]
LARGEST_LOG = 1.6


@dataclass(frozen=True, eq=False)
class Illumination:
    """The light over the frame against the light at one place, by its logarithm in three cone channels.

    terms : Factors of y^row x^column, x and y in widths of the photo. shape (3 channels, ORDER + 1, ORDER + 1).
    origin_px : Where the light counts as 1: the middle of the card. shape (2,).
    width_px : Of the photo.
    reach_px : left, top, right, bottom of the part where it was seen; beyond, the value at the edge holds.
    """

    terms: FloatArray
    origin_px: FloatArray
    width_px: int
    reach_px: tuple[float, float, float, float]

    def log_at(self, places_px: FloatArray) -> FloatArray:
        """Logarithm of the light at places x, y in pixels. Shape (..., 3) for places of shape (..., 2)."""
        return self._raw(places_px) - self._raw(self.origin_px)

    def log_over(self, box: Box, row_step: int) -> NDArray[np.float32]:
        """The same at every column and every n-th row of a box. shape (rows, columns, 3)."""
        left, top, right, bottom = self.reach_px
        x = np.clip(np.arange(box.left, box.right), left, right) / self.width_px
        y = np.clip(np.arange(box.top, box.bottom, row_step), top, bottom) / self.width_px
        across, down = _powers(x), _powers(y)
        at_origin = self._raw(self.origin_px)
        layers = [down @ (terms @ across.T) - zero for terms, zero in zip(self.terms, at_origin, strict=True)]
        log: NDArray[np.float32] = np.clip(np.stack(layers, axis=-1), -LARGEST_LOG, LARGEST_LOG).astype(np.float32)
        return log

    def _raw(self, places_px: FloatArray) -> FloatArray:
        left, top, right, bottom = self.reach_px
        held = np.clip(places_px, [left, top], [right, bottom]) / self.width_px
        across, down = _powers(held[..., 0]), _powers(held[..., 1])
        raw: FloatArray = np.einsum("...r,crk,...k->...c", down, self.terms, across)
        return raw

    def largest_ratio(self, height_px: int) -> float:
        """Light at the brightest place of the frame over the darkest, in the middle channel. At least 1."""
        log = self.log_over(Box(0, 0, height_px, self.width_px), max(1, height_px // 40))[..., 1]
        return float(np.exp(np.ptp(log)))


def _powers(values: FloatArray) -> FloatArray:
    return np.asarray(values, dtype=np.float64)[..., None] ** np.arange(ORDER + 1)


def lit_edition(edition: Edition, light: Illumination, centres_px: FloatArray) -> Edition:
    """The card's colours as this light shows them to an eye that is used to the light at the card's middle."""
    cones = edition.xyz_d65 @ CONES_FROM_XYZ.T * np.exp(light.log_at(centres_px))
    xyz = np.maximum(cones @ XYZ_FROM_CONES.T, 1e-5)
    return Edition(edition.name, xyz, xyz_to_lab(xyz))


@dataclass(frozen=True, eq=False)
class LocalCorrection:
    """A correction by the card, and the light at each place against the light at the card taken out.

    added_covariance : Of what the light at each place leaves open, in CIELAB. shape (3, 3).
    added_de2000 : The same as a difference, added to the card's own error by squares.
    """

    base: Correction
    light: Illumination
    added_covariance: FloatArray
    added_de2000: float
    words: str

    @property
    def method(self) -> str:
        return f"{self.base.method}, {self.words}"

    @property
    def held_out_de2000(self) -> float:
        return float(np.hypot(self.base.held_out_de2000, self.added_de2000))

    def lab_covariance(self) -> FloatArray:
        """Covariance in CIELAB D65 of the correction's own error, near the colours of hair. shape (3, 3)."""
        return self.base.lab_covariance() + self.added_covariance

    def xyz_d65(self, photo: Photo, box: Box, row_step: int) -> XyzD65:
        """Corrected colour of a part of `photo`, under the light at the card. float32, shape (rows, columns, 3)."""
        cones = cv2.transform(self.base.xyz_d65(photo, box, row_step), CONES_FROM_XYZ)
        cones *= np.exp(-self.light.log_over(box, row_step))
        return XyzD65(np.asarray(cv2.transform(cones, XYZ_FROM_CONES), dtype=np.float32))


def card_de2000(correction: Correction) -> float:
    """What the card itself leaves, in ΔE2000, without what the light elsewhere may add."""
    while isinstance(correction, LocalCorrection | WidenedCorrection):
        correction = correction.base
    return correction.held_out_de2000


@dataclass(frozen=True, eq=False)
class WidenedCorrection:
    """A correction whose light is known to change over the frame by no one knows how much: less sure, else the same."""

    base: Correction
    added_covariance: FloatArray
    added_de2000: float

    @property
    def method(self) -> str:
        return self.base.method

    @property
    def held_out_de2000(self) -> float:
        return float(np.hypot(self.base.held_out_de2000, self.added_de2000))

    def lab_covariance(self) -> FloatArray:
        """Covariance in CIELAB D65 of the correction's own error, near the colours of hair. shape (3, 3)."""
        return self.base.lab_covariance() + self.added_covariance

    def xyz_d65(self, photo: Photo, box: Box, row_step: int) -> XyzD65:
        """Corrected colour of a part of `photo`. float32, shape (rows, columns, 3)."""
        return self.base.xyz_d65(photo, box, row_step)
