"""The list of outcomes that a salon has learned from: one line of JSON each, in a file beside its shelf.

What is believed is made anew from the list, so taking an outcome back means taking its line out.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cache

from pydantic import ConfigDict, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass as checked_dataclass

from estimator.errors import BadInputError
from estimator.feedback.outcome import Outcome

FORMAT = "tressmeter-outcomes-1"
MOST_OUTCOMES = 5000


@dataclass(frozen=True)
class Journal:
    """Outcomes in the order in which they were learned."""

    outcomes: tuple[Outcome, ...] = ()

    def with_outcomes(self, added: Iterable[Outcome]) -> "Journal":
        """The journal with more outcomes. Raises BadInputError for one that it holds already, or when it is full."""
        new = tuple(added)
        held = {outcome.key for outcome in self.outcomes}
        again = []
        for outcome in new:
            if outcome.key in held:
                again.append(outcome.zone)
            held.add(outcome.key)
        if again:
            raise BadInputError(
                f"This result of {', '.join(again)} was learned before; it counts once. Take it back to change it."
            )
        if len(self.outcomes) + len(new) > MOST_OUTCOMES:
            raise BadInputError(f"The journal is full: {MOST_OUTCOMES} outcomes. Begin a new one beside it.")
        return Journal((*self.outcomes, *new))

    def without(self, keys: Iterable[str]) -> "Journal":
        """The journal as if these outcomes had never been learned. Raises BadInputError for a key that it lacks."""
        dropped = set(keys)
        missing = sorted(dropped - {outcome.key for outcome in self.outcomes})
        if missing:
            raise BadInputError(f"No outcome {', '.join(missing)} was learned. `tressmeter learn --show` names them.")
        return Journal(tuple(outcome for outcome in self.outcomes if outcome.key not in dropped))

    def apart_from(self, client: str, day: date) -> "Journal":
        """What was learned from all other visits: a visit's own plan never rests on its own result."""
        return Journal(tuple(o for o in self.outcomes if (o.client, o.day) != (client, day)))

    def without_clients(self, codes: Iterable[str]) -> "Journal":
        """What was learned from everybody else, for a client who is erased; large and small letters count alike."""
        gone = {code.casefold() for code in codes}
        return Journal(tuple(outcome for outcome in self.outcomes if outcome.client.casefold() not in gone))

    @property
    def last_visit(self) -> tuple[Outcome, ...]:
        """The outcomes of the visit learned last: same client, same day, at the end of the list."""
        if not self.outcomes:
            return ()
        last = self.outcomes[-1]
        return tuple(o for o in self.outcomes if (o.client, o.day) == (last.client, last.day))


@checked_dataclass(frozen=True, config=ConfigDict(extra="forbid"))
class _Head:
    format: str
    note: str


@cache
def _outcome_adapter() -> TypeAdapter[Outcome]:
    return TypeAdapter(Outcome)


_NOTE = "Outcomes learned from, one a line. Take a line out, and it was never learned."


def journal_text(journal: Journal) -> str:
    """The journal as lines of JSON that `journal_from_text` reads back unchanged."""
    head = TypeAdapter(_Head).dump_json(_Head(FORMAT, _NOTE)).decode("utf-8")
    lines = [_outcome_adapter().dump_json(outcome).decode("utf-8") for outcome in journal.outcomes]
    return "\n".join([head, *lines]) + "\n"


def journal_from_text(text: str) -> Journal:
    """The journal that `journal_text` wrote. Raises BadInputError, naming the line, for anything else."""
    lines = [(number, line) for number, line in enumerate(text.splitlines(), start=1) if line.strip()]
    if not lines:
        return Journal()
    try:
        found = TypeAdapter(_Head).validate_json(lines[0][1]).format
    except ValidationError as problem:
        raise BadInputError("The file is no journal of outcomes. Choose another file, or a new name.") from problem
    if found != FORMAT:
        raise BadInputError(
            f"The journal is of the kind {found[:40]!r}; this version reads {FORMAT!r}. Use the version that wrote it."
        )
    return Journal().with_outcomes(_outcome(number, line) for number, line in lines[1:])


def _outcome(number: int, line: str) -> Outcome:
    try:
        return _outcome_adapter().validate_json(line)
    except ValidationError as problem:
        fault = problem.errors()[0]
        place = ".".join(map(str, fault["loc"])) or "the line"
        raise BadInputError(
            f"Line {number} of the journal can't be used ({place}: {fault['msg']}). Mend the line or take it out; "
            "the file was not changed."
        ) from problem
