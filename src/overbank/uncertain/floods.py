"""Annual maxima of the flow: the best estimate of their distribution, and alternatives that are as likely."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache, partial

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from overbank.uncertain.checks import expect
from overbank.uncertain.distributions import Distribution
from overbank.uncertain.extremes import values_of
from overbank.uncertain.fitting import Curve, Fit, Method, alternatives, as_likely
from overbank.uncertain.scores import Values, as_values, chance_below
from overbank.uncertain.tabulated import Empirical

ALTERNATIVES = 4096
"""Alternatives to a best estimate, all replicates together."""

MOST_RECORDS, DRAWN = 2**16, 4_000_000
"""Records drawn for the flood of one annual probability, and annual maxima in all of them together."""

MOST_LIKELIEST = 2**14
"""Records whose likelihood is made largest for it, which takes a hundred times as long as their L-moments."""

RANKED_BY = 0.01
"""Alternatives are ranked by their floods of this annual probability, so that neighbours are alike."""

LEAST_FLOW, MOST_FLOW = 0.0001, 20_000.0
"""Flows that a site can have [m3/s]; where a distribution reaches further, the flow stays here."""

HOW = {"l_moments": "L-moments", "maximum_likelihood": "maximum likelihood"}
"""Ways to fit in words."""


@dataclass(frozen=True, eq=False)
class Floods:
    """Annual maxima [m3/s] whose distribution is known as well as a record of some years tells it.

    best : the best estimate
    alternatives : equally likely, in random order; the best estimate alone where its parameters are taken as known
    words : what they are, for a report
    fit : the fit they come from, if they were fitted
    more : annual probability -> its flood in many more of the same kind (K,) [m3/s]; slow to ask
    """

    best: Distribution
    alternatives: tuple[Distribution, ...]
    words: str
    fit: Fit | None = None
    more: Callable[[float], Values] | None = None

    @property
    def known(self) -> bool:
        """Whether the parameters are taken as known."""
        return len(self.alternatives) == 1

    def flood(self, probability: ArrayLike) -> Values:
        """Flow exceeded in a year with each probability (P,), in every alternative (K, P) [m3/s]."""
        z = -ndtri(as_values(probability))
        return np.clip([each.value(z) for each in self.alternatives], LEAST_FLOW, MOST_FLOW)

    def spread(self, probability: float) -> Values:
        """Equally likely flows exceeded in a year with a probability (K,) [m3/s]: quantiles of many alternatives.

        From 4096 alternatives the probability of a flood below some flow errs by 0.8 % (standard error), which no
        number of samples mends and no interval of the design flood holds; from 2^16 by 0.2 %, from 2^14 by 0.4 %.
        """
        return _spread(self, probability)

    @cached_property
    def ranking(self) -> Values:
        """The flood by which the alternatives are ranked, of each [m3/s]."""
        return self.flood(RANKED_BY)

    def chosen(self, z: Values) -> NDArray[np.intp]:
        """The alternative that each normal score (R, N) stands for.

        Every replicate has alternatives of its own, so that the scatter of the replicates holds theirs too; within a
        replicate they are ranked by their 1 % flood.
        """
        replicates = z.shape[0]
        if self.known:
            return np.zeros(z.shape, dtype=np.intp)
        each = len(self.alternatives) // replicates
        expect(each >= 1, "no more replicates than alternatives", replicates)
        ranking = self.ranking[: each * replicates].reshape(replicates, each)
        ranked = np.argsort(ranking, axis=1) + each * np.arange(replicates)[:, np.newaxis]
        place = np.minimum((chance_below(z) * each).astype(np.intp), each - 1)
        return np.take_along_axis(ranked, place, axis=1)

    def scores_below(self, flows: Values, chosen: NDArray[np.intp]) -> Values:
        """Normal score of P(Q < flow) of flows [m3/s] (R, N, ...) in the alternative chosen (R, N)."""
        found = np.empty(flows.shape)
        for place in np.ndindex(chosen.shape):
            found[place] = self.alternatives[chosen[place]].score_below(flows[place])
        return found

    def flows(self, scores: Values, chosen: NDArray[np.intp]) -> Values:
        """Flow [m3/s] at normal scores (R, N, ...) in the alternative chosen (R, N)."""
        found = np.empty(scores.shape)
        for place in np.ndindex(chosen.shape):
            found[place] = self.alternatives[chosen[place]].value(scores[place])
        return np.clip(found, LEAST_FLOW, MOST_FLOW)


@lru_cache(maxsize=8)
def _spread(floods: Floods, probability: float) -> Values:
    if floods.more is None:
        return floods.flood([probability])[:, 0]
    found = np.clip(floods.more(probability), LEAST_FLOW, MOST_FLOW)
    places = (np.arange(1, ALTERNATIVES + 1) - 1 / 3) / (ALTERNATIVES + 1 / 3)  # where `Empirical` puts them
    return np.asarray(np.quantile(found, places, method="median_unbiased"))


def known_floods(best: Distribution) -> Floods:
    """Annual maxima whose parameters are taken as known."""
    return Floods(best, (best,), f"{best.words}; parameters taken as known")


def floods_of_record(family: str, best: Curve, years: int, seed: int) -> Floods:
    """Annual maxima whose parameters are known as well as so many years of record would tell them by L-moments."""
    found = alternatives(family, "l_moments", best, years, ALTERNATIVES, seed)
    words = f"{best.words}; parameters as uncertain as {years} years of record leave them"
    return Floods(best, found, words, more=partial(_more, family, "l_moments", best, years, seed))


def _more(
    family: str, method: Method, best: Curve, years: int, seed: int, probability: float, largest: float = -np.inf
) -> Values:
    """The flood of an annual probability in as many alternatives as are found in a second or two [m3/s]."""
    most = MOST_RECORDS if method == "l_moments" else MOST_LIKELIEST
    records = max(ALTERNATIVES, min(most, DRAWN // years))
    found = as_likely(family, method, best, years, records, seed, largest)
    return values_of(found, best.reduced(-ndtri(probability)))


def fitted_floods(fit: Fit, seed: int) -> Floods:
    """Annual maxima fitted to a record, with the sampling error of a record of its length.

    Raises
    ------
    ValueError : from `fitting.alternatives`
    """
    assert isinstance(fit.best, Curve)
    known, largest = (fit.family, fit.method, fit.best, fit.years), float(fit.maxima[-1])
    found = alternatives(*known, ALTERNATIVES, seed, largest)
    words = f"{fit.best.words}, fitted to {fit.years} annual maxima by {HOW[fit.method]}"
    return Floods(fit.best, found, words, fit, partial(_more, *known, seed, largest=largest))


@dataclass(frozen=True, init=False)
class FloodOf(Empirical):
    """The flood of an annual probability, as uncertain as the alternatives of its distribution leave it [m3/s]."""

    annual_probability: float
    source: str

    def __init__(self, floods: Floods, annual_probability: float) -> None:
        super().__init__(floods.spread(annual_probability).tolist())
        object.__setattr__(self, "annual_probability", annual_probability)
        object.__setattr__(self, "source", floods.words)

    @property
    def words(self) -> str:
        low, high = self.quantile([0.05, 0.95])
        return (
            f"flood of an annual probability of {100.0 * self.annual_probability:.6g}\u00a0%, "
            f"90\u00a0% of its alternatives from {low:.4g} to {high:.4g}: {self.source}"
        )
