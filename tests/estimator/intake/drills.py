"""A client's page that is killed: run as a program of its own, it sends photographs and says which were kept."""

import sys
from pathlib import Path

from estimator.intake.inbox import Inbox
from estimator.intake.routes import intake_app
from estimator.records.place import SalonPlace
from tests.estimator.intake.browserless import Browserless


def main(folder: str, code: str, photos: str) -> None:
    """Put in, take out and send without end; each act that the page answered for is told on a line."""
    client = Browserless(intake_app(Inbox(SalonPlace(Path(folder)))))
    # Kills come at moments of chance, many rounds use one code, and no round may be slowed down.
    for number, path in enumerate(sorted(Path(photos).iterdir())):
        if client.photo(code, path.read_bytes(), ("back", "crown")[number % 2]).status == 303:
            print(f"kept {number}", flush=True)
    if client.post(f"/intake/{code}/send", {}).status == 303:
        print("sent", flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
