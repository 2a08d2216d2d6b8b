"""What a strand trial told and changed, in words."""

import math

from estimator.feedback.learning import Foretold
from estimator.feedback.strand_trial import TrialFound
from estimator.reading.zone_reading import NINE_IN_TEN
from estimator.reports import wording
from estimator.toning.plan import ZonePlan

SURPRISED = (
    "The strand became something that this mix is not expected to make. Check what was mixed, the minutes and the "
    "outline; nothing rests on it until then."
)
NO_NEW_BOWL = "A new bowl would gain nothing worth mixing."
NEW_BOWL = "A new bowl would come nearer:"


def dose_text(told: Foretold) -> str:
    """Dye taken against what the tables say, with its interval: "1.24 times (1.05 to 1.46)"."""
    times = math.exp(NINE_IN_TEN * told.dose_log_sd)
    return wording.factor_text(told.dose, told.dose / times, told.dose * times)


def found_lines(found: TrialFound) -> tuple[str, ...]:
    """What one strand told: how far it came out from what was expected, and the dye taken before and after."""
    return (
        f"{wording.delta_e_text(found.delta_e_2000)} from what was expected of it.",
        f"Dye taken, before the trial: {dose_text(found.expected)}, common practice.",
        f"Dye taken, after it: {dose_text(found.now)} what tables say, for this mix.",
    )


def changed_lines(was: ZonePlan, now: ZonePlan) -> tuple[str, ...]:
    """What the trial changed for one zone, now and before: minutes, prediction and odds; one line where nothing did."""
    minutes = tuple(wording.minutes_text(zone.minutes_low, zone.minutes_high) for zone in (was, now))
    levels = tuple(wording.level_text(zone.predicted_level) for zone in (was, now))
    odds = tuple(wording.odds_text(zone.odds_inside) for zone in (was, now))
    told = (("On the hair", minutes), ("Predicted level", levels), ("Chance to land in the target", odds))
    changed = tuple(f"{what}: {new}; before the trial {old}." for what, (old, new) in told if old != new)
    return changed or ("As before.",)
