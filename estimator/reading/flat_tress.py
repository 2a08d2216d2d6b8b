"""From the light of a photo's zones to the colour of a flat tress of each, with its covariance.

For each zone every colour that hair can have is weighed by how well it explains the light seen; what all zones of the
photo share (the lamp's place, the correction's own error) is found from all of them together. A swatch of known colour
takes part as a zone with one possible colour, and so ties the shared part down.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.photo import FloatArray
from estimator.reading.evidence import Evidence
from estimator.reading.hair_colours import HairColours, single_colour
from estimator.reading.hair_space import lab_by_hair_u, lab_of_hair_u
from estimator.reading.light_model import LightModel
from estimator.reading.mixture import mixture_in_lab
from estimator.reading.zone_light import DARKEST, ZoneLight
from estimator.zones.outline import StrandPattern, Zone

# Gauss-Hermite points along the shared shift's three axes, the widest first. Against ten times as many they move the
# readings of the renders by 0.04 ΔE2000 on average.
SHIFT_POINTS = (7, 5, 3)
HOPELESS = 14.0  # a colour a million times less likely than the best moves no digit
# Variance of a statistic of light times the pixels that it rests on: a bright quarter of a small zone is a few strands.
# Chosen among 0, 2, 4 and 8 by scenes left out: with 0 thin zones were too sure of themselves, 8 gained nothing more.
FEATURE_VARIANCE_PX = 4.0
PATTERNS_IF_NOT_STATED = (StrandPattern.STRAIGHT, StrandPattern.WAVY, StrandPattern.COILY)


@dataclass(frozen=True, eq=False)
class SeenZone:
    """One zone as the model sees it.

    surroundings : What is known of the light at the zone against that at the card: on a board the logarithm of their
        ratio, shape (1,); on a head see head_light, shape (2,). None where nothing shows it.
    """

    zone: Zone
    light: ZoneLight
    surroundings: FloatArray | None


@dataclass(frozen=True, eq=False)
class TressColour:
    """Colour of a flat tress: median and covariance about it in CIELAB D65. shapes (3,) and (3, 3).

    evidence : What the photo says of the zone, for reading it together with other photos.
    """

    lab_d65: FloatArray
    covariance: FloatArray
    evidence: Evidence


@dataclass(frozen=True, eq=False)
class _Shifts:
    """Where the shift that all zones of a photo share may lie. points : shape (points, 3). log_weight : (points,)."""

    covariance: FloatArray
    points: FloatArray
    log_weight: FloatArray


@dataclass(frozen=True, eq=False)
class _Weighed:
    """How well each kernel explains one zone, at each point of the shared shift.

    log_fit : shape (points, kernels).
    middle, misfit, gain, within : The kernel's colour once the light is seen is middle + gain @ (misfit - shift), with
        the covariance `within`.
    """

    log_fit: FloatArray
    middle: FloatArray
    misfit: FloatArray
    gain: FloatArray
    within: FloatArray


def tress_colours(
    seen: tuple[SeenZone, ...], model: LightModel, colours: HairColours, photo_covariance: FloatArray
) -> tuple[TressColour, ...]:
    """The flat-tress colour of every zone of one photo, in the order given.

    photo_covariance : Of the shift shared by all zones of the photo, in hair_u. shape (3, 3).
    """
    photo = _shifts(photo_covariance)
    weighed = [_weigh(one, model, colours, photo) for one in seen]
    evidence = [_log_sum(one.log_fit) for one in weighed]
    total = photo.log_weight + sum(evidence)
    total -= total.max()
    found = []
    for one, fit, mine in zip(seen, weighed, evidence, strict=True):
        lab, covariance = _colour(fit, total - mine, photo.points)
        found.append(TressColour(lab, covariance, _evidence(one, model, colours, total - mine, photo.points)))
    return tuple(found)


def _shifts(covariance: FloatArray) -> _Shifts:
    """Points of the shared shift and the logarithm of their weights."""
    values, vectors = np.linalg.eigh(covariance)
    axes = (vectors * np.sqrt(np.maximum(values, 0.0))).T[::-1]
    nodes = [np.polynomial.hermite_e.hermegauss(count) for count in SHIFT_POINTS]
    grid = np.stack(np.meshgrid(*(node[0] for node in nodes), indexing="ij"), axis=-1).reshape(-1, 3)
    weights = np.stack(np.meshgrid(*(node[1] for node in nodes), indexing="ij"), axis=-1).reshape(-1, 3)
    return _Shifts(covariance, grid @ axes, np.log(weights).sum(axis=1))


def _weigh(one: SeenZone, model: LightModel, colours: HairColours, photo: _Shifts) -> _Weighed:
    if one.zone.known_lab_d65 is not None:
        colours = single_colour(np.array(one.zone.known_lab_d65))
    patterns = _patterns(one.zone)
    seen, scatter = _seen(one, model), _scatter(one, model)
    misfit = np.concatenate([seen - model.expected(colours.middle, pattern) for pattern in patterns])
    slope = np.concatenate([model.slope(colours.middle, pattern) for pattern in patterns])
    variance = np.tile(colours.sd**2, (len(patterns), 1))
    log_weight = np.tile(colours.log_weight, len(patterns))
    spread_slope = slope * variance[:, None, :]
    in_photo = spread_slope @ slope.transpose(0, 2, 1) + scatter
    kept = _worth_weighing(misfit, in_photo, log_weight, photo.covariance)
    misfit, in_photo, spread_slope = misfit[kept], in_photo[kept], spread_slope[kept]
    precision: FloatArray = np.linalg.inv(in_photo).astype(np.float64)
    gain = spread_slope.transpose(0, 2, 1) @ precision
    within = np.eye(3) * variance[kept][:, None, :] - gain @ spread_slope
    prior = log_weight[kept] - 0.5 * np.linalg.slogdet(in_photo)[1]
    log_fit = _log_fit(misfit, precision, photo.points) + prior
    return _Weighed(log_fit, colours.middle[kept % len(colours.middle)], misfit, gain, within)


def _patterns(zone: Zone) -> tuple[StrandPattern, ...]:
    return (zone.strand_pattern,) if zone.strand_pattern else PATTERNS_IF_NOT_STATED


def _worth_weighing(
    misfit: FloatArray, in_photo: FloatArray, log_weight: FloatArray, photo_covariance: FloatArray
) -> NDArray[np.intp]:
    """Kernels that explain the light within e^-HOPELESS of the best, whatever the photo's shift."""
    whole = in_photo.copy()
    whole[:, :3, :3] += photo_covariance
    squared = ((misfit[:, None, :] @ np.linalg.inv(whole))[:, 0] * misfit).sum(axis=1)
    log_fit = log_weight - 0.5 * (squared + np.linalg.slogdet(whole)[1])
    return np.flatnonzero(log_fit > log_fit.max() - HOPELESS)


