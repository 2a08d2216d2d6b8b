"""The inbox: what was sent is there whole or not at all, is read as a zip is, holds nothing private, can be erased."""

import hashlib
import os
import random
import signal
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import cv2
import numpy as np
import pytest

from estimator.intake import giving
from estimator.intake.giving import given
from estimator.intake.inbox import Inbox
from estimator.intake.invitation import State
from estimator.intake.limits import Limits
from estimator.intake.seen_time import SeenTime
from estimator.records.consent_scopes import Scope
from estimator.records.errors import NotKeptError, RecordsError
from estimator.records.place import SalonPlace
from estimator.remote.bundle import open_bundle
from tests.calibration.test_private_tags import SALTED, SEEDS
from tests.estimator.intake.browserless import Browserless

ROOT = Path(__file__).resolve().parents[3]


def _sent(inbox, client, photos, name=""):
    made = inbox.invite(client=name)
    client.agree(made.code)
    for photo in photos:
        assert client.photo(made.code, photo).status == 303
    assert client.post(f"/intake/{made.code}/send", {}).went_to == "/intake/sent"
    return made


def test_a_sent_folder_is_read_as_the_same_photographs_in_a_zip_are(inbox, client, photos, tmp_path):
    made = _sent(inbox, client, photos[:2])
    folder = inbox.sent_folder(made.invitation.id)
    with zipfile.ZipFile(tmp_path / "sent.zip", "w") as archive:
        for path in folder.iterdir():
            archive.write(path, path.name)
    from_folder, from_zip = open_bundle(folder), open_bundle(tmp_path / "sent.zip")
    from_inbox = inbox.read(made.invitation.id)[1]
    pairs = [[(file.name, file.photo_bytes) for file in each.photos] for each in (from_folder, from_zip, from_inbox)]
    assert pairs[0] == pairs[1] == pairs[2]
    assert from_folder.left_out == ("consultation.json",)


def test_pixels_are_the_clients_own_and_the_originals_hash_is_kept(inbox, client, photos):
    made = _sent(inbox, client, photos[:1])
    told, bundle = inbox.read(made.invitation.id)
    assert told.entry.photos[0].original_sha256 == hashlib.sha256(photos[0]).hexdigest()
    theirs, ours = (
        cv2.imdecode(np.frombuffer(each, np.uint8), 1) for each in (photos[0], bundle.photos[0].photo_bytes)
    )
    assert np.array_equal(theirs, ours)


def test_no_place_number_or_name_reaches_the_disk(inbox, client, place):
    made = inbox.invite()
    client.agree(made.code)
    for view, salted in zip(("front", "left", "right", "back", "crown", "ends"), SALTED.values(), strict=True):
        content = salted()
        assert any(seed in content for seed in SEEDS)
        assert client.photo(made.code, content, view).status == 303
    everything = b"".join(path.read_bytes() for path in place.folder.rglob("*") if path.is_file())
    assert len(given(inbox, made.code).entry.photos) == 6
    assert [seed for seed in SEEDS if seed in everything] == []


def test_sending_uses_the_code_up_and_the_inbox_lists_the_latest_first(inbox, client, photos, clock):
    first = _sent(inbox, client, photos[:1])
    clock.goes_on(minutes=1)
    second = _sent(inbox, client, photos[1:2])
    assert [each.id for each in inbox.sent()] == [second.invitation.id, first.invitation.id]
    assert {listed.state for listed in inbox.invitations()} == {State.SENT}
    assert client.get(f"/intake/{first.code}").status == 404


def test_nothing_is_sent_without_a_photo(inbox, client):
    made = inbox.invite()
    client.agree(made.code)
    answer = client.ask(
        "POST", f"/intake/{made.code}/send", b"seal=" + client.seal(f"/intake/{made.code}/send").encode(),
        "application/x-www-form-urlencoded",
    )  # fmt: skip
    assert answer.status == 422
    assert inbox.sent() == []


def test_a_consultation_goes_with_its_client_and_others_stay(inbox, client, photos, place):
    mine = _sent(inbox, client, photos[:1], "Marigold 7")
    linked_later = _sent(inbox, client, photos[1:2])
    other = _sent(inbox, client, photos[2:3], "Rowan 2")
    unsent = inbox.invite(client="marigold 7")
    client.agree(unsent.code)
    client.photo(unsent.code, photos[3])
    inbox.link(linked_later.invitation.id, "Marigold 7")
    assert inbox.forget_client("MARIGOLD 7", "") == 3
    assert [each.id for each in inbox.sent()] == [other.invitation.id]
    everything = b"".join(path.read_bytes() for path in place.folder.rglob("*") if path.is_file()).lower()
    assert b"marigold" not in everything
    for gone in (mine, linked_later, unsent):
        assert gone.invitation.id.encode() not in everything
    assert client.get(f"/intake/{unsent.code}").status == 404


