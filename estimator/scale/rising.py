"""The rising line nearest to a column of numbers."""

import numpy as np

from calibration.photo import FloatArray


def rising_fit(
    levels: FloatArray, values: FloatArray, weights: FloatArray, least_step: float
) -> tuple[FloatArray, int]:
    """The weighted least-squares column that rises by `least_step` per level or more, and how many blocks it has.

    levels : Rising. values, weights : One for each level; weights > 0. All of shape (n,).
    Pool adjacent violators (Ayer et al., Ann. Math. Stat. 26, 1955, p. 641), on what stands above the least slope.
    """
    floor = least_step * levels
    pools: list[tuple[float, float, int]] = []  # mean, weight, rows
    for value, weight in zip(values - floor, weights, strict=True):
        mean, total, rows = float(value), float(weight), 1
        while pools and pools[-1][0] >= mean:
            before, before_weight, before_rows = pools.pop()
            mean = (before * before_weight + mean * total) / (before_weight + total)
            total, rows = total + before_weight, rows + before_rows
        pools.append((mean, total, rows))
    fitted = np.repeat([pool[0] for pool in pools], [pool[2] for pool in pools])
    return fitted + floor, len(pools)
