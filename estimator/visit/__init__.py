"""The verbs of a visit, where the steps of the job meet: read, compare, check, plan, document, lift, try, mend, learn.

Pages and the command call these and nothing below them. Nothing here touches a disk or a screen.
"""

from estimator.visit.consulting import Consultation, check, check_lightening
from estimator.visit.dates import facts_with_dates, reminders
from estimator.visit.documents import document_of
from estimator.visit.explaining import explain
from estimator.visit.learning import Client, Lesson, NotLearned, done_as_planned, lesson_of
from estimator.visit.lifting import (
    LiftWishes,
    SeenAtCheck,
    StrandPlace,
    StrandShot,
    judge_test_strand,
    lift_base,
    plan_lift,
    read_check,
    start_of,
)
from estimator.visit.planning import CheckedPlan, Wishes, plan, plan_requests
from estimator.visit.reading import PhotoReading, ReadZone, compare, read_photo, read_zones
from estimator.visit.rescuing import Rescue, ZoneRescue, rescue
from estimator.visit.scales import FittedScale, fit_scale_to_ring
from estimator.visit.several import together
from estimator.visit.shelves import ShadeInWords, measure_shades, with_shade, without_shade
from estimator.visit.trying import (
    TrialPlans,
    TriedStrand,
    plan_after_trial,
    strand_by_instrument,
    try_strands,
    with_outcomes,
)
from estimator.visit.wishing import (
    PickedColour,
    ReadColour,
    TargetWish,
    colours_of,
    pick_colour,
    read_spot,
    targets_from,
)

__all__ = [
    "CheckedPlan",
    "Client",
    "Consultation",
    "FittedScale",
    "Lesson",
    "LiftWishes",
    "NotLearned",
    "PhotoReading",
    "PickedColour",
    "ReadColour",
    "ReadZone",
    "Rescue",
    "SeenAtCheck",
    "ShadeInWords",
    "StrandPlace",
    "StrandShot",
    "TargetWish",
    "TrialPlans",
    "TriedStrand",
    "Wishes",
    "ZoneRescue",
    "check",
    "check_lightening",
    "colours_of",
    "compare",
    "document_of",
    "done_as_planned",
    "explain",
    "facts_with_dates",
    "fit_scale_to_ring",
    "judge_test_strand",
    "lesson_of",
    "lift_base",
    "measure_shades",
    "pick_colour",
    "plan",
    "plan_after_trial",
    "plan_lift",
    "plan_requests",
    "read_check",
    "read_photo",
    "read_spot",
    "read_zones",
    "reminders",
    "rescue",
    "start_of",
    "strand_by_instrument",
    "targets_from",
    "together",
    "try_strands",
    "with_outcomes",
    "with_shade",
    "without_shade",
]
