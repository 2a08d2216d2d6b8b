"""What a salon's folder holds beside its records: the journal of outcomes and clocks of lifts, sealed as they are."""

from collections.abc import Callable
from pathlib import Path

from estimator.errors import BadInputError
from estimator.feedback.journal_store import SALON_JOURNAL, JournalStore
from estimator.lifting.clock_store import ClockStore
from estimator.records.place import KEY_FILE
from estimator.records.sealing import BrokenSealError
from estimator.records.vault import Use, vault_of

CLOCK_FILE, OTHER_CLOCKS = "clock.json", "clock-*.json"


def salon_journal(folder: Path) -> JournalStore:
    """The journal of the salon in this folder."""
    return JournalStore(folder / SALON_JOURNAL, *_ways(folder, "journal"))


def journal_at(path: Path) -> JournalStore:
    """The journal at this path; a salon's own is read as the salon keeps it."""
    is_salons = path.name == SALON_JOURNAL and (path.parent / KEY_FILE).exists()
    return salon_journal(path.parent) if is_salons else JournalStore(path)


def salon_clock(folder: Path) -> ClockStore:
    """The one running clock of the salon in this folder."""
    return ClockStore(folder / CLOCK_FILE, *_ways(folder, "clock"))


def _ways(folder: Path, what: str) -> tuple[Callable[[bytes], bytes], Callable[[bytes], bytes]]:
    """How its bytes are sealed and unsealed, as the folder says when it is done."""

    def unsealed(content: bytes) -> bytes:
        try:
            return vault_of(folder).unseal(Use.BESIDE, content, what)
        except BrokenSealError as problem:
            raise BadInputError(f"The {what} of the salon is damaged. Keep the file, and begin a new one.") from problem

    return lambda content: vault_of(folder).seal(Use.BESIDE, content, what), unsealed


def bound_of(path: Path) -> str:
    """What a file beside the records opens together with."""
    return "journal" if path.name == SALON_JOURNAL else "clock"


def files_beside(folder: Path) -> list[Path]:
    """Every such file that is there."""
    named = [folder / SALON_JOURNAL, folder / CLOCK_FILE, *folder.glob(OTHER_CLOCKS)]
    return [path for path in named if path.is_file()]


def locks_beside(folder: Path) -> list[Path]:
    """The locks under which they are written."""
    return [folder / f".{name}.lock" for name in (SALON_JOURNAL, CLOCK_FILE)]
