"""The client's page: one walk, and everything that somebody may try who should not."""

import asyncio
import re
import struct
import zlib
from urllib.parse import urlencode

import pytest

from estimator.intake import giving
from estimator.intake.form_reading import MOST_FIELD_BYTES
from estimator.intake.giving import given
from estimator.intake.inbox import Inbox
from estimator.intake.limits import Limits
from estimator.intake.rate import EACH_ADDRESS, WRONG_CODES
from estimator.intake.routes import intake_app
from estimator.records.consent_scopes import Scope, scope_texts
from tests.estimator.intake.browserless import BOUNDARY, SAMPLES, Browserless, photo_form

FORM = "application/x-www-form-urlencoded"
HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "![a](http://example.org/a.png)",
    "{{ 7 * 7 }}{% raw %}",
    "=HYPERLINK(1)",
    "../../etc/passwd",
    "\u202egnp.exe",
    "a\0b",
    "#strong[x] $ x $",
)


def _problem(answer):
    found = re.search(r'role="alert"><b>That did not work</b>(.*?)</div>', answer.text, re.DOTALL)
    return found.group(1) if found else ""


@pytest.fixture
def code(inbox):
    return inbox.invite(Limits(photos=3)).code


def test_a_client_walks_through_and_the_salon_finds_it_all(inbox, client, code, photos):
    here = f"/intake/{code}"
    assert client.agree(code).went_to == f"{here}/photos"
    assert client.photo(code, photos[0], "back").went_to == f"{here}/photos#back"
    assert client.photo(code, photos[1], "crown").status == 303
    assert "2 of 6 photos here" in client.get(f"{here}/photos").text
    hair = {"age_years": "34", "earlier_colour": ["box", "henna"], "perm_weeks_ago": "never", "relaxer_kind": ""}
    assert client.post(f"{here}/hair", hair).went_to == f"{here}/health"
    assert client.post(f"{here}/health", {"asthma": "no"}).went_to == f"{here}/wish"
    wish = {"level": "9", "tone": "beige", "words": "Lighter,\r\nplease"}
    assert client.post(f"{here}/wish", wish).went_to == f"{here}/send"
    assert client.post(f"{here}/send", {}).went_to == "/intake/sent"
    assert "Sent" in client.get("/intake/sent").text
    sent = inbox.sent()[0]
    told, bundle = inbox.read(sent.id)
    assert [file.name for file in bundle.photos] == ["back-1.jpg", "crown-1.jpg"]
    assert told.entry.views == {"back-1.jpg": "back", "crown-1.jpg": "crown"}
    facts = told.entry.facts
    assert (facts.age_years, facts.asthma, facts.perm_weeks_ago) == (34, False, 999)
    assert facts.earlier_colour == {"box", "henna"}
    assert str(facts.relaxer_kind) == "not known"
    assert (told.entry.wish.level, told.entry.wish.tone) == (9, "beige")
    assert told.entry.words == "Lighter,\nplease"
    consents = {consent.scope: consent.text for consent in told.entry.consents}
    assert consents == {scope: scope_texts()[scope].text for scope in (Scope.REMOTE, Scope.HEALTH)}


def test_the_count_of_steps_never_grows_on_the_way(client, code):
    told = [re.search(r"Step (\d) of (\d)", client.get(f"/intake/{code}").text).groups()]
    client.agree(code)
    told += [
        re.search(r"Step (\d) of (\d)", client.get(f"/intake/{code}/{screen}").text).groups()
        for screen in ("photos", "hair", "health", "wish", "send")
    ]
    assert [int(step) for step, _ in told] == [1, 2, 3, 4, 5, 6]
    assert {steps for _, steps in told} == {"6"}


