"""What a mix of shades does to hair: absorption added, and the colour that results."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.errors import BadInputError
from estimator.toning.absorption import DyeSpectra, dye_spectra, hair_absorption, lab_of
from estimator.toning.shades import Covariance, Lab, Shelf

MOST_STRENGTH = 2.0  # twice the full time on white hair: beyond it nobody has measured anything


@dataclass(frozen=True, eq=False)
class ShelfAbsorption:
    """K/S that one full part of each shade adds, in BANDS_NM, and what is not known of it.

    added : shape (shades, bands), never negative.
    log_covariance : Of the logarithm of `added`, shape (shades, bands, bands).
    """

    names: tuple[str, ...]
    added: FloatArray
    log_covariance: FloatArray

    def of_mix(self, parts: Mapping[str, float]) -> FloatArray:
        """K/S that a mix in these parts adds at full strength. shape (bands,)."""
        rows = dict(zip(self.names, self.added, strict=True))
        total = sum(parts.values())
        mixed: FloatArray = np.sum([count / total * rows[name] for name, count in parts.items()], axis=0)
        return mixed

    def spread_of(self, name: str) -> FloatArray:
        """Covariance of the log of K/S of one shade. shape (bands, bands)."""
        spread: FloatArray = self.log_covariance[self.names.index(name)]
        return spread


def shelf_absorption(shelf: Shelf) -> ShelfAbsorption:
    """Absorption of each shade on a shelf, from what it does to the shelf's white hair."""
    colours = tuple((shade.lab_d65_on_white, shade.lab_covariance) for shade in shelf.shades)
    names = tuple(shade.name for shade in shelf.shades)
    learned = np.array([[shade.strength] for shade in shelf.shades])
    spectra = _on_white(colours, shelf.white_lab_d65)
    return ShelfAbsorption(names, learned * spectra.added, spectra.log_covariance)


@lru_cache(maxsize=32)
def _on_white(colours: tuple[tuple[Lab, Covariance], ...], white: Lab) -> DyeSpectra:
    bare = hair_absorption(np.array(white))[0]
    lab, covariance = (np.array(column) for column in zip(*colours, strict=True))
    spectra = dye_spectra(lab, covariance, bare)
    for held in (spectra.added, spectra.log_covariance):
        held.setflags(write=False)
    return spectra


@dataclass(frozen=True, eq=False)
class Hair:
    """Hair of some colours, ready to have dye added.

    lab_d65 : shape (n, 3). absorption : K/S, shape (n, bands).
    unexplained : What no hair spectrum could give of each colour, carried over to the results. shape (n, 3).
    """

    lab_d65: FloatArray
    absorption: FloatArray
    unexplained: FloatArray

    def with_dye(self, added: FloatArray) -> FloatArray:
        """CIELAB D65 2° once `added` K/S lies on it. shape broadcastable with (n, bands) -> (..., 3). Never lighter."""
        result = lab_of(self.absorption + added) + self.unexplained
        result[..., 0] = np.maximum(result[..., 0], 0.0)
        return result


def hair_of(lab_d65: FloatArray) -> Hair:
    """Hair that reads these colours. shape (n, 3) or (3,)."""
    lab = np.atleast_2d(np.asarray(lab_d65, dtype=np.float64))
    absorption = hair_absorption(lab)
    return Hair(lab, absorption, lab - lab_of(absorption))


def predict_mix(hair_lab_d65: FloatArray, shelf: Shelf, parts: Mapping[str, float], strength: float) -> FloatArray:
    """CIELAB D65 2° of hair of this colour after a mix was left on it. shape (3,).

    parts : Shade name to parts, each above 0.
    strength : Share of the full dye that is let in: 1 is the full time on white hair. [0-2]
    """
    if not parts or any(not (np.isfinite(count) and count > 0) for count in parts.values()):
        raise BadInputError("A mix needs at least one shade, and more than 0 parts of each.")
    if not 0 <= strength <= MOST_STRENGTH:
        raise BadInputError(f"A strength of {strength:g} was given; 0 to {MOST_STRENGTH:g} is allowed.")
    for name in parts:
        shelf.shade(name)  # says which shades there are
    added = strength * shelf_absorption(shelf).of_mix(parts)
    result: FloatArray = hair_of(hair_lab_d65).with_dye(added)[0]
    return result
