"""A PostgreSQL server of our own for tests and benchmarks, from the packages of this machine."""

import os
import pwd
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

from tests.free_ports import free_port

UNSYNCED = "-F"  # without waiting for the disk: a killed program is survived as well, only a loss of power is not
POSTGRES_FOLDERS = (*sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True), Path("/usr/local/bin"))


def server_programs() -> Path | None:
    """The folder of a server that is installed here; None where there is none."""
    for folder in POSTGRES_FOLDERS:
        if (folder / "initdb").exists() and (folder / "pg_ctl").exists():
            return folder
    found = shutil.which("initdb")
    return Path(found).parent if found else None


class PostgresServer:
    """A real server of our own, on a private port of this machine, with its files in a folder of its own.

    settings : Beside those that keep it private.
    """

    def __init__(self, programs: Path, settings: str = UNSYNCED) -> None:
        self.programs, self.settings = programs, settings
        self.folder = Path(tempfile.mkdtemp(prefix="tressmeter-postgres-"))
        # The server refuses to run as the superuser of the machine.
        self.user = "postgres" if os.getuid() == 0 else None
        if self.user:
            owner = pwd.getpwnam(self.user)
            os.chown(self.folder, owner.pw_uid, owner.pw_gid)
        self.port = free_port()
        self._run("initdb", "-D", str(self.folder / "data"), "-U", "salon", "--auth=trust", "-E", "UTF8", "--no-sync")
        self.start()
        self.made = 0

    def _run(self, program: str, *words: str) -> None:
        command = [str(self.programs / program), *words]
        done = subprocess.run(command, user=self.user, cwd=self.folder, capture_output=True, text=True, check=False)
        if done.returncode:
            raise RuntimeError(f"{program} failed: {done.stderr[-400:]}")

    def start(self) -> None:
        private = f"-p {self.port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={self.folder}"
        words, log = f"{self.settings} {private}", str(self.folder / "log")
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-w", "-l", log, "-o", words, "start")

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
