"""Many backups in one folder, where each file is stored once: another backup costs what is new.

Files first, then the tables, last the list: a program that dies leaves files that no list names, every backup whole.
Taking out goes the other way round: lists, tables, then the files that no list names any more.
"""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from estimator.errors import BadInputError, OutputError
from estimator.records.archive import opened_archive, written_archive
from estimator.records.backing_up import BackedUp, about_now, hashes_in, note_backup, put_back, tables_into
from estimator.records.backup_list import (
    ListedBackup,
    archive_path,
    chosen_backup,
    list_path,
    list_paths,
    listed_backups,
    need_backups,
    sound_backups,
    stored_path,
    write_list,
)
from estimator.records.database import check_space, told_plainly
from estimator.records.errors import RecordsError
from estimator.records.folder_lock import alone
from estimator.records.photo_files import PhotoFiles, hash_of
from estimator.records.place import SalonPlace
from estimator.records.sealing import BrokenSealError
from estimator.records.store import Store
from estimator.records.unlocking import key_of
from estimator.records.vault import OPEN, SealedVault, Use, Vault, vault_of
from estimator.synced_folders import make_folder, sync_folder
from estimator.whole_files import PART, bring_to_disk, write_loosely, write_whole

TABLES_FORMAT = "tressmeter-backup-tables-1"
_WORKING = ".working"  # stands while something is written or taken out


@dataclass(frozen=True)
class BackedUpInto:
    """What one more backup holds, and what was done for it.

    new : Files that were not in the folder yet. missing : Hashes of files that are neither in the records nor here.
    taken_out : Older backups that went. open_before : Backups here that are not encrypted, though the records are.
    """

    number: int
    rows: int
    files: int
    new: int
    missing: tuple[str, ...]
    taken_out: int
    open_before: int


def back_up_into(store: Store, folder: Path, keep: int | None = None) -> BackedUpInto:
    """One more backup in the folder, its new files read back; older ones go where there are more than `keep`.

    Raises
    ------
    OutputError : The folder is something else, is full, or can't be written; every backup in it stands.
    """
    if keep is not None and keep < 1:
        raise BadInputError("--keep is the number of backups that stay: 1 or more.")
    with _working_in(folder):
        # A damaged list stops only what takes files out: another backup is the more wanted for it.
        before = listed_backups(folder) if keep is not None else sound_backups(folder)[0]
        made, new, missing = _made(store, folder, before)
        taken_out = _pruned(folder, keep) if keep is not None else 0
        note_backup(store, made.made_at_utc)
    still_open = sum(not each.sealed for each in sound_backups(folder)[0]) if made.sealed else 0
    return BackedUpInto(made.number, made.rows, len(made.files), new, missing, taken_out, still_open)


@contextmanager
def _working_in(folder: Path) -> Iterator[None]:
    """The folder is ours alone, and what a program that died had begun is gone."""
    if folder.exists() and not (folder / "backups").is_dir() and any(folder.iterdir()):
        raise OutputError(f"{folder} holds something else than backups. Name a new folder.")
    try:
        make_folder(folder / "backups")
        with alone(folder / ".lock"):
            if not (folder / "READ ME.txt").exists():
                write_whole(folder / "READ ME.txt", _READ_ME.encode(), "read-me")
            backups, damaged = sound_backups(folder)
            if (folder / _WORKING).exists() and not damaged:
                _swept(folder, {name for each in backups for name in each.files})
            write_whole(folder / _WORKING, b"", "working")
            yield
            (folder / _WORKING).unlink()
    except OSError as problem:
        raise OutputError(
            f"{folder} could not be written ({problem.strerror}). The backups in it stand. Free some space, or choose "
            "another folder."
        ) from problem


def _made(store: Store, folder: Path, before: tuple[ListedBackup, ...]) -> tuple[ListedBackup, int, tuple[str, ...]]:
    """The new backup, how many files were new, and what is missing."""
    known = {name: sha256 for each in before for name, sha256 in each.files.items()}
    number = max((int(path.stem) for path in (folder / "backups").glob("*.*") if path.stem.isdigit()), default=0) + 1
    vault, about = vault_of(store.place.folder), about_now(store, TABLES_FORMAT)
    with told_plainly(), store.engine.connect() as connection, connection.begin():
        stored, new, missing = _files_into(PhotoFiles(store.place, vault), sorted(hashes_in(connection)), folder, known)
        about["files"] = sorted(stored)
        path = archive_path(folder, number)
        with written_archive(path, about, _READ_ME, vault) as writer:
            rows = tables_into(writer, connection)
    names = {vault.name_of(sha256): kept for sha256, kept in stored.items()}
    sealed = vault.key_file is not None
    made = ListedBackup(number, str(about["made_at_utc"]), rows, sealed, _hash_of_file(path), names)
    write_list(folder, made)
    return made, new, missing


