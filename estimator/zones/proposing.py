"""Outlines by the program: a rough outline drawn close to the hair, or the whole hair proposed for a person to confirm.

Both cut a small copy of the photo in two by colour and nearness (GrabCut: Rother, Kolmogorov, Blake, ACM Trans. Graph.
23(3):309-314, 2004, as OpenCV has it).
"""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.colourspaces import xyz_to_srgb8
from calibration.corrected import CorrectedPhoto
from calibration.photo import BoolArray, Box, FloatArray
from estimator.errors import BadInputError, TooLittleHairError
from estimator.zones.masks import clipped_polygon
from estimator.zones.outline import Setting, Zone

COPY_PX = 480  # longer side of the copy that is cut: the cut's time goes with its area
ROUNDS = 3
STROKE_SHARE = 0.012  # width of a stroke against the photo's width
REACH_SHARE = 0.15  # how far hair may lie outside a rough outline, against the outline's size
CARD_MARGIN = 1.2
LEAST_HAIR_SHARE = 0.004
# Pieces smaller than this against the largest are specks.
LEAST_PIECE_SHARE = 0.12
FIBROUS_SHARE = 0.2
TEXTURE_PX = 5
TEXTURE_SCALE = 1200.0  # texture beyond 0.21 counts alike: dark strands must not make pale ones look smooth
_NO_BOX = (0, 0, 1, 1)  # unused where labels are given
SEED = 1  # GrabCut draws its first clusters at random; the same photo must give the same outline


def refine_outline(
    corrected: CorrectedPhoto,
    outline_px: FloatArray,
    keep_strokes: Sequence[FloatArray] = (),
    drop_strokes: Sequence[FloatArray] = (),
) -> Zone:
    """The zone inside a rough outline, drawn close to the hair; strokes say what must be kept and what must go.

    outline_px : x, y of the rough outline in the photo, shape (points, 2). Strokes alike, each a line.

    Raises
    ------
    BadInputError : The outline has fewer than 3 points, or lies outside the photo.
    TooLittleHairError : Nothing is left inside it.
    """
    copy = _Copy(corrected)
    rough = copy.filled(clipped_polygon("the outline", outline_px, corrected.photo.height_px, corrected.photo.width_px))
    if not rough.any():
        raise BadInputError("The outline holds no part of the photo. Draw it around the hair.")
    reach = max(3, int(REACH_SHARE * np.sqrt(rough.sum())))
    near = cv2.dilate(rough, np.ones((2 * reach + 1, 2 * reach + 1), np.uint8))
    labels = np.full(rough.shape, cv2.GC_BGD, np.uint8)
    labels[near > 0] = cv2.GC_PR_BGD
    labels[copy.likely_hair(rough > 0)] = cv2.GC_PR_FGD
    labels[copy.card()] = cv2.GC_BGD
    copy.draw(labels, keep_strokes, int(cv2.GC_FGD))
    copy.draw(labels, drop_strokes, int(cv2.GC_BGD))
    kept = copy.cut(labels)
    if kept.sum() < 0.05 * rough.sum():  # hair and ground look alike: the person's own outline is the better one
        kept = (rough > 0) & (labels != cv2.GC_BGD)
    return copy.zone(kept, Setting.HEAD, proposed=False)