def test_discarding_takes_out_one_whole_and_its_code_stays_used(inbox, client, photos, place):
    made, other = _sent(inbox, client, photos[:1]), _sent(inbox, client, photos[1:2])
    inbox.discard(made.invitation.id)
    assert [each.id for each in inbox.sent()] == [other.invitation.id]
    assert not [path for path in place.folder.rglob("*") if made.invitation.id in path.name]
    assert client.get(f"/intake/{made.code}").status == 404
    with pytest.raises(NotKeptError):
        inbox.discard(made.invitation.id)


@pytest.mark.parametrize("name", ["../open", "..", "", "a" * 12 + "/..", "0" * 11, "ABCDEF012345"])
def test_a_name_that_is_no_consultations_reaches_nothing(inbox, name):
    for act in (inbox.read, inbox.discard, inbox.revoke, lambda each: inbox.link(each, "M")):
        with pytest.raises(NotKeptError):
            act(name)


def test_a_damaged_consultation_is_listed_told_and_can_be_discarded(inbox, client, photos):
    made = _sent(inbox, client, photos[:1])
    (inbox.sent_folder(made.invitation.id) / "consultation.json").write_text("{")
    with pytest.raises(RecordsError, match="Discard it"):
        inbox.read(made.invitation.id)
    assert [each.id for each in inbox.sent()] == [made.invitation.id]
    inbox.discard(made.invitation.id)
    assert inbox.sent() == []


def test_a_sudden_end_between_sending_and_noting_it_is_made_good(inbox, client, photos, place, clock):
    made = inbox.invite()
    client.agree(made.code)
    client.photo(made.code, photos[0])
    before = (inbox.folder / "invitations.json").read_bytes()
    client.post(f"/intake/{made.code}/send", {})
    (inbox.folder / "invitations.json").write_bytes(before)  # the note of it never came to the disk
    again = Inbox(place, time=clock.seen())
    assert again.invitations()[0].state is State.SENT
    assert len(again.sent()) == 1


def test_a_sudden_end_while_a_photo_is_written_leaves_no_half(inbox, client, photos):
    made = inbox.invite()
    client.agree(made.code)
    client.photo(made.code, photos[0])
    folder = inbox.open_folder(made.invitation.id)
    (folder / ".part-intake-1-deadbeef").write_bytes(photos[1][:500])
    (folder / "back-2.jpg").write_bytes(photos[1])  # whole, and its line was not written any more
    client.photo(made.code, photos[2])
    client.post(f"/intake/{made.code}/send", {})
    names = {path.name for path in inbox.sent_folder(made.invitation.id).iterdir()}
    told = inbox.read(made.invitation.id)[0]
    assert names == {"consultation.json", *(photo.name for photo in told.entry.photos)}
    assert len(told.entry.photos) == 2


@pytest.mark.slow
def test_a_client_who_is_erased_takes_along_what_was_sent_before(inbox, client, photos, place):
    from estimator.records.clients import found_or_new
    from estimator.records.erasing import erase_client
    from estimator.records.store import open_store

    _sent(inbox, client, photos[:1], "Marigold 7")
    with open_store(place) as store:
        with store.writing("a client") as session:
            found_or_new(session, "Marigold 7", "", "", True)
        assert erase_client(store, "Marigold 7").drafts == 1
    assert inbox.sent() == []


@pytest.mark.slow
@pytest.mark.parametrize(
    ("scope", "left"), [(Scope.REMOTE, None), (Scope.HEALTH, {"age_years"}), (Scope.PORTFOLIO, {"age_years", "asthma"})]
)
def test_a_consent_that_is_taken_back_takes_along_what_was_sent_on_it(inbox, client, photos, place, scope, left):
    from datetime import date

    from estimator.records.clients import found_or_new
    from estimator.records.store import open_store
    from estimator.records.withdrawing import withdraw

    made = inbox.invite(client="Marigold 7")
    client.agree(made.code)
    client.photo(made.code, photos[0])
    client.post(f"/intake/{made.code}/hair", {"age_years": "34"})
    client.post(f"/intake/{made.code}/health", {"asthma": "yes"})
    other = _sent(inbox, client, photos[1:2], "Rowan 2")
    unsent = inbox.invite(client="Marigold 7")
    client.agree(unsent.code)
    client.post(f"/intake/{unsent.code}/health", {"asthma": "yes"})
    client.post(f"/intake/{made.code}/send", {})
    with open_store(place) as store:
        with store.writing("a client") as session:
            found_or_new(session, "Marigold 7", "", "", True)
        withdraw(store, "marigold 7", scope, date(2026, 11, 21), "spoken")
    mine = [set(each.entry.answers) for each in inbox.sent() if each.client == "Marigold 7"]
    assert mine == ([] if left is None else [left])
    assert other.invitation.id in {each.id for each in inbox.sent()}
    if scope is Scope.HEALTH:
        assert given(inbox, unsent.code).entry.answers == {}
        assert not given(inbox, unsent.code).entry.agreed_to(Scope.HEALTH)
        assert given(inbox, unsent.code).entry.agreed_to(Scope.REMOTE)


