"""Overtopping at every place that has a bank, at any of them and at all of them, and which one goes first."""

from __future__ import annotations

import numpy as np

from overbank.analysis import overtopping
from overbank.analysis.intervals import Estimate, over_replicates
from overbank.findings.water import Place, Places
from overbank.stages.climbing import Climb
from overbank.stages.sampling import Array, Sampling


def at_places(sampling: Sampling, climb: Climb | None) -> Places:
    """Probabilities of overtopping, place by place, and of the events put together from them.

    As the stair input rises, some place is over its bank from the least of their critical values on, and all of them
    from the greatest on. Without a stair input the samples are counted, and the place with the greatest depth over
    its bank counts as the first.
    """
    margins = sampling.margins()
    critical = -margins if climb is None else climb.critical
    first = _first(critical, margins if climb is None else climb.lowest)
    over_any = _over(climb, critical.min(axis=0), margins.max(axis=0))
    over_all = _over(climb, critical.max(axis=0), margins.min(axis=0))
    each = tuple(
        Place(
            name,
            _probability(sampling, climb, _over(climb, own, margin)),
            _share(goes, over_any),
        )
        for name, own, margin, goes in zip(sampling.places, critical, margins, first, strict=True)
    )
    return Places(each, _probability(sampling, climb, over_any), _probability(sampling, climb, over_all))


def _over(climb: Climb | None, critical: Array, margin: Array) -> Array:
    """Probability that each sample is over the bank, given all inputs but the stair input; 0 or 1 without one."""
    if climb is None:
        return overtopping.events(margin)
    return climb.over(critical, margin).probabilities


def _probability(sampling: Sampling, climb: Climb | None, over: Array) -> overtopping.Probability:
    if climb is None:
        return overtopping.plain(over, sampling.settings.design)
    return overtopping.threshold(over)


def _first(critical: Array, lowest: Array) -> Array:
    """Share of each place in going first, (P, R, N): 1 for the least critical value, shared where several tie.

    Where places are over their banks from the lowest value on, the one with the greatest depth over its bank counts.
    """
    least = critical == critical.min(axis=0)
    always = np.isneginf(critical.min(axis=0))
    deepest = lowest == np.where(least, lowest, -np.inf).max(axis=0)
    first = np.where(always, least & deepest, least).astype(np.float64)
    return np.asarray(first / np.maximum(first.sum(axis=0), 1.0))


def _share(first: Array, over: Array) -> Estimate:
    """Share of the overtopping in which a place goes first, from one share in each replicate."""
    weight = np.nan_to_num(over)
    total = weight.sum(axis=1)
    if not np.all(total > 0.0):
        return Estimate(np.nan, np.nan, np.nan, "ratio of means", "in some replicate nothing goes over its bank")
    shares = (first * weight).sum(axis=1) / total
    return over_replicates(shares, "ratio of means, Student t over replicates", clip=(0.0, 1.0))
