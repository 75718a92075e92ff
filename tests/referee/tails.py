"""Pairs that go together in their far ends: the score of one given that of the other, by conditional inversion.

Formulas: Joe 2014, Dependence Modeling with Copulas, chapter 4 (from memory); check values of the tests are published
in the test files of two libraries, see `test_copulas.py`.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy import integrate, optimize, special

from referee.families import Array

FREEDOM = 4.0
"""Degrees of freedom of the t copula."""

WORDS = ("survival_clayton", "gumbel", "t")
"""Dependences with tails that are known here."""


def clayton(u: Array, v: Array, theta: float) -> Array:
    """h(u|v) = dC/dv of the Clayton copula."""
    return np.asarray(v ** (-theta - 1.0) * (u**-theta + v**-theta - 1.0) ** (-1.0 - 1.0 / theta))


def clayton_inverse(w: Array, v: Array, theta: float) -> Array:
    """u with h(u|v) = w."""
    inner = (w * v ** (theta + 1.0)) ** (-theta / (1.0 + theta)) + 1.0 - v**-theta
    return np.asarray(inner ** (-1.0 / theta))


def gumbel(u: Array, v: Array, theta: float) -> Array:
    """h(u|v) of the Gumbel copula."""
    below, own = -np.log(u), -np.log(v)
    total = below**theta + own**theta
    joint = np.exp(-(total ** (1.0 / theta)))
    return np.asarray(joint / v * own ** (theta - 1.0) * total ** (1.0 / theta - 1.0))


def student(u: Array, v: Array, correlation: float) -> Array:
    """h(u|v) of the t copula."""
    x, y = special.stdtrit(FREEDOM, u), special.stdtrit(FREEDOM, v)
    spread = np.sqrt((FREEDOM + y**2) * (1.0 - correlation**2) / (FREEDOM + 1.0))
    return np.asarray(special.stdtr(FREEDOM + 1.0, (x - correlation * y) / spread))


def partner(word: str, rank_correlation: float, other: Array, w: Array) -> Array:
    """Normal score of a number whose conditional chance of less, given the other one's normal score, is w."""
    end = 1e-15
    v, share = (np.clip(each, end, 1.0 - end) for each in (special.ndtr(other), w))
    theta = parameter(word, rank_correlation)
    if word == "survival_clayton":
        return np.asarray(
            -special.ndtri(np.clip(clayton_inverse(1.0 - share, special.ndtr(-other), theta), 1e-300, 1.0))
        )
    if word == "t":
        y = special.stdtrit(FREEDOM, v)
        spread = np.sqrt((FREEDOM + y**2) * (1.0 - theta**2) / (FREEDOM + 1.0))
        x = theta * y + spread * special.stdtrit(FREEDOM + 1.0, share)
        return np.asarray(special.ndtri(special.stdtr(FREEDOM, x)))
    return _bisected(lambda u: gumbel(u, v, theta), share)


def above(word: str, rank_correlation: float, other: Array, score: Array) -> Array:
    """P(score above one, given the normal score of the other number)."""
    theta, end = parameter(word, rank_correlation), 1e-15
    if word == "survival_clayton":
        upper, far = (np.clip(special.ndtr(-each), 1e-300, 1.0 - end) for each in (score, other))
        return clayton(upper, far, theta)
    u, v = (np.clip(special.ndtr(each), end, 1.0 - end) for each in (score, other))
    return np.asarray(1.0 - (student if word == "t" else gumbel)(u, v, theta))


def _bisected(below: Callable[[Array], Array], wanted: Array) -> Array:
    """The normal score at which a chance that rises with it is as wanted."""
    low, high = np.full(wanted.shape, -8.0), np.full(wanted.shape, 8.0)
    for _ in range(50):
        middle = 0.5 * (low + high)
        less = below(special.ndtr(middle)) < wanted
        low, high = np.where(less, middle, low), np.where(less, high, middle)
    return np.asarray(0.5 * (low + high))


def parameter(word: str, rank_correlation: float) -> float:
    """Parameter of the copula that has this Spearman rank correlation, 12 int int C - 3, by root finding."""
    h, low, high = {
        "survival_clayton": (clayton, 1e-3, 30.0),
        "gumbel": (gumbel, 1.0 + 1e-6, 30.0),
        "t": (student, -0.999, 0.999),
    }[word]
    points, weights = np.polynomial.legendre.leggauss(120)
    unit, weight = 0.5 * (points + 1.0), 0.5 * weights
    u, v = np.meshgrid(unit, unit, indexing="ij")

    def excess(theta: float) -> float:
        # int int C du dv = int (1 - v) int h(u|v) du dv
        inner = weight @ h(u, v, theta)
        return float(12.0 * np.sum(weight * (1.0 - unit) * inner) - 3.0 - rank_correlation)

    return float(optimize.brentq(excess, low, high, xtol=1e-10))


def joint_upper(word: str, rank_correlation: float, chance: float) -> float:
    """P(both above their 1 - chance quantile), by integrating the conditional chance (for the tests)."""
    theta = parameter(word, rank_correlation)
    level = 1.0 - chance
    h: Callable[[Array, Array, float], Array] = {"gumbel": gumbel, "t": student}.get(word, _survival_clayton)
    found, _ = integrate.quad(lambda v: 1.0 - float(h(np.array(level), np.array(v), theta)), level, 1.0 - 1e-13)
    return float(found)


def _survival_clayton(u: Array, v: Array, theta: float) -> Array:
    return np.asarray(1.0 - clayton(1.0 - u, 1.0 - v, theta))
