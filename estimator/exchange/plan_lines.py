"""A plan from and to JSON, whole; and as rows, one a zone, for a spreadsheet."""

import json
from dataclasses import asdict, dataclass
from typing import Any

from estimator.errors import BadInputError
from estimator.exchange.flat_rows import Field, flat_csv, rows_of_flat_csv
from estimator.exchange.value_json import value_of
from estimator.toning.plan import Plan

MOST_CHARACTERS = 20_000_000
_LAB = "CIELAB D65 2 deg"


@dataclass(frozen=True)
class PlanLine:
    """What one zone gets and becomes, with the bowl that it gets it from; no bowl where it is left as it is.

    bowl_parts, bowl_shade_grams : Shade and parts, shade and grams, in the order of the plan.
    """

    zone: str
    bowl_number: int | None
    bowl_parts: tuple[tuple[str, int], ...]
    bowl_shade_grams: tuple[tuple[str, float], ...]
    bowl_developer_volume: float | None
    bowl_developer_grams: float | None
    bowl_ratio: str
    grams: float
    minutes_low: float
    minutes_high: float
    first_check_minutes: float
    check_every_minutes: float
    now_lab_d65: tuple[float, float, float]
    target_lab_d65: tuple[float, float, float]
    predicted_lab_d65: tuple[float, float, float]
    predicted_level: float
    predicted_level_low: float
    predicted_level_high: float
    expected_delta_e_2000: float
    odds_inside: float
    deposit_strength: float
    if_left_longer: str
    nearest_text: str


LAYOUT = (
    Field("zone"),
    Field("bowl_number", "whole"),
    Field("bowl_parts", "json", "shade and parts"),
    Field("bowl_shade_grams", "json", "shade and g"),
    Field("bowl_developer_volume", "number", "vol"),
    Field("bowl_developer_grams", "number", "g"),
    Field("bowl_ratio", "text", "colour:developer by weight"),
    Field("grams", "number", "g"),
    Field("minutes_low", "number", "min"),
    Field("minutes_high", "number", "min"),
    Field("first_check_minutes", "number", "min"),
    Field("check_every_minutes", "number", "min"),
    Field("now_lab_d65", "lab", _LAB),
    Field("target_lab_d65", "lab", _LAB),
    Field("predicted_lab_d65", "lab", _LAB),
    Field("predicted_level", "number", "1-10"),
    Field("predicted_level_low", "number", "1-10"),
    Field("predicted_level_high", "number", "1-10"),
    Field("expected_delta_e_2000", "number", "CIEDE2000"),
    Field("odds_inside", "number", "share 0-1"),
    Field("deposit_strength", "number", "share 0-1"),
    Field("if_left_longer"),
    Field("nearest_text"),
)


def plan_of_json(text: str) -> Plan:
    """The plan that `tressmeter plan --out` wrote, whole. Raises BadInputError, naming the field that is wrong."""
    return value_of(Plan, _document(text), "plan")


def lines_of_plan(plan: Plan) -> tuple[PlanLine, ...]:
    """One line for each zone of the plan."""
    return tuple(_line(plan, place) for place in range(len(plan.zones)))


def _line(plan: Plan, place: int) -> PlanLine:
    zone = plan.zones[place]
    bowl = plan.bowl(zone.bowl_number) if zone.bowl_number is not None else None
    now, target, predicted = (
        (float(lab[0]), float(lab[1]), float(lab[2]))
        for lab in (zone.now_lab_d65, zone.target_lab_d65, zone.predicted_lab_d65)
    )
    return PlanLine(
        zone.zone,
        zone.bowl_number,
        bowl.parts if bowl else (),
        bowl.shade_grams if bowl else (),
        bowl.developer.volume if bowl else None,
        bowl.developer_grams if bowl else None,
        bowl.ratio_text if bowl else "",
        zone.grams,
        zone.minutes_low,
        zone.minutes_high,
        zone.first_check_minutes,
        zone.check_every_minutes,
        now,
        target,
        predicted,
        zone.predicted_level.level,
        zone.predicted_level.level_low,
        zone.predicted_level.level_high,
        zone.expected_delta_e_2000,
        zone.odds_inside,
        zone.deposit_strength,
        zone.if_left_longer,
        zone.nearest_text,
    )


def plan_lines_to_csv(lines: tuple[PlanLine, ...]) -> str:
    """The lines as CSV with units in the header."""
    return flat_csv([asdict(line) for line in lines], LAYOUT)


def plan_lines_of_csv(text: str) -> tuple[PlanLine, ...]:
    """The lines that `plan_lines_to_csv` wrote. Raises BadInputError, naming row and column."""
    rows = rows_of_flat_csv(text, LAYOUT, "plan")
    return tuple(value_of(PlanLine, row, f"Row {number} of the plan") for number, row in enumerate(rows, start=2))


def plan_lines_to_json(lines: tuple[PlanLine, ...]) -> str:
    """The lines as JSON."""
    return json.dumps({"zones": [asdict(line) for line in lines]}, ensure_ascii=False, indent=1) + "\n"


def plan_lines_of_json(text: str) -> tuple[PlanLine, ...]:
    """The lines of a plan in JSON: as rows, or of a whole plan. Raises BadInputError."""
    document = _document(text)
    if isinstance(document, dict) and set(document) == {"zones"} and isinstance(document["zones"], list):
        return tuple(value_of(PlanLine, row, f"zone {n} of the plan") for n, row in enumerate(document["zones"], 1))
    return lines_of_plan(value_of(Plan, document, "plan"))


def _document(text: str) -> Any:
    if len(text) > MOST_CHARACTERS:
        raise BadInputError(f"The plan has {len(text)} characters; {MOST_CHARACTERS} are allowed.")
    try:
        return json.loads(text.removeprefix("\ufeff"))
    except (ValueError, RecursionError) as problem:
        raise BadInputError("The plan is no JSON. Write it with `tressmeter plan ... --out plan.json`.") from problem
