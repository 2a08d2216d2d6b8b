"""Invitations: codes that can't be guessed or read off the disk, that end in time whatever the clock does."""

import json
import math
import re
from dataclasses import replace

import pytest

from estimator.errors import BadInputError
from estimator.intake import inbox as inbox_module
from estimator.intake.codes import form_token, new_code, token_fits
from estimator.intake.giving import NotOpenError, given
from estimator.intake.inbox import Inbox
from estimator.intake.invitation import State
from estimator.intake.limits import Limits
from estimator.intake.rate import Pace, RateLimit, network_of
from estimator.records.errors import NotKeptError, RecordsError

LEAST_BITS = 128  # OWASP ASVS 5.0, 7.2.3: session tokens of at least 128 bits (from memory)


def _is_open(inbox, code):
    try:
        given(inbox, code)
    except NotOpenError:
        return False
    return True


def test_a_code_has_more_bits_than_are_asked_for_and_no_two_are_the_same():
    codes = {new_code() for _ in range(500)}
    assert len(codes) == 500
    assert all(re.fullmatch(r"[A-Za-z0-9_-]+", code) for code in codes)  # RFC 4648, section 5: 6 bits a letter
    assert all(6 * len(code) >= LEAST_BITS for code in codes)
    # Every place of the code is by chance: each shows nearly all of the 64 letters among 500 codes.
    for place in range(min(map(len, codes)) - 1):
        assert len({code[place] for code in codes}) > 55
    assert math.log2(64) * min(map(len, codes)) >= LEAST_BITS


def test_the_code_is_nowhere_on_the_disk(inbox):
    made = inbox.invite()
    kept = b"".join(path.read_bytes() for path in inbox.folder.rglob("*") if path.is_file())
    assert made.invitation.id.encode() in kept
    assert made.code.encode() not in kept


def test_an_invitation_is_open_for_its_hours_and_not_a_second_more(inbox, clock):
    made = inbox.invite(Limits(hours=2))
    clock.goes_on(hours=2, seconds=-1)
    assert _is_open(inbox, made.code)
    clock.goes_on(seconds=1)
    assert not _is_open(inbox, made.code)
    assert inbox.invitations()[0].state is State.EXPIRED


def test_a_clock_set_back_gives_no_more_time(inbox, clock, place):
    made = inbox.invite(Limits(hours=2))
    clock.goes_on(hours=1)
    assert _is_open(inbox, made.code)
    clock.shown = clock.shown.replace(year=2016)
    assert _is_open(inbox, made.code)
    clock.goes_on(minutes=61)
    assert not _is_open(inbox, made.code)
    again = Inbox(place, time=clock.seen())  # a new start of the program, the clock still ten years behind
    assert not _is_open(again, made.code)


def test_after_a_new_start_with_a_clock_set_back_time_goes_on_from_the_last_time_seen(inbox, clock, place):
    made = inbox.invite(Limits(hours=2))
    clock.goes_on(hours=1)
    assert _is_open(inbox, made.code)
    clock.shown = clock.shown.replace(year=2016)
    again = Inbox(place, time=clock.seen())
    assert _is_open(again, made.code)
    clock.goes_on(minutes=61)
    assert not _is_open(again, made.code)


def test_a_clock_that_ran_ahead_for_a_while_does_not_spoil_later_invitations(inbox, clock):
    early = inbox.invite(Limits(hours=2))
    right = clock.shown
    clock.shown = clock.shown.replace(year=2036)
    assert not _is_open(inbox, early.code)  # the careful side: what has ended stays ended
    clock.shown = right
    assert not _is_open(inbox, early.code)
    made = inbox.invite(Limits(hours=2))
    assert made.invitation.expires_utc.year == 2026
    assert _is_open(inbox, made.code)


