"""Log-Pearson III, the family of flood-frequency practice in the United States."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammainc, gammaincc, gammainccinv, gammaincinv

from overbank.uncertain.checks import expect, expect_finite, expect_positive
from overbank.uncertain.distributions import Family
from overbank.uncertain.scores import Values, as_values, chance_below, score_of_chance
from overbank.uncertain.spline import ScoreSpline


def _gamma(z: Values, root: float) -> Values:
    """Exact gamma quantile at z, from the smaller of the two probabilities."""
    tail, shape = chance_below(-np.abs(z)), root**2
    gamma: Values = np.where(z <= 0, gammaincinv(shape, tail), gammainccinv(shape, tail))
    return gamma


@lru_cache(maxsize=256)
def _table(size: float) -> ScoreSpline:
    """ln(G/r^2) over z for a skew of that size: the same for all means and standard deviations, and for both signs."""
    root = 2.0 / size

    def log_gamma(z: Values) -> Values:
        found: Values = np.log(_gamma(z, root) / root**2)
        return found

    return ScoreSpline(log_gamma, 1e-9 / root, f"log-Pearson III distribution (skew {size:g} in size)")


@dataclass(frozen=True)
class LogPearson3(Family):
    """Log-Pearson III: log10 X = mean + sd K(z), with K the Pearson III number of mean 0, sd 1 and this skew.

    For a skew g > 0, K = (G - r^2)/r with r = 2/g and G of the gamma distribution with shape r^2; a negative
    skew mirrors it; with no skew K = z. Base 10 is the custom of flood-frequency practice (Bulletin 17; from
    memory, unverified). ln(G/r^2) is tabulated and checked when the distribution is made.

    Parameters
    ----------
    mean_log10, sd_log10 : mean and standard deviation of log10 X; sd_log10 > 0
    skew_log10 : skew of log10 X [-]; 0, or between 0.01 and 6 in size (a smaller skew does not matter, and
        the inverse of the incomplete gamma function loses its digits there)
    """

    mean_log10: float
    sd_log10: float
    skew_log10: float
    _table: ScoreSpline | None = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        expect_finite(mean_log10=self.mean_log10, skew_log10=self.skew_log10)
        expect_positive(sd_log10=self.sd_log10)
        size = abs(self.skew_log10)
        expect(
            size == 0.0 or size >= 0.01,
            "skew_log10 of 0, or of at least 0.01 in size (give 0 for less)",
            self.skew_log10,
        )
        expect(size <= 6.0, "skew_log10 between -6 and 6", self.skew_log10)
        object.__setattr__(self, "_table", _table(size) if size else None)

    @property
    def _root(self) -> float:
        """r = 2/|g|; r^2 is the shape of the gamma distribution."""
        return 2.0 / abs(self.skew_log10)

    @property
    def _sign(self) -> float:
        return math.copysign(1.0, self.skew_log10)

    def _standard_gamma(self, log_gamma: Values) -> Values:
        standard: Values = self._root * np.expm1(log_gamma)
        return standard

    def _standard(self, z: Values) -> Values:
        """K at z."""
        if self._table is None:
            return z
        mirrored = self._table.height(
            self._sign * z,
            finish=self._standard_gamma,
            exact=lambda z: _gamma(z, self._root) / self._root - self._root,
        )
        return self._sign * mirrored

    def value(self, z: ArrayLike) -> Values:
        log10 = self.mean_log10 + self.sd_log10 * self._standard(as_values(z))
        with np.errstate(over="ignore"):
            return np.exp(math.log(10.0) * log10)

    def score(self, x: ArrayLike) -> Values:
        with np.errstate(divide="ignore"):
            standard = (np.log10(np.maximum(as_values(x), 0.0)) - self.mean_log10) / self.sd_log10
        if self._table is None:
            return standard
        share = as_values(np.maximum(1.0 + self._sign * standard / self._root, 0.0))  # G/r^2
        with np.errstate(divide="ignore"):
            log_gamma = np.log(share)
        return self._sign * self._table.score(log_gamma, lambda beyond: self._exact_score(share[beyond]))

    def _exact_score(self, share: Values) -> Values:
        shape = self._root**2
        return score_of_chance(gammainc(shape, shape * share), gammaincc(shape, shape * share))

    def _raw_moment(self, power: float) -> float:
        """E[X^power] from the moment generating function of the gamma distribution; may be infinite."""
        centre, spread = (power * math.log(10.0) * number for number in (self.mean_log10, self.sd_log10))
        if self._table is None:
            return math.exp(centre + 0.5 * spread**2)
        signed = self._sign * spread
        if signed >= self._root:
            return math.inf
        return math.exp(centre - signed * self._root - self._root**2 * math.log1p(-signed / self._root))

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        return self._raw_moment(1.0)

    @property
    def sd(self) -> float:
        square = self._raw_moment(2.0)
        return math.sqrt(square - self.mean**2) if math.isfinite(square) else math.inf

    @property
    def words(self) -> str:
        return (
            f"log-Pearson III, mean {self.mean_log10:g}, standard deviation {self.sd_log10:g} "
            f"and skew {self.skew_log10:g} of log10"
        )
