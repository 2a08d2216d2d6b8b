"""Flows to be recorded, and what must hold of a folder after power was lost in one of them.

`python -m tests.estimator.records.recorded_flows FOLDER NAME ...` runs them: each in FOLDER/NAME, the folder before it
copied to FOLDER/NAME.before, and a line on standard output for each thing that the program would tell a person.
"""

import json
import os
import shutil
import sqlite3
import sys
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import exists, func, select

from estimator.records import model
from estimator.records.archive import opened_archive
from estimator.records.backing_up import FORMAT as BACKUP
from estimator.records.backing_up import back_up
from estimator.records.checking import check_all
from estimator.records.converting import decrypt_salon, encrypt_salon
from estimator.records.drafts import Drafts
from estimator.records.erasing import erase_client
from estimator.records.errors import NotKeptError
from estimator.records.exporting import FORMAT as EXPORT
from estimator.records.exporting import export_client, import_client
from estimator.records.migrating import NEWEST, revision_of
from estimator.records.photo_files import hash_of
from estimator.records.place import KEY_FILE, SalonPlace
from estimator.records.searching import latest_visits
from estimator.records.showing import client_page
from estimator.records.store import Store, open_store
from estimator.records.unlocking import PASSPHRASE_VARIABLE
from estimator.records.visits import keep_visit
from tests.estimator.records.drills import faults_of, old_salon
from tests.estimator.records.invented import photo, visit

SECRET = "Quillon Featherby"
DRAFT, GONE_DRAFT = "d" * 32, "e" * 32


def tell(line: str) -> None:
    os.write(1, line.encode() + b"\n")


def codes(store: Store) -> set[str]:
    """Clients with a visit in sight."""
    return {found.code for found in latest_visits(store)}


def salon_faults(store: Store) -> list[str]:
    """What is wrong with a salon that was just opened, the database's own check with it."""
    return faults_of(store) + database_faults(store)


def database_faults(store: Store) -> list[str]:
    """What SQLite finds wrong with the file, or with what leans on what; and clients that are not found."""
    with store.engine.connect() as connection:
        told = connection.exec_driver_sql("PRAGMA quick_check").scalar_one()
        faults = [f"leans on nothing: {row}" for row in connection.exec_driver_sql("PRAGMA foreign_key_check")]
    faults += [] if told == "ok" else [told]
    with store.looking() as session:
        wordless = ~exists().where(model.ClientWord.client_id == model.Client.id)
        lost = session.scalar(select(func.count()).select_from(model.Client).where(wordless))
    return faults + ([f"{lost} clients are not found by their words"] if lost else [])


def _salon(folder: Path) -> SalonPlace:
    return SalonPlace(folder / "salon")


# --- each flow: what stood before, what is done, and what must hold after


def _one_visit(folder: Path) -> None:
    with open_store(_salon(folder)) as store:
        keep_visit(store, visit("stays"))


def _nothing(folder: Path) -> None:
    return


def keeps(folder: Path) -> None:
    with open_store(_salon(folder)) as store:
        for code in ("one", "two"):
            keep_visit(store, visit(code, photos=(photo(code, size=20_000), photo(f"{code} after", "after"))))
            tell(f"kept {code}")
    tell("closed")


def kept_stands(folder: Path, told: set[str]) -> list[str]:
    with open_store(_salon(folder)) as store:
        wanted = {"stays", *(line.removeprefix("kept ") for line in told if line.startswith("kept "))}
        return salon_faults(store) + [f"lost {code}" for code in wanted - codes(store)]


def begins(folder: Path) -> None:
    with open_store(_salon(folder)) as store:
        tell("opened")
        keep_visit(store, visit("first"))
        tell("kept first")


def beginning_stands(folder: Path, told: set[str]) -> list[str]:
    with open_store(_salon(folder)) as store:
        return salon_faults(store) + (["lost first"] if "kept first" in told and codes(store) != {"first"} else [])


def _one_to_erase(folder: Path) -> None:
    _one_visit(folder)
    with open_store(_salon(folder)) as store:
        keep_visit(store, visit("goes", client_name=SECRET, contact="quillon@example.org"))
    Drafts(_salon(folder)).keep(GONE_DRAFT, SECRET, {"client": SECRET}, {hash_of(b"p" * 900): lambda: b"p" * 900})


def erases(folder: Path) -> None:
    with open_store(_salon(folder)) as store:
        erase_client(store, "goes")
        tell("erased")


