"""A quote in words, the same on a screen and in a letter."""

from typing import TYPE_CHECKING

from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.records.visit_record import QuoteRecord


def quote_text(quote: "QuoteRecord") -> str:
    """What it takes: "2 visits, 5 hours in all, 180 to 240 EUR, as told on 5 October 2026"."""
    visits, hours, price = quote.visits, quote.hours, quote.price
    how_often = (
        wording.count_text(visits[0], "visit") if visits[0] == visits[1] else f"{visits[0]} to {visits[1]} visits"
    )
    how_long = _range(wording.plain_text(hours[0]), wording.plain_text(hours[1]))
    unit = "hour" if how_long == "1" else "hours"
    cost = _range(_money(price[0]), _money(price[1]))
    told = f"{how_often}, {how_long} {unit} in all, {cost} {quote.currency}"
    return f"{told}, as told on {wording.date_text(quote.seen_on)}"


def _range(low: str, high: str) -> str:
    return low if low == high else f"{low} to {high}"


def _money(amount: float) -> str:
    return wording.number_text(amount, 2).removesuffix(".00")
