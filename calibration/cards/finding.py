"""Where a reference card lies in a photograph."""

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.cards.geometry import grid_to_photo, sighting_from
from calibration.cards.sighting import CardSighting
from calibration.photo import FloatArray, Photo

SEARCH_PX = 1500  # longer side of the copy that is searched first
MOST_CARDS = 2


def find_cards(photo: Photo) -> tuple[CardSighting, ...]:
    """Every 24-patch card seen, the best first; empty where none is."""
    for longest_px in (SEARCH_PX, max(photo.width_px, photo.height_px)):
        copy, scale = search_copy(photo, longest_px)
        sightings = [
            sighting_from(grid_to_photo((centres + 0.5) / scale - 0.5), cost) for centres, cost in _detect(copy)
        ]
        if sightings or scale == 1.0:
            return tuple(sorted(sightings, key=lambda sighting: sighting.residual))
    return ()


def search_copy(photo: Photo, longest_px: int) -> tuple[NDArray[np.uint8], float]:
    """An 8-bit BGR copy whose longer side is at most `longest_px`, and its scale against the photo."""
    eight_bit: NDArray[np.uint8] = photo.encoded_rgb if photo.encoded_rgb.dtype == np.uint8 else _to_eight_bit(photo)
    scale = min(1.0, longest_px / max(eight_bit.shape[:2]))
    if scale < 1.0:
        eight_bit = np.asarray(cv2.resize(eight_bit, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA))
    return np.asarray(cv2.cvtColor(eight_bit, cv2.COLOR_RGB2BGR)), scale


def _to_eight_bit(photo: Photo) -> NDArray[np.uint8]:
    """16-bit code values as 8-bit ones that the finder reads; linear files are lifted as a picture would be."""
    share = photo.encoded_rgb.astype(np.float32) / 65535
    if photo.encoding.linear:
        share = share ** np.float32(1 / 2.2)
    return np.asarray(np.rint(255 * share), dtype=np.uint8)


def _detect(bgr8: NDArray[np.uint8]) -> list[tuple[FloatArray, float]]:
    """Patch centres in the card's order, pixels of `bgr8`, and the detector's misfit, for each card it sees."""
    detector = cv2.mcc.CCheckerDetector_create()  # type: ignore[attr-defined]  # missing from the stubs
    detector.setColorChartType(cv2.mcc.MCC24)
    detector.process(bgr8, MOST_CARDS)
    cards = []
    for card in detector.getListColorChecker():
        quads = np.asarray(card.getColorCharts(), dtype=np.float64).reshape(24, 4, 2)
        cards.append((quads.mean(axis=1), float(card.getCost())))
    return cards
