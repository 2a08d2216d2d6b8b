"""Drills of handing out and taking in; `python -m tests.estimator.records.handing_drills NAME FOLDER COUNT`, JSON."""

import json
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import func, select

from estimator.records import model
from estimator.records.archive import opened_archive
from estimator.records.erasing import erase_client
from estimator.records.exporting import FORMAT, ROWS, client_rows, export_client, import_client
from estimator.records.place import SalonPlace
from estimator.records.store import Store, open_store
from estimator.records.visits import keep_visit
from tests.estimator.records.drills import faults_of, killed, tell
from tests.estimator.records.invented import photo, visit


def _with_visits(place: SalonPlace, *names: str) -> None:
    with open_store(place) as store:
        for name in names:
            keep_visit(store, visit(name, photos=(photo(name, size=60_000), photo(f"{name} after", "after"))))


def _seconds(place: SalonPlace, work: Callable[[Store], object]) -> float:
    """How long it takes on this machine when nobody is killed."""
    with open_store(place) as store:
        began = time.perf_counter()
        work(store)
        return time.perf_counter() - began


def kill_while_exporting(folder: Path, count: int) -> dict[str, Any]:
    """Children export a client and are killed; whatever bears an export's name is whole, and nothing else is left."""
    place, out = SalonPlace(folder / "salon"), folder / "out"
    _with_visits(place, "goes out", "stays")
    faults: list[str] = []
    whole = finished = 0
    longest = 1.5 * _seconds(place, lambda store: export_client(store, "goes out", out / "first.zip"))
    for life in range(count):

        def exports(mouth: int, life: int = life) -> None:
            with open_store(place) as store:
                tell(mouth, "begun")
                for number in range(50):
                    export_client(store, "goes out", out / f"{life} {number}.zip")
                    tell(mouth, f"{life} {number}.zip")

        told = set(killed(exports, longest, lines_first=1)[1:])
        finished += len(told)
        with open_store(place) as store:
            faults += faults_of(store)
            export_client(store, "goes out", out / f"{life} after.zip")
        there = {path.name for path in out.iterdir()}
        faults += [f"lost {name}" for name in told - there] + [name for name in there if not name.endswith(".zip")]
        for path in out.glob("*.zip"):
            with opened_archive(path, FORMAT):
                whole += 1
            path.unlink()
    return {"kills": count, "whole": whole, "finished": finished, "faults": faults}


def kill_while_importing(folder: Path, count: int) -> dict[str, Any]:
    """Children import a client and are killed; it is there whole or not at all, and importing again makes it whole."""
    place, file = SalonPlace(folder / "salon"), folder / "comes.zip"
    _with_visits(place, "stays")
    _with_visits(SalonPlace(folder / "other"), "comes")
    with open_store(SalonPlace(folder / "other")) as other:
        export_client(other, "comes", file)
    with opened_archive(file, FORMAT) as archive:
        wanted = json.loads(archive.read(ROWS))
    faults: list[str] = []
    there = told_of = 0
    longest = 1.5 * _seconds(place, lambda store: import_client(store, file))
    with open_store(place) as store:
        erase_client(store, "comes")
    for _ in range(count):

        def imports(mouth: int) -> None:
            with open_store(place) as store:
                tell(mouth, "begun")
                import_client(store, file)
                tell(mouth, "imported")

        told = "imported" in killed(imports, longest, lines_first=1)
        told_of += told
        with open_store(place) as store:
            faults += faults_of(store)
            here = _is_here(store)
            there += here
            if told and not here:
                faults.append("told of, and not there")
            import_client(store, file)
            with store.looking() as session:
                rows = client_rows(session.connection(), wanted["client"][0]["id"])
            if rows != wanted:
                faults.append("not equal after importing again")
            faults += faults_of(store)
            erase_client(store, "comes")
    return {"kills": count, "there": there, "told": told_of, "faults": faults}


def _is_here(store: Store) -> bool:
    with store.looking() as session:
        return bool(session.scalar(select(func.count()).where(model.Client.code == "comes")))


DRILLS = {drill.__name__: drill for drill in (kill_while_exporting, kill_while_importing)}

if __name__ == "__main__":
    print(json.dumps(DRILLS[sys.argv[1]](Path(sys.argv[2]), int(sys.argv[3]))))
