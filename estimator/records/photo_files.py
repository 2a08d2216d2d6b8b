"""Files named by what is in them: written whole or not at all, found again by hash, tidied after a sudden end.

Before a file is written or taken out, a note in `pending` says which; the note goes once the rows are kept. A program
that dies in between leaves its note, and the next start looks at those files alone, not at a million.
"""

import hashlib
import json
import os
from collections.abc import Callable, Collection, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

from estimator.one_writer import take
from estimator.records.errors import LockedError, RecordsError
from estimator.records.folder_lock import alone
from estimator.records.place import SalonPlace
from estimator.records.sealing import BrokenSealError
from estimator.records.swapping import lock_of
from estimator.records.vault import Use, Vault, vault_of
from estimator.synced_folders import make_folder, sync_folder
from estimator.whole_files import PART, write_loosely
from estimator.whole_files import write_whole as write_whole

_NOTE = "note"  # what a sealed note opens together with


def hash_of(content: bytes) -> str:
    """The name of content: its SHA-256 in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


class PhotoFiles:
    """The files of one salon, in two levels of folders by the first letters of their name on the disk.

    vault : How they lie; without it as the folder says, asked anew each time: the salon may be encrypted meanwhile.
    """

    def __init__(self, place: SalonPlace, vault: Vault | None = None) -> None:
        self.place = place
        self._given = vault

    @property
    def vault(self) -> Vault:
        """How the files lie at this moment. Raises LockedError."""
        return self._given or vault_of(self.place.folder)

    def path_of(self, sha256: str) -> Path:
        """Where content of this hash lies, or would lie."""
        name = self.vault.name_of(sha256)
        return self.place.photos / name[:2] / name[2:4] / name

    def put(self, content: bytes) -> str:
        """The hash under which `content` is on the disk now. Raises RecordsError; then nothing half-written is left."""
        sha256 = hash_of(content)
        self.put_as(sha256, content)
        return sha256

    def put_as(self, sha256: str, content: bytes) -> None:
        """Content under the name of this hash, looked at by nobody. Raises RecordsError as `put` does."""
        path = self.path_of(sha256)
        try:
            if not path.exists():
                self._write(path, self.vault.seal(Use.FILES, content, sha256))
        except OSError as problem:
            raise RecordsError(
                f"A file could not be written into the records ({problem.strerror}). What stood before stands. "
                "Free some space, then do it again."
            ) from problem

    def _write(self, path: Path, sealed: bytes) -> None:
        make_folder(path.parent)
        write_whole(path, sealed, path.name)

    def get(self, sha256: str) -> bytes:
        """The content of this hash, checked. Raises RecordsError where it is missing or damaged."""
        try:
            content = self.vault.unseal(Use.FILES, self.path_of(sha256).read_bytes(), sha256)
        except BrokenSealError:
            content = b""
        except OSError as problem:
            raise RecordsError(
                f"The file {sha256[:12]} is missing from the records ({problem.strerror}). Restore it from a backup; "
                "`tressmeter doctor` lists every such file."
            ) from problem
        if hash_of(content) != sha256:
            raise RecordsError(f"The file {sha256[:12]} is damaged. Restore it from a backup.")
        return content

    def sealed(self, sha256: str) -> bytes:
        """The file as it lies on the disk, once its content was checked. Raises RecordsError."""
        self.get(sha256)
        return self.path_of(sha256).read_bytes()

    def is_sound(self, sha256: str) -> bool:
        """Whether the file is there and holds what it held."""
        try:
            self.get(sha256)
        except LockedError:
            raise
        except RecordsError:
            return False
        return True

    def remove(self, sha256: str) -> bool:
        """Whether there was such a file to take out."""
        try:
            self.path_of(sha256).unlink()
        except FileNotFoundError:
            return False
        sync_folder(self.path_of(sha256).parent)
        return True

    def all_hashes(self) -> Iterator[str]:
        """The hash of every whole file, by its name and place."""
        vault = self.vault
        for path in self.place.photos.glob("??/??/*"):
            sha256 = None if path.name.startswith(PART) else vault.hash_of_name(path.name)
            if sha256 is not None and path == self.path_of(sha256):  # a copy elsewhere is no file of ours
                yield sha256

    def parts(self) -> Iterator[Path]:
        """Files that were never finished."""
        yield from self.place.photos.glob(f"??/??/{PART}*")

    @contextmanager
    def noted(self, hashes: Collection[str]) -> Iterator[None]:
        """While inside, a note says that these files are in doubt; it goes only when all went well."""
        with self._note(hashes, erasing=False) as note:
            yield
            note.unlink(missing_ok=True)

    @contextmanager
    def noted_to_erase(self, hashes: Collection[str]) -> Iterator[None]:
        """While inside, a note says that these files and their rows are being erased; it stays for `tidy` to finish."""
        with self._note(hashes, erasing=True):
            yield

    @contextmanager
    def _note(self, hashes: Collection[str], *, erasing: bool) -> Iterator[Path]:
        """A note that this program holds, so that nobody takes it for a dead one's.

        It is written under the lock of `tidy`: a file that is found here can't be tidied away before its row is kept.
        """
        with ExitStack() as held:
            try:
                note = self._written_note(held, json.dumps({"hashes": sorted(hashes), "erasing": erasing}))
            except OSError as problem:
                raise RecordsError(
                    f"Nothing can be written into the records ({problem.strerror}). What stood before stands. Free "
                    "some space, or give this user leave to write in the folder; then do it again."
                ) from problem
            yield note

    def _written_note(self, held: ExitStack, told: str) -> Path:
        make_folder(self.place.pending)
        note = self.place.pending / f"{uuid4().hex}.json"
        file = held.enter_context(note.open("xb"))
        with alone(self._lock):
            take(file)
            file.write(self.vault.seal(Use.BESIDE, told.encode("ascii"), _NOTE))
            file.flush()
            os.fsync(file.fileno())
            sync_folder(self.place.pending)
        return note

    @property
    def _lock(self) -> Path:
        return lock_of(self.place.folder)

    def tidy(self, used: Callable[[Collection[str]], Collection[str]], clean: Callable[[], None]) -> int:
        """Finish what programs that died had begun: files in doubt that no row names are taken out. Returns how many.

        used : Which of some hashes a row names. clean : Called where an erasure was not finished.
        """
        if not any(self.place.pending.glob("*.json")):
            return 0
        with alone(self._lock):
            held, dead = self._notes()
            doubted = {sha256 for said in dead.values() for sha256 in said.hashes} - held
            gone = sum(self.remove(sha256) for sha256 in doubted - set(used(doubted)))
            for sha256 in doubted:
                path = self.path_of(sha256)
                for part in path.parent.glob(f"{PART}{path.name}-*"):
                    part.unlink(missing_ok=True)
            if any(said.erasing for said in dead.values()):
                clean()
            for note in dead:
                note.unlink(missing_ok=True)
            return gone

    def in_hand(self) -> bool:
        """Whether another program is keeping or erasing files at this moment; the lock is held by who calls."""
        return bool(self._notes()[0])

    def _notes(self) -> tuple[set[str], dict[Path, "_Note"]]:
        """Hashes that running programs hold, and the notes of dead ones."""
        held: set[str] = set()
        dead: dict[Path, _Note] = {}
        for path in self.place.pending.glob("*.json"):
            try:
                with path.open("r+b") as file:
                    is_dead = take(file)
                    note = self._note_in(file.read())
            except FileNotFoundError:
                continue  # its program has just finished
            if is_dead:
                dead[path] = note
            else:
                held.update(note.hashes)
        return held, dead

    def _note_in(self, content: bytes) -> "_Note":
        """What a note says; nothing where its program died while writing it, before any file."""
        try:
            said = json.loads(self.vault.unseal(Use.BESIDE, content, _NOTE))
            return _Note(tuple(str(entry) for entry in said["hashes"]), bool(said["erasing"]))
        except (BrokenSealError, ValueError, TypeError, KeyError):
            return _Note()


class LooseFiles(PhotoFiles):
    """Files of a folder that is still being made: `bring_all_to_disk` ends it, and is far sooner than one by one."""

    def _write(self, path: Path, sealed: bytes) -> None:
        write_loosely(path, sealed)


@dataclass(frozen=True)
class _Note:
    hashes: tuple[str, ...] = ()
    erasing: bool = False
