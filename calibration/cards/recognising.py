"""Whether a grid of flat areas is the 24-patch card, and which way round: its colours must fit the card's own."""

from dataclasses import dataclass, replace
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.cards.flat_patches import FlatPatches
from calibration.cards.geometry import project
from calibration.cards.lattice import Lattice
from calibration.cards.layouts import classic24_editions, grid_places
from calibration.colourspaces import xyz_to_srgb8
from calibration.photo import BoolArray, FloatArray

CLIPPED_CODE = 250  # of 255: above, a channel says only "at least this"
FREE_VALUES = 4.5  # a mixing of three primaries and a constant, and the choice among ways to lay the card
NOISE_SHARE = 0.02  # of the variance: no photograph fits better, so a smaller remainder is no more evidence
FEWEST_AREAS = 6
SLACK = 2  # cells that the card may reach beyond the areas seen
# Ways to lay a 6 x 4 card on a lattice: four turns, and the same mirrored (a lattice has no front).
_TURNS = np.array(
    [
        [[1, 0], [0, 1]], [[-1, 0], [0, -1]], [[0, 1], [-1, 0]], [[0, -1], [1, 0]],
        [[-1, 0], [0, 1]], [[1, 0], [0, -1]], [[0, 1], [1, 0]], [[0, -1], [-1, 0]],
    ]
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Recognition:
    """How well one grid of flat areas passes for the 24-patch card, laid the best way.

    homography : Card grid to picture pixels. shape (3, 3).
    evidence : How much better the card's colours fit than any colours would: (areas - free values) x
        -ln(unexplained share), less 1 for each flat area that does not fit. Above about 20 for a whole card.
    explained : Share of the colours' variance over the kept areas that the card's own colours explain. [0-1]
    seen : Which patches are there: the colour fits, whether or not an area was outlined. shape (24,).
    outlined : At which patches a flat area was found. shape (24,).
    inside : Which patches lie inside the picture. shape (24,).
    clipped : Which patches have a channel at the top of its range. shape (24,).
    beyond : Areas of the same grid that lie outside these 24 places.
    colourfulness : How much the hues of the outlined areas differ: mean square root spread of channel less mean of
        channels. Tiles and keys have about 0.02, colour cards 0.1 and more.
    pitch_px : Distance between neighbouring patches.
    """

    homography: FloatArray
    evidence: float
    explained: float
    seen: BoolArray
    outlined: BoolArray
    inside: BoolArray
    clipped: BoolArray
    beyond: int
    colourfulness: float
    pitch_px: float


@dataclass(frozen=True, eq=False)
class _Sampled:
    """Colours of a picture on the cells of a lattice, and further, by column and row."""

    colours: FloatArray
    clipped: BoolArray
    inside: BoolArray
    outlined: BoolArray
    first_cell: NDArray[np.int64]


def recognise(
    picture: NDArray[np.uint8], original: NDArray[np.uint8], patches: FlatPatches, lattice: Lattice
) -> Recognition | None:
    """The card that this lattice passes for best; None where it can't be laid on it.

    picture : 8-bit BGR in which the areas were found, evened in brightness.
    original : The same before evening: clipping is seen there.
    """
    numbers = np.array(list(lattice))
    cells = np.array([lattice[number] for number in numbers], dtype=np.float64)
    homography, kept = _lattice_map(cells, patches.centres_px[numbers], patches.sizes_px[numbers])
    if homography is None or kept.sum() < 5:
        return None
    cells = cells[kept]
    sampled = _sample(picture, original, homography, cells)
    layings = _layings(cells, sampled)
    return _best_laying(layings, sampled, homography, int(kept.sum())) if len(layings[0]) else None


def _lattice_map(
    cells: FloatArray, centres_px: FloatArray, sizes_px: FloatArray
) -> tuple[FloatArray | None, BoolArray]:
    """Homography from cells to pixels, and which areas agree with it."""
    if min(np.ptp(cells, axis=0)) < 1:
        return None, np.zeros(len(cells), dtype=bool)
    homography, kept = cv2.findHomography(cells, centres_px, cv2.RANSAC, 0.12 * float(np.median(sizes_px)) + 1)
    if homography is None:
        return None, np.zeros(len(cells), dtype=bool)
    return np.asarray(homography, dtype=np.float64), np.asarray(kept).ravel() > 0


def _pitch_px(homography: FloatArray, cells: FloatArray) -> float:
    """Median length of a step of the grid at these cells."""
    here = project(homography, cells)
    steps = [np.hypot(*(project(homography, cells + step) - here).T) for step in ([1.0, 0.0], [0.0, 1.0])]
    return float(np.median(np.minimum(*steps)))


def _sample(
    picture: NDArray[np.uint8], original: NDArray[np.uint8], homography: FloatArray, cells: FloatArray
) -> _Sampled:
    """Mean colour around every cell near the lattice."""
    pitch_px = _pitch_px(homography, cells)
    side = max(1, round(0.4 * pitch_px)) | 1
    low, high = cells.min(axis=0).astype(int) - 5, cells.max(axis=0).astype(int) + 5
    grid = np.stack(np.meshgrid(*(np.arange(a, b + 1) for a, b in zip(low, high, strict=True)), indexing="ij"), -1)
    depth = np.concatenate([grid, np.ones_like(grid[..., :1])], axis=-1) @ homography[2]
    places = np.nan_to_num(project(homography, grid.astype(np.float64)), nan=-9.0)
    height, width = picture.shape[:2]
    inside = (places >= 0).all(-1) & (places[..., 0] <= width - 1) & (places[..., 1] <= height - 1) & (depth > 0)
    x, y = np.rint(places[inside]).astype(int).T
    left, top = max(int(x.min()) - side, 0), max(int(y.min()) - side, 0)
    cut = slice(top, int(y.max()) + side), slice(left, int(x.max()) + side)
    colours, clipped = np.zeros((*inside.shape, 3)), np.zeros((*inside.shape, 3), dtype=bool)
    colours[inside] = cv2.blur(picture[cut], (side, side))[y - top, x - left] / 255
    clipped[inside] = cv2.blur(original[cut], (side, side))[y - top, x - left] >= CLIPPED_CODE
    outlined = np.zeros(inside.shape, dtype=bool)
    outlined[tuple((cells.astype(int) - low).T)] = True
    return _Sampled(colours, clipped, inside, outlined, low)


def _layings(cells: FloatArray, sampled: _Sampled) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Every way to lay the card: index of each patch's cell, shape (ways, 24, 2), and turn, column, row of each."""
    low, high = cells.min(axis=0).astype(int), cells.max(axis=0).astype(int)
    places = grid_places().astype(int)
    ways, origins = [], []
    for number, turn in enumerate(_TURNS):
        card = places @ turn.T
        first, last = card.min(axis=0), card.max(axis=0)
        # The card reaches at most SLACK beyond the areas seen; of a lattice larger than the card it is any window.
        starts = np.minimum(high - last - SLACK, low - first)
        ends = np.maximum(low - first + SLACK, high - last)
        for column in range(starts[0], ends[0] + 1):
            for row in range(starts[1], ends[1] + 1):
                ways.append(card + np.array([column, row]) - sampled.first_cell)
                origins.append((number, column, row))
    index = np.array(ways, dtype=np.int64).reshape(-1, 24, 2)
    fits = (index >= 0).all(axis=(1, 2)) & (index < sampled.inside.shape).all(axis=(1, 2))
    return index[fits], np.array(origins, dtype=np.int64).reshape(-1, 3)[fits]


@cache
def _design() -> FloatArray:
    """Screen-coded colours of the card, blue, green, red, and a constant. shape (24, 4)."""
    coded = xyz_to_srgb8(classic24_editions()[1].xyz_d65)[:, ::-1] / 255
    return np.concatenate([coded, np.ones((24, 1))], axis=1)


def _explained(colours: FloatArray, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Share of variance explained by the card's colours, mixed freely, and what is left. (ways,), (ways, 24, 3).

    colours, weights : shape (ways, 24, 3).
    """
    design = _design()
    normal = np.einsum("wpc,pi,pj->wcij", weights, design, design) + 1e-4 * np.eye(4)
    right = np.einsum("wpc,wpc,pi->wci", weights, colours, design)
    mixing = np.linalg.solve(normal, right[..., None])[..., 0]
    left = colours - np.einsum("pi,wci->wpc", design, mixing)
    total = np.maximum(weights.sum(axis=1), 1e-9)
    mean = (weights * colours).sum(axis=1) / total
    varied = (weights * np.square(colours - mean[:, None])).sum(axis=(1, 2))
    missed = (weights * np.square(left)).sum(axis=(1, 2))
    explained: FloatArray = 1 - missed / np.maximum(varied, 1e-6)
    return explained, left


def _evidence(explained: FloatArray, areas: FloatArray, misfits: FloatArray) -> FloatArray:
    """Evidence for the card of each laying. shape (ways,)."""
    unexplained = np.clip(1 - explained, NOISE_SHARE, 1)
    evidence: FloatArray = -np.maximum(areas - FREE_VALUES, 0) * np.log(unexplained) - misfits
    return evidence


def _best_laying(
    layings: tuple[NDArray[np.int64], NDArray[np.int64]], sampled: _Sampled, homography: FloatArray, areas: int
) -> Recognition | None:
    index, origins = layings
    at = index[..., 0], index[..., 1]
    outlined, inside = sampled.outlined[at], sampled.inside[at]
    possible = (outlined.sum(axis=1) >= max(FEWEST_AREAS, 0.5 * min(areas, 24))) & (inside.sum(axis=1) >= 8)
    if not possible.any():
        return None
    index, origins, outlined, inside = index[possible], origins[possible], outlined[possible], inside[possible]
    at = index[..., 0], index[..., 1]
    colours, measured = sampled.colours[at], inside[..., None] & ~sampled.clipped[at]
    evidence, seen, explained = _weigh(colours, measured, outlined)
    best = int(np.argmax(evidence))
    turn, column, row = origins[best]
    to_cells = np.eye(3)
    to_cells[:2, :2], to_cells[:2, 2] = _TURNS[turn], (column, row)
    card_map = homography @ to_cells
    return Recognition(
        homography=card_map / card_map[2, 2],
        evidence=float(evidence[best]),
        explained=float(explained[best]),
        seen=seen[best] & inside[best],
        outlined=outlined[best],
        inside=inside[best],
        clipped=sampled.clipped[at][best].any(axis=1),
        beyond=areas - int(outlined[best].sum()),
        colourfulness=_colourfulness(colours[best][outlined[best]]),
        pitch_px=_pitch_px(card_map, grid_places()),
    )


def _weigh(colours: FloatArray, measured: BoolArray, outlined: BoolArray) -> tuple[FloatArray, BoolArray, FloatArray]:
    """Evidence for each laying, which patches it sees, and the share of variance that it explains."""
    evidence, explained = np.full(len(outlined), -np.inf), np.zeros(len(outlined))
    seen = np.zeros(outlined.shape, dtype=bool)
    first, _ = _explained(colours, (measured & outlined[..., None]).astype(np.float64))
    top = np.argsort(-_evidence(first, (measured & outlined[..., None]).sum(axis=(1, 2)) / 3, 0 * first))[:60]
    kept, limit = outlined[top].copy(), np.full((len(top), 1), np.inf)
    for _ in range(3):
        weights = (measured[top] & kept[..., None]).astype(np.float64)
        explained[top], left = _explained(colours[top], weights)
        misfit = _misfit(left, measured[top])
        usual = np.nanmedian(np.where(kept, misfit, np.nan), axis=1)
        limit = np.maximum(3.0 * usual, 0.10)[:, None]
        kept = outlined[top] & ~(misfit > limit)
    seen[top] = ~(misfit > limit)
    areas = (measured[top] & kept[..., None]).sum(axis=(1, 2)) / 3
    evidence[top] = _evidence(explained[top], areas, (outlined[top] & ~kept).sum(axis=1).astype(np.float64))
    return evidence, seen, explained


def _colourfulness(colours: FloatArray) -> float:
    tints = colours - colours.mean(axis=1, keepdims=True)
    return float(np.sqrt(tints.var(axis=0).mean()))


def _misfit(left: FloatArray, measured: BoolArray) -> FloatArray:
    """Root mean square of what is left over the measured channels; 0 where none is. shape (ways, 24)."""
    squares = np.where(measured, np.square(left), 0.0)
    misfit: FloatArray = np.sqrt(squares.sum(axis=-1) / np.maximum(measured.sum(axis=-1), 1))
    return misfit


def moved(recognition: Recognition, scale: float) -> Recognition:
    """The recognition in pixels of the photograph, of which the searched copy is `scale` times."""
    # Pixel centres are whole numbers: x_photo = (x_copy + 0.5) / scale - 0.5.
    shift = 0.5 / scale - 0.5
    to_photo = np.array([[1 / scale, 0, shift], [0, 1 / scale, shift], [0, 0, 1]])
    return replace(recognition, homography=to_photo @ recognition.homography, pitch_px=recognition.pitch_px / scale)
