"""CIEDE2000 of a million pairs: ours against the colour library, side by side."""

import warnings

import numpy as np

from calibration.colourspaces import delta_e_2000
from tests.benchmarks.timing import median_seconds


def main() -> None:
    warnings.simplefilter("ignore")
    import colour

    random = np.random.default_rng(2)
    first = random.uniform([10, -20, -10], [90, 40, 60], (1_000_000, 3))
    second = first + random.normal(0, 4, first.shape)
    first_32, second_32 = first.astype(np.float32), second.astype(np.float32)
    library = median_seconds(lambda: colour.delta_E(first, second, method="CIE 2000"), 3)
    print(f"colour library, float64: {1000 * library:.0f} ms")
    for name, pair in {"ours, float64": (first, second), "ours, float32": (first_32, second_32)}.items():
        taken = median_seconds(lambda pair=pair: delta_e_2000(*pair), 3)
        print(f"{name}: {1000 * taken:.0f} ms, {taken / library:.2f} of the library's time")
