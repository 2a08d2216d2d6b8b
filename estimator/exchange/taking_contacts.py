"""Contacts into the records: looked at first, duplicates shown, and never a new client who has not agreed."""

from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from sqlalchemy import select
from sqlalchemy.orm import Session

from estimator.exchange.contacts import Agreed, Contact, initials
from estimator.records import model
from estimator.records.clients import add_consent, agreed, consent_row, found_or_new
from estimator.records.consent_scopes import Scope
from estimator.records.model_base import new_id
from estimator.records.search_keys import folded
from estimator.records.store import Store
from estimator.records.visit_record import LONGEST_NAME, LONGEST_TEXT, ConsentRecord, check_text


class Fate(StrEnum):
    """What becomes of one contact."""

    NEW = "new"
    FILLED_IN = "fills in"
    KNOWN = "known"
    DUPLICATE = "duplicate"
    TO_BE_ASKED = "to be asked"
    UNUSABLE = "unusable"


TAKEN = (Fate.NEW, Fate.FILLED_IN)
RECORD_CONSENT_STANDS = (
    model.Consent.scope == Scope.RECORD.value,
    model.Consent.withdrawn_on.is_(None),
    ~model.Consent.removed,
)


@dataclass(frozen=True)
class Judged:
    """One contact of the file and what becomes of it. why : In words; "" where nothing needs saying."""

    number: int
    contact: Contact
    fate: Fate
    why: str = ""


@dataclass(frozen=True)
class Choice:
    """What a person says of the whole file.

    agreed : When and how everybody in it agreed to the record, where the file does not say it itself; else None.
    also : Numbers of contacts that look like somebody else and are somebody new.
    """

    agreed: Agreed | None = None
    also: frozenset[int] = frozenset()


@dataclass(frozen=True)
class _Held:
    """Clients in the records, by id, by folded code and by what they share with themselves.

    agreed : Ids of those whose consent to the record stands.
    """

    by_id: dict[str, model.Client]
    by_code: dict[str, model.Client]
    by_mark: dict[tuple[str, str], str]
    agreed: frozenset[str]


def preview(store: Store, contacts: tuple[Contact, ...], choice: Choice) -> tuple[Judged, ...]:
    """What would become of each contact; nothing is written."""
    with store.looking() as session:
        return _judge(session, contacts, choice)


def take_in(store: Store, contacts: tuple[Contact, ...], choice: Choice) -> tuple[Judged, ...]:
    """What became of each contact: all in one change, which one undo takes back.

    Raises
    ------
    BadInputError : A text can't be kept; nothing was.
    """
    with store.writing("clients taken in") as session:
        judged = _judge(session, contacts, choice)
        there = set(session.scalars(select(model.Client.code_folded)))
        for each in judged:
            if each.fate in TAKEN and folded(each.contact.code) in there:
                _change(session, each.contact)
            elif each.fate in TAKEN:
                session.add_all(_new_rows(each.contact))
    return judged


def _change(session: Session, contact: Contact) -> None:
    """Fill in a client who is there, or bring back one who was taken out of sight."""
    row = found_or_new(session, contact.code, contact.name, contact.contact, demo=False)
    if contact.agreed is not None and not agreed(session, row.id, Scope.RECORD):
        add_consent(session, row, _consent(contact.agreed))


def _new_rows(contact: Contact) -> tuple[model.Client, model.Consent]:
    """A new client with the consent, written with all the others at the end: one by one thousands take minutes."""
    assert contact.agreed is not None
    code, name, ways = contact.code, contact.name, contact.contact
    client = model.Client(id=new_id(), code=code, code_folded=folded(code), name=name, contact=ways, demo=False)
    return client, consent_row(client.id, _consent(contact.agreed))


def _consent(agreed: Agreed) -> ConsentRecord:
    return ConsentRecord(Scope.RECORD, agreed.on, agreed.how)


def _judge(session: Session, contacts: tuple[Contact, ...], choice: Choice) -> tuple[Judged, ...]:
    held = _held(session)
    codes = set(held.by_code)
    seen: dict[tuple[str, str], int] = {}
    judged = []
    for number, contact in enumerate(contacts, start=1):
        contact = replace(contact, agreed=contact.agreed or choice.agreed)
        each = _judge_one(held, seen, Judged(number, contact, Fate.NEW), choice.also)
        if each.fate is Fate.NEW:
            each = replace(each, contact=replace(each.contact, code=_free_code(each.contact, held, codes)))
            codes.add(folded(each.contact.code))
        judged.append(each)
        for mark in contact.marks:
            seen.setdefault(mark, number)
    return tuple(judged)


