"""One client of a thousand is erased, again and again: no byte of the person is left, and nobody else's row moves."""

import base64
import random
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import select

from estimator.intake.inbox import Inbox
from estimator.lifting.clock_events import Event, Instant, Kind
from estimator.records.beside import salon_clock, salon_journal
from estimator.records.clients import change_client, client
from estimator.records.drafts import Drafts
from estimator.records.erasing import erase_client
from estimator.records.model_base import Base
from estimator.records.store import open_store
from estimator.records.visits import _kept, keep_visit
from tests.counts import NIGHT
from tests.estimator.records.invented import photo
from tests.privacy.visits import visit_saying
from tests.synthetic.taught_visits import head, salon, toned

NOW = datetime(2026, 10, 5, 9, tzinfo=UTC)


def token(number: int) -> str:
    """Letters that stand for one person alone."""
    return f"Zq{number:04}Vx"


def code(number: int) -> str:
    return f"C {token(number)}"


def _visit(number: int, visits: int = 0, **changes):
    """A visit in which every text tells of this person, by name more than once."""
    text = f"{token(number)} {visits}"
    name = f"Wilma {token(number)}"
    notes = (f"{name} likes it cool.", f"Ask {name.upper()} of {code(number)}.")
    return visit_saying(text, code(number), client_name=name, notes=notes, **changes)


def _photographed(number: int, visits: int):
    photos = (photo(f"{token(number)} {visits} before"), photo(f"{token(number)} {visits} after", "after"))
    return _visit(number, visits, photos=photos)


def _fill(store, clients: int, known: list[int]) -> None:
    """Clients with a visit each, those in `known` with all that can be there of a person."""
    with store.writing("visit kept") as session:
        for number in range(clients):
            if number not in known:
                _kept(session, _visit(number, photos=(), documents=()))
    for number in known:
        for visits in range(2):
            keep_visit(store, _photographed(number, visits))
        change_client(store, client(store, code(number)), contact=f"new {token(number)}@example.org")
        _beside(store, number)


def _beside(store, number: int) -> None:
    """What lies beside the records: unfinished visits, outcomes, the clock, what was asked for to be sent in."""
    drafts, ids = Drafts(store.place), [f"{number:030x}{n:02x}" for n in range(2)]
    for draft, named in zip(ids, (code(number).upper(), f"wilma  {token(number)}"), strict=True):
        drafts.keep(draft, named, {"told": token(number)}, {"b" * 64: token(number).encode})
    outcomes = [replace(each, client=code(number), key=f"{number} {n}") for n, each in enumerate(_outcomes())]
    salon_journal(store.place.folder).change(lambda journal: journal.with_outcomes(outcomes))
    clock = salon_clock(store.place.folder)
    for at, kind in enumerate((Kind.START, Kind.RINSE)):
        instant = Instant(NOW + timedelta(minutes=at), 60.0 * at, "boot")
        start = {"most_minutes": 20.0, "check_minutes": 5.0, "visit": ids[0]} if kind is Kind.START else {}
        told = {"note": token(number), "who": token(number)}
        number_of = len(clock.load().events) + 1
        clock.add(Event(number_of, f"{number}-{at}", kind, f"zone {number:04}", instant, **start, **told))
    Inbox(store.place).invite(client=code(number))


def _outcomes():
    if not _TAUGHT:
        rng = np.random.default_rng(3)
        truth = salon(rng)
        _TAUGHT.extend(toned(truth, head(0, rng), None, rng).outcomes[:2])
    return _TAUGHT


_TAUGHT: list = []


def _needles(number: int) -> list[bytes]:
    """The person in every spelling, pieces of each photograph, and the hashes of its files."""
    plain = token(number)
    texts = [plain.encode(), plain.lower().encode(), plain.upper().encode(), plain.encode("utf-16-le"),
             *(base64.b64encode(b"\0" * shift + plain.encode())[4 if shift else 0 : -4] for shift in range(3)),
             f"zone {number:04}".encode()]  # fmt: skip
    shown = [each for visits in range(2) for each in _photographed(number, visits).photos]
    pieces = [each.content[at : at + 24] for each in shown for at in (0, 1000, 2900)]
    return texts + pieces + [each.thumbnail[:24] for each in shown] + [each.original_sha256.encode() for each in shown]


def _found(folder: Path, needles: list[bytes]) -> list[str]:
    found = []
    for path in (each for each in folder.rglob("*") if each.is_file()):
        content = path.read_bytes() + str(path.relative_to(folder)).encode()
        found += [f"{needle[:12]!r} in {path.name}" for needle in needles if needle in content]
    return found


def _rows(store) -> dict[str, set[str]]:
    """Every row of every table, letter by letter."""
    with store.engine.connect() as connection:
        return {
            table.name: {repr(tuple(row)) for row in connection.execute(select(table))}
            for table in Base.metadata.sorted_tables
        }


def _erase_and_look(store, number: int, before: dict[str, set[str]]) -> dict[str, set[str]]:
    needles = _needles(number)
    assert len(_found(store.place.folder, needles)) > 20  # the search does find what is there
    mine = client(store, code(number)).id
    receipt = erase_client(store, code(number))
    # The receipt counts drafts and what was asked for to be sent in together.
    assert (receipt.drafts, receipt.outcomes) == (3, 2)
    assert _found(store.place.folder, needles) == []
    after = _rows(store)
    new = {name: rows - before[name] for name, rows in after.items()}
    assert {name for name, rows in new.items() if rows} == {"erasure", "change"}
    assert [mine in row for row in new["erasure"]] == [True]
    gone = {name: before[name] - rows for name, rows in after.items()}
    assert all(gone[name] for name in ("client", "visit", "note", "photo", "consent", "version", "client_word"))
    assert _others(gone, mine) == set()
    return after


def _others(gone: dict[str, set[str]], client_id: str) -> set[str]:
    """Rows that went and hang neither on this client's row nor on a row that does."""
    marks, left = {client_id}, {row for rows in gone.values() for row in rows}
    while hanging := {row for row in left if any(mark in row for mark in marks)}:
        left -= hanging
        marks = {mark for row in hanging for mark in re.findall(r"'([0-9a-f]{32})'", row)} - marks
    return left


def _drill(place, clients: int, trials: int) -> None:
    known = sorted(random.Random(7).sample(range(clients), trials))
    with open_store(place, "the owner") as store:
        _fill(store, clients, known)
        before = _rows(store)
        for number in known:
            # A copy as it is made before tables change: it holds everybody.
            place.earlier.mkdir(exist_ok=True)
            (place.earlier / "records-0001.sqlite").write_bytes(place.database_file.read_bytes())
            before = _erase_and_look(store, number, before)
        assert len(before["client"]) == clients - trials
    with open_store(place) as again:
        assert _rows(again) == before


def test_two_clients_of_thirty_leave_no_byte(place):
    _drill(place, clients=30, trials=2)


@pytest.mark.parametrize("trials", [pytest.param(8, marks=pytest.mark.slow), pytest.param(50, marks=NIGHT)])
def test_clients_of_a_thousand_leave_no_byte(place, trials):
    _drill(place, clients=1000, trials=trials)
