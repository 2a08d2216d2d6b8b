"""Clients and their consents: found by code or name, changed with every version kept."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from estimator.errors import BadInputError
from estimator.records import model
from estimator.records.consent_scopes import Scope, scope_texts
from estimator.records.errors import ChangedMeanwhileError, ConsentMissingError, NotKeptError
from estimator.records.search_keys import folded
from estimator.records.store import Store
from estimator.records.visit_record import LONGEST_NAME, LONGEST_TEXT, ConsentRecord, check_text


@dataclass(frozen=True)
class ClientDetails:
    """What is known of a client. seen_version : Counted up by each change; hand it back to change what was seen."""

    id: str
    code: str
    name: str
    contact: str
    demo: bool
    seen_version: int


def client_row(session: Session, code_or_id: str) -> model.Client:
    """The client of this code or id. Raises NotKeptError."""
    wanted = select(model.Client).where(~model.Client.removed)
    found = session.scalars(wanted.where(model.Client.code_folded == folded(code_or_id))).first()
    found = found or session.scalars(wanted.where(model.Client.id == code_or_id)).first()
    if found is None:
        raise NotKeptError(
            f"No client has the code {code_or_id[:60]!r}. `tressmeter records find` looks by name, level or date."
        )
    return found


def details_of(row: model.Client) -> ClientDetails:
    """The same as a value."""
    return ClientDetails(row.id, row.code, row.name, row.contact, row.demo, row.version)


def client(store: Store, code: str) -> ClientDetails:
    """The client of this code. Raises NotKeptError."""
    with store.looking() as session:
        return details_of(client_row(session, code))


def found_or_new(session: Session, code: str, name: str, contact: str, demo: bool) -> model.Client:
    """The client of this code, made where there is none; one taken out of sight by an undo comes back."""
    row = session.scalars(select(model.Client).where(model.Client.code_folded == folded(code))).first()
    if row is None:
        row = model.Client(code=code, code_folded=folded(code), name=name, contact=contact, demo=demo)
        session.add(row)
        session.flush()
        return row
    row.removed = False
    row.name = row.name or name
    row.contact = row.contact or contact
    return row


def change_client(store: Store, seen: ClientDetails, **fields: str) -> ClientDetails:
    """The client with another code, name or contact.

    Raises
    ------
    ChangedMeanwhileError : Somebody changed the client since it was seen.
    BadInputError : Another client has the code, or a text can't be kept.
    """
    for name, text in fields.items():
        check_text(text, f"The client's {name}", LONGEST_TEXT if name == "contact" else LONGEST_NAME)
    with store.writing("client") as session:
        row = client_row(session, seen.id)
        if row.version != seen.seen_version:
            raise ChangedMeanwhileError
        if "code" in fields:
            fields["code_folded"] = _free_code(session, row, fields["code"])
        for name, text in fields.items():
            setattr(row, name, text)
        session.flush()
        return details_of(row)


def _free_code(session: Session, row: model.Client, code: str) -> str:
    if not folded(code):
        raise BadInputError("A client needs a code: initials or a word. A name is not needed.")
    other = session.scalars(select(model.Client).where(model.Client.code_folded == folded(code))).first()
    if other is not None and other.id != row.id:
        raise BadInputError(f"Another client has the code {code[:60]!r}. Choose another one.")
    return folded(code)


def earlier_versions(store: Store, code: str) -> list[dict[str, Any]]:
    """What each change of the client's details replaced, the latest first."""
    with store.looking() as session:
        row = client_row(session, code)
        versions = select(model.Version).where(model.Version.row_id == row.id, model.Version.before.is_not(None))
        return [dict(version.before or {}) for version in session.scalars(versions.order_by(model.Version.id.desc()))]


# --- consents


def give_consent(store: Store, code: str, consent: ConsentRecord) -> None:
    """Keep what a client agreed to. Raises NotKeptError, BadInputError."""
    with store.writing("consent given") as session:
        add_consent(session, client_row(session, code), consent)


def add_consent(session: Session, row: model.Client, consent: ConsentRecord) -> None:
    """The consent among the client's; the same one a second time changes nothing."""
    made = consent_row(row.id, consent)
    if any(standing.text == made.text for standing in standing_consents(session, row.id, consent.scope)):
        return
    session.add(made)
    session.flush()


def consent_row(client_id: str, consent: ConsentRecord) -> model.Consent:
    """The consent as a row, not yet among the client's. Raises BadInputError where it does not say how it was given."""
    if not consent.how.strip():
        raise BadInputError("Say how the client agreed: signed, spoken, or by a tap.")
    return model.Consent(
        client_id=client_id,
        scope=consent.scope.value,
        text=check_text(consent.text, "The consent's text") or scope_texts()[consent.scope].text,
        given_on=consent.given_on,
        how=check_text(consent.how, "How the client agreed"),
    )


def standing_consents(session: Session, client_id: str, scope: Scope) -> list[model.Consent]:
    """Consents to one use that have not been taken back."""
    return list(
        session.scalars(
            select(model.Consent).where(
                model.Consent.client_id == client_id,
                model.Consent.scope == scope.value,
                model.Consent.withdrawn_on.is_(None),
                ~model.Consent.removed,
            )
        )
    )


def agreed(session: Session, client_id: str, scope: Scope) -> bool:
    """Whether the client has agreed to this use, and not taken it back."""
    return bool(standing_consents(session, client_id, scope))


def need_consent(session: Session, row: model.Client, scope: Scope) -> None:
    """Raises ConsentMissingError where the client has not agreed to this use."""
    if agreed(session, row.id, scope):
        return
    raise ConsentMissingError(
        f"{row.code} has not agreed to {scope_texts()[scope].what}, so nothing was kept. Ask, then write it into the "
        f'visit file ([[consent]] with scope = "{scope}", given_on and how), or run: '
        f'tressmeter records consent "{row.code}" --scope "{scope}"'
    )


def withdraw_consent(store: Store, code: str, scope: Scope, day: date, how: str) -> int:
    """How many consents to this use the client has taken back with this; each stays on record as withdrawn."""
    with store.writing("consent withdrawn") as session:
        standing = standing_consents(session, client_row(session, code).id, scope)
        for consent in standing:
            consent.withdrawn_on, consent.withdrawn_how = day, how
        return len(standing)
