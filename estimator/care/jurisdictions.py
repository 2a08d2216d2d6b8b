"""What the law of a place allows on hair, as dated figures; everywhere else: ask your authority."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

from estimator.care.questions import TABLES, CareTableError, read_sources

OTHER = "other"


@dataclass(frozen=True)
class LegalLimit:
    """One figure. source : Where we read it; "from memory" where we could not, and then it must be looked up."""

    entry: str
    substance: str
    figure: float
    unit: str
    who: str
    counted: str
    warning: str
    source: str

    @property
    def to_look_up(self) -> bool:
        """Nobody here has read it in a published text."""
        return "from memory" in self.source


@dataclass(frozen=True)
class PlaceLimits:
    """All figures of one place, with the act, and the day on which they were read. None kept: `limits` is empty.

    note : What to do before resting on them; always shown.
    """

    code: str
    name: str
    act: str
    as_of: date | None
    note: str
    limits: tuple[LegalLimit, ...]


def places() -> tuple[tuple[str, str], ...]:
    """Code and name of each place that can be chosen, "other" last."""
    return (*((code, limits.name) for code, limits in _table().items() if code != OTHER), (OTHER, "somewhere else"))


def limits_of(place: str) -> PlaceLimits:
    """The figures of a place; for any that is not in the table, none, and whom to ask."""
    return _table().get(place, _table()[OTHER])


@cache
def _table() -> Mapping[str, PlaceLimits]:
    return read_limits((TABLES / "limits.toml").read_text("utf-8"))


def read_limits(text: str) -> Mapping[str, PlaceLimits]:
    """The places in a TOML text; raises CareTableError naming the first row that is not sound."""
    table = tomllib.loads(text)
    found: dict[str, list[LegalLimit]] = {row["code"]: [] for row in table["place"]}
    for row in table["limit"]:
        try:
            found[row["place"]].append(_read_limit(row))
        except (KeyError, TypeError, ValueError) as fault:
            raise CareTableError(f"Limit '{row.get('substance', '?')}': {fault}") from fault
    read = {row["code"]: _read_place(row, tuple(found[row["code"]])) for row in table["place"]}
    return read | {OTHER: PlaceLimits(OTHER, "somewhere else", "", None, table["ask"], ())}


def _read_limit(row: Mapping[str, Any]) -> LegalLimit:
    texts = {key: str(row[key]) for key in ("entry", "substance", "unit", "who", "counted", "warning")}
    if not float(row["figure"]) > 0:
        raise CareTableError("needs a figure above 0.")
    return LegalLimit(**texts, figure=float(row["figure"]), source=_sources(row))


def _read_place(row: Mapping[str, Any], limits: tuple[LegalLimit, ...]) -> PlaceLimits:
    if not row.get("as_of") or not row.get("note"):
        raise CareTableError(f"Place '{row['code']}' needs the day of its figures and a note.")
    _sources(row)
    return PlaceLimits(row["code"], row["name"], row["act"], date.fromisoformat(row["as_of"]), row["note"], limits)


def _sources(row: Mapping[str, Any]) -> str:
    source = str(row.get("source", ""))
    return "; ".join(read_sources({"sources": source.split("; ") if source else ()}))
