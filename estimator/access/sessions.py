"""A phone unlocked by a person, for a while: begun with a PIN; ended by a touch, by idling, by time, or from afar.

Keys of sessions live in this program's memory alone, and their limits are counted in time that has passed: when the
program ends every phone is locked, and no clock that was set makes a session longer.
"""

import sqlite3
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from threading import RLock
from uuid import uuid4

from estimator.access import pins
from estimator.access.database import AccessDatabase, now_utc
from estimator.access.errors import RefusedError, WaitError
from estimator.access.people import person_in, set_pin
from estimator.access.phones import Phone, new_token
from estimator.access.roles import Person
from estimator.access.trail import Happened, note
from estimator.access.waiting import Elapsed, wait_after

IDLE_SECONDS = 30 * 60.0
ABSOLUTE_SECONDS = 12 * 3600.0
CONFIRMED_SECONDS = 5 * 60.0  # our assumption: long enough to erase one client, too short to be left lying
_WHOSE = """
SELECT person.* FROM session
JOIN person ON person.id = session.person
JOIN phone ON phone.id = session.phone
WHERE session.id = ? AND session.ended IS NULL AND person.ended IS NULL AND phone.ended IS NULL
"""


@dataclass(frozen=True)
class Session:
    """One unlocking. id : Names it in lists, opens nothing. begun_utc : ISO 8601."""

    id: str
    person: Person
    phone: Phone
    begun_utc: str


@dataclass(frozen=True)
class _Held:
    id: str
    phone: str
    begun: float
    touched: float
    confirmed: float | None = None


