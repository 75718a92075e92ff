"""Where something that rises comes true, sample by sample, by halving."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from referee.families import Array

Over = Callable[[Array, NDArray[np.intp]], NDArray[np.bool_]]
"""Numbers, and which samples they belong to -> whether each comes true."""


def found_by_halving(
    over: Over, count: int, ends: tuple[float, float], beyond: tuple[float, float], halvings: int
) -> Array:
    """Least number between two ends at which it comes true in each sample.

    beyond : what stands for a sample in which it is true at the lower end already, and for one in which it never is
    """
    every = np.arange(count)
    always, never = over(np.full(count, ends[0]), every), ~over(np.full(count, ends[1]), every)
    found = np.where(always, beyond[0], beyond[1])
    which = np.flatnonzero(~always & ~never)
    low, high = np.full(which.size, ends[0]), np.full(which.size, ends[1])
    for _ in range(halvings if which.size else 0):
        middle = 0.5 * (low + high)
        above = over(middle, which)
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    found[which] = 0.5 * (low + high)
    return found
