"""Drills that need processes of their own: `python -m tests.estimator.records.drills NAME FOLDER COUNT`; JSON out.

This program has one thread, so that it may fork children that are ready at once and be killed at any moment.
"""

import json
import os
import random
import resource
import shutil
import signal
import sqlite3
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import func, select

from estimator.errors import EstimatorError
from estimator.records import model
from estimator.records.archive import opened_archive
from estimator.records.backing_up import FORMAT, back_up
from estimator.records.checking import stray_files, unsound_files
from estimator.records.clients import change_client, client
from estimator.records.erasing import erase_client
from estimator.records.errors import ChangedMeanwhileError, NotKeptError
from estimator.records.migrating import NEWEST, revision_of
from estimator.records.place import SalonPlace
from estimator.records.store import Store, open_store
from estimator.records.visits import keep_visit
from tests.estimator.records.invented import photo, visit

FROZEN = Path(__file__).with_name("frozen")
LONGEST_LIFE_SECONDS = 0.12
chance = random.Random(20261125)


def killed(work: Callable[[int], None], longest: float = LONGEST_LIFE_SECONDS, lines_first: int = 0) -> list[str]:
    """What a child told before it was killed at a moment of chance, line by line.

    work : Gets a pipe to tell on. lines_first : So much is waited for before chance begins, however slow the machine.
    """
    ears, mouth = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(ears)
        try:
            work(mouth)
        finally:
            os._exit(0)
    os.close(mouth)
    heard = b""
    while heard.count(b"\n") < lines_first and (some := os.read(ears, 1 << 16)):
        heard += some
    time.sleep(chance.uniform(0, longest))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with os.fdopen(ears, "rb") as rest:
        return (heard + rest.read()).decode().splitlines()


def tell(mouth: int, line: str) -> None:
    os.write(mouth, line.encode() + b"\n")


def faults_of(store: Store) -> list[str]:
    """What is wrong with records that were just opened."""
    faults = [f"stray {sha256[:8]}" for sha256 in stray_files(store)[0]]
    faults += [f"part {part.name}" for part in stray_files(store)[1]]
    faults += [f"missing {sha256[:8]}" for sha256 in unsound_files(store)[0]]
    faults += [f"damaged {sha256[:8]}" for sha256 in unsound_files(store)[1]]
    faults += [f"note {note.name}" for note in store.place.pending.glob("*.json")]
    with store.looking() as session:
        visits = session.scalar(select(func.count()).select_from(model.Visit)) or 0
        for table, each in ((model.Reading, 3), (model.Photo, 2), (model.Zone, 2), (model.Document, 2)):
            found = session.scalar(select(func.count()).select_from(table)) or 0
            if found != each * visits:
                faults.append(f"{found} of {each * visits} rows of {table.__tablename__}")
    return faults


def kill_while_keeping(folder: Path, count: int) -> dict[str, Any]:
    """Children keep visit after visit and are killed; every visit that was told of must be there whole."""
    told: set[str] = set()
    faults: list[str] = []
    slowest = 0.0
    place = SalonPlace(folder)
    open_store(place).close()
    for life in range(count):

        def keeps(mouth: int, life: int = life) -> None:
            with open_store(place) as store:
                for number in range(1000):
                    code = f"life {life} visit {number}"
                    keep_visit(store, visit(code, photos=(photo(code, size=60_000), photo(f"{code} after", "after"))))
                    tell(mouth, code)

        told |= set(killed(keeps, lines_first=life % 4))
        began = time.perf_counter()
        with open_store(place) as store:
            slowest = max(slowest, time.perf_counter() - began)
            if life % 50 == 49 or life == count - 1 or count <= 50:
                faults += faults_of(store)
    with open_store(place) as store, store.looking() as session:
        there = set(session.scalars(select(model.Client.code)))
        (whole,) = sqlite3.connect(place.database_file).execute("PRAGMA integrity_check").fetchone()
    return {"kills": count, "told": len(told), "lost": sorted(told - there), "faults": faults, "whole": whole,
            "slowest_start_seconds": round(slowest, 3)}  # fmt: skip


