"""Who else at this machine may look into a salon's folder, and closing it to them; on POSIX alone, by mode bits.

A folder that a group shares stays so; one that everybody may enter was made before new ones were private, or by a copy.
"""

import os
import stat
from collections.abc import Iterator
from pathlib import Path

from estimator.records.place import ACCESS_FILE, CERTIFICATES, SalonPlace

_OTHERS, _NOT_OWNER = stat.S_IRWXO, stat.S_IRWXG | stat.S_IRWXO
FOLDER_MODE, KEY_MODE = 0o700, 0o600


def open_to_everybody(place: SalonPlace) -> bool:
    """Whether every user of this machine may enter or read the folder."""
    return os.name == "posix" and bool(_mode(place.folder) & _OTHERS)


def open_keys(place: SalonPlace) -> list[Path]:
    """What opens the door to the network and may be read by more than its owner, a group included."""
    if os.name != "posix":
        return []
    return [path for path in _keys(place.folder) if _mode(path) & _NOT_OWNER]


def _keys(folder: Path) -> Iterator[Path]:
    """The door's database with its log, and the keys of certificates."""
    yield from sorted(folder.glob(f"{ACCESS_FILE}*"))
    yield from sorted((folder / CERTIFICATES).glob("*.key"))


def _mode(path: Path) -> int:
    try:
        return stat.S_IMODE(path.stat().st_mode)
    except FileNotFoundError:
        return 0  # a log that went while it was looked at


def close_to_others(place: SalonPlace) -> None:
    """Folder and keys are their owner's alone; what belongs to somebody else stays, and the next look tells it."""
    for path in open_keys(place):
        _close(path, KEY_MODE)
    if open_to_everybody(place):
        _close(place.folder, FOLDER_MODE)


def _close(path: Path, mode: int) -> None:
    try:
        path.chmod(mode)
    except OSError:
        return
