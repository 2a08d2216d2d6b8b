"""An empty salon for tests of the exchange, made once and copied."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from estimator.records.place import DATABASE_VARIABLE, SALON_VARIABLE, SalonPlace
from estimator.records.store import Store, open_store


@pytest.fixture(autouse=True)
def no_salon_of_ones_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """No test touches the records of whoever runs it."""
    monkeypatch.delenv(SALON_VARIABLE, raising=False)
    monkeypatch.delenv(DATABASE_VARIABLE, raising=False)


@pytest.fixture(scope="session")
def empty_salon(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = SalonPlace(tmp_path_factory.mktemp("exchange") / "salon")
    open_store(place).close()
    return place.folder


@pytest.fixture
def salon(tmp_path: Path, empty_salon: Path) -> Path:
    """The folder of an empty salon."""
    shutil.copytree(empty_salon, tmp_path / "salon")
    return tmp_path / "salon"


@pytest.fixture
def store(salon: Path) -> Iterator[Store]:
    with open_store(SalonPlace(salon)) as opened:
        yield opened
