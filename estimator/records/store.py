"""The door to a salon's records: opened, brought up to date and tidied, then asked and written to."""

import shutil
from collections.abc import Collection
from contextlib import AbstractContextManager, suppress
from dataclasses import dataclass
from functools import cached_property

from sqlalchemy import Engine, select, union_all
from sqlalchemy.orm import Session

from estimator.records import model
from estimator.records.changes import looking, undo_last, writing
from estimator.records.database import clean_pages, make_engine
from estimator.records.errors import RecordsError
from estimator.records.migrating import bring_up_to_date
from estimator.records.model_base import Base
from estimator.records.photo_files import PhotoFiles
from estimator.records.place import DATABASE_VARIABLE, SalonPlace
from estimator.records.swapping import clear_building
from estimator.synced_folders import make_private_folder, sync_folder


@dataclass(frozen=True, eq=False)
class Store:
    """One salon's records, open. who : The member of staff whose changes these are; "" where nobody said."""

    place: SalonPlace
    engine: Engine
    who: str = ""

    @cached_property
    def files(self) -> PhotoFiles:
        """Photographs, thumbnails and reports."""
        return PhotoFiles(self.place)

    def looking(self) -> AbstractContextManager[Session]:
        """A session that only looks."""
        return looking(self.engine)

    def writing(self, what: str) -> AbstractContextManager[Session]:
        """A session whose changes are one change, kept together or not at all."""
        return writing(self.engine, what, self.who)

    def undo(self) -> str:
        """Undo the last change; its kind. Raises NotKeptError where there is none."""
        return undo_last(self.engine, self.who)

    def used(self, hashes: Collection[str]) -> set[str]:
        """Which of these hashes a row names."""
        found: set[str] = set()
        wanted = sorted(hashes)
        with self.looking() as session:
            for start in range(0, len(wanted), 500):
                some = wanted[start : start + 500]
                found.update(session.scalars(union_all(*(select(c).where(c.in_(some)) for c in FILE_COLUMNS))))
        return found

    def tidy(self) -> int:
        """Finish what programs that died had begun; how many files went."""
        return self.files.tidy(self.used, self.clean)

    def clean(self) -> None:
        """Nothing that was erased is left in the database's free pages, its log, or copies made before a migration."""
        shutil.rmtree(self.place.earlier, ignore_errors=True)
        sync_folder(self.place.folder)  # or a loss of power would bring them back
        clean_pages(self.engine, sorted(Base.metadata.tables))

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    def __enter__(self) -> "Store":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


FILE_COLUMNS = (model.Photo.sha256, model.Photo.thumbnail_sha256, model.Document.sha256)


def open_store(place: SalonPlace, who: str = "") -> Store:
    """The records of a salon; a new folder gets empty ones, older tables are brought up to date.

    Raises
    ------
    RecordsError : The folder or the database can't be used; the sentence says why and what to do.
    """
    try:
        make_private_folder(place.folder)
        if not (place.folder / "READ ME.txt").exists():
            (place.folder / "READ ME.txt").write_text(_READ_ME, encoding="utf-8")
    except OSError as problem:
        raise RecordsError(
            f"The salon's folder {place.folder} can't be used ({problem.strerror}). Choose one that you may write to."
        ) from problem
    engine = make_engine(place)
    clear_building(place.folder)
    if place.bereft:
        raise RecordsError(
            f"{place.folder} holds files of records, and their database is gone. Nothing was written. Put the database "
            f"back, or name its server ({DATABASE_VARIABLE}), or restore the last backup into a new folder."
        )
    bring_up_to_date(engine, place)
    store = Store(place, engine, who)
    with suppress(RecordsError):  # what can't be tidied now, since another works on it, is tidied at the next start
        store.tidy()
    return store


_READ_ME = """This folder holds a salon's records: private photographs and what was measured, planned and done.

Don't edit, rename or move single files in it: `tressmeter doctor` would miss them. For a copy use `tressmeter backup`,
for one client's data `tressmeter export`, to take a client out for good `tressmeter erase`.
"""
