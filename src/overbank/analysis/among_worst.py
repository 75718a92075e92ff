"""How sure a ranking is: the probability that each of many stands among the worst few.

In each draw of what is not known every one has a score; among the worst k are those with the k highest. Where several
have the k-th highest score alike they share what places are left. So the probabilities add up to k.

Source: share of posterior draws, Gelman and others, Bayesian Data Analysis (from memory, unverified); the tests compare
independent normal scores with their integral.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from overbank.analysis.intervals import Array

Scores = NDArray[np.floating[Any]]


def among_worst(scores: Scores, count: int) -> Array:
    """Probability of being among the `count` with the highest scores, for each of I; they add up to `count`.

    Parameters
    ----------
    scores : shape (I, draws); nan counts as the lowest
    count : from 1; all are among the worst where there are not more than that
    """
    several, draws = scores.shape
    if count >= several:
        return np.ones(several)
    found = np.zeros(several)
    for draw in range(draws):
        column = np.nan_to_num(scores[:, draw].astype(np.float64), nan=-np.inf)
        limit = np.partition(column, several - count)[several - count]
        above, alike = column > limit, column == limit
        found += above + alike * ((count - np.count_nonzero(above)) / np.count_nonzero(alike))
    return np.asarray(found / draws)


def apart(scores: Scores, seed: int) -> Scores:
    """The same scores with every row's draws in an order of its own: each alone as before, and none with another."""
    order: NDArray[np.intp] = np.argsort(np.random.default_rng(seed).random(scores.shape), axis=1)
    return np.asarray(np.take_along_axis(scores, order, axis=1))