def test_wrong_expired_revoked_and_used_codes_get_one_answer(inbox, client, photos, clock):
    used, revoked, expired = inbox.invite(), inbox.invite(), inbox.invite(Limits(hours=1))
    client.agree(used.code)
    client.photo(used.code, photos[0])
    client.post(f"/intake/{used.code}/send", {})
    inbox.revoke(revoked.invitation.id)
    clock.goes_on(hours=1)
    codes = [used.code, revoked.code, expired.code, "wrong", "x" * 5_000]
    answers = [Browserless(client.app, f"192.0.2.{n}").get(f"/intake/{code}") for n, code in enumerate(codes)]
    assert {answer.status for answer in answers} == {404}
    assert len({answer.body for answer in answers}) == 1
    assert len({tuple(sorted(answer.headers.items())) for answer in answers}) == 1
    assert "If you have sent your photos already" in answers[0].text
    posted = Browserless(client.app).ask("POST", f"/intake/{used.code}/send", b"seal=x", FORM)
    assert posted.body == answers[0].body


def test_nothing_of_one_code_is_reached_by_another(inbox, client, photos):
    one, other = inbox.invite(), inbox.invite()
    for each in (one, other):
        client.agree(each.code)
    client.photo(one.code, photos[0], "back")
    for name in ("back-1.jpg", f"../{one.invitation.id}/back-1.jpg", "entry.json", "../../invitations.json"):
        client.ask(
            "POST", f"/intake/{other.code}/remove",
            urlencode({"seal": client.seal(f"/intake/{one.code}/photos", f"/intake/{one.code}/remove"), "photo": name})
            .encode(), FORM,
        )  # fmt: skip
    assert client.get(f"/intake/{other.code}/photos").text.count("back-1.jpg") == 0
    assert len(given(inbox, one.code).entry.photos) == 1
    body, kind = photo_form(client.seal(f"/intake/{one.code}/photos"), photos[1])
    assert client.ask("POST", f"/intake/{other.code}/photos", body, kind).status == 422
    assert given(inbox, other.code).entry.photos == ()
    pictures = [client.get(f"/intake/{one.code}/{path}") for path in ("back-1.jpg", "photos/back-1.jpg", "entry.json")]
    assert {answer.status for answer in pictures} == {404}


def test_nothing_is_kept_before_consent(inbox, client, code, photos):
    body, kind = photo_form("no seal", photos[0])
    assert client.ask("POST", f"/intake/{code}/photos", body, kind).went_to == f"/intake/{code}"
    assert client.get(f"/intake/{code}/photos").went_to == f"/intake/{code}"
    assert client.post(f"/intake/{code}", {"agrees": ["health answers"]}).status == 422
    assert sorted(path.name for path in inbox.folder.rglob("*") if path.is_file()) == [".lock", "invitations.json"]
    assert given(inbox, code).entry.consents == ()


def test_health_is_kept_only_with_its_own_consent_and_goes_with_it(inbox, client, code, photos):
    here = f"/intake/{code}"
    client.agree(code, "remote consultation")
    assert client.get(f"{here}/health").went_to == here
    with pytest.raises(AssertionError):
        client.post(f"{here}/health", {"asthma": "yes"})
    giving.answer(inbox, code, frozenset({"asthma"}), {"asthma": True})
    assert given(inbox, code).entry.answers == {}
    client.agree(code)
    client.post(f"{here}/health", {"asthma": "yes"})
    assert given(inbox, code).entry.answers == {"asthma": True}
    client.agree(code, "remote consultation")
    assert given(inbox, code).entry.answers == {}


def test_a_client_removes_a_photo_and_deletes_everything(inbox, client, code, photos):
    here = f"/intake/{code}"
    client.agree(code)
    client.photo(code, photos[0])
    client.photo(code, photos[1])
    page = f"{here}/photos"
    seal = client.seal(page, f"{here}/remove")
    client.ask("POST", f"{here}/remove", urlencode({"seal": seal, "photo": "back-1.jpg"}).encode(), FORM)
    assert [photo.name for photo in given(inbox, code).entry.photos] == ["back-2.jpg"]
    assert [path.name for path in inbox.folder.rglob("*.jpg")] == ["back-2.jpg"]
    stop = client.seal(here, f"{here}/stop")
    assert client.ask("POST", f"{here}/stop", urlencode({"seal": stop}).encode(), FORM).went_to == here
    assert list(inbox.folder.rglob("*.jpg")) == []
    assert given(inbox, code).entry.consents == ()


