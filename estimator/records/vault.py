"""How a salon's files lie on the disk: open, or each one sealed under a key made from the salon's own.

A sealed file's name is the hash of its content, hidden by AES-SIV. The plain hash would tell anybody who has the same
photograph that this person is a client here; hidden, it tells nothing, and still turns back into the hash by the key.
"""

from enum import StrEnum
from functools import cached_property, lru_cache
from pathlib import Path

from estimator.records.errors import RecordsError
from estimator.records.key_file import KeyFile, key_file_from
from estimator.records.place import KEY_FILE, SalonPlace
from estimator.records.sealing import BrokenSealError, derived, hidden, seal, shown, unseal
from estimator.records.swapping import settle
from estimator.records.unlocking import key_of

_NAME_BYTES, _LONGEST_NAME = 64, 128


class Use(StrEnum):
    """What a file is; each use has a key of its own."""

    FILES = "files"
    DRAFTS = "drafts"
    BESIDE = "beside"  # journal, clock, notes on work in hand


class Vault:
    """Files that lie open."""

    key_file: KeyFile | None = None
    key = b""
    database_key = ""

    def name_of(self, sha256: str) -> str:
        """The name on the disk of content with this hash."""
        return sha256

    def hash_of_name(self, name: str) -> str | None:
        """The hash of the content of a file by its name; None for a name that nothing here was given."""
        return name

    def seal(self, use: Use, content: bytes, bound: str) -> bytes:
        """The content as it lies on the disk. bound : What it opens together with only: its hash, its place."""
        return content

    def unseal(self, use: Use, sealed: bytes, bound: str) -> bytes:
        """The content that `seal` took. Raises BrokenSealError."""
        return sealed


class SealedVault(Vault):
    """Files that lie sealed."""

    def __init__(self, key_file: KeyFile, key: bytes) -> None:
        self.key_file = key_file
        self.key = key
        self._keys = {use: derived(key, f"tressmeter {use}".encode()) for use in Use}

    @cached_property
    def database_key(self) -> str:  # type: ignore[override]
        """In hexadecimal, as SQLCipher takes a key that was made elsewhere."""
        return derived(self.key, b"tressmeter database").hex()

    @cached_property
    def _names(self) -> bytes:
        return derived(self.key, b"tressmeter names", length=_NAME_BYTES)

    def name_of(self, sha256: str) -> str:
        return hidden(self._names, bytes.fromhex(sha256), b"name").hex()

    def hash_of_name(self, name: str) -> str | None:
        try:
            return shown(self._names, bytes.fromhex(name), b"name").hex() if len(name) <= _LONGEST_NAME else None
        except (BrokenSealError, ValueError):
            return None

    def seal(self, use: Use, content: bytes, bound: str) -> bytes:
        return seal(self._keys[use], content, f"{use} {bound}".encode())

    def unseal(self, use: Use, sealed: bytes, bound: str) -> bytes:
        return unseal(self._keys[use], sealed, f"{use} {bound}".encode())


OPEN = Vault()


def vault_of(folder: Path) -> Vault:
    """How the files of this salon lie, as `key.json` says at this moment.

    Raises
    ------
    LockedError : They are sealed, and the passphrase is missing or wrong.
    RecordsError : `key.json` is damaged or gone.
    """
    settle(folder)
    try:
        content = (folder / KEY_FILE).read_bytes()
    except FileNotFoundError:
        if SalonPlace(folder).sealed_database_file.exists():
            raise RecordsError(
                "The records are encrypted and their key.json is gone. Nothing was changed. Put key.json back, or "
                "restore a backup into a new folder: it holds one."
            ) from None
        return OPEN
    except OSError as problem:
        raise RecordsError(f"key.json can't be read ({problem.strerror}). Check who may use the folder.") from problem
    key_file = _key_file(content)
    return _sealed(key_file, key_of(key_file))


_key_file = lru_cache(maxsize=8)(key_file_from)
_sealed = lru_cache(maxsize=8)(SealedVault)
