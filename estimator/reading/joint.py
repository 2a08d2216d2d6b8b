"""One zone read from several photographs jointly: what they share in error is counted once, and cancels in a change.

The errors of photos of the same hair under the same lamp are nearly the same error, so a second such photo adds little
to the colour itself, but the change between a photo before and one after is known far better than either colour.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.photo import FloatArray
from estimator.reading.evidence import Evidence, error_correlation
from estimator.reading.hair_space import lab_by_hair_u, lab_of_hair_u
from estimator.reading.mixture import mixture_in_lab
from estimator.zones.outline import StrandPattern

HOPELESS = 9.0  # pairs of colours less likely than the best by this much (logarithm) are left out


@dataclass(frozen=True, eq=False)
class JointColour:
    """Colour of a flat tress from several photos. lab_d65 : shape (3,). covariance : shape (3, 3)."""

    lab_d65: FloatArray
    covariance: FloatArray


@dataclass(frozen=True, eq=False)
class JointChange:
    """Change of a flat tress in CIELAB D65, after less before, with its covariance; and both colours. shapes (3,)."""

    d_lab: FloatArray
    covariance: FloatArray
    before_lab: FloatArray
    after_lab: FloatArray


@dataclass(frozen=True, eq=False)
class _Kernels:
    """Colours that may explain what was seen. misfit : (kernels, seen). slope : (kernels, seen, 3). Others (.., 3)."""

    log_weight: FloatArray
    middle: FloatArray
    variance: FloatArray
    misfit: FloatArray
    slope: FloatArray


@dataclass(frozen=True, eq=False)
class _Posterior:
    """log_share : Of each kernel. hair_u : shape (kernels, n). covariance : shape (kernels, n, n)."""

    log_share: FloatArray
    hair_u: FloatArray
    covariance: FloatArray


def colour_together(evidences: tuple[Evidence, ...]) -> JointColour:
    """Colour of one zone from all of its photos."""
    seen, scatter = _pooled((evidences,))
    parts = [_posterior(_kernels(evidences[0], pattern, seen, scatter), scatter) for pattern in evidences[0].patterns]
    found = _Posterior(*(np.concatenate([getattr(part, name) for part in parts]) for name in _FIELDS))
    share = _shares(found.log_share)
    slopes = lab_by_hair_u(found.hair_u)
    in_lab = slopes @ found.covariance @ slopes.transpose(0, 2, 1)
    return JointColour(*mixture_in_lab(share, lab_of_hair_u(found.hair_u), in_lab))


def change_together(before: tuple[Evidence, ...], after: tuple[Evidence, ...]) -> JointChange:
    """Change of one zone's colour from all photos before and all after it."""
    seen, scatter = _pooled((before, after))
    size = len(seen) // 2
    parts = []
    for pattern in before[0].patterns:
        first = _kernels(before[0], pattern, seen[:size], scatter[:size, :size])
        second = _kernels(after[0], pattern, seen[size:], scatter[size:, size:])
        parts.append(_posterior(_pairs(first, second), scatter))
    found = _Posterior(*(np.concatenate([getattr(part, name) for part in parts]) for name in _FIELDS))
    share = _shares(found.log_share)
    one, other = found.hair_u[:, :3], found.hair_u[:, 3:]
    before_lab, after_lab = lab_of_hair_u(one), lab_of_hair_u(other)
    slopes = np.concatenate([-lab_by_hair_u(one), lab_by_hair_u(other)], axis=2)
    in_lab = slopes @ found.covariance @ slopes.transpose(0, 2, 1)
    d_lab, covariance = mixture_in_lab(share, after_lab - before_lab, in_lab)
    return JointChange(d_lab, covariance, share @ before_lab, share @ after_lab)


_FIELDS = ("log_share", "hair_u", "covariance")


def _pooled(groups: tuple[tuple[Evidence, ...], ...]) -> tuple[FloatArray, FloatArray]:
    """What each group of photos shows of its hair, weighed by generalised least squares, and the covariance of it.

    The model is the same for all photos of a group, so this pooling loses nothing. shapes (groups * seen,) and
    (groups * seen, groups * seen).
    """
    photos = [evidence for group in groups for evidence in group]
    size = len(photos[0].seen)
    precision = np.linalg.inv(_scatter_of_all(photos))
    member = np.concatenate([np.full(len(group), number) for number, group in enumerate(groups)])
    design = np.kron(np.eye(len(groups))[member], np.eye(size))
    covariance: FloatArray = np.linalg.inv(design.T @ precision @ design)
    seen: FloatArray = covariance @ (design.T @ (precision @ np.concatenate([photo.seen for photo in photos])))
    return seen, covariance


