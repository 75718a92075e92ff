"""What it is worth in money to know an input before deciding: keep the site as it is, or act.

Keeping costs the loss L whenever the water goes over. Acting costs C, and L with whatever probability q then remains.
So acting gains d = L (p - q) - C. With what is known today the better choice is worth max(0, E[d]); had the input been
known first, E[max(0, E[d | x])]. The difference is what knowing it is worth, and the most that a survey of it should
ever cost. It is never negative, and it is 0 when no value of the input would change the choice.

E[d | x] is fitted to the samples at hand: by a function that only rises, or only falls, because overtopping does so in
most inputs; by the means of twenty bins where the samples say that it does neither. With few samples a fit to noise
finds some worth in anything: the same fit to shuffled samples tells how much.

Source: Strong, Oakley & Brennan, Med. Decis. Making 34 (2014) 311, for the regression (named in a stored page); the
monotone fit is ours. The tests compare with closed forms.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import isotonic_regression
from scipy.stats import chi2

from overbank.analysis.intervals import Array, Estimate, join_notes, over_replicates
from overbank.analysis.jackknife import pseudo_values
from overbank.analysis.outputs import MOST_FAILED
from overbank.errors import DomainError

BINS = 20

CONTRADICTED = 1e-3
"""A function that only rises or falls is given up when the bins would stray so far from it with this probability."""

SHUFFLES = 20
"""The greatest worth among so many fits to shuffled samples is a 95 % limit on what chance alone gives."""

ENOUGH = 100_000
"""Samples for a settled figure when overtopping is rare (tried on a case with a closed form)."""

ACT, KEEP = "act", "keep as it is"


@dataclass(frozen=True)
class Worth:
    """What knowing one input, or the result of a survey of it, is worth.

    input : its name
    worth : with its 95 % interval [money]
    by_chance : what the same fit to shuffled samples gives at most [money]
    fit : how the expected gain was fitted
    words : what to make of it
    idle : no decision would change, whatever comes out
    """

    input: str
    worth: Estimate
    by_chance: float
    fit: str
    words: str
    idle: bool = False


@dataclass(frozen=True)
class Choice:
    """The decision as it stands.

    gain : of acting over keeping, E[d] [money]
    better : the choice with what is known today
    everything : worth of knowing every input, beyond which no survey can go [money]
    samples : of which these figures are made
    note : what a reader must know beside them
    """

    gain: Estimate
    better: str
    everything: Estimate
    samples: int
    note: str


def gain(overtopping: Array, loss: float, cost: float, remaining: Array | float = 0.0) -> Array:
    """Gain d = L (p - q) - C of acting in each sample [money].

    Parameters
    ----------
    overtopping : p, 1 where the water goes over and 0 where not, or its conditional probability; any shape
    loss, cost : L and C, above 0 [money]
    remaining : q, the same with the option carried out

    Raises
    ------
    DomainError : loss or cost not above 0
    """
    if not (loss > 0.0 and cost > 0.0):
        raise DomainError(f"worth of information: expected a loss and a cost above 0; got {loss:g} and {cost:g}")
    return np.asarray(loss * (overtopping - remaining) - cost)


def choice(gains: Array) -> Choice:
    """The better choice today, and what it would be worth to know everything.

    Parameters
    ----------
    gains : d of the plain 0 or 1 of each sample, shape (R, N); nan is a failed run, left out

    Raises
    ------
    DomainError : fewer than three replicates, or one without any sample; more than 1 % failed
    """
    _check(gains)
    replicates = gains.shape[0]
    mean = over_replicates(np.nanmean(gains, axis=1), "mean, Student t over replicates")
    figures = pseudo_values(lambda chosen: _worth(gains[chosen].ravel()), replicates)
    everything = _not_negative(over_replicates(figures, "mean, jackknife over replicates"))
    samples = int(np.count_nonzero(~np.isnan(gains)))
    failed = gains.size - samples
    note = join_notes(
        f"{samples} samples; {ENOUGH} or more are advised where overtopping is rare" if samples < ENOUGH else "",
        f"{failed} of {gains.size} samples failed and are left out" if failed else "",
    )
    return Choice(mean, ACT if mean.value > 0.0 else KEEP, everything, samples, note)


def worth(name: str, values: Array, gains: Array, by_chance: float) -> Worth:
    """What knowing one input is worth, from the samples at hand.

    Parameters
    ----------
    name : of the input
    values : the input itself, or the result that a survey of it would give (`survey.result`), shape (R, N). Learning
        an input tells of those that depend on it too
    gains : d, shape (R, N); nan is left out. From the conditional probability of the threshold method, which scatters
        less; for the input that it integrates out, from the plain 0 or 1
    by_chance : from `by_chance`

    Raises
    ------
    DomainError : shapes differ; fewer than three replicates, or one without any sample; more than 1 % failed
    """
    _check(gains)
    if values.shape != gains.shape:
        raise DomainError(f"worth of {name}: expected its values of shape {gains.shape}; got {values.shape}")
    usable = ~np.isnan(gains)
    rows = np.broadcast_to(np.arange(gains.shape[0])[:, np.newaxis], gains.shape)[usable]
    order = np.argsort(values[usable], kind="stable")
    x, d, replicate = values[usable][order], gains[usable][order], rows[order]
    fit = _chosen_fit(x, d)

    def of_some(chosen: NDArray[np.intp]) -> float:
        kept = np.isin(np.arange(gains.shape[0]), chosen)[replicate]
        return _worth(fit(x[kept], d[kept]))

    found = over_replicates(pseudo_values(of_some, gains.shape[0]), "fitted gain, jackknife over replicates")
    estimate = _not_negative(found)
    plain, mean = _worth(fit(x, d)), float(np.mean(d))
    idle = plain <= 1e-12 * abs(mean)
    words = _idle_words(name, mean) if idle else _words(estimate, plain, by_chance)
    return Worth(name, estimate, by_chance, fit.words, words, idle)


def by_chance(gains: Array, generator: np.random.Generator) -> float:
    """Greatest worth that the fit finds in an input that tells nothing: the gains in random order [money]."""
    _check(gains)
    d = gains[~np.isnan(gains)]
    order = np.arange(d.size, dtype=np.float64)
    found = []
    for _ in range(SHUFFLES):
        shuffled = generator.permutation(d)
        found.append(_worth(_chosen_fit(order, shuffled)(order, shuffled)))
    return max(found)


def table(found: Sequence[Worth]) -> pd.DataFrame:
    """One row an input, the one most worth knowing first."""
    ranked = sorted(found, key=lambda each: -each.worth.value)
    return pd.DataFrame(
        {
            "input": [each.input for each in ranked],
            "worth": [each.worth.value for each in ranked],
            "worth_low": [each.worth.low for each in ranked],
            "worth_high": [each.worth.high for each in ranked],
            "by_chance": [each.by_chance for each in ranked],
            "words": [each.words for each in ranked],
        }
    )


@dataclass(frozen=True)
class _Fit:
    """E[d | x] at every sample, x ascending: rising (1), falling (-1) or in bins (0)."""

    direction: int

    @property
    def words(self) -> str:
        return {1: "rises with it", -1: "falls with it", 0: f"means of {BINS} bins"}[self.direction]

    def __call__(self, x: Array, d: Array) -> Array:
        first = np.flatnonzero(np.diff(x, prepend=-np.inf) > 0.0)
        if self.direction == 0:
            bins = first * BINS // x.size
            first = first[np.flatnonzero(np.diff(bins, prepend=-1) > 0)]
        counts = np.diff(first, append=x.size)
        means = np.add.reduceat(d, first) / counts
        if self.direction != 0:
            means = isotonic_regression(means, weights=counts, increasing=self.direction > 0).x
        return np.asarray(np.repeat(means, counts))


def _chosen_fit(x: Array, d: Array) -> _Fit:
    """The direction that the means of the bins contradict least, or bins where they contradict both."""
    means = _Fit(0)(x, d)
    first = np.flatnonzero(np.diff(means, prepend=np.inf) != 0.0)
    counts = np.diff(first, append=x.size)
    variances = np.add.reduceat((d - means) ** 2, first) / counts
    precision = counts / np.maximum(variances, 1e-6 * float(np.var(d)) or 1.0)
    strays = {}
    for direction in (1, -1):
        fitted = isotonic_regression(means[first], weights=precision, increasing=direction > 0).x
        strays[direction] = float(np.sum(precision * (means[first] - fitted) ** 2))
    best = min(strays, key=strays.__getitem__)
    return _Fit(best if strays[best] <= chi2.isf(CONTRADICTED, BINS) else 0)


def _worth(expected: Array) -> float:
    """E[max(0, d)] - max(0, E[d]) of expected gains; nan is left out."""
    kept = expected[~np.isnan(expected)]
    return max(0.0, float(np.mean(np.maximum(kept, 0.0))) - max(0.0, float(np.mean(kept))))


def _not_negative(found: Estimate) -> Estimate:
    value, low, high = (max(0.0, end) for end in (found.value, found.low, found.high))
    return Estimate(value, low, high, found.method, found.note)


def _idle_words(name: str, mean: float) -> str:
    better = ACT if mean > 0.0 else KEEP
    return f'0: no decision would change, "{better}" stays the better choice whatever {name} turns out to be'


def _words(found: Estimate, plain: float, chance: float) -> str:
    if plain <= chance or found.low <= 0.0:
        return f"not to be told from 0 with these samples: shuffled ones give up to {chance:.3g}"
    return ""


def _check(gains: Array) -> None:
    if gains.ndim != 2 or np.any(np.all(np.isnan(gains), axis=1)):
        raise DomainError(
            "worth of information: expected gains of shape (replicates, samples) with a number in every replicate; "
            f"got {gains.shape}"
        )
    failed = int(np.count_nonzero(np.isnan(gains)))
    if failed > MOST_FAILED * gains.size:
        raise DomainError(
            f"worth of information: {failed} of {gains.size} samples failed; more than {MOST_FAILED:.0%} is refused. "
            "Find out which inputs make the runs fail"
        )
