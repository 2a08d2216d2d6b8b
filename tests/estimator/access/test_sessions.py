"""Sessions, phones and people: who gets in, for how long, and how it ends."""

import pytest

from estimator.access import people, phones
from estimator.access.database import AccessDatabase
from estimator.access.errors import NotKnownError, RefusedError, WaitError
from estimator.access.phones import PAIRING_MINUTES, Phone
from estimator.access.roles import RIGHTS, NotAllowedError, Person, Right, Role
from estimator.access.sessions import ABSOLUTE_SECONDS, CONFIRMED_SECONDS, IDLE_SECONDS, end_session, open_sessions
from estimator.access.trail import Happened, trail_of
from estimator.errors import BadInputError
from estimator.records.place import ACCESS_FILE
from tests.estimator.access.conftest import OTHER_PIN, PIN


def test_an_idle_session_ends_and_a_used_one_lives_on(door):
    key = door.sessions.unlock(door.phone, door.owner.id, PIN)
    for _ in range(3):
        door.clock.now += IDLE_SECONDS - 1.0
        assert door.sessions.touched(key, door.phone)
    door.clock.now += IDLE_SECONDS + 1.0
    assert door.sessions.touched(key, door.phone) is None


def test_being_looked_at_keeps_no_session_awake(door):
    key = door.sessions.unlock(door.phone, door.owner.id, PIN)
    door.clock.now += IDLE_SECONDS - 1.0
    assert door.sessions.alive(key, door.phone)
    door.clock.now += 2.0
    assert not door.sessions.alive(key, door.phone)


def test_no_session_outlives_the_day(door):
    key = door.sessions.unlock(door.phone, door.owner.id, PIN)
    while door.clock.now < 1000.0 + ABSOLUTE_SECONDS - 700.0:
        door.clock.now += 600.0
        assert door.sessions.touched(key, door.phone)
    door.clock.now += 800.0
    assert door.sessions.touched(key, door.phone) is None


def test_each_unlocking_has_a_key_of_its_own_of_256_bits(door):
    # OWASP ASVS 5.0, 7.2.3 and 7.2.4: at least 128 bits, and a new token at each sign-in. 6 bits a letter of base64.
    keys = {door.sessions.unlock(door.phone, door.owner.id, PIN) for _ in range(20)}
    assert len(keys) == 20
    assert all(len(key) * 6 >= 256 for key in keys)


def test_a_key_opens_nothing_on_another_phone(door):
    key = door.sessions.unlock(door.phone, door.owner.id, PIN)
    assert door.sessions.touched(key, door.another_phone()) is None


@pytest.mark.parametrize("end", ["lock", "afar", "revoke", "person", "restart"])
def test_every_way_a_session_ends_closes_it_for_good(door, end):
    key = door.sessions.unlock(door.phone, door.owner.id, PIN)
    session = open_sessions(door.database)[0].id
    assert door.sessions.person_in(session) == door.owner
    asked = door.sessions
    if end == "lock":
        door.sessions.lock(key)
    elif end == "afar":
        end_session(door.database, session)
    elif end == "revoke":
        phones.revoke(door.database, door.phone)
    elif end == "person":
        people.end_person(door.database, door.owner)
    else:
        asked = door.restarted()
    assert asked.touched(key, door.phone) is None
    assert asked.person_in(session) is None
    assert not open_sessions(door.database)


def test_a_role_that_changes_holds_from_the_next_touch(door):
    door.sessions.unlock(door.phone, door.owner.id, PIN)
    session = open_sessions(door.database)[0].id
    people.change_role(door.database, door.owner, Role.VIEWER)
    person = door.sessions.person_in(session)
    assert person is not None
    assert not person.may(Right.WORK)


def test_each_role_may_what_the_one_below_may_and_more():
    assert RIGHTS[Role.VIEWER] < RIGHTS[Role.COLOURIST] < RIGHTS[Role.OWNER] == set(Right)
    with pytest.raises(NotAllowedError, match="owner"):
        Person("1", "Bram", Role.COLOURIST).must(Right.HAND_OUT)


def test_a_code_pairs_one_phone_once(door):
    code = phones.offer_pairing(door.database)
    assert phones.pairs(door.database, code)
    token = phones.pair(door.database, code, "tablet")
    assert phones.phone_of(door.database, token).label == "tablet"
    assert not phones.pairs(door.database, code)
    with pytest.raises(RefusedError):
        phones.pair(door.database, code, "thief")


def test_a_new_code_voids_the_one_before_it(door):
    old = phones.offer_pairing(door.database)
    phones.offer_pairing(door.database)
    with pytest.raises(RefusedError):
        phones.pair(door.database, old, "late")


def test_a_code_ends_after_its_minutes(door, monkeypatch):
    code = phones.offer_pairing(door.database)
    monkeypatch.setattr(phones, "now_utc", lambda: "2999-01-01T00:00:00+00:00")
    assert PAIRING_MINUTES == 5
    with pytest.raises(RefusedError):
        phones.pair(door.database, code, "late")


