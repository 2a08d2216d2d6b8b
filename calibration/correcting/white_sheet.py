"""A photograph of a white sheet laid where card and hair lie: how the light falls off over the frame."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from calibration.corrected import Correction
from calibration.correcting.illumination import CONES_FROM_XYZ, ORDER, Illumination
from calibration.errors import CorrectionError
from calibration.findings import Finding, Severity
from calibration.opening import open_photo_of_white
from calibration.photo import BoolArray, EncodedRgb, FloatArray, Photo
from calibration.transfer import clipped, look_up

# The sheet is looked at in about this many cells across: fine enough to see a pattern, coarse enough to lose noise.
CELLS_ACROSS = 160
# How far cells of a plain sheet stray from a smooth field (logarithm of light); cloth, print and rooms stray more.
PLAIN_SD = 0.025
STRAY_LOG, MOST_STRAY_SHARE = 0.06, 0.15
MOST_CLIPPED_SHARE = 0.02
DARKEST_MEDIAN = 0.05
ROUNDS = 8


@dataclass(frozen=True, eq=False)
class WhiteSheet:
    """A white sheet as photographed.

    cells : A small copy of the photograph, each pixel the mean of one cell.
    width_px, height_px : Of the photograph itself.
    """

    cells: Photo
    width_px: int
    height_px: int


def open_white_sheet(photo_bytes: bytes) -> WhiteSheet:
    """The white sheet in a file's bytes.

    Raises
    ------
    PhotoRefusedError : The bytes are not one whole photograph.
    CorrectionError : The sheet is out of range, too dark, or not plain.
    """
    photo = open_photo_of_white(photo_bytes)
    if clipped(photo).mean() > MOST_CLIPPED_SHARE:
        message = "The white sheet is too bright to measure: part of it is out of range."
        raise _refused("clipped", message, "Lower the exposure until the sheet is light grey, and take it again.")
    cells = _cells(photo)
    light = look_up(cells.encoded_rgb, cells.encoding.tables).astype(np.float64)
    if float(np.median(light.max(axis=-1))) < DARKEST_MEDIAN:
        raise _refused("dark", "The white sheet is too dark to measure.", "Add light, and take the sheet again.")
    _, stray, spread_sd = _smooth(np.log(np.maximum(light.mean(axis=-1), 1e-4))[..., None])
    if spread_sd > PLAIN_SD or stray.mean() > MOST_STRAY_SHARE:
        raise _refused("patterned", "The photo shows no plain white sheet: its light does not change smoothly.",
                       "Fill the whole frame with one unprinted matt sheet, without folds and shadows.")  # fmt: skip
    return WhiteSheet(cells, photo.width_px, photo.height_px)


def sheet_does_not_fit(sheet: WhiteSheet, photo: Photo) -> Finding | None:
    """Why this sheet can't speak for that photograph, or None."""
    if (sheet.width_px, sheet.height_px) != (photo.width_px, photo.height_px):
        message = (
            f"The photo of the white sheet has {sheet.width_px} x {sheet.height_px} pixels, this one "
            f"{photo.width_px} x {photo.height_px}: it was not used."
        )
        remedy = "Take both with one camera, held the same way, from the same place."
        return Finding("white_sheet_refused", Severity.CARE, message, remedy)
    if sheet.cells.encoding.name != photo.encoding.name:
        message = (
            f"The photo of the white sheet is kept as {sheet.cells.encoding.name}, this one as {photo.encoding.name}: "
            "it was not used."
        )
        return Finding("white_sheet_refused", Severity.CARE, message, "Take both with the same camera settings.")
    return None


def sheet_illumination(sheet: WhiteSheet, correction: Correction, origin_px: FloatArray) -> Illumination:
    """The light over the frame as the sheet shows it under this correction, 1 at `origin_px`."""
    xyz = correction.xyz_d65(sheet.cells, sheet.cells.whole, 1).astype(np.float64)
    terms, _, _ = _smooth(np.log(np.maximum(xyz @ CONES_FROM_XYZ.T, 1e-4)))
    reach = (0.0, 0.0, float(sheet.width_px), float(sheet.height_px))
    return Illumination(terms, origin_px, sheet.width_px, reach)


def _cells(photo: Photo) -> Photo:
    width = min(CELLS_ACROSS, photo.width_px)
    height = max(2, round(width * photo.height_px / photo.width_px))
    small = cv2.resize(photo.encoded_rgb, (width, height), interpolation=cv2.INTER_AREA)
    return replace(photo, encoded_rgb=EncodedRgb(np.ascontiguousarray(small)))


def _smooth(log_light: FloatArray) -> tuple[FloatArray, BoolArray, float]:
    """Smooth field through cells, which cells stray from it, and the spread of the rest.

    log_light : shape (rows, columns, channels). The field's terms: shape (channels, ORDER + 1, ORDER + 1).
    """
    rows, columns, channels = log_light.shape
    y, x = np.mgrid[0:rows, 0:columns]
    x, y = (x.ravel() + 0.5) / columns, (y.ravel() + 0.5) / columns
    powers = [(down, across) for down in range(ORDER + 1) for across in range(ORDER + 1 - down)]
    design = np.stack([y**down * x**across for down, across in powers], axis=1)
    seen = log_light.reshape(-1, channels)
    weight, spread_sd = np.ones(len(seen)), 0.0
    for _ in range(ROUNDS):
        weighted = design * weight[:, None]
        solution = np.linalg.solve(weighted.T @ design + 1e-9 * np.eye(len(powers)), weighted.T @ seen)
        away = np.abs(seen - design @ solution).max(axis=1)
        spread_sd = 1.4826 * float(np.median(away))
        weight = 1 / (1 + np.square(away / (2 * max(spread_sd, 0.005)))) ** 2
    terms = np.zeros((channels, ORDER + 1, ORDER + 1))
    for (down, across), values in zip(powers, solution, strict=True):
        terms[:, down, across] = values
    return terms, away > STRAY_LOG, spread_sd


def _refused(why: str, message: str, remedy: str) -> CorrectionError:
    return CorrectionError(Finding(f"white_sheet_{why}", Severity.RETAKE, message, remedy))
