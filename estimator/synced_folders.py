"""Folders and the names in them, on the disk: what was told to be kept has its name after a loss of power as well."""

import os
from pathlib import Path


def make_folder(folder: Path, mode: int = 0o777) -> None:
    """The folder is there, and every new name on the way to it is on the disk. Raises OSError."""
    missing = [each for each in (folder, *folder.parents) if not each.exists()]
    for each in reversed(missing):
        each.mkdir(mode, exist_ok=True)
        sync_folder(each.parent)


def make_private_folder(folder: Path) -> None:
    """The same; whatever is new of it is for this user of the machine alone, and what is there keeps its rights."""
    make_folder(folder, 0o700)


def sync_folder(folder: Path) -> None:
    """The names in a folder are on the disk, not only in memory."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return  # Windows opens no folders; there the names are safe once written
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
