"""Additives that protect bonds, in generic steps; and what lightening did to a curl, described and never sold."""

from dataclasses import dataclass
from functools import cache

from estimator.errors import BadInputError
from estimator.lifting.figures import lifting_table

NO_ADDITIVE = 0.0


@dataclass(frozen=True)
class AdditiveStep:
    """One step of the work.

    minutes_times : How many times as long the lift takes with it.
    weighed_in : It is part of the bowl and is weighed with it. most_percent : of the whole bowl, by weight.
    """

    code: str
    title: str
    text: str
    minutes_times: float
    weighed_in: bool
    most_percent: float
    source: str


@cache
def additive_steps() -> tuple[AdditiveStep, ...]:
    """Before, in the lightener, in the toner, after: in this order."""
    return tuple(AdditiveStep(**row) for row in lifting_table("additives")["step"])


def additive_step(code: str) -> AdditiveStep:
    """The step of this code. KeyError where there is none."""
    return {step.code: step for step in additive_steps()}[code]


def checked_percent(additive_percent: float) -> float:
    """The share of the bowl as it was given. Raises BadInputError for one that no maker would ask for."""
    most = additive_step("lightener").most_percent
    if not 0 <= additive_percent <= most:
        raise BadInputError(
            f"{additive_percent:g} % of the bowl as additive was given; 0 to {most:g} % is allowed. See its leaflet."
        )
    return additive_percent


def curl_elongation_percent(before_mm: float, after_mm: float) -> float:
    """How much longer one marked curl rests after the test than before, both dry and unstretched. [%]

    Below 0 where it rests shorter. Raises BadInputError for lengths that are none.
    """
    if not (0 < before_mm <= 2000 and 0 < after_mm <= 2000):
        raise BadInputError(f"A curl of {before_mm:g} and {after_mm:g} mm was given; measure it at rest, dry, in mm.")
    return 100 * (after_mm / before_mm - 1)


def curl_text(percent: float) -> str:
    """What happened to the curl, in plain words."""
    for row in lifting_table("additives")["curl"]:
        if percent > row["over_percent"]:
            return str(row["text"]).format(percent=percent)
    raise BadInputError(f"A curl can't rest {percent:g} % longer.")
