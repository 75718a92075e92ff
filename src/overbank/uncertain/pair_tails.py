"""Dependence of two numbers beyond their rank correlation: how far their extremes go together.

Numbers with one rank correlation may still differ in how often both are extreme. Of a pair of normal scores z and y,
u = Phi(z) and v = Phi(y), each family here knows three things exactly, in both tails:

    h(u | v) = P(U <= u | V = v)     as the normal score e = Phi^-1(h) (`inner`)
    its inverse over u               (`outer`)
    the density c(u, v)              as its logarithm

Families, with L the chance that one is extreme given that the other is, in the limit:

    survival Clayton   1 - h = (1 + b^th (a^-th - 1))^-(1 + 1/th), a = 1 - u, b = 1 - v;     L = 2^(-1/th)
    Gumbel             ln h = -y expm1(q) - (th - 1) q, q = ln(1 + (x/y)^th)/th,
                       x = -ln u, y = -ln v;                                                 L = 2 - 2^(1/th)
    Student t          h = T_nu+1((x - r y)/sqrt((nu + y^2)(1 - r^2)/(nu + 1))), x, y its scores;
                       L = 2 T_nu+1(-sqrt((nu + 1)(1 - r)/(1 + r)))

Source: the conditional distributions of Clayton and t as in the documentation of public copula libraries (read second
hand); those of Gumbel and of the survival form follow by differentiation. The tests hold published points.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, Protocol

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammaincinv, gammaln, log_ndtr, ndtri_exp, stdtr, stdtrit

from overbank.uncertain.checks import expect
from overbank.uncertain.scores import Values, as_values, chance_below, score_of_chance

Tail = Literal["gaussian", "survival_clayton", "gumbel", "t"]
"""Families of a pair: no tail of its own, one in the upper corner, one less strong there, one in both."""

DEGREES = 4.0
"""Degrees of freedom of the t family; common practice, no source."""

NEWTON_STEPS = 60
"""Most steps of the root in Gumbel's inverse; a dozen do."""


class Pair(Protocol):
    """Dependence of two normal scores, the same whichever of them is given."""

    def inner(self, z: ArrayLike, given: ArrayLike) -> Values:
        """Normal score of P(Z <= z | the other score is `given`)."""
        ...

    def outer(self, e: ArrayLike, given: ArrayLike) -> Values:
        """The score z whose `inner` score is e."""
        ...

    def log_density(self, z: ArrayLike, given: ArrayLike) -> Values:
        """ln c(Phi(z), Phi(given)); 0 where they are independent."""
        ...

    @property
    def tail_coefficient(self) -> float:
        """L, the chance that one is extreme (high) given that the other is, in the limit [-]."""
        ...


@dataclass(frozen=True)
class SurvivalClayton:
    """Clayton's family turned about, so that its tail is in the upper corner; theta above 0."""

    theta: float

    def inner(self, z: ArrayLike, given: ArrayLike) -> Values:
        with np.errstate(divide="ignore", over="ignore"):
            log_s = self.theta * log_ndtr(-as_values(given)) + _log_expm1(-self.theta * log_ndtr(-as_values(z)))
        return as_values(-ndtri_exp(-(1.0 + 1.0 / self.theta) * np.logaddexp(0.0, log_s)))

    def outer(self, e: ArrayLike, given: ArrayLike) -> Values:
        with np.errstate(divide="ignore", over="ignore"):
            log_s = _log_expm1(-log_ndtr(-as_values(e)) / (1.0 + 1.0 / self.theta))
            log_a = -np.logaddexp(0.0, log_s - self.theta * log_ndtr(-as_values(given))) / self.theta
        return as_values(-ndtri_exp(log_a))

    def log_density(self, z: ArrayLike, given: ArrayLike) -> Values:
        a, b, theta = log_ndtr(-as_values(z)), log_ndtr(-as_values(given)), self.theta
        with np.errstate(divide="ignore"):
            grown = np.logaddexp(-theta * b, _log_expm1(-theta * a))
        return as_values(math.log1p(theta) - (1.0 + theta) * (a + b) - (2.0 + 1.0 / theta) * grown)

    @property
    def tail_coefficient(self) -> float:
        return float(2.0 ** (-1.0 / self.theta))


