"""Facts of a head whose zones differ: what is known of the whole person, and what each zone has otherwise."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from estimator.care.expressions import Value
from estimator.care.facts import Facts
from estimator.care.questions import FACT_TABLE
from estimator.care.unknown import UNKNOWN
from estimator.errors import BadInputError

MOST_ZONES = 40
# Of two relaxers on one head the one that forbids more counts for the zones beside it.
WORST_RELAXER_FIRST = ("hydroxide", "unknown", UNKNOWN, "thio")
_RELAXER = ("relaxer_kind", "relaxer_weeks_ago", "relaxer_overlapped")


@dataclass(frozen=True)
class ZonedFacts:
    """The head's facts, and zone by zone the answers that stand over them.

    own : zone -> fact -> answer as a form or a file holds it; only questions that may differ by zone, and figures of
        the plan (where the mix will lie). Raises BadInputError for anything else, naming zone and fault.
    """

    head: Facts
    own: Mapping[str, Mapping[str, object]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if len(self.own) > MOST_ZONES:
            raise BadInputError(f"{len(self.own)} zones have facts of their own; {MOST_ZONES} are allowed.")
        for zone in self.own:
            _refuse_facts_of_the_person(zone, self.own[zone])
            self._stated(zone)

    def of(self, zone: str) -> Facts:
        """The facts as this zone has them. Hair that was never relaxed still lies beside hair that was."""
        facts = self._stated(zone)
        if facts.relaxer_kind != "none":
            return facts
        beside = [other for other in (self.head, *map(self._stated, self.own)) if other.relaxer_kind != "none"]
        if not beside:
            return facts
        worst = min(beside, key=lambda other: WORST_RELAXER_FIRST.index(other.relaxer_kind))
        relaxer = {name: getattr(worst, name) for name in _RELAXER}
        return replace(facts, **relaxer, touches_relaxed_hair=False)

    @property
    def every(self) -> tuple[Facts, ...]:
        """The facts of the head and of each zone that has its own."""
        return (self.head, *(self.of(zone) for zone in self.own))

    def differs(self, zone: str) -> bool:
        """Whether the zone has facts of its own."""
        return self._stated(zone) != self.head

    def own_values(self, zone: str) -> Mapping[str, Value]:
        """What the zone has otherwise than the head, by fact."""
        facts = self._stated(zone).by_name
        return {name: facts[name] for name in self.own.get(zone, {})}

    def _stated(self, zone: str) -> Facts:
        try:
            return self.head.with_answers(self.own.get(zone, {}))
        except BadInputError as fault:
            raise BadInputError(f"Facts of the zone {zone}: {fault}") from fault


def _refuse_facts_of_the_person(zone: str, answers: Mapping[str, object]) -> None:
    of_person = [name for name in answers if (q := FACT_TABLE.question_of.get(name)) is not None and not q.by_zone]
    if of_person:
        about = ", ".join(FACT_TABLE.specs[name].about for name in of_person)
        raise BadInputError(
            f"Facts of the zone {zone}: {about} can't differ from zone to zone. Write it under the facts of the head."
        )
