"""What a survey of one input would narrow, before it is made.

In normal scores the input is what the survey would tell and what it would leave,

    z_j = sqrt(1 - r^2) k + r e,     k, e independent and standard normal,

so that result and remaining error together are what is known today, whatever the result. r is the share of the
standard deviation that is left (`share_left`). Once k is known z_j is N(sqrt(1 - r^2) k, r^2). Inputs that depend on
it go along: given z_j they are as the Gaussian copula says, so that surveying one input tells of its partners too.

For each of a few values of k, weighted by their probability, all else is sampled: the band of levels and the
probability of overtopping are those that would be quoted after the survey had given k. The mean of that band over k
is held against today's, from the same samples, so that what chance does to the one it does to the other.

Source: preposterior analysis, Raiffa & Schlaifer, Applied Statistical Decision Theory (1961). From memory,
unverified; the tests compare with closed forms.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import betainc

from overbank.analysis.intervals import Array, Estimate, over_replicates
from overbank.analysis.jackknife import pseudo_values
from overbank.analysis.outputs import usable_rows
from overbank.analysis.together import together
from overbank.errors import DomainError

Evaluate = Callable[[Array], tuple[Array, Array]]
"""The model: correlated normal scores (M, d) -> levels [m] and whether, or how likely, they go over the bank (M,)."""

BAND = (0.05, 0.95)
"""The band of levels holds nine tenths of the probability."""

KNOWN = np.linspace(-5.0, 5.0, 33)
"""Scores k of the survey's result."""

CHANCE = np.exp(-0.5 * KNOWN**2) / np.sum(np.exp(-0.5 * KNOWN**2))
"""How likely each of them is."""

NOTHING = 1e-12
"""A band of levels that is narrower by so small a share only, or a probability so little away, has not changed."""

METHOD = "nested samples, jackknife over replicates"


@dataclass(frozen=True)
class Narrowing:
    """What the survey of one input would do; every figure with its 95 % interval.

    input : its name
    cost : of the survey [money]
    band_before, band_after : width of the 90 % band of levels today, and its mean after the survey [m]
    narrowing : their difference [m]
    sd_before, sd_after : standard deviation of the level today, and root of its mean square after the survey [m]
    probability_spread : standard deviation of the probability of overtopping over the survey's possible results: how
        far the survey may move it [-]
    runs : of the model; failed : those without a number, left out
    """

    input: str
    cost: float
    band_before: Estimate
    band_after: Estimate
    narrowing: Estimate
    sd_before: Estimate
    sd_after: Estimate
    probability_spread: Estimate
    runs: int
    failed: int

    @property
    def per_cost(self) -> Estimate:
        """Narrowing of the band per unit of money [m]; infinite where a survey that narrows it costs nothing."""
        return _per_cost(self.narrowing, self.cost)

    @property
    def spread_per_cost(self) -> Estimate:
        """How far the survey may move the probability of overtopping, per unit of money [-]; infinite likewise."""
        return _per_cost(self.probability_spread, self.cost)


def share_left(value: Callable[[Array], Array], sd_after: float) -> float:
    """Share r of the normal score's standard deviation that leaves the input a standard deviation `sd_after`.

    For a normal distribution r = sd_after / sd. For others the standard deviation that is left depends on the result;
    r is such that its root mean square over the results is `sd_after`.

    Parameters
    ----------
    value : of the input from its normal score
    sd_after : standard deviation that the survey would leave, in the unit of the input; 0 or more

    Raises
    ------
    DomainError : the input's standard deviation is not above `sd_after`
    """
    score = np.linspace(-8.0, 8.0, 161)
    weight = np.exp(-0.5 * score**2) / np.sum(np.exp(-0.5 * score**2))
    fine = np.linspace(-12.0, 12.0, 4801)
    values = value(fine)

    def remaining(left: float) -> float:
        at = np.sqrt(1.0 - left**2) * score[:, np.newaxis] + left * score
        of_result = np.interp(at, fine, values)
        mean = of_result @ weight
        return float(weight @ ((of_result - mean[:, np.newaxis]) ** 2 @ weight) - sd_after**2)

    if not (sd_after >= 0.0 and remaining(1.0) > 0.0):
        today = np.sqrt(remaining(1.0) + sd_after**2)
        raise DomainError(
            f"survey: expected it to leave a standard deviation below today's {today:.4g}; got {sd_after:.4g}. The "
            "survey would not narrow it"
        )
    return float(brentq(remaining, 0.0, 1.0)) if sd_after > 0.0 else 0.0


def result(scores: Array, left: float, generator: np.random.Generator) -> Array:
    """What the survey would tell, k, for samples of the input's normal score; the worth of k is that of the survey."""
    return np.asarray(np.sqrt(1.0 - left**2) * scores + left * generator.standard_normal(scores.shape))


def after(scores: Array, column: int, correlation: Array, left: float, known: float) -> Array:
    """Correlated scores (..., d) as they would be sampled once the survey of one column had given k = `known`.

    The column's own score becomes the error that is left; the others shift with it as the copula says.
    """
    own = np.sqrt(1.0 - left**2) * known + left * scores[..., column]
    return np.asarray(scores + (own - scores[..., column])[..., np.newaxis] * correlation[column])


