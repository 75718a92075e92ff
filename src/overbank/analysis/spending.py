"""What to do first with a sum of money: at most one action at each place, the most benefit for the sum.

    maximise sum b_i x_i,   sum c_i x_i <= M,   at most one x_i = 1 at each place,   x_i 0 or 1,

a knapsack. The best benefit for its cost first can be far from it. Solved by SciPy's branch and bound, which says how
far from the best its answer may be.

Source: 0-1 knapsack problem, textbook; the tests compare with every subset.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from overbank.analysis.intervals import Array

LONGEST = 60.0
"""So long it is looked for the best [s]."""


@dataclass(frozen=True)
class Spending:
    """What is chosen.

    chosen : of the actions
    benefit, cost : in all
    most : no choice has a greater benefit than this
    """

    chosen: NDArray[np.bool_]
    benefit: float
    cost: float
    most: float


def best_spending(benefits: Array, costs: Array, places: NDArray[np.intp], money: float) -> Spending:
    """The choice of actions with the greatest benefit for the money.

    Parameters
    ----------
    benefits, costs : of each action [money]; one whose benefit is not above 0, or that costs too much, is never chosen
    places : where each action is, as a number
    """
    possible = np.flatnonzero((benefits > 0.0) & (costs <= money))
    chosen = np.zeros(benefits.size, dtype=bool)
    if possible.size == 0:
        return Spending(chosen, 0.0, 0.0, 0.0)
    own = np.unique(places[possible], return_inverse=True)[1]
    each = csr_array((np.ones(possible.size), (own, np.arange(possible.size))))
    limits = [LinearConstraint(costs[possible][None, :], ub=money), LinearConstraint(each, ub=1.0)]
    settings = {"time_limit": LONGEST, "mip_rel_gap": 1e-9}
    found = milp(-benefits[possible], constraints=limits, integrality=1, bounds=Bounds(0, 1), options=settings)
    taken = np.zeros(possible.size, dtype=bool) if found.x is None else found.x > 0.5
    chosen[possible[taken]] = True
    benefit = float(benefits[chosen].sum())
    most = benefit if found.mip_dual_bound is None else max(benefit, -float(found.mip_dual_bound))
    return Spending(chosen, benefit, float(costs[chosen].sum()), most)


def worth_of_knowing(gains: Array) -> Array:
    """The most that knowing everything would be worth before one acts, or does nothing [money]; shape (I,).

        E max(0, max_a g_a) - max(0, max_a E g_a)

    No inspection is worth more (expected value of perfect information).

    Parameters
    ----------
    gains : benefit less cost of every action (A, I, draws); nan where it cannot be done
    """
    if gains.shape[0] == 0:
        return np.zeros(gains.shape[1])
    able = np.where(np.isnan(gains), -np.inf, gains)
    with_it = np.mean(np.maximum(able.max(axis=0), 0.0), axis=1)
    without = np.maximum(able.mean(axis=2).max(axis=0), 0.0)
    return np.asarray(np.maximum(with_it - without, 0.0))
