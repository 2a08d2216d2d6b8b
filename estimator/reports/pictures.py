"""Pictures for the eye: a photograph corrected to D65 for an sRGB screen, its card, and the outlines of its zones.

Nothing is measured from these pictures. They carry no tag of the camera's: only pixels and the sRGB profile.
"""

import functools
import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from calibration.cards.sighting import CardSighting
from calibration.colourspaces import SRGB_TO_XYZ_D65
from calibration.corrected import CorrectedPhoto
from calibration.photo import Box, EncodedRgb, Photo, XyzD65
from estimator.zones.outline import Zone

LONGEST_PX = 1280  # 84 mm of paper at 380 dots per inch; two of them keep a page under 2 MB
CARD_LONGEST_PX = 480
JPEG_QUALITY = 88
STRIP_ROWS = 100  # strips stay in the processor's cache
OUTLINE_TOLERANCE = 0.0015  # of the longer side: how far a simplified outline may stray


@dataclass(frozen=True)
class Picture:
    """One picture, ready to be set.

    jpeg : JPEG with the sRGB profile.
    scale : Its pixels for each pixel of the photograph.
    beyond_screen_share : Share of its pixels whose colour no sRGB screen can show. [0-1]
    """

    jpeg: bytes
    width_px: int
    height_px: int
    scale: float
    beyond_screen_share: float


@dataclass(frozen=True)
class Tag:
    """Where a zone's number stands, beside its hair, and the point of the outline that it speaks of.

    All in shares of the picture's width and height, 0-1.
    """

    zone: str
    x: float
    y: float
    anchor_x: float
    anchor_y: float


def corrected_picture(corrected: CorrectedPhoto, longest_px: int = LONGEST_PX) -> Picture:
    """The whole photograph as it would look in daylight, at most so many pixels long."""
    return _picture(corrected, corrected.photo, longest_px)


def card_picture(corrected: CorrectedPhoto, longest_px: int = CARD_LONGEST_PX) -> Picture | None:
    """The card with a little around it, corrected as the photograph is; None where no card was found."""
    if corrected.sighting is None:
        return None
    box = _box_around(corrected.sighting, corrected.photo)
    rows, columns = box.slices
    part = replace(corrected.photo, encoded_rgb=EncodedRgb(corrected.photo.encoded_rgb[rows, columns].copy()))
    return _picture(corrected, part, longest_px)


def _picture(corrected: CorrectedPhoto, photo: Photo, longest_px: int) -> Picture:
    photo, scale = shrunk(photo, longest_px)
    srgb, beyond = screen_pixels(corrected.correction.xyz_d65(photo, photo.whole, 1))
    return Picture(encode_jpeg(srgb), photo.width_px, photo.height_px, scale, beyond)


def shrunk(photo: Photo, longest_px: int) -> tuple[Photo, float]:
    """The photo at most so many pixels long, and its pixels for each one of the original.

    Shrunk first, corrected then: a picture for the eye does not repay correcting every pixel of a large file.
    """
    scale = min(1.0, longest_px / max(photo.width_px, photo.height_px))
    if scale == 1:
        return photo, scale
    size = (max(1, round(photo.width_px * scale)), max(1, round(photo.height_px * scale)))
    small = cv2.resize(photo.encoded_rgb, size, interpolation=cv2.INTER_AREA)
    return replace(photo, encoded_rgb=EncodedRgb(small)), scale


def screen_pixels(xyz_d65: XyzD65) -> tuple[NDArray[np.uint8], float]:
    """8-bit sRGB of CIE XYZ, shape (rows, columns, 3), and the share of pixels that had to be clipped to it."""
    to_srgb, table = np.linalg.inv(SRGB_TO_XYZ_D65), _srgb_table()
    srgb = np.empty(xyz_d65.shape, dtype=np.uint8)
    beyond = []
    for top in range(0, len(xyz_d65), STRIP_ROWS):
        linear = cv2.transform(np.ascontiguousarray(xyz_d65[top : top + STRIP_ROWS]), to_srgb)
        # Sampled by rows, never by columns: JPEG halves its chroma along them.
        sample = linear[::7]
        beyond.append(cv2.countNonZero(_clipped(sample)) / (sample.shape[0] * sample.shape[1]))
        codes = np.clip(linear, 0, 1, out=linear) * np.float32(65535)
        np.take(table, codes.astype(np.uint16), out=srgb[top : top + STRIP_ROWS], mode="clip")
    return srgb, float(np.mean(beyond))


