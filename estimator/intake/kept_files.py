"""The one place where the intake's files are written and read; what seals a salon's files is hooked in here."""

from pathlib import Path
from typing import Protocol

from estimator.records.errors import RecordsError
from estimator.records.photo_files import write_whole


class FileKeeper(Protocol):
    """Writes a file whole or not at all, and reads it back."""

    def put(self, path: Path, content: bytes) -> None: ...

    def get(self, path: Path) -> bytes: ...


class PlainFiles:
    """Files as they are, for a salon whose records are not encrypted."""

    def put(self, path: Path, content: bytes) -> None:
        """The file on the disk. Raises RecordsError; then the old one stands."""
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            write_whole(path, content, "intake")
        except OSError as problem:
            raise RecordsError(
                f"The salon's machine could not keep this ({problem.strerror}). What was kept before stands. "
                "Try again later, and tell the salon."
            ) from problem

    def get(self, path: Path) -> bytes:
        """What is in the file. Raises FileNotFoundError, and RecordsError where it can't be read."""
        try:
            return path.read_bytes()
        except FileNotFoundError:
            raise
        except OSError as problem:
            raise RecordsError(
                f"A file of the inbox can't be read ({problem.strerror}). Check the permissions of the salon's folder."
            ) from problem
