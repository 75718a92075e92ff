"""Fits of a flood family to annual maxima, and how far such a fit may be out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from overbank.uncertain import l_moments, likelihood
from overbank.uncertain.checks import expect
from overbank.uncertain.distributions import Distribution
from overbank.uncertain.extremes import GeneralisedExtremeValue, GeneralisedLogistic, Gumbel
from overbank.uncertain.scores import Values

Method = Literal["l_moments", "maximum_likelihood"]
"""Ways to fit."""

LEAST_YEARS = 10
"""A shorter record says too little of its family to be fitted (common practice, no source)."""

MOST_LOST = 0.1
"""So large a share of refits may be without a maximum of the likelihood."""


LEAST_POSSIBLE = 0.1
"""So large a share of the alternatives at least must be able to bring the largest flood on record."""

Curve = GeneralisedExtremeValue | GeneralisedLogistic
"""A distribution with a location, a scale and a shape; Gumbel is the extreme value one with a shape of 0."""


@dataclass(frozen=True)
class FloodFamily:
    """A family that can be fitted.

    from_moments : L-moments -> parameters [..., 3]
    make : location, scale and shape -> distribution
    tail, free : of the likelihood, see `likelihood.most_likely`
    """

    from_moments: Callable[[l_moments.LMoments], Values]
    make: Callable[[float, float, float], Curve]
    tail: Callable[[Values], Values]
    free: int


FITTED: Mapping[str, FloodFamily] = {
    "gumbel": FloodFamily(l_moments.gumbel, lambda at, by, _: Gumbel(at, by), likelihood.extreme_value, 2),
    "gev": FloodFamily(l_moments.gev, GeneralisedExtremeValue, likelihood.extreme_value, 3),
    "generalised_logistic": FloodFamily(l_moments.generalised_logistic, GeneralisedLogistic, likelihood.logistic, 3),
}
"""Families that can be fitted, by their names."""


@dataclass(frozen=True)
class Fit:
    """A family fitted to annual maxima.

    family, method : names
    maxima : annual maxima, rising, in their own unit
    moments : their L-moments
    best : the fitted distribution
    """

    family: str
    method: Method
    maxima: Values
    moments: l_moments.LMoments
    best: Distribution

    @property
    def years(self) -> int:
        """Length of the record."""
        return self.maxima.size

    @property
    def plotting_positions(self) -> Values:
        """Annual probability at which each of the maxima is plotted, (n - i + 0.56)/(n + 0.12) for the i-th smallest.

        Source: Gringorten, J. Geophys. Res. 68 (1963) 813. From memory, unverified; for pictures only.
        """
        rank = np.arange(self.years, 0, -1, dtype=np.float64)
        return (rank - 0.44) / (self.years + 0.12)


def fit(family: str, method: Method, maxima: Values) -> Fit:
    """Fit a family to annual maxima.

    Raises
    ------
    ValueError : too short a record, maxima that are all alike, or no maximum of the likelihood
    """
    expect(maxima.size >= LEAST_YEARS, f"at least {LEAST_YEARS} annual maxima", maxima.size)
    parameters, found = parameters_of(family, method, maxima[np.newaxis, :])
    expect(bool(found[0]), "annual maxima whose likelihood has a maximum", "some for which none was found")
    best = FITTED[family].make(*map(float, parameters[0]))
    return Fit(family, method, np.sort(maxima), l_moments.l_moments(maxima), best)


def parameters_of(family: str, method: Method, samples: Values) -> tuple[Values, NDArray[np.bool_]]:
    """Location, scale and shape [K, 3] fitted to each of the samples [K, n], and for which of them there is a fit."""
    known = FITTED[family]
    by_moments = known.from_moments(l_moments.l_moments(samples))
    if method == "l_moments":
        return by_moments, np.ones(len(samples), dtype=np.bool_)
    return likelihood.most_likely(samples, by_moments, known.tail, known.free)


def alternatives(
    family: str, method: Method, best: Curve, years: int, count: int, seed: int, largest: float = -np.inf
) -> tuple[Curve, ...]:
    """The distributions of `as_likely`."""
    rows = as_likely(family, method, best, years, count, seed, largest).tolist()
    return tuple(FITTED[family].make(*row) for row in rows)


def as_likely(
    family: str, method: Method, best: Curve, years: int, count: int, seed: int, largest: float = -np.inf
) -> Values:
    """Distributions that are as likely as the best fit, given a record of so many years: a bootstrap turned round.

    Location, scale and shape of each, shape (K, 3).

    Records are drawn from the best fit and fitted anew. Each refit shows by how much a fit can miss the distribution
    that the record came from: the location by a share d of the scale, the scale by a factor f, the shape by a
    difference e. The alternative is the distribution that the best fit would have missed by just as much:

        scale = best scale / f,   location = best location - d scale,   shape = best shape - e.

    For the Gumbel family this is exact, because d and f do not depend on the parameters. Taking the refits themselves
    would make rare floods too small: with 35 years of a GEV of shape -0.13, the 1 % flood so predicted is exceeded with
    1.6 % a year, the one from these alternatives with 1.2 % (computed here).

    What else may be wrong, the family, errors of the rating, a changing climate, is not in the alternatives.

    Parameters
    ----------
    best : the fitted distribution
    years : length of the record
    count : how many records are drawn; refits without a maximum of the likelihood are left out
    largest : flood on record; an alternative whose upper bound is not above it could not have brought it: left out

    Source: pivotal bootstrap, Davison and Hinkley 1997, Bootstrap Methods and their Application, chapter 5; from
    memory, unverified. Its coverage is tested.

    Raises
    ------
    ValueError : more than a tenth of the refits have no maximum of the likelihood; fewer than a tenth of the
        alternatives could have brought the largest flood
    """
    records = best.value(np.random.default_rng(seed).standard_normal((count, years)))
    refits, found = parameters_of(family, method, records)
    lost = 1.0 - float(np.mean(found))
    expect(
        lost <= MOST_LOST,
        f"records of {years} years whose likelihood has a maximum, to tell how far the fit may be out",
        f"none in {lost:.0%} of such records",
    )
    location, scale, shape = refits[found].T
    turned = best.scale**2 / scale
    shifted = best.location - turned * (location - best.location) / best.scale
    shapes = 2.0 * best.shape - shape
    possible = ~(shapes > 0.0) | (shifted + turned / np.where(shapes > 0.0, shapes, 1.0) > largest)
    expect(
        float(np.mean(possible)) >= LEAST_POSSIBLE,
        f"a {family} that could have brought the largest flood on record, {largest:.4g}",
        f"an upper bound below it in {1.0 - float(np.mean(possible)):.0%} of the alternatives",
    )
    return np.asarray(np.column_stack([shifted, turned, shapes])[possible])
