"""Recipes weighed against every zone: how near they come, on the mean over what is not known, at the best time."""

import statistics
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from calibration.colourspaces import FloatArray
from estimator.toning.mixing import Hair, hair_of
from estimator.toning.plan import PlanSettings
from estimator.toning.recipes import (
    Directions,
    Looked,
    Progress,
    delta_e_2000_mean_and_sd,
    dilutions,
    directions,
    first_look,
)
from estimator.toning.sharing import undominated
from estimator.toning.timing import strength_steps, usual_uptake
from estimator.toning.uptake import Uptake

IntArray = NDArray[np.int64]

DRAWS_TO_WEIGH = 16
DRAWS_TO_TELL = 256
# Kept for each zone and each group of alike zones, for each thickness of bowl, and then to be shared. Against weighing
# every recipe in full (8 shades, 6 zones, random cases), one bowl is the same and two are within 0.05 ΔE2000 a zone.
KEPT_AT_FIRST_LOOK = 5
KEPT_TO_SHARE = 24
GROUP_SIZES = (1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 24)
# Shares of the full dye at which a mix is weighed; what clear and time give between them is interpolated.
SHARES: FloatArray = np.array([0.08, 0.12, 0.18, 0.26, 0.36, 0.5, 0.7, 0.85, 1.0])
LEAST_UPTAKE = 0.3
# Scatter of a predicted colour where the hair is known exactly, one standard deviation of L*, a*, b*:
# root mean squares over rendered and invented mixes, rounded up; tests/studies/mixing_laws.py.
MODEL_LAB_SD: FloatArray = np.array([0.5, 0.6, 0.7])
# What of it is left where the doubt about each shade's spectrum is carried on its own: tests/studies/mix_intervals.py.
LAW_LAB_SD: FloatArray = np.array([0.4, 0.4, 0.5])


@dataclass(frozen=True, eq=False)
class Aim:
    """One zone as the search sees it.

    target_lab_d65 : What it is to read. shared : It takes part in the sharing of bowls.
    step_price : What each of strength_steps() costs in this zone. [ΔE2000], shape (steps,)
    mix_price : What it costs to lay any mix on it, for its grams. [ΔE2000]
    uptake : How much dye it is expected to take.
    """

    lab_d65: FloatArray
    covariance: FloatArray
    target_lab_d65: FloatArray
    shared: bool
    step_price: FloatArray = field(default_factory=lambda: np.zeros(len(strength_steps())))
    uptake: Uptake = field(default_factory=usual_uptake)
    mix_price: float = 0.0


@dataclass(frozen=True, eq=False)
class Recipes:
    """Recipes that were weighed in full; a row is one recipe mixed for one usual time.

    shade_rows, parts : shape (n, 3). clear_parts : shape (n,).
    cost : Expected ΔE2000 in each zone at the best time, with the prices of risk, grams, unlike timing and further
        shades. shape (n, zones).
    price : Of mixing the bowl at all. shape (n,).
    steps : Which of strength_steps() that best time is. shape (n, zones).
    weighed : How many recipes were looked at in all.
    """

    shade_rows: IntArray
    parts: IntArray
    clear_parts: IntArray
    cost: FloatArray
    steps: IntArray
    price: FloatArray
    weighed: int

    @property
    def mix_of_row(self) -> IntArray:
        """A number for each mix: rows that differ in their usual time alone bear the same. shape (n,)."""
        keys = np.column_stack([self.shade_rows * (self.parts > 0), self.parts, self.clear_parts])
        return np.asarray(np.unique(keys, axis=0, return_inverse=True)[1], dtype=np.int64).reshape(-1)

    @property
    def colour_share(self) -> FloatArray:
        """Share of the colour that is not clear. shape (n,)."""
        colour = self.parts.sum(axis=1)
        share: FloatArray = colour / (colour + self.clear_parts)
        return share

    def take(self, rows: IntArray) -> "Recipes":
        """Only these rows."""
        return Recipes(
            self.shade_rows[rows],
            self.parts[rows],
            self.clear_parts[rows],
            self.cost[rows],
            self.steps[rows],
            self.price[rows],
            self.weighed,
        )


