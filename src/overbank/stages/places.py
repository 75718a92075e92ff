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
    places, (replicates, samples) = len(sampling.places), sampling.levels.shape[1:]
    over = np.empty((places + 2, replicates, samples))
    first = np.empty((places, replicates))
    for r in range(replicates):
        margins = sampling.levels[:, r] - sampling.banks[:, r]
        critical = -margins if climb is None else climb.critical[:, r]
        asked = np.array([*critical, critical.min(axis=0), critical.max(axis=0)])
        over[:, r] = _over(climb, r, asked, np.array([*margins, margins.max(axis=0), margins.min(axis=0)]))
        goes = _first(critical, margins if climb is None else climb.lowest[:, r])
        first[:, r] = (goes * np.nan_to_num(over[places, r])).sum(axis=1)
    *each, over_any, over_all = (_probability(sampling, climb, event) for event in over)
    total = np.nansum(over[places], axis=1)
    found = zip(sampling.places, each, first, strict=True)
    return Places(tuple(Place(name, own, _share(goes, total)) for name, own, goes in found), over_any, over_all)


def _over(climb: Climb | None, replicate: int, critical: Array, margins: Array) -> Array:
    """Probability that each sample of a replicate is over the bank, given all inputs but the stair input.

    0 or 1 without a stair input. Critical values and margins have a row for each event, the result too.
    """
    if climb is None:
        return overtopping.events(margins)
    return climb.of_replicate(replicate, critical, margins).probabilities


def _probability(sampling: Sampling, climb: Climb | None, over: Array) -> overtopping.Probability:
    if climb is None:
        return overtopping.plain(over, sampling.settings.design)
    return overtopping.threshold(over)


def _first(critical: Array, lowest: Array) -> Array:
    """Share of each place in going first, (P, N): 1 for the least critical value, shared where several tie.

    Where places are over their banks from the lowest value on, the one with the greatest depth over its bank counts.
    """
    least = critical == critical.min(axis=0)
    always = np.isneginf(critical.min(axis=0))
    deepest = lowest == np.where(least, lowest, -np.inf).max(axis=0)
    first = np.where(always, least & deepest, least).astype(np.float64)
    return np.asarray(first / np.maximum(first.sum(axis=0), 1.0))


def _share(first: Array, total: Array) -> Estimate:
    """Share of the overtopping in which a place goes first, from the sums over the samples of each replicate."""
    if not np.all(total > 0.0):
        return Estimate(np.nan, np.nan, np.nan, "ratio of means", "in some replicate nothing goes over its bank")
    return over_replicates(first / total, "ratio of means, Student t over replicates", clip=(0.0, 1.0))
