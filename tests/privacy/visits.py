"""A visit with one text in every field that a person can write."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from estimator.records.consent_scopes import Scope
from estimator.records.visit_record import (
    AnswerRecord,
    ClockRecord,
    ConsentRecord,
    MixedRecord,
    OutcomeRecord,
    PlanRecord,
    QuoteRecord,
    VisitRecord,
    ZoneRecord,
)
from tests.estimator.records import invented

LONGEST_CODE, LONGEST_CURRENCY = 190, 8


def visit_saying(text: str, code: str, **changes: Any) -> VisitRecord:
    """An invented visit of the client of this code, with `text` wherever somebody may have written it."""
    day = invented.DAY
    consents = tuple(ConsentRecord(scope, day, text if text.strip() else "signed", text) for scope in Scope)
    said = invented.visit(
        code,
        client_name=text[:LONGEST_CODE],
        contact=text,
        salon=text[:LONGEST_CODE],
        consents=consents,
        facts={"age_years": 34.0, "what was told": text, text: [text]},
        zones=(ZoneRecord(text, "head", "coily", {"note": text}, {"level": 9.0, "tone": text}),),
        readings=(_reading(text),),
        answers=(AnswerRecord("ask-a-doctor", text, day, text, None, text),),
        plan=PlanRecord(text, {"bowls": [{"number": 1, "parts": [[text, 2]]}], text: text}),
        mixed=(MixedRecord(1, (text,), ((text, 20.5),), 61.0, 6.0, 12.0, text),),
        clock=(ClockRecord("start", text, datetime(2026, 10, 5, 9, 30, tzinfo=UTC), {"who": text, "note": text}),),
        outcomes=(OutcomeRecord(text, text, {text: 1.0}),),
        notes=(text, f"again: {text}"),
        quote=QuoteRecord(day, (1, 2), (2.0, 3.5), (90.0, 140.0), text[:LONGEST_CURRENCY], text),
    )
    return replace(said, **changes)


def _reading(text: str) -> Any:
    plain = invented.reading(text)
    return replace(plain, level={**plain.level, "scale": text}, basis=(text,))


def texts_in(tree: Any) -> set[str]:
    """Every text in nested lists and dictionaries, keys too."""
    if isinstance(tree, str):
        return {tree}
    if isinstance(tree, dict):
        return set().union(*(texts_in(part) for pair in tree.items() for part in pair)) if tree else set()
    if isinstance(tree, list | tuple):
        return set().union(*map(texts_in, tree)) if tree else set()
    return set()
