"""Overtopping in a year, over many years, and in the flood of a given annual probability.

Two kinds of uncertainty are kept apart. *Knowledge*: what nobody knows but what is the same in every flood, such as a
roughness, a coefficient, a level, or the parameters of the flood distribution. *Each flood*: what is drawn anew with
every flood, such as the blockage. Tables have the shape (R, S, M): R replicates of S states of knowledge, with M floods
in each state. For each of them the threshold method gives the capacity q*, the least flow that goes over the bank, and
the annual probability of overtopping is P(Q >= q*): floods are never sampled.

With p the mean over the floods of one state of knowledge,

    annual probability                E[p] over the states
    probability over L years          E[1 - (1 - p)^L]: floods of different years are independent, but what is not
                                      known stays the same from year to year. This is less than 1 - (1 - E[p])^L
    distribution of the probability   quantiles of p over the states

Source of the expressions: total probability (closed form); the tests compare with quadrature.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from overbank.analysis.bands import Curve, ascending, from_means
from overbank.analysis.crossings import fill_crossings
from overbank.analysis.intervals import Array, Estimate, join_notes, over_replicates, replicated_quantile, wilson
from overbank.analysis.overtopping import Probability, threshold
from overbank.errors import DomainError

SHARES = (0.05, 0.5, 0.95)
"""Quantiles over the states of knowledge that are always given."""


def exceedance(score_below: Array, mean: Array | float, spread: float) -> Array:
    """P(Q >= q* | the flood's other numbers) = Phi((m - z*)/s), any shape; nan stays nan.

    Parameters
    ----------
    score_below : z* = Phi^-1(P(Q < q*)) in the distribution of the state of knowledge; -inf gives 1, +inf gives 0
    mean, spread : of the flood's normal score given its other numbers; 0 and 1 when it is independent of them

    Raises
    ------
    DomainError : spread not above 0
    """
    if not spread > 0.0:
        raise DomainError(f"annual probability: expected a conditional spread above 0; got {spread}")
    return np.asarray(ndtr((mean - score_below) / spread))


def by_state(probabilities: Array) -> Array:
    """Annual probability in each state of knowledge, (R, S, ...), from that in each of its floods, (R, S, M, ...).

    Floods without a number are left out; a state of nothing else has none.
    """
    known = ~np.isnan(probabilities)
    count = known.sum(axis=2)
    total = np.where(known, probabilities, 0.0).sum(axis=2)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def expected(states: Array) -> Probability:
    """Annual probability of overtopping: mean over the states of knowledge (R, S), Student t over replicates."""
    return threshold(states)


def return_period(probability: Estimate) -> Estimate:
    """The same figure as years to one overtopping on average, 1/p; endless where the probability is 0 [years]."""
    value, low, high = (1.0 / p if p > 0.0 else np.inf for p in (probability.value, probability.high, probability.low))
    return Estimate(value, low, high, f"1/p of: {probability.method}", probability.note)


def over_years(states: Array, years: int) -> Probability:
    """Probability of at least one overtopping in so many years, E[1 - (1 - p)^L] over the states (R, S)."""
    with np.errstate(divide="ignore"):
        at_least_once = -np.expm1(years * np.log1p(-states))
    return threshold(at_least_once)


def over_knowledge(states: Array) -> dict[float, Estimate]:
    """Quantiles of the annual probability over the states of knowledge (R, S), by the shares in `SHARES`."""
    return {share: replicated_quantile(states, share) for share in SHARES}


def times_as_likely(states: Array, clean: Array) -> Estimate:
    """How many times as likely overtopping is as with nothing blocked: ratio of two annual probabilities.

    Parameters
    ----------
    states, clean : annual probabilities (R, S) of the same states of knowledge, as they are and with nothing blocked

    The ratio is taken in each replicate. Where nothing ever goes over the bank unblocked there is no ratio.
    """
    method = "ratio of means, Student t over replicates"
    blocked, unblocked = np.nanmean(states, axis=1), np.nanmean(clean, axis=1)
    if not np.all(unblocked > 0.0):
        return Estimate(np.nan, np.nan, np.nan, method, "unblocked, the water never goes over in some replicate")
    return over_replicates(blocked / unblocked, method, clip=(0.0, np.inf))


def counted(margins: Array) -> Probability:
    """Probability of going over the bank, by counting the floods of every state of knowledge.

    Parameters
    ----------
    margins : level minus bank in each flood [m], (R, S, M); +inf goes over, nan is a failed run, left out and counted

    Student t over replicates; the exact one-sided limit on the states where the floods of none, or of every one of
    them, go over.

    Raises
    ------
    DomainError : no run gave a level
    """
    over = by_state(np.where(np.isnan(margins), np.nan, margins > 0.0))
    kept = over[~np.isnan(over)]
    failed = int(np.count_nonzero(np.isnan(margins)))
    if kept.size == 0:
        raise DomainError("annual floods: expected at least one level; got none. All runs of the site failed")
    if np.all(kept == kept[0]) and kept[0] in (0.0, 1.0):
        found = wilson(int(kept.size * kept[0]), kept.size)
    else:
        found = over_replicates(np.nanmean(over, axis=1), "counted floods, Student t over replicates", (0.0, 1.0))
    note = join_notes(found.note, f"{failed} of {margins.size} runs failed and are left out" if failed else "")
    return Probability(found.value, found.low, found.high, found.method, note, kept.size, failed)


def assurance(margins: Array) -> Probability:
    """Probability that the water stays below the bank in the flood of one annual probability.

    Parameters
    ----------
    margins : level minus bank in that flood [m], as in `counted`
    """
    over = counted(margins)
    return replace(over, value=1.0 - over.value, low=1.0 - over.high, high=1.0 - over.low)


@dataclass(frozen=True)
class LevelFrequency:
    """Annual probability that the water stands higher than each level.

    expected : mean over the states of knowledge, with the 95 % band of the sampling
    knowledge : share -> its quantile over the states of knowledge at each level
    """

    expected: Curve
    knowledge: dict[float, Array]


def level_frequency(
    nodes: Array,
    levels: Array,
    grid: Array,
    annual_probability: Callable[[Array], Array],
    own: tuple[Array, NDArray[np.bool_]],
) -> LevelFrequency:
    """Annual exceedance of every level of a grid, from the ladder over the flow.

    Parameters
    ----------
    nodes : flows, ascending [m3/s], shape (K,)
    levels : at the nodes [m], shape (K, R, S, M)
    grid : levels [m], ascending, shape (L,)
    annual_probability : flows (R, S, M, L) -> P(Q >= flow), same shape
    own : level in each sample's own flood [m], (R, S, M), and where the ladder can be trusted; elsewhere the plain
        count of the own levels stands in
    """
    places = ascending(grid, "level frequency")
    own_levels, trusted = own
    flows = np.empty((places.size, own_levels.size))
    fill_crossings(nodes, np.ascontiguousarray(levels.reshape(nodes.size, -1).T), places, flows)
    smooth = annual_probability(np.moveaxis(flows, 0, -1).reshape(*own_levels.shape, places.size))
    own_level = own_levels[..., np.newaxis]
    counted = np.where(np.isnan(own_level), np.nan, own_level > places)
    states = by_state(np.where(trusted[..., np.newaxis], smooth, counted))
    curve = from_means(places, np.nanmean(states, axis=1), "threshold method over the flow, Student t over replicates")
    pooled = states.reshape(-1, places.size)
    return LevelFrequency(curve, {share: np.nanquantile(pooled, share, axis=0) for share in SHARES})
