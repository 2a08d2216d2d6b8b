"""What a client's page is made of: nothing without consent, the last told first, and only what was shown is undone."""

from datetime import date

import pytest
from sqlalchemy import select

from estimator.errors import BadInputError
from estimator.records import model
from estimator.records.adding import add_note, add_outcome
from estimator.records.clients import change_client, client, withdraw_consent
from estimator.records.consent_scopes import Scope, scope_texts
from estimator.records.errors import ChangedMeanwhileError, ConsentMissingError
from estimator.records.last_change import last_change, undo_shown
from estimator.records.photo_files import hash_of
from estimator.records.remembering import client_memory, visit_files, with_consent
from estimator.records.store import open_store
from estimator.records.taking_back import take_back
from estimator.records.visit_record import OutcomeRecord
from estimator.records.visits import keep_visit
from estimator.records.withdrawing import withdraw
from tests.estimator.records.invented import DAY, photo, visit

LATER = date(2026, 11, 2)


def test_a_client_is_remembered_with_the_texts_agreed_to_and_the_last_told_first(store):
    keep_visit(store, visit())
    keep_visit(store, visit(day=LATER, facts={"age_years": 35.0}, notes=("Less gold.",)))
    add_note(store, "M. D.", DAY, "Written last, of an earlier day.")
    memory = client_memory(store, "m. d.")
    assert memory.agreed == {Scope.RECORD: DAY, Scope.HEALTH: DAY}
    assert {each.text for each in memory.consents} == {
        scope_texts()[scope].text for scope in (Scope.RECORD, Scope.HEALTH)
    }
    assert [note.text for note in memory.notes] == ["Written last, of an earlier day.", "Less gold.", "Likes it cool."]
    assert [(told.day, told.facts["age_years"]) for told in memory.consultations] == [(LATER, 35.0), (DAY, 34.0)]
    assert len(memory.quotes) == 2


def test_without_the_consent_to_the_record_only_details_and_consents_are_told(file_store):
    kept = keep_visit(file_store, visit())
    withdraw(file_store, "M. D.", Scope.RECORD, LATER, "spoken")
    memory = client_memory(file_store, "M. D.")
    assert (memory.notes, memory.quotes, memory.consultations) == ((), (), ())
    taken_back = next(each for each in memory.consents if each.scope is Scope.RECORD)
    assert (taken_back.withdrawn_on, taken_back.withdrawn_how) == (LATER, "spoken")
    with pytest.raises(ConsentMissingError, match="taken back"):
        visit_files(file_store, kept.id)


def test_answers_are_told_only_with_the_consent_to_them_and_of_visits_in_sight(file_store):
    kept = keep_visit(file_store, visit())
    keep_visit(file_store, visit(day=LATER))
    take_back(file_store, kept.id)
    assert [told.day for told in client_memory(file_store, "M. D.").consultations] == [LATER]
    withdraw_consent(file_store, "M. D.", Scope.HEALTH, LATER, "spoken")
    assert client_memory(file_store, "M. D.").consultations == ()


@pytest.mark.slow
def test_health_answers_go_with_the_consent_to_them_and_other_consents_take_nothing_along(file_store):
    keep_visit(file_store, visit())
    assert withdraw(file_store, "M. D.", Scope.RECORD, LATER, "spoken").health_rows == 0
    done = withdraw(file_store, "M. D.", Scope.HEALTH, LATER, "spoken")
    assert done.consents == 1
    assert done.health_rows == 5  # one consultation, one answer, one finding of care, and two reports that told them
    assert withdraw(file_store, "M. D.", Scope.HEALTH, LATER, "spoken").consents == 0


@pytest.mark.slow
def test_small_pictures_and_papers_of_a_visit_are_found_by_their_hash(file_store):
    kept = keep_visit(file_store, visit())
    files = visit_files(file_store, kept.id)
    assert files.pictures == tuple(
        (side, hash_of(photo(f"M. D. {side}", side).thumbnail)) for side in ("before", "after")
    )
    assert [ending for ending, _ in files.papers] == ["pdf", "html"]
    assert file_store.files.get(files.papers[0][1]).startswith(b"%PDF")


@pytest.mark.slow
def test_an_outcome_stands_beside_what_was_said_before(file_store):
    kept = keep_visit(file_store, visit())
    add_outcome(file_store, kept.id, OutcomeRecord("nape", "a little warm"))
    with file_store.looking() as session:
        told = session.execute(select(model.Outcome.zone, model.Outcome.told).order_by(model.Outcome.zone)).all()
    assert [tuple(row) for row in told] == [("crown", "as wished"), ("nape", "a little warm")]


@pytest.mark.slow
@pytest.mark.parametrize("told", ["", "  ", "half a letter \ud800"])
def test_an_outcome_or_a_note_that_says_nothing_is_refused(file_store, told):
    kept = keep_visit(file_store, visit())
    with pytest.raises(BadInputError):
        add_outcome(file_store, kept.id, OutcomeRecord("crown", told))
    with pytest.raises(BadInputError):
        add_note(file_store, "M. D.", DAY, told)
    assert len(client_memory(file_store, "M. D.").notes) == 1


@pytest.mark.slow
def test_of_many_clients_those_who_agree_to_the_record_are_told_apart(store):
    for code in ("A.", "B.", "C."):
        keep_visit(store, visit(code))
    withdraw(store, "B.", Scope.RECORD, LATER, "spoken")
    withdraw(store, "C.", Scope.HEALTH, LATER, "spoken")
    assert with_consent(store, ("A.", "B.", "C.")) == {"A.", "C."}


def test_the_last_change_says_what_who_and_of_whom_and_only_that_one_is_undone(place):
    with open_store(place, "Ana") as store:
        assert last_change(store) is None
        kept = keep_visit(store, visit())
        shown = last_change(store)
        assert (shown.what, shown.who, shown.client_ids) == ("visit kept", "Ana", {kept.client_id})
        keep_visit(store, visit("B. B."))
        with pytest.raises(ChangedMeanwhileError):
            undo_shown(store, shown)
        assert last_change(store).client_ids != {kept.client_id}
        change_client(store, client(store, "M. D."), name="Mari")
        renamed = last_change(store)
        assert renamed.client_ids == {kept.client_id}
        assert undo_shown(store, renamed) == "client"
        assert client(store, "M. D.").name == "Marigold Dunmore"


@pytest.mark.slow
def test_the_last_change_of_a_visit_s_parts_is_told_of_the_visit_s_client(file_store):
    kept = keep_visit(file_store, visit())
    add_outcome(file_store, kept.id, OutcomeRecord("crown", "even"))
    shown = last_change(file_store)
    assert (shown.what, shown.client_ids) == ("outcome", {kept.client_id})
