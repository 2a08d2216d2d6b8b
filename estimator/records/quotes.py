"""What a client was told that it takes: visits, hours and price, kept as they were told."""

from math import isfinite

from sqlalchemy import select

from estimator.errors import BadInputError
from estimator.records import model
from estimator.records.clients import client_row, need_consent
from estimator.records.consent_scopes import Scope
from estimator.records.store import Store
from estimator.records.visit_record import QuoteRecord, check_text

MOST_VISITS, MOST_HOURS, MOST_PRICE = 50, 500.0, 1e7
LONGEST_CURRENCY = 8


def keep_quote(store: Store, code: str, quote: QuoteRecord) -> None:
    """Keep what the client was told; earlier ones stay beside it.

    Raises
    ------
    NotKeptError : No client has this code.
    ConsentMissingError : The client has taken back the consent to a record.
    BadInputError : A figure is none, or a lower end stands above its upper one.
    """
    _check(quote)
    with store.writing("quote") as session:
        row = client_row(session, code)
        need_consent(session, row, Scope.RECORD)
        session.add(
            model.Quote(
                client_id=row.id,
                visit_id=None,
                seen_on=quote.seen_on,
                visits_low=quote.visits[0],
                visits_high=quote.visits[1],
                hours_low=quote.hours[0],
                hours_high=quote.hours[1],
                price_low=quote.price[0],
                price_high=quote.price[1],
                currency=quote.currency,
                text=quote.text,
            )
        )


def _check(quote: QuoteRecord) -> None:
    most = (
        ("visits", quote.visits, MOST_VISITS),
        ("hours", quote.hours, MOST_HOURS),
        ("price", quote.price, MOST_PRICE),
    )
    for what, (low, high), limit in most:
        if not (isfinite(low) and isfinite(high) and 0 < low <= high <= limit):
            raise BadInputError(
                f"Write the {what} of a quote as figures above 0, up to {limit:,.0f}, the lower figure first."
            )
    if not 0 < len(quote.currency.strip()) <= LONGEST_CURRENCY:
        raise BadInputError(f"Name the currency in up to {LONGEST_CURRENCY} letters, such as EUR.")
    check_text(quote.currency, "The currency", LONGEST_CURRENCY)
    check_text(quote.text, "The quote's text")


def latest_quote(store: Store, code: str) -> QuoteRecord | None:
    """What the client of this code was told last; None where nothing was. Raises NotKeptError, ConsentMissingError."""
    with store.looking() as session:
        row = client_row(session, code)
        need_consent(session, row, Scope.RECORD)
        told = model.Version
        quotes = (
            select(model.Quote)
            .join(told, told.row_id == model.Quote.id)
            .where(told.before.is_(None), model.Quote.client_id == row.id, ~model.Quote.removed)
            .order_by(model.Quote.seen_on.desc(), told.change_sequence.desc())
        )
        found = session.scalars(quotes.limit(1)).first()
        return None if found is None else quote_of_row(found)


def quote_of_row(row: model.Quote) -> QuoteRecord:
    """A kept quote as it was told."""
    visits, hours = (row.visits_low, row.visits_high), (row.hours_low, row.hours_high)
    return QuoteRecord(row.seen_on, visits, hours, (row.price_low, row.price_high), row.currency, row.text)
