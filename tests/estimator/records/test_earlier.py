"""What one client's hair read at each visit, and one visit taken back whatever was kept since."""

from datetime import date

import pytest

from estimator.records.adding import add_note
from estimator.records.clients import withdraw_consent
from estimator.records.consent_scopes import Scope
from estimator.records.earlier import earlier_visits
from estimator.records.errors import ConsentMissingError, NotKeptError
from estimator.records.searching import latest_visits
from estimator.records.showing import client_page, visit_page
from estimator.records.taking_back import take_back
from estimator.records.visits import keep_visit
from tests.estimator.records.invented import BOTH, DAY, reading, visit

LATER = date(2026, 11, 2)


@pytest.mark.slow
def test_visits_of_one_client_are_told_the_oldest_first_with_their_readings_and_tones(store):
    keep_visit(store, visit(day=LATER, readings=(reading("crown", 7.9),)))
    keep_visit(store, visit())
    keep_visit(store, visit("M. D. 2"))
    found = earlier_visits(store, "m. d.")
    assert [each.day for each in found] == [DAY, LATER]
    assert [(zone.side, zone.zone, zone.level.level, zone.tone) for zone in found[0].zones] == [
        ("before", "crown", 7.2, "beige"),
        ("before", "nape", 5.6, ""),
        ("after", "crown", 8.6, "beige"),
    ]
    assert found[1].zones[0].level.level_low == 7.5


def test_without_a_client_or_with_the_consent_taken_back_nothing_is_told(store):
    with pytest.raises(NotKeptError):
        earlier_visits(store, "M. D.")
    keep_visit(store, visit())
    withdraw_consent(store, "M. D.", Scope.RECORD, LATER, "spoken")
    with pytest.raises(ConsentMissingError, match="taken back"):
        earlier_visits(store, "M. D.")


@pytest.mark.slow
def test_the_very_visit_is_taken_back_and_not_what_was_kept_since(store):
    mine = keep_visit(store, visit())
    keep_visit(store, visit("Other"))
    take_back(store, mine.id)
    assert [each.code for each in latest_visits(store)] == ["Other"]
    with pytest.raises(NotKeptError):
        client_page(store, "M. D.")
    assert store.undo() == "visit taken back"
    assert client_page(store, "M. D.").notes == ("Likes it cool.",)
    take_back(store, mine.id)
    again = keep_visit(store, visit())
    assert (again.id, again.new) == (mine.id, True)
    assert client_page(store, "M. D.").notes == ("Likes it cool.",)
    assert len(client_page(store, "M. D.").consents) == 2


@pytest.mark.slow
def test_client_and_consent_stay_where_something_else_rests_on_them(store):
    first = keep_visit(store, visit())
    second = keep_visit(store, visit(day=LATER))
    take_back(store, first.id)
    assert [each.day for each in earlier_visits(store, "M. D.")] == [LATER]
    add_note(store, "M. D.", LATER, "Comes again in spring.")
    take_back(store, second.id)
    page = client_page(store, "M. D.")
    assert (page.visits, page.notes) == ((), ("Comes again in spring.",))
    assert len(page.consents) == 2


def test_a_visit_that_is_not_there_can_t_be_taken_back(store):
    with pytest.raises(NotKeptError):
        take_back(store, "f" * 32)


@pytest.mark.slow
def test_what_was_agreed_to_with_a_visit_taken_back_has_to_be_agreed_to_anew(store):
    first = keep_visit(store, visit())
    take_back(store, first.id)
    again = keep_visit(store, visit(consents=BOTH[:1]))
    assert again.id != first.id
    page = client_page(store, "M. D.")
    assert [consent.scope for consent in page.consents] == ["record"]
    assert visit_page(store, again.id).findings == (("care", "The card shines."),)
    assert keep_visit(store, visit(consents=BOTH)).new is False
    # Taken back once more, each form comes back as it was.
    take_back(store, again.id)
    assert keep_visit(store, visit()).id == first.id
