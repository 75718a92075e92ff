"""What to do first with a sum of money: at most one action at each place, the most benefit for the sum.

    maximise sum b_i x_i,   sum c_i x_i <= M,   at most one x_i = 1 at each place,   x_i 0 or 1,

a knapsack. To take the best benefit for its cost first can be far from it. Solved by running through the places with
the best benefit for every sum of money up to M, in steps of what divides all costs, so that the answer is exact.
Where that takes too many steps costs are rounded up to a step, and the same with costs rounded down bounds the best.

Source: dynamic programme of the 0-1 knapsack problem, textbook; the tests compare with every subset.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overbank.analysis.intervals import Array

MOST_STEPS = 20_000
"""The sum is cut into no more steps than this."""

MOST_CELLS = 200_000_000
"""So many places times steps at the most [bytes]."""

Whole = NDArray[np.int64]


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
    step = _step(costs[possible], money, int(own.max()) + 1)
    whole, steps = costs[possible] / step, int(money / step + 1e-9)
    chosen[possible[_taken(benefits[possible], _rounded(whole, up=True), own, steps)]] = True
    benefit = float(benefits[chosen].sum())
    bound = _best(benefits[possible], _rounded(whole, up=False), own, steps)
    return Spending(chosen, benefit, float(costs[chosen].sum()), max(benefit, bound))


def _step(costs: Array, money: float, places: int) -> float:
    """The largest whole hundredth that divides all costs, or a share of the money where that is too many steps."""
    cents = np.round(100.0 * costs)
    most = max(1, min(MOST_STEPS, MOST_CELLS // places))
    divisor = int(np.gcd.reduce(cents.astype(np.int64)))
    exact = divisor > 0 and bool(np.all(np.abs(cents - 100.0 * costs) < 1e-6))
    return divisor / 100.0 if exact and 100.0 * money / divisor <= most else max(money, 1e-9) / most


def _rounded(costs: Array, up: bool) -> Whole:
    return np.asarray(np.ceil(costs - 1e-9) if up else np.floor(costs + 1e-9), dtype=np.int64)


def _by_place(places: NDArray[np.intp]) -> Iterator[NDArray[np.intp]]:
    """The actions of each place."""
    order = np.argsort(places, kind="stable")
    yield from np.split(order, np.flatnonzero(np.diff(places[order])) + 1)


def _better(found: Array, benefits: Array, costs: Whole, actions: NDArray[np.intp], steps: int) -> Iterator[Array]:
    """The best benefit for every sum, with each action of a place after what the places before it gave."""
    for action in actions:
        with_it = np.full(steps + 1, -np.inf)
        with_it[costs[action] :] = benefits[action] + found[: steps + 1 - costs[action]]
        yield with_it


def _best(benefits: Array, costs: Whole, places: NDArray[np.intp], steps: int) -> float:
    """The greatest benefit for the whole sum."""
    found = np.zeros(steps + 1)
    for actions in _by_place(places):
        found = np.maximum.reduce([found, *_better(found, benefits, costs, actions, steps)])
    return float(found[-1])


def _taken(benefits: Array, costs: Whole, places: NDArray[np.intp], steps: int) -> NDArray[np.intp]:
    """The actions that give the greatest benefit for the whole sum."""
    found, groups = np.zeros(steps + 1), list(_by_place(places))
    which = np.empty((len(groups), steps + 1), dtype=np.uint8)
    for row, actions in zip(which, groups, strict=True):
        several = np.stack([found, *_better(found, benefits, costs, actions, steps)])
        row[:] = np.argmax(several, axis=0)
        found = several.max(axis=0)
    left, taken = steps, []
    for row, actions in zip(which[::-1], groups[::-1], strict=True):
        if row[left] > 0:
            action = int(actions[row[left] - 1])
            taken.append(action)
            left -= int(costs[action])
    return np.array(taken, dtype=np.intp)


def worth_of_knowing(gains: NDArray[np.floating[Any]]) -> Array:
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
    with_it = np.mean(np.maximum(able.max(axis=0), 0.0), axis=1, dtype=np.float64)
    without = np.maximum(able.mean(axis=2, dtype=np.float64).max(axis=0), 0.0)
    return np.asarray(np.maximum(with_it - without, 0.0))