def test_a_revoked_invitation_opens_nothing_and_what_was_given_is_gone(inbox, client, photos):
    made, other = inbox.invite(), inbox.invite()
    for code in (made.code, other.code):
        client.agree(code)
        client.photo(code, photos[0])
    assert inbox.revoke(made.invitation.id)
    assert not inbox.open_folder(made.invitation.id).exists()
    assert not _is_open(inbox, made.code)
    assert len(given(inbox, other.code).entry.photos) == 1
    assert not inbox.revoke(made.invitation.id)  # it was not open any more
    with pytest.raises(NotKeptError):
        inbox.revoke("0" * 12)


def test_what_was_not_sent_in_time_is_swept_and_what_was_sent_stays(inbox, client, photos, clock):
    unsent, sent = inbox.invite(Limits(hours=1)), inbox.invite(Limits(hours=1))
    for code in (unsent.code, sent.code):
        client.agree(code)
        client.photo(code, photos[0])
    client.post(f"/intake/{sent.code}/send", {})
    clock.goes_on(hours=1)
    assert [each.id for each in inbox.sent()] == [sent.invitation.id]
    kept = {path.parent.name for path in inbox.folder.rglob("*.jpg")}
    assert kept == {sent.invitation.id}


@pytest.mark.parametrize(
    "asked",
    [{"hours": 0}, {"hours": 337}, {"photos": 0}, {"photos": 41}, {"bytes_each": 60_000_001}, {"tries": 0}],
)
def test_limits_beyond_what_is_sensible_are_refused_with_what_is(asked):
    with pytest.raises(BadInputError, match=r"to .* can"):
        replace(Limits(), **asked)


def test_no_more_invitations_are_open_than_a_salon_can_look_after(inbox, monkeypatch):
    monkeypatch.setattr(inbox_module, "MOST_OPEN", 2)
    first = inbox.invite()
    inbox.invite()
    with pytest.raises(BadInputError, match="Revoke"):
        inbox.invite()
    inbox.revoke(first.invitation.id)
    inbox.invite()


def test_a_list_that_can_not_be_read_opens_nothing_and_says_so(inbox):
    code = inbox.invite().code
    path = inbox.folder / "invitations.json"
    path.write_text(path.read_text()[:-20])
    with pytest.raises(RecordsError, match="invite anew"):
        given(inbox, code)
    told = json.dumps({"format": "another", "seen_utc": "2026-01-01T00:00:00+00:00", "invitations": []})
    path.write_text(told)
    with pytest.raises(RecordsError):
        inbox.invitations()


def test_a_form_belongs_to_its_code_and_its_page():
    token = form_token("code-a", "send")
    assert token_fits(token, "code-a", "send")
    assert not token_fits(token, "code-b", "send")
    assert not token_fits(token, "code-a", "remove")
    assert not token_fits("", "code-a", "send")
    assert not token_fits(token[:-1], "code-a", "send")
    assert form_token("code-a", "send") != token


def test_an_address_that_asks_too_often_waits_and_others_do_not():
    now = [0.0]
    limit = RateLimit(Pace(3, 0.5), Pace(8, 100), lambda: now[0])
    assert [limit.count("192.0.2.1") for _ in range(4)] == [True, True, True, False]
    assert limit.count("192.0.2.2")
    now[0] += 2  # half a request a second: one more after two seconds
    assert [limit.count("192.0.2.1") for _ in range(2)] == [True, False]


def test_all_together_wait_once_the_machine_has_enough_to_do():
    limit = RateLimit(Pace(3, 0), Pace(5, 0), lambda: 0.0)
    assert sum(limit.count(f"192.0.2.{n}") for n in range(9)) == 5


def test_one_household_of_ipv6_counts_as_one_address():
    # RFC 4291, 2.5.1: the lower 64 bits name the interface, which a device chooses itself.
    assert network_of("2001:db8:1:2::1") == network_of("2001:db8:1:2:ffff::9") != network_of("2001:db8:1:3::1")
    assert network_of("192.0.2.1") != network_of("192.0.2.2")
    assert network_of("no address") == ""
