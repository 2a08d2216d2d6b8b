"""One kept visit as its papers read it: with what stood before it, only what may be told, and by which changes."""

from dataclasses import replace
from datetime import date

import pytest

from estimator.records.adding import add_mixed, add_note
from estimator.records.clients import give_consent, withdraw_consent
from estimator.records.consent_scopes import Scope
from estimator.records.errors import ConsentMissingError, NotKeptError
from estimator.records.visit_record import ConsentRecord, MixedRecord, VisitRecord
from estimator.records.visits import keep_visit
from estimator.records.whole_visit import visit_of_client, visit_of_day, whole_visit
from estimator.visit.recorded import letter_about, visit_record_of
from tests.estimator.records import invented

EARLIER, LATER = date(2026, 8, 3), date(2026, 11, 2)
# What is read back, field by field; photographs come small, and reports are files of their own.
FIELDS = set(VisitRecord.__dataclass_fields__) - {"photos", "documents", "consents", "contact"}


def test_it_comes_back_as_it_was_handed_over(store):
    told = invented.visit()
    found = whole_visit(store, keep_visit(store, told).id)
    for name in FIELDS - {"readings"}:
        assert getattr(found.record, name) == getattr(told, name), name
    by_zone = sorted(told.readings, key=lambda read: (read.zone, read.side != "before"))
    assert [replace(read, photos=()) for read in found.record.readings] == [
        replace(read, photos=()) for read in by_zone
    ]
    assert [photo.thumbnail for photo in found.record.photos] == [photo.thumbnail for photo in told.photos]
    assert [photo.original_sha256 for photo in found.record.photos] == [photo.original_sha256 for photo in told.photos]
    assert {consent.scope for consent in found.consents} == {Scope.RECORD, Scope.HEALTH}
    assert (found.health, found.facts_before) == (True, None)


@pytest.mark.slow
def test_the_consultation_before_is_the_last_one_of_the_same_client(store):
    first = invented.visit(day=EARLIER, facts={"age_years": 33.0})
    keep_visit(store, first)
    keep_visit(store, invented.visit("another", day=date(2026, 9, 1)))
    second = keep_visit(store, invented.visit())
    keep_visit(store, invented.visit(day=LATER, facts={"age_years": 35.0}))
    assert whole_visit(store, second.id).facts_before == (EARLIER, {"age_years": 33.0})


@pytest.mark.slow
def test_what_is_added_later_stands_in_it_with_the_number_of_its_change(file_store):
    kept = keep_visit(file_store, invented.visit())
    before = whole_visit(file_store, kept.id)
    assert before.kept_in == before.last_change
    add_mixed(file_store, kept.id, MixedRecord(2, ("nape",), (("clear", 5.0),), 10.0, 6.0))
    after = whole_visit(file_store, kept.id)
    assert [mixed.bowl_number for mixed in after.record.mixed] == [1, 2]
    assert (after.kept_in, after.last_change) == (before.kept_in, before.kept_in + 1)
    add_note(file_store, "M. D.", invented.DAY, "Rang up: happy.")
    add_note(file_store, "M. D.", LATER, "Of another day.")
    assert set(whole_visit(file_store, kept.id).record.notes) == {"Likes it cool.", "Rang up: happy."}
    file_store.undo()
    file_store.undo()
    file_store.undo()
    assert [mixed.bowl_number for mixed in whole_visit(file_store, kept.id).record.mixed] == [1]


def test_without_consent_to_health_answers_none_of_them_is_read(file_store):
    kept = keep_visit(file_store, invented.visit())
    withdraw_consent(file_store, "M. D.", Scope.HEALTH, LATER, "spoken")
    found = whole_visit(file_store, kept.id)
    assert not found.health
    assert (found.record.facts, found.record.answers, found.record.care_verdict) == ({}, (), "")
    assert {finding.about for finding in found.record.findings} == {"photo"}
    assert found.facts_before is None
    assert visit_record_of(file_store, kept.id).care is None
    assert "Ask a doctor" not in repr(letter_about(file_store, kept.id))


def test_without_consent_to_the_record_nothing_is_read(file_store):
    kept = keep_visit(file_store, invented.visit())
    withdraw_consent(file_store, "M. D.", Scope.RECORD, LATER, "spoken")
    for paper in (visit_record_of, letter_about):
        with pytest.raises(ConsentMissingError, match="taken back"):
            paper(file_store, kept.id)


@pytest.mark.slow
def test_consents_stand_as_they_did_that_day(file_store):
    keep_visit(file_store, invented.visit(day=EARLIER))
    give_consent(file_store, "M. D.", ConsentRecord(Scope.PORTFOLIO, EARLIER, "signed"))
    withdraw_consent(file_store, "M. D.", Scope.PORTFOLIO, date(2026, 9, 1), "spoken")
    give_consent(file_store, "M. D.", ConsentRecord(Scope.TEACHING, EARLIER, "signed"))
    withdraw_consent(file_store, "M. D.", Scope.TEACHING, LATER, "spoken")
    kept = keep_visit(file_store, invented.visit())
    stood = {consent.scope: consent.withdrawn_on for consent in whole_visit(file_store, kept.id).consents}
    assert Scope.PORTFOLIO not in stood
    assert stood[Scope.TEACHING] == LATER
    assert stood[Scope.RECORD] is None


@pytest.mark.slow
def test_a_visit_is_found_by_its_client_and_day(file_store):
    first = keep_visit(file_store, invented.visit(day=EARLIER))
    last = keep_visit(file_store, invented.visit())
    other = keep_visit(file_store, invented.visit("another"))
    assert visit_of_day(file_store, "M. D.") == last.id
    assert visit_of_day(file_store, "M. D.", EARLIER) == first.id
    assert visit_of_client(file_store, "M. D.", first.id[:10]) == first.id
    with pytest.raises(NotKeptError, match="2026-11-02"):
        visit_of_day(file_store, "M. D.", LATER)
    with pytest.raises(NotKeptError, match="not one of"):
        visit_of_client(file_store, "M. D.", other.id)
    keep_visit(file_store, invented.visit(notes=("The same day.",)))
    with pytest.raises(NotKeptError, match="--visit"):
        visit_of_day(file_store, "M. D.", invented.DAY)
