"""What outcomes teach of shades and of clients: a Gaussian belief over logarithms, from its prior and all outcomes.

The belief is always made anew from the list of outcomes. So their order does not matter, and what is taken out of the
list was never learned.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.feedback.doses import DosedZone, dosed_zone
from estimator.feedback.figures import Prior, prior
from estimator.feedback.outcome import Outcome
from estimator.toning.plan import Porosity
from estimator.toning.shades import Lab

MOST_STEPS = 30
SETTLED = 1e-6
LONGEST_STEP = 0.5  # of a logarithm
# A result so far from what was believed is told before it is learned: chi-squared of three, one in a thousand.
SURPRISE = 16.27


@dataclass(frozen=True)
class ShadeStrength:
    """Dye in a shade, against what its swatch promised."""

    name: str
    lab_d65_on_white: Lab


@dataclass(frozen=True)
class ClientUptake:
    """How much dye one client's hair takes, whatever its porosity."""

    client: str


@dataclass(frozen=True)
class ClassUptake:
    """How one client's hair of one porosity differs from what that word usually means."""

    client: str
    porosity: Porosity


@dataclass(frozen=True)
class ClientRate:
    """Power of the minutes with which dye goes into one client's hair."""

    client: str


Unknown = ShadeStrength | ClientUptake | ClassUptake | ClientRate
_PRIOR_OF = {
    ShadeStrength: "shade_strength",
    ClientUptake: "client_uptake",
    ClassUptake: "porosity_class",
    ClientRate: "rate",
}


def prior_of(unknown: Unknown) -> Prior:
    """What is believed of it before any outcome."""
    return prior(_PRIOR_OF[type(unknown)])


@dataclass(frozen=True, eq=False)
class Belief:
    """What is believed of shades and clients.

    unknowns : What outcomes have touched; of all else the prior holds.
    mean, covariance : Of them, shapes (n,) and (n, n). outcomes : How many it rests on.
    """

    unknowns: tuple[Unknown, ...]
    mean: FloatArray
    covariance: FloatArray
    outcomes: int

    def of(self, asked: tuple[Unknown, ...]) -> tuple[FloatArray, FloatArray]:
        """Mean and covariance of these, in this order; shapes (m,), (m, m)."""
        place = {unknown: row for row, unknown in enumerate(self.unknowns)}
        mean = np.array([prior_of(unknown).mean for unknown in asked])
        covariance = np.diag([prior_of(unknown).sd ** 2 for unknown in asked])
        known = [(here, place[unknown]) for here, unknown in enumerate(asked) if unknown in place]
        if known:
            here, there = (np.array(rows) for rows in zip(*known, strict=True))
            mean[here] = self.mean[there]
            covariance[np.ix_(here, here)] = self.covariance[np.ix_(there, there)]
        return mean, covariance


NOTHING_LEARNED = Belief((), np.zeros(0), np.zeros((0, 0)), 0)


def believe(outcomes: Iterable[Outcome]) -> Belief:
    """The belief after these outcomes: the likeliest point, and the curvature there."""
    zones = [dosed_zone(outcome) for outcome in outcomes]
    if not zones:
        return NOTHING_LEARNED
    unknowns = tuple(sorted({unknown for zone in zones for unknown in unknowns_of(zone)}, key=repr))
    aim = np.array([prior_of(unknown).mean for unknown in unknowns])
    weight = np.diag([prior_of(unknown).sd ** -2.0 for unknown in unknowns])
    mean = aim.copy()
    for _ in range(MOST_STEPS):
        curvature, pull = weight.copy(), weight @ (aim - mean)
        for zone in zones:
            _add_outcome(zone, unknowns, mean, curvature, pull)
        step = np.linalg.solve(curvature, pull)
        longest = np.abs(step).max()
        mean = mean + step * min(1.0, LONGEST_STEP / max(longest, 1e-12))
        if longest < SETTLED:
            break
    return Belief(unknowns, mean, np.linalg.inv(curvature), len(zones))


def unknowns_of(zone: DosedZone) -> tuple[Unknown, ...]:
    """What the doses of one zone depend on: its shades first, then the client's uptake, class and rate."""
    outcome = zone.outcome
    shades = tuple(ShadeStrength(name, lab) for name, lab in zone.names)
    porosity = Porosity(outcome.porosity)
    client = outcome.client
    return (*shades, ClientUptake(client), ClassUptake(client, porosity), ClientRate(client))


def _to_doses(zone: DosedZone) -> FloatArray:
    """How each log dose adds up from unknowns_of(zone). shape (shades, unknowns)."""
    count = len(zone.names)
    return np.hstack([np.eye(count), np.ones((count, 2)), np.full((count, 1), zone.log_time)])


def _add_outcome(
    zone: DosedZone, unknowns: tuple[Unknown, ...], mean: FloatArray, curvature: FloatArray, pull: FloatArray
) -> None:
    place = [unknowns.index(unknown) for unknown in unknowns_of(zone)]
    design = _to_doses(zone)
    log_doses = design @ mean[place]
    slope = zone.slope(log_doses) @ design
    weighted = np.linalg.solve(zone.scatter(log_doses), slope)
    curvature[np.ix_(place, place)] += slope.T @ weighted
    pull[place] += weighted.T @ (np.array(zone.outcome.after_lab_d65) - zone.result(log_doses))


@dataclass(frozen=True, eq=False)
class Foretold:
    """What a belief expects of one zone.

    lab_d65, covariance : Of the true colour after. reading_covariance : Of the reading after, about the same.
    dose, dose_log_sd : Factor on the dye that the tables expect, over the shades of the mix, and its log's sd.
    """

    lab_d65: FloatArray
    covariance: FloatArray
    reading_covariance: FloatArray
    dose: float
    dose_log_sd: float


def foretell(belief: Belief, zone: DosedZone) -> Foretold:
    """What this belief expects of a zone whose mix, minutes and reading before are known."""
    mean, covariance = belief.of(unknowns_of(zone))
    design = _to_doses(zone)
    log_doses, spread = design @ mean, design @ covariance @ design.T
    slope = zone.slope(log_doses)
    from_doses = slope @ spread @ slope.T
    share = zone.added.sum(axis=1) / zone.added.sum()
    usual = prior("rate").mean * zone.log_time
    return Foretold(
        zone.result(log_doses),
        zone.spread_of_truth(log_doses) + from_doses,
        zone.scatter(log_doses) + from_doses,
        float(np.exp(share @ log_doses - usual)),
        float(np.sqrt(share @ spread @ share + prior("application").sd ** 2)),
    )


def surprise(belief: Belief, outcome: Outcome) -> float:
    """How far an outcome lies from what is believed, as chi-squared of three; SURPRISE is one in a thousand."""
    expected = foretell(belief, dosed_zone(outcome))
    away = np.array(outcome.after_lab_d65) - expected.lab_d65
    return float(away @ np.linalg.solve(expected.reading_covariance, away))