def _scatter_of_all(photos: list[Evidence]) -> FloatArray:
    """Covariance of all that is seen in all photos. shape (photos * seen, photos * seen)."""
    size = len(photos[0].seen)
    roots = [_root(photo.scatter) for photo in photos]
    whole = np.zeros((size * len(photos), size * len(photos)))
    for row, one in enumerate(photos):
        whole[row * size : (row + 1) * size, row * size : (row + 1) * size] = one.scatter
        for column, other in enumerate(photos[:row]):
            cross = (roots[row] * error_correlation(one, other)) @ roots[column]
            whole[row * size : (row + 1) * size, column * size : (column + 1) * size] = cross
            whole[column * size : (column + 1) * size, row * size : (row + 1) * size] = cross.T
    # Correlations found pair by pair need not agree with one another; the nearest that do are taken.
    values, vectors = np.linalg.eigh(whole)
    nearest: FloatArray = (vectors * np.maximum(values, 1e-7)) @ vectors.T
    return nearest


def _root(covariance: FloatArray) -> FloatArray:
    """Symmetric square root of a covariance."""
    values, vectors = np.linalg.eigh(covariance)
    root: FloatArray = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    return root


def _kernels(evidence: Evidence, pattern: StrandPattern, seen: FloatArray, scatter: FloatArray) -> _Kernels:
    """The colours that explain what was seen within e^-HOPELESS of the best one."""
    model, colours = evidence.model, evidence.colours
    misfit, slope = seen - model.expected(colours.middle, pattern), model.slope(colours.middle, pattern)
    every = _Kernels(colours.log_weight, colours.middle, colours.sd**2, misfit, slope)
    log_share = _posterior(every, scatter).log_share
    return _chosen(every, np.flatnonzero(log_share > log_share.max() - HOPELESS))


def _chosen(kernels: _Kernels, chosen: NDArray[np.intp]) -> _Kernels:
    return _Kernels(
        kernels.log_weight[chosen],
        kernels.middle[chosen],
        kernels.variance[chosen],
        kernels.misfit[chosen],
        kernels.slope[chosen],
    )


def _pairs(first: _Kernels, second: _Kernels) -> _Kernels:
    """Every colour before with every colour after, as colours of six numbers."""
    one, other = (index.ravel() for index in np.indices((len(first.log_weight), len(second.log_weight))))
    a, b = _chosen(first, one), _chosen(second, other)
    size = a.slope.shape[1]
    slope = np.zeros((len(one), 2 * size, 6))
    slope[:, :size, :3], slope[:, size:, 3:] = a.slope, b.slope
    middle, variance, misfit = (
        np.concatenate([getattr(a, name), getattr(b, name)], axis=1) for name in ("middle", "variance", "misfit")
    )
    return _Kernels(a.log_weight + b.log_weight, middle, variance, misfit, slope)


def _posterior(kernels: _Kernels, scatter: FloatArray) -> _Posterior:
    """Each kernel once the light is seen."""
    spread_slope = kernels.slope * kernels.variance[:, None, :]
    whole = spread_slope @ kernels.slope.transpose(0, 2, 1) + scatter
    precision = np.linalg.inv(whole)
    gain = spread_slope.transpose(0, 2, 1) @ precision
    squared = ((kernels.misfit[:, None, :] @ precision)[:, 0] * kernels.misfit).sum(axis=1)
    log_share = kernels.log_weight - 0.5 * (squared + np.linalg.slogdet(whole)[1])
    hair_u = kernels.middle + (gain @ kernels.misfit[..., None])[..., 0]
    covariance = np.eye(kernels.variance.shape[1]) * kernels.variance[:, None, :] - gain @ spread_slope
    return _Posterior(log_share, hair_u, covariance)


def _shares(log_share: FloatArray) -> FloatArray:
    share = np.exp(log_share - log_share.max())
    total: FloatArray = share / share.sum()
    return total
