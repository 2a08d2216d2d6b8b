"""A card seen in a photograph: its place, and the light its patches send back."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.photo import BoolArray, FloatArray


@dataclass(frozen=True, eq=False)
class CardSighting:
    """Where a card lies.

    layout : Key of the card's layout, such as "classic24".
    corners_px : Outer corners of the patch grid in the card's own order: beside patch 1, beside patch 6, beside
        patch 24, beside patch 19 (for the 24-patch card). float64 x, y, shape (4, 2).
    patch_quads_px : Inner quadrilateral of each patch. float64 x, y, shape (patches, 4, 2).
    mirrored : The photograph is a mirror image: left and right are swapped.
    residual : Share of the patches' colours that the card's own do not explain. [0 is perfect]
    hidden : Which patches are not seen: covered, or beyond the photograph's edge. bool, shape (patches,).
    """

    layout: str
    corners_px: FloatArray
    patch_quads_px: FloatArray
    mirrored: bool
    residual: float
    hidden: BoolArray

    @property
    def patch_centres_px(self) -> FloatArray:
        """Centre of each patch. float64 x, y, shape (patches, 2)."""
        centres: FloatArray = self.patch_quads_px.mean(axis=1)
        return centres

    @property
    def width_px(self) -> float:
        """Length of the card's longer upper edge."""
        return float(np.linalg.norm(self.corners_px[1] - self.corners_px[0]))


@dataclass(frozen=True, eq=False)
class PatchColours:
    """Light from each patch of one card.

    linear_rgb : Mean over the patch's inner pixels, in linear light. float64, shape (patches, 3).
    spread_sd : Standard deviation over those pixels. float64, shape (patches, 3).
    pixels : Pixels averaged. int, shape (patches,).
    usable : Whether the patch may serve. bool, shape (patches,).
    trust : How much its light may count, less than 1 where a channel has partly run out of range. [0-1], shape
        (patches,).
    why_not : For each patch "", or the code of what is wrong: "clipped", "glare", "covered" ... shape (patches,).
    """

    linear_rgb: FloatArray
    spread_sd: FloatArray
    pixels: NDArray[np.int64]
    usable: BoolArray
    trust: FloatArray
    why_not: tuple[str, ...]
