"""From CIELAB to absorption: the spectrum that hair, or dye on white hair, most likely has.

Absorption is K/S of Kubelka and Munk, 1931: with q = (1 - R)² / 2R, reflectance R = 1 + q - sqrt(q² + 2q). It adds
over colourants. Two laws were compared, this one and exp(-sqrt(absorption)) over a surface floor of 2 %: both predict
mixes alike, but the darkest measured hair (L* 13) lies below that floor. The figures: tests/studies/mixing_laws.py.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from calibration.colourspaces import FloatArray, Floating, lab_to_xyz
from estimator.toning.observer import BANDS_NM, band_weights, reflectance_to_lab

IntArray = NDArray[np.int64]

# Melanin absorbs as a power of the wavelength: this one lies between eumelanin (-3.33) and pheomelanin (-4.75),
# Donner and Jensen 2006 (from memory); Jacques 1998 gives -3.48 for melanosomes.
MELANIN_EXPONENT = -4.0
EXPONENT_PULL = 1e-3  # weak: it only decides where the colour leaves the slope open
SOLVED = 1e-6  # last step in log absorption
MOST_STEPS = 40
LIGHTEST_XYZ_SHARE = 0.995  # of the white: K/S of a perfect white is zero, and its logarithm is not
DARKEST_LIGHTNESS = 1.0

# What dyes look like, our assumption: one to three broad bands, standard deviation 30 to 60 nm, anywhere in sight.
# Spread by an additive recurrence, not by a random generator: the same shade has the same spectrum everywhere.
LIBRARY_SHAPES = 2000
BAND_SD_NM = (30.0, 60.0)
BAND_CENTRES_NM = (390.0, 690.0)
SHARE_ONE_BAND, SHARE_TWO_BANDS = 0.6, 0.25
HEIGHTS: FloatArray = np.geomspace(0.005, 20.0, 18)  # peak K/S of one part
NEIGHBOURS, NEIGHBOURS_OF_DOUBT = 200, 3000
NEIGHBOUR_DISTANCE = 1.5  # [CIELAB units]
# CIE 1976, above its straight part, from cube roots of XYZ over the white's.
_ROOTS_TO_LAB: FloatArray = np.array([[0.0, 116, 0], [500, -500, 0], [0, 200, -200]])
NO_DYE = 0.05  # [CIELAB units] nearer to the bare hair than this is no dye at all


def reflectance_of(absorption: NDArray[Floating]) -> NDArray[Floating]:
    """Reflectance, 0-1, of an opaque layer with this K/S. Any shape. Kubelka and Munk 1931."""
    reflectance: NDArray[Floating] = 1 + absorption - np.sqrt(absorption * (absorption + 2))
    return reflectance


def absorption_of(reflectance: FloatArray) -> FloatArray:
    """K/S of an opaque layer with this reflectance, above 0 and at most 1. Any shape. Kubelka and Munk 1931."""
    ratio: FloatArray = (1 - reflectance) ** 2 / (2 * reflectance)
    return ratio


def lab_of(absorption: NDArray[Floating]) -> NDArray[Floating]:
    """CIELAB D65 2° of hair with this K/S in BANDS_NM. shape (..., bands) -> (..., 3)."""
    return reflectance_to_lab(reflectance_of(absorption))


def hair_absorption(lab_d65: FloatArray) -> FloatArray:
    """K/S of hair of these colours: of all spectra that read so, the nearest to a power of the wavelength.

    Shapes (n, 3) -> (n, bands).
    A colour that hair can't have (vivid dye) gets the nearest spectrum that was found; `lab_of` tells how near.
    """
    start = np.log(0.5) + MELANIN_EXPONENT * _log_wavelength()
    pull, aim = _hair_prior()
    lab = np.atleast_2d(np.asarray(lab_d65, dtype=np.float64))
    return np.exp(_closest_log_absorption(lab, np.tile(start, (len(lab), 1)), pull, aim, np.zeros(len(start))))


@dataclass(frozen=True, eq=False)
class DyeSpectra:
    """Dyes as they are known from their colour on white hair.

    added : K/S that one full part of each adds to white hair, never negative. shape (n, bands).
    log_covariance : Of the logarithm of `added`: spectra that read the same, and how sure the colour is.
        shape (n, bands, bands).
    """

    added: FloatArray
    log_covariance: FloatArray


def dye_absorption(lab_d65: FloatArray, bare_absorption: FloatArray) -> FloatArray:
    """K/S that a dye adds to white hair so that it reads these colours; never negative.

    Shapes (n, 3), (bands,) -> (n, bands). The mean of those dyes of a library that read nearly so, then moved, where
    their scatter lets it move, until it reads exactly so.
    """
    lab = np.atleast_2d(np.asarray(lab_d65, dtype=np.float64))
    return dye_spectra(lab, np.zeros((len(lab), 3, 3)), bare_absorption).added


def dye_spectra(lab_d65: FloatArray, lab_covariance: FloatArray, bare_absorption: FloatArray) -> DyeSpectra:
    """The dyes that read these colours on white hair, as `dye_absorption`, with all that is not known of them.

    Shapes (n, 3), (n, 3, 3), (bands,).
    """
    library, library_lab = _library_on(bare_absorption)
    bare_lab = lab_of(bare_absorption)
    added, doubt = [], []
    for lab, covariance in zip(lab_d65, lab_covariance, strict=True):
        dye, scatter = _one_dye(lab, covariance, bare_absorption, library, library_lab)
        dyes = np.linalg.norm(lab - bare_lab) > NO_DYE
        added.append(dye * dyes)
        doubt.append(_log_covariance(dye, scatter, covariance, bare_absorption) * dyes)
    return DyeSpectra(np.array(added), np.array(doubt))


def lab_slope(absorption: FloatArray) -> FloatArray:
    """What CIELAB D65 2° gains per unit of K/S in each band. shape (bands,) -> (3, bands)."""
    reflectance, slope = _reflectance_and_slope(absorption)
    roots = np.cbrt(reflectance @ band_weights())
    by_root = (band_weights() * slope[:, None]).T / (3 * roots**2)[:, None]
    gained: FloatArray = _ROOTS_TO_LAB @ (by_root / np.cbrt(band_weights().sum(axis=0))[:, None])
    return gained


def _log_covariance(dye: FloatArray, scatter: FloatArray, lab_covariance: FloatArray, bare: FloatArray) -> FloatArray:
    """Scatter of dyes like this one, narrowed to those that read so within the colour's own covariance.

    The step of Bayes' rule for a linear reading, as in Kalman 1960, in the log of K/S. `scatter` was taken over the
    colour's covariance and NEIGHBOUR_DISTANCE together: only the second is still to be taken out.
    """
    slope = lab_slope(bare + dye) * dye
    noise = lab_covariance + lab_covariance @ lab_covariance / NEIGHBOUR_DISTANCE**2 + 1e-6 * np.eye(3)
    gain = scatter @ slope.T @ np.linalg.inv(slope @ scatter @ slope.T + noise)
    left = np.eye(len(dye)) - gain @ slope
    narrowed: FloatArray = left @ scatter @ left.T + gain @ noise @ gain.T
    return narrowed


def _log_wavelength() -> FloatArray:
    return np.asarray(np.log(BANDS_NM / 550.0))


@cache
def _hair_prior() -> tuple[FloatArray, FloatArray]:
    """Quadratic form of departures from a power law in log absorption, and the point it pulls to."""
    along = _log_wavelength()
    slope = np.diff(np.eye(len(along)), axis=0) / np.diff(along)[:, None]
    bend = np.diff(slope, axis=0)
    return bend.T @ bend + EXPONENT_PULL * slope.T @ slope, MELANIN_EXPONENT * along


def _closest_log_absorption(
    lab: FloatArray, start: FloatArray, pull: FloatArray, aim: FloatArray, bare: FloatArray
) -> FloatArray:
    """Log absorption nearest to `aim`, measured by `pull`, with lab_of(bare + exp(it)) = lab.

    Newton steps with multipliers. Shapes: lab (n, 3), start (n, bands), pull (bands, bands), aim (bands,) or
    (n, bands), bare (bands,).
    """
    target = _within_reach(lab)
    log_absorption, weights, bands = start.copy(), band_weights(), len(bare)
    system = np.zeros((len(lab), bands + 3, bands + 3))
    system[:, :bands, :bands] = pull
    system[:, bands:, bands:] = -1e-10 * np.eye(3)
    for _ in range(MOST_STEPS):
        added = np.exp(log_absorption)
        reflectance, slope = _reflectance_and_slope(bare + added)
        xyz = reflectance @ weights
        # Cube roots of XYZ, not Lab: the same three facts, and nearly straight over the whole range.
        jacobian = (weights.T[None] * (slope * added)[:, None, :]) / (3 * np.cbrt(xyz) ** 2)[:, :, None]
        system[:, bands:, :bands] = jacobian
        system[:, :bands, bands:] = np.swapaxes(jacobian, 1, 2)
        right = np.concatenate([(aim - log_absorption) @ pull, target - np.cbrt(xyz)], axis=1)
        step = np.linalg.solve(system, right[:, :, None])[:, :bands, 0]
        longest = np.abs(step).max(axis=1, keepdims=True)
        log_absorption = np.clip(log_absorption + step / np.maximum(longest, 1.0), -25.0, 12.0)
        if longest.max() < SOLVED:
            break
    return log_absorption


def _within_reach(lab: FloatArray) -> FloatArray:
    """Cube roots of XYZ of these colours, held between nearly black and nearly the perfect white. shape (n, 3)."""
    inside = np.column_stack([np.maximum(lab[:, 0], DARKEST_LIGHTNESS), lab[:, 1:]])
    xyz = np.maximum(lab_to_xyz(inside), 1e-4)
    roots: FloatArray = np.cbrt(np.minimum(xyz, LIGHTEST_XYZ_SHARE * band_weights().sum(axis=0)))
    return roots


def _reflectance_and_slope(absorption: FloatArray) -> tuple[FloatArray, FloatArray]:
    root = np.sqrt(absorption * (absorption + 2))
    return 1 + absorption - root, 1 - (absorption + 1) / np.maximum(root, 1e-12)


def _one_dye(
    lab: FloatArray, covariance: FloatArray, bare: FloatArray, library: FloatArray, library_lab: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The dye, and the covariance of log K/S among those like it."""
    exactly, scatter = _dye_like(_near(lab, np.zeros((3, 3)), library_lab), lab, bare, library)
    if np.any(covariance):
        scatter = _scatter(_near(lab, covariance, library_lab), exactly, library)
    return exactly, scatter