def _log_fit(misfit: FloatArray, precision: FloatArray, shifts: FloatArray) -> FloatArray:
    """Log likelihood of each kernel at each shift, without its constant. shape (points, kernels)."""
    pulled = (precision @ misfit[..., None])[..., 0]
    own = (pulled * misfit).sum(axis=1)
    squared = _squares(shifts) @ precision[:, :3, :3].reshape(-1, 9).T
    fit: FloatArray = shifts @ pulled[:, :3].T - 0.5 * (squared + own)
    return fit


def _seen(one: SeenZone, model: LightModel) -> FloatArray:
    """What is seen, less what is known of the light at the zone. shape (seen,)."""
    known = model.surroundings_middle if one.surroundings is None else one.surroundings
    seen: FloatArray = model.seen(one.light) - known @ model.surroundings
    return seen


def _scatter(one: SeenZone, model: LightModel) -> FloatArray:
    """Scatter of one zone: the model's, its own blocks', and that of light that can't be seen. shape (seen, seen)."""
    scatter = model.zone_covariance.copy()
    if one.surroundings is None:
        scatter += model.surroundings.T @ model.surroundings_covariance @ model.surroundings
    scatter[:3, :3] += one.light.mean_covariance
    own = len(scatter) - 3
    scatter[3:, 3:] += np.eye(own) * FEATURE_VARIANCE_PX / max(one.light.pixels, 1)
    return scatter


def _log_sum(log_fit: FloatArray) -> FloatArray:
    """Logarithm of the sum over kernels, at each shift. shape (points,)."""
    top = log_fit.max(axis=1)
    total: FloatArray = top + np.log(np.exp(log_fit - top[:, None]).sum(axis=1))
    return total


def _colour(one: _Weighed, log_point: FloatArray, shifts: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Median and covariance of the mixture that is left once the light is seen."""
    joint = one.log_fit + log_point[:, None]
    joint = np.exp(joint - joint.max())
    joint /= joint.sum()
    share = joint.sum(axis=0)
    kept = share > 1e-6
    share, joint = share[kept], joint[:, kept]
    shift = (joint.T @ shifts) / share[:, None]
    shift_covariance = (joint.T @ _squares(shifts)).reshape(-1, 3, 3) / share[:, None, None]
    shift_covariance -= shift[:, :, None] * shift[:, None, :]
    gain = one.gain[kept]
    hair_u = one.middle[kept] + (gain @ one.misfit[kept][..., None])[..., 0]
    gain = gain[:, :, :3]  # the photo's shift moves hair_u alone
    hair_u -= (gain @ shift[..., None])[..., 0]
    in_u = one.within[kept] + gain @ shift_covariance @ gain.transpose(0, 2, 1)
    slopes = lab_by_hair_u(hair_u)
    return mixture_in_lab(share / share.sum(), lab_of_hair_u(hair_u), slopes @ in_u @ slopes.transpose(0, 2, 1))


def _evidence(
    one: SeenZone, model: LightModel, colours: HairColours, log_point: FloatArray, shifts: FloatArray
) -> Evidence:
    """What the photo says of this zone, once the other zones have told of the photo's shift."""
    weight = np.exp(log_point - log_point.max())
    weight /= weight.sum()
    shift = weight @ shifts
    about = shifts - shift
    seen, scatter = _seen(one, model), _scatter(one, model)
    seen[:3] -= shift
    scatter[:3, :3] += (about * weight[:, None]).T @ about
    log_light = np.log(np.maximum(one.light.block_xyz[..., 1], DARKEST))
    return Evidence(_patterns(one.zone), seen, scatter, log_light, model, colours)


def _squares(shifts: FloatArray) -> FloatArray:
    """Products of the coordinates of each point. shape (points, 9)."""
    squares: FloatArray = (shifts[:, :, None] * shifts[:, None, :]).reshape(-1, 9)
    return squares
