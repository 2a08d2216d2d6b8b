"""How often the curve of a lift holds the truth: strands lifted by diffusion and reaction.

Run: python -m tests.studies.strand_coverage
"""

import sys

import numpy as np

from estimator.lifting.curve import HIGH, LOW, fit_curve
from estimator.scale.level import default_scale
from tests.synthetic.lifted_strands import LiftedStrand, lifted_strands, photos_of

AHEAD = (20, 30, 40, 50)
TARGETS_ABOVE = (2.0, 3.0, 4.0)
SCHEDULES: dict[str, tuple[int, ...]] = {
    "none": (),
    "0": (0,),
    "0, 10": (0, 10),
    "0, 5, 10, 15": (0, 5, 10, 15),
    "0 to 30 by 5": (0, 5, 10, 15, 20, 25, 30),
}


def levels_held(strands: list[LiftedStrand], minutes: tuple[int, ...], seed: int) -> np.ndarray:
    """For each strand and each minute of AHEAD, whether its interval holds the true level. bool, (strands, AHEAD)."""
    rng = np.random.default_rng(seed)
    held = []
    for lifted in strands:
        curve = fit_curve(lifted.strand, photos_of(lifted, minutes, rng))
        low, high = np.quantile(curve.levels(np.array(AHEAD, dtype=float)), (LOW, HIGH), axis=0)
        true = np.interp(lifted.lightness[list(AHEAD)], curve.scale.lightness, curve.scale.levels)
        held.append((low <= true) & (true <= high))
    return np.array(held)


def minutes_held(strands: list[LiftedStrand], minutes: tuple[int, ...], seed: int) -> np.ndarray:
    """For each strand and each distance, whether the interval holds the true minute of arrival. Those never arriving
    within the hour count as held where the interval's end lies beyond it."""
    rng = np.random.default_rng(seed)
    scale = default_scale()
    held = []
    for lifted in strands:
        curve = fit_curve(lifted.strand, photos_of(lifted, minutes, rng))
        levels = np.interp(lifted.lightness, scale.lightness, scale.levels)
        row = []
        for above in TARGETS_ABOVE:
            level = min(lifted.start_level + above, 9.5)
            late = levels[-1] < level
            arrives = 61.0 if late else float(np.interp(level, levels, np.arange(len(levels))))
            low, high = np.quantile(curve.minutes_to(level), (LOW, HIGH), method="nearest")
            row.append(high > 60 if late else low <= arrives <= high)
        held.append(row)
    return np.array(held)


def main(count: int = 500) -> None:
    strands = lifted_strands(count, seed=20)
    print(f"{count} strands; share of nine-in-ten intervals that hold the truth")
    print(f"{'photos at minute':18} level at {AHEAD}   minutes to {TARGETS_ABOVE} levels above   width in levels at 40")
    for name, minutes in SCHEDULES.items():
        level = levels_held(strands, minutes, seed=1).mean(axis=0)
        arrival = minutes_held(strands, minutes, seed=1).mean(axis=0)
        rng = np.random.default_rng(1)
        curves = [fit_curve(lifted.strand, photos_of(lifted, minutes, rng)) for lifted in strands[:60]]
        widths = [np.ptp(np.quantile(curve.levels(np.array([40.0])), (LOW, HIGH))) for curve in curves]
        print(f"{name:18} {np.round(level, 3)}   {np.round(arrival, 3)}   {np.median(widths):.1f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
