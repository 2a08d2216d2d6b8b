"""The clock's record in one JSON file, written whole or not at all, and the machine's own two clocks."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from uuid import uuid4

from pydantic import ConfigDict, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass as checked_dataclass

from estimator.errors import BadInputError, OutputError
from estimator.lifting.clock import LiftClock
from estimator.lifting.clock_events import ClockRefusedError, Event, Instant
from estimator.one_writer import one_writer
from estimator.synced_folders import make_private_folder
from estimator.whole_files import write_whole

FORMAT = "tressmeter-clock-1"
MOST_BYTES = 4_000_000
WAIT_SECONDS = 5.0
_BUSY = "Another page is writing to the clock and does not end. Try again."
_RUN = uuid4().hex  # stands for the boot where the system names none


# --- as text


@checked_dataclass(frozen=True, config=ConfigDict(extra="forbid"))
class _Record:
    format: str
    events: tuple[Event, ...]


@cache
def _adapter() -> TypeAdapter[_Record]:
    return TypeAdapter(_Record)


def clock_text(clock: LiftClock) -> str:
    """The record as JSON that `clock_from_text` reads back unchanged."""
    return _adapter().dump_json(_Record(FORMAT, clock.events), indent=1).decode("utf-8") + "\n"


def clock_from_text(text: str) -> LiftClock:
    """The clock that `clock_text` wrote. Raises BadInputError for a text that is damaged or is something else."""
    try:
        record = _adapter().validate_json(text)
    except (ValidationError, ValueError) as problem:
        raise BadInputError(
            "The clock's record is damaged or is no clock. Keep the file, count by a watch, and start a new record."
        ) from problem
    if record.format != FORMAT:
        raise BadInputError(f"The clock's record is of the kind {record.format[:40]!r}; this program reads {FORMAT!r}.")
    return LiftClock(record.events)


# --- as a file


@dataclass(frozen=True)
class ClockStore:
    """One clock in one file, for any number of pages at once.

    seal, unseal : How its bytes lie on the disk, where that is not as they are.
    """

    path: Path
    seal: Callable[[bytes], bytes] = bytes
    unseal: Callable[[bytes], bytes] = bytes

    def load(self) -> LiftClock:
        """The clock as it stands; an empty one where there is no file yet. Raises BadInputError."""
        try:
            if self.path.stat().st_size > MOST_BYTES:
                raise BadInputError(f"{self.path.name} is too large for a clock's record. Start a new one.")
            return clock_from_text(self.unseal(self.path.read_bytes()).decode("utf-8"))
        except FileNotFoundError:
            return LiftClock()
        except UnicodeDecodeError as problem:
            raise BadInputError(f"{self.path.name} is no clock's record. Choose another file.") from problem
        except OSError as problem:
            raise BadInputError(f"{self.path.name} can't be read ({problem.strerror}). Count by a watch.") from problem

    def add(self, event: Event, seen_sequence: int | None = None) -> LiftClock:
        """The clock with one more event, on disk before it is returned.

        The record is read anew first, so a page that stood open can't write over another one; see `with_event`.
        Raises ClockRefusedError, BadInputError, or OutputError where nothing was written.
        """
        with self._alone():
            clock = self.load().with_event(event, seen_sequence)
            self._write(clock_text(clock))
            return clock

    def put_away(self, now: datetime) -> Path | None:
        """Where the finished record went, beside this one under its day; None where there was none.

        Raises ClockRefusedError while a zone runs, BadInputError for a record that can't be read, OutputError.
        """
        with self._alone():
            clock = self.load()
            running = [zone for zone in clock.zones if clock.is_running(zone)]
            if running:
                raise ClockRefusedError(f"{running[0]} still runs. Rinse it, then put the clock away.")
            return self._named_by_day(now) if clock.events else None

    def all_clocks(self, since: date | None = None) -> tuple[LiftClock, ...]:
        """The running clock, and those that were put away on that day or later; all of them without a day.

        Raises BadInputError for a record that can't be read.
        """
        return tuple(replace(self, path=path).load() for path in (*self._put_away(since), self.path))

    def change_all(self, change: Callable[[LiftClock], LiftClock]) -> None:
        """Every clock as `change` makes it, the running one and those put away. Raises BadInputError, OutputError."""
        with self._alone():
            for path in (self.path, *self._put_away(None)):
                store = replace(self, path=path)
                clock = store.load()
                changed = change(clock)
                if changed != clock:
                    store._write(clock_text(changed))

    def _put_away(self, since: date | None) -> list[Path]:
        found = sorted(self.path.parent.glob(f"{self.path.stem}-*{self.path.suffix}"))
        first = f"{self.path.stem}-{since.isoformat()}" if since else ""
        return [path for path in found if path.name >= first]

    def _named_by_day(self, now: datetime) -> Path:
        stem = f"{self.path.stem}-{now:%Y-%m-%d}"
        try:
            for count in range(1, 1000):
                aside = self.path.with_name(f"{stem}-{count}{self.path.suffix}")
                if not aside.exists():
                    return self.path.rename(aside)
        except OSError as problem:
            raise OutputError(f"The clock can't be put away ({problem.strerror}); it stands as it was.") from problem
        raise OutputError("There are a thousand clocks of this day already. Move some elsewhere.")

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """Nobody else writes meanwhile."""
        try:
            make_private_folder(self.path.parent)
            lock = self.path.with_name(f".{self.path.name}.lock")
            lock.touch()
        except OSError as problem:
            raise OutputError(f"The clock can't be written ({problem.strerror}). Count by a watch.") from problem
        with one_writer(lock, WAIT_SECONDS, OutputError(_BUSY)):
            yield

    def _write(self, text: str) -> None:
        try:
            write_whole(self.path, self.seal(text.encode("utf-8")))
        except OSError as problem:
            raise OutputError(
                f"The clock could not be written ({problem.strerror}); the record before it stands. "
                "Count by a watch and free some space."
            ) from problem


# --- the machine's clocks


def instant_now() -> Instant:
    """This moment, by the wall clock and by one that can't be set and counts through sleep where the system can."""
    return Instant(datetime.now(UTC), _uptime_seconds(), _boot())


def _uptime_seconds() -> float:
    for name in ("CLOCK_BOOTTIME", "CLOCK_MONOTONIC"):  # the first counts through sleep on Linux, the second on macOS
        if hasattr(time, name):
            return time.clock_gettime(getattr(time, name))
    return time.monotonic()


@cache
def _boot() -> str:
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except OSError:
        return _RUN
