"""The door to the salon's network: nothing passes but what a paired phone asks, unlocked by a member of staff.

It stands before everything: pages, pictures, uploads and the page's own channel. What it lets through it marks with the
session's id, and a mark that comes from outside is taken off.
"""

from ipaddress import ip_address
from urllib.parse import quote

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from estimator.access.database import AccessDatabase
from estimator.access.phones import Phone, phone_of
from estimator.access.roles import Right
from estimator.access.sessions import Sessions
from estimator.serving.headers import refuse
from estimator.serving.page_sessions import UPLOADS, PageSessions

# `__Host-` makes the browser bind a cookie to https, to this very host and to no path (RFC 6265bis, 4.1.3.2).
PHONE_COOKIE = "__Host-tressmeter-phone"
SESSION_COOKIE = "__Host-tressmeter-session"
SESSION_MARK = b"x-tressmeter-session"
AT_THIS_MACHINE = b"this machine"
ENDED_CODE = 4403  # of our own, in the range that RFC 6455, 7.4.2 leaves to programs


class Door:
    """Wraps the app for the network.

    open_to_all : Beginnings of paths that need no phone: the pairing page; the intake page, where it is switched on.
    open_to_phones : Paths that need a paired phone, locked or not.
    """

    def __init__(
        self,
        app: ASGIApp,
        database: AccessDatabase,
        sessions: Sessions,
        *,
        open_to_all: tuple[str, ...] = ("/pair/",),
        open_to_phones: tuple[str, ...] = ("/unlock", "/unlock/state", "/lock", "/pin"),
    ) -> None:
        self._app = app
        self._database = database
        self._sessions = sessions
        self._pages = PageSessions()
        self._open_to_all = open_to_all
        self._open_to_phones = open_to_phones

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let through, send to the lock screen, or refuse."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        scope = marked(scope, b"")
        if scope["type"] == "http" and scope["path"].startswith(self._open_to_all):
            await self._app(scope, receive, send)
            return
        if not from_here(scope):
            await refuse(scope, send, 403, "This was asked for by another page. Nothing was done.")
            return
        phone = phone_of(self._database, cookie(scope, PHONE_COOKIE))
        if phone is None:
            await refuse(scope, send, 403, "This phone is not paired. Pair it at the salon's own machine.")
        elif scope["type"] == "http" and scope["path"] in self._open_to_phones:
            await self._app(scope, receive, send)
        else:
            await self._as_unlocked(phone, scope, receive, send)

    async def _as_unlocked(self, phone: Phone, scope: Scope, receive: Receive, send: Send) -> None:
        key = cookie(scope, SESSION_COOKIE)
        session = self._sessions.touched(key, phone)
        if session is None:
            await _to_the_lock_screen(scope, send)
            return
        scope = marked(scope, session.encode("ascii"))
        if scope["type"] == "http":
            if scope["path"].startswith(UPLOADS) and not self._may_upload(scope["path"], session):
                await refuse(scope, send, 403, "This file belongs to no page of yours. Nothing was done.")
                return
            await self._app(scope, receive, send)
            return
        scope, known = self._pages.own(scope, session), False

        async def while_unlocked() -> Message:
            message = await receive()
            if message["type"] == "websocket.receive" and self._sessions.touched(key, phone) is None:
                await send({"type": "websocket.close", "code": ENDED_CODE})
                return {"type": "websocket.disconnect", "code": ENDED_CODE}
            return message

        async def to_the_unlocked(message: Message) -> None:
            # What the page has to say after the end is said to nobody: a picture may be on its way.
            nonlocal known
            if message["type"] != "websocket.send" or self._sessions.alive(key, phone):
                known = known or self._pages.learn(message.get("bytes") or b"", session)
                await send(message)

        await self._app(scope, while_unlocked, to_the_unlocked)

    def _may_upload(self, path: str, session: str) -> bool:
        """Whether a file may come into this page, or be taken out: by who works with it, on the phone it is open on."""
        person = self._sessions.person_in(session)
        return person is not None and person.may(Right.WORK) and self._pages.is_own(path[len(UPLOADS) :], session)


class AtThisMachine:
    """Wraps the app for this machine alone: whoever sits here is its owner, and nobody else is answered.

    A server that was told to listen to the network without the door above still shows nobody anything.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what was asked at this machine, marked as such."""
        if scope["type"] in ("http", "websocket"):
            if not _came_from_here(scope):
                await refuse(scope, send, 403, "This page answers at its own machine. Phones come in by another door.")
                return
            if _another_page_asks(scope):
                await refuse(scope, send, 403, "This was asked for by another page. Nothing was done.")
                return
            scope = marked(scope, AT_THIS_MACHINE)
        await self._app(scope, receive, send)


def _came_from_here(scope: Scope) -> bool:
    client = scope.get("client")
    try:
        return client is not None and ip_address(client[0]).is_loopback
    except ValueError:
        return False


def _another_page_asks(scope: Scope) -> bool:
    """Whether a browser says that a page of somebody else's wants to change something here, or to open a socket.

    The page library is not asked: to judge a strange origin it asks a host elsewhere for this machine's own address.
    """
    if scope["type"] == "http" and scope["method"] in ("GET", "HEAD"):
        return False
    headers: dict[bytes, bytes] = dict(scope["headers"])
    host = headers.get(b"host", b"")
    return headers.get(b"origin") not in (None, b"http://" + host, b"https://" + host)


def marked(scope: Scope, mark: bytes) -> Scope:
    """The scope with this mark and no other; b"" for none."""
    headers = [(name, value) for name, value in scope["headers"] if name.lower() != SESSION_MARK]
    return {**scope, "headers": [*headers, (SESSION_MARK, mark)] if mark else headers}


def cookie(scope: Scope, name: str) -> str:
    """The value of a cookie; "" where it is missing, or there twice."""
    said = [value.decode("latin-1") for header, value in scope["headers"] if header == b"cookie"]
    pairs = [each.strip().partition("=") for each in ";".join(said).split(";")]
    values = [value for key, _, value in pairs if key == name]
    return values[0] if len(values) == 1 else ""


def from_here(scope: Scope) -> bool:
    """Whether the browser says that a page of ours asked: needed of all that changes something, and of sockets."""
    if scope["type"] == "http" and scope["method"] in ("GET", "HEAD"):
        return True
    headers: dict[bytes, bytes] = dict(scope["headers"])
    return headers.get(b"origin", b"") == b"https://" + headers.get(b"host", b"")


async def _to_the_lock_screen(scope: Scope, send: Send) -> None:
    accepts = dict(scope["headers"]).get(b"accept", b"")
    if scope["type"] == "http" and scope["method"] == "GET" and b"text/html" in accepts:
        query = scope["query_string"].decode("latin-1")
        wanted = quote(scope["path"] + (f"?{query}" if query else ""), safe="")
        location = "/unlock" if scope["path"] == "/" and not query else f"/unlock?next={wanted}"
        headers = [(b"location", location.encode("ascii")), (b"content-length", b"0")]
        await send({"type": "http.response.start", "status": 303, "headers": headers})
        await send({"type": "http.response.body", "body": b""})
        return
    await refuse(scope, send, 403, "This phone is locked. Unlock it, then do it again.")
