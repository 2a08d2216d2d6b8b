"""A door with a clock of its own, a cheap PIN, an owner and a paired phone."""

from dataclasses import dataclass
from pathlib import Path

import pytest

from estimator.access import people, phones, pins
from estimator.access.database import AccessDatabase
from estimator.access.roles import Person, Role
from estimator.access.sessions import Sessions

PIN, OTHER_PIN = "482915", "730264"


@dataclass
class Clock:
    """Seconds that go forward when a test says so."""

    now: float = 1000.0

    def __call__(self) -> float:
        return self.now


@dataclass
class Door:
    """All that a test needs of one salon's door."""

    database: AccessDatabase
    clock: Clock
    sessions: Sessions
    owner: Person
    phone: phones.Phone
    token: str

    def restarted(self) -> Sessions:
        """The door after its program was ended and begun again, on the same folder."""
        return Sessions(self.database, self.clock)

    def another_phone(self, label: str = "second phone") -> phones.Phone:
        return phones.phone_of(self.database, phones.pair(self.database, phones.offer_pairing(self.database), label))


@pytest.fixture
def cheap_pins(monkeypatch: pytest.MonkeyPatch) -> None:
    """PINs hashed at little cost: what is asked here is when a try counts, not how long one takes."""
    monkeypatch.setattr(pins, "COST", 2**4)


@pytest.fixture
def door(tmp_path: Path, cheap_pins: None) -> Door:
    database = AccessDatabase(tmp_path)
    owner = people.add_person(database, "Ilse", Role.OWNER, PIN)
    token = phones.pair(database, phones.offer_pairing(database), "chair one")
    clock = Clock()
    phone = phones.phone_of(database, token)
    return Door(database, clock, Sessions(database, clock), owner, phone, token)
