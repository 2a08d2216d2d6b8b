"""The door: not a byte of a client without a paired and unlocked phone, by whatever address."""

import asyncio

import pytest

from estimator.access import phones
from estimator.access.sessions import IDLE_SECONDS, end_session, open_sessions
from estimator.serving.door import ENDED_CODE, PHONE_COOKIE, SESSION_COOKIE, AtThisMachine
from estimator.serving.headers import OnlyThisHost, SafeHeaders
from estimator.serving.names import LOCAL_HOSTS
from tests.estimator.access.conftest import OTHER_PIN, PIN
from tests.estimator.serving.asking import Browser
from tests.estimator.serving.conftest import SECRET, door_of

# Every kind of address that the page library answers (its own route list), and some that try to look harmless.
ADDRESSES = (
    *("/", "/zones", "/clients", "/phones", "/media/0011aabb.jpg", "/_stcore/health", "/_stcore/host-config"),
    *("/_stcore/upload_file/session/file", "/_stcore/stream", "/_stcore/metrics", "/_stcore/script-health-check"),
    *("/component/x/index.html", "/static/js/index.js", "/_stcore/agent/openapi.json", "/%2e%2e/media/x", "//media/x"),
    *("/pair/x/y", "/pair/media/0011aabb.jpg", "/pair/x/_stcore/health", "/pair/..;/clients", "/pair//media/x"),
    *("/pair", "/unlockmedia/x", "/lock/../media/x", "/pairing/", "/unlock/../clients"),
)


def strangers(salon, tmp_path):
    """Browsers that may see nothing, by what they hold."""
    signed_out = salon.unlocked()
    session = signed_out.cookies[SESSION_COOKIE]
    signed_out.post("/lock", {})
    signed_out.cookies[SESSION_COOKIE] = session  # kept by a thief
    elsewhere = door_of(tmp_path / "another salon").unlocked()
    revoked = salon.unlocked()
    phones.revoke(salon.database, phones.phone_of(salon.database, revoked.cookies[PHONE_COOKIE]))
    without_phone = salon.unlocked()
    del without_phone.cookies[PHONE_COOKIE]
    idle = salon.unlocked()
    salon.clock.now += IDLE_SECONDS + 1.0
    return {
        "nothing": Browser(salon.app),
        "a phone, locked": salon.paired(),
        "a session that was signed out": signed_out,
        "another salon's keys": Browser(salon.app, cookies=elsewhere.cookies),
        "a revoked phone": revoked,
        "a session without its phone": without_phone,
        "a session left idle": idle,
        "made-up keys": Browser(salon.app, cookies={PHONE_COOKIE: "x" * 43, SESSION_COOKIE: "y" * 43}),
    }


@pytest.mark.slow
def test_no_stranger_gets_a_byte_of_a_client_by_any_address(salon, tmp_path):
    for held, browser in strangers(salon, tmp_path).items():
        for address in ADDRESSES:
            for method in ("GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS"):
                headers = {"origin": f"https://{browser.host}", "accept": "*/*"}
                answer = browser.ask(method, address, b"", headers)
                assert SECRET not in answer.body, (held, method, address)
                assert answer.status in (303, 403, 404, 405), (held, method, address, answer.status)
        sent = browser.socket([{"type": "websocket.connect"}, {"type": "websocket.receive", "bytes": b"hello"}])
        assert sent == [{"type": "websocket.close", "code": 1008}], held
    assert not salon.behind.marks


def test_a_refusal_is_one_sentence_that_a_phone_shows_at_its_own_width(salon):
    refused = Browser(salon.app).get("/")
    assert refused.status == 403
    assert refused.header("content-type").startswith("text/html")
    assert 'content="width=device-width' in refused.body.decode()
    assert "This phone is not paired. Pair it at the salon&#x27;s own machine." in refused.body.decode()


def test_an_unlocked_phone_gets_its_page_marked_with_its_session(salon):
    browser = salon.unlocked()
    assert browser.get("/").body == SECRET
    sent = browser.socket([{"type": "websocket.connect"}, {"type": "websocket.receive", "bytes": b"x"}])
    assert [message["type"] for message in sent] == ["websocket.accept", "websocket.send"]
    session = open_sessions(salon.database)[0]
    assert set(salon.behind.marks) == {session.id.encode()}
    assert salon.sessions.person_in(session.id) == salon.owner


def test_a_mark_from_outside_is_taken_off(salon):
    browser = salon.unlocked()
    browser.get("/", x_tressmeter_session="this machine")
    Browser(salon.app).get("/", x_tressmeter_session="this machine")
    assert b"this machine" not in salon.behind.marks


