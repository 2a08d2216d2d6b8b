"""How the light at a zone differs from the light at the card, seen on the plain surface that both lie on.

On boards this explains half of the scatter between photographs: 0.19 to 0.13 in the logarithm of light.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from calibration.corrected import CorrectedPhoto
from calibration.photo import BoolArray, FloatArray
from estimator.zones.outline import Zone

GRID_ROWS, GRID_COLUMNS = 72, 60
# A surface counts as plain when its light follows a plane this closely (standard deviation of the logarithm) and a
# good part of the photo shows it. Patterned cloths, rooms and people do not.
PLAIN_SD = 0.10
FEWEST_CELLS = 300
CARD_MARGIN, HAIR_MARGIN_SHARE = 1.25, 0.02
# Shadows of the locks lie on the surface too: cells far below the plane count little (Cauchy weights).
ROUNDS = 12


@dataclass(frozen=True, eq=False)
class LightField:
    """Log light of a plain surface, as a plane over the photo.

    slope : Change across the whole width of the photo, along x and along y (the same unit). shape (2,).
    card_xy : Middle of the card, x and y in units of the photo's width. shape (2,).
    """

    slope: FloatArray
    card_xy: FloatArray
    width_px: int

    def at(self, zone: Zone) -> float:
        """Log of the light at the middle of the zone over the light at the card. Within -1 and 1."""
        middle = np.array([zone.box.left + zone.box.right, zone.box.top + zone.box.bottom]) / (2 * self.width_px)
        return float(np.clip(self.slope @ (middle - self.card_xy), -1.0, 1.0))


def light_field(corrected: CorrectedPhoto, zones: tuple[Zone, ...]) -> LightField | None:
    """The light over the surface that card and hair lie on; None without a card, or where the surface is not plain."""
    photo, sighting = corrected.photo, corrected.sighting
    if sighting is None:
        return None
    row_step = max(1, photo.height_px // GRID_ROWS)
    luminance = corrected.xyz_d65(photo.whole, row_step)[..., 1]
    cell_px = max(1, photo.width_px // GRID_COLUMNS)
    columns = photo.width_px // cell_px
    cells = luminance[:, : columns * cell_px].reshape(len(luminance), columns, cell_px).mean(axis=2)
    y = (np.arange(len(luminance)) * row_step)[:, None].repeat(columns, axis=1) / photo.width_px
    x = ((np.arange(columns) + 0.5) * cell_px)[None].repeat(len(luminance), axis=0) / photo.width_px
    free = _free_cells(corrected, zones, row_step, cell_px)[: len(luminance), :columns]
    free &= cells > 1e-3
    if free.sum() < FEWEST_CELLS:
        return None
    slope, spread_sd = _plane(np.stack([x[free], y[free]], axis=1), np.log(cells[free].astype(np.float64)))
    if spread_sd > PLAIN_SD:
        return None
    return LightField(slope, sighting.corners_px.mean(axis=0) / photo.width_px, photo.width_px)


def _free_cells(corrected: CorrectedPhoto, zones: tuple[Zone, ...], row_step: int, cell_px: int) -> BoolArray:
    """Cells that hold neither card nor hair. bool, shape (rows, columns)."""
    photo, sighting = corrected.photo, corrected.sighting
    taken = np.zeros((-(-photo.height_px // row_step), -(-photo.width_px // cell_px)), dtype=np.uint8)
    scale = np.array([cell_px, row_step])
    if sighting is not None:
        middle = sighting.corners_px.mean(axis=0)
        corners = middle + CARD_MARGIN * (sighting.corners_px - middle)
        cv2.fillConvexPoly(taken, np.rint(corners / scale).astype(np.int32), 1)
    margin = int(HAIR_MARGIN_SHARE * photo.width_px)
    for zone in zones:
        # By its mask, not its box: boxes of zones on a head cover most of a photo.
        rows, columns = np.nonzero(zone.mask[::row_step, ::cell_px])
        taken[
            np.clip(rows + zone.box.top // row_step, 0, taken.shape[0] - 1),
            np.clip(columns + zone.box.left // cell_px, 0, taken.shape[1] - 1),
        ] = 1
    around = np.ones((2 * (margin // row_step) + 3, 2 * (margin // cell_px) + 3), np.uint8)
    free: BoolArray = cv2.dilate(taken, around) == 0
    return free


def _plane(places: FloatArray, log_light: FloatArray) -> tuple[FloatArray, float]:
    """Slope of a plane through `log_light`, shape (2,), and the spread round it; outliers weigh little."""
    design = np.column_stack([np.ones(len(places)), places - places.mean(axis=0)])
    weight = np.ones(len(places))
    spread_sd = 0.0
    solution = np.zeros(3)
    for _ in range(ROUNDS):
        weighted = design * weight[:, None]
        solution = np.linalg.solve(weighted.T @ design + 1e-6 * np.eye(3), weighted.T @ log_light)
        residual = log_light - design @ solution
        spread_sd = 1.4826 * float(np.median(np.abs(residual)))
        weight = 1 / (1 + np.square(residual / (2 * max(spread_sd, 0.02)))) ** 2
    return solution[1:], spread_sd
