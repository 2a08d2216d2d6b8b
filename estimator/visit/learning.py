"""Learning from a visit: which zones' results may teach, which may not and why, and what is believed afterwards."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from estimator.errors import BadInputError
from estimator.feedback.journal import Journal
from estimator.feedback.learning import SURPRISE, believe, surprise
from estimator.feedback.outcome import Done, Outcome, Readings, outcome_of
from estimator.toning.plan import HairFacts, Plan
from estimator.toning.shades import Shelf
from estimator.visit.planning import Wishes
from estimator.visit.reading import PhotoReading


@dataclass(frozen=True)
class NotLearned:
    """A zone that teaches nothing, and why."""

    zone: str
    why: str


@dataclass(frozen=True, eq=False)
class Lesson:
    """What one visit can teach.

    outcomes : Zones that may be learned from. refused : The others.
    surprising : Zones among `outcomes` that lie where one result in a thousand does: a person must say that bowl and
        minutes are right.
    """

    outcomes: tuple[Outcome, ...]
    refused: tuple[NotLearned, ...]
    surprising: tuple[str, ...]

    @property
    def unsurprising(self) -> tuple[Outcome, ...]:
        """Outcomes that need nobody's word."""
        return tuple(outcome for outcome in self.outcomes if outcome.zone not in self.surprising)


@dataclass(frozen=True, eq=False)
class Client:
    """Whose visit it is, by the code that stands on reports, and when."""

    code: str
    day: date


def done_as_planned(planned: Plan, wishes: Wishes, minutes: Mapping[str, float]) -> dict[str, Done]:
    """The plan's bowls with the minutes that each zone really had; zones without minutes are left out."""
    return {
        zone.zone: Done(
            tuple((name, float(count)) for name, count in planned.bowl(zone.bowl_number).parts),
            minutes[zone.zone],
            wishes.hair.get(zone.zone, HairFacts()).porosity,
        )
        for zone in planned.zones
        if zone.bowl_number is not None and zone.zone in minutes
    }


def lesson_of(
    pair: tuple[PhotoReading, PhotoReading], client: Client, done: Mapping[str, Done], shelf: Shelf, journal: Journal
) -> Lesson:
    """What the photographs before and after can teach, zone by zone.

    shelf : As its swatches show it, without what was learned.
    """
    belief = believe(journal.outcomes)
    outcomes: list[Outcome] = []
    refused: list[NotLearned] = []
    for zone, was_done in done.items():
        try:
            outcomes.append(_outcome(pair, zone, client, was_done, shelf))
        except BadInputError as problem:
            refused.append(NotLearned(zone, str(problem)))
    surprising = tuple(outcome.zone for outcome in outcomes if surprise(belief, outcome) > SURPRISE)
    return Lesson(tuple(outcomes), tuple(refused), surprising)


def _outcome(pair: tuple[PhotoReading, PhotoReading], zone: str, client: Client, done: Done, shelf: Shelf) -> Outcome:
    for side, photo in zip(("before", "after"), pair, strict=True):
        if zone not in {read.name for read in photo.zones}:
            raise BadInputError(f"{zone} was not read in the photograph {side}. Outline it there.")
    before, after = (photo.zone(zone).reading for photo in pair)
    return outcome_of(Readings(client.code, client.day, before, after), done, shelf)
