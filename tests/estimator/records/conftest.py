"""Records for tests: a fresh salon on each database, and an invented visit without a photograph of anybody."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from estimator.records.place import DATABASE_VARIABLE, SALON_VARIABLE, SalonPlace
from estimator.records.store import Store, open_store
from tests.estimator.records.postgres_server import PostgresServer, server_programs


@pytest.fixture(scope="session")
def postgres() -> Iterator[PostgresServer]:
    programs = server_programs()
    if programs is None:
        pytest.skip("POSTGRESQL TESTS SKIPPED: no server is installed (apt-get install postgresql)")
    server = PostgresServer(programs)
    yield server
    server.close()


@pytest.fixture(autouse=True)
def no_salon_of_ones_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """No test touches the records of whoever runs it."""
    monkeypatch.delenv(SALON_VARIABLE, raising=False)
    monkeypatch.delenv(DATABASE_VARIABLE, raising=False)


@pytest.fixture(scope="session")
def new_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A salon's folder as the program makes it, to be copied: tables are made once and not for each test."""
    place = SalonPlace(tmp_path_factory.mktemp("new") / "salon")
    open_store(place).close()
    return place.folder


@pytest.fixture(scope="session")
def new_tables(postgres: PostgresServer, tmp_path_factory: pytest.TempPathFactory) -> str:
    """A database with the program's tables, to be copied."""
    postgres.execute("CREATE DATABASE new_tables")
    open_store(SalonPlace(tmp_path_factory.mktemp("server") / "salon", postgres.address_of("new_tables"))).close()
    return "new_tables"


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.slow)])
def place(request: pytest.FixtureRequest, tmp_path: Path, new_folder: Path) -> SalonPlace:
    """An empty salon, once on each database."""
    if request.param == "sqlite":
        shutil.copytree(new_folder, tmp_path / "salon")
        return SalonPlace(tmp_path / "salon")
    template = request.getfixturevalue("new_tables")
    return SalonPlace(tmp_path / "salon", request.getfixturevalue("postgres").new_address(template))


@pytest.fixture
def store(place: SalonPlace) -> Iterator[Store]:
    with open_store(place) as opened:
        yield opened


@pytest.fixture
def file_store(tmp_path: Path, new_folder: Path) -> Iterator[Store]:
    """An empty salon in a folder alone."""
    shutil.copytree(new_folder, tmp_path / "salon")
    with open_store(SalonPlace(tmp_path / "salon")) as opened:
        yield opened
