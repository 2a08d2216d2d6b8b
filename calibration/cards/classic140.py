"""The 140-patch card: its colours, and where it lies in a photograph, proved by how well its colours fit."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np

from calibration.cards.finding import eight_bit_bgr, evened, shrunk
from calibration.cards.flat_patches import find_flat_patches
from calibration.cards.geometry import project
from calibration.cards.lattice import find_lattices
from calibration.cards.layouts import Edition, table_rows
from calibration.cards.sighting import CardSighting
from calibration.colourspaces import delta_e_2000, xyz_to_lab
from calibration.photo import EncodedRgb, FloatArray, Photo
from calibration.transfer import look_up

CLASSIC140 = "classic140"
ROWS, COLUMNS = 10, 14
_EDITIONS = (
    ("before November 2014", "classic140_before_nov2014.csv"),
    ("from November 2014", "classic140_after_nov2014.csv"),
)
SEARCH_SIDES_PX = (1500, 3000)
# Grids grow seven cells each way, so a whole card shows at least half of itself in one. [our assumption]
FEWEST_CELLS = 60
LATTICES_TRIED = 4
CELLS_OUTSIDE = 6  # flat things beside the card that stand in its grid
# Median ΔE2000 after a plain 3x3: the right place fits within MOST, every other place at least TIMES worse.
MOST_MISFIT = 9.0
WINS_BY_TIMES = 1.5
NEAR_HAIR_CHROMA, NEAR_HAIR_LIGHTNESS = 30.0, (12.0, 75.0)
GREY_CHROMA = 3.0
INNER_HALF = 0.22

_SQUARE = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])


@dataclass(frozen=True, eq=False)
class _Placed:
    """Cells of the card by their column and row, their places in the photo, and how the colours fit."""

    cells: FloatArray
    centres_px: FloatArray
    misfit: float


@cache
def classic140_editions() -> tuple[Edition, ...]:
    """The 140-patch card's editions, older first. Patches row by row, A1 first, N10 last."""
    return tuple(_edition(name, file_name) for name, file_name in _EDITIONS)


def _edition(name: str, file_name: str) -> Edition:
    rows = table_rows(file_name)
    if [int(row["patch"]) for row in rows] != list(range(1, 141)) or not all(row["source"] for row in rows):
        raise ValueError(f"{file_name} needs patches 1 to 140 in order, each with its source.")
    xyz_d65 = np.array([[float(row[column]) for column in ("x_d65", "y_d65", "z_d65")] for row in rows])
    return Edition(name, xyz_d65, xyz_to_lab(xyz_d65))


@cache
def classic140_greys() -> tuple[int, ...]:
    """Numbers of the grey patches, from 0, the lightest first."""
    lab = classic140_editions()[1].lab_d65
    grey = np.flatnonzero(np.hypot(lab[:, 1], lab[:, 2]) < GREY_CHROMA)
    return tuple(int(patch) for patch in grey[np.argsort(-lab[grey, 0])])


@cache
def classic140_near_hair() -> tuple[int, ...]:
    """Numbers of the patches that lie where hair lies."""
    lab = classic140_editions()[1].lab_d65
    low, high = NEAR_HAIR_LIGHTNESS
    near = (
        (np.hypot(lab[:, 1], lab[:, 2]) < NEAR_HAIR_CHROMA) & (lab[:, 0] > low) & (lab[:, 0] < high) & (lab[:, 2] > -3)
    )
    return tuple(int(patch) for patch in np.flatnonzero(near))


def places_140() -> FloatArray:
    """Column and row of each patch, A1 at 0, 0. shape (140, 2)."""
    rows, columns = np.mgrid[0:ROWS, 0:COLUMNS]
    return np.stack([columns.ravel(), rows.ravel()], axis=1).astype(np.float64)


def find_classic140(photo: Photo) -> CardSighting | None:
    """The 140-patch card in the photograph; None where no grid of colours fits it better than in any other place."""
    full = eight_bit_bgr(photo)
    for side in SEARCH_SIDES_PX:
        scale = min(1.0, side / max(full.shape[:2]))
        flat = find_flat_patches(evened(shrunk(full, scale)))
        for lattice in find_lattices(flat)[:LATTICES_TRIED]:
            if len(lattice) < FEWEST_CELLS:
                continue
            centres = (flat.centres_px[list(lattice)] + 0.5) / scale - 0.5
            placed = _placed(photo, np.array(list(lattice.values())), centres)
            if placed is not None:
                return _sighting(photo, placed)
        if scale == 1.0:
            break
    return None