def kill_while_erasing(folder: Path, count: int) -> dict[str, Any]:
    """Children erase a client and are killed; the client must be there whole, or gone from every file."""
    place = SalonPlace(folder)
    gone = there = 0
    faults: list[str] = []
    with open_store(place) as store:
        keep_visit(store, visit("stays"))
    for life in range(count):
        secret = f"secret-{life}-name"
        with open_store(place) as store:
            keep_visit(store, visit(f"goes {life}", client_name=secret, contact=f"{secret}@example.org"))

        def erases(mouth: int, life: int = life) -> None:
            with open_store(place) as store:
                tell(mouth, "begun")
                erase_client(store, f"goes {life}")
                tell(mouth, "erased")

        killed(erases, lines_first=1)
        with open_store(place) as store:
            faults += faults_of(store)
            try:
                client(store, f"goes {life}")
                there += 1
                erase_client(store, f"goes {life}")
            except NotKeptError:
                gone += 1
        found = [path.name for path in folder.rglob("*") if path.is_file() and secret.encode() in path.read_bytes()]
        faults += [f"{secret} in {name}" for name in found]
    return {"kills": count, "gone": gone, "there": there, "faults": faults}


def kill_while_migrating(folder: Path, count: int) -> dict[str, Any]:
    """Children bring old tables forward and are killed; the next start must find or make them whole."""
    faults: list[str] = []
    finished = 0
    for life in range(count):
        place = SalonPlace(folder / str(life))
        old_salon(place)

        def migrates(mouth: int, place: SalonPlace = place) -> None:
            open_store(place).close()
            tell(mouth, "done")

        finished += len(killed(migrates, 0.25))
        with open_store(place) as store:
            if revision_of(store.engine) != NEWEST:
                faults.append(f"tables {revision_of(store.engine)}")
            with store.looking() as session:
                marks = session.scalar(select(func.count()).select_from(model.VisitTag))
                readings = session.scalar(select(func.count()).select_from(model.Reading))
            if not (marks and readings == 6):
                faults.append(f"{marks} marks, {readings} readings")
        shutil.rmtree(place.folder)
    return {"kills": count, "finished": finished, "faults": faults}


def old_salon(place: SalonPlace) -> None:
    """A salon as the first version of the tables left it: two clients, one visit each, their files."""
    place.folder.mkdir(parents=True)
    connection = sqlite3.connect(place.database_file)
    connection.executescript((FROZEN / "version_0001.sql").read_text(encoding="utf-8"))
    connection.close()
    for sha256, content in _frozen_files():
        path = place.photos / sha256[:2] / sha256[2:4] / sha256
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def _frozen_files() -> list[tuple[str, bytes]]:
    from estimator.records.photo_files import hash_of

    shown = [part for code in ("M. D.", "Zoë K") for part in visit(code).photos]
    return [(hash_of(content), content) for part in shown for content in (part.content, part.thumbnail)]


def kill_while_backing_up(folder: Path, count: int) -> dict[str, Any]:
    """Children write backups and are killed; whatever bears a backup's name must be one, and nothing else is left."""
    place, out = SalonPlace(folder / "salon"), folder / "out"
    faults: list[str] = []
    whole = 0
    with open_store(place) as store:
        for number in range(3):
            keep_visit(store, visit(f"client {number}"))
    for life in range(count):

        def backs_up(mouth: int, life: int = life) -> None:
            with open_store(place) as store:
                tell(mouth, "begun")
                back_up(store, out / f"{life}.zip")
                tell(mouth, "done")

        killed(backs_up, lines_first=1)
        with open_store(place) as store:
            back_up(store, out / f"{life} after.zip")
        for path in list(out.iterdir()):
            if path.name.startswith("."):
                faults.append(path.name)
                continue
            with opened_archive(path, FORMAT):
                whole += 1
            path.unlink()
    return {"kills": count, "whole": whole, "faults": faults}


