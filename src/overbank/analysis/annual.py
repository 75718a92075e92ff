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

The floods of a state tell its p with an error of their own, the *inner* one. It leaves E[p] right, but would pass for
lack of knowledge in the other two. The floods of a state come in two halves that are independent (two nets), which
tell its variance v (`inner.told`). A figure f found from the states has a bias that grows in proportion to v, to first
order. From the halves alone, where the variance is 2 v, it is found once more (`noisier`), and

    2 f(v) - f(2 v)                   is without that bias; the correction is a further error of the figure.

A quantile q is taken further, for its square distance from the mean m grows in proportion to v however large v is, as
long as scatter and error are alike in shape: (q - m)^2 = 2 (q(v) - m)^2 - (q(2 v) - m)^2 (`without_inner`). What the
error hides of the shape widens the interval further (`_hidden_shape`).

Where the inner error explains all the scatter of the states nothing is unknown (`told_apart`): they are taken as alike.

Source of the expressions: total probability (closed form); the tests compare with quadrature.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from overbank.analysis.bands import Curve, ascending, from_means
from overbank.analysis.crossings import fill_crossings
from overbank.analysis.inner import by_state, told
from overbank.analysis.intervals import (
    Array,
    Estimate,
    effective,
    join_notes,
    lopsided_ends,
    over_replicates,
    share_over_replicates,
    smooth_quantile,
    t_half_width,
    wilson,
)
from overbank.analysis.overtopping import Probability, threshold
from overbank.errors import DomainError

SHARES = (0.05, 0.5, 0.95)
"""Quantiles over the states of knowledge that are always given."""


FEW_STATES = 20
"""Fewer states than this with, or without, floods that go over do not tell by their scatter how rare that is."""

ALIKE = 1e-9
"""States whose annual probabilities differ by no more than this share are all alike."""


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


def told_apart(states: Array, variance: Array) -> bool:
    """Whether the states (R, S) differ by more than the inner error alone would make them, by two standard errors."""
    count = int(np.count_nonzero(~np.isnan(states)))
    least = float(np.nanmean(variance)) * (1.0 + 2.0 * np.sqrt(2.0 / count))
    return bool(np.nanmax(states) - np.nanmin(states) > ALIKE * np.nanmax(states) and np.nanvar(states) > least)


def noisier(states: Array, variance: Array) -> Array:
    """Each state (R, S, ...) twice, (R, 2 S, ...), by its halves: the inner error is of twice the variance."""
    error = np.sqrt(variance)
    return np.asarray(np.clip(np.concatenate([states - error, states + error], axis=1), 0.0, 1.0))


def expected(states: Array, beyond: Array | None = None) -> Probability:
    """Annual probability of overtopping: mean over the states of knowledge (R, S), `lopsided_ends` over replicates.

    Parameters
    ----------
    beyond : the same states had every flood larger than the largest one of the ladder gone over the bank: a bound of
        what the ladder cannot see, for floods that have none. Nothing is called impossible then; far below `rare.RARE`
        importance sampling (`rare.probability`, of all numbers but the flood) gives the figure itself
    """
    found = _lopsided(threshold(states), states)
    if beyond is None:
        return found
    unseen = float(np.nanmean(beyond - states))
    if unseen > 0.0 and np.nanmax(states) <= 0.0:
        most = threshold(beyond)
        high = most.value if np.isnan(most.high) else most.high
        note = (
            f"in no state does any flood of the ladder go over; rarer than {high:.1g} a year, which is not impossible"
        )
        method = "threshold method over the flow, bound by the largest flood of the ladder"
        return Probability(0.0, 0.0, high, method, join_notes(note), most.samples, most.failed)
    return replace(found, high=min(found.high + unseen, 1.0))


def _lopsided(found: Probability, states: Array) -> Probability:
    """The interval by the skewness of the states too: of few, some of which go over far more often than the others."""
    far = states[~np.isnan(states)] - found.value
    spread, replicates = float(np.mean(far**2)), np.nanmean(states, axis=1)
    if np.isnan(found.low) or not spread > 0.0 or not np.ptp(replicates) > 0.0:
        return found
    low, high = lopsided_ends(replicates, float(np.mean(far**3)) / spread**1.5 / float(np.sqrt(far.size)))
    method = "threshold method, Student t over replicates with the skewness of the states"
    return replace(found, low=max(low, 0.0), high=min(high, 1.0), method=method)


