"""Blockage from inspection records: a zero-and-one-inflated beta fitted to what was seen, its prior beside it.

A look says that the blocked share B was 0, or 1, or lay in an interval, because nobody reads a share off exactly:

    P(look) = zero p0 + one p1 + (1 - p0 - p1) (F(high) - F(low)),      F of beta(m k, (1 - m) k)

with zero or one where the look does not tell 0 or 1 from what is next to it. Looks that show the same debris share the
weight of one. The prior is a starting point that the user names: worth five looks in p0 and p1 (Dirichlet), and spread
as below in logit m and ln k (normal). The posterior comes from Gibbs draws: each look is given to 0, to 1 or to what is
between; p0 and p1 are drawn from their Dirichlet, m and k from all points of a grid at once.

What is used, however few the looks, is the posterior predictive: the mean over all draws. Prior and data are weighed by
the likelihood alone, and how much is prior is told. The draws themselves are kept: each is a model of the blockage, and
which of them holds is knowledge, the same in all floods (`parameters`). Own proposal, not published; the tests recover
what simulated records were made from, and where every look is sure the chances of 0 and 1 are a closed form.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, expit, gammaincinv, logit

from overbank.uncertain.blockage_models import InflatedBetaModels, MixedBetas
from overbank.uncertain.bounded import InflatedBeta
from overbank.uncertain.scores import Values, as_values

LEAST_LOOKS = 20.0
"""With fewer looks than this a warning says that much of the posterior is prior: common practice, no source."""

PRIOR_WORTH, LEAST_WORTH = 5.0, 0.05
"""Looks that the prior's chances of 0 and 1 are worth, and the least that any of them is; own proposal."""

LOGIT_SD, LOG_SD = 0.7, 0.6
"""Prior spread of logit m and of ln k; own proposal."""

REACH, POINTS = 3.5, 41
"""The grid of m and k: so many standard deviations of the prior to either side, so many points along each."""

DRAWS, BURNT = 2048, 200
"""Draws of the posterior that are kept, and those left out before."""

GOLDEN = 1.1673039782614187
"""Root of x^5 = x + 1, whose powers fill four dimensions evenly (Roberts 2018, from memory, unverified)."""

SEVERE = 0.67
"""A blockage beyond which the probability is told; a usual design case (common practice, no source)."""


@dataclass(frozen=True)
class Looks:
    """What was seen, one entry a look; all of the same length.

    low, high : ends of the interval of the blocked share between 0 and 1; low = high where it was surely 0 or 1
    zero, one : whether it may have been 0, and 1
    weight : 1, or less where several looks show the same debris
    """

    low: tuple[float, ...]
    high: tuple[float, ...]
    zero: tuple[bool, ...]
    one: tuple[bool, ...]
    weight: tuple[float, ...]

    @property
    def worth(self) -> float:
        """Number of independent looks."""
        return float(sum(self.weight))


@dataclass(frozen=True)
class Known:
    """A quantity of the blockage before and after the records: prior, then posterior mean with 5 and 95 %."""

    words: str
    prior: float
    posterior: float
    low: float
    high: float


@dataclass(frozen=True)
class RecordFit:
    """What the records say.

    prior : the starting point
    nearest : the inflated beta with the chances of 0 and 1 of the posterior predictive, and its mean and spread between
    known : chances of 0 and 1, mean, and probability of a severe blockage, before and after
    few : whether there were fewer than `LEAST_LOOKS`, so that much of it is prior
    prior_share : of what tells the chances of 0 and of 1, the share that is prior and not looks [-]
    prior_share_between : of the mean of what lies between, variance left as a share of that of the prior [-]
    models : the draws, ranked by their means
    """

    prior: InflatedBeta
    nearest: InflatedBeta
    known: tuple[Known, ...]
    few: bool
    prior_share: float
    prior_share_between: float
    models: InflatedBetaModels = field(repr=False, compare=False)


@dataclass(frozen=True, eq=False)
class RecordedBlockage(MixedBetas):
    """A blockage that rests on inspection records, with what a reader must know of them."""

    fit: RecordFit = field(repr=False)
    warnings: tuple[str, ...] = field(repr=False)

    @classmethod
    def of(cls, fit: RecordFit, warnings: tuple[str, ...] = ()) -> RecordedBlockage:
        """The distribution that a run takes."""
        return cls(fit.nearest.at_zero, fit.nearest.at_one, fit.models, fit, warnings)

    @property
    def words(self) -> str:
        used = self.fit.nearest
        return InflatedBeta(*(float(f"{each:.3g}") for each in (used.at_zero, used.a, used.b, used.at_one))).words

    @property
    def miss(self) -> float:
        """Largest difference in probability between the predictive and the inflated beta that the words name."""
        x = np.linspace(0.01, 0.99, 99)
        return float(np.max(np.abs(self.fit.nearest.cdf(x) - self.cdf(x))))


