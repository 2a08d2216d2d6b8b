"""A salon's open folder made an encrypted one, and back: made ready aside, compared, then exchanged all at once."""

import re
import shutil
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from sqlalchemy import Connection

from estimator.errors import BadInputError
from estimator.records.beside import bound_of, files_beside, locks_beside
from estimator.records.database import WRITES, check_space, make_engine, told_plainly
from estimator.records.drafts import Drafts
from estimator.records.errors import RecordsError
from estimator.records.folder_lock import alone
from estimator.records.key_file import key_file_bytes, new_code, new_key, new_key_file
from estimator.records.migrating import bring_up_to_date
from estimator.records.photo_files import LooseFiles, PhotoFiles
from estimator.records.place import KEY_FILE, SalonPlace
from estimator.records.rows_json import digest_of, lines_of, put_lines, tables_of
from estimator.records.sealing import BrokenSealError
from estimator.records.sent_in import convert_sent_in, locks_of_sent_in
from estimator.records.store import open_store
from estimator.records.swapping import decide, drop_building, finish, lock_of, new_building
from estimator.records.unlocking import hold
from estimator.records.vault import OPEN, SealedVault, Use, Vault, vault_of
from estimator.whole_files import write_whole

_A_HASH = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Converted:
    """What was put into the other form.

    damaged : Hashes of files that were damaged before; decrypted ones of them are lost and left out.
    code : For writing down; it opens the records as the passphrase does. "" where they were decrypted.
    """

    rows: int
    files: int
    damaged: tuple[str, ...]
    code: str = ""


def encrypt_salon(place: SalonPlace, passphrase: str) -> Converted:
    """The salon's folder encrypted, with nothing readable left in it; the code in the result is shown this once.

    A program that dies meanwhile leaves the folder as it was, or encrypted: whoever opens it next finishes.

    Raises
    ------
    BadInputError : The folder is encrypted already, or the passphrase is too short.
    RecordsError : Another program works on the records, or the disk is too full; the folder stands as it stood.
    """
    if vault_of(place.folder).key_file is not None:
        raise BadInputError("These records are encrypted already. `tressmeter records passphrase` changes the words.")
    key, code = new_key(), new_code()
    key_file = new_key_file(key, passphrase, code)
    rows, files, damaged = _converted(place, OPEN, SealedVault(key_file, key))
    hold(key_file, key)
    return Converted(rows, files, damaged, code)


def decrypt_salon(place: SalonPlace) -> Converted:
    """The salon's folder open again, as before it was encrypted. Raises BadInputError, LockedError, RecordsError."""
    vault = vault_of(place.folder)
    if vault.key_file is None:
        raise BadInputError("These records are not encrypted.")
    return Converted(*_converted(place, vault, OPEN))


def _converted(place: SalonPlace, old: Vault, new: Vault) -> tuple[int, int, tuple[str, ...]]:
    open_store(place).close()  # up to date and tidied, so that only what counts is taken over
    check_space(place, _bytes_in(place.folder))
    with ExitStack() as held:
        held.enter_context(alone(lock_of(place.folder)))
        for lock in (*locks_beside(place.folder), *locks_of_sent_in(place)):
            held.enter_context(alone(lock))
        if PhotoFiles(place, old).in_hand():
            raise RecordsError("Another program is keeping a visit. Nothing was changed. Close it, then do it again.")
        drop_building(place.folder)
        building = new_building(place.folder)
        try:
            done = _built(place, SalonPlace(building), old, new)
        except BaseException:
            shutil.rmtree(building, ignore_errors=True)
            raise
        finish(place.folder)
    return done


def _bytes_in(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


def _built(place: SalonPlace, ready: SalonPlace, old: Vault, new: Vault) -> tuple[int, int, tuple[str, ...]]:
    """The other form of everything in `ready`, compared, and decided on while nobody else could write."""
    with _rows_held(place, old) as connection:
        rows = _rows(connection, ready, new) if place.on_sqlite else 0
        files, damaged = _files(PhotoFiles(place, old), LooseFiles(ready, new))
        _drafts(Drafts(place, old), Drafts(ready, new))
        convert_sent_in(place, ready, old, new)
        for path in files_beside(place.folder):
            content = old.unseal(Use.BESIDE, path.read_bytes(), bound_of(path))
            write_whole(ready.folder / path.name, new.seal(Use.BESIDE, content, bound_of(path)), "beside")
        if new.key_file is not None:
            write_whole(ready.folder / KEY_FILE, key_file_bytes(new.key_file), "key")
        decide(ready.folder, _gone(place, old))
    return rows, files, damaged


def _gone(place: SalonPlace, old: Vault) -> list[str]:
    """Names that nothing new takes the place of; copies of the database from before a change of tables go as well."""
    file = place.sealed_database_file if old.database_key else place.database_file
    key = [KEY_FILE] if old.key_file is not None else []
    return [place.earlier.name, *key, *(file.name + ending for ending in ("", "-wal", "-shm"))]


@contextmanager
def _rows_held(place: SalonPlace, old: Vault) -> Iterator[Connection]:
    """The database as it is, and nobody writes to it meanwhile."""
    engine = make_engine(place, old)
    try:
        with told_plainly(), engine.execution_options(**{WRITES: True}).connect() as connection, connection.begin():
            yield connection
    finally:
        engine.dispose()


def _rows(old: Connection, ready: SalonPlace, new: Vault) -> int:
    engine = make_engine(ready, new)
    try:
        bring_up_to_date(engine, ready)
        with engine.execution_options(**{WRITES: True}).connect() as connection, connection.begin():
            tables = tables_of(connection)
            rows = sum(put_lines(connection, table, lines_of(old, table)) for table in tables)
        with engine.connect() as connection:
            for table in tables:
                if digest_of(lines_of(connection, table)) != digest_of(lines_of(old, table)):
                    raise RecordsError(f"Rows of {table.name} came out otherwise. Nothing was changed; do it again.")
    finally:
        engine.dispose()
    return rows


def _files(old: PhotoFiles, new: PhotoFiles) -> tuple[int, tuple[str, ...]]:
    """How many files were taken over, each read back, and the hashes of those that were damaged before."""
    new.place.photos.mkdir()
    count, damaged = 0, []
    for sha256 in sorted(filter(_A_HASH.fullmatch, old.all_hashes())):
        try:
            content = old.vault.unseal(Use.FILES, old.path_of(sha256).read_bytes(), sha256)
        except BrokenSealError:
            damaged.append(sha256)
            continue
        new.put_as(sha256, content)
        if not new.is_sound(sha256):  # it was not before either: what is left of it is kept as it is
            damaged.append(sha256)
        count += 1
    return count, tuple(damaged)


def _drafts(old: Drafts, new: Drafts) -> None:
    new.place.drafts.mkdir()
    for listed in old.listed():
        draft = old.load(listed.id)
        if draft is None:
            continue
        photos = {sha256: partial(bytes, content) for sha256, content in draft.photos.items()}
        new.keep(listed.id, listed.client, draft.content, photos)
        again = new.load(listed.id)
        if again is None or (again.content, again.photos) != (draft.content, draft.photos):
            raise RecordsError("A draft came out otherwise than it went in. Nothing was changed; do it again.")
        new.keep_day(listed)
