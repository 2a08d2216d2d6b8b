"""What a salon did, as tables for a spreadsheet: clients, visits, readings, mixes, outcomes; one row each."""

from collections.abc import Callable, Iterator
from typing import Any

from estimator.exchange.flat_rows import Field, flat_csv

Rows = dict[str, list[dict[str, Any]]]  # of one client, by table, as client.json holds them
_LAB = "CIELAB D65 2 deg"

CLIENTS = (Field("code"), Field("name"), Field("contact"), Field("demo", "word"), Field("folder"))
VISITS = (
    *(Field("visit"), Field("client"), Field("day"), Field("salon"), Field("care_verdict"), Field("demo", "word")),
    Field("program_version"),
)
READINGS = (
    *(Field("visit"), Field("client"), Field("day"), Field("zone"), Field("side"), Field("lab_d65", "lab", _LAB)),
    *(Field("level", "number", "1-10"), Field("level_low", "number", "1-10"), Field("level_high", "number", "1-10")),
    *(Field("stage"), Field("scale"), Field("verified", "word"), Field("verdict"), Field("pipeline_version", "whole")),
)
MIXED = (
    *(Field("visit"), Field("client"), Field("day"), Field("bowl_number", "whole"), Field("zones", "json")),
    *(Field("shade_grams", "json", "shade and g"), Field("developer_grams", "number", "g")),
    *(Field("developer_volume", "number", "vol"), Field("minutes", "number", "min"), Field("note")),
)
OUTCOMES = (*(Field("visit"), Field("client"), Field("day"), Field("zone"), Field("told")), Field("content", "json"))


class SalonTables:
    """The tables of a salon, grown client by client; kept as text, since all rows would fill the memory."""

    def __init__(self) -> None:
        self._parts = {name: [flat_csv([], layout)] for name, (layout, _) in _TABLES.items()}

    def add(self, folder: str, rows: Rows) -> None:
        """One client more. folder : Where the client's own files lie in the zip."""
        for name, (layout, of_one) in _TABLES.items():
            _head, _, body = flat_csv(list(of_one(folder, rows)), layout).partition("\n")
            self._parts[name].append(body)

    def texts(self) -> dict[str, str]:
        """Each table as CSV by the name of its file."""
        return {name: "".join(parts) for name, parts in self._parts.items()}


def _client(folder: str, rows: Rows) -> Iterator[dict[str, Any]]:
    (client,) = rows["client"]
    yield {name: client[name] for name in ("code", "name", "contact", "demo")} | {"folder": folder}


def _visits(rows: Rows) -> Iterator[dict[str, Any]]:
    code = rows["client"][0]["code"]
    for visit in rows["visit"]:
        if not visit["removed"]:
            yield visit | {"visit": visit["id"], "client": code}


def _of_visits(rows: Rows, table: str) -> Iterator[dict[str, Any]]:
    """Rows of a table with visit, client and day; none that was taken out of sight."""
    visits = {visit["visit"]: visit for visit in _visits(rows)}
    for row in rows[table]:
        visit = visits.get(row["visit_id"])
        if visit is not None and not row.get("removed", False):
            yield row | {"visit": row["visit_id"], "client": visit["client"], "day": visit["day"]}


def _readings(rows: Rows) -> Iterator[dict[str, Any]]:
    zones = {zone["id"]: zone["name"] for zone in rows["zone"]}
    for row in _of_visits(rows, "reading"):
        yield row | {"zone": zones[row["zone_id"]], "lab_d65": [row["lab_l"], row["lab_a"], row["lab_b"]]}


_TABLES: dict[str, tuple[tuple[Field, ...], Callable[[str, Rows], Iterator[dict[str, Any]]]]] = {
    "clients.csv": (CLIENTS, _client),
    "visits.csv": (VISITS, lambda _, rows: _visits(rows)),
    "readings.csv": (READINGS, lambda _, rows: _readings(rows)),
    "mixed.csv": (MIXED, lambda _, rows: _of_visits(rows, "mixed")),
    "outcomes.csv": (OUTCOMES, lambda _, rows: _of_visits(rows, "outcome")),
}