def propose_hair(corrected: CorrectedPhoto) -> Zone:
    """The whole hair as one zone named "hair", marked as proposed: what has the texture of strands and is not card.

    Raises
    ------
    TooLittleHairError : Nothing in the photo looks like hair.
    """
    copy = _Copy(corrected)
    fibrous = copy.fibrous() & ~copy.card()
    solid = cv2.morphologyEx(fibrous.view(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    if solid.mean() < LEAST_HAIR_SHARE:
        raise _nothing()
    sure = cv2.erode(solid, np.ones((9, 9), np.uint8))
    labels = np.where(solid > 0, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
    labels[sure > 0] = cv2.GC_FGD
    labels[~copy.fibrous(share=0.5)] = cv2.GC_BGD
    labels[copy.card()] = cv2.GC_BGD
    hair = _largest_pieces(copy.cut(labels))
    setting = Setting.BOARD if _pieces(hair) > 1 else Setting.HEAD
    return copy.zone(hair, setting, proposed=True)


class _Copy:
    """A small copy of a photo, corrected, and the way back to the photo's own pixels."""

    def __init__(self, corrected: CorrectedPhoto) -> None:
        self._corrected = corrected
        photo = corrected.photo
        self._scale = min(1.0, COPY_PX / max(photo.height_px, photo.width_px))
        row_step = max(1, int(0.5 / self._scale))
        xyz = corrected.xyz_d65(photo.whole, row_step)
        size = (max(1, round(photo.width_px * self._scale)), max(1, round(photo.height_px * self._scale)))
        small = np.asarray(cv2.resize(xyz, size, interpolation=cv2.INTER_AREA), dtype=np.float32)
        self._bgr8 = np.ascontiguousarray(xyz_to_srgb8(small)[..., ::-1])
        self._texture = _texture(xyz[..., 1], row_step, size)

    def card(self) -> BoolArray:
        """Where the card lies, with a margin. bool, shape of the copy."""
        covered = np.zeros(self._bgr8.shape[:2], np.uint8)
        sighting = self._corrected.sighting
        if sighting is not None:
            middle = sighting.corners_px.mean(axis=0)
            corners = (middle + CARD_MARGIN * (sighting.corners_px - middle)) * self._scale
            cv2.fillConvexPoly(covered, np.rint(corners).astype(np.int32), 1)
        return covered.view(np.bool_)

    def fibrous(self, share: float = 1.0) -> BoolArray:
        """Where light varies at the size of strands, by at least `share` of what parts this photo best in two."""
        free = ~self.card()
        levels = np.clip(self._texture * TEXTURE_SCALE, 0, 255).astype(np.uint8)
        parted, _ = cv2.threshold(levels[free], 0, 255, cv2.THRESH_OTSU)
        fibrous: BoolArray = (levels > share * max(parted, 0.05 * TEXTURE_SCALE)) & free
        return fibrous

    def likely_hair(self, inside: BoolArray) -> BoolArray:
        """What of `inside` has the texture of strands; all of it where hardly anything has. bool, shape of the copy."""
        fibrous = inside & self.fibrous()
        return fibrous if fibrous.sum() > FIBROUS_SHARE * inside.sum() else inside

    def filled(self, polygon_px: FloatArray) -> NDArray[np.uint8]:
        """1 inside a polygon. uint8, shape of the copy."""
        inside = np.zeros(self._bgr8.shape[:2], np.uint8)
        cv2.fillPoly(inside, [np.rint(polygon_px * self._scale).astype(np.int32)], 1)
        return inside

    def draw(self, labels: NDArray[np.uint8], strokes: Sequence[FloatArray], label: int) -> None:
        """Draws strokes into `labels`."""
        width = max(1, round(STROKE_SHARE * labels.shape[1]))
        for stroke in strokes:
            line = np.rint(np.asarray(stroke, dtype=np.float64) * self._scale).astype(np.int32)
            cv2.polylines(labels, [line.reshape(-1, 1, 2)], False, label, width)

    def cut(self, labels: NDArray[np.uint8]) -> BoolArray:
        """What belongs to the hair after the cut; `labels` itself where there is nothing to cut. bool."""
        probable = np.isin(labels, (cv2.GC_FGD, cv2.GC_PR_FGD))
        if probable.all() or not probable.any():
            return probable
        cv2.setRNGSeed(SEED)
        models: tuple[FloatArray, FloatArray] = (np.zeros((1, 65)), np.zeros((1, 65)))
        cut, _, _ = cv2.grabCut(self._bgr8, labels.copy(), _NO_BOX, *models, ROUNDS, cv2.GC_INIT_WITH_MASK)
        kept: BoolArray = np.isin(cut, (cv2.GC_FGD, cv2.GC_PR_FGD))
        return kept

    def zone(self, kept: BoolArray, setting: Setting, proposed: bool) -> Zone:
        """The zone in the photo's own pixels."""
        photo = self._corrected.photo
        whole = cv2.resize(kept.view(np.uint8) * 255, (photo.width_px, photo.height_px), interpolation=cv2.INTER_LINEAR)
        left, top, width, height = cv2.boundingRect((whole > 127).view(np.uint8))
        if not width or not height:
            raise _nothing()
        box = Box(top, left, top + height, left + width)
        return Zone("hair", box, whole[box.slices] > 127, setting, proposed=proposed)


def _texture(luminance: NDArray[np.float32], row_step: int, size: tuple[int, int]) -> NDArray[np.float32]:
    """Local standard deviation of log light at the size of strands. float32, shape of the copy."""
    log_light = np.log(np.maximum(cv2.blur(luminance, (3, max(1, 3 // row_step))), 1e-3))
    detail = log_light - cv2.blur(log_light, (15, max(3, 15 // row_step)))
    energy = cv2.resize(detail * detail, size, interpolation=cv2.INTER_AREA)
    texture: NDArray[np.float32] = np.sqrt(np.maximum(cv2.blur(energy, (TEXTURE_PX, TEXTURE_PX)), 0))
    return texture


def _largest_pieces(kept: BoolArray) -> BoolArray:
    """The pieces that are no specks, with their holes closed."""
    closed = cv2.morphologyEx(kept.view(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    count, numbers, figures, _ = cv2.connectedComponentsWithStats(closed)
    areas = figures[1:, cv2.CC_STAT_AREA]
    if count < 2:
        raise _nothing()
    large = 1 + np.flatnonzero(areas >= LEAST_PIECE_SHARE * areas.max())
    pieces: BoolArray = np.isin(numbers, large)
    return pieces


def _pieces(kept: BoolArray) -> int:
    return int(cv2.connectedComponents(kept.view(np.uint8))[0]) - 1


def _nothing() -> TooLittleHairError:
    return TooLittleHairError(
        "hair", "no_hair", "No hair was found in this photo by itself. Outline the hair by hand, or give a zone file."
    )
