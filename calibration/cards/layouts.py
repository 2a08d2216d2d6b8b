"""What a reference card looks like: the places of its patches, and their colours in each edition."""

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np

from calibration.colourspaces import xyz_to_lab
from calibration.photo import FloatArray

CLASSIC24 = "classic24"
CLASSIC24_ROWS, CLASSIC24_COLUMNS = 4, 6
GREY_ROW = (18, 19, 20, 21, 22, 23)  # patches 19 to 24, white to black, counted from 0

_EDITIONS = (
    ("before November 2014", "classic24_before_nov2014.csv"),
    ("from November 2014", "classic24_after_nov2014.csv"),
)


@dataclass(frozen=True, eq=False)
class Edition:
    """Colours of a card's patches, as its maker states them for one edition.

    xyz_d65 : CIE XYZ, D65 2°, white Y = 1. float64, shape (24, 3).
    lab_d65 : The same as CIELAB. float64, shape (24, 3).
    """

    name: str
    xyz_d65: FloatArray
    lab_d65: FloatArray

    def __post_init__(self) -> None:
        self.xyz_d65.setflags(write=False)
        self.lab_d65.setflags(write=False)


@cache
def classic24_editions() -> tuple[Edition, ...]:
    """The 24-patch card's editions, older first."""
    return tuple(_load_edition(name, file_name) for name, file_name in _EDITIONS)


@cache
def patch_names() -> tuple[str, ...]:
    """What the 24 patches are called, in the card's order."""
    return tuple(row["name"] for row in table_rows(_EDITIONS[0][1]))


def grid_places() -> FloatArray:
    """Centres of the patches in units of the patch pitch, patch 1 at 0, 0. x to the right, y down, shape (24, 2)."""
    rows, columns = np.mgrid[0:CLASSIC24_ROWS, 0:CLASSIC24_COLUMNS]
    return np.stack([columns.ravel(), rows.ravel()], axis=1).astype(np.float64)


def _load_edition(name: str, file_name: str) -> Edition:
    rows = table_rows(file_name)
    if [int(row["patch"]) for row in rows] != list(range(1, 25)) or not all(row["source"] for row in rows):
        raise ValueError(f"{file_name} needs patches 1 to 24 in order, each with its source.")
    xyz_d65 = np.array([[float(row[column]) for column in ("x_d65", "y_d65", "z_d65")] for row in rows])
    return Edition(name, xyz_d65, xyz_to_lab(xyz_d65))


def table_rows(file_name: str) -> list[dict[str, str]]:
    text = resources.files("calibration").joinpath("tables", file_name).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
