"""Phones that may ask at the door: paired once by a code that the laptop shows, listed, and revoked when lost.

A code and a token are 256 bits of chance each, and only their SHA-256 is kept: of something nobody can guess, one quick
hash is enough, and who reads the list still holds no key.
"""

import hashlib
import secrets
import sqlite3
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from uuid import uuid4

from estimator.access.database import AccessDatabase, now_utc
from estimator.access.errors import NotKnownError, RefusedError
from estimator.access.trail import Happened, note

TOKEN_BYTES = 32  # 256 bits; OWASP ASVS 5.0, 7.2.3 asks for 128
PAIRING_MINUTES = 5
MOST_LETTERS = 40
_NO_CODE = "This code opens nothing: it was used, or its five minutes are over. Have the laptop show a new one."


@dataclass(frozen=True)
class Phone:
    """A paired device. id : Names it in the trail. label : As the salon calls it. paired_utc : ISO 8601."""

    id: str
    label: str
    paired_utc: str


def new_token() -> str:
    """A key nobody can guess, in letters that an address and a cookie can carry."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def offer_pairing(database: AccessDatabase) -> str:
    """A code that pairs one phone within five minutes; every code that was offered before is void."""
    code = new_token()
    ends = (datetime.now(UTC) + timedelta(minutes=PAIRING_MINUTES)).isoformat(timespec="seconds")
    with database.writing() as rows:
        rows.execute("DELETE FROM pairing")
        rows.execute("INSERT INTO pairing VALUES (?, ?)", (_hash(code), ends))
        note(rows, Happened.PAIRING_OFFERED)
    return code


def pairs(database: AccessDatabase, code: str) -> bool:
    """Whether this code would pair a phone now. Asking does not use it up."""
    with database.looking() as rows:
        return _stands(rows, code)


def pair(database: AccessDatabase, code: str, label: str) -> str:
    """The new phone's token, told once and never again; the code is used up. Raises RefusedError."""
    token = new_token()
    phone = uuid4().hex
    with database.writing() as rows:
        if not _stands(rows, code):
            raise RefusedError(_NO_CODE)
        rows.execute("DELETE FROM pairing")
        rows.execute(
            "INSERT INTO phone (id, label, token_hash, paired) VALUES (?, ?, ?, ?)",
            (phone, _label(label), _hash(token), now_utc()),
        )
        note(rows, Happened.PHONE_PAIRED, phone=phone)
    return token


def phones(database: AccessDatabase) -> tuple[Phone, ...]:
    """Every phone that is paired now, in the order of pairing."""
    with database.looking() as rows:
        found = rows.execute("SELECT * FROM phone WHERE ended IS NULL ORDER BY rowid").fetchall()
    return tuple(_phone(row) for row in found)


def phone_of(database: AccessDatabase, token: str) -> Phone | None:
    """The phone that holds this token; None where there is none, or it was revoked."""
    with database.looking() as rows:
        row = rows.execute("SELECT * FROM phone WHERE token_hash = ? AND ended IS NULL", (_hash(token),)).fetchone()
    return None if row is None else _phone(row)


def phone_called(database: AccessDatabase, label: str) -> Phone:
    """The one phone of this label or of an id that begins so. Raises NotKnownError."""
    paired = phones(database)
    found = [each for each in paired if each.label.casefold() == label.casefold()] or [
        each for each in paired if len(label) >= 6 and each.id.startswith(label)
    ]
    if len(found) != 1:
        told = "No paired phone is" if not found else "More than one phone is"
        raise NotKnownError(
            f"{told} called {label[:MOST_LETTERS]!r}. `tressmeter access phones` lists them with their ids."
        )
    return found[0]


def revoke(database: AccessDatabase, phone: Phone) -> None:
    """This phone opens nothing any more, and what it had unlocked is locked."""
    with database.writing() as rows:
        rows.execute("UPDATE phone SET ended = ?, token_hash = id WHERE id = ?", (now_utc(), phone.id))
        rows.execute(
            "UPDATE session SET ended = ?, why = 'phone revoked' WHERE phone = ? AND ended IS NULL",
            (now_utc(), phone.id),
        )
        note(rows, Happened.PHONE_REVOKED, phone=phone.id)


def _stands(rows: sqlite3.Connection, code: str) -> bool:
    row = rows.execute("SELECT ends FROM pairing WHERE code_hash = ?", (_hash(code),)).fetchone()
    return row is not None and now_utc() < row["ends"]


def _phone(row: sqlite3.Row) -> Phone:
    return Phone(row["id"], row["label"], row["paired"])


def _label(text: str) -> str:
    said = " ".join("".join(letter for letter in text if letter.isprintable()).split())
    return said[:MOST_LETTERS] or "phone"


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()
