"""A client's browser without a browser: asks an ASGI application, follows the forms that stand on its pages."""

import asyncio
import html
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

BOUNDARY = "tressmeter-test-boundary"
SAMPLES = Path(__file__).resolve().parents[3] / "sample_images"


@dataclass
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return html.unescape(self.body.decode())

    @property
    def went_to(self) -> str:
        return self.headers.get("location", "")


@dataclass
class Browserless:
    """One client at one address."""

    app: Any
    address: str = "192.0.2.7"  # kept for documentation by RFC 5737
    asked: list[str] = field(default_factory=list)

    def get(self, path: str) -> Answer:
        return self.ask("GET", path)

    def ask(
        self, method: str, path: str, body: bytes = b"", kind: str = "", pieces: list[bytes] | None = None
    ) -> Answer:
        return asyncio.run(self.ask_now(method, path, body, kind, pieces))

    async def ask_now(
        self, method: str, path: str, body: bytes = b"", kind: str = "", pieces: list[bytes] | None = None
    ) -> Answer:
        self.asked.append(path)
        come = list(pieces if pieces is not None else [body])
        headers = [(b"host", b"salon.test")] + ([(b"content-type", kind.encode())] if kind else [])
        scope = {
            "type": "http", "http_version": "1.1", "method": method, "path": path.partition("#")[0], "root_path": "",
            "query_string": b"", "headers": headers, "client": (self.address, 50_000), "server": ("salon.test", 443),
            "scheme": "https", "raw_path": path.encode("utf-8", "surrogatepass"),
        }  # fmt: skip

        async def receive() -> dict[str, Any]:
            if not come:
                return {"type": "http.disconnect"}
            piece = come.pop(0)
            return {"type": "http.request", "body": piece, "more_body": bool(come)}

        sent: list[dict[str, Any]] = []

        async def send(message: dict[str, Any]) -> None:
            sent.append(message)

        await self.app(scope, receive, send)
        told = {key.decode().lower(): value.decode() for key, value in sent[0]["headers"]}
        return Answer(sent[0]["status"], told, b"".join(message.get("body", b"") for message in sent[1:]))

    def seal(self, page: str, form: str = "") -> str:
        """The token in the form on `page` that goes to the address `form`."""
        text = self.get(page).text
        found = re.search(rf'action="{re.escape(form or page)}".*?name="seal" value="([^"]+)"', text, re.DOTALL)
        assert found, f"{page} has no form to {form or page}: {text[:400]}"
        return found.group(1)

    def post(self, path: str, fields: dict[str, Any], page: str = "") -> Answer:
        """Fill and send the form on `page` (that of `path` itself without one)."""
        told = {"seal": self.seal(page or path, path), **fields}
        return self.ask("POST", path, urlencode(told, doseq=True).encode(), "application/x-www-form-urlencoded")

    def agree(self, code: str, *scopes: str) -> Answer:
        return self.post(f"/intake/{code}", {"agrees": list(scopes or ("remote consultation", "health answers"))})

    def photo(self, code: str, content: bytes, view: str = "back", name: str = "IMG_1.jpg") -> Answer:
        path = f"/intake/{code}/photos"
        body, kind = photo_form(self.seal(path), content, view, name)
        return self.ask("POST", path, body, kind)


def photo_form(seal: str, content: bytes, view: str = "back", name: str = "IMG_1.jpg") -> tuple[bytes, str]:
    """The body and kind of a form with one photograph, as RFC 7578 has it."""
    parts = [
        f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="{field}"\r\n\r\n{text}\r\n'.encode("utf-8", "replace")
        for field, text in (("seal", seal), ("view", view))
    ]
    head = f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="photo"; filename="{name}"\r\n'
    file = head.encode("utf-8", "replace") + b"Content-Type: image/jpeg\r\n\r\n" + content + b"\r\n"
    return b"".join([*parts, file, f"--{BOUNDARY}--\r\n".encode()]), f"multipart/form-data; boundary={BOUNDARY}"
