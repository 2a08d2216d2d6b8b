"""One writer at a time: a lock that the system lets go of even where the program dies."""

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from estimator.errors import OutputError


@contextmanager
def one_writer(lock_file: Path, wait_seconds: float, still_busy: OutputError) -> Iterator[None]:
    """Nobody else is inside with the same file meanwhile. Raises `still_busy` once the wait is over, OSError."""
    with lock_file.open("a+b") as lock:
        last = time.monotonic() + wait_seconds
        while not take(lock):
            if time.monotonic() > last:
                raise still_busy
            time.sleep(0.02)
        yield


if sys.platform == "win32":  # pragma: no cover
    import msvcrt

    def take(lock: IO[bytes]) -> bool:
        """Whether this program holds the lock now; it is let go when the file is closed."""
        try:
            msvcrt.locking(lock.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def take(lock: IO[bytes]) -> bool:
        """Whether this program holds the lock now; it is let go when the file is closed."""
        try:
            fcntl.flock(lock.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True
