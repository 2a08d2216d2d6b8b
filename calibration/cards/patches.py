"""The light each patch of a card sends back, averaged where light adds: in linear light."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.cards.sighting import CardSighting, PatchColours
from calibration.photo import BoolArray, Box, EncodedRgb, FloatArray, Photo
from calibration.transfer import CLIPPED_SHARE_OF_RANGE, look_up

# A patch is clipped when a channel stands at the very top of its range (254 of 255) on this share of its pixels: its
# median is lost.
TOP_SHARE_OF_RANGE = 0.996
CLIPPED_SHARE = 0.5
# On this share it is doubtful: its mean is off by a little.
DOUBTFUL_SHARE = 0.02
DOUBTFUL_TRUST = 0.3
FLOOR_SHARE_OF_RANGE = 0.008  # 2 of 255: a saturated colour that the file's colour space can't hold
FLOOR_SHARE = 0.3
# A flat patch varies by noise, print and JPEG, but its nine blocks agree. Beyond this share of its brightest channel
# something lies on it. [our assumption; tests/studies/capture_margins.py prints the margins]
UNEVEN_SHARE = 0.22
MIN_PIXELS = 4
# Of a large patch only every n-th row is taken, all columns: rows are enough, and no sample walks in step with a JPEG.
ENOUGH_PIXELS = 2500


@dataclass(frozen=True, eq=False)
class _Measured:
    """Light inside one quadrilateral, "" or what is wrong with it, and how far it may be trusted."""

    mean: FloatArray
    spread_sd: FloatArray
    pixels: int
    fault: str
    trust: float


def measure_patches(photo: Photo, sighting: CardSighting) -> PatchColours:
    """Mean, spread and usability of every patch, in linear light."""
    measured = [_measure_quad(photo, quad) for quad in sighting.patch_quads_px]
    why_not = tuple(
        one.fault or ("covered" if hidden else "") for one, hidden in zip(measured, sighting.hidden, strict=True)
    )
    return PatchColours(
        linear_rgb=np.array([one.mean for one in measured]),
        spread_sd=np.array([one.spread_sd for one in measured]),
        pixels=np.array([one.pixels for one in measured], dtype=np.int64),
        usable=np.array([not why for why in why_not]),
        trust=np.array([one.trust for one in measured]),
        why_not=why_not,
    )


def _measure_quad(photo: Photo, quad_px: FloatArray) -> _Measured:
    nothing = np.full(3, np.nan)
    box = _box_around(quad_px, photo)
    if box is None:
        return _Measured(nothing, nothing, 0, "cut_off", 0.0)
    step = max(1, int(box.height_px * box.width_px / ENOUGH_PIXELS))
    rows, columns = np.nonzero(_inside(quad_px, box)[::step])
    rows = rows * step
    if len(rows) < MIN_PIXELS:
        return _Measured(nothing, nothing, len(rows), "too_small", 0.0)
    codes = photo.encoded_rgb[box.slices][rows, columns]
    linear = look_up(EncodedRgb(codes[None]), photo.encoding.tables)[0].astype(np.float64)
    mean, spread = linear.mean(axis=0), linear.std(axis=0)
    places = np.stack([columns + box.left, rows + box.top], axis=1).astype(np.float64)
    return _Measured(mean, spread, len(rows), *_fault_and_trust(codes, linear, _blocks(places, quad_px)))


def _box_around(quad_px: FloatArray, photo: Photo) -> Box | None:
    """The pixels that a quadrilateral touches; None where it leaves the photograph."""
    left, top = np.floor(quad_px.min(axis=0) + 0.5).astype(int)
    right, bottom = np.floor(quad_px.max(axis=0) + 0.5).astype(int) + 1
    if left < 0 or top < 0 or right > photo.width_px or bottom > photo.height_px:
        return None
    return Box(int(top), int(left), int(bottom), int(right))


def _inside(quad_px: FloatArray, box: Box) -> BoolArray:
    """Pixels of `box` whose centre lies in the quadrilateral."""
    mask = np.zeros((box.height_px, box.width_px), dtype=np.uint8)
    cv2.fillConvexPoly(mask, np.rint((quad_px - [box.left, box.top]) * 16).astype(np.int32), 1, shift=4)
    inside: BoolArray = mask.astype(bool)
    return inside


def _blocks(places_px: FloatArray, quad_px: FloatArray) -> NDArray[np.int64]:
    """Which of nine blocks of the quadrilateral each pixel lies in. [0-8]"""
    across = (quad_px[1] + quad_px[2] - quad_px[0] - quad_px[3]) / 2
    down = (quad_px[2] + quad_px[3] - quad_px[0] - quad_px[1]) / 2
    shares = (places_px - quad_px.mean(axis=0)) @ np.linalg.inv(np.array([across, down])) + 0.5
    column, row = np.clip((3 * shares).astype(np.int64), 0, 2).T
    blocks: NDArray[np.int64] = 3 * row + column
    return blocks


def _fault_and_trust(
    codes: NDArray[np.uint8] | NDArray[np.uint16], linear: FloatArray, blocks: NDArray[np.int64]
) -> tuple[str, float]:
    top = np.iinfo(codes.dtype).max
    if float((codes >= TOP_SHARE_OF_RANGE * top).mean(axis=0).max()) > CLIPPED_SHARE:
        return "clipped", 0.0
    over = float((codes >= CLIPPED_SHARE_OF_RANGE * top).mean(axis=0).max())
    if _unevenness(linear, blocks) > UNEVEN_SHARE:
        return "uneven", 0.0
    under = float((codes <= FLOOR_SHARE_OF_RANGE * top).mean(axis=0).max())
    return "", DOUBTFUL_TRUST if over > DOUBTFUL_SHARE or under > FLOOR_SHARE else 1.0


def _unevenness(linear: FloatArray, blocks: NDArray[np.int64]) -> float:
    """Largest difference between block means beyond what pixel noise explains, as a share of the brightest channel."""
    counts = np.bincount(blocks, minlength=9)
    filled = counts > 0
    sums = np.stack([np.bincount(blocks, linear[:, channel], 9) for channel in range(3)], axis=1)[filled]
    means = sums.astype(np.float64) / counts[filled, None]
    noise = linear.std(axis=0) / np.sqrt(counts[filled].min())
    # JPEG and blur tie neighbours together: the noise of a block mean is about twice that of free pixels.
    span = np.maximum(np.ptp(means, axis=0) - 4 * noise, 0)
    return float(span.max() / max(linear.mean(axis=0).max(), 0.02))
