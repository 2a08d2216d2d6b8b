"""Predictions for a table of cases: the form that `tressmeter predict` reads and writes."""

import math

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.errors import BadInputError
from estimator.toning.absorption import dye_absorption, hair_absorption
from estimator.toning.mixing import hair_of
from estimator.toning.shelf_file import BARE_HAIR, Faults, number_or_fault, table_rows

SHELF_COLUMNS = ("shade", "lab_l", "lab_a", "lab_b")
CASE_COLUMNS = ("case", "lab_l", "lab_a", "lab_b", "strength", "parts")
COLUMNS_OUT = ("case", "lab_l", "lab_a", "lab_b")
_LAB = ("lab_l", "lab_a", "lab_b")


def predict_cases(shelf_csv: str, cases_csv: str) -> list[dict[str, str]]:
    """One row for each case, columns COLUMNS_OUT, CIELAB D65 2° to three decimals.

    shelf_csv : Columns shade, lab_l, lab_a, lab_b: what one full part does to white hair; row `white`: that hair, bare.
    cases_csv : Columns case, lab_l, lab_a, lab_b (the hair now), strength (0-2), parts such as `violet:2;blue:1`.
    Raises BadInputError, which names every faulty line of the file.
    """
    colours = _shelf_colours(shelf_csv)
    cases = table_rows(cases_csv, CASE_COLUMNS, what="cases")
    faults = Faults("The cases can't be predicted; please mend the file:")
    read = [_case(line, row, colours, faults) for line, row in cases]
    faults.raise_if_any()
    if not read:
        return []
    hair = hair_of(np.array([lab for lab, _ in read]))
    shares = np.array([share for _, share in read])
    results = hair.with_dye(shares @ _added(colours))
    return [
        dict(zip(COLUMNS_OUT, (row["case"], *(f"{value:.3f}" for value in lab)), strict=True))
        for (_, row), lab in zip(cases, results, strict=True)
    ]


def _added(colours: dict[str, FloatArray]) -> FloatArray:
    """K/S that each shade adds, in the order of `colours`; the bare hair adds nothing. shape (shades, bands)."""
    bare = hair_absorption(colours[BARE_HAIR])[0]
    return dye_absorption(np.array(list(colours.values())), bare)


def _shelf_colours(shelf_csv: str) -> dict[str, FloatArray]:
    faults = Faults("The shelf can't be used; please mend the file:")
    colours: dict[str, FloatArray] = {}
    for line, row in table_rows(shelf_csv, SHELF_COLUMNS, what="shelf"):
        lab = [number_or_fault(row, column, line, faults) for column in _LAB]
        name = row["shade"]
        if not name or name in colours:
            faults.add(line, f"the shade {name!r} stands there twice." if name else "the shade has no name.")
        elif None not in lab:
            colours[name] = np.array(lab, dtype=np.float64)
    if BARE_HAIR not in colours and not faults.sentences:
        raise BadInputError("The shelf has no row `white`: enter the colour of the bare white hair under that name.")
    faults.raise_if_any()
    return colours


def _case(
    line: int, row: dict[str, str], colours: dict[str, FloatArray], faults: Faults
) -> tuple[list[float], FloatArray]:
    """Colour of the hair, and strength times share of each shade; a faulty cell stands as 0 and is told of later."""
    lab = [number_or_fault(row, column, line, faults) or 0.0 for column in _LAB]
    strength = number_or_fault(row, "strength", line, faults) or 0.0
    if not row["case"]:
        faults.add(line, "the case has no name or number.")
    shares = np.zeros(len(colours))
    names = list(colours)
    for part in filter(None, (piece.strip() for piece in row["parts"].split(";"))):
        name, _, count = (piece.strip() for piece in part.rpartition(":"))
        if name not in colours:
            faults.add(line, f"{part!r} is not a shade of the shelf and its parts, such as violet:2.")
        elif not _counts(count):
            faults.add(line, f"{part!r}: the parts must be a number above 0.")
        else:
            shares[names.index(name)] += float(count)
    if shares.sum() == 0 and not faults.sentences:
        faults.add(line, "no parts are given; write them as violet:2;blue:1.")
    return lab, strength * shares / max(shares.sum(), 1e-12)


def _counts(text: str) -> bool:
    try:
        return math.isfinite(float(text)) and float(text) > 0
    except ValueError:
        return False
