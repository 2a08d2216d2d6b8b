"""A visit run from its file, kept in the salon's records."""

from dataclasses import replace
from pathlib import Path

from estimator.errors import BadInputError
from estimator.files import load_photo
from estimator.records.place import SalonPlace
from estimator.records.store import open_store
from estimator.records.visit_record import DocumentRecord, VisitRecord
from estimator.records.visits import KeptVisit, keep_visit
from estimator.salon_settings import clock_store
from estimator.visit.keeping import Side, Wanted, clock_records, visit_record
from estimator.visit_file import VisitFile, VisitOutcome, consultation_of, hair_of, load_visit_file, targets_of


def keep_visit_file(
    path: Path, outcome: VisitOutcome, documents: tuple[DocumentRecord, ...], place: SalonPlace
) -> KeptVisit:
    """The visit of the file at `path`, as it was run, in the records at `place`.

    Raises
    ------
    BadInputError : The file names a clock that the salon does not have; nothing was written.
    ConsentMissingError : The client has not agreed to a record; nothing was written.
    RecordsError : The records can't take it; nothing is half kept.
    """
    record = record_of_file(path, outcome, documents)
    mark = load_visit_file(path).clock
    clock = clock_records(clock_store(place.folder), mark, record.day) if mark else ()
    if mark and not clock:
        raise BadInputError(
            f"No clock of the salon was started for the visit {mark!r}, so nothing was kept. Start its zones with "
            "--visit, or take `clock` out of the visit file."
        )
    with open_store(place) as store:
        return keep_visit(store, replace(record, clock=clock))


def record_of_file(path: Path, outcome: VisitOutcome, documents: tuple[DocumentRecord, ...]) -> VisitRecord:
    """The visit as the records take it, with the consents that its file names."""
    written = load_visit_file(path)
    record = visit_record(
        outcome.document.heading,
        _sides(path, written, outcome),
        consultation_of(written),
        outcome.checked,
        Wanted(() if outcome.before.refused else targets_of(path, written, outcome.before), hair_of(written)),
    )
    return replace(
        record,
        client_name=written.client_name,
        contact=written.contact,
        consents=tuple(consent.record for consent in written.consent),
        documents=documents,
    )


def _sides(path: Path, written: VisitFile, outcome: VisitOutcome) -> tuple[Side, ...]:
    before = (written.before, *(also.photo for also in written.before_also))
    sides = [Side("before", outcome.before, _photos(path, before))]
    if written.after and outcome.after is not None:
        after = (written.after, *(also.photo for also in written.after_also))
        sides.append(Side("after", outcome.after, _photos(path, after)))
    return tuple(sides)


def _photos(path: Path, names: tuple[str, ...]) -> tuple[bytes, ...]:
    return tuple(load_photo(path.parent / name) for name in names)
