"""Many inflated betas at once: equally likely models of one blocked share, without a table for each of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betainc, betainccinv, betaincinv

from overbank.uncertain.bounded import SMALLEST_SHAPE
from overbank.uncertain.checks import expect
from overbank.uncertain.distributions import Family
from overbank.uncertain.scores import Values, as_values, chance_below, score_of_chance

PANELS = 128
"""A mean over models is tabulated at the ends of so many panels between 0 and 1, which crowd at both ends."""


@dataclass(frozen=True, eq=False)
class InflatedBetaModels:
    """0 with probability at_zero, 1 with at_one, otherwise beta(a, b); one entry a model, ranked by their means."""

    at_zero: Values
    a: Values
    b: Values
    at_one: Values

    @classmethod
    def ranked(cls, at_zero: Values, a: Values, b: Values, at_one: Values) -> InflatedBetaModels:
        order = np.argsort(at_one + (1.0 - at_zero - at_one) * a / (a + b), kind="stable")
        return cls(at_zero[order], a[order], b[order], at_one[order])

    @classmethod
    def of(cls, parameters: Mapping[str, Values]) -> InflatedBetaModels:
        """From the four parameters of every model, refused where they cannot be."""
        at_zero, a, b, at_one = (parameters[key] for key in ("at_zero", "a", "b", "at_one"))
        for name, values in (("at_zero", at_zero), ("at_one", at_one)):
            wrong = values[~((values >= 0.0) & (values <= 1.0))]
            expect(wrong.size == 0, f"{name} between 0 and 1", wrong[:1])
        for name, values in (("a", a), ("b", b)):
            wrong = values[~(values >= SMALLEST_SHAPE)]
            expect(wrong.size == 0, f"{name} of at least {SMALLEST_SHAPE:g}", wrong[:1])
        most = float(np.max(at_zero + at_one))
        expect(most <= 1.0, "at_zero and at_one to sum to 1 at most", most)
        return cls.ranked(at_zero, a, b, at_one)

    def __len__(self) -> int:
        return self.a.size

    def value(self, z: Values, place: NDArray[np.intp]) -> Values:
        at_zero, at_one, between = self._chances(place)
        below, above = chance_below(z) - at_zero, chance_below(-z) - at_one
        with np.errstate(divide="ignore", invalid="ignore"):
            share, rest = np.clip(below / between, 0.0, 1.0), np.clip(above / between, 0.0, 1.0)
        a, b = self.a[place], self.b[place]
        inside = np.where(share <= rest, betaincinv(a, b, share), betainccinv(a, b, rest))
        return np.where(below <= 0.0, 0.0, np.where(above < 0.0, 1.0, inside))

    def score(self, x: Values, place: NDArray[np.intp]) -> Values:
        return np.where(x < 0.0, -np.inf, np.where(x >= 1.0, np.inf, self._inside(x, place)))

    def score_below(self, x: Values, place: NDArray[np.intp]) -> Values:
        return np.where(x <= 0.0, -np.inf, np.where(x > 1.0, np.inf, self._inside(x, place)))

    @property
    def means(self) -> Values:
        """Mean blocked share of each model."""
        return self.at_one + self._between * self.a / (self.a + self.b)

    @property
    def sds(self) -> Values:
        """Standard deviation within each model."""
        inner = self.a / (self.a + self.b)
        square = self.at_one + self._between * (inner * (1.0 - inner) / (self.a + self.b + 1.0) + inner**2)
        return as_values(np.sqrt(np.maximum(square - self.means**2, 0.0)))

    @property
    def atoms(self) -> tuple[tuple[float, float], ...]:
        """Values with a probability of their own in some model, and its mean over the models."""
        ends = ((0.0, float(self.at_zero.mean())), (1.0, float(self.at_one.mean())))
        return tuple((value, chance) for value, chance in ends if chance > 0.0)

    @property
    def support(self) -> tuple[float, float]:
        low = 0.0 if np.any(self.at_one + 1e-12 < 1.0) else 1.0
        return low, 1.0 if np.any(self.at_zero + 1e-12 < 1.0) else 0.0

    @property
    def _between(self) -> Values:
        return np.maximum(1.0 - self.at_zero - self.at_one, 0.0)

    def _chances(self, place: NDArray[np.intp]) -> tuple[Values, Values, Values]:
        return self.at_zero[place], self.at_one[place], self._between[place]

    def _inside(self, x: Values, place: NDArray[np.intp]) -> Values:
        at_zero, at_one, between = self._chances(place)
        a, b, held = self.a[place], self.b[place], np.clip(x, 0.0, 1.0)
        return score_of_chance(at_zero + between * betainc(a, b, held), at_one + between * betainc(b, a, 1.0 - held))


@dataclass(frozen=True, eq=False)
class MixedBetas(Family):
    """The mean over many inflated betas: P(B <= b) is the mean of theirs, tabulated and read by straight lines.

    at_zero, at_one : chances of 0 and of 1, above 0
    models : equally likely
    """

    at_zero: float
    at_one: float
    models: InflatedBetaModels
    _places: Values = field(init=False, repr=False)
    _scores: Values = field(init=False, repr=False)

    def __post_init__(self) -> None:
        places = 0.5 * (1.0 - np.cos(np.pi * np.arange(PANELS + 1) / PANELS))
        a, b = self.models.a[:, np.newaxis], self.models.b[:, np.newaxis]
        weight = np.maximum(1.0 - self.models.at_zero - self.models.at_one, 0.0)
        between = (1.0 - self.at_zero - self.at_one) * weight / weight.sum()
        below = self.at_zero + between @ betainc(a, b, places)
        above = self.at_one + between @ betainc(b, a, places[::-1])
        object.__setattr__(self, "_places", places)
        object.__setattr__(self, "_scores", score_of_chance(below, above))

    def value(self, z: ArrayLike) -> Values:
        return as_values(np.interp(as_values(z), self._scores, self._places))

    def score(self, x: ArrayLike) -> Values:
        x = as_values(x)
        return np.where(x < 0.0, -np.inf, np.where(x >= 1.0, np.inf, np.interp(x, self._places, self._scores)))

    def score_below(self, x: ArrayLike) -> Values:
        x = as_values(x)
        return np.where(x <= 0.0, -np.inf, np.where(x > 1.0, np.inf, np.interp(x, self._places, self._scores)))

    @property
    def atoms(self) -> tuple[tuple[float, float], ...]:
        return (0.0, self.at_zero), (1.0, self.at_one)

    @property
    def support(self) -> tuple[float, float]:
        return 0.0, 1.0

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        return float(np.mean(self.models.means))

    @property
    def sd(self) -> float:
        """Within the models and between them."""
        return float(np.sqrt(np.mean(self.models.sds**2) + np.var(self.models.means)))
