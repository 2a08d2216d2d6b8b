"""How the light at a zone of a head differs from the light at the card, as far as the head itself shows it.

Lamps hang above heads, so hair lower down gets less; and under a lamp from the side one half of the head is brighter
and the other darker than the card. Which side, and by how much, shows in how light runs across the zones.
"""

from collections.abc import Sequence

import numpy as np

from calibration.photo import FloatArray
from estimator.reading.zone_light import ZoneLight
from estimator.zones.outline import Zone

STEEPEST = 3.0  # logarithm of light from one side of the hair to the other: beyond lies shadow, not shading
# Outlines that cover a part of the head alone would make its middle the middle of the head: hair counts as at least
# so large, in lengths of the card's diagonal, or of the largest zone where no card is seen.
LEAST_EXTENT_DIAGONALS = 1.0


def head_light(zones: Sequence[Zone], lights: Sequence[ZoneLight], card_px: FloatArray | None) -> FloatArray | None:
    """For each zone how far below the middle of the hair it lies, and how far on the lit side. shape (zones, 2).

    The first is -0.5 at the top of the hair and 0.5 at its lower end. The second is the zone's place across the hair,
    -0.5 to 0.5, times the rise of the logarithm of light across it.

    card_px : Corners of the card. shape (4, 2).
    Returns None for fewer than two zones: then nothing tells where on the head a zone lies.
    """
    if len(zones) < 2:
        return None
    boxes = np.array([[zone.box.left, zone.box.top, zone.box.right, zone.box.bottom] for zone in zones], np.float64)
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    least_px = 0.0 if card_px is None else LEAST_EXTENT_DIAGONALS * float(np.linalg.norm(card_px[2] - card_px[0]))
    extent_px = np.maximum(high - low, least_px)
    places: FloatArray = boxes[:, :2] + np.array([light.shading.middle_px for light in lights])
    across, down = ((places - (low + high) / 2) / extent_px).T
    rise = np.clip(_rise_px(lights)[0] * extent_px[0], -STEEPEST, STEEPEST)
    return np.stack([down, across * rise], axis=1)


def _rise_px(lights: Sequence[ZoneLight]) -> FloatArray:
    """Rise of the logarithm of light per pixel along x and y, inside the zones and common to them. shape (2,)."""
    places: FloatArray = np.sum([light.shading.places for light in lights], axis=0)
    products: FloatArray = np.sum([light.shading.light for light in lights], axis=0)
    rise: FloatArray = np.asarray(np.linalg.solve(places + 1e-6 * np.eye(2), products), dtype=np.float64)
    return rise