def erasure_stands(folder: Path, told: set[str]) -> list[str]:
    with open_store(_salon(folder)) as store:
        faults = salon_faults(store)
        there = codes(store)
        with store.looking() as session:
            receipts = session.scalar(select(func.count()).select_from(model.Erasure))
        if (there, receipts) not in [({"stays", "goes"}, 0), ({"stays"}, 1)]:
            faults.append(f"{sorted(there)} with {receipts} receipts")
        if "erased" in told and "goes" in there:
            faults.append("erased, and there again")
        if "goes" in there:
            with suppress(NotKeptError):
                erase_client(store, "goes")
        elif "erased" not in told:  # rows are the first to go or the last; a draft of the client goes by its own name
            for draft in Drafts(store.place).listed():
                Drafts(store.place).erase(draft.id)
    found = [path.name for path in folder.rglob("*") if path.is_file() and SECRET.encode() in path.read_bytes()]
    return faults + [f"the name is in {name}" for name in found]


def undoes(folder: Path) -> None:
    with open_store(_salon(folder)) as store:
        keep_visit(store, visit("undone"))
        tell("kept undone")
        store.undo()
        tell("undone")


def undoing_stands(folder: Path, told: set[str]) -> list[str]:
    with open_store(_salon(folder)) as store:
        there = codes(store)
        faults = salon_faults(store)
        if "undone" in told and there != {"stays"}:
            faults.append("undone, and there again")
        if "kept undone" in told and "undone" not in there:
            with store.looking() as session:
                undone = session.scalar(select(func.count()).where(model.Change.what == "undo"))
            faults += [] if undone else ["lost undone"]
        return faults


def backs_up(folder: Path) -> None:
    with open_store(_salon(folder)) as store:
        back_up(store, folder / "out" / "backup.zip")
        tell("written backup.zip")


def exports(folder: Path) -> None:
    with open_store(_salon(folder)) as store:
        export_client(store, "stays", folder / "out" / "stays.zip")
        tell("written stays.zip")


def written_stands(folder: Path, told: set[str]) -> list[str]:
    with open_store(_salon(folder)) as store:
        faults = salon_faults(store)
        (back_up if "written stays.zip" not in told else _export_next)(store, folder / "out" / "next.zip")
        check_all(store)
    there = {path.name for path in (folder / "out").iterdir()}
    for name in there - {"next.zip"}:
        try:
            with opened_archive(folder / "out" / name, EXPORT if name == "stays.zip" else BACKUP):
                pass
        except Exception as problem:
            faults.append(f"{name}: {problem}")
    wanted = {line.removeprefix("written ") for line in told if line.startswith("written ")}
    return faults + [f"lost {name}" for name in wanted - there]


def _export_next(store: Store, path: Path) -> None:
    export_client(store, "stays", path)


def _one_to_import(folder: Path) -> None:
    _one_visit(folder)
    with open_store(SalonPlace(folder / "other")) as other:
        keep_visit(other, visit("comes"))
        export_client(other, "comes", folder / "comes.zip")
    shutil.rmtree(folder / "other")


def imports(folder: Path) -> None:
    with open_store(_salon(folder)) as store:
        import_client(store, folder / "comes.zip")
        tell("imported")


def import_stands(folder: Path, told: set[str]) -> list[str]:
    with open_store(_salon(folder)) as store:
        faults = salon_faults(store)
        if "imported" in told and "comes" not in codes(store):
            faults.append("imported, and lost")
        import_client(store, folder / "comes.zip")
        return faults + salon_faults(store) + ([] if codes(store) == {"stays", "comes"} else ["not repeatable"])


def _old(folder: Path) -> None:
    old_salon(_salon(folder))


def migrates(folder: Path) -> None:
    open_store(_salon(folder)).close()
    tell("migrated")


def migration_stands(folder: Path, _told: set[str]) -> list[str]:
    place = _salon(folder)
    with open_store(place) as store:
        faults = database_faults(store)
        if revision_of(store.engine) != NEWEST:
            faults.append(f"tables {revision_of(store.engine)}")
        if len(client_page(store, "M. D.").visits) != 1:
            faults.append("a visit is gone")
    for copy in place.earlier.glob("*"):
        with closing(sqlite3.connect(copy)) as connection:
            whole = connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'client'").fetchone()[0]
        faults += [] if whole else [f"{copy.name} is no copy"]
    return faults


