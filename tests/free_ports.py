"""Ports for the servers that tests start."""

import os
import socket
from itertools import count

# Below those that Linux hands to outgoing connections (ip_local_port_range, 32768 up): one might be taken between
# asking and listening. Each worker of a run has its own, so that no test speaks to the server of another.
_FIRST, _PER_WORKER, _LAST = 20_000, 800, 32_000
_worker = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw") or 0)
_turn = count()


def free_port() -> int:
    """A port of this machine on which nobody listens, and that was not given before in this run."""
    workers = (_LAST - _FIRST) // _PER_WORKER
    first = _FIRST + _worker % workers * _PER_WORKER
    for turn in _turn:
        port = first + (os.getpid() + turn) % _PER_WORKER
        with socket.socket() as free:
            try:
                free.bind(("127.0.0.1", port))
            except OSError:
                continue
        return port
    raise AssertionError  # `count` never ends
