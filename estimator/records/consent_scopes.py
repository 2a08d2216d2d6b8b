"""What a client can agree to, each use on its own, with the text that is shown where a salon has none of its own."""

import tomllib
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from pathlib import Path

_TABLE = Path(__file__).with_name("tables") / "consents.toml"


class Scope(StrEnum):
    """One use that needs its own consent."""

    RECORD = "record"
    HEALTH = "health answers"
    REMOTE = "remote consultation"
    PORTFOLIO = "portfolio"
    TEACHING = "teaching"


@dataclass(frozen=True)
class ScopeText:
    """What a use is, in a few words, and the usual text to agree to."""

    what: str
    text: str


@cache
def scope_texts() -> dict[Scope, ScopeText]:
    """The usual text of each use."""
    rows = tomllib.loads(_TABLE.read_text(encoding="utf-8"))["scope"]
    return {Scope(row["code"]): ScopeText(row["what"], row["text"]) for row in rows if row["source"]}
