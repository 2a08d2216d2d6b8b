"""One at a time in a salon's folder."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from estimator.one_writer import one_writer
from estimator.records.errors import RecordsError

WAIT_SECONDS = 30.0
_BUSY = "Another program works on the records and does not end. Nothing was changed. Close it, try again."


@contextmanager
def alone(lock_file: Path, wait_seconds: float = WAIT_SECONDS) -> Iterator[None]:
    """Nobody else is inside `alone` with the same file meanwhile. Raises RecordsError once the wait is over."""
    lock_file.parent.mkdir(parents=True, exist_ok=True)
    with one_writer(lock_file, wait_seconds, RecordsError(_BUSY)):
        yield
