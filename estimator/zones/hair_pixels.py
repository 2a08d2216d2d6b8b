"""Which pixels of a zone are lit hair fibre: borders, shine, shadow, clipped light and the card itself left out."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.corrected import CorrectedPhoto
from calibration.photo import BoolArray, XyzD65
from estimator.zones.outline import Zone

# Against the zone's median light. A fibre's own highlight and the gaps between fibres are part of what hair looks
# like, so the limits are wide: what lies beyond is glare on a bundle, or a hole.
SHADOW_BELOW = 0.12
SHINE_ABOVE = 6.0
# Borders hold stray fibres, blur and background: this share of the zone's size is cut away, within limits.
EDGE_SHARE, EDGE_MIN_PX, EDGE_MAX_PX = 0.012, 2, 12
FEWEST_SAMPLES = 9_000
RUNS_ACROSS = 200  # runs of pixels across the width of a photo: 6 pixels in the renders, finer than a strand


@dataclass(frozen=True, eq=False)
class HairPixels:
    """The lit fibre pixels of one zone, on every n-th row.

    xyz_d65 : float32, shape (pixels, 3).
    x_px, y_px : Their places in the zone's box. int, shape (pixels,).
    shine_share, shadow_share, clipped_share : Of the pixels inside the borders, how many were left out and why.
    row_step : Every n-th row was looked at, and all columns.
    run_px : Length of the runs of pixels along a row that noise is averaged over.
    """

    xyz_d65: XyzD65
    x_px: NDArray[np.int64]
    y_px: NDArray[np.int64]
    shine_share: float
    shadow_share: float
    clipped_share: float
    row_step: int
    run_px: int = 6

    @property
    def pixels(self) -> int:
        """Hair pixels in the zone, counted over all rows."""
        return len(self.xyz_d65) * self.row_step


def hair_pixels(corrected: CorrectedPhoto, zone: Zone) -> HairPixels:
    """The lit fibre pixels of `zone`. Large zones are sampled by rows, never by columns (see transfer.linear_light)."""
    row_step = row_step_for(zone.pixels)
    places = np.flatnonzero(inner_mask(corrected, zone)[::row_step])
    light = corrected.xyz_d65(zone.box, row_step).reshape(-1, 3).take(places, axis=0)
    over = corrected.clipped(zone.box, row_step).ravel().take(places)
    count = max(len(places), 1)
    clipped_share = float(np.count_nonzero(over) / count)
    if clipped_share > 0:
        places, light = places[~over], light[~over]
    luminance = light[:, 1]
    median = float(np.median(luminance)) if len(luminance) else 0.0
    shine, shadow = luminance > SHINE_ABOVE * median, luminance < SHADOW_BELOW * median
    shine_share, shadow_share = (np.count_nonzero(part) / count for part in (shine, shadow))
    if shine_share + shadow_share > 0:
        lit = ~(shine | shadow)
        places, light = places[lit], light[lit]
    rows, columns = np.divmod(places, zone.box.width_px)
    run_px = max(1, round(corrected.photo.width_px / RUNS_ACROSS))
    shares = (shine_share, shadow_share, clipped_share)
    return HairPixels(XyzD65(light), columns, rows * row_step, *shares, row_step, run_px)


def row_step_for(pixels: int) -> int:
    """Every n-th row that suffices: 13 stays within 0.015 ΔE of all pixels at 300,000 of them. Always odd."""
    return next((step for step in (13, 9, 7, 5, 3) if pixels >= step * FEWEST_SAMPLES), 1)


def inner_mask(corrected: CorrectedPhoto, zone: Zone) -> BoolArray:
    """The zone's mask without its borders and without the card. bool, the shape of the zone's box."""
    edge_px = int(np.clip(EDGE_SHARE * np.sqrt(zone.pixels), EDGE_MIN_PX, EDGE_MAX_PX))
    mask = np.pad(zone.mask.view(np.uint8), 1)
    inner = cv2.erode(mask, np.ones((2 * edge_px + 1, 2 * edge_px + 1), np.uint8))[1:-1, 1:-1]
    if np.count_nonzero(inner) < 0.3 * zone.pixels:  # thin zones would vanish: then the borders stay
        inner = zone.mask.view(np.uint8).copy()
    if corrected.sighting is not None:
        corners = corrected.sighting.corners_px - [zone.box.left, zone.box.top]
        cv2.fillConvexPoly(inner, np.rint(corners).astype(np.int32), 0)
    inside: BoolArray = inner.astype(bool)
    return inside
