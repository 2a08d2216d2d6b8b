"""The client's page on a free port of this machine, as a program that serves it would hold it."""

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn

from estimator.intake.inbox import Inbox
from estimator.intake.routes import intake_app
from tests.free_ports import free_port


@contextmanager
def intake_server(inbox: Inbox) -> Iterator[str]:
    """The address of the page, without a slash behind it."""
    port = free_port()
    config = uvicorn.Config(intake_app(inbox), "127.0.0.1", port, access_log=False, log_level="warning")
    server = uvicorn.Server(config)
    running = threading.Thread(target=server.run, daemon=True)
    running.start()
    try:
        for _ in range(300):
            if server.started:
                break
            time.sleep(0.05)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        running.join(timeout=20)
