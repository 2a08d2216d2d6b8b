"""The figures of lifting, from tables in which every row names its source."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from estimator.toning.plan import StrandDiameter


@cache
def lifting_table(name: str) -> dict[str, Any]:
    """A table of lifting as TOML. ValueError where a row has no source: it does not load."""
    table = tomllib.loads(files("estimator.lifting").joinpath(f"tables/{name}.toml").read_text(encoding="utf-8"))
    refuse_unsourced(name, table)
    return table


def refuse_unsourced(name: str, table: dict[str, Any]) -> None:
    """Raise ValueError for the first row of a list of tables that names no source."""
    for key, rows in table.items():
        for row in rows if isinstance(rows, list) else ():
            if isinstance(row, dict) and not row.get("source"):
                raise ValueError(f"Table {name}, [[{key}]]: {row} has no source; a row without one does not load.")


@cache
def figure(name: str) -> float:
    """A figure of the lift model, in the unit that its row names. KeyError for a name that is none."""
    return float(_row(name)["value"])


@cache
def figure_sd(name: str) -> float:
    """Standard deviation of the logarithm of a pace."""
    return float(_row(name)["sd"])


@cache
def diameter_um(word: StrandDiameter) -> float:
    """Middle diameter of strands called fine, medium or coarse. [um]"""
    return next(float(row["um"]) for row in lifting_table("lift_model")["diameter"] if row["word"] == word)


def _row(name: str) -> dict[str, Any]:
    for row in lifting_table("lift_model")["figure"]:
        if row["name"] == name:
            return dict(row)
    raise KeyError(name)
