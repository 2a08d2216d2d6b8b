"""The members of staff who may unlock a paired phone: their names, roles and PINs."""

import sqlite3
import unicodedata
from collections.abc import Sequence
from uuid import uuid4

from estimator.access import pins
from estimator.access.database import AccessDatabase, now_utc
from estimator.access.errors import NotKnownError
from estimator.access.roles import Person, Role
from estimator.access.trail import Happened, note
from estimator.errors import BadInputError

MOST_LETTERS = 60


def add_person(database: AccessDatabase, name: str, role: Role, pin: str) -> Person:
    """A new member of staff. Raises BadInputError for a name that is taken or no name, or a PIN that can't serve."""
    said = _name(name)
    kept = pins.hashed(pins.checked(pin))
    person = Person(uuid4().hex, said, role)
    with database.writing() as rows:
        if any(_folded(each.name) == _folded(said) for each in _people(rows)):
            raise BadInputError(f"{said!r} is among the staff already. Add a letter, so that both can be told apart.")
        rows.execute("INSERT INTO person VALUES (?, ?, ?, ?, NULL)", (person.id, said, role.value, kept))
        note(rows, Happened.PERSON_ADDED, person.id)
    return person


def people(database: AccessDatabase) -> tuple[Person, ...]:
    """The staff as it is now, by name."""
    with database.looking() as rows:
        return _people(rows)


def person_called(database: AccessDatabase, name: str) -> Person:
    """The one of this name. Raises NotKnownError."""
    for person in people(database):
        if _folded(person.name) == _folded(name):
            return person
    raise NotKnownError(
        f"Nobody among the staff is called {name[:MOST_LETTERS]!r}. `tressmeter access people` lists them."
    )


def change_role(database: AccessDatabase, person: Person, role: Role) -> None:
    """This person has another role from the next touch on."""
    with database.writing() as rows:
        rows.execute("UPDATE person SET role = ? WHERE id = ?", (role.value, person.id))
        note(rows, Happened.ROLE_CHANGED, person.id)


def set_pin(database: AccessDatabase, person: Person, pin: str) -> None:
    """This person has another PIN; what was unlocked with the old one is locked. Raises BadInputError."""
    kept = pins.hashed(pins.checked(pin))
    with database.writing() as rows:
        rows.execute("UPDATE person SET pin = ? WHERE id = ?", (kept, person.id))
        _end_sessions(rows, person, "PIN changed")
        note(rows, Happened.PIN_CHANGED, person.id)


def end_person(database: AccessDatabase, person: Person) -> None:
    """This person unlocks nothing any more, and what is unlocked is locked. The trail keeps the id, not the name."""
    with database.writing() as rows:
        rows.execute("UPDATE person SET ended = ?, name = '', pin = '' WHERE id = ?", (now_utc(), person.id))
        _end_sessions(rows, person, "person ended")
        note(rows, Happened.PERSON_ENDED, person.id)


def _end_sessions(rows: sqlite3.Connection, person: Person, why: str) -> None:
    rows.execute(
        "UPDATE session SET ended = ?, why = ? WHERE person = ? AND ended IS NULL", (now_utc(), why, person.id)
    )


def _people(rows: sqlite3.Connection) -> tuple[Person, ...]:
    found: Sequence[sqlite3.Row] = rows.execute("SELECT * FROM person WHERE ended IS NULL").fetchall()
    return tuple(sorted((person_in(row) for row in found), key=lambda person: _folded(person.name)))


def person_in(row: sqlite3.Row) -> Person:
    """The person of a row of the list."""
    return Person(row["id"], row["name"], Role(row["role"]))


def _name(text: str) -> str:
    said = " ".join(unicodedata.normalize("NFC", text).split())
    if not said or len(said) > MOST_LETTERS or any(unicodedata.category(letter)[0] == "C" for letter in said):
        raise BadInputError(f"A name has 1 to {MOST_LETTERS} letters and no control signs. Write it anew.")
    return said


def _folded(name: str) -> str:
    return unicodedata.normalize("NFKC", name).casefold()
