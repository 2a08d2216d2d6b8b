"""Keeping a visit: with consent, whole, once, and never over what was there; on both databases."""

from datetime import date

import pytest
from sqlalchemy import func, select

from estimator.errors import BadInputError
from estimator.records import model
from estimator.records.changes import KEPT_TABLES
from estimator.records.clients import change_client, client, earlier_versions, give_consent, withdraw_consent
from estimator.records.consent_scopes import Scope
from estimator.records.errors import ChangedMeanwhileError, ConsentMissingError, NotKeptError
from estimator.records.photo_files import hash_of
from estimator.records.visit_record import ConsentRecord
from estimator.records.visits import keep_visit
from tests.estimator.records.invented import BOTH, DAY, photo, visit


def _count(store, table):
    with store.looking() as session:
        return session.scalar(select(func.count()).select_from(table))


def _files(store):
    return sorted(store.files.all_hashes())


def test_a_visit_is_not_kept_without_consent_and_leaves_nothing(store):
    with pytest.raises(ConsentMissingError, match="has not agreed to the record"):
        keep_visit(store, visit(consents=()))
    assert _count(store, model.Client) == _count(store, model.Visit) == 0
    assert _files(store) == []


def test_every_part_of_a_visit_is_kept(store):
    kept = keep_visit(store, visit())
    assert kept.new
    assert not kept.left_out
    rows = {
        table.__tablename__: _count(store, table)
        for table in (model.Zone, model.Photo, model.Reading, model.FindingRow, model.AnswerRow, model.PlanRow)
    }
    assert rows == {"zone": 2, "photo": 2, "reading": 3, "finding": 2, "answer": 1, "plan": 1}
    assert {name: _count(store, table) for name, table in KEPT_TABLES.items()} == {
        "client": 1, "consent": 2, "consultation": 1, "visit": 1, "mixed": 1, "clock_event": 1, "outcome": 1,
        "note": 1, "quote": 1,
    }  # fmt: skip
    with store.looking() as session:
        reading = session.scalars(select(model.Reading).where(model.Reading.stage == "orange")).one()
        assert (reading.lab_l, reading.level, reading.pipeline_version) == (52.1, 5.6, 1)
        event = session.scalars(select(model.ClockEvent)).one()
        assert event.at_utc.isoformat() == "2026-10-05T09:30:00+00:00"


def test_photographs_are_found_by_their_hash_and_the_originals_hash_is_kept(store):
    keep_visit(store, visit())
    first = photo("M. D. before")
    assert store.files.get(hash_of(first.content)) == first.content
    with store.looking() as session:
        row = session.scalars(select(model.Photo).where(model.Photo.side == "before")).one()
        assert (row.sha256, row.original_sha256) == (hash_of(first.content), first.original_sha256)


def test_the_same_visit_is_kept_once(store):
    first, again = keep_visit(store, visit()), keep_visit(store, visit())
    assert (again.id, again.new) == (first.id, False)
    assert _count(store, model.Visit) == 1


def test_health_answers_need_their_own_consent(store):
    kept = keep_visit(store, visit(consents=BOTH[:1]))
    assert "health answers" in kept.left_out[0]
    assert _count(store, model.Consultation) == _count(store, model.AnswerRow) == _count(store, model.Document) == 0
    with store.looking() as session:
        assert session.scalars(select(model.FindingRow.about)).all() == ["photo"]
        assert session.scalars(select(model.Visit.care_verdict)).one() == ""


def test_consent_taken_back_stays_on_record_and_counts_no_more(store):
    keep_visit(store, visit())
    assert withdraw_consent(store, "m. d.", Scope.RECORD, date(2026, 11, 1), "spoken") == 1
    with pytest.raises(ConsentMissingError):
        keep_visit(store, visit(consents=(), day=date(2026, 11, 2)))
    give_consent(store, "M. D.", ConsentRecord(Scope.RECORD, date(2026, 11, 3), "signed"))
    assert keep_visit(store, visit(consents=(), day=date(2026, 11, 4))).new
    assert _count(store, model.Consent) == 3


def test_a_code_is_found_whatever_its_case_and_accents(store):
    keep_visit(store, visit("Zoë  K"))
    assert client(store, "ZOE k").code == "Zoë  K"
    with pytest.raises(NotKeptError):
        client(store, "Zo")


def test_undo_takes_the_last_change_back_and_nothing_is_lost(store):
    keep_visit(store, visit())
    seen = client(store, "M. D.")
    changed = change_client(store, seen, contact="by post", name="M. Dunmore")
    assert earlier_versions(store, "M. D.") == [{"contact": "marigold@example.org", "name": "Marigold Dunmore"}]
    assert store.undo() == "client"
    back = client(store, "M. D.")
    assert (back.name, back.contact) == (seen.name, seen.contact)
    assert back.seen_version > changed.seen_version
    assert store.undo() == "visit kept"
    with pytest.raises(NotKeptError):
        client(store, "M. D.")
    assert _count(store, model.Visit) == 1
    with pytest.raises(NotKeptError, match="no change left"):
        store.undo()


def test_a_visit_undone_comes_back_whole_when_it_is_kept_again(store):
    keep_visit(store, visit())
    store.undo()
    assert keep_visit(store, visit()).new
    with store.looking() as session:
        back = [table for name, table in KEPT_TABLES.items() if name != "consent"]
        assert all(session.scalar(select(func.count()).where(t.removed)) == 0 for t in back)
        # Consents are those that came with the visit now, not those of the time before.
        assert session.scalar(select(func.count()).where(~KEPT_TABLES["consent"].removed)) == len(BOTH)


def test_whoever_changes_what_another_has_changed_is_told(store):
    keep_visit(store, visit())
    seen = client(store, "M. D.")
    change_client(store, seen, contact="first")
    with pytest.raises(ChangedMeanwhileError):
        change_client(store, seen, contact="second")
    assert client(store, "M. D.").contact == "first"


def test_a_text_that_no_database_keeps_is_refused_in_a_sentence():
    with pytest.raises(BadInputError, match="character that no record can keep"):
        visit(client_name="null\0byte")
    with pytest.raises(BadInputError, match="character that no record can keep"):
        visit(notes=("half a letter \ud800",))
    with pytest.raises(BadInputError, match="letters"):
        visit(client_name="x" * 201)
    with pytest.raises(BadInputError, match="code"):
        visit(client_code="  ")


@pytest.mark.slow
def test_a_day_is_kept_as_the_salon_knew_it(store):
    keep_visit(store, visit())
    with store.looking() as session:
        assert session.scalars(select(model.Visit.day)).one() == DAY
