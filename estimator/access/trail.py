"""The audit trail: what happened at the door and what was handed out, by whom and from which phone, in numbers alone.

It holds no name, no address and nothing of a client: people and phones stand in it by the random ids of their lists.
"""

import sqlite3
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from estimator.access.database import AccessDatabase, now_utc


class Happened(StrEnum):
    """What the trail tells of."""

    PERSON_ADDED = "a person was added"
    PERSON_ENDED = "a person was ended"
    ROLE_CHANGED = "a role was changed"
    PIN_CHANGED = "a PIN was changed"
    PAIRING_OFFERED = "a pairing was offered"
    PHONE_PAIRED = "a phone was paired"
    PHONE_REVOKED = "a phone was revoked"
    UNLOCKED = "a right PIN was given"
    WRONG_PIN = "a wrong PIN was given"
    MUST_WAIT = "a phone had to wait"
    LOCKED = "a phone was locked"
    NOT_ALLOWED = "something was asked for that the role does not include"
    EXPORTED = "a client's records were handed out"
    SALON_EXPORTED = "the whole salon's records were handed out"
    ERASED = "a client was erased"
    BACKED_UP = "a backup was written"
    DOOR_OPENED = "the door to the network was opened"
    DOOR_CLOSED = "the door to the network was closed"


@dataclass(frozen=True)
class TrailRow:
    """One row of the trail. number : Its place in the order of events, whatever the clock said. at_utc : ISO 8601."""

    number: int
    at_utc: str
    what: str
    person: str
    phone: str


def note(rows: sqlite3.Connection, what: Happened, person: str = "", phone: str = "") -> int:
    """Write a row into the trail, within the change that it tells of; its number."""
    row = (now_utc(), what.value, person, phone)
    return rows.execute("INSERT INTO trail (at, what, person, phone) VALUES (?, ?, ?, ?)", row).lastrowid or 0


def note_at(folder: Path, what: Happened, person: str = "") -> None:
    """Write a row into the trail of a salon's folder: what was handed out or erased. person : "" at its own machine."""
    with AccessDatabase(folder).writing() as rows:
        note(rows, what, person)


def trail_of(database: AccessDatabase, most: int = 200) -> tuple[TrailRow, ...]:
    """The last rows of the trail, the newest first."""
    with database.looking() as rows:
        found = rows.execute("SELECT * FROM trail ORDER BY number DESC LIMIT ?", (most,)).fetchall()
    return tuple(TrailRow(r["number"], r["at"], r["what"], r["person"] or "", r["phone"] or "") for r in found)