def _clipped(linear_srgb: NDArray[np.integer[Any] | np.floating[Any]]) -> NDArray[np.uint8]:
    """Where a colour lies more than half a step of 8 bits beyond the screen's. shape (rows, columns)."""
    lowest = functools.reduce(cv2.min, cv2.split(linear_srgb))
    highest = functools.reduce(cv2.max, cv2.split(linear_srgb))
    return ((lowest < -0.005) | (highest > 1.005)).astype(np.uint8)


@functools.cache
def _srgb_table() -> NDArray[np.uint8]:
    """8-bit sRGB for each of 65,536 steps of linear light (IEC 61966-2-1)."""
    linear = np.arange(65536) / 65535
    encoded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    table: NDArray[np.uint8] = np.rint(255 * encoded).astype(np.uint8)
    return table


def encode_jpeg(srgb: NDArray[np.uint8]) -> bytes:
    """A JPEG of these pixels with the sRGB profile and nothing else."""
    stream = io.BytesIO()
    Image.fromarray(srgb).save(stream, "JPEG", quality=JPEG_QUALITY, subsampling=0, icc_profile=srgb_profile())
    return stream.getvalue()


def is_small_jpeg(content: bytes) -> bool:
    """Whether these bytes are a whole JPEG that a page may show: what came with an import need not be one."""
    try:
        with Image.open(io.BytesIO(content), formats=("JPEG",)) as picture:
            if max(picture.size) > LONGEST_PX:  # from the header, before anything is decoded
                return False
            picture.load()
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return False
    return True


@functools.cache
def srgb_profile() -> bytes:
    """An sRGB profile without the date of its making, so that the same photo gives the same bytes."""
    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    profile[24:36] = np.array([2000, 1, 1, 0, 0, 0], dtype=">u2").tobytes()  # ICC.1 7.2.8: date and time
    profile[84:100] = bytes(16)  # ICC.1 7.2.18: 0 means that no identifier was computed
    return bytes(profile)


def _box_around(sighting: CardSighting, photo: Photo) -> Box:
    corners = np.concatenate([sighting.corners_px, sighting.patch_quads_px.reshape(-1, 2)])
    margin = 0.06 * float(np.max(np.ptp(corners, axis=0)))
    left, top = np.maximum(np.floor(corners.min(axis=0) - margin), 0).astype(int)
    right, bottom = np.ceil(corners.max(axis=0) + margin).astype(int)
    right, bottom = min(int(right), photo.width_px), min(int(bottom), photo.height_px)
    return Box(min(int(top), bottom - 1), min(int(left), right - 1), bottom, right)


# --- outlines --------------------------------------------------------------------------------------------------


def outlines_svg(zones: Sequence[Zone], corrected: CorrectedPhoto, tags: Sequence[Tag]) -> str:
    """Thin outlines of the zones, a line from each to the place of its number; drawn to lie over the picture."""
    width, height = corrected.photo.width_px, corrected.photo.height_px
    unit = max(width, height) / 1000
    paths = [_outline_path(zone, max(1.0, OUTLINE_TOLERANCE * max(width, height))) for zone in zones]
    paths.extend(
        f"M{tag.x * width:.0f} {tag.y * height:.0f}L{tag.anchor_x * width:.0f} {tag.anchor_y * height:.0f}"
        for tag in tags
    )
    # A dark line beside a pale one shows on dark hair and on pale hair alike.
    lines = "".join(
        f'<path d="{path}" fill="none" stroke="{ink}" stroke-width="{breadth * unit:.1f}" stroke-linejoin="round"/>'
        for ink, breadth in (("#000000", 4.0), ("#ffffff", 1.8))
        for path in paths
    )
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" aria-hidden="true">{lines}</svg>'


