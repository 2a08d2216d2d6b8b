"""Minutes: how long dye takes to reach a share of its full strength, when to look, how often."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.toning.grams import toning_table
from estimator.toning.plan import Porosity
from estimator.toning.uptake import DIFFUSION_RATE, Uptake


@dataclass(frozen=True)
class Timing:
    """When a zone is likely done, and when to look at it. [min] The eye decides; `minutes_high` is the outer limit."""

    minutes_low: float
    minutes_high: float
    first_check_minutes: float
    check_every_minutes: float


def strength_steps() -> tuple[float, ...]:
    """Shares of the full dye that a plan may ask for, the shortest time first. 0-1"""
    return tuple(toning_table("timing")["uptake"]["steps"])


def uptake_sd() -> float:
    """Standard deviation of the dye really taken up, as a share of what was planned."""
    return float(toning_table("timing")["uptake"]["sd_share"])


def usual_uptake(porosity: Porosity = Porosity.NORMAL) -> Uptake:
    """What is expected of hair of which nothing is known but its porosity."""
    row = _porosity_row(porosity)
    return Uptake(float(row["dye_times"]), float(row["dye_times"]) * float(row["sd_share"]))


def minutes_for(strength: float, full_minutes: float, porosity: Porosity, rate: float = DIFFUSION_RATE) -> float:
    """Minutes until this share of the full dye is in, where dye goes in as minutes to the power of `rate`. [min]"""
    return float(full_minutes * strength ** (1 / rate) * float(_porosity_row(porosity)["minutes_times"]))


def _porosity_row(porosity: Porosity) -> dict[str, Any]:
    return next(row for row in toning_table("timing")["porosity"] if row["word"] == porosity)


def haste_of(full_minutes: float, porosity: Porosity, rate: float = DIFFUSION_RATE) -> FloatArray:
    """How often the minutes of each of strength_steps() are halved below the comfortable time. shape (steps,)."""
    minutes = [minutes_for(strength, full_minutes, porosity, rate) for strength in strength_steps()]
    return np.maximum(0.0, np.log2(comfortable_minutes() / np.array(minutes)))


def strength_after(minutes: float, full_minutes: float, porosity: Porosity, rate: float = DIFFUSION_RATE) -> float:
    """Share of the full dye after so many minutes: the reverse of `minutes_for`."""
    return math.pow(minutes / minutes_for(1.0, full_minutes, porosity), rate)


def timing_of(
    strength: float, full_minutes: float, porosity: Porosity, level: float, known: Uptake | None = None
) -> Timing:
    """Minutes and checks for a zone of this level, as it is before toning.

    known : Where its sd is smaller than usual, the window of minutes is narrower by as much.
    """
    known = known or usual_uptake()
    uptake, checks = toning_table("timing")["uptake"], toning_table("timing")["checks"]
    minutes = minutes_for(strength, full_minutes, porosity, known.rate)
    doubt = min(known.sd / known.mean / uptake_sd(), 1.0)
    high = min(max(minutes * uptake["latest_share"] ** doubt, uptake["shortest_minutes"]), outer_minutes())
    low = min(max(minutes * uptake["earliest_share"] ** doubt, uptake["shortest_minutes"]), high)
    pale = level >= checks["pale_from_level"]
    soon = pale or porosity in (Porosity.HIGH, Porosity.UNEVEN)
    return Timing(
        low,
        high,
        min(checks["first_minutes_pale_or_porous"] if soon else checks["first_minutes"], low),
        checks["every_minutes_pale"] if soon else checks["every_minutes"],
    )


def comfortable_minutes() -> float:
    """The shortest time that leaves room to look and rinse. [min]"""
    return float(toning_table("timing")["uptake"]["comfortable_minutes"])


def outer_minutes() -> float:
    """The longest a toner stays on. [min]"""
    return float(toning_table("timing")["uptake"]["outer_minutes"])
