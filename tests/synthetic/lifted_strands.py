"""Strands lifted by what is thought to happen inside them, not by the curve that is fitted to them.

Peroxide moves into a cylinder from a bath that weakens, and is used up on the way; where it is, melanin goes, in
proportion to both. Strands scatter between a front that moves in and a reaction that waits for nothing. Nothing here
knows of an exponent. Some pigment resists.
"""

from dataclasses import dataclass

import numpy as np

from estimator.lifting.figures import diameter_um
from estimator.lifting.pigment import lightness_of, pigment_of
from estimator.lifting.strand import Strand, StrandPoint
from estimator.scale.level import lightness_of_level
from estimator.toning.peroxide import PeroxideStrength
from estimator.toning.plan import StrandDiameter

SHELLS = 12
STEP_MINUTES = 0.0125
WHOLE_MINUTES = 60
# D / r^2 for each minute of a medium strand at 20 volume, so chosen that the median strand loses melanin at the pace of
# the trade's rule; dye moves in bleached hair at 0.0022 (J. Soc. Cosmet. Chem. 44(6), p. 359), peroxide is smaller.
DIFFUSION = 0.0145
# Peroxide that the strand uses up, in units of what it would hold: the more, the sharper the front.
USED_LITTLE, USED_MUCH = 1.0, 8.0
# Melanin lost for each minute in full strength. Granules alone bleach far faster than hair: penetration sets the pace.
REACTION_SLOW, REACTION_QUICK = 0.15, 1.0
# What stays: bleached melanin is itself pale yellow (J. Cosmet. Sci. 54(4), p. 399); the shares are ours.
RESISTS = (0.01, 0.06)
BATH_HALVES_IN = 90.0  # minutes; a mix weakens over half an hour to an hour


@dataclass(frozen=True, eq=False)
class LiftedStrand:
    """A strand and its true L* at every whole minute. shape (WHOLE_MINUTES + 1,)."""

    strand: Strand
    lightness: np.ndarray
    start_level: float


def lifted_strands(count: int, seed: int) -> list[LiftedStrand]:
    """Strands of every diameter, developers of 10 to 30 volume, levels 2 to 6."""
    rng = np.random.default_rng(seed)
    words = rng.choice(list(StrandDiameter), count)
    volumes = rng.choice([10.0, 20.0, 30.0], count)
    levels = rng.uniform(2, 6, count)
    thickness = np.array([(diameter_um(word) / 70) ** 2 for word in words])
    rate = DIFFUSION / thickness * np.exp(0.4 * rng.normal(size=count))
    rate *= (volumes / 20) ** 0.8
    reaction = np.exp(rng.uniform(np.log(REACTION_SLOW), np.log(REACTION_QUICK), count))
    resists = rng.uniform(*RESISTS, count)
    used = np.exp(rng.uniform(np.log(USED_LITTLE), np.log(USED_MUCH), count))
    left = melanin_left(rate, reaction, used)
    pigment = pigment_of(np.array([lightness_of_level(level) for level in levels]))
    lightness = lightness_of(pigment[:, None] * (resists[:, None] + (1 - resists[:, None]) * left))
    eye = levels + 0.5 * rng.normal(size=count)
    return [
        LiftedStrand(Strand(word, PeroxideStrength.from_volume(volume), float(np.clip(seen, 1, 10))), curve, level)
        for word, volume, seen, curve, level in zip(words, volumes, eye, lightness, levels, strict=True)
    ]


def melanin_left(rate: np.ndarray, reaction: np.ndarray, used: np.ndarray) -> np.ndarray:
    """Share of the melanin left at every whole minute. All of shape (strands,). (strands, WHOLE_MINUTES + 1)."""
    volume = shell_volumes()
    strength = np.zeros((len(rate), SHELLS))
    melanin = np.ones((len(rate), SHELLS))
    left = [melanin @ volume]
    per_minute = round(1 / STEP_MINUTES)
    for step in range(WHOLE_MINUTES * per_minute):
        bath = 0.5 ** (step * STEP_MINUTES / BATH_HALVES_IN)
        lost = STEP_MINUTES * reaction[:, None] * strength * melanin
        moved = STEP_MINUTES * rate[:, None] * inflow(strength, bath)
        strength = np.maximum(strength + moved - used[:, None] * lost, 0)
        melanin = melanin - lost
        if (step + 1) % per_minute == 0:
            left.append(melanin @ volume)
    return np.stack(left, axis=1)


def shell_volumes() -> np.ndarray:
    """Share of the cylinder in each shell, from the middle outwards. shape (SHELLS,)."""
    edges = np.linspace(0, 1, SHELLS + 1)
    return edges[1:] ** 2 - edges[:-1] ** 2


def inflow(strength: np.ndarray, bath: float) -> np.ndarray:
    """What each shell gains for a unit of D t / r^2. strength : (strands, SHELLS)."""
    edges = np.linspace(0, 1, SHELLS + 1)
    flow = np.zeros((len(strength), SHELLS + 1))
    flow[:, 1:-1] = (strength[:, 1:] - strength[:, :-1]) * SHELLS * 2 * edges[1:-1]
    flow[:, -1] = (bath - strength[:, -1]) * SHELLS * 2 * 2
    return (flow[:, 1:] - flow[:, :-1]) / shell_volumes()


def photos_of(lifted: LiftedStrand, minutes: tuple[int, ...], rng: np.random.Generator) -> tuple[StrandPoint, ...]:
    """Photos of the strand: each scatters alone, all are off together, as readings say of themselves."""
    together = rng.normal() * 2.0
    points = []
    for minute in minutes:
        alone = rng.normal() * 1.2 + rng.normal() * 1.0  # the photo, and how the strand lay
        seen = float(np.clip(lifted.lightness[minute] + together + alone, 0, 100))
        points.append(StrandPoint(float(minute), seen, 1.2, 2.0))
    return tuple(points)