def test_an_open_socket_ends_with_its_session(salon):
    browser = salon.unlocked()
    session = open_sessions(salon.database)[0].id

    def ended_from_the_laptop():
        end_session(salon.database, session)
        return {"type": "websocket.receive", "bytes": b"next tap"}

    taps = [{"type": "websocket.connect"}, {"type": "websocket.receive", "bytes": b"tap"}, ended_from_the_laptop]
    sent = browser.socket(taps)
    assert [message["type"] for message in sent] == ["websocket.accept", "websocket.send", "websocket.close"]
    assert sent[-1]["code"] == ENDED_CODE


def test_nothing_more_is_sent_to_a_phone_that_was_revoked_while_its_page_was_drawn(salon):
    browser = salon.unlocked()
    phone = phones.phone_of(salon.database, browser.cookies[PHONE_COOKIE])

    class SlowToDraw:
        async def __call__(self, scope, receive, send):
            await receive()
            await send({"type": "websocket.accept"})
            phones.revoke(salon.database, phone)
            await send({"type": "websocket.send", "bytes": SECRET})

    from estimator.serving.door import Door

    slow = Browser(Door(SlowToDraw(), salon.database, salon.sessions), cookies=browser.cookies)
    sent = slow.socket([{"type": "websocket.connect"}])
    assert [message["type"] for message in sent] == ["websocket.accept"]


@pytest.mark.parametrize("origin", ["https://evil.example", "null", "", "http://192.168.1.20:8443"])
def test_on_this_machine_too_what_another_page_asks_for_reaches_nothing(salon, origin):
    # The page library would ask a host of the open internet for this machine's address, to compare it with the origin.
    here = Browser(AtThisMachine(salon.behind), host="127.0.0.1:8501", client="127.0.0.1")
    assert here.socket([{"type": "websocket.connect"}], origin=origin) == [{"type": "websocket.close", "code": 1008}]
    assert here.post("/_stcore/upload_file/a/b", {}, origin=origin).status == 403
    assert salon.behind.marks == []
    own = here.socket([{"type": "websocket.connect"}], origin="http://127.0.0.1:8501")
    assert own == [{"type": "websocket.accept"}]


@pytest.mark.parametrize("origin", ["https://evil.example", "null", "", "http://192.168.1.20:8443"])
def test_what_another_page_asks_for_is_refused(salon, origin):
    browser = salon.unlocked()
    assert browser.post("/lock", {}, origin=origin).status == 403
    assert browser.post("/_stcore/upload_file/a/b", {}, origin=origin).status == 403
    assert browser.socket([{"type": "websocket.connect"}], origin=origin) == [{"type": "websocket.close", "code": 1008}]
    assert browser.get("/").body == SECRET  # nothing was locked


def test_another_name_for_this_machine_is_refused(salon):
    stranger = Browser(salon.app, host="evil.example", cookies=salon.unlocked().cookies)
    answer = stranger.get("/")
    assert answer.status == 421
    assert SECRET not in answer.body


def test_a_locked_phone_is_led_to_the_lock_screen_and_back(salon):
    browser = salon.paired()
    answer = browser.get("/zones?visit=abc")
    assert answer.status == 303
    assert answer.header("location") == "/unlock?next=%2Fzones%3Fvisit%3Dabc"
    answer = browser.post("/unlock", {"person": salon.owner.id, "pin": PIN, "next": "/zones?visit=abc"})
    assert answer.header("location") == "/zones?visit=abc"


@pytest.mark.parametrize(
    "onward", ["//evil.example", "https://evil.example", "/\\evil.example", "", "/x\r\nSet-Cookie: a=b"]
)
def test_nobody_is_led_elsewhere(salon, onward):
    browser = salon.paired()
    answer = browser.post("/unlock", {"person": salon.owner.id, "pin": PIN, "next": onward})
    assert answer.header("location") == "/"


def test_each_unlocking_ends_the_one_before_on_this_phone(salon):
    browser = salon.unlocked()
    old = browser.cookies[SESSION_COOKIE]
    browser.post("/unlock", {"person": salon.colourist.id, "pin": OTHER_PIN, "next": "/"})
    assert browser.cookies[SESSION_COOKIE] != old
    assert len(open_sessions(salon.database)) == 1
    browser.cookies[SESSION_COOKIE] = old
    assert browser.get("/").status == 303


