"""What a before/after report is made from: one value object, whole or refused."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol

from calibration.corrected import CorrectedPhoto
from calibration.findings import Finding
from estimator.care.dates import Reminder
from estimator.care.verdicts import CareVerdict
from estimator.reading.comparing import ZoneDifference
from estimator.reading.evenness import Evenness
from estimator.reading.zone_reading import HairPart, ZoneReading
from estimator.scale.appearance import Level, Warmth
from estimator.toning.plan import Plan
from estimator.zones.outline import Zone


class ReadPart(Protocol):
    """One of two colours in a zone, in the trade's terms."""

    @property
    def part(self) -> HairPart: ...

    @property
    def level(self) -> Level: ...

    @property
    def warmth(self) -> Warmth: ...


class ReadZone(Protocol):
    """One zone in one photograph: where it lies, what it reads, and what that is in the trade's terms."""

    @property
    def zone(self) -> Zone: ...

    @property
    def reading(self) -> ZoneReading: ...

    @property
    def level(self) -> Level: ...

    @property
    def warmth(self) -> Warmth: ...

    @property
    def parts(self) -> Sequence[ReadPart]: ...


class PhotoReading(Protocol):
    """One photograph, read: its correction, its zones, and what could not be read."""

    @property
    def corrected(self) -> CorrectedPhoto: ...

    @property
    def zones(self) -> Sequence[ReadZone]: ...

    @property
    def outlined(self) -> Sequence[Zone]: ...

    @property
    def unread(self) -> Sequence[Finding]: ...

    @property
    def evenness(self) -> Evenness | None: ...


@dataclass(frozen=True)
class Heading:
    """Whose visit it was, and when. client_code : never a full name. demo : Invented data, marked on every page."""

    client_code: str
    salon: str
    day: date
    demo: bool = False


@dataclass(frozen=True, eq=False)
class BeforeAfter:
    """One visit as a report shows it.

    after : None for a plan sheet: nothing has been done yet.
    differences : Zone by zone, from the same two photographs; empty without an after photo.
    care : The verdict on the facts. A stop hides the formula that it is about, whatever `plan` holds.
    plan : None where nothing was planned.
    reminders : What to do by when; a report without any has no such part.
    scale_lightness : L* of levels 1 to 10 on the scale that the levels stand on.
    """

    heading: Heading
    before: PhotoReading
    care: CareVerdict
    plan: Plan | None
    scale_lightness: tuple[float, ...]
    after: PhotoReading | None = None
    differences: tuple[ZoneDifference, ...] = ()
    reminders: tuple[Reminder, ...] = ()

    def __post_init__(self) -> None:
        if len(self.scale_lightness) != 10:
            raise ValueError(f"A scale has ten levels; {len(self.scale_lightness)} lightnesses were given.")
        if self.differences and self.after is None:
            raise ValueError("A difference needs an after photo.")

    @property
    def formula(self) -> Plan | None:
        """The plan that may be shown: none behind a stop of the person, and none that holds a zone behind its own."""
        planned = {zone.zone for zone in self.plan.zones} if self.plan is not None else set()
        hidden = self.care.stops_everything or planned & set(self.care.stopped_zones)
        return None if hidden else self.plan

    @property
    def title(self) -> str:
        return "Before and after" if self.after is not None else "Plan sheet"
