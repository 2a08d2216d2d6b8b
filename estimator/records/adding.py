"""What is added to a client or a visit later: what was really mixed, what came of it, and notes."""

from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from estimator.errors import BadInputError
from estimator.records import model
from estimator.records.clients import client_row, need_consent
from estimator.records.consent_scopes import Scope
from estimator.records.showing import visit_row
from estimator.records.store import Store
from estimator.records.visit_record import LONGEST_NAME, MixedRecord, OutcomeRecord, check_content, check_text
from estimator.records.visits import mixed_row


def add_mixed(store: Store, visit_id: str, mixed: MixedRecord) -> None:
    """Keep what was really mixed and applied for a bowl of a visit; what was kept before stays beside it.

    Raises
    ------
    NotKeptError : There is no such visit.
    BadInputError : It went on a zone that the visit does not have.
    ConsentMissingError : The client has taken back the consent to a record.
    """
    check_content((mixed.note, *mixed.zones, *(name for name, _ in mixed.shade_grams)))
    with store.writing("mixed") as session:
        visit = visit_row(session, visit_id)
        need_consent(session, session.get_one(model.Client, visit.client_id), Scope.RECORD)
        _check_zones(session, visit.id, mixed.zones)
        session.add(mixed_row(visit.id, mixed))


def _check_zones(session: Session, visit_id: str, told: tuple[str, ...]) -> None:
    """Raises BadInputError, which lists the visit's zones, where one of those told is not among them."""
    zone = model.Zone
    known = session.scalars(select(zone.name).where(zone.visit_id == visit_id).order_by(zone.place)).all()
    strange = [name for name in told if name not in known]
    if strange and not known:
        raise BadInputError("This visit has no zones, so nothing was kept. Leave the zones out.")
    if strange:
        raise BadInputError(
            f"This visit has no zone {strange[0][:40]!r}. Its zones are: {', '.join(known)}. Nothing was kept."
        )


def add_note(store: Store, code: str, day: date, text: str) -> None:
    """Keep a note on a client. Raises NotKeptError, ConsentMissingError, BadInputError."""
    if not text.strip():
        raise BadInputError("The note is empty. Type what is to be remembered.")
    with store.writing("note") as session:
        row = client_row(session, code)
        need_consent(session, row, Scope.RECORD)
        session.add(model.Note(client_id=row.id, visit_id=None, day=day, text=check_text(text, "The note")))


def add_outcome(store: Store, visit_id: str, outcome: OutcomeRecord) -> None:
    """Keep what came of a zone of a visit; what was said before stays beside it.

    Raises
    ------
    BadInputError : Nothing was said, or it can't be kept.
    NotKeptError : There is no such visit.
    ConsentMissingError : The client has taken back the consent to a record.
    """
    if not outcome.told.strip():
        raise BadInputError("Nothing was said of the outcome. Say in a few words what came of it.")
    check_content(outcome.content)
    zone, told = check_text(outcome.zone, "The zone", LONGEST_NAME), check_text(outcome.told, "The outcome")
    with store.writing("outcome") as session:
        visit = visit_row(session, visit_id)
        need_consent(session, session.get_one(model.Client, visit.client_id), Scope.RECORD)
        session.add(model.Outcome(visit_id=visit.id, zone=zone, told=told, content=outcome.content))
