"""Measured spectra and published curves on one wavelength grid: what a lamp, a surface and a camera make of light."""

import csv
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

AUTHORITIES = Path(__file__).parents[1] / "authorities"
WAVELENGTHS_NM = np.arange(400.0, 701.0, 5.0)


@cache
def table(name: str) -> dict[str, FloatArray]:
    """Columns of a spectral table on the common grid, by their heading."""
    lines = [line for line in (AUTHORITIES / f"{name}.csv").read_text().splitlines() if not line.startswith("#")]
    heading, *rows = list(csv.reader(lines))
    values = np.array(rows, dtype=np.float64)
    return {
        column: np.interp(WAVELENGTHS_NM, values[:, 0], values[:, place])
        for place, column in enumerate(heading)
        if place > 0
    }


def card_reflectances() -> FloatArray:
    """Reflectance of the 24 patches in the card's order. shape (24, wavelengths)."""
    return np.array(list(table("card_reflectance").values()))


def lamp(name: str) -> FloatArray:
    """Power of a CIE illuminant. shape (wavelengths,)."""
    return table("lamps_cie")[name]


def camera_names() -> tuple[str, ...]:
    """Cameras whose sensitivities are known."""
    return tuple(dict.fromkeys(column.split(":")[0] for column in table("camera_sensitivities")))


def camera(name: str) -> FloatArray:
    """Sensitivities of a camera's red, green and blue. shape (3, wavelengths)."""
    columns = table("camera_sensitivities")
    return np.array([columns[f"{name}:{channel}"] for channel in "RGB"])


def xyz_d65(reflectances: FloatArray) -> FloatArray:
    """CIE XYZ under D65, 2 degrees, perfect white Y = 1, of surfaces. shape (n, 3)."""
    observer = np.array(list(table("cie_1931_observer").values()))
    weighted = observer * lamp("D65")
    return reflectances @ weighted.T / weighted[1].sum()
