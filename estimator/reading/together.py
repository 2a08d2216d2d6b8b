"""One zone read from several photographs together."""

from dataclasses import replace

import numpy as np

from calibration.findings import Verdict
from calibration.photo import FloatArray
from estimator.errors import BadInputError
from estimator.reading.joint import colour_together
from estimator.reading.light_model import light_models
from estimator.reading.zone_reading import ZoneReading

_MILDEST_FIRST = (Verdict.USABLE, Verdict.CARE, Verdict.RETAKE)


def combine(readings: tuple[ZoneReading, ...]) -> ZoneReading:
    """One reading of a zone from all of its photographs: weighed by what is each one's own error, the shared part kept.

    Photographs of the same hair err alike (its shape, its pattern), so a second one helps less than half as much again.
    The order of the photographs does not matter.

    Raises
    ------
    BadInputError : There is no reading, or they are of different zones or settings.
    """
    if not readings:
        raise BadInputError("There is no photo that this zone could be read from. Take one with a card.")
    first = readings[0]
    if any((reading.zone, reading.setting) != (first.zone, first.setting) for reading in readings):
        raise BadInputError("Only photos of the same zone can be read together. Give photos of one scene.")
    readings = _of_one_mind(readings)
    if len(readings) == 1:
        return readings[0]
    evidence = tuple(one for reading in readings for one in reading.evidence)
    if all(reading.evidence for reading in readings):
        joint = colour_together(evidence)
        lab, covariance = joint.lab_d65, joint.covariance
    else:
        lab, covariance = _weighed(readings)
    ranked = sorted(readings, key=_rank)
    best = ranked[0]
    same = np.sqrt(light_models()[first.setting].before_after)
    return replace(
        best,
        lab_d65=lab,
        covariance=covariance,
        shared_covariance=covariance * np.outer(same, same),
        pixels=sum(reading.pixels for reading in readings),
        verified=all(reading.verified for reading in readings),
        findings=tuple(dict.fromkeys(finding for reading in ranked for finding in reading.findings)),
        evidence=evidence,
        basis=(f"Read from {len(readings)} photos together.", *best.basis[:1]),
    )


def _of_one_mind(readings: tuple[ZoneReading, ...]) -> tuple[ZoneReading, ...]:
    """The readings that see two colours in the zone, or those that see one, whichever are more; two at a tie.

    A colour of one part and a colour of the whole are no two readings of the same thing.
    """
    two = tuple(reading for reading in readings if reading.parts)
    one = tuple(reading for reading in readings if not reading.parts)
    return two if len(two) >= len(one) else one


def _rank(reading: ZoneReading) -> tuple[int, float, tuple[float, ...]]:
    """Mildest verdict first, then the tightest reading; colour decides ties, never the order given."""
    verdict = _MILDEST_FIRST.index(reading.verdict.verdict)
    return verdict, float(np.trace(reading.covariance)), tuple(reading.lab_d65)


def _weighed(readings: tuple[ZoneReading, ...]) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance: own errors average out, the shared error stays. shapes (3,) and (3, 3)."""
    same = np.sqrt(light_models()[readings[0].setting].same_hair)
    own = np.eye(3) - np.diag(same**2)
    precisions = [np.linalg.inv(_own(reading.covariance, own)) for reading in readings]
    total = np.linalg.inv(sum(precisions[1:], precisions[0]))
    weights = [total @ precision for precision in precisions]
    lab = sum((weight @ reading.lab_d65 for weight, reading in zip(weights, readings, strict=True)), np.zeros(3))
    # The shared error of the mean: each reading's scaled by its weight, all pulling the same way.
    roots = [_root(reading.covariance) @ np.diag(same) for reading in readings]
    shared_root = sum((weight @ root for weight, root in zip(weights, roots, strict=True)), np.zeros((3, 3)))
    return lab, total + shared_root @ shared_root.T


def _own(covariance: FloatArray, own: FloatArray) -> FloatArray:
    """The part of a covariance that is one photo's own. shape (3, 3)."""
    root = _root(covariance)
    return root @ own @ root.T


def _root(covariance: FloatArray) -> FloatArray:
    values, vectors = np.linalg.eigh(covariance)
    root: FloatArray = (vectors * np.sqrt(np.maximum(values, 1e-9))) @ vectors.T
    return root
