"""What changed in a zone between two photographs, with an interval narrower than those of the two readings."""

from dataclasses import dataclass

import numpy as np

from calibration.colourspaces import delta_e_2000
from calibration.photo import FloatArray
from estimator.errors import BadInputError
from estimator.reading.joint import change_together
from estimator.reading.zone_reading import NINE_IN_TEN, ZoneReading

# Our assumption, after what people see on teeth (0.8 perceptible, 1.8 acceptable, in the median): no threshold is
# published for hair. [ΔE2000]
SLIGHT_FROM, CLEAR_FROM = 2.0, 4.0


@dataclass(frozen=True, eq=False)
class ZoneDifference:
    """After less before, in CIELAB D65.

    d_lab, d_low, d_high : Change of L*, a*, b*, with its nine-in-ten interval. shape (3,).
    delta_e_2000 : CIEDE2000 between the two readings.
    words : "no change shown", or how much and in which direction.
    """

    zone: str
    d_lab: FloatArray
    covariance: FloatArray
    d_low: FloatArray
    d_high: FloatArray
    delta_e_2000: float
    words: str


def difference(before: ZoneReading, after: ZoneReading) -> ZoneDifference:
    """How `after` differs from `before`; what both readings share in error falls away.

    Raises
    ------
    BadInputError : The readings are of different zones.
    """
    if before.zone != after.zone:
        raise BadInputError(f"{before.zone} can't be compared with {after.zone}. Compare a zone with itself.")
    if before.evidence and after.evidence and _same_hair(before, after):
        joint = change_together(before.evidence, after.evidence)
        d_lab, covariance, labs = joint.d_lab, joint.covariance, (joint.before_lab, joint.after_lab)
    else:
        d_lab, labs = after.lab_d65 - before.lab_d65, (before.lab_d65, after.lab_d65)
        covariance = before.covariance + after.covariance - _shared(before, after)
    half = NINE_IN_TEN * np.sqrt(np.diag(covariance))
    delta_e = float(delta_e_2000(*labs))
    words = _words(labs, d_lab, delta_e, _sureness(d_lab, half))
    return ZoneDifference(before.zone, d_lab, covariance, d_lab - half, d_lab + half, delta_e, words)


def _sureness(d_lab: FloatArray, half: FloatArray) -> FloatArray:
    """How many times its own interval a change is; without any interval it is sure, or there is none. shape (3,)."""
    without = np.where(d_lab == 0.0, 0.0, np.copysign(np.inf, d_lab))
    return np.divide(d_lab, half, out=without, where=half > 0.0)


def _shared(before: ZoneReading, after: ZoneReading) -> FloatArray:
    """Twice the covariance between the two errors. shape (3, 3)."""
    cross = shared_error(before, after)
    shared: FloatArray = cross + cross.T
    return shared


def shared_error(before: ZoneReading, after: ZoneReading) -> FloatArray:
    """Covariance of the one error with the other: they share model and hair, each its own scale. shape (3, 3)."""
    if not _same_hair(before, after):
        return np.zeros((3, 3))
    cross: FloatArray = _root(before.shared_covariance) @ _root(after.shared_covariance).T
    return cross


def _same_hair(before: ZoneReading, after: ZoneReading) -> bool:
    """The model errs alike for both: same setting, same strand pattern."""
    return before.setting is after.setting and before.strand_pattern is after.strand_pattern


def _root(covariance: FloatArray) -> FloatArray:
    """Symmetric square root of a covariance. shape (3, 3)."""
    values, vectors = np.linalg.eigh(covariance)
    root: FloatArray = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    return root


def _words(labs: tuple[FloatArray, FloatArray], d_lab: FloatArray, delta_e: float, in_intervals: FloatArray) -> str:
    """In words: nothing that the intervals do not show."""
    if delta_e < SLIGHT_FROM or np.abs(in_intervals).max() < 1:
        return "no change shown"
    size = "slightly" if delta_e < CLEAR_FROM else "clearly"
    parts = []
    if abs(in_intervals[0]) >= 1:
        parts.append("lighter" if d_lab[0] > 0 else "darker")
    chroma_before, chroma_after = (float(np.hypot(*lab[1:])) for lab in labs)
    if np.abs(in_intervals[1:]).max() >= 1:
        parts.append(_turn(d_lab, chroma_after - chroma_before))
    return f"{size} {' and '.join(parts)}"


def _turn(d_lab: FloatArray, d_chroma: float) -> str:
    """Which way the tone went."""
    if abs(d_chroma) >= 0.5 * float(np.hypot(*d_lab[1:])):
        return "more colourful" if d_chroma > 0 else "more muted"
    return (
        ("redder" if d_lab[1] > 0 else "greener")
        if abs(d_lab[1]) > abs(d_lab[2])
        else ("yellower" if d_lab[2] > 0 else "bluer")
    )
