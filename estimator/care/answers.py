"""Answers to findings that ask for a test or a doctor: written down, dated, signed, and kept in the report."""

from dataclasses import dataclass
from datetime import date

from estimator.errors import BadInputError

TEST_HOLDS_DAYS = 30  # our assumption, the same as for the strand test: hair changes


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What was done about one finding.

    code : Of the finding.
    who : Who tested, or which doctor spoke ("the client's doctor"); no diagnosis.
    when : The day.
    what : What was done and what came of it.
    strength_volume : Developer that was tested; None for a doctor's word.
    place : Where on the head; "" for a doctor's word.
    zone : The zone whose finding it answers; "" for a finding of the whole head.
    """

    code: str
    who: str
    when: date
    what: str
    strength_volume: float | None = None
    place: str = ""
    zone: str = ""

    def __post_init__(self) -> None:
        if not (self.who.strip() and self.what.strip()):
            raise BadInputError(f"The answer to '{self.code}' needs a name and what was done; write both down.")


def fault_of_date(answer: Answer, today: date) -> str:
    """Why the day of an answer can't stand; "" where it can."""
    if answer.when > today:
        return f"The answer to '{answer.code}' is dated {answer.when}, still to come; give the day it was done."
    return ""


def fault_of_test(answer: Answer, planned_volume: float | None, today: date) -> str:
    """Why a written test does not cover the plan; "" where it does.

    planned_volume : The strongest developer of the plan; None where it is not known yet.
    """
    if answer.strength_volume is None or not answer.place.strip():
        return "The test written down does not say with which strength and on which place."
    if planned_volume is None or answer.strength_volume < planned_volume:
        planned = "a strength not known yet" if planned_volume is None else f"{planned_volume:g} volume"
        return f"The test written down was made with {answer.strength_volume:g} volume; the plan has {planned}."
    if (today - answer.when).days > TEST_HOLDS_DAYS:
        return f"The test written down is from {answer.when}, more than {TEST_HOLDS_DAYS} days ago."
    return ""
