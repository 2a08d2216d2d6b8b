"""Asking care: what is known of the client, and what may not be done or must be tested first."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from estimator.care.answers import Answer
from estimator.care.facts import Facts
from estimator.care.judging_zones import ZonedVerdict, judge_zones
from estimator.care.rules import judge_with_answers
from estimator.care.unknown import UNKNOWN
from estimator.care.verdicts import CareVerdict
from estimator.care.zoned_facts import ZonedFacts

REST = "the rest"  # of a head of which some zones have facts of their own


@dataclass(frozen=True)
class Consultation:
    """What is known of the client on the day, and what was done about findings that ask for a test or a doctor.

    own : What zones have otherwise than the head, by zone and fact; see `ZonedFacts`.
    """

    facts: Facts
    day: date
    answers: tuple[Answer, ...] = ()
    own: Mapping[str, Mapping[str, object]] = field(default_factory=dict)

    @cached_property
    def zoned(self) -> ZonedFacts:
        """The head's facts with those of each zone over them. Raises BadInputError."""
        return ZonedFacts(self.facts, self.own)

    def judged_with(self, facts: Facts) -> CareVerdict:
        """Care's verdict on these facts, with the answers of this consultation."""
        return judge_with_answers(facts, self.answers, self.day)

    def judged_by_zone(self, planned: Mapping[str, Facts]) -> ZonedVerdict:
        """Care's verdict on each zone of a plan, and on the whole head; as `judge_zones`."""
        return judge_zones(self.zoned, planned, self.answers, self.day)


def check(consultation: Consultation) -> CareVerdict:
    """What may not be done and what must be tested first, for a toning that only deposits; zones named that differ."""
    return _judged(consultation, to_deposit)


def check_lightening(consultation: Consultation) -> CareVerdict:
    """As `check`, for a visit that lightens first and tones afterwards; no figure of the lift is known yet."""
    return _judged(consultation, _to_lighten)


def _judged(consultation: Consultation, with_plan: Callable[[Facts], Facts]) -> CareVerdict:
    zones = (REST, *consultation.own)
    return consultation.judged_by_zone({zone: with_plan(consultation.zoned.of(zone)) for zone in zones}).whole


def _to_lighten(facts: Facts) -> Facts:
    return to_deposit(facts).with_plan_figures(wants_lightener=True, lightening_passes_today=1)


def to_deposit(facts: Facts) -> Facts:
    """The facts with the figures of a toning that only deposits, before there is a plan."""
    return where_it_lies(facts).with_plan_figures(wants_oxidative_dye=True, wants_toner=True)


def where_it_lies(facts: Facts) -> Facts:
    """A toner is taken to touch the scalp and whatever was relaxed or lightened, unless somebody says that it won't."""
    said = {
        "touches_scalp": True,
        "touches_relaxed_hair": facts.relaxer_kind if facts.relaxer_kind is UNKNOWN else facts.relaxer_kind != "none",
        "touches_lightened_hair": True,
    }
    return facts.with_plan_figures(**{name: value for name, value in said.items() if getattr(facts, name) is UNKNOWN})
