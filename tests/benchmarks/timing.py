"""Medians of repeated calls."""

import statistics
import time
from collections.abc import Callable


def median_seconds(call: Callable[[], object], repeats: int = 7, warm_up: int = 1) -> float:
    """Median wall-clock time of `call` after `warm_up` calls that do not count. [s]"""
    for _ in range(warm_up):
        call()
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)