@dataclass(frozen=True)
class GumbelPair:
    """Gumbel's family, an extreme-value copula; theta above 1."""

    theta: float

    def inner(self, z: ArrayLike, given: ArrayLike) -> Values:
        x, y = -log_ndtr(as_values(z)), -log_ndtr(as_values(given))
        with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
            q = np.logaddexp(0.0, self.theta * (np.log(x) - np.log(y))) / self.theta
            log_h = -y * np.expm1(q) - (self.theta - 1.0) * q
        return as_values(ndtri_exp(log_h))

    def outer(self, e: ArrayLike, given: ArrayLike) -> Values:
        wanted, y = np.broadcast_arrays(-log_ndtr(as_values(e)), -log_ndtr(as_values(given)))
        with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
            # y expm1(q) + (theta - 1) q = wanted: convex and rising, so Newton's steps from above only fall
            q = np.minimum(np.log1p(wanted / y), wanted / (self.theta - 1.0))
            for _ in range(NEWTON_STEPS):
                miss = y * np.expm1(q) + (self.theta - 1.0) * q - wanted
                step = np.maximum(miss, 0.0) / (y * np.exp(q) + self.theta - 1.0)
                q = q - step
                if np.all(step <= 1e-15 * (1e-300 + q)):
                    break
            log_x = np.log(y) + _log_expm1(self.theta * q) / self.theta
        return as_values(ndtri_exp(-np.exp(log_x)))

    def log_density(self, z: ArrayLike, given: ArrayLike) -> Values:
        x, y, theta = -log_ndtr(as_values(z)), -log_ndtr(as_values(given)), self.theta
        with np.errstate(divide="ignore"):
            log_x, log_y = np.log(x), np.log(y)
        log_root = np.logaddexp(theta * log_x, theta * log_y) / theta
        root = np.exp(log_root)
        crossed = x + y - root + (theta - 1.0) * (log_x + log_y)
        return as_values(crossed + (1.0 - 2.0 * theta) * log_root + np.log(root + theta - 1.0))

    @property
    def tail_coefficient(self) -> float:
        return float(2.0 - 2.0 ** (1.0 / self.theta))


@dataclass(frozen=True)
class StudentPair:
    """Student's t family: both corners have a tail; correlation r between -1 and 1."""

    r: float
    degrees: float

    def inner(self, z: ArrayLike, given: ArrayLike) -> Values:
        x, y = self._scores(z), self._scores(given)
        return self._normal((x - self.r * y) / self._spread(y))

    def outer(self, e: ArrayLike, given: ArrayLike) -> Values:
        y = self._scores(given)
        x = self.r * y + self._spread(y) * _student(e, self.degrees + 1.0)
        return score_of_chance(stdtr(self.degrees, x), stdtr(self.degrees, -x))

    def log_density(self, z: ArrayLike, given: ArrayLike) -> Values:
        x, y, nu = self._scores(z), self._scores(given), self.degrees
        rest = 1.0 - self.r**2
        both = np.log1p((x**2 - 2.0 * self.r * x * y + y**2) / (nu * rest))
        each = np.log1p(x**2 / nu) + np.log1p(y**2 / nu)
        constant = gammaln(nu / 2.0 + 1.0) + gammaln(nu / 2.0) - 2.0 * gammaln((nu + 1.0) / 2.0) - 0.5 * math.log(rest)
        return as_values(constant - (nu / 2.0 + 1.0) * both + (nu + 1.0) / 2.0 * each)

    @property
    def tail_coefficient(self) -> float:
        reach = math.sqrt((self.degrees + 1.0) * (1.0 - self.r) / (1.0 + self.r))
        return float(2.0 * stdtr(self.degrees + 1.0, -reach))

    def _scores(self, z: ArrayLike) -> Values:
        return _student(z, self.degrees)

    def _normal(self, x: Values) -> Values:
        return score_of_chance(stdtr(self.degrees + 1.0, x), stdtr(self.degrees + 1.0, -x))

    def _spread(self, y: Values) -> Values:
        return as_values(np.sqrt((self.degrees + y**2) * (1.0 - self.r**2) / (self.degrees + 1.0)))


