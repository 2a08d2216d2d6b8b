"""Photographs of one head laid alike: the after photograph moved, turned and sized as the one before, both cut alike.

The places of zones of one name say how; nothing looks for a face, and no colour is touched.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from estimator.errors import BadInputError
from estimator.reports.document import PhotoReading
from estimator.reports.pictures import screen_pixels, shrunk, small_mask
from estimator.zones.outline import Zone

LONGEST_PX = 1280
MARGIN = 0.06  # around the hair, of the longer side of what is shown
EDGE = 0.006  # by so much of the longer side the hair's outline is widened and softened
NEUTRAL = (119, 119, 119)  # sRGB of a grey of L* 50, as around every colour that this program shows
# Our assumptions: beyond them the photographs show the head from another side, and laying them alike would mislead.
MOST_TURN_DEG, MOST_TIMES = 45.0, 2.5
STRAY_SHARE = 0.02  # of the largest piece of hair: smaller pieces do not decide what is shown


@dataclass(frozen=True, eq=False)
class Shown:
    """One photograph ready to be laid beside the other: its sRGB pixels and how much of each is hair, 0-1."""

    srgb: NDArray[np.uint8]
    hair: NDArray[np.float32]
    places: dict[str, tuple[float, float, float]]


def hair_shown(reading: PhotoReading, word: str, longest_px: int = LONGEST_PX) -> Shown:
    """The photograph at the size of the portfolio, corrected, and where its hair is."""
    if not reading.outlined:
        raise BadInputError(f"No hair is outlined in the photograph {word}, so nothing could be hidden. Outline it.")
    photo, scale = shrunk(reading.corrected.photo, longest_px)
    srgb, _ = screen_pixels(reading.corrected.correction.xyz_d65(photo, photo.whole, 1))
    masks = {zone.name: _mask(zone, srgb, scale) for zone in reading.outlined}
    hair = np.max(np.stack(list(masks.values())), axis=0)
    places = {name: _place(mask) for name, mask in masks.items()}
    edge_px = max(1.0, EDGE * max(srgb.shape))
    widened = cv2.dilate(hair, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * int(edge_px) + 1,) * 2))
    return Shown(srgb, np.asarray(cv2.GaussianBlur(widened, (0, 0), edge_px), dtype=np.float32), places)


def _mask(zone: Zone, srgb: NDArray[np.uint8], scale: float) -> NDArray[np.float32]:
    height, width = srgb.shape[:2]
    return small_mask(zone, (height, width), scale).astype(np.float32)


def _place(mask: NDArray[np.float32]) -> tuple[float, float, float]:
    """Middle of a zone and its size. [px]"""
    rows, columns = np.nonzero(mask > 0.5)
    if len(rows) == 0:
        return 0.0, 0.0, 0.0
    return float(columns.mean()), float(rows.mean()), float(np.sqrt(len(rows)))


def laid_as(side: Shown, first: Shown) -> Shown:
    """The photograph moved, turned and sized so that its zones lie where those of the first do."""
    height, width = first.srgb.shape[:2]
    matrix = _similarity(side.places, first.places)
    srgb = cv2.warpAffine(side.srgb, matrix, (width, height), flags=cv2.INTER_AREA, borderValue=NEUTRAL)
    hair = cv2.warpAffine(side.hair, matrix, (width, height))
    return Shown(np.asarray(srgb, dtype=np.uint8), np.asarray(hair, dtype=np.float32), first.places)


def can_be_laid(side: Shown, first: Shown) -> bool:
    """Whether the two show the hair from about the same place: zones of one name, no great turn, no great step."""
    if not _common(side.places, first.places):
        return False
    (real, minus_imaginary, _), _ = _similarity(side.places, first.places)
    turn_and_scale = complex(real, -minus_imaginary)
    turn_deg, scale = abs(np.degrees(np.angle(turn_and_scale))), abs(turn_and_scale)
    return bool(turn_deg <= MOST_TURN_DEG and 1 / MOST_TIMES <= scale <= MOST_TIMES)


def _common(places: dict[str, tuple[float, float, float]], wanted: dict[str, tuple[float, float, float]]) -> list[str]:
    return [name for name in places if name in wanted and places[name][2] > 0 and wanted[name][2] > 0]


def _similarity(places: dict[str, tuple[float, float, float]], wanted: dict[str, tuple[float, float, float]]) -> (
    NDArray[np.float64]
):  # fmt: skip
    """The move, turn and scale that bring zones of one name together. shape (2, 3)."""
    names = _common(places, wanted)
    here, there = (np.array([which[name] for name in names]).reshape(-1, 3) for which in (places, wanted))
    if not names:
        return np.array([[1.0, 0, 0], [0, 1.0, 0]])
    if len(names) == 1:
        turn_and_scale = complex(there[0, 2] / here[0, 2])
    else:
        # A turn and a scale together are one complex number; least squares over the zones' middles.
        from_, to = (points[:, 0] + 1j * points[:, 1] for points in (here, there))
        from_, to = from_ - from_.mean(), to - to.mean()
        turn_and_scale = complex(np.vdot(from_, to) / np.vdot(from_, from_))
    real, imaginary = turn_and_scale.real, turn_and_scale.imag
    turned = np.array([[real, -imaginary], [imaginary, real]])
    move = there[:, :2].mean(axis=0) - turned @ here[:, :2].mean(axis=0)
    return np.column_stack([turned, move])


def window_of(hair: list[NDArray[np.float32]]) -> tuple[slice, slice]:
    """The part that is shown: all hair of both photographs with a margin."""
    both = (np.max(np.stack(hair), axis=0) > 0.5).astype(np.uint8)
    _, pieces, about, _ = cv2.connectedComponentsWithStats(both)
    areas = np.asarray(about[:, cv2.CC_STAT_AREA], dtype=np.float64)
    areas[0] = 0.0  # all that is not hair
    # A stray tuft far off would only push what matters to the side.
    rows, columns = np.nonzero(np.isin(pieces, np.flatnonzero(areas > STRAY_SHARE * areas.max())))
    margin = round(MARGIN * max(np.ptp(rows), np.ptp(columns)))
    top, left = max(int(rows.min()) - margin, 0), max(int(columns.min()) - margin, 0)
    return slice(top, int(rows.max()) + margin + 1), slice(left, int(columns.max()) + margin + 1)
