"""A database server that stops or whose line breaks in the middle: what is kept again by its key is kept once.

A few breaks on every run, 100 of each kind in the slow part.
"""

import random
import threading
from contextlib import contextmanager

import pytest
from sqlalchemy import func, select

from estimator.records import model
from estimator.records.clients import change_client, client
from estimator.records.errors import ChangedMeanwhileError, RecordsError
from estimator.records.place import SalonPlace
from estimator.records.store import open_store
from estimator.records.visits import keep_visit
from tests.counts import NIGHT, drilled
from tests.estimator.records.cut_network import CutNetwork, some_bytes
from tests.estimator.records.drills import faults_of
from tests.estimator.records.invented import visit

SLOW = pytest.mark.slow
SENTENCES = ("Nothing was written", "was changed meanwhile")


def keep_until_told(store, code, refusals):
    """A person who tries again, with the same visit, until it is kept."""
    wanted = visit(code)
    while True:
        try:
            return keep_visit(store, wanted)
        except RecordsError as problem:
            refusals.append(str(problem))
            assert len(refusals) < 100_000


def faults_in(place, codes):
    """What was lost, is half or is there twice, as the records look once all is quiet."""
    with open_store(place) as store, store.looking() as session:
        count = lambda table: session.scalar(select(func.count()).select_from(table))  # noqa: E731
        there = list(session.scalars(select(model.Client.code)))
        faults = faults_of(store) + [f"lost {code}" for code in codes if code not in there]
        if (len(there), count(model.Visit)) != (len(codes), len(codes)):
            faults.append(f"{len(there)} clients and {count(model.Visit)} visits of {len(codes)}")
        if count(model.Change) < len(codes):
            faults.append("changes without a number")
    return faults


@contextmanager
def keeping(place):
    """A writer in the background until the block ends: what it was told, and each sentence that it was refused with."""
    told, refusals, over = [], [], threading.Event()

    def writes():
        with open_store(place) as store:
            while not over.is_set():
                code = f"visit {len(told)}"
                keep_until_told(store, code, refusals)
                told.append(code)

    writer = threading.Thread(target=writes)
    writer.start()
    try:
        yield told, refusals
    finally:
        over.set()
        writer.join()


@pytest.mark.parametrize("stops", [pytest.param(25, marks=SLOW), pytest.param(100, marks=NIGHT)])
def test_a_server_that_is_stopped_often_loses_nothing_and_keeps_nothing_twice(tmp_path, postgres, stops):
    place, chance = SalonPlace(tmp_path / "salon", postgres.new_address()), random.Random(1)
    open_store(place).close()
    with keeping(place) as (told, refusals):
        for _ in range(stops):
            threading.Event().wait(chance.uniform(0.02, 0.2))
            postgres.stop("immediate")
            postgres.start()
    assert len(told) > stops / 2
    assert refusals  # or it was never stopped in the middle
    assert all(any(words in sentence for words in SENTENCES) for sentence in refusals), set(refusals)
    assert faults_in(place, told) == []


@pytest.mark.slow
@pytest.mark.parametrize("cuts", drilled(1, 25, 100))
def test_a_line_that_breaks_anywhere_loses_nothing_and_keeps_nothing_twice(tmp_path, postgres, new_tables, cuts):
    place = SalonPlace(tmp_path / "salon", postgres.new_address(new_tables))
    open_store(place).close()
    broken = CutNetwork(postgres.port, some_bytes(60_000, seed=cuts))
    through = SalonPlace(place.folder, place.address.replace(f":{postgres.port}/", f":{broken.port}/"))
    told, refusals, tries = [], [], 0
    while broken.cuts < cuts:
        try:
            with open_store(through) as store:
                for _ in range(20):
                    code = f"visit {len(told)}"
                    keep_until_told(store, code, refusals)
                    told.append(code)
                    if broken.cuts >= cuts:
                        break
        except RecordsError as problem:  # the line broke while the records were opened
            refusals.append(str(problem))
        tries += 1
        assert tries < 1000
    broken.close()
    assert told
    assert all(any(words in sentence for words in SENTENCES) for sentence in refusals), set(refusals)
    assert faults_in(place, told) == []


@pytest.mark.slow
@pytest.mark.parametrize("ends", drilled(1, 25, 100))
def test_a_connection_that_the_server_ends_loses_nothing_and_keeps_nothing_twice(tmp_path, postgres, new_tables, ends):
    address, chance = postgres.new_address(new_tables), random.Random(2)
    place = SalonPlace(tmp_path / "salon", address)
    ending = f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{address.rsplit('/', 1)[1]}'"
    with keeping(place) as (told, refusals):
        while not told:
            threading.Event().wait(0.01)
        for _ in range(ends):
            threading.Event().wait(chance.uniform(0.005, 0.05))
            postgres.execute(ending)
    assert all(any(words in sentence for words in SENTENCES) for sentence in refusals), set(refusals)
    assert faults_in(place, told) == []


# --- two people, two phones


def test_two_people_who_change_what_both_have_seen_are_told_apart(store, place):
    keep_visit(store, visit())
    with open_store(place, "the other") as other:
        seen, seen_too = client(store, "M. D."), client(other, "M. D.")
        change_client(other, seen_too, contact="the other's")
        with pytest.raises(ChangedMeanwhileError, match="changed meanwhile by somebody else"):
            change_client(store, seen, contact="mine")
    assert client(store, "M. D.").contact == "the other's"


@pytest.mark.slow
def test_two_who_edit_one_visit_at_the_same_moment_the_second_is_told(tmp_path, postgres, new_tables):
    # On a server both may have read the visit before either writes; the file lets only one of them begin.
    place = SalonPlace(tmp_path / "salon", postgres.new_address(new_tables))
    with open_store(place, "one") as one, open_store(place, "two") as two:
        kept = keep_visit(one, visit())

        def edited_by_both():
            with two.writing("visit changed") as second:
                seen = second.get_one(model.Visit, kept.id)
                with one.writing("visit changed") as first:
                    first.get_one(model.Visit, kept.id).salon = "first"
                seen.salon = "second"

        with pytest.raises(ChangedMeanwhileError):
            edited_by_both()
        with one.looking() as session:
            assert session.get_one(model.Visit, kept.id).salon == "first"
            assert session.get_one(model.Visit, kept.id).version == 2
            changes = session.scalars(select(model.Change.who).where(model.Change.what == "visit changed")).all()
        assert changes == ["one"]
    assert faults_in(place, ["M. D."]) == []
