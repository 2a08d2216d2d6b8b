"""What stands beside every formula, and first aid. Neither depends on any verdict: no stop hides them."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from estimator.care.questions import TABLES, CareTableError, read_sources

USUAL, FIRST_AID = "usual", "first aid"


@dataclass(frozen=True)
class Caution:
    """One caution or one piece of first aid.

    source : Keys of docs/sources.md or an agreed phrase, separated by "; ".
    """

    code: str
    title: str
    text: str
    source: str


@dataclass(frozen=True)
class CautionSheet:
    """All cautions, in the order in which they are shown."""

    standing_order: str
    usual: tuple[Caution, ...]
    first_aid: tuple[Caution, ...]


def read_cautions(text: str) -> CautionSheet:
    """The cautions in a TOML text; raises CareTableError naming the first row that is not complete."""
    table = tomllib.loads(text)
    read: dict[str, list[Caution]] = {USUAL: [], FIRST_AID: []}
    for row in table["caution"]:
        try:
            read[row["kind"]].append(_read_caution(row))
        except (KeyError, ValueError) as fault:
            raise CareTableError(f"Caution '{row.get('code', '?')}': {fault}") from fault
    return CautionSheet(table["standing_order"], tuple(read[USUAL]), tuple(read[FIRST_AID]))


def _read_caution(row: Mapping[str, Any]) -> Caution:
    if not all(row[key].strip() for key in ("code", "title", "text")):
        raise CareTableError("needs a code, a title and a text.")
    return Caution(row["code"], row["title"], row["text"], "; ".join(read_sources(row)))


@cache
def _sheet() -> CautionSheet:
    return read_cautions((TABLES / "cautions.toml").read_text("utf-8"))


def usual_cautions() -> tuple[Caution, ...]:
    """What stands beside every formula: the maker first, patch test, gloves, eyes, fresh air, burning."""
    return _sheet().usual


def first_aid() -> tuple[Caution, ...]:
    """What to do when something happens, always shown whole."""
    return _sheet().first_aid


def standing_order() -> str:
    """Who stands above this program, in one sentence."""
    return _sheet().standing_order
