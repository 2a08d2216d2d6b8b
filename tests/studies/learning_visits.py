"""Twenty visits to salons with a hidden truth: does the prediction come nearer, and do its intervals hold?

Run from the root of the repository: python -m tests.studies.learning_visits [salons]
Shades are a quarter off their swatches, clients' uptake varies (tests/synthetic/taught_visits.py). Each visit is
planned with all that earlier outcomes have taught, and again with nothing learned. Told are ΔE2000 between what the
plan predicts and what the hair truly becomes, the share of true L*, a*, b* within the nine-in-ten intervals, and the
ΔE2000 between the truth and the target's centre.
"""

import sys

import numpy as np

from calibration.colourspaces import delta_e_2000
from estimator.feedback.learning import NOTHING_LEARNED, believe
from estimator.reading.zone_reading import NINE_IN_TEN
from tests.synthetic.taught_visits import head, salon, toned

VISITS = 20
QUARTERS = ((0, 5), (5, 10), (10, 15), (15, 20))


def followed(visit):
    """For each zone toned: away from the prediction, inside on three axes, away from the target, width of L*."""
    rows = []
    for zone in visit.plan.zones:
        if zone.zone not in visit.true_after:
            continue
        true = visit.true_after[zone.zone]
        half = NINE_IN_TEN * np.sqrt(np.diag(zone.predicted_covariance))
        inside = np.abs(true - zone.predicted_lab_d65) <= half
        away = float(delta_e_2000(zone.predicted_lab_d65, true))
        rows.append((away, *inside, float(delta_e_2000(zone.target_lab_d65, true)), half[0]))
    return rows


def twenty_visits(seed, learns, planned_with_prior=True):
    """Rows of `followed` for each of the visits to one salon."""
    rng = np.random.default_rng(seed)
    truth, outcomes, told = salon(rng), [], []
    for number in range(VISITS):
        own = np.random.default_rng([seed, number])
        here = head(number, own)
        belief = believe(outcomes) if learns else (NOTHING_LEARNED if planned_with_prior else None)
        visit = toned(truth, here, belief, own)
        outcomes.extend(visit.outcomes)
        told.append(followed(visit))
    return told


def tell(name, salons):
    """One line for each five visits."""
    print(name)
    for first, last in QUARTERS:
        rows = np.array([row for told in salons for visit in told[first:last] for row in visit])
        print(
            f"  visits {first + 1:2}-{last:2}: predicted {rows[:, 0].mean():.2f} ΔE2000 off "
            f"(90 % within {np.percentile(rows[:, 0], 90):.2f}), inside the interval "
            f"{100 * rows[:, 1:4].mean():.0f} % (L* {100 * rows[:, 1].mean():.0f}), half width of L* "
            f"{rows[:, 5].mean():.1f}, target {rows[:, 4].mean():.2f} off, {len(rows)} zones"
        )


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 8
    seeds = range(100, 100 + count)
    tell("learning from every visit", [twenty_visits(seed, True) for seed in seeds])
    tell("nothing learned, its prior in the intervals", [twenty_visits(seed, False) for seed in seeds])
    tell("nothing learned, as plans stand without outcomes", [twenty_visits(seed, False, False) for seed in seeds])


if __name__ == "__main__":
    main()
