"""Recipes: every mix of up to three shades and clear in whole parts, and how near each comes to each zone's target."""

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from itertools import combinations, product
from math import gcd

import numpy as np
from numpy.typing import NDArray

from calibration.colourspaces import FloatArray, delta_e_2000
from estimator.toning.absorption import reflectance_of
from estimator.toning.mixing import Hair
from estimator.toning.observer import band_weights, coarse_weights, reflectance_to_lab

Float32Array = NDArray[np.float32]
IntArray = NDArray[np.int64]

MOST_THREADS = min(4, os.cpu_count() or 1)
CHUNK = 4096  # directions whose spectra fit the cache together
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

    shade_rows: IntArray
    parts: IntArray

    @property
    def count(self) -> int:
        return len(self.parts)

    def take(self, rows: IntArray) -> "Directions":
        """Only these rows."""
        return Directions(self.shade_rows[rows], self.parts[rows])

    def added(self, shades_added: FloatArray) -> FloatArray:
        """K/S of each direction at full strength. shape (n, bands)."""
        shares = self.parts / self.parts.sum(axis=1, keepdims=True)
        added: FloatArray = np.einsum("ns,nsb->nb", shares, shades_added[self.shade_rows])
        return added


def directions(shade_count: int, most_shades: int, most_parts: int) -> Directions:
    """Every mix of up to `most_shades` of the shades, in lowest whole parts that add up to at most `most_parts`."""
    rows, parts = [], []
    for size in range(1, min(most_shades, shade_count) + 1):
        shapes = part_shapes(size, most_parts)
        chosen = np.array(list(combinations(range(shade_count), size)), dtype=np.int64)
        chosen = np.pad(chosen, ((0, 0), (0, 3 - size)))
        rows.append(np.repeat(chosen, len(shapes), axis=0))
        parts.append(np.tile(np.pad(shapes, ((0, 0), (0, 3 - size))), (len(chosen), 1)))
    return Directions(np.concatenate(rows), np.concatenate(parts))


@cache
def part_shapes(size: int, most_parts: int) -> IntArray:
    """Whole parts for so many shades, lowest terms, adding up to at most `most_parts`. shape (shapes, size)."""
    shapes = [
        shape
        for shape in product(range(1, most_parts + 1), repeat=size)
        if sum(shape) <= most_parts and gcd(*shape) == 1
    ]
    return np.array(shapes, dtype=np.int64)


@cache
def dilutions(colour_parts: int, most_parts: int) -> tuple[tuple[int, int], ...]:
    """Ways to thin a direction with clear: (times its parts, parts of clear), lowest terms, the undiluted first."""
    ways = [(1, 0)]
    for times in range(1, most_parts // colour_parts + 1):
        for clear in range(1, most_parts - times * colour_parts + 1):
            if gcd(times, clear) == 1:
                ways.append((times, clear))
    return tuple(ways)


def first_look(shades_added: FloatArray, mixes: Directions, hair: Hair, target_lab_d65: FloatArray) -> Float32Array:
    """How near each direction comes to each zone's target in a bowl of each thickness. shape (thicknesses, n, zones).

    Distance by the ellipsoid of CIEDE2000 around the target, in cube roots of XYZ, from every second band, a tenth of
    the work: it only chooses the few that are then weighed in full.
    """
    base, weights = hair.absorption[:, ::2].astype(np.float32), coarse_weights().astype(np.float32)
    forms = [_root_form(lab) for lab in target_lab_d65]
    nearest = np.empty((len(THICKNESSES), mixes.count, len(base)), dtype=np.float32)

    def look(start: int) -> None:
        rows = slice(start, min(start + CHUNK, mixes.count))
        added = mixes.take(np.arange(rows.start, rows.stop)).added(shades_added[:, ::2]).astype(np.float32)
        for zone, (form, aim) in enumerate(forms):
            away = [_root_distance(base[zone] + np.float32(share) * added, weights, form, aim) for share in FIRST_LOOK]
            for thickness, places in enumerate(THICKNESSES):
                nearest[thickness, rows, zone] = np.min([away[place] for place in places], axis=0)

    # Each chunk writes its own rows, so threads need no lock; numpy lets them run side by side.
    with ThreadPoolExecutor(MOST_THREADS) as pool:
        list(pool.map(look, range(0, mixes.count, CHUNK)))
    return nearest


def _root_distance(
    absorption: Float32Array, weights: Float32Array, form: Float32Array, aim: Float32Array
) -> Float32Array:
    away = np.cbrt(reflectance_of(absorption) @ weights) @ form - aim
    distance: Float32Array = np.sqrt(np.einsum("mk,mk->m", away, away))
    return distance


def _root_form(target_lab_d65: FloatArray) -> tuple[Float32Array, Float32Array]:
    """Maps cube roots of XYZ so that plain distance from the aim is CIEDE2000 near the target. (3, 3), (3,)."""
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
    return form.astype(np.float32), aim.astype(np.float32)


def expected_delta_e_2000(
    added: FloatArray, shares: FloatArray, draws: Hair, uptake: FloatArray, target_lab_d65: FloatArray
) -> FloatArray:
    """Mean ΔE2000 to the target over draws of one zone's hair and of its uptake. shape (mixes, shares).

    added : K/S of the mixes, shape (mixes, bands). shares : of the full dye. uptake : factor for each draw.
    """
    base, carried = draws.absorption.astype(np.float32), draws.unexplained.astype(np.float32)
    target = target_lab_d65.astype(np.float32)
    mean = np.zeros((len(added), len(shares)))
    for column, share in enumerate(shares):
        for row, factor in enumerate(uptake):
            absorption = base[row] + np.float32(share * factor) * added.astype(np.float32)
            lab = reflectance_to_lab(reflectance_of(absorption)) + carried[row]
            mean[:, column] += delta_e_2000(lab, target)
    mean /= len(uptake)
    return mean
