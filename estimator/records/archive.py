"""One file with rows and files in it, checked after it was written and before anything of it is used."""

import hashlib
import json
import os
import sys
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, cast
from uuid import uuid4

from estimator.errors import BadInputError, OutputError
from estimator.plain_files import check_plain_file
from estimator.records.key_file import KeyFile
from estimator.records.sealed_stream import SealedReader, SealedWriter, is_sealed
from estimator.records.sealing import BrokenSealError
from estimator.records.unlocking import key_of
from estimator.records.vault import OPEN, Vault
from estimator.synced_folders import make_folder, sync_folder

MANIFEST, READ_ME = "manifest.json", "READ ME.txt"
CHUNK = 1 << 20
_PART = ".part-tressmeter-"
MOST_MEMBER_BYTES = 20_000_000_000
# Rows of JSON pack to a tenth, the most alike to a fiftieth; deflate's own limit is a thousandth. Our assumption.
MOST_SWELLING, SMALL_MEMBER_BYTES = 300, 10_000_000
_TIME = (2000, 1, 1, 0, 0, 0)  # the same content makes the same file


class ArchiveWriter:
    """Takes members one after the other, and notes the SHA-256 of each for the manifest."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self._archive = archive
        self.hashes: dict[str, str] = {}

    def add(self, name: str, content: bytes) -> None:
        """A member with this content."""
        self.add_parts(name, iter((content,)))

    def add_parts(self, name: str, parts: Iterator[bytes]) -> int:
        """A member made of these parts; how many there were."""
        info = zipfile.ZipInfo(name, _TIME)
        info.external_attr = 0o600 << 16
        packed = not name.startswith(("files/", "photos/"))  # photographs are packed already
        info.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
        digest, count = hashlib.sha256(), 0
        with self._archive.open(info, "w", force_zip64=True) as member:
            for part in parts:
                member.write(part)
                digest.update(part)
                count += 1
        self.hashes[name] = digest.hexdigest()
        return count


@contextmanager
def written_archive(path: Path, about: dict[str, Any], read_me: str, vault: Vault = OPEN) -> Iterator[ArchiveWriter]:
    """A new file at `path` with what was added inside; read back and checked by its manifest before it has its name.

    vault : That of a salon whose records are encrypted: then the whole file is, and holds the wrapped key.
    Raises
    ------
    OutputError : There is such a file already, or it can't be written or read back; nothing half-written is left.
    """
    if path.exists():
        raise OutputError(f"{path} is there already and is not overwritten. Choose another name.")
    aside = path.with_name(f"{_PART}{os.getpid()}-{uuid4().hex[:8]}")
    try:
        make_folder(path.parent)
        _drop_dead_parts(path.parent)
        with aside.open("xb") as file:
            with _to_write(file, vault) as inner, zipfile.ZipFile(inner, "w") as archive:
                writer = ArchiveWriter(archive)
                writer.add(READ_ME, read_me.encode())
                yield writer
                told = about | {"sha256": dict(writer.hashes)}
                writer.add(MANIFEST, json.dumps(told, ensure_ascii=False, indent=1, sort_keys=True).encode())
            file.flush()
            os.fsync(file.fileno())
        with opened_archive(aside, about["format"]):
            aside.replace(path)
            sync_folder(path.parent)
    except OSError as problem:
        raise OutputError(
            f"{path} could not be written ({problem.strerror}). Free some space or choose another folder; nothing "
            "half-written was left."
        ) from problem
    finally:
        aside.unlink(missing_ok=True)


@contextmanager
def _to_write(file: IO[bytes], vault: Vault) -> Iterator[IO[bytes]]:
    if vault.key_file is None:
        yield file
        return
    sealed = SealedWriter(file, vault.key_file, vault.key)
    yield cast(IO[bytes], sealed)
    sealed.finish()


def _drop_dead_parts(folder: Path) -> None:
    """Take out what programs that died had begun to write here."""
    for part in folder.glob(f"{_PART}*"):
        number = part.name.removeprefix(_PART).split("-")[0]
        if number.isdigit() and not _lives(int(number)):
            part.unlink(missing_ok=True)


def _lives(program: int) -> bool:
    if sys.platform == "win32":  # asking there would end it
        return True
    try:
        os.kill(program, 0)
    except ProcessLookupError:
        return False
    except OSError:  # somebody else's, or a system that can't tell: it is left alone
        return True
    return True


@dataclass(frozen=True, eq=False)
class OpenArchive:
    """A checked archive. about : Its manifest. key_file : What opens it, where it is sealed."""

    archive: zipfile.ZipFile
    about: dict[str, Any]
    key_file: KeyFile | None = None

    @property
    def names(self) -> list[str]:
        """Every member but the manifest and the READ ME."""
        return [name for name in self.about["sha256"] if name != READ_ME]

    def read(self, name: str) -> bytes:
        """One member, whole."""
        return self.archive.read(name)

    def lines(self, name: str) -> Iterator[bytes]:
        """One member line by line, each with its end."""
        with self.archive.open(name) as member:
            yield from member


@contextmanager
def opened_archive(path: Path, kind: str) -> Iterator[OpenArchive]:
    """The archive at `path`, once every member has the hash that its manifest names.

    Raises
    ------
    BadInputError : It is no such file, is damaged, or a member is; the sentence names it.
    LockedError : It is sealed, and the passphrase is missing or wrong.
    """
    _check_readable(path)
    try:
        with path.open("rb") as file, zipfile.ZipFile(inner := _to_read(file)) as archive:
            about = _manifest(archive, path, kind)
            for name, sha256 in about["sha256"].items():
                if _hash_of(archive, name) != sha256:
                    raise BadInputError(f"{path.name} is damaged: {name} is not as it was written. Use another copy.")
            yield OpenArchive(archive, about, inner.key_file if isinstance(inner, SealedReader) else None)
    except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError, BrokenSealError) as problem:
        raise BadInputError(f"{path.name} is damaged or is no file of this kind. Use another copy.") from problem


def _check_readable(path: Path) -> None:
    try:
        check_plain_file(path)
        path.open("rb").close()
    except FileNotFoundError as problem:
        raise BadInputError(f"There is no file at {path}. Check the path.") from problem
    except OSError as problem:
        raise BadInputError(f"{path.name} can't be read ({problem.strerror}). Check its permissions.") from problem


def _to_read(file: IO[bytes]) -> IO[bytes]:
    return cast(IO[bytes], SealedReader(file, key_of)) if is_sealed(file) else file


def _manifest(archive: zipfile.ZipFile, path: Path, kind: str) -> dict[str, Any]:
    names = archive.namelist()
    _check_packing(archive, path)
    try:
        about = json.loads(archive.read(MANIFEST))
        sound = about["format"] == kind and isinstance(about["sha256"], dict)
    except (KeyError, ValueError, TypeError, RecursionError, zipfile.BadZipFile, zlib.error) as problem:
        raise BadInputError(f"{path.name} has no readable manifest. Use another copy.") from problem
    if not sound:
        raise BadInputError(f"{path.name} is not of the kind {kind}. Choose the right file.")
    if len(names) != len(set(names)) or set(names) != {*about["sha256"], MANIFEST}:
        raise BadInputError(f"{path.name} does not hold what its manifest says. Use another copy.")
    return dict(about)


def _check_packing(archive: zipfile.ZipFile, path: Path) -> None:
    """Raise BadInputError where a member claims to swell as no rows do: it would fill memory or disk when unpacked."""
    for member in archive.infolist():
        if member.file_size > SMALL_MEMBER_BYTES and member.file_size > MOST_SWELLING * max(member.compress_size, 1):
            raise BadInputError(f"{path.name} swells beyond measure when it is unpacked. Use another copy.")


def _hash_of(archive: zipfile.ZipFile, name: str) -> str:
    digest, seen = hashlib.sha256(), 0
    try:
        with archive.open(name) as member:
            while part := member.read(CHUNK):
                seen += len(part)
                if seen > MOST_MEMBER_BYTES:
                    return ""
                digest.update(part)
    except (zipfile.BadZipFile, EOFError, BrokenSealError, zlib.error):
        return ""
    return digest.hexdigest()