def _near(lab: FloatArray, covariance: FloatArray, library_lab: FloatArray) -> tuple[IntArray, FloatArray]:
    """Rows of the library that may read so, and the weight of each."""
    form = np.linalg.inv(covariance + NEIGHBOUR_DISTANCE**2 * np.eye(3))
    away = library_lab - lab
    distance = np.sqrt(np.einsum("ni,ij,nj->n", away, form, away))
    count = NEIGHBOURS_OF_DOUBT if np.any(covariance) else NEIGHBOURS
    near = np.argpartition(distance, count)[:count]
    # Where the library is thin, its nearest dyes must do.
    return near, np.exp(-0.5 * (distance[near] / max(1.0, 1.2 * float(distance[near].min()))) ** 2)


def _scatter(near: tuple[IntArray, FloatArray], mean: FloatArray, library: FloatArray) -> FloatArray:
    """Covariance of the log of K/S among these dyes, about `mean`. shape (bands, bands)."""
    rows, weight = near
    away = np.log(library[rows] + 1e-3) - np.log(mean + 1e-3)
    covariance = (weight[:, None] * away).T @ away / weight.sum()
    smooth = 0.01 * np.exp(-0.5 * ((BANDS_NM[:, None] - BANDS_NM) / 60.0) ** 2)
    scatter: FloatArray = covariance + smooth + 1e-4 * np.eye(len(BANDS_NM))
    return scatter