def narrowing(
    name: str, scores: Array, column: int, correlation: Array, left: float, cost: float, evaluate: Evaluate
) -> Narrowing:
    """What the survey of one input would narrow.

    Parameters
    ----------
    name : of the input
    scores : correlated normal scores, shape (R, n, d): the first n samples of each replicate of the run
    column : of the input
    correlation : of the normal scores, shape (d, d); the unit matrix for independent inputs
    left : share of the score's standard deviation that is left, from `share_left`
    cost : of the survey [money], 0 or more
    evaluate : the model. A conditional probability of the threshold method may stand for going over the bank, unless
        the survey is of the integrated input itself

    Raises
    ------
    DomainError : the survey would not narrow it; fewer than three replicates; infinite levels; more than 1 % failed
    """
    if not 0.0 <= left < 1.0:
        raise DomainError(f"survey of {name}: expected a share left below 1; got {left:g}. It would not narrow it")
    replicates, samples, inputs = scores.shape
    tables = [scores, *(after(scores, column, correlation, left, known) for known in KNOWN)]
    found = [evaluate(some.reshape(-1, inputs)) for some in together(tables)]
    shape = (len(tables), replicates, samples)
    levels, over = (np.concatenate([each[part] for each in found]).reshape(shape) for part in (0, 1))
    failed = np.isnan(levels) | np.isnan(over)
    usable = usable_rows(np.where(failed, np.nan, levels).swapaxes(0, 1), f"survey of {name}")
    figures = pseudo_values(lambda chosen: _figures(levels[:, chosen], over[:, chosen], usable[chosen]), replicates)
    before, then, less, sd, sd_then, between = (over_replicates(each, METHOD) for each in figures.T)
    spread, lost = _root(between), int(np.count_nonzero(failed))
    return Narrowing(name, cost, before, then, less, sd, sd_then, spread, levels.size, lost)


def ranked(found: Sequence[Narrowing]) -> tuple[Narrowing, ...]:
    """The surveys, the one that narrows the band of levels most for its cost first.

    Those whose narrowing cannot be told from 0 come after, the one that may move the probability of overtopping most
    for its cost first.
    """

    def key(each: Narrowing) -> tuple[float, float, float]:
        told = each.narrowing.low > 0.0
        return -each.per_cost.value if told else 0.0, -each.spread_per_cost.value, -each.narrowing.value

    return tuple(sorted(found, key=key))


def table(found: Sequence[Narrowing]) -> pd.DataFrame:
    """One row a survey, in the order of `ranked`."""
    return pd.DataFrame([_row(each) for each in ranked(found)])


def _figures(levels: Array, over: Array, usable: NDArray[np.bool_]) -> Array:
    """Bands, standard deviations and variance of the probability; tables (1 + K, R, n), today's samples first."""
    pooled = levels[:, usable]
    bands, variances = _bands(pooled), np.var(pooled, axis=1)
    gaps = bands[0] - bands[1:]
    gaps[np.abs(gaps) < NOTHING * bands[0]] = 0.0
    before, then, less = bands[0], CHANCE @ bands[1:], CHANCE @ gaps
    probabilities = np.mean(over[1:], axis=2, where=usable)
    return np.array(
        [
            *(before, then, less),
            *np.sqrt([variances[0], CHANCE @ variances[1:]]),
            _variance_between(probabilities),
        ]
    )


def _bands(levels: Array) -> Array:
    """Width of the band of each row, shape (K, M), from quantiles that take every sample into account.

    The p-quantile is the mean of the ordered samples weighted by the beta distribution with (M + 1) p and
    (M + 1) (1 - p): smooth enough for the jackknife, which a single ordered sample is not.

    Source: Harrell & Davis, Biometrika 69 (1982) 635. From memory, unverified; the tests hold it against closed forms.
    """
    count = levels.shape[1]
    steps = np.linspace(0.0, 1.0, count + 1)
    low, high = (np.diff(betainc((count + 1) * p, (count + 1) * (1.0 - p), steps)) for p in BAND)
    return np.asarray(np.sort(levels, axis=1) @ (high - low))


def _variance_between(probabilities: Array) -> float:
    """Variance over k of P(overtop | k), shape (K, R): products of different replicates, so that noise adds nothing."""
    centred = probabilities - CHANCE @ probabilities
    centred[np.abs(centred) < NOTHING] = 0.0
    count = probabilities.shape[1]
    squares = centred.sum(axis=1) ** 2 - np.sum(centred**2, axis=1)
    return float(CHANCE @ squares / (count * (count - 1)))


def _root(squared: Estimate) -> Estimate:
    value, low, high = (float(np.sqrt(max(0.0, end))) for end in (squared.value, squared.low, squared.high))
    return Estimate(value, low, high, squared.method, squared.note)


def _per_cost(figure: Estimate, cost: float) -> Estimate:
    """A figure divided by a cost; what is 0 stays 0 even where the cost is 0."""

    def divided(end: float) -> float:
        return end / cost if cost > 0.0 else float(np.copysign(np.inf, end)) if end != 0.0 else 0.0

    return Estimate(divided(figure.value), divided(figure.low), divided(figure.high), figure.method, figure.note)


def _row(found: Narrowing) -> dict[str, str | float]:
    figures = {
        "narrowing": found.narrowing,
        "narrowing_per_cost": found.per_cost,
        "probability_spread": found.probability_spread,
        "spread_per_cost": found.spread_per_cost,
    }
    row: dict[str, str | float] = {"input": found.input, "cost": found.cost}
    row |= {"band_before": found.band_before.value, "band_after": found.band_after.value}
    row |= {"sd_before": found.sd_before.value, "sd_after": found.sd_after.value}
    for name, figure in figures.items():
        row |= {name: figure.value, f"{name}_low": figure.low, f"{name}_high": figure.high}
    return row
