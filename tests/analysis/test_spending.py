"""What to do first for a sum of money, against every subset, a published instance and a closed form."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy.stats import norm

from overbank.analysis.spending import best_spending, worth_of_knowing


def by_every_subset(benefits: np.ndarray, costs: np.ndarray, places: np.ndarray, money: float) -> float:
    best = 0.0
    for taken in product((False, True), repeat=benefits.size):
        chosen = np.array(taken)
        if costs[chosen].sum() <= money and np.unique(places[chosen]).size == chosen.sum():
            best = max(best, benefits[chosen].sum())
    return best


def test_the_best_for_its_cost_first_can_fail_and_this_does_not() -> None:
    found = best_spending(np.array([30.0, 24.0, 24.0]), np.array([6.0, 5.0, 5.0]), np.arange(3), 10.0)
    assert (found.benefit, found.cost) == (48.0, 10.0)


def test_an_instance_of_ten() -> None:
    """Capacity 165, optimum 309 with items 1 to 4 and 6 (instance from memory, unverified; optimum by every subset)."""
    costs = np.array([23.0, 31, 29, 44, 53, 38, 63, 85, 89, 82])
    benefits = np.array([92.0, 57, 49, 68, 60, 43, 67, 84, 87, 72])
    found = best_spending(benefits, costs, np.arange(10), 165.0)
    assert found.benefit == by_every_subset(benefits, costs, np.arange(10), 165.0) == 309.0
    assert np.flatnonzero(found.chosen).tolist() == [0, 1, 2, 3, 5]


@pytest.mark.parametrize("seed", range(8))
def test_one_action_a_place_against_every_subset(seed: int) -> None:
    rng = np.random.default_rng(seed)
    costs, benefits = np.round(rng.uniform(1.0, 9.0, 12), 1), rng.uniform(-2.0, 9.0, 12)
    places, money = rng.integers(0, 6, 12), float(rng.uniform(0.0, 25.0))
    found = best_spending(benefits, costs, places, money)
    assert found.benefit == pytest.approx(by_every_subset(benefits, costs, places, money))
    assert found.most == pytest.approx(found.benefit)
    assert found.cost <= money
    assert np.unique(places[found.chosen]).size == found.chosen.sum()


@pytest.mark.parametrize("seed", range(4))
def test_where_no_step_divides_all_costs_the_best_lies_within_the_bound(seed: int) -> None:
    rng = np.random.default_rng(seed)
    costs, benefits, money = rng.uniform(1.0, 9.0, 12), rng.uniform(0.0, 9.0, 12), float(rng.uniform(5.0, 25.0))
    found = best_spending(benefits, costs, np.arange(12), money)
    best = by_every_subset(benefits, costs, np.arange(12), money)
    assert found.benefit <= best + 1e-9 <= found.most + 2e-9
    assert found.benefit > 0.98 * best
    assert found.cost <= money


def test_the_worth_of_knowing_a_normal_benefit() -> None:
    """E max(g, 0) - max(E g, 0) = s0 phi(m0/s0) + m0 Phi(m0/s0) for m0 < 0: .3955931 for -1 and 2 (closed form)."""
    gains = -1.0 + 2.0 * norm.ppf((np.arange(2**16) + 0.5) / 2**16)
    closed = 2.0 * norm.pdf(-0.5) - norm.cdf(-0.5)
    assert closed == pytest.approx(0.3955931, abs=1e-7)
    np.testing.assert_allclose(worth_of_knowing(gains[None, None, :]), [closed], rtol=2e-4)


def test_knowing_is_worth_nothing_where_nothing_can_be_done_or_nothing_hangs_on_it() -> None:
    gains = np.array([[[np.nan, np.nan]], [[3.0, 5.0]]])
    np.testing.assert_array_equal(worth_of_knowing(gains), [0.0])
    np.testing.assert_array_equal(worth_of_knowing(np.empty((0, 2, 4))), [0.0, 0.0])
