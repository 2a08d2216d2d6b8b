"""A print measured with an instrument: a CGATS.17 or CSV table of XYZ or Lab, D50 or D65, as a measured card."""

import csv
import math
import re
from dataclasses import dataclass

import numpy as np

from calibration.cards.cgats import CgatsTable, is_cgats, parse_cgats
from calibration.cards.measured_card import CardFileError, MeasuredCard, card_file_error, table_spread
from calibration.cards.printed_layout import Sheet, printed_layout
from calibration.colourspaces import CIE_EPSILON, CIE_KAPPA, WHITE_D65_XYZ, xyz_to_lab
from calibration.photo import FloatArray
from calibration.profiles import adaptation_matrix

# Tristimulus values of D50 for the 2 degree observer as instruments take them (ASTM E308). [from memory]
WHITE_D50_XYZ: FloatArray = np.array([0.96422, 1.0, 0.82521])
WHITES = {"d50": WHITE_D50_XYZ, "d65": WHITE_D65_XYZ}
# Position on the print, ink not yet dry, and the instrument: one standard deviation in Lab. [our assumption]
INSTRUMENT_LAB_SD = 0.5
MOST_ROWS = 500
_LAB, _XYZ = ("LAB_L", "LAB_A", "LAB_B"), ("XYZ_X", "XYZ_Y", "XYZ_Z")
_CSV_FORMS = {
    (kind, white): tuple(f"{letter}_{white}" for letter in letters)
    for kind, letters in (("lab", ("lab_l", "lab_a", "lab_b")), ("xyz", ("x", "y", "z")))
    for white in WHITES
}


@dataclass(frozen=True, eq=False)
class _Rows:
    """Values by patch name or number, what they are ("lab" or "xyz"), and their white."""

    values: dict[str, FloatArray]
    kind: str
    white: str


def card_from_table(text: str, sheet: Sheet, day: str, printer: str) -> MeasuredCard:
    """The measured card that a table of an instrument describes.

    Patches go by their names, or by their numbers from 1 in the layout's order. XYZ run to 100 for perfect white.

    Raises
    ------
    CardFileError : The table is faulty, names no white, or lacks patches.
    """
    cgats = is_cgats(text)
    rows = _from_cgats(parse_cgats(text)) if cgats else _from_csv(text)
    lab_d65 = to_lab_d65(_in_order(rows.values), rows.kind, rows.white)
    outside = np.flatnonzero((lab_d65[:, 0] < -1) | (lab_d65[:, 0] > 110) | (np.abs(lab_d65[:, 1:]).max(axis=1) > 130))
    if len(outside):
        name = printed_layout().patch_names[outside[0]]
        raise card_file_error(f"Patch {name} comes out as L* {lab_d65[outside[0], 0]:.0f}, which no print is.",
                              "Check that XYZ run to 100, and that the columns are what their names say.")  # fmt: skip
    lab_sd, shared = table_spread(INSTRUMENT_LAB_SD)
    return MeasuredCard(sheet, lab_d65, lab_sd, shared, day, printer, "cgats" if cgats else "csv")


def to_lab_d65(values: FloatArray, kind: str, white: str) -> FloatArray:
    """CIELAB D65 of Lab, or of XYZ up to 100, under D50 or D65 (Bradford). shape (n, 3)."""
    xyz = values / 100 if kind == "xyz" else _lab_to_xyz(values, WHITES[white])
    if white == "d50":
        xyz = xyz @ adaptation_matrix(WHITE_D50_XYZ, WHITE_D65_XYZ).T
    lab: FloatArray = xyz_to_lab(xyz)
    return lab


def _lab_to_xyz(lab: FloatArray, white_xyz: FloatArray) -> FloatArray:
    """CIE XYZ of CIELAB under any white. Source: CIE 15:2018, 8.2.1."""
    middle = (lab[:, 0] + 16) / 116
    curve = np.stack([middle + lab[:, 1] / 500, middle, middle - lab[:, 2] / 200], axis=-1)
    cube = curve**3
    xyz: FloatArray = np.where(cube > CIE_EPSILON, cube, (116 * curve - 16) / CIE_KAPPA) * white_xyz
    return xyz


