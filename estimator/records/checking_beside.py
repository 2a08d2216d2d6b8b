"""What can't be read beside the records, and what lies among their files without being one: by name, for a person."""

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path

from estimator.errors import BadInputError
from estimator.feedback.journal_store import SALON_JOURNAL
from estimator.records.beside import files_beside, salon_clock, salon_journal
from estimator.records.drafts import Drafts
from estimator.records.errors import LockedError, RecordsError
from estimator.records.photo_files import PhotoFiles
from estimator.records.place import SalonPlace
from estimator.records.sent_in import SentInFiles
from estimator.whole_files import PART


def unreadable_beside(place: SalonPlace) -> list[str]:
    """Damaged clocks, journal, files of the inbox and drafts, as they are named in the folder. Raises LockedError."""
    return [path.relative_to(place.folder).as_posix() for path, read in _to_read(place) if not _reads(read)]


def _to_read(place: SalonPlace) -> Iterator[tuple[Path, Callable[[], object]]]:
    """Each file or folder, and how it is read."""
    folder, drafts, sent = place.folder, Drafts(place), SentInFiles(place)
    for path in files_beside(folder):
        journal = path.name == SALON_JOURNAL
        yield path, salon_journal(folder).load if journal else replace(salon_clock(folder), path=path).load
    for path in sent.whole_files():
        if path.suffix == ".json":
            yield path, partial(_json, sent, path)
    for path in sorted(place.drafts.iterdir()) if place.drafts.is_dir() else ():
        if path.is_dir():
            yield path, partial(_draft, drafts, path.name)


def _json(sent: SentInFiles, path: Path) -> None:
    if not isinstance(json.loads(sent.get(path)), dict):
        raise BadInputError("This is no file of the inbox.")


def _draft(drafts: Drafts, name: str) -> None:
    if drafts.load(name) is None:
        raise BadInputError("This draft can't be read any more.")


def _reads(read: Callable[[], object]) -> bool:
    try:
        read()
    except LockedError:
        raise
    except (BadInputError, RecordsError, OSError, ValueError):
        return False
    return True


def odd_files(files: PhotoFiles) -> list[str]:
    """What lies among the files under no name or in no place of ours: no repair takes it out, and no erasing does."""
    ours = {files.path_of(sha256) for sha256 in files.all_hashes()}
    there = (path for path in files.place.photos.rglob("*") if path.is_file() and not path.name.startswith(PART))
    return sorted(path.relative_to(files.place.folder).as_posix() for path in there if path not in ours)
