"""A small browser for an app in this process: it asks, keeps the cookies, and returns what was answered."""

import asyncio
from dataclasses import dataclass, field
from http.cookies import SimpleCookie
from typing import Any

HOST = "192.168.1.20:8443"


@dataclass(frozen=True)
class Answer:
    """What came back. headers : Lower-case names."""

    status: int
    headers: list[tuple[str, str]]
    body: bytes

    def header(self, name: str) -> str:
        return next((value for key, value in self.headers if key == name), "")


@dataclass
class Browser:
    """Asks `app` as a browser on the network would."""

    app: Any
    host: str = HOST
    client: str = "192.168.1.77"
    cookies: dict[str, str] = field(default_factory=dict)

    def get(self, path: str, **more: str) -> Answer:
        return self.ask("GET", path, b"", {"accept": "text/html", **more})

    def post(self, path: str, said: dict[str, str], **more: str) -> Answer:
        from urllib.parse import urlencode

        headers = {"origin": f"https://{self.host}", "content-type": "application/x-www-form-urlencoded", **more}
        return self.ask("POST", path, urlencode(said).encode(), headers)

    def ask(self, method: str, path: str, body: bytes, headers: dict[str, str]) -> Answer:
        """Ask once, and keep what cookies are set."""
        answer = asyncio.run(self._ask(self._scope("http", path, headers, method), body))
        for name, value in answer.headers:
            if name == "set-cookie":
                for key, morsel in SimpleCookie(value).items():
                    self.cookies[key] = morsel.value
                    if morsel["max-age"] == "0":
                        del self.cookies[key]
        return answer

    def socket(self, incoming: list[dict[str, Any]], **headers: str) -> list[dict[str, Any]]:
        """Open a socket and send these messages; what the app sent back."""
        scope = self._scope("websocket", "/_stcore/stream", {"origin": f"https://{self.host}", **headers})
        waiting, sent = list(incoming), []

        async def receive() -> dict[str, Any]:
            if not waiting:
                return {"type": "websocket.disconnect", "code": 1000}
            first = waiting.pop(0)
            return first() if callable(first) else first

        async def send(message: dict[str, Any]) -> None:
            sent.append(message)

        asyncio.run(self.app(scope, receive, send))
        return sent

    def _scope(self, kind: str, path: str, headers: dict[str, str], method: str = "GET") -> dict[str, Any]:
        pairs = [(b"host", self.host.encode())]
        if self.cookies:
            pairs.append((b"cookie", "; ".join(f"{name}={value}" for name, value in self.cookies.items()).encode()))
        pairs += [(name.replace("_", "-").lower().encode(), value.encode()) for name, value in headers.items()]
        plain, _, query = path.partition("?")
        return {
            "type": kind,
            "method": method,
            "path": plain,
            "raw_path": plain.encode(),
            "query_string": query.encode(),
            "headers": pairs,
            "client": (self.client, 40000),
            "server": ("192.168.1.20", 8443),
            "scheme": "https" if kind == "http" else "wss",
            "root_path": "",
            "http_version": "1.1",
            "subprotocols": [],
            "extensions": {},
            "state": {},
        }

    async def _ask(self, scope: dict[str, Any], body: bytes) -> Answer:
        got: dict[str, Any] = {"status": 0, "headers": [], "body": b""}
        asked = False

        async def receive() -> dict[str, Any]:
            nonlocal asked
            if asked:
                await asyncio.sleep(3600)
            asked = True
            return {"type": "http.request", "body": body, "more_body": False}

        async def send(message: dict[str, Any]) -> None:
            if message["type"] == "http.response.start":
                got["status"] = message["status"]
                got["headers"] = [(k.decode("latin-1"), v.decode("latin-1")) for k, v in message["headers"]]
            else:
                got["body"] += message.get("body", b"")

        await self.app(scope, receive, send)
        return Answer(got["status"], got["headers"], got["body"])