def _from_cgats(table: CgatsTable) -> _Rows:
    label = next((name for name in ("SAMPLE_NAME", "SAMPLE_ID") if name in table.fields), None)
    if label is None:
        raise card_file_error("The table has no SAMPLE_NAME and no SAMPLE_ID.", "Name each patch in one of them.")
    kind, columns = next(
        ((kind, columns) for kind, columns in (("lab", _LAB), ("xyz", _XYZ)) if set(columns) <= set(table.fields)),
        ("", ()),
    )
    if not kind:
        raise card_file_error("The table holds neither LAB_L, LAB_A, LAB_B nor XYZ_X, XYZ_Y, XYZ_Z.",
                              "Export one of them.")  # fmt: skip
    places = [table.fields.index(name) for name in columns]
    at = table.fields.index(label)
    rows = [(row[at], [row[place] for place in places]) for row in table.sets]
    return _Rows(_values(rows), kind, _white_of(table))


def _white_of(table: CgatsTable) -> str:
    """The illuminant that the keywords name; a table for the 10 degree observer is refused."""
    said = " ".join(f"{name} {value}" for name, value in table.keywords if name in _CONDITIONS)
    if re.search(r"(?<!\d)10\s*(°|deg)", said, re.IGNORECASE):
        raise card_file_error("The table is for the 10 degree observer.", "Export it for the 2 degree observer.")
    named = {white.lower() for white in re.findall(r"\b(D\d\d)\b", said)}
    if len(named) == 1 and named <= set(WHITES):
        return str(named.pop())
    raise card_file_error(
        "The table does not say that it stands under D50 or D65, or names more than one.",
        'Add one line, such as: WEIGHTING_FUNCTION "ILLUMINANT, D50".',
    )


_CONDITIONS = ("WEIGHTING_FUNCTION", "MEASUREMENT_SOURCE", "ILLUMINATION_NAME", "OBSERVER", "ILLUMINANT")


def _from_csv(text: str) -> _Rows:
    lines = [line for line in text.lstrip("\ufeff").splitlines() if line.strip() and not line.startswith("#")]
    reader = csv.DictReader(lines[: MOST_ROWS + 2])
    try:
        rows, heads = list(reader), set(reader.fieldnames or ())
    except csv.Error as problem:
        raise card_file_error(f"The table is not CSV ({problem}).", "Save it as CSV with commas.") from problem
    forms = [(form, columns) for form, columns in _CSV_FORMS.items() if set(columns) <= heads]
    if "patch" not in heads or len(forms) != 1:
        raise card_file_error(
            "The table needs a column patch and one set of colours, with its white in the name.",
            "Write patch,lab_l_d50,lab_a_d50,lab_b_d50 or patch,x_d50,y_d50,z_d50 (or d65).",
        )
    (kind, white), columns = forms[0]
    return _Rows(_values([(row["patch"] or "", [row[name] or "" for name in columns]) for row in rows]), kind, white)


def _values(rows: list[tuple[str, list[str]]]) -> dict[str, FloatArray]:
    values: dict[str, FloatArray] = {}
    for name, texts in rows:
        name = name.strip()
        if name in values:
            raise card_file_error(f"Patch {name} stands in the table twice.", "Keep one row for each patch.")
        values[name] = np.array([_number(name, text) for text in texts])
    return values


def _number(name: str, text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise card_file_error(f"Patch {name}: {text!r} is no number.", "Write numbers with a point, such as 51.25.")
    return value


def _in_order(values: dict[str, FloatArray]) -> FloatArray:
    """Values in the layout's order, by names or by numbers from 1. shape (patches, 3)."""
    names = printed_layout().patch_names
    numbers = [str(number) for number in range(1, len(names) + 1)]
    for keys in (names, numbers):
        if set(keys) <= set(values):
            return np.array([values[key] for key in keys])
    missing = [name for name in names if name not in values]
    raise _missing(missing, len(names))


def _missing(names: list[str], count: int) -> CardFileError:
    shown = ", ".join(names[:5]) + (" ..." if len(names) > 5 else "")
    return card_file_error(f"The table lacks {len(names)} of the {count} patches: {shown}.",
                           "Measure every patch; name them, or number them from 1, row by row.")  # fmt: skip
