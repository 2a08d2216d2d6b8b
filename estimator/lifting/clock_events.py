"""What the record of a lift is made of: dated events of zones, by two clocks of the machine, and what each may say."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from math import isfinite
from typing import TypedDict, Unpack
from uuid import uuid4

from estimator.errors import BadInputError
from estimator.lifting.stopping import NOT_SEEN, Signs
from estimator.lifting.strand import Strand, StrandPoint
from estimator.toning.peroxide import PeroxideStrength
from estimator.toning.plan import StrandDiameter

LONGEST_NAME, LONGEST_NOTE = 80, 400


class ClockRefusedError(BadInputError):
    """An event does not fit what the record says; the message says what happened and what to do."""


class Kind(StrEnum):
    """What can happen to a zone. There is no pause: lightener does not pause."""

    START = "start"
    CHECK = "check"
    LIMIT = "limit"
    SETTLE = "settle"
    HEARD = "heard"  # somebody has heard that the maximum is passed; the call to rinse stands on
    RINSE = "rinse"


@dataclass(frozen=True)
class Instant:
    """One moment by both clocks.

    wall : Time of day, in UTC. uptime_seconds : Counted since `boot`, can't be set; where the system allows, it also
        counts while the machine sleeps. boot : Which run of the machine it counts from.
    """

    wall: datetime
    uptime_seconds: float
    boot: str

    def __post_init__(self) -> None:
        if self.wall.tzinfo is None or not isfinite(self.uptime_seconds):
            raise ValueError("An instant needs a wall time with its zone, and a finite count of seconds.")


@dataclass(frozen=True)
class StrandSaid:
    """What was known of a zone's hair and mix when its clock was started: fields as in `Strand`."""

    diameter: str = str(StrandDiameter.MEDIUM)
    developer_volume: float = 20.0
    start_level: float | None = None
    start_level_sd: float | None = None
    dyed: bool = False
    minutes_times: float = 1.0

    def __post_init__(self) -> None:
        _ = self.strand

    @property
    def strand(self) -> Strand:
        """The strand that the curve is drawn for. Raises BadInputError."""
        try:
            developer = PeroxideStrength.from_volume(self.developer_volume)
            diameter = StrandDiameter(self.diameter)
        except ValueError as problem:
            raise BadInputError(f"The mix or the strand can't be: {problem}") from problem
        return Strand(diameter, developer, self.start_level, self.start_level_sd, self.dyed, self.minutes_times)


@dataclass(frozen=True)
class SeenLightness:
    """What the photograph of a check read, kept in the record so that the curve can be drawn anew without it. [L*]"""

    lightness: float
    own_sd: float
    shared_sd: float = 0.0

    def at(self, minutes: float) -> StrandPoint:
        """The same as a point of a curve."""
        return StrandPoint(minutes, self.lightness, self.own_sd, self.shared_sd)

    def __post_init__(self) -> None:
        self.at(0.0)


@dataclass(frozen=True)
class Event:
    """One thing that happened. `sequence` orders events; the times do not.

    id : Made once for each press of a button, so that a press sent twice counts once.
    most_minutes, check_minutes, target_level, strand : Of a start; most_minutes of a new limit too.
    level : Seen at a check. photo_sha256, seen : The photograph of that check and what it read; "" and None without.
    true_minutes : Of a settling: what a watch says has passed since the start.
    who, note : A longer limit and a settling need both; a heard alarm needs who.
    visit : Of a start: a mark of the visit that it belongs to, which names nobody; "" where none was given.
    """

    sequence: int
    id: str
    kind: Kind
    zone: str
    at: Instant
    most_minutes: float | None = None
    check_minutes: float | None = None
    target_level: float | None = None
    strand: StrandSaid | None = None
    level: float | None = None
    photo_sha256: str = ""
    seen: SeenLightness | None = None
    skin: str = NOT_SEEN["skin"]
    stretch: str = NOT_SEEN["stretch"]
    heat: str = NOT_SEEN["heat"]
    true_minutes: float | None = None
    who: str = ""
    note: str = ""
    visit: str = ""

    def __post_init__(self) -> None:
        if not 1 <= len(self.zone.strip()) <= LONGEST_NAME or not 1 <= len(self.id) <= LONGEST_NAME:
            raise BadInputError(
                f"An event needs the name of a zone and its own mark, each up to {LONGEST_NAME} letters."
            )
        names = (self.who, self.photo_sha256, self.visit)
        if any(len(name) > LONGEST_NAME for name in names) or len(self.note) > LONGEST_NOTE:
            raise BadInputError(f"A name or a note is too long; {LONGEST_NOTE} letters are allowed.")
        _ = self.signs

    @property
    def signs(self) -> Signs:
        """What was felt and asked."""
        return Signs(self.skin, self.stretch, self.heat)


class Said(TypedDict, total=False):
    """What an event may say; as in `Event`."""

    most_minutes: float
    check_minutes: float
    target_level: float | None
    strand: StrandSaid | None
    level: float | None
    photo_sha256: str
    seen: SeenLightness | None
    skin: str
    stretch: str
    heat: str
    true_minutes: float
    who: str
    note: str
    visit: str


def new_event(kind: Kind, zone: str, at: Instant, **said: Unpack[Said]) -> Event:
    """An event not yet in any record; `LiftClock.with_event` numbers it."""
    return Event(sequence=0, id=uuid4().hex, kind=kind, zone=zone, at=at, **said)
