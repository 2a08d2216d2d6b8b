"""Both doors of one program: this machine's own, and the one to the salon's network with https, pairing and PINs."""

import asyncio
import logging
import socket
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from starlette.routing import Route
from starlette.types import ASGIApp

from estimator.access.certificates import ServerFiles, server_files
from estimator.access.database import AccessDatabase
from estimator.access.sessions import Sessions
from estimator.access.trail import Happened, note
from estimator.errors import OutputError
from estimator.pages import person
from estimator.records.place import CERTIFICATES
from estimator.serving.door import AtThisMachine, Door
from estimator.serving.forms import door_routes
from estimator.serving.gate import gate_of
from estimator.serving.headers import OnlyThisHost, SafeHeaders
from estimator.serving.names import LOCAL_HOSTS, hosts_of

LOCAL_PORT, NETWORK_PORT = 8501, 8443
KEEP_ALIVE_SECONDS = 65
# The page library asks for this kind of socket.
_USUAL: dict[str, Any] = {
    "access_log": False,
    "log_config": None,
    "server_header": False,
    "ws": "websockets-sansio",
    "timeout_graceful_shutdown": 3,
}


@dataclass(frozen=True)
class Doors:
    """Where a program answers.

    address : In the network, an address of this machine.
    certificate, key : Files of the salon's own certificate; None to have one made.
    intake : Whether clients with a one-time code can send photographs; they need no phone of ours.
    """

    salon: Path
    address: str
    local_port: int = LOCAL_PORT
    network_port: int = NETWORK_PORT
    certificate: Path | None = None
    key: Path | None = None
    intake: bool = False

    @property
    def network_link(self) -> str:
        """What a phone is to open."""
        port = "" if self.network_port == 443 else f":{self.network_port}"
        return f"https://{self.address}{port}"


def page_for_this_machine(app: ASGIApp) -> ASGIApp:
    """The page with safe headers, answering to this machine's own names alone."""
    return SafeHeaders(OnlyThisHost(AtThisMachine(app), LOCAL_HOSTS))


def serve_here(page: Path, port: int = LOCAL_PORT) -> None:
    """Serve the page on this machine alone until the program is told to end. Raises OutputError for a port in use."""
    import uvicorn
    from streamlit.starlette import App

    _keep_quiet()
    server = uvicorn.Server(uvicorn.Config(page_for_this_machine(App(page)), **_USUAL))
    asyncio.run(server.serve([_bound("127.0.0.1", port)]))


def serve_network(page: Path, doors: Doors, opened: Callable[[ServerFiles], None] = lambda _: None) -> None:
    """Open both doors and keep them open until the program is told to end.

    page : The page's script. opened : Told once both answer. Raises OutputError where a door can't be opened.
    """
    from streamlit.starlette import App

    database = AccessDatabase(doors.salon)
    sessions = Sessions(database)
    files = _files(doors)
    person.come_in_by(person.NetworkDoor(database, doors.network_link, gate_of(sessions)))
    app = App(page, routes=[*door_routes(database, sessions, files.authority), *_intake_routes(doors)])
    door = Door(app, database, sessions, open_to_all=("/pair/", "/intake/") if doors.intake else ("/pair/",))
    network = SafeHeaders(OnlyThisHost(door, hosts_of(doors.address)))
    _keep_quiet()
    _note(database, Happened.DOOR_OPENED)
    try:
        asyncio.run(_both(page_for_this_machine(app), network, doors, files, opened))
    finally:
        _note(database, Happened.DOOR_CLOSED)


def _intake_routes(doors: Doors) -> list[Route]:
    if not doors.intake:
        return []
    from estimator.intake.inbox import Inbox
    from estimator.intake.routes import intake_routes
    from estimator.records.place import salon_place

    return intake_routes(Inbox(salon_place(doors.salon)))


def _keep_quiet() -> None:
    """No log of what was asked for: a code stands in an address, and sockets are told with the phone's own.

    By a filter, since the page library sets the levels anew when it starts.
    """
    logging.getLogger("uvicorn.access").disabled = True
    logging.getLogger("uvicorn.error").addFilter(_is_a_fault)


def _is_a_fault(told: logging.LogRecord) -> bool:
    return told.levelno >= logging.ERROR


def _files(doors: Doors) -> ServerFiles:
    if doors.certificate is not None and doors.key is not None:
        return ServerFiles(doors.certificate, doors.key, b"", "")
    return server_files(doors.salon / CERTIFICATES, hosts_of(doors.address))


def _note(database: AccessDatabase, what: Happened) -> None:
    with database.writing() as rows:
        note(rows, what)


async def _both(
    local: ASGIApp, network: ASGIApp, doors: Doors, files: ServerFiles, opened: Callable[[ServerFiles], None]
) -> None:
    import uvicorn

    from estimator.serving.listening import MOST_HEAD_BYTES, Impatient, Listening

    first = uvicorn.Server(uvicorn.Config(local, lifespan="on", **_USUAL))
    second = uvicorn.Server(
        uvicorn.Config(
            network,
            lifespan="off",
            http=Impatient,
            h11_max_incomplete_event_size=MOST_HEAD_BYTES,
            ssl_certfile=str(files.certificate),
            ssl_keyfile=str(files.key),
            proxy_headers=False,
            timeout_keep_alive=KEEP_ALIVE_SECONDS,
            **_USUAL,
        )
    )
    sockets = [_bound("127.0.0.1", doors.local_port), _bound(doors.address, doors.network_port, Listening)]
    tasks = [asyncio.create_task(first.serve([sockets[0]]))]
    while not first.started and not tasks[0].done():
        await asyncio.sleep(0.05)
    tasks.append(asyncio.create_task(second.serve([sockets[1]])))
    while not second.started and not any(task.done() for task in tasks):
        await asyncio.sleep(0.05)
    if second.started:
        opened(files)
    await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    first.should_exit = second.should_exit = True  # one door alone would be half a program
    await asyncio.gather(*tasks)


def _bound(address: str, port: int, kind: type[socket.socket] = socket.socket) -> socket.socket:
    opened = kind(socket.AF_INET, socket.SOCK_STREAM)
    opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        opened.bind((address, port))
    except OSError as problem:
        opened.close()
        raise OutputError(
            f"Port {port} of {address} can't be used ({problem.strerror}). Another program may hold it: end that, or "
            "name another port."
        ) from problem
    return opened
