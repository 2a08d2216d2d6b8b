"""One zone's outcome as it is kept: what it read before and after, what was mixed, and for how long it stayed on."""

import hashlib
from dataclasses import dataclass
from datetime import date
from typing import Annotated

import numpy as np
from pydantic import ConfigDict, Field
from pydantic.dataclasses import dataclass as checked_dataclass

from calibration.colourspaces import FloatArray
from calibration.findings import Verdict
from estimator.errors import BadInputError
from estimator.reading.comparing import shared_error
from estimator.reading.zone_reading import ZoneReading
from estimator.toning.grams import mixing_rules
from estimator.toning.plan import Porosity
from estimator.toning.shades import Family, ShadeKind, Shelf

MOST_MINUTES = 60.0
USABLE_FOR_LEARNING = (Verdict.USABLE,)
USABLE_FOR_A_TRIAL = (Verdict.USABLE, Verdict.CARE)  # it serves one head on one day, with its wider interval
_CHECKED = ConfigDict(extra="forbid", allow_inf_nan=False)
_Word = Annotated[str, Field(min_length=1, max_length=80)]
_Channel = Annotated[float, Field(ge=-200, le=200)]
_Square = Annotated[float, Field(ge=-1e4, le=1e4)]
Lab = tuple[_Channel, _Channel, _Channel]
Rows = tuple[tuple[_Square, _Square, _Square], tuple[_Square, _Square, _Square], tuple[_Square, _Square, _Square]]


@checked_dataclass(frozen=True, config=_CHECKED)
class ShadeUsed:
    """A shade in a bowl: what it does to the shelf's white hair as the shelf has it, and its parts."""

    name: _Word
    lab_d65_on_white: Lab
    parts: Annotated[float, Field(gt=0, le=1000)]
    clear: bool


@checked_dataclass(frozen=True, config=_CHECKED)
class Outcome:
    """One zone, before and after one mix. All that learning rests on stands in it.

    key : Names it among all outcomes; the same two readings count once, whatever is said of the mix.
    full_minutes : What its kind of colour takes on hair of normal porosity. [min]
    before_covariance, after_covariance : Of the two readings. shared : Between their errors, before by after.
    trial : Of a test strand, not of the zone itself.
    """

    key: _Word
    client: _Word
    day: date
    zone: _Word
    porosity: Porosity
    minutes: Annotated[float, Field(gt=0, le=MOST_MINUTES)]
    full_minutes: Annotated[float, Field(ge=1, le=MOST_MINUTES)]
    white_lab_d65: Lab
    shades: Annotated[tuple[ShadeUsed, ...], Field(min_length=1, max_length=12)]
    before_lab_d65: Lab
    before_covariance: Rows
    after_lab_d65: Lab
    after_covariance: Rows
    shared: Rows
    trial: bool = False

    def __post_init__(self) -> None:
        if all(shade.clear for shade in self.shades):
            raise ValueError("the mix is clear alone and adds no colour")


@dataclass(frozen=True, eq=False)
class Done:
    """What was really done to one zone: parts of each shade, and minutes on the hair."""

    parts: tuple[tuple[str, float], ...]
    minutes: float
    porosity: Porosity = Porosity.NORMAL


@dataclass(frozen=True, eq=False)
class Readings:
    """The two readings of one zone, of one client, on one day."""

    client: str
    day: date
    before: ZoneReading
    after: ZoneReading
    trial: bool = False


def outcome_of(readings: Readings, done: Done, shelf: Shelf) -> Outcome:
    """The outcome of one zone, fit to be learned from.

    Raises BadInputError, in one sentence, where nothing may be learned: an unverified or unusable reading, outlines
    that nobody confirmed, shades that the shelf does not hold or that are of different kinds, minutes beyond sense.
    """
    allowed = USABLE_FOR_A_TRIAL if readings.trial else USABLE_FOR_LEARNING
    for side, reading in (("before", readings.before), ("after", readings.after)):
        refuse_reading(side, reading, allowed)
    shades, full_minutes = _mix(done, shelf)
    before, after = readings.before, readings.after
    facts = (readings.client, readings.day.isoformat(), before.zone, _lab(before.lab_d65), _lab(after.lab_d65))
    return Outcome(
        key=hashlib.sha256(repr(facts).encode()).hexdigest()[:12],
        client=readings.client,
        day=readings.day,
        zone=before.zone,
        porosity=done.porosity,
        minutes=done.minutes,
        full_minutes=full_minutes,
        white_lab_d65=shelf.white_lab_d65,
        shades=shades,
        before_lab_d65=_lab(before.lab_d65),
        before_covariance=_rows(before.covariance),
        after_lab_d65=_lab(after.lab_d65),
        after_covariance=_rows(after.covariance),
        shared=_rows(shared_error(before, after)),
        trial=readings.trial,
    )


def refuse_reading(side: str, reading: ZoneReading, allowed: tuple[Verdict, ...] = USABLE_FOR_LEARNING) -> None:
    """Raise BadInputError where a reading may not teach anything."""
    if not reading.verified:
        raise BadInputError(
            f"The reading of {reading.zone} {side} is unverified: no card stands behind its colours, so nothing is "
            "learned from it. Take the photograph with the card in the same light."
        )
    if reading.verdict.verdict not in allowed:
        raise BadInputError(
            f"The photograph {side} is not usable without care, so nothing is learned from {reading.zone}. "
            "Take it again as its findings say."
        )
    if reading.proposed:
        raise BadInputError(
            f"The outline of {reading.zone} {side} was proposed and nobody confirmed it, so nothing is learned from "
            "it. Draw the zone."
        )


def _mix(done: Done, shelf: Shelf) -> tuple[tuple[ShadeUsed, ...], float]:
    if not (0 < done.minutes <= MOST_MINUTES):
        raise BadInputError(
            f"{done.minutes:g} minutes were given; more than 0 and at most {MOST_MINUTES:g} are allowed."
        )
    if not done.parts or any(not (np.isfinite(count) and count > 0) for _, count in done.parts):
        raise BadInputError(
            "The mix needs at least one shade, and more than 0 parts of each. Write down what was mixed."
        )
    held = [shelf.shade(name) for name, _ in done.parts]
    kinds = {shade.kind for shade in held}
    if len(kinds) > 1 or ShadeKind.PERMANENT in kinds:
        raise BadInputError("The mix holds permanent colour or several kinds of colour; only toners of one kind teach.")
    used = tuple(
        ShadeUsed(shade.name, shade.lab_d65_on_white, float(count), shade.family is Family.CLEAR)
        for shade, (_, count) in zip(held, done.parts, strict=True)
    )
    if all(shade.clear for shade in used):
        raise BadInputError("The mix is clear alone: it adds no colour, and nothing can be learned from it.")
    return used, mixing_rules()[kinds.pop()].full_minutes


def _lab(lab_d65: FloatArray) -> Lab:
    return float(lab_d65[0]), float(lab_d65[1]), float(lab_d65[2])


def _rows(matrix: FloatArray) -> Rows:
    return _lab(matrix[0]), _lab(matrix[1]), _lab(matrix[2])
