"""Time of each screen's questions to the records at 1,000 and at 100,000 clients (1,000,000 photographs), generated.

The aim is 20 ms each, and at most three times the time at 1,000 clients. `python -m tests.benchmarks records`; with
`--database postgresql` both salons lie on a PostgreSQL server that is started for it on a private port.
"""

import argparse
import gc
import json
import random
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from itertools import islice
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, insert, text

from estimator.records import model
from estimator.records.clients import agreed
from estimator.records.consent_scopes import Scope
from estimator.records.last_change import last_change
from estimator.records.model_base import Base
from estimator.records.place import SalonPlace
from estimator.records.remembering import client_memory, with_consent
from estimator.records.search_keys import folded, visit_tags
from estimator.records.searching import Asked, find_clients, find_visits, latest_visits
from estimator.records.showing import client_page, visit_page
from estimator.records.store import Store, open_store
from estimator.records.visits import keep_visit
from tests.estimator.records.invented import visit as invented_visit
from tests.estimator.records.postgres_server import PostgresServer, server_programs

SMALL, LARGE = 1_000, 100_000
VISITS, PHOTOS, READINGS = 3, 10, 10  # of each client: 300,000 visits, 1,000,000 photographs and readings in the larger
LAST_DAY, DAYS = date(2026, 10, 30), 3650
FIRST = (
    "Mara",
    "Otto",
    "Zoë",
    "Lindsay",
    "Ama",
    "Kofi",
    "Ines",
    "Juri",
    "Noor",
    "Sven",
    "Tess",
    "Umar",
    "Wren",
    "Yara",
)
LAST = ("Sand", "Marsh", "Hill", "Berg", "Wood", "Field", "Brook", "Stone", "Lake", "Moor", "Dale", "Heath", "Fen")
STAGES = ("red", "red-brown", "orange", "gold", "yellow", "pale yellow")
TONES = ("beige", "neutral", "pearl", "ash")
CODES = ("glare", "no_card", "ask-a-doctor", "strand-test", "patch-test-missing", "rare-one")
AT_ONCE = 20_000


def _id(kind: int, number: int) -> str:
    # An odd factor makes every number a different one of 128 bits, in no order.
    return f"{(kind * 10**9 + number) * 0x9E3779B97F4A7C15F39CC0605CEDC835 % 2**128:032x}"


def _clients(count: int) -> Iterator[dict[str, Any]]:
    for n in range(count):
        chance = random.Random(n)
        name = f"{chance.choice(FIRST)} {chance.choice(LAST)}{chance.choice(LAST).lower()} {n:06}"
        yield {
            "id": _id(1, n),
            "code": f"C{n}",
            "code_folded": f"c{n}",
            "name": name,
            "contact": "",
            "demo": False,
            "version": 1,
            "removed": False,
        }


def _words(count: int) -> Iterator[dict[str, Any]]:
    for row in _clients(count):
        for word in {*folded(row["name"]).split(), row["code_folded"]}:
            yield {"word": word, "client_id": row["id"]}


def _day(n: int) -> date:
    return LAST_DAY - timedelta(days=random.Random(n + 7).randrange(DAYS))


