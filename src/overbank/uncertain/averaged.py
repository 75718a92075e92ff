"""Several distributions averaged: their probabilities are mixed, and the quantile is that of the mixture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from overbank.uncertain.distributions import Distribution, Family
from overbank.uncertain.scores import Values, as_values, chance_below, score_of_chance

HALVINGS = 60
"""Of the interval that holds a quantile: to the last digit."""


@dataclass(frozen=True)
class Averaged(Family):
    """P(X <= x) is the weighted mean over the members; a mean of their quantiles would be something else.

    members, weights : distributions, and weights that add up to 1
    """

    members: tuple[Distribution, ...]
    weights: tuple[float, ...]

    def score(self, x: ArrayLike) -> Values:
        each = np.array([member.score(x) for member in self.members])
        weights = np.reshape(self.weights, (-1, *[1] * (each.ndim - 1)))
        below, above = (np.sum(weights * chance_below(sign * each), axis=0) for sign in (1.0, -1.0))
        return score_of_chance(below, above)

    def value(self, z: ArrayLike) -> Values:
        """Halved between the least and the greatest quantile of the members, which enclose that of the mixture."""
        wanted = as_values(z)
        each = np.array([member.value(wanted) for member in self.members])
        low, high = each.min(axis=0), each.max(axis=0)
        with np.errstate(invalid="ignore"):
            for _ in range(HALVINGS):
                middle = np.where(low == high, low, 0.5 * (low + high))
                short = self.score(middle) < wanted
                low, high = np.where(short, middle, low), np.where(short, high, middle)
        return np.asarray(high)

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        return float(sum(weight * member.mean for weight, member in zip(self.weights, self.members, strict=True)))

    @property
    def sd(self) -> float:
        squares = (member.sd**2 + member.mean**2 for member in self.members)
        return float(np.sqrt(sum(w * square for w, square in zip(self.weights, squares, strict=True)) - self.mean**2))

    @property
    def words(self) -> str:
        parts = (f"{100.0 * w:.0f}\u00a0% {each.words}" for w, each in zip(self.weights, self.members, strict=True))
        return f"average of {'; '.join(parts)}"
