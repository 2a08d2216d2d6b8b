"""The verbs of a visit, where the steps of the job meet: read, compare, check, plan, document.

Pages and the command call these and nothing below them. Nothing here touches a disk or a screen.
"""

from estimator.visit.consulting import Consultation, check
from estimator.visit.documents import document_of
from estimator.visit.planning import CheckedPlan, Wishes, plan
from estimator.visit.reading import PhotoReading, ReadZone, compare, read_photo, read_zones
from estimator.visit.scales import FittedScale, fit_scale_to_ring
from estimator.visit.several import together

__all__ = [
    "CheckedPlan",
    "Consultation",
    "FittedScale",
    "PhotoReading",
    "ReadZone",
    "Wishes",
    "check",
    "compare",
    "document_of",
    "fit_scale_to_ring",
    "plan",
    "read_photo",
    "read_zones",
    "together",
]