def _held(session: Session) -> _Held:
    rows = list(session.scalars(select(model.Client)))
    shown = [row for row in rows if not row.removed]
    marks = {mark: row.code for row in shown for mark in Contact(row.name or row.code, row.contact).marks}
    standing = select(model.Consent.client_id).where(*RECORD_CONSENT_STANDS)
    by_id, by_code = {row.id: row for row in shown}, {row.code_folded: row for row in rows}
    return _Held(by_id, by_code, marks, frozenset(session.scalars(standing)))


def _judge_one(held: _Held, seen: dict[tuple[str, str], int], each: Judged, also: Collection[int]) -> Judged:
    contact = each.contact
    if not folded(contact.name) and not folded(contact.code):
        return replace(each, fate=Fate.UNUSABLE, why="It has neither a name nor a code.")
    for text, what, most in ((contact.name, "name", LONGEST_NAME), (contact.code, "code", LONGEST_NAME),
                             (contact.contact, "contact", LONGEST_TEXT)):  # fmt: skip
        check_text(text, f"The {what} of contact {each.number}", most)
    row = held.by_id.get(contact.uid) or (held.by_code.get(folded(contact.code)) if contact.code else None)
    if row is not None and (contact.uid == row.id or not row.removed):
        return _known(held, row, each)
    twins = _twins(contact, held, seen) if each.number not in also else []
    if twins:
        return replace(each, fate=Fate.DUPLICATE, why=f"It shares {' and '.join(twins)}.")
    if contact.agreed is None:
        return replace(each, fate=Fate.TO_BE_ASKED, why="The file does not say that this person agreed to a record.")
    return each


def _known(held: _Held, row: model.Client, each: Judged) -> Judged:
    contact = replace(each.contact, code=row.code)
    filled = [what for what in ("name", "contact") if getattr(contact, what) and not getattr(row, what)]
    differs = [what for what in ("name", "contact") if getattr(contact, what) and
               getattr(row, what) and getattr(contact, what) != getattr(row, what)]  # fmt: skip
    if row.id not in held.agreed and contact.agreed is None:
        return Judged(each.number, contact, Fate.TO_BE_ASKED, f"{row.code} has not agreed to a record.")
    kept = f" The records keep their own {' and '.join(differs)}." if differs else ""
    if filled:
        return Judged(each.number, contact, Fate.FILLED_IN, f"{' and '.join(filled)} of {row.code}.{kept}")
    return Judged(each.number, contact, Fate.KNOWN, f"as {row.code}.{kept}")


def _twins(contact: Contact, held: _Held, seen: dict[tuple[str, str], int]) -> list[str]:
    """Whom the contact resembles, and by what."""
    found = [(kind, held.by_mark[kind, key]) for kind, key in contact.marks if (kind, key) in held.by_mark]
    inside = [(kind, f"number {seen[kind, key]}") for kind, key in contact.marks if (kind, key) in seen]
    return sorted({f"the {kind} of {whom}" for kind, whom in (*found, *inside)})


def _free_code(contact: Contact, held: _Held, taken: set[str]) -> str:
    """The code of a new client: the file's own, else initials, with a number where they are taken.

    A client of this code and name who was taken out of sight comes back under it.
    """
    wanted = contact.code.strip() or initials(contact.name)
    there = held.by_code.get(folded(wanted))
    back = there is not None and there.removed and bool(contact.code) and folded(there.name) == folded(contact.name)
    if folded(wanted) not in taken or back:
        return wanted
    number = 2
    while folded(f"{wanted} {number}") in taken:
        number += 1
    return f"{wanted} {number}"


def counts(judged: Iterable[Judged]) -> Counter[Fate]:
    """How many contacts meet each fate."""
    return Counter(each.fate for each in judged)


def contacts_kept(store: Store, demo: bool = False) -> tuple[Contact, ...]:
    """Every client who has agreed to the record and not taken it back, by code; demo clients only where asked for."""
    with store.looking() as session:
        rows = session.scalars(
            select(model.Client)
            .where(~model.Client.removed, model.Client.demo.is_(demo))
            .order_by(model.Client.code_folded)
        ).all()
        wanted = select(model.Consent).where(*RECORD_CONSENT_STANDS)
        standing = {each.client_id: each for each in session.scalars(wanted.order_by(model.Consent.given_on.desc()))}
        return tuple(
            Contact(row.name, row.contact, row.code, row.id, Agreed(standing[row.id].given_on, standing[row.id].how))
            for row in rows
            if row.id in standing
        )
