"""Looking over a salon's records: what is sound, what is not, and what to do about each thing found."""

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import exists, func, select

from estimator.errors import BadInputError
from estimator.records import model
from estimator.records.archive import opened_archive
from estimator.records.backing_up import FORMAT, LAST_BACKUP
from estimator.records.backup_folder import stored_content
from estimator.records.beside import files_beside
from estimator.records.checking_beside import odd_files, unreadable_beside
from estimator.records.database import SPARE_BYTES, told_plainly
from estimator.records.drafts import Drafts
from estimator.records.errors import RecordsError
from estimator.records.key_file import CODE, PASSPHRASE
from estimator.records.migrating import NEWEST, revision_of
from estimator.records.place import SalonPlace
from estimator.records.rights import close_to_others, open_keys, open_to_everybody
from estimator.records.sealing import MARK
from estimator.records.store import FILE_COLUMNS, Store
from estimator.records.unlocking import in_keyring
from estimator.records.vault import vault_of

OLD_BACKUP_DAYS = 7  # our assumption: a week's visits are the most that a salon can write down anew
OLD_DRAFT_DAYS = 30


@dataclass(frozen=True)
class Checked:
    """One thing looked at. remedy : What to do; "" where all is well."""

    what: str
    told: str
    remedy: str = ""

    @property
    def well(self) -> bool:
        return not self.remedy


def check_all(store: Store) -> list[Checked]:
    """Every check, in the order in which to mend what was found."""
    return [check(store) for check in _CHECKS]


def _space(store: Store) -> Checked:
    free = shutil.disk_usage(store.place.folder).free
    little = free < 50 * SPARE_BYTES
    return Checked("space", f"{free / 1e9:.1f} GB free", "Free some space; photographs need it." if little else "")


def _tables(store: Store) -> Checked:
    found = revision_of(store.engine)
    return Checked("tables", f"version {found}", "" if found == NEWEST else "Open the records with this program once.")


def _database(store: Store) -> Checked:
    if not store.place.on_sqlite:
        return Checked("database", "the server answers", "")
    with told_plainly(), store.engine.connect() as connection:
        faults = [row[0] for row in connection.exec_driver_sql("PRAGMA integrity_check(5)") if row[0] != "ok"]
        if vault_of(store.place.folder).database_key:
            faults += list(connection.exec_driver_sql("PRAGMA cipher_integrity_check"))
        faults += [
            f"{row[0]} leans on what is not there" for row in connection.exec_driver_sql("PRAGMA foreign_key_check")
        ]
    if faults:
        return Checked("database", f"damaged ({len(faults)} faults)", "Restore the last backup into a new folder.")
    return Checked("database", "whole")


def _files(store: Store) -> Checked:
    missing, damaged = unsound_files(store)
    if not (missing or damaged):
        return Checked("files", f"{len(named_files(store))} files, each as it was kept")
    told = f"{len(missing)} missing, {len(damaged)} damaged: {', '.join(sha[:12] for sha in (missing + damaged)[:5])}"
    return Checked("files", told, "Run it again with --from BACKUP: it takes them from there.")


def named_files(store: Store) -> set[str]:
    """Names of every file that a row speaks of."""
    with store.looking() as session:
        return {sha256 for column in FILE_COLUMNS for sha256 in session.scalars(select(column)) if sha256}


def unsound_files(store: Store) -> tuple[list[str], list[str]]:
    """Names of files that are missing, and of those whose content is not what it was."""
    missing, damaged = [], []
    for sha256 in sorted(named_files(store)):
        if not store.files.path_of(sha256).exists():
            missing.append(sha256)
        elif not store.files.is_sound(sha256):
            damaged.append(sha256)
    return missing, damaged


def _strays(store: Store) -> Checked:
    strays, parts = stray_files(store)
    if not (strays or parts):
        return Checked("strays", "none")
    told = f"{len(strays)} files that no visit names, {len(parts)} unfinished ones"
    return Checked("strays", told, "Run it again with --repair: it takes them out.")


def _odd(store: Store) -> Checked:
    odd = odd_files(store.files)
    if not odd:
        return Checked("odd files", "none")
    told = f"{len(odd)} that are not the records': {_first(odd)}"
    return Checked("odd files", told, "Look at what is odd and move it out of the folder: erasing doesn't reach it.")


def _beside(store: Store) -> Checked:
    hurt = unreadable_beside(store.place)
    if not hurt:
        return Checked("beside", "clocks, journal, inbox and drafts can be read")
    told = f"{len(hurt)} can't be read: {_first(hurt)}"
    return Checked("beside", told, "Put a whole copy in the place of what can't be read, or move it out of the "
                   "folder; a draft goes by: tressmeter records drafts --erase DRAFT.")  # fmt: skip


def _first(names: list[str]) -> str:
    return ", ".join(names[:3]) + (", ..." if len(names) > 3 else "")


def stray_files(store: Store) -> tuple[list[str], list[Path]]:
    """Names of files that no row speaks of, and files that were never finished."""
    return sorted(set(store.files.all_hashes()) - named_files(store)), sorted(store.files.parts())


def _search(store: Store) -> Checked:
    with store.looking() as session:
        words = select(func.count()).where(~exists().where(model.ClientWord.client_id == model.Client.id))
        lost = session.scalar(words.select_from(model.Client)) or 0
    return Checked("search", "every client is found" if not lost else f"{lost} clients are not found by their words",
                   "Change and save the client once." if lost else "")  # fmt: skip