def test_a_form_from_elsewhere_changes_nothing(inbox, client, code, photos):
    client.agree(code)
    client.photo(code, photos[0])
    for path, fields in (("send", {}), ("remove", {"photo": "back-1.jpg"}), ("wish", {"level": "3"}), ("stop", {})):
        body = urlencode({"seal": "forged.0000", **fields}).encode()
        assert client.ask("POST", f"/intake/{code}/{path}", body, FORM).status == 422
    entry = given(inbox, code).entry
    assert (len(entry.photos), entry.wish_level) == (1, 0)


@pytest.mark.slow
@pytest.mark.parametrize("hostile", HOSTILE)
def test_hostile_words_come_back_as_words_and_the_page_stays_whole(inbox, client, code, hostile):
    here = f"/intake/{code}"
    client.agree(code)
    client.post(f"{here}/wish", {"words": hostile})
    assert given(inbox, code).entry.words == hostile.strip()
    page = client.get(f"{here}/wish").body.decode()
    inside = page[page.index("<textarea") : page.index("</textarea>")]
    assert inside.count("<") == 1  # the mark that opens it
    assert "onerror=alert(1)>" not in page.replace("&#34;&gt;&lt;img src=x onerror=alert(1)&gt;", "")
    assert "49" not in inside
    for field in ("relaxer_kind", "earlier_colour", "age_years"):
        answer = client.post(f"{here}/hair", {field: hostile})
        assert answer.status == 422
        assert "<script>" not in answer.body.decode()
    assert given(inbox, code).entry.answers == {}


@pytest.mark.parametrize("name", ["../../../tmp/evil.jpg", "a" * 300 + ".jpg", "CON.jpg", "n\0ul.jpg", "\u202egpj.exe"])
def test_a_file_gets_our_name_whatever_it_was_called(inbox, client, code, photos, name, tmp_path):
    client.agree(code)
    assert client.photo(code, photos[0], name=name).status == 303
    kept = sorted(path.name for path in tmp_path.rglob("*") if path.is_file())
    assert kept == [".lock", "back-1.jpg", "entry.json", "invitations.json"]
    told = (inbox.open_folder(inbox.invitations()[0].invitation.id) / "entry.json").read_bytes()
    assert b"evil" not in told
    assert b"aaaa" not in told


def test_what_is_no_photo_is_told_and_not_kept(inbox, client, code):
    client.agree(code)
    bomb = _png(20_000, 20_000)
    for content in (
        b"",
        b"%PDF-1.7 x",
        b"MZ\x90\0" * 50,
        b"<html><script>",
        bomb,
        (SAMPLES / "head.jpg").read_bytes()[:9_000],
    ):
        answer = client.photo(code, content)
        assert answer.status == 422
        assert len(_problem(answer)) > 30
    assert list(inbox.folder.rglob("*.jpg")) == list(inbox.folder.rglob("*.png")) == []


