"""A visit that is kept, as papers: its record, and the letter to the client.

Not among the verbs of `estimator.visit` itself, so that a reading never waits for what only records need.
"""

from typing import TYPE_CHECKING

from estimator.records.whole_visit import whole_visit
from estimator.reports.client_letter import ClientLetter
from estimator.reports.composing_record import compose_record
from estimator.reports.kept_letter import kept_letter
from estimator.reports.record_sheet import RecordSheet

if TYPE_CHECKING:
    from estimator.records.store import Store


def visit_record_of(store: "Store", visit_id: str, with_name: bool = False) -> RecordSheet:
    """The record of the visit of this id, or of the beginning of one, ready for `reports.visit_record` to render.

    with_name : The client's name beside the code, where one is kept.
    Raises
    ------
    NotKeptError : There is no such visit.
    ConsentMissingError : The client has taken back the consent to the record.
    """
    return compose_record(whole_visit(store, visit_id), with_name)


def letter_about(store: "Store", visit_id: str) -> ClientLetter:
    """The letter to the client about the visit of this id. Raises NotKeptError, ConsentMissingError."""
    return kept_letter(whole_visit(store, visit_id))
