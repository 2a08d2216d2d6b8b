"""Outcomes that were learned from, as rows of CSV, one a zone, and back into the same values."""

from functools import cache

from pydantic import TypeAdapter, ValidationError

from estimator.errors import BadInputError
from estimator.exchange.flat_rows import Field, flat_csv, rows_of_flat_csv
from estimator.feedback.journal import Journal
from estimator.feedback.outcome import Outcome

_LAB = "CIELAB D65 2 deg"
LAYOUT = (
    Field("key"),
    Field("client"),
    Field("day"),
    Field("zone"),
    Field("porosity"),
    Field("minutes", "number", "min"),
    Field("full_minutes", "number", "min"),
    Field("white_lab_d65", "lab", _LAB),
    Field("shades", "json", "name, colour on white, parts"),
    Field("before_lab_d65", "lab", _LAB),
    Field("before_covariance", "json", "CIELAB squared"),
    Field("after_lab_d65", "lab", _LAB),
    Field("after_covariance", "json", "CIELAB squared"),
    Field("shared", "json", "CIELAB squared"),
    Field("trial", "word"),
)


@cache
def _adapter() -> TypeAdapter[Outcome]:
    return TypeAdapter(Outcome)


def outcomes_to_csv(journal: Journal) -> str:
    """The outcomes of a journal as CSV with units in the header."""
    return flat_csv([_adapter().dump_python(outcome, mode="json") for outcome in journal.outcomes], LAYOUT)


def outcomes_of_csv(text: str) -> Journal:
    """The journal whose outcomes `outcomes_to_csv` wrote. Raises BadInputError, naming row and column."""
    rows = rows_of_flat_csv(text, LAYOUT, "outcomes")
    outcomes = []
    for number, row in enumerate(rows, start=2):
        try:
            outcomes.append(_adapter().validate_python(row))
        except ValidationError as problem:
            fault = problem.errors()[0]
            place = ".".join(str(part) for part in fault["loc"]) or "the row"
            raise BadInputError(f"Row {number} of the outcomes: {place}: {fault['msg']}. Mend it.") from problem
    return Journal().with_outcomes(outcomes)
