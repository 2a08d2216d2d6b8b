"""A door with a page behind it that holds a client's name, and a browser before it."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from starlette.applications import Starlette

from estimator.access import people, phones, pins
from estimator.access.database import AccessDatabase
from estimator.access.roles import Person, Role
from estimator.access.sessions import Sessions
from estimator.serving.door import Door
from estimator.serving.forms import door_routes
from estimator.serving.headers import OnlyThisHost, SafeHeaders
from tests.estimator.access.conftest import OTHER_PIN, PIN, Clock
from tests.estimator.serving.asking import HOST, Browser

SECRET = b"Marigold has level 7.4 at the crown"


class Behind:
    """Stands for the page library: every address and the socket tell a client's name, and who asked."""

    def __init__(self, forms: Starlette) -> None:
        self._forms = forms
        self.marks: list[bytes] = []

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        if scope["type"] == "http" and scope["path"].startswith(("/pair", "/unlock", "/lock", "/pin")):
            await self._forms(scope, receive, send)
            return
        self.marks += [value for name, value in scope["headers"] if name == b"x-tressmeter-session"]
        if scope["type"] == "http":
            await send({"type": "http.response.start", "status": 200, "headers": [(b"content-type", b"text/html")]})
            await send({"type": "http.response.body", "body": SECRET})
            return
        await receive()
        await send({"type": "websocket.accept"})
        while True:
            message = await receive()
            if message["type"] == "websocket.disconnect":
                return
            await send({"type": "websocket.send", "bytes": SECRET})


@dataclass
class Salon:
    """All that a test needs of one salon behind its door."""

    database: AccessDatabase
    sessions: Sessions
    clock: Clock
    behind: Behind
    app: Any
    owner: Person
    colourist: Person

    def paired(self, label: str = "chair one") -> Browser:
        browser = Browser(self.app)
        answer = browser.post(f"/pair/{phones.offer_pairing(self.database)}", {"label": label})
        assert answer.status == 303
        return browser

    def unlocked(self) -> Browser:
        browser = self.paired()
        assert browser.post("/unlock", {"person": self.owner.id, "pin": PIN, "next": "/"}).status == 303
        return browser


def door_of(folder: Path) -> Salon:
    database = AccessDatabase(folder)
    clock = Clock()
    sessions = Sessions(database, clock)
    behind = Behind(Starlette(routes=door_routes(database, sessions, b"-----BEGIN CERTIFICATE-----")))
    app = SafeHeaders(OnlyThisHost(Door(behind, database, sessions), (HOST.partition(":")[0],)))
    owner = people.add_person(database, "Ilse", Role.OWNER, PIN)
    return Salon(
        database, sessions, clock, behind, app, owner, people.add_person(database, "Bram", Role.COLOURIST, OTHER_PIN)
    )


@pytest.fixture
def salon(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Salon:
    monkeypatch.setattr(pins, "COST", 2**4)  # what is asked here is who comes in, not how long a PIN takes
    return door_of(tmp_path)