def disk_full(folder: Path, count: int) -> dict[str, Any]:
    """A child keeps a visit while no file may grow beyond a size, for many sizes: all of it is kept, or nothing."""
    place = SalonPlace(folder)
    faults: list[str] = []
    kept = 0
    with open_store(place) as store:
        keep_visit(store, visit("before"))
    for step in range(count):
        code, most = f"step {step}", int(700_000 * (step + 0.5) / count)

        def keeps(mouth: int, code: str = code, most: int = most) -> None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
            big = (photo(code, size=250_000), photo(f"{code} after", "after"))
            try:
                with open_store(place) as store:
                    keep_visit(store, visit(code, photos=big))
                tell(mouth, "kept")
            except EstimatorError as problem:
                tell(mouth, f"refused {problem}")
            except BaseException as problem:
                tell(mouth, f"fault {type(problem).__name__}: {problem}")

        (answer,) = finished(keeps) or ["nothing said"]
        kept += answer == "kept"
        if not answer.startswith(("kept", "refused")) or ("refused" in answer and "ree some space" not in answer):
            faults.append(f"{most}: {answer}")
        with open_store(place) as store:
            faults += [f"{most}: {fault}" for fault in faults_of(store)]
            with store.looking() as session:
                there = session.scalar(select(func.count()).where(model.Client.code == code))
            if there != (answer == "kept"):
                faults.append(f"{most}: {answer}, but {there} there")
            keep_visit(store, visit(f"later {step}"))
    return {"steps": count, "kept": kept, "faults": faults}


def finished(work: Callable[[int], None]) -> list[str]:
    """What a child told until it was done, line by line."""
    ears, mouth = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(ears)
        try:
            work(mouth)
        finally:
            os._exit(0)
    os.close(mouth)
    with os.fdopen(ears, "rb") as heard:
        told = heard.read().decode().splitlines()
    os.waitpid(child, 0)
    return told


def two_writers(folder: Path, count: int, address: str = "") -> dict[str, Any]:
    """Two processes with four threads each keep visits and count one client up: nothing is lost, nobody fails."""
    place = SalonPlace(folder, address)
    with open_store(place) as store:
        keep_visit(store, visit("counted", contact="0"))

    def writes(mouth: int, process: int) -> None:
        with open_store(place) as store:
            threads = [threading.Thread(target=_write, args=(store, mouth, process, n, count)) for n in range(4)]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()

    pipes = []
    for process in range(2):
        ears, mouth = os.pipe()
        if os.fork() == 0:
            os.close(ears)
            try:
                writes(mouth, process)
            finally:
                os._exit(0)
        os.close(mouth)
        pipes.append(ears)
    told = [line for ears in pipes for line in os.fdopen(ears, "rb").read().decode().splitlines()]
    for _ in pipes:
        os.wait()
    with open_store(place) as store:
        faults = [*faults_of(store), *(line for line in told if line.startswith("fault"))]
        counted = int(client(store, "counted").contact)
        with store.looking() as session:
            clients = session.scalar(select(func.count()).select_from(model.Client))
    return {"saves": 8 * count, "clients": clients, "counted": counted, "faults": faults,
            "changed_meanwhile": sum(line == "meanwhile" for line in told)}  # fmt: skip


def _write(store: Store, mouth: int, process: int, thread: int, count: int) -> None:
    for number in range(count):
        try:
            keep_visit(store, visit(f"p{process} t{thread} n{number}", client_name=""))
            while True:
                seen = client(store, "counted")
                try:
                    change_client(store, seen, contact=str(int(seen.contact) + 1))
                    break
                except ChangedMeanwhileError:
                    tell(mouth, "meanwhile")
        except BaseException as problem:
            tell(mouth, f"fault {type(problem).__name__}: {problem}")


DRILLS = {
    drill.__name__: drill
    for drill in (
        kill_while_keeping,
        kill_while_erasing,
        kill_while_migrating,
        kill_while_backing_up,
        disk_full,
        two_writers,
    )
}

if __name__ == "__main__":
    print(json.dumps(DRILLS[sys.argv[1]](Path(sys.argv[2]), int(sys.argv[3]), *sys.argv[4:])))