class Sessions:
    """The sessions of one running door. clock : Seconds that only go forward."""

    def __init__(self, database: AccessDatabase, clock: Callable[[], float] = time.monotonic) -> None:
        self._database = database
        self._clock = clock
        self._held: dict[str, _Held] = {}
        self._elapsed = Elapsed()
        self._waits_noted: set[tuple[str, str]] = set()
        self._lock = RLock()
        with database.writing() as rows:  # a program that died could not say that its sessions ended
            rows.execute("UPDATE session SET ended = ?, why = 'program ended' WHERE ended IS NULL", (now_utc(),))

    def unlock(self, phone: Phone, person_id: str, pin: str) -> str:
        """The key of a new session. Raises WaitError, or RefusedError for a PIN that does not fit."""
        person, number = self._recognised(phone, person_id, pin)
        return self._begin(phone, person, number)

    def change_pin(self, phone: Phone, person_id: str, pin: str, new_pin: str) -> None:
        """Somebody changes their own PIN, by the old one; every phone that they unlocked is locked.

        Raises WaitError or RefusedError as `unlock` does, and BadInputError for a new PIN that can't serve.
        """
        pins.checked(new_pin)
        person, number = self._recognised(phone, person_id, pin)
        self._forget_wrong(phone, person, number)
        set_pin(self._database, person, new_pin)

    def confirm(self, session: str, pin: str) -> None:
        """Whoever unlocked this session gives the PIN once more, before what can't be taken back; it holds for a while.

        Raises WaitError or RefusedError as `unlock` does.
        """
        found = next((each for each in open_sessions(self._database) if each.id == session), None)
        if found is None:
            raise RefusedError("This phone is locked. Unlock it to go on.")
        person, number = self._recognised(found.phone, found.person.id, pin)
        self._forget_wrong(found.phone, person, number)
        with self._lock:
            for key, held in self._held.items():
                if held.id == session:
                    self._held[key] = replace(held, confirmed=self._clock())

    def is_confirmed(self, session: str) -> bool:
        """Whether the PIN was given once more a short while ago in this session."""
        with self._lock:
            given = next((held.confirmed for held in self._held.values() if held.id == session), None)
        return given is not None and self._clock() - given < CONFIRMED_SECONDS

    def _recognised(self, phone: Phone, person_id: str, pin: str) -> tuple[Person, int]:
        """Whose PIN this is, and the try's row in the trail.

        A try is counted before the PIN is looked at, so that many at once are no more than one after the other.
        """
        number = self._count(phone, person_id)
        with self._database.looking() as rows:
            row = rows.execute("SELECT * FROM person WHERE id = ? AND ended IS NULL", (person_id,)).fetchone()
        if not pins.fits(pin, _nobodys() if row is None else row["pin"]) or row is None:
            raise RefusedError("That PIN does not fit, and nothing was done. Try again.")
        return person_in(row), number

    def _count(self, phone: Phone, person_id: str) -> int:
        """The number of this try's row in the trail; it says "wrong" until the PIN is known to be right."""
        with self._lock:
            whose, tries, wait_seconds = self._wrong(phone, person_id)
            left = self._elapsed.left(whose, wait_seconds, self._clock())
            if left > 0.0:
                self._note_wait(whose)
                raise WaitError(left)
            wait_seconds = wait_after(tries + 1)
            with self._database.writing() as rows:
                rows.execute("INSERT OR REPLACE INTO wrong VALUES (?, ?, ?, ?)", (*whose, tries + 1, wait_seconds))
                number = note(rows, Happened.WRONG_PIN, whose[1], phone.id)
            self._elapsed.start(whose, wait_seconds, self._clock())
            self._waits_noted.discard(whose)
            return number

    def _wrong(self, phone: Phone, person_id: str) -> tuple[tuple[str, str], int, float]:
        """Whose tries are counted (strangers to the list as one), how many were wrong, and the wait they brought."""
        with self._database.looking() as rows:
            known = rows.execute("SELECT 1 FROM person WHERE id = ?", (person_id,)).fetchone() is not None
            whose = (phone.id, person_id if known else "")
            kept = rows.execute(
                "SELECT tries, wait_seconds FROM wrong WHERE phone = ? AND person = ?", whose
            ).fetchone()
        return whose, kept["tries"] if kept else 0, kept["wait_seconds"] if kept else 0.0

    def _note_wait(self, whose: tuple[str, str]) -> None:
        """Once a wait, so that a flood of tries is no flood of rows."""
        if whose not in self._waits_noted:
            self._waits_noted.add(whose)
            with self._database.writing() as rows:
                note(rows, Happened.MUST_WAIT, whose[1], whose[0])

    def _begin(self, phone: Phone, person: Person, number: int) -> str:
        key, session = new_token(), uuid4().hex
        self._forget_wrong(phone, person, number)
        with self._lock, self._database.writing() as rows:
            rows.execute(
                "INSERT INTO session VALUES (?, ?, ?, ?, NULL, NULL)", (session, person.id, phone.id, now_utc())
            )
            self._held[key] = _Held(session, phone.id, self._clock(), self._clock())
        return key

    def _forget_wrong(self, phone: Phone, person: Person, number: int) -> None:
        with self._lock, self._database.writing() as rows:
            rows.execute("DELETE FROM wrong WHERE phone = ? AND person = ?", (phone.id, person.id))
            rows.execute("UPDATE trail SET what = ? WHERE number = ?", (Happened.UNLOCKED.value, number))

    def touched(self, key: str, phone: Phone) -> str | None:
        """The id of the session that this key opens on this phone, kept awake by the touch; None once it is over."""
        return self._alive(key, phone, touch=True)

    def alive(self, key: str, phone: Phone) -> bool:
        """Whether this key still opens a session on this phone. Asking does not keep it awake."""
        return self._alive(key, phone, touch=False) is not None

    def _alive(self, key: str, phone: Phone, *, touch: bool) -> str | None:
        with self._lock:
            held = self._held.get(key)
            if held is None or held.phone != phone.id:
                return None
            now = self._clock()
            if now - held.touched > IDLE_SECONDS or now - held.begun > ABSOLUTE_SECONDS:
                self.lock(key, "left idle" if now - held.touched > IDLE_SECONDS else "open for too long")
                return None
            if self._row(held.id) is None:
                del self._held[key]
                return None
            if touch:
                self._held[key] = replace(held, touched=now)
            return held.id

    def person_in(self, session: str) -> Person | None:
        """Whose session this is, with the role as it is now; None once it is over."""
        with self._lock:
            found = [(key, held) for key, held in self._held.items() if held.id == session]
            if not found:
                return None
            key, held = found[0]
            if self._alive(key, Phone(held.phone, "", ""), touch=False) is None:
                return None
        row = self._row(session)
        return None if row is None else person_in(row)

    def _row(self, session: str) -> sqlite3.Row | None:
        """The person of a session that nobody ended, on a phone that is still paired."""
        with self._database.looking() as rows:
            row: sqlite3.Row | None = rows.execute(_WHOSE, (session,)).fetchone()
        return row

    def lock(self, key: str, why: str = "locked by hand") -> None:
        """The session of this key is over."""
        with self._lock:
            held = self._held.pop(key, None)
        if held is not None:
            end_session(self._database, held.id, why)


@cache
def _nobodys() -> str:
    """Stands in for the PIN of a person who is not there, so that a try takes as long."""
    return pins.hashed("493817")


def open_sessions(database: AccessDatabase) -> tuple[Session, ...]:
    """Every session that nobody has ended, in the order of beginning."""
    with database.looking() as rows:
        found = rows.execute(
            "SELECT session.id AS session_id, begun, person.id AS id, name, role, phone, label, paired FROM session"
            " JOIN person ON person.id = session.person JOIN phone ON phone.id = session.phone"
            " WHERE session.ended IS NULL ORDER BY session.rowid"
        ).fetchall()
    return tuple(
        Session(r["session_id"], person_in(r), Phone(r["phone"], r["label"], r["paired"]), r["begun"]) for r in found
    )


def end_session(database: AccessDatabase, session: str, why: str = "ended from the laptop") -> None:
    """A session is over, wherever it runs."""
    with database.writing() as rows:
        row = rows.execute("SELECT person, phone FROM session WHERE id = ? AND ended IS NULL", (session,)).fetchone()
        if row is None:
            return
        rows.execute("UPDATE session SET ended = ?, why = ? WHERE id = ?", (now_utc(), why, session))
        note(rows, Happened.LOCKED, row["person"], row["phone"])
