"""New words for an encrypted salon's key: `key.json` is written anew, and nothing else."""

from dataclasses import dataclass

from estimator.errors import BadInputError
from estimator.records.errors import RecordsError
from estimator.records.folder_lock import alone
from estimator.records.key_file import CODE, PASSPHRASE, KeyFile, key_file_bytes, new_code, rewrapped
from estimator.records.place import KEY_FILE, SalonPlace
from estimator.records.swapping import lock_of
from estimator.records.vault import vault_of
from estimator.whole_files import write_whole


@dataclass(frozen=True)
class OpenedKey:
    """The wrapped key as it stands, and the key."""

    key_file: KeyFile
    key: bytes


def opened(place: SalonPlace) -> OpenedKey:
    """The salon's key. Raises BadInputError where the records are not encrypted, LockedError without the words."""
    vault = vault_of(place.folder)
    if vault.key_file is None:
        raise BadInputError("These records are not encrypted. `tressmeter records encrypt` does it.")
    return OpenedKey(vault.key_file, vault.key)


def change_passphrase(place: SalonPlace, passphrase: str) -> None:
    """From now on these words open the records. Raises BadInputError, LockedError, RecordsError."""
    _rewrap(place, PASSPHRASE, passphrase)


def change_code(place: SalonPlace) -> str:
    """A new recovery code; the old one opens nothing any more. Raises BadInputError, LockedError, RecordsError."""
    code = new_code()
    _rewrap(place, CODE, code)
    return code


def _rewrap(place: SalonPlace, by: str, words: str) -> None:
    held = opened(place)
    made = rewrapped(held.key_file, held.key, by, words)
    try:
        with alone(lock_of(place.folder)):
            if vault_of(place.folder).key_file != held.key_file:
                raise RecordsError("key.json was changed meanwhile by somebody else. Nothing was written; do it again.")
            write_whole(place.folder / KEY_FILE, key_file_bytes(made), "key")
    except OSError as problem:
        raise RecordsError(
            f"key.json could not be written ({problem.strerror}); the old one stands, and so does the old passphrase."
        ) from problem
