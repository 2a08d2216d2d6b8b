"""What is open on one phone is taken up on no other, whoever knows its name."""

import pytest
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

from estimator.access.people import add_person, change_role
from estimator.access.roles import Role
from estimator.serving.door import Door
from tests.estimator.access.conftest import OTHER_PIN
from tests.estimator.serving.asking import Browser
from tests.estimator.serving.conftest import SECRET


class Page:
    """Stands for the page library: whoever names a page session goes on with it, else a new one begins."""

    def __init__(self):
        self.gone_on_with = []
        self.next_name = 0

    async def __call__(self, scope, receive, send):
        if scope["type"] == "http":
            await send({"type": "http.response.start", "status": 204, "headers": []})
            await send({"type": "http.response.body", "body": b""})
            return
        asked = [value for name, value in scope["headers"] if name == b"sec-websocket-protocol"]
        names = [each.split(b",")[2].strip().decode() for each in asked if each.count(b",") > 1]
        self.gone_on_with += names
        self.next_name += 1
        await receive()
        await send({"type": "websocket.accept"})
        first = ForwardMsg()
        first.new_session.initialize.session_id = names[0] if names else f"page-{self.next_name}"
        await send({"type": "websocket.send", "bytes": SECRET})
        await send({"type": "websocket.send", "bytes": first.SerializeToString()})


@pytest.fixture
def page():
    return Page()


@pytest.fixture
def phones_of_two(salon, page):
    """A phone of the owner's and one of a viewer's, before the same page."""
    viewer = add_person(salon.database, "Vera", Role.VIEWER, OTHER_PIN)
    first, second = salon.unlocked(), salon.paired("chair two")
    second.post("/unlock", {"person": viewer.id, "pin": OTHER_PIN})
    door = Door(page, salon.database, salon.sessions)
    return Browser(door, cookies=first.cookies), Browser(door, cookies=second.cookies), viewer


def opened(browser, *asking):
    scope = browser._scope("websocket", "/_stcore/stream", {"origin": f"https://{browser.host}"})
    scope["headers"] += [(b"sec-websocket-protocol", each.encode()) for each in asking]

    async def receive():
        return {"type": "websocket.connect"}

    async def send(message):
        pass

    import asyncio

    asyncio.run(browser.app(scope, receive, send))


def test_a_phone_goes_on_with_its_own_page_and_with_no_other(page, phones_of_two):
    owners, viewers, _ = phones_of_two
    opened(owners, "streamlit")
    opened(owners, "streamlit, token, page-1")
    assert page.gone_on_with == ["page-1"]
    for asking in (
        ("streamlit, token, page-1",),
        ("streamlit,,page-1",),
        ("streamlit, token, page-1, more",),
        ("streamlit", "streamlit, token, page-1"),
        ("streamlit, token, a-page-of-the-laptop",),
    ):
        opened(viewers, *asking)
    assert page.gone_on_with == ["page-1"]


def test_who_unlocks_a_phone_after_another_begins_anew(page, phones_of_two, salon):
    owners, _, viewer = phones_of_two
    opened(owners, "streamlit")
    forms = Browser(salon.app, cookies=owners.cookies)
    forms.post("/unlock", {"person": viewer.id, "pin": OTHER_PIN})
    opened(Browser(owners.app, cookies=forms.cookies), "streamlit, token, page-1")
    assert page.gone_on_with == []


def test_a_file_comes_in_from_who_works_with_this_page(page, phones_of_two, salon):
    owners, viewers, viewer = phones_of_two
    opened(owners, "streamlit")
    opened(viewers, "streamlit")
    here = {"origin": f"https://{owners.host}"}
    assert owners.ask("PUT", "/_stcore/upload_file/page-1/file", b"x", here).status == 204
    for browser, path in ((viewers, "page-1/file"), (viewers, "page-2/file"), (owners, "page-2/f"), (owners, "")):
        for method in ("PUT", "DELETE"):
            assert browser.ask(method, f"/_stcore/upload_file/{path}", b"x", here).status == 403
    change_role(salon.database, viewer, Role.COLOURIST)
    assert viewers.ask("PUT", "/_stcore/upload_file/page-2/file", b"x", here).status == 204


def test_only_the_last_pages_are_remembered(monkeypatch):
    from estimator.serving import page_sessions

    monkeypatch.setattr(page_sessions, "MOST_REMEMBERED", 2)
    pages = page_sessions.PageSessions()
    for name in ("one", "two", "three"):
        message = ForwardMsg()
        message.new_session.initialize.session_id = name
        assert pages.learn(message.SerializeToString(), "session")
    assert [pages.is_own(name, "session") for name in ("one", "two", "three")] == [False, True, True]
