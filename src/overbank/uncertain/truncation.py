"""Any distribution, kept between two bounds."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from overbank.uncertain.checks import expect
from overbank.uncertain.distributions import Distribution, Family
from overbank.uncertain.scores import Values, as_values, chance_between, score_in_part, score_in_whole


@dataclass(frozen=True)
class Truncated(Family):
    """The distribution of X given low <= X <= high; either bound may be infinite.

    With A = P(X < low) and B = P(X <= high), value(z) = F^-1(A Phi(-z) + B Phi(z)), taken in whichever tail
    is the smaller. An atom on a bound is kept.
    """

    inner: Distribution
    low: float = -math.inf
    high: float = math.inf

    def __post_init__(self) -> None:
        for name, bound in (("low", self.low), ("high", self.high)):
            expect(not math.isnan(bound), f"a number for the bound {name}", bound)
        expect(self.low < self.high, "low below high", f"low {self.low:g} and high {self.high:g}")
        expect(
            self._kept > 0.0,
            f"bounds that keep some probability of the {self.inner.words}",
            f"low {self.low:g} and high {self.high:g}",
        )

    @property
    def _edges(self) -> tuple[float, float]:
        """Normal scores, in the whole distribution, of what is kept."""
        return float(self.inner.score_below(self.low)), float(self.inner.score(self.high))

    @property
    def _kept(self) -> float:
        """Probability that the bounds keep."""
        return float(chance_between(*self._edges))

    def value(self, z: ArrayLike) -> Values:
        return np.clip(self.inner.value(score_in_whole(z, *self._edges)), self.low, self.high)

    def score(self, x: ArrayLike) -> Values:
        x = as_values(x)
        inside = score_in_part(self.inner.score(x), *self._edges)
        return np.where(x < self.low, -np.inf, np.where(x >= self.high, np.inf, inside))

    def score_below(self, x: ArrayLike) -> Values:
        x = as_values(x)
        inside = score_in_part(self.inner.score_below(x), *self._edges)
        return np.where(x <= self.low, -np.inf, np.where(x > self.high, np.inf, inside))

    @property
    def atoms(self) -> tuple[tuple[float, float], ...]:
        return tuple(
            (value, chance / self._kept) for value, chance in self.inner.atoms if self.low <= value <= self.high
        )

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        return self._moments[0]

    @property
    def sd(self) -> float:
        return self._moments[1]

    @property
    def _moments(self) -> tuple[float, float]:
        """Mean and standard deviation; infinite when the inner one is and the bounds leave its tail open."""
        if math.isfinite(self.inner.sd) or all(math.isfinite(end) for end in self.support):
            return moments(self)
        mean = moments(self)[0] if math.isfinite(self.inner.mean) else self.inner.mean
        return mean, math.inf

    @property
    def words(self) -> str:
        if math.isinf(self.low) and math.isinf(self.high):
            return self.inner.words
        if math.isinf(self.high):
            return f"{self.inner.words}, kept above {self.low:g}"
        if math.isinf(self.low):
            return f"{self.inner.words}, kept below {self.high:g}"
        return f"{self.inner.words}, kept between {self.low:g} and {self.high:g}"


def moments(distribution: Distribution) -> tuple[float, float]:
    """Mean and standard deviation by Gauss-Legendre pieces over -20 < z < 20.

    Pieces end where an atom begins and ends. Good to ten digits where value(z) is smooth, to about five where
    it has a kink within a piece.
    """
    steps = [
        float(score)
        for value, _ in distribution.atoms
        for score in (distribution.score_below(value), distribution.score(value))
    ]
    edges = np.unique(np.clip([*np.linspace(-20.0, 20.0, 161), *steps], -20.0, 20.0))
    points, weights = np.polynomial.legendre.leggauss(12)
    half = 0.5 * np.diff(edges)[:, None]
    z = half * (points + 1.0) + edges[:-1, None]
    shares = half * weights * np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi)
    values = distribution.value(z)
    mean = float(np.sum(shares * values))
    return mean, math.sqrt(float(np.sum(shares * (values - mean) ** 2)))
