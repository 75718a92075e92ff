"""The negative of an uncertain number: for what the water falls with, so that it can be integrated out as well."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from overbank.uncertain.conditioning import Given
from overbank.uncertain.distributions import Distribution, Family
from overbank.uncertain.scores import Values, as_values


@dataclass(frozen=True)
class Reflected(Family):
    """-X of a number X. Its normal score is that of X with the other sign."""

    own: Distribution

    def value(self, z: ArrayLike) -> Values:
        return -self.own.value(-as_values(z))

    def score(self, x: ArrayLike) -> Values:
        return -self.own.score_below(-as_values(x))

    def score_below(self, x: ArrayLike) -> Values:
        return -self.own.score(-as_values(x))

    @property
    def support(self) -> tuple[float, float]:
        low, high = self.own.support
        return -high, -low

    @property
    def atoms(self) -> tuple[tuple[float, float], ...]:
        return tuple((-place, chance) for place, chance in reversed(self.own.atoms))

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        return -self.own.mean

    @property
    def sd(self) -> float:
        return self.own.sd

    @property
    def words(self) -> str:
        return f"the negative of: {self.own.words}"


@dataclass(frozen=True, eq=False)
class ReflectedGiven:
    """What is known of the score of -X in each sample, from what is known of that of X."""

    own: Given

    def above(self, score: Values) -> Values:
        return np.asarray(1.0 - self.own.above(-score))

    def density(self, score: Values) -> Values:
        return self.own.density(-score)

    def __getitem__(self, index: Any) -> ReflectedGiven:
        return ReflectedGiven(self.own[index])

    def joined(self, others: Sequence[ReflectedGiven]) -> ReflectedGiven:
        return ReflectedGiven(self.own.joined([each.own for each in others]))
