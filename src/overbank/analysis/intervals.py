"""A figure never travels without its interval: the carrier, and the ways to find the interval.

Independent samples (plain Monte Carlo) and randomised Sobol' points need different intervals. The binomial
ones below hold for independent samples only. For Sobol' points the sampling is repeated with independent
scrambles, and the scatter of the repeats gives a Student t interval.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import bdtr, stdtrit

from overbank.errors import DomainError

Array = NDArray[np.float64]

NORMAL_975 = 1.959963984540054
"""97.5 % point of the standard normal distribution (closed form)."""

INDEPENDENT = "monte_carlo"
"""The one sampling design whose samples are independent, so that counts are binomial."""


@dataclass(frozen=True)
class Estimate:
    """A figure with its 95 % interval.

    value, low, high : in the unit of the quantity
    method : how value and interval were found, in words
    note : what a reader must know beside the figure; empty when there is nothing to say

    Examples
    --------
    >>> over = outcome.overtopping.best
    >>> over.low <= over.value <= over.high
    True
    """

    value: float
    low: float
    high: float
    method: str
    note: str = ""


COMMON = "common random numbers, Student t over replicates"
"""Method of a difference of two figures that are found on the same random numbers."""


def join_notes(*notes: str) -> str:
    """The notes that say something, as one line."""
    return "; ".join(note for note in notes if note)


def wilson(events: int, trials: int) -> Estimate:
    """Probability from counted events among independent trials, Wilson score interval.

    centre = (p + z^2/2n)/(1 + z^2/n), half width = z sqrt(p(1-p)/n + z^2/4n^2)/(1 + z^2/n).
    With no event (or nothing but events) the open end is the exact one-sided 95 % limit, 1 - 0.05^(1/n).

    Source: Wilson, J. Am. Stat. Assoc. 22 (1927) 209. From memory, unverified; coverage is tested.

    Raises
    ------
    DomainError : no trials, or more events than trials
    """
    share = _share(events, trials)
    if events in (0, trials):
        return _one_sided(events, trials)
    z2 = NORMAL_975**2 / trials
    centre = (share + z2 / 2) / (1 + z2)
    half = np.sqrt(z2 * share * (1 - share) + z2**2 / 4) / (1 + z2)
    return Estimate(share, float(centre - half), float(centre + half), "counted events, Wilson interval")


def _share(events: int, trials: int) -> float:
    if trials < 1 or not 0 <= events <= trials:
        raise DomainError(
            f"probability from counts: expected 0 <= events <= trials with at least one trial; got {events} "
            f"events in {trials} trials. Were all samples excluded as failed?"
        )
    return float(events / trials)


def _one_sided(events: int, trials: int) -> Estimate:
    """Nothing, or everything, happened: 0.05^(1/n) is the exact limit (closed form)."""
    limit = float(-np.expm1(np.log(0.05) / trials))
    method = "counted events, exact one-sided 95 % limit"
    if events == 0:
        return Estimate(0.0, 0.0, limit, method, f"no event in {trials} samples")
    return Estimate(1.0, 1.0 - limit, 1.0, method, f"an event in every one of {trials} samples")


def effective(weights: Array) -> float:
    """Effective number of samples, (sum w)^2 / sum w^2; nan counts as 0."""
    squares = float(np.nansum(weights**2))
    return float(np.nansum(weights)) ** 2 / squares if squares > 0 else 0.0


def t_half_width(replicates: Array) -> Array:
    """Half width of the 95 % Student t interval of the mean over the first axis; nan for one replicate."""
    count = replicates.shape[0]
    if count < 2:
        return np.full(replicates.shape[1:], np.nan)
    spread = np.std(replicates, axis=0, ddof=1)
    return np.asarray(stdtrit(count - 1, 0.975) * spread / np.sqrt(count))


def least_half_width(trials: ArrayLike, replicates: int) -> Array:
    """Half width below which no interval of a share that is counted in replicates can lie; nan for one replicate.

    The points of a net count n p events to the nearest one above or below: one more in a share f of the replicates, f
    being what is left over of n p. None of R replicates may show it, or all: (1 - f)^R = 0.05 gives the largest f that
    passes unseen, and f/n is about 3/(R n). Replicates that all agree would else claim certainty (closed form).

    Parameters
    ----------
    trials : all together, R n; where they are weighted, as many as would tell as much; any shape
    """
    unseen = -np.expm1(np.log(0.05) / replicates) if replicates > 1 else np.nan
    return np.asarray(unseen * replicates / np.asarray(trials, dtype=np.float64))


def counted_half_width(shares: Array, trials: ArrayLike) -> Array:
    """Half width of the 95 % interval of shares (R, ...) counted among so many trials together: that of Student t, or
    `least_half_width`."""
    return np.maximum(t_half_width(shares), least_half_width(trials, len(shares)))


STRAIGHT = 1e-6
"""A skewness of less bends nothing."""


def lopsided_ends(replicates: Array, skewness: float) -> tuple[float, float]:
    """Ends of the 95 % interval of the mean of replicates (R,): Student t, made lopsided by the skewness of the mean.

    With standard error s and t quantile q: m - s x, where x solves x + g x^2/3 + g^2 x^3/27 + g/6 = q, and -q, for the
    skewness g. A mean of few values of which some are far above the others lies below the truth more often than above
    it; the ends of Student t lie as far on both sides.

    Parameters
    ----------
    skewness : of the mean; that of n independent values together is theirs divided by n^0.5

    Source: P. Hall, J. R. Stat. Soc. B 54 (1992) 221. From memory, unverified; its coverage is tested.
    """
    mean, half = float(np.mean(replicates)), float(t_half_width(replicates))
    if abs(skewness) < STRAIGHT:
        return mean - half, mean + half
    quantile = float(stdtrit(replicates.size - 1, 0.975))
    error = half / quantile
    ends = np.array([quantile, -quantile])
    bent = 3.0 / skewness * (np.cbrt(1.0 + skewness * (ends - skewness / 6.0)) - 1.0)
    return float(mean - error * bent[0]), float(mean - error * bent[1])


def over_replicates(values: ArrayLike, method: str, clip: tuple[float, float] | None = None) -> Estimate:
    """Mean over independent replicates (scrambles) with a Student t interval.

    Parameters
    ----------
    values : one figure from each replicate, shape (R,)
    method : words for the result
    clip : ends that the interval cannot pass, (0, 1) for a probability

    One replicate gives a nan interval; nan replicates are left out and counted in the note; with infinite
    replicates the value is the median one and the interval is open at the infinite end.

    Raises
    ------
    DomainError : no replicate left
    """
    given = np.atleast_1d(np.asarray(values, dtype=np.float64))
    kept = given[~np.isnan(given)]
    if kept.size == 0:
        raise DomainError(f"{method}: expected at least one replicate with a number; got {given.size} of nan")
    lost = given.size - kept.size
    note = f"{lost} of {given.size} replicates gave no number and are left out" if lost else ""
    if not np.all(np.isfinite(kept)):
        return _open_ended(kept, method, note)
    value = float(np.mean(kept))
    if kept.size == 1:
        return Estimate(value, np.nan, np.nan, method, join_notes("one replicate: no interval", note))
    half = float(t_half_width(kept))
    low, high = clip if clip is not None else (-np.inf, np.inf)
    return Estimate(value, max(low, value - half), min(high, value + half), method, note)


def share_over_replicates(shares: Array, trials: float, method: str) -> Estimate:
    """As `over_replicates`, for shares (R,) counted among so many trials together, no narrower than
    `least_half_width`."""
    found, least = over_replicates(shares, method, (0.0, 1.0)), float(least_half_width(trials, shares.size))
    low, high = min(found.low, max(found.value - least, 0.0)), max(found.high, min(found.value + least, 1.0))
    return replace(found, low=low, high=high)


def _open_ended(kept: Array, method: str, note: str) -> Estimate:
    """Interval from replicates of which some are infinite."""
    endless = int(np.sum(np.isinf(kept)))
    words = f"{endless} of {kept.size} replicates are infinite: median replicate, ends not by Student t"
    value = float(np.sort(kept)[kept.size // 2])
    return Estimate(value, float(kept.min()), float(kept.max()), method, join_notes(words, note))


def order_statistic_quantile(values: ArrayLike, probability: float) -> Estimate:
    """Quantile of independent values: P(X <= x) = probability, interval by order statistics.

    The count of values below the quantile is binomial, so the ranks that hold it with 95 % need no
    assumption about the distribution. An end is infinite when the sample is too small to give one.

    Source: the binomial argument is elementary (closed form).
    """
    ordered = _ordered(np.asarray(values, dtype=np.float64), probability)
    count = ordered.size
    middle, spread = count * probability, np.sqrt(count * probability * (1 - probability))
    ranks = np.arange(
        max(-1, int(middle - 8 * spread - 8)), min(count, int(middle + 8 * spread + 8)) + 1, dtype=np.float64
    )
    below = np.where(ranks < 0, 0.0, bdtr(np.maximum(ranks, 0), count, probability))  # P(count below <= rank)
    low_rank = int(ranks[np.searchsorted(below, 0.025, side="right") - 1])
    high_rank = int(ranks[np.searchsorted(below, 0.975, side="left")])
    low = float(ordered[low_rank]) if low_rank >= 0 else -np.inf
    high = float(ordered[high_rank]) if high_rank < count else np.inf
    open_end = low_rank < 0 or high_rank >= count
    note = f"{count} samples are too few to bound this quantile on both sides" if open_end else ""
    return Estimate(_at_share(ordered, probability), low, high, "order statistics, binomial interval", note)


def replicated_quantile(values: ArrayLike, probability: float) -> Estimate:
    """Quantile of a replicated design: P(X <= x) = probability; values (R, N), nan left out and counted.

    The value is the quantile of all samples together. At that value each replicate has its own share of
    samples below; their Student t half width d, or `least_half_width`, turns into the quantiles at probability - d
    and probability + d. Infinite values are ordinary values here.

    Source: Woodruff, J. Am. Stat. Assoc. 47 (1952) 635, for the inversion. From memory, unverified; its
    coverage is tested.
    """
    table = np.atleast_2d(np.asarray(values, dtype=np.float64))
    ordered = _ordered(table.ravel(), probability)
    value = _at_share(ordered, probability)
    lost = table.size - ordered.size
    note = f"{lost} of {table.size} samples failed and are left out" if lost else ""
    method = "quantile of all samples, interval by replicates"
    kept = [row[~np.isnan(row)] for row in table]
    shares = np.array([np.mean(row <= value) for row in kept if row.size])
    if shares.size < 2:
        return Estimate(value, np.nan, np.nan, method, join_notes("one replicate: no interval", note))
    half = float(counted_half_width(shares, ordered.size))
    low = _at_share(ordered, probability - half) if probability > half else -np.inf
    high = _at_share(ordered, probability + half) if probability + half < 1 else np.inf
    if not (probability > half and probability + half < 1):
        note = join_notes("too few samples to bound this quantile on both sides", note)
    return Estimate(value, low, high, method, note)


def weighted_quantile(values: Array, weights: Array, probability: float) -> Estimate:
    """As `replicated_quantile`, for values (R, N) that weigh as the weights (R, N) say."""
    kept = ~np.isnan(values)
    if not kept.any():
        raise DomainError(f"quantile: expected at least one sample with a number; got {values.size} of nan")
    order = np.argsort(values[kept], kind="stable")
    ordered, shares = values[kept][order], np.cumsum(weights[kept][order])
    shares = shares / shares[-1]
    value = _at_weight(ordered, shares, probability)
    below = [
        float(np.sum(weight[own] * (row[own] <= value)) / np.sum(weight[own]))
        for row, weight, own in zip(values, weights, kept, strict=True)
        if np.sum(weight[own]) > 0.0
    ]
    lost = values.size - ordered.size
    note = f"{lost} of {values.size} samples failed and are left out" if lost else ""
    method = "quantile of all samples by their weights, interval by replicates"
    if len(below) < 2:
        return Estimate(value, np.nan, np.nan, method, join_notes("one replicate: no interval", note))
    half = float(counted_half_width(np.array(below), effective(weights[kept])))
    low = _at_weight(ordered, shares, probability - half) if probability > half else -np.inf
    high = _at_weight(ordered, shares, probability + half) if probability + half < 1 else np.inf
    if not (probability > half and probability + half < 1):
        note = join_notes("too few samples to bound this quantile on both sides", note)
    return Estimate(value, low, high, method, note)


def _at_weight(ordered: Array, shares: Array, share: float) -> float:
    """Smallest value with at least this share of the weight at or below it."""
    return float(ordered[min(int(np.searchsorted(shares, share - 1e-12)), ordered.size - 1)])


def smooth_quantile(values: ArrayLike, probability: float) -> Estimate:
    """As `replicated_quantile`, by straight lines between the values, the k-th of n at the share (k - 1/2)/n.

    For a number whose values nearly all differ and lie evenly, as those of a Sobol' design do: there half a rank is no
    less than the whole sampling error. Lumps stay what they are.
    """
    table = np.atleast_2d(np.asarray(values, dtype=np.float64))
    ordered = _ordered(table.ravel(), probability)
    places = (np.arange(ordered.size) + 0.5) / ordered.size
    kept = [np.sort(row[~np.isnan(row)]) for row in table]
    method = "quantile of all states, interval by replicates"
    lost = table.size - ordered.size
    note = f"{lost} of {table.size} have no number and are left out" if lost else ""
    value = float(np.interp(probability, places, ordered))
    lines = np.array([np.interp(value, row, (np.arange(row.size) + 0.5) / row.size) for row in kept if row.size])
    steps = np.array([np.mean(row <= value) for row in kept if row.size])
    if lines.size < 2:
        return Estimate(value, np.nan, np.nan, method, join_notes("one replicate: no interval", note))
    half = max(float(t_half_width(lines)), float(t_half_width(steps)), 0.5 / ordered.size)
    inside = probability - half > places[0], probability + half < places[-1]
    low = float(np.interp(probability - half, places, ordered)) if inside[0] else -np.inf
    high = float(np.interp(probability + half, places, ordered)) if inside[1] else np.inf
    words = "" if all(inside) else "too few states to bound this quantile on both sides"
    return Estimate(value, low, high, method, join_notes(words, note))


def _ordered(values: Array, probability: float) -> Array:
    """The values that are numbers, ascending."""
    if not 0 < probability < 1:
        raise DomainError(f"quantile: expected a probability between 0 and 1; got {probability}")
    kept = np.sort(values[~np.isnan(values)])
    if kept.size == 0:
        raise DomainError(f"quantile: expected at least one sample with a number; got {values.size} of nan")
    return kept


def _at_share(ordered: Array, share: float) -> float:
    """Smallest value with at least this share of the samples at or below it."""
    rank = int(np.ceil(share * ordered.size - 1e-9)) - 1
    return float(ordered[min(max(rank, 0), ordered.size - 1)])
