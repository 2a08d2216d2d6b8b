"""Asking care: what is known of the client, and what may not be done or must be tested first."""

from dataclasses import dataclass
from datetime import date

from estimator.care.answers import Answer
from estimator.care.facts import Facts
from estimator.care.rules import judge_with_answers
from estimator.care.unknown import UNKNOWN
from estimator.care.verdicts import CareVerdict


@dataclass(frozen=True)
class Consultation:
    """What is known of the client on the day, and what was done about findings that ask for a test or a doctor."""

    facts: Facts
    day: date
    answers: tuple[Answer, ...] = ()

    def judged_with(self, facts: Facts) -> CareVerdict:
        """Care's verdict on these facts, with the answers of this consultation."""
        return judge_with_answers(facts, self.answers, self.day)


def check(consultation: Consultation) -> CareVerdict:
    """What may not be done and what must be tested first, for a toning that only deposits."""
    facts = where_it_lies(consultation.facts).with_plan_figures(wants_oxidative_dye=True, wants_toner=True)
    return consultation.judged_with(facts)


def where_it_lies(facts: Facts) -> Facts:
    """A toner is taken to touch the scalp and whatever was relaxed or lightened, unless somebody says that it won't."""
    said = {
        "touches_scalp": True,
        "touches_relaxed_hair": facts.relaxer_kind if facts.relaxer_kind is UNKNOWN else facts.relaxer_kind != "none",
        "touches_lightened_hair": True,
    }
    return facts.with_plan_figures(**{name: value for name, value in said.items() if getattr(facts, name) is UNKNOWN})
