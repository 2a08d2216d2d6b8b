"""The projective map between a card's own grid and the photograph."""

import cv2
import numpy as np

from calibration.cards.layouts import CLASSIC24, CLASSIC24_COLUMNS, CLASSIC24_ROWS, grid_places
from calibration.cards.sighting import CardSighting
from calibration.photo import BoolArray, FloatArray

# Half the side of the square that is sampled, in patch pitches: patches fill about 0.9 of the pitch, and blur,
# sharpening and JPEG blocks eat into their borders.
INNER_HALF = 0.25

_SQUARE = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])


def grid_to_photo(centres_px: FloatArray) -> FloatArray:
    """Homography from grid places to photo pixels through these patch centres. shape (3, 3).

    centres_px : x, y of all 24 patches in the card's order, shape (24, 2).
    """
    homography, _ = cv2.findHomography(grid_places(), np.asarray(centres_px, dtype=np.float64), 0)
    if homography is None:
        raise ValueError("These 24 places lie on no plane.")
    return np.asarray(homography, dtype=np.float64)


def project(homography: FloatArray, places: FloatArray) -> FloatArray:
    """Photo pixels of grid places. Any shape (..., 2)."""
    homogeneous = np.concatenate([places, np.ones_like(places[..., :1])], axis=-1) @ homography.T
    pixels: FloatArray = homogeneous[..., :2] / homogeneous[..., 2:]
    return pixels


def inner_quads(homography: FloatArray, half: float = INNER_HALF) -> FloatArray:
    """Inner quadrilateral of each patch. x, y in pixels, shape (24, 4, 2)."""
    return project(homography, grid_places()[:, None, :] + half * _SQUARE)


def sighting_from(homography: FloatArray, residual: float, hidden: BoolArray) -> CardSighting:
    """A sighting of the 24-patch card under this homography; its winding tells whether the photo is mirrored."""
    right, bottom = CLASSIC24_COLUMNS - 0.5, CLASSIC24_ROWS - 0.5
    corners = project(homography, np.array([[-0.5, -0.5], [right, -0.5], [right, bottom], [-0.5, bottom]]))
    mirrored = bool(cv2.contourArea(corners.astype(np.float32), True) < 0)
    return CardSighting(CLASSIC24, corners, inner_quads(homography), mirrored, residual, hidden)
