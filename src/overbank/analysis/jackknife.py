"""Intervals for figures that are no mean over replicates: leave out every replicate in turn."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from overbank.analysis.intervals import Array
from overbank.errors import DomainError

LEAST_REPLICATES = 3
"""With fewer, one replicate left out leaves nothing to compare."""


def pseudo_values(figures: Callable[[NDArray[np.intp]], Array | float], replicates: int) -> Array:
    """R f(all) - (R - 1) f(all but r) for every replicate r: their mean is the figure, their scatter its interval.

    The mean is also freed of the bias of order 1/samples that a figure made of quantiles, ratios or fits has.

    Parameters
    ----------
    figures : replicates (indices) -> one figure, or an array of them, from these replicates together
    replicates : R

    Returns
    -------
    array of shape (R, ...), for `intervals.over_replicates`

    Source: Tukey's jackknife over groups; from memory, unverified. The tests count how often the intervals cover.

    Raises
    ------
    DomainError : fewer than three replicates
    """
    if replicates < LEAST_REPLICATES:
        raise DomainError(
            f"an interval by leaving out replicates: expected at least {LEAST_REPLICATES} of them; got {replicates}"
        )
    everyone = np.arange(replicates)
    whole = np.asarray(figures(everyone), dtype=np.float64)
    left = np.array([figures(np.delete(everyone, one)) for one in everyone], dtype=np.float64)
    return np.asarray(replicates * whole - (replicates - 1) * left)
