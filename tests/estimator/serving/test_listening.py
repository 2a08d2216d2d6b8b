"""Strangers who only hold connections: they lock nobody out, and are hung up on."""

import asyncio
import socket
import time
from contextlib import closing, contextmanager
from pathlib import Path
from threading import Thread

import pytest
import uvicorn

from estimator.serving import forms, listening
from estimator.serving.listening import Impatient, Listening


class OfTwo(Listening):
    most_of_one_address, most_of_all = 2, 3


def calling(door):
    return closing(socket.create_connection(door.getsockname(), timeout=5))


def test_what_comes_beyond_the_limit_of_one_address_is_closed_and_the_next_comes_in_once_one_has_gone():
    with OfTwo() as door:
        door.bind(("127.0.0.1", 0))
        door.listen()
        with calling(door), calling(door), calling(door) as third:
            first, second = door.accept()[0], door.accept()[0]
            with pytest.raises(BlockingIOError):
                door.accept()
            assert third.recv(1) == b""
            first.close()
            with calling(door):
                door.accept()[0].close()
        second.close()


def test_many_addresses_together_have_a_limit_as_well():
    with OfTwo() as door:
        door.bind(("127.0.0.1", 0))
        door.listen()
        held = []
        for last in (1, 2, 3):  # 127.0.0.0/8 is this machine: RFC 1122, 3.2.1.3
            held.append(socket.create_connection(door.getsockname(), 5, source_address=(f"127.0.0.{last}", 0)))
            held.append(door.accept()[0])
        held.append(socket.create_connection(door.getsockname(), 5, source_address=("127.0.0.4", 0)))
        with pytest.raises(BlockingIOError):
            door.accept()
        for each in held:
            each.close()


class Hasty(Impatient):
    head_seconds = 0.4


async def page(scope, receive, send):
    await asyncio.sleep(1.0 if scope["path"] == "/slow" else 0.0)
    await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]})
    await send({"type": "http.response.body", "body": b"ok"})


@contextmanager
def served():
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        server = uvicorn.Server(uvicorn.Config(page, http=Hasty, lifespan="off", log_config=None, access_log=False))
        thread = Thread(target=lambda: asyncio.run(server.serve([door])), daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.01)
        yield door
        server.should_exit = True
        thread.join(5)


HEAD = b"GET / HTTP/1.1\r\nHost: x\r\n"


def hung_up(caller, drip=b"") -> bool:
    """Whether the other side hangs up within three seconds, while `drip` keeps coming."""
    until = time.monotonic() + 3.0
    caller.settimeout(0.1)
    while time.monotonic() < until:
        try:
            if drip:
                caller.sendall(drip)
            if caller.recv(100) == b"":
                return True
        except TimeoutError:
            continue
        except OSError:
            return True
    return False


@pytest.mark.slow
def test_who_does_not_finish_asking_is_hung_up_on_and_who_asks_is_answered():
    with served() as door:
        for begun in (b"", HEAD):
            with calling(door) as caller:
                caller.sendall(begun)
                assert hung_up(caller), begun
        with calling(door) as caller:
            caller.sendall(HEAD + b"\r\n")
            assert caller.recv(100).startswith(b"HTTP/1.1 200")
            caller.sendall(HEAD)  # half of a second one
            assert hung_up(caller)
        with calling(door) as caller:
            caller.sendall(HEAD)
            assert hung_up(caller, b"x: y\r\n")
        with calling(door) as caller:  # a body that nobody waits for, in drops
            caller.sendall(b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 9000\r\n\r\n")
            assert hung_up(caller, b"a")
        with calling(door) as caller:  # an answer takes as long as it takes
            caller.sendall(HEAD.replace(b"/ ", b"/slow ", 1) + b"\r\n")
            assert caller.recv(100).startswith(b"HTTP/1.1 200")


def test_the_limits_that_are_written_down_are_the_ones_that_hold():
    told = " ".join((Path(__file__).parents[3] / "docs" / "security.md").read_text(encoding="utf-8").split())
    assert f"{Listening.most_of_one_address} connections of one address and {Listening.most_of_all} in all" in told
    assert f"head of a request within {Impatient.head_seconds:.0f} seconds" in told
    assert f"a form that takes longer than {forms.MOST_FORM_SECONDS:.0f}" in told
    assert f"has {listening.MOST_HEAD_BYTES / 1024:.0f} kB at most, a form {forms.MOST_FORM_BYTES / 1024:.0f}" in told