def test_cookies_are_bound_to_https_this_host_and_no_script(salon):
    browser = Browser(salon.app)
    answer = browser.post(f"/pair/{phones.offer_pairing(salon.database)}", {"label": "x"})
    said = answer.header("set-cookie")
    assert said.startswith("__Host-")  # RFC 6265bis, 4.1.3.2
    for word in ("Secure", "HttpOnly", "SameSite=strict", "Path=/"):
        assert word in said
    assert "Domain" not in said


def test_a_form_that_is_too_large_says_nothing(salon):
    browser = salon.paired()
    answer = browser.post("/unlock", {"person": salon.owner.id, "pin": PIN, "next": "/", "more": "x" * 10_000})
    assert answer.status == 403
    assert SESSION_COOKIE not in browser.cookies


def test_looking_at_a_pairing_code_does_not_use_it_up_and_pairing_does(salon):
    code = phones.offer_pairing(salon.database)
    first, second = Browser(salon.app), Browser(salon.app)
    assert first.get(f"/pair/{code}").status == 200
    assert second.post(f"/pair/{code}", {"label": "x"}).status == 303
    assert first.post(f"/pair/{code}", {"label": "y"}).status == 403
    assert PHONE_COOKIE not in first.cookies


def test_staff_change_their_own_pin_by_the_old_one(salon):
    browser = salon.unlocked()
    said = {"person": salon.owner.id, "pin": "999999", "new": "905172", "again": "905172"}
    assert browser.post("/pin", said).status == 403
    assert browser.post("/pin", {**said, "pin": PIN, "again": "905173"}).status == 200
    assert browser.get("/").body == SECRET
    assert browser.post("/pin", {**said, "pin": PIN}).status == 303
    assert browser.get("/").status == 303  # locked: the old PIN had opened it
    assert browser.post("/unlock", {"person": salon.owner.id, "pin": PIN}).status == 403
    assert browser.post("/unlock", {"person": salon.owner.id, "pin": "905172"}).status == 303


def test_staff_are_named_to_paired_phones_alone(salon):
    assert b"Ilse" not in Browser(salon.app).get("/unlock").body
    assert b"Ilse" in salon.paired().get("/unlock").body


def test_a_name_on_the_lock_screen_is_text(salon):
    from estimator.access.people import add_person
    from estimator.access.roles import Role

    add_person(salon.database, "<img src=x onerror=alert(1)>{{7*7}}", Role.VIEWER, "905172")
    body = salon.paired().get("/unlock").body
    assert b"<img" not in body
    assert b"&lt;img src=x onerror=alert(1)&gt;{{7*7}}" in body


def test_the_page_of_this_machine_answers_this_machine_alone(salon):
    app = SafeHeaders(OnlyThisHost(AtThisMachine(salon.behind), LOCAL_HOSTS))
    here = Browser(app, host="127.0.0.1:8501", client="127.0.0.1")
    assert here.get("/").body == SECRET
    assert salon.behind.marks == [b"this machine"]
    for host, client in (("localhost", "192.168.1.77"), ("127.0.0.1", "10.0.0.5"), ("evil.example", "127.0.0.1")):
        answer = Browser(app, host=host, client=client).get("/")
        assert SECRET not in answer.body
        assert answer.status in (403, 421)


def test_a_cookie_that_is_there_twice_says_nothing(salon):
    browser = salon.unlocked()
    phone, session = (f"{name}={browser.cookies[name]}" for name in (PHONE_COOKIE, SESSION_COOKIE))
    stranger = Browser(salon.app)
    for cookies in (f"{PHONE_COOKIE}=x; {phone}; {session}", f"{phone}; {SESSION_COOKIE}=; {session}"):
        assert SECRET not in stranger.get("/", cookie=cookies).body
    assert stranger.get("/", cookie=f'other="a;b\\073"; {{[}}; {phone}; {session}').body == SECRET


def test_a_form_that_comes_too_slowly_is_left(salon, monkeypatch):
    from estimator.serving import forms

    monkeypatch.setattr(forms, "MOST_FORM_SECONDS", 0.05, raising=False)
    browser = salon.paired()
    scope = browser._scope("http", "/unlock", {"origin": f"https://{browser.host}"}, "POST")
    pieces, sent = [{"type": "http.request", "body": b"person=", "more_body": True}], []

    async def receive():
        return pieces.pop() if pieces else await asyncio.sleep(5)

    async def send(message):
        sent.append(message)

    asyncio.run(asyncio.wait_for(salon.app(scope, receive, send), 2))
    assert sent[0]["status"] == 403
