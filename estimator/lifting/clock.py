"""The clock of a lift: many zones, one record of dated events, in the order in which they were written down.

The state is what the events say, never what a page remembers. A new event makes a new clock; nothing is taken back.
"""

from dataclasses import dataclass, replace

from estimator.errors import BadInputError
from estimator.lifting.clock_events import ClockRefusedError, Event, Kind
from estimator.lifting.clock_fits import refuse_what_does_not_fit

MOST_EVENTS = 2000

_DID = {
    Kind.START: "was started",
    Kind.CHECK: "was checked",
    Kind.LIMIT: "got a new maximum",
    Kind.SETTLE: "had its minutes settled",
    Kind.HEARD: "had its alarm heard",
    Kind.RINSE: "was rinsed",
}
# These change nothing that another page may rest on.
_HARMLESS = (Kind.CHECK, Kind.HEARD)


@dataclass(frozen=True)
class LiftClock:
    """All events so far, the oldest first. A new event makes a new clock."""

    events: tuple[Event, ...] = ()

    def __post_init__(self) -> None:
        if [event.sequence for event in self.events] != list(range(1, len(self.events) + 1)):
            raise BadInputError("The clock's record has a gap or is out of order; take the last whole copy of it.")
        if len({event.id for event in self.events}) < len(self.events):
            raise BadInputError("The clock's record holds one event twice; take the last whole copy of it.")

    @property
    def sequence(self) -> int:
        """Of the last event; 0 before the first. A page sends it along to say what it has seen."""
        return len(self.events)

    @property
    def zones(self) -> tuple[str, ...]:
        """Zones that were started, in that order."""
        return tuple(dict.fromkeys(event.zone for event in self.events))

    def run_of(self, zone: str) -> tuple[Event, ...]:
        """The events of a zone's latest run, from its start on; empty where it never ran."""
        own = [event for event in self.events if event.zone == zone]
        starts = [place for place, event in enumerate(own) if event.kind is Kind.START]
        return tuple(own[starts[-1] :]) if starts else ()

    def passes(self, zone: str) -> int:
        """How often lightener went on this zone."""
        return sum(event.kind is Kind.START for event in self.events if event.zone == zone)

    def is_running(self, zone: str) -> bool:
        run = self.run_of(zone)
        return bool(run) and run[-1].kind is not Kind.RINSE

    def with_event(self, event: Event, seen_sequence: int | None = None) -> "LiftClock":
        """The clock after this event, numbered as the next one; the same clock for an event that it holds already.

        seen_sequence : What the page that sends it had seen; None for one that just read the record. A rinse is always
            accepted while the zone runs; anything else must not rest on an old view of its zone.
        Raises ClockRefusedError, saying what happened meanwhile.
        """
        if any(event.id == known.id for known in self.events):
            return self
        if self.sequence >= MOST_EVENTS:
            raise ClockRefusedError(f"The clock holds {MOST_EVENTS} events. Start a new record.")
        if seen_sequence is not None and event.kind is not Kind.RINSE:
            self._refuse_old_view(event, seen_sequence)
        refuse_what_does_not_fit(self.run_of(event.zone), event)
        return LiftClock((*self.events, replace(event, sequence=self.sequence + 1)))

    def _refuse_old_view(self, event: Event, seen_sequence: int) -> None:
        newer = [known for known in self.events[max(seen_sequence, 0) :] if known.zone == event.zone]
        # Two looks at the same zone do no harm; a start, a limit or a rinse in between changes what a look means.
        grave = [known for known in newer if known.kind not in _HARMLESS or event.kind not in _HARMLESS]
        if grave:
            did = _DID[grave[-1].kind]
            raise ClockRefusedError(
                f"On another page {event.zone} {did} meanwhile. Look at the clock again, then decide."
            )
