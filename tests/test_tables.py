"""Tables of facts: every row names its source, and the source can be looked up."""

import csv
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent
PHRASES = {"common practice", "from memory", "our assumption"}
KEYS = set(re.findall(r"^\| ([a-z0-9][a-z0-9-]+) \|", (ROOT / "docs" / "sources.md").read_text("utf-8"), re.MULTILINE))
TABLES = sorted(path for part in ("calibration", "estimator") for path in (ROOT / part).rglob("tables/*.*"))
# Tables that hold no facts of the world: invented demo data says so in its name and in every row.
INVENTED = {"demo_shelf.csv"}
# One source for the whole grid, named in the first lines instead of in each row.
GRIDS = {"observer_d65.csv"}


def _sources_in(node: Any) -> list[str]:
    """Every value under a key `source` or `sources`, however deep."""
    if isinstance(node, dict):
        own = [node[key] for key in ("source", "sources") if key in node]
        flat = [entry for value in own for entry in (value if isinstance(value, list) else [value])]
        return flat + [entry for value in node.values() for entry in _sources_in(value)]
    if isinstance(node, list):
        return [entry for value in node for entry in _sources_in(value)]
    return []


def _cited(path: Path) -> list[str]:
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".toml":
        return _sources_in(tomllib.loads(text))
    rows = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    return [row["source"] for row in rows]


@pytest.mark.parametrize("path", [p for p in TABLES if p.name not in INVENTED | GRIDS], ids=lambda path: path.name)
def test_every_source_of_a_table_can_be_looked_up(path):
    cited = [key for entry in _cited(path) for key in re.split(r"\s*;\s*", entry)]
    assert cited, "no row names a source"
    unknown = {key for key in cited if key not in KEYS and not any(key.startswith(phrase) for phrase in PHRASES)}
    assert not unknown


@pytest.mark.slow
@pytest.mark.parametrize("path", [p for p in TABLES if p.name in GRIDS], ids=lambda path: path.name)
def test_a_grid_names_its_source_in_its_first_lines(path):
    head = path.read_text(encoding="utf-8").split("\n\n")[0][:800]
    assert "Source:" in head


@pytest.mark.slow
@pytest.mark.parametrize("path", [p for p in TABLES if p.name in INVENTED], ids=lambda path: path.name)
def test_invented_data_says_so_in_every_row(path):
    rows = list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))
    named = [next(iter(row.values())) for row in rows]
    assert all("demo" in name for name in named if name != "white")
