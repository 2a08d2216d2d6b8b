"""The light each patch of a card sends back, averaged where light adds: in linear light."""

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.cards.sighting import CardSighting, PatchColours
from calibration.photo import BoolArray, Box, EncodedRgb, FloatArray, Photo
from calibration.transfer import CLIPPED_SHARE_OF_RANGE, look_up

# A patch is clipped when more than this share of its pixels has a channel at the end of its range.
CLIPPED_SHARE = 0.02
# A flat patch varies by noise, print and JPEG. Beyond this coefficient of variation something lies on it.
COVERED_VARIATION = 0.35
MIN_PIXELS = 4


def measure_patches(photo: Photo, sighting: CardSighting) -> PatchColours:
    """Mean, spread and usability of every patch, in linear light."""
    measured = [_measure_quad(photo, quad) for quad in sighting.patch_quads_px]
    means, spreads, counts, faults = (list(column) for column in zip(*measured, strict=True))
    why_not = tuple(why or ("covered" if hidden else "") for why, hidden in zip(faults, sighting.hidden, strict=True))
    return PatchColours(
        linear_rgb=np.array(means),
        spread_sd=np.array(spreads),
        pixels=np.array(counts, dtype=np.int64),
        usable=np.array([not why for why in why_not]),
        why_not=why_not,
    )


def _measure_quad(photo: Photo, quad_px: FloatArray) -> tuple[FloatArray, FloatArray, int, str]:
    """Mean and spread of linear RGB inside one quadrilateral, its pixels, and "" or what is wrong with it."""
    nothing = np.full(3, np.nan)
    box = _box_around(quad_px, photo)
    if box is None:
        return nothing, nothing, 0, "cut_off"
    encoded = photo.encoded_rgb[box.slices]
    inside = _inside(quad_px, box)
    codes = encoded[inside]
    if len(codes) < MIN_PIXELS:
        return nothing, nothing, len(codes), "too_small"
    linear = look_up(EncodedRgb(codes[None]), photo.encoding.tables)[0].astype(np.float64)
    mean, spread = linear.mean(axis=0), linear.std(axis=0)
    return mean, spread, len(codes), _fault(codes, mean, spread)


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


def _fault(codes: NDArray[np.uint8], mean: FloatArray, spread: FloatArray) -> str:
    top = np.iinfo(codes.dtype).max
    if (codes.max(axis=1) >= CLIPPED_SHARE_OF_RANGE * top).mean() > CLIPPED_SHARE:
        return "clipped"
    if spread.max() > COVERED_VARIATION * max(float(mean.max()), 0.02):
        return "covered"
    return ""