def _placed(photo: Photo, cells: np.ndarray, centres_px: FloatArray) -> _Placed | None:
    """The one way of laying the card's colours on the grid that fits them; None where there is none."""
    light = _light_at(photo, centres_px)
    found = sorted(_tried(cells, centres_px, light), key=lambda placed: placed.misfit)
    if not found or found[0].misfit > MOST_MISFIT:
        return None
    if len(found) > 1 and found[1].misfit < WINS_BY_TIMES * found[0].misfit:
        return None
    return found[0]


def _light_at(photo: Photo, centres_px: FloatArray) -> FloatArray:
    """Linear light in the middle of each flat area: the median of nine pixels. shape (n, 3)."""
    steps = np.array([[x, y] for y in (-1, 0, 1) for x in (-1, 0, 1)])
    places = np.rint(centres_px[:, None] + steps).astype(int)
    x, y = np.clip(places[..., 0], 0, photo.width_px - 1), np.clip(places[..., 1], 0, photo.height_px - 1)
    codes = np.median(photo.encoded_rgb[y, x], axis=1).astype(photo.encoded_rgb.dtype)
    return np.asarray(look_up(EncodedRgb(codes[None]), photo.encoding.tables)[0], dtype=np.float64)


def _tried(cells: np.ndarray, centres_px: FloatArray, light: FloatArray) -> Iterator[_Placed]:
    """Every turn, mirror image and offset of the grid on the card."""
    edition = classic140_editions()[1]
    for turn in range(4):
        for mirror in (1, -1):
            turned = cells * [mirror, 1]
            for _ in range(turn):
                turned = np.stack([-turned[:, 1], turned[:, 0]], axis=1)
            turned = turned - turned.min(axis=0)
            for shift in _shifts(turned):
                on_card = turned + shift
                inside = ((on_card >= 0) & (on_card < [COLUMNS, ROWS])).all(axis=1)
                if (~inside).sum() > CELLS_OUTSIDE:
                    continue
                patches = on_card[inside, 1] * COLUMNS + on_card[inside, 0]
                misfit = _misfit(light[inside], edition.xyz_d65[patches], edition.lab_d65[patches])
                yield _Placed(on_card[inside].astype(np.float64), centres_px[inside], misfit)


def _shifts(cells: np.ndarray) -> Iterator[np.ndarray]:
    """Offsets at which a grid that begins at 0, 0 may lie on the card, a stray row or column allowed."""
    wide, high = cells.max(axis=0)
    for x in range(min(0, COLUMNS - 1 - wide) - 1, max(0, COLUMNS - 1 - wide) + 2):
        for y in range(min(0, ROWS - 1 - high) - 1, max(0, ROWS - 1 - high) + 2):
            yield np.array([x, y])


def _misfit(light: FloatArray, xyz: FloatArray, lab: FloatArray) -> float:
    """Median ΔE2000 that a plain 3x3 leaves; a least-squares fit weighted towards dark patches."""
    weight = 1 / np.maximum(xyz[:, 1:2], 0.02)
    matrix = np.linalg.lstsq(weight * light, weight * xyz, rcond=None)[0]
    return float(np.median(delta_e_2000(xyz_to_lab(light @ matrix), lab)))


def _sighting(photo: Photo, placed: _Placed) -> CardSighting | None:
    homography, _ = cv2.findHomography(placed.cells, placed.centres_px, cv2.RANSAC, 3.0)
    if homography is None:
        return None
    to_photo = np.asarray(homography, dtype=np.float64)
    right, bottom = COLUMNS - 0.5, ROWS - 0.5
    corners = project(to_photo, np.array([[-0.5, -0.5], [right, -0.5], [right, bottom], [-0.5, bottom]]))
    squares = np.asarray(places_140()[:, None] + INNER_HALF * _SQUARE, dtype=np.float64)
    quads = project(to_photo, squares)
    inside = np.all((quads >= 0) & (quads < [photo.width_px, photo.height_px]), axis=(1, 2))
    mirrored = bool(cv2.contourArea(corners.astype(np.float32), True) < 0)
    return CardSighting(CLASSIC140, corners, quads, mirrored, placed.misfit / 100, np.asarray(~inside))
