"""Files brought to the disk: one alone, whole or not at all, or many at once that nobody relies on yet."""

import os
from collections.abc import Collection
from pathlib import Path
from uuid import uuid4

from estimator.synced_folders import sync_folder

PART = ".part-"
_MANY = 100  # so many files are brought to the disk by one word to the system, sooner than one by one


def write_whole(path: Path, content: bytes, mark: str = "") -> None:
    """The file at `path`, on the disk with its name before this returns; on any fault the old one stands. OSError.

    mark : Names the unfinished file, so that it can be told whose it was; the file's own name without it.
    """
    aside = path.with_name(f"{PART}{mark or path.name}-{os.getpid()}-{uuid4().hex[:8]}")
    try:
        with aside.open("xb") as part:
            part.write(content)
            part.flush()
            os.fsync(part.fileno())
        aside.replace(path)
        sync_folder(path.parent)
    finally:
        aside.unlink(missing_ok=True)


def write_loosely(path: Path, content: bytes) -> None:
    """The file at `path`, on the disk once `bring_to_disk` was called; for what nobody relies on before. OSError."""
    try:
        path.write_bytes(content)
    except FileNotFoundError:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def bring_to_disk(root: Path, paths: Collection[Path]) -> None:
    """These files below `root` are on the disk with their names. OSError."""
    if len(paths) > _MANY and hasattr(os, "sync"):
        os.sync()
        return
    for path in paths:
        with path.open("rb+") as file:
            os.fsync(file.fileno())
    for folder in {folder for path in paths for folder in path.parents if root in (folder, *folder.parents)}:
        sync_folder(folder)


def bring_all_to_disk(root: Path) -> None:
    """Every file below `root` is on the disk with its name. OSError."""
    bring_to_disk(root, [path for path in root.rglob("*") if path.is_file()])