def return_period(probability: Estimate) -> Estimate:
    """The same figure as years to one overtopping on average, 1/p; endless where the probability is 0 [years]."""
    value, low, high = (1.0 / p if p > 0.0 else np.inf for p in (probability.value, probability.high, probability.low))
    return Estimate(value, low, high, f"1/p of: {probability.method}", probability.note)


def at_least_once(yearly: Array, years: int) -> Array:
    """1 - (1 - p)^L, exact for small p."""
    with np.errstate(divide="ignore"):
        return np.asarray(-np.expm1(years * np.log1p(-yearly)))


def over_years(states: Array, years: int, variance: Array | None = None) -> Probability:
    """Probability of at least one overtopping in so many years, E[1 - (1 - p)^L] over the states (R, S).

    Parameters
    ----------
    variance : of the states' inner error, from `inner.told`; what it takes away widens the interval
    """
    if variance is None:
        return threshold(at_least_once(states, years))
    corrected = over_years_by_state(states, years, variance)
    found = _near_one(threshold(corrected), corrected)
    low, high = _widened(found, float(np.nanmean(at_least_once(states, years))) - found.value)
    return replace(found, low=max(low, 0.0), high=min(high, 1.0))


def over_years_by_state(states: Array, years: int, variance: Array) -> Array:
    """1 - (1 - p)^L of every state (R, S) without the bias that the inner error of this variance gives it."""
    raw = at_least_once(states, years)
    if told_apart(states, variance):
        again = at_least_once(noisier(states, variance), years)
        corrected = 2.0 * raw - 0.5 * (again[:, : raw.shape[1]] + again[:, raw.shape[1] :])
    else:
        corrected = raw + float(at_least_once(np.nanmean(states, keepdims=True), years)[0, 0] - np.nanmean(raw))
    return np.asarray(np.clip(corrected, 0.0, 1.0))


def in_one_year(probability: float, years: int) -> float:
    """Annual probability of what happens at least once in so many years with a probability, 1 - (1 - p)^(1/L).

    Closed form, for years that are independent. Where p is not known, E[1 - (1 - p)^L] <= 1 - (1 - E[p])^L: a mean
    annual probability held to this holds the probability over the years to no more than asked.
    """
    return float(-np.expm1(np.log1p(-probability) / years))


def _near_one(found: Probability, states: Array) -> Probability:
    """The interval of a probability above a half by the logarithm of its complement, which few states make lopsided."""
    rest = 1.0 - np.nanmean(states, axis=1)
    mean, half = float(np.mean(rest)), float(t_half_width(rest))
    if found.value <= 0.5 or not mean > 0.0 or np.isnan(found.low) or np.isnan(half):
        return found
    factor = float(np.exp(half / mean))
    method = "threshold method, Student t over replicates on a log scale of the complement"
    return replace(found, low=1.0 - mean * factor, high=1.0 - mean / factor, method=method)


def over_knowledge(states: Array, variance: Array | None = None) -> dict[float, Estimate]:
    """Quantiles of the annual probability over the states of knowledge (R, S), by the shares in `SHARES`.

    Parameters
    ----------
    variance : of the states' inner error, from `inner.told`; what it takes away widens the intervals
    """
    raw = {share: smooth_quantile(states, share) for share in SHARES}
    if variance is None:
        return raw
    if not told_apart(states, variance):
        return {share: _alike(states, variance, raw[share].value) for share in SHARES}
    again, mean = noisier(states, variance), float(np.nanmean(states))
    found = {}
    for share, before in raw.items():
        twice = smooth_quantile(again, share).value
        value = float(without_inner(np.array(before.value), np.array(twice), mean, share))
        moved = value - before.value
        below, above = _hidden_shape(states, variance, share, value)
        low = value - float(np.hypot(np.hypot(before.value - before.low, moved), below))
        high = value + float(np.hypot(np.hypot(before.high - before.value, moved), above))
        found[share] = replace(before, value=value, low=max(low, 0.0), high=min(high, 1.0))
    return found


