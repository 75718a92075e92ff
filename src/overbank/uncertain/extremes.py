"""Families of flood frequency: Gumbel, generalised extreme value and generalised logistic.

They share a reduced variate t and the law value = location - scale (e^(shape t) - 1)/shape
(-scale t when the shape is 0):

    generalised extreme value, Gumbel   t = ln(-ln F)
    generalised logistic                t = ln((1 - F)/F)

Sign of the shape: the hydrological one (Hosking's k, also SciPy's c). A negative shape is the heavy upper
tail without a bound; a positive shape has the upper bound location + scale/shape. Source of the
parametrisation: Hosking and Wallis 1997, Regional Frequency Analysis, appendix; from memory, unverified. The
tests hold it against SciPy's genextreme and kappa4.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import expit, gammaln, log_ndtr, ndtri_exp, zeta

from overbank.uncertain.checks import expect_finite, expect_positive
from overbank.uncertain.distributions import Family
from overbank.uncertain.scores import Values, as_values, score_of_chance


@dataclass(frozen=True)
class GeneralisedExtremeValue(Family):
    """Generalised extreme value, F = exp(-(1 - shape (x - location)/scale)^(1/shape)).

    Parameters
    ----------
    location, scale : in the unit of X; scale > 0
    shape : Hosking's k [-]; negative for a heavy upper tail; 0 is Gumbel
    """

    location: float
    scale: float
    shape: float

    def __post_init__(self) -> None:
        expect_finite(location=self.location, shape=self.shape)
        expect_positive(scale=self.scale)

    def value(self, z: ArrayLike) -> Values:
        return _from_reduced(self.reduced(z), self.location, self.scale, self.shape)

    def reduced(self, z: ArrayLike) -> Values:
        """Reduced variate at normal scores."""
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(-log_ndtr(as_values(z))))

    def score(self, x: ArrayLike) -> Values:
        with np.errstate(over="ignore"):
            chance_log = -np.exp(_reduced(x, self.location, self.scale, self.shape))
        score: Values = ndtri_exp(chance_log)
        return score

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        k = self.shape
        if k <= -1.0:
            return math.inf
        if abs(k) < 1e-8:
            return self.location + self.scale * np.euler_gamma
        return self.location - self.scale * math.expm1(gammaln(1.0 + k)) / k

    @property
    def sd(self) -> float:
        k = self.shape
        if k <= -0.5:
            return math.inf
        if abs(k) < 1e-4:  # first terms of the series, for the differences below lose their digits
            slope = float(zeta(3.0) / zeta(2.0)) + np.euler_gamma
            return self.scale * math.pi / math.sqrt(6.0) * (1.0 - slope * k)
        spread = math.expm1(gammaln(1.0 + 2.0 * k) - 2.0 * gammaln(1.0 + k))
        return self.scale * math.exp(gammaln(1.0 + k)) * math.sqrt(spread) / abs(k)

    @property
    def words(self) -> str:
        return (
            f"generalised extreme value, location {self.location:g}, scale {self.scale:g}, "
            f"shape {self.shape:g} (negative: heavy upper tail)"
        )


@dataclass(frozen=True)
class Gumbel(GeneralisedExtremeValue):
    """Gumbel (extreme value type I), F = exp(-exp(-(x - location)/scale))."""

    shape: float = field(init=False, default=0.0, repr=False)

    @property
    def words(self) -> str:
        return f"Gumbel, location {self.location:g}, scale {self.scale:g}"


@dataclass(frozen=True)
class GeneralisedLogistic(Family):
    """Generalised logistic, F = 1/(1 + (1 - shape (x - location)/scale)^(1/shape)).

    Parameters
    ----------
    location, scale : in the unit of X; the location is the median; scale > 0
    shape : Hosking's k [-]; negative for a heavy upper tail; 0 is the logistic distribution
    """

    location: float
    scale: float
    shape: float

    def __post_init__(self) -> None:
        expect_finite(location=self.location, shape=self.shape)
        expect_positive(scale=self.scale)

    def value(self, z: ArrayLike) -> Values:
        return _from_reduced(self.reduced(z), self.location, self.scale, self.shape)

    def reduced(self, z: ArrayLike) -> Values:
        """Reduced variate at normal scores."""
        z = as_values(z)
        tail: Values = log_ndtr(-np.abs(z))
        odds = tail - np.log1p(-np.exp(tail))  # ln of the smaller probability over the larger
        return np.where(z < 0, -odds, odds)

    def score(self, x: ArrayLike) -> Values:
        reduced = _reduced(x, self.location, self.scale, self.shape)
        return score_of_chance(expit(-reduced), expit(reduced))

    @property
    def median(self) -> float:
        return self.location

    @property
    def mean(self) -> float:
        k = self.shape
        if abs(k) >= 1.0:
            return math.copysign(math.inf, -k)
        if abs(k) < 1e-4:
            return self.location - self.scale * k * math.pi**2 / 6.0
        return self.location + self.scale * (1.0 / k - math.pi / math.sin(k * math.pi))

    @property
    def sd(self) -> float:
        k = self.shape
        if abs(k) >= 0.5:
            return math.inf
        if abs(k) < 1e-4:
            return self.scale * math.pi / math.sqrt(3.0)
        first, second = (r * k * math.pi / math.sin(r * k * math.pi) for r in (1.0, 2.0))
        return self.scale * math.sqrt(second - first**2) / abs(k)

    @property
    def words(self) -> str:
        return (
            f"generalised logistic, location {self.location:g}, scale {self.scale:g}, "
            f"shape {self.shape:g} (negative: heavy upper tail)"
        )


def values_of(rows: Values, reduced: Values) -> Values:
    """Value at one reduced variate in each distribution of a family, by location, scale and shape (K, 3)."""
    location, scale, shape = rows.T
    bent = np.where(shape == 0.0, 1.0, shape)
    with np.errstate(over="ignore"):
        return np.asarray(location - scale * np.where(shape == 0.0, reduced, np.expm1(bent * reduced) / bent))


def _from_reduced(reduced: Values, location: float, scale: float, shape: float) -> Values:
    """location - scale (e^(shape t) - 1)/shape at the reduced variate t."""
    if shape == 0.0:
        return location - scale * reduced
    with np.errstate(over="ignore"):
        return location - scale * np.expm1(shape * reduced) / shape


def _reduced(x: ArrayLike, location: float, scale: float, shape: float) -> Values:
    """Reduced variate t at x; infinite from the bound on, when there is one."""
    away = (as_values(x) - location) / scale
    if shape == 0.0:
        return -away
    with np.errstate(divide="ignore"):
        return np.log1p(np.maximum(-shape * away, -1.0)) / shape
