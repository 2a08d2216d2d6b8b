"""A fitted correction, ready for pixels: one look-up per channel, then one matrix."""

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.photo import Box, EncodedRgb, FloatArray, Photo, XyzD65
from calibration.transfer import look_up

# Strips of about this many pixels stay in the processor's cache: half the time of whole frames.
STRIP_PIXELS = 32_000


@dataclass(frozen=True, eq=False)
class TableCorrection:
    """A correction that is a look-up table per channel and a matrix.

    tables : From code value to straightened linear light, file's curve and fitted tone curve in one. float32,
        shape (3, codes).
    matrix : Straightened light, or its features, to CIE XYZ D65. Columns: 3, or 4 with stray light; 6 with root
        products; 7 with whiteness too, or 8 with stray light at the end. shape (3, columns).
    covariance : In CIELAB D65, of the correction's own error near the colours of hair. shape (3, 3).
    """

    method: str
    held_out_de2000: float
    tables: NDArray[np.float32]
    matrix: FloatArray
    covariance: FloatArray

    @cached_property
    def _root_tables(self) -> NDArray[np.float32]:
        return np.sqrt(np.maximum(self.tables, 0))

    def lab_covariance(self) -> FloatArray:
        """Covariance in CIELAB D65 of the correction's own error, near the colours of hair. shape (3, 3)."""
        return self.covariance

    def xyz_d65(self, photo: Photo, box: Box, row_step: int) -> XyzD65:
        """Corrected colour of a part of `photo`. float32, shape (rows, columns, 3)."""
        rows, columns = box.slices
        part = photo.encoded_rgb[rows, columns][::row_step]
        xyz = np.empty(part.shape, dtype=np.float32)
        strip_rows = max(1, STRIP_PIXELS // part.shape[1])
        for top in range(0, len(part), strip_rows):
            strip = part[top : top + strip_rows]
            xyz[top : top + strip_rows] = self._xyz_of_strip(EncodedRgb(strip))
        return XyzD65(xyz)

    def _xyz_of_strip(self, encoded_rgb: EncodedRgb) -> NDArray[np.float32]:
        straight: NDArray[np.float32] = look_up(encoded_rgb, self.tables)
        columns = self.matrix.shape[1]
        if columns < 6:
            return np.asarray(cv2.transform(straight, self.matrix), dtype=np.float32)
        linear = self.matrix[:, [0, 1, 2, 7]] if columns == 8 else self.matrix[:, :3]
        # Roots come from a table too: the root of a product is the product of two roots.
        red, green, blue = cv2.split(look_up(encoded_rgb, self._root_tables))
        red_green = red * green
        products = cv2.merge([red_green, green * blue, red * blue])
        xyz = cv2.transform(straight, linear) + cv2.transform(products, self.matrix[:, 3:6])
        if columns >= 7:
            root = red_green * blue
            xyz += (root * root)[..., None] * self.matrix[:, 6].astype(np.float32)
        return np.asarray(xyz, dtype=np.float32)


def with_root_products(linear_rgb: NDArray[np.floating]) -> NDArray[np.floating]:
    """R, G, B and the square roots of RG, GB, RB: features that scale with exposure. shape (..., 6).

    Source: Finlayson, Mackiewicz, Hurlbert, IEEE Trans. Image Process. 24(5):1460-1470, 2015 (degree 2).
    """
    positive = np.maximum(linear_rgb, 0)
    red, green, blue = positive[..., 0], positive[..., 1], positive[..., 2]
    roots = np.stack([np.sqrt(red * green), np.sqrt(green * blue), np.sqrt(red * blue)], axis=-1)
    return np.concatenate([linear_rgb, roots], axis=-1)


def with_whiteness(linear_rgb: NDArray[np.floating]) -> NDArray[np.floating]:
    """The features above, then the product of R, G and B. shape (..., 7).

    Cameras hold white and light greys back more than saturated colours as bright: the product is large where all three
    channels are, and next to nothing in hair. It does not scale with exposure: it belongs behind a reference light.
    """
    white = np.maximum(linear_rgb, 0).prod(axis=-1, keepdims=True)
    return np.concatenate([with_root_products(linear_rgb), white], axis=-1)
