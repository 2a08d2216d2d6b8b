"""The figures of feedback, from tables in which every row names its source."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def feedback_table(name: str) -> dict[str, Any]:
    """A table of feedback as TOML. ValueError where a row has no source: it does not load."""
    return sourced_table(name, files("estimator.feedback").joinpath(f"tables/{name}.toml").read_text("utf-8"))


def sourced_table(name: str, text: str) -> dict[str, Any]:
    """A TOML text of lists of rows; ValueError for the first row without a source."""
    table = tomllib.loads(text)
    for key, rows in table.items():
        for row in rows:
            if not row.get("source"):
                raise ValueError(f"Table {name}, [[{key}]]: {row} has no source; a row without one does not load.")
    return table


@dataclass(frozen=True)
class Prior:
    """What is believed of one thing before any result: mean and sd of a logarithm (of the rate: of itself)."""

    mean: float
    sd: float
    source: str


@cache
def prior(name: str) -> Prior:
    """The prior of that name. KeyError for one that is none."""
    for row in feedback_table("priors")["prior"]:
        if row["name"] == name:
            return Prior(float(row.get("mean", 0.0)), float(row["sd"]), str(row["source"]))
    raise KeyError(name)
