"""What floods that were seen tell: samples re-weighted by how well they would have foretold the observed levels.

The model is run for the flood of each observation with every sample of the uncertain numbers. A sample whose level
misses the observed one by e counts with

    w = product over the observations of exp(-(e / s)^2 / 2),

s being the standard deviation of the observation's own error. What is a new number in each flood (a blockage) must be
drawn anew for the flood that was seen, *given* what is the same in all floods where the two go together
(`Copula.redrawn`): then the weights are those of the joint distribution. What is the same in all floods (a roughness, a
level) is the sample's own, and that is learnt; through it the weighted samples also tell what they teach of the
blockage of the next flood, of every level, and of a year, whose states of knowledge get weights of their own in the
same way. With several draws for each sample every observation counts with the mean of exp(-(e / s)^2 / 2) over them, so
that the luck of one draw does not rule a sample out.

Nothing is answered where the observation contradicts the model: then no re-weighting makes the model right. Nor where
the weights leave too few samples to count on.

Source: Bayes' rule by importance sampling (closed form); the tests compare with conjugate normal models.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtr
from scipy.stats import chi2

from overbank.analysis.intervals import Array, Estimate, over_replicates, t_half_width
from overbank.analysis.outputs import MOST_FAILED
from overbank.analysis.shares import of_replicates
from overbank.errors import DomainError

LEAST_EFFECTIVE = 50
"""Fewer samples of equal weight than this say nothing that could be relied on (common practice)."""

SURPRISE = 1e-3
"""An observation that the model gives so small a chance contradicts it."""

SHARES = (0.05, 0.5, 0.95)
"""Quantiles shown side by side."""


@dataclass(frozen=True)
class Learnt:
    """What the observations make of the samples.

    weights : of each sample, shape (R, N); they sum to 1, and are 0 where a run failed
    effective : samples of equal weight that would tell as much, 1 / sum of w^2
    chances : of each observation: probability, before it was made, of one at least as far out
    failed : samples without a level for some observation
    """

    weights: Array
    effective: float
    chances: tuple[float, ...]
    failed: int


BEYOND = 1e100
"""So many standard deviations are far beyond all doubt; the square of more is no number."""


def weights(
    predicted: Array, observed: Array, error_sd: Array, names: Sequence[str], shares: Array | None = None
) -> Learnt:
    """Weights of the samples from K observations.

    Parameters
    ----------
    predicted : level in the flood of each observation, with every sample [m], shape (K, R, N), or (K, R, N, M) with M
        draws of what comes out anew in each flood; nan is a failed run
    observed : levels [m], shape (K,)
    error_sd : standard deviation of the error of each [m], above 0, shape (K,): of the mark or gauge, and of whatever
        the model cannot know of that flood
    names : of the observations, for the messages
    shares : weights of the draws, their mean over those of a sample being 1, shape (R, N, M); alike if left out

    Raises
    ------
    DomainError : an observation contradicts the model; no sample fits all of them at once; fewer than fifty effective
        samples; more than 1 % failed; wrong shapes; an error of 0
    """
    if predicted.ndim == 3:
        predicted = predicted[..., np.newaxis]
    _check(predicted, observed, error_sd, names)
    with np.errstate(invalid="ignore", over="ignore"):
        far = (predicted - observed[:, None, None, None]) / error_sd[:, None, None, None]
    missed = np.clip(far, -BEYOND, BEYOND)
    failed = np.any(np.isnan(missed), axis=(0, 3))
    chances = tuple(_chance(each[~failed]) for each in missed)
    for name, chance, level, each in zip(names, chances, observed, predicted, strict=True):
        if chance < SURPRISE:
            raise DomainError(_contradiction(name, chance, float(level), each[~failed]))
    least = np.where(failed, np.inf, np.min(np.abs(missed), axis=3))
    squares = np.sum(least**2, axis=0)
    best = float(squares.min())
    if best > chi2.isf(SURPRISE, len(observed)):
        raise DomainError(_at_odds(best, least[:, squares == best][:, 0], names))
    raw = _likelihood(missed, failed, np.ones(1) if shares is None else shares)
    found = raw / raw.sum()
    effective = float(1.0 / np.sum(found**2))
    if effective < LEAST_EFFECTIVE:
        raise DomainError(
            f"learning from floods seen: only {effective:.0f} effective samples are left, {LEAST_EFFECTIVE} are needed."
            " The observations tell more than so few samples can bear: take more samples"
        )
    return Learnt(found, effective, chances, int(np.count_nonzero(failed)))


def mean(values: Array, weights: Array) -> Estimate:
    """Weighted mean of a number or a conditional probability (R, N), Student t over replicates; nan is left out."""
    known = np.where(np.isnan(values), 0.0, weights)
    parts, wholes = np.mean(known * np.nan_to_num(values), axis=1), np.mean(known, axis=1)
    return over_replicates(of_replicates(parts, wholes), "weighted samples, Student t over replicates")


def quantile(values: Array, weights: Array, probability: float) -> Estimate:
    """Weighted quantile of values (R, N): P(X <= x) = probability, with the interval of the weighted share below it.

    As `intervals.replicated_quantile`, which it equals where all weights do.
    """
    ordered, shares = _ordered(values, weights)
    value = _at_share(ordered, shares, probability)
    known = np.where(np.isnan(values), 0.0, weights)
    below = of_replicates(np.mean(known * (values <= value), axis=1), np.mean(known, axis=1))
    half = float(t_half_width(below))
    low, high = (_at_share(ordered, shares, probability + side * half) for side in (-1.0, 1.0))
    return Estimate(value, low, high, "weighted quantile of all samples, interval by replicates")


def side_by_side(values: Array, names: Sequence[str], weights: Array) -> pd.DataFrame:
    """Mean, standard deviation and quantiles before and after the observations.

    Parameters
    ----------
    values : of the inputs, and of the level if wanted, shape (R, N, d)
    names : of the d columns
    weights : from `weights`, shape (R, N)

    Returns
    -------
    table with a row a name: input; prior_mean, prior_sd, prior_5, prior_50, prior_95; the same of posterior; and
    narrowed, the share of the standard deviation that has gone
    """
    rows = []
    for j, name in enumerate(names):
        before = _summary("prior", values[..., j], np.full(weights.shape, 1.0 / weights.size))
        after = _summary("posterior", values[..., j], weights)
        narrowed = 1.0 - after["posterior_sd"] / before["prior_sd"] if before["prior_sd"] > 0.0 else 0.0
        rows.append({"input": name, **before, **after, "narrowed": narrowed})
    return pd.DataFrame(rows)


def _likelihood(missed: Array, failed: NDArray[np.bool_], shares: Array) -> Array:
    """Product over the observations of the mean over the draws, as a share of the greatest, shape (R, N)."""
    halves = -0.5 * missed**2
    greatest = np.max(halves, axis=3, initial=-np.inf)
    shift = np.where(np.isfinite(greatest), greatest, 0.0)
    with np.errstate(divide="ignore"):
        logs = np.sum(shift + np.log(np.mean(shares * np.exp(halves - shift[..., np.newaxis]), axis=3)), axis=0)
    logs = np.where(failed, -np.inf, logs)
    return np.asarray(np.exp(logs - logs.max()))


def _check(predicted: Array, observed: Array, error_sd: Array, names: Sequence[str]) -> None:
    count = len(names)
    if predicted.ndim != 4 or not predicted.shape[0] == observed.size == error_sd.size == count or count == 0:
        raise DomainError(
            "learning from floods seen: expected levels (observations, replicates, samples, draws) and as many "
            f"observed levels, errors and names; got {predicted.shape}, {observed.shape}, {error_sd.shape} and {count}"
        )
    if not (np.all(error_sd > 0.0) and np.all(np.isfinite(observed))):
        raise DomainError("learning from floods seen: expected finite levels, each with an error above 0")
    failed = int(np.count_nonzero(np.any(np.isnan(predicted), axis=(0, 3))))
    if failed > MOST_FAILED * predicted[0, ..., 0].size:
        raise DomainError(
            f"learning from floods seen: {failed} of {predicted[0, ..., 0].size} samples hold a failed run; more than "
            f"{MOST_FAILED:.0%} is refused. Find out which inputs make the runs fail"
        )


def _chance(missed: Array) -> float:
    """Two-sided chance of the observation: model and error together foretell one at least as far out."""
    above = float(np.mean(ndtr(missed)))
    return 2.0 * min(above, 1.0 - above)


def _contradiction(name: str, chance: float, level: float, predicted: Array) -> str:
    low, high = (float(end) for end in np.quantile(predicted, (0.005, 0.995), method="inverted_cdf"))
    rarity = f"of {chance:.1g}" if chance >= 1e-6 else "below one in a million"
    return (
        f"{name}: the observation contradicts the model. Observed {level:.2f} m; foretold {low:.2f} to {high:.2f} m "
        f"(99 samples of 100), and with the observation's error a chance {rarity}. Check the level, its datum "
        "and the flow of that flood; else the model or the spread of its inputs is wrong, and re-weighting would hide "
        "it"
    )


def _at_odds(best: float, missed: Array, names: Sequence[str]) -> str:
    misses = ", ".join(f"{name} by {abs(miss):.1f}" for name, miss in zip(names, missed, strict=True))
    return (
        "learning from floods seen: no sample fits all observations at once, so they contradict each other, or the "
        f"model. The best one misses {misses} standard deviations of their errors (sum of squares {best:.0f}). Check "
        "their levels and flows, and whether their errors are stated too small"
    )


def _summary(when: str, values: Array, weights: Array) -> dict[str, float]:
    known = ~np.isnan(values)
    x, share = values[known], weights[known] / np.sum(weights[known])
    middle = float(share @ x)
    ordered, shares = _ordered(values, weights)
    found = {f"{when}_mean": middle, f"{when}_sd": float(np.sqrt(share @ (x - middle) ** 2))}
    return found | {f"{when}_{p * 100:.0f}": _at_share(ordered, shares, p) for p in SHARES}


def _ordered(values: Array, weights: Array) -> tuple[Array, Array]:
    """Values ascending, and the weight up to and with each, of 1."""
    known = ~np.isnan(values) & (weights > 0.0)
    x, share = values[known], weights[known]
    order = np.argsort(x, kind="stable")
    cumulated = np.cumsum(share[order])
    return x[order], cumulated / cumulated[-1]


def _at_share(ordered: Array, shares: Array, probability: float) -> float:
    """Smallest value with at least this share of the weight at or below it; infinite beyond the samples."""
    if not 0.0 < probability < 1.0:
        return float(np.copysign(np.inf, probability - 0.5))
    place = int(np.searchsorted(shares, probability - 1e-12))
    return float(ordered[min(place, ordered.size - 1)])