def weigh_recipes(
    on_tray: "Dyes", aims: tuple[Aim, ...], settings: PlanSettings, progress: Progress | None = None
) -> Recipes:
    """The recipes worth sharing: best for a zone or for a group of alike zones, and beaten by none in every zone."""
    mixes = directions(len(on_tray.added), settings.most_shades, settings.most_parts)
    hair, groups = hair_of(np.array([aim.lab_d65 for aim in aims])), alike_groups(aims)
    targets = np.array([aim.target_lab_d65 for aim in aims])
    looked = Looked(hair, targets, groups, settings.shade_price)
    worth = mixes.take(first_look(on_tray.added, mixes, looked, KEPT_AT_FIRST_LOOK, progress))
    expected = _expected(worth, on_tray, aims, settings.risk_price)
    recipes = _with_clear_and_time(worth, expected, on_tray.has_clear, settings, _time_prices(aims, settings))
    recipes = replace(recipes, weighed=mixes.count)
    kept = recipes.take(best_for_groups(recipes.cost + recipes.price[:, None] / len(aims), groups, KEPT_TO_SHARE))
    return kept.take(undominated(kept.cost, kept.price, kept.mix_of_row))


@dataclass(frozen=True, eq=False)
class Dyes:
    """The shades that one tray mixes of.

    added : K/S that one full part of each adds. shape (shades, bands).
    doubt : How unsure the colour of each is on white hair, one standard deviation. [CIELAB units], shape (shades,).
    has_clear : Whether they can be thinned.
    """

    added: FloatArray
    doubt: FloatArray
    has_clear: bool


def draws_of(aim: Aim, count: int) -> tuple[Hair, FloatArray, FloatArray]:
    """Hair that a zone may really be, factors on its uptake, scatter of the prediction: draws, evenly spread.

    Shapes: hair (count), uptake (count,), scatter [CIELAB] (count, 3). Even counts; every draw has its mirror image.
    """
    normal = _even_normal_draws(count)
    values, vectors = np.linalg.eigh(aim.covariance)
    half = vectors * np.sqrt(np.maximum(values, 0.0))
    hair = hair_of(aim.lab_d65 + normal[:, :3] @ half.T)
    uptake = np.maximum(aim.uptake.mean + aim.uptake.sd * normal[:, 3], LEAST_UPTAKE * aim.uptake.mean)
    return hair, uptake, normal[:, 4:] * MODEL_LAB_SD


