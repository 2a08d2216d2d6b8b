"""A network that breaks: what goes between a program and its database server passes here, until it is cut."""

import random
import socket
import struct
import threading
from collections.abc import Callable


class CutNetwork:
    """A door on this machine that leads to a server's port, and slams after so many bytes.

    bytes_until_cut : Asked for each connection; so many bytes pass, both ways together, then both ends see it reset.
    """

    def __init__(self, server_port: int, bytes_until_cut: Callable[[], int]) -> None:
        self._server_port, self._bytes_until_cut = server_port, bytes_until_cut
        self.cuts = 0
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port = self._door.getsockname()[1]
        threading.Thread(target=self._welcome, daemon=True).start()

    def close(self) -> None:
        self._door.close()

    def _welcome(self) -> None:
        while True:
            try:
                guest, _ = self._door.accept()
            except OSError:
                return  # the door is closed
            server = socket.create_connection(("127.0.0.1", self._server_port))
            left = _Allowance(self._bytes_until_cut())
            for source, target in ((guest, server), (server, guest)):
                threading.Thread(target=self._carry, args=(source, target, left), daemon=True).start()

    def _carry(self, source: socket.socket, target: socket.socket, left: "_Allowance") -> None:
        try:
            while some := source.recv(4096):
                passes = left.taken(len(some))
                target.sendall(some[:passes])
                if passes < len(some):
                    self.cuts += 1
                    break
        except OSError:
            pass  # the other way was cut already
        for end in (source, target):
            _reset(end)


class _Allowance:
    """So many bytes, shared by both ways of a connection."""

    def __init__(self, count: int) -> None:
        self._left, self._one = count, threading.Lock()

    def taken(self, wanted: int) -> int:
        with self._one:
            passes = min(wanted, self._left)
            self._left -= passes
            return passes


def _reset(end: socket.socket) -> None:
    # Lingering for no time makes it a reset, as a broken line shows, and no orderly goodbye (RFC 9293, section 3.10.7).
    try:
        end.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        end.shutdown(socket.SHUT_RDWR)
    except OSError:
        pass  # gone already
    end.close()


def some_bytes(most: int, seed: int) -> Callable[[], int]:
    """Another number of bytes each time it is asked."""
    chance = random.Random(seed)
    return lambda: chance.randint(0, most)
