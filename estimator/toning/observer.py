"""From reflectance in a few bands to CIELAB D65 2°: the observer's weights for each band."""

import csv
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from calibration.colourspaces import WHITE_D65_XYZ, FloatArray, Floating, xyz_to_lab

# 20 nm carry every hair and dye spectrum smoothly; below 400 and above 720 nm the observer sees next to nothing.
BANDS_NM: FloatArray = np.arange(400.0, 721.0, 20.0)
BANDS_NM.setflags(write=False)


@cache
def band_weights() -> FloatArray:
    """CIE XYZ (white Y = 1) per unit of reflectance in each band. shape (bands, 3); each column adds up to the white.

    Reflectance between the bands is taken as cubic (as ASTM E2022 does), beyond the ends as constant.
    """
    return weights_of(BANDS_NM)


@cache
def coarse_weights() -> FloatArray:
    """The same for every second band alone, where speed counts more than 0.3 ΔE2000. shape (len(BANDS_NM[::2]), 3)."""
    return weights_of(BANDS_NM[::2])


def weights_of(bands_nm: FloatArray) -> FloatArray:
    """The same for any even bands. shape (bands, 3)."""
    rows = _observer_rows()
    per_nm = rows[:, 1:4] * rows[:, 4:5]
    weights: FloatArray = _cubic_between_bands(rows[:, 0], bands_nm).T @ per_nm
    weights *= WHITE_D65_XYZ / weights.sum(axis=0)
    weights.setflags(write=False)
    return weights


def reflectance_to_lab(reflectance: NDArray[Floating]) -> NDArray[Floating]:
    """CIELAB D65 2° of reflectance in BANDS_NM. shape (..., bands) -> (..., 3)."""
    return xyz_to_lab(reflectance @ band_weights().astype(reflectance.dtype))


def _observer_rows() -> FloatArray:
    text = files("estimator.toning").joinpath("tables/observer_d65.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    return np.array([[float(cell) for cell in row] for row in csv.reader(lines[1:])])


def _cubic_between_bands(wavelength_nm: FloatArray, bands_nm: FloatArray) -> FloatArray:
    """Lagrange weights of the four bands around each wavelength. shape (wavelengths, bands)."""
    step_nm = bands_nm[1] - bands_nm[0]
    place = (np.clip(wavelength_nm, bands_nm[0], bands_nm[-1]) - bands_nm[0]) / step_nm
    first = np.clip(np.floor(place).astype(int) - 1, 0, len(bands_nm) - 4)
    inside = place - first
    matrix = np.zeros((len(wavelength_nm), len(bands_nm)))
    for node in range(4):
        others = [other for other in range(4) if other != node]
        weight = np.prod([(inside - other) / (node - other) for other in others], axis=0)
        matrix[np.arange(len(wavelength_nm)), first + node] = weight
    return matrix
