"""What every answer tells the browser: load nothing from elsewhere, guess no types, show this in nobody's frame."""

import base64
import hashlib
import re
from functools import cache
from html import escape
from pathlib import Path

from starlette.types import ASGIApp, Message, Receive, Scope, Send

# The page library styles by inline rules, begins with a line of inline script, known here by its hash, and loads our
# drawing board from a blob: hence these words. Nothing may come from, or go to, another host.
PAGE_POLICY = (
    "default-src 'self'; script-src 'self' blob:{hashes}; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; media-src 'self' data: blob:; connect-src 'self'; "
    "worker-src 'self' blob:; frame-src 'self'; object-src 'none'; base-uri 'self'; form-action 'self'; "
    "frame-ancestors 'self'"
)
_ALWAYS = {
    b"x-content-type-options": b"nosniff",
    b"x-frame-options": b"SAMEORIGIN",
    b"referrer-policy": b"same-origin",  # with no-referrer a browser leaves our own forms without their origin
    b"cross-origin-opener-policy": b"same-origin",
    b"cross-origin-resource-policy": b"same-origin",
    b"permissions-policy": b"camera=(self), geolocation=(), microphone=(), payment=(), usb=()",
}
_ASSETS = "/static/"  # the page library's own files: the same for everybody, so they may be kept


class SafeHeaders:
    """Wraps an app so that each of its answers carries the headers above; an answer's own policy stands."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass everything on; only the start of an answer changes."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": _completed(message.get("headers", []), scope["path"])}
            await send(message)

        await self._app(scope, receive, with_headers)


def _completed(headers: list[tuple[bytes, bytes]], path: str) -> list[tuple[bytes, bytes]]:
    given = {name.lower() for name, _ in headers}
    wanted = {**_ALWAYS, b"content-security-policy": _page_policy()}
    if not path.startswith(_ASSETS):
        wanted[b"cache-control"] = b"no-store"
        headers = [(name, value) for name, value in headers if name.lower() != b"cache-control"]
        given.discard(b"cache-control")
    return [*headers, *((name, value) for name, value in wanted.items() if name not in given)]


@cache
def _page_policy() -> bytes:
    return PAGE_POLICY.format(hashes="".join(f" 'sha256-{each}'" for each in inline_hashes(_first_page()))).encode(
        "ascii"
    )


def _first_page() -> str:
    from streamlit.file_util import get_static_dir

    return (Path(get_static_dir()) / "index.html").read_text(encoding="utf-8")


def inline_hashes(html: str) -> tuple[str, ...]:
    """The SHA-256, in base64, of each script that stands in a page itself (CSP level 3, 6.7.3.3)."""
    inside = re.findall(r"<script(?![^>]*\bsrc=)[^>]*>(.*?)</script>", html, re.DOTALL)
    return tuple(base64.b64encode(hashlib.sha256(each.encode("utf-8")).digest()).decode("ascii") for each in inside)


class OnlyThisHost:
    """Wraps an app so that it answers under its own names alone: a page elsewhere that points its name here gets none.

    hosts : Names and addresses, without a port.
    """

    def __init__(self, app: ASGIApp, hosts: tuple[str, ...]) -> None:
        self._app = app
        self._hosts = frozenset(host.lower() for host in hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what was asked of us; a foreign name gets a plain refusal."""
        if scope["type"] in ("http", "websocket") and host_of(scope) not in self._hosts:
            await refuse(scope, send, 421, "This address is not one of this program's.")
            return
        await self._app(scope, receive, send)


def host_of(scope: Scope) -> str:
    """The host that was asked for, without its port; "" where none was said."""
    said = next((value for name, value in scope["headers"] if name == b"host"), b"").decode("latin-1").lower()
    if said.startswith("["):
        return said[1:].partition("]")[0]
    return said.partition(":")[0]


_REFUSED = (
    '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>Refused</title>'
    '<meta name="viewport" content="width=device-width, initial-scale=1">'
    '<meta name="color-scheme" content="light dark"></head>'
    '<body><main style="margin: 16px"><h1 style="font: 600 20px/1.4 system-ui, sans-serif">{}</h1></main></body></html>'
)


async def refuse(scope: Scope, send: Send, status: int, sentence: str) -> None:
    """Answer with one sentence, large enough for a phone; a socket is closed before it opens."""
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008})
        return
    body = _REFUSED.format(escape(sentence)).encode("utf-8")
    await send(
        {
            "type": "http.response.start",
            "status": status,
            "headers": [(b"content-type", b"text/html; charset=utf-8"), (b"content-length", str(len(body)).encode())],
        }
    )
    await send({"type": "http.response.body", "body": body})
