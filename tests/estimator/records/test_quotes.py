"""What a client was told that it takes: kept, the last one found, and wrong figures refused."""

from dataclasses import replace
from datetime import date

import pytest

from estimator.errors import BadInputError
from estimator.records.clients import withdraw_consent
from estimator.records.consent_scopes import Scope
from estimator.records.errors import ConsentMissingError, NotKeptError
from estimator.records.quotes import keep_quote, latest_quote
from estimator.records.visit_record import QuoteRecord
from estimator.records.visits import keep_visit
from estimator.reports.quote_wording import quote_text
from tests.estimator.records.invented import visit

QUOTE = QuoteRecord(date(2026, 10, 5), (2, 2), (5.0, 5.0), (180.0, 240.0), "EUR")


def test_the_last_quote_is_found_by_its_day_then_by_its_order(store):
    keep_visit(store, visit(quote=None))
    assert latest_quote(store, "M. D.") is None
    keep_quote(store, "M. D.", QUOTE)
    keep_quote(store, "m. d.", replace(QUOTE, price=(200.0, 250.0)))
    keep_quote(store, "M. D.", replace(QUOTE, seen_on=date(2026, 9, 1)))
    assert latest_quote(store, "M. D.").price == (200.0, 250.0)
    assert store.undo() == "quote"
    assert store.undo() == "quote"
    assert latest_quote(store, "M. D.") == QUOTE


def test_a_quote_needs_a_client_and_the_consent_to_the_record(store):
    with pytest.raises(NotKeptError):
        keep_quote(store, "M. D.", QUOTE)
    keep_visit(store, visit())
    withdraw_consent(store, "M. D.", Scope.RECORD, date(2026, 10, 6), "spoken")
    with pytest.raises(ConsentMissingError):
        keep_quote(store, "M. D.", QUOTE)


@pytest.mark.slow
@pytest.mark.parametrize(
    "wrong",
    [
        {"visits": (0, 0)},
        {"hours": (float("nan"), 5.0)},
        {"price": (240.0, 180.0)},
        {"price": (1.0, float("inf"))},
        {"currency": ""},
        {"currency": "doubloons"},
    ],
)
def test_a_figure_that_is_none_is_refused(file_store, wrong):
    keep_visit(file_store, visit(quote=None))
    with pytest.raises(BadInputError):
        keep_quote(file_store, "M. D.", replace(QUOTE, **wrong))
    assert latest_quote(file_store, "M. D.") is None


def test_a_quote_is_told_in_words():
    assert quote_text(QUOTE) == "2 visits, 5 hours in all, 180 to 240 EUR, as told on 5 October 2026"
    one = replace(QUOTE, visits=(1, 2), hours=(1.0, 1.0), price=(99.5, 99.5))
    assert quote_text(one).startswith("1 to 2 visits, 1 hour in all, 99.50 EUR")
