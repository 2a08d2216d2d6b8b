"""A 12-megapixel photograph with hair-like texture, a gradient of light and a 24-patch card; and twelve zones in it."""

import cv2
import numpy as np
import simplejpeg

from calibration.cards.layouts import classic24_editions
from calibration.colourspaces import SRGB_TO_XYZ_D65, xyz_to_srgb8

ROWS, COLUMNS = 3000, 4000
CARD_LEFT, CARD_TOP, PATCH_PX, GAP_PX = 250, 2050, 110, 18


def photo_jpeg(quality: int = 92) -> bytes:
    """The photograph as a JPEG with halved chroma, as phones write it."""
    random = np.random.default_rng(1)
    coarse = random.standard_normal((ROWS // 2, COLUMNS // 2)).astype(np.float32)
    fibres = 5 * cv2.resize(cv2.GaussianBlur(coarse, (1, 61), 0), (COLUMNS, ROWS))
    fibres += 1.5 * cv2.GaussianBlur(random.standard_normal((ROWS, COLUMNS)).astype(np.float32), (1, 31), 0)
    light = np.linspace(0.9, 1.05, COLUMNS, dtype=np.float32)[None, :, None]
    linear = np.float32([0.42, 0.30, 0.17]) * np.exp(0.45 * fibres)[..., None] * light
    rgb8 = xyz_to_srgb8(linear @ SRGB_TO_XYZ_D65.T.astype(np.float32))
    _draw_card(rgb8)
    rgb8 = np.ascontiguousarray(rgb8)
    return simplejpeg.encode_jpeg(rgb8, quality=quality, colorspace="RGB", colorsubsampling="420")


def _draw_card(rgb8: np.ndarray) -> None:
    pitch = PATCH_PX + GAP_PX
    bottom, right = CARD_TOP + 4 * pitch + 2 * GAP_PX, CARD_LEFT + 6 * pitch + 2 * GAP_PX
    rgb8[CARD_TOP - GAP_PX : bottom, CARD_LEFT - GAP_PX : right] = 40
    colours = xyz_to_srgb8(np.asarray(next(iter(classic24_editions())).xyz_d65))
    for patch, colour in enumerate(colours):
        top = CARD_TOP + (patch // 6) * pitch + GAP_PX // 2
        left = CARD_LEFT + (patch % 6) * pitch + GAP_PX // 2
        rgb8[top : top + PATCH_PX, left : left + PATCH_PX] = colour


def zone_polygons(count: int = 12) -> dict[str, list[list[int]]]:
    """Zones of about 300,000 pixels each, away from the card; beyond twelve they overlap the first ones in part."""
    corners = [(left, top) for top in (100, 700, 1300, 2300) for left in (1500, 2200, 2900)]
    corners = [*corners, *((left + 250, top + 20) for left, top in corners)][:count]
    return {
        f"zone {number}": [[left, top], [left + 560, top + 10], [left + 540, top + 560], [left + 10, top + 550]]
        for number, (left, top) in enumerate(corners, 1)
    }