@lru_cache(maxsize=32)
def fit_records(looks: Looks, prior: InflatedBeta, worth_of_prior: float = PRIOR_WORTH) -> RecordFit:
    """The posterior and its predictive, from a prior; the same for the same looks every time.

    Parameters
    ----------
    looks : what was seen
    prior : starting point, with a chance of values between 0 and 1
    worth_of_prior : looks that its chances of 0 and 1 are worth
    """
    worths = worths_of(prior, worth_of_prior)
    shares, means, concentrations, chances = _posterior(looks, prior, worths)
    nearest = _matched(shares, means, concentrations, chances)
    worth = float(worths.sum())
    return RecordFit(
        prior=prior,
        nearest=nearest,
        known=_known(prior, shares, means, concentrations),
        few=looks.worth < LEAST_LOOKS,
        prior_share=worth / (worth + looks.worth),
        prior_share_between=min(1.0, float(np.var(logit(means))) / LOGIT_SD**2),
        models=InflatedBetaModels.ranked(
            shares[:, 0], means * concentrations, (1.0 - means) * concentrations, shares[:, 2]
        ),
    )


def worths_of(prior: InflatedBeta, worth: float = PRIOR_WORTH) -> Values:
    """Looks that the prior's chances of 0, between and 1 are worth."""
    return as_values(np.maximum(worth * _chances(prior), LEAST_WORTH))


def counts_of(looks: Looks, prior: InflatedBeta) -> Values:
    """How many looks found 0, a part, and 1; those that do not tell them apart shared as the prior's chances are."""
    zero, one = np.array(looks.zero, dtype=float), np.array(looks.one, dtype=float)
    between = (np.array(looks.low) < np.array(looks.high)).astype(float)
    shares = np.column_stack([zero, between, one]) * np.maximum(_chances(prior), 1e-6)
    return as_values(np.array(looks.weight) @ (shares / shares.sum(axis=1, keepdims=True)))


def _chances(prior: InflatedBeta) -> Values:
    return np.array([prior.at_zero, _between(prior), prior.at_one])


def _grid(prior: InflatedBeta) -> tuple[Values, Values, Values]:
    """Points of m and k, and the logarithm of their prior."""
    steps = np.linspace(-REACH, REACH, POINTS)
    across, up = (axis.ravel() for axis in np.meshgrid(steps, steps))
    mean = expit(logit(prior.a / (prior.a + prior.b)) + LOGIT_SD * across)
    concentration = (prior.a + prior.b) * np.exp(LOG_SD * up)
    return mean, concentration, -0.5 * (across**2 + up**2)


def _posterior(looks: Looks, prior: InflatedBeta, worths: Values) -> tuple[Values, Values, Values, Values]:
    """Draws of the chances of 0, between and 1 [K, 3], of m [K] and of k [K]; and the mean of those chances [3].

    Where every look is surely 0, between or 1 nothing needs Gibbs: the draws are even, and the mean
    chances a closed form. Else the mean is that of their conditional means.
    """
    mean, concentration, log_prior = _grid(prior)
    zero, one, weight = np.array(looks.zero, dtype=bool), np.array(looks.one, dtype=bool), np.array(looks.weight)
    inside = _inside(looks, mean * concentration, (1.0 - mean) * concentration)
    log_inside = np.log(np.maximum(inside, 1e-300)) * weight[:, None]
    between = np.array(looks.low) < np.array(looks.high)
    sure = between & ~zero & ~one
    told = np.array([weight[zero & ~between].sum(), weight[sure].sum(), weight[one & ~between].sum()])
    base = log_prior + log_inside[sure].sum(axis=0)
    open_ones = between & (zero | one)
    if open_ones.any():
        ends = np.array([zero, one])[:, open_ones]
        given = _Open(ends, inside[open_ones], log_inside[open_ones], weight[open_ones])
        shares, places, chances = _gibbs(base, worths + told, given)
    else:
        shares, places, chances = _even_draws(base, worths + told)
    return shares, mean[places], concentration[places], chances