PHOTOS = {hash_of(content): content for content in (b"a" * 9000, b"b" * 9000)}
DRAFTS = ({"step": 1}, {"step": 2, "long": "x" * 9000}, {"step": 3})


def _one_draft(folder: Path) -> None:
    place = _salon(folder)
    open_store(place).close()
    Drafts(place).keep(GONE_DRAFT, "goes", {"step": 0}, {})


def drafts(folder: Path) -> None:
    kept, first, second = Drafts(_salon(folder)), *PHOTOS
    for content, names in zip(DRAFTS, ([first], [first, second], [second]), strict=True):
        kept.keep(DRAFT, "M. D.", content, {name: lambda name=name: PHOTOS[name] for name in names})
        tell(f"drafted {content['step']}")
    kept.erase(GONE_DRAFT)
    tell("taken out")


def drafts_stand(folder: Path, told: set[str]) -> list[str]:
    place = _salon(folder)
    kept, least = Drafts(place), max((int(line[-1]) for line in told if line.startswith("drafted")), default=0)
    found = kept.load(DRAFT)
    faults = []
    if found is None:
        faults += [f"draft {least} is lost"] if least else []
    elif found.content not in DRAFTS[max(0, least - 1) :]:
        faults.append(f"draft {json.dumps(found.content)[:20]} for {least}")
    else:
        faults += [f"photograph {name[:8]}" for name, content in found.photos.items() if hash_of(content) != name]
    if "taken out" in told and kept.load(GONE_DRAFT):
        faults.append("a draft taken out is there again")
    kept.keep(DRAFT, "M. D.", {"step": 4}, {})
    left = [path.name for path in (place.drafts / DRAFT).iterdir() if path.name != "draft.json"]
    return faults + [f"left {name}" for name in left]


WORDS = "heron under seven wet stones"


def _sealed_salon(folder: Path) -> None:
    _one_to_erase(folder)
    encrypt_salon(_salon(folder), WORDS)


def encrypts(folder: Path) -> None:
    encrypt_salon(_salon(folder), WORDS)
    tell("encrypted")


def decrypts(folder: Path) -> None:
    decrypt_salon(_salon(folder))
    tell("decrypted")


def conversion_stands(folder: Path, told: set[str]) -> list[str]:
    os.environ[PASSPHRASE_VARIABLE] = WORDS
    place = _salon(folder)
    with open_store(place) as store:
        faults = salon_faults(store) + ([] if codes(store) == {"stays", "goes"} else ["a client is gone"])
    sealed = (place.folder / KEY_FILE).exists()
    readable = [path.name for path in folder.rglob("*") if path.is_file() and SECRET.encode() in path.read_bytes()]
    if sealed and readable:
        faults.append(f"encrypted, and the name is in {readable}")
    if ("encrypted" in told and not sealed) or ("decrypted" in told and sealed):
        faults.append("told of, and not so")
    draft = Drafts(place).load(GONE_DRAFT)
    faults += [] if draft and draft.content == {"client": SECRET} else ["the draft"]
    return faults + [f"left {path.name}" for path in place.folder.glob("building-*")]


@dataclass(frozen=True)
class Flow:
    before: Callable[[Path], None]
    run: Callable[[Path], None]
    judge: Callable[[Path, set[str]], list[str]]


FLOWS = {
    "begin": Flow(_nothing, begins, beginning_stands),
    "keep": Flow(_one_visit, keeps, kept_stands),
    "erase": Flow(_one_to_erase, erases, erasure_stands),
    "undo": Flow(_one_visit, undoes, undoing_stands),
    "back up": Flow(_one_visit, backs_up, written_stands),
    "export": Flow(_one_visit, exports, written_stands),
    "import": Flow(_one_to_import, imports, import_stands),
    "migrate": Flow(_old, migrates, migration_stands),
    "draft": Flow(_one_draft, drafts, drafts_stand),
    "encrypt": Flow(_one_to_erase, encrypts, conversion_stands),
    "decrypt": Flow(_sealed_salon, decrypts, conversion_stands),
}

if __name__ == "__main__":
    for name in sys.argv[2:]:
        place = Path(sys.argv[1], name)
        place.mkdir()
        FLOWS[name].before(place)
        shutil.copytree(place, place.with_name(f"{name}.before"))
        tell(f"begin {name}")
        FLOWS[name].run(place)
        tell(f"end {name}")