def test_a_token_of_another_salon_opens_nothing(door, tmp_path):
    elsewhere = AccessDatabase(tmp_path / "another salon")
    token = phones.pair(elsewhere, phones.offer_pairing(elsewhere), "theirs")
    assert phones.phone_of(elsewhere, token) is not None
    assert phones.phone_of(door.database, token) is None
    assert phones.phone_of(door.database, "") is None


def test_no_secret_stands_in_the_file(door, tmp_path):
    code = phones.offer_pairing(door.database)
    key = door.sessions.unlock(door.phone, door.owner.id, PIN)
    content = (tmp_path / ACCESS_FILE).read_bytes()
    for secret in (PIN, door.token, code, key):
        assert secret.encode() not in content


def test_the_trail_tells_what_happened_and_names_nobody(door):
    with pytest.raises(RefusedError):
        door.sessions.unlock(door.phone, door.owner.id, OTHER_PIN)
    key = door.sessions.unlock(door.phone, door.owner.id, PIN)
    door.sessions.lock(key)
    phones.revoke(door.database, door.phone)
    rows = trail_of(door.database)
    assert [row.what for row in reversed(rows)] == [
        Happened.PERSON_ADDED,
        Happened.PAIRING_OFFERED,
        Happened.PHONE_PAIRED,
        Happened.WRONG_PIN,
        Happened.UNLOCKED,
        Happened.LOCKED,
        Happened.PHONE_REVOKED,
    ]
    assert [row.number for row in rows] == sorted((row.number for row in rows), reverse=True)
    told = repr(rows)
    assert "Ilse" not in told
    assert "chair one" not in told


def test_a_name_is_given_once_whatever_its_letters_size(door):
    with pytest.raises(BadInputError, match="among the staff"):
        people.add_person(door.database, "ILSE", Role.VIEWER, OTHER_PIN)


@pytest.mark.parametrize("name", ["", "   ", "x" * 61, "a\x00b", "a\u202eb"])
def test_what_is_no_name(door, name):
    with pytest.raises(BadInputError):
        people.add_person(door.database, name, Role.VIEWER, OTHER_PIN)


def test_who_was_ended_leaves_no_name(door, tmp_path):
    people.end_person(door.database, door.owner)
    assert not people.people(door.database)
    assert b"Ilse" not in (tmp_path / ACCESS_FILE).read_bytes()
    with pytest.raises(NotKnownError):
        people.person_called(door.database, "Ilse")


def test_phones_are_found_by_label_or_id_and_never_by_guess(door):
    assert phones.phone_called(door.database, "CHAIR ONE") == door.phone
    assert phones.phone_called(door.database, door.phone.id[:8]) == door.phone
    door.another_phone("chair one")
    for said in ("chair one", "chair", ""):
        with pytest.raises(NotKnownError):
            phones.phone_called(door.database, said)


def test_a_label_can_hold_no_control_sign(door):
    labelled: Phone = door.another_phone("kitchen\x00\n\u202e phone" + "x" * 99)
    assert labelled.label.isprintable()
    assert len(labelled.label) <= 40


def test_a_new_door_knows_nobody(tmp_path):
    database = AccessDatabase(tmp_path / "new")
    assert people.people(database) == ()
    assert phones.phones(database) == ()
    assert open_sessions(database) == ()


def test_a_pin_given_once_more_holds_for_five_minutes_and_for_this_session_alone(door):
    first = door.sessions.unlock(door.phone, door.owner.id, PIN)
    second = door.sessions.unlock(door.another_phone(), door.owner.id, PIN)
    mine, other = (session.id for session in open_sessions(door.database))
    assert not door.sessions.is_confirmed(mine)
    door.sessions.confirm(mine, PIN)
    assert door.sessions.is_confirmed(mine)
    assert not door.sessions.is_confirmed(other)
    door.clock.now += CONFIRMED_SECONDS - 1.0
    assert door.sessions.is_confirmed(mine)
    door.clock.now += 2.0
    assert not door.sessions.is_confirmed(mine)
    assert door.sessions.alive(first, door.phone)
    assert second != first


def test_a_wrong_pin_given_once_more_confirms_nothing_and_is_counted_as_any_other(door):
    key = door.sessions.unlock(door.phone, door.owner.id, PIN)
    (session,) = open_sessions(door.database)
    for _ in range(5):
        with pytest.raises(RefusedError, match="does not fit"):
            door.sessions.confirm(session.id, OTHER_PIN)
    with pytest.raises(WaitError):
        door.sessions.confirm(session.id, PIN)
    assert not door.sessions.is_confirmed(session.id)
    door.sessions.lock(key)
    with pytest.raises(RefusedError, match="locked"):
        door.sessions.confirm(session.id, PIN)
    assert Happened.MUST_WAIT.value in {row.what for row in trail_of(door.database)}
