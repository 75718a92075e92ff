"""Families on a bounded interval: beta, PERT, and the beta with probability of its own at 0 and at 1."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import betainc, betainccinv, betaincinv, expit, ndtri

from overbank.uncertain.checks import expect, expect_finite, expect_mode, expect_range
from overbank.uncertain.distributions import Family
from overbank.uncertain.scores import (
    Values,
    as_values,
    chance_below,
    score_in_part,
    score_in_whole,
    score_of_chance,
)
from overbank.uncertain.spline import ScoreSpline

TABLE_TOLERANCE = 1e-8
"""Error allowed in ln(t/(1-t)): at most 2.5e-9 of the range, and 1e-8 relative in either tail."""

SMALLEST_SHAPE = 0.05
"""Below this a beta is two heaps at its ends and nothing between."""


@dataclass(frozen=True)
class Beta(Family):
    """Beta with shapes a and b, stretched from low to high.

    P(X <= x) = I_t(a, b), t = (x - low)/(high - low). The inverse of the incomplete beta function costs more
    than a microsecond, so ln(t/(1-t)), which is smooth in z and keeps both tails, is tabulated when the
    distribution is made and checked against the exact inverse; beyond the table the exact inverse is used.
    """

    a: float
    b: float
    low: float = 0.0
    high: float = 1.0
    _table: ScoreSpline = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        expect_finite(a=self.a, b=self.b)
        for name, shape in (("a", self.a), ("b", self.b)):
            expect(shape > 0.0, f"{name} above 0", shape)
            expect(
                shape >= SMALLEST_SHAPE,
                f"{name} of at least {SMALLEST_SHAPE:g} (nearly all of it would sit at one end: "
                "give that end a probability of its own, as in inflated_beta)",
                shape,
            )
        expect_range(self.low, self.high)
        name = f"beta distribution (a {self.a:g}, b {self.b:g})"
        table = ScoreSpline(self._log_odds, TABLE_TOLERANCE, name)
        object.__setattr__(self, "_table", table)

    def _shares(self, z: Values) -> tuple[Values, Values]:
        """Exact t and 1 - t at z, each from the smaller of the two probabilities."""
        lower = z <= 0
        tail = chance_below(-np.abs(z))
        share = np.where(lower, betaincinv(self.a, self.b, tail), betainccinv(self.a, self.b, tail))
        rest = np.where(lower, betainccinv(self.b, self.a, tail), betaincinv(self.b, self.a, tail))
        return share, rest

    def _log_odds(self, z: Values) -> Values:
        share, rest = self._shares(z)
        reached = np.minimum(share, rest) > 1e-290  # beyond, the inverse runs out of small numbers
        return np.log(np.where(reached, share, np.nan)) - np.log(np.where(reached, rest, np.nan))

    def _scaled(self, share: Values, rest: Values) -> Values:
        width = self.high - self.low
        return np.where(share <= rest, self.low + width * share, self.high - width * rest)

    def value(self, z: ArrayLike) -> Values:
        return self._table.height(
            as_values(z),
            finish=lambda log_odds: self._scaled(expit(log_odds), expit(-log_odds)),
            exact=lambda z: self._scaled(*self._shares(z)),
        )

    def score(self, x: ArrayLike) -> Values:
        held = np.clip(as_values(x), self.low, self.high)
        share = as_values((held - self.low) / (self.high - self.low))
        rest = as_values((self.high - held) / (self.high - self.low))
        with np.errstate(divide="ignore"):
            log_odds = np.log(share) - np.log(rest)
        return self._table.score(log_odds, exact=lambda beyond: self._exact_score(share[beyond], rest[beyond]))

    def _exact_score(self, share: Values, rest: Values) -> Values:
        return score_of_chance(betainc(self.a, self.b, share), betainc(self.b, self.a, rest))

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        return self.low + (self.high - self.low) * self.a / (self.a + self.b)

    @property
    def sd(self) -> float:
        total = self.a + self.b
        return (self.high - self.low) * math.sqrt(self.a * self.b / (total + 1.0)) / total

    @property
    def words(self) -> str:
        return f"beta, a {self.a:g}, b {self.b:g}, between {self.low:g} and {self.high:g}"


@dataclass(frozen=True)
class Pert(Family):
    """PERT: a beta between low and high with a = 1 + 4 (mode - low)/(high - low), b = 6 - a.

    Its mean is (low + 4 mode + high)/6. Source: Malcolm, Roseboom, Clark and Fazar 1959, Operations Research
    7; from memory, unverified.
    """

    low: float
    mode: float
    high: float
    _beta: Beta = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        expect_mode(self.low, self.mode, self.high)
        a = 1.0 + 4.0 * (self.mode - self.low) / (self.high - self.low)
        object.__setattr__(self, "_beta", Beta(a, 6.0 - a, self.low, self.high))

    def value(self, z: ArrayLike) -> Values:
        return self._beta.value(z)

    def score(self, x: ArrayLike) -> Values:
        return self._beta.score(x)

    @property
    def median(self) -> float:
        return self._beta.median

    @property
    def mean(self) -> float:
        return (self.low + 4.0 * self.mode + self.high) / 6.0

    @property
    def sd(self) -> float:
        return self._beta.sd

    @property
    def words(self) -> str:
        return f"PERT between {self.low:g} and {self.high:g}, most likely {self.mode:g}"


@dataclass(frozen=True)
class InflatedBeta(Family):
    """Zero-and-one-inflated beta: 0 with probability at_zero, 1 with at_one, otherwise beta(a, b) between.

    value(z) is 0 up to z = Phi^-1(at_zero), 1 beyond z = Phi^-1(1 - at_one), and between them
    BetaInv((Phi(z) - at_zero)/(1 - at_zero - at_one)). Source: algebra of the mixture; closed form.
    """

    at_zero: float
    a: float
    b: float
    at_one: float
    _beta: Beta = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        expect_finite(at_zero=self.at_zero, at_one=self.at_one)
        for name, chance in (("at_zero", self.at_zero), ("at_one", self.at_one)):
            expect(0.0 <= chance <= 1.0, f"{name} between 0 and 1", chance)
        total = self.at_zero + self.at_one
        expect(total <= 1.0 + 1e-12, "at_zero and at_one to sum to 1 at most", f"{total:g}")
        object.__setattr__(self, "_beta", Beta(self.a, self.b))

    @property
    def _between(self) -> float:
        """Probability strictly between 0 and 1."""
        between = 1.0 - self.at_zero - self.at_one
        return between if between > 1e-12 else 0.0

    @property
    def _edges(self) -> tuple[float, float]:
        """Normal scores between which the value lies strictly between 0 and 1."""
        low = float(ndtri(self.at_zero))
        return low, float(-ndtri(self.at_one)) if self._between else low

    def value(self, z: ArrayLike) -> Values:
        return self._beta.value(score_in_part(z, *self._edges))

    def score(self, x: ArrayLike) -> Values:
        x = as_values(x)
        inside = score_in_whole(self._beta.score(x), *self._edges)
        return np.where(x < 0.0, -np.inf, np.where(x >= 1.0, np.inf, inside))

    def score_below(self, x: ArrayLike) -> Values:
        x = as_values(x)
        inside = score_in_whole(self._beta.score(x), *self._edges)
        return np.where(x <= 0.0, -np.inf, np.where(x > 1.0, np.inf, inside))

    @property
    def atoms(self) -> tuple[tuple[float, float], ...]:
        ends = ((0.0, self.at_zero), (1.0, self.at_one))
        return tuple((value, chance) for value, chance in ends if chance > 0.0)

    @property
    def support(self) -> tuple[float, float]:
        return (
            1.0 if self.at_one and not (self.at_zero or self._between) else 0.0,
            0.0 if self.at_zero and not (self.at_one or self._between) else 1.0,
        )

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        return self.at_one + self._between * self._beta.mean

    @property
    def sd(self) -> float:
        square = self.at_one + self._between * (self._beta.mean**2 + self._beta.sd**2)
        return math.sqrt(max(square - self.mean**2, 0.0))

    @property
    def words(self) -> str:
        ends = ((0, self.at_zero), (1, self.at_one))
        said = [f"{end} with probability {share:g}" for end, share in ends if share]
        between = f"beta, a {self.a:g}, b {self.b:g}"
        return ", ".join([*said, f"otherwise {between}"]) if said else between
