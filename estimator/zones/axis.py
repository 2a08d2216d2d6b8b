"""The axis of a zone from root to end, and the place of a pixel along and across it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.photo import FloatArray
from estimator.zones.outline import Zone

Places = NDArray[np.int64] | FloatArray
# A zone that is hardly longer than it is wide has no axis of its own: then hair is taken to hang down.
LEAST_ELONGATION = 1.25


@dataclass(frozen=True, eq=False)
class Axis:
    """Where the root end is, and which way the hair runs, inside one zone's box.

    origin_px : x, y of the zone's middle, from the box's corner.
    direction : Unit vector from root to end.
    half_length_px, half_width_px : Half the zone's extent along and across.
    """

    origin_px: FloatArray
    direction: FloatArray
    half_length_px: float
    half_width_px: float

    def along(self, x_px: Places, y_px: Places) -> FloatArray:
        """0 at the root end, 1 at the end of the hair. The shape of the input."""
        distance = (x_px - self.origin_px[0]) * self.direction[0] + (y_px - self.origin_px[1]) * self.direction[1]
        share: FloatArray = 0.5 + distance / (2 * self.half_length_px)
        return share

    def across(self, x_px: Places, y_px: Places) -> FloatArray:
        """0 at one side, 1 at the other. The shape of the input."""
        distance = (x_px - self.origin_px[0]) * -self.direction[1] + (y_px - self.origin_px[1]) * self.direction[0]
        share: FloatArray = 0.5 + distance / (2 * self.half_width_px)
        return share


def axis_of(zone: Zone) -> Axis:
    """The zone's own axis: its long direction, the root end where it was pointed at, else the upper one."""
    moments = cv2.moments(zone.mask.view(np.uint8), binaryImage=True)
    origin = np.array([moments["m10"], moments["m01"]]) / moments["m00"]
    spread = np.array([[moments["mu20"], moments["mu11"]], [moments["mu11"], moments["mu02"]]]) / moments["m00"]
    values, vectors = np.linalg.eigh(spread)
    short, long = np.sqrt(np.maximum(values, 1e-3))
    direction = vectors[:, 1] if long >= LEAST_ELONGATION * short else np.array([0.0, 1.0])
    if np.dot(direction, _root_to_middle(zone, origin)) < 0:
        direction = -direction
    sideways = np.array([-direction[1], direction[0]])
    # A uniform strip reaches the square root of 3 standard deviations to either side.
    half_length, half_width = (float(np.sqrt(3 * max(axis @ spread @ axis, 0.25))) for axis in (direction, sideways))
    return Axis(origin, direction, half_length, half_width)


def _root_to_middle(zone: Zone, origin: FloatArray) -> FloatArray:
    """A vector that points from the root end towards the zone's middle. shape (2,)."""
    if zone.root_px is None:
        return np.array([1e-6, 1.0])
    towards: FloatArray = origin - (np.array(zone.root_px) - [zone.box.left, zone.box.top])
    return towards
