"""Flat areas that stand in rows and columns: grids, grown from three neighbours, step by step under perspective."""

from collections import deque

import numpy as np

from calibration.cards.flat_patches import FlatPatches
from calibration.photo import BoolArray, FloatArray

Cell = tuple[int, int]
Lattice = dict[int, Cell]  # number of a flat area -> its column and row, counted from the area it grew from

SMALLEST_LATTICE = 5
BIG_ENOUGH = 18  # a lattice this big is not tried again from another start
MOST_STARTS = 400
REACH = 7  # cells in each direction
# A neighbour lies within this share of a step from where it is expected; its size within this ratio.
PLACE_TOLERANCE = 0.22
SIZE_RATIO = 1.7


def find_lattices(patches: FlatPatches) -> list[Lattice]:
    """Grids of at least five flat areas, the largest first."""
    if len(patches) < SMALLEST_LATTICE:
        return []
    centres, sizes = patches.centres_px, patches.sizes_px + 2  # the border of an area is lost to its step
    distance = np.hypot(*(centres[:, None] - centres[None]).transpose(2, 0, 1))
    near = _neighbours(distance, sizes)
    degree = near.sum(axis=1)
    used = np.zeros(len(patches), dtype=bool)
    lattices, starts = [], 0
    for first in np.lexsort((-sizes, -np.minimum(degree, 8))):
        if used[first] or degree[first] < 2 or starts > MOST_STARTS:
            continue
        around = np.flatnonzero(near[first])
        around = around[np.argsort(distance[first, around])][:8]
        best: Lattice = {}
        for second, third in _corners(int(first), around, centres):
            starts += 1
            best = max(best, _grow((int(first), second, third), centres, sizes), key=len)
            if len(best) >= BIG_ENOUGH:
                break
        if len(best) >= SMALLEST_LATTICE:
            used[list(best)] = True
            lattices.append(best)
    return sorted(lattices, key=len, reverse=True)


def _neighbours(distance: FloatArray, sizes: FloatArray) -> BoolArray:
    """Which areas could stand next to each other in a grid. shape (n, n)."""
    larger, smaller = np.maximum(sizes[:, None], sizes[None]), np.minimum(sizes[:, None], sizes[None])
    near: BoolArray = (larger < SIZE_RATIO * smaller) & (distance > 0.8 * larger) & (distance < 2.3 * smaller)
    return near


def _corners(first: int, around: np.ndarray, centres: FloatArray) -> list[tuple[int, int]]:
    """Pairs of neighbours that make about a right angle at `first`, the nearest first."""
    pairs = []
    for second in around[:3]:
        along = centres[second] - centres[first]
        square = []
        for third in around:
            across = centres[third] - centres[first]
            lengths = np.hypot(*along), np.hypot(*across)
            sine = abs(along[0] * across[1] - along[1] * across[0]) / (lengths[0] * lengths[1])
            if sine > 0.7 and 0.5 < lengths[0] / lengths[1] < 2:
                square.append((int(second), int(third)))
        pairs += square[:2]
    return pairs


def _grow(start: tuple[int, int, int], centres: FloatArray, sizes: FloatArray) -> Lattice:
    """The lattice that grows from one area and two neighbours of it."""
    first, second, third = start
    steps = {first: (centres[second] - centres[first], centres[third] - centres[first])}
    cells: Lattice = {first: (0, 0)}
    taken, waiting = {(0, 0)}, deque([first])
    while waiting:
        here = waiting.popleft()
        column, row = cells[here]
        for right, down in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            cell = column + right, row + down
            if cell in taken or max(abs(cell[0]), abs(cell[1])) > REACH:
                continue
            along, across = steps[here]
            offset = centres - (centres[here] + right * along + down * across)
            away = np.hypot(offset[:, 0], offset[:, 1])
            there = int(away.argmin())
            step_px = min(np.hypot(*along), np.hypot(*across))
            ratio = sizes[there] / sizes[here]
            if there in cells or away[there] > PLACE_TOLERANCE * step_px or not 1 / SIZE_RATIO < ratio < SIZE_RATIO:
                continue
            taken.add(cell)
            cells[there] = cell
            moved = centres[there] - centres[here]
            # Perspective: half of the step just seen, half of the old one.
            steps[there] = (
                (along + moved * right) / 2 if right else along,
                (across + moved * down) / 2 if down else across,
            )
            waiting.append(there)
    return cells
