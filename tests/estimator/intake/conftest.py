"""A salon with an inbox, time that a test sets, and a client at the door."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from estimator.intake.inbox import Inbox
from estimator.intake.routes import intake_app
from estimator.intake.seen_time import SeenTime
from estimator.records.place import SalonPlace
from tests.estimator.intake.browserless import SAMPLES, Browserless


class Clock:
    """The machine's clock and the seconds that it counts, both set by hand."""

    def __init__(self) -> None:
        self.shown, self.counted = datetime(2026, 11, 20, 9, 0, tzinfo=UTC), 1_000.0

    def goes_on(self, **span: float) -> None:
        self.shown += timedelta(**span)
        self.counted += timedelta(**span).total_seconds()

    def seen(self) -> SeenTime:
        """Time as a program sees it that is started now."""
        return SeenTime(lambda: self.shown, lambda: self.counted)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def place(tmp_path: Path) -> SalonPlace:
    return SalonPlace(tmp_path / "salon")


@pytest.fixture
def inbox(place: SalonPlace, clock: Clock) -> Inbox:
    return Inbox(place, time=clock.seen())


@pytest.fixture
def client(inbox: Inbox) -> Browserless:
    return Browserless(intake_app(inbox))


@pytest.fixture(scope="session")
def photos() -> tuple[bytes, ...]:
    """Small photographs, each another one, as a phone makes them."""
    import cv2

    whole = cv2.imread(str(SAMPLES / "head.jpg"))
    small = cv2.resize(whole, (320, 240), interpolation=cv2.INTER_AREA)
    return tuple(cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 70 + n])[1].tobytes() for n in range(24))
