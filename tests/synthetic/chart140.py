"""A photograph of the 140-patch card from its published values, with an invented cast and tone curve."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.cards.classic140 import classic140_editions, places_140
from calibration.colourspaces import xyz_to_srgb8

PITCH_PX = 40
FRAME_CODE, BOARD_CODE = 30, 150


@dataclass(frozen=True)
class Chart140:
    """How the card lies. scale : Of 600 x 440 pixels. cast : Of red, green and blue in code values."""

    scale: float = 1.0
    turn_deg: float = 4.0
    tilt: float = 0.05
    noise_codes: float = 2.0
    mirrored: bool = False
    cast: tuple[float, float, float] = (0.95, 0.85, 0.70)
    power: float = 1.1
    shuffled: bool = False
    size_px: tuple[int, int] = (1400, 1000)


def photograph_140(chart: Chart140) -> tuple[NDArray[np.uint8], NDArray[np.float64]]:
    """8-bit picture, shape (rows, columns, 3), and the patches' centres, x, y, shape (140, 2)."""
    rng = np.random.default_rng(1)
    codes = xyz_to_srgb8(classic140_editions()[1].xyz_d65)
    if chart.shuffled:
        codes = codes[rng.permutation(140)]
    card = np.full((11 * PITCH_PX, 15 * PITCH_PX, 3), FRAME_CODE, dtype=np.uint8)
    middles = (places_140() + 1) * PITCH_PX
    for (x, y), code in zip(middles.astype(int), codes, strict=True):
        card[y - 17 : y + 18, x - 17 : x + 18] = code
    width, height = chart.size_px
    high, wide = card.shape[:2]
    half = np.array([wide, high]) * chart.scale / 2
    flat = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]) * half
    flat[:2, 0] *= 1 - chart.tilt
    turn = np.radians(chart.turn_deg)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    corners = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], dtype=np.float32)
    to_photo = cv2.getPerspectiveTransform(corners, (flat @ rotation.T + [width / 2, height / 2]).astype(np.float32))
    picture = cv2.warpPerspective(card, to_photo, (width, height), flags=cv2.INTER_AREA, borderValue=(BOARD_CODE,) * 3)
    noisy = cv2.GaussianBlur(picture, (0, 0), 0.8) + rng.normal(0, chart.noise_codes, picture.shape)
    stored = np.rint(255 * np.clip(noisy / 255 * chart.cast, 0, 1) ** chart.power).astype(np.uint8)
    homogeneous = np.c_[middles, np.ones(140)] @ to_photo.T
    centres = homogeneous[:, :2] / homogeneous[:, 2:]
    if chart.mirrored:
        stored, centres[:, 0] = stored[:, ::-1], width - 1 - centres[:, 0]
    return np.ascontiguousarray(stored), centres
