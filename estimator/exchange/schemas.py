"""JSON Schemas (2020-12) of what the program writes, made from the very types that write it, so that none can drift."""

import types
import typing
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from functools import cache
from typing import Any, get_args, get_origin

from sqlalchemy import JSON, Boolean, Column, Date, DateTime, Float, Integer, Table
from sqlalchemy.types import String

from calibration.findings import Severity, Verdict
from estimator.exchange.plan_lines import PlanLine
from estimator.exchange.value_json import is_array
from estimator.feedback.outcome import Outcome
from estimator.records.exporting import client_tables
from estimator.scene_rows import READING_COLUMNS
from estimator.toning.plan import Plan

DIALECT = "https://json-schema.org/draft/2020-12/schema"
Schema = dict[str, Any]
_NUMBER_TEXT = {"type": "string", "pattern": r"^(-?\d+\.\d{3})?$"}
_WORDS = {"scene", "photo", "zone", "verdict", "findings", "stage", "part", "second_part", "second_stage"}


def schemas() -> dict[str, Schema]:
    """Each schema by the name of its file."""
    makers: dict[str, Callable[[], Schema]] = {
        "reading.schema.json": _reading,
        "readings.schema.json": _reading_lines,
        "plan.schema.json": lambda: _of_type(Plan),
        "plan_rows.schema.json": lambda: _rows_of(PlanLine),
        "outcome.schema.json": _outcome,
        "client.schema.json": _client,
    }
    return {name: _headed(name, make()) for name, make in makers.items()}


_TITLES = {
    "reading.schema.json": "A reading, as `tressmeter read --json` prints it",
    "readings.schema.json": "Readings, as `tressmeter exchange readings` writes them",
    "plan.schema.json": "A plan, as `tressmeter plan --out` writes it",
    "plan_rows.schema.json": "A plan by zones, as `tressmeter exchange plan` writes it",
    "outcome.schema.json": "One line of a journal of outcomes, after its head",
    "client.schema.json": "client.json of an export: every row kept of one client, by table",
}


def _headed(name: str, schema: Schema) -> Schema:
    urn = f"urn:tressmeter:schema:{name.removesuffix('.schema.json')}:1"
    return {"$schema": DIALECT, "$id": urn, "title": _TITLES[name], **schema}


def _object(properties: Schema) -> Schema:
    """An object with just these properties, all of them."""
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _list(items: Schema, least: int | None = None, most: int | None = None) -> Schema:
    bounds = {key: value for key, value in (("minItems", least), ("maxItems", most)) if value is not None}
    return {"type": "array", "items": items, **bounds}


TEXT: Schema = {"type": "string"}
NUMBER: Schema = {"type": "number"}
THREE = _list(NUMBER, 3, 3)


# --- from dataclasses


def _of_type(kind: Any) -> Schema:
    """The schema of a dataclass; those within it stand under $defs."""
    made: dict[str, Schema] = {}
    whole = _named(kind, made)
    return {**whole, "$defs": made} if made else whole


def _named(kind: Any, made: dict[str, Schema]) -> Schema:
    hints = typing.get_type_hints(kind)
    return _object({each.name: _schema(hints[each.name], each.name, made) for each in fields(kind)})


def _schema(kind: Any, name: str, made: dict[str, Schema]) -> Schema:
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (typing.Union, types.UnionType):
        return {"anyOf": [_schema(each, name, made) for each in inner]}
    if kind is type(None):
        return {"type": "null"}
    if is_array(kind):
        return _list(THREE, 3, 3) if "covariance" in name else THREE
    if origin is tuple:
        return _tuple(inner, name, made)
    if is_dataclass(kind) and isinstance(kind, type):
        if kind.__name__ not in made:
            made[kind.__name__] = {}
            made[kind.__name__] = _named(kind, made)
        return {"$ref": f"#/$defs/{kind.__name__}"}
    if isinstance(kind, type) and issubclass(kind, Enum):
        return {"enum": [each.value for each in kind]}
    return _SCALARS[kind]


def _tuple(inner: tuple[Any, ...], name: str, made: dict[str, Schema]) -> Schema:
    if inner[-1:] == (Ellipsis,):
        return _list(_schema(inner[0], name, made))
    parts = [_schema(each, name, made) for each in inner]
    return {"type": "array", "prefixItems": parts, "items": False, "minItems": len(parts)}


_SCALARS: dict[Any, Schema] = {
    str: TEXT,
    float: NUMBER,
    int: {"type": "integer"},
    bool: {"type": "boolean"},
    date: {"type": "string", "format": "date"},
    datetime: {"type": "string", "format": "date-time"},
}


def _rows_of(kind: Any) -> Schema:
    made: dict[str, Schema] = {}
    row = _named(kind, made)
    return {**_object({"zones": _list(row)}), **({"$defs": made} if made else {})}


# --- readings, outcomes


def _reading() -> Schema:
    """Of one photograph: what `read --json` prints."""
    row = {name: TEXT if name in _WORDS else _NUMBER_TEXT for name in READING_COLUMNS}
    row["verdict"] = {"enum": [each.value for each in Verdict]}
    finding = {"code": TEXT, "severity": {"enum": [each.value for each in Severity]}, "message": TEXT, "remedy": TEXT}
    part = {"place": TEXT, "share": THREE, "lab_d65": THREE, "level": THREE, "stage": TEXT}
    return _object(
        {
            "photo": TEXT,
            "verdict": {"enum": [each.value for each in Verdict]},
            "findings": _list(_object(finding)),
            "zones": _list(_object(row)),
            "why": {"type": "object", "additionalProperties": _list(TEXT)},
            "two_colours": _list(_object({"zone": TEXT, "parts": _list(_object(part), 2, 2)})),
        }
    )


def _reading_lines() -> Schema:
    row = {name: TEXT if name in _WORDS else {"type": ["number", "null"]} for name in READING_COLUMNS}
    return _object({"zones": _list(_object(row))})


def _outcome() -> Schema:
    from pydantic import TypeAdapter

    made: Schema = TypeAdapter(Outcome).json_schema()
    made.pop("title", None)
    return made


# --- rows of the records


@cache
def _client() -> Schema:
    return _object({table.name: _list(_row(table)) for table in client_tables()})


def _row(table: Table) -> Schema:
    return _object({column.name: _column(column) for column in table.columns})


def _column(column: "Column[Any]") -> Schema:
    if isinstance(column.type, JSON):
        return {}  # whatever was kept that day: its form is that of the version that wrote it
    kinds: tuple[tuple[Any, Schema], ...] = (
        (Boolean, {"type": "boolean"}),
        (Integer, {"type": "integer"}),
        (Float, NUMBER),
        (DateTime, {"type": "string", "format": "date-time"}),
        (Date, {"type": "string", "format": "date"}),
        (String, TEXT),
    )
    kind = getattr(column.type, "impl_instance", column.type)
    found = next(dict(schema) for each, schema in kinds if isinstance(kind, each))
    return {**found, "type": [found["type"], "null"]} if column.nullable else found