def without_inner(raw: Array, twice: Array, mean: Array | float, share: float) -> Array:
    """A quantile over the states without their inner error, within 0 and 1; see above.

    Parameters
    ----------
    raw, twice : as the states are, and with an inner error of twice the variance
    mean : over the states
    """
    far, farther = raw - mean, twice - mean
    squared = np.sqrt(np.maximum(2.0 * far**2 - farther**2, 0.0))
    tail = np.sign(far) == np.sign(share - 0.5)
    return np.asarray(np.clip(np.where(tail, mean + np.sign(far) * squared, 2.0 * raw - twice), 0.0, 1.0))


def _hidden_shape(states: Array, variance: Array, share: float, value: float) -> tuple[float, float]:
    """How far below and above a quantile may lie because the inner error blurs the shape of the states' own scatter.

    With the share r = v/(s^2 + v) of the inner error in all variance, the states' own variance s^2 and the normal score
    z of the quantile: s r |z| to both sides and, for the scatter may be lopsided, sqrt(r) of the way to the mean. A
    median lies within s of the mean (closed form), which is taken times sqrt(r). The factors are our judgement;
    coverage is tested.
    """
    inner, whole, mean = float(np.nanmean(variance)), float(np.nanvar(states)), float(np.nanmean(states))
    hidden, own = min(inner / whole, 1.0), float(np.sqrt(max(whole - inner, 0.0)))
    if share == 0.5:
        return own * float(np.sqrt(hidden)), own * float(np.sqrt(hidden))
    outward = own * hidden * abs(float(ndtri(share)))
    inward = float(np.hypot(outward, np.sqrt(hidden) * (mean - value)))
    return (outward, inward) if share < 0.5 else (inward, outward)


def _alike(states: Array, variance: Array, raw: float) -> Estimate:
    """The one annual probability of states that are all alike, as well as it is known.

    What scatter of their own could have passed unseen (`told_apart`) is part of the interval.
    """
    value, inner = float(np.nanmean(states)), float(np.nanmean(variance))
    unseen = np.sqrt(max(float(np.nanvar(states)) - inner, 0.0) + 2.0 * inner * np.sqrt(2.0 / states.size))
    half = max(float(np.hypot(t_half_width(np.nanmean(states, axis=1)), unseen)), abs(raw - value))
    note = "nothing that is the same in all floods matters here: all states of knowledge are alike"
    if np.nanmax(states) - np.nanmin(states) > ALIKE * np.nanmax(states):
        note = "the floods of a state do not tell the states of knowledge apart: more samples may"
    method = "mean over the states, Student t over replicates"
    return Estimate(value, max(value - half, 0.0), min(value + half, 1.0), method, note)


def _widened(found: Estimate, correction: float) -> tuple[float, float]:
    """Ends of the interval with a correction as a further error, each to its own side."""
    below, above = found.value - found.low, found.high - found.value
    return found.value - float(np.hypot(below, correction)), found.value + float(np.hypot(above, correction))


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


def counted(depths: Array, weights: Array | None = None) -> Probability:
    """Probability of going over the bank, by counting the floods of every state of knowledge.

    Parameters
    ----------
    depths : level minus bank in each flood [m], (R, S, M); +inf goes over, nan is a failed run, left out and counted
    weights : of the floods, where they are not alike, same shape

    Student t over replicates, or what replicates that agree may hide (`share_over_replicates`); the exact one-sided
    limit on the states where the floods of none, or of every one of them, go over. Where those of a few only do, or do
    not, the interval is no narrower than were each state one look.

    Raises
    ------
    DomainError : no run gave a level
    """
    over = by_state(np.where(np.isnan(depths), np.nan, depths > 0.0), weights)
    kept = over[~np.isnan(over)]
    failed = int(np.count_nonzero(np.isnan(depths)))
    if kept.size == 0:
        raise DomainError("annual floods: expected at least one level; got none. All runs of the site failed")
    if np.all(kept == kept[0]) and kept[0] in (0.0, 1.0):
        found = wilson(int(kept.size * kept[0]), kept.size)
    else:
        words, trials = "counted floods, Student t over replicates", _trials(kept, depths.size - failed)
        found = share_over_replicates(np.nanmean(over, axis=1), trials, words)
        if min(effective(kept), effective(1.0 - kept)) < FEW_STATES:
            looks = wilson(round(float(kept.mean()) * kept.size), kept.size)
            found = replace(found, low=min(found.low, looks.low), high=max(found.high, looks.high))
    note = join_notes(found.note, f"{failed} of {depths.size} runs failed and are left out" if failed else "")
    return Probability(found.value, found.low, found.high, found.method, note, kept.size, failed)


