"""How many may wait at the door to the network, and for how long: who only holds connections locks nobody out.

The laptop's own page is served by the same program, so strangers' connections may not use up what the system gives it.
"""

import asyncio
import socket
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

# A phone's browser holds six and one for the page's channel. Some systems give a program 256 files. [our assumption]
MOST_OF_ONE_ADDRESS, MOST_OF_ALL = 40, 180
MOST_HEAD_BYTES = 16 * 1024  # of a head that has no end yet
HEAD_SECONDS = 20.0  # for the first lines of a request, which a phone sends in one piece


class Listening(socket.socket):
    """A listening socket that closes what comes beyond its limits, before anything is read of it."""

    most_of_one_address, most_of_all = MOST_OF_ONE_ADDRESS, MOST_OF_ALL

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self._open: list[tuple[str, socket.socket]] = []

    def accept(self) -> tuple[socket.socket, Any]:
        """The next connection. Raises BlockingIOError, as for none at all, where there are too many."""
        taken, address = super().accept()
        self._open = [(host, each) for host, each in self._open if each.fileno() >= 0]
        of_this = sum(host == address[0] for host, _ in self._open)
        if of_this >= self.most_of_one_address or len(self._open) >= self.most_of_all:
            taken.close()
            raise BlockingIOError
        self._open.append((address[0], taken))
        return taken, address


class Impatient(H11Protocol):
    """The server's way of speaking, which hangs up on who keeps it waiting for the head of a request."""

    head_seconds = HEAD_SECONDS
    _hanging_up: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as its parent does
        """Somebody is there, and has so long to ask."""
        super().connection_made(transport)
        self._time_runs()

    def data_received(self, data: bytes) -> None:
        """Something came; what is no whole head, or belongs to an answer that is out, wins no time."""
        super().data_received(data)
        if self._waits():
            self._time_runs()
        else:
            self._stop_the_time()

    def connection_lost(self, exc: Exception | None) -> None:
        """Nobody is there any more."""
        self._stop_the_time()
        super().connection_lost(exc)

    def _waits(self) -> bool:
        """Whether nothing is being answered here; a socket of the page has gone over to another way of speaking."""
        ours = self.transport.get_protocol() is self
        return ours and (self.cycle is None or self.cycle.response_complete)

    def _time_runs(self) -> None:
        if self._hanging_up is None:
            self._hanging_up = asyncio.get_running_loop().call_later(self.head_seconds, self._hang_up)

    def _stop_the_time(self) -> None:
        if self._hanging_up is not None:
            self._hanging_up.cancel()
            self._hanging_up = None

    def _hang_up(self) -> None:
        self._hanging_up = None
        if self._waits():
            self.transport.abort()
