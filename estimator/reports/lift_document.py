"""What a lift sheet is made from: one value object, whole or refused."""

from dataclasses import dataclass

from estimator.care.dates import Reminder
from estimator.lifting.lift_plan import LiftPlan
from estimator.lifting.strand_test import StrandTest
from estimator.reports.document import Heading, PhotoReading


@dataclass(frozen=True, eq=False)
class JudgedStrand:
    """One strand that was tested, and the zone that it stands for."""

    zone: str
    test: StrandTest


@dataclass(frozen=True, eq=False)
class LiftDocument:
    """One lift as its sheet shows it.

    plan : None where the photograph has to be taken again. Zones behind a stop carry no mix in it.
    """

    heading: Heading
    reading: PhotoReading
    plan: LiftPlan | None
    tests: tuple[JudgedStrand, ...] = ()
    reminders: tuple[Reminder, ...] = ()

    @property
    def title(self) -> str:
        return "Lift sheet"
