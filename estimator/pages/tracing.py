"""The rim of a zone that came as pixels, as corners that a person can drag."""

import cv2
import numpy as np
from numpy.typing import NDArray

from estimator.pages.draft import OutlinedZone
from estimator.zones.outline import Zone

MOST_CORNERS = 40
COPY_PX = 400  # longer side of the copy that is traced: a hand drags no finer
FRINGE_SHARE = 0.06  # of the zone's size: narrower bays and spikes are fringes


def outlined(zone: Zone) -> OutlinedZone:
    """The zone with its rim traced; as long as nobody redraws it, its exact pixels are what is read."""
    return OutlinedZone(zone.name, rim_px(zone), zone.strand_pattern, exact=zone)


def rim_px(zone: Zone) -> tuple[tuple[float, float], ...]:
    """Corners of the largest piece of the zone, few enough to drag. Pixels of the photograph."""
    scale = min(1.0, COPY_PX / max(zone.box.width_px, zone.box.height_px))
    small = np.asarray(
        cv2.resize(zone.mask.astype(np.uint8), None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), dtype=np.uint8
    )
    size_px = max(float(np.sqrt(np.count_nonzero(small))), 1.0)
    margin_px = max(1, round(FRINGE_SHARE * size_px))
    pieces, _ = cv2.findContours(_without_fringes(small, margin_px), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if not pieces:
        return ()
    largest = np.asarray(max(pieces, key=cv2.contourArea), dtype=np.int32)
    in_box = (_few(largest, 0.02 * size_px) - 2 * margin_px) / scale
    in_photo = np.clip(in_box, 0, [zone.box.width_px, zone.box.height_px]) + np.array([zone.box.left, zone.box.top])
    return tuple((float(x), float(y)) for x, y in in_photo)


def _without_fringes(mask: NDArray[np.uint8], margin_px: int) -> NDArray[np.uint8]:
    """The mask with twice that margin around it, its narrow bays filled and its narrow spikes cut."""
    room = 2 * margin_px  # one to grow into, one so that what has grown does not touch the border
    wide = cv2.copyMakeBorder(mask, room, room, room, room, cv2.BORDER_CONSTANT, value=0)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * margin_px + 1, 2 * margin_px + 1))
    smooth = cv2.morphologyEx(cv2.morphologyEx(wide, cv2.MORPH_CLOSE, disc), cv2.MORPH_OPEN, disc)
    return np.asarray(smooth if smooth.any() else wide, dtype=np.uint8)


def _few(rim: NDArray[np.int32], slack_px: float) -> NDArray[np.int32]:
    """The rim in as many corners as a person can drag. shape (corners, 2)."""
    corners = cv2.approxPolyDP(rim, slack_px, True)
    while len(corners) > MOST_CORNERS:
        slack_px *= 1.3
        corners = cv2.approxPolyDP(rim, slack_px, True)
    return np.asarray(corners.reshape(-1, 2), dtype=np.int32)