def _visits(count: int) -> Iterator[dict[str, Any]]:
    for n in range(count * VISITS):
        yield {
            "id": _id(2, n),
            "client_id": _id(1, n // VISITS),
            "consultation_id": None,
            "key": _id(3, n),
            "day": _day(n),
            "salon": "Saltmarsh Lane",
            "demo": False,
            "care_verdict": "caution",
            "health_kept": False,
            "program_version": "0.1.0",
            "version": 1,
            "removed": False,
        }


def _zones(count: int) -> Iterator[dict[str, Any]]:
    for n in range(count * VISITS):
        yield {
            "id": _id(4, n),
            "visit_id": _id(2, n),
            "place": 0,
            "name": "crown",
            "setting": "head",
            "strand_pattern": "",
            "hair": {},
            "target": {"tone": random.Random(n).choice(TONES)},
        }


def _photos(count: int) -> Iterator[dict[str, Any]]:
    for n in range(count * PHOTOS):
        sha256 = _id(5, n) * 2
        yield {
            "id": _id(6, n),
            "visit_id": _id(2, n % (count * VISITS)),
            "place": n,
            "side": "before",
            "sha256": sha256,
            "original_sha256": sha256,
            "thumbnail_sha256": "",
            "ending": "jpg",
            "width_px": 1,
            "height_px": 1,
            "verdict": "usable",
            "verified": True,
            "method": "",
            "held_out_de2000": None,
            "pipeline_version": 1,
            "steps": [],
        }


def _read(n: int) -> tuple[float, str]:
    chance = random.Random(n + 3)
    return chance.triangular(2, 10, 6.5), chance.choice(STAGES)


def _readings(count: int) -> Iterator[dict[str, Any]]:
    empty: dict[str, Any] = {"covariance": [], "shared_covariance": [], "spread_lab": [], "profile": [], "photos": []}
    warmth = {
        "warmth_chroma": 1.0,
        "warmth_chroma_low": 0.0,
        "warmth_chroma_high": 2.0,
        "warmth_hue_deg": 70.0,
        "half_width_deg": 9.0,
        "other_stages": [],
    }
    for n in range(count * READINGS):
        level, stage = _read(n)
        of = n % (count * VISITS)
        yield {
            "id": _id(7, n),
            "visit_id": _id(2, of),
            "zone_id": _id(4, of),
            "side": "before",
            "lab_l": 50.0,
            "lab_a": 5.0,
            "lab_b": 20.0,
            **empty,
            "level": level,
            "level_low": level,
            "level_high": level,
            "level_beyond": "",
            "scale": "default scale",
            "warmth": warmth | {"stage": stage},
            "stage": stage,
            "pixels": 1,
            "verified": True,
            "proposed": False,
            "verdict": "usable",
            "basis": [],
            "pipeline_version": 1,
        }


def _codes(n: int) -> list[str]:
    chance = random.Random(n + 11)
    return [code for code in CODES if chance.random() < (0.0005 if code == "rare-one" else 0.15)]


def _findings(count: int) -> Iterator[dict[str, Any]]:
    for n in range(count * VISITS):
        for place, code in enumerate(_codes(n)):
            yield {
                "id": _id(8, n * 10 + place),
                "visit_id": _id(2, n),
                "place": place,
                "about": "care",
                "code": code,
                "weight": "caution",
                "where": "",
                "message": "m",
                "remedy": "r",
                "source": "s",
            }


def _tags(count: int) -> Iterator[dict[str, Any]]:
    visits = count * VISITS
    for n in range(visits):
        read = [_read(other) for other in range(n, count * READINGS, visits)]
        for tag in visit_tags(read, [random.Random(n).choice(TONES)], _codes(n)):
            yield {"tag": tag, "day": _day(n), "visit_id": _id(2, n)}


def _consents(count: int) -> Iterator[dict[str, Any]]:
    for n in range(count):
        yield {
            "id": _id(9, n),
            "client_id": _id(1, n),
            "scope": "record",
            "text": "t",
            "given_on": LAST_DAY,
            "how": "signed",
            "withdrawn_on": None,
            "withdrawn_how": "",
            "version": 1,
            "removed": False,
        }


ROWS = {
    model.Client: _clients,
    model.ClientWord: _words,
    model.Consent: _consents,
    model.Visit: _visits,
    model.Zone: _zones,
    model.Photo: _photos,
    model.Reading: _readings,
    model.FindingRow: _findings,
    model.VisitTag: _tags,
}


def filled(place: SalonPlace, count: int) -> Store:
    """A salon with so many generated clients."""
    store = open_store(place)
    put = _put_in_file if place.on_sqlite else _copy_to_server
    with store.engine.begin() as connection:
        for table, rows in ROWS.items():
            put(connection, Base.metadata.tables[table.__tablename__], rows(count))
    if not place.on_sqlite:
        with store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.execute(text("VACUUM ANALYZE"))
    return store


def _put_in_file(connection: Connection, table: Table, rows: Iterator[dict[str, Any]]) -> None:
    while some := list(islice(rows, AT_ONCE)):
        connection.execute(insert(table), some)


def _copy_to_server(connection: Connection, table: Table, rows: Iterator[dict[str, Any]]) -> None:
    """The server's own way for many rows, which takes minutes less."""
    names = ", ".join(f'"{column.name}"' for column in table.columns)
    server: Any = connection.connection.driver_connection
    with server.cursor() as cursor, cursor.copy(f'COPY "{table.name}" ({names}) FROM STDIN') as copy:
        for row in rows:
            values = [row[column.name] for column in table.columns]
            copy.write_row([json.dumps(each) if isinstance(each, dict | list) else each for each in values])


@contextmanager
def salons(database: str) -> Iterator[tuple[SalonPlace, SalonPlace]]:
    """Two places for records, the second for many, on this kind of database."""
    with tempfile.TemporaryDirectory() as folder:
        if database == "sqlite":
            yield SalonPlace(Path(folder, "small")), SalonPlace(Path(folder, "large"))
            return
        programs = server_programs()
        if programs is None:
            raise SystemExit("No PostgreSQL server is installed here (apt-get install postgresql).")
        server = PostgresServer(programs, settings="")  # it waits for the disk, as a salon's does
        try:
            yield tuple(SalonPlace(Path(folder, name), server.new_address()) for name in ("small", "large"))  # type: ignore[misc]
        finally:
            server.close()


def questions(count: int) -> dict[str, Callable[[Store, random.Random], object]]:
    """What each screen asks; each time for something else."""
    place = lambda chance: (LAST_DAY - timedelta(days=chance.randrange(DAYS)), "f" * 32)  # noqa: E731
    return {
        "latest visits": lambda s, c: latest_visits(s),
        "a later page of visits": lambda s, c: latest_visits(s, place(c)),
        "visits of a day": lambda s, c: find_visits(s, Asked(first_day=(day := place(c)[0]), last_day=day)),
        "client by code": lambda s, c: find_clients(s, f"c{c.randrange(count)}"),
        "clients by two letters": lambda s, c: find_clients(s, c.choice(FIRST)[:2]),
        "clients by two words": lambda s, c: find_clients(s, f"{c.choice(FIRST)} {c.choice(LAST)}"),
        "clients by name and number": lambda s, c: find_clients(
            s, f"{c.choice(FIRST)[:2]} {c.randrange(count):06}"[:7]
        ),
        "a client's page": lambda s, c: client_page(s, f"C{c.randrange(count)}"),
        "a visit's page": lambda s, c: visit_page(s, _id(2, c.randrange(count * VISITS))),
        "visits by level": lambda s, c: find_visits(s, Asked(level=c.randint(3, 10))),
        "visits by level, later page": lambda s, c: find_visits(s, Asked(level=c.randint(3, 10)), place(c)),
        "visits by stage": lambda s, c: find_visits(s, Asked(stage=c.choice(STAGES))),
        "visits by level and stage": lambda s, c: find_visits(s, Asked(level=c.randint(3, 10), stage=c.choice(STAGES))),
        "visits by tone and level": lambda s, c: find_visits(s, Asked(level=c.randint(3, 10), tone=c.choice(TONES))),
        "visits by finding": lambda s, c: find_visits(s, Asked(finding=c.choice(CODES))),
        "by finding, level and stage": lambda s, c: find_visits(
            s, Asked(finding=c.choice(CODES), level=c.randint(3, 10), stage=c.choice(STAGES))
        ),
        "visits by name and level": lambda s, c: find_visits(s, Asked(text=f"{c.randrange(count):06}", level=6)),
        "all remembered of a client": lambda s, c: client_memory(s, f"C{c.randrange(count)}"),
        "which of ten agree": lambda s, c: with_consent(s, tuple(f"C{c.randrange(count)}" for _ in range(10))),
        "the last change": lambda s, c: last_change(s),
        "has the client agreed": lambda s, c: _agreed(s, _id(1, c.randrange(count))),
    }


def _agreed(store: Store, client_id: str) -> bool:
    with store.looking() as session:
        return agreed(session, client_id, Scope.RECORD)


def _times_ms(few: Store, many: Store, name: str, repeats: int = 41) -> tuple[list[float], list[float]]:
    """Times of a question to both salons, each time for something else, after three that do not count. [ms]

    They are asked in turn, so that whatever else this machine does weighs on both alike.
    """
    chance = random.Random(5)
    taken: tuple[list[float], list[float]] = ([], [])
    gc.collect()  # what was left by the questions before is not this one's
    asked = ((few, questions(SMALL)[name]), (many, questions(LARGE)[name]))
    for number in range(repeats + 3):
        for times, (store, ask) in zip(taken, asked, strict=True):
            began = time.perf_counter()
            ask(store, chance)
            if number >= 3:
                times.append(1000 * (time.perf_counter() - began))
    return taken


def main() -> None:
    asked = argparse.ArgumentParser(prog="python -m tests.benchmarks records")
    asked.add_argument("records")
    asked.add_argument("--database", choices=("sqlite", "postgresql"), default="sqlite")
    with salons(asked.parse_args().database) as (small_place, large_place):
        small = filled(small_place, SMALL)
        began = time.perf_counter()
        large = filled(large_place, LARGE)
        made = f"{LARGE} clients, {LARGE * VISITS} visits, {LARGE * PHOTOS} photographs"
        print(f"{made}: made in {time.perf_counter() - began:.0f} s")
        _compare(small, large)
        for salon, store in (("small", small), ("large", large)):
            taken = [_keep_ms(store, f"{salon} {n}") for n in range(9)]
            print(f"keeping a visit, {salon} salon: {statistics.median(taken):.1f} ms")
            store.close()


def _compare(small: Store, large: Store) -> None:
    print(f"{'question':32} {SMALL:>8} {LARGE:>8}  ratio  worst   [ms]")
    for name in questions(SMALL):
        few, many = _times_ms(small, large, name)
        middle_few, middle_many, worst = statistics.median(few), statistics.median(many), max(many)
        told = "" if worst <= 20 and middle_many <= 3 * middle_few else "  <- misses the aim"
        print(f"{name:32} {middle_few:8.2f} {middle_many:8.2f} {middle_many / middle_few:6.2f} {worst:6.1f}{told}")


def _keep_ms(store: Store, code: str) -> float:
    made = invented_visit(code)
    began = time.perf_counter()
    keep_visit(store, made)
    return 1000 * (time.perf_counter() - began)
