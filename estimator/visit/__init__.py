"""The verbs of a visit, where the steps of the job meet: read, compare, check, plan, document, lift.

Pages and the command call these and nothing below them. Nothing here touches a disk or a screen.
"""

from estimator.visit.consulting import Consultation, check
from estimator.visit.dates import facts_with_dates, reminders
from estimator.visit.documents import document_of
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
from estimator.visit.planning import CheckedPlan, Wishes, plan
from estimator.visit.reading import PhotoReading, ReadZone, compare, read_photo, read_zones
from estimator.visit.scales import FittedScale, fit_scale_to_ring
from estimator.visit.several import together

__all__ = [
    "CheckedPlan",
    "Consultation",
    "FittedScale",
    "LiftWishes",
    "PhotoReading",
    "ReadZone",
    "SeenAtCheck",
    "StrandPlace",
    "StrandShot",
    "Wishes",
    "check",
    "compare",
    "document_of",
    "facts_with_dates",
    "fit_scale_to_ring",
    "judge_test_strand",
    "lift_base",
    "plan",
    "plan_lift",
    "read_check",
    "read_photo",
    "read_zones",
    "reminders",
    "start_of",
    "together",
]