class _Open(NamedTuple):
    """Looks that do not tell 0 or 1 from what is next to it: which ends they may be, their chances, their weight."""

    ends: NDArray[np.bool_]
    inside: Values
    log_inside: Values
    weight: Values


Draws = tuple[Values, NDArray[np.intp], Values]
"""Chances of 0, between and 1, places on the grid, and the mean chances."""


def _even_draws(base: Values, told: Values) -> Draws:
    """Of a Dirichlet and of the grid, by even points: multiples of four irrational steps, modulo 1."""
    u = (0.5 + np.outer(np.arange(1, DRAWS + 1), GOLDEN ** -np.arange(1.0, 5.0))) % 1.0
    parts = np.maximum(gammaincinv(told, u[:, :3]), 1e-300)
    heights = _heights(base)
    places = np.minimum(np.searchsorted(heights, u[:, 3] * heights[-1]), base.size - 1)
    return parts / parts.sum(axis=1, keepdims=True), places, told / told.sum()


def _gibbs(base: Values, told: Values, looks: _Open) -> Draws:
    rng = np.random.default_rng(0)
    shares, heights = told / told.sum(), _heights(base)
    drawn, places, chances = np.empty((DRAWS, 3)), np.empty(DRAWS, dtype=np.intp), np.zeros(3)
    for draw in range(-BURNT, DRAWS):
        place = int(np.searchsorted(heights, rng.random() * heights[-1]))
        given = _given(rng, shares, looks.ends, looks.inside[:, place])
        counts = told + given @ looks.weight
        heights = _heights(base + given[1] @ looks.log_inside)
        shares = rng.dirichlet(counts)
        if draw >= 0:
            drawn[draw], places[draw] = shares, place
            chances += counts / counts.sum() / DRAWS
    return drawn, places, chances


def _inside(looks: Looks, a: Values, b: Values) -> Values:
    """Chance of each look's interval under the beta of every point of the grid."""
    low, high = np.array(looks.low)[:, None], np.array(looks.high)[:, None]
    return as_values(np.maximum(betainc(a, b, high) - betainc(a, b, low), 0.0))


def _heights(log_height: Values) -> Values:
    """Running sum of the posterior over the grid."""
    return as_values(np.cumsum(np.exp(log_height - log_height.max())))


def _given(rng: np.random.Generator, shares: Values, ends: NDArray[np.bool_], inside: Values) -> Values:
    """To which of 0, between and 1 each look that does not tell them apart is given, as ones and noughts [3, looks]."""
    chances = np.array([shares[0] * ends[0], shares[1] * inside, shares[2] * ends[1]])
    part, sums = rng.random(inside.size) * chances.sum(axis=0), np.cumsum(chances, axis=0)
    return as_values(np.array([part < sums[0], (part >= sums[0]) & (part < sums[1]), part >= sums[1]]))


def _between(prior: InflatedBeta) -> float:
    return 1.0 - prior.at_zero - prior.at_one


def _matched(shares: Values, means: Values, concentrations: Values, chances: Values) -> InflatedBeta:
    """The inflated beta with the mean chances, and with the mean and spread that the draws have between 0 and 1."""
    at_zero, at_one = chances[0], chances[2]
    between = shares[:, 1].mean()
    spread = means * (1.0 - means) / (concentrations + 1.0)
    mean = float(np.mean(shares[:, 1] * means) / between)
    variance = float(np.mean(shares[:, 1] * (spread + means**2)) / between) - mean**2
    concentration = mean * (1.0 - mean) / variance - 1.0
    return InflatedBeta(float(at_zero), mean * concentration, (1.0 - mean) * concentration, float(at_one))


def _known(prior: InflatedBeta, shares: Values, means: Values, concentrations: Values) -> tuple[Known, ...]:
    a, b = means * concentrations, (1.0 - means) * concentrations
    severe = shares[:, 2] + shares[:, 1] * betainc(b, a, 1.0 - SEVERE)
    lines = (
        ("probability that nothing is blocked", prior.at_zero, shares[:, 0]),
        ("probability that all is blocked", prior.at_one, shares[:, 2]),
        ("mean blocked share", prior.mean, shares[:, 2] + shares[:, 1] * means),
        (f"probability of more than {100 * SEVERE:g} %", 1.0 - float(prior.cdf(SEVERE)), severe),
    )
    return tuple(Known(words, before, float(np.mean(after)), *_ends(after)) for words, before, after in lines)


def _ends(draws: Values) -> tuple[float, float]:
    low, high = np.quantile(draws, (0.05, 0.95))
    return float(low), float(high)
