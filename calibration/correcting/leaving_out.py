"""Which patches are left out together, so that each is judged by fits that never saw it."""

import numpy as np
from numpy.typing import NDArray

from calibration.photo import FloatArray

TOGETHER = 4
# Never more than this share of the patches that serve: a card half covered can't spare four.
MOST_SHARE = 0.2
# About this many fits: a small card is gone through several times, each time with other company.
FITS = 24


def left_out_sets(served: NDArray[np.int64], patches: int) -> FloatArray:
    """1 where a patch is left out of a fit, else 0; each patch that serves equally often. shape (sets, patches)."""
    together = max(1, min(TOGETHER, int(MOST_SHARE * len(served))))
    each_round = -(-len(served) // together)
    rounds = max(1, FITS // each_round) if together > 1 else 1
    shuffled = np.random.default_rng(0)
    sets = np.zeros((rounds * each_round, patches))
    for one_round in range(rounds):
        for place, patch in enumerate(shuffled.permutation(served)):
            sets[one_round * each_round + place % each_round, patch] = 1
    return sets