def _trials(shares: Array, floods: int) -> float:
    """As many independent floods tell as much as the floods of states in which these shares go over (S,).

    As many as there are states where all or none of a state's floods go over, for then what is alike in them decides:
    p (1 - p) over the variance of the shares, times the states (closed form).
    """
    mean, variance = float(np.mean(shares)), float(np.var(shares))
    return min(shares.size * mean * (1.0 - mean) / max(variance, 1e-300), float(floods))


def stays_below(depths: Array, weights: Array | None = None) -> Array:
    """Share of each state's floods (R, S) in which the water stays below the bank; as in `counted`."""
    return by_state(np.where(np.isnan(depths), np.nan, depths <= 0.0), weights)


def assurance(depths: Array, weights: Array | None = None) -> Probability:
    """Probability that the water stays below the bank in the flood of one annual probability.

    Parameters
    ----------
    depths, weights : level minus bank in that flood [m], as in `counted`
    """
    over = counted(depths, weights)
    return replace(over, value=1.0 - over.value, low=1.0 - over.high, high=1.0 - over.low)


EACH = 64
"""States of every replicate whose levels are kept by themselves."""


@dataclass(frozen=True)
class LevelFrequency:
    """Annual probability that the water stands higher than each level.

    expected : mean over the states of knowledge, with the 95 % band of the sampling
    knowledge : share -> its quantile over the states of knowledge at each level
    each : of the first states of every replicate by themselves, (R, S, L)
    """

    expected: Curve
    knowledge: dict[float, Array]
    each: Array


def level_frequency(
    nodes: Array,
    levels: Array,
    grid: Array,
    annual_probability: Callable[[Array], Array],
    own: tuple[Array, NDArray[np.bool_]],
    weights: Array | None = None,
    shifts: Array | None = None,
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
    weights, shifts : of the floods, as in `inner.told`
    """
    places = ascending(grid, "level frequency")
    own_levels, trusted = own
    flows = np.empty((places.size, own_levels.size))
    fill_crossings(nodes, np.ascontiguousarray(levels.reshape(nodes.size, -1).T), places, flows)
    smooth = annual_probability(np.moveaxis(flows, 0, -1).reshape(*own_levels.shape, places.size))
    own_level = own_levels[..., np.newaxis]
    counted = np.where(np.isnan(own_level), np.nan, own_level > places)
    floods = np.where(trusted[..., np.newaxis], smooth, counted)
    states, variance = told(floods, weights, shifts)
    curve = from_means(places, np.nanmean(states, axis=1), "threshold method over the flow, Student t over replicates")
    knowledge = _band(states, variance)
    return LevelFrequency(curve, dict(zip(SHARES, knowledge, strict=True)), states[:, :EACH])


def _band(states: Array, variance: Array) -> Array:
    """Quantiles over the states (R, S, L) at every level without the inner error, shape (3, L)."""
    pooled, again = (each.reshape(-1, each.shape[2]) for each in (states, noisier(states, variance)))
    raw, twice = (np.nanquantile(each, SHARES, axis=0, method="hazen") for each in (pooled, again))
    apart = np.array([told_apart(states[..., k], variance[..., k]) for k in range(states.shape[2])])
    mean = np.nanmean(pooled, axis=0)
    found = [without_inner(one, two, mean, share) for one, two, share in zip(raw, twice, SHARES, strict=True)]
    return np.asarray(np.where(apart, found, mean))
