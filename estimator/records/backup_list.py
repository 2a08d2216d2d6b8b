"""The backups in a folder of backups: a list for each, written last, which says what belongs to it.

    backups/000007.json   what backup 7 is made of, with a hash over all of it
    backups/000007.zip    its tables
    files/ab/cd/NAME      photographs and reports, each once for all backups

Only what a list names is part of a backup. A list that can't be read stops whatever would take files out.
"""

import hashlib
import json
import re
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import date, datetime
from pathlib import Path

from estimator.errors import BadInputError
from estimator.records.errors import RecordsError
from estimator.whole_files import write_whole

FORMAT = "tressmeter-backup-list-1"


@dataclass(frozen=True)
class ListedBackup:
    """One backup.

    archive_sha256 : Of the file with its tables. sealed : Whether it is encrypted.
    files : The SHA-256 of each stored file by its name; of sealed ones as they are stored, so that no key is needed.
    """

    number: int
    made_at_utc: str
    rows: int
    sealed: bool
    archive_sha256: str
    files: dict[str, str]

    @property
    def day(self) -> date:
        """The day on which it was made, where this machine stands."""
        return datetime.fromisoformat(self.made_at_utc).astimezone().date()


def list_path(folder: Path, number: int) -> Path:
    """Where the list of a backup lies."""
    return folder / "backups" / f"{number:06}.json"


def archive_path(folder: Path, number: int) -> Path:
    """Where the tables of a backup lie."""
    return folder / "backups" / f"{number:06}.zip"


def stored_path(folder: Path, name: str) -> Path:
    """Where a file lies that one or more backups name."""
    return folder / "files" / name[:2] / name[2:4] / name


def write_list(folder: Path, made: ListedBackup) -> None:
    """The list on the disk; from here on the backup is one. OSError."""
    told = {"format": FORMAT, **asdict(made)}
    whole = {**told, "check": _check_of(told)}
    write_whole(list_path(folder, made.number), json.dumps(whole, sort_keys=True).encode("ascii"), "list")


def _check_of(told: dict[str, object]) -> str:
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode("ascii")).hexdigest()


def need_backups(folder: Path) -> None:
    """Raises BadInputError where this is no folder of backups."""
    if not (folder / "backups").is_dir():
        raise BadInputError(f"{folder} holds no backups. Name the folder that `tressmeter backup --into` wrote.")


def listed_backups(folder: Path) -> tuple[ListedBackup, ...]:
    """Every backup in the folder, the oldest first. Raises RecordsError where a list can't be read."""
    return tuple(_read(path) for path in list_paths(folder))


def list_paths(folder: Path) -> list[Path]:
    """Every list in the folder, the oldest first."""
    return sorted(path for path in (folder / "backups").glob("*.json") if path.stem.isdigit())


def _read(path: Path) -> ListedBackup:
    try:
        told = json.loads(path.read_bytes())
        check = told.pop("check")
        if told.pop("format") != FORMAT or check != _check_of({"format": FORMAT, **told}):
            raise ValueError
        return ListedBackup(**told)
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as problem:
        raise RecordsError(
            f"The list {path.name} in {path.parent.parent} is damaged, so nobody can tell which files belong to that "
            "backup. Nothing was changed. Put the list back from a copy, or move it away if that backup may go."
        ) from problem


def sound_backups(folder: Path) -> tuple[tuple[ListedBackup, ...], tuple[str, ...]]:
    """Every backup whose list can be read, the oldest first, and the names of lists that can't."""
    sound, damaged = [], []
    for path in list_paths(folder):
        try:
            sound.append(_read(path))
        except RecordsError:
            damaged.append(f"backups/{path.name}")
    return tuple(sound), tuple(damaged)


def chosen_backup(backups: Iterable[ListedBackup], at: str) -> ListedBackup:
    """The last backup; the one with a number, or the last one up to a day. Raises BadInputError where there is none."""
    found = list(backups)
    if at and re.fullmatch(r"\d{1,6}", at):
        found = [each for each in found if each.number == int(at)]
    elif at:
        found = [each for each in found if each.day <= _day(at)]
    if not found:
        raise BadInputError(f"There is no such backup{f' ({at[:20]})' if at else ''}. See: tressmeter records backups.")
    return found[-1]


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as problem:
        raise BadInputError(f"{text[:20]!r} is neither a number nor a day. Write 12, or 2026-10-05.") from problem