@cache
def _even_normal_draws(count: int) -> FloatArray:
    ratio = 2.0
    for _ in range(60):
        ratio = (1 + ratio) ** (1 / 8)
    even = (0.5 + np.outer(np.arange(1, count // 2 + 1), ratio ** -np.arange(1.0, 8))) % 1
    inverse = statistics.NormalDist().inv_cdf
    half = np.array([[inverse(float(value)) for value in row] for row in even])
    half /= np.sqrt((half**2).mean(axis=0))  # few draws must still have the spread they stand for
    return np.concatenate([half, -half])


def alike_groups(aims: tuple[Aim, ...]) -> tuple[tuple[int, ...], ...]:
    """Each zone, and each zone with its likeliest partners: those nearest in colour now and in target."""
    places = np.array([np.r_[aim.lab_d65, aim.target_lab_d65] for aim in aims])
    shared = [zone for zone, aim in enumerate(aims) if aim.shared]
    groups = {(zone,): None for zone in range(len(aims))}
    for zone in shared:
        distance = np.linalg.norm(places[shared] - places[zone], axis=1)
        order = [shared[place] for place in np.argsort(distance, kind="stable")]
        groups |= {tuple(sorted(order[:size])): None for size in (*GROUP_SIZES, len(order)) if size <= len(order)}
    return tuple(groups)


def best_for_groups(cost: FloatArray | NDArray[np.float32], groups: tuple[tuple[int, ...], ...], keep: int) -> IntArray:
    """Rows that are among the `keep` cheapest for at least one group of zones. shape (rows,), ascending."""
    keep = min(keep, len(cost))
    by_zone = np.ascontiguousarray(cost.T)
    best = [np.argpartition(by_zone[list(group)].sum(axis=0), keep - 1)[:keep] for group in groups]
    return np.unique(np.concatenate(best))


def _expected(mixes: Directions, on_tray: Dyes, aims: tuple[Aim, ...], risk_price: float) -> FloatArray:
    """Expected ΔE2000 of each mix in each zone at SHARES, with the price of its spread. shape (mixes, zones, shares).

    What is not known of the shades spreads a result as much as what is not known of the hair; it grows with the dye.
    """
    added = mixes.added(on_tray.added)
    shares = mixes.parts / mixes.parts.sum(axis=1, keepdims=True)
    doubt = np.sqrt(((shares * on_tray.doubt[mixes.shade_rows]) ** 2).sum(axis=1))[:, None] * SHARES
    columns = []
    for aim in aims:
        hair, uptake, _ = draws_of(aim, DRAWS_TO_WEIGH)
        mean, sd = delta_e_2000_mean_and_sd(added, SHARES, hair, uptake, aim.target_lab_d65)
        columns.append(mean + risk_price * np.hypot(sd, doubt) + aim.mix_price)
    return np.stack(columns, axis=1)


def _with_clear_and_time(
    mixes: Directions, expected: FloatArray, has_clear: bool, settings: PlanSettings, time_prices: FloatArray
) -> Recipes:
    """Every mix thinned with clear in every way, each for every usual time; zones may deviate from it at a price."""
    colour_parts = mixes.parts.sum(axis=1)
    blocks = []
    for count in np.unique(colour_parts):
        rows = np.flatnonzero(colour_parts == count)
        ways = dilutions(int(count), settings.most_parts) if has_clear else ((1, 0),)
        for times, clear in ways:
            share = times * count / (times * count + clear)
            cost, steps = _at_every_usual_time(expected[rows], share, time_prices)
            ingredients = (mixes.parts[rows] > 0).sum(axis=1) + (clear > 0)
            cost += settings.shade_price * np.tile(ingredients - 1, len(cost) // len(rows))[:, None]
            price = np.full(len(rows), settings.bowl_price)
            parts = (times * mixes.parts[rows]).astype(np.int64)
            thinned = (mixes.shade_rows[rows].astype(np.int64), parts, np.full(len(rows), clear))
            usual_times = len(cost) // len(rows)
            blocks.append((*(np.concatenate([column] * usual_times) for column in (*thinned, price)), cost, steps))
    # The usual time is forgotten here: the step of each zone says all that the plan needs.
    columns = tuple(np.concatenate(column) for column in zip(*blocks, strict=True))
    shade_rows, parts, clear_parts, prices, costs, all_steps = columns
    return Recipes(shade_rows, parts, clear_parts, costs, all_steps, prices, len(prices))


def _time_prices(aims: tuple[Aim, ...], settings: PlanSettings) -> FloatArray:
    """What each step of time costs in each zone of a bowl of each usual time. shape (usual times, zones, steps)."""
    steps = np.arange(len(strength_steps()))
    unlike = settings.mismatch_price * np.abs(np.subtract.outer(steps, steps))
    prices: FloatArray = unlike[:, None, :] + np.array([aim.step_price for aim in aims])
    return prices


def _at_every_usual_time(expected: FloatArray, share: float, time_prices: FloatArray) -> tuple[FloatArray, IntArray]:
    """Cost and best step of time in each zone, first all mixes at the first usual time, then at the next.

    expected : shape (mixes, zones, shares) -> both (usual times x mixes, zones).
    """
    strengths = np.array(strength_steps())
    by_time = expected @ _interpolation(share * strengths).T
    priced = [by_time + of_usual for of_usual in time_prices]
    steps = np.concatenate([np.argmin(cost, axis=2) for cost in priced])
    return np.concatenate([np.min(cost, axis=2) for cost in priced]), steps


def _interpolation(shares: FloatArray) -> FloatArray:
    """Weights of SHARES for values at other shares: a parabola through the three nearest. (shares, len(SHARES))."""
    weights = np.zeros((len(shares), len(SHARES)))
    for row, share in enumerate(shares):
        first = int(np.clip(np.searchsorted(SHARES, share) - 1, 0, len(SHARES) - 3))
        nodes = SHARES[first : first + 3]
        for place in range(3):
            others = np.delete(nodes, place)
            weights[row, first + place] = np.prod((share - others) / (nodes[place] - others))
    return weights
