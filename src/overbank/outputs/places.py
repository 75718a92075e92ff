"""Overtopping at every place that has a bank, at any of them and at all of them, and which one goes first."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from overbank.analysis import overtopping
from overbank.analysis.intervals import Estimate, over_replicates
from overbank.analysis.overtopping import Probability
from overbank.outputs.in_tables import figure
from overbank.outputs.output import Output, Tables
from overbank.sampling.ladder import Ladder
from overbank.sampling.run import Run
from overbank.sampling.samples import Array, Sampling


@dataclass(frozen=True)
class Place:
    """A structure that has a bank: probability of going over it, and share of all overtopping in which it is first."""

    id: str
    probability: Probability
    first: Estimate


@dataclass(frozen=True)
class Places:
    """Overtopping at every place that has a bank, at any of them, and at all of them."""

    each: tuple[Place, ...]
    any: Probability
    all: Probability


def at_places(sampling: Sampling, ladder: Ladder | None) -> Places:
    """Probabilities of overtopping, place by place, and of the events put together from them.

    As the integrated input rises, some place is over its bank from the least of their critical values on, and all of
    them from the greatest on. Without an integrated input the samples are counted, and the place with the greatest
    depth over its bank counts as the first.
    """
    places, (replicates, samples) = len(sampling.places), sampling.levels.shape[1:]
    over = np.empty((places + 2, replicates, samples))
    first = np.empty((places, replicates))
    for r in range(replicates):
        depths = sampling.levels[:, r] - sampling.banks[:, r]
        critical = -depths if ladder is None else ladder.critical[:, r]
        asked = np.array([*critical, critical.min(axis=0), critical.max(axis=0)])
        over[:, r] = _over(ladder, r, asked, np.array([*depths, depths.max(axis=0), depths.min(axis=0)]))
        goes = _first(critical, depths if ladder is None else ladder.lowest[:, r])
        first[:, r] = (goes * np.nan_to_num(over[places, r])).sum(axis=1)
    *each, over_any, over_all = (_probability(sampling, ladder, event) for event in over)
    total = np.nansum(over[places], axis=1)
    found = zip(sampling.places, each, first, strict=True)
    return Places(tuple(Place(name, own, _share(goes, total)) for name, own, goes in found), over_any, over_all)


def _over(ladder: Ladder | None, replicate: int, critical: Array, depths: Array) -> Array:
    """Probability that each sample of a replicate is over the bank, given all inputs but the integrated input.

    0 or 1 without an integrated input. Critical values and depths over the bank have a row for each event, the result
    too.
    """
    if ladder is None:
        return overtopping.events(depths)
    return ladder.of_replicate(replicate, critical, depths).probabilities


def _probability(sampling: Sampling, ladder: Ladder | None, over: Array) -> Probability:
    if ladder is None:
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


def _find(run: Run) -> Places:
    return at_places(run.sampling, run.ladder)


def _summary(found: Places) -> dict[str, Any]:
    return {
        "overtopping_at": {
            **{place.id: {**figure(place.probability), "goes_first": figure(place.first)} for place in found.each},
            "any": figure(found.any),
            "all": figure(found.all),
        }
    }


def _tables(found: Places) -> Tables:
    """Overtopping at each place that has a bank, then at any and at all of them; share of it in which it is first."""
    rows = [_row(place.id, place.probability, place.first) for place in found.each]
    nothing = Estimate(math.nan, math.nan, math.nan, "")
    return {"overtopping": pd.DataFrame([*rows, _row("(any)", found.any, nothing), _row("(all)", found.all, nothing)])}


def _row(name: str, probability: Estimate, first: Estimate) -> dict[str, str | float]:
    return {
        "place": name,
        **{"probability": probability.value, "low": probability.low, "high": probability.high},
        **{"goes_first": first.value, "first_low": first.low, "first_high": first.high},
    }


OUTPUT = Output(find=_find, stage="looking at every bank", tables=_tables, summary=_summary)
