"""Drills on encryption and folders of backups: `python -m tests.estimator.records.drills_sealed NAME FOLDER COUNT`."""

import json
import os
import shutil
import sys
from pathlib import Path
from typing import Any

from estimator.records import key_file, unlocking
from estimator.records.backup_folder import back_up_into, damaged_in, restore_from
from estimator.records.backup_list import listed_backups
from estimator.records.converting import decrypt_salon, encrypt_salon
from estimator.records.drafts import Drafts
from estimator.records.erasing import erase_client
from estimator.records.key_file import Cost
from estimator.records.place import KEY_FILE, SalonPlace
from estimator.records.showing import client_page
from estimator.records.store import Store, open_store
from estimator.records.unlocking import PASSPHRASE_VARIABLE
from estimator.records.visits import keep_visit
from tests.estimator.records.drills import chance, faults_of, killed, tell
from tests.estimator.records.invented import photo, visit

WORDS = "lantern orchard thimble nine"
NEEDLES = (b"Wilhelmina Seeded", b"wilhelmina", b"Marigold", photo("M. D. before").content[:24])


def quick_keys() -> None:
    """A key that costs little to open: the drill is on the folder, not on guessing."""
    os.environ[PASSPHRASE_VARIABLE] = WORDS
    made = Cost
    key_file.Cost = lambda **told: made(**told) if told else made(n=2**10)  # type: ignore[misc, assignment]


def kill_while_encrypting(folder: Path, count: int) -> dict[str, Any]:
    """Children encrypt a salon, or open an encrypted one again, and are killed; it must be whole in one form."""
    quick_keys()
    place = SalonPlace(folder / "salon")
    with open_store(place) as store:
        for code in ("M. D.", "Wilhelmina"):
            keep_visit(store, visit(code, client_name=f"{code} Seeded"))
    Drafts(place).keep("a" * 32, "M. D.", {"x": 1}, {"b" * 64: lambda: b"a draft's photograph"})
    faults: list[str] = []
    turned = finished = 0
    longest = 0.5
    for _ in range(count):
        was_sealed = (place.folder / KEY_FILE).exists()

        def turns(mouth: int, was_sealed: bool = was_sealed) -> None:
            tell(mouth, "begun")
            decrypt_salon(place) if was_sealed else encrypt_salon(place, WORDS)
            tell(mouth, "done")

        done = killed(turns, longest, lines_first=1)
        finished += "done" in done
        longest = longest * (0.8 if "done" in done else 1.1)  # so that about half are hit while they work
        unlocking.forget()
        faults += _faults(place)
        turned += (place.folder / KEY_FILE).exists() != was_sealed
        if "done" in done and (place.folder / KEY_FILE).exists() == was_sealed:
            faults.append("told of, and not done")
    shutil.rmtree(folder)
    return {"kills": count, "turned": turned, "finished": finished, "faults": faults}


def _faults(place: SalonPlace) -> list[str]:
    with open_store(place) as store:
        faults = faults_of(store)
        faults += [code for code in ("M. D.", "Wilhelmina") if len(client_page(store, code).visits) != 1]
    draft = Drafts(place).load("a" * 32)
    if draft is None or dict(draft.photos) != {"b" * 64: b"a draft's photograph"}:
        faults.append("the draft is not as it was")
    files = [path for path in place.folder.rglob("*") if path.is_file()]
    sealed = (place.folder / KEY_FILE).exists()
    if sealed:
        faults += [f"{needle!r} in {path.name}" for path in files for needle in NEEDLES if needle in path.read_bytes()]
    wrong = "records.sqlite" if sealed else "records.sealed"
    left = ("building-", "converting", wrong)
    return faults + [path.name for path in place.folder.iterdir() if path.name.startswith(left)]


def kill_while_backing_up_into(folder: Path, count: int) -> dict[str, Any]:
    """Children add backups and take old ones out, and are killed; each backup that is listed must come back whole."""
    place, backups = SalonPlace(folder / "salon"), folder / "backups"
    faults: list[str] = []
    finished = restored = 0
    longest = 0.1
    with open_store(place) as store:
        for number in range(3):
            keep_visit(store, visit(f"client {number}"))
        back_up_into(store, backups)
    for life in range(count):
        with open_store(place) as store:
            keep_visit(store, visit(f"life {life}"))
            if life:  # so that each backup has files that no later one names, and taking it out takes files out
                erase_client(store, f"life {life - 1}")
            told = {each.number for each in listed_backups(backups)}

            def adds(mouth: int) -> None:
                with open_store(place) as own:
                    tell(mouth, "begun")
                    tell(mouth, f"done {back_up_into(own, backups, keep=3).number}")

            lines = killed(adds, longest, lines_first=1)
            finished += len(lines) > 1
            longest = longest * (0.8 if len(lines) > 1 else 1.1)
            there = {each.number for each in listed_backups(backups)}
            faults += [f"backup {line[5:]} told of, and gone" for line in lines[1:] if int(line[5:]) not in there]
            if len(there & told) < min(2, len(told)):
                faults.append(f"of {sorted(told)} only {sorted(there)} are left")
            faults += damaged_in(backups)
            if life % 5 == 0:
                at = str(chance.choice(sorted(there)))
                restored += restore_from(backups, SalonPlace(folder / f"restored {life}"), at).rows > 0
                shutil.rmtree(folder / f"restored {life}")
            if life % 5 == 4:
                faults += _left_after_a_whole_one(store, backups)
    shutil.rmtree(folder)
    return {"kills": count, "finished": finished, "restored": restored, "faults": faults}


def _left_after_a_whole_one(store: Store, backups: Path) -> list[str]:
    """What is in the folder though no backup names it, once another backup was made to its end."""
    back_up_into(store, backups, keep=3)
    listed = listed_backups(backups)
    named = {name for each in listed for name in each.files}
    left = [path.name for path in (backups / "files").glob("??/??/*") if path.name not in named]
    return left + [path.name for path in (backups / "backups").iterdir() if int(path.stem) < listed[0].number]


DRILLS = {drill.__name__: drill for drill in (kill_while_encrypting, kill_while_backing_up_into)}

if __name__ == "__main__":
    print(json.dumps(DRILLS[sys.argv[1]](Path(sys.argv[2]), int(sys.argv[3]))))
