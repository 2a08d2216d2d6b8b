"""The journal of outcomes: what is taken back was never learned, and no fault of a file or a disk loses a line."""

import threading

import numpy as np
import pytest

from estimator.errors import BadInputError, OutputError
from estimator.feedback.journal import Journal, journal_from_text, journal_text
from estimator.feedback.journal_store import JournalStore, journal_beside
from estimator.feedback.learning import believe
from tests.synthetic.taught_visits import head, salon, toned


@pytest.fixture(scope="module")
def visits():
    truth = salon(np.random.default_rng(3))
    made = []
    for number in range(2):
        own = np.random.default_rng(number)
        made.append(toned(truth, head(number, own), None, own))
    return made


@pytest.fixture
def journal(visits):
    return Journal().with_outcomes([*visits[0].outcomes, *visits[1].outcomes])


@pytest.mark.slow
def test_the_journal_is_read_back_as_it_was_written(journal):
    assert journal_from_text(journal_text(journal)) == journal
    assert journal_from_text("") == Journal()


@pytest.mark.slow
def test_what_is_taken_back_was_never_learned(journal, visits):
    shorter = journal.without(outcome.key for outcome in journal.last_visit)
    assert shorter == Journal().with_outcomes(visits[0].outcomes)
    assert believe(shorter.outcomes).mean == pytest.approx(believe(visits[0].outcomes).mean)


@pytest.mark.slow
def test_a_result_counts_once(journal, visits):
    with pytest.raises(BadInputError, match="counts once"):
        journal.with_outcomes(visits[0].outcomes)
    with pytest.raises(BadInputError, match="No outcome"):
        journal.without(["0123456789ab"])


@pytest.mark.parametrize(
    ("mangle", "said"),
    [
        (lambda text: "a letter\n" + text, "no journal"),
        (lambda text: text.replace("outcomes-1", "outcomes-9"), "version"),
        (lambda text: text.replace('"minutes":', '"minuten":', 1), "Line 2"),
        (lambda text: text[:-50], "Invalid JSON"),
        (lambda text: text + text.splitlines()[1], "counts once"),
        (lambda text: text.replace('"minutes":', '"minutes":-', 1), "Line 2"),
        (lambda text: text.replace('"parts":1.0', '"parts":NaN', 1), "finite"),
    ],
)
def test_a_damaged_journal_is_refused_with_the_line_that_is_wrong(journal, mangle, said):
    with pytest.raises(BadInputError, match=said):
        journal_from_text(mangle(journal_text(journal)))


def test_the_journal_lies_beside_the_shelf(tmp_path):
    assert journal_beside(tmp_path / "my shelf.csv") == tmp_path / "my shelf.outcomes.jsonl"


def test_two_pages_that_learn_at_once_lose_nothing(tmp_path, journal):
    store = JournalStore(tmp_path / "outcomes.jsonl")
    workers = [
        threading.Thread(target=store.change, args=(lambda held, one=one: held.with_outcomes([one]),))
        for one in journal.outcomes
    ]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert {outcome.key for outcome in store.load().outcomes} == {outcome.key for outcome in journal.outcomes}
    assert not list(tmp_path.glob(".part-*"))


def test_a_change_that_is_refused_leaves_the_file_as_it_was(tmp_path, journal):
    store = JournalStore(tmp_path / "outcomes.jsonl")
    store.change(lambda held: held.with_outcomes(journal.outcomes))
    before = store.path.read_bytes()
    with pytest.raises(BadInputError):
        store.change(lambda held: held.with_outcomes(journal.outcomes))
    store.path.write_bytes(before[:-9])
    with pytest.raises(BadInputError):
        store.change(lambda held: held)
    assert store.path.read_bytes() == before[:-9]


def test_a_folder_that_can_not_be_written_is_said_so(tmp_path, journal):
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(OutputError, match="could not be written"):
        JournalStore(tmp_path / "file" / "outcomes.jsonl").change(lambda held: held)
