"""The journal of outcomes in its file: read whole, changed by one program at a time, written whole or not at all."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from estimator.errors import BadInputError, OutputError
from estimator.feedback.journal import Journal, journal_from_text, journal_text
from estimator.one_writer import one_writer
from estimator.plain_files import check_plain_file
from estimator.synced_folders import make_private_folder
from estimator.whole_files import write_whole

MOST_BYTES = 12_000_000
WAIT_SECONDS = 5.0
_BUSY = "Another page is writing to the journal and does not end. Try again."
SALON_JOURNAL = "outcomes.jsonl"  # in the salon's folder
_BESIDE_THE_SHELF = ".outcomes.jsonl"


def journal_beside(shelf: Path) -> Path:
    """Where the outcomes of a shelf are kept: beside it, under its name."""
    return shelf.with_name(shelf.stem + _BESIDE_THE_SHELF)


@dataclass(frozen=True)
class JournalStore:
    """One journal in one file. seal, unseal : How its bytes lie on the disk, where that is not as they are."""

    path: Path
    seal: Callable[[bytes], bytes] = bytes
    unseal: Callable[[bytes], bytes] = bytes

    def load(self) -> Journal:
        """The journal as it stands; an empty one where there is no file yet. Raises BadInputError."""
        try:
            check_plain_file(self.path)
            if self.path.stat().st_size > MOST_BYTES:
                raise BadInputError(f"{self.path.name} is too large for a journal of outcomes. Name another file.")
            return journal_from_text(self.unseal(self.path.read_bytes()).decode("utf-8"))
        except FileNotFoundError:
            return Journal()
        except UnicodeDecodeError as problem:
            raise BadInputError(f"{self.path.name} is no journal of outcomes. Choose another file.") from problem
        except OSError as problem:
            raise BadInputError(f"{self.path.name} can't be read ({problem.strerror}). Check its path.") from problem

    def change(self, changed: Callable[[Journal], Journal]) -> Journal:
        """The journal after `changed`, on disk before it is returned; read anew first, so no page overwrites another.

        Raises BadInputError for a journal that can't be read or a change that is refused, OutputError.
        """
        try:
            make_private_folder(self.path.parent)
            lock = self.path.with_name(f".{self.path.name}.lock")
            with one_writer(lock, WAIT_SECONDS, OutputError(_BUSY)):
                journal = changed(self.load())
                self._write(journal_text(journal))
                return journal
        except OSError as problem:
            raise OutputError(
                f"{self.path.name} could not be written ({problem.strerror}); it stands as it was. Free some space, or "
                "choose another folder."
            ) from problem

    def _write(self, text: str) -> None:
        write_whole(self.path, self.seal(text.encode("utf-8")))
