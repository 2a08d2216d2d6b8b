"""What happened, in absorption: which light the hair takes away more than it should, and the likeliest cause."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.feedback.figures import feedback_table
from estimator.reading.comparing import shared_error
from estimator.reading.zone_reading import ZoneReading
from estimator.toning.absorption import hair_absorption
from estimator.toning.mixing import Hair, hair_of
from estimator.toning.observer import BANDS_NM
from estimator.toning.timing import uptake_sd
from estimator.toning.weighing import MODEL_LAB_SD

DRAWS = 200
STEP_LAB, STEP_SHARE = 0.5, 0.02
# How far a cause reaches where it is at work, one sd: a log of the dose, or a share of the bowl's own dye.
REACH_OF_DOSE, REACH_OF_LEAN = 0.6, 0.5
REACH = np.linspace(0.05, 3.0, 40)  # in those sds


@dataclass(frozen=True)
class LightTaken:
    """How much more of one light the hair takes away than it should, as a factor, with its nine-in-ten interval."""

    name: str
    times: float
    low: float
    high: float


@dataclass(frozen=True)
class Cause:
    """One thing that may have happened. code : `as_planned`, `more_dye`, `less_dye` or `leans_...`. odds : 0-1."""

    code: str
    odds: float


def light_taken(after: ZoneReading, wanted_lab_d65: FloatArray) -> tuple[LightTaken, ...]:
    """Absorption of the result against hair of the colour that was wanted, for blue, green and red light."""
    half = np.random.default_rng(2).standard_normal((DRAWS // 2, 3))
    spread = np.linalg.cholesky(after.covariance + 1e-9 * np.eye(3))
    colours = after.lab_d65 + np.concatenate([np.zeros((1, 3)), half, -half]) @ spread.T
    found = np.log(hair_absorption(colours) @ _lights())
    wanted = np.log(hair_absorption(wanted_lab_d65) @ _lights())
    more = np.exp(found - wanted)
    low, high = np.percentile(more[1:], [5, 95], axis=0)
    names = [row["name"] for row in feedback_table("rescue")["light"]]
    return tuple(
        LightTaken(name, float(times), float(lowest), float(highest))
        for name, times, lowest, highest in zip(names, more[0], low, high, strict=True)
    )


@cache
def _lights() -> FloatArray:
    """Weights of the bands for each light. shape (bands, lights)."""
    rows = feedback_table("rescue")["light"]
    bells = np.array([np.exp(-0.5 * ((BANDS_NM - row["centre_nm"]) / row["sd_nm"]) ** 2) for row in rows])
    weights: FloatArray = (bells / bells.sum(axis=1, keepdims=True)).T
    return weights


# --- the likeliest cause ---


def causes(before: ZoneReading, after: ZoneReading, planned_dye: FloatArray) -> tuple[Cause, ...]:
    """What may have made the result what it is, the likeliest first; odds add up to 1.

    planned_dye : K/S that the plan meant to put on the hair. shape (bands,)
    Each cause has one free size, with a Gaussian prior; the odds weigh it over all sizes.
    """
    hair = _hair_around(before.lab_d65)
    evidence = {"as_planned": _likelihood(hair, before, after, planned_dye[None], np.ones(1))}
    weight = np.exp(-0.5 * REACH**2)
    for code, dyes in _ways(planned_dye).items():
        evidence[code] = _likelihood(hair, before, after, dyes, weight)
    most = max(evidence.values())
    share = {code: np.exp(value - most) for code, value in evidence.items()}
    total = sum(share.values())
    ordered = sorted(share.items(), key=lambda item: -item[1])
    return tuple(Cause(code, float(value / total)) for code, value in ordered)


def _ways(planned_dye: FloatArray) -> dict[str, FloatArray]:
    """Dye on the hair under each cause, for each of REACH. shapes (sizes, bands)."""
    ways = {
        "more_dye": np.exp(REACH_OF_DOSE * REACH)[:, None] * planned_dye,
        "less_dye": np.exp(-REACH_OF_DOSE * REACH)[:, None] * planned_dye,
    }
    size = max(float(planned_dye.max()), 0.02)
    for row in feedback_table("rescue")["dye"]:
        bell = np.exp(-0.5 * ((BANDS_NM - row["peak_nm"]) / row["sd_nm"]) ** 2)
        ways[f"leans_{row['leans']}"] = planned_dye + REACH_OF_LEAN * REACH[:, None] * size * bell
    return ways


def _likelihood(hair: Hair, before: ZoneReading, after: ZoneReading, dyes: FloatArray, weight: FloatArray) -> float:
    """Log of the mean likelihood of the reading after over these dyes, weighted."""
    own = Hair(hair.lab_d65[:1], hair.absorption[:1], hair.unexplained[:1])
    results = own.with_dye(dyes)
    logs = []
    for dye, result in zip(dyes, results, strict=True):
        spread = _spread(hair, own, before, after, dye)
        away = after.lab_d65 - result
        logs.append(-0.5 * away @ np.linalg.solve(spread, away) - 0.5 * np.linalg.slogdet(spread)[1])
    return float(_log_mean(np.array(logs), weight / weight.sum()))


def _spread(hair: Hair, own: Hair, before: ZoneReading, after: ZoneReading, dye: FloatArray) -> FloatArray:
    """Covariance of the reading after about the result: both readings, the usual uptake, the model. shape (3, 3)."""
    ends = hair.with_dye(dye)
    carried = (ends[1:4] - ends[4:7]).T / (2 * STEP_LAB)
    slope = np.diff(own.with_dye(np.array([1 - STEP_SHARE, 1 + STEP_SHARE])[:, None] * dye), axis=0)[0]
    slope = slope / (2 * STEP_SHARE)
    cross = carried @ shared_error(before, after)
    total = after.covariance + carried @ before.covariance @ carried.T - cross - cross.T
    total = total + np.diag(MODEL_LAB_SD**2) + uptake_sd() ** 2 * np.outer(slope, slope)
    values, vectors = np.linalg.eigh((total + total.T) / 2)
    spread: FloatArray = (vectors * np.maximum(values, 0.05)) @ vectors.T
    return spread


def _log_mean(logs: FloatArray, weight: FloatArray) -> float:
    top = logs.max()
    return float(top + np.log(weight @ np.exp(logs - top)))


def _hair_around(lab_d65: FloatArray) -> Hair:
    steps = STEP_LAB * np.concatenate([np.zeros((1, 3)), np.eye(3), -np.eye(3)])
    return hair_of(lab_d65 + steps)
