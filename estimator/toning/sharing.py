"""Few bowls shared between many zones, exactly: the cheapest choice of at most so many recipes."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.colourspaces import FloatArray

IntArray = NDArray[np.int64]

LEFT_ALONE = -1
SOLVER_SECONDS = 20.0  # far beyond what 24 zones and 12 bowls take; a plan cut off there says that it is not proved


@dataclass(frozen=True, eq=False)
class Sharing:
    """Which recipes are mixed, and which of them each zone gets.

    recipe_of_zone : Row of the recipe, LEFT_ALONE where the zone is better left as it is. shape (zones,).
    total : Cost of it all. proved : No other choice among the recipes given costs less.
    """

    recipe_of_zone: IntArray
    total: float
    proved: bool

    @property
    def recipes(self) -> tuple[int, ...]:
        """Rows of the recipes mixed, each once."""
        return tuple(int(row) for row in np.unique(self.recipe_of_zone) if row != LEFT_ALONE)


def share_bowls(cost: FloatArray, price: FloatArray, alone: FloatArray, max_bowls: int) -> Sharing:
    """The choice of at most `max_bowls` recipes that costs least, over all zones and with the price of each bowl.

    cost : Of each recipe in each zone, shape (recipes, zones). price : Of mixing each at all, shape (recipes,).
    alone : Cost of leaving each zone as it is, shape (zones,).
    Up to two bowls are compared one by one; more are a p-median problem for the solver, with no gap left.
    """
    if len(cost) == 0 or cost.shape[1] == 0:
        return Sharing(np.full(cost.shape[1], LEFT_ALONE), float(alone.sum()), True)
    usable = np.minimum(cost, alone)
    best = _one_bowl(usable, price, alone)
    if max_bowls >= 2:
        best = min(best, _two_bowls(usable, price), key=lambda found: found[0])
    proved = True
    if max_bowls >= 3:
        solved = _many_bowls(cost, price, alone, max_bowls)
        proved = solved is not None
        best = min(best, solved, key=lambda found: found[0]) if solved is not None else best
    return _assigned(cost, price, alone, best[1], proved)


def second_best(
    cost: FloatArray, price: FloatArray, alone: FloatArray, max_bowls: int, best: tuple[Sharing, IntArray]
) -> Sharing | None:
    """The cheapest choice that does without at least one mix of the best one; None where that mixes nothing.

    best : The best choice, and a number for the mix of each recipe: the same mix at another time is no other choice.
    Arguments and the rest as `share_bowls`. Every choice but those that hold all of the best one's mixes is compared.
    """
    found, mix_of_row = best
    tried = []
    for mix in np.unique(mix_of_row[list(found.recipes)]) if found.recipes else ():
        rows = np.flatnonzero(mix_of_row != mix)
        other = share_bowls(cost[rows], price[rows], alone, max_bowls)
        recipe_of_zone = np.where(other.recipe_of_zone == LEFT_ALONE, LEFT_ALONE, 0)
        mixed = other.recipe_of_zone != LEFT_ALONE
        recipe_of_zone[mixed] = rows[other.recipe_of_zone[mixed]]
        tried.append(Sharing(recipe_of_zone, other.total, other.proved))
    return min(tried, key=lambda one: one.total, default=None)


def undominated(cost: FloatArray, price: FloatArray, mix_of_row: IntArray | None = None) -> IntArray:
    """Rows worth keeping: the optimum is among them, and so is the optimum without any one mix. shape (rows,).

    A row goes where one of its own mix, or two of other mixes, are no dearer in every zone and in price. Without
    `mix_of_row` one better row is enough, and only the optimum itself is sure to stay.
    """
    table = np.column_stack([cost, price])
    kept, mixes = np.empty_like(table), np.empty(len(table), dtype=np.int64)
    rows: list[int] = []
    # A row can only be beaten by one with a smaller sum, which stands before it.
    for row in np.argsort(table.sum(axis=1), kind="stable"):
        better = mixes[: len(rows)][np.all(kept[: len(rows)] <= table[row], axis=1)]
        own = 0 if mix_of_row is None else int(mix_of_row[row])
        if len(better) and (mix_of_row is None or own in better or np.any(better != better[0])):
            continue
        kept[len(rows)], mixes[len(rows)] = table[row], own
        rows.append(int(row))
    return np.array(sorted(rows), dtype=np.int64)


def _one_bowl(usable: FloatArray, price: FloatArray, alone: FloatArray) -> tuple[float, tuple[int, ...]]:
    totals = usable.sum(axis=1) + price
    row = int(np.argmin(totals))
    return (float(totals[row]), (row,)) if totals[row] < alone.sum() else (float(alone.sum()), ())


def _two_bowls(usable: FloatArray, price: FloatArray) -> tuple[float, tuple[int, ...]]:
    best: tuple[float, tuple[int, ...]] = (np.inf, ())
    for row in range(len(usable) - 1):
        totals = np.minimum(usable[row], usable[row + 1 :]).sum(axis=1) + price[row] + price[row + 1 :]
        other = int(np.argmin(totals))
        if totals[other] < best[0]:
            best = (float(totals[other]), (row, row + 1 + other))
    return best


def _many_bowls(
    cost: FloatArray, price: FloatArray, alone: FloatArray, max_bowls: int
) -> tuple[float, tuple[int, ...]] | None:
    """The optimum by mixed-integer programming; None where the time was not enough to prove one."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array, csr_array, vstack

    gain = cost - alone
    recipe, zone = np.nonzero(gain < 0)  # a pair that gains nothing is never used
    recipes, pairs = len(cost), len(recipe)
    if pairs == 0:
        return float(alone.sum()), ()
    place = recipes + np.arange(pairs)
    columns = recipes + pairs
    once = csr_array(coo_array((np.ones(pairs), (zone, place)), shape=(cost.shape[1], columns)))
    opened = csr_array(
        coo_array(
            (np.concatenate([np.ones(pairs), -np.ones(pairs)]), (np.tile(np.arange(pairs), 2), np.r_[place, recipe])),
            shape=(pairs, columns),
        )
    )
    few = csr_array(np.concatenate([np.ones(recipes), np.zeros(pairs)])[None])
    limits = np.concatenate([np.ones(cost.shape[1]), np.zeros(pairs), [max_bowls]])
    solved = milp(
        np.concatenate([price, gain[recipe, zone]]),
        integrality=np.concatenate([np.ones(recipes), np.zeros(pairs)]),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(vstack([once, opened, few]), -np.inf, limits),
        options={"time_limit": SOLVER_SECONDS, "mip_rel_gap": 0.0},
    )
    if solved.status != 0:
        return None
    chosen = tuple(int(row) for row in np.flatnonzero(solved.x[:recipes] > 0.5))
    return float(solved.fun + alone.sum()), chosen


def _assigned(cost: FloatArray, price: FloatArray, alone: FloatArray, chosen: tuple[int, ...], proved: bool) -> Sharing:
    rows = np.array(chosen, dtype=np.int64)
    if len(rows) == 0:
        return Sharing(np.full(len(alone), LEFT_ALONE), float(alone.sum()), proved)
    best = np.argmin(cost[rows], axis=0)
    reached = cost[rows][best, np.arange(len(alone))]
    recipe_of_zone = np.where(reached < alone, rows[best], LEFT_ALONE)
    used = [row for row in np.unique(recipe_of_zone) if row != LEFT_ALONE]
    return Sharing(recipe_of_zone, float(np.minimum(reached, alone).sum() + price[used].sum()), proved)