def _png(width_px, height_px):
    """A whole PNG of one colour; W3C PNG, chapters 5 and 11. It grows 1,000 times when it is unpacked."""

    def chunk(name, content):
        return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))

    packer = zlib.compressobj(9)
    row = bytes(1 + 3 * width_px)
    rows = b"".join([packer.compress(row) for _ in range(64)] + [packer.flush()])
    head = struct.pack(">IIBBBBB", width_px, height_px, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def test_a_photo_that_is_too_large_is_told_before_it_is_kept(inbox, client, photos):
    code = inbox.invite(Limits(bytes_each=100_000)).code
    client.agree(code)
    path = f"/intake/{code}/photos"
    body, kind = photo_form(client.seal(path), photos[0] + bytes(400_000))
    pieces = [body[start : start + 16_384] for start in range(0, len(body), 16_384)]
    answer = client.ask("POST", path, kind=kind, pieces=pieces)
    assert answer.status == 413
    assert "larger than 0.1 MB" in _problem(answer)
    assert [path.name for path in inbox.folder.rglob("*.jpg")] == []
    assert list((inbox.folder / "arriving").iterdir()) == []


@pytest.mark.slow
def test_all_photos_together_stay_below_their_limit(inbox, client, photos):
    code = inbox.invite(Limits(bytes_total=100_000, bytes_each=100_000)).code
    client.agree(code)
    statuses = [client.photo(code, photo, "back").status for photo in photos[:12]]
    kept = given(inbox, code).entry.photos
    assert sum(photo.size_bytes for photo in kept) <= 100_000
    assert 409 in statuses
    assert len(kept) == statuses.count(303) >= 2


def test_more_photos_than_agreed_are_told_and_a_removed_one_gives_its_place_back(inbox, client, code, photos):
    client.agree(code)
    for photo in photos[:3]:
        client.photo(code, photo)
    body, kind = photo_form("x", photos[3])
    assert client.ask("POST", f"/intake/{code}/photos", body, kind).status == 409
    giving.remove_photo(inbox, code, "back-2.jpg")
    assert client.photo(code, photos[3]).status == 303
    assert {photo.name for photo in given(inbox, code).entry.photos} == {"back-1.jpg", "back-2.jpg", "back-3.jpg"}


def test_the_same_photo_counts_once(inbox, client, code, photos):
    client.agree(code)
    client.photo(code, photos[0])
    answer = client.photo(code, photos[0], "crown")
    assert (answer.status, len(given(inbox, code).entry.photos)) == (422, 1)
    assert "already" in _problem(answer)


def test_tries_are_counted_and_end(inbox, client, photos):
    code = inbox.invite(Limits(tries=3)).code
    client.agree(code)
    statuses = [client.photo(code, b"no photo").status for _ in range(4)]
    assert statuses == [422, 422, 422, 409]


@pytest.mark.slow
def test_twenty_uploads_at_the_last_place_keep_one(inbox, client, photos):
    code = inbox.invite(Limits(photos=3)).code
    client.agree(code)
    client.photo(code, photos[20], "front")
    client.photo(code, photos[21], "front")
    path = f"/intake/{code}/photos"
    forms = [photo_form(client.seal(path), photos[n], "back") for n in range(20)]

    async def all_at_once():
        return await asyncio.gather(*(client.ask_now("POST", path, body, kind) for body, kind in forms))

    statuses = [answer.status for answer in asyncio.run(all_at_once())]
    assert sorted(statuses) == [303] + [409] * 19
    entry = given(inbox, code).entry
    assert len(entry.photos) == 3
    folder = inbox.open_folder(inbox.invitations()[0].invitation.id)
    assert {path.name for path in folder.glob("*.jpg")} == {photo.name for photo in entry.photos}


def test_an_upload_that_is_cut_off_leaves_nothing(inbox, client, code, photos):
    client.agree(code)
    path = f"/intake/{code}/photos"
    body, kind = photo_form(client.seal(path), photos[0])
    for end in (0, 40, 300, len(body) // 2, len(body) - 5):
        answer = client.ask("POST", path, kind=kind, pieces=[body[:end]])
        assert answer.status == 422
    assert given(inbox, code).entry.photos == ()
    assert list((inbox.folder / "arriving").iterdir()) == []
    assert list(inbox.folder.rglob("*.jpg")) == []


@pytest.mark.parametrize(
    "kind",
    ["", "text/plain", "multipart/form-data", "multipart/form-data; boundary=", "multipart/form-data; boundary=other"],
)
def test_what_is_no_form_is_told(client, code, kind, photos):
    client.agree(code)
    body, _ = photo_form("x", photos[0])
    assert client.ask("POST", f"/intake/{code}/photos", body, kind).status == 422


def test_endless_fields_and_headers_are_cut(client, code):
    client.agree(code)
    many = b"&".join(b"a=1" for _ in range(1_000))
    for body in (many, b"seal=" + b"x" * (MOST_FIELD_BYTES + 1)):
        assert client.ask("POST", f"/intake/{code}/wish", body, FORM).status in (413, 422)
    long_head = f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="{"n" * 9_000}"\r\n\r\n'.encode()
    kind = f"multipart/form-data; boundary={BOUNDARY}"
    assert client.ask("POST", f"/intake/{code}/photos", long_head, kind).status == 422


def test_every_answer_forbids_scripts_frames_caches_and_referrers_and_sets_no_cookie(client, code):
    client.agree(code)
    for path in (f"/intake/{code}", f"/intake/{code}/photos", "/intake/wrong", "/intake/sent", "/intake/style.css"):
        headers = client.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script" not in policy
        assert "form-action 'self'" in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["cache-control"] == "no-store"
        assert headers["x-content-type-options"] == "nosniff"
        assert "set-cookie" not in headers
        body = client.get(path).text
        assert "style=" not in body
        assert "<script" not in body


def test_whoever_guesses_must_wait_and_others_go_on(client, code):
    guesser = Browserless(client.app, "192.0.2.66")
    statuses = [guesser.get(f"/intake/guess{n}").status for n in range(int(WRONG_CODES.at_once) + 3)]
    assert statuses[:5] == [404] * 5
    assert statuses[-1] == 429
    assert guesser.get(f"/intake/{code}").status == 429
    assert client.get(f"/intake/{code}").status == 200


@pytest.mark.slow
def test_whoever_asks_too_often_waits(client, code):
    statuses = {client.get(f"/intake/{code}").status for _ in range(int(EACH_ADDRESS.at_once) + 30)}
    assert statuses == {200, 429}


def test_a_full_disk_is_told_and_nothing_is_lost(inbox, client, code, photos, monkeypatch):
    client.agree(code)
    client.photo(code, photos[0])
    monkeypatch.setattr(giving, "LEFT_FREE_BYTES", 10**18)
    answer = client.photo(code, photos[1])
    assert answer.status == 503
    assert "short of space" in _problem(answer)
    assert [photo.name for photo in given(inbox, code).entry.photos] == ["back-1.jpg"]


def test_records_that_can_not_be_read_are_no_business_of_a_client(inbox, client, code):
    (inbox.folder / "invitations.json").write_text("{")
    answers = [client.get(f"/intake/{each}") for each in (code, "wrong")]
    assert [answer.status for answer in answers] == [503, 503]
    assert "invitations" not in answers[0].text
    assert "Try again later" in _problem(answers[0])


def test_the_text_that_is_agreed_to_is_the_text_that_stands_there(client, code):
    page = client.get(f"/intake/{code}").text
    for scope in (Scope.REMOTE, Scope.HEALTH):
        assert f"<p>{scope_texts()[scope].text}</p>" in page


def test_no_log_holds_a_code_or_a_word_of_the_client(client, code, photos, caplog, capfd):
    caplog.set_level(0)
    client.agree(code)
    client.photo(code, photos[0], name="Jane Doe.jpg")
    client.photo(code, b"no photo", name="Jane Doe.jpg")
    client.post(f"/intake/{code}/wish", {"words": "Jane Doe"})
    client.get("/intake/wrong-code")
    told = caplog.text + "".join(capfd.readouterr())
    for private in (code, "Jane", "back-1", "wrong-code"):
        assert private not in told


def test_two_programs_share_one_inbox(place, inbox, client, code, photos, clock):
    other = Browserless(intake_app(Inbox(place, time=clock.seen())))
    client.agree(code)
    assert other.photo(code, photos[0]).status == 303
    assert client.photo(code, photos[1]).status == 303
    assert {photo.name for photo in given(inbox, code).entry.photos} == {"back-1.jpg", "back-2.jpg"}