@pytest.mark.slow
def test_sealed_records_seal_the_inbox_too_and_both_ways_give_the_same_back(inbox, client, photos, place, tmp_path):
    from estimator.intake.routes import intake_app
    from estimator.records.key_file import new_code as new_key_code
    from estimator.records.key_file import new_key, new_key_file
    from estimator.records.sent_in import SentInFiles, convert_sent_in
    from estimator.records.vault import OPEN, SealedVault

    made = _sent(inbox, client, photos[:2], "Marigold 7")
    key = new_key()
    sealed = SealedVault(new_key_file(key, "eleven green chairs", new_key_code()), key)
    ready, back = SalonPlace(tmp_path / "sealed"), SalonPlace(tmp_path / "back")
    convert_sent_in(place, ready, OPEN, sealed)
    everything = b"".join(path.read_bytes() for path in ready.folder.rglob("*") if path.is_file())
    for readable in (b"Marigold", b"JFIF", b"consent", photos[0][600:640]):
        assert readable not in everything
    under_seal = Inbox(ready, SentInFiles(ready, sealed))
    assert under_seal.read(made.invitation.id)[0] == inbox.read(made.invitation.id)[0]
    again = _sent(under_seal, Browserless(intake_app(under_seal)), photos[2:3])
    assert len(under_seal.sent()) == 2
    content = (under_seal.sent_folder(again.invitation.id) / "back-1.jpg").read_bytes()
    assert content[:3] != b"\xff\xd8\xff"  # a JPEG begins so: ITU-T T.81, B.1.1.3
    convert_sent_in(ready, back, sealed, OPEN)
    assert Inbox(back).read(made.invitation.id)[1].photos[0].photo_bytes == photos[0]


def _killed_rounds(tmp_path, photos, rounds, seed):
    """Kill the page at moments of chance, and look after each kill; how many rounds were sent."""
    chance, sent = random.Random(seed), 0
    sources = tmp_path / "photos"
    sources.mkdir()
    for number, photo in enumerate(photos[:6]):
        (sources / f"{number}.jpg").write_bytes(photo)
    place_folder = tmp_path / "salon"
    for _ in range(rounds):
        inbox = Inbox(SalonPlace(place_folder), time=SeenTime())
        made = inbox.invite(Limits(hours=1))
        giving.agree(inbox, made.code, frozenset({Scope.REMOTE}))
        command = [sys.executable, "-m", "tests.estimator.intake.drills", str(place_folder), made.code, str(sources)]
        with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as page:
            first = page.stdout.readline()
            time.sleep(chance.uniform(0, 0.25))
            os.kill(page.pid, signal.SIGKILL)
            said = [first, *page.stdout]
        kept = sum(line.startswith("kept") for line in said)
        again = Inbox(SalonPlace(place_folder), time=SeenTime())
        there = [each for each in again.sent() if each.id == made.invitation.id]
        if there:
            sent += 1
            folder, entry = again.sent_folder(made.invitation.id), there[0].entry
            assert {path.name for path in folder.iterdir()} == {"consultation.json", *(p.name for p in entry.photos)}
            assert len(again.read(made.invitation.id)[1].photos) == len(entry.photos)
        else:
            assert "sent\n" not in said
            entry = given(again, made.code).entry
        assert len(entry.photos) >= kept
        for photo in entry.photos:
            folder = (again.sent_folder if there else again.open_folder)(made.invitation.id)
            assert hashlib.sha256((folder / photo.name).read_bytes()).hexdigest() == photo.sha256
        assert not list((again.folder / "arriving").glob("*"))
        again.revoke(made.invitation.id)
        assert not list((again.folder / "open").glob("*"))
    return sent


@pytest.mark.slow
def test_a_page_that_is_killed_loses_nothing_it_answered_for_and_leaves_nothing_half(tmp_path, photos):
    _killed_rounds(tmp_path, photos, 1, seed=1)


@pytest.mark.slow
def test_a_page_that_is_killed_often(tmp_path, photos):
    _killed_rounds(tmp_path, photos, 20, seed=2)
