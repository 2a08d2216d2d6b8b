"""The reading of one zone: its colour as a flat tress would read, how sure that is, and what it rests on."""

from dataclasses import dataclass

import numpy as np

from calibration.findings import CaptureVerdict, Finding
from calibration.photo import FloatArray
from estimator.reading.evidence import Evidence
from estimator.zones.outline import Setting, StrandPattern

# CIE L* of black and of the perfect white; a* and b* know no bounds.
DARKEST_LAB = np.array([0.0, -np.inf, -np.inf])
LIGHTEST_LAB = np.array([100.0, np.inf, np.inf])
NINE_IN_TEN = 1.6449  # standard deviations either side of the mean that hold 90 % of a Gaussian


@dataclass(frozen=True)
class ProfilePoint:
    """Colour at one place between root and end.

    share : 0 at the root, 1 at the end, along the zone's own axis.
    """

    share: float
    lab_d65: tuple[float, float, float]
    lightness_sd: float


@dataclass(frozen=True, eq=False)
class HairPart:
    """One of two colours in a zone.

    place : "root", "lengths", "darker strands" or "lighter strands".
    share, share_low, share_high : Of the zone's hair as the photograph shows it, with its nine-in-ten interval.
    lab_d65, covariance : As of a zone. float64, shapes (3,) and (3, 3).
    """

    place: str
    share: float
    share_low: float
    share_high: float
    lab_d65: FloatArray
    covariance: FloatArray

    @property
    def lab_sd(self) -> FloatArray:
        """Standard deviation of L*, a*, b*. shape (3,)."""
        sd: FloatArray = np.sqrt(np.diag(self.covariance))
        return sd


@dataclass(frozen=True, eq=False)
class ZoneReading:
    """What one zone (in one photograph, or in several together) reads.

    lab_d65 : CIELAB, D65, 2°, as a d:8 instrument would read on a flat tress of this hair. float64, shape (3,).
    covariance : Of `lab_d65`: card, pixels and the flat-tress model together. float64, shape (3, 3).
    shared_covariance : The part of `covariance` that another reading of the same hair in the same setting and
        pattern would share, so that it falls away in a difference. float64, shape (3, 3).
    spread_lab : Standard deviation of L*, a*, b* between blocks inside the zone: how even it is. shape (3,).
    profile : Roots to ends; empty where the zone is too small.
    pixels : Hair pixels that the reading rests on.
    verdict : Of the capture; of several photographs the mildest among those used.
    findings : What was seen about this very zone.
    basis : Three plain sentences at most: what the reading rests on, and what would make it tighter.
    parts : The two colours of a zone that holds two, the larger share first; empty for one colour. With parts `lab_d65`
        and its covariance are those of the larger one: their mean is no hair's colour.
    evidence : What each photograph says of the zone, for reading it together with others; empty for a reading that was
        kept and is no longer beside its photograph.
    """

    zone: str
    setting: Setting
    strand_pattern: StrandPattern | None
    lab_d65: FloatArray
    covariance: FloatArray
    shared_covariance: FloatArray
    spread_lab: FloatArray
    profile: tuple[ProfilePoint, ...]
    pixels: int
    verified: bool
    proposed: bool
    verdict: CaptureVerdict
    findings: tuple[Finding, ...]
    basis: tuple[str, ...]
    parts: tuple[HairPart, ...] = ()
    evidence: tuple[Evidence, ...] = ()

    def __post_init__(self) -> None:
        if not (np.all(np.isfinite(self.lab_d65)) and np.all(np.isfinite(self.covariance))):
            raise ValueError(f"The reading of zone {self.zone} is not finite.")

    @property
    def lab_sd(self) -> FloatArray:
        """Standard deviation of L*, a*, b*. shape (3,)."""
        sd: FloatArray = np.sqrt(np.diag(self.covariance))
        return sd

    @property
    def lab_low(self) -> FloatArray:
        """Lower ends of the nine-in-ten intervals of L*, a*, b*; no L* is below 0. shape (3,)."""
        low: FloatArray = np.maximum(self.lab_d65 - NINE_IN_TEN * self.lab_sd, DARKEST_LAB)
        return low

    @property
    def lab_high(self) -> FloatArray:
        """Upper ends of the nine-in-ten intervals of L*, a*, b*; no L* is above 100. shape (3,)."""
        high: FloatArray = np.minimum(self.lab_d65 + NINE_IN_TEN * self.lab_sd, LIGHTEST_LAB)
        return high
