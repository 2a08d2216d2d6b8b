"""Recipes: every mix of up to three shades and clear in whole parts, and how near each comes to each zone's target."""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import combinations, product
from math import gcd

import numpy as np
from numpy.typing import NDArray

from calibration.colourspaces import FloatArray, Floating, delta_e_2000
from estimator.toning.absorption import reflectance_of
from estimator.toning.mixing import Hair
from estimator.toning.observer import band_weights, coarse_weights, reflectance_to_lab

Float32Array = NDArray[np.float32]
IntArray = NDArray[np.int64]
SmallArray = NDArray[np.int16]  # shades and parts: 100 shades make three million rows
Progress = Callable[[float], None]

MOST_THREADS = min(4, os.cpu_count() or 1)
CHUNK = 4096  # directions whose spectra fit the cache together
CHUNKS_AT_ONCE = 4 * MOST_THREADS
# Shares of the full dye at which a direction is looked at first. A bowl, thinned with so much clear, reaches only some
# of them by time alone, and its zones can't each have their best: bowls of each thickness are ranked apart.
FIRST_LOOK: tuple[float, ...] = (0.12, 0.25, 0.4, 0.6, 0.8, 1.0)
THICKNESSES: tuple[tuple[int, ...], ...] = ((0, 1), (1, 2), (2, 3), (3, 4, 5))


@dataclass(frozen=True, eq=False)
class Directions:
    """Mixes without clear, each in its lowest whole parts.

    shade_rows : Which shades, shape (n, 3); a place whose parts are 0 stays unused.
    parts : shape (n, 3).
    """

    shade_rows: SmallArray
    parts: SmallArray

    @property
    def count(self) -> int:
        return len(self.parts)

    def take(self, rows: IntArray) -> "Directions":
        """Only these rows."""
        return Directions(self.shade_rows[rows], self.parts[rows])

    def added(self, shades_added: NDArray[Floating]) -> NDArray[Floating]:
        """K/S of each direction at full strength. shape (n, bands)."""
        shares = (self.parts / self.parts.sum(axis=1, keepdims=True)).astype(shades_added.dtype)
        added: NDArray[Floating] = np.einsum("ns,nsb->nb", shares, shades_added[self.shade_rows])
        return added


def directions(shade_count: int, most_shades: int, most_parts: int) -> Directions:
    """Every mix of up to `most_shades` of the shades, in lowest whole parts that add up to at most `most_parts`."""
    rows, parts = [], []
    for size in range(1, min(most_shades, shade_count) + 1):
        shapes = part_shapes(size, most_parts)
        chosen = np.array(list(combinations(range(shade_count), size)), dtype=np.int16)
        chosen = np.pad(chosen, ((0, 0), (0, 3 - size)))
        rows.append(np.repeat(chosen, len(shapes), axis=0))
        parts.append(np.tile(np.pad(shapes, ((0, 0), (0, 3 - size))), (len(chosen), 1)))
    return Directions(np.concatenate(rows), np.concatenate(parts))


@cache
def part_shapes(size: int, most_parts: int) -> SmallArray:
    """Whole parts for so many shades, lowest terms, adding up to at most `most_parts`. shape (shapes, size)."""
    shapes = [
        shape
        for shape in product(range(1, most_parts + 1), repeat=size)
        if sum(shape) <= most_parts and gcd(*shape) == 1
    ]
    return np.array(shapes, dtype=np.int16)


