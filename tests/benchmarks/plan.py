"""Time and memory of a whole plan against zones, shades and bowls.

Aims, warm: 12 zones and 3 bowls under 1 s with 30 shades, 6 s with 60, 30 s with 100; under 1 GB.
"""

import resource
import time

import numpy as np

from estimator.scale.level import level_of_colour
from estimator.scale.warmth import warmth_of_colour
from estimator.toning.bowls import plan_bowls
from estimator.toning.mixing import hair_of, shelf_absorption
from estimator.toning.plan import PlanSettings, ZoneRequest
from estimator.toning.shades import Family, Shade, ShadeKind, Shelf, demo_shelf
from estimator.toning.targets import Target
from tests.benchmarks.timing import median_seconds

CASES = (
    *((1, 13, 1), (6, 13, 2), (12, 13, 2), (12, 30, 1), (12, 30, 2), (12, 30, 3), (24, 30, 3)),
    *((12, 60, 3), (12, 100, 3)),
)
COVARIANCE = np.diag([9.0, 2.0, 4.0])
TONES = ("beige", "neutral", "pearl", "soft warm", "ash")


def invented_shelf(count: int) -> Shelf:
    """A shelf of so many invented shades: random mixes of the demo shelf's dyes, and clear."""
    rng = np.random.default_rng(1)
    white = demo_shelf().white_lab_d65
    dyes = shelf_absorption(demo_shelf()).added
    on_white = hair_of(np.array(white))
    shades = [demo_shelf().shades[0]]
    for number in range(count - 1):
        lab = on_white.with_dye(rng.dirichlet(np.full(len(dyes), 0.4)) * rng.uniform(0.5, 1.5) @ dyes)[0]
        colour = (float(lab[0]), float(lab[1]), float(lab[2]))
        shades.append(Shade(f"shade {number}, demo", Family.NEUTRAL, 8, ShadeKind.DEMI_ACIDIC, colour, demo=True))
    return Shelf(tuple(shades), white, "invented", demo=True)


def invented_zones(count: int) -> tuple[ZoneRequest, ...]:
    """So many zones of lightened hair, gold to pale yellow, each half a level or more above its target."""
    rng = np.random.default_rng(2)
    zones = []
    for number in range(count):
        lab = np.array([rng.uniform(45, 68), rng.uniform(2, 12), rng.uniform(16, 34)])
        level = level_of_colour(lab, COVARIANCE)
        target = Target(f"zone {number}", max(1.0, level.level - rng.uniform(0.3, 1.3)), str(rng.choice(TONES)))
        warmth = warmth_of_colour(lab, COVARIANCE)
        zones.append(ZoneRequest(target.zone, lab, COVARIANCE, level, warmth, target))
    return tuple(zones)


def main() -> None:
    head = f"{'zones':>5} {'shades':>6} {'bowls':>5} {'mixes':>8} {'proved':>6}"
    print(f"{head} {'seconds':>8} {'of CPU':>7} {'peak MB':>8}")
    for zones, shades, bowls in CASES:
        requests, shelf, settings = invented_zones(zones), invented_shelf(shades), PlanSettings(max_bowls=bowls)
        plan = plan_bowls(requests, shelf, settings)
        seconds = median_seconds(lambda: plan_bowls(requests, shelf, settings), repeats=3, warm_up=0)  # noqa: B023 - called at once
        start = time.process_time()
        plan_bowls(requests, shelf, settings)
        told = f"{plan.proved_best!s:>6} {seconds:8.2f} {time.process_time() - start:7.2f} {peak_mb():8.0f}"
        print(f"{zones:5d} {shades:6d} {bowls:5d} {plan.recipes_weighed:8d} {told}")


def peak_mb() -> float:
    """Most memory that this process has held so far. [MB]"""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