def _backup(store: Store) -> Checked:
    days = days_since_backup(store)
    if days is None:
        return Checked("backup", "none was made yet", "Make one, and keep it elsewhere: tressmeter backup FILE.")
    if days < 0:  # the clock went ahead for a while, or was set back: the true age is not known
        told = "the last one is dated ahead of this machine's clock"
        return Checked("backup", told, "Look at the clock, then make another: tressmeter backup FILE.")
    told = f"the last one is {days} days old"
    return Checked("backup", told, "Make another: tressmeter backup FILE." if days > OLD_BACKUP_DAYS else "")


def days_since_backup(store: Store) -> int | None:
    """Whole days since the last backup; None where none was made yet, negative where it is dated ahead of the clock."""
    try:
        made = datetime.fromisoformat((store.place.folder / LAST_BACKUP).read_text(encoding="utf-8").strip())
    except (OSError, ValueError):
        return None
    return (datetime.now(UTC) - made).days


def _encryption(store: Store) -> Checked:
    vault = vault_of(store.place.folder)
    if vault.key_file is None:
        return Checked("encryption", "none: whoever can read the folder can read the records")
    left = plain_files(store.place)
    if left:
        told = f"{len(left)} files in the folder are not sealed: {', '.join(path.name[:20] for path in left[:3])}"
        return Checked("encryption", told, "Look at them, then delete them: an old program or a copy put them there.")
    ways = [by for by in (PASSPHRASE, CODE) if vault.key_file.has(by)]
    told = f"on, opened by {' or '.join(ways)}{' or the keyring' if in_keyring(vault.key_file) else ''}"
    return Checked("encryption", told, "" if CODE in ways else "Make a code: tressmeter records passphrase --new-code.")


def plain_files(place: SalonPlace) -> list[Path]:
    """Files of an encrypted salon that hold something of clients and are not sealed."""
    below = [path for folder in (place.photos, place.drafts) for path in folder.rglob("*")]
    below += [*place.earlier.glob("*.sqlite"), *files_beside(place.folder)]
    sealed = [path for path in below if path.is_file() and not _begins(path, MARK)]
    return sorted({*sealed, *(path for path in (place.database_file,) if path.exists())})


def _begins(path: Path, mark: bytes) -> bool:
    with path.open("rb") as file:
        return file.read(len(mark)) == mark


def _rights(store: Store) -> Checked:
    everybody, keys = open_to_everybody(store.place), open_keys(store.place)
    if not (everybody or keys):
        return Checked("rights", "the folder is closed to other users of this machine")
    told = ["everybody at this machine can enter the folder"] if everybody else []
    if keys:
        names = [path.relative_to(store.place.folder).as_posix() for path in keys]
        told.append(f"others may read {_first(names)}")
    return Checked("rights", "; ".join(told), "Run it again with --repair, as the user whose folder it is: it closes "
                   "them to everybody else. To go on sharing the folder with a group: chmod o-rwx FOLDER.")  # fmt: skip


def _drafts(store: Store) -> Checked:
    drafts = Drafts(store.place).listed()
    old = [draft for draft in drafts if (datetime.now(UTC) - draft.changed_utc).days > OLD_DRAFT_DAYS]
    told = f"{len(drafts)} unfinished visits"
    return Checked("drafts", told, "Finish old ones or take them out: tressmeter records drafts." if old else "")


_CHECKS: tuple[Callable[[Store], Checked], ...] = (
    _space,
    _tables,
    _database,
    _encryption,
    _rights,
    _files,
    _strays,
    _odd,
    _beside,
    _search,
    _backup,
    _drafts,
)


def repair(store: Store) -> int:
    """How many stray and unfinished files were taken out; rights are closed. Nobody else writes meanwhile."""
    close_to_others(store.place)
    strays, parts = stray_files(store)
    with store.files.noted_to_erase(strays):
        pass  # the note alone: tidying then looks at each file once more, under its lock
    store.tidy()
    for part in parts:
        part.unlink(missing_ok=True)
    left, _ = stray_files(store)
    return len(strays) - len(left) + len(parts)


def take_from_backup(store: Store, path: Path) -> int:
    """How many missing or damaged files were taken from a backup, a file or a folder. Raises BadInputError."""
    missing, damaged = unsound_files(store)
    if path.is_dir():
        return sum(_taken(store, path, sha256) for sha256 in (*missing, *damaged))
    with opened_archive(path, FORMAT) as archive:
        there = [sha256 for sha256 in (*missing, *damaged) if f"files/{sha256}" in archive.names]
        for sha256 in there:
            store.files.remove(sha256)
            if store.files.put(archive.read(f"files/{sha256}")) != sha256:
                raise RecordsError(f"{path.name} does not hold what its names say. Use another backup.")
    return len(there)


def _taken(store: Store, folder: Path, sha256: str) -> bool:
    """Whether a folder of backups held this file whole."""
    try:
        content = stored_content(folder, store.files.vault, sha256)
    except BadInputError:
        return False
    store.files.remove(sha256)
    store.files.put(content)
    return True


def everything_well(checks: list[Checked]) -> bool:
    """Whether no check found a fault; an old backup is none."""
    return all(check.well for check in checks if check.what not in ("backup", "drafts"))


def remedies(checks: list[Checked]) -> Iterator[str]:
    """What to do, in order."""
    yield from (check.remedy for check in checks if check.remedy)
