"""The rim of a zone that came as pixels, as corners that a person can drag."""

import cv2
import numpy as np

from estimator.pages.draft import OutlinedZone
from estimator.zones.outline import Zone

MOST_CORNERS = 40


def outlined(zone: Zone) -> OutlinedZone:
    """The zone with its rim traced; as long as nobody redraws it, its exact pixels are what is read."""
    return OutlinedZone(zone.name, rim_px(zone), zone.strand_pattern, exact=zone)


def rim_px(zone: Zone) -> tuple[tuple[float, float], ...]:
    """Corners of the largest piece of the zone, few enough to drag. Pixels of the photograph."""
    pieces, _ = cv2.findContours(np.asarray(zone.mask, dtype=np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if not pieces:
        return ()
    largest = max(pieces, key=cv2.contourArea)
    slack = 0.005 * cv2.arcLength(largest, True)
    corners = cv2.approxPolyDP(largest, slack, True)
    while len(corners) > MOST_CORNERS:
        slack *= 1.5
        corners = cv2.approxPolyDP(largest, slack, True)
    shift = np.array([zone.box.left, zone.box.top])
    return tuple((float(x), float(y)) for x, y in corners.reshape(-1, 2) + shift)
