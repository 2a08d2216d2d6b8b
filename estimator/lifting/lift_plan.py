"""What a lift is planned from and what comes out: requests, settings, the client, each zone's lift, the whole plan."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from estimator.care.answers import Answer
from estimator.care.facts import Facts
from estimator.care.unknown import UNKNOWN, Unknown
from estimator.care.verdicts import CareVerdict
from estimator.care.zoned_facts import ZonedFacts
from estimator.lifting.additives import NO_ADDITIVE, checked_percent
from estimator.lifting.curve import LiftCurve
from estimator.lifting.demarcation import Line
from estimator.lifting.laying import WHOLE_LENGTH, Laid
from estimator.lifting.lift_rules import Visits
from estimator.lifting.lightener_bowl import LightenerBowl, LightenerMix
from estimator.lifting.stopping import Forecast
from estimator.scale.appearance import Level, Warmth
from estimator.scale.level import LevelScale
from estimator.toning.plan import HairFacts, Reason
from estimator.toning.targets import Target


@dataclass(frozen=True)
class LiftRequest:
    """One zone to lift.

    touches_scalp, touches_relaxed_hair, touches_lightened_hair : Where the mix will lie; UNKNOWN counts as the worse.
    tested : The curve of a strand of this zone; None where none was tested.
    lines : Lines of demarcation in this zone. laid : Where along its length the mix is laid.
    """

    zone: str
    level: Level
    warmth: Warmth
    target: Target
    hair: HairFacts = HairFacts()  # noqa: RUF009
    touches_scalp: bool | Unknown = UNKNOWN
    touches_relaxed_hair: bool | Unknown = UNKNOWN
    touches_lightened_hair: bool | Unknown = UNKNOWN
    tested: LiftCurve | None = None
    lines: tuple[Line, ...] = ()
    laid: Laid = WHOLE_LENGTH


@dataclass(frozen=True)
class LiftSettings:
    """What the colourist adds.

    additive_percent : Of the whole bowl, as the additive's maker says; 0 for none.
    scale : The salon's level scale; the default one where None.
    """

    additive_percent: float = NO_ADDITIVE
    scale: LevelScale | None = None

    def __post_init__(self) -> None:
        checked_percent(self.additive_percent)


@dataclass(frozen=True)
class Client:
    """Who is judged: facts of the head, the day, answers to findings, and what zones have otherwise (`ZonedFacts`)."""

    facts: Facts
    day: date
    answers: tuple[Answer, ...] = ()
    own: Mapping[str, Mapping[str, object]] = field(default_factory=dict)

    @cached_property
    def zoned(self) -> ZonedFacts:
        """The head's facts with those of each zone over them. Raises BadInputError."""
        return ZonedFacts(self.facts, self.own)


@dataclass(frozen=True, eq=False)
class ZoneLift:
    """What one zone gets.

    base_level : What it must be lifted to before the toner; level_today : the aim of this visit.
    visits : None where no lift is needed, or nothing known gets so far.
    mix, forecast, check_every_minutes : None where care says stop, no lift is needed, or no mix is allowed.
    most_minutes : The clock's maximum; None without a mix.
    order : 1 is put on first; None without a mix.
    lines, laid : Lines of demarcation, and where the mix is laid; as in the request.
    curve : What the forecast rests on; None where there is none to show.
    """

    zone: str
    target: Target
    level_now: Level
    base_level: float
    level_today: float
    levels_today: float
    visits: Visits | None
    reachable_today: bool
    care: CareVerdict
    mix: LightenerMix | None
    forecast: Forecast | None
    most_minutes: float | None
    first_check_minutes: float | None
    check_every_minutes: float | None
    order: int | None
    reasons: tuple[Reason, ...] = ()
    basis: str = ""
    lines: tuple[Line, ...] = ()
    laid: Laid = WHOLE_LENGTH
    curve: LiftCurve | None = None

    @property
    def needs_lift(self) -> bool:
        return self.levels_today > 0


@dataclass(frozen=True, eq=False)
class LiftPlan:
    """All zones, in the order in which they are put on; the bowls; care's worst word over all of them.

    earliest_next_visit_weeks : Between two lightenings; None where one visit is enough.
    """

    zones: tuple[ZoneLift, ...]
    bowls: tuple[LightenerBowl, ...]
    care: CareVerdict
    notes: tuple[str, ...]
    earliest_next_visit_weeks: float | None

    def zone(self, name: str) -> ZoneLift:
        """The lift of this zone; KeyError for one that was not planned."""
        return {lift.zone: lift for lift in self.zones}[name]

    @property
    def hidden(self) -> tuple[str, ...]:
        """Zones whose mix a stop hides."""
        return tuple(lift.zone for lift in self.zones if lift.care.is_stop)
