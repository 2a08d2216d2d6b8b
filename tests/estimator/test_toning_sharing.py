"""Sharing: the exact choice of few bowls, against trying every choice."""

from itertools import combinations

import numpy as np
import pytest

from estimator.toning.sharing import LEFT_ALONE, share_bowls, undominated


def _by_trying_all(cost, price, alone, max_bowls):
    totals = [alone.sum()]
    for size in range(1, max_bowls + 1):
        for rows in combinations(range(len(cost)), size):
            totals.append(np.minimum(cost[list(rows)].min(axis=0), alone).sum() + price[list(rows)].sum())
    return min(totals)


def _case(seed, recipes=14, zones=6):
    rng = np.random.default_rng(seed)
    return rng.uniform(0, 10, (recipes, zones)), rng.uniform(0, 1.5, recipes), rng.uniform(3, 12, zones)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("max_bowls", [1, 2, 3, 4])
def test_the_choice_costs_as_little_as_any(seed, max_bowls):
    cost, price, alone = _case(seed)
    found = share_bowls(cost, price, alone, max_bowls)
    assert found.total == pytest.approx(_by_trying_all(cost, price, alone, max_bowls), abs=1e-9)
    assert found.proved
    assert len(found.recipes) <= max_bowls


@pytest.mark.parametrize("seed", range(6))
def test_dropping_beaten_recipes_keeps_the_best_choice(seed):
    cost, price, alone = _case(seed, recipes=40, zones=3)
    kept = undominated(cost, price)
    assert len(kept) < len(cost)
    whole, fewer = share_bowls(cost, price, alone, 2), share_bowls(cost[kept], price[kept], alone, 2)
    assert fewer.total == pytest.approx(whole.total, abs=1e-9)


def test_zones_better_left_alone_are_left_alone():
    found = share_bowls(np.array([[5.0, 1.0]]), np.array([0.5]), np.array([2.0, 9.0]), 2)
    assert list(found.recipe_of_zone) == [LEFT_ALONE, 0]
    assert found.total == pytest.approx(2 + 1 + 0.5)


def test_a_bowl_that_gains_less_than_its_price_is_not_mixed():
    assert share_bowls(np.array([[1.0]]), np.array([3.0]), np.array([3.5]), 3).recipes == ()
