"""What a salon remembers of one client, shown only while the consent for it stands."""

from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from estimator.records import model
from estimator.records.clients import ClientDetails, agreed, client_row, details_of
from estimator.records.consent_scopes import Scope
from estimator.records.errors import ConsentMissingError
from estimator.records.quotes import quote_of_row
from estimator.records.search_keys import folded
from estimator.records.showing import visit_row
from estimator.records.store import Store
from estimator.records.visit_record import QuoteRecord

_Row = TypeVar("_Row", model.Consent, model.Note, model.Quote, model.Consultation)


@dataclass(frozen=True)
class KeptConsent:
    """A consent with the very text that was shown; withdrawn_on is None while it stands."""

    scope: Scope
    text: str
    given_on: date
    how: str
    withdrawn_on: date | None
    withdrawn_how: str


@dataclass(frozen=True)
class KeptNote:
    """A note with its day."""

    day: date
    text: str


@dataclass(frozen=True)
class KeptConsultation:
    """The answers of one day, as they were given."""

    day: date
    facts: dict[str, Any]


@dataclass(frozen=True)
class ClientMemory:
    """One client. agreed : To which uses, on what day; without the record nothing but details and consents is told.

    consultations : The newest first; empty without the consent to health answers. notes, quotes : The newest first.
    """

    details: ClientDetails
    consents: tuple[KeptConsent, ...]
    notes: tuple[KeptNote, ...]
    quotes: tuple[QuoteRecord, ...]
    consultations: tuple[KeptConsultation, ...]

    @property
    def agreed(self) -> dict[Scope, date]:
        return {each.scope: each.given_on for each in self.consents if each.withdrawn_on is None}


@dataclass(frozen=True)
class VisitFiles:
    """Files of one visit. pictures : Side, and hash of the small picture. papers : Ending and hash of each report."""

    pictures: tuple[tuple[str, str], ...]
    papers: tuple[tuple[str, str], ...]


def client_memory(store: Store, code: str) -> ClientMemory:
    """What is remembered of the client of this code or id. Raises NotKeptError."""
    with store.looking() as session:
        row = client_row(session, code)
        record, health = (agreed(session, row.id, scope) for scope in (Scope.RECORD, Scope.HEALTH))
        return ClientMemory(
            details_of(row),
            tuple(map(_consent, session.scalars(_of(model.Consent, row.id)))),
            tuple(KeptNote(n.day, n.text) for n in session.scalars(_of(model.Note, row.id))) if record else (),
            tuple(map(quote_of_row, session.scalars(_of(model.Quote, row.id)))) if record else (),
            _consultations(session, row.id) if record and health else (),
        )


def _of(table: type[_Row], client_id: str) -> Select[_Row]:
    """The client's rows of one table that are in sight, the last one written first: by number, not by the clock."""
    told = model.Version
    rows = select(table).join(told, told.row_id == table.id).where(told.before.is_(None))
    return rows.where(table.client_id == client_id, ~table.removed).order_by(told.change_sequence.desc(), told.id)


def _consent(row: model.Consent) -> KeptConsent:
    return KeptConsent(Scope(row.scope), row.text, row.given_on, row.how, row.withdrawn_on, row.withdrawn_how)


def _consultations(session: Session, client_id: str) -> tuple[KeptConsultation, ...]:
    """Those whose visit is in sight still."""
    visit, kept = model.Visit, model.Consultation
    seen = select(visit.consultation_id).where(visit.client_id == client_id, ~visit.removed)
    rows = session.scalars(_of(kept, client_id).where(kept.id.in_(seen)))
    return tuple(KeptConsultation(row.day, dict(row.facts)) for row in rows)


def visit_files(store: Store, visit_id: str) -> VisitFiles:
    """Small pictures and reports of one visit, in their order.

    Raises
    ------
    NotKeptError : There is no such visit.
    ConsentMissingError : The client has taken back the consent to the record.
    """
    with store.looking() as session:
        visit = visit_row(session, visit_id)
        if not agreed(session, visit.client_id, Scope.RECORD):
            raise ConsentMissingError("The client has taken back the consent to the record, so no visit is shown.")
        photo, paper = model.Photo, model.Document
        photos = select(photo).where(photo.visit_id == visit.id, photo.thumbnail_sha256 != "").order_by(photo.place)
        papers = select(paper).where(paper.visit_id == visit.id).order_by(paper.ending.desc())
        return VisitFiles(
            tuple((row.side, row.thumbnail_sha256) for row in session.scalars(photos)),
            tuple((row.ending, row.sha256) for row in session.scalars(papers)),
        )


def with_consent(store: Store, codes: tuple[str, ...]) -> set[str]:
    """Which of the clients of these codes agree to the record; of the others a list tells no visit."""
    client, consent = model.Client, model.Consent
    stands = (
        select(client.code)
        .join(consent, consent.client_id == client.id)
        .where(client.code_folded.in_({folded(code) for code in codes}))
        .where(consent.scope == Scope.RECORD.value, consent.withdrawn_on.is_(None), ~consent.removed)
    )
    with store.looking() as session:
        return set(session.scalars(stands))
