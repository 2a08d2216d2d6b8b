"""Records for tests: a fresh salon on each database, and an invented visit without a photograph of anybody."""

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from estimator.records.place import DATABASE_VARIABLE, SALON_VARIABLE, SalonPlace
from estimator.records.store import Store, open_store

POSTGRES_FOLDERS = (*sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True), Path("/usr/local/bin"))


def _postgres_programs() -> Path | None:
    for folder in POSTGRES_FOLDERS:
        if (folder / "initdb").exists() and (folder / "pg_ctl").exists():
            return folder
    found = shutil.which("initdb")
    return Path(found).parent if found else None


class PostgresServer:
    """A real server of our own, on a private port of this machine, with its files in a folder of its own."""

    def __init__(self, programs: Path) -> None:
        self.programs = programs
        self.folder = Path(tempfile.mkdtemp(prefix="tressmeter-postgres-"))
        # The server refuses to run as the superuser of the machine.
        self.user = "postgres" if os.getuid() == 0 else None
        if self.user:
            owner = pwd.getpwnam(self.user)
            os.chown(self.folder, owner.pw_uid, owner.pw_gid)
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self._run("initdb", "-D", str(self.folder / "data"), "-U", "salon", "--auth=trust", "-E", "UTF8", "--no-sync")
        self.start()
        self.made = 0

    def _run(self, program: str, *words: str) -> None:
        command = [str(self.programs / program), *words]
        done = subprocess.run(command, user=self.user, cwd=self.folder, capture_output=True, text=True, check=False)
        if done.returncode:
            raise RuntimeError(f"{program} failed: {done.stderr[-400:]}")

    def start(self) -> None:
        # Without waiting for the disk: a killed program is survived as well, only a loss of power is not.
        options = f"-F -p {self.port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={self.folder}"
        log = str(self.folder / "log")
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-w", "-l", log, "-o", options, "start")

    def stop(self, how: str = "fast") -> None:
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-w", "-m", how, "stop")

    def new_address(self, template: str = "template1") -> str:
        """A database of its own: empty, or with the tables of `template`."""
        self.made += 1
        name = f"salon_{self.made}"
        self.execute(f"CREATE DATABASE {name} TEMPLATE {template}")
        return self.address_of(name)

    def address_of(self, name: str) -> str:
        return f"postgresql+psycopg://salon@127.0.0.1:{self.port}/{name}"

    def execute(self, statement: str) -> None:
        import psycopg

        with psycopg.connect(f"postgresql://salon@127.0.0.1:{self.port}/postgres", autocommit=True) as connection:
            connection.execute(statement)

    def write_out(self) -> None:
        """Everything that is kept is in the server's files, and what it has let go of is not."""
        self.execute("CHECKPOINT")

    def close(self) -> None:
        self.stop("immediate")
        for _ in range(20):
            shutil.rmtree(self.folder, ignore_errors=True)
            if not self.folder.exists():
                return
            time.sleep(0.1)


@pytest.fixture(scope="session")
def postgres() -> Iterator[PostgresServer]:
    programs = _postgres_programs()
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


@pytest.fixture(params=["sqlite", "postgresql"])
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
