"""Shares of a variance, estimated in independent replicates (scrambles): value, interval, columns of a table."""

from __future__ import annotations

import numpy as np

from overbank.analysis.intervals import Array, over_replicates


def of_replicates(parts: Array, wholes: Array) -> Array:
    """The ratio of two means as one figure from each replicate, to be averaged with a Student t interval.

    A ratio taken in each replicate would be biased where the whole is small and scatters (a rare event). So
    the ratio q of the means is taken once, and each replicate departs from it by (part - q whole)/mean whole.

    Parameters
    ----------
    parts : shape (R, ...); wholes : shape (R,)

    Returns
    -------
    array of the shape of parts; its mean over the replicates is the ratio of the means
    """
    mean_whole = float(np.mean(wholes))
    ratio = np.mean(parts, axis=0) / mean_whole
    each_whole = wholes.reshape(-1, *[1] * (parts.ndim - 1))
    return np.asarray(ratio + (parts - ratio * each_whole) / mean_whole)


def columns(name: str, figures: Array) -> dict[str, float]:
    """name, name_low and name_high from one figure of each replicate, shape (R,)."""
    found = over_replicates(figures, name)
    return {name: found.value, f"{name}_low": found.low, f"{name}_high": found.high}
