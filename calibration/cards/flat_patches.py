"""Small flat areas that might be patches of a card: even inside, with a border, and as compact as a parallelogram."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.photo import BoolArray, FloatArray

# How much neighbouring code values may differ inside one area; several, as noise and contrast differ by photo.
STEPS_IN_CODES = (5, 10, 18, 30, 48)
SMALLEST_PX = 12
# area / (12 sqrt(det of the second moments)): 1 for any parallelogram, 1.05 for an ellipse, less for a ring or a star.
COMPACT_ENOUGH = 0.84
# A patch seen at a slant: its short side is at least this share of its long one.
SQUASHED_VARIANCE = 0.12


@dataclass(frozen=True, eq=False)
class FlatPatches:
    """Flat areas of one picture.

    centres_px : x, y. shape (n, 2).
    sizes_px : Square root of the area, about the side of a square. shape (n,).
    """

    centres_px: FloatArray
    sizes_px: FloatArray

    def __len__(self) -> int:
        return len(self.sizes_px)


def find_flat_patches(bgr8: NDArray[np.uint8]) -> FlatPatches:
    """Flat compact areas of an 8-bit picture, each once, the largest first."""
    steps = _steps(bgr8)
    found = [_flat_below(steps, limit) for limit in STEPS_IN_CODES]
    return _each_once(np.concatenate([f[0] for f in found]), np.concatenate([f[1] for f in found]))


def _steps(bgr8: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Largest difference between any pixel's 3 x 3 neighbours, over the channels. shape (rows, columns)."""
    gradient = cv2.morphologyEx(cv2.GaussianBlur(bgr8, (3, 3), 0), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    blue, green, red = cv2.split(gradient)
    return np.asarray(cv2.max(cv2.max(blue, green), red), dtype=np.uint8)


def _flat_below(steps: NDArray[np.uint8], limit: int) -> tuple[FloatArray, FloatArray]:
    """Centres and areas of the connected areas whose steps stay at or below `limit`, patch-like ones only."""
    flat = np.asarray(steps <= limit).view(np.uint8)
    _, labels, boxes, _ = cv2.connectedComponentsWithStats(flat, connectivity=4, ltype=cv2.CV_32S)
    likely = _likely(np.asarray(boxes, dtype=np.int32), (min(steps.shape) / 3.5) ** 2)
    numbers = np.flatnonzero(likely)
    centres, areas, compact = np.empty((len(numbers), 2)), np.empty(len(numbers)), np.zeros(len(numbers), dtype=bool)
    for place, number in enumerate(numbers):
        left, top, width, height, area = boxes[number]
        moments = cv2.moments((labels[top : top + height, left : left + width] == number).view(np.uint8), True)
        centres[place] = left + moments["m10"] / area, top + moments["m01"] / area
        areas[place], compact[place] = area, _compact(moments)
    return centres[compact], areas[compact]


def _likely(boxes: NDArray[np.int32], largest_px: float) -> BoolArray:
    """Which areas are worth a closer look, by their upright boxes."""
    width, height, area = boxes[:, 2], boxes[:, 3], boxes[:, 4]
    likely: BoolArray = (area >= SMALLEST_PX) & (area <= largest_px) & (width <= 3 * height) & (height <= 3 * width)
    likely &= (area >= 0.42 * width * height) & (width >= 3) & (height >= 3)
    likely[0] = False
    return likely


def _compact(moments: dict[str, float]) -> bool:
    """Whether an area is as compact as a parallelogram, and not squashed to a line."""
    area = moments["m00"]
    variance_x, variance_y = moments["mu20"] / area + 1 / 12, moments["mu02"] / area + 1 / 12
    covariance = moments["mu11"] / area
    determinant = max(variance_x * variance_y - covariance**2, 1e-9)
    middle = (variance_x + variance_y) / 2
    swing = np.sqrt(max(middle**2 - determinant, 0.0))
    squash = (middle - swing) / (middle + swing)
    return bool(area / (12 * np.sqrt(determinant)) > COMPACT_ENOUGH and squash > SQUASHED_VARIANCE)


def _each_once(centres_px: FloatArray, areas_px: FloatArray) -> FlatPatches:
    """Of areas that lie on one another only the largest."""
    order = np.argsort(-areas_px, kind="stable")
    centres_px, sizes_px = centres_px[order], np.sqrt(areas_px[order])
    gone = np.zeros(len(order), dtype=bool)
    for place in range(len(order)):
        if not gone[place]:
            offset = centres_px[place + 1 :] - centres_px[place]
            gone[place + 1 :] |= np.hypot(offset[:, 0], offset[:, 1]) < 0.45 * sizes_px[place]
    return FlatPatches(centres_px[~gone], sizes_px[~gone])
