"""From the light of a photo's zones to the colour of a flat tress of each, with its covariance.

For each zone every colour that hair can have is weighed by how well it explains the light seen; what all zones of the
photo share (the lamp's place, the correction's own error) is found from all of them together. A swatch of known colour
takes part as a zone with one possible colour, and so ties the shared part down.
"""

from dataclasses import dataclass

import numpy as np

from calibration.photo import FloatArray
from estimator.reading.hair_colours import HairColours, single_colour
from estimator.reading.hair_space import lab_by_hair_u, lab_of_hair_u
from estimator.reading.light_model import LightModel
from estimator.reading.zone_light import ZoneLight
from estimator.zones.outline import StrandPattern, Zone

# Gauss-Hermite points along the shared shift's three axes, the widest first: enough to move a result by < 0.1 ΔE.
SHIFT_POINTS = (9, 5, 3)
PATTERNS_IF_NOT_STATED = (StrandPattern.STRAIGHT, StrandPattern.WAVY, StrandPattern.COILY)


@dataclass(frozen=True, eq=False)
class SeenZone:
    """One zone as the model sees it.

    surroundings : Log of the light at the zone over that at the card; None where no plain surface shows it.
    """

    zone: Zone
    light: ZoneLight
    surroundings: float | None


@dataclass(frozen=True, eq=False)
class TressColour:
    """Colour of a flat tress: mean and covariance in CIELAB D65. shapes (3,) and (3, 3)."""

    lab_d65: FloatArray
    covariance: FloatArray


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
    shifts, log_weight = _shift_points(photo_covariance)
    weighed = [_weigh(one, model, colours, shifts) for one in seen]
    evidence = [_log_sum(one.log_fit) for one in weighed]
    total = log_weight + sum(evidence)
    total -= total.max()
    return tuple(
        _colour(one, total - mine, shifts) for one, mine in zip(weighed, evidence, strict=True)
    )


def _shift_points(covariance: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Points of the shared shift, shape (points, 3), and the logarithm of their weights."""
    values, vectors = np.linalg.eigh(covariance)
    axes = (vectors * np.sqrt(np.maximum(values, 0.0))).T[::-1]
    nodes = [np.polynomial.hermite_e.hermegauss(count) for count in SHIFT_POINTS]
    grid = np.stack(np.meshgrid(*(node[0] for node in nodes), indexing="ij"), axis=-1).reshape(-1, 3)
    weights = np.stack(np.meshgrid(*(node[1] for node in nodes), indexing="ij"), axis=-1).reshape(-1, 3)
    return grid @ axes, np.log(weights).sum(axis=1)


def _weigh(one: SeenZone, model: LightModel, colours: HairColours, shifts: FloatArray) -> _Weighed:
    if one.zone.known_lab_d65 is not None:
        colours = single_colour(np.array(one.zone.known_lab_d65))
    patterns = (one.zone.strand_pattern,) if one.zone.strand_pattern else PATTERNS_IF_NOT_STATED
    expected, slope = model.expected(colours.middle), model.slope(colours.middle)
    spread = colours.sd**2
    scatter = model.zone_covariance + _surroundings_covariance(one, model)
    scatter[:3, :3] += one.light.mean_covariance
    in_photo = np.einsum("kij,kj,klj->kil", slope, spread, slope) + scatter
    precision = np.linalg.inv(in_photo)
    gain = np.einsum("kj,kij,kil->kjl", spread, slope, precision)
    within = np.einsum("ki,ij->kij", spread, np.eye(3)) - np.einsum("kij,kjl,kl->kil", gain, slope, spread)
    seen = model.seen(one.light) - (one.surroundings or 0.0) * model.surroundings
    misfits = [seen - expected - model.strand_offset[pattern] for pattern in patterns]
    prior = colours.log_weight - 0.5 * np.linalg.slogdet(in_photo)[1]
    fits = [_log_fit(misfit, precision, shifts) + prior for misfit in misfits]
    repeat = len(patterns)
    return _Weighed(
        np.concatenate(fits, axis=1),
        np.tile(colours.middle, (repeat, 1)),
        np.concatenate(misfits),
        np.tile(gain, (repeat, 1, 1)),
        np.tile(within, (repeat, 1, 1)),
    )


def _log_fit(misfit: FloatArray, precision: FloatArray, shifts: FloatArray) -> FloatArray:
    """Log likelihood of each kernel at each shift, without its constant. shape (points, kernels)."""
    pulled = np.einsum("kij,kj->ki", precision, misfit)
    own = np.einsum("ki,ki->k", pulled, misfit)
    squared = np.einsum("pi,pj->pij", shifts, shifts).reshape(-1, 9) @ precision[:, :3, :3].reshape(-1, 9).T
    fit: FloatArray = shifts @ pulled[:, :3].T - 0.5 * (squared + own)
    return fit


def _surroundings_covariance(one: SeenZone, model: LightModel) -> FloatArray:
    """What not seeing the surface adds to the scatter. shape (seen, seen)."""
    unknown_sd = model.surroundings_sd if one.surroundings is None else 0.0
    return unknown_sd**2 * np.outer(model.surroundings, model.surroundings)


def _log_sum(log_fit: FloatArray) -> FloatArray:
    """Logarithm of the sum over kernels, at each shift. shape (points,)."""
    top = log_fit.max(axis=1)
    total: FloatArray = top + np.log(np.exp(log_fit - top[:, None]).sum(axis=1))
    return total


def _colour(one: _Weighed, log_point: FloatArray, shifts: FloatArray) -> TressColour:
    """Mean and covariance of the mixture that is left once the light is seen."""
    joint = one.log_fit + log_point[:, None]
    joint = np.exp(joint - joint.max())
    joint /= joint.sum()
    share = joint.sum(axis=0)
    kept = share > 1e-6
    share, joint = share[kept], joint[:, kept]
    shift = (joint.T @ shifts) / share[:, None]
    squares = (joint.T @ np.einsum("pi,pj->pij", shifts, shifts).reshape(-1, 9)).reshape(-1, 3, 3)
    shift_covariance = squares / share[:, None, None] - np.einsum("ki,kj->kij", shift, shift)
    gain = one.gain[kept]
    hair_u = one.middle[kept] + np.einsum("kij,kj->ki", gain, one.misfit[kept])
    gain = gain[:, :, :3]  # the photo's shift moves hair_u alone
    hair_u -= np.einsum("kij,kj->ki", gain, shift)
    in_u = one.within[kept] + np.einsum("kij,kjl,kml->kim", gain, shift_covariance, gain)
    lab = lab_of_hair_u(hair_u)
    mean = share @ lab / share.sum()
    slopes = lab_by_hair_u(hair_u)
    in_lab = np.einsum("kij,kjl,kml->kim", slopes, in_u, slopes)
    between = lab - mean
    covariance = np.einsum("k,kij->ij", share, in_lab) + np.einsum("k,ki,kj->ij", share, between, between)
    return TressColour(mean, covariance / share.sum())