@lru_cache(maxsize=64)
def pair_of(tail: Tail, rank_correlation: float, degrees: float = DEGREES) -> Pair:
    """The family with this Spearman rank correlation.

    Parameters
    ----------
    tail : but "gaussian", which needs no pair of its own
    rank_correlation : between 0 and 1 for an upper tail, -1 and 1 for t
    degrees : of freedom, of t only

    Raises
    ------
    ValueError, "expected ..., got ..."
    """
    expect(tail in ("survival_clayton", "gumbel", "t"), "a tail, one of survival_clayton, gumbel, t", tail)
    if tail == "t":
        expect(degrees > 0.0, "degrees of freedom above 0", degrees)
        expect(abs(rank_correlation) < 0.99, "a rank correlation between -0.99 and 0.99 for a t", rank_correlation)
        r = _root(lambda each: spearman_t(each, degrees) - rank_correlation, -0.999, 0.999)
        return StudentPair(r, degrees)
    words = "a rank correlation from 0.01 to 0.95 for numbers that are high together"
    expect(0.01 <= rank_correlation <= 0.95, words, rank_correlation)
    if tail == "gumbel":
        theta = 1.0 + math.exp(_root(lambda x: spearman_gumbel(1.0 + math.exp(x)) - rank_correlation, -7.0, 4.0))
        return GumbelPair(theta)
    theta = math.exp(_root(lambda x: spearman_clayton(math.exp(x)) - rank_correlation, -6.0, 4.0))
    return SurvivalClayton(theta)


def spearman_gumbel(theta: float) -> float:
    """Rank correlation of Gumbel's family, 12 int dt/(1 + A)^2 - 3 with A = (t^th + (1 - t)^th)^(1/th)."""
    t, weights = _unit_rule(200)
    a = np.exp(np.logaddexp(theta * np.log(t), theta * np.log1p(-t)) / theta)
    return float(12.0 * np.sum(weights / (1.0 + a) ** 2) - 3.0)


def spearman_clayton(theta: float) -> float:
    """Rank correlation of Clayton's family and of its survival form, 12 int int C - 3; nodes crowd at the corner."""
    s, weights = _unit_rule(160)
    u, weights = s**3, 3.0 * s**2 * weights
    first, second = -theta * np.log(u)[:, None], -theta * np.log(u)[None, :]
    most = np.maximum(first, second)
    log_c = -(most + np.log(np.exp(first - most) + np.exp(second - most) - np.exp(-most))) / theta
    return float(12.0 * weights @ np.exp(log_c) @ weights - 3.0)


def spearman_t(r: float, degrees: float) -> float:
    """Rank correlation of the t family, (6/pi) E asin(r sqrt(G2 G3/((G1 + G2)(G1 + G3)))), G independent chi-squared.

    Each t is a normal number over the root of one G; of three independent pairs two differences are then jointly
    normal with the correlation in brackets. Derived here; held against a double integral in the tests.
    """
    nodes, weights = _chi_squared_rule(degrees)
    share = np.sqrt(nodes[None, :] / (nodes[:, None] + nodes[None, :]))
    inner = np.arcsin(r * share[:, :, None] * share[:, None, :])
    return float(6.0 / math.pi * np.einsum("i,j,k,ijk", weights, weights, weights, inner, optimize=True))


@lru_cache(maxsize=8)
def _chi_squared_rule(degrees: float) -> tuple[Values, Values]:
    """Nodes and weights of the mean over a chi-squared number, up to a factor of the number."""
    t, weights = _unit_rule(48)
    nodes = gammaincinv(degrees / 2.0, t**2 * (3.0 - 2.0 * t))  # nodes crowd at both ends
    return as_values(nodes), as_values(weights * 6.0 * t * (1.0 - t))


def _student(z: ArrayLike, degrees: float) -> Values:
    """Student t number with the chance of a normal score, from the smaller of the two tails."""
    z = as_values(z)
    tail = chance_below(-np.abs(z))
    below = np.where(tail > 0.0, stdtrit(degrees, np.maximum(tail, 1e-300)), -np.inf)
    return as_values(np.where(z < 0.0, below, -below))


def _unit_rule(count: int) -> tuple[Values, Values]:
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return 0.5 * (nodes + 1.0), 0.5 * weights


def _root(excess: Callable[[float], float], low: float, high: float) -> float:
    from scipy.optimize import brentq  # slow to fetch, and most studies have no such pair

    return float(brentq(excess, low, high, xtol=1e-13))


def _log_expm1(x: ArrayLike) -> Values:
    """ln(exp(x) - 1) for x of 0 or more, without overflow; -inf at 0."""
    x = as_values(x)
    return as_values(x + np.log(-np.expm1(-x)))