def _dye_like(
    near: tuple[IntArray, FloatArray], lab: FloatArray, bare: FloatArray, library: FloatArray
) -> tuple[FloatArray, FloatArray]:
    rows, weight = near
    mean = weight @ library[rows] / weight.sum()
    scatter = _scatter(near, mean, library)
    aim, pull = np.asarray(np.log(mean + 1e-9)), np.asarray(np.linalg.inv(scatter), dtype=np.float64)
    exact: FloatArray = np.exp(_closest_log_absorption(lab[None], aim[None], pull, aim, bare)[0])
    # A colour that no added dye makes, such as one lighter than the bare hair: the nearest dyes' mean stands.
    missed = np.linalg.norm(lab_of(bare + exact) - lab)
    near_enough = missed <= np.linalg.norm(lab_of(bare + mean) - lab)
    return (exact if near_enough else np.asarray(mean)), scatter


def _library_on(bare_absorption: FloatArray) -> tuple[FloatArray, FloatArray]:
    library = _dye_library()
    return library, lab_of(bare_absorption + library)


@cache
def _dye_library() -> FloatArray:
    """K/S of dyes as dyes may be: band shapes times heights. shape (shapes x heights, bands), read-only."""
    place = _spread_points(LIBRARY_SHAPES, 10)
    bands = 1 + (place[:, 0] > SHARE_ONE_BAND) + (place[:, 0] > SHARE_ONE_BAND + SHARE_TWO_BANDS)
    shape = np.zeros((LIBRARY_SHAPES, len(BANDS_NM)))
    for band in range(3):
        centre, width, height = place[:, 1 + 3 * band], place[:, 2 + 3 * band], place[:, 3 + 3 * band]
        centre_nm = BAND_CENTRES_NM[0] + centre * (BAND_CENTRES_NM[1] - BAND_CENTRES_NM[0])
        sd_nm = BAND_SD_NM[0] + width * (BAND_SD_NM[1] - BAND_SD_NM[0])
        bell = np.exp(-0.5 * ((BANDS_NM - centre_nm[:, None]) / sd_nm[:, None]) ** 2)
        shape += np.where(band < bands, 0.2 + 0.8 * height, 0.0)[:, None] * bell
    shape /= shape.max(axis=1, keepdims=True)
    library = (HEIGHTS[:, None, None] * shape).reshape(-1, len(BANDS_NM))
    library.setflags(write=False)
    return library


def _spread_points(count: int, dimensions: int) -> FloatArray:
    """Points that fill the unit cube evenly: an additive recurrence on the generalised golden ratio."""
    ratio = 2.0
    for _ in range(60):
        ratio = (1 + ratio) ** (1 / (dimensions + 1))
    steps = ratio ** -np.arange(1.0, dimensions + 1)
    points: FloatArray = (0.5 + np.outer(np.arange(1, count + 1), steps)) % 1
    return points
