"""What time it is, for expiry: never earlier than any time seen before, whatever is done to the machine's clock."""

import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

BEGINNING = datetime(1970, 1, 1, tzinfo=UTC)


def machine_time() -> datetime:
    """The machine's clock, in UTC."""
    return datetime.now(UTC)


class SeenTime:
    """Time that only goes forward.

    A clock set back stands still at the last time seen, and goes on with the seconds that this program has counted
    itself. So an invitation is open for no longer than its hours while the page runs.
    """

    def __init__(
        self, clock: Callable[[], datetime] = machine_time, seconds: Callable[[], float] = time.monotonic
    ) -> None:
        self._clock, self._seconds = clock, seconds
        self._lock = threading.Lock()
        self._last, self._counted_at = BEGINNING, seconds()

    def now(self, kept: datetime = BEGINNING) -> datetime:
        """The time. kept : The last time that is on the disk."""
        with self._lock:
            counted = self._seconds()
            gone_on = self._last + timedelta(seconds=max(counted - self._counted_at, 0.0))
            self._last, self._counted_at = max(self._clock(), gone_on, kept), counted
            return self._last

    def begin_anew(self) -> datetime:
        """The machine's clock as it stands, whatever was seen before: for when nothing waits for its end."""
        with self._lock:
            self._last, self._counted_at = self._clock(), self._seconds()
            return self._last
