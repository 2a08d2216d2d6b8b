"""Photographs that are the same picture twice, and pictures of a screen."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from calibration.photo import BoolArray, Photo

SAME_BITS = 6  # of 64 that may differ between two sizes or qualities of one picture; two pictures differ by 20 and more
PHONE_SCREEN_ASPECT = 1.9  # height over width: screens are longer than any camera's picture (4:3, 3:2, 16:9)
FLAT_ROWS_SHARE = 0.03  # of the height that is one plain colour at an edge, as a status bar is
FLAT_SPREAD = 1.0  # 8-bit codes: what is drawn by a program is exactly one colour, a wall in a photograph never is


def picture_bits(photo: Photo) -> BoolArray:
    """64 bits that stay with a picture through other sizes and qualities: where it grows lighter from left to right."""
    grey = cv2.cvtColor(_codes8(photo), cv2.COLOR_RGB2GRAY)
    small = cv2.resize(grey, (9, 8), interpolation=cv2.INTER_AREA).astype(np.int16)
    bits: BoolArray = (small[:, 1:] > small[:, :-1]).ravel()
    return bits


@dataclass(frozen=True, eq=False)
class Pictured:
    """What a picture is told by from others. bits : As `picture_bits`. size : Of its pixels, to tell the larger."""

    bits: BoolArray
    size: int
    sha256: str


def pictured(photo: Photo) -> Pictured:
    """What this photograph is told by; its pixels are not held."""
    return Pictured(picture_bits(photo), photo.encoded_rgb.size, photo.sha256)


def same_pictures(pictures: Sequence[Pictured]) -> tuple[int | None, ...]:
    """For each picture the place of the larger one of the same; None for the one that is kept."""
    by_size = sorted(range(len(pictures)), key=lambda place: (-pictures[place].size, pictures[place].sha256))
    kept: list[int] = []
    same: list[int | None] = [None] * len(pictures)
    for place in by_size:
        bits = pictures[place].bits
        match = next((other for other in kept if int((bits != pictures[other].bits).sum()) <= SAME_BITS), None)
        same[place] = match
        if match is None:
            kept.append(place)
    return tuple(same)


def looks_like_a_screen(photo: Photo) -> bool:
    """The picture has a screen's shape and a plain bar at its upper or lower edge, as no camera makes."""
    if max(photo.height_px, photo.width_px) < PHONE_SCREEN_ASPECT * min(photo.height_px, photo.width_px):
        return False
    rows = max(4, round(FLAT_ROWS_SHARE * photo.height_px))
    codes = _codes8(photo)
    return any(_plain(edge) for edge in (codes[:rows], codes[-rows:]))


def _plain(codes: np.ndarray) -> bool:
    """Most of it is one colour; a clock and a few signs may stand in it."""
    middle = np.median(codes.reshape(-1, 3), axis=0)
    near = np.abs(codes.astype(np.int16) - middle.astype(np.int16)).max(axis=-1) <= FLAT_SPREAD
    return bool(near.mean() > 0.75)


def _codes8(photo: Photo) -> np.ndarray:
    codes = photo.encoded_rgb
    return np.asarray(codes if codes.dtype == np.uint8 else codes >> 8, dtype=np.uint8)
