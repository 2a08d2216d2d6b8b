"""The rim of a zone that came as pixels, as corners that a person can drag."""

import cv2
import numpy as np
from numpy.typing import NDArray

from estimator.pages.draft import OutlinedZone
from estimator.zones.outline import Zone

MOST_CORNERS = 40


def outlined(zone: Zone) -> OutlinedZone:
    """The zone with its rim traced; as long as nobody redraws it, its exact pixels are what is read."""
    return OutlinedZone(zone.name, rim_px(zone), zone.strand_pattern, exact=zone)


def rim_px(zone: Zone) -> tuple[tuple[float, float], ...]:
    """Corners of the largest piece of the zone, few enough to drag. Pixels of the photograph."""
    size_px = float(np.sqrt(zone.pixels))
    pieces, _ = cv2.findContours(_smoothed(zone, size_px), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if not pieces:
        return ()
    largest = max(pieces, key=cv2.contourArea)
    slack_px = 0.02 * size_px
    corners = cv2.approxPolyDP(largest, slack_px, True)
    while len(corners) > MOST_CORNERS:
        slack_px *= 1.3
        corners = cv2.approxPolyDP(largest, slack_px, True)
    shift = np.array([zone.box.left, zone.box.top]) - _margin_px(size_px)
    inside = np.maximum(corners.reshape(-1, 2) + shift, 0)
    return tuple((float(x), float(y)) for x, y in inside)


def _margin_px(size_px: float) -> int:
    return max(1, round(0.06 * size_px))


def _smoothed(zone: Zone, size_px: float) -> NDArray[np.uint8]:
    """The zone's pixels without fringes: bays filled and spikes cut that are narrower than a tenth of its size."""
    margin = _margin_px(size_px)
    mask = cv2.copyMakeBorder(zone.mask.astype(np.uint8), margin, margin, margin, margin, cv2.BORDER_CONSTANT, value=0)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * margin + 1, 2 * margin + 1))
    closed = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, disc)
    opened = cv2.morphologyEx(closed, cv2.MORPH_OPEN, disc)
    return np.asarray(opened if opened.any() else mask, dtype=np.uint8)
