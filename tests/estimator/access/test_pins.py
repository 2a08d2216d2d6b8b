"""PINs: what may be one, what is kept, and how rarely it can be tried."""

import base64
import hashlib
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from estimator.access import pins
from estimator.access.errors import RefusedError, WaitError
from estimator.access.people import add_person, set_pin
from estimator.access.roles import Role
from estimator.access.waiting import wait_after
from estimator.errors import BadInputError
from tests.estimator.access.conftest import OTHER_PIN, PIN

HOUR_SECONDS = 3600.0


@pytest.mark.parametrize(
    "pin",
    ["12345", "1234567890123", "12a456", "", "١٢٣٤٥٦", "000000", "123456", "987654", "121212", "123123", "112233"],
)
def test_what_can_not_serve_as_a_pin(pin):
    with pytest.raises(BadInputError):
        pins.checked(pin)


@pytest.mark.parametrize("pin", ["482915", "73026419", "905172"])
def test_what_can(pin):
    assert pins.checked(pin) == pin


@pytest.mark.slow
def test_a_pin_is_kept_as_scrypt_at_the_costs_the_guidance_asks_for():
    # OWASP Password Storage Cheat Sheet: scrypt N = 2^17, r = 8, p = 1 (from memory). The key: hashlib, from outside.
    kept = pins.hashed(PIN)
    name, cost, block, lanes, salt, key = kept.split("$")
    assert (name, int(cost), int(block), int(lanes)) == ("scrypt", 2**17, 8, 1)
    expected = hashlib.scrypt(
        PIN.encode(), salt=base64.b64decode(salt), n=2**17, r=8, p=1, maxmem=2**28, dklen=len(base64.b64decode(key))
    )
    assert base64.b64decode(key) == expected
    assert PIN not in kept
    assert pins.hashed(PIN) != kept  # a salt of its own each time


def test_scrypt_agrees_with_the_published_vector():
    # RFC 7914, section 12, second vector: P = "password", S = "NaCl", N = 1024, r = 8, p = 16, dkLen = 64.
    made = pins._key("password", b"NaCl", 1024, 8, 16)
    assert made.hex().startswith("fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162")


def test_a_try_takes_as_long_for_somebody_who_is_not_there(door):
    assert pins.fits("493817", pins.hashed("493817"))
    for person in (door.owner.id, "nobody"):
        with pytest.raises(RefusedError, match="does not fit"):
            door.sessions.unlock(door.phone, person, OTHER_PIN)


@pytest.mark.parametrize("tries", [500, pytest.param(10_000, marks=pytest.mark.slow)])
def test_at_most_fifteen_tries_are_looked_at_in_the_first_hour(door, tries):
    # Our own rule: of 10,000 tries in an hour at most 15 are looked at.
    looked_at = _tries(door, door.sessions, tries, HOUR_SECONDS / tries)
    assert 5 <= looked_at <= 15


def _tries(door, sessions, number: int, step_seconds: float) -> int:
    looked_at = 0
    for _ in range(number):
        try:
            sessions.unlock(door.phone, door.owner.id, OTHER_PIN)
        except WaitError:
            pass
        except RefusedError:
            looked_at += 1
        door.clock.now += step_seconds
    return looked_at


def test_twenty_at_once_are_no_more_than_one_after_the_other(door):
    def one_try(_):
        try:
            door.sessions.unlock(door.phone, door.owner.id, OTHER_PIN)
        except WaitError:
            return 0
        except RefusedError:
            return 1
        return 100

    with ThreadPoolExecutor(20) as crowd:
        assert sum(crowd.map(one_try, range(60))) == 5


def test_the_wait_survives_a_restart_and_a_clock_set_forward(door, monkeypatch):
    _tries(door, door.sessions, 9, 500.0)
    with pytest.raises((WaitError, RefusedError)):
        door.sessions.unlock(door.phone, door.owner.id, OTHER_PIN)
    again = door.restarted()
    monkeypatch.setattr(time, "time", lambda: 4_000_000_000.0)  # ten years on, by the wall clock
    with pytest.raises(WaitError) as told:
        again.unlock(door.phone, door.owner.id, PIN)
    assert told.value.seconds > 400.0
    door.clock.now += told.value.seconds + 1.0
    assert again.unlock(door.phone, door.owner.id, PIN)


def test_the_right_pin_ends_the_counting(door):
    _tries(door, door.sessions, 4, 0.0)
    assert door.sessions.unlock(door.phone, door.owner.id, PIN)
    assert _tries(door, door.sessions, 10, 0.0) == 5


def test_a_colleagues_right_pin_frees_nobody_elses_count(door):
    colleague = add_person(door.database, "Bram", Role.COLOURIST, OTHER_PIN)
    looked_at = 0
    for _ in range(20):
        looked_at += _tries(door, door.sessions, 1, 0.0)
        door.sessions.unlock(door.phone, colleague.id, OTHER_PIN)
    assert looked_at == 5


def test_who_plays_with_one_phone_locks_nobody_out_on_another(door):
    second = door.another_phone()
    _tries(door, door.sessions, 50, 0.0)
    assert door.sessions.unlock(second, door.owner.id, PIN)


def test_a_new_pin_locks_what_the_old_one_opened(door):
    key = door.sessions.unlock(door.phone, door.owner.id, PIN)
    set_pin(door.database, door.owner, OTHER_PIN)
    assert door.sessions.touched(key, door.phone) is None
    with pytest.raises(RefusedError):
        door.sessions.unlock(door.phone, door.owner.id, PIN)


def test_the_wait_never_shrinks_and_ends_at_a_quarter_of_an_hour():
    waits = [wait_after(wrong) for wrong in range(60)]
    assert waits == sorted(waits)
    assert waits[:5] == [0.0] * 5
    assert waits[-1] == 900.0


@pytest.mark.parametrize("typed", [f" {PIN}", f"{PIN} ", f"{PIN}0", PIN[:-1], PIN.translate({ord("4"): "٤"})])
def test_a_pin_is_looked_at_as_it_was_typed(door, typed):
    with pytest.raises(RefusedError):
        door.sessions.unlock(door.phone, door.owner.id, typed)


def test_a_pin_stays_good_for_years(door):
    door.clock.now += 20 * 365 * 86400.0
    assert door.sessions.unlock(door.phone, door.owner.id, PIN)
