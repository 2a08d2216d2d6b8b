"""What a client sent, as a folder, a zip or an exported chat: the files in it, bounded, nothing unpacked to disk."""

import io
import zipfile
import zlib
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO

from calibration.errors import PhotoRefusedError
from calibration.opening import MOST_BYTES
from calibration.sniffing import kind_of
from estimator.errors import BadInputError
from estimator.plain_files import check_plain_file

MOST_PHOTOS = 40
MOST_FILES = 2_000
MOST_SENT_BYTES = 600_000_000
_ZIP = b"PK\x03\x04"


@dataclass(frozen=True, eq=False)
class SentFile:
    """One photograph as it was sent.

    name : Its last part only, with no folder: a folder's name may name a person. Each in a bundle has its own.
    """

    name: str
    photo_bytes: bytes


@dataclass(frozen=True, eq=False)
class Bundle:
    """All that was sent. left_out : Names of files that are no photographs, such as a chat's text."""

    photos: tuple[SentFile, ...]
    left_out: tuple[str, ...]


def open_bundle(path: Path) -> Bundle:
    """The photographs of a folder or a zip, in the order of their names. What they are, their bytes tell.

    Raises
    ------
    BadInputError : There is nothing there, it is no zip, it is damaged or locked, or it is larger than allowed.
    """
    return _gathered(_from_folder(path) if path.is_dir() else _from_zip(path, path.name), path.name)


def bundle_of(files: Sequence[tuple[str, bytes]]) -> Bundle:
    """The photographs among files by name and content, and those in each zip among them; as `open_bundle`."""
    if sum(len(content) for _, content in files) > MOST_SENT_BYTES:
        raise _too_much("What was dropped")
    return _gathered(_unpacked(files), "what was dropped")


def _unpacked(files: Sequence[tuple[str, bytes]]) -> Iterator[tuple[str, bytes | None]]:
    taken = 0
    for name, content in files:
        inside = _from_zip(io.BytesIO(content), name) if content.startswith(_ZIP) else [(name, content)]
        for each, bytes_in in inside:
            taken += len(bytes_in or b"")
            if taken > MOST_SENT_BYTES:  # several zips, each of them small enough
                raise _too_much("What was dropped")
            yield each, bytes_in


def _gathered(files: Iterable[tuple[str, bytes | None]], where: str) -> Bundle:
    photos: dict[str, bytes] = {}
    left_out = []
    for name, content in files:
        if content is None or not _is_photo(content):
            left_out.append(name)
            continue
        photos[_apart(name, photos)] = content
        if len(photos) > MOST_PHOTOS:
            raise BadInputError(f"There are more than {MOST_PHOTOS} photographs in {where}. Choose the best of them.")
    if not photos:
        raise BadInputError(f"There is no photograph in {where}. Ask the client to send the photographs as files.")
    return Bundle(tuple(SentFile(name, content) for name, content in photos.items()), tuple(left_out))


def _apart(name: str, taken: Collection[str]) -> str:
    """The name, with a number where two folders hold the same one: a photograph is known by its name."""
    path, number, found = PurePosixPath(name), 2, name
    while found in taken:
        found, number = f"{path.stem} ({number}){path.suffix}", number + 1
    return found


def _is_photo(content: bytes) -> bool:
    try:
        kind_of(content)
    except PhotoRefusedError:
        return False
    return True


def _from_folder(folder: Path) -> Iterator[tuple[str, bytes | None]]:
    """Name and bytes of each file below the folder; None for one that is too large to be a photograph."""
    paths = sorted(path for path in folder.rglob("*") if path.is_file() and not path.is_symlink())
    _check_count(folder.name, len(paths))
    taken = 0
    for path in paths:
        size = path.stat().st_size
        taken += size
        _check_size(folder.name, taken)
        yield path.name, path.read_bytes() if size <= MOST_BYTES else None


def _from_zip(source: Path | IO[bytes], name: str) -> Iterator[tuple[str, bytes | None]]:
    try:
        if isinstance(source, Path):
            check_plain_file(source)
        with zipfile.ZipFile(source) as archive:
            entries = sorted((e for e in archive.infolist() if not e.is_dir()), key=lambda entry: entry.filename)
            _check_count(name, len(entries))
            # What a zip says of its sizes is only believed as far as it is read.
            _check_size(name, sum(entry.file_size for entry in entries))
            for entry in entries:
                yield PurePosixPath(entry.filename.replace("\\", "/")).name, _bytes_of(archive, entry)
    except FileNotFoundError as problem:
        raise BadInputError(f"There is nothing at {source}. Check the path.") from problem
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, ValueError, zlib.error) as problem:
        raise BadInputError(
            f"{name} is no zip that can be opened. Ask for it again without a password, or put the photographs "
            "into a folder."
        ) from problem
    except OSError as problem:
        raise BadInputError(f"{name} can't be read ({problem.strerror}). Check its permissions.") from problem


def _bytes_of(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes | None:
    if entry.file_size > MOST_BYTES:
        return None
    with archive.open(entry) as file:
        content = file.read(MOST_BYTES + 1)
    return content if len(content) <= MOST_BYTES else None


def _check_count(name: str, count: int) -> None:
    if count > MOST_FILES:
        raise BadInputError(f"{name} holds {count:,} files; {MOST_FILES:,} are allowed. Put in the photographs only.")


def _check_size(name: str, size_bytes: int) -> None:
    if size_bytes > MOST_SENT_BYTES:
        raise _too_much(name)


def _too_much(name: str) -> BadInputError:
    return BadInputError(
        f"{name} holds more than {MOST_SENT_BYTES / 1e6:.0f} MB. Choose fewer photographs and try again."
    )
