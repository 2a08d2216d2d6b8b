"""What was learned, put to use: the shelf with its learned strengths, and the uptake that a zone brings to a plan."""

from dataclasses import replace

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.feedback.figures import prior
from estimator.feedback.learning import (
    Belief,
    ClassUptake,
    ClientRate,
    ClientUptake,
    ShadeStrength,
    Unknown,
)
from estimator.reading.zone_reading import NINE_IN_TEN
from estimator.toning.plan import Porosity
from estimator.toning.shades import Family, Shade, Shelf
from estimator.toning.timing import strength_steps
from estimator.toning.uptake import ShadeSpread, Uptake, UptakeBasis

SLOWEST_RATE, FASTEST_RATE = 0.25, 0.8  # a plan's minutes do not follow a rate beyond what diffusion could do


def learned_shelf(shelf: Shelf, belief: Belief) -> Shelf:
    """The shelf with each shade as strong as outcomes have taught; a shade whose colour changed is a new one."""
    return replace(shelf, shades=tuple(_with_strength(shade, belief) for shade in shelf.shades))


def _with_strength(shade: Shade, belief: Belief) -> Shade:
    if shade.family is Family.CLEAR:
        return shade
    mean, _ = belief.of((_strength_of(shade),))
    return replace(shade, strength=float(np.exp(mean[0])))


def _strength_of(shade: Shade) -> ShadeStrength:
    return ShadeStrength(shade.name, shade.lab_d65_on_white)


def uptake_of(belief: Belief, client: str, porosity: Porosity, shelf: Shelf, basis: UptakeBasis) -> Uptake:
    """What this belief expects of one client's hair, over the strengths that `learned_shelf` puts on the shelf.

    Its spread is that at the middle one of a plan's usual times; where the rate is not known well, other times have a
    little more.
    """
    shades = tuple(shade for shade in shelf.shades if shade.family is not Family.CLEAR)
    own = (ClientUptake(client), ClassUptake(client, porosity), ClientRate(client))
    mean, covariance = belief.of((*(_strength_of(shade) for shade in shades), *own))
    rate = float(np.clip(mean[-1], SLOWEST_RATE, FASTEST_RATE))
    design = _to_doses(len(shades), rate)
    spread = design @ covariance @ design.T + prior("application").sd ** 2
    factor = float(np.exp(mean[-3] + mean[-2]))
    return Uptake(
        factor,
        factor * float(np.sqrt(np.median(np.diag(spread)))),
        rate,
        basis,
        ShadeSpread(tuple(shade.name for shade in shades), spread),
    )


def _to_doses(shades: int, rate: float) -> FloatArray:
    steps = strength_steps()
    log_time = float(np.log(steps[len(steps) // 2]) / rate)
    return np.hstack([np.eye(shades), np.ones((shades, 2)), np.full((shades, 1), log_time)])


def interval_of(belief: Belief, unknown: Unknown) -> tuple[float, float, float]:
    """A factor and its nine-in-ten interval: middle, low, high."""
    mean, covariance = belief.of((unknown,))
    half = NINE_IN_TEN * float(np.sqrt(covariance[0, 0]))
    middle = float(mean[0])
    return float(np.exp(middle)), float(np.exp(middle - half)), float(np.exp(middle + half))
