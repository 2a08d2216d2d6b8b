"""What encryption at rest costs each screen's questions, and what one more backup costs beside the first.

`python -m tests.benchmarks sealed [CLIENTS]`: the same generated salon open and encrypted (2,000 clients without a
number), then 200 visits with photographs of 60 kB backed up into a folder, one visit more, and backed up again.
"""

import os
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from estimator.records.backup_folder import back_up_into, restore_from
from estimator.records.converting import encrypt_salon
from estimator.records.place import SalonPlace
from estimator.records.store import Store, open_store
from estimator.records.unlocking import PASSPHRASE_VARIABLE
from estimator.records.visits import keep_visit
from tests.benchmarks import records
from tests.estimator.records.invented import photo, visit

WORDS = "lantern orchard thimble nine"
VISITS, PHOTO_BYTES = 200, 60_000


def main() -> None:
    """Print both comparisons."""
    os.environ[PASSPHRASE_VARIABLE] = WORDS
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 2_000
    with tempfile.TemporaryDirectory() as folder:
        _questions(Path(folder), count)
        _backups(Path(folder))


def _questions(folder: Path, count: int) -> None:
    plain, sealed = SalonPlace(folder / "open"), SalonPlace(folder / "sealed")
    open_store(sealed).close()
    encrypt_salon(sealed, WORDS)
    stores = records.filled(plain, count), records.filled(sealed, count)
    print(f"{count} clients: {'question':32}  open sealed  ratio   [ms]")
    for name, ask in records.questions(count).items():
        few, many = (_own_ms(store, ask) for store in stores)
        print(f"{'':15} {name:32} {few:6.2f} {many:6.2f} {many / few:6.2f}")
    for what, store in zip(("open", "sealed"), stores, strict=True):
        kept = sorted(_keep_ms(store, f"{what} {number}") for number in range(15))
        print(f"keeping a visit with two photographs, {what}: {kept[7]:.1f} ms")
        began = time.perf_counter()
        open_store(store.place).close()
        print(f"opening the records, {what}: {1000 * (time.perf_counter() - began):.1f} ms")
        store.close()


def _own_ms(store: Store, ask: Callable[[Store, random.Random], object], repeats: int = 31) -> float:
    """Median of the work that a question takes, each time for something else, after three that do not count. [ms]"""
    chance, taken = random.Random(5), []
    for _ in range(repeats + 3):
        began = time.process_time()
        ask(store, chance)
        taken.append(1000 * (time.process_time() - began))
    return statistics.median(taken[3:])


def _keep_ms(store: Store, code: str) -> float:
    made = visit(code, photos=(photo(f"{code} b", size=3_000_000), photo(f"{code} a", "after", size=3_000_000)))
    began = time.process_time()
    keep_visit(store, made)
    return 1000 * (time.process_time() - began)


def _bytes_in(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


def _backups(folder: Path) -> None:
    place, backups = SalonPlace(folder / "salon"), folder / "backups"
    with open_store(place) as store:
        for number in range(VISITS + 1):
            sides = (photo(f"{number} b", size=PHOTO_BYTES), photo(f"{number} a", "after", size=PHOTO_BYTES))
            if number == VISITS:
                _print_one(store, backups, f"first backup, {VISITS} visits")
            keep_visit(store, visit(f"client {number}", photos=sides, day=random.Random(number).choice(_DAYS)))
        _print_one(store, backups, "the next, one visit more")
    began = time.perf_counter()
    done = restore_from(backups, SalonPlace(folder / "restored"))
    print(f"restoring {done.files} files and {done.rows} rows: {time.perf_counter() - began:.2f} s")


_DAYS = [visit().day.replace(day=day) for day in range(1, 29)]


def _print_one(store: Store, backups: Path, what: str) -> None:
    before = _bytes_in(backups)
    began = time.perf_counter()
    done = back_up_into(store, backups)
    taken = time.perf_counter() - began
    print(f"{what}: {taken:.2f} s, {(_bytes_in(backups) - before) / 1e6:.2f} MB, {done.new} new files of {done.files}")
