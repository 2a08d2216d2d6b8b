"""One file written whole: aside first, on the disk, then under its name."""

import os
from pathlib import Path
from uuid import uuid4

from estimator.synced_folders import sync_folder

PART = ".part-"


def write_whole(path: Path, content: bytes, mark: str) -> None:
    """The file at `path`, on the disk with its name before this returns; on any fault the old one stands. OSError.

    mark : Names the unfinished file, so that it can be told whose it was.
    """
    aside = path.with_name(f"{PART}{mark}-{os.getpid()}-{uuid4().hex[:8]}")
    try:
        with aside.open("xb") as part:
            part.write(content)
            part.flush()
            os.fsync(part.fileno())
        aside.replace(path)
        sync_folder(path.parent)
    finally:
        aside.unlink(missing_ok=True)