@cache
def dilutions(colour_parts: int, most_parts: int) -> tuple[tuple[int, int], ...]:
    """Ways to thin a direction with clear: (times its parts, parts of clear), lowest terms, the undiluted first."""
    ways = [(1, 0)]
    for times in range(1, most_parts // colour_parts + 1):
        for clear in range(1, most_parts - times * colour_parts + 1):
            if gcd(times, clear) == 1:
                ways.append((times, clear))
    return tuple(ways)


def first_look(
    shades_added: FloatArray, mixes: Directions, zones: "Looked", keep: int, progress: Progress | None = None
) -> IntArray:
    """Rows of the directions that come nearest, for each group of zones and each thickness of bowl. Ascending.

    Distance by the ellipsoid of CIEDE2000 around the target, in cube roots of XYZ, from every second band, a tenth of
    the work: it only chooses the few that are then weighed in full. No more than a few chunks are held at a time.
    progress : Told the share done, 0-1; whatever it raises stops the search.
    """
    best = _Nearest(len(THICKNESSES) * len(zones.groups), min(keep, mixes.count))
    coarse = shades_added[:, ::2].astype(np.float32)
    starts = range(0, mixes.count, CHUNK)
    with ThreadPoolExecutor(MOST_THREADS) as pool:
        for first in range(0, len(starts), CHUNKS_AT_ONCE):
            told = starts[first : first + CHUNKS_AT_ONCE]
            limit = best.limit
            looked = pool.map(lambda start: _look(coarse, mixes, start, zones, (limit, best.keep)), told)  # noqa: B023 - done before the next round
            for found in looked:  # in their order, so that equal recipes are chosen alike on every machine
                best.take(*found)
            if progress is not None:
                progress(min((first + CHUNKS_AT_ONCE) / len(starts), 1.0))
    return best.rows()


@dataclass(frozen=True, eq=False)
class Looked:
    """What a first look is taken at.

    hair, target_lab_d65 : Of each zone. groups : Zones that may share a bowl. shade_price : Of each further shade.
    """

    hair: Hair
    target_lab_d65: FloatArray
    groups: tuple[tuple[int, ...], ...]
    shade_price: float

    @cached_property
    def base(self) -> Float32Array:
        """K/S of each zone in every second band. shape (zones, bands, 1)."""
        return self.hair.absorption[:, ::2, None].astype(np.float32)

    @cached_property
    def forms(self) -> list[tuple[Float32Array, Float32Array]]:
        return [_root_form(lab) for lab in self.target_lab_d65]

    @cached_property
    def members(self) -> Float32Array:
        """1 where a zone belongs to a group. shape (groups, zones)."""
        members = np.zeros((len(self.groups), len(self.target_lab_d65)), dtype=np.float32)
        for row, group in enumerate(self.groups):
            members[row, list(group)] = 1.0
        return members


class _Nearest:
    """The nearest directions so far: for each column, a thickness and a group, the `keep` cheapest."""

    def __init__(self, columns: int, keep: int) -> None:
        self.keep = keep
        self._cost = np.full((columns, keep), np.inf, dtype=np.float32)
        self._row = np.zeros((columns, keep), dtype=np.int64)

    @property
    def limit(self) -> Float32Array:
        """What a direction must undercut in each column. shape (columns,)."""
        limit: Float32Array = self._cost.max(axis=1)
        return limit

    def take(self, columns: IntArray, cost: Float32Array, row: IntArray) -> None:
        """Candidates for these columns, shape (columns, keep); the cheapest of old and new stay."""
        both = np.concatenate([self._cost[columns], cost], axis=1)
        rows = np.concatenate([self._row[columns], row], axis=1)
        cheapest = np.argsort(both, axis=1, kind="stable")[:, : self.keep]
        self._cost[columns] = np.take_along_axis(both, cheapest, axis=1)
        self._row[columns] = np.take_along_axis(rows, cheapest, axis=1)

    def rows(self) -> IntArray:
        return np.unique(self._row[np.isfinite(self._cost)])


def _look(
    coarse: Float32Array, mixes: Directions, start: int, zones: Looked, limits: tuple[Float32Array, int]
) -> tuple[IntArray, Float32Array, IntArray]:
    """Of one chunk: columns that it betters, and the candidates for them. Shapes (columns,), twice (columns, keep)."""
    limit, keep = limits
    chunk = mixes.take(np.arange(start, min(start + CHUNK, mixes.count)))
    near = _nearness(chunk.added(coarse).astype(np.float32).T, zones)
    near += np.float32(zones.shade_price) * (chunk.parts > 0).sum(axis=1, dtype=np.float32)
    cost = (zones.members @ near).reshape(-1, chunk.count)
    columns = np.flatnonzero(cost.min(axis=1) < limit)
    keep = min(keep, chunk.count)
    few = np.sort(np.argpartition(cost[columns], keep - 1, axis=1)[:, :keep], axis=1)
    return columns, np.take_along_axis(cost[columns], few, axis=1), few + start


def _nearness(added: Float32Array, zones: Looked) -> Float32Array:
    """Distance of each direction from each target in a bowl of each thickness. shape (thicknesses, zones, n)."""
    weights = np.ascontiguousarray(coarse_weights().T.astype(np.float32))
    nearest = np.empty((len(THICKNESSES), len(zones.forms), added.shape[1]), dtype=np.float32)
    dyes = [np.float32(share) * added for share in FIRST_LOOK]
    for zone, (form, aim) in enumerate(zones.forms):
        away = [_root_distance(zones.base[zone] + dye, weights, form, aim) for dye in dyes]
        for thickness, places in enumerate(THICKNESSES):
            nearest[thickness, zone] = np.sqrt(np.min([away[place] for place in places], axis=0))
    return nearest


def _root_distance(
    absorption: Float32Array, weights: Float32Array, form: Float32Array, aim: Float32Array
) -> Float32Array:
    """Squared distance from the aim. absorption : shape (bands, n), used up."""
    # R = 1 + q - sqrt((1 + q)² - 1), in place: this line is nine tenths of a large shelf's time.
    absorption += np.float32(1)
    root = absorption * absorption
    root -= np.float32(1)
    np.maximum(root, 0, out=root)
    np.sqrt(root, out=root)
    away = form @ np.cbrt(weights @ np.subtract(absorption, root, out=root)) - aim[:, None]
    squared: Float32Array = np.einsum("kn,kn->n", away, away)
    return squared


def _root_form(target_lab_d65: FloatArray) -> tuple[Float32Array, Float32Array]:
    """Maps cube roots of XYZ so that plain distance from the aim is CIEDE2000 near the target. Shapes (3, 3), (3,)."""
    step = 0.5
    shifts = np.concatenate([step * np.eye(3), step * (np.eye(3)[[0, 0, 1]] + np.eye(3)[[1, 2, 2]])])
    squared = delta_e_2000(target_lab_d65 + shifts, target_lab_d65) ** 2 / step**2
    metric = np.diag(squared[:3])
    for place, (row, column) in enumerate(((0, 1), (0, 2), (1, 2))):
        metric[row, column] = metric[column, row] = (squared[3 + place] - squared[row] - squared[column]) / 2
    values, vectors = np.linalg.eigh(metric)
    half = vectors * np.sqrt(np.maximum(values, 1e-6))
    white = np.cbrt(band_weights().sum(axis=0))
    to_lab = np.array([[0, 116, 0], [500, -500, 0], [0, 200, -200]]) / white  # CIE 1976, above its straight part
    form = to_lab.T @ half
    aim = (target_lab_d65 + np.array([16.0, 0, 0])) @ half
    return np.ascontiguousarray(form.T, dtype=np.float32), aim.astype(np.float32)


def delta_e_2000_mean_and_sd(
    added: FloatArray, shares: FloatArray, draws: Hair, uptake: FloatArray, target_lab_d65: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mean and standard deviation of ΔE2000 to the target over draws of one zone's hair and of its uptake.

    added : K/S of the mixes, shape (mixes, bands). shares : of the full dye. uptake : factor for each draw.
    Both of shape (mixes, shares).
    """
    base, carried = draws.absorption.astype(np.float32), draws.unexplained.astype(np.float32)
    target = target_lab_d65.astype(np.float32)
    dye = added.astype(np.float32)
    total, squares = (np.zeros((len(added), len(shares))) for _ in range(2))
    for column, share in enumerate(shares):
        for row, factor in enumerate(uptake):
            absorption = base[row] + np.float32(share * factor) * dye
            away = delta_e_2000(reflectance_to_lab(reflectance_of(absorption)) + carried[row], target)
            total[:, column] += away
            squares[:, column] += away.astype(np.float64) ** 2
    mean = total / len(uptake)
    return mean, np.sqrt(np.maximum(squares / len(uptake) - mean**2, 0.0))
