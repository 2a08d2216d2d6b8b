"""Whether a zone shows fibres at all: the fine contrast of light where the zone is widest."""

import cv2
import numpy as np

from calibration.corrected import CorrectedPhoto
from calibration.photo import Box
from estimator.zones.outline import Zone

WINDOW_PX = 96
FINE_PX, COARSE_PX = 3, 25  # fibres stand out between these two sizes; below lies noise, above lies shading
SMALLEST_WINDOW_PX = 12
_COARSE_LOOK = 4  # the widest place is looked for on every 4th pixel


def fibre_contrast(corrected: CorrectedPhoto, zone: Zone) -> float:
    """Standard deviation of the logarithm of light at the size of strands. Hair in renders: 0.07 to 0.4, walls less.

    Zones too thin for a window count as fibrous: they are judged by their pixels alone.
    """
    window = _widest_place(zone)
    if window is None:
        return float("inf")
    luminance = corrected.xyz_d65(window)[..., 1]
    fine = np.log(np.maximum(cv2.blur(luminance, (FINE_PX, FINE_PX)), 1e-4))
    return float((fine - cv2.blur(fine, (COARSE_PX, COARSE_PX))).std())


def _widest_place(zone: Zone) -> Box | None:
    """A square inside the zone, where it is widest; None where it is thinner than 12 pixels."""
    look = _COARSE_LOOK if min(zone.mask.shape) >= 8 * _COARSE_LOOK else 1
    coarse = np.pad(np.ascontiguousarray(zone.mask[::look, ::look]).view(np.uint8), 1)
    depth = cv2.distanceTransform(coarse, cv2.DIST_C, 3)[1:-1, 1:-1]
    row, column = np.unravel_index(int(depth.argmax()), depth.shape)
    half = min(WINDOW_PX // 2, int((depth[row, column] - 1) * look))
    if 2 * half < SMALLEST_WINDOW_PX:
        return None
    middle_row, middle_column = zone.box.top + int(row) * look, zone.box.left + int(column) * look
    return Box(middle_row - half, middle_column - half, middle_row + half, middle_column + half)
