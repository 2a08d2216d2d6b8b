"""Colour of a measured spectrum, whatever its bands."""

import math
from collections.abc import Sequence

import numpy as np

from calibration.colourspaces import xyz_to_lab
from estimator.errors import BadInputError
from estimator.exchange.measured import Lab
from estimator.toning.observer import weights_of

NARROWEST_NM, WIDEST_NM = 1.0, 20.0
# The observer sees next to nothing outside; inside, a missing band would be guessed. [nm]
NEEDED_FROM_NM, NEEDED_TO_NM = 400.0, 700.0
MOST_REFLECTANCE = 2.0  # beyond it the numbers are percent: brighteners stay below


def lab_of_spectrum(name: str, bands_nm: Sequence[float], reflectance: Sequence[float]) -> Lab:
    """CIELAB D65 2° of reflectance, 1 or 100 for perfect white. The light it was measured by does not matter.

    Raises
    ------
    BadInputError : Bands are uneven, too wide, do not cover 400 to 700 nm, or a value is no reflectance.
    """
    bands, values = np.asarray(bands_nm, dtype=np.float64), np.asarray(reflectance, dtype=np.float64)
    steps = np.diff(bands)
    if len(bands) < 4 or not np.allclose(steps, steps[0]) or not NARROWEST_NM <= steps[0] <= WIDEST_NM:
        raise BadInputError(f"The spectrum of {name[:60]} needs even bands, 1 to 20 nm apart. Export it so.")
    if bands[0] > NEEDED_FROM_NM or bands[-1] < NEEDED_TO_NM:
        raise BadInputError(
            f"The spectrum of {name[:60]} runs from {bands[0]:g} to {bands[-1]:g} nm; 400 to 700 nm are needed."
        )
    if len(values) != len(bands) or not np.all(np.isfinite(values)) or values.min() < -0.05:
        raise BadInputError(
            f"The spectrum of {name[:60]} does not hold one reflectance for each band. Measure it again."
        )
    lab = xyz_to_lab(values @ weights_of(bands))
    return float(lab[0]), float(lab[1]), float(lab[2])


def as_shares(spectra: Sequence[Sequence[float]]) -> list[list[float]]:
    """Reflectance as a share of perfect white: all spectra of one file are percent, or none is."""
    if any(value > MOST_REFLECTANCE for spectrum in spectra for value in spectrum if math.isfinite(value)):
        return [[value / 100 for value in spectrum] for spectrum in spectra]
    return [list(spectrum) for spectrum in spectra]