def _files_into(
    files: PhotoFiles, hashes: list[str], folder: Path, known: dict[str, str]
) -> tuple[dict[str, str], int, tuple[str, ...]]:
    """The hash of each stored file by the hash of its content, how many are new, and which are missing."""
    stored, missing, new = {}, [], []
    for sha256 in hashes:
        source, there = files.path_of(sha256), stored_path(folder, files.vault.name_of(sha256))
        if there.name in known and _same_size(source, there):
            stored[sha256] = known[there.name]
            continue
        try:
            content = files.sealed(sha256)
        except RecordsError:  # gone from the records, but perhaps kept here by an earlier backup
            if there.name in known and there.exists() and _hash_of_file(there) == known[there.name]:
                stored[sha256] = known[there.name]
            else:
                missing.append(sha256)
            continue
        stored[sha256] = _stored(folder, there, content)
        new.append(there)
    bring_to_disk(folder, new)
    return stored, len(new), tuple(missing)


def _same_size(source: Path, there: Path) -> bool:
    try:
        return source.stat().st_size == there.stat().st_size
    except OSError:
        return False


def _stored(folder: Path, path: Path, content: bytes) -> str:
    """The hash of the file, once it lies there and was read back."""
    check_space(SalonPlace(folder), len(content))
    write_loosely(path, content)  # no list names it yet
    if path.read_bytes() != content:
        raise OutputError(f"{path.name} came back otherwise than it was written. Use another disk for backups.")
    return hash_of(content)


def _hash_of_file(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


# --- taking out


def prune(folder: Path, keep: int) -> int:
    """How many backups went, so that the last `keep` stay, with every file that they name. Raises OutputError."""
    with _working_in(folder):
        return _pruned(folder, keep)


def _pruned(folder: Path, keep: int) -> int:
    backups = listed_backups(folder)
    going, staying = backups[:-keep], backups[-keep:]
    for each in going:
        list_path(folder, each.number).unlink()
    if going:
        sync_folder(folder / "backups")
        _swept(folder, {name for each in staying for name in each.files})
    return len(going)


def _swept(folder: Path, named: set[str]) -> None:
    """Tables without a list are gone, and so are files that no list names, and what was never finished."""
    numbers = {path.stem for path in list_paths(folder)}
    for path in (folder / "backups").iterdir():
        if path.name.startswith(PART) or (path.suffix == ".zip" and path.stem not in numbers):
            path.unlink()
    for path in (folder / "files").glob("??/??/*"):
        if path.name not in named:
            path.unlink()


# --- looking over, and back


def damaged_in(folder: Path) -> tuple[str, ...]:
    """Every part of every backup that is not as it was written, or gone; all is read, and no key is needed."""
    backups, damaged = sound_backups(folder)
    wanted: dict[str, set[str]] = {}
    for each in backups:
        for name, sha256 in each.files.items():
            wanted.setdefault(name, set()).add(sha256)
    parts = [(archive_path(folder, each.number), {each.archive_sha256}) for each in backups]
    parts += [(stored_path(folder, name), hashes) for name, hashes in sorted(wanted.items())]
    found = [str(path.relative_to(folder)) for path, hashes in parts if not _is_one_of(path, hashes)]
    return (*damaged, *found)


def _is_one_of(path: Path, hashes: set[str]) -> bool:
    with suppress(OSError):
        return _hash_of_file(path) in hashes
    return False


def restore_from(folder: Path, place: SalonPlace, at: str = "") -> BackedUp:
    """The records of one backup of the folder in a new place, compared row by row and file by file.

    at : Its number, or a day: the last one up to it. "" is the last of all.
    Raises BadInputError where there is none, or a part of it is damaged: the sentence names it. OutputError.
    """
    need_backups(folder)
    chosen = chosen_backup(sound_backups(folder)[0], at)
    path = archive_path(folder, chosen.number)
    with opened_archive(path, TABLES_FORMAT) as archive:
        vault = OPEN if archive.key_file is None else SealedVault(archive.key_file, key_of(archive.key_file))
        files = ((str(sha256), stored_content(folder, vault, str(sha256))) for sha256 in archive.about["files"])
        needed = sum(stored_path(folder, name).stat().st_size for name in chosen.files if _there(folder, name))
        return put_back(archive, files, place, needed)


def _there(folder: Path, name: str) -> bool:
    return stored_path(folder, name).exists()


def stored_content(folder: Path, vault: Vault, sha256: str) -> bytes:
    """What a stored file holds, checked. Raises BadInputError, which names it."""
    path = stored_path(folder, vault.name_of(sha256))
    try:
        content = vault.unseal(Use.FILES, path.read_bytes(), sha256)
    except (OSError, BrokenSealError):
        content = b""
    if hash_of(content) != sha256:
        raise BadInputError(
            f"{path.relative_to(folder)} in the backups is damaged or gone. Another backup that was made before this "
            "file may be whole: choose it with --at; or use another copy of the folder."
        )
    return content


_READ_ME = """Backups of a salon's records: private photographs and what was measured, planned and done.

backups/ holds for each backup its tables and a list of what belongs to it, files/ every photograph and report once for
all of them. Don't rename or delete single files: `tressmeter backup --into FOLDER --keep 10` takes old backups out.
`tressmeter restore` puts one back into a new folder. Keep this folder as safe as the records, and not on their disk.
"""
