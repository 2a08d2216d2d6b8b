"""A plan from tables: readings as `tressmeter read` wrote them, targets as a CSV, and a shelf."""

import json
from dataclasses import dataclass
from typing import Any

import numpy as np

from estimator import visit
from estimator.errors import BadInputError
from estimator.reading.zone_reading import NINE_IN_TEN
from estimator.scale.level import LevelScale, level_of_colour
from estimator.scale.warmth import warmth_of_colour
from estimator.toning.plan import HairFacts, PlanSettings, ZoneRequest
from estimator.toning.shades import Shelf
from estimator.toning.shelf_file import Faults, table_rows

READING_COLUMNS = ("zone", "lab_l", "lab_a", "lab_b")
TARGET_COLUMNS = ("zone",)
WISHES = ("level", "tone", "like", "no_warmer_than")
HAIR = ("length_cm", "strand_diameter", "density", "porosity")
ALL_PHOTOS = "all"  # the rows of a scene that stand for all its photographs together
LEAST_SD = 0.5  # no reading is surer than a tress laid down twice. Our assumption. [CIELAB units]


@dataclass(frozen=True)
class PlanTables:
    """The tables as text. readings : CSV, or the JSON that `tressmeter read --json` prints."""

    readings: str
    targets: str
    shelf: Shelf


def requests_from_tables(tables: PlanTables, settings: PlanSettings) -> tuple[ZoneRequest, ...]:
    """One request for each row of targets. Raises BadInputError, which names every faulty line."""
    read = colours_from_text(tables.readings, settings.scale)
    faults = Faults("The targets can't be used; please mend the file:")
    rows = table_rows(tables.targets, TARGET_COLUMNS, what="targets")
    wishes = {row["zone"]: _wish(row, line, faults) for line, row in rows}
    hair = {row["zone"]: _hair(row, line, faults) for line, row in rows}
    faults.raise_if_any()
    missing = [zone for zone in wishes if zone not in read]
    if missing:
        raise BadInputError(
            f"There is a target for {', '.join(missing)}, but no reading. The readings hold {', '.join(read)}."
        )
    targets = visit.targets_from(wishes, read, settings.scale)
    return tuple(
        ZoneRequest(
            target.zone,
            (found := read[target.zone]).lab_d65,
            found.covariance,
            found.level,
            warmth_of_colour(found.lab_d65, found.covariance),
            target,
            hair[target.zone],
        )
        for target in targets
    )


def colours_from_text(text: str, scale: LevelScale | None = None) -> dict[str, visit.ReadColour]:
    """The colour of each zone in rows of a reading, CSV or JSON. Intervals become a covariance. Raises BadInputError.

    Where the rows hold several photographs, those that stand for all together count.
    """
    rows = _json_rows(text) if text.lstrip().startswith(("{", "[")) else table_rows(text, READING_COLUMNS, "readings")
    faults = Faults("The readings can't be used; please mend the file:")
    told = [(line, row) for line, row in rows if row.get("zone") and row.get("lab_l")]
    together = [(line, row) for line, row in told if row.get("photo") == ALL_PHOTOS]
    colours: dict[str, visit.ReadColour] = {}
    for line, row in together or told:
        if row["zone"] in colours:
            faults.add(line, f"the zone {row['zone']!r} stands there twice. Keep the rows of one scene.")
        elif (colour := _colour(row, line, faults, scale)) is not None:
            colours[row["zone"]] = colour
    faults.raise_if_any()
    if not colours:
        raise BadInputError("The readings hold no zone with a colour. Make them with `tressmeter read --out`.")
    return colours


def _json_rows(text: str) -> list[tuple[int, dict[str, str]]]:
    try:
        document: Any = json.loads(text)
    except (ValueError, RecursionError) as problem:
        raise BadInputError("The readings are neither CSV nor JSON. Make them with `tressmeter read`.") from problem
    zones = document.get("zones") if isinstance(document, dict) else document
    if not isinstance(zones, list) or not all(isinstance(row, dict) for row in zones):
        raise BadInputError("The readings hold no list of zones. Make them with `tressmeter read --json`.")
    return [(line, {str(key): str(value) for key, value in row.items()}) for line, row in enumerate(zones, start=1)]


def _colour(row: dict[str, str], line: int, faults: Faults, scale: LevelScale | None) -> visit.ReadColour | None:
    try:
        lab = np.array([float(row[f"lab_{axis}"]) for axis in "lab"])
        ends = np.array([[float(row.get(f"lab_{axis}_{end}") or lab[place]) for end in ("low", "high")]
                         for place, axis in enumerate("lab")])  # fmt: skip
    except (KeyError, ValueError):
        faults.add(line, f"the colour of {row['zone']} is no three numbers.")
        return None
    if not (np.all(np.isfinite(lab)) and np.all(np.isfinite(ends)) and 0 <= lab[0] <= 100):
        faults.add(line, f"the colour of {row['zone']} is out of range.")
        return None
    sd = np.maximum(np.abs(ends[:, 1] - ends[:, 0]) / (2 * NINE_IN_TEN), LEAST_SD)
    covariance = np.diag(sd**2)
    return visit.ReadColour(lab, covariance, level_of_colour(lab, covariance, scale))


def _wish(row: dict[str, str], line: int, faults: Faults) -> visit.TargetWish:
    level, tone, like, limit = (row.get(column, "") for column in WISHES)
    try:
        wish = visit.TargetWish(float(level) if level else None, tone, like, None, limit)
    except ValueError:
        faults.add(line, f"level is {level!r}, a number from 1 to 10 is needed.")
        return visit.TargetWish()
    if sum([bool(level or tone), bool(like), bool(limit)]) != 1 or bool(level) != bool(tone):
        faults.add(line, "give level and tone, or like with a zone, or no_warmer_than with a tone.")
    return wish


def _hair(row: dict[str, str], line: int, faults: Faults) -> HairFacts:
    given: dict[str, Any] = {column: row[column] for column in HAIR if row.get(column)}
    try:
        if "length_cm" in given:
            given["length_cm"] = float(given["length_cm"])
        return HairFacts(**given)
    except (ValueError, BadInputError) as fault:
        faults.add(line, str(fault) if isinstance(fault, BadInputError) else "length_cm is no number.")
        return HairFacts()