def _outline_path(zone: Zone, tolerance_px: float) -> str:
    """An SVG path round the zone, smoothed: single stray hairs would only clutter the picture."""
    shrink = min(1.0, 1.0 / tolerance_px)
    size = (max(1, round(zone.box.width_px * shrink)), max(1, round(zone.box.height_px * shrink)))
    small = cv2.resize(255 * zone.mask.astype(np.uint8), size, interpolation=cv2.INTER_AREA)
    margin = 8
    smooth = cv2.GaussianBlur(np.pad(small, margin), (0, 0), 2.0) > 127
    contours, _ = cv2.findContours(smooth.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    largest = max((cv2.contourArea(contour) for contour in contours), default=0)
    corner, enlarge = np.array([zone.box.left, zone.box.top]), np.array([zone.box.width_px, zone.box.height_px]) / size
    pieces = []
    for contour in contours:
        if cv2.contourArea(contour) < 0.02 * largest:
            continue
        simple = corner + (cv2.approxPolyDP(contour, 0.5, True).reshape(-1, 2) + 0.5 - margin) * enlarge
        pieces.append("M" + "L".join(f"{x:.0f} {y:.0f}" for x, y in simple) + "Z")
    return "".join(pieces)


PLACING_PX = 300  # longer side of the copy on which places are looked for
TAG_ROOM = 0.045  # of the width: how far a number keeps from hair, card and edge


def place_tags(zones: Sequence[Zone], corrected: CorrectedPhoto) -> tuple[Tag, ...]:
    """A place for each zone's number: off all hair and off the card, as near to its own zone as there is room."""
    small = PLACING_PX / max(corrected.photo.width_px, corrected.photo.height_px)
    size = (max(1, round(corrected.photo.height_px * small)), max(1, round(corrected.photo.width_px * small)))
    masks = [small_mask(zone, size, small) for zone in zones]
    taken = np.zeros(size, dtype=np.uint8)
    for mask in masks:
        taken |= mask
    if corrected.sighting is not None:
        corners = np.round(corrected.sighting.corners_px * small).astype(np.int32)
        cv2.fillConvexPoly(taken, corners, 1)
    tags = []
    for zone, mask in zip(zones, masks, strict=True):
        tag = _place_tag(zone.name, mask, taken)
        tags.append(tag)
        centre = (round(tag.x * size[1]), round(tag.y * size[0]))
        cv2.circle(taken, centre, round(TAG_ROOM * size[1]), 1, -1)
    return tuple(tags)


def small_mask(zone: Zone, size: tuple[int, int], scale: float) -> NDArray[np.uint8]:
    """Where a zone lies in a copy of the photograph of this size (rows, columns): 1 inside, 0 outside."""
    mask = np.zeros(size, dtype=np.uint8)
    top, left = int(zone.box.top * scale), int(zone.box.left * scale)
    height = min(max(1, round(zone.box.height_px * scale)), size[0] - top)
    width = min(max(1, round(zone.box.width_px * scale)), size[1] - left)
    mask[top : top + height, left : left + width] = cv2.resize(
        zone.mask.astype(np.uint8), (width, height), interpolation=cv2.INTER_NEAREST
    )
    return mask


def _place_tag(name: str, mask: NDArray[np.uint8], taken: NDArray[np.uint8]) -> Tag:
    height, width = mask.shape
    room = round(TAG_ROOM * width)
    bordered = np.pad(1 - taken, 1)
    clearance = cv2.distanceTransform(bordered, cv2.DIST_L2, 5)[1:-1, 1:-1]
    to_zone = cv2.distanceTransform(1 - mask, cv2.DIST_L2, 5)
    rows = np.arange(height, dtype=np.float32)[:, None]
    # Above a zone reads better than below it, all else being equal.
    cost = np.where(clearance >= room, to_zone + 0.1 * rows, np.float32(np.inf))
    if not np.isfinite(cost).any():
        cost = to_zone - clearance  # a picture full of hair: the number stands where it hides least
    y, x = np.unravel_index(int(np.argmin(cost)), cost.shape)
    hair_y, hair_x = np.nonzero(mask)
    nearest = int(np.argmin((hair_y - y) ** 2 + (hair_x - x) ** 2))
    anchor_y, anchor_x = hair_y[nearest], hair_x[nearest]
    return Tag(name, (x + 0.5) / width, (y + 0.5) / height, (anchor_x + 0.5) / width, (anchor_y + 0.5) / height)
