"""Whether a path names a file whose bytes come to an end: a pipe or a device may give them for ever, or never."""

import stat
from pathlib import Path

from estimator.errors import BadInputError


def check_plain_file(path: Path, what: str = "file") -> None:
    """Raise BadInputError for a folder, a pipe or a device. OSError, where there is nothing, is left to the caller."""
    mode = path.stat().st_mode
    if stat.S_ISDIR(mode):
        raise BadInputError(f"{path.name} is a folder. Name one {what} in it.")
    if not stat.S_ISREG(mode):
        raise BadInputError(f"{path.name} is no {what} but a pipe or a device. Copy what it gives into a file first.")
